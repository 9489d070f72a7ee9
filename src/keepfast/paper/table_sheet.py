"""The one sheet for the table: order, clock, tray maps, totals, what to lay ready, cautions, room to write.

First side: what now, to which animal, how much. Then the trays as they lie, then the cautions in the order in which
their hazards arise. ``draw`` gives the pages, ``text`` the same in plain words.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from keepfast.findings import Finding
from keepfast.paper import air_chart, figures, trays
from keepfast.paper import page as page_
from keepfast.paper import type as type_
from keepfast.paper.flow import MARGIN_MM, Flow
from keepfast.paper.page import FINE, FIRM, HEAVY, THIN, Page
from keepfast.paper.type import PaperError
from keepfast.paper.wording import (
    camp_place,
    camp_words,
    doing_words,
    form_words,
    full_stop,
    origin_words,
    protocol_words,
    round_words,
)
from keepfast.plan.cautions import by_round
from keepfast.plan.objects import AnimalPlan, EveningPlan, Moment, Tray
from keepfast.words import _, ngettext

_ROW_MM = 6.7
# Shares of the width: turn, number, animal, place, fill, needle, out, then four boxes to tick.
_COLUMNS = (0.05, 0.15, 0.225, 0.09, 0.09, 0.075, 0.14, 0.045, 0.045, 0.045, 0.045)


def draw(plan: EveningPlan, paper: str = "a4") -> list[Page]:
    """
    The table's sheet, on as many sides as it takes.

    Parameters
    ----------
    paper : str
        a4 or letter.

    Raises
    ------
    FindingsError
        If something cannot be printed; it names card and field.
    """

    def head(page: Page, number: int) -> float:
        return _head(page, plan, number)

    flow = Flow(paper, _("Table"), head, foot=origin_words(plan))
    _clock_and_fluid(flow, plan)
    _doubts(flow, plan)
    _order(flow, plan)
    _others(flow, plan)
    _trays(flow, plan)
    _air(flow, plan)
    _assumed(flow, plan)
    _cautions(flow, plan)
    # The rest of the column where the cautions end, or a side of its own.
    if flow.left_mm < 45:
        flow.columns(1)
        flow.need(45)
    flow.space(4)
    flow.ruled(_("Room to write"), flow.left_mm - 6.0)
    return flow.finish()


# The head and the first side


def title(plan: EveningPlan) -> str:
    """What the whole file is called."""
    return f"{_title(plan)}, {plan.table.start:%d %b %Y}"


def _title(plan: EveningPlan) -> str:
    count = len(plan.table.order)
    animals = ngettext("{n} animal", "{n} animals", count).format(n=count)
    people = ngettext("{n} person", "{n} people", plan.table.people).format(n=plan.table.people)
    return _("Tonight: {animals}, {people}").format(animals=animals, people=people)


def _head(page: Page, plan: EveningPlan, number: int) -> float:
    left, right = MARGIN_MM, page.width_mm - MARGIN_MM
    start, end = plan.table.start, plan.table.end
    if number > 1:
        page.text(left, 16.0, _title(plan), size_pt=14, face="bold", room_mm=right - left - 50, field=_("title"))
        page.text(right, 16.0, f"{start:%d %b %Y}", size_pt=11, anchor="end", field=_("date"))
        page.line([(left, 19.0), (right, 19.0)], width_mm=FIRM)
        return 21.0
    page.text(
        left, 20.0, _title(plan), size_pt=26, least_pt=14, face="bold", room_mm=right - left, field=_("title")
    )  # fmt: skip
    when = _("{day}, {start} to {end}. Fixing alone takes {minutes:.0f} min ({low:.0f} to {high:.0f}).").format(
        day=f"{start:%d %b %Y}",
        start=figures.clock(start),
        end=figures.clock(end),
        minutes=plan.table.minutes,
        low=plan.table.minutes_low,
        high=plan.table.minutes_high,
    )
    page.text(left, 26.5, when, size_pt=12, least_pt=9, room_mm=right - left, field=_("date"))
    y = 29.5
    if camp_words(plan):
        y = page.paragraph(left, 28.2, right - left, camp_words(plan), size_pt=10, field=_("place")) + 1.0
    page.line([(left, y), (right, y)], width_mm=HEAVY)
    return y + 1.5


def _clock_and_fluid(flow: Flow, plan: EveningPlan) -> None:
    """What happens when, beside what to lay ready."""
    table = plan.table
    flow.columns(2)
    flow.heading(_("The clock"), size_pt=11, rule=False, keep_mm=8)
    for moment in _lines_of_clock(plan):
        _clock_line(flow, moment, plan)
    flow.next_column()
    flow.heading(_("Lay ready"), size_pt=11, rule=False, keep_mm=8)
    for line in table.lay_ready:
        top = flow.y
        flow.paragraph(full_stop(line), size_pt=9, indent_mm=5.0, after_mm=0.8, field=_("lay ready"))
        flow.page.box(flow.x, top + 0.4, 3.0, 3.0, width_mm=FINE)
    flow.columns(1)


def _lines_of_clock(plan: EveningPlan) -> list[Moment]:
    """The clock in the order of time; trays that may be opened at the same time share a line."""
    table = plan.table
    trays_of = {tray.field_numbers: tray.number for tray in table.trays}
    opened: dict[datetime.datetime, list[int]] = {}
    lines = []
    for moment in sorted((*table.clock, *_light(plan)), key=lambda moment: moment.at):
        if moment.at > table.end and moment.field_numbers in trays_of:
            opened.setdefault(moment.at, []).append(trays_of[moment.field_numbers])
        else:
            lines.append(moment)
    for at, numbers in opened.items():
        words = ngettext(
            "tray {list} may be opened at the earliest", "trays {list} may be opened at the earliest", len(numbers)
        ).format(list=", ".join(f"{number}" for number in sorted(numbers)))
        lines.append(Moment(at, (at - table.start).total_seconds() / 60, words))
    return lines


def _light(plan: EveningPlan) -> list[Moment]:
    """When the light goes or comes while people are at the table."""
    table, sun = plan.table, plan.table.extra.get("sun")
    told = {"sunset": _("The sun sets: headlamps from here."), "sunrise": _("The sun rises.")}
    moments = []
    for name, words in told.items():
        said = sun.get(name) if isinstance(sun, dict) else None
        if said and table.start <= (at := datetime.datetime.fromisoformat(said)) <= table.end:
            moments.append(Moment(at, (at - table.start).total_seconds() / 60, words))
    return moments


def _clock_words(moment: Moment, plan: EveningPlan) -> str:
    """What happens; on another day than the start's, the day first."""
    if moment.at.date() == plan.table.start.date():
        return full_stop(moment.what)
    return f"{moment.at:%d %b}: {full_stop(moment.what)}"


