"""A jarful's way from bath to jar on paper: what to pour drawn vessel by vessel, when, and room for what was done.

It hangs beside the jar for weeks, so each change has a line for its date, its reading and its hand.
"""

from __future__ import annotations

from collections.abc import Sequence

from keepfast import __version__
from keepfast.paper import figures
from keepfast.paper import type as type_
from keepfast.paper.flow import MARGIN_MM, Flow
from keepfast.paper.page import DASHED, FINE, FIRM, HEAVY, THIN, Page
from keepfast.paper.wording import form_words, full_stop
from keepfast.plan.amounts import amount, weight
from keepfast.plan.step_calendar import CalendarEntry
from keepfast.plan.steps import Change, StepsPlan
from keepfast.rules.cautions import Caution
from keepfast.words import _

_PT, _SMALL_PT = 10.0, 9.0
_VESSEL_MM = 24.0
_MOST_IN_A_ROW = 8
_ROW_MM = 9.0
# Shares of the width: box, number and kind, fluid, what to pour, when, until the next, done on, reading, by.
_SHARES = (0.035, 0.105, 0.085, 0.21, 0.13, 0.165, 0.11, 0.08, 0.08)


def draw(
    plan: StepsPlan,
    entries: Sequence[CalendarEntry] = (),
    paper: str = "a4",
    *,
    bath_cautions: Sequence[Caution] = (),
    step_cautions: Sequence[Caution] = (),
) -> list[Page]:
    """
    The sheet, on as many sides as it takes.

    Parameters
    ----------
    entries : sequence of CalendarEntry
        What is to be done when; without them the days stay open.
    paper : str
        a4 or letter.
    bath_cautions, step_cautions : sequence of Caution
        What to mind at the bath, and where alcohol is poured.

    Raises
    ------
    PaperError
        If something cannot be printed; it names card and field.
    """

    def head(page: Page, number: int) -> float:
        return _head(page, plan, number)

    rules = plan.rules
    made = _("rules {name} {hash}").format(name=rules.get("name", ""), hash=str(rules.get("sha256", ""))[:12])
    flow = Flow(paper, _names(plan), head, foot=f"Keepfast {__version__}; {made}")
    _bodies(flow, plan)
    _bath(flow, plan, entries, bath_cautions)
    if plan.stays_in_formalin:
        flow.heading(_("Stays in formalin"))
        flow.paragraph(_(plan.stay_text), size_pt=_PT, field=_("formalin"))
        for saying in plan.stay_strengths:
            words = full_stop(f"{_(saying.text)} ({saying.source})")
            flow.paragraph(words, size_pt=_SMALL_PT, indent_mm=4.0, bar=True, field=_("formalin"))
        flow.blanks([(_("Changed on"), 0), (_("strength, %"), 0), (_("pH"), 0), (_("by"), 0)])
    else:
        _changes(flow, plan, entries, step_cautions)
    _judging(flow, plan)
    if flow.left_mm < 24.0:
        flow.new_page()
    flow.space(3.0)
    flow.ruled(_("Room to write"), min(flow.left_mm - 6.0, 60.0))
    return flow.finish()


def rest_in_words(plan: StepsPlan, bath_cautions: Sequence[Caution] = (), step_cautions: Sequence[Caution] = ()) -> str:
    """What the sheet has beyond the plan's own words: cautions, and lines for what was done."""
    lines = ["", _("Mind"), *(f"  - {_(caution.text)}" for caution in (*bath_cautions, *step_cautions))]
    lines += ["", _("What was really done")]
    if plan.fixing is not None:
        lines.append(_("  Into the bath on ________  changed on ________  fixed, all signs seen, on ________  by ____"))
    if plan.stays_in_formalin:
        lines.append(_("  Changed on ________  strength ____ %  pH ____  by ____"))
    else:
        for change in plan.of(plan.chosen).changes:
            words = _("  [ ] {n} {kind} {fluid}: done on ________  read ____ %  by ____")
            lines.append(words.format(n=change.number, kind=_kind(change), fluid=_fluid(change)))
        lines.append(_("  Jar read on ________  ____ %  at ____ °C  topped up ____ mL  by ____"))
    return "\n".join(line.replace(figures.NBSP, " ") for line in lines) + "\n"


def title(plan: StepsPlan) -> str:
    """What the file is called."""
    return _("From bath to jar: {names}").format(names=_names(plan))


