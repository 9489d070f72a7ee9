"""Pictures of the race: hours in hand by region, a section of the body at chosen hours, and fronts against time.

Grey is only ever a help: every state is also told by a line's dashes and by words, so a photocopy loses nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from keepfast.paper import charts, svg
from keepfast.paper import type as type_
from keepfast.paper.page import DASHED, DOTTED, FINE, FIRM, HEAVY, SOLID, THIN, Page, Point
from keepfast.plan.race_scene import Scene
from keepfast.plan.race_verdict import Band, margin_words
from keepfast.words import _

LEVELS = ((0.1, DOTTED, THIN), (0.5, DASHED, FINE), (0.9, SOLID, FIRM))
DARKEST = 0.55  # share of black of what is full: lines and words must stay readable on it
SHADES = 16
ARC = 48
ROW_MM = 7.0
MARGIN_HORIZON_H = 48.0  # beyond this on either side a margin only gets an arrow


def margins(race: Mapping[str, Any], *, width_mm: float = 150.0, size_pt: float = 9.0, card: str = "") -> Page:
    """
    Hours in hand by region: the median as a tick, its band as a line, what is lost to the left of the heavy line.

    Parameters
    ----------
    race : mapping
        ``AnimalVerdict.as_dict()``, as a plan keeps it under ``extra["race"]``.
    width_mm : float
        Width of the drawing; its height follows the number of regions.

    Raises
    ------
    PaperError
        If the words do not fit.
    """
    regions = race["regions"]
    names = [_(r["name"]) for r in regions]
    said = [_(r["says"]) for r in regions]
    name_mm = max(type_.width_mm(n, size_pt, "bold") for n in names) + 3
    said_mm = max(type_.width_mm(s, size_pt) for s in said) + 3
    top, foot = 9.0, 13.0
    page = Page(width_mm, top + ROW_MM * len(regions) + foot, card=card or str(race["field_number"]))
    left, right = name_mm, width_mm - said_mm - 2
    ends = [v for r in regions for v in (r["margin_h"]["low"], r["margin_h"]["high"]) if v is not None]
    low: float = max(min([-6.0, *ends]), -MARGIN_HORIZON_H)
    high: float = min(max([6.0, *ends]), MARGIN_HORIZON_H)

    def at(hours: float) -> float:
        return left + (right - left) * (min(max(hours, low), high) - low) / (high - low)

    page.name(
        0, 5, str(race["field_number"]), size_pt=size_pt + 3, least_pt=7.0, field="field number", room_mm=width_mm
    )
    bottom = top + ROW_MM * len(regions)
    page.line([(at(0), top - 1), (at(0), bottom + 1)], width_mm=HEAVY)
    for k, region in enumerate(regions):
        y = top + ROW_MM * (k + 0.5)
        face: Any = "bold" if k == 0 else "regular"
        page.text(0, y + 1.2, names[k], size_pt=size_pt, face=face, field="region", room_mm=name_mm)
        _margin(page, region["margin_h"], y, at, low, high)
        page.text(
            width_mm - said_mm + 1, y + 1.2, said[k], size_pt=size_pt, face=face, field="verdict", room_mm=said_mm
        )
    for tick in charts.ticks(low, high, 7):
        page.line([(at(tick), bottom + 1), (at(tick), bottom + 2.2)], width_mm=THIN)
        page.text(at(tick), bottom + 5.6, charts.number(tick), size_pt=size_pt - 1, anchor="middle", field="hours")
    words = _("hours in hand between fixed and spoilt; left of the heavy line it is lost")
    page.text(left, bottom + 10.6, words, size_pt=size_pt - 1, field="axis", room_mm=width_mm - left, least_pt=6.0)
    return page


def _margin(page: Page, band: Mapping[str, Any], y: float, at: Any, low: float, high: float) -> None:
    start = low if band["low"] is None else max(band["low"], low)
    end = low if band["high"] is None else min(band["high"], high)
    page.line([(at(start), y), (at(end), y)], width_mm=FIRM)
    if band["low"] is None or band["low"] < low:
        page.line([(at(low) + 2, y - 1.2), (at(low), y), (at(low) + 2, y + 1.2)], width_mm=FINE)
    if band["high"] is not None and band["high"] > high:
        page.line([(at(high) - 2, y - 1.2), (at(high), y), (at(high) - 2, y + 1.2)], width_mm=FINE)
    if band["median"] is not None and low <= band["median"] <= high:
        page.line([(at(band["median"]), y - 2.2), (at(band["median"]), y + 2.2)], width_mm=HEAVY)


def section(scene: Scene, *, width_mm: float = 170.0, size_pt: float = 9.0, card: str = "") -> Page:
    """
    The section at chosen hours, free formaldehyde in its left half and bound in its right, to one scale.

    Raises
    ------
    PaperError
        If the words do not fit.
    """
    count = len(scene.hours)
    radius = scene.radius_mm[-1]
    room = width_mm / count
    size = min(room / 2 - 3, 24.0)
    # Life size where it fits, otherwise a round enlargement or reduction.
    scale = _round_scale(size / radius)
    drawn = radius * scale
    top = 15.0
    height = top + 2 * drawn + 35
    page = Page(width_mm, height, card=card or scene.field_number)
    page.name(0, 5, scene.field_number, size_pt=size_pt + 3, least_pt=7.0, field="field number", room_mm=60)
    title = _("{region}: {says}").format(region=_(scene.name).capitalize(), says=_(scene.says))
    page.text(width_mm, 5, title, size_pt=size_pt, anchor="end", field="title", room_mm=width_mm - 62)
    for k, hours in enumerate(scene.hours):
        x, y = room * (k + 0.5), top + drawn
        _half(page, x, y, scene.radius_mm, scene.free[k], scale, -1)
        _half(page, x, y, scene.radius_mm, scene.bound[k], scale, 1)
        for name in ("core", "fluid", "wall"):
            if name == "core" or scene.filled or name == "wall":
                page.ring(x, y, scene.edges_mm[name] * scale, width_mm=THIN)
        page.ring(x, y, drawn, width_mm=FIRM)
        page.line([(x, y - drawn), (x, y + drawn)], width_mm=FINE)
        words = _("{hours:g} h").format(hours=hours)
        page.text(x, top - 3, words, size_pt=size_pt + 1, face="bold", anchor="middle", field="hours")
        page.text(x - 1, y + drawn + 4.5, _("free"), size_pt=size_pt - 1, anchor="end", field="half")
        page.text(x + 1, y + drawn + 4.5, _("bound"), size_pt=size_pt - 1, field="half")
    _scale_rule(page, 0, top + 2 * drawn + 13, scale, size_pt)
    _key(page, 52, top + 2 * drawn + 13, width_mm - 52, size_pt)
    if scene.filled:
        inner = _("Inner rings: the middle (gut, gonad or bone) and the fluid round it; outer: wall and skin.")
    else:
        inner = _("Rings: the middle, wall and skin; nothing was put in here.")
    page.text(0, height - 8, inner, size_pt=size_pt - 1, field="rings", room_mm=width_mm, least_pt=6.5)
    tray = _("In the tray all the time; what a bath brings later is not drawn. The darker, the more.")
    page.text(0, height - 3, tray, size_pt=size_pt - 1, field="tray", room_mm=width_mm, least_pt=6.5)
    return page


def _round_scale(most: float) -> float:
    return max((0.2, *(s for s in (0.25, 0.33, 0.5, 0.67, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0) if s <= most)))


def _half(
    page: Page, x: float, y: float, radii: Sequence[float], values: Sequence[float], scale: float, side: int
) -> None:
    """One half of a section: rings of grey, and a line at each level."""
    outer = radii[-1] * scale
    for n in range(SHADES):
        inner, edge = radii[-1] * n / SHADES, radii[-1] * (n + 1) / SHADES
        share = round(DARKEST * min(max(_at(radii, values, 0.5 * (inner + edge)), 0.0), 1.0), 3)
        band = _arc(x, y, edge * scale, side) + _arc(x, y, inner * scale, side)[::-1]
        page.polygon(band, width_mm=0, fill=share)
    for level, dash, width in LEVELS:
        for crossing in _crossings(radii, values, level):
            if 0.2 < crossing * scale < outer - 0.1:
                page.line(_arc(x, y, crossing * scale, side), width_mm=width, dash=dash)


def _at(radii: Sequence[float], values: Sequence[float], place: float) -> float:
    for i in range(len(radii) - 1):
        if radii[i] <= place <= radii[i + 1]:
            span = radii[i + 1] - radii[i]
            return values[i] + (values[i + 1] - values[i]) * ((place - radii[i]) / span if span > 0 else 0.0)
    return values[-1]


def _crossings(radii: Sequence[float], values: Sequence[float], level: float) -> list[float]:
    found = []
    for i in range(len(radii) - 1):
        a, b = values[i] - level, values[i + 1] - level
        if a * b < 0:
            found.append(radii[i] + (radii[i + 1] - radii[i]) * a / (a - b))
    return found


def _arc(x: float, y: float, r: float, side: int) -> list[Point]:
    return [(x + side * r * math.sin(math.pi * i / ARC), y - r * math.cos(math.pi * i / ARC)) for i in range(ARC + 1)]


def _scale_rule(page: Page, x: float, y: float, scale: float, size_pt: float) -> None:
    mm = next((m for m in (50, 20, 10, 5, 2, 1) if 8 <= m * scale <= 40), 10)
    page.line([(x, y - 1.2), (x, y), (x + mm * scale, y), (x + mm * scale, y - 1.2)], width_mm=FINE)
    words = _("{mm} mm").format(mm=mm) if scale != 1 else _("{mm} mm, life size").format(mm=mm)
    page.text(x, y + 4, words, size_pt=size_pt - 1, field="scale")


def _key(page: Page, x: float, y: float, room: float, size_pt: float) -> None:
    words = (_("a tenth"), _("one half"), _("nine tenths"))
    step = room / 3
    for k, ((_level, dash, width), said) in enumerate(zip(LEVELS, words, strict=True)):
        page.line([(x + k * step, y), (x + k * step + 12, y)], width_mm=width, dash=dash)
        page.text(x + k * step + 13.5, y + 1.1, said, size_pt=size_pt - 1, field="key", room_mm=step - 14)


def fronts(scene: Scene, *, width_mm: float = 170.0, panel_mm: float = 62.0, size_pt: float = 9.0) -> Page:
    """
    Depth below the skin of the three fronts against time, one under the other, each with its band.

    Raises
    ------
    PaperError
        If the words do not fit.
    """
    words = {
        "free_tenth_mm": _("free, a tenth of bath strength"),
        "bound_half_mm": _("bound, one half"),
        "bound_nine_tenths_mm": _("bound, nine tenths"),
    }
    radius = scene.radius_mm[-1]
    head = 9.0
    page = Page(width_mm, head + panel_mm * len(scene.fronts), card=scene.field_number)
    title = _("{number}, {region}: how deep from the skin").format(number=scene.field_number, region=_(scene.name))
    page.text(0, 5, title, size_pt=size_pt + 2, face="bold", field="title", room_mm=width_mm)
    for k, front in enumerate(scene.fronts):
        panel = charts.draw(
            width_mm=width_mm,
            height_mm=panel_mm - 5.0,
            title=words[front.mark].capitalize(),
            x_label=_("hours since filling"),
            y_label=_("mm below the skin"),
            lines=[charts.Line(scene.series_h, front.median, _("middle of the draws"), SOLID)],
            bands=[charts.Band(scene.series_h, front.low, front.high, _("5 to 95 %"))],
            thresholds=[charts.Threshold(radius, _("the middle, {mm:.0f} mm").format(mm=radius))],
            moments=[charts.Moment(scene.practice_h, _("practice: {hours:g} h").format(hours=scene.practice_h))],
            y_range=(0.0, 1.12 * radius),
            size_pt=size_pt,
            card=scene.field_number,
        )
        page.place(panel, 0, head + panel_mm * k)
    return page


def margins_svg(race: Mapping[str, Any]) -> str:
    """``margins`` as SVG."""
    return svg.render(margins(race))


def section_svg(scene: Scene) -> str:
    """``section`` as SVG."""
    return svg.render(section(scene))


def fronts_svg(scene: Scene) -> str:
    """``fronts`` as SVG."""
    return svg.render(fronts(scene))


def weakest_words(race: Mapping[str, Any]) -> str:
    """The weakest region in a line, for a place too small for the picture."""
    weak = race["regions"][0]
    return _("{region}: {says}, {margin}").format(
        region=_(weak["name"]).capitalize(), says=_(weak["says"]), margin=margin_words(Band(**weak["margin_h"]))
    )
