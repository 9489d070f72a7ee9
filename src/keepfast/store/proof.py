"""Proving a book: the file is sound, no entry was lost or altered, and what is kept beside them equals what they give.

The derived tables are not made a second time; each row is reckoned again from the entries and held against the one
that is kept, in two walks through the file, all as of one moment.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, Select, func, select

from keepfast.book.kinds import THINGS, load_content
from keepfast.book.searching import SEARCHED
from keepfast.book.state import Fact, derive
from keepfast.findings import FindingsError
from keepfast.store import search, sqlite
from keepfast.store.chains import Followed, print_of_row
from keepfast.store.derived import (
    correction_roots,
    has_corrections,
    link_rows,
    number_rows,
    resolved_of,
    subjects_of,
    thing_row,
)
from keepfast.store.tables import about, correction, entry, link, thing, used_number
from keepfast.words import _

STEP = 5000
MOST_TOLD = 20  # troubles told one by one
_MASK = 2**64 - 1

Progress = Callable[[str, int, int], None]  # what, done, of


@dataclass(frozen=True)
class Proof:
    """What proving found. Sound where ``troubles`` is empty."""

    entries: int
    stores: int
    things: int
    head: str  # one hash over the last links of all chains: two books with the same entries have the same
    troubles: tuple[str, ...]
    derived_troubles: tuple[str, ...]  # these a rebuild mends; the entries are whole

    @property
    def sound(self) -> bool:
        """Nothing is wrong with the file, the entries, or what is kept beside them."""
        return not self.troubles and not self.derived_troubles


def _silent(_what: str, _done: int, _of: int) -> None:
    pass


class _Heap:
    """A sum over rows that does not depend on their order."""

    def __init__(self) -> None:
        self.total = 0
        self.count = 0

    def add(self, rows: Iterable[tuple[Any, ...]]) -> None:
        for row in rows:
            self.total = (self.total + hash(row)) & _MASK
            self.count += 1

    def same(self, other: _Heap) -> bool:
        return (self.total, self.count) == (other.total, other.count)


def _heap_of(connection: Connection, wanted: Select[Any]) -> _Heap:
    heap = _Heap()
    for rows in connection.execute(wanted).partitions(STEP):
        heap.add(tuple(row) for row in rows)
    return heap


def prove(connection: Connection, progress: Progress = _silent) -> Proof:
    """Prove a book, within the transaction of the connection; the full-text index is proven by ``prove_index``."""
    progress(_("the file"), 0, 1)
    troubles = [_("the file is damaged: {what}").format(what=what) for what in sqlite.damage(connection)]
    if troubles:
        return Proof(0, 0, 0, "", tuple(troubles), ())
    troubles += [
        _("the guard {name} that keeps entries unchanged is missing").format(name=name)
        for name in sqlite.missing_triggers(connection)
    ]
    total = int(connection.execute(select(func.count()).select_from(entry)).scalar_one())
    chains = Followed(connection)
    derived_troubles: list[str] = []
    things = 0
    with _unhurried():
        try:
            things = _prove_against_entries(connection, chains, total, troubles, derived_troubles, progress)
        except (FindingsError, LookupError, TypeError, ValueError, AttributeError):
            # What was altered can say anything; where its chain shows it, nothing more need be told.
            if not troubles:
                troubles.append(_("an entry does not say what entries say"))
    told = tuple(troubles[:MOST_TOLD]), tuple(derived_troubles[:MOST_TOLD])
    return Proof(total, len(chains.heads), things, head_of(chains.heads), *told)


@contextlib.contextmanager
def _unhurried() -> Iterator[None]:
    """Look for cycles of dead objects seldom: millions of live ones are made here, and no cycles."""
    usual = gc.get_threshold()
    gc.set_threshold(100_000, 50, 100)
    try:
        yield
    finally:
        gc.set_threshold(*usual)


def _prove_against_entries(
    connection: Connection,
    chains: Followed,
    total: int,
    troubles: list[str],
    derived_troubles: list[str],
    progress: Progress,
) -> int:
    """Follow the chains, then reckon every derived row again; how many things there are."""
    try:
        roots, corrections = _corrections(connection, derived_troubles)
    except (FindingsError, LookupError, TypeError):
        troubles.append(_("a correction cannot be read"))
        roots, corrections = {}, {}
    numbers = _Heap()
    last = 0
    while True:
        rows = connection.execute(
            select(entry).where(entry.c.sequence > last).order_by(entry.c.sequence).limit(STEP)
        ).all()
        if not rows:
            break
        facts = _walk_chain(rows, last, chains, troubles)
        if not troubles:
            for sequence, fact in facts:
                numbers.add(_tuples(number_rows(sequence, fact), ("prefix", "serial", "sequence", "use")))
            _check_about(connection, facts, roots, corrections, derived_troubles)
        last = rows[-1].sequence
        progress(_("entries"), min(last, total), total)
    troubles += chains.finish()
    if troubles:
        # Where the entries are not whole, what is derived from them proves nothing.
        return int(connection.execute(select(func.count()).select_from(thing)).scalar_one())
    wanted = select(used_number.c.prefix, used_number.c.serial, used_number.c.sequence, used_number.c.use)
    if not numbers.same(_heap_of(connection, wanted)):
        derived_troubles.append(_("the record of used numbers is not what the entries give"))
    try:
        return _check_things(connection, derived_troubles, progress)
    except (FindingsError, LookupError, TypeError, ValueError, AttributeError):
        # The entries are whole, as was just found, so what cannot be read is what is kept beside them.
        derived_troubles.append(_("what is kept beside the entries cannot be read"))
        return 0


def head_of(heads: Mapping[str, tuple[int, str]]) -> str:
    """One hash over the last links of all chains."""
    lines = [f"{store} {number} {link}" for store, (number, link) in sorted(heads.items())]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _tuples(rows: Iterable[Mapping[str, Any]], names: Sequence[str]) -> Iterable[tuple[Any, ...]]:
    return (tuple(row[name] for name in names) for row in rows)


def _walk_chain(rows: Sequence[Row[Any]], last: int, chains: Followed, troubles: list[str]) -> list[tuple[int, Fact]]:
    facts = []
    for row in rows:
        if row.sequence != last + 1:
            troubles.append(_("between {a} and {b} entries are missing").format(a=last, b=row.sequence))
        troubles.extend(chains.follow(row, print_of_row(row)))
        last = row.sequence
        try:
            content = load_content(row.content)
        except FindingsError:
            troubles.append(_("entry {n} cannot be read").format(n=row.sequence))
            continue
        facts.append((row.sequence, Fact(row.order_ms, row.id, row.kind, content, row.who, row.device, row.at)))
    return facts


def _corrections(connection: Connection, troubles: list[str]) -> tuple[dict[str, str], dict[str, list[Fact]]]:
    """All corrections by the entry at their root, found again from the entries alone."""
    rows = connection.execute(
        select(entry.c.sequence, entry.c.order_ms, entry.c.id, entry.c.content, entry.c.who, entry.c.device, entry.c.at)
        .where(entry.c.kind == "correction")
        .order_by(entry.c.sequence)
    ).all()
    facts = {r.id: Fact(r.order_ms, r.id, "correction", load_content(r.content), r.who, r.device, r.at) for r in rows}
    roots = correction_roots(connection, {i: fact.content["entry"] for i, fact in facts.items()}, fresh=True)
    expected = {(r.sequence, facts[r.id].content["entry"], roots.get(r.id)) for r in rows}
    wanted = select(correction.c.sequence, correction.c.target, correction.c.root)
    kept = {tuple(row) for row in connection.execute(wanted)}
    if expected != kept:
        troubles.append(_("the record of corrections is not what the entries give"))
    by_root: dict[str, list[Fact]] = {}
    for correction_id, root in roots.items():
        by_root.setdefault(root, []).append(facts[correction_id])
    return roots, by_root


def _check_about(
    connection: Connection,
    facts: Sequence[tuple[int, Fact]],
    roots: Mapping[str, str],
    corrections: Mapping[str, list[Fact]],
    troubles: list[str],
) -> None:
    if not facts:
        return
    expected = {
        (kind, thing_id, sequence)
        for sequence, fact in facts
        if fact.kind != "correction"
        for kind, thing_id in subjects_of(fact, corrections.get(fact.id, ()))
    }
    wanted = select(about.c.kind, about.c.thing, about.c.sequence)
    kept = {tuple(row) for row in connection.execute(wanted.where(about.c.sequence.between(facts[0][0], facts[-1][0])))}
    if expected != kept:
        troubles.append(
            _("what entries {a} to {b} are about is not what they say").format(a=facts[0][0], b=facts[-1][0])
        )


def _check_things(connection: Connection, troubles: list[str], progress: Progress) -> int:
    any_corrections = has_corrections(connection)
    links, words = _Heap(), set[str]()
    seen = documents_seen = 0
    total = int(connection.execute(select(func.count()).select_from(thing)).scalar_one())
    for kind in THINGS:
        last = ""
        while True:
            ids = list(
                connection.execute(
                    select(about.c.thing)
                    .where(about.c.kind == kind, about.c.thing > last)
                    .distinct()
                    .order_by(about.c.thing)
                    .limit(search.CHUNK * 4)
                ).scalars()
            )
            if not ids:
                break
            last = ids[-1]
            resolved = resolved_of(connection, kind, ids, any_corrections)
            states = search.States(connection)
            for part in (ids[i : i + search.CHUNK] for i in range(0, len(ids), search.CHUNK)):
                rows = connection.execute(select(thing).where(thing.c.kind == kind, thing.c.id.in_(part))).all()
                kept = {row[1]: tuple(row) for row in rows}
                for thing_id in part:
                    state = derive(kind, thing_id, resolved[thing_id])
                    states.hold(kind, thing_id, state)
                    if kept.get(thing_id) != tuple(thing_row(kind, state).values()):
                        troubles.append(
                            _("the state of {kind} {id} is not what its entries give").format(kind=kind, id=thing_id)
                        )
                    links.add(_tuples(link_rows(kind, state), ("kind", "id", "relation", "to_id")))
                documents_seen += _check_documents(connection, kind, part, states, words, troubles)
            seen += len(ids)
            progress(_("things"), min(seen, total), total)
    if seen != total:
        troubles.append(_("things are kept that no entry speaks of"))
    if not links.same(_heap_of(connection, select(link.c.kind, link.c.id, link.c.relation, link.c.to_id))):
        troubles.append(_("the ties between things are not what the entries give"))
    if documents_seen != connection.execute(select(func.count()).select_from(search.documents)).scalar_one():
        troubles.append(_("the record for finding holds more than the entries give"))
    kept_words = set(connection.execute(select(search.word.c.word)).scalars())
    # Words that a correction has taken out may stay: they cost nothing and find nothing.
    if not words <= kept_words:
        troubles.append(_("words are missing from the record for finding"))
    return seen


def _check_documents(
    connection: Connection, kind: str, ids: Sequence[str], states: search.States, words: set[str], troubles: list[str]
) -> int:
    if kind not in SEARCHED:
        return 0
    rows = search.document_rows(kind, ids, states)
    said = [column for column in search.documents.c if column.name != "row"]
    wanted = select(*said).where(search.documents.c.kind == kind, search.documents.c.thing.in_(ids))
    kept = {row[1]: tuple(row) for row in connection.execute(wanted).all()}
    for row in rows:
        if kept.get(row["thing"]) != tuple(row.values()):
            troubles.append(
                _("what {kind} {id} is found by is not what its entries give").format(kind=kind, id=row["thing"])
            )
        words |= search.letters_of(row)
    return len(rows)


def prove_index(connection: Connection) -> tuple[str, ...]:
    """Prove the full-text index against the documents. SQLite counts this as writing, so it needs the write lock."""
    return () if sqlite.text_index_is_sound(connection) else (_("the index for finding is not what the record says"),)