def _names(plan: StepsPlan) -> str:
    """Who lies in the jar; of many, the first and how many."""
    names = list(dict.fromkeys(body.name for body in plan.jarful.bodies))
    if len(names) <= 3:
        return ", ".join(names)
    return _("{first} and {n} more").format(first=names[0], n=len(names) - 1)


def _head(page: Page, plan: StepsPlan, number: int) -> float:
    left, room = MARGIN_MM, page.width_mm - 2 * MARGIN_MM
    names = type_.check(_names(plan), "bold", _names(plan), _("names"))
    size = 34.0 if number == 1 else 20.0
    y = 22.0 if number == 1 else 17.0
    wide = page.text(left, y, names, size_pt=size, least_pt=12.0, face="bold", room_mm=0.62 * room, field=_("names"))
    words = _("From bath to jar, {t} °C").format(t=f"{plan.temperature_c:g}").replace(" °C", f"{figures.NBSP}°C")
    page.text(
        left + room, y, words, size_pt=12.0, least_pt=9.0, anchor="end", room_mm=room - wide - 4.0, field=_("title")
    )
    page.line([(left, y + 3.0), (left + room, y + 3.0)], width_mm=HEAVY if number == 1 else FIRM)
    return y + 5.0


def _bodies(flow: Flow, plan: StepsPlan) -> None:
    words = "; ".join(
        _("{name}: {form}, {mass}, {thick} mm thick{how}").format(
            name=body.name,
            form=form_words(body.form),
            mass=weight(body.mass_g),
            thick=f"{body.diameter_mm:.0f}",
            how="" if body.diameter_known == "measured" else _(" (estimated)"),
        )
        for body in plan.jarful.bodies
    )
    flow.paragraph(f"{words}.", size_pt=_PT, field=_("bodies"))


def _mind(flow: Flow, cautions: Sequence[Caution]) -> None:
    """Cautions where their hazard arises."""
    for caution in cautions:
        flow.paragraph(
            _(caution.text), size_pt=_SMALL_PT, lead=_("Mind."), indent_mm=4.0, bar=True, field=_("cautions")
        )


def _bath(flow: Flow, plan: StepsPlan, entries: Sequence[CalendarEntry], cautions: Sequence[Caution]) -> None:
    fixing = plan.fixing
    if fixing is None:
        return
    flow.heading(_("Wet wrap") if fixing.wrapped else _("Fixing bath"))
    end = fixing.end_percent_w_v
    flow.paragraph(
        _("{ml} of formalin with {start} % formaldehyde; it ends at {end} % ({low} to {high}).").format(
            ml=amount(fixing.fluid_ml),
            start=f"{fixing.start_percent_w_v:.1f}",
            end=f"{end.value:.1f}",
            low=f"{end.low:.1f}",
            high=f"{end.high:.1f}",
        ),
        size_pt=12.0,
        field=_("bath"),
    )
    if not plan.stays_in_formalin:
        flow.paragraph(fixing.change_reason, size_pt=_PT, field=_("bath"))
        days = fixing.days
        flow.paragraph(
            _("Plan {days} days; it may take {low} to {high}. The signs below decide, not the calendar.").format(
                days=f"{days.value:g}", low=f"{days.low:.0f}", high=f"{days.high:.0f}"
            ),
            size_pt=_PT,
            field=_("bath"),
        )
    changes = {f"{change.kind}-{change.number}" for series in plan.series for change in series.changes}
    for entry in entries:
        if entry.key not in changes and entry.key != "check":
            flow.paragraph(full_stop(entry.what), size_pt=_PT, lead=_when(entry), field=_("clock"))
    _mind(flow, cautions)
    fixed = [] if plan.stays_in_formalin else [(_("changed on"), 0.0), (_("fixed, all signs seen, on"), 0.0)]
    flow.blanks([(_("Into the bath on"), 0), *fixed, (_("by"), 0)])


