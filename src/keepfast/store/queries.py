"""Looking things up in the derived tables, within one transaction."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import Connection, func, select

from keepfast.book.entries import milliseconds
from keepfast.book.kinds import THINGS
from keepfast.book.number_blocks import number_key, series_prefix
from keepfast.book.state import Fact, Resolved, load_state
from keepfast.store.chains import heads_of
from keepfast.store.derived import _FACT, CHUNK, count_entries, fact_from, has_corrections, resolved_of
from keepfast.store.proof import head_of
from keepfast.store.search import Found, States, find
from keepfast.store.tables import entry, link, meta, thing, used_number


class Reads:
    """Questions to one snapshot of a book."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def state(self, kind: str, thing_id: str) -> dict[str, Any] | None:
        """The state of a thing, ``None`` where nothing was ever said of it."""
        data = self._connection.execute(
            select(thing.c.data).where(thing.c.kind == kind, thing.c.id == thing_id)
        ).scalar()
        return None if data is None else load_state(data)

    def states(self, kind: str, ids: Sequence[str]) -> dict[str, dict[str, Any]]:
        """The states of several things, by id; unknown ones are left out."""
        found: dict[str, dict[str, Any]] = {}
        for start in range(0, len(ids), CHUNK):
            part = ids[start : start + CHUNK]
            for thing_id, data in self._connection.execute(
                select(thing.c.id, thing.c.data).where(thing.c.kind == kind, thing.c.id.in_(part))
            ):
                found[thing_id] = load_state(data)
        return found

    def states_held(self) -> States:
        """States as they are asked for, each read once: for a walk that meets the same places again and again."""
        return States(self._connection)

    def all(self, kind: str, *, withdrawn: bool = False, size: int = 2000) -> Iterator[dict[str, Any]]:
        """The state of every thing of a kind that was entered, by id; withdrawn ones only when asked for."""
        last = ""
        wanted = [thing.c.kind == kind, thing.c.entered]
        if not withdrawn:
            wanted.append(~thing.c.withdrawn)
        while True:
            rows = self._connection.execute(
                select(thing.c.id, thing.c.data).where(*wanted, thing.c.id > last).order_by(thing.c.id).limit(size)
            ).all()
            for _id, data in rows:
                yield load_state(data)
            if len(rows) < size:
                return
            last = rows[-1][0]

    def count(self, kind: str) -> int:
        """How many things of a kind there are, withdrawn ones left out."""
        return int(
            self._connection.execute(
                select(func.count()).select_from(thing).where(thing.c.kind == kind, thing.c.entered, ~thing.c.withdrawn)
            ).scalar_one()
        )

    def counts(self) -> dict[str, int]:
        """How many things of each kind there are, withdrawn ones left out."""
        rows = self._connection.execute(
            select(thing.c.kind, func.count()).where(thing.c.entered, ~thing.c.withdrawn).group_by(thing.c.kind)
        )
        found = {kind: int(number) for kind, number in rows}
        return {kind: found[kind] for kind in THINGS if kind in found}

    def by_label(self, kind: str, label: str) -> tuple[dict[str, Any], ...]:
        """Things people call so, compared without case, separators and leading zeros; the same spelling first."""
        rows = self._connection.execute(
            select(thing.c.label, thing.c.data)
            .where(thing.c.label_key == number_key(label), thing.c.kind == kind, thing.c.entered, ~thing.c.withdrawn)
            .order_by(thing.c.id)
        ).all()
        return tuple(load_state(row.data) for row in sorted(rows, key=lambda row: row.label != label))

    def linked(self, kind: str, relation: str, to_id: str) -> tuple[str, ...]:
        """Ids of things of a kind that name this one."""
        return tuple(
            self._connection.execute(
                select(link.c.id)
                .where(link.c.to_id == to_id, link.c.relation == relation, link.c.kind == kind)
                .order_by(link.c.id)
            ).scalars()
        )

    def history(self, kind: str, thing_id: str) -> tuple[Resolved, ...]:
        """All entries about a thing in their order, each with its corrections."""
        found = resolved_of(self._connection, kind, [thing_id], has_corrections(self._connection))
        return tuple(sorted(found[thing_id], key=lambda one: (one.fact.order_ms, one.fact.id)))

    def fact(self, entry_id: str) -> Fact | None:
        """One entry as it was written."""
        row = self._connection.execute(select(*_FACT).where(entry.c.id == entry_id)).first()
        return None if row is None else fact_from(row)

    def find(self, text: str, limit: int = 50, kinds: Sequence[str] = ()) -> Found:
        """Search; see ``store.search.find``."""
        return find(self._connection, text, limit, kinds)

    def about_book(self) -> dict[str, str]:
        """What the book says of itself."""
        return {row.name: row.value for row in self._connection.execute(select(meta.c.name, meta.c.value))}

    def count_entries(self) -> int:
        """How many entries there are."""
        return count_entries(self._connection)

    def facts_of(self, kind: str) -> Iterator[Fact]:
        """All entries of a kind as they were written, in the order in which this book got them."""
        for rows in self._connection.execute(
            select(*_FACT).where(entry.c.kind == kind).order_by(entry.c.sequence)
        ).partitions(2000):
            yield from (fact_from(row) for row in rows)

    def last_entry(self) -> Fact | None:
        """The entry that came last."""
        row = self._connection.execute(select(*_FACT).order_by(entry.c.sequence.desc()).limit(1)).first()
        return None if row is None else fact_from(row)

    def carried(self, series: dict[str, Any]) -> tuple[int, ...]:
        """Numbers of a series that something carries or carried, withdrawn or not."""
        return tuple(
            self._connection.execute(
                select(used_number.c.serial)
                .where(
                    used_number.c.prefix == series_prefix(series), used_number.c.use == (series.get("use") or "animal")
                )
                .distinct()
                .order_by(used_number.c.serial)
            ).scalars()
        )

    def clock_jumps(self) -> dict[str, float]:
        """For each device, by how many minutes at most the clock of an entry stands behind its place in the order."""
        worst: dict[str, float] = {}
        for device, order_ms, at in self._connection.execute(select(entry.c.device, entry.c.order_ms, entry.c.at)):
            try:
                behind = order_ms - milliseconds(datetime.datetime.fromisoformat(at))
            except (ValueError, TypeError):
                continue  # an altered one; proving the book tells of it
            if behind > 60_000:
                worst[device] = max(worst.get(device, 0.0), behind / 60_000)
        return worst

    def head(self) -> str:
        """One hash over the last links of all chains: it changes with every entry, and tells copies apart."""
        return head_of(heads_of(self._connection))

    def used(self, series: dict[str, Any], first: int, last: int) -> tuple[int, ...]:
        """Numbers of a series within limits that were ever written or given out."""
        prefixes = [series_prefix(series), f"series {series['id']}"]
        return tuple(
            self._connection.execute(
                select(used_number.c.serial)
                .where(used_number.c.prefix.in_(prefixes), used_number.c.serial.between(first, last))
                .distinct()
                .order_by(used_number.c.serial)
            ).scalars()
        )

    def highest_used(self, series: dict[str, Any], first: int, last: int) -> int | None:
        """The highest of them; ``None`` where none was used."""
        prefixes = [series_prefix(series), f"series {series['id']}"]
        found = self._connection.execute(
            select(func.max(used_number.c.serial)).where(
                used_number.c.prefix.in_(prefixes), used_number.c.serial.between(first, last)
            )
        ).scalar()
        return None if found is None else int(found)

    def given(self, series_id: str) -> tuple[dict[str, Any], ...]:
        """Numbers given out, with the device."""
        rows = self._connection.execute(
            select(used_number.c.serial, used_number.c.use)
            .where(used_number.c.prefix == f"series {series_id}")
            .order_by(used_number.c.serial)
        )
        return tuple({"number": int(serial), "device": use.removeprefix("given ")} for serial, use in rows)
