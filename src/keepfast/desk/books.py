"""Making, opening, writing and reading a book."""

from __future__ import annotations

import dataclasses
import datetime
import getpass
import os
import platform
import re
import threading
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from keepfast.book.animals import Animal
from keepfast.book.entries import Acknowledged, Entry, Written, milliseconds, now
from keepfast.book.number_blocks import blocks_of, gaps, next_block, next_in_blocks, overlaps, written
from keepfast.book.state import Resolved, animal_of
from keepfast.findings import Finding, FindingsError
from keepfast.store.engine import create
from keepfast.store.keeping import rebuild_with_backup
from keepfast.store.ledger import Ledger
from keepfast.store.proof import Proof
from keepfast.store.queries import Reads
from keepfast.store.search import Found
from keepfast.words import _


def this_person() -> str:
    """Who writes, where nobody said: KEEPFAST_WHO, else the name this machine knows the user by."""
    try:
        return os.environ.get("KEEPFAST_WHO") or getpass.getuser()
    except (OSError, KeyError):
        return "somebody"


def this_device() -> str:
    """Which device this is, where nobody said: KEEPFAST_DEVICE, else the machine's own name."""
    return os.environ.get("KEEPFAST_DEVICE") or platform.node() or "this machine"


def new_book(path: str | Path, name: str = "") -> None:
    """Make an empty book that only its user may read.

    Raises
    ------
    FindingsError
        If something lies there already, or the place is a network drive or cannot be written.
    """
    create(Path(path), name)


def open_book(path: str | Path, *, who: str = "", device: str = "", read_only: bool = False) -> Book:
    """Open a book; use it as a context manager, or close it.

    Parameters
    ----------
    path : path
        Its file.
    who, device : str
        What entries written here say, where they do not say it themselves.
    read_only : bool
        Promise not to write. A book on a medium that cannot be written is opened so anyway.

    Raises
    ------
    FindingsError
        If it is no book, is damaged, lies on a network drive, or was written by a newer program.
    """
    return Book(Ledger.open(Path(path), read_only=read_only), who or this_person(), device or this_device())


