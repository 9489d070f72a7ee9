"""One card for each animal: its number huge, its body to scale, amounts, steps with reasons, room to write.

The first side is for the hands: who, where, how much, what was really done. The steps with their reasons stand below
the drawing when they fit there, on the other side when not. For a learner a further side says why, and what goes
wrong. Every card takes whole sheets of two sides, so that printing on both sides never puts two animals on one sheet.

``draw`` gives the pages, ``text`` the same in plain words.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field

from keepfast.findings import Finding, FindingsError
from keepfast.paper import bodies, card_rings, figures, symbols
from keepfast.paper import page as page_
from keepfast.paper import type as type_
from keepfast.paper.card_steps import Steps
from keepfast.paper.flow import MARGIN_MM, Flow
from keepfast.paper.page import FINE, FIRM, HEAVY, Page
from keepfast.paper.type import PaperError
from keepfast.paper.wording import (
    all_numbers,
    body_words,
    doing_words,
    form_words,
    full_stop,
    length_words,
    mass_words,
    origin_words,
    place_words,
    round_words,
    seen_words,
    side_words,
    site_words,
    turn_words,
)
from keepfast.plan.objects import AnimalPlan, EveningPlan, Prick
from keepfast.rules import race as race_rules
from keepfast.words import _, ngettext

_BLANKS_MM = 47.5
_SYMBOL_MM = 15.0


def draw(plan: EveningPlan, paper: str = "a4", learner: bool = True) -> list[Page]:
    """
    Cards for all animals, in the order of the table, then those that wait, then those not for fluid.

    Parameters
    ----------
    paper : str
        a4 or letter.
    learner : bool
        Add the side that says why and what goes wrong, and a column where the one who teaches signs each step.

    Raises
    ------
    FindingsError
        If something cannot be printed; all such things at once, each with card and field.
    """
    pages: list[Page] = []
    findings: list[Finding] = []
    for number in all_numbers(plan):
        try:
            pages.extend(card(plan, plan.of(number), paper, learner))
        except FindingsError as problem:
            findings.extend(problem.findings)
    if findings:
        raise FindingsError(findings)
    return pages


def card(plan: EveningPlan, animal: AnimalPlan, paper: str = "a4", learner: bool = True) -> list[Page]:
    """The pages of one animal's card."""
    from keepfast.paper import learning

    name = animal.animal.field_number

    def head(page: Page, number: int) -> float:
        return _head(page, plan, animal) if number == 1 else _running_head(page, animal)

    flow = Flow(paper, name, head, foot=origin_words(plan))
    later = _front(flow, plan, animal)
    steps = Steps(plan, animal, learner)
    free = flow.left_mm - _BLANKS_MM
    if steps.doubts_mm(flow) <= free:
        steps.write_doubts(flow)
        free = flow.left_mm - _BLANKS_MM
    if steps.height_mm(flow) <= free and later == _Later():
        flow.reserved_mm = _BLANKS_MM
        steps.write(flow)
        flow.reserved_mm = 0.0
        _blanks(flow)
    else:
        _blanks(flow)
        flow.new_page()
        if later.sketch is not None:
            _place(flow, later.sketch)
        if later.table:
            card_rings.write(flow, later.table)
        steps.write(flow)
    if learner:
        # A side of its own, unless the steps have just begun one and left most of it free.
        if len(flow.pages) < 3 or flow.left_mm < 0.55 * flow.height_mm:
            flow.new_page()
        learning.write(flow, plan, animal)
    if len(flow.pages) % 2:
        flow.new_page()
        _notes(flow, animal)
    return flow.finish()


def title(plan: EveningPlan) -> str:
    """What the whole file is called."""
    count = len(plan.animals)
    animals = ngettext("{n} animal", "{n} animals", count).format(n=count)
    return _("Cards for {animals}, {day}").format(animals=animals, day=f"{plan.table.start:%d %b %Y}")


# The head


