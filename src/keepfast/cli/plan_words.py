"""The plan in words: ``screen`` for a tired person, who, in which order, how much, where it lies, what to mind.

``summary`` holds the same and all the rest: every reason, doubt and caution.
"""

from __future__ import annotations

import datetime
import re
import textwrap
from collections.abc import Iterable
from typing import Any

from keepfast.findings import Finding
from keepfast.paper.wording import form_words, round_words
from keepfast.plan.cautions import by_round
from keepfast.plan.objects import AnimalPlan, EveningPlan
from keepfast.words import _, ngettext

WIDTH = 100
FEW_LINES = 10  # of one kind on the screen
MOST_LINES = 40  # of one kind; nobody reads thousands on a screen


def summary(plan: EveningPlan) -> str:
    """The whole plan in words: what the screen shows, then every reason, doubt and caution."""
    table = plan.table
    lines = [*_tonight(plan), "", *_clock_lines(plan), "", _("To mind")]
    for text in table.doubts:
        lines += _wrapped("  ", text)
    for found in plan.findings:
        lines += _wrapped("  ", Finding(**found).sentence())
    doubts = _own_doubts(plan)
    for number, text in doubts[:MOST_LINES]:
        lines += _wrapped(f"  {number}: ", text)
    lines += _more(len(doubts) - MOST_LINES)
    lines += _race(plan)
    lines += _other_sources(plan)
    lines += _air(plan)
    if table.cautions:
        lines += ["", _("Cautions, where their hazards arise")]
    for name, cautions in by_round(table.cautions):
        lines.append("  " + (round_words(name) if name else _("If something happens, and afterwards")))
        for caution in cautions:
            lines += _wrapped("  - ", caution.text)
    return _text([*lines, "", *_foot(plan)])


def screen(plan: EveningPlan, rest: str) -> str:
    """The plan on one screen; ``rest`` says where all of it stands."""
    table = plan.table
    lines = [*_tonight(plan, FEW_LINES), "", *_clock_lines(plan), "", _("To mind")]
    for text in table.doubts:
        lines += _wrapped("  ", text)
    for found in plan.findings:
        if found.get("weight") != "note":
            lines += _wrapped("  ", Finding(**found).sentence())
    doubts = _own_doubts(plan)
    for number, text in doubts[:FEW_LINES]:
        lines += _wrapped(f"  {number}: ", _first_sentence(text))
    lines += _more(len(doubts) - FEW_LINES)
    helps = [
        f"{number}, {race['regions'][0]['name']}: {race['advice'][0]['says']}"
        for number, race in _not_won(plan)
        if race["advice"] and race["advice"][0]["key"] != "past"  # who is past saving is named above
    ]
    if helps:
        lines += ["", _("Where decay may win, what helps most")]
        lines += [line for text in helps[:FEW_LINES] for line in _wrapped("  ", text)]
        lines += _more(len(helps) - FEW_LINES)
    air = table.extra.get("air")
    if air and air.get("line"):
        # What forbids the work as it stands, and what would make the figures firmer, cannot wait for the summary.
        told = (air["line"], *air["urgent"], *air["questions"])
        lines += ["", _("The air"), *(line for text in told for line in _wrapped("  ", str(text)))]
    spoken = {caution.key: caution.text for caution in table.cautions}
    needle = [spoken[key] for key in _AT_THE_NEEDLE if key in spoken]
    if needle:
        lines += ["", _("At the needle"), *(line for text in needle for line in _wrapped("  ", text))]
    return _text([*lines, "", *_foot(plan), *_wrapped("", rest)])


# The cautions that nobody may miss on the one screen; all of them stand in the summary and at their steps.
_AT_THE_NEEDLE = ("back_spray", "needles", "smell_is_no_alarm", "fangs_after_death", "beaded_lizards")


def _text(lines: Iterable[str]) -> str:
    return "\n".join(line.rstrip() for line in lines)


