"""Finding: the documents that are searched, and the words that a slip of the finger is matched against.

``document`` and ``word`` are derived. Words of letters are also kept by their length, so that a misspelt one can be
held against all of about its length; numbers are not, because every number has neighbours that are as good.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from sqlalchemy import (
    Column,
    Connection,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    delete,
    func,
    insert,
    select,
)

from keepfast.book.kinds import Subject
from keepfast.book.searching import (
    PARTS,
    SEARCHED,
    SPEAK_OF,
    Asked,
    document,
    line_of,
    plain,
    read_query,
    slips_allowed,
    slips_of_number,
    spellings_of_number,
    words_of,
)
from keepfast.book.state import load_state
from keepfast.store import sqlite
from keepfast.store.tables import link, thing

CHUNK = 500
MOST_NEAR = 24  # near words tried for one misspelt word
MOST_RANKED = 300  # so many hits are put in order; of more, the ones first found are shown

searched = MetaData()
documents = Table(
    "document",
    searched,
    Column("row", Integer, primary_key=True),
    Column("kind", String, nullable=False),
    Column("thing", String, nullable=False),
    *(Column(part, Text, nullable=False) for part in PARTS),
    UniqueConstraint("thing", "kind"),
)
word = Table(
    "word",
    searched,
    Column("length", Integer, primary_key=True),
    Column("word", String, primary_key=True),
    sqlite_with_rowid=False,
)


def make_tables(connection: Connection) -> None:
    """Make the tables of the search, empty."""
    searched.create_all(connection)
    sqlite.make_text_index(connection)


def drop_tables(connection: Connection) -> None:
    """Throw the tables of the search away."""
    sqlite.drop_text_index(connection)
    searched.drop_all(connection)


def _chunks(items: Sequence[Any]) -> Iterable[Sequence[Any]]:
    for start in range(0, len(items), CHUNK):
        yield items[start : start + CHUNK]


class States:
    """States of things as they are asked for, each read once."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._held: dict[Subject, Mapping[str, Any]] = {}

    def hold(self, kind: str, thing_id: str, state: Mapping[str, Any]) -> None:
        """Take a state that was derived elsewhere, so that it is not read."""
        self._held[(kind, thing_id)] = state

    def fetch(self, kind: str, ids: Iterable[str]) -> None:
        """Read these in few statements."""
        for part in _chunks([i for i in dict.fromkeys(ids) if (kind, i) not in self._held]):
            self._held.update({(kind, i): {} for i in part})
            for thing_id, data in self._connection.execute(
                select(thing.c.id, thing.c.data).where(thing.c.kind == kind, thing.c.id.in_(part))
            ).all():
                self._held[(kind, thing_id)] = load_state(data)

    def __call__(self, kind: str, thing_id: str | None) -> Mapping[str, Any]:
        if not thing_id:
            return {}
        if (kind, thing_id) not in self._held:
            self.fetch(kind, [thing_id])
        return self._held[(kind, thing_id)]

    def fetch_with_named(self, kind: str, ids: Sequence[str]) -> None:
        """Read these and the things that their documents speak of."""
        self.fetch(kind, ids)
        mine = [self(kind, i) for i in ids]
        if kind == "animal":
            self.fetch("event", [s["event"] for s in mine if s.get("event")])
            self.fetch("place", [p for s in mine if (p := self("event", s.get("event")).get("place"))])
            for name in ("jar", "tray"):
                self.fetch(name, [h for s in mine if (h := (s.get("container") or {}).get(name))])
        for name in ("animal", "place", "trip"):
            if kind != "animal":
                self.fetch(name, [s[name] for s in mine if s.get(name)])


def update_documents(connection: Connection, touched: Sequence[Subject]) -> None:
    """Bring the documents of these things, and of those that speak of them, in step."""
    wanted: dict[str, dict[str, None]] = {}
    waiting = {kind: [i for k, i in touched if k == kind] for kind in dict.fromkeys(k for k, _i in touched)}
    while waiting:
        kind, ids = waiting.popitem()
        mine = wanted.setdefault(kind, {})
        fresh = [i for i in ids if i not in mine]
        mine.update(dict.fromkeys(fresh))
        for relation, speaker in SPEAK_OF.get(kind, ()):
            for part in _chunks(fresh):
                found = connection.execute(
                    select(link.c.id).where(link.c.to_id.in_(part), link.c.relation == relation, link.c.kind == speaker)
                ).scalars()
                waiting.setdefault(speaker, []).extend(found)
    for kind, chosen in wanted.items():
        if kind in SEARCHED:
            for part in _chunks(list(chosen)):
                _write_documents(connection, kind, part)


