"""``race`` and ``spacing``: fixative against decay, for each animal of a list or for a girth."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.race_input import evening_of, ranged
from keepfast.cli.saying import say, show, show_json, wrong
from keepfast.words import _

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from keepfast.plan.camp import Camp
    from keepfast.plan.objects import EveningPlan
    from keepfast.plan.race import AnimalVerdict


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
    answer = _race_answer(verdicts, left_out, here, when, chosen.identity, inputs, seed, draws)
    if out is not None:
        from keepfast.exchange.files import write_whole

        files = _race_files(evening, verdicts, here, when, chosen, answer)
        write_whole(out, files)
        say(_("Written to {folder}: {files}").format(folder=out, files=", ".join(sorted(files))))
    if json:
        show_json(answer)
        return
    show(_race_words(verdicts, left_out, here, when, draws))


def _race_answer(
    verdicts: Sequence[AnimalVerdict],
    left_out: Sequence[Any],
    here: Camp,
    when: datetime.datetime,
    identity: dict[str, str],
    inputs: dict[str, str],
    seed: int,
    draws: int,
) -> dict[str, Any]:
    from keepfast.exchange.files import origin

    return {
        **origin(inputs, seed),
        "start": when.isoformat(),
        "draws": draws,
        "rules": identity,
        "camp": here.as_dict(),
        "growth": _growth(here.temperature_at(when)),
        "animals": [verdict.as_dict() for verdict in verdicts],
        "left_out": [{"field_number": p.animal.field_number, "reason": p.fitness_reason} for p in left_out],
    }


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
    verdicts: Sequence[AnimalVerdict], left_out: Sequence[Any], here: Camp, when: datetime.datetime, draws: int
) -> str:
    """The weakest first, one paragraph an animal."""
    from keepfast.plan.race import margin_words

    lines = [
        _("The race from {when} at {warm:.0f} °C: hours in hand between fixed and spoilt, {draws} draws.").format(
            when=when.isoformat(" ", "minutes"), warm=here.temperature_at(when), draws=draws
        ),
        _growth_words(here.temperature_at(when)),
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
    temperature: float = typer.Option(25.0, "--temperature", help=_("Where the trays lie, in °C.")),
    spent: float = typer.Option(2.0, "--spent", help=_("Hours at 20 °C since death (gut clock).")),
    form: str = typer.Option("snake", "--form", help=_("Whose skin.")),
    json: bool = typer.Option(False, "--json", help=_("Print JSON instead of the table.")),
) -> None:
    """The widest spacing that suffices."""
    from dataclasses import asdict

    from keepfast.exchange.files import origin
    from keepfast.plan.advice import spacing_for
    from keepfast.plan.race import LONG_BODIED, hours_words, plain
    from keepfast.rules import evening as evening_rules
    from keepfast.rules import race as race_rules
    from keepfast.science.warmth import Warmth

    ranged("DIAMETER", diameter, 4, 200)
    ranged("--ml", ml, 0.01, 50)
    ranged("--temperature", temperature, -5, 50)
    ranged("--spent", spent, 0, 100)
    if form not in LONG_BODIED:
        wrong("--form", _("spacing is for long bodies"), ", ".join(LONG_BODIED) + ".", form)
    found = spacing_for(
        diameter,
        ml,
        Warmth.constant(temperature),
        race_rules.load(),
        evening_rules.load(),
        spent_gut_h=spent,
        form=form,
    )
    if json:
        answer = plain(asdict(found))
        for one, spaced in zip(answer["tried"], found.tried, strict=True):
            one["suffices"] = spaced.suffices
        show_json({**origin({}), **answer})
        return
    lines = [found.says, found.practice, ""]
    head = (_("mm apart"), _("stopped after"), _("half bound after"), _("h in hand"), _("at the slow end"))
    lines.append("  ".join(f"{h:>16}" for h in head))
    for one in found.tried:
        cells = [f"{one.spacing_mm:.0f}"]
        for value in (one.arrest_h, one.half_bound_h, one.margin_h, one.pessimist_margin_h):
            cells.append(_("not in time") if value is None else hours_words(value))
        lines.append("  ".join(f"{c:>16}" for c in cells))
    show("\n".join(lines))
