"""What the race of fixative and decay needs beside physics: limits, ranges, regions and words, as data.

Read from ``race/field.toml`` or a museum's own file. Limits of load themselves stand in the rules of the evening;
here is only how far they may be off.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources

SUBJECT = "race"
REGIONS = ("hindgut", "gonad", "wall", "limb", "tail", "head")
CLOCKS = ("gut", "autolysis")

Range = tuple[float, float, float]  # low, middle, high: 5, 50 and 95 % points of the draws

_RANGES = ("stop", "limit", "delay", "killed", "retained", "girth", "sheet")
_NUMBERS: dict[str, dict[str, tuple[float, float]]] = {
    "stop": {"bound_share": (0.1, 1.0)},
    "killed": {"hours": (0.0, 24.0)},
    "horizon": {"hours": (1, 2000), "latest_spoil_h": (24, 20000)},
    "skin": {"pricked_share": (0, 1), "slit_share": (0, 1)},
    "leave": {"sure_share": (0.05, 0.99), "bound": (0.05, 0.99)},
    "advice": {
        "injection_ml_per_g": (0.001, 0.2),
        "least_injection_ml": (0.005, 5),
        "cooler_by_c": (1, 20),
        "coolest_c": (-5, 30),
        "least_gain_h": (0, 48),
        "spare_margin_h": (0, 500),
    },
    "spacing": {"fluid_share": (0.05, 1), "pessimist_diffusivity_m2_s": (1e-12, 1e-9)},
    "watch": {"warm_c": (10, 50)},
}
_REGION_KEYS = {"key", "word", "at", "width_share", "clock", "clock_with_yolk", "core", "fat", "sites", "source"}


@dataclass(frozen=True)
class Region:
    """One part of a body that is raced for. Shares of core and fat go by gut or reproductive state, or ``default``."""

    key: str
    word: str
    at: tuple[float, float] | None  # share of snout-vent length; None where the body has its own measure
    clock: str
    clock_with_yolk: str
    core: dict[str, float]
    fat: dict[str, float]
    sites: tuple[str, ...]
    width_share: float  # of a measured width, what counts as the thickness to be crossed


@dataclass(frozen=True)
class Word:
    """A plain word for a share of draws in which fixative wins."""

    at_least: float
    key: str
    says: str


@dataclass(frozen=True)
class RaceRules:
    """All of it, with the file's identity and where each section comes from."""

    identity: dict[str, str]
    ranges: dict[str, Range]
    numbers: dict[tuple[str, str], float]
    skin_thickness_share: dict[str, float]
    skin_resistance_mm: dict[str, Range]
    regions: tuple[Region, ...]
    words: tuple[Word, ...]
    spacings_mm: tuple[float, ...]
    sources: dict[str, str]

    def number(self, section: str, key: str) -> float:
        """One number.

        Raises
        ------
        KeyError
            If there is none of this name.
        """
        return self.numbers[section, key]

    def word_for(self, share: float) -> Word:
        """The word for a share of draws."""
        return next(word for word in self.words if share >= word.at_least)

    def skin(self, form: str) -> tuple[float, Range]:
        """Thickness as a share of the radius, and what the skin hinders in mm of extra tissue."""
        return (
            self.skin_thickness_share.get(form, self.skin_thickness_share["default"]),
            self.skin_resistance_mm.get(form, self.skin_resistance_mm["default"]),
        )


class _Reader:
    """Collects what is wrong while it reads."""

    def __init__(self, label: str) -> None:
        self.label = label
        self.found: list[Finding] = []

    def wrong(self, field: str, what: str, read: Any = None) -> None:
        self.found.append(
            Finding(what, "Mend this value.", file=self.label, field=field, read=None if read is None else str(read))
        )

    def number(self, field: str, value: Any, low: float, high: float) -> float:
        if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
            self.wrong(field, f"a number from {low:g} to {high:g} is wanted here", value)
            return low
        return float(value)

    def range(self, field: str, value: Any) -> Range:
        good = (
            isinstance(value, list)
            and len(value) == 3
            and all(isinstance(v, int | float) and not isinstance(v, bool) for v in value)
            and 0 < value[0] <= value[1] <= value[2]
        )
        if not good:
            self.wrong(field, "three numbers above 0 are wanted here: low, middle, high", value)
            return (1.0, 1.0, 1.0)
        return (float(value[0]), float(value[1]), float(value[2]))

    def shares(self, field: str, value: Any) -> dict[str, float]:
        if not isinstance(value, dict) or not value:
            self.wrong(field, "shares by state are wanted here, such as { default = 0.3 }", value)
            return {"default": 0.0}
        return {k: self.number(f"{field}.{k}", v, 0.0, 0.95) for k, v in value.items()}