def _tonight(plan: EveningPlan, most: int = MOST_LINES) -> list[str]:
    """How many, by whom, how much; then a line for each animal in the order of work, and who is not in it.

    At ``most`` that many of those that wait or are not for fluid are told; where few are, their reasons are cut short.
    """
    table = plan.table
    wide = min(max((len(p.animal.field_number) for p in plan.animals), default=0), 24)
    wide = max(wide, len(_("number")))
    lines = [
        _("Tonight: {count} to fix, {people} at the table, {start} to {end}").format(
            count=len(table.order),
            people=ngettext("{n} person", "{n} people", table.people).format(n=table.people),
            start=_clock(table.start),
            end=_clock(table.end),
        ),
        _(
            "Fixing alone {m:.0f} min ({low:.0f} to {high:.0f});"
            " fixative {ml:.0f} mL ({flow:.0f} to {fhigh:.0f}); {trays}"
        ).format(
            m=table.minutes,
            low=table.minutes_low,
            high=table.minutes_high,
            ml=table.fixative_ml,
            flow=table.fixative_low_ml,
            fhigh=table.fixative_high_ml,
            trays=ngettext("{n} tray", "{n} trays", len(table.trays)).format(n=len(table.trays)),
        ),
        "",
        _head(wide),
    ]
    lines += [_row(k, plan.of(number), wide) for k, number in enumerate(table.order, 1)]
    for number in table.waiting[:most]:
        one = plan.of(number)
        until = _(" until {when} at the latest").format(when=_day_clock(one.wait_until)) if one.wait_until else ""
        lines += _wrapped(f"  -  {number:<{wide}} ", _("waits: {why}{until}").format(why=one.waits, until=until))
    lines += _more(len(table.waiting) - most)
    for number in table.not_for_fluid[:most]:
        one = plan.of(number)
        words = _("skeleton") if one.destiny == "skeleton" else _("tissue only")
        why = _first_sentence(one.fitness_reason) if most < MOST_LINES else one.fitness_reason
        lines += _wrapped(f"  -  {number:<{wide}} ", _("not into fluid, {what}: {why}").format(what=words, why=why))
    return [*lines, *_more(len(table.not_for_fluid) - most)]


def _clock_lines(plan: EveningPlan) -> list[str]:
    table = plan.table
    lines = [_("The clock")]
    lines += [f"  {_clock(m.at)}  {m.what}" for m in table.clock if not _same_later(table.clock, m)]
    if table.order:
        lines.append(
            "  "
            + _("Every animal may leave its tray at the earliest {when}.").format(when=_day_clock(table.earliest_out))
        )
    if "sun" in table.extra:
        lines += _wrapped("  ", table.extra["sun"]["line"])
    return lines


def _own_doubts(plan: EveningPlan) -> list[tuple[str, str]]:
    """Doubts about one animal alone; what several share is told once for the table."""
    return [
        (p.animal.field_number, doubt)
        for p in plan.animals
        for doubt, kind in zip(p.doubts, p.doubt_kinds, strict=True)
        if kind == "own"
    ]


def _foot(plan: EveningPlan) -> list[str]:
    """What was taken for granted, and what it was made from."""
    lines = []
    if plan.table.defaults_used:
        lines += _wrapped("", _("Not stated, so taken: {list}.").format(list="; ".join(plan.table.defaults_used)))
    return lines + _wrapped(
        "",
        _("Protocol {name} of {date}; keepfast {version}, seed {seed}. Ranges are 5 to 95 %.").format(
            name=plan.protocol["name"],
            date=plan.protocol["date"],
            version=plan.origin.get("keepfast", ""),
            seed=plan.origin.get("seed", ""),
        ),
    )


def _first_sentence(text: str) -> str:
    return re.split(r"(?<=[.])\s+(?=[A-ZÁÉÍÓÚ])", text, maxsplit=1)[0]