def _clock_line(flow: Flow, moment: Moment, plan: EveningPlan) -> None:
    words, indent = _clock_words(moment, plan), 14.0
    rows = flow.page.broken(flow.room_mm - indent, words, size_pt=9.5, field=_("clock"))
    flow.need(len(rows) * type_.leading_mm(9.5))
    top = flow.y
    flow.page.text(flow.x, top + 3.5, figures.clock(moment.at), size_pt=12, face="bold", field=_("clock"))
    flow.y = flow.page.paragraph(flow.x + indent, top, flow.room_mm - indent, words, size_pt=9.5, field=_("clock"))
    flow.y += 1.0


def _order(flow: Flow, plan: EveningPlan) -> None:
    """Who, in which order, how much, where to; and a box for each round."""
    flow.heading(_("The order"), size_pt=12, keep_mm=24)
    _order_heads(flow)
    for turn, number in enumerate(plan.table.order, start=1):
        _order_row(flow, plan, turn, plan.of(number))
    _totals(flow, plan)


def _order_heads(flow: Flow) -> None:
    names = (
        "", _("number"), _("animal"), _("tray.place"), _("fill, mL"), _("needle"), _("out from"),
        _("prick"), _("fill"), _("pose"), _("cover"),
    )  # fmt: skip
    x = flow.x
    for i, (name, share) in enumerate(zip(names, _COLUMNS, strict=True)):
        room = share * flow.room_mm
        if i >= 7:
            flow.page.text(
                x + room / 2, flow.y + 3.4, name, size_pt=9, least_pt=9, anchor="middle", room_mm=room, field=name
            )
        elif name:
            flow.page.text(x, flow.y + 3.4, name, size_pt=9, room_mm=room - 1, field=name)
        x += room
    flow.y += 4.6
    flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=FIRM)


