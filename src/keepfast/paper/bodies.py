"""A body drawn to scale from its computed profile, with what is to be done to it at its place.

Seen from below, head to the left, a millimetre rule beneath. A prick is a short tick across the outline; a filling is a
numbered ring at its place, with its number and amount above; the region that leads the risk is hatched. What was
measured is drawn solid, what is estimated dashed. Long bodies are cut into rows that follow one another like lines of a
text; the rule runs on. Drawn 1:1 where that fits.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from keepfast.paper import body_marks as marks
from keepfast.paper import figures, shapes
from keepfast.paper import type as type_
from keepfast.paper.body_marks import LABEL_PT, LIMBS, PRICK_PT, Mark
from keepfast.paper.charts import spread
from keepfast.paper.page import DASHED, DOTTED, FINE, FIRM, SOLID, THIN, Page, Point
from keepfast.paper.type import Face, PaperError
from keepfast.plan.objects import Injection, Prick
from keepfast.science.body import Body
from keepfast.words import _

SCALES = (1.0, 1 / 2, 1 / 3, 1 / 4, 1 / 5, 1 / 10, 1 / 15, 1 / 20, 1 / 30, 1 / 50)
ENLARGED = (5.0, 4.0, 3.0, 2.0)
LEAST_MARKED_MM = 45.0  # a body with marks that is shorter is enlarged, with its life-size outline beside it
LEAST_BARE_MM = 15.0  # the same for one without marks
RING_MM = 2.4
RULE_PT = 9.0
_EDGE = 4.0  # room left and right of the body, so that a ring at the snout stays on the page


_At = Callable[[float, float], Point]


class DoesNotFitError(PaperError):
    """No scale lets a body and its marks fit their room."""


@dataclass(frozen=True)
class Region:
    """A stretch of the body to hatch, with the words that say why."""

    start_mm: float
    end_mm: float
    words: str


@dataclass(frozen=True)
class Sketch:
    """The drawing with its scale, which must be printed beside it."""

    page: Page
    scale: float
    rows: int
    notes: tuple[str, ...]  # what must be said beside the drawing, in full sentences

    @property
    def scale_words(self) -> str:
        """1:1, 1:2, 2:1."""
        return figures.scale(self.scale)


def draw(
    body: Body,
    *,
    width_mm: float = 180.0,
    height_mm: float = 100.0,
    pricks: Sequence[Prick] = (),
    injections: Sequence[Injection] = (),
    regions: Sequence[Region] = (),
    scale: float | None = None,
    card: str = "",
) -> Sketch:
    """
    Draw a body.

    Parameters
    ----------
    width_mm, height_mm : float
        The room on paper; the drawing is as wide as this and no higher than it needs.
    scale : float, optional
        One scale to use; otherwise 1:1 if it fits, the next smaller one that does if not, and larger for the tiny.

    Raises
    ------
    DoesNotFitError
        If no scale lets it fit.
    """
    ladder = (scale,) if scale is not None else _ladder(body, width_mm, bool(pricks or injections))
    for most, every in _WAYS:
        bare = marks.between(injections, every)
        for candidate in ladder:
            rows = _rows(body, candidate, width_mm, height_mm, pricks, injections, bare)
            if rows and max(_crowding(row, width_mm) for row in rows) <= most:
                return _drawn(body, candidate, rows, width_mm, sum(row.high for row in rows), regions, card)
    raise DoesNotFitError(
        card,
        _("drawing of the body"),
        _("the body does not fit {w:.0f} x {h:.0f} mm at {scale}").format(
            w=width_mm, h=height_mm, scale=figures.scale(ladder[-1])
        ),
        _("Check its length; if it is right, print on a larger sheet."),
    )


def _ladder(body: Body, width_mm: float, marked: bool) -> tuple[float, ...]:
    """Scales to try, the best first: life size, unless the marks would lie on top of each other in so small a body."""
    total = shapes.total_mm(body)
    if total >= (LEAST_MARKED_MM if marked else LEAST_BARE_MM):
        return SCALES
    room = width_mm - 2 * _EDGE - total - 12
    larger = tuple(s for s in ENLARGED if s * total <= min(room, 2.5 * LEAST_MARKED_MM))
    return (*larger, *SCALES)


# The rows


@dataclass(frozen=True)
class _Row:
    """One stretch of the body and the heights of what lies above and below its axis. [mm on paper]"""

    start_mm: float
    end_mm: float
    limbs: tuple[tuple[str, float | None], ...]
    fillings: tuple[Mark, ...]
    pricks: tuple[Mark, ...]
    label_rows: int
    drift: float  # how far the farthest amount stands from its ring
    above: float
    below: float
    prick_rows: int
    numbered: frozenset[int]  # places in ``pricks`` whose number is written
    vent_at: float | None
    edge: float  # room left of the row's start

    @property
    def axis_at(self) -> float:
        return self.label_rows * _LABEL_ROW + 1.0 + self.above

    @property
    def rule_at(self) -> float:
        return self.axis_at + self.below + 1.2 + self.prick_rows * _PRICK_ROW

    @property
    def high(self) -> float:
        return self.rule_at + 7.6


_LABEL_ROW = 4.4
_PRICK_ROW = 4.2


def _limb_roots(pricks: Sequence[Prick], injections: Sequence[Injection]) -> dict[str, float]:
    roots = {p.region: p.at_mm for p in pricks if p.region in LIMBS}
    roots.update({i.site: i.at_mm for i in injections if i.site in LIMBS})
    return roots


_MOST_ROWS = 40
_FAR_MM = 2 * marks.DRIFT_MM  # amounts further from their rings than this ask for one more row of the body
# What is tried in turn: how far an amount may stand from its ring, and every how many fillings of a long run is a ring,
# the others being dots. Crowded amounts come last: they can still be read by their numbers.
_WAYS = ((_FAR_MM, 1), (_FAR_MM, 5), (_FAR_MM, 20), (10 * _FAR_MM, 1), (10 * _FAR_MM, 5), (math.inf, 20))


def _rows(
    body: Body,
    scale: float,
    width_mm: float,
    height_mm: float,
    pricks: Sequence[Prick],
    injections: Sequence[Injection],
    bare: frozenset[int] = frozenset(),
) -> list[_Row]:
    """As few rows as hold the body at this scale and leave every ring and amount its room; none if they cannot."""
    total = shapes.total_mm(body)
    room = (width_mm - 2 * _EDGE - _limbs_before_snout(body) * scale) / scale
    least = max(1, math.ceil(total / room - 1e-9))
    fillings, ticks = marks.of_injections(body, injections, bare), marks.of_pricks(body, pricks)
    best: list[_Row] = []
    crowding = math.inf
    for count in range(least, least + _MOST_ROWS):
        rows = _cut(body, scale, width_mm, ticks, fillings, _limb_roots(pricks, injections), count, room)
        if sum(row.high for row in rows) > height_mm + 1e-9:
            # Further rows are only higher.
            break
        worst = max(_crowding(row, width_mm) for row in rows)
        if worst < 0.8 * crowding:
            # A further row has to earn its height.
            best, crowding = rows, worst
        if worst <= _FAR_MM:
            break
    return best


def _crowding(row: _Row, width_mm: float) -> float:
    """How far amounts stand from their rings; infinite where rings or amounts have no room side by side."""
    most = max(
        (sum(m.side == side and not m.bare for m in row.fillings) for side in ("left", "middle", "right")), default=0
    )
    return math.inf if most * (2 * RING_MM + 0.3) > width_mm else row.drift


def _cut(
    body: Body,
    scale: float,
    width_mm: float,
    ticks: Sequence[Mark],
    fillings: Sequence[Mark],
    roots: dict[str, float],
    count: int,
    room: float,
) -> list[_Row]:
    total = shapes.total_mm(body)
    step = 10.0 if total / count >= 10.0 else 1.0
    each = min(room, math.ceil(total / count / step) * step) if count > 1 else total
    if count > 1 and each < total and room >= step:
        each = max(math.floor(each / step) * step, step)
    count = max(1, math.ceil(total / each - 1e-9))
    rows = []
    for i in range(count):
        start, end = i * each, min((i + 1) * each, total)
        last = i == count - 1
        inside = [m for m in fillings if start <= m.at_mm < end or (last and m.at_mm >= end)]
        pricked = [m for m in ticks if start <= m.at_mm < end or (last and m.at_mm >= end)]
        limbs = tuple(
            (which, roots.get(which))
            for which in LIMBS
            if shapes.has_limbs(body.form) and start <= _root(body, which, roots.get(which)) <= end
        )
        _at, radius = shapes.profile(body, start, end)
        reach, edge = float(radius.max()) * scale, _EDGE
        for which, at in limbs:
            outline, _upper, _lower = shapes.limb(body, which, "left", at)
            reach = max(reach, -min(y for _x, y in outline) * scale)
            edge = max(edge, (start - min(x for x, _y in outline)) * scale + 1.0)
        # A limb may reach back over a cut between rows, but never push its row off the paper.
        edge = max(_EDGE, min(edge, width_mm - _EDGE - (end - start) * scale))
        reach = max(reach, max((abs(m.aside_mm) * scale + RING_MM for m in inside), default=0.0))
        named = [m for m in inside if m.words]
        label_rows, drift = marks.rows_for(
            [edge + (m.at_mm - start) * scale for m in named], [marks.label_mm(m) for m in named], width_mm
        )
        vent = body.length_mm if body.tail_mm > 0 and (start < body.length_mm <= end) else None
        numbered, prick_rows = marks.sparsest(
            pricked,
            [edge + (m.at_mm - start) * scale for m in pricked],
            [(edge + (vent - start) * scale, marks.vent())] if vent is not None else [],
            width_mm,
        )
        rows.append(
            _Row(
                start_mm=start,
                end_mm=end,
                limbs=limbs,
                fillings=tuple(inside),
                pricks=tuple(pricked),
                label_rows=label_rows,
                drift=drift,
                above=reach + 0.6,
                below=reach + 0.6,
                prick_rows=prick_rows,
                numbered=numbered,
                vent_at=vent,
                edge=edge,
            )
        )
    return rows


def _limbs_before_snout(body: Body) -> float:
    """How far limbs reach in front of the snout, as a turtle's do; the first row needs that room. [mm]"""
    if not shapes.has_limbs(body.form):
        return 0.0
    outline, _upper, _lower = shapes.limb(body, "forelimb", "left")
    return max(0.0, -min(x for x, _y in outline))


