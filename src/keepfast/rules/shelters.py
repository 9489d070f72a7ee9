"""Places where a table is set, and what is taken of their air when nobody has measured it.

``shelters/field.toml`` ships. Start with `load`; a shelter is asked for by its key, an assumption by `Shelters.number`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.terms import KNOWN

_PAIRS = ("section_share", "air_changes_per_h", "air_speed_m_s", "opening_share")
_SHELTER_KEYS = ("key", "words", "question", "volume_m3", "section_m2", *_PAIRS, "do_not_work", "source", "known")
_ASSUMPTION_KEYS = ("key", "value", "unit", "words", "source", "known")

Pair = tuple[float, float]


@dataclass(frozen=True)
class Shelter:
    """One kind of place. Pairs run from the worst case up."""

    key: str
    words: str
    volume_m3: float
    air_speed_m_s: Pair
    source: str
    known: str
    section_m2: float | None = None  # swept by the breeze, ...
    section_share: Pair = (1.0, 1.0)
    air_changes_per_h: Pair | None = None  # ... or a room
    opening_share: Pair | None = None  # share of the wind that goes through an opening of known size
    question: str = ""
    do_not_work: bool = False


@dataclass(frozen=True)
class Assumption:
    """A number that is taken when nobody says otherwise."""

    key: str
    value: float
    unit: str
    words: str
    source: str
    known: str


@dataclass(frozen=True)
class Shelters:
    """One file of places and assumptions."""

    file: sources.RulesFile
    shelters: dict[str, Shelter]
    assumptions: dict[str, Assumption]

    def number(self, key: str) -> float:
        """The value of an assumption."""
        return self.assumptions[key].value


def load(name_or_path: str | Path = "field") -> Shelters:
    """Read a file of places: the one that ships, by name, or one of one's own, by path.

    Raises
    ------
    FindingsError
        If it cannot be read or an entry in it is wrong; all findings at once.
    """
    file = sources.read("shelters", name_or_path)
    label = str(name_or_path)
    found = sources.unknown_keys(label, "", file.data, ("title", "date", "subject", "shelters", "assumptions"))
    shelters = [_shelter(label, raw, found) for raw in _tables(label, file.data, "shelters", found)]
    assumptions = [_assumption(label, raw, found) for raw in _tables(label, file.data, "assumptions", found)]
    needed = set() if file.name == "field" else set(load("field").assumptions)
    for key in sorted(needed - {a.key for a in assumptions}):
        found.append(Finding("an assumption is missing", "Copy it from the file that ships.", file=label, field=key))
    if found:
        raise FindingsError(found)
    return Shelters(file, {s.key: s for s in shelters}, {a.key: a for a in assumptions})


def _tables(label: str, data: dict[str, Any], name: str, found: list[Finding]) -> list[dict[str, Any]]:
    entries = data.get(name)
    if isinstance(entries, list) and entries and all(isinstance(entry, dict) for entry in entries):
        return entries
    found.append(Finding(f"the file holds no {name}", f"Begin each with [[{name}]].", file=label, field=name))
    return []


def _texts(label: str, where: str, raw: dict[str, Any], names: tuple[str, ...], found: list[Finding]) -> dict[str, Any]:
    for name in names:
        if not isinstance(raw.get(name), str) or not raw[name].strip():
            found.append(
                Finding(f"{name} is missing or is not text", f'Add a line: {name} = "..."', file=label, field=where)
            )
    if raw.get("known") not in KNOWN:
        found.append(
            Finding(
                "how it is known is not one of the agreed words",
                f"Use one of: {'; '.join(KNOWN)}.",
                file=label,
                field=where,
                read=str(raw.get("known")),
            )
        )
    return {name: str(raw.get(name, "")) for name in names}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and value > 0


def _shelter(label: str, raw: dict[str, Any], found: list[Finding]) -> Shelter:
    where = f"shelters {raw.get('key', '')}"
    found += sources.unknown_keys(label, where, raw, _SHELTER_KEYS)
    values = _texts(label, where, raw, ("key", "words", "source", "known"), found)
    for name in ("volume_m3", "section_m2"):
        if name in raw or name == "volume_m3":
            if _is_number(raw.get(name)):
                values[name] = float(raw[name])
            else:
                values[name] = 1.0
                found.append(Finding(f"{name} must be a number above 0", file=label, field=where))
    for name in _PAIRS:
        if name not in raw:
            continue
        pair = raw[name]
        if isinstance(pair, list) and len(pair) == 2 and all(_is_number(v) for v in pair) and pair[0] <= pair[1]:
            values[name] = (float(pair[0]), float(pair[1]))
        else:
            found.append(
                Finding(
                    f"{name} must be two numbers above 0, the smaller first",
                    f"For example: {name} = [0.06, 0.3]",
                    file=label,
                    field=where,
                    read=str(pair),
                )
            )
    if "air_speed_m_s" not in raw:
        found.append(Finding("air_speed_m_s is missing", "Add a pair, worst case first.", file=label, field=where))
    if ("section_m2" in raw) == ("air_changes_per_h" in raw):
        found.append(
            Finding(
                "a place is swept by the breeze or is a room",
                "Give section_m2 or air_changes_per_h, one of the two.",
                file=label,
                field=where,
            )
        )
    values.setdefault("air_speed_m_s", (1.0, 1.0))
    return Shelter(**values, question=str(raw.get("question", "")), do_not_work=raw.get("do_not_work") is True)


def _assumption(label: str, raw: dict[str, Any], found: list[Finding]) -> Assumption:
    where = f"assumptions {raw.get('key', '')}"
    found += sources.unknown_keys(label, where, raw, _ASSUMPTION_KEYS)
    texts = _texts(label, where, raw, ("key", "unit", "words", "source", "known"), found)
    if not _is_number(raw.get("value")):
        found.append(Finding("value must be a number above 0", file=label, field=where, read=str(raw.get("value"))))
    return Assumption(**texts, value=float(raw["value"]) if _is_number(raw.get("value")) else 1.0)