def _order_row(flow: Flow, plan: EveningPlan, turn: int, animal: AnimalPlan) -> None:
    place = f"{animal.place.tray}.{animal.place.place}" if animal.place else "\u2013"
    gauges = sorted({i.gauge for i in animal.injections})
    name_face: type_.Face = "italic" if animal.animal.taxon else "regular"
    name = animal.animal.taxon or form_words(animal.animal.form)
    cells: tuple[tuple[str, float, type_.Face, str], ...] = (
        (f"{turn}", 11.0, "bold", _("turn")),
        (animal.animal.field_number, 15.0, "bold", _("field number")),
        (name, 10.0, name_face, _("taxon")),
        (place, 13.0, "bold", _("place")),
        (figures.plain_ml(animal.total_ml) if animal.injections else _("none"), 13.0, "bold", _("fill")),
        (", ".join(f"{gauge}" for gauge in gauges) + " G" if gauges else "\u2013", 10.0, "regular", _("needle")),
        (out_words(plan, animal), 10.0, "regular", _("out")),
    )
    broken = [
        _fitted(flow, animal.animal.field_number, *cell, share * flow.room_mm - 1.2)
        for cell, share in zip(cells, _COLUMNS, strict=False)
    ]
    more = (max(len(rows) for _size, rows in broken) - 1) * 3.8
    if flow.left_mm < _ROW_MM + more:
        flow.new_page()
        _order_heads(flow)
    x = flow.x
    for i, share in enumerate(_COLUMNS):
        room = share * flow.room_mm
        if i < len(cells):
            size, rows = broken[i]
            for n, words in enumerate(rows):
                flow.page.text(x, flow.y + 5.0 + 3.8 * n, words, size_pt=size, face=cells[i][2], field=cells[i][3])
        else:
            flow.page.box(x + room / 2 - 2.2, flow.y + 1.1, 4.4, 4.4, width_mm=FINE)
        x += room
    flow.y += _ROW_MM + more
    flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=THIN)


def _fitted(
    flow: Flow, card: str, words: str, most_pt: float, face: type_.Face, field: str, room: float
) -> tuple[float, list[str]]:
    """One line as large as it fits, or several of 9 point; a lone word and a field number may shrink to 7 instead."""
    words = type_.check(words, face, card, field)
    size = type_.largest_pt(words, room, face, most_pt, 9.0)
    if size is None and (" " not in words or words == card):
        size = type_.largest_pt(words, room, face, 9.0, 7.0)
    if size is not None:
        return size, [words]
    for points in (9.0, 8.0, 7.0):
        if words == card and (rows := _at_hyphens(words, room, points, face)):
            return points, rows
    try:
        return 9.0, [row.words for row in flow.page.broken(room, words, size_pt=9.0, face=face, field=field)]
    except PaperError as problem:
        # Whoever mends it looks for the animal, not for the sheet.
        raise PaperError(card, field, problem.findings[0].what, problem.findings[0].remedy, words) from None


def _at_hyphens(number: str, room: float, size_pt: float, face: type_.Face) -> list[str]:
    """A very long number in lines that end with a hyphen or at a space; none if a part is too long even so."""
    parts = [part for part in re.split(r"(?<=[- ])", number) if part]
    rows = [""]
    for part in parts:
        if rows[-1] and type_.width_mm(rows[-1] + part.rstrip(), size_pt, face) > room:
            rows.append("")
        rows[-1] += part
    rows = [row.rstrip() for row in rows]
    return rows if all(type_.width_mm(row, size_pt, face) <= room for row in rows) else []


def out_words(plan: EveningPlan, animal: AnimalPlan) -> str:
    """When it may leave its tray, by the clock."""
    name = animal.animal.field_number
    out = [m.at for m in plan.table.clock if m.at > plan.table.end and name in m.field_numbers]
    return f"{min(out):%d %b %H:%M}".replace(" ", figures.NBSP) if out else "\u2013"


