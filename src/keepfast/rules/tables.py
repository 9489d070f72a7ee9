"""The two small languages of rules files: breakpoint tables and conditions. Nothing else is ever evaluated.

A breakpoint table is ``[[x, y], ...]`` with rising x; between the points the value runs straight, beyond them it either
stays (``ends="flat"``) or keeps its ratio to x (``ends="proportional"``, for amounts).

A condition is a list of alternatives; each alternative is a table in which every entry must hold: a number lies in
``{from = a, below = b}`` (either may be missing), a word is one of ``["a", "b"]``, or a fact is ``true`` or ``false``.
A fact that nobody knows fails the entry that asks for it.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, Literal

from keepfast.findings import Finding

Points = tuple[tuple[float, float], ...]
Condition = tuple[Mapping[str, Any], ...]

NUMBERS = (
    "mass_g",
    "length_mm",
    "diameter_mm",
    "tail_mm",
    "tail_over_length",
    "head_width_mm",
    "head_over_length",
    "limb_diameter_mm",
    "temperature_c",
    "count",
)
WORDS = ("form", "sex", "stage", "reproductive_state", "gut", "condition", "tail_state", "genus")
TRUTHS = ("venomous", "approved_protocol", "has_limbs")


def read_points(label: str, where: str, raw: Any, *, rising: bool = False) -> tuple[Points, list[Finding]]:
    """Breakpoints as given in a file, with what is wrong with them; ``rising`` wants y never to fall."""
    problem = None
    points: Points = ()
    if not isinstance(raw, list) or not raw:
        problem = "a breakpoint table is a list of pairs, such as [[5, 0.3], [30, 2.0]]"
    elif not all(isinstance(p, list) and len(p) == 2 and all(_is_number(v) for v in p) for p in raw):
        problem = "every breakpoint is a pair of numbers"
    else:
        points = tuple((float(x), float(y)) for x, y in raw)
        if any(b[0] <= a[0] for a, b in pairwise(points)):
            problem = "the first numbers of the pairs must rise"
        elif any(y < 0 for _, y in points):
            problem = "no value may be below 0"
        elif rising and any(b[1] < a[1] for a, b in pairwise(points)):
            problem = "the second numbers of the pairs must never fall"
    if problem:
        return points, [Finding(problem, "Mend this table.", file=label, field=where, read=str(raw))]
    return points, []


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def value_at(points: Sequence[tuple[float, float]], x: float, ends: Literal["flat", "proportional"] = "flat") -> float:
    """The value of a breakpoint table at x."""
    first, last = points[0], points[-1]
    if x <= first[0]:
        return first[1] * x / first[0] if ends == "proportional" and first[0] > 0 else first[1]
    if x >= last[0]:
        return last[1] * x / last[0] if ends == "proportional" else last[1]
    k = bisect_right([p[0] for p in points], x)
    (x0, y0), (x1, y1) = points[k - 1], points[k]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


def step_at(points: Sequence[tuple[float, float]], x: float) -> float:
    """The value of the last breakpoint at or below x (the first one below them all): for gauges and classes."""
    k = bisect_right([p[0] for p in points], x)
    return points[max(k - 1, 0)][1]


def read_condition(label: str, where: str, raw: Any) -> tuple[Condition, list[Finding]]:
    """A condition as given in a file, with what is wrong with it."""
    if raw is None:
        return (), []
    if not isinstance(raw, list) or not all(isinstance(part, dict) for part in raw):
        return (), [
            Finding(
                "a condition is a list of alternatives",
                "Write it like: when = [{ mass_g = { from = 10 } }, { diameter_mm = { from = 15 } }]",
                file=label,
                field=where,
                read=str(raw),
            )
        ]
    found: list[Finding] = []
    for part in raw:
        for key, want in part.items():
            right = (
                (
                    key in NUMBERS
                    and isinstance(want, dict)
                    and want
                    and set(want) <= {"from", "below"}
                    and all(_is_number(v) for v in want.values())
                )
                or (key in WORDS and isinstance(want, list) and all(isinstance(w, str) for w in want))
                or (key in TRUTHS and isinstance(want, bool))
            )
            if not right:
                found.append(
                    Finding(
                        f"{key!r} cannot be asked like this",
                        f"Numbers ({', '.join(NUMBERS)}) take {{ from = .., below = .. }}; words ({', '.join(WORDS)})"
                        f" take a list; facts ({', '.join(TRUTHS)}) take true or false.",
                        file=label,
                        field=where,
                        read=str(want),
                    )
                )
    return tuple(raw), found


def holds(condition: Condition, facts: Mapping[str, Any]) -> bool:
    """Whether any alternative holds; no alternatives means always."""
    return not condition or any(_all_hold(part, facts) for part in condition)


def _all_hold(part: Mapping[str, Any], facts: Mapping[str, Any]) -> bool:
    for key, want in part.items():
        have = facts.get(key)
        if have is None:
            return False
        if isinstance(want, dict):
            if not (want.get("from", float("-inf")) <= have < want.get("below", float("inf"))):
                return False
        elif isinstance(want, list):
            if have not in want:
                return False
        elif have is not want:
            return False
    return True
