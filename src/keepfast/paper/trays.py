"""A tray drawn as it lies: each animal as its posed outline, at its place, with its number."""

from __future__ import annotations

from collections.abc import Mapping

from keepfast.paper import figures, shapes
from keepfast.paper import type as type_
from keepfast.paper.page import FINE, FIRM, HEAVY, Page, Point
from keepfast.plan.objects import AnimalPlan, Tray, TrayPlace
from keepfast.words import _

_HEAD_MM = 6.0
_SCALES = (1.0, 1 / 2, 1 / 3, 1 / 4, 1 / 5, 1 / 6, 1 / 8, 1 / 10, 1 / 15, 1 / 20)


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
    for number in tray.field_numbers:
        plan = plans[number]
        if plan.place is None:
            continue
        place = plan.place
        x = left + place.x_mm * scale
        y = top + high - (place.y_mm + place.height_mm) * scale
        for outline in _laid(plan, place):
            page.polygon([(x + a * scale, y + b * scale) for a, b in outline], width_mm=FIRM, fill=0)
        _name(page, number, place, x, y, scale)
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


def _name(page: Page, number: str, place: TrayPlace, x: float, y: float, scale: float) -> None:
    """The field number on the animal, lying or standing; where it has no room, the ring of its place instead."""
    wide, high = place.width_mm * scale, place.height_mm * scale
    middle_x, middle_y = x + wide / 2, y + high / 2
    # A number that the typeface cannot write is left to the ring; the papers say so with its card.
    ways = ((0.0, wide, high), (-90.0, high, wide)) if not type_.missing(number, "bold") else ()
    for turn, room, across in ways:
        size = type_.largest_pt(number, room - 2.0, "bold", 12.0, 7.5)
        if size is None or type_.cap_mm(size) + 1.2 > across:
            continue
        half, cap = type_.width_mm(number, size, "bold") / 2 + 0.7, type_.cap_mm(size, "bold")
        if turn:
            page.box(middle_x - cap / 2 - 0.6, middle_y - half, cap + 1.2, 2 * half, width_mm=0, fill=0)
            page.text(
                middle_x + cap / 2, middle_y, number, size_pt=size, face="bold", anchor="middle", turn=turn,
                field="field number",
            )  # fmt: skip
        else:
            page.box(middle_x - half, middle_y - cap / 2 - 0.6, 2 * half, cap + 1.2, width_mm=0, fill=0)
            page.text(
                middle_x, middle_y + cap / 2, number, size_pt=size, face="bold", anchor="middle", field="field number"
            )
        return
    words = f"{place.place}"
    radius = 1.9
    centre_x = min(max(middle_x, radius + 0.4), page.width_mm - radius - 0.4)
    page.ring(centre_x, middle_y, radius, width_mm=FINE, fill=0)
    page.text(
        centre_x, middle_y + type_.cap_mm(7.5, "bold") / 2, words, size_pt=7.5, face="bold", anchor="middle",
        field="place",
    )  # fmt: skip