def _root(body: Body, which: str, at_mm: float | None) -> float:
    _outline, upper, _lower = shapes.limb(body, which, "left", at_mm)
    return at_mm if at_mm is not None else min(max(upper[0], 0.0), shapes.total_mm(body))


# The drawing


def _drawn(
    body: Body, scale: float, rows: list[_Row], width_mm: float, high: float, regions: Sequence[Region], card: str
) -> Sketch:
    page = Page(width_mm, high, card=card, title=_("drawing of the body"))
    top = 0.0
    for row in rows:
        _draw_row(page, body, scale, row, top, regions)
        top += row.high
    if scale > 1:
        _life_size(page, body, rows[0])
    return Sketch(page, scale, len(rows), _notes(body, scale, rows, regions))


def _notes(body: Body, scale: float, rows: list[_Row], regions: Sequence[Region]) -> tuple[str, ...]:
    notes = [
        _("Scale {scale}, seen from below: its left side is up. The rule counts millimetres of the animal.").format(
            scale=figures.scale(scale)
        )
    ]
    if sum(len(row.fillings) for row in rows) > marks.MOST_WITH_UNIT:
        notes.append(_("Amounts in mL."))
    if any(mark.words and i not in row.numbered for row in rows for i, mark in enumerate(row.pricks)):
        notes.append(_("Ticks between two numbered pricks are pricks too: count on."))
    if any(mark.bare for row in rows for mark in row.fillings):
        notes.append(_("A dot is a filling too: its number and amount lie between those of its neighbours."))
    if len(rows) > 1:
        notes.append(_("Cut into {n} rows that follow one another.").format(n=len(rows)))
    if _dash_trunk(body) or _dash_tail(body):
        notes.append(_("Dashed: estimated, not measured."))
    if body.count > 1:
        notes.append(_("One of {n}.").format(n=body.count))
    if shapes.has_limbs(body.form):
        notes.append(_("Limbs show their place only."))
    notes.extend(_("Hatched: {words}.").format(words=region.words) for region in regions)
    return tuple(notes)


