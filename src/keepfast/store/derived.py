"""The derived tables: kept in step with each append, in the same transaction, and made anew from the entries alone.

What an entry means is ``book.state``; here is only which rows it touches. Every row is a function of the set of
entries, not of the order in which they came.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, bindparam, delete, func, insert, select, update

from keepfast.book.kinds import LINKS, Subject, load_content, subjects, unreadable
from keepfast.book.number_blocks import number_key, split_number
from keepfast.book.state import Fact, Resolved, derive, label_of, resolve
from keepfast.store import search
from keepfast.store.tables import about, correction, derived, entry, link, thing, used_number

CHUNK = 500
_sorted_json = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode
_FACT = (entry.c.order_ms, entry.c.id, entry.c.kind, entry.c.content, entry.c.who, entry.c.device, entry.c.at)

# Kinds of entry that carry a number of the trade, the field it stands in, and what it is for.
_NUMBERED = {
    "animal": ("field_number", "animal"),
    "event": ("number", "event"),
    "tissue": ("number", "tissue"),
    "jar": ("number", "jar"),
    "tray": ("number", "tray"),
    "catalogue_number": ("number", "catalogue"),
}


def chunks(items: Sequence[Any], size: int = CHUNK) -> Iterator[Sequence[Any]]:
    """The items in pieces small enough for one statement."""
    for start in range(0, len(items), size):
        yield items[start : start + size]


def fact_from(row: Sequence[Any]) -> Fact:
    """A fact from the columns of ``_FACT``."""
    content = load_content(row[3])
    if row[2] == "correction" and not isinstance(content.get("entry"), str):
        raise unreadable()
    return Fact(row[0], row[1], row[2], content, row[4], row[5], row[6])


def update_all(connection: Connection, new: Sequence[tuple[int, Fact]]) -> None:
    """Bring every derived table in step with new entries, given with their sequence numbers."""
    if not new:
        return
    roots = {fact.id: (sequence, fact) for sequence, fact in new if fact.kind != "correction"}
    corrected = _place_corrections(connection, new, roots)
    touched = _note_subjects(connection, roots, corrected)
    _note_numbers(connection, new)
    derive_things(connection, touched, {sequence: fact for sequence, fact in new})


def _place_corrections(
    connection: Connection, new: Sequence[tuple[int, Fact]], roots: dict[str, tuple[int, Fact]]
) -> dict[str, list[Fact]]:
    """Find the root of each correction that lacks one; add older roots to ``roots``; give corrections by root."""
    rows = [
        {"sequence": sequence, "target": fact.content["entry"], "root": None}
        for sequence, fact in new
        if fact.kind == "correction"
    ]
    if rows:
        connection.execute(insert(correction), rows)
    # A correction may come before what it corrects, so all that still lack a root are looked at.
    waiting = connection.execute(
        select(correction.c.sequence, correction.c.target, entry.c.id)
        .join(entry, entry.c.sequence == correction.c.sequence)
        .where(correction.c.root.is_(None))
    ).all()
    if not waiting:
        return {}
    rooted_at = correction_roots(connection, {row.id: row.target for row in waiting})
    found = [{"at": row.sequence, "to": rooted_at[row.id]} for row in waiting if row.id in rooted_at]
    if not found:
        return {}
    connection.execute(
        update(correction).where(correction.c.sequence == bindparam("at")).values(root=bindparam("to")), found
    )
    rooted = sorted({row["to"] for row in found})
    for part in chunks([r for r in rooted if r not in roots]):
        for row in connection.execute(select(entry.c.sequence, *_FACT).where(entry.c.id.in_(part))):
            roots[row[2]] = (row[0], fact_from(row[1:]))
    return corrections_of(connection, rooted)


def correction_roots(connection: Connection, target_of: Mapping[str, str], *, fresh: bool = False) -> dict[str, str]:
    """For each of these corrections the entry at its root, where that is here; ``fresh`` trusts no earlier answer."""
    ends = {entry_id: end for entry_id in target_of if (end := _end_of(entry_id, target_of)) is not None}
    known: dict[str, str] = {}
    for part in chunks(sorted(set(ends.values()))):
        for entry_id, kind, root in connection.execute(
            select(entry.c.id, entry.c.kind, correction.c.root)
            .outerjoin(correction, correction.c.sequence == entry.c.sequence)
            .where(entry.c.id.in_(part))
        ):
            if kind != "correction":
                known[entry_id] = entry_id
            elif root is not None and not fresh:
                known[entry_id] = root
    return {entry_id: known[end] for entry_id, end in ends.items() if end in known}


def _end_of(entry_id: str, target_of: Mapping[str, str]) -> str | None:
    """Follow corrections of corrections to the first that is not waiting; ``None`` where they go in a ring."""
    seen = {entry_id}
    end = target_of[entry_id]
    while end in target_of:
        if end in seen:
            return None
        seen.add(end)
        end = target_of[end]
    return end


def corrections_of(connection: Connection, roots: Sequence[str]) -> dict[str, list[Fact]]:
    """The corrections that hang from these entries, by the id of the entry."""
    found: dict[str, list[Fact]] = {}
    for part in chunks(roots):
        for row in connection.execute(
            select(correction.c.root, *_FACT)
            .join(entry, entry.c.sequence == correction.c.sequence)
            .where(correction.c.root.in_(part))
        ):
            found.setdefault(row[0], []).append(fact_from(row[1:]))
    return found


def subjects_of(fact: Fact, corrections: Sequence[Fact]) -> dict[Subject, None]:
    """The things an entry is about, as written and as corrected."""
    found = dict.fromkeys(subjects(fact.kind, fact.id, fact.content))
    if corrections:
        found.update(dict.fromkeys(subjects(fact.kind, fact.id, resolve(fact, corrections).fact.content)))
    return found


def _note_subjects(
    connection: Connection, roots: Mapping[str, tuple[int, Fact]], corrected: Mapping[str, list[Fact]]
) -> dict[Subject, list[int] | None]:
    """Write ``about``. Gives each touched thing the sequences that are all it has, or None where it has older ones."""
    now: dict[Subject, list[int]] = {}
    rows = []
    for sequence, fact in roots.values():
        for kind, thing_id in subjects_of(fact, corrected.get(fact.id, ())):
            now.setdefault((kind, thing_id), []).append(sequence)
            rows.append({"kind": kind, "thing": thing_id, "sequence": sequence})
    touched: dict[Subject, list[int] | None] = {subject: list(sequences) for subject, sequences in now.items()}
    again = [roots[root][0] for root in corrected]
    for part in chunks(again):
        for kind, thing_id in connection.execute(select(about.c.kind, about.c.thing).where(about.c.sequence.in_(part))):
            touched[(kind, thing_id)] = None
        connection.execute(delete(about).where(about.c.sequence.in_(part)))
    for kind, ids in by_kind(touched).items():
        for part in chunks(ids):
            for thing_id in connection.execute(
                select(about.c.thing).where(about.c.kind == kind, about.c.thing.in_(part)).distinct()
            ).scalars():
                touched[(kind, thing_id)] = None
    if rows:
        connection.execute(insert(about), rows)
    return touched


def by_kind(found: Iterable[Subject]) -> dict[str, list[str]]:
    """Ids by the kind of thing."""
    sorted_out: dict[str, list[str]] = {}
    for kind, thing_id in found:
        sorted_out.setdefault(kind, []).append(thing_id)
    return sorted_out


def resolved_of(
    connection: Connection, kind: str, ids: Sequence[str], any_corrections: bool
) -> dict[str, list[Resolved]]:
    """All entries about these things, corrected, by thing."""
    facts: list[tuple[str, Fact]] = []
    for part in chunks(ids):
        facts.extend(
            (row[0], fact_from(row[1:]))
            for row in connection.execute(
                select(about.c.thing, *_FACT)
                .join(entry, entry.c.sequence == about.c.sequence)
                .where(about.c.kind == kind, about.c.thing.in_(part))
            ).all()
        )
    corrected = corrections_of(connection, [fact.id for _id, fact in facts]) if any_corrections else {}
    found: dict[str, list[Resolved]] = {thing_id: [] for thing_id in ids}
    for thing_id, fact in facts:
        found[thing_id].append(resolve(fact, corrected.get(fact.id, ())))
    return found


def has_corrections(connection: Connection) -> bool:
    """Whether anything was ever corrected here."""
    return connection.execute(select(correction.c.sequence).limit(1)).first() is not None


def derive_things(
    connection: Connection, touched: Mapping[Subject, list[int] | None], fresh: Mapping[int, Fact]
) -> None:
    """Derive these things anew and write their rows."""
    any_corrections = has_corrections(connection)
    for kind, ids in by_kind(touched).items():
        for part in chunks(ids):
            older = [i for i in part if any_corrections or touched[(kind, i)] is None]
            resolved = resolved_of(connection, kind, older, any_corrections) if older else {}
            states = {}
            for thing_id in part:
                given = resolved.get(thing_id)
                if given is None:
                    sequences = touched[(kind, thing_id)]
                    assert sequences is not None
                    given = [Resolved(fresh[s], None, ()) for s in sequences]
                # A correction of a correction can leave a thing with nothing said about it: then it has no row.
                if given:
                    states[thing_id] = derive(kind, thing_id, given)
            _write_things(connection, kind, states, replace=older)
    search.update_documents(connection, list(touched))


def thing_row(kind: str, state: Mapping[str, Any]) -> dict[str, Any]:
    """The row of a thing."""
    label = label_of(kind, state)
    return {
        "kind": kind,
        "id": state["id"],
        "label": label,
        "label_key": number_key(label),
        "entered": "entered" in state,
        "withdrawn": "withdrawn" in state,
        "data": _sorted_json(state),
    }


def link_rows(kind: str, state: Mapping[str, Any]) -> list[dict[str, str]]:
    """The rows that tie a thing to others."""
    pairs: dict[tuple[str, str], None] = {}
    for name, _to, many in LINKS[kind]:
        value = state.get(name)
        if value:
            pairs.update(dict.fromkeys((name, one) for one in (value if many else [value])))
    for name in ("tray", "jar"):
        held = state.get("container", {}).get(name) if kind == "animal" else None
        if held:
            pairs[(name, held)] = None
    return [{"kind": kind, "id": state["id"], "relation": relation, "to_id": to} for relation, to in pairs]


def _write_things(
    connection: Connection, kind: str, states: Mapping[str, Mapping[str, Any]], replace: Sequence[str]
) -> None:
    for part in chunks(list(replace)):
        connection.execute(delete(thing).where(thing.c.kind == kind, thing.c.id.in_(part)))
        connection.execute(delete(link).where(link.c.kind == kind, link.c.id.in_(part)))
    if states:
        connection.execute(insert(thing), [thing_row(kind, state) for state in states.values()])
    links = [row for state in states.values() for row in link_rows(kind, state)]
    if links:
        connection.execute(insert(link), links)


def number_rows(sequence: int, fact: Fact) -> list[dict[str, Any]]:
    """The numbers an entry uses up, as written: also the ones it is corrected away from, for nothing is reused."""
    kind, content = fact.kind, fact.content
    if kind == "correction":
        kind, content = content["of_kind"], content.get("set") or {}
    if kind == "correction":  # of a correction: what it is about in the end is told by the field
        kind, content = "animal", content.get("set") or {}
    if kind == "number_given":
        if not content.get("series") or content.get("number") is None:
            return []
        prefix, serial, use = f"series {content['series']}", content["number"], f"given {content.get('device', '')}"
        return [{"prefix": prefix, "serial": serial, "sequence": sequence, "use": use}]
    if kind not in _NUMBERED:
        return []
    field, use = _NUMBERED[kind]
    number = content.get(field)
    split = split_number(number) if isinstance(number, str) else None
    return [] if split is None else [{"prefix": split[0], "serial": split[1], "sequence": sequence, "use": use}]


def _note_numbers(connection: Connection, new: Sequence[tuple[int, Fact]]) -> None:
    rows = [row for sequence, fact in new for row in number_rows(sequence, fact)]
    if rows:
        connection.execute(insert(used_number), rows)


def make_tables(connection: Connection) -> None:
    """Make the derived tables, empty."""
    derived.create_all(connection)
    search.make_tables(connection)


def rebuild(connection: Connection, size: int = 5000) -> int:
    """Throw the derived tables away and make them again from the entries; how many entries were read."""
    search.drop_tables(connection)
    derived.drop_all(connection)
    make_tables(connection)
    last = 0
    count = 0
    while True:
        rows = connection.execute(
            select(entry.c.sequence, *_FACT).where(entry.c.sequence > last).order_by(entry.c.sequence).limit(size)
        ).all()
        if not rows:
            return count
        update_all(connection, [(row[0], fact_from(row[1:])) for row in rows])
        last = rows[-1][0]
        count += len(rows)


def count_entries(connection: Connection) -> int:
    """How many entries there are."""
    return int(connection.execute(select(func.count()).select_from(entry)).scalar_one())
