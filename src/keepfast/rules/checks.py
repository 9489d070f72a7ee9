"""Limits and lists behind the checks of a record, as data.

Start with ``load``; ``checks/field.toml`` ships.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources

_NUMBERS = {
    "published": (
        *("uncertainty_low_m", "uncertainty_high_m", "elevation_low_m", "elevation_high_m", "depth_low_m"),
        "depth_high_m",
    ),
    "mass": ("spread_sd",),
    "travel": ("fastest_km_h", "day_km"),
    "clock": ("zone_h", "back_minutes", "ahead_minutes"),
    "preparation": ("beyond_range", "retained_over_delivered", "open_after_h"),
    "number": ("most_gaps",),
}
_DATES = {"published": ("event_earliest", "identified_earliest")}
_LISTS = {
    "vocabularies": (
        *("basis_of_record", "sex", "occurrence_status", "establishment_means", "degree_of_establishment"),
        *("pathway", "dc_type", "rank", "type_status"),
    ),
    "young": ("stages", "carries"),
    "marine": ("genera",),
}
_SECTIONS = (*dict.fromkeys([*_NUMBERS, *_LISTS]), "tails")


@dataclass(frozen=True)
class CheckRules:
    """What the checks go by, with the identity an output prints."""

    identity: Mapping[str, str]
    numbers: Mapping[tuple[str, str], float]
    dates: Mapping[tuple[str, str], datetime.date]
    lists: Mapping[tuple[str, str], frozenset[str]]
    tails: Mapping[str, tuple[float, float]]

    def number(self, section: str, name: str) -> float:
        """A limit."""
        return self.numbers[(section, name)]

    def date(self, section: str, name: str) -> datetime.date:
        """A limiting day."""
        return self.dates[(section, name)]

    def words(self, section: str, name: str) -> frozenset[str]:
        """A list of words."""
        return self.lists[(section, name)]


def load(name_or_path: str | Path = "field") -> CheckRules:
    """Read the limits that ship, or a file of one's own.

    Raises
    ------
    FindingsError
        If the file cannot be used; the findings say all that is wrong with it at once.
    """
    return _shipped(name_or_path) if name_or_path == "field" else _read(name_or_path)


@cache
def _shipped(name: str) -> CheckRules:
    return _read(name)


def _read(name_or_path: str | Path) -> CheckRules:
    file = sources.read("checks", name_or_path)
    label = f"{file.name}.toml"
    found = sources.unknown_keys(label, "", file.data, ("title", "date", "subject", *_SECTIONS))

    def section(name: str) -> dict[str, Any]:
        raw = file.data.get(name)
        if isinstance(raw, dict):
            if not isinstance(raw.get("source"), str) or not raw["source"]:
                found.append(Finding("a rule says where it comes from", "Add: source", file=label, field=name))
            known = (*_NUMBERS.get(name, ()), *_DATES.get(name, ()), *_LISTS.get(name, ()), "source")
            found.extend(sources.unknown_keys(label, name, raw, known))
            return raw
        found.append(Finding("this section is missing", f"Write [{name}].", file=label, field=name))
        return {}

    def take(kinds: Mapping[str, tuple[str, ...]], fits: Any, what: str) -> dict[tuple[str, str], Any]:
        taken = {}
        for name, keys in kinds.items():
            for key in keys:
                value = read[name].get(key)
                if fits(value):
                    taken[(name, key)] = value
                elif read[name]:
                    place = f"{name}.{key}"
                    given = None if value is None else str(value)
                    found.append(Finding(f"this must be {what}", "Mend it.", file=label, field=place, read=given))
        return taken

    read = {name: section(name) for name in dict.fromkeys([*_NUMBERS, *_LISTS])}
    numbers = take(_NUMBERS, lambda v: isinstance(v, int | float) and not isinstance(v, bool), "a number")
    dates = take(_DATES, lambda v: isinstance(v, datetime.date), "a date such as 1753-01-01")
    lists = take(_LISTS, lambda v: isinstance(v, list) and all(isinstance(w, str) for w in v), "a list of words")
    tails: dict[str, tuple[float, float]] = {}
    rows = file.data.get("tails")
    for i, row in enumerate(rows if isinstance(rows, list) else [], 1):
        place = f"tails {i}"
        found += sources.unknown_keys(label, place, row, ("form", "low", "high", "source"))
        if isinstance(row.get("form"), str) and all(isinstance(row.get(k), int | float) for k in ("low", "high")):
            tails[row["form"]] = (float(row["low"]), float(row["high"]))
        else:
            found.append(Finding("a tail rule needs form, low and high", "Add them.", file=label, field=place))
    if found:
        raise FindingsError(found)
    return CheckRules(file.identity, numbers, dates, {k: frozenset(v) for k, v in lists.items()}, tails)
