"""Making and opening the file: what is refused and why, and what is done when a book comes from another program."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine, insert, select
from sqlalchemy.exc import DBAPIError

from keepfast import __version__
from keepfast.book.entries import new_id, now
from keepfast.findings import Finding, FindingsError
from keepfast.store import derived, sqlite
from keepfast.store.chains import has_again, make_again
from keepfast.store.drives import is_book, network_trouble, place_of
from keepfast.store.tables import DERIVED_FORMAT, LEDGER_FORMAT, ink, meta, writer
from keepfast.words import _


@dataclass(frozen=True)
class Opened:
    """An open file."""

    engine: Engine
    path: Path
    read_only: bool
    book: str  # id of the book, the same in all its copies
    store: str  # id under which this file writes; empty when it is only read
    borrowed: Path | None = (
        None  # a copy in a private folder, where the original lies on a medium that cannot be written
    )

    def close(self) -> None:
        """Let go of the file, with its log brought in."""
        if not self.read_only:
            sqlite.settle(self.engine)
        self.engine.dispose()
        if self.borrowed is not None:
            shutil.rmtree(self.borrowed, ignore_errors=True)


def _refuse(path: Path, what: str, remedy: str = "") -> FindingsError:
    return FindingsError([Finding(what, remedy, file=str(path))])


@contextlib.contextmanager
def plain_words(path: Path) -> Iterator[None]:
    """Turn what the engine says when the disk is full, the file torn or the book busy into a finding."""
    try:
        yield
    except DBAPIError as problem:
        raise FindingsError([sqlite.finding_of(problem, path)]) from problem


def create(path: Path, name: str = "") -> None:
    """Make an empty book, readable by its user alone.

    Raises
    ------
    FindingsError
        If something lies there already, the place is a network drive, or cannot be written.
    """
    if path.exists() or path.is_symlink():
        raise _refuse(path, _("there is something of this name already"), _("Choose another name."))
    folder = path.absolute().parent
    if not folder.is_dir():
        raise _refuse(path, _("there is no such folder"), _("Make the folder first, or check its name."))
    if trouble := network_trouble(folder):
        raise FindingsError([trouble])
    # Made under another name and moved into place, so that half a book is never found.
    made = folder / f".{path.name}.{new_id()[-12:]}"
    try:
        os.close(os.open(made, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        engine = sqlite.engine_for(made)
        try:
            with plain_words(path), engine.connect() as connection:
                with connection.begin():
                    ink.create_all(connection)
                    derived.make_tables(connection)
                    sqlite.install_triggers(connection)
                    connection.execute(
                        insert(meta),
                        [
                            {"name": "book", "value": new_id()},
                            {"name": "name", "value": name},
                            {"name": "made", "value": now().isoformat()},
                            {"name": "made by", "value": __version__},
                            {"name": "program", "value": __version__},
                            {"name": "ledger format", "value": str(LEDGER_FORMAT)},
                            {"name": "derived format", "value": str(DERIVED_FORMAT)},
                        ],
                    )
                sqlite.mark_as_book(connection)
                connection.commit()
            sqlite.settle(engine)
        finally:
            engine.dispose()
        # Taking the name first makes this safe against another program that takes it in the same moment.
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        os.replace(made, path)
    except FileExistsError:
        raise _refuse(path, _("there is something of this name already"), _("Choose another name.")) from None
    except OSError as problem:
        raise _refuse(
            path,
            _("the book cannot be made here: {why}").format(why=problem.strerror),
            _("Choose another folder, or free some space."),
        ) from None
    finally:
        for leftover in (made, made.with_name(made.name + "-wal"), made.with_name(made.name + "-shm")):
            leftover.unlink(missing_ok=True)
    sync_folder(folder)


def sync_folder(folder: Path) -> None:
    """Put a folder's list of names on the disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def look_at_head(path: Path) -> None:
    """Refuse what is no book before any of it is opened.

    Raises
    ------
    FindingsError
        If it is missing, a folder, empty, or no book.
    """
    try:
        if path.is_dir():
            raise _refuse(path, _("this is a folder, not a book"), _("Name the file in it."))
        path.open("rb").close()
    except FileNotFoundError:
        raise _refuse(
            path, _("there is no such book"), _("Check its name, or make one with: keepfast book new")
        ) from None
    except OSError as problem:
        raise _refuse(
            path, _("the book cannot be read: {why}").format(why=problem.strerror), _("Check whose file it is.")
        ) from None
    if not is_book(path):
        raise _refuse(
            path,
            _("this is not a book"),
            _("If it was one, its beginning is damaged: take the last backup with: keepfast book restore"),
        )