def document_rows(kind: str, ids: Sequence[str], states: States) -> list[dict[str, Any]]:
    """The documents of these things, in the order given; those that were never entered have none."""
    states.fetch_with_named(kind, ids)
    return [
        {"kind": kind, "thing": thing_id, **document(kind, states(kind, thing_id), states)}
        for thing_id in ids
        if "entered" in states(kind, thing_id)
    ]


def _write_documents(connection: Connection, kind: str, ids: Sequence[str]) -> None:
    rows = document_rows(kind, ids, States(connection))
    these = (documents.c.kind == kind, documents.c.thing.in_(ids))
    found = connection.execute(select(documents).where(*these)).mappings()
    old = [dict(row) for row in found]
    if old:
        sqlite.forget_documents(connection, old)
        connection.execute(delete(documents).where(*these))
    if not rows:
        return
    highest = int(connection.execute(select(func.max(documents.c.row))).scalar() or 0)
    numbered = [{"row": highest + i, **row} for i, row in enumerate(rows, 1)]
    connection.execute(insert(documents), numbered)
    sqlite.index_documents(connection, numbered)
    _note_words(connection, rows)


def letters_of(row: Mapping[str, Any]) -> set[str]:
    """Words of letters that a misspelt word may be held against."""
    found: set[str] = set()
    for part in _LETTERED:
        found |= _letters(row[part])
    return found


_LETTERED = tuple(part for part in PARTS if part not in ("number", "day"))


@lru_cache(maxsize=20_000)  # thousands of animals share a place, a name and a collector
def _letters(text: str) -> frozenset[str]:
    return frozenset(w for w in words_of(text) if 3 <= len(w) <= 40 and w.isalpha())