def _head(page: Page, plan: EveningPlan, animal: AnimalPlan) -> float:
    """The number as large as it can be, and beside it whose it is."""
    name = animal.animal.field_number
    left, right = MARGIN_MM, page.width_mm - MARGIN_MM
    symbol = symbols.module_mm(name, "data_matrix", _SYMBOL_MM, 25.4 / 600, 0.25, 0.6)
    side = symbols.side(name, "data_matrix") * symbol if symbol else 0.0
    if symbol:
        symbols.draw(page, right - side, 9.0, name, "data_matrix", symbol, _("symbol"))
    page.text(
        left, 26.5, name, size_pt=64, least_pt=14, face="bold", room_mm=0.5 * (right - left), field=_("field number")
    )
    x = left + 0.53 * (right - left)
    room = right - side - 2.0 - x
    taxon = animal.animal.taxon or _("species not written down")
    if type_.largest_pt(type_.check(taxon, "italic", name, _("taxon")), room, "italic", 13, 9) is not None:
        page.text(x, 13.0, taxon, size_pt=13, least_pt=9, face="italic", room_mm=room, field=_("taxon"))
    else:
        page.paragraph(x, 7.2, room, taxon, size_pt=9, face="italic", most_lines=2, field=_("taxon"))
    page.text(x, 18.2, body_words(animal), size_pt=10.5, least_pt=9, room_mm=room, field=_("form, sex, stage"))
    page.text(x, 22.9, mass_words(animal), size_pt=10.5, least_pt=9, room_mm=room, field=_("mass"))
    page.text(x, 27.6, length_words(animal), size_pt=10.5, least_pt=9, room_mm=right - x, field=_("length"))
    page.line([(left, 30.0), (right, 30.0)], width_mm=HEAVY)
    return 31.5


def _running_head(page: Page, animal: AnimalPlan) -> float:
    left, right = MARGIN_MM, page.width_mm - MARGIN_MM
    name = animal.animal.field_number
    wide = page.text(left, 19.5, name, size_pt=34, least_pt=12, face="bold", room_mm=110, field=_("field number"))
    words = ", ".join(part for part in (animal.animal.taxon, form_words(animal.animal.form)) if part)
    page.text(
        right, 19.5, words, size_pt=12, least_pt=7, face="italic", anchor="end", room_mm=right - left - wide - 4,
        field=_("taxon"),
    )  # fmt: skip
    page.line([(left, 22.0), (right, 22.0)], width_mm=FIRM)
    return 24.0


# The first side


def _front(flow: Flow, plan: EveningPlan, animal: AnimalPlan) -> _Later:
    """The first side down to the blanks; returns what had no room on it."""
    facts = [
        (_("turn"), turn_words(plan, animal)),
        (_("place"), place_words(animal)),
        (_("needle"), _needles(animal)),
        (_("out of the tray"), _out_words(plan, animal)),
    ]
    _facts(flow, facts)
    flow.paragraph(doing_words(animal), size_pt=12, after_mm=0.8, field=_("what to do"))
    if animal.tag:
        flow.paragraph(f"{animal.tag}.", size_pt=10, after_mm=1.0, field=_("tag"))
    flow.paragraph(seen_words(plan, animal), lead=_("Noted."), size_pt=10, after_mm=1.0, field=_("remarks"))
    table = card_rings.rows_of(animal.injections)
    prick, race = _prick_words(animal.pricks), " ".join(race_words(animal))
    table_mm = card_rings.height_mm(flow, table)
    below = 2 * type_.leading_mm(9) + 11.0  # notes and bar
    below += type_.leading_mm(10) * 2 if prick else 0.0
    if race:
        rows = flow.page.broken(flow.room_mm - 4.0, race, size_pt=10, lead=_("The race."), field=_("race"))
        below += len(rows) * type_.leading_mm(10) + 2.0
    room = flow.left_mm - _BLANKS_MM - below
    sketch = _sketch(animal, flow.room_mm, room - table_mm)
    later = _Later()
    if table and (sketch is None or sketch.scale < 1):
        # The drawing comes first: the table moves to the other side where that lets the body be drawn larger.
        larger = _sketch(animal, flow.room_mm, room)
        if larger is not None and (sketch is None or larger.scale > sketch.scale):
            sketch, table, later = larger, [], _Later(table)
    if sketch is None or sketch.scale < _LEAST_SCALE:
        whole = _sketch(animal, flow.room_mm, flow.height_mm - 70.0)
        if whole is None:
            raise _too_large(animal, flow)
        if sketch is None or whole.scale > sketch.scale:
            sketch, later = None, _Later(later.table, whole)
    if sketch is not None:
        _place(flow, sketch, [_("The table of the rings is on the other side.")] if later.table else [])
    else:
        flow.paragraph(_("The drawing of the body has a side of its own."), size_pt=11, field=_("drawing of the body"))
    if table:
        card_rings.write(flow, table)
    if prick:
        flow.paragraph(prick, lead=_("Pricks."), size_pt=10, field=_("pricks"))
    if race:
        flow.paragraph(race, lead=_("The race."), size_pt=10, indent_mm=4.0, bar=True, field=_("race"))
    return later