def _changes(flow: Flow, plan: StepsPlan, entries: Sequence[CalendarEntry], cautions: Sequence[Caution]) -> None:
    series = plan.of(plan.chosen)
    flow.heading(_("The steps: {words}").format(words=series.words), keep_mm=_VESSEL_MM + 30.0)
    flow.paragraph(
        _("To {target} %: {why}.").format(target=f"{plan.target_vol:g}", why=_(plan.target_words)), size_pt=_PT
    )
    _mind(flow, cautions)
    for start in range(0, len(series.changes), _MOST_IN_A_ROW):
        _vessels(flow, series.changes[start : start + _MOST_IN_A_ROW])
    flow.paragraph(
        _(
            "Hatched: stock of {stock} %; white: water; drawn in their shares. Measure each by itself, then mix: the"
            " volumes do not add up."
        ).format(stock=f"{plan.stock_vol:g}"),
        size_pt=_SMALL_PT,
        field=_("drawing of the vessels"),
    )
    _table(flow, series.changes, {entry.key: entry for entry in entries})
    flow.paragraph(
        _("{stock} of stock; the largest step has {jump} points.").format(
            stock=amount(series.stock_ml), jump=f"{series.largest_jump_vol:.0f}"
        ),
        size_pt=_PT,
        lead=_("In all."),
        field=_("totals"),
    )
    end = series.end_vol
    check = next((_when(entry) for entry in entries if entry.key == "check"), "")
    flow.paragraph(
        _(
            "Read the jar after {low} to {high} days{when}: it should have come to {end} % ({least} to {most}). Below"
            " {target}: top up with stock and read again after as long."
        ).format(
            low=f"{plan.check_days[0]:.0f}",
            high=f"{plan.check_days[1]:.0f}",
            when=_(", first on {day}").format(day=check) if check else "",
            end=f"{end.value:.1f}",
            least=f"{end.low:.1f}",
            most=f"{end.high:.1f}",
            target=f"{plan.target_vol:g}",
        ),
        size_pt=_PT,
        indent_mm=4.0,
        bar=True,
        field=_("check"),
    )
    flow.blanks([(_("Read on"), 0), (_("%"), 0), (_("at °C"), 0), (_("topped up, mL"), 0), (_("by"), 0)])


def _vessels(flow: Flow, changes: Sequence[Change]) -> None:
    """Every change as it stands in its vessel, from left to right: how strong, how much of each."""
    flow.need(_VESSEL_MM + 19.0)
    share = flow.room_mm / _MOST_IN_A_ROW
    wide = 0.62 * share
    top = flow.y + 11.0
    for i, change in enumerate(changes):
        middle = flow.x + (i + 0.5) * share
        left, right, floor = middle - wide / 2, middle + wide / 2, top + _VESSEL_MM
        flow.page.text(
            middle, flow.y + 4.0, f"{change.number}", size_pt=12.0, face="bold", anchor="middle", field=_("number")
        )
        flow.page.text(
            middle, flow.y + 9.0, _fluid(change), size_pt=11.0, least_pt=9.0, face="bold", anchor="middle",
            room_mm=share - 1.0, field=_("strength"),
        )  # fmt: skip
        level = floor - 0.85 * _VESSEL_MM
        part = change.stock_ml / (change.stock_ml + change.water_ml)
        border = floor - part * (floor - level)
        if part > 0:
            flow.page.hatch([(left, border), (right, border), (right, floor), (left, floor)], spacing_mm=1.6)
        if 0 < part < 1:
            flow.page.line([(left, border), (right, border)], width_mm=THIN)
        flow.page.line([(left, level), (right, level)], width_mm=FINE, dash=DASHED)
        flow.page.line([(left, top), (left, floor), (right, floor), (right, top)], width_mm=FIRM)
        lines = [amount(change.water_ml)] if part == 0 else [amount(change.stock_ml), f"+ {amount(change.water_ml)}"]
        for n, words in enumerate(lines):
            flow.page.text(
                middle, floor + 3.8 + 4.0 * n, words.replace(" ", figures.NBSP), size_pt=_SMALL_PT, anchor="middle",
                face="bold" if n == 0 else "regular", room_mm=share - 0.5, field=_("amount"),
            )  # fmt: skip
    flow.y = top + _VESSEL_MM + 10.0


def _table(flow: Flow, changes: Sequence[Change], entries: dict[str, CalendarEntry]) -> None:
    _table_heads(flow)
    for change in changes:
        entry = entries.get(f"{change.kind}-{change.number}")
        cells = (
            "",
            f"{change.number} {_kind(change)}",
            _fluid(change),
            _pour(change),
            _when(entry) if entry else "",
            figures.span(change.hours.value, change.hours.low, change.hours.high),
        )
        broken = [_fitted(flow, words, i, flow.room_mm) for i, words in enumerate(cells)]
        more = (max(len(rows) for _size, rows in broken) - 1) * 4.0
        if flow.left_mm < _ROW_MM + more:
            flow.new_page()
            _table_heads(flow)
        flow.page.box(flow.x, flow.y + 2.4, 4.2, 4.2, width_mm=FIRM)
        x = flow.x
        for i, share in enumerate(_SHARES):
            room = share * flow.room_mm
            if i < len(cells):
                size, rows = broken[i]
                for n, words in enumerate(rows):
                    flow.page.text(
                        x, flow.y + 6.0 + 4.0 * n, words, size_pt=size, face="bold" if i in (1, 2, 3) else "regular",
                        field=_heads()[i],
                    )  # fmt: skip
            if i >= len(cells) or (i == 4 and entry is None):
                flow.page.line([(x, flow.y + 7.0), (x + room - 2.0, flow.y + 7.0)], width_mm=FINE)
            x += room
        flow.y += _ROW_MM + more
        flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=THIN)
    flow.y += 2.0


