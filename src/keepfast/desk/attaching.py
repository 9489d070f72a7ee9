"""Files that belong to something in a book: kept beside it under the hash of their content.

A file lies in the folder ``<book>.files`` under its SHA-256, once however often it is attached; its name stands in the
entry. What is kept can so be proven, and no name of a file ever leads out of the folder.
"""

from __future__ import annotations

import contextlib
import hashlib
import mimetypes
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from keepfast.book.entries import Acknowledged
from keepfast.book.kinds import KINDS
from keepfast.desk.books import Book
from keepfast.desk.writing import the_one
from keepfast.findings import Finding, FindingsError
from keepfast.store.engine import sync_folder
from keepfast.words import _

PIECE = 1 << 20
LARGEST_BYTES = 4_000_000_000
_HASH_LETTERS = frozenset("0123456789abcdef")


@dataclass(frozen=True)
class FilesProof:
    """Attached files: how many lie beside the book as they were, which were altered, which are not here."""

    whole: int
    altered: tuple[str, ...]
    absent: tuple[str, ...]


def folder_of(book: Path) -> Path:
    """The folder beside a book in which attached files lie."""
    return book.with_name(f"{book.name}.files")


def place_of(book: Path, sha256: str) -> Path:
    """Where a file of this hash lies.

    Raises
    ------
    ValueError
        If it is no SHA-256 in lower case.
    """
    if len(sha256) != 64 or not set(sha256) <= _HASH_LETTERS:
        raise ValueError(f"sha256 must be 64 hexadecimal digits in lower case; {sha256[:80]!r} was given")
    return folder_of(book) / sha256[:2] / sha256


def things_that_take_files() -> tuple[str, ...]:
    """Kinds of things a file can be attached to."""
    return tuple(field.to for field in KINDS["attachment"].fields.values() if field.about)


def attach(book: Book, file: Path, kind: str, label: str, *, remarks: str = "", who: str = "") -> Acknowledged:
    """Keep a copy of a file beside the book, and write to which thing it belongs.

    The copy is on the disk before the entry is written, so an entry never speaks of a file that is not there.

    Raises
    ------
    FindingsError
        If the file cannot be read or is too large, the thing is unknown or takes no files, or nothing can be written.
    """
    if kind not in things_that_take_files():
        known = ", ".join(things_that_take_files())
        raise FindingsError(
            [Finding(_("no files are attached to such a thing"), _("One of: {known}.").format(known=known), read=kind)]
        )
    thing = the_one(book, kind, label)
    if book.read_only:
        raise FindingsError([Finding(_("the book is open for reading only"), file=str(book.path))])
    sha256, size = _keep(book.path, file)
    content = {kind: thing["id"], "file": file.name, "sha256": sha256, "bytes": size}
    media_type = mimetypes.guess_type(file.name)[0]
    content |= {name: text for name, text in (("media_type", media_type), ("remarks", remarks)) if text}
    return book.write("attachment", content, who=who)


def _keep(book: Path, file: Path) -> tuple[str, int]:
    def refuse(what: str, remedy: str = "") -> FindingsError:
        return FindingsError([Finding(what, remedy, file=str(file))])

    try:
        if not file.is_file():
            raise refuse(_("there is no such file"), _("Check its name and folder."))
        if file.stat().st_size > LARGEST_BYTES:
            raise refuse(_("the file is larger than {n} GB").format(n=LARGEST_BYTES // 10**9))
        folder = folder_of(book)
        folder.mkdir(mode=0o700, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=".", dir=folder)
        made = Path(name)
        try:
            digest = hashlib.sha256()
            size = 0
            with file.open("rb") as source, os.fdopen(handle, "wb") as out:
                while piece := source.read(PIECE):
                    digest.update(piece)
                    size += len(piece)
                    out.write(piece)
                out.flush()
                os.fsync(out.fileno())
            target = place_of(book, digest.hexdigest())
            target.parent.mkdir(mode=0o700, exist_ok=True)
            os.replace(made, target)
            sync_folder(target.parent)
        finally:
            with contextlib.suppress(OSError):
                made.unlink(missing_ok=True)
    except OSError as problem:
        raise refuse(_("the file cannot be kept: {why}").format(why=problem.strerror)) from None
    return digest.hexdigest(), size


def attached_files(book: Book) -> dict[str, str]:
    """The files a book speaks of now: hash to name."""
    said: dict[str, str] = {}
    for kind in things_that_take_files():
        for state in book.things(kind):
            said.update({a["sha256"]: a["file"] for a in state.get("attachments") or ()})
    return said


def bring(
    said: dict[str, str], source: Path, book: Path, *, apply: bool
) -> tuple[int, tuple[str, ...], tuple[str, ...]]:
    """Copy files that lie beside another book, or a copy of it, and not yet beside this one.

    Parameters
    ----------
    said : dict
        The files that are spoken of: hash to name.
    source, book : Path
        The other book, and this one.
    apply : bool
        Copy them; else only count.

    Returns
    -------
    int
        How many are brought.
    tuple of str
        Names of those that are not what their hash says; they are left where they are.
    tuple of str
        Names of those that lie beside neither.

    Raises
    ------
    FindingsError
        If one cannot be kept; those brought before it stay, and do no harm.
    """
    # A backup has another name than the book whose folder was copied beside it.
    folders = [folder_of(source), *sorted(f for f in source.absolute().parent.glob("*.files") if f.is_dir())]
    count = 0
    altered: list[str] = []
    absent: list[str] = []
    for sha256, name in sorted(said.items(), key=lambda one: (one[1], one[0])):
        if len(sha256) != 64 or not set(sha256) <= _HASH_LETTERS or place_of(book, sha256).exists():
            continue
        lying = [file for folder in folders if (file := folder / sha256[:2] / sha256).is_file()]
        whole = next((file for file in lying if _is_whole(file, sha256)), None)
        if whole is not None:
            count += 1
            if apply:
                _keep(book, whole)
        else:
            (altered if lying else absent).append(name)
    return count, tuple(altered), tuple(absent)


def _is_whole(file: Path, sha256: str) -> bool:
    try:
        with file.open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest() == sha256
    except OSError:
        return False


def prove_files(book: Book) -> FilesProof:
    """Read every attached file that lies beside the book and hold it against its hash."""
    said = attached_files(book)
    whole, altered, absent = 0, [], []
    for sha256, name in sorted(said.items(), key=lambda one: (one[1], one[0])):
        try:
            file = place_of(book.path, sha256)
        except ValueError:
            absent.append(name)
            continue
        if not file.is_file():
            absent.append(name)
        elif _is_whole(file, sha256):
            whole += 1
        else:
            altered.append(name)
    return FilesProof(whole, tuple(altered), tuple(absent))