def _dash_trunk(body: Body) -> bool:
    return not {"length_mm", "diameter_mm"} <= body.measured


def _dash_tail(body: Body) -> bool:
    return body.tail_mm > 0 and "tail_mm" not in body.measured


def _draw_row(page: Page, body: Body, scale: float, row: _Row, top: float, regions: Sequence[Region]) -> None:
    axis_y = top + row.axis_at

    def at(x_mm: float, y_mm: float) -> Point:
        return row.edge + (x_mm - row.start_mm) * scale, axis_y + y_mm * scale

    for which, root in row.limbs:
        for side in ("left", "right"):
            outline, _upper, _lower = shapes.limb(body, which, side, root)
            page.polygon(
                [(min(max(x, 0.0), page.width_mm), y) for x, y in (at(*p) for p in outline)],
                width_mm=FINE,
                dash=DOTTED,
            )
    _outline(page, body, row, at)
    for region in regions:
        start, end = max(region.start_mm, row.start_mm), min(region.end_mm, row.end_mm)
        if end > start:
            along, radius = shapes.profile(body, start, end)
            upper = [at(x, -r) for x, r in zip(along, radius, strict=True)]
            lower = [at(x, r) for x, r in zip(along, radius, strict=True)]
            page.hatch([*upper, *reversed(lower)], spacing_mm=1.3)
    _rule(page, body, scale, row, top)
    _pricks(page, body, scale, row, top, at)
    _fillings(page, row, top, at)