_USES = {
    "injections": "into bodies",
    "upper_sheets": "upper sheets",
    "lower_sheets": "lower sheets",
    "vials": "vials",
    "spare": "spare",
}


def fluid_words(plan: EveningPlan) -> str:
    """Fixative in all, with its doubt and what it is for."""
    table = plan.table
    uses = ", ".join(
        f"{_(_USES.get(use, use))} {figures.plain_ml(round(value))}"
        for use, value in table.fluid_by_use_ml.items()
        if value >= 0.5
    )
    return _("{all} of fixative ({low} to {high}), in mL: {uses}.").format(
        all=figures.ml(round(table.fixative_ml)),
        low=figures.plain_ml(round(table.fixative_low_ml)),
        high=figures.plain_ml(round(table.fixative_high_ml)),
        uses=uses,
    )


def _totals(flow: Flow, plan: EveningPlan) -> None:
    flow.y += 1.5
    flow.paragraph(fluid_words(plan), size_pt=11, after_mm=1.0, lead=_("In all."), field=_("totals"))


def _others(flow: Flow, plan: EveningPlan) -> None:
    """Those that wait, and those that do not go into fluid."""
    for lead, words in other_lines(plan):
        flow.paragraph(words, lead=lead, size_pt=10, indent_mm=4.0, bar=True, field=_("others"))
    flow.blanks([(name, 0.0) for name in _asked(plan)])


def _asked(plan: EveningPlan) -> list[str]:
    """What nobody has said yet and the paper must hold."""
    stated = ((_("Place"), camp_place(plan)), (_("approved protocol"), plan.camp.get("approved_protocol")))
    return [*(name for name, known in stated if not known), _("at the table")]


def other_lines(plan: EveningPlan) -> list[tuple[str, str]]:
    """Who waits and who does not go into fluid, and why; those that wait for one reason are told together."""
    together: dict[str, list[AnimalPlan]] = {}
    for number in plan.table.waiting:
        animal = plan.of(number)
        together.setdefault(animal.waits, []).append(animal)
    lines = []
    for reason, animals in together.items():
        if len(animals) == 1:
            lines.append(_alone(animals[0]))
            continue
        until: dict[str, list[str]] = {}
        for animal in animals:
            when = figures.day_and_clock(animal.wait_until) if animal.wait_until else ""
            until.setdefault(when, []).append(animal.animal.field_number.replace(" ", figures.NBSP))
        parts = [
            _("until {when}: {numbers}").format(when=when, numbers=", ".join(numbers)) if when else ", ".join(numbers)
            for when, numbers in until.items()
        ]
        lead = ngettext("{n} animal waits.", "{n} animals wait.", len(animals)).format(n=len(animals))
        lines.append(
            (lead, f"{full_stop(reason)} {full_stop('; '.join(parts))} {_('The amounts are on their cards.')}")
        )
    return [*lines, *(_alone(plan.of(number)) for number in plan.table.not_for_fluid)]


def _alone(animal: AnimalPlan) -> tuple[str, str]:
    name = animal.animal.taxon or form_words(animal.animal.form)
    return f"{animal.animal.field_number}, {name}.", doing_words(animal)


# The trays


def _trays(flow: Flow, plan: EveningPlan) -> None:
    if not plan.table.trays:
        return
    flow.heading(_("The trays, as they lie"), size_pt=12, keep_mm=80)
    by_number = {animal.animal.field_number: animal for animal in plan.animals}
    high = 86.0
    for tray in plan.table.trays:
        drawing = trays.draw(tray, by_number, width_mm=0.66 * flow.room_mm, height_mm=high, card=flow.card)
        lines = tray_lines(plan, tray.field_numbers)
        needed = max(drawing.height_mm, 6.0 + 5.0 * len(lines)) + 4.0
        flow.need(needed)
        top = flow.y
        flow.page.place(drawing, flow.x, top)
        x = flow.x + drawing.width_mm + 4.0
        room = flow.x + flow.room_mm - x
        y = top + 9.0
        for place, number, taxon in lines:
            flow.page.text(x, y, place, size_pt=10, face="bold", room_mm=8, field=_("place"))
            wide = flow.page.text(
                x + 8, y, number, size_pt=10, least_pt=6.5, face="bold", room_mm=room - 8, field=_("field number")
            )
            free = room - 10 - wide
            # The number is who it is; a name that has no room here stands in the order and on the card.
            if taxon and free > 0 and type_.largest_pt(taxon, free, "italic", 9, 9) is not None:
                flow.page.text(x + 10 + wide, y, taxon, size_pt=9, face="italic", field=_("taxon"))
            y += 5.0
        flow.page.text(x, y + 1.0, _sheets_words(tray), size_pt=9, least_pt=9, room_mm=room, field=_("sheets"))
        flow.y = max(top + needed, y + 4.0)
    page_.check_bar(flow.page, flow.x, flow.y, size_pt=9)
    flow.y += 4.0


