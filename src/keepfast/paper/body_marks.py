"""What is to be done to a body as marks: where each stands on it, what it says, and where its words have room.

A label that is pushed far from its mark is read with the wrong one. So labels take as many rows as it needs to keep
each near its mark, every amount has its ring's number before it, and of pricks that lie close only some are numbered.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from keepfast.paper import figures, shapes
from keepfast.paper import type as type_
from keepfast.paper.charts import spread
from keepfast.plan.objects import Injection, Prick
from keepfast.science.body import Body
from keepfast.words import _

LABEL_PT = 9.0
PRICK_PT = 9.0
LIMBS = ("forelimb", "hindlimb")
MOST_WITH_UNIT = 14  # with more fillings than this the unit is said once, below the drawing
MOST_ROWS = 3  # more rows of labels than this, and leaders can no longer be followed
DRIFT_MM = 5.0  # a label further from its mark than this looks like its neighbour's: half the width of one
_LABEL_GAP, _PRICK_GAP = 1.6, 1.2
_SPARSER = (1, 2, 5, 10, 20, 50)


@dataclass(frozen=True)
class Mark:
    """Something at a place: where on the body (mm from the snout, mm to the side), and its words."""

    at_mm: float
    aside_mm: float
    number: int
    words: str
    side: str
    count: int = 1
    limb: bool = False
    bare: bool = False  # a dot without number and amount
    lead: str = ""  # what stands before the words: the number of the ring


def between(injections: Sequence[Injection], every: int) -> frozenset[int]:
    """Numbers of fillings that are only a dot, so that the many of a very long body still fit: those inside a run."""
    if every == 1:
        return frozenset()
    numbers = [one.number for one in injections]
    sites = {one.number: one.site for one in injections}
    return frozenset(
        number
        for number in numbers
        if number % every and sites.get(number - 1) == sites[number] == sites.get(number + 1)
    )


def of_injections(body: Body, injections: Sequence[Injection], bare: Collection[int]) -> list[Mark]:
    """A mark for each filling, two where it goes into both limbs; the first of them has the amount."""
    write = figures.ml if len(injections) <= MOST_WITH_UNIT else figures.plain_ml
    marks = []
    for filling in injections:
        sides = _sides(body, filling.site, filling.side, filling.number)
        for i, side in enumerate(sides):
            at, aside, is_limb = _place(body, filling.at_mm, filling.site, side)
            is_bare = filling.number in bare
            words = write(filling.volume_ml) if i == 0 and not is_bare else ""
            lead = f"{filling.number}:" if words and len(injections) > 1 else ""
            marks.append(Mark(at, aside, filling.number, words, side, limb=is_limb, bare=is_bare, lead=lead))
    return marks


def of_pricks(body: Body, pricks: Sequence[Prick]) -> list[Mark]:
    """A mark for each hole, two where both sides are pricked; the last of them has the number."""
    marks = []
    for prick in pricks:
        sides = _sides(body, prick.region, prick.side, prick.number)
        for side in sides:
            radius = shapes.radius_at(body, prick.at_mm)
            at, aside, is_limb = prick.at_mm, {"left": -radius, "right": radius}.get(side, 0.0), False
            if prick.region in LIMBS and shapes.has_limbs(body.form):
                _outline, _upper, (at, aside) = shapes.limb(
                    body, prick.region, "right" if side == "right" else "left", prick.at_mm
                )
                is_limb = True
            # The words hang below the body, so the lower tick of a pair carries them.
            words = f"P{prick.number}" if side == sides[-1] else ""
            if words and prick.count > 1:
                words = f"{words}\u00d7{prick.count}"
            marks.append(Mark(at, aside, prick.number, words, side, max(1, prick.count), is_limb))
    return marks


def _sides(body: Body, site: str, side: str, number: int) -> tuple[str, ...]:
    if side == "both" or (side not in ("left", "right") and site in LIMBS and shapes.has_limbs(body.form)):
        return ("left", "right")
    if side == "alternate":
        return ("left",) if number % 2 else ("right",)
    return (side,) if side in ("left", "right") else ("middle",)


def _place(body: Body, at_mm: float, site: str, side: str) -> tuple[float, float, bool]:
    """Where along and beside the axis a mark stands, and whether it stands in a limb."""
    if site in LIMBS and shapes.has_limbs(body.form):
        _outline, (x, y), _lower = shapes.limb(body, site, "right" if side == "right" else "left", at_mm)
        return x, y, True
    radius = shapes.radius_at(body, at_mm)
    return at_mm, {"left": -0.5, "right": 0.5}.get(side, 0.0) * radius, False


# The words


def vent() -> str:
    """What the vent is called on the drawing."""
    return _("vent")


def label_mm(mark: Mark) -> float:
    """How much room an amount with its ring's number takes."""
    lead = type_.width_mm(f"{mark.lead} ", LABEL_PT) if mark.lead else 0.0
    return lead + type_.width_mm(mark.words, LABEL_PT, "bold") + _LABEL_GAP


