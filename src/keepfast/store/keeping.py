"""Keeping a book: rebuild, backup, restore. Nothing is thrown away: what is replaced is moved aside."""

from __future__ import annotations

import datetime
import hashlib
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine, delete, insert, select, update

from keepfast import __version__
from keepfast.book.entries import new_id, now
from keepfast.book.kinds import unreadable
from keepfast.findings import Finding, FindingsError
from keepfast.store import derived, sqlite
from keepfast.store.drives import network_trouble, place_of
from keepfast.store.engine import look_at_head, open_file, plain_words, sync_folder
from keepfast.store.proof import Progress, Proof, prove
from keepfast.store.tables import DERIVED_FORMAT, entry, meta, writer
from keepfast.words import _


@dataclass(frozen=True)
class Kept:
    """A copy that was made and proven."""

    path: Path
    proof: Proof
    sha256: str
    aside: Path | None = None  # where what stood there before now lies


def _stamp() -> str:
    return datetime.datetime.now(datetime.UTC).strftime("%Y%m%dT%H%M%SZ")


def _free_name(folder: Path, name: str) -> Path:
    candidate = folder / name
    count = 1
    while candidate.exists():
        count += 1
        candidate = folder / f"{name}-{count}"
    return candidate


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _prove_file(path: Path, progress: Progress | None) -> Proof:
    engine = sqlite.engine_for(path, read_only=True, immutable=True)
    try:
        with plain_words(path), engine.connect() as connection:
            return prove(connection, progress) if progress else prove(connection)
    finally:
        engine.dispose()


