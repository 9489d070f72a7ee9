"""How a table is run: limits of load, urgency, pace, sheets, fluid, heat; from ``evening/field.toml`` or one's own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.rules.tables import Points, read_points

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
        "lower_share": (0, 5),
        "lower_low": (0, 5),
        "lower_high": (0, 10),
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
    known = file.data.get("sources", {})
    for section, keys in _NUMBERS.items():
        table = file.data.get(section, {})
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
        source = known.get(table.get("source"), {})
        if not source.get("text"):
            found.append(
                Finding(
                    "every section names its source", "Name one under [sources].", file=label, field=f"{section}.source"
                )
            )
        else:
            known_as = source.get("known", "")
            words[section] = source["text"] if source["text"] == known_as else f"{source['text']} ({known_as})"
    sizes = file.data.get("tools", {}).get("syringes_ml", [])
    if not sizes or not all(isinstance(s, int | float) and s > 0 for s in sizes):
        found.append(
            Finding("a list of syringe sizes in mL is wanted here", "Mend it.", file=label, field="tools.syringes_ml")
        )
    if found:
        raise FindingsError(found)
    return EveningRules(file.identity, numbers, points, tuple(sorted(float(s) for s in sizes)), words)