def _outline(page: Page, body: Body, row: _Row, at: _At) -> None:
    stretches = (
        (0.0, body.length_mm, DASHED if _dash_trunk(body) else SOLID),
        (body.length_mm, shapes.total_mm(body), DASHED if _dash_tail(body) else SOLID),
    )
    whole, radius = shapes.profile(body, row.start_mm, row.end_mm)
    upper = [at(x, -r) for x, r in zip(whole, radius, strict=True)]
    lower = [at(x, r) for x, r in zip(whole, radius, strict=True)]
    page.polygon([*upper, *reversed(lower)], width_mm=0, fill=0)  # covers the roots of the limbs
    for begin, finish, dash in stretches:
        start, end = max(begin, row.start_mm), min(finish, row.end_mm)
        if end - start < 1e-6:
            continue
        along, radius = shapes.profile(body, start, end)
        over = [at(x, -r) for x, r in zip(along, radius, strict=True)]
        under = [at(x, r) for x, r in zip(along, radius, strict=True)]
        if start <= 0.0 and end >= shapes.total_mm(body):
            page.polygon([*over, *reversed(under)], width_mm=FIRM, dash=dash)
        elif start <= 0.0:
            page.line([*reversed(over), *under], width_mm=FIRM, dash=dash)
        elif end >= shapes.total_mm(body):
            page.line([*over, *reversed(under)], width_mm=FIRM, dash=dash)
        else:
            page.line(over, width_mm=FIRM, dash=dash)
            page.line(under, width_mm=FIRM, dash=dash)


