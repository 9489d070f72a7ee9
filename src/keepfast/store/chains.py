"""The chains: each store that writes links its own entries by hash, from 1, and the links travel with the entries.

An entry that two stores wrote (a phone sent it to both) stands in a book once. The second store's link to it is kept
in ``again``, so that its chain can still be followed to the end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, insert, inspect, select

from keepfast.book.entries import FIRST_LINK, link_hash, print_of
from keepfast.store import sqlite
from keepfast.store.tables import again, entry
from keepfast.words import _

_STEP = 500
_SAID = (entry.c.id, entry.c.device, entry.c.who, entry.c.at, entry.c.order_ms, entry.c.kind, entry.c.content)

Head = tuple[int, str]  # number and hash of a chain's last link


@dataclass(frozen=True)
class Link:
    """A link to an entry that stands in the book under another store's link."""

    store: str
    number: int
    previous: str
    hash: str
    id: str
    print: str = ""  # of the entry; empty where it is not here


def print_of_row(row: Any) -> str:
    """The print of an entry from a row of the table; of what no entry can be, one that fits nothing."""
    try:
        return print_of([row.id, row.device, row.who, row.at, str(row.order_ms), row.kind, row.content])
    except (TypeError, UnicodeEncodeError):
        return ""


def has_again(connection: Connection) -> bool:
    """Whether the book has the table at all: one of an older program gets it when it is opened for writing."""
    return inspect(connection).has_table(again.name)


def make_again(connection: Connection) -> None:
    """Make the table, with its guards, in a book of an older program."""
    again.create(connection, checkfirst=True)
    sqlite.install_triggers(connection)


def again_links(connection: Connection) -> list[Link]:
    """All links to entries that stand under another store's link, each with the print of its entry."""
    if not has_again(connection):
        return []
    rows = connection.execute(select(again).order_by(again.c.store, again.c.number)).all()
    prints: dict[str, str] = {}
    ids = sorted({row.id for row in rows})
    for start in range(0, len(ids), _STEP):
        part = ids[start : start + _STEP]
        prints.update((r.id, print_of_row(r)) for r in connection.execute(select(*_SAID).where(entry.c.id.in_(part))))
    return [Link(r.store, r.number, r.previous, r.hash, r.id, prints.get(r.id, "")) for r in rows]


def keep_again(connection: Connection, links: list[Link]) -> None:
    """Keep links to entries that are here under another store's link."""
    if not links:
        return
    connection.execute(
        insert(again),
        [{"store": k.store, "number": k.number, "previous": k.previous, "hash": k.hash, "id": k.id} for k in links],
    )


def heads_of(connection: Connection) -> dict[str, Head]:
    """The last link of every chain."""
    heads: dict[str, Head] = {}
    for table in (entry, again) if has_again(connection) else (entry,):
        last = select(table.c.store, func.max(table.c.number).label("number")).group_by(table.c.store).subquery()
        for row in connection.execute(
            select(table.c.store, table.c.number, table.c.hash).join(
                last, (table.c.store == last.c.store) & (table.c.number == last.c.number)
            )
        ):
            if row.number > heads.get(row.store, (0, ""))[0]:
                heads[row.store] = (int(row.number), str(row.hash))
    return heads


def last_link(connection: Connection, store: str) -> Head | None:
    """The last link of one chain, of a book that is open for writing."""
    found: list[Head] = []
    for table in (entry, again):
        wanted = select(table.c.number, table.c.hash).where(table.c.store == store)
        row = connection.execute(wanted.order_by(table.c.number.desc()).limit(1)).first()
        if row is not None:
            found.append((int(row.number), str(row.hash)))
    return max(found, default=None)


def hash_at(connection: Connection, store: str, number: int) -> str | None:
    """The hash of one link of a chain; ``None`` where it is not here."""
    for table in (entry, again) if has_again(connection) else (entry,):
        wanted = select(table.c.hash).where(table.c.store == store, table.c.number == number)
        found = connection.execute(wanted).scalar()
        if found is not None:
            return str(found)
    return None


def broken_links(connection: Connection, step: int = 5000) -> list[str]:
    """What is wrong with the chains of a book, in words; nothing that is derived is looked at."""
    followed = Followed(connection)
    wrong: list[str] = []
    last = 0
    while rows := connection.execute(
        select(entry).where(entry.c.sequence > last).order_by(entry.c.sequence).limit(step)
    ).all():
        for row in rows:
            wrong += followed.follow(row, print_of_row(row))
        last = rows[-1].sequence
    return [*wrong, *followed.finish()]


class Followed:
    """Every chain followed link by link, while the entries of a book come by in their sequence."""

    def __init__(self, connection: Connection) -> None:
        self.again = again_links(connection)
        self.heads: dict[str, Head] = {}
        self._waiting = {(link.store, link.number): link for link in self.again}

    def follow(self, row: Any, entry_print: str) -> Iterator[str]:
        """What is wrong with the link of one entry, in words."""
        yield from self._advance(row.store)
        number, previous = self.heads.get(row.store, (0, FIRST_LINK))
        if row.number != number + 1 or row.previous != previous:
            yield _("the chain is broken before entry {n}").format(n=row.sequence)
        if link_hash(row.store, row.number, row.previous, entry_print) != row.hash:
            yield _("entry {n} is not what was written").format(n=row.sequence)
        self.heads[row.store] = (row.number, row.hash)

    def finish(self) -> Iterator[str]:
        """Follow what is left after the last entry; what is wrong with it, in words."""
        for store in sorted({store for store, _number in self._waiting}):
            yield from self._advance(store)
        for store, number in sorted(self._waiting):
            yield _("the chain of {store} is broken before link {n}").format(store=store, n=number)

    def _advance(self, store: str) -> Iterator[str]:
        if not self._waiting:
            return
        number, previous = self.heads.get(store, (0, FIRST_LINK))
        while link := self._waiting.pop((store, number + 1), None):
            number += 1
            whole = link.previous == previous and link.hash == link_hash(store, number, previous, link.print)
            if not whole:
                yield _("link {n} of the chain of {store} is not what was written").format(n=number, store=store)
            previous = link.hash
            self.heads[store] = (number, previous)