def _other_sources(plan: EveningPlan) -> list[str]:
    """What other sources say where the protocol took one side, by body form."""
    forms_of: dict[str, list[str]] = {}
    for form, one in plan.protocol["forms"].items():
        for other in one.get("other_sources", []):
            # A source that is nothing but how it is known is not said twice.
            known = "" if other["known"] == other["source"] else f"; {other['known']}"
            words = f"{_(other['topic'])}. {_(other['text'])} ({other['source']}{known})"
            forms_of.setdefault(words, []).append(form_words(form))
    told = [line for words, forms in forms_of.items() for line in _wrapped("  ", f"{', '.join(forms)}: {words}")]
    return ["", _("Where other sources say otherwise than the protocol"), *told] if told else []


def _air(plan: EveningPlan) -> list[str]:
    """The table's air, what would make it firmer, and the accident to be ready for."""
    air = plan.table.extra.get("air")
    if not air or not air.get("line"):
        return []
    told = [air["line"], *air["warnings"], *air["questions"], air["spill"]["line"]]
    return ["", _("The air"), *(line for text in told for line in _wrapped("  ", str(text)))]


def _race(plan: EveningPlan) -> list[str]:
    """Whoever does not plainly hold: the weakest part, what helps most, and when the tray may be left."""
    told = []
    for number, race in _not_won(plan):
        leave = race["leave"]
        longer = leave["supply_short"] or (leave["may_leave_h"] or 0) > plan.of(number).tray_h
        said = [race["sentence"], race["advice"][0]["says"] if race["advice"] else "", leave["says"] if longer else ""]
        told += _wrapped(f"  {number}: ", " ".join(filter(None, said)))
    return ["", _("The race between fixing and decay, where it is not plainly won"), *told] if told else []


def _not_won(plan: EveningPlan) -> list[tuple[str, dict[str, Any]]]:
    """Field number and race of whoever does not plainly hold, in the order of work."""
    races = [(number, plan.of(number).extra.get("race")) for number in plan.table.order]
    return [(n, race) for n, race in races if race and race["regions"][0]["verdict"] not in ("holds", "likely")]


def _more(count: int) -> list[str]:
    return [_("  and {count} more, which plan.json holds").format(count=count)] if count > 0 else []


def _head(wide: int) -> str:
    return (
        f"{_('no.'):>4} {_('number'):<{wide}} {_('animal'):<{_NAME}} {_('mass g'):>8} {_('fill mL'):>8} "
        f"{_('sites'):>5} {_('pricks'):>6} {_('place'):>6} {_('tray h'):>6}  {_('weakest part')}"
    )


_NAME = 22  # characters for a species


def _row(k: int, one: AnimalPlan, wide: int) -> str:
    estimated = "" if one.mass_g.measured else "~"
    fill = f"{one.total_ml:g}" if one.injections else _("none")
    place = f"{one.place.tray}.{one.place.place}" if one.place else "-"
    name = one.animal.taxon or one.animal.form
    race = one.extra.get("race")
    weakest = race["regions"][0] if race else None
    word = f"{weakest['name']} {weakest['says']}" if weakest else one.urgency_reason
    return (
        f"{k:>4} {one.animal.field_number:<{wide}} {_short(name, _NAME):<{_NAME}} "
        f"{estimated + _g(one.mass_g.value):>8} {fill:>8} "
        f"{len(one.injections) or '':>5} {len(one.pricks) or '':>6} {place:>6} {one.tray_h:>6.0f}  {_short(word, 44)}"
    )


def _g(value: float) -> str:
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def _short(text: str, room: int) -> str:
    return text if len(text) <= room else text[: room - 1] + "…"


def _wrapped(first: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=" " * max(len(first), 2))


def _clock(moment: datetime.datetime) -> str:
    return moment.strftime("%H:%M")


def _day_clock(moment: datetime.datetime | None) -> str:
    return "" if moment is None else moment.strftime("%Y-%m-%d %H:%M")


def _same_later(clock: object, moment: object) -> bool:
    """Lines about opening trays are told once, below."""
    return getattr(moment, "round", "") == "" and "tray " in getattr(moment, "what", "")