def _rule(page: Page, body: Body, scale: float, row: _Row, top: float) -> None:
    """Millimetres of the animal, as fine as a line can stand, numbered where the figures have room."""
    y = top + row.rule_at
    fine = next(s for s in (1, 5, 10, 50, 100) if s * scale >= 0.9)
    middle = {1: 5, 5: 10, 10: 50, 50: 100, 100: 500}[fine]
    named = next(s for s in (5, 10, 20, 50, 100, 200, 500) if s * scale >= 10)
    end = row.end_mm if row.end_mm < shapes.total_mm(body) else math.ceil(row.end_mm / fine) * fine
    last = min(end, row.start_mm + (page.width_mm - row.edge - 1) / scale)
    page.line([(row.edge, y), (row.edge + (last - row.start_mm) * scale, y)], width_mm=FINE)
    value = math.ceil(row.start_mm / fine) * fine
    while value <= last + 1e-9:
        x = row.edge + (value - row.start_mm) * scale
        long = 2.4 if value % named == 0 else 1.8 if value % middle == 0 else 1.0
        page.line([(x, y), (x, y + long)], width_mm=FINE if value % named == 0 else THIN)
        if value % named == 0:
            half = type_.width_mm(f"{value:d}", RULE_PT) / 2
            middle_x = min(max(x, half), page.width_mm - half)
            top_y = y + 2.9 + type_.cap_mm(RULE_PT)
            page.text(middle_x, top_y, f"{value:d}", size_pt=RULE_PT, anchor="middle", field="rule")
        value += fine


def _pricks(page: Page, body: Body, scale: float, row: _Row, top: float, at: _At) -> None:
    for mark in row.pricks:
        x, y = at(mark.at_mm, mark.aside_mm)
        reach = 1.5 if mark.side in ("left", "right") else 1.2
        for i in range(min(mark.count, 3)):
            shift = (i - (min(mark.count, 3) - 1) / 2) * 0.9
            page.line([(x + shift, y - reach), (x + shift, y + reach)], width_mm=FIRM)
    hung = [(at(m.at_mm, m.aside_mm), m.words) for i, m in enumerate(row.pricks) if i in row.numbered]
    if row.vent_at is not None:
        hung.append((at(row.vent_at, shapes.radius_at(body, row.vent_at)), marks.vent()))
    wide = [marks.prick_mm(words) for _at, words in hung]
    places = marks.side_by_side([x for (x, _y), _words in hung], wide, page.width_mm, row.prick_rows)
    base = top + row.axis_at + row.below + 1.2
    written = []
    for ((x, mark_y), words), (place, level) in zip(hung, places, strict=True):
        y = base + level * _PRICK_ROW + type_.cap_mm(PRICK_PT) + 0.6
        away = 0.0 if words == marks.vent() else 1.5
        page.line([(x, mark_y + away), (place, y - type_.cap_mm(PRICK_PT) - 0.4)], width_mm=THIN)
        written.append((place, y, "", words))
    _on_white(page, written, PRICK_PT, "regular", _("pricks"))


def _on_white(
    page: Page, labels: Sequence[tuple[float, float, str, str]], size_pt: float, face: Face, field: str
) -> None:
    """Labels (x, y, lead, words) on a patch of white: a leader of another row may pass behind but never through them.

    The lead stands in the plain face before the words.
    """
    cap = type_.cap_mm(size_pt, face)
    for x, y, lead, text in labels:
        before = type_.width_mm(f"{lead} ", size_pt) if lead else 0.0
        half = (before + type_.width_mm(text, size_pt, face)) / 2
        left, right = max(x - half - 0.3, 0.0), min(x + half + 0.3, page.width_mm)
        page.box(left, y - cap - 0.3, right - left, cap + 0.6, width_mm=0, fill=0)
        if lead:
            page.text(x - half, y, lead, size_pt=size_pt, field=field)
        page.text(x + before / 2, y, text, size_pt=size_pt, face=face, anchor="middle", field=field)


