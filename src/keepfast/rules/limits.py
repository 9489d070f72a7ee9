"""Limits of vapours in air, dated and by jurisdiction; each row as it was published.

``limits/air.toml`` ships. A value in ppm stays in ppm and one in mg/m3 in mg/m3: what one is in the other depends on
the temperature and pressure of the place, and is asked of ``science``. Start with `load` and `Limits.of`.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.terms import KNOWN

UNITS = ("ppm", "mg/m3")
SHORT_TERM_MIN = 15.0
WORKING_DAY_MIN = 480.0

_TEXTS = ("substance", "body", "unit", "source", "known")
_DUTY_KEYS = ("substance", "body", "trigger", "value", "unit", "words", "source", "known", "minutes")
TRIGGERS = ("solution", "air", "peak")
_KEYS = (*_TEXTS, "binding", "minutes", "value", "also", "note", "sector", "in_force_from", "in_force_to")


@dataclass(frozen=True)
class Limit:
    """One row: whose, for what, over how many minutes, how much."""

    substance: str
    body: str
    body_name: str
    binding: bool
    minutes: float
    value: float
    unit: str
    source: str
    known: str
    also: str = ""  # the same limit in the other unit, where the source prints both
    note: str = ""
    sector: str = ""  # when it is for one trade only
    in_force_from: datetime.date | None = None
    in_force_to: datetime.date | None = None

    def holds_on(self, day: datetime.date) -> bool:
        """Whether it is in force on this day, as far as its dates are known."""
        return (self.in_force_from is None or self.in_force_from <= day) and (
            self.in_force_to is None or day <= self.in_force_to
        )

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "substance": self.substance,
            "body": self.body,
            "body_name": self.body_name,
            "binding": self.binding,
            "minutes": self.minutes,
            "value": self.value,
            "unit": self.unit,
            "also": self.also,
            "note": self.note,
            "sector": self.sector,
            "in_force_from": self.in_force_from.isoformat() if self.in_force_from else None,
            "in_force_to": self.in_force_to.isoformat() if self.in_force_to else None,
            "source": self.source,
            "known": self.known,
        }


@dataclass(frozen=True)
class Duty:
    """What a body asks for, or says of the air, from some figure on."""

    substance: str
    body: str
    body_name: str
    trigger: str  # solution: % in the fluid; air: an average over ``minutes``; peak: at any moment
    value: float
    unit: str
    words: str
    source: str
    known: str
    minutes: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {name: getattr(self, name) for name in ("substance", "body", "body_name", *_DUTY_KEYS[2:])}


@dataclass(frozen=True)
class Limits:
    """One file of limits, in its order."""

    file: sources.RulesFile
    limits: tuple[Limit, ...]
    bodies: dict[str, str]
    duties: tuple[Duty, ...] = ()

    def of(
        self,
        substance: str,
        minutes: float | None = None,
        *,
        body: str | None = None,
        on: datetime.date | None = None,
        sector: str = "",
    ) -> tuple[Limit, ...]:
        """The rows for this substance that hold on this day (today unless told otherwise).

        Rows for one trade only come when that trade is named.
        """
        day = on or datetime.date.today()
        return tuple(
            row
            for row in self.limits
            if row.substance == substance
            and (minutes is None or row.minutes == minutes)
            and (body is None or row.body == body)
            and row.holds_on(day)
            and row.sector in ("", sector)
        )

    def bodies_of(self, substance: str, on: datetime.date | None = None) -> tuple[str, ...]:
        """Whose limits for this substance are held, in the file's order."""
        return tuple(dict.fromkeys(row.body for row in self.of(substance, on=on)))


def load(name_or_path: str | Path = "air") -> Limits:
    """Read a file of limits: the one that ships, by name, or one of one's own, by path.

    Raises
    ------
    FindingsError
        If it cannot be read or a row in it is wrong; all findings at once.
    """
    file = sources.read("limits", name_or_path)
    label = str(name_or_path)
    found = sources.unknown_keys(label, "", file.data, ("title", "date", "subject", "bodies", "limits", "duties"))
    bodies = file.data.get("bodies", {})
    if not isinstance(bodies, dict) or not all(isinstance(name, str) for name in bodies.values()):
        found.append(Finding("bodies must give each key its name", 'For example: eu = "European Union"', file=label))
        bodies = {}
    raw_rows = file.data.get("limits", [])
    if not isinstance(raw_rows, list) or not raw_rows or not all(isinstance(raw, dict) for raw in raw_rows):
        found.append(Finding("the file holds no limit", "Add one: [[limits]].", file=label, field="limits"))
        raw_rows = []
    rows = [_limit(label, number, raw, bodies, found) for number, raw in enumerate(raw_rows, 1)]
    raw_duties = file.data.get("duties", [])
    if not isinstance(raw_duties, list) or not all(isinstance(raw, dict) for raw in raw_duties):
        found.append(Finding("duties must be a list of tables", "Begin each with [[duties]].", file=label))
        raw_duties = []
    duties = [_duty(label, number, raw, bodies, found) for number, raw in enumerate(raw_duties, 1)]
    if found:
        raise FindingsError(found)
    return Limits(file, tuple(rows), bodies, tuple(duties))