def _sheets_words(tray: Tray) -> str:
    """How much each sheet of a tray holds."""
    return _("Sheets: upper {upper}, lower {lower}.").format(
        upper=f"{tray.upper_sheet_ml:.0f}{figures.NBSP}mL", lower=f"{tray.lower_sheet_ml:.0f}{figures.NBSP}mL"
    )


def tray_lines(plan: EveningPlan, numbers: Sequence[str]) -> list[tuple[str, str, str]]:
    """Place, field number and taxon of what lies in a tray."""
    lines = []
    for number in numbers:
        animal = plan.of(number)
        place = f"{animal.place.place}" if animal.place else ""
        lines.append((place, number, animal.animal.taxon or form_words(animal.animal.form)))
    return lines


# The air, the doubts, the cautions


def _air(flow: Flow, plan: EveningPlan) -> None:
    air = plan.table.extra.get("air")
    if not isinstance(air, dict) or not air.get("line"):
        return
    flow.heading(_("The air"), size_pt=12, keep_mm=60)
    flow.paragraph(str(air["line"]), size_pt=10, indent_mm=4.0, bar=True, field=_("air"))
    for words in _air_words(air):
        flow.paragraph(words, size_pt=9.5, field=_("air"))
    chart = air_chart.draw(air, width_mm=flow.room_mm, height_mm=58, start=plan.table.start, size_pt=9, card=flow.card)
    flow.need(chart.height_mm + 2)
    flow.page.place(chart, flow.x, flow.y)
    flow.y += chart.height_mm + 2


def _air_words(air: Mapping[str, Any]) -> list[str]:
    """What to mind, what would make the figures firmer, and the accident to be ready for."""
    spill = air.get("spill") or {}
    urgent = air.get("urgent", ())  # stands on the first side already
    warnings = [words for words in air.get("warnings", ()) if words not in urgent]
    told = [*warnings, *air.get("questions", ()), spill.get("line", "")]
    return [str(words) for words in told if words]


def _minded(plan: EveningPlan) -> list[str]:
    air = plan.table.extra.get("air") or {}
    return [*map(str, air.get("urgent", ())), *plan.table.doubts]


def _doubts(flow: Flow, plan: EveningPlan) -> None:
    """What forbids the work or may go wrong tonight stands before the order, where it is read in time."""
    doubts = _minded(plan)
    if doubts:
        flow.heading(_("Mind tonight"), size_pt=12)
    for doubt in doubts:
        flow.paragraph(full_stop(doubt), size_pt=10, indent_mm=4.0, bar=True, after_mm=0.9, field=_("doubts"))


def _assumed(flow: Flow, plan: EveningPlan) -> None:
    table = plan.table
    flow.heading(_("What this stands on"), size_pt=12)
    if table.defaults_used:
        words = "; ".join(table.defaults_used)
        flow.paragraph(full_stop(words), lead=_("Not stated, so taken:"), size_pt=9.5, field=_("defaults"))
    for words in finding_words(plan):
        flow.paragraph(words, size_pt=9.5, field=_("list"))
    flow.paragraph(protocol_words(plan), size_pt=9.5, field=_("protocol"))


def finding_words(plan: EveningPlan) -> list[str]:
    """What was noticed while the list was read; a column's name is told only where there is a row to look at."""
    found = [Finding(**finding) for finding in plan.findings]
    return [full_stop((f if f.row is not None else replace(f, field="")).sentence()) for f in found]