_LEAST_SCALE = 1 / 5  # a drawing smaller than this gets a side of its own if that makes it larger


@dataclass(frozen=True)
class _Later:
    """What had no room on the first side."""

    table: list[card_rings.RingRow] = field(default_factory=list)
    sketch: bodies.Sketch | None = None


def _place(flow: Flow, sketch: bodies.Sketch, also: Sequence[str] = ()) -> None:
    """The drawing, what must be said beside it, and the bar that proves its scale."""
    flow.need(sketch.page.height_mm)
    flow.page.place(sketch.page, flow.x, flow.y)
    flow.y += sketch.page.height_mm + 1.0
    flow.paragraph(" ".join([*sketch.notes, *also]), size_pt=9, after_mm=1.5, field=_("drawing of the body"))
    page_.check_bar(flow.page, flow.x, flow.y, size_pt=9)
    flow.y += 4.0


def _sketch(animal: AnimalPlan, width_mm: float, height_mm: float) -> bodies.Sketch | None:
    """The drawing at the largest scale that fits, or None."""
    try:
        return bodies.draw(
            animal.body,
            width_mm=width_mm,
            height_mm=min(height_mm, 60.0) if not animal.fit_for_fluid else height_mm,
            pricks=animal.pricks,
            injections=animal.injections,
            regions=leading_region(animal),
            card=animal.animal.field_number,
        )
    except bodies.DoesNotFitError:
        return None


def _too_large(animal: AnimalPlan, flow: Flow) -> PaperError:
    return PaperError(
        animal.animal.field_number,
        _("drawing of the body"),
        _("the body with its {n} fillings has no room on a side of {w:.0f} x {h:.0f} mm").format(
            n=len(animal.injections), w=flow.width_mm, h=flow.height_mm
        ),
        _("Check length and mass; if they are right, print on a larger sheet."),
    )


def leading_region(animal: AnimalPlan) -> tuple[bodies.Region, ...]:
    """The stretch of the body that leads the risk, where the race was run."""
    race = animal.extra.get("race")
    if not isinstance(race, dict) or not race.get("regions"):
        return ()
    body, weakest = animal.body, race["regions"][0]
    region = next((r for r in race_rules.load().regions if r.key == weakest["region"]), None)
    if region is None:
        return ()
    if region.at is not None:
        start, end = (share * body.length_mm for share in region.at)
    elif region.key == "tail" and body.tail_mm > 0:
        start, end = body.length_mm, body.length_mm + 0.25 * body.tail_mm
    elif region.key == "head":
        start, end = 0.0, body.head_width_mm
    else:
        return ()
    words = _("{name}, the part most at risk ({verdict})").format(name=_(weakest["name"]), verdict=_(weakest["says"]))
    return (bodies.Region(start, end, words),)


