"""SQLite's own dialect, all of it in this one file: connections, PRAGMAs, triggers, the full-text index, backup."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool, QueuePool

from keepfast.findings import Finding
from keepfast.store.drives import APPLICATION_ID
from keepfast.words import _

WAIT_S = 60.0  # how long a writer waits for another one: reading in a hundred thousand rows takes half of it

_TRIGGERS = {
    "entry_is_never_changed": """CREATE TRIGGER entry_is_never_changed BEFORE UPDATE ON entry
        BEGIN SELECT RAISE(ABORT, 'an entry is never changed; write a correction'); END""",
    "entry_is_never_deleted": """CREATE TRIGGER entry_is_never_deleted BEFORE DELETE ON entry
        BEGIN SELECT RAISE(ABORT, 'an entry is never deleted; write a correction that withdraws it'); END""",
    # INSERT OR REPLACE deletes without asking the trigger above unless recursive triggers are on.
    "entry_is_never_replaced": """CREATE TRIGGER entry_is_never_replaced BEFORE INSERT ON entry
        WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id OR sequence = NEW.sequence
                     OR (store = NEW.store AND number = NEW.number))
        BEGIN SELECT RAISE(ABORT, 'an entry is never replaced; write a correction'); END""",
}
_TRIGGERS_OF_AGAIN = {
    "link_is_never_changed": """CREATE TRIGGER link_is_never_changed BEFORE UPDATE ON again
        BEGIN SELECT RAISE(ABORT, 'a link is never changed'); END""",
    "link_is_never_deleted": """CREATE TRIGGER link_is_never_deleted BEFORE DELETE ON again
        BEGIN SELECT RAISE(ABORT, 'a link is never deleted'); END""",
    "link_is_never_replaced": """CREATE TRIGGER link_is_never_replaced BEFORE INSERT ON again
        WHEN EXISTS (SELECT 1 FROM again WHERE store = NEW.store AND number = NEW.number)
        BEGIN SELECT RAISE(ABORT, 'a link is never replaced'); END""",
}


def engine_for(path: Path, *, read_only: bool = False, immutable: bool = False) -> Engine:
    """An engine for one file. A connection with the option ``write`` takes the write lock before it reads.

    A plain BEGIN that reads and then writes can lose its snapshot to another writer and fail however long it waits;
    BEGIN IMMEDIATE waits its turn. WAL lets readers read on meanwhile; synchronous FULL puts a commit on the disk
    before it is acknowledged.
    """
    mode = "ro" if read_only else "rw"
    name = f"file:{quote(str(path.absolute()))}?mode={mode}{'&immutable=1' if immutable else ''}"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(name, uri=True, timeout=WAIT_S, isolation_level=None, check_same_thread=False)

    pool: dict[str, Any] = {"poolclass": NullPool} if immutable else {"poolclass": QueuePool, "max_overflow": 40}
    # Values stay out of error messages, which may end in a log: a book holds places that are nobody's business.
    engine = create_engine("sqlite://", creator=connect, hide_parameters=True, **pool)

    @event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _record: Any) -> None:
        run = connection.execute
        if read_only:
            run("PRAGMA query_only = ON")
        else:
            run("PRAGMA journal_mode = WAL")
            run("PRAGMA synchronous = FULL")
        run("PRAGMA trusted_schema = OFF")
        run("PRAGMA cache_size = -65536")
        run("PRAGMA temp_store = MEMORY")
        run("PRAGMA mmap_size = 268435456")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        write = connection.get_execution_options().get("write", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")

    return engine


def install_triggers(connection: Connection) -> None:
    """Put in place the triggers that keep entries as they were written; does nothing where they are."""
    have = set(triggers(connection))
    for name, statement in _wanted(connection).items():
        if name not in have:
            connection.exec_driver_sql(statement)


def _wanted(connection: Connection) -> dict[str, str]:
    """The triggers a book should have; one made before links were kept has no table for them."""
    tables = connection.exec_driver_sql("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'again'").first()
    return _TRIGGERS | (_TRIGGERS_OF_AGAIN if tables else {})


def triggers(connection: Connection) -> tuple[str, ...]:
    """Names of the triggers that are in place with the words they should have."""
    rows = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").all()
    wanted = {name: " ".join(sql.split()) for name, sql in (_TRIGGERS | _TRIGGERS_OF_AGAIN).items()}
    return tuple(name for name, sql in rows if " ".join(sql.split()) == wanted.get(name))


def missing_triggers(connection: Connection) -> tuple[str, ...]:
    """Names of those that should be there and are not."""
    return tuple(sorted(set(_wanted(connection)) - set(triggers(connection))))


def mark_as_book(connection: Connection) -> None:
    """Write into the file's head that it is a book."""
    connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")


def is_marked(connection: Connection) -> bool:
    """Whether the file's head says that it is a book."""
    return connection.exec_driver_sql("PRAGMA application_id").scalar() == APPLICATION_ID


