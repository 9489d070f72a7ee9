"""The camp file: TOML, every key optional, into a ``plan.camp.Camp`` with stated defaults.

``KEYS`` is the whole of what may stand in it, with its meaning; the documentation is made from it.
"""

from __future__ import annotations

import datetime
import math
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from keepfast.exchange.files import read_bytes
from keepfast.findings import Finding, FindingsError
from keepfast.plan.camp import PAPERS, SHELTERS, SKILLS, Camp, Person, Reading, TrayKind
from keepfast.words import _, languages


def _marked(text: str) -> str:
    """Marks a text for the catalogue; it is translated where it is shown."""
    return text


@dataclass(frozen=True)
class Key:
    """One key of a camp file: where it stands, what it holds, and the field of ``Camp`` that it states."""

    name: str  # with its table before a point
    holds: str  # text, number, whole, flag, word, zone, people, trays, record, tally
    meaning: str
    states: str
    low: float = -math.inf
    high: float = math.inf
    words: tuple[str, ...] = ()


KEYS: tuple[Key, ...] = (
    Key("place.name", "text", _marked("What the place is called."), "place_name"),
    Key("place.latitude", "number", _marked("Degrees, north positive (WGS 84)."), "latitude", -90, 90),
    Key("place.longitude", "number", _marked("Degrees, east positive (WGS 84)."), "longitude", -180, 180),
    Key(
        "place.elevation_m",
        "number",
        _marked("Metres above the sea, for the pressure of the air."),
        "elevation_m",
        -500,
        9000,
    ),
    Key("time_zone", "zone", _marked("Zone of the clocks here; times without an offset are read in it."), "time_zone"),
    Key("temperature_c", "number", _marked("Temperature where the table stands, in °C."), "temperature_c", -30, 60),
    Key(
        "temperature_record",
        "record",
        _marked(
            "Instead of one figure: a list of {at, temperature_c}, or the name of a logger's CSV beside this file."
        ),
        "temperature_record",
    ),
    Key("shelter", "word", _marked("What stands over the table."), "shelter", words=SHELTERS),
    Key("air_speed_m_s", "number", _marked("How fast the air moves at the table, in m/s."), "air_speed_m_s", 0, 30),
    Key("volume_m3", "number", _marked("Volume of the tent or room, in m3."), "volume_m3", 3, 100_000),
    Key(
        "air_changes_per_h",
        "number",
        _marked("Air changes an hour in it, where they are known."),
        "air_changes_per_h",
        0.01,
        600,
    ),
    Key(
        "opening_m2",
        "number",
        _marked("Area of its opening, of the smaller one if there are two, in m2."),
        "opening_m2",
        0.01,
        100,
    ),
    Key("lids", "flag", _marked("Whether trays and bowl are shut except while hands are in them."), "lids"),
    Key("people", "people", _marked("One entry for each pair of hands: role (free words) and skill."), "people"),
    Key(
        "trays", "trays", _marked("One entry for each size: width_mm, height_mm, and count if it is limited."), "trays"
    ),
    Key("sheets", "whole", _marked("Sheets of cloth or paper to soak."), "sheets", 0, 10_000),
    Key("syringes", "tally", _marked("Syringes at hand: size in mL = how many."), "syringes", 0.1, 200),
    Key("needles", "tally", _marked("Needles at hand: gauge = how many."), "needles", 10, 34),
    Key(
        "stocks.formalin_percent",
        "number",
        _marked("Strength of the formalin stock, percent formaldehyde by weight, as its label says."),
        "formalin_stock_percent",
        1,
        50,
    ),
    Key("stocks.formalin_ml", "number", _marked("Formalin stock at hand, in mL."), "formalin_stock_ml", 0, 1_000_000),
    Key(
        "stocks.working_formalin_percent",
        "number",
        _marked("Working solution in the trade's naming: 10 is one part stock and nine parts water."),
        "working_formalin_percent",
        1,
        40,
    ),
    Key("stocks.working_ml", "number", _marked("Working solution mixed, in mL."), "working_solution_ml", 0, 1_000_000),
    Key(
        "protocol",
        "text",
        _marked("Name of a protocol that ships, or a file of one's own beside this file."),
        "protocol",
    ),
    Key("language", "text", _marked("Language of screens and papers."), "language"),
    Key(
        "jurisdiction",
        "text",
        _marked("Whose limits for air are meant; the strictest is always shown too."),
        "jurisdiction",
    ),
    Key("paper", "word", _marked("Paper in the printer."), "paper", words=PAPERS),
    Key(
        "approved_protocol",
        "text",
        _marked("Number of the approval under which the animals died; it is printed, nothing else is made of it."),
        "approved_protocol",
    ),
)


@dataclass(frozen=True)
class CampRead:
    """The camp, and what is worth knowing about how it was read."""

    camp: Camp
    findings: tuple[Finding, ...] = ()