class Book:
    """An open book. Safe to share among threads."""

    def __init__(self, ledger: Ledger, who: str, device: str) -> None:
        self._ledger = ledger
        self.who = who
        self.device = device
        self._guard = threading.Lock()
        self._order = 0  # the last place in the order that was given here
        self._asked = float("-inf")  # when the book was last asked for its own

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._ledger.close()

    @property
    def ledger(self) -> Ledger:
        """The store underneath, for the functions of this room."""
        return self._ledger

    @property
    def path(self) -> Path:
        """Its file."""
        return self._ledger.opened.path

    @property
    def id(self) -> str:
        """The book's id, the same in all its copies."""
        return self._ledger.opened.book

    @property
    def read_only(self) -> bool:
        """Whether nothing can be written here."""
        return self._ledger.opened.read_only

    # Writing

    def entry(
        self,
        kind: str,
        content: Mapping[str, Any],
        *,
        who: str = "",
        at: datetime.datetime | None = None,
        id: str = "",
    ) -> Entry:
        """An entry made here and now, not yet written; it stands after all that this book knows.

        ``order_ms`` follows the clock, or the last entry where the clock has jumped back.
        """
        moment = at or now()
        clock = milliseconds(moment)
        order = self._next_order(clock) if at is None else clock
        made = {"id": id} if id else {}
        return Entry(kind, content, who or self.who, self.device, moment, order_ms=order, **made)

    def _next_order(self, clock: int) -> int:
        """A place behind all that this book knows, and behind every entry made here but not yet written."""
        with self._guard:
            # Another process is heard of within a second; asking for each of a hundred thousand rows takes minutes.
            if time.monotonic() - self._asked > 1.0:
                self._order = max(self._order, self._ledger.latest_order(clock, self.device))
                self._asked = time.monotonic()
            self._order = max(clock, self._order + 1)
            return self._order

    def append(self, entries: Iterable[Entry]) -> tuple[Acknowledged, ...]:
        """Write entries, all or none; on return they are on the disk. One the book has is only acknowledged again.

        Raises
        ------
        FindingsError
            If any is not valid, has the id of another entry, or the book cannot be written; the book is as it was.
        """
        return self._ledger.append(entries)

    def write(
        self, kind: str, content: Mapping[str, Any], *, who: str = "", at: datetime.datetime | None = None
    ) -> Acknowledged:
        """Make and write one entry. Raises as ``append`` does."""
        return self.append([self.entry(kind, content, who=who, at=at)])[0]

    def correct(
        self,
        entry_id: str,
        values: Mapping[str, Any] | None = None,
        *,
        reason: str,
        withdraw: bool = False,
        who: str = "",
    ) -> Acknowledged:
        """Write other values for an entry, or withdraw it. The entry itself stays.

        Raises
        ------
        FindingsError
            If there is no such entry, or a value does not fit.
        """
        with self.reading() as reads:
            fact = reads.fact(entry_id)
        if fact is None:
            raise FindingsError(
                [
                    Finding(
                        _("there is no such entry"), _("Look it up with: keepfast find"), field="entry", read=entry_id
                    )
                ]
            )
        content: dict[str, Any] = {"entry": entry_id, "of_kind": fact.kind, "reason": reason}
        if values:
            content["set"] = dict(values)
        if withdraw:
            content["withdraw"] = True
        return self.write("correction", content, who=who)

    def rebuild(self) -> tuple[Path, Proof]:
        """Make what is derived from the entries anew, after a backup; the backup's path, and the proof of the result.

        Raises
        ------
        FindingsError
            If the book cannot be written, or its entries are not whole.
        """
        if self.read_only:
            raise FindingsError(
                [Finding(_("the book is open for reading only"), _("Copy it to this machine's own drive first."))]
            )
        if broken := self._ledger.broken_links():
            remedy = _("Nothing was made anew from it. Take the last backup with: keepfast book restore")
            raise FindingsError([Finding(what, remedy, file=str(self.path)) for what in broken[:20]])
        kept = rebuild_with_backup(self._ledger.opened.engine, self.path)
        return kept, self._ledger.prove()

    # Reading

    def reading(self) -> AbstractContextManager[Reads]:
        """A context that gives ``store.queries.Reads`` as of one moment."""
        return self._ledger.reading()

    def read_since(self, sequence: int, limit: int = 1000) -> tuple[Written, ...]:
        """Entries after this place, in the order in which this book got them."""
        return self._ledger.read_since(sequence, limit)

    def last_sequence(self) -> int:
        """The highest sequence number; 0 in an empty book."""
        return self._ledger.last_sequence()

    def listen(self, listener: Callable[[tuple[Written, ...]], None]) -> Callable[[], None]:
        """Be told after commit what this process wrote; call the result to stop."""
        return self._ledger.listen(listener)

    def state(self, kind: str, thing_id: str) -> dict[str, Any] | None:
        """The state of one thing (``book.state.derive``); ``None`` where nothing was ever said of it."""
        with self.reading() as reads:
            return reads.state(kind, thing_id)

    def find(self, text: str, limit: int = 50, kinds: Sequence[str] = ()) -> Found:
        """Search by number, name, place, day, person, jar or text, slips forgiven; see ``book.searching``."""
        with self.reading() as reads:
            return reads.find(text, limit, kinds)

    def things(self, kind: str) -> tuple[dict[str, Any], ...]:
        """The states of all things of a kind, withdrawn ones left out, in the order in which they were made."""
        with self.reading() as reads:
            return tuple(reads.all(kind))

    def by_label(self, kind: str, label: str) -> tuple[dict[str, Any], ...]:
        """The states of things people call so, compared without case, separators and leading zeros."""
        with self.reading() as reads:
            return reads.by_label(kind, label)

    def history(self, kind: str, thing_id: str) -> tuple[Resolved, ...]:
        """All entries about a thing, each with its corrections."""
        with self.reading() as reads:
            return reads.history(kind, thing_id)

    def animal_states(
        self, *, trip: str = "", event: str = "", evening: str = "", tray: str = "", jar: str = ""
    ) -> tuple[dict[str, Any], ...]:
        """The states of animals, all or those of one trip, event, evening, tray or jar (ids), by field number."""
        with self.reading() as reads:
            ids = _animal_ids(reads, trip, event, evening, tray, jar)
            if ids is None:
                states = list(reads.all("animal"))
            else:
                found = reads.states("animal", ids)
                states = [found[i] for i in ids if i in found and "entered" in found[i] and "withdrawn" not in found[i]]
        return tuple(sorted(states, key=lambda state: (natural_key(state.get("field_number") or ""), state["id"])))

    def animals(
        self, *, trip: str = "", event: str = "", evening: str = "", tray: str = "", jar: str = ""
    ) -> tuple[Animal, ...]:
        """The animals as observed; narrowed as ``animal_states`` is."""
        return tuple(
            animal_of(state)
            for state in self.animal_states(trip=trip, event=event, evening=evening, tray=tray, jar=jar)
        )

    # Numbers

    def reserve(self, series_id: str, count: int, *, device: str = "", who: str = "") -> tuple[str, str]:
        """Set aside numbers of a series for a device; the first and last as written.

        Raises
        ------
        FindingsError
            If there is no such series or it has not so many left.
        """
        for_device = device or self.device
        span: list[str] = []

        def make(reads: Reads) -> Sequence[Entry]:
            series = _series(reads, series_id)
            end = series.get("last")
            high = reads.highest_used(series, 0, end if end is not None else 10**15)
            block = next_block(series, high, count)
            if block is None:
                raise FindingsError(
                    [Finding(_("the series has not so many numbers left"), _("Ask for fewer, or lengthen it."))]
                )
            span.extend(written(series, n) for n in block)
            content = {"series": series_id, "device": for_device, "first": block[0], "last": block[1]}
            return [self.entry("number_block", content, who=who)]

        self._ledger.append_made(make)
        return span[0], span[1]

    def give_number(self, series_id: str, *, device: str = "", to: str = "", who: str = "") -> str:
        """The next number of this device's block, as written; it is given to nobody else, whatever becomes of it.

        Raises
        ------
        FindingsError
            If there is no such series, or the device has no number of it left.
        """
        for_device = device or self.device
        given: list[str] = []

        def make(reads: Reads) -> Sequence[Entry]:
            number, series = _next_number(reads, series_id, for_device)
            given.append(written(series, number))
            content = {"series": series_id, "number": number, "device": for_device} | ({"to": to} if to else {})
            return [self.entry("number_given", content, who=who)]

        self._ledger.append_made(make)
        return given[0]

    def next_number(self, series_id: str, *, device: str = "") -> str:
        """The number ``give_number`` would give now, without giving it. Raises as that does."""
        with self.reading() as reads:
            number, series = _next_number(reads, series_id, device or self.device)
            return written(series, number)


