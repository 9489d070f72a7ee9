"""What reading files in would write: entries not yet written, and what a person should see of them beforehand."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from keepfast.book.entries import Entry, now
from keepfast.book.number_blocks import number_key
from keepfast.desk.books import Book
from keepfast.findings import Finding
from keepfast.store.queries import Reads

# Above this a book's animals are looked up one by one instead of being held at once.
HELD_AT_ONCE = 20_000


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that would be new or changed: where it stood, what people call it, and for a change what and how."""

    file: str
    row: int | None
    kind: str
    subject: str
    field: str = ""
    was: Any = None
    now: Any = None

    def as_dict(self) -> dict[str, Any]:
        """For JSON: only what is known."""
        said = {"file": self.file, "row": self.row, "kind": self.kind, "subject": self.subject, "field": self.field}
        kept = {key: value for key, value in said.items() if value not in (None, "")}
        if self.field:
            kept |= {"was": self.was, "now": self.now}
        return kept


@dataclass
class Draft:
    """Entries in the making. All carry one moment and one place in the order: they are one act."""

    book: Book
    who: str
    at: datetime.datetime = field(default_factory=now)
    order_ms: int = 0
    sequence: int = 0  # how far the book had come when it was looked at
    entries: list[Entry] = field(default_factory=list)
    new: list[Line] = field(default_factory=list)
    changed: list[Line] = field(default_factory=list)
    same: int = 0
    findings: list[Finding] = field(default_factory=list)
    files: list[dict[str, Any]] = field(default_factory=list)

    def __post_init__(self) -> None:
        # An entry made now stands after all that the book knows; this one is made for its place only.
        self.order_ms = self.book.entry("trip", {"name": "order"}).order_ms
        self.sequence = self.book.last_sequence()

    def add(self, kind: str, content: Mapping[str, Any]) -> str:
        """Make an entry; its id."""
        made = Entry(kind, dict(content), self.who, self.book.device, self.at, order_ms=self.order_ms)
        self.entries.append(made)
        return made.id

    @property
    def refused(self) -> tuple[Finding, ...]:
        """What keeps the whole from being written."""
        return tuple(finding for finding in self.findings if finding.weight == "error")

    def counts(self) -> dict[str, int]:
        """How many new things there would be, by kind."""
        found: dict[str, int] = {}
        for line in self.new:
            found[line.kind] = found.get(line.kind, 0) + 1
        return found


class Known:
    """What the book holds already, found by what people call it. Made within one reading of the book."""

    def __init__(self, reads: Reads, rows: int) -> None:
        self._reads = reads
        self._by_label: dict[str, dict[str, list[dict[str, Any]]]] = {}
        self._drafted: dict[str, dict[str, dict[str, Any]]] = {}
        self._drafted_by_label: dict[tuple[str, str], list[dict[str, Any]]] = {}
        self._rows = rows

    def _held(self, kind: str) -> dict[str, list[dict[str, Any]]] | None:
        """All things of a kind by label; None where there are too many to hold for so few rows."""
        held = self._by_label.get(kind)
        if held is None:
            if self._reads.count(kind) > max(HELD_AT_ONCE, 4 * self._rows):
                return None
            held = {}
            for state in self._reads.all(kind):
                held.setdefault(number_key(_label(kind, state)), []).append(state)
            self._by_label[kind] = held
        return held

    def called(self, kind: str, label: str) -> list[dict[str, Any]]:
        """The things of a kind that people call so, those spelt alike first."""
        key = number_key(label)
        held = self._held(kind)
        found = list(self._reads.by_label(kind, label)) if held is None else list(held.get(key, ()))
        found += self._drafted_by_label.get((kind, key), ())
        return sorted(found, key=lambda state: _label(kind, state) != label) if len(found) > 1 else found

    def all(self, kind: str) -> Iterator[dict[str, Any]]:
        """Every thing of a kind, those of the draft last."""
        yield from self._reads.all(kind)
        yield from list(self._drafted.get(kind, {}).values())

    def state(self, kind: str, thing_id: str) -> dict[str, Any] | None:
        """The state of one thing."""
        drafted = self._drafted.get(kind, {}).get(thing_id)
        return drafted if drafted is not None else self._reads.state(kind, thing_id)

    def also(self, kind: str, thing_id: str, content: Mapping[str, Any]) -> None:
        """Count a thing of the draft among the known, so that what is read after it can name it."""
        state = {"id": thing_id, **content}
        self._drafted.setdefault(kind, {})[thing_id] = state
        self._drafted_by_label.setdefault((kind, number_key(_label(kind, state))), []).append(state)

    def drafted(self, kind: str, thing_id: str) -> bool:
        """Whether a thing is of the draft and not yet of the book."""
        return thing_id in self._drafted.get(kind, {})


def _label(kind: str, state: Mapping[str, Any]) -> str:
    from keepfast.book.state import label_of

    return label_of(kind, state)