def _table_heads(flow: Flow) -> None:
    x = flow.x
    for name, share in zip(_heads(), _SHARES, strict=True):
        if name:
            flow.page.text(x, flow.y + 3.6, name, size_pt=9.0, room_mm=share * flow.room_mm - 1.0, field=name)
        x += share * flow.room_mm
    flow.y += 5.0
    flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=FIRM)


def _fitted(flow: Flow, words: str, column: int, whole_mm: float) -> tuple[float, list[str]]:
    face: type_.Face = "bold" if column in (1, 2, 3) else "regular"
    room = _SHARES[column] * whole_mm - 1.2
    size = type_.largest_pt(words, room, face, 11.0 if face == "bold" else _PT, _SMALL_PT)
    if size is not None:
        return size, [words]
    rows = flow.page.broken(room, words, size_pt=_SMALL_PT, face=face, field=_heads()[column])
    return _SMALL_PT, [row.words for row in rows]


def _heads() -> tuple[str, ...]:
    return (
        "",
        _("change"),
        _("fluid"),
        _("stock + water"),
        _("when"),
        _("until the next"),
        _("done on"),
        _("read, %"),
        _("by"),
    )


def _kind(change: Change) -> str:
    return {"rinse": _("rinse"), "step": _("step"), "jar": _("jar")}[change.kind]


def _fluid(change: Change) -> str:
    return _("water") if change.kind == "rinse" else f"{change.strength_vol:g}{figures.NBSP}%"


def _pour(change: Change) -> str:
    if change.stock_ml <= 0:
        return amount(change.water_ml).replace(" ", figures.NBSP)
    return _("{stock} + {water}").format(
        stock=amount(change.stock_ml).replace(" ", figures.NBSP),
        water=amount(change.water_ml).replace(" ", figures.NBSP),
    )


def _when(entry: CalendarEntry) -> str:
    return f"{entry.at:%d %b %H:%M}".replace(" ", figures.NBSP)


def _judging(flow: Flow, plan: StepsPlan) -> None:
    """By what it is judged, how it travels, what is doubtful; who says how long."""
    fixing = plan.fixing
    if fixing is not None and not plan.stays_in_formalin:
        flow.heading(_("Fixed when"))
        for saying in fixing.signs:
            flow.paragraph(_(saying.text), size_pt=_PT, indent_mm=4.0, bar=True, field=_("signs"))
    if fixing is not None:
        _two_columns(flow, _("Between camps"), [("", _(saying.text)) for saying in fixing.travel])
    doubts = (*(fixing.doubts if fixing is not None and not plan.stays_in_formalin else ()), *plan.doubts)
    if doubts:
        _two_columns(flow, _("What is not known"), [("", full_stop(doubt)) for doubt in doubts])
    if fixing is not None and not plan.stays_in_formalin and fixing.by_source:
        blocks = []
        for found in fixing.by_source:
            words = _("{low} days and more") if found.days_high is None else _("{low} to {high} days")
            high = f"{found.days_high:g}" if found.days_high is not None else ""
            blocks.append((full_stop(words.format(low=f"{found.days_low:g}", high=high)),
                           full_stop(f"{_(found.whom)} ({found.source})")))  # fmt: skip
        _two_columns(flow, _("How long, by source"), blocks)


def _two_columns(flow: Flow, heading: str, blocks: Sequence[tuple[str, str]]) -> None:
    """A heading and its paragraphs side by side, together on one side where a side can hold them."""
    high = flow.balanced_mm(2, blocks, size_pt=_SMALL_PT)
    flow.heading(heading, keep_mm=min(high, 150.0))
    flow.balanced(2, blocks, size_pt=_SMALL_PT)
