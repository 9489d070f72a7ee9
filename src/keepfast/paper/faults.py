"""Small pictures of common faults, drawn from the animal's own form: what is wrong is hatched or named.

They are not to scale; each is ``WIDE_MM`` by ``HIGH_MM``.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from keepfast.paper import shapes
from keepfast.paper import type as type_
from keepfast.paper.page import DASHED, DOTTED, FINE, FIRM, HEAVY, THIN, Page, Point
from keepfast.science.body import Body
from keepfast.words import _

WIDE_MM, HIGH_MM = 52.0, 24.0
_WORD_PT = 9.0
_MIDDLE = HIGH_MM / 2


def _trunk(
    body: Body, left: float = 3.0, long: float = 44.0, thick: float = 5.5
) -> Callable[[float], tuple[float, float]]:
    """Place and half width on paper at a share of the whole length: the animal's outline, stretched to be seen."""
    total = shapes.total_mm(body)
    most = float(np.max(body.radius_mm))

    def at(share: float) -> tuple[float, float]:
        return left + share * long, shapes.radius_at(body, share * total) / most * thick

    return at


def _sides(
    at: Callable[[float], tuple[float, float]],
    start: float = 0.0,
    end: float = 1.0,
    swell: float = 0.0,
    trunk: float = 1.0,
) -> tuple[list[Point], list[Point]]:
    upper, lower = [], []
    for share in np.linspace(start, end, 60):
        x, half = at(float(share))
        bump = swell * math.exp(-(((float(share) - 0.6 * trunk) / (0.2 * trunk)) ** 2))
        upper.append((x, _MIDDLE - half * (1 + bump)))
        lower.append((x, _MIDDLE + half * (1 + bump)))
    return upper, lower


def _outline(page: Page, upper: list[Point], lower: list[Point], **pen: object) -> None:
    page.polygon([*upper, *reversed(lower)], **pen)  # type: ignore[arg-type]


def _word(page: Page, x: float, y: float, words: str, anchor: str = "middle") -> None:
    page.text(x, y, words, size_pt=_WORD_PT, face="italic", anchor=anchor, field=_("faults"))  # type: ignore[arg-type]


def _swollen(page: Page, body: Body) -> None:
    at = _trunk(body, thick=4.2)
    share = body.length_mm / shapes.total_mm(body)
    upper, lower = _sides(at, swell=0.75, trunk=share)
    _outline(page, [(x, y + 2.4) for x, y in upper], [(x, y + 2.4) for x, y in lower], width_mm=FINE, dash=DASHED)
    upper, lower = _sides(at)
    _outline(page, [(x, y + 2.4) for x, y in upper], [(x, y + 2.4) for x, y in lower], width_mm=FIRM, fill=0)
    _word(page, 4, 3.4, _("dashed: too much"), "start")


def _hind_end_left(page: Page, body: Body) -> None:
    at = _trunk(body)
    share = body.length_mm / shapes.total_mm(body)
    _outline(page, *_sides(at), width_mm=FIRM)
    upper, lower = _sides(at, 0.68 * share, 0.99 * share)
    page.hatch([*upper, *reversed(lower)], spacing_mm=1.0)
    x, _half = at(0.35 * share)
    page.ring(x, _MIDDLE, 2.4, width_mm=FIRM, fill=0)
    page.text(x, _MIDDLE + type_.cap_mm(9, "bold") / 2, "1", size_pt=9, face="bold", anchor="middle")
    _word(page, at(0.84 * share)[0], 3.4, _("rots first"))


def _too_deep(page: Page, body: Body) -> None:
    for centre, deep, words in ((13.0, False, _("right")), (37.0, True, _("too deep"))):
        page.ring(centre, 14.0, 8.5, width_mm=FIRM)
        page.ring(centre, 14.0, 5.6, width_mm=THIN)
        page.ring(centre + 1.0, 15.6, 2.2, width_mm=FIRM)
        tip = (centre + 1.2, 15.8) if deep else (centre - 3.8, 11.6)
        page.line([(centre - 12.0, 6.6), tip], width_mm=HEAVY if deep else FIRM)
        page.ring(*tip, 0.6, width_mm=0, fill=1)
        _word(page, centre + 2, 3.4, words)


def _limb_forgotten(page: Page, body: Body) -> None:
    outlines = shapes.posed(body, "straight", WIDE_MM - 4, HIGH_MM - 3)
    for outline in outlines[1:]:
        page.polygon([(x + 2, y + 1.5) for x, y in outline], width_mm=FINE, fill=0)
    page.polygon([(x + 2, y + 1.5) for x, y in outlines[0]], width_mm=FIRM, fill=0)
    page.hatch([(x + 2, y + 1.5) for x, y in outlines[-1]], spacing_mm=0.8, width_mm=FINE)
    right = max(x for x, _y in outlines[-1]) + 2
    bottom = max(y for _x, y in outlines[-1]) + 1.5
    _word(page, min(right + 1.5, 34.0), min(bottom, HIGH_MM - 1), _("limp"), "start")


def _tail_projects(page: Page, body: Body) -> None:
    page.line([(2, 2), (34, 2), (34, 22), (2, 22)], width_mm=HEAVY)
    at = _trunk(body, left=4.0, long=45.0, thick=4.0)
    share = body.length_mm / shapes.total_mm(body)
    upper, lower = _sides(at)
    _outline(page, upper, lower, width_mm=FIRM)
    cut = [(x, y) for x, y in [*upper, *reversed(lower)] if x >= 34.4]
    if len(cut) > 2:
        page.hatch(cut, spacing_mm=0.8)
    x, _half = at(min(share, 0.62))
    page.line(
        [(x, _MIDDLE + 2.5), (x + 2.5, _MIDDLE + 5.5), (x, _MIDDLE + 8), (7, _MIDDLE + 8)], width_mm=FIRM, dash=DASHED
    )
    _word(page, 36, 6.0, _("snaps"), "start")