def _fillings(page: Page, row: _Row, top: float, at: _At) -> None:
    for mark in row.fillings:
        if mark.bare:
            page.ring(*at(mark.at_mm, mark.aside_mm), 0.6, width_mm=0, fill=1)
    row = replace(row, fillings=tuple(mark for mark in row.fillings if not mark.bare))
    centres: dict[int, Point] = {}
    for side in ("left", "middle", "right"):
        chosen = [i for i, m in enumerate(row.fillings) if m.side == side]
        wanted = [at(row.fillings[i].at_mm, row.fillings[i].aside_mm) for i in chosen]
        xs = spread([x for x, _y in wanted], 2 * RING_MM + 0.3, RING_MM, page.width_mm - RING_MM)
        for i, x, (_x, y) in zip(chosen, xs, wanted, strict=True):
            centres[i] = (x, y)
    centres = _apart(centres, row)
    named = [i for i, m in enumerate(row.fillings) if m.words]
    wide = [marks.label_mm(row.fillings[i]) for i in named]
    places = marks.side_by_side([centres[i][0] for i in named], wide, page.width_mm, row.label_rows)
    hung = []
    for i, (place, level) in zip(named, places, strict=True):
        y = top + (row.label_rows - 1 - level) * _LABEL_ROW + type_.cap_mm(LABEL_PT) + 0.6
        x, ring_y = centres[i]
        page.line([(place, y + 0.7), (x, ring_y - RING_MM)], width_mm=THIN)
        hung.append((place, y, row.fillings[i].lead, row.fillings[i].words))
    _on_white(page, hung, LABEL_PT, "bold", _("amounts"))
    for i, mark in enumerate(row.fillings):
        x, y = centres[i]
        true_x, true_y = at(mark.at_mm, mark.aside_mm)
        if math.hypot(x - true_x, y - true_y) > 0.6:
            page.ring(true_x, true_y, 0.45, width_mm=0, fill=1)
            page.line([(true_x, true_y), (x, y)], width_mm=THIN)
        page.ring(x, y, RING_MM, width_mm=FIRM, fill=0)
        size = 9.0 if mark.number < 100 else 7.0
        page.text(
            x, y + type_.cap_mm(size, "bold") / 2, f"{mark.number}", size_pt=size, face="bold", anchor="middle",
            field="sites",
        )  # fmt: skip


def _apart(centres: dict[int, Point], row: _Row) -> dict[int, Point]:
    """Rings of different sides that still touch step aside across the axis: left up, right down."""
    moved = dict(centres)
    for i, mark in enumerate(row.fillings):
        for j in range(i):
            (x, y), (other_x, other_y) = moved[i], moved[j]
            if math.hypot(x - other_x, y - other_y) < 2 * RING_MM:
                need = math.sqrt(max((2 * RING_MM + 0.2) ** 2 - (x - other_x) ** 2, 0.0))
                way = 1.0 if y >= other_y and mark.side != "left" else -1.0
                moved[i] = (x, other_y + way * need)
    return moved


def _life_size(page: Page, body: Body, row: _Row) -> None:
    """The enlarged drawing's little companion: the outline as large as the animal."""
    total = shapes.total_mm(body)
    left = page.width_mm - max(total, type_.width_mm(_("life size"), RULE_PT, "italic")) - 3
    y = row.axis_at
    along, radius = shapes.profile(body, 0.0, total)
    upper = [(left + x, y - r) for x, r in zip(along, radius, strict=True)]
    lower = [(left + x, y + r) for x, r in zip(along, radius, strict=True)]
    page.polygon([*upper, *reversed(lower)], width_mm=FINE)
    page.text(
        left + total / 2, y + float(radius.max()) + 3.6, _("life size"),
        size_pt=RULE_PT, face="italic", anchor="middle", field="life size",
    )  # fmt: skip
