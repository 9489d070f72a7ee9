"""The camp: what does not change from animal to animal.

No file is read here (``exchange.camp`` does that). Every value has a stated default, and ``Camp.defaults_used`` says
in words which of them were taken.
"""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from zoneinfo import ZoneInfo

from keepfast.words import _

SHELTERS = ("open", "tarpaulin", "tent", "tent_one_flap", "tent_two_flaps", "tent_closed", "room", "vehicle")
SKILLS = ("practised", "learning")
PAPERS = ("a4", "letter")


@dataclass(frozen=True)
class Person:
    """One pair of hands. People have roles here, never names."""

    role: str = "handling"  # free words: handling, recording, ...
    skill: str = "practised"  # one of SKILLS


@dataclass(frozen=True)
class TrayKind:
    """Trays of one size; ``count`` None means as many as it takes."""

    width_mm: float
    height_mm: float
    count: int | None = None


@dataclass(frozen=True)
class Reading:
    """The temperature at one moment (with an offset)."""

    at: datetime.datetime
    temperature_c: float


# Two people who know the work, one handling and one recording: common practice, no published source.
PRACTISED_PAIR = (Person("handling", "practised"), Person("recording", "practised"))
# A tray of A3 (ISO 216: 420 x 297 mm): an assumption, the practice that gives the wetting speaks of "about A3".
A3_TRAY = TrayKind(420.0, 297.0)


# Loggers that read once an hour leave the last one out.
NEARLY_A_DAY = datetime.timedelta(hours=23)
A_DAY = datetime.timedelta(days=1)