def _note_words(connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
    words: set[str] = set()
    for row in rows:
        words |= letters_of(row)
    known: set[str] = set()
    for part in _chunks(sorted(words)):
        lengths = {len(w) for w in part}
        known.update(
            connection.execute(
                select(word.c.word).where(word.c.length.in_(lengths), word.c.word.in_(part))
            ).scalars()
        )  # fmt: skip
    fresh = sorted(words - known)
    if fresh:
        connection.execute(insert(word), [{"length": len(w), "word": w} for w in fresh])


# Asking


@dataclass(frozen=True)
class Hit:
    """One thing found: ``how`` is number, words or near (a slip was forgiven)."""

    kind: str
    id: str
    label: str
    line: str
    how: str


@dataclass(frozen=True)
class Found:
    """What a search found. ``read_as`` tells which words were taken for which."""

    hits: tuple[Hit, ...]
    more: bool
    read_as: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


def find(connection: Connection, text: str, limit: int = 50, kinds: Sequence[str] = ()) -> Found:
    """Things that a query means: by number first, then by all its words, then with slips forgiven."""
    query = read_query(text)
    by_number = _by_number(connection, query.key, limit, kinds) if query.key else []
    if not query.words:
        return Found(_hits(connection, [(i, "number") for i in by_number], limit), len(by_number) > limit)
    exact = [spellings_of_number(asked.word) if asked.is_number else [asked.word] for asked in query.words]
    rows = _matching(connection, query.words, exact, kinds)
    if not rows:
        rows = _matching(connection, query.words, exact, kinds, beginning=True)
    read_as: dict[str, tuple[str, ...]] = {}
    how = "words"
    if not rows and not by_number:
        how = "near"
        choices: list[list[str]] = []
        for asked, spelt in zip(query.words, exact, strict=True):
            near = _near(connection, asked)
            # Beside a misspelt word another may be only begun.
            choices.append([*(spelt if asked.is_number else [f"{asked.word}*"]), *near])
            if near:
                read_as[asked.word] = tuple(near)
        rows = _matching(connection, query.words, choices, kinds) if read_as else []
        if rows:
            read_as = _those_found(connection, rows, read_as)
    order = {i: "number" for i in by_number}
    for thing_id in _ranked(connection, rows, query.words):
        order.setdefault(thing_id, how)
    hits = list(order.items())
    return Found(_hits(connection, hits, limit), len(hits) > limit or len(rows) > MOST_RANKED, read_as if rows else {})


def _by_number(connection: Connection, key: str, limit: int, kinds: Sequence[str]) -> list[str]:
    wanted = select(thing.c.id).where(thing.c.label_key == key, thing.c.entered, thing.c.kind.in_(kinds or SEARCHED))
    return list(connection.execute(wanted.order_by(thing.c.id).limit(limit + 1)).scalars())


def _matching(
    connection: Connection,
    asked: Sequence[Asked],
    choices: Sequence[Sequence[str]],
    kinds: Sequence[str],
    beginning: bool = False,
) -> list[int]:
    """Rows of documents that hold, for each word asked, one of its choices; all kinds of things unless narrowed."""
    parts = [(one.part, tuple(words)) for one, words in zip(asked, choices, strict=True)]
    found = sqlite.matching_documents(connection, parts, beginning, MOST_RANKED + 1 if not kinds else 50_000)
    if not kinds:
        return found
    kept: list[int] = []
    for part in _chunks(found):
        kept.extend(
            connection.execute(
                select(documents.c.row).where(documents.c.row.in_(part), documents.c.kind.in_(kinds))
            ).scalars()
        )
        if len(kept) > MOST_RANKED:
            break
    return kept


def _near(connection: Connection, asked: Asked) -> list[str]:
    """Words or numbers within a slip or two of what was typed, nearest first."""
    if asked.part == "day":
        return []
    if asked.is_number:
        # Every short number is a slip away from every other one.
        return slips_of_number(asked.word) if 3 <= len(asked.word) <= 12 else []
    allowed = slips_allowed(asked.word)
    if not allowed:
        return []
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    size = len(asked.word)
    held = connection.execute(
        select(word.c.word).where(word.c.length.between(size - allowed, size + allowed))
    ).scalars()
    near = process.extract(asked.word, list(held), scorer=OSA.distance, score_cutoff=allowed, limit=MOST_NEAR)
    return [found for found, distance, _place in near if distance > 0]


def _those_found(
    connection: Connection, rows: Sequence[int], tried: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """Of the words tried, those that the hits really hold."""
    held: set[str] = set()
    for part in _chunks(rows):
        for row in connection.execute(select(*(documents.c[p] for p in PARTS)).where(documents.c.row.in_(part))):
            for value in row:
                held.update(words_of(value))
    return {w: kept for w, near in tried.items() if w not in held and (kept := tuple(n for n in near if n in held))}


def _ranked(connection: Connection, rows: Sequence[int], asked: Sequence[Asked]) -> list[str]:
    """Things in the order in which they answer: words in number, name, jar before words in passing; then by kind."""
    weight = {"number": 0, "name": 1, "jar": 2, "place": 3, "day": 3, "person": 4, "words": 5}
    wanted = [one.word for one in asked]
    scored: list[tuple[int, int, int, str]] = []
    for part in _chunks(list(rows)[:MOST_RANKED]):
        for row in connection.execute(select(documents).where(documents.c.row.in_(part))).mappings():
            texts = [(rank, plain(row[part])) for part, rank in weight.items()]
            score = sum(next((rank for rank, text in texts if one in text), len(PARTS)) for one in wanted)
            scored.append((score, SEARCHED.index(row["kind"]), row["row"], row["thing"]))
    return [thing_id for _score, _kind, _row, thing_id in sorted(scored)]


def _hits(connection: Connection, found: Sequence[tuple[str, str]], limit: int) -> tuple[Hit, ...]:
    how = dict(found[:limit])
    rows: dict[str, Any] = {}
    for part in _chunks(list(how)):
        for row in connection.execute(
            select(thing.c.kind, thing.c.id, thing.c.label).where(
                # The kinds are named so that the key of the table is used.
                thing.c.kind.in_(SEARCHED),
                thing.c.id.in_(part),
                thing.c.entered,
            )
        ):
            rows[row.id] = row
    states = States(connection)
    for kind in {row.kind for row in rows.values()}:
        states.fetch_with_named(kind, [i for i in how if i in rows and rows[i].kind == kind])
    return tuple(
        Hit(
            rows[i].kind, i, rows[i].label, line_of(rows[i].kind, states(rows[i].kind, i), states), how[i]
        )
        for i in how
        if i in rows
    )  # fmt: skip
