"""Mixing cards and steps as plain text for a terminal: one screen, columns that line up, nothing by colour."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from keepfast.plan.amounts import amount, weight
from keepfast.plan.fixing import FixingPlan
from keepfast.plan.mixing import MixingCard, Portion
from keepfast.plan.step_calendar import CalendarEntry
from keepfast.plan.steps import Change, Doubted, StepSeries, StepsPlan
from keepfast.rules.cautions import Caution
from keepfast.rules.fluids import Series
from keepfast.words import _, ngettext

WIDTH = 98


def _wrapped(text: str, first: str = "", rest: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=first,
        subsequent_indent=" " * len(first) if rest is None else rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _head(title: str) -> list[str]:
    return [*_wrapped(title), "=" * min(len(title), WIDTH), ""]


def _section(name: str, lines: Iterable[str]) -> list[str]:
    body = list(lines)
    return [name.upper(), *body, ""] if body else []


def care_text(cautions: Iterable[Caution]) -> str:
    """What to mind, as one section."""
    return "\n".join(
        _section(_("Take care"), [line for c in cautions for line in _wrapped(_(c.text), "  - ")])
    ).rstrip()


def _portion(portion: Portion, wide: int) -> str:
    volume = "" if portion.poured_ml is None else amount(portion.poured_ml)
    return f"  {portion.what:<{wide}}  {volume:>9}  {weight(portion.g):>9}"


def card_text(card: MixingCard) -> str:
    """A mixing card, in the order of work."""
    wide = max(len(p.what) for p in card.portions)
    lines = _head(card.title)
    lines += _section(_("Take"), [_portion(p, wide) for p in card.portions])
    lines += _section(_("Do"), [line for n, step in enumerate(card.steps, 1) for line in _wrapped(step, f"  {n}. ")])
    lines += _section(_("Prove it"), [line for r in card.readings for line in _wrapped(r.words, "  - ")])
    lines += _section(_("If it is off"), [line for line in _corrections(card)])
    lines += _section(_("What comes out"), _result(card))
    lines += _section(_("Write on it"), _wrapped(card.label, "  "))
    lines += _section(_("Doubts"), [line for d in card.doubts for line in _wrapped(d, "  - ")])
    lines += _section(_("Take care"), [line for c in card.cautions for line in _wrapped(_(c.text), "  - ")])
    lines += _wrapped(_("Sources: {list}").format(list="; ".join(card.sources)))
    return "\n".join(lines)


def _corrections(card: MixingCard) -> list[str]:
    rows = []
    for correction in card.corrections:
        much = amount(correction.ml) if correction.ml is not None else weight(correction.g or 0.0)
        also = f" ({weight(correction.g)})" if correction.ml is not None and correction.g is not None else ""
        rows.append(f"  {correction.when:<22}  {_('add')} {much} {correction.add}{also}")
    return rows


def _result(card: MixingCard) -> list[str]:
    result = card.result
    if card.fluid == "alcohol":
        flash = result.get("flash_point_c")
        lines = [
            _("  {volume} of {strength:.2f} % vol ({mass:.2f} % by mass); {cold} once it is at 20 °C").format(
                volume=amount(result["volume_ml"]),
                strength=result["strength_vol"],
                mass=result["strength_mass_percent"],
                cold=amount(result["volume_20c_ml"]),
            )
        ]
        if flash:
            lines.append(_("  flash point about {value:.0f} °C (sources: {low:.0f} to {high:.0f})").format(**flash))
        return lines
    lines = [
        _("  {mol:.2f} mol/L formaldehyde, {methanol:.1f} g methanol in 100 mL").format(
            mol=result["formaldehyde_mol_l"], methanol=result["methanol_percent_w_v"]
        ),
        _("  over it, shut: {ppm:.0f} ppm formaldehyde in the air of the vessel").format(ppm=result["vapour_ppm"]),
    ]
    if result.get("ph") is not None:
        budget, share = result["acid_budget_mol_l"], result["oxidised_share_at"]
        lines.append(_("  pH {ph:.2f} when fresh").format(ph=result["ph"]))
        lines += [
            _("  down to pH {ph} it takes {acid:.0f} mmol/L of acid: {share:.1f} % of its formaldehyde").format(
                ph=ph, acid=1000 * acid, share=100 * share[ph]
            )
            for ph, acid in budget.items()
            if acid > 0
        ]
    return lines


def span(hours: Doubted) -> str:
    """A time with its doubt, in hours or days as suits it."""
    if hours.value < 36:
        return _("{value:.0f} h ({low:.0f} to {high:.0f})").format(value=hours.value, low=hours.low, high=hours.high)
    return _("{value:.1f} d ({low:.1f} to {high:.1f})").format(
        value=hours.value / 24, low=hours.low / 24, high=hours.high / 24
    )


def _change(change: Change) -> str:
    kind = {"rinse": _("rinse"), "step": _("step"), "jar": _("JAR")}[change.kind]
    if change.kind == "rinse":
        fluid, made, ends = (
            _("water"),
            amount(change.water_ml),
            _("{c:.2f} % CH2O").format(c=change.formaldehyde_percent_w_v),
        )
    else:
        fluid = f"{change.strength_vol:g} %"
        made = _("{stock} + {water}").format(stock=amount(change.stock_ml), water=amount(change.water_ml))
        ends = f"{change.ends_vol.value:.1f} % ({change.ends_vol.low:.1f}-{change.ends_vol.high:.1f})"
    volume, next_one = amount(change.fluid_ml), span(change.hours)
    return f"  {change.number:>2} {kind:<6} {fluid:>7} {volume:>8}  {made:<20}  {ends:<20}  {next_one}"


def _series(series: StepSeries, stock_vol: float) -> str:
    return _("{n} fills, {stock} of {strength:g} % stock, largest step {jump:.0f} points, {time} to the jar").format(
        n=sum(c.kind != "rinse" for c in series.changes),
        stock=amount(series.stock_ml),
        strength=stock_vol,
        jump=series.largest_jump_vol,
        time=span(series.hours),
    )


def steps_text(plan: StepsPlan, entries: Sequence[CalendarEntry] = ()) -> str:
    """The plan of a jarful: what to do and when, how to judge it, what others do, what is doubtful."""
    lines = _head(_("From bath to jar at {t:g} °C: {who}").format(t=plan.temperature_c, who=_who(plan)))
    if plan.fixing is not None:
        lines += _bath(plan, plan.fixing)
    if plan.stays_in_formalin:
        lines += _section(_("Stays in formalin"), _staying(plan))
    else:
        lines += _section(_("Steps: {words}").format(words=plan.of(plan.chosen).words), _steps(plan))
        lines += _section(_("Other ways"), _other_ways(plan))
    lines += _section(_("When"), [f"  {entry.at:%a %d %b %Y %H:%M}  {entry.what}" for entry in entries])
    fixing = plan.fixing
    if fixing is not None and not plan.stays_in_formalin:
        lines += _section(_("Fixed when"), [line for s in fixing.signs for line in _wrapped(_(s.text), "  - ")])
    if fixing is not None:
        lines += _section(_("Between camps"), [line for s in fixing.travel for line in _wrapped(_(s.text), "  - ")])
    if fixing is not None and not plan.stays_in_formalin:
        lines += _section(_("How long, by source"), _by_source(fixing))
    if not plan.stays_in_formalin:
        lines += _section(_("What others do"), _practice(plan))
    doubts = (*(fixing.doubts if fixing is not None and not plan.stays_in_formalin else ()), *plan.doubts)
    lines += _section(_("Doubts"), [line for d in doubts for line in _wrapped(d, "  - ")])
    return "\n".join(lines)


def _who(plan: StepsPlan) -> str:
    return ", ".join(
        _("{name} ({form}, {mass}, {diameter:.0f} mm thick{how})").format(
            name=b.name,
            form=b.form.replace("_", " "),
            mass=weight(b.mass_g),
            diameter=b.diameter_mm,
            how="" if b.diameter_known == "measured" else _(", estimated"),
        )
        for b in plan.jarful.bodies
    )


def _bath(plan: StepsPlan, fixing: FixingPlan) -> list[str]:
    end = fixing.end_percent_w_v
    said = [
        _(
            "{ml} of formalin ({ratio:g} mL per g), {start:.1f} % formaldehyde;"
            " it ends at {value:.1f} % ({low:.1f} to {high:.1f})."
        ).format(
            ml=amount(fixing.fluid_ml),
            ratio=fixing.ml_per_g,
            start=fixing.start_percent_w_v,
            value=end.value,
            low=end.low,
            high=end.high,
        ),
    ]
    if not plan.stays_in_formalin:
        said.append(fixing.change_reason)
    if fixing.change_after_h is not None:
        said.append(
            _("First change after {h:.0f} h, any further one after as long again.").format(h=fixing.change_after_h)
        )
    if not plan.stays_in_formalin:
        said.append(
            _(
                "Plan {days:g} days; it may take {low:.0f} to {high:.0f}."
                " Middle of the thickest body: {centre} from the bath alone."
            ).format(days=fixing.days.value, low=fixing.days.low, high=fixing.days.high, centre=span(fixing.centre_h))
        )
    return _section(
        _("Wet wrap") if fixing.wrapped else _("Fixing bath"), [line for text in said for line in _wrapped(text, "  ")]
    )


def _staying(plan: StepsPlan) -> list[str]:
    return [
        *_wrapped(_(plan.stay_text), "  "),
        *(line for s in plan.stay_strengths for line in _wrapped(f"{_(s.text)} [{s.source}]", "  - ")),
    ]


def _steps(plan: StepsPlan) -> list[str]:
    chosen = plan.of(plan.chosen)
    heads = (_("fluid"), _("volume"), _("stock + water"), _("ends at"), _("until the next"))
    check = _("Read the jar's strength after {low:.0f} to {high:.0f} days; top up with stock until it stays.").format(
        low=plan.check_days[0], high=plan.check_days[1]
    )
    return [
        *_wrapped(_("To {target:g} %: {why}.").format(target=plan.target_vol, why=_(plan.target_words)), "  "),
        f"  {'':2} {'':<6} {heads[0]:>7} {heads[1]:>8}  {heads[2]:<20}  {heads[3]:<20}  {heads[4]}",
        *(_change(c) for c in chosen.changes),
        *_wrapped(_series(chosen, plan.stock_vol), "  "),
        *_wrapped(check, "  "),
    ]


def _other_ways(plan: StepsPlan) -> list[str]:
    lines = []
    chosen = plan.of(plan.chosen)
    for series in plan.series:
        if series.key != plan.chosen and series.changes == chosen.changes:
            lines += _wrapped(_("{words}: the same").format(words=series.words), "  ")
        elif series.key != plan.chosen:
            fills = ", ".join(f"{c.strength_vol:g} %" for c in series.changes if c.kind != "rinse")
            lines.append(f"  {series.words} (--prefer {series.key}): {fills}")
            lines += _wrapped(_series(series, plan.stock_vol), "    ")
    return lines


def _by_source(fixing: FixingPlan) -> list[str]:
    lines = []
    for t in fixing.by_source:
        words = (
            _("{low:g} days and more: {whom} [{source}]")
            if t.days_high is None
            else _("{low:g} to {high:g} days: {whom} [{source}]")
        )
        said = words.format(low=t.days_low, high=t.days_high, whom=_(t.whom), source=t.source)
        lines += _wrapped(said, "  - ")
    return lines


def _practice(plan: StepsPlan) -> list[str]:
    lines = []
    for s in plan.practice:
        fills = " - ".join(f"{v:g} %" for v in s.strengths_vol)
        lines += _wrapped(f"{fills}, {_days(s)} [{s.source}]", "  - ")
    for saying in plan.rinse_practice:
        lines += _wrapped(f"{_('rinse')}: {_(saying.text)} [{saying.source}]", "  - ")
    return lines


def _days(series: Series) -> str:
    if series.days_high <= 0:
        return _("at once")
    if series.days_low == series.days_high:
        return ngettext("{n:g} day each", "{n:g} days each", int(series.days_high)).format(n=series.days_high)
    return _("{low:g} to {high:g} days each").format(low=series.days_low, high=series.days_high)
