"""Appending and reading entries. One writer at a time, one transaction, told to others only after commit."""

from __future__ import annotations

import contextlib
import datetime
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, func, insert, select

from keepfast.book.entries import FIRST_LINK, Acknowledged, Entry, Written, link_hash
from keepfast.book.kinds import findings_of, load_content, unreadable
from keepfast.book.state import fact_of
from keepfast.findings import Finding, FindingsError
from keepfast.store import derived
from keepfast.store.chains import broken_links, last_link
from keepfast.store.engine import Opened, open_file, plain_words
from keepfast.store.proof import Progress, Proof, prove, prove_index
from keepfast.store.queries import Reads
from keepfast.store.tables import entry
from keepfast.words import _

_WRITTEN = (
    entry.c.sequence,
    entry.c.id,
    entry.c.store,
    entry.c.number,
    entry.c.previous,
    entry.c.hash,
    entry.c.device,
    entry.c.who,
    entry.c.at,
    entry.c.order_ms,
    entry.c.kind,
    entry.c.content,
)
# Another device's clock further ahead than this is wrong; it must not pull the order of all later entries along.
_AHEAD_MS = 86_400_000


def entry_from(row: Any) -> Entry:
    """The entry in a row of the table.

    Raises
    ------
    FindingsError
        If it is not what any program of ours has written: the file was damaged or altered.
    """
    try:
        at = datetime.datetime.fromisoformat(row.at)
        made = Entry(row.kind, load_content(row.content), row.who, row.device, at, row.id, row.order_ms)
    except (ValueError, TypeError):
        raise unreadable() from None
    # What is hashed is the text as it is kept, not as this version would write it.
    made.__dict__["text"] = row.content
    made.__dict__["at_text"] = row.at
    return made


def written_from(row: Any) -> Written:
    """The entry with its place in the chain, from a row of the table."""
    return Written(entry_from(row), row.sequence, row.store, row.number, row.previous, row.hash)


class Ledger:
    """One open book as a ledger. Safe to share among threads."""

    def __init__(self, opened: Opened) -> None:
        self.opened = opened
        self._listeners: list[Callable[[tuple[Written, ...]], None]] = []

    @classmethod
    def open(cls, path: Path, *, read_only: bool = False) -> Ledger:
        """Open a book's file; see ``engine.open_file``."""
        return cls(open_file(path, read_only=read_only))

    def close(self) -> None:
        """Let go of the file."""
        self.opened.close()

    @contextlib.contextmanager
    def reading(self) -> Iterator[Reads]:
        """Look things up, all as of one moment."""
        with plain_words(self.opened.path), self.opened.engine.connect() as connection:
            yield Reads(connection)

    def append(self, entries: Iterable[Entry]) -> tuple[Acknowledged, ...]:
        """Write entries, all or none, and bring the derived tables in step; on return they are on the disk.

        An entry the book has already is acknowledged again and not written twice.

        Raises
        ------
        FindingsError
            If any entry is not valid, has the id of another one, or the book cannot be written; the book is as it was.
        """
        fixed = tuple(entries)
        found = [finding for one in fixed for finding in findings_of(one)]
        if found:
            raise FindingsError(found)
        return self._append_checked(lambda _reads: fixed)

    def append_made(self, make: Callable[[Reads], Sequence[Entry]]) -> tuple[Acknowledged, ...]:
        """Write what is made after a look at the book, with nobody writing in between; see ``append``."""

        def checked(reads: Reads) -> Sequence[Entry]:
            made = make(reads)
            found = [finding for one in made for finding in findings_of(one)]
            if found:
                raise FindingsError(found)
            return made

        return self._append_checked(checked)

    def _append_checked(self, make: Callable[[Reads], Sequence[Entry]]) -> tuple[Acknowledged, ...]:
        opened = self.opened
        if opened.read_only:
            raise FindingsError(
                [
                    Finding(
                        _("the book is open for reading only"),
                        _("Copy it to this machine's own drive to write in it."),
                        file=str(opened.path),
                    )
                ]
            )
        with plain_words(opened.path), opened.engine.connect().execution_options(write=True) as connection:  # noqa: SIM117
            with connection.begin():
                acknowledged, fresh = _write(connection, opened.store, make(Reads(connection)))
        if fresh:
            self.tell(fresh)
        return acknowledged

    def tell(self, fresh: tuple[Written, ...]) -> None:
        """Tell all who listen what has been written."""
        for listener in tuple(self._listeners):
            listener(fresh)

    def listen(self, listener: Callable[[tuple[Written, ...]], None]) -> Callable[[], None]:
        """Be told what this process has written, after commit, in the writer's thread; call the result to stop."""
        self._listeners.append(listener)
        return lambda: self._listeners.remove(listener)

    def read_since(self, sequence: int, limit: int = 1000) -> tuple[Written, ...]:
        """Entries after this place, in the order in which this book got them."""
        with plain_words(self.opened.path), self.opened.engine.connect() as connection:
            rows = connection.execute(
                select(*_WRITTEN).where(entry.c.sequence > sequence).order_by(entry.c.sequence).limit(limit)
            )
            return tuple(written_from(row) for row in rows)

    def last_sequence(self) -> int:
        """The highest sequence number, 0 in an empty book; cheap enough to ask every second."""
        with plain_words(self.opened.path), self.opened.engine.connect() as connection:
            return int(connection.execute(select(func.max(entry.c.sequence))).scalar() or 0)

    def prove(self, progress: Progress | None = None) -> Proof:
        """Prove the book; see ``proof.prove``. Others may read and write meanwhile, but for the last moments."""
        opened = self.opened
        with plain_words(opened.path), opened.engine.connect() as connection:
            found = prove(connection, progress) if progress else prove(connection)
        if found.troubles or opened.read_only:
            return found
        with plain_words(opened.path), opened.engine.connect().execution_options(write=True) as connection:
            return replace(found, derived_troubles=found.derived_troubles + prove_index(connection))

    def broken_links(self) -> list[str]:
        """What is wrong with the entries' chains, in words; quicker than to prove all."""
        with plain_words(self.opened.path), self.opened.engine.connect() as connection:
            return broken_links(connection)

    def latest_order(self, now_ms: int, device: str) -> int:
        """The last place in the order after which this device writes.

        Its own last place counts whatever its clock says now, for a clock may fall back by years when its battery is
        changed; another device's counts unless it runs more than a day ahead.
        """
        newest = func.max(entry.c.order_ms)
        with plain_words(self.opened.path), self.opened.engine.connect() as connection:
            own = int(connection.execute(select(newest).where(entry.c.device == device)).scalar() or 0)
            ahead = max(now_ms, own) + _AHEAD_MS
            return int(connection.execute(select(newest).where(entry.c.order_ms <= ahead)).scalar() or 0)