def prick_mm(words: str) -> float:
    """How much room the number of a prick takes."""
    return type_.width_mm(words, PRICK_PT) + _PRICK_GAP


def rows_for(wanted: Sequence[float], wide: Sequence[float], width_mm: float) -> tuple[int, float]:
    """How many rows keep labels near their marks, and how far the farthest still is; infinite if they do not fit."""
    if not wanted:
        return 0, 0.0
    best = (math.inf, 1)
    for rows in range(1, MOST_ROWS + 1):
        placed = side_by_side(wanted, wide, width_mm, rows)
        drift = max(abs(x - want) for (x, _level), want in zip(placed, wanted, strict=True))
        if any(x + w / 2 > width_mm + 0.01 for (x, _level), w in zip(placed, wide, strict=True)):
            drift = math.inf
        best = min(best, (drift, rows))
        if drift <= DRIFT_MM:
            break
    return best[1], best[0]


def side_by_side(wanted: Sequence[float], wide: Sequence[float], width_mm: float, rows: int) -> list[tuple[float, int]]:
    """A centre and a row for each label, in the order of the places, without touching."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed: list[tuple[float, int]] = [(0.0, 0)] * len(wanted)
    for level in range(max(rows, 1)):
        chosen = order[level :: max(rows, 1)]
        if not chosen:
            continue
        rooms = [wide[i] for i in chosen]
        xs = spread([wanted[i] for i in chosen], rooms, rooms[0] / 2, width_mm - rooms[-1] / 2)
        for i, x in zip(chosen, xs, strict=True):
            placed[i] = (x, level)
    return placed


def numbered(marks: Sequence[Mark], every: int) -> frozenset[int]:
    """Places in a row of pricks whose numbers are written: all, or each few and both ends where they lie in a run."""
    last = len(marks) - 1
    return frozenset(
        i
        for i, mark in enumerate(marks)
        if mark.words
        and (mark.number % every == 0 or mark.count > 1 or mark.limb or i in (0, last) or marks[i - 1].limb)
    )


def sparsest(
    marks: Sequence[Mark], xs: Sequence[float], others: Sequence[tuple[float, str]], width_mm: float
) -> tuple[frozenset[int], int]:
    """Which pricks carry their number so that all stand near their ticks, and in how many rows; ``others`` all do."""
    chosen: frozenset[int] = frozenset()
    rows = 0
    for every in _SPARSER:
        chosen = numbered(marks, every)
        wanted = [*(xs[i] for i in sorted(chosen)), *(x for x, _words in others)]
        wide = [*(prick_mm(marks[i].words) for i in sorted(chosen)), *(prick_mm(words) for _x, words in others)]
        rows, drift = rows_for(wanted, wide, width_mm)
        if drift <= DRIFT_MM and rows < MOST_ROWS:
            break
    return chosen, rows