def _duty(label: str, number: int, raw: dict[str, Any], bodies: dict[str, str], found: list[Finding]) -> Duty:
    where = f"duties {number}"
    found += sources.unknown_keys(label, where, raw, _DUTY_KEYS)
    texts = tuple(name for name in _DUTY_KEYS if name not in ("value", "minutes"))
    for name in texts:
        if not isinstance(raw.get(name), str) or not raw[name].strip():
            found.append(Finding(f"{name} is missing or is not text", file=label, field=where))
    for name, words in (("body", tuple(bodies)), ("trigger", TRIGGERS), ("known", KNOWN)):
        if raw.get(name) not in words:
            found.append(
                Finding(
                    "this word means nothing here", f"Known: {', '.join(words)}.", file=label, field=f"{where}.{name}"
                )
            )
    needed = ("value", "minutes") if raw.get("trigger") == "air" else ("value",)
    for name in needed:
        given = raw.get(name)
        if isinstance(given, bool) or not isinstance(given, int | float) or not given > 0:
            found.append(Finding(f"{name} must be a number above 0", file=label, field=where))
    return Duty(
        **{
            name: str(raw.get(name, ""))
            for name in ("substance", "body", "trigger", "unit", "words", "source", "known")
        },
        body_name=str(bodies.get(str(raw.get("body")), "")),
        value=_number(raw.get("value")),
        minutes=_number(raw["minutes"]) if "minutes" in raw else None,
    )


def _limit(label: str, number: int, raw: dict[str, Any], bodies: dict[str, str], found: list[Finding]) -> Limit:
    where = f"limits {number}"

    def slip(name: str, what: str, remedy: str = "") -> None:
        read = raw.get(name)
        found.append(
            Finding(what, remedy, file=label, field=f"{where}.{name}", read=None if read is None else str(read))
        )

    found += sources.unknown_keys(label, where, raw, _KEYS)
    for name in _TEXTS:
        if not isinstance(raw.get(name), str) or not raw[name].strip():
            slip(name, f"{name} is missing or is not text", f'Add a line: {name} = "..."')
    if raw.get("unit") not in UNITS:
        slip("unit", "the unit must be one of the two that limits are published in", f"Use {' or '.join(UNITS)}.")
    if raw.get("known") not in KNOWN:
        slip("known", "how it is known is not one of the agreed words", f"Use one of: {'; '.join(KNOWN)}.")
    if raw.get("body") not in bodies:
        slip("body", "this body has no name in [bodies]", 'Add a line there: key = "Name"')
    if not isinstance(raw.get("binding"), bool):
        slip("binding", "binding must say true (law there) or false (advice)")
    for name in ("minutes", "value"):
        number_read = raw.get(name)
        if isinstance(number_read, bool) or not isinstance(number_read, int | float) or not number_read > 0:
            slip(name, f"{name} must be a number above 0")
    for name in ("in_force_from", "in_force_to"):
        if name in raw and type(raw[name]) is not datetime.date:
            slip(name, f"{name} must be a date", f"Write it like: {name} = 2024-07-11")
    dates = [raw.get(n) if type(raw.get(n)) is datetime.date else None for n in ("in_force_from", "in_force_to")]
    if dates[0] and dates[1] and dates[1] < dates[0]:
        slip("in_force_to", "a limit cannot end before it begins")
    return Limit(
        substance=str(raw.get("substance", "")),
        body=str(raw.get("body", "")),
        body_name=str(bodies.get(str(raw.get("body")), "")),
        binding=raw.get("binding") is True,
        minutes=_number(raw.get("minutes")),
        value=_number(raw.get("value")),
        unit=str(raw.get("unit", "")),
        source=str(raw.get("source", "")),
        known=str(raw.get("known", "")),
        also=str(raw.get("also", "")),
        note=str(raw.get("note", "")),
        sector=str(raw.get("sector", "")),
        in_force_from=dates[0],
        in_force_to=dates[1],
    )


def _number(raw: Any) -> float:
    return float(raw) if isinstance(raw, int | float) else 0.0