def _kink(page: Page, body: Body) -> None:
    arc = [(12 + 8 * math.cos(a), 20 + 14 * math.sin(a)) for a in np.linspace(-math.pi, 0.0, 30)]
    page.polygon(shapes.ribbon(arc, [1.8] * len(arc)), width_mm=FIRM)
    bent = [(30.0, 20.0), (34.0, 11.0), (35.5, 8.2), (37.0, 11.0), (44.0, 20.0)]
    page.polygon(shapes.ribbon(bent, [1.8, 1.8, 1.3, 1.8, 1.8]), width_mm=FIRM)
    page.ring(35.5, 8.5, 4.2, width_mm=FINE)
    _word(page, 12, 23, _("right"))
    _word(page, 41, 8, _("kink"), "start")


def _sheet_off(page: Page, body: Body) -> None:
    page.line([(2, 20), (50, 20)], width_mm=HEAVY)
    for centre, off in ((13.0, False), (38.0, True)):
        body_points = [(centre + 7 * math.cos(a), 20 - 9 * math.sin(a)) for a in np.linspace(0, math.pi, 30)]
        page.polygon(body_points, width_mm=FINE)
        if off:
            sheet = [(centre - 11, 19.4), (centre - 9, 12), (centre, 8.5), (centre + 9, 12), (centre + 11, 19.4)]
            page.hatch([*sheet, *body_points], spacing_mm=0.9)
        else:
            sheet = [(centre - 11, 19.4), (centre - 7.8, 19.0)] + [
                (centre + 7.8 * math.cos(a), 19.6 - 10 * math.sin(a)) for a in np.linspace(math.pi - 0.1, 0.1, 20)
            ]
            sheet += [(centre + 7.8, 19.0), (centre + 11, 19.4)]
        page.line(sheet, width_mm=HEAVY)
    _word(page, 13, 5.5, _("touches"))
    _word(page, 38, 5.5, _("dry inside"))


def _tag(page: Page, x: float, y: float) -> None:
    page.box(x, y, 7, 4, width_mm=FIRM, fill=0)
    page.ring(x + 1.3, y + 2, 0.5, width_mm=FINE)


def _tag_slips(page: Page, body: Body) -> None:
    for left, above, words in ((4.0, True, _("holds")), (29.0, False, _("slips off"))):
        leg = [(left, 4.0), (left + 5, 9.0), (left + 7, 12.0), (left + 4.5, 16.5), (left + 1, 21.5)]
        page.polygon(shapes.ribbon(leg, [2.6, 2.2, 1.9, 1.3, 0.9]), width_mm=FIRM)
        x, y, half = (left + 4.4, 8.3, 2.6) if above else (left + 2.6, 19.2, 1.6)
        page.line([(x - half, y + half * 0.7), (x + half, y - half * 0.7)], width_mm=HEAVY)
        page.line([(x + half, y - half * 0.7), (left + 12, y - 2)], width_mm=FINE)
        _tag(page, left + 12, y - 4)
        _word(page, left + 9.5, 23, words, "start")


def _tag_slides(page: Page, body: Body) -> None:
    at = _trunk(body, thick=3.4)
    _outline(page, *_sides(at), width_mm=FIRM)
    for share, up, words in ((0.33, True, _("holds")), (0.9, False, _("slides off"))):
        x, half = at(share)
        page.line([(x, _MIDDLE - half - 0.3), (x, _MIDDLE + half + 0.3)], width_mm=HEAVY)
        y = 3.0 if up else 17.5
        page.line([(x, _MIDDLE - half if up else _MIDDLE + half), (x, y + 2)], width_mm=FINE)
        _tag(page, min(x, WIDE_MM - 8), y)
        if up:
            _word(page, x + 9, y + 3.5, words, "start")
        else:
            _word(page, x - 2, y + 3.5, words, "end")


def _tied(page: Page, body: Body) -> None:
    page.line([(4, 3), (4, 21), (18, 21), (18, 3)], width_mm=FIRM)
    page.line([(4, 6), (18, 6)], width_mm=THIN, dash=DOTTED)
    page.ring(9.5, 16.5, 3.2, width_mm=FINE)
    _tag(page, 9.5, 8.5)
    pinched = [(28.0, 12.0), (32.0, 12.0), (36.0, 12.0), (40.0, 12.0), (44.0, 12.0)]
    page.polygon(shapes.ribbon(pinched, [1.0, 4.2, 1.3, 4.2, 1.0]), width_mm=FIRM)
    page.line([(36, 9.2), (36, 14.8)], width_mm=HEAVY)
    _word(page, 20, 5.6, _("loose"), "start")
    _word(page, 36, 21.5, _("cuts"))


_PICTURES: dict[str, Callable[[Page, Body], None]] = {
    "swollen": _swollen,
    "hind_end_left": _hind_end_left,
    "too_deep": _too_deep,
    "limb_forgotten": _limb_forgotten,
    "tail_projects": _tail_projects,
    "kink": _kink,
    "sheet_off": _sheet_off,
    "tag_slips": _tag_slips,
    "tag_slides": _tag_slides,
    "tied": _tied,
}
PICTURES: tuple[str, ...] = tuple(_PICTURES)


def draw(picture: str, body: Body, card: str = "") -> Page | None:
    """One picture, or None where there is none of this name."""
    if picture not in _PICTURES:
        return None
    page = Page(WIDE_MM, HIGH_MM, card=card, title=picture)
    _PICTURES[picture](page, body)
    return page
