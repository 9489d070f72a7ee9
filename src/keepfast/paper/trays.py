"""A tray drawn as it lies: each animal as its posed outline, with its place in the tray and its number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from keepfast.paper import figures, shapes
from keepfast.paper import type as type_
from keepfast.paper.page import FINE, FIRM, HEAVY, THIN, Page, Point
from keepfast.plan.objects import AnimalPlan, Tray, TrayPlace
from keepfast.words import _

_HEAD_MM = 6.0
_SCALES = (1.0, 1 / 2, 1 / 3, 1 / 4, 1 / 5, 1 / 6, 1 / 8, 1 / 10, 1 / 15, 1 / 20)

_MOST_PT, _LEAST_PT = 12.0, 9.0

Box = tuple[float, float, float, float]  # left, top, right, bottom


@dataclass(frozen=True)
class _Lying:
    """What is written to an animal, and the box on paper that its outline fills."""

    place: str
    words: str
    box: Box


def fitting_scale(tray: Tray, width_mm: float, height_mm: float) -> float:
    """The largest usual scale at which the tray fits a room on paper."""
    for scale in _SCALES:
        if tray.width_mm * scale <= width_mm - 1.5 and tray.height_mm * scale <= height_mm - _HEAD_MM - 1.5:
            return scale
    return _SCALES[-1]


def draw(
    tray: Tray,
    plans: Mapping[str, AnimalPlan],
    *,
    width_mm: float = 90.0,
    height_mm: float = 70.0,
    scale: float | None = None,
    card: str = "",
) -> Page:
    """
    Draw a tray.

    Parameters
    ----------
    plans : mapping of str to AnimalPlan
        The animals by field number; those of this tray are drawn where their ``place`` says.

    Returns
    -------
    Page
        As large as the tray at its scale, with a line of words above.

    Raises
    ------
    PaperError
        If a number cannot be printed.
    """
    scale = scale if scale is not None else fitting_scale(tray, width_mm, height_mm)
    wide, high = tray.width_mm * scale, tray.height_mm * scale
    page = Page(max(wide + 1.5, 60.0), high + _HEAD_MM + 1.5, card=card, title=_("tray {n}").format(n=tray.number))
    page.text(0.5, 3.6, _("Tray {n}").format(n=tray.number), size_pt=11, face="bold", field="tray")
    page.text(
        page.width_mm - 0.5, 3.6,
        _("{w:.0f} x {h:.0f} mm, drawn {scale}").format(
            w=tray.width_mm, h=tray.height_mm, scale=figures.scale(scale)
        ),
        size_pt=9, anchor="end", field="tray",
    )  # fmt: skip
    left, top = 0.75, _HEAD_MM
    page.box(left, top, wide, high, width_mm=HEAVY)
    lying: list[_Lying] = []
    for number in tray.field_numbers:
        plan = plans[number]
        if plan.place is None:
            continue
        place = plan.place
        x = left + place.x_mm * scale
        y = top + high - (place.y_mm + place.height_mm) * scale
        outlines = [[(x + a * scale, y + b * scale) for a, b in outline] for outline in _laid(plan, place)]
        if plan.pose.key == "loose":
            # Its vial, lying or standing: what lies in it is small, and counts less than where it stands.
            page.box(x, y, place.width_mm * scale, place.height_mm * scale, width_mm=FINE)
            outlines.append([(x, y), (x + place.width_mm * scale, y + place.height_mm * scale)])
        else:
            for outline in outlines:
                page.polygon(outline, width_mm=FIRM, fill=0)
        # A number that the typeface cannot write, or too long for any map, is left to its place.
        words = f"{place.place}: {number}"
        if type_.missing(number, "bold") or type_.width_mm(words, _LEAST_PT, "bold") > 0.5 * wide:
            words = f"{place.place}"
        lying.append(_Lying(f"{place.place}", words.replace(" ", figures.NBSP), shapes.bounds(outlines)))
    _names(page, lying, (left + 0.6, top + 0.6, left + wide - 0.6, top + high - 0.6))
    return page


def _laid(plan: AnimalPlan, place: TrayPlace) -> list[list[Point]]:
    """The posed outline in the box of its place, limbs first so that the trunk covers their roots."""
    wide, high = place.width_mm, place.height_mm
    if place.turned:
        wide, high = high, wide
    shapes_ = shapes.posed(plan.body, plan.pose.key, wide, high)
    if place.turned:
        # A quarter turn to the right: the head, which lies left, comes to lie on top.
        shapes_ = [[(high - y, x) for x, y in outline] for outline in shapes_]
    return [*shapes_[1:], shapes_[0]]


def _names(page: Page, named: Sequence[_Lying], floor: Box) -> None:
    """Place and number of each animal: on it where it has the room, beside it with a leader where not."""
    taken = [one.box for one in named]
    for one in named:
        if not _on_it(page, one):
            taken.append(_beside(page, one, taken, floor))


def _on_it(page: Page, one: _Lying) -> bool:
    """The words in the middle of the animal, lying or standing, if they leave enough of it to be seen."""
    left, top, right, bottom = one.box
    middle_x, middle_y = (left + right) / 2, (top + bottom) / 2
    for turn, room, across in ((0.0, right - left, bottom - top), (-90.0, bottom - top, right - left)):
        size = type_.largest_pt(one.words, 0.6 * room, "bold", _MOST_PT, _LEAST_PT)
        if size is None or type_.cap_mm(size) + 1.2 > 0.45 * across:
            continue
        half, cap = type_.width_mm(one.words, size, "bold") / 2 + 0.7, type_.cap_mm(size, "bold")
        if turn:
            page.box(middle_x - cap / 2 - 0.6, middle_y - half, cap + 1.2, 2 * half, width_mm=0, fill=0)
            x, y = middle_x + cap / 2, middle_y
        else:
            page.box(middle_x - half, middle_y - cap / 2 - 0.6, 2 * half, cap + 1.2, width_mm=0, fill=0)
            x, y = middle_x, middle_y + cap / 2
        page.text(x, y, one.words, size_pt=size, face="bold", anchor="middle", turn=turn, field=_("field number"))
        return True
    return False


def _beside(page: Page, one: _Lying, taken: Sequence[Box], floor: Box) -> Box:
    """The words at the free spot nearest to the animal, or on it in a ring of its place where nothing is free."""
    half = type_.width_mm(one.words, _LEAST_PT, "bold") / 2 + 0.6
    tall = type_.cap_mm(_LEAST_PT, "bold") / 2 + 0.7
    left, top, right, bottom = one.box
    middle_x, middle_y = (left + right) / 2, (top + bottom) / 2
    spots = []
    for step in range(1, 24):
        away = 1.5 * step
        for x, y in (
            (middle_x, top - tall + 1.5 - away),
            (middle_x, bottom + tall - 1.5 + away),
            (right + half - 1.5 + away, middle_y),
            (left - half + 1.5 - away, middle_y),
            (left - away, top - away),
            (right + away, top - away),
            (left - away, bottom + away),
            (right + away, bottom + away),
        ):
            x = min(max(x, floor[0] + half), floor[2] - half)
            spots.append((x, min(max(y, floor[1] + tall), floor[3] - tall)))
    spots.sort(key=lambda spot: math.hypot(spot[0] - middle_x, spot[1] - middle_y))
    for x, y in spots:
        box = (x - half, y - tall, x + half, y + tall)
        if any(_touch(box, other) for other in taken):
            continue
        # From the edge of the words to the edge of the animal, so that it touches neither.
        end_x, end_y = min(max(x, left), right), min(max(y, top), bottom)
        start_x, start_y = min(max(end_x, box[0]), box[2]), min(max(end_y, box[1]), box[3])
        if math.hypot(end_x - start_x, end_y - start_y) > 1.0:
            page.line([(start_x, start_y), (end_x, end_y)], width_mm=THIN)
        page.text(
            x, y + type_.cap_mm(_LEAST_PT, "bold") / 2, one.words, size_pt=_LEAST_PT, face="bold", anchor="middle",
            field=_("field number"),
        )  # fmt: skip
        return box
    radius = 1.9
    x = min(max(middle_x, floor[0] + radius), floor[2] - radius)
    y = min(max(middle_y, floor[1] + radius), floor[3] - radius)
    page.ring(x, y, radius, width_mm=FINE, fill=0)
    page.text(
        x, y + type_.cap_mm(7.5, "bold") / 2, one.place, size_pt=7.5, face="bold", anchor="middle", field=_("place")
    )
    return (x - radius, y - radius, x + radius, y + radius)


def _touch(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