def race_words(animal: AnimalPlan) -> list[str]:
    """What the race says about this animal, and what would help most; the protocol's amounts stand beside it."""
    race = animal.extra.get("race")
    if not isinstance(race, dict) or not race.get("sentence"):
        return []
    words = [str(race["sentence"])]
    advice = race.get("advice") or ()
    if advice:
        words.append(_("What would help most: {advice}").format(advice=advice[0]["says"]))
    leave = race.get("leave")
    if isinstance(leave, dict) and leave.get("says"):
        words.append(str(leave["says"]))
    return words


def _facts(flow: Flow, facts: Sequence[tuple[str, str]]) -> None:
    """Short answers side by side: a small name above, the answer below."""
    widths = (0.2, 0.24, 0.24, 0.32)
    x = flow.x
    for (name, words), share in zip(facts, widths, strict=True):
        room = share * flow.room_mm - 2.0
        flow.page.text(x, flow.y + 3.2, name, size_pt=9, room_mm=room, field=name)
        flow.page.text(x, flow.y + 8.6, words, size_pt=13, least_pt=9, face="bold", room_mm=room, field=name)
        x += share * flow.room_mm
    flow.y += 10.2
    flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=FINE)
    flow.y += 1.6


def _needles(animal: AnimalPlan) -> str:
    gauges = sorted({i.gauge for i in animal.injections})
    return _(" and ").join(f"{gauge}{figures.NBSP}G" for gauge in gauges) if gauges else _("none")


def _out_words(plan: EveningPlan, animal: AnimalPlan) -> str:
    if not animal.fit_for_fluid or animal.waits:
        return _("not tonight")
    name, end = animal.animal.field_number, plan.table.end
    out = [moment.at for moment in plan.table.clock if moment.at > end and name in moment.field_numbers]
    when = min(out) if out else None
    if when is None:
        return _("after {hours}").format(hours=figures.hours(animal.tray_h))
    return _("from {when}").format(when=f"{when:%d %b %H:%M}".replace(" ", figures.NBSP))


def _prick_words(pricks: Sequence[Prick]) -> str:
    """P1 fore limbs, 2 holes each; P3 to P14 tail, along the lower side."""
    parts = []
    for (region, side, count), group in itertools.groupby(pricks, key=lambda p: (p.region, p.side, p.count)):
        run = list(group)
        which = f"P{run[0].number}" if len(run) == 1 else _("P{a} to P{b}").format(a=run[0].number, b=run[-1].number)
        words = (
            f"{which} {site_words(region)}, {side_words(side)}" if side_words(side) else f"{which} {site_words(region)}"
        )
        parts.append(_("{words}, {n} holes each").format(words=words, n=count) if count > 1 else words)
    return "; ".join(parts) + "." if parts else ""


def _blanks(flow: Flow) -> None:
    """What was really done, at the foot of the first side."""
    flow.need(_BLANKS_MM)
    flow.y = max(flow.y, flow.bottom - _BLANKS_MM + 1.0)
    flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=FIRM)
    flow.y = flow.page.paragraph(
        flow.x, flow.y + 1.0, flow.room_mm, _("What was really done"), size_pt=12, face="bold", field=_("blanks")
    )
    flow.blanks([(_("Delivered, mL"), 0), (_("stayed inside, mL"), 0), (_("tray"), 0), (_("place"), 0)])
    flow.blanks([(_("Pricked at"), 0), (_("filled"), 0), (_("posed"), 0), (_("covered"), 0), (_("out"), 0)])
    flow.blanks([(_("Worked by"), 0), (_("recorded by"), 0), (_("number read aloud by both"), 18)])
    flow.blanks([(_("Different from the plan"), 0)])
    flow.blanks([("", 0)])