def about(book: Book) -> dict[str, Any]:
    """What a book holds, as plain JSON: its name, how many entries and things, the last entry, one hash over all."""
    with book.reading() as reads:
        told = reads.about_book()
        count = reads.count_entries()
        last = reads.last_entry()
        return {
            "book": book.path.name,
            "id": book.id,
            "name": told["name"],
            "made": told["made"],
            "made_by": told["made by"],
            "entries": count,
            "things": reads.counts(),
            "last_by": last.who if last else "",
            "last_at": last.at if last else "",
            "read_only_here": not os.access(book.path, os.W_OK),
            "bytes": book.path.stat().st_size,
            "head": reads.head(),
        }


def account_of_series(book: Book, series_id: str) -> dict[str, Any]:
    """A series of numbers accounted for, as plain JSON: blocks, how many were used, every gap with its reason.

    Raises
    ------
    FindingsError
        If there is no such series.
    """
    with book.reading() as reads:
        series = _series(reads, series_id)
        given = reads.given(series_id)
        carried = reads.carried(series)
    return {
        "id": series_id,
        "name": series.get("name") or "",
        "used": len(carried),
        "given": len(given),
        "blocks": [
            {"device": b.device, "first": written(series, b.first), "last": written(series, b.last)}
            for b in blocks_of(series)
        ],
        "overlaps": [
            [dataclasses.asdict(one), dataclasses.asdict(other)] for one, other in overlaps(series)
        ],
        "gaps": [
            {"first": written(series, gap.first), "last": written(series, gap.last), "reason": gap.reason}
            for gap in gaps(series, carried, given)
        ],
    }  # fmt: skip


def _series(reads: Reads, series_id: str) -> dict[str, Any]:
    series = reads.state("series", series_id)
    if series is None or "entered" not in series or "withdrawn" in series:
        raise FindingsError([Finding(_("there is no such series of numbers"), field="series", read=series_id)])
    return series


def _next_number(reads: Reads, series_id: str, device: str) -> tuple[int, dict[str, Any]]:
    series = _series(reads, series_id)
    used: list[int] = []
    for block in series.get("blocks") or ():
        if block["device"] == device:
            high = reads.highest_used(series, block["first"], block["last"])
            used.extend([] if high is None else [high])
    number = next_in_blocks(series, device, used)
    if number is None:
        raise FindingsError(
            [
                Finding(
                    _("this device has no number of that series left"),
                    _("Set some aside for it with: keepfast book reserve"),
                    field="device",
                    read=device,
                )
            ]
        )
    return number, series


def _animal_ids(reads: Reads, trip: str, event: str, evening: str, tray: str, jar: str) -> list[str] | None:
    """The animals that all the given conditions leave; ``None`` where there is no condition."""
    sets: list[set[str]] = []
    if trip:
        of_trip: set[str] = set()
        for one in reads.linked("event", "trip", trip):
            of_trip.update(reads.linked("animal", "event", one))
        sets.append(of_trip)
    if event:
        sets.append(set(reads.linked("animal", "event", event)))
    if evening:
        state = reads.state("evening", evening)
        sets.append(set((state or {}).get("animals") or ()))
    if tray:
        sets.append(set(reads.linked("animal", "tray", tray)))
    if jar:
        sets.append(set(reads.linked("animal", "jar", jar)))
    return sorted(set.intersection(*sets)) if sets else None


def natural_key(label: str) -> tuple[tuple[int, int, str], ...]:
    """A key under which AB 9 comes before AB 10."""
    return tuple(
        (1, int(part), "") if part.isdigit() and part.isascii() else (0, 0, part.casefold())
        for part in re.findall(r"\d+|\D+", label)
    )