def read_camp(path: str | Path | None) -> CampRead:
    """
    The camp from its file, or the camp of all defaults when there is none.

    Raises
    ------
    FindingsError
        If the file cannot be read or anything in it is wrong: every unknown key, wrong kind and value out of range at
        once.
    """
    if path is None:
        return CampRead(Camp())
    raw, sha256 = read_bytes(path, 1_000_000)
    name = Path(path).name
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise FindingsError([Finding(_("the file is not UTF-8 text"), _("Save it as UTF-8."), file=name)]) from None
    except tomllib.TOMLDecodeError as problem:
        raise FindingsError(
            [
                Finding(
                    _("the file is not TOML: {problem}").format(problem=problem),
                    _("Mend that line and try again."),
                    file=name,
                )
            ]
        ) from None
    reader = _Reader(name, Path(path).parent)
    camp = reader.camp(data, sha256)
    errors = [finding for finding in reader.findings if finding.weight == "error"]
    if errors:
        raise FindingsError(errors)
    return CampRead(camp, tuple(reader.findings))


class _Reader:
    def __init__(self, name: str, folder: Path) -> None:
        self.name = name
        self.folder = folder
        self.zone: ZoneInfo = ZoneInfo("UTC")
        self.findings: list[Finding] = []

    def camp(self, data: dict[str, Any], sha256: str) -> Camp:
        flat = self._flat(data)
        by_name = {key.name: key for key in KEYS}
        stated: dict[str, Any] = {}
        # The zone first, for times in a record need it.
        for name in sorted(flat, key=lambda name: name != "time_zone"):
            key = by_name.get(name)
            if key is None:
                self._wrong(
                    name,
                    _("this key means nothing in a camp file"),
                    _("Known: {keys}.").format(keys=", ".join(sorted(by_name))),
                )
                continue
            readers: dict[str, Callable[[Key, Any], Any]] = {
                "text": self._text,
                "number": self._number,
                "whole": self._whole,
                "flag": self._flag,
                "word": self._word,
                "zone": self._zone,
                "people": self._people,
                "trays": self._trays,
                "record": self._record,
                "tally": self._tally,
            }
            value = readers[key.holds](key, flat[name])
            if value is not None:
                stated[key.states] = value
        self._together(stated)
        if any(finding.weight == "error" for finding in self.findings):
            return Camp()
        given = frozenset(stated) | ({"temperature_c"} if "temperature_record" in stated else frozenset())
        if "temperature_record" in stated and "temperature_c" not in stated:
            readings = stated["temperature_record"]
            stated["temperature_c"] = round(sum(r.temperature_c for r in readings) / len(readings), 1)
        return Camp(**stated, given=given, source_name=self.name, sha256=sha256)

    def _flat(self, data: dict[str, Any]) -> dict[str, Any]:
        flat: dict[str, Any] = {}
        for name, value in data.items():
            if name in ("place", "stocks"):
                if isinstance(value, dict):
                    flat.update({f"{name}.{inner}": v for inner, v in value.items()})
                else:
                    self._wrong(name, _("this is a table of keys"), f"[{name}]", value)
            else:
                flat[name] = value
        return flat

    def _together(self, stated: dict[str, Any]) -> None:
        if ("latitude" in stated) != ("longitude" in stated):
            self._wrong("place", _("a place needs latitude and longitude"), _("Write both, or neither."))
        language = stated.get("language")
        if language is not None and language not in languages():
            self._wrong(
                "language",
                _("there is no catalogue for this language"),
                _("There are: {languages}.").format(languages=", ".join(languages())),
                language,
            )
        protocol = stated.get("protocol")
        if protocol is not None and Path(protocol).suffix:
            stated["protocol"] = str(self.folder / protocol)

    # --- kinds of values ---

    def _text(self, key: Key, value: Any) -> str | None:
        if isinstance(value, str) and value.strip():
            return value.strip()
        self._wrong(key.name, _("this should be text in quotation marks"), _(key.meaning), value)
        return None

    def _number(self, key: Key, value: Any) -> float | None:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            self._wrong(key.name, _("this should be a number, without quotation marks"), _(key.meaning), value)
            return None
        if not key.low <= value <= key.high:
            self._wrong(
                key.name,
                _("this is out of range, which is {low:g} to {high:g}").format(low=key.low, high=key.high),
                _(key.meaning),
                value,
            )
            return None
        return float(value)

    def _whole(self, key: Key, value: Any) -> int | None:
        if isinstance(value, bool) or not isinstance(value, int):
            self._wrong(key.name, _("this should be a whole number"), _(key.meaning), value)
            return None
        number = self._number(key, value)
        return None if number is None else int(number)

    def _flag(self, key: Key, value: Any) -> bool | None:
        if isinstance(value, bool):
            return value
        self._wrong(key.name, _("this should be true or false, without quotation marks"), _(key.meaning), value)
        return None

    def _word(self, key: Key, value: Any) -> str | None:
        if isinstance(value, str) and value.strip().casefold() in key.words:
            return value.strip().casefold()
        self._wrong(
            key.name,
            _("this word is not known here"),
            _("Write one of: {words}.").format(words=", ".join(key.words)),
            value,
        )
        return None

    def _zone(self, key: Key, value: Any) -> str | None:
        try:
            self.zone = ZoneInfo(value)
        except (ZoneInfoNotFoundError, ValueError, TypeError, OSError):
            self._wrong(key.name, _("there is no such time zone"), _("Write one such as Europe/Madrid."), value)
            return None
        return str(value)

    def _people(self, key: Key, value: Any) -> tuple[Person, ...] | None:
        people = []
        for place, entry in self._entries(key, value, ("role", "skill")):
            skill = entry.get("skill", "practised")
            role = entry.get("role", "handling")
            if not isinstance(skill, str) or skill.casefold() not in SKILLS:
                self._wrong(
                    f"{place}.skill",
                    _("this word is not known here"),
                    _("Write one of: {words}.").format(words=", ".join(SKILLS)),
                    skill,
                )
            elif not isinstance(role, str):
                self._wrong(f"{place}.role", _("this should be text in quotation marks"), _(key.meaning), role)
            else:
                people.append(Person(role, skill.casefold()))
        if len(people) > 12:
            self._wrong(key.name, _("there is room for twelve people at most"), _("Name those at the table."))
        return tuple(people) or None

    def _trays(self, key: Key, value: Any) -> tuple[TrayKind, ...] | None:
        trays = []
        for place, entry in self._entries(key, value, ("width_mm", "height_mm", "count")):
            meaning = key.meaning
            width = self._number(Key(f"{place}.width_mm", "number", meaning, "", 50, 3000), entry.get("width_mm"))
            height = self._number(Key(f"{place}.height_mm", "number", meaning, "", 50, 3000), entry.get("height_mm"))
            count = None
            if "count" in entry:
                count = self._whole(Key(f"{place}.count", "whole", meaning, "", 1, 1000), entry["count"])
            if width is not None and height is not None:
                trays.append(TrayKind(width, height, count))
        return tuple(trays) or None

    def _entries(self, key: Key, value: Any, allowed: tuple[str, ...]) -> list[tuple[str, dict[str, Any]]]:
        if not isinstance(value, list) or not value or not all(isinstance(entry, dict) for entry in value):
            self._wrong(
                key.name,
                _("this should be one or more entries [[{name}]]").format(name=key.name),
                _(key.meaning),
                value,
            )
            return []
        answer = []
        for number, entry in enumerate(value, start=1):
            place = f"{key.name}[{number}]"
            for inner in entry:
                if inner not in allowed:
                    self._wrong(
                        f"{place}.{inner}",
                        _("this key means nothing here"),
                        _("Known here: {keys}.").format(keys=", ".join(allowed)),
                    )
            answer.append((place, entry))
        return answer

    def _tally(self, key: Key, value: Any) -> dict[Any, int] | None:
        if not isinstance(value, dict) or not value:
            self._wrong(key.name, _("this should be a table of size = how many"), _(key.meaning), value)
            return None
        tally: dict[Any, int] = {}
        for size, count in value.items():
            place = f"{key.name}.{size}"
            try:
                number = float(size)
            except ValueError:
                number = math.nan
            if not key.low <= number <= key.high or (key.name == "needles" and not number.is_integer()):
                self._wrong(
                    place,
                    _("there is no such size; it runs from {low:g} to {high:g}").format(low=key.low, high=key.high),
                    _(key.meaning),
                    size,
                )
                continue
            held = self._whole(Key(place, "whole", key.meaning, "", 0, 10_000), count)
            if held is not None:
                tally[int(number) if key.name == "needles" else number] = held
        return dict(sorted(tally.items())) or None

    def _record(self, key: Key, value: Any) -> tuple[Reading, ...] | None:
        if isinstance(value, str):
            return self._logger(key, value)
        readings = []
        assumed = 0
        for place, entry in self._entries(key, value, ("at", "temperature_c")):
            at = entry.get("at")
            figure = self._number(
                Key(f"{place}.temperature_c", "number", key.meaning, "", -30, 60), entry.get("temperature_c")
            )
            if not isinstance(at, datetime.datetime):
                self._wrong(
                    f"{place}.at", _("this is not a time"), _("Write it as 2026-04-12T18:00:00+02:00, unquoted."), at
                )
            elif figure is not None:
                if at.tzinfo is None:
                    at = at.replace(tzinfo=self.zone)
                    assumed += 1
                readings.append(Reading(at, figure))
        if assumed:
            self.findings.append(
                Finding(
                    _("times without an offset were read in {zone}").format(zone=self.zone.key),
                    weight="note",
                    file=self.name,
                    field=key.name,
                )
            )
        return tuple(sorted(readings, key=lambda reading: reading.at)) or None

    def _logger(self, key: Key, value: str) -> tuple[Reading, ...] | None:
        from keepfast.exchange.loggers import read_logger

        try:
            read = read_logger(self.folder / value, zone=self.zone.key)
        except FindingsError as problem:
            self.findings += problem.findings
            return None
        self.findings += read.findings
        return tuple(Reading(at, float(figure)) for at, figure in zip(read.at, read.temperature_c, strict=True))

    def _wrong(self, field: str, what: str, remedy: str, read: Any = None) -> None:
        self.findings.append(
            Finding(what, remedy, file=self.name, field=field, read=None if read is None else str(read)[:80])
        )