def known_entries(connection: Connection, ids: Sequence[str]) -> dict[str, Any]:
    """Of these ids those that are here, each with its link."""
    found = {}
    for part in derived.chunks(ids):
        for row in connection.execute(
            select(entry.c.id, entry.c.sequence, entry.c.store, entry.c.number, entry.c.previous, entry.c.hash).where(
                entry.c.id.in_(part)
            )
        ):
            found[row.id] = row
    return found


def _write(
    connection: Connection, store: str, entries: Sequence[Entry]
) -> tuple[tuple[Acknowledged, ...], tuple[Written, ...]]:
    unique: dict[str, Entry] = {}
    troubles: list[Finding] = []
    for one in entries:
        if unique.setdefault(one.id, one).print != one.print:
            troubles.append(_same_id(one))
    known = known_entries(connection, list(unique))
    for entry_id, row in known.items():
        if link_hash(row.store, row.number, row.previous, unique[entry_id].print) != row.hash:
            troubles.append(_same_id(unique[entry_id]))
    if troubles:
        raise FindingsError(troubles)
    sequence = int(connection.execute(select(func.max(entry.c.sequence))).scalar() or 0)
    fresh = next_links(connection, store, sequence, [one for one in unique.values() if one.id not in known])
    insert_written(connection, fresh)
    places = {w.entry.id: w.sequence for w in fresh} | {i: row.sequence for i, row in known.items()}
    acknowledged = tuple(Acknowledged(one.id, places[one.id], one.id not in known) for one in entries)
    return acknowledged, tuple(fresh)


def next_links(connection: Connection, store: str, sequence: int, entries: Sequence[Entry]) -> list[Written]:
    """These entries, each with the next place after ``sequence`` and the next link in the chain of a store."""
    if not entries:
        return []
    number, previous = last_link(connection, store) or (0, FIRST_LINK)
    fresh: list[Written] = []
    for one in entries:
        sequence, number = sequence + 1, number + 1
        link = link_hash(store, number, previous, one.print)
        fresh.append(Written(one, sequence, store, number, previous, link))
        previous = link
    return fresh


def insert_written(connection: Connection, fresh: Sequence[Written]) -> None:
    """Write entries with their links, and bring the derived tables in step."""
    if not fresh:
        return
    connection.execute(
        insert(entry),
        [
            {
                "sequence": w.sequence,
                "id": w.entry.id,
                "store": w.store,
                "number": w.number,
                "previous": w.previous,
                "hash": w.hash,
                "device": w.entry.device,
                "who": w.entry.who,
                "at": w.entry.at_text,
                "order_ms": w.entry.order_ms,
                "kind": w.entry.kind,
                "content": w.entry.text,
            }
            for w in fresh
        ],
    )
    derived.update_all(connection, [(w.sequence, fact_of(w.entry)) for w in fresh])


def _same_id(one: Entry) -> Finding:
    return Finding(
        _("this id stands for another entry already"),
        _("An entry is never changed. Write a correction, under an id of its own."),
        field="id",
        read=one.id,
    )