def _round_title(name: str) -> str:
    return round_words(name) if name else _("If something happens, and afterwards")


def _cautions(flow: Flow, plan: EveningPlan) -> None:
    if not plan.table.cautions:
        return
    flow.heading(_("Cautions, in the order in which hazards arise"), size_pt=12, keep_mm=30)
    flow.columns(2)
    for name, cautions in by_round(plan.table.cautions):
        flow.heading(_round_title(name), size_pt=10.5, keep_mm=14, rule=False)
        for caution in cautions:
            flow.paragraph(_(caution.text), size_pt=9, after_mm=1.4, indent_mm=3.5, bar=True, field=_("cautions"))


# Plain words


def text(plan: EveningPlan) -> str:
    """The table's sheet in plain words."""
    table = plan.table
    lines = [
        _title(plan),
        _("{start} to {end}; fixing alone {minutes:.0f} min ({low:.0f} to {high:.0f})").format(
            start=figures.day_and_clock(table.start),
            end=figures.day_and_clock(table.end),
            minutes=table.minutes,
            low=table.minutes_low,
            high=table.minutes_high,
        ),
        *([camp_words(plan)] if camp_words(plan) else []),
        "",
        _("The clock"),
        *(f"  {figures.clock(moment.at)}  {_clock_words(moment, plan)}" for moment in _lines_of_clock(plan)),
        "",
        _("Lay ready"),
        *(f"  [ ] {full_stop(line)}" for line in table.lay_ready),
        "",
        *([_("Mind tonight"), *(f"  - {full_stop(words)}" for words in _minded(plan)), ""] if _minded(plan) else []),
        _("The order (turn, number, animal, tray.place, fill in mL, needle, out from)"),
    ]
    for turn, number in enumerate(table.order, start=1):
        animal = plan.of(number)
        place = f"{animal.place.tray}.{animal.place.place}" if animal.place else "-"
        fill = figures.plain_ml(animal.total_ml) if animal.injections else _("none")
        gauges = ", ".join(f"{g}" for g in sorted({i.gauge for i in animal.injections}))
        needle = f"{gauges} G" if gauges else "-"
        name = animal.animal.taxon or form_words(animal.animal.form)
        out = out_words(plan, animal)
        lines.append(f"  {turn:>3}  {number}  {name}  {place}  {fill}  {needle}  {out}  [ ] [ ] [ ] [ ]")
    lines += ["", f"{_('In all.')} {fluid_words(plan)}"]
    lines += [f"{lead} {words}" for lead, words in other_lines(plan)]
    lines += ["", "   ".join(f"{name} ____________" for name in _asked(plan))]
    for tray in table.trays:
        lines += ["", _("Tray {n}").format(n=tray.number) + f", {tray.width_mm:.0f} x {tray.height_mm:.0f} mm"]
        for number in tray.field_numbers:
            laid = plan.of(number).place
            if laid is not None:
                where = _("{x:.0f} mm from the left, {y:.0f} mm from the near edge").format(x=laid.x_mm, y=laid.y_mm)
                lines.append(f"  {laid.place}  {number}: {where}, {laid.width_mm:.0f} x {laid.height_mm:.0f} mm")
        lines.append(f"  {_sheets_words(tray)}")
    air = table.extra.get("air")
    if isinstance(air, dict) and air.get("line"):
        lines += ["", _("The air"), f"  {air['line']}", *(f"  {w}" for w in _air_words(air))]
        lines += [f"  {words}" for words in air_chart.lines(air, table.start)]
    lines += ["", _("What this stands on")]
    if table.defaults_used:
        lines.append(f"  {_('Not stated, so taken:')} {full_stop('; '.join(table.defaults_used))}")
    lines += [f"  {words}" for words in finding_words(plan)]
    lines.append(f"  {protocol_words(plan)}")
    for name, cautions in by_round(table.cautions):
        lines += ["", _round_title(name), *(f"  - {_(caution.text)}" for caution in cautions)]
    lines += ["", origin_words(plan)]
    return "\n".join(line.replace(figures.NBSP, " ").replace("\u2011", "-") for line in lines) + "\n"