def _copy(source: Path, folder: Path, name: str) -> Path:
    """A whole copy, on the disk, under a passing name in the folder it will stay in."""
    made = folder / f".{name}.{new_id()[-12:]}"
    try:
        os.close(os.open(made, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        sqlite.copy_file(source, made, read_only=not os.access(source, os.W_OK))
        handle = os.open(made, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except BaseException as problem:
        made.unlink(missing_ok=True)
        if isinstance(problem, OSError):
            raise FindingsError(
                [
                    Finding(
                        _("the copy cannot be written: {why}").format(why=problem.strerror),
                        _("Free some space or choose another folder."),
                        file=str(folder / name),
                    )
                ]
            ) from None
        if sqlite.is_engine_error(problem):
            raise FindingsError([sqlite.finding_of_raw(problem, source)]) from problem
        raise
    return made


def backup(path: Path, target: Path | None = None, progress: Progress | None = None) -> Kept:
    """Copy a book, in use or not, whole and as of one moment, and prove the copy.

    Parameters
    ----------
    path : Path
        The book.
    target : Path, optional
        A new file, or a folder; left out, a file beside the book with the moment in its name.

    Raises
    ------
    FindingsError
        If the book cannot be read, the target is taken or cannot be written, or the copy does not prove.
    """
    look_at_head(path)
    name = f"{path.stem}-{_stamp()}.keepfast-backup"
    if target is None:
        target = _free_name(path.absolute().parent, name)
    elif target.is_dir():
        target = _free_name(target, name)
    if target.exists():
        raise FindingsError(
            [Finding(_("there is something of this name already"), _("Choose another name."), file=str(target))]
        )
    if not target.absolute().parent.is_dir():
        raise FindingsError(
            [Finding(_("there is no such folder"), _("Make the folder first, or check its name."), file=str(target))]
        )
    made = _copy(path, target.absolute().parent, target.name)
    try:
        proof = _prove_file(made, progress)
        if proof.troubles:
            raise FindingsError(
                [
                    Finding(
                        _("the book does not prove: {what}").format(what=what), _("Keep older backups."), file=str(path)
                    )
                    for what in proof.troubles
                ]
            )
        os.replace(made, target)
    finally:
        made.unlink(missing_ok=True)
    sync_folder(target.absolute().parent)
    return Kept(target, proof, _sha256(target))


def restore(source: Path, path: Path, *, replace: bool = False, progress: Progress | None = None) -> Kept:
    """Put a backup in the place of a book. A book that stands there is moved aside, never deleted.

    Parameters
    ----------
    source : Path
        The backup; it must prove.
    path : Path
        Where the book is to be.
    replace : bool
        Move aside a book that is there.

    Raises
    ------
    FindingsError
        If the backup does not prove, or a book is there and ``replace`` was not said; the message tells how many
        entries of it the backup lacks.
    """
    look_at_head(source)
    if path.exists() and source.exists() and path.samefile(source):
        raise FindingsError([Finding(_("the backup and the book are one file"), file=str(path))])
    folder = path.absolute().parent
    if not folder.is_dir():
        raise FindingsError(
            [Finding(_("there is no such folder"), _("Make the folder first, or check its name."), file=str(path))]
        )
    if trouble := network_trouble(folder):
        raise FindingsError([trouble])
    if path.exists() and not replace:
        raise FindingsError(
            [
                Finding(
                    _("there is a book already; {lacking}").format(lacking=_lacking(source, path)),
                    _(
                        "Say --replace to move it aside and put the backup in its place. For the entries of both:"
                        " keepfast book take-in"
                    ),
                    file=str(path),
                )
            ]
        )
    made = _copy(source, folder, path.name)
    aside: Path | None = None
    try:
        proof = _prove_file(made, progress)
        if proof.troubles:
            raise FindingsError(
                [
                    Finding(
                        _("the backup does not prove: {what}").format(what=what),
                        _("Try an older one."),
                        file=str(source),
                    )
                    for what in proof.troubles
                ]
            )
        engine = sqlite.engine_for(made)
        try:
            with plain_words(made), engine.connect().execution_options(write=True) as connection, connection.begin():
                # What was written after the backup may live on elsewhere: this file starts a chain of its own.
                connection.execute(delete(writer))
                connection.execute(insert(writer).values(store=new_id(), place=place_of(path), since=now().isoformat()))
            sqlite.settle(engine)
        finally:
            engine.dispose()
        if path.exists():
            aside = _free_name(folder, f"{path.name}.replaced-{_stamp()}")
            for ending in ("-wal", "-shm", ""):
                old = path.with_name(path.name + ending)
                if old.exists():
                    os.replace(old, aside.with_name(aside.name + ending))
        os.replace(made, path)
    finally:
        for ending in ("", "-wal", "-shm"):
            made.with_name(made.name + ending).unlink(missing_ok=True)
    sync_folder(folder)
    return Kept(path, proof, _sha256(path), aside)


def _lacking(source: Path, path: Path) -> str:
    """In words, how many entries of the book the backup lacks."""
    try:
        ids = [_entry_ids(one) for one in (source, path)]
    except FindingsError:
        return _("it cannot be read")
    count = len(ids[1] - ids[0])
    return _("{n} of its entries are not in the backup").format(n=count)


def _entry_ids(path: Path) -> set[str]:
    opened = open_file(path, read_only=True)
    try:
        with plain_words(path), opened.engine.connect() as connection:
            return set(connection.execute(select(entry.c.id)).scalars())
    finally:
        opened.close()


def rebuild_with_backup(engine: Engine, path: Path, tell: Callable[[Path], None] | None = None) -> Path:
    """Back the book up beside it, then make its derived tables and guards anew; the backup's path."""
    folder = path.absolute().parent
    target = _free_name(folder, f"{path.stem}-before-rebuild-{_stamp()}.keepfast-backup")
    made = _copy(path, folder, target.name)
    os.replace(made, target)
    if tell:
        tell(target)
    with plain_words(path), engine.connect().execution_options(write=True) as connection, connection.begin():
        sqlite.install_triggers(connection)
        try:
            derived.rebuild(connection)
        except (LookupError, TypeError, ValueError, AttributeError) as problem:
            # What was altered can say anything; the transaction leaves the book as it was.
            raise unreadable() from problem
        connection.execute(update(meta).where(meta.c.name == "derived format").values(value=str(DERIVED_FORMAT)))
        connection.execute(update(meta).where(meta.c.name == "program").values(value=__version__))
    return target