def open_file(path: Path, *, read_only: bool = False) -> Opened:
    """Open a book.

    A file that cannot be written (a stick with its lock on) is opened for reading; where its log lies beside it, from
    a private copy. Derived tables of an older program are made anew, after a backup.

    Raises
    ------
    FindingsError
        If it is no book, is damaged, lies on a network drive, or was written by a newer program.
    """
    look_at_head(path)
    if trouble := network_trouble(path):
        raise FindingsError([trouble])
    writable = os.access(path, os.W_OK) and os.access(path.absolute().parent, os.W_OK)
    read_only = read_only or not writable
    borrowed: Path | None = None
    immutable = False
    opened_path = path
    if not writable:
        log = path.with_name(path.name + "-wal")
        if log.exists() and log.stat().st_size:
            borrowed = Path(tempfile.mkdtemp(prefix="keepfast-"))
            opened_path = borrowed / "book"
            shutil.copyfile(path, opened_path)
            shutil.copyfile(log, borrowed / "book-wal")
        else:
            immutable = True
    engine = sqlite.engine_for(opened_path, read_only=read_only, immutable=immutable)
    try:
        with plain_words(path), engine.connect() as connection:
            told = {row.name: row.value for row in connection.execute(select(meta.c.name, meta.c.value))}
        _refuse_newer(path, told)
        if int(told["derived format"]) < DERIVED_FORMAT and not read_only:
            from keepfast.store.keeping import rebuild_with_backup

            rebuild_with_backup(engine, path)
        if not read_only:
            _ready_for_links(engine, path)
        store = "" if read_only else _store_id(engine, path)
    except BaseException:
        engine.dispose()
        if borrowed is not None:
            shutil.rmtree(borrowed, ignore_errors=True)
        raise
    return Opened(engine, path, read_only, told["book"], store, borrowed)


def _refuse_newer(path: Path, told: dict[str, str]) -> None:
    try:
        ledger, derived_format = int(told["ledger format"]), int(told["derived format"])
        told["book"], told["name"]
    except (KeyError, ValueError):
        what = _("what the book says of itself is damaged")
        raise _refuse(path, what, _("Take the last backup with: keepfast book restore")) from None
    if ledger > LEDGER_FORMAT or derived_format > DERIVED_FORMAT:
        raise _refuse(
            path,
            _("this book was last written by a newer Keepfast ({theirs}; this one is {ours})").format(
                theirs=told.get("program", "?"), ours=__version__
            ),
            _("Nothing was touched. Open it with that version or a later one."),
        )


def _ready_for_links(engine: Engine, path: Path) -> None:
    """A book made before links of other stores were kept gets the table for them; nothing else in it changes."""
    with plain_words(path), engine.connect() as connection:
        ready = has_again(connection)
    if not ready:
        with plain_words(path), engine.connect().execution_options(write=True) as connection, connection.begin():
            make_again(connection)


def _store_id(engine: Engine, path: Path) -> str:
    """The id under which this file, at this place on this machine, writes its chain."""
    place = place_of(path)

    def known(connection: Connection) -> str | None:
        found = connection.execute(select(writer.c.store).where(writer.c.place == place)).scalars().first()
        return None if found is None else str(found)

    with plain_words(path), engine.connect() as connection:
        if store := known(connection):
            return store
    with plain_words(path), engine.connect().execution_options(write=True) as connection, connection.begin():
        store = known(connection)
        if store is None:
            store = new_id()
            connection.execute(insert(writer).values(store=store, place=place, since=now().isoformat()))
        return store