@dataclass(frozen=True)
class Camp:
    """Where, when in the day, by whom and with what the table is worked.

    Temperatures in degrees C, lengths in mm, volumes in mL, air speed in m/s. Stock strength in percent w/w
    formaldehyde; ``working_formalin_percent`` is in the trade's naming, where 10 is one part stock and nine of water.
    Counts of None mean "not stated: as many as it takes".
    """

    place_name: str = ""
    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None  # None: the sea's
    time_zone: str = "UTC"
    temperature_c: float = 25.0
    temperature_record: tuple[Reading, ...] = ()  # in order of time
    shelter: str = "tent"
    air_speed_m_s: float | None = None  # None: the worst case for the shelter is taken
    volume_m3: float | None = None  # of the tent or room; None here and below: the shelter's rules
    air_changes_per_h: float | None = None
    opening_m2: float | None = None
    lids: bool = False  # trays and bowl are shut except while hands are in them
    people: tuple[Person, ...] = PRACTISED_PAIR
    trays: tuple[TrayKind, ...] = (A3_TRAY,)
    sheets: int | None = None
    syringes: Mapping[float, int] | None = None  # mL: how many
    needles: Mapping[int, int] | None = None  # gauge: how many
    formalin_stock_percent: float = 37.0
    formalin_stock_ml: float | None = None
    working_formalin_percent: float = 10.0
    working_solution_ml: float | None = None
    protocol: str | None = None  # name of a shipped protocol or path of one's own; None: the one that ships
    language: str = "en"
    jurisdiction: str | None = None  # whose limits for air; the strictest is always shown too
    paper: str = "a4"
    approved_protocol: str = ""  # number of the approval under which the animals died
    given: frozenset[str] = field(default_factory=frozenset)  # names of the fields somebody stated
    source_name: str = ""  # file it was read from, and that file's SHA-256
    sha256: str = ""

    @property
    def zone(self) -> ZoneInfo:
        """The time zone as an object."""
        return ZoneInfo(self.time_zone)

    @property
    def defaults_used(self) -> tuple[str, ...]:
        """What was not stated, and what was taken instead, in words."""
        return tuple(words for name, words in _default_words().items() if name not in self.given)

    def stating(self, **values: Any) -> Camp:
        """The same camp with these fields stated (by an option of a command, for instance)."""
        return replace(self, **values, given=self.given | frozenset(values))

    def with_people(self, count: int) -> Camp:
        """The same camp with this many people: those stated first, then practised ones.

        Raises
        ------
        ValueError
            If count is not 1 to 12.
        """
        if not 1 <= count <= 12:
            raise ValueError(f"count must be 1 to 12; {count} was given")
        stated = self.people[:count]
        extra = PRACTISED_PAIR[1]
        return self.stating(people=stated + (extra,) * (count - len(stated)))

    def temperature_at(self, when: datetime.datetime) -> float:
        """Temperature at a moment: along straight lines of the record, drawn on by ``record_until``; or the one figure.

        Raises
        ------
        ValueError
            If the moment has no offset.
        """
        if when.tzinfo is None:
            raise ValueError(f"when must carry an offset; {when.isoformat()} was given")
        if self._goes_on and when > self.temperature_record[-1].at:
            # Every day beyond the record is alike, so the first of them stands for all.
            when -= int((when - self.temperature_record[-1].at) / A_DAY) * A_DAY
        record = self.record_until(when)
        if not record:
            return self.temperature_c
        if when <= record[0].at:
            return record[0].temperature_c
        for before, after in itertools.pairwise(record):
            if when <= after.at:
                share = (when - before.at) / (after.at - before.at)
                return before.temperature_c + share * (after.temperature_c - before.temperature_c)
        return record[-1].temperature_c

    def record_until(self, when: datetime.datetime) -> tuple[Reading, ...]:
        """
        The record, drawn on to a moment beyond its end.

        A record of a day or more goes on like its last day, hour for hour; a shorter one keeps its last reading.
        """
        record = self.temperature_record
        if not self._goes_on or when <= record[-1].at:
            return record
        last = record[-1].at
        pattern = [r for r in record if r.at > last - A_DAY]
        days = int((when - last) / A_DAY) + 1
        return (*record, *(Reading(r.at + n * A_DAY, r.temperature_c) for n in range(1, days + 1) for r in pattern))

    @property
    def _goes_on(self) -> bool:
        record = self.temperature_record
        return bool(record) and record[-1].at - record[0].at >= NEARLY_A_DAY

    def as_dict(self) -> dict[str, Any]:
        """For JSON: every value taken, and which of them are defaults. A record is told by its length and span."""
        record = self.temperature_record
        return {
            "place": {
                "name": self.place_name,
                "latitude": self.latitude,
                "longitude": self.longitude,
                "elevation_m": self.elevation_m,
            },
            "time_zone": self.time_zone,
            "temperature_c": self.temperature_c,
            "temperature_record": (
                {
                    "readings": len(record),
                    "first": record[0].at.isoformat(),
                    "last": record[-1].at.isoformat(),
                    "lowest_c": min(r.temperature_c for r in record),
                    "highest_c": max(r.temperature_c for r in record),
                }
                if record
                else None
            ),
            "shelter": self.shelter,
            "air_speed_m_s": self.air_speed_m_s,
            "volume_m3": self.volume_m3,
            "air_changes_per_h": self.air_changes_per_h,
            "opening_m2": self.opening_m2,
            "lids": self.lids,
            "people": [{"role": p.role, "skill": p.skill} for p in self.people],
            "trays": [{"width_mm": t.width_mm, "height_mm": t.height_mm, "count": t.count} for t in self.trays],
            "sheets": self.sheets,
            "syringes": None if self.syringes is None else {f"{k:g}": v for k, v in self.syringes.items()},
            "needles": None if self.needles is None else {str(k): v for k, v in self.needles.items()},
            "formalin_stock_percent": self.formalin_stock_percent,
            "formalin_stock_ml": self.formalin_stock_ml,
            "working_formalin_percent": self.working_formalin_percent,
            "working_solution_ml": self.working_solution_ml,
            "protocol": self.protocol,
            "language": self.language,
            "jurisdiction": self.jurisdiction,
            "paper": self.paper,
            "approved_protocol": self.approved_protocol,
            "defaults_used": list(self.defaults_used),
        }


def _default_words() -> dict[str, str]:
    return {
        "latitude": _("place: none; nothing that needs the sun is said"),
        "time_zone": _("time zone: UTC"),
        "temperature_c": _("temperature: 25 degrees C"),
        "shelter": _("shelter: a tent with its flaps open, the closest of the usual camps"),
        "air_speed_m_s": _("air speed: the worst case for the shelter"),
        "people": _("people: a practised pair, one handling and one recording"),
        "trays": _("trays: A3, 420 by 297 mm, as many as it takes"),
        "sheets": _("sheets: as many as it takes"),
        "syringes": _("syringes: as many as it takes"),
        "needles": _("needles: as many as it takes"),
        "formalin_stock_percent": _("formalin stock: 37 % by weight"),
        "working_formalin_percent": _("working solution: 10 % formalin, one part stock and nine of water"),
        "working_solution_ml": _("working solution at hand: enough"),
        "protocol": _("protocol: the one that ships with Keepfast"),
        "language": _("language: English"),
        "jurisdiction": _("limits for air: no jurisdiction chosen, so the strictest is shown"),
        "paper": _("paper: A4"),
        "approved_protocol": _("approval: no number stated; write it on the sheet"),
    }
