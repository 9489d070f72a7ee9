"""Taking in what another book has written: two laptops that were apart come to hold the same entries.

Each store's chain comes along as it was written and is followed before anything of it is believed. An entry that is
here already does no harm; one id with two contents, a broken chain, or a chain that has gone two ways is refused. It
is one transaction: all or nothing.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, func, select

from keepfast.book.canonical import canonical
from keepfast.book.entries import Entry, Written, link_hash
from keepfast.book.kinds import KINDS, findings_of
from keepfast.book.number_blocks import number_key
from keepfast.findings import Finding, FindingsError
from keepfast.store import sqlite
from keepfast.store.chains import Followed, Link, hash_at, heads_of, keep_again, print_of_row
from keepfast.store.derived import chunks, count_entries
from keepfast.store.engine import Opened, plain_words
from keepfast.store.ledger import entry_from, insert_written, known_entries, next_links
from keepfast.store.tables import entry, meta, thing
from keepfast.words import _

STEP = 2000
MOST_TOLD = 20

Progress = Callable[[int, int], None]  # done, of


@dataclass(frozen=True)
class TakenIn:
    """What another book had, and what of it was new here.

    ``there`` and ``new`` count entries, ``only_here`` those the other has not. ``things`` counts new things by kind,
    ``by`` new entries by person. ``twins`` are field numbers that more than one animal now carries, with how many.
    ``apart`` names the chains that have gone two ways and whose entries were chained here instead.
    """

    name: str
    same_book: bool
    there: int
    chains: int
    new: int
    only_here: int
    things: Mapping[str, int]
    by: Mapping[str, int]
    first_at: str
    last_at: str
    twins: Mapping[str, int]
    apart: tuple[str, ...]


@dataclass
class _Found:
    """What a walk through the other book has met so far."""

    new: int = 0
    new_apart: int = 0  # of these, in chains that have gone two ways
    things: Counter[str] = field(default_factory=Counter)
    by: Counter[str] = field(default_factory=Counter)
    first: datetime.datetime | None = None
    last: datetime.datetime | None = None
    numbers: set[str] = field(default_factory=set)
    again: list[Link] = field(default_factory=list)
    troubles: list[Finding] = field(default_factory=list)


def take_in(
    opened: Opened,
    other: Opened,
    *,
    apply: bool = False,
    gone_apart: bool = False,
    progress: Progress | None = None,
    tell: Callable[[tuple[Written, ...]], None] | None = None,
    before: Callable[[], None] | None = None,
) -> TakenIn:
    """Take in all entries of another book that this one lacks, or see what that would do.

    Parameters
    ----------
    opened, other : Opened
        This book, open for writing, and the one whose entries are taken in.
    apply : bool
        Keep what was taken in; else the same is done and undone.
    gone_apart : bool
        Take in the entries of chains that have gone two ways all the same, chained anew as written here.
    progress : callable, optional
        Called with entries followed, and of how many.
    tell : callable, optional
        Called after commit with what was written.
    before : callable, optional
        Called before commit, when the other book has been followed to its end and nothing was found against it.

    Raises
    ------
    FindingsError
        If the other book is not whole, an id stands for two entries, an entry is not valid, or a chain has gone two
        ways; this book is as it was.
    """
    found = _Found()
    told: list[tuple[Written, ...]] = []
    with plain_words(other.path), other.engine.connect() as there:
        _refuse_unsound(other.path, there)
        total = count_entries(there)
        with (
            plain_words(opened.path),
            opened.engine.connect().execution_options(write=True) as here,
            here.begin() as transaction,
        ):
            had, apart = count_entries(here), _gone_apart(here, there)
            chains = _walk(
                opened.store, other.path, here, there, apart, found, progress, total,
                told.append if tell and apply else None,
            )  # fmt: skip
            _refuse(found, other.path)
            if found.new_apart and not gone_apart:
                _refuse_apart(apart, other.path)
            twins = _twins(here, found.numbers)
            if before:
                before()
            if not apply:
                transaction.rollback()
        name, book = _name_of(there)
    for written in told:
        assert tell is not None
        tell(written)
    first, last = (m.isoformat(timespec="seconds") if m else "" for m in (found.first, found.last))
    return TakenIn(
        name, book == opened.book, total, chains, found.new, had + found.new - total,
        {kind: found.things[kind] for kind in KINDS if found.things[kind]}, dict(found.by.most_common()),
        first, last, twins, tuple(sorted(apart)),
    )  # fmt: skip


def _name_of(connection: Connection) -> tuple[str, str]:
    told = {row.name: row.value for row in connection.execute(select(meta.c.name, meta.c.value))}
    return told["name"], told["book"]


def _refuse_unsound(path: Path, connection: Connection) -> None:
    wrong = [_("the file is damaged: {what}").format(what=what) for what in sqlite.damage(connection)]
    if not wrong:
        wrong = [
            _("the guard {name} that keeps entries unchanged is missing").format(name=name)
            for name in sqlite.missing_triggers(connection)
        ]
    if wrong:
        raise FindingsError([_of(path, what, _("Nothing of it was taken in. Bring another copy.")) for what in wrong])


def _of(path: Path, what: str, remedy: str = "") -> Finding:
    return Finding(what, remedy, file=str(path))


def _gone_apart(here: Connection, there: Connection) -> set[str]:
    """Stores whose chain is not the same in both, as far as both have it."""
    ours, theirs = heads_of(here), heads_of(there)
    apart = set()
    for store in ours.keys() & theirs.keys():
        number = min(ours[store][0], theirs[store][0])
        if hash_at(here, store, number) != hash_at(there, store, number):
            apart.add(store)
    return apart


def _refuse_apart(apart: Iterable[str], path: Path) -> None:
    raise FindingsError(
        [
            Finding(
                _("the chain of one writer has gone two ways: a copy was put back by hand and written in"),
                _(
                    "See which copy is right. Say --gone-apart to take in the entries of both; they are then chained"
                    " as written here."
                ),
                file=str(path),
                subject=store,
            )
            for store in sorted(apart)
        ]
    )


def _refuse(found: _Found, path: Path) -> None:
    if found.troubles:
        shown = found.troubles[:MOST_TOLD]
        raise FindingsError([*shown, _of(path, _("nothing was taken in"), _("The book is as it was."))])


def _walk(
    store: str,
    path: Path,
    here: Connection,
    there: Connection,
    apart: set[str],
    found: _Found,
    progress: Progress | None,
    total: int,
    told: Callable[[tuple[Written, ...]], None] | None,
) -> int:
    """Follow every chain of the other book and write what is new; how many chains there are."""
    followed = Followed(there)
    ours = heads_of(here)
    sequence = int(here.execute(select(func.max(entry.c.sequence))).scalar() or 0)
    last = done = 0
    while rows := there.execute(
        select(entry).where(entry.c.sequence > last).order_by(entry.c.sequence).limit(STEP)
    ).all():
        new = []
        for row in rows:
            wrong = [*followed.follow(row, print_of_row(row))]
            found.troubles += [_of(path, what, _("Nothing of it was taken in. Bring another copy.")) for what in wrong]
            if row.store in apart or row.number > ours.get(row.store, (0, ""))[0]:
                new.append(row)
        fresh, to_chain = _fresh(here, sequence, new, apart, found)
        if found.troubles:
            return 0  # nothing is kept, so the rest need not be looked at
        insert_written(here, fresh)
        chained = next_links(here, store, sequence + len(fresh), to_chain)
        insert_written(here, chained)
        sequence += len(fresh) + len(chained)
        if told:
            told((*fresh, *chained))
        last, done = rows[-1].sequence, done + len(rows)
        if progress:
            progress(done, total)
    found.troubles += [_of(path, what) for what in followed.finish()]
    # The entries these links lead to are all here by now.
    further = [k for k in followed.again if k.store not in apart and k.number > ours.get(k.store, (0, ""))[0]]
    if not found.troubles:
        keep_again(here, found.again + further)
    return len(followed.heads)


def _fresh(
    here: Connection, sequence: int, rows: Sequence[Any], apart: set[str], found: _Found
) -> tuple[list[Written], list[Entry]]:
    """What of these rows is new here, with its own link, or to be chained anew; what is here gets a further link."""
    known = known_entries(here, [row.id for row in rows])
    fresh: list[Written] = []
    to_chain: list[Entry] = []
    for row in rows:
        held = known.get(row.id)
        if held is not None:
            if link_hash(held.store, held.number, held.previous, print_of_row(row)) != held.hash:
                found.troubles.append(
                    Finding(
                        _("this id stands for another entry here"),
                        _("One of the two was altered. Prove both books, and keep the one that is right."),
                        field="id",
                        read=row.id,
                    )
                )
            elif row.store not in apart:
                found.again.append(Link(row.store, row.number, row.previous, row.hash, row.id))
            continue
        one = _read(row, found.troubles)
        if one is None:
            continue
        _count(one, found)
        if row.store in apart:
            found.new_apart += 1
            to_chain.append(one)
        else:
            fresh.append(Written(one, sequence + len(fresh) + 1, row.store, row.number, row.previous, row.hash))
    return fresh, to_chain


def _read(row: Any, troubles: list[Finding]) -> Entry | None:
    """The entry in a row of a file that anybody may have made, or what is wrong with it."""
    try:
        one = entry_from(row)
        moment = one.at.isoformat(timespec="milliseconds")
        if canonical(one.content) != row.content or moment != row.at or not 0 <= row.order_ms < 2**53:
            raise ValueError
        # A kind of a newer program is kept and passed on, never read.
        wrong = findings_of(one) if one.kind in KINDS else []
    except (FindingsError, ValueError, TypeError, AttributeError):
        wrong = [Finding(_("entry {n} cannot be read").format(n=row.sequence))]
        one = None
    troubles += wrong
    return None if wrong else one


def _count(one: Entry, found: _Found) -> None:
    found.new += 1
    found.by[one.who] += 1
    found.first, found.last = min(found.first or one.at, one.at), max(found.last or one.at, one.at)
    kind = KINDS.get(one.kind)
    if kind is not None and kind.thing and not one.content.get(one.kind):
        found.things[one.kind] += 1
    said = one.content.get("set") if one.kind == "correction" else one.content
    number = (said or {}).get("field_number") if one.kind in ("animal", "correction") else None
    if isinstance(number, str):
        found.numbers.add(number_key(number))


def _twins(here: Connection, keys: Iterable[str]) -> dict[str, int]:
    """Of these field numbers those that more than one animal carries."""
    found: dict[str, int] = {}
    for part in chunks(sorted(keys)):
        for label, count in here.execute(
            select(func.min(thing.c.label), func.count())
            .where(thing.c.label_key.in_(part), thing.c.kind == "animal", thing.c.entered, ~thing.c.withdrawn)
            .group_by(thing.c.label_key)
            .having(func.count() > 1)
        ):
            found[str(label)] = int(count)
    return found