def damage(connection: Connection, most: int = 5) -> tuple[str, ...]:
    """What SQLite's own check of the file finds; empty when the file is sound."""
    try:
        rows = connection.exec_driver_sql(f"PRAGMA integrity_check({int(most)})").scalars().all()
    except Exception as problem:
        return (str(getattr(problem, "orig", problem)),)
    return () if rows == ["ok"] else tuple(str(row) for row in rows)


def copy_file(source: Path, target: Path, *, read_only: bool = False) -> None:
    """Copy a book that may be in use, whole and as of one moment (SQLite's online backup), into a new file."""
    name = f"file:{quote(str(source.absolute()))}?mode={'ro' if read_only else 'rw'}"
    with (
        contextlib.closing(sqlite3.connect(name, uri=True, timeout=WAIT_S)) as one,
        contextlib.closing(sqlite3.connect(target)) as other,
    ):
        one.backup(other)
        # A copy leaves as one file, without a log beside it.
        other.execute("PRAGMA journal_mode = DELETE")


def settle(engine: Engine) -> None:
    """Bring the log into the file, as far as readers let it."""
    with contextlib.suppress(Exception), engine.connect() as connection:
        raw = connection.connection.driver_connection
        assert raw is not None
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def make_text_index(connection: Connection) -> None:
    """The full-text index over ``document``."""
    connection.execute(
        text(
            "CREATE VIRTUAL TABLE IF NOT EXISTS document_words USING fts5("
            "number, name, place, day, person, jar, words, content='document', content_rowid='row',"
            ' tokenize="unicode61 remove_diacritics 2")'
        )
    )


def finding_of(problem: DBAPIError, path: Path) -> Finding:
    """What went wrong, in plain words; whatever it was, the transaction left the book as it was."""
    return finding_of_raw(problem.orig or problem, path)


def is_engine_error(problem: BaseException) -> bool:
    """Whether this came from SQLite itself."""
    return isinstance(problem, sqlite3.Error)


def finding_of_raw(problem: BaseException, path: Path) -> Finding:
    """What SQLite said, in plain words."""
    said = str(problem).lower()
    kept = _("Nothing was written; the book is as it was.")
    if "full" in said:
        what, remedy = _("the disk is full"), _("Free some space, then do it again.")
    elif "readonly" in said or "read-only" in said:
        what, remedy = _("the book lies on a medium that cannot be written"), _("Copy it to this machine's own drive.")
    elif "locked" in said or "busy" in said:
        what, remedy = _("another program is holding the book"), _("Close it there, then do it again.")
    elif "malformed" in said or "not a database" in said or "disk image" in said or "no such table" in said:
        what = _("the file is damaged or only part of it is here")
        remedy = _("Take the last backup with: keepfast book restore")
    elif "i/o error" in said:
        what, remedy = _("the drive did not answer"), _("Look after the drive, then do it again.")
    elif "never" in said:
        what, remedy = str(problem), ""
    else:
        what, remedy = _("the book could not do this: {said}").format(said=str(problem)), ""
    return Finding(what, f"{kept} {remedy}".strip(), file=str(path))


def drop_text_index(connection: Connection) -> None:
    """Throw the full-text index away."""
    connection.exec_driver_sql("DROP TABLE IF EXISTS document_words")


_PARTS = ("number", "name", "place", "day", "person", "jar", "words")
_COLUMNS = ", ".join(_PARTS)
_VALUES = ", ".join(f":{part}" for part in _PARTS)


def index_documents(connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
    """Put documents into the full-text index."""
    statement = text(f"INSERT INTO document_words (rowid, {_COLUMNS}) VALUES (:row, {_VALUES})")
    connection.execute(statement, [dict(row) for row in rows])


def forget_documents(connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
    """Take documents out of the full-text index; it must be told what they said."""
    statement = text(
        f"INSERT INTO document_words (document_words, rowid, {_COLUMNS}) VALUES ('delete', :row, {_VALUES})"
    )
    connection.execute(statement, [dict(row) for row in rows])


def matching_documents(
    connection: Connection, asked: Sequence[tuple[str, Sequence[str]]], beginning: bool, limit: int
) -> list[int]:
    """Rows that hold, for each word asked, one of its choices, in its part if it names one; at most ``limit``.

    A choice that ends in an asterisk, and with ``beginning`` every one, stands for the words it begins, if it has
    three letters or more.
    """
    terms = []
    for part, choices in asked:
        ways = []
        for choice in choices:
            word = choice.removesuffix("*")
            quoted = '"' + word.replace('"', '""') + '"'
            begins = (beginning or word != choice) and len(word) >= 3 and not word.isdigit()
            ways.append(f"{quoted}*" if begins else quoted)
        joined = "(" + " OR ".join(ways) + ")"
        terms.append(f"{part} : {joined}" if part else joined)
    statement = text("SELECT rowid FROM document_words WHERE document_words MATCH :asked LIMIT :most")
    return list(connection.execute(statement, {"asked": " AND ".join(terms), "most": limit}).scalars())


def text_index_is_sound(connection: Connection) -> bool:
    """Whether the full-text index says what the documents say."""
    try:
        connection.exec_driver_sql("INSERT INTO document_words (document_words, rank) VALUES ('integrity-check', 1)")
    except DBAPIError:
        return False
    return True
