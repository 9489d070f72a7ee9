"""A body drawn for a screen that is read at two metres: the whole of it in one row, one place marked, large lettering.

The papers draw to scale with every site (``paper.bodies``); here only the next move is marked, and what is still to
come in its round is hinted at by dots. Same outlines, same rule beneath, same manner.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from keepfast.desk.table_plan import PlannedAnimal, PlannedTray
from keepfast.paper import shapes
from keepfast.paper.figures import plain_ml
from keepfast.paper.page import FINE, FIRM, HEAVY, SOLID, Anchor, Page, Point
from keepfast.paper.type import width_mm
from keepfast.plan.objects import Injection, Prick
from keepfast.science.body import Body
from keepfast.words import _

WIDTH_MM = 64.0
_EDGE_MM = 4.5
_LEAST_HALF_MM = 2.6  # a slender body is drawn no thinner than this, and the drawing says so
_MOST_HALF_MM = 13.0
_RING_MM = 3.2
_LABEL_PT = 16.0
_RULE_PT = 10.5
_DASH = (1.6, 1.0)
TRAY_WIDTH_MM = 120.0
_TRAY_PT = 15.0


class _Sheet:
    """Where a place of the body lies on the page."""

    def __init__(self, body: Body, reach_mm: float, above: float) -> None:
        self.body = body
        self.total = shapes.total_mm(body)
        self.scale = min((WIDTH_MM - 2 * _EDGE_MM) / self.total, _MOST_HALF_MM / reach_mm)
        widest = float(body.radius_mm.max()) * self.scale
        self.swell = max(1.0, _LEAST_HALF_MM / widest)
        self.half = reach_mm * self.scale * self.swell
        self.axis_y = above + self.half
        self.left = (WIDTH_MM - self.total * self.scale) / 2
        self.page = Page(WIDTH_MM, self.axis_y + self.half + 9.5, title=_("the body, head to the left"))

    def at(self, x_mm: float, y_mm: float) -> Point:
        return self.left + x_mm * self.scale, self.axis_y + y_mm * self.scale * self.swell


def draw(
    body: Body,
    *,
    pricks: Sequence[Prick] = (),
    injections: Sequence[Injection] = (),
    to_come: Sequence[float] = (),
    along: tuple[float, float] | None = None,
    label: str = "",
) -> Page:
    """
    Draw a body with the places of one move.

    Parameters
    ----------
    pricks, injections
        What this move does: ticks across the outline, numbered rings.
    to_come : sequence of float
        Places of the same round that come later. [mm from the snout]
    along : pair of float, optional
        The stretch that a long move runs along; it is hatched. [mm from the snout]
    label : str
        Words beside the first ring instead of its amount.

    Raises
    ------
    PaperError
        If a word does not fit, which would be a mistake here.
    """
    limbed = shapes.has_limbs(body.form) and len(body.limb_lengths_mm) == 2
    outlines = []
    if limbed:
        for which in ("forelimb", "hindlimb"):
            at_mm = next((i.at_mm for i in injections if i.site == which), None)
            outlines += [shapes.limb(body, which, side, at_mm)[0] for side in ("left", "right")]
    reach = max([float(body.radius_mm.max()), *(abs(y) for outline in outlines for _x, y in outline)])
    sheet = _Sheet(body, reach, 2 * _RING_MM + 3.0 if injections else 2.0)
    _outline(sheet, outlines)
    if along is not None:
        at, radius = shapes.profile(body, *along)
        upper = [sheet.at(float(x), -float(r)) for x, r in zip(at, radius, strict=True)]
        lower = [sheet.at(float(x), float(r)) for x, r in zip(at, radius, strict=True)]
        sheet.page.hatch([*upper, *reversed(lower)], spacing_mm=1.3)
    marked = {round(i.at_mm, 1) for i in injections}
    for at_mm in to_come:
        if round(at_mm, 1) not in marked:
            x, y = sheet.at(at_mm, 0.0)
            sheet.page.ring(x, y, 0.55, width_mm=0, fill=1)
    close = len(pricks) > 1 and abs(pricks[-1].at_mm - pricks[0].at_mm) / (len(pricks) - 1) * sheet.scale < 2.2
    for prick in pricks:
        _tick(sheet, prick, limbed, FINE if close else HEAVY)
    for place, one in enumerate(injections):
        _ring(sheet, one, limbed, label or plain_ml(one.volume_ml) if place == 0 else "")
    _rule(sheet)
    return sheet.page


def _outline(sheet: _Sheet, limbs: Sequence[Sequence[Point]]) -> None:
    body = sheet.body
    for outline in limbs:
        points = [sheet.at(*p) for p in outline]
        sheet.page.polygon([(min(max(x, 0.3), WIDTH_MM - 0.3), y) for x, y in points], width_mm=FINE)
    at, radius = shapes.profile(body, float(body.axis_mm[0]), sheet.total)
    upper = [sheet.at(float(x), -float(r)) for x, r in zip(at, radius, strict=True)]
    lower = [sheet.at(float(x), float(r)) for x, r in zip(at, radius, strict=True)]
    dash = SOLID if {"length_mm", "diameter_mm"} <= body.measured else _DASH
    sheet.page.polygon([*upper, *reversed(lower)], width_mm=HEAVY, dash=dash, fill=0)
    if body.tail_mm > 0:
        vent = shapes.radius_at(body, body.length_mm)
        sheet.page.line([sheet.at(body.length_mm, -vent), sheet.at(body.length_mm, vent)], width_mm=FINE)


def _place_of(sheet: _Sheet, at_mm: float, region: str, side: str, limbed: bool) -> Point:
    if limbed and region in ("forelimb", "hindlimb"):
        _drawn, middle, _lower = shapes.limb(sheet.body, region, "right" if side == "right" else "left", at_mm)
        return sheet.at(*middle)
    radius = shapes.radius_at(sheet.body, min(at_mm, sheet.total))
    return sheet.at(min(at_mm, sheet.total), {"left": -0.5, "right": 0.5}.get(side, 0.0) * radius)


def _tick(sheet: _Sheet, prick: Prick, limbed: bool, width_mm: float) -> None:
    sides = ("left", "right") if prick.region in ("forelimb", "hindlimb") and limbed else ("middle",)
    for side in sides:
        x, y = _place_of(sheet, prick.at_mm, prick.region, side, limbed)
        reach = 1.9
        if side == "middle":
            reach += abs(sheet.at(0, shapes.radius_at(sheet.body, min(prick.at_mm, sheet.total)))[1] - sheet.axis_y)
        sheet.page.line([(x, y - reach), (x, y + reach)], width_mm=width_mm)


def _ring(sheet: _Sheet, one: Injection, limbed: bool, label: str) -> None:
    page = sheet.page
    x, y = _place_of(sheet, one.at_mm, one.site, one.side, limbed)
    x = min(max(x, _RING_MM + 0.5), WIDTH_MM - _RING_MM - 0.5)
    page.ring(x, y, _RING_MM, width_mm=HEAVY, fill=1)
    # A disc with its number in the ground's colour is seen from further away than an empty ring.
    page.ring(x, y, _RING_MM - 0.75, width_mm=0, fill=0)
    page.text(x, y + 1.35, str(one.number), size_pt=10.5 if one.number < 100 else 8, face="bold", anchor="middle")
    if label:
        top = sheet.axis_y - (y - sheet.axis_y if y > sheet.axis_y else 0)
        base = 5.6
        page.line([(x, min(top, y) - _RING_MM), (x, base + 1.0)], width_mm=FIRM)
        wide = len(label) * 3.3 / 2 + 1
        page.text(
            min(max(x, wide), WIDTH_MM - wide), base, label, size_pt=_LABEL_PT, face="bold", anchor="middle",
            room_mm=WIDTH_MM, least_pt=9,
        )  # fmt: skip


def _rule(sheet: _Sheet) -> None:
    """Snout, vent and tip in millimetres of the animal: three figures are read, twenty are not."""
    page, body = sheet.page, sheet.body
    y = page.height_mm - 5.6
    ends = [0.0, body.length_mm, sheet.total] if body.tail_mm > 0 else [0.0, sheet.total]
    x_first, x_last = sheet.at(0.0, 0.0)[0], sheet.at(sheet.total, 0.0)[0]
    page.line([(x_first, y), (x_last, y)], width_mm=FIRM)
    for place, at_mm in enumerate(ends):
        x = sheet.at(at_mm, 0.0)[0]
        page.line([(x, y - 1.0), (x, y + 1.0)], width_mm=FIRM)
        if 0 < place < len(ends) - 1 and min(x - x_first, x_last - x) < 14.0:
            continue  # the tick alone shows the vent where there is no room for its figure
        anchor: Anchor = "start" if x < 4 else "end" if x > WIDTH_MM - 5 else "middle"
        page.text(
            min(max(x, 0.5), WIDTH_MM - 0.5), page.height_mm - 0.6, f"{at_mm:.0f}", size_pt=_RULE_PT, anchor=anchor
        )


def draw_tray(tray: PlannedTray, animals: Sequence[PlannedAnimal], laid: Collection[str]) -> Page:
    """A tray as it lies. Solid: who lies there. Dashed: whose place is still empty. Its number at each."""
    scale = TRAY_WIDTH_MM / max(tray.width_mm, tray.height_mm)
    wide, high = tray.width_mm * scale, tray.height_mm * scale
    page = Page(wide + 1.5, high + 1.5, title=_("tray {n}").format(n=tray.number))
    page.box(0.75, 0.75, wide, high, width_mm=HEAVY)
    for one in animals:
        place = one.raw.get("place")
        if not place:
            continue
        x = 0.75 + place["x_mm"] * scale
        y = 0.75 + high - (place["y_mm"] + place["height_mm"]) * scale
        dash = SOLID if one.number in laid else _DASH
        turned = bool(place["turned"])
        across, down = place["width_mm"], place["height_mm"]
        box = (down, across) if turned else (across, down)
        outlines = shapes.posed(one.body, one.raw["pose"]["key"], *box) if one.body is not None else []
        for outline in [*outlines[1:], *outlines[:1]]:
            points = [(across - b, a) for a, b in outline] if turned else outline
            page.polygon(
                [(x + a * scale, y + b * scale) for a, b in points],
                width_mm=FIRM if one.number in laid else FINE, dash=dash, fill=0,
            )  # fmt: skip
        _named(page, one.number, x + across * scale / 2, y + down * scale / 2)
    return page


def _named(page: Page, number: str, x: float, y: float) -> None:
    """A number in the middle of its place, on the ground's colour so that the outline does not cross it."""
    wide = width_mm(number, _TRAY_PT, "bold")
    x = min(max(x, wide / 2 + 1.5), page.width_mm - wide / 2 - 1.5)
    y = min(max(y, 3.0), page.height_mm - 2.0)
    left, top = x - wide / 2 - 0.5, y - 2.0
    page.polygon(
        [(left, top), (left + wide + 1, top), (left + wide + 1, top + 4.0), (left, top + 4.0)], width_mm=0, fill=0
    )
    page.text(x, y + 1.4, number, size_pt=_TRAY_PT, face="bold", anchor="middle")
