"""Taking in what another laptop has written, with the files that are attached there."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from keepfast.desk.attaching import bring
from keepfast.desk.books import Book, open_book
from keepfast.findings import Finding, FindingsError
from keepfast.store.taking_in import Progress, TakenIn
from keepfast.store.taking_in import take_in as take_entries
from keepfast.words import _


@dataclasses.dataclass(frozen=True)
class Taken:
    """What was taken in, or would be; ``files`` lie beside the other book and not here.

    ``altered`` names files that are not whole there, ``absent`` those that lie beside neither.
    """

    entries: TakenIn
    files: int
    altered: tuple[str, ...]
    absent: tuple[str, ...]
    applied: bool

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        told = dataclasses.asdict(self.entries)
        lists = {"files_altered": list(self.altered), "files_absent": list(self.absent)}
        return {**told, "files": self.files, **lists, "applied": self.applied}


def take_in(
    book: Book,
    path: Path,
    *,
    apply: bool = False,
    another_book: bool = False,
    gone_apart: bool = False,
    progress: Progress | None = None,
) -> Taken:
    """Take in what another copy of this book, or another book, has and this one lacks; see ``store.taking_in``.

    Parameters
    ----------
    book : Book
        The open book.
    path : Path
        The other one: a book, a backup, a file on a stick. It is only read.
    apply : bool
        Write it; else only see what would be new.
    another_book : bool
        Also where the other is no copy of this one, but a book of its own.
    gone_apart : bool
        Also entries of chains that have gone two ways.
    progress : callable, optional
        Called with entries followed, and of how many.

    Raises
    ------
    FindingsError
        If the other is not whole, contradicts this book, or is another book and that was not said; this book is then
        as it was.
    """
    if book.read_only:
        raise FindingsError(
            [
                Finding(
                    _("the book is open for reading only"),
                    _("Copy it to this machine's own drive first."),
                    file=str(book.path),
                )
            ]
        )
    if path.exists() and path.samefile(book.path):
        raise FindingsError(
            [Finding(_("the two are one file"), _("Name the book of the other laptop."), file=str(path))]
        )
    with open_book(path, read_only=True) as other:
        if apply and other.id != book.id and not another_book:
            raise FindingsError(
                [
                    Finding(
                        _("this is no copy of the book, but another one; what is taken in stays"),
                        _("Look first, without --apply. Say --another-book where the two belong together."),
                        file=str(path),
                    )
                ]
            )
        brought: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = []

        def bring_files() -> None:
            """The files are on the disk before an entry speaks of them."""
            with other.reading() as reads:
                said = {fact.content["sha256"]: fact.content["file"] for fact in reads.facts_of("attachment")}
            brought.append(bring(said, other.path, book.path, apply=apply))

        entries = take_entries(
            book.ledger.opened,
            other.ledger.opened,
            apply=apply,
            gone_apart=gone_apart,
            progress=progress,
            tell=book.ledger.tell,
            before=bring_files,
        )
    return Taken(entries, *brought[0], apply)
