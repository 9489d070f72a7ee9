"""What goes over the wire, with its limits; the description of the interface is made from these."""

from __future__ import annotations

import datetime
from typing import Annotated

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, StringConstraints

from keepfast.desk.table_entries import Said

UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"
Id = Annotated[str, StringConstraints(pattern=UUID)]
Short = Annotated[str, StringConstraints(max_length=200)]
Long = Annotated[str, StringConstraints(max_length=2000)]
TEN_YEARS_MS = 315_576_000_000


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=False)


class SaidIn(_Shape):
    """One thing said at the table, as the device wrote it."""

    id: Id
    at: AwareDatetime
    order_ms: int = Field(ge=0, lt=2**53)
    clock_ms: int = Field(default=0, ge=-TEN_YEARS_MS, le=TEN_YEARS_MS)
    device: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    who: Annotated[str, StringConstraints(min_length=1, max_length=120)]
    under: Short = ""
    subject: Annotated[str, StringConstraints(max_length=60)]
    field: Annotated[str, StringConstraints(max_length=200)]
    value: bool | float | Long | None = None
    text: Long = ""
    as_planned: bool = False
    seen: Id | None = None
    also_seen: Id | None = None
    corrects: Id | None = None
    root: Id | None = None
    asked: Short | None = None
    asked_words: Long | None = None
    answers: Id | None = None
    how: Short = ""
    number: Annotated[str, StringConstraints(max_length=60)] = ""
    check: Annotated[str, StringConstraints(max_length=1)] | None = None
    tray: Id | None = None
    batch: Id | None = None
    mixed_at: Annotated[str, StringConstraints(max_length=40)] = ""
    evening: Id | None = None

    def said(self) -> Said:
        """The same for the desk."""
        parts = self.model_dump(exclude={"root"})
        parts["at"] = datetime.datetime.fromisoformat(self.at.isoformat())
        if isinstance(parts["value"], float) and parts["value"] == 0:
            parts["value"] = 0.0
        return Said(**parts)


class EntriesIn(_Shape):
    """Entries from a device's outbox."""

    entries: Annotated[list[SaidIn], Field(max_length=200)]


class FileIn(_Shape):
    """Entries that a device saved to a file because it could not send them."""

    keepfast: Annotated[str, StringConstraints(max_length=60)]
    entries: Annotated[list[SaidIn], Field(max_length=20_000)]


class Refused(BaseModel):
    """An entry that was not taken, and why."""

    id: str
    words: str


class EntriesOut(BaseModel):
    """Which entries are on the laptop's disk now."""

    stored: list[str]
    refused: list[Refused]
    now_ms: int


class FileOut(EntriesOut):
    """The same, with a sentence for the person."""

    words: str


class NumbersIn(_Shape):
    """A device asks for numbers to be set aside."""

    device: Annotated[str, StringConstraints(min_length=1, max_length=80)]
    count: int = Field(default=5, ge=1, le=20)


class Number(BaseModel):
    """A number that this device alone may give out."""

    number: str
    check: str


class NumbersOut(BaseModel):
    """The numbers set aside; none where the book has no series."""

    numbers: list[Number]


class SymbolOut(BaseModel):
    """What the symbols in a photograph say."""

    texts: list[str]


class StickIn(_Shape):
    """Which stick the book is to be copied to."""

    stick: Short


class Words(BaseModel):
    """A sentence for the person."""

    words: str


class Problem(BaseModel):
    """Why something was not done."""

    problem: str
    words: str