def _notes(flow: Flow, animal: AnimalPlan) -> None:
    """The side that would be empty: squares of 5 mm to write and sketch on."""
    flow.paragraph(
        _("Room to write and to sketch. Dots every 5 mm: what you draw here has a scale."), size_pt=10, field=_("notes")
    )
    top = flow.y + 1.0
    across, down = int(flow.room_mm // 5), int((flow.bottom - top) // 5)
    dot = 0.35
    flow.page.boxes(
        (flow.x + 5 * i - dot / 2, top + 5 * j - dot / 2, dot, dot) for j in range(down + 1) for i in range(across + 1)
    )
    flow.y = top + 5 * down


# Plain words


def text(plan: EveningPlan, learner: bool = True) -> str:
    """All cards in plain words, one after the other."""
    return "\n".join("\n".join(card_lines(plan, plan.of(number), learner)) + "\n" for number in all_numbers(plan))


def card_lines(plan: EveningPlan, animal: AnimalPlan, learner: bool = True) -> list[str]:
    """One card in plain words."""
    from keepfast.paper import learning

    name = animal.animal.field_number
    lines = [
        f"=== {name} ===",
        animal.animal.taxon or _("species not written down"),
        body_words(animal),
        mass_words(animal),
        length_words(animal),
        f"{_('Turn')}: {turn_words(plan, animal)}. {_('Place')}: {place_words(animal)}.",
        f"{_('Needle')}: {_needles(animal)}. {_('Out of the tray')}: {_out_words(plan, animal)}.",
        doing_words(animal),
        *([f"{animal.tag}."] if animal.tag else []),
        f"{_('Noted.')} {seen_words(plan, animal)}",
        "",
    ]
    if animal.injections:
        lines.append(_("Fillings (ring, where, from snout, depth, needle, amount):"))
        for row in card_rings.rows_of(animal.injections):
            lines.append(
                f"  {row.rings}: {row.where}, {row.place}, {row.depth}, {row.needle}, {row.amount} ({row.each})"
            )
            lines += [f"    {words}" for words in row.singly]
    if animal.pricks:
        lines.append(f"{_('Pricks')}: {_prick_words(animal.pricks)}")
        at = ", ".join(f"P{prick.number} {prick.at_mm:.0f}" for prick in animal.pricks)
        lines.append("  " + _("mm from the snout: {places}").format(places=at))
    if animal.body.tail_mm > 0:
        lines.append(_("The vent lies at {place}.").format(place=figures.mm(animal.body.length_mm)))
    lines += [f"{_('The race.')} {' '.join(race_words(animal))}"] if race_words(animal) else []
    if animal.doubts:
        lines += ["", _("What is not known"), *(f"  - {full_stop(doubt)}" for doubt in animal.doubts)]
    steps = Steps(plan, animal, learner)
    if learner:
        lines += ["", _("Tick the box when it is done; the one who teaches signs the line.")]
        lines += [_("Learned by ____________   taught by ____________   date ____________")]
    for round_name, group in steps.groups():
        lines += ["", round_words(round_name)]
        for number, step in enumerate(group, start=1):
            signed = " ____" if learner else ""
            lines.append(f"  [ ]{signed} {steps.lead(number, step)} {step.reason}")
            lines += [f"      {_('Mind.')} {words}" for words in steps.cautions.get(step.key, ())]
    lines += [
        "",
        _("What was really done"),
        _("Delivered ______ mL   stayed inside ______ mL   tray ____ place ____"),
        _("Pricked __:__   filled __:__   posed __:__   covered __:__   out __:__"),
        _("Worked by ____________   recorded by ____________   number read aloud by both ____"),
        _("Different from the plan ________________________________________"),
        "",
    ]
    if learner:
        lines += learning.lines(plan, animal)
    return [line.replace(figures.NBSP, " ").replace("\u2011", "-") for line in lines]


def pages_of(animals: Sequence[str], plan: EveningPlan, paper: str = "a4", learner: bool = True) -> list[Page]:
    """Cards of some animals only, in the order given."""
    pages: list[Page] = []
    for number in animals:
        pages.extend(card(plan, plan.of(number), paper, learner))
    return pages


__all__ = ["card", "card_lines", "draw", "leading_region", "pages_of", "text", "title"]
