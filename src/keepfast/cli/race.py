"""``race`` and ``spacing``: fixative against decay, for each animal of a list or for a girth."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.race_input import camp_of, evening_of, moment_of, ranged, seeded, tell
from keepfast.cli.saying import say, show, show_json, wrong
from keepfast.words import _

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from keepfast.plan.camp import Camp
    from keepfast.plan.objects import EveningPlan
    from keepfast.plan.race_verdict import AnimalVerdict


WIDTH = 100


def register(app: typer.Typer) -> None:
    """Add the commands of the race."""
    app.command("race", help=_("Race fixative against decay for each animal of a list."))(race)
    app.command("spacing", help=_("How far apart the fillings of a long body may lie tonight."))(spacing)


def race(
    list_: Path = typer.Argument(..., metavar="LIST", help=_("The list of animals (CSV or XLSX), or a book.")),
    camp: Path | None = typer.Option(None, "--camp", help=_("The camp file (TOML).")),
    start: str | None = typer.Option(
        None, "--start", help=_("When the table starts, such as 2026-04-18T18:00; now if left out.")
    ),
    temperature: float | None = typer.Option(
        None, "--temperature", help=_("One temperature in °C instead of the camp's.")
    ),
    record: Path | None = typer.Option(None, "--record", help=_("A logger's CSV instead of the camp's temperature.")),
    protocol: str | None = typer.Option(None, "--protocol", help=_("A protocol file or folder of your own.")),
    rules: str = typer.Option("field", "--rules", help=_("Rules of the race: a name, or a file of your own.")),
    hours: float | None = typer.Option(None, "--hours", help=_("How long to follow the bodies.")),
    seed: int = typer.Option(1, "--seed", help=_("Seed of the draws behind every band.")),
    draws: int = typer.Option(200, "--draws", help=_("How many draws stand behind every band.")),
    out: Path | None = typer.Option(None, "--out", help=_("Folder for race.json and the pictures.")),
    only: str | None = typer.Option(None, "--only", help=_("Field numbers to show, separated by commas.")),
    json: bool = typer.Option(False, "--json", help=_("Print JSON instead of the summary.")),
) -> None:
    """Race every animal of a list."""
    from keepfast.plan.race import judge
    from keepfast.rules import evening as evening_rules
    from keepfast.rules import race as race_rules

    if not 10 <= draws <= 10_000:
        wrong("--draws", _("10 to 10000 draws are possible"), _("Mend the number."), str(draws))
    if hours is not None and not 12 <= hours <= 1000:
        wrong("--hours", _("12 to 1000 hours can be followed"), _("Mend the number."), str(hours))
    seeded(seed)
    chosen = race_rules.load(rules)
    evening, here, when, inputs = evening_of(list_, camp, start, temperature, record, protocol, seed)
    plans = evening.animals
    if only is not None:
        wanted = [name.strip() for name in only.split(",")]
        known = {p.animal.field_number for p in plans}
        missing = [name for name in wanted if name not in known]
        if missing:
            wrong("--only", _("the list has no such animal"), ", ".join(sorted(known)) + ".", ", ".join(missing))
        plans = tuple(p for p in plans if p.animal.field_number in wanted)
    verdicts = judge(
        plans,
        camp=here,
        start=when,
        trays=evening.table.trays,
        beside=evening.animals,
        seed=seed,
        draws=draws,
        horizon_h=hours,
        rules=chosen,
        evening=evening_rules.load(),
    )
    left_out = [p for p in plans if not p.fit_for_fluid]
    answer = _race_answer(verdicts, left_out, here, when, chosen, inputs, seed, draws)
    if out is not None:
        from keepfast.exchange.files import write_whole

        files = _race_files(evening, verdicts, here, when, chosen, answer)
        write_whole(out, files)
        say(_("Written to {folder}: {files}").format(folder=out, files=", ".join(sorted(files))))
    if json:
        show_json(answer)
        return
    show(_race_words(verdicts, left_out, here, when, draws, chosen))


def _race_answer(
    verdicts: Sequence[AnimalVerdict],
    left_out: Sequence[Any],
    here: Camp,
    when: datetime.datetime,
    rules: Any,
    inputs: dict[str, str],
    seed: int,
    draws: int,
) -> dict[str, Any]:
    from keepfast.exchange.files import origin

    return {
        **origin(inputs, seed),
        "start": when.isoformat(),
        "draws": draws,
        "rules": rules.identity,
        "camp": here.as_dict(),
        "fixative": _fixative(here),
        "alarms": _alarms(here, when, rules),
        "assumptions": _assumptions(here, when, rules),
        "growth": _growth(here.temperature_at(when)),
        "animals": [verdict.as_dict() for verdict in verdicts],
        "left_out": [{"field_number": p.animal.field_number, "reason": p.fitness_reason} for p in left_out],
    }


def _fixative(here: Camp) -> dict[str, Any]:
    """What the camp fixes with, and whether somebody stated it."""
    from keepfast.plan.race_clock import bath_of
    from keepfast.plan.race_verdict import plain
    from keepfast.rules import evening as evening_rules

    low, middle, high = bath_of(here, evening_rules.load())
    answer = {
        "working_formalin_percent": here.working_formalin_percent,
        "formalin_stock_percent": here.formalin_stock_percent,
        "formaldehyde_mol_l": middle,
        "low_mol_l": low,
        "high_mol_l": high,
        "stated": {"formalin_stock_percent", "working_formalin_percent"} <= here.given,
    }
    return dict(plain(answer))


def _fixative_words(here: Camp) -> str:
    told = _fixative(here)
    words = _("Fixative: {percent:g} % formalin from a stock of {stock:g} %, {mol:.2f} mol/L of formaldehyde").format(
        percent=told["working_formalin_percent"],
        stock=told["formalin_stock_percent"],
        mol=told["formaldehyde_mol_l"],
    )
    return words + (_(", as the camp states.") if told["stated"] else _("; nobody stated both, so this is assumed."))


def _alarms(here: Camp, when: datetime.datetime, rules: Any) -> list[str]:
    """Whether the table would be too warm at its start."""
    from keepfast.plan.watch import alarms
    from keepfast.rules import evening as evening_rules

    warm = here.temperature_at(when)
    return list(alarms(warm, warm, rules, evening_rules.load()))


def _assumptions(here: Camp, when: datetime.datetime, rules: Any) -> list[str]:
    """What is taken of hours that no reading covers."""
    import datetime

    record = here.temperature_record
    if not record:
        return []
    told = []
    if when < record[0].at:
        told.append(
            _("The record begins at {at}, after the start: its first reading is taken until then.").format(
                at=record[0].at.isoformat(" ", "minutes")
            )
        )
    end = when + datetime.timedelta(hours=rules.number("horizon", "hours"))
    if end > record[-1].at:
        at = record[-1].at.isoformat(" ", "minutes")
        if len(here.record_until(end)) > len(record):
            told.append(
                _("The record ends at {at}; the days after it are taken to be like its last one.").format(at=at)
            )
        else:
            told.append(
                _(
                    "The record ends at {at}, and is too short for a day: its last reading is taken from then on."
                ).format(at=at)
            )
    return told


def _growth(temperature_c: float) -> list[dict[str, Any]]:
    """How fast published models let gut bacteria double at a temperature, and whether that is an extrapolation."""
    import math

    from keepfast.science import decay

    rows = []
    for organism in decay.organisms():
        hours = decay.doubling_time_h(organism, temperature_c)
        rows.append(
            {
                "organism": organism,
                "temperature_c": temperature_c,
                "growth_rate_per_h": round(decay.growth_rate(organism, temperature_c), 4),
                "doubling_h": round(hours, 2) if math.isfinite(hours) else None,
                "extrapolated": bool(decay.is_extrapolated(organism, temperature_c)),
            }
        )
    return rows


def _growth_words(temperature_c: float) -> str:
    names = {
        "clostridium_perfringens": _("Clostridium perfringens (pork)"),
        "escherichia_coli": _("Escherichia coli (broth)"),
        "pseudomonas_chicken": _("Pseudomonas (chicken)"),
    }
    told = []
    for row in _growth(temperature_c):
        name = names[row["organism"]]
        if row["doubling_h"] is None:
            told.append(_("{name} does not grow").format(name=name))
        else:
            words = _("{name} doubles every {hours:.1f} h").format(name=name, hours=row["doubling_h"])
            told.append(words + (_(", an extrapolation") if row["extrapolated"] else ""))
    return _("At {warm:.0f} °C: {growth}.").format(warm=temperature_c, growth="; ".join(told))


def _wrapped(first: str, rest: str, text: str) -> list[str]:
    """Text broken to the width of a terminal, never inside a word."""
    import textwrap

    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False, break_on_hyphens=False
    )


def _race_words(
    verdicts: Sequence[AnimalVerdict],
    left_out: Sequence[Any],
    here: Camp,
    when: datetime.datetime,
    draws: int,
    rules: Any,
) -> str:
    """The weakest first, one paragraph an animal."""
    from keepfast.plan.race_verdict import margin_words

    lines = [
        _("The race from {when} at {warm:.0f} °C: hours in hand between fixed and spoilt, {draws} draws.").format(
            when=when.isoformat(" ", "minutes"), warm=here.temperature_at(when), draws=draws
        ),
        _fixative_words(here),
        _growth_words(here.temperature_at(when)),
        *(f"! {alarm}" for alarm in _alarms(here, when, rules)),
        *_assumptions(here, when, rules),
        _("Bands are 5 to 95 %. Nothing here was measured on reptiles or amphibians; see docs/why/race.md."),
        "",
    ]
    lines = [line for text in lines for line in (_wrapped("", "", text) if text else [""])]
    order = sorted(verdicts, key=lambda v: v.weakest.wins)
    width = max((len(v.field_number) for v in order), default=4)
    indent = " " * (width + 2)
    for verdict in order:
        lines += _wrapped(f"{verdict.field_number:<{width}}  ", indent, verdict.sentence)
        others = [f"{_(r.name)} {_(r.says)}, {margin_words(r.margin_h)}" for r in verdict.regions[1:]]
        if others:
            lines += _wrapped(indent, indent, _("Also: {regions}.").format(regions="; ".join(others)))
        lines += _wrapped(indent, indent, verdict.leave.says)
        if verdict.between is not None:
            lines += _wrapped(indent, indent, verdict.between.says)
        for one in verdict.advice:
            lines += _wrapped(indent + "- ", indent + "  ", one.says)
        lines.append("")
    if left_out:
        lines.append(
            _("Not raced, because they do not go into fluid: {names}.").format(
                names=", ".join(p.animal.field_number for p in left_out)
            )
        )
    return "\n".join(lines).rstrip()


def _race_files(
    evening: EveningPlan,
    verdicts: Sequence[AnimalVerdict],
    here: Camp,
    when: datetime.datetime,
    rules: Any,
    answer: dict[str, Any],
) -> dict[str, bytes]:
    import json

    from keepfast.paper import race_pictures
    from keepfast.plan.race_scene import scenes

    files = {"race.json": json.dumps(answer, ensure_ascii=False, indent=1, allow_nan=False).encode()}
    plans = [evening.of(v.field_number) for v in verdicts]
    pictured = scenes(
        plans, verdicts, camp=here, start=when, trays=evening.table.trays, beside=evening.animals, rules=rules
    )
    for verdict, scene in zip(verdicts, pictured, strict=True):
        plain = "".join(c if c.isascii() and (c.isalnum() or c in ".-") else "_" for c in verdict.field_number)
        files[f"{plain}-margins.svg"] = race_pictures.margins_svg(verdict.as_dict()).encode()
        files[f"{plain}-section.svg"] = race_pictures.section_svg(scene).encode()
        files[f"{plain}-fronts.svg"] = race_pictures.fronts_svg(scene).encode()
    return files


def spacing(
    diameter: float = typer.Argument(..., metavar="DIAMETER", help=_("Trunk at its thickest, in mm.")),
    ml: float = typer.Option(0.5, "--ml", help=_("What each filling takes, in mL.")),
    temperature: float | None = typer.Option(
        None, "--temperature", help=_("Where the trays lie, in °C; the camp's, or 25, if left out.")
    ),
    camp: Path | None = typer.Option(None, "--camp", help=_("The camp file (TOML), for fixative and temperature.")),
    start: str | None = typer.Option(
        None, "--start", help=_("When it is filled, where the camp has a record; now if left out.")
    ),
    spent: float = typer.Option(2.0, "--spent", help=_("Hours at 20 °C since death (gut clock).")),
    form: str = typer.Option("snake", "--form", help=_("Whose skin.")),
    json: bool = typer.Option(False, "--json", help=_("Print JSON instead of the table.")),
) -> None:
    """The widest spacing that suffices."""
    from dataclasses import asdict

    from keepfast.exchange.files import origin
    from keepfast.plan.race import LONG_BODIED
    from keepfast.plan.race_clock import bath_of, warmth_of
    from keepfast.plan.race_verdict import hours_words, plain
    from keepfast.plan.spacing import spacing_for
    from keepfast.rules import evening as evening_rules
    from keepfast.rules import race as race_rules
    from keepfast.science.warmth import Warmth

    ranged("DIAMETER", diameter, 4, 200)
    ranged("--ml", ml, 0.01, 50)
    if temperature is not None:
        ranged("--temperature", temperature, -5, 50)
    ranged("--spent", spent, 0, 100)
    if form not in LONG_BODIED:
        wrong("--form", _("spacing is for long bodies"), ", ".join(LONG_BODIED) + ".", form)
    here, findings, inputs = camp_of(camp, temperature, None)
    tell(findings)
    rules, evening = race_rules.load(), evening_rules.load()
    if here.temperature_record:
        warmth = warmth_of(here, moment_of("--start", start, here.zone), rules.number("horizon", "hours"))
    else:
        warmth = Warmth.constant(here.temperature_c)
    found = spacing_for(
        diameter, ml, warmth, rules, evening, spent_gut_h=spent, form=form, bath_mol_l=bath_of(here, evening)[1]
    )
    if json:
        answer = plain(asdict(found))
        for one, spaced in zip(answer["tried"], found.tried, strict=True):
            one["suffices"] = spaced.suffices
        show_json({**origin(inputs), "fixative": _fixative(here), **answer})
        return
    lines = [found.says, found.practice, _fixative_words(here), ""]
    head = (_("mm apart"), _("stopped after"), _("half bound after"), _("h in hand"), _("at the slow end"))
    lines.append("  ".join(f"{h:>16}" for h in head))
    for one in found.tried:
        cells = [f"{one.spacing_mm:.0f}"]
        for value in (one.arrest_h, one.half_bound_h, one.margin_h, one.pessimist_margin_h):
            cells.append(_("not in time") if value is None else hours_words(value))
        lines.append("  ".join(f"{c:>16}" for c in cells))
    show("\n".join(lines))
