"""How a table is run: limits of load, urgency, pace, sheets, fluid, heat; from ``evening/field.toml`` or one's own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.rules.tables import Points, read_points
from keepfast.terms import KNOWN

SUBJECT = "evening"

# Section and key, with the range that makes sense.
_NUMBERS: dict[str, dict[str, tuple[float, float]]] = {
    "load": {
        "gut_green_h": (0, 100),
        "gut_red_h": (0, 200),
        "autolysis_green_h": (0, 200),
        "autolysis_red_h": (0, 500),
    },
    "urgency": {"gut_full": (1, 10), "gut_unknown": (1, 10), "yolk": (1, 10)},
    "death_unknown": {"hours": (0, 48)},
    "pace": {"learning": (1, 5), "low": (0.1, 1), "high": (1, 5)},
    "evening": {
        "longest_fixing_h": (0.5, 24),
        "longest_whole_h": (0.5, 24),
        "lay_ready_minutes": (0, 240),
        "next_sitting_h": (1, 72),
    },
    "ice": {"temperature_c": (-2, 15)},
    "sheets": {
        "upper_ml_per_m2": (0, 5000),
        "lower_share": (0.01, 5),
        "lower_low": (0.01, 5),
        "lower_high": (0.01, 10),
    },
    "fluid": {
        "spare_share": (0, 2),
        "vial_per_volume": (1, 100),
        "stock_methanol_percent_w_w": (0, 20),
        "strength_low": (0.1, 1),
        "strength_high": (1, 3),
    },
    "binding": {"middle": (0.01, 5), "low": (0.01, 5), "high": (0.01, 5)},
    "heat": {"colours_suffer_c": (20, 60), "set_nothing_c": (20, 60)},
    "balance": {"relative_sd": (0, 0.5)},
    "tools": {"animals_per_needle": (1, 100)},
    "packing": {"gap_mm": (0, 100)},
    "trend": {"least_animals": (10, 10000), "least_factor": (1, 100), "limit_sd": (1, 20)},
    "slip": {"limit_sd": (1, 20)},
}
_POINTS = {"urgency": ("by_diameter",), "pace": ("by_people",)}


@dataclass(frozen=True)
class EveningRules:
    """Numbers by section and key, breakpoint tables by section and key, syringe sizes, and where each comes from."""

    identity: dict[str, str]
    numbers: dict[tuple[str, str], float]
    points: dict[tuple[str, str], Points]
    syringes_ml: tuple[float, ...]
    sources: dict[str, str]  # by section, in words

    def number(self, section: str, key: str) -> float:
        """One number.

        Raises
        ------
        KeyError
            If there is none of this name.
        """
        return self.numbers[section, key]


def load(name_or_path: str | Path = "field") -> EveningRules:
    """Read and check the rules of an evening.

    Raises
    ------
    FindingsError
        With everything that is wrong in the file.
    """
    file = sources.read(SUBJECT, name_or_path)
    label = str(name_or_path)
    found = sources.unknown_keys(label, "", file.data, {"title", "date", "subject", "sources", *_NUMBERS})
    numbers: dict[tuple[str, str], float] = {}
    points: dict[tuple[str, str], Points] = {}
    words: dict[str, str] = {}
    given: dict[str, dict[str, Any]] = {}
    for section in ("sources", *_NUMBERS):
        table = file.data.get(section, {})
        if not isinstance(table, dict):
            found.append(
                Finding("this is a table", f"Begin it with [{section}].", file=label, field=section, read=str(table))
            )
        given[section] = table if isinstance(table, dict) else {}
    for section, keys in _NUMBERS.items():
        table = given[section]
        extra = {"syringes_ml"} if section == "tools" else set()
        found += sources.unknown_keys(label, section, table, {*keys, *_POINTS.get(section, ()), *extra, "source"})
        for key, (low, high) in keys.items():
            value = table.get(key)
            if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
                found.append(
                    Finding(
                        f"a number from {low:g} to {high:g} is wanted here",
                        "Mend this value.",
                        file=label,
                        field=f"{section}.{key}",
                        read=None if value is None else str(value),
                    )
                )
            else:
                numbers[section, key] = float(value)
        for key in _POINTS.get(section, ()):
            points[section, key], problems = read_points(label, f"{section}.{key}", table.get(key))
            found += problems
        named = table.get("source")
        source = given["sources"].get(named) if isinstance(named, str) else None
        text, known_as = (source.get("text"), source.get("known")) if isinstance(source, dict) else (None, None)
        if not isinstance(text, str) or not text or known_as not in KNOWN:
            found.append(
                Finding(
                    "every section names its source, with a text and how it is known",
                    f"Name one under [sources]; known is one of: {', '.join(KNOWN)}.",
                    file=label,
                    field=f"{section}.source",
                    read=None if named is None else str(named),
                )
            )
        else:
            words[section] = text if text == known_as else f"{text} ({known_as})"
    sizes = given["tools"].get("syringes_ml")
    if not isinstance(sizes, list) or not sizes or not all(_is_size(size) for size in sizes):
        found.append(
            Finding(
                "a list of syringe sizes in mL is wanted here",
                "Write it like: syringes_ml = [1, 5, 20]",
                file=label,
                field="tools.syringes_ml",
                read=None if sizes is None else str(sizes),
            )
        )
        sizes = []
    found += _out_of_order(label, numbers)
    if found:
        raise FindingsError(found)
    return EveningRules(file.identity, numbers, points, tuple(sorted(float(s) for s in sizes)), words)


# Ends of a range, and limits that come one after the other: the left is never more than the right.
_IN_ORDER = (
    ("load", "gut_green_h", "gut_red_h"),
    ("load", "autolysis_green_h", "autolysis_red_h"),
    ("sheets", "lower_low", "lower_share"),
    ("sheets", "lower_share", "lower_high"),
    ("binding", "low", "middle"),
    ("binding", "middle", "high"),
    ("heat", "colours_suffer_c", "set_nothing_c"),
)


def _is_size(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and 0 < value <= 1000


def _out_of_order(label: str, numbers: dict[tuple[str, str], float]) -> list[Finding]:
    return [
        Finding(
            f"{left} may not be more than {right}",
            "Mend one of the two.",
            file=label,
            field=f"{section}.{left}",
            read=f"{numbers[section, left]:g}",
        )
        for section, left, right in _IN_ORDER
        if {(section, left), (section, right)} <= set(numbers) and numbers[section, left] > numbers[section, right]
    ]