def load(name_or_path: str | Path = "field") -> RaceRules:
    """Read and check the rules of the race.

    Raises
    ------
    FindingsError
        With everything that is wrong in the file.
    """
    file = sources.read(SUBJECT, name_or_path)
    reader = _Reader(str(name_or_path))
    data = file.data
    heads = {"title", "date", "subject", "sources", "region", "word", *_RANGES, *_NUMBERS}
    reader.found += sources.unknown_keys(reader.label, "", data, heads)
    known = data.get("sources", {})
    told: dict[str, str] = {}

    def source_of(section: str, table: Any) -> None:
        entry = known.get(table.get("source"), {}) if isinstance(table, dict) else {}
        if not entry.get("text"):
            reader.wrong(f"{section}.source", "every section names one of [sources]")
            return
        same = entry["text"] == entry.get("known")
        told[section] = entry["text"] if same else f"{entry['text']} ({entry.get('known', '')})"

    ranges: dict[str, Range] = {}
    for section in _RANGES:
        table = data.get(section, {})
        reader.found += sources.unknown_keys(
            reader.label, section, table, {"low", "middle", "high", "source", *_NUMBERS.get(section, ())}
        )
        ranges[section] = reader.range(section, [table.get(k) for k in ("low", "middle", "high")])
        source_of(section, table)
    numbers: dict[tuple[str, str], float] = {}
    also = {
        "skin": {"thickness_share", "resistance_mm"},
        "spacing": {"tried_mm"},
        **{section: {"low", "middle", "high"} for section in _RANGES if section in _NUMBERS},
    }
    for section, keys in _NUMBERS.items():
        table = data.get(section, {})
        reader.found += sources.unknown_keys(reader.label, section, table, {*keys, *also.get(section, ()), "source"})
        for key, (low, high) in keys.items():
            numbers[section, key] = reader.number(f"{section}.{key}", table.get(key), low, high)
        source_of(section, table)
    skin = data.get("skin", {})
    thickness = reader.shares("skin.thickness_share", skin.get("thickness_share"))
    resistance = {
        form: reader.range(f"skin.resistance_mm.{form}", value) for form, value in skin.get("resistance_mm", {}).items()
    }
    for name, table in (("thickness_share", thickness), ("resistance_mm", resistance)):
        if "default" not in table:
            reader.wrong(f"skin.{name}", "a default is wanted here")
    tried = data.get("spacing", {}).get("tried_mm", [])
    if not tried or not all(isinstance(v, int | float) and 2 <= v <= 200 for v in tried):
        reader.wrong("spacing.tried_mm", "a list of distances from 2 to 200 mm is wanted here", tried)
    answer = RaceRules(
        identity=file.identity,
        ranges=ranges,
        numbers=numbers,
        skin_thickness_share=thickness,
        skin_resistance_mm=resistance,
        regions=_regions(data.get("region", []), reader, source_of),
        words=_words(data.get("word", []), reader, source_of),
        spacings_mm=tuple(sorted(float(v) for v in tried if isinstance(v, int | float))),
        sources=told,
    )
    if reader.found:
        raise FindingsError(reader.found)
    return answer


def _regions(raw: Any, reader: _Reader, source_of: Any) -> tuple[Region, ...]:
    found = []
    for i, entry in enumerate(raw if isinstance(raw, list) else []):
        where = f"region[{i + 1}]"
        reader.found += sources.unknown_keys(reader.label, where, entry, _REGION_KEYS)
        key = entry.get("key")
        if key not in REGIONS:
            reader.wrong(f"{where}.key", f"a region is one of {', '.join(REGIONS)}", key)
            continue
        clock = entry.get("clock")
        for name, value in (("clock", clock), ("clock_with_yolk", entry.get("clock_with_yolk", clock))):
            if value not in CLOCKS:
                reader.wrong(f"{where}.{name}", f"a clock is one of {', '.join(CLOCKS)}", value)
        at = entry.get("at")
        if at is not None and not (
            isinstance(at, list)
            and len(at) == 2
            and all(isinstance(v, int | float) for v in at)
            and 0 <= at[0] <= at[1] <= 1
        ):
            reader.wrong(f"{where}.at", "two shares of the length from 0 to 1 are wanted here", at)
            at = None
        source_of(str(key), entry)
        found.append(
            Region(
                key=key,
                word=str(entry.get("word", key)),
                at=None if at is None else (float(at[0]), float(at[1])),
                clock=str(clock),
                clock_with_yolk=str(entry.get("clock_with_yolk", clock)),
                core=reader.shares(f"{where}.core", entry.get("core")),
                fat=reader.shares(f"{where}.fat", entry.get("fat")),
                sites=tuple(entry.get("sites", ())),
                width_share=reader.number(f"{where}.width_share", entry.get("width_share", 1.0), 0.1, 1.0),
            )
        )
    missing = [key for key in REGIONS if key not in {region.key for region in found}]
    if missing:
        reader.wrong("region", f"these regions are missing: {', '.join(missing)}")
    return tuple(found)


def _words(raw: Any, reader: _Reader, source_of: Any) -> tuple[Word, ...]:
    found = []
    for i, entry in enumerate(raw if isinstance(raw, list) else []):
        allowed = {"at_least", "key", "says", "source"}
        reader.found += sources.unknown_keys(reader.label, f"word[{i + 1}]", entry, allowed)
        source_of(f"word[{i + 1}]", entry)
        found.append(
            Word(
                reader.number(f"word[{i + 1}].at_least", entry.get("at_least"), 0.0, 1.0),
                str(entry.get("key", "")),
                str(entry.get("says", "")),
            )
        )
    found.sort(key=lambda word: -word.at_least)
    if not found or found[-1].at_least > 0:
        reader.wrong("word", "words are wanted here, the last of them at_least = 0")
        found.append(Word(0.0, "", ""))
    return tuple(found)
