"""``mix check`` and ``mix together``: what a reading means and what mends it; what several liquids make."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.fluid_input import Reader, refusing
from keepfast.cli.saying import show, show_json
from keepfast.plan.amounts import amount, weight
from keepfast.words import _

if TYPE_CHECKING:
    from keepfast.plan.acid import AcidReading
    from keepfast.plan.mixing import Correction

_READINGS = ("--hydrometer", "--density", "--ph")


def read_strength(reader: Reader, name: str, value: float, t: float, glass: str, is_density: bool) -> tuple[float, str]:
    """The strength behind a reading and how it is known; what no mixture shows is kept as a finding."""
    from keepfast.science import alcohol

    if is_density:
        (low, high), unit = alcohol.density_limits(t), _("kg/m³")
        dense, light = value > high, value < low
    else:
        (low, high), unit = alcohol.reading_limits(t, glass), _("% vol")
        dense, light = value < low, value > high
    if dense or light:
        why = (
            _("It is denser than water: salt, buffer or glycerol in it, or another temperature.")
            if dense
            else _("It is lighter than ethanol: something else in it, or another temperature.")
        )
        reader.wrong(
            name,
            _("alcohol and water read from {low:.1f} to {high:.1f} {unit} at {t:g} °C").format(
                low=low, high=high, unit=unit, t=t
            ),
            why + " " + _("A denatured or salted fluid reads wrong: then only its certificate helps."),
            f"{value:g}",
        )
        return float("nan"), ""
    if is_density:
        return float(alcohol.strength_from_density(value, t)), _("read by densitometer")
    return float(alcohol.strength_from_hydrometer(value, t, glass)), _("read by hydrometer")


def mix_check(
    hydrometer: str | None = typer.Option(None, "--hydrometer", help=_("What a glass hydrometer shows, % vol.")),
    density: str | None = typer.Option(None, "--density", help=_("What a densitometer shows, kg/m³.")),
    ph: str | None = typer.Option(None, "--ph", help=_("Or the pH of buffered formalin.")),
    temperature: str = typer.Option(..., "--temperature", help=_("Temperature of the fluid, in °C.")),
    glass: str = typer.Option("soda-lime", "--glass", help=_("Glass of the hydrometer: soda-lime or borosilicate.")),
    target: str | None = typer.Option(None, "--target", help=_("Strength it should have, % vol.")),
    volume: str | None = typer.Option(
        None, "--volume", help=_("How much of it there is, such as 12L; 1L if left out.")
    ),
    stock: str | None = typer.Option(None, "--stock", help=_("Strength of the stock at hand, % vol.")),
    fresh: str | None = typer.Option(
        None, "--fresh", help=_("With --ph: the pH when it was mixed; else the recipe's.")
    ),
    days: str | None = typer.Option(None, "--days", help=_("With --ph: days since it was mixed.")),
    dibasic: str = typer.Option("", "--dibasic", help=_("With --ph: the salt to mend with, such as Na2HPO4.7H2O.")),
    rules: str = typer.Option("field", "--rules", help=_("A fluids file of your own.")),
    json: bool = typer.Option(False, "--json", help=_("Print the answer as JSON.")),
) -> None:
    """What a reading means."""
    from keepfast.science import alcohol

    reader = Reader()
    given = dict(zip(_READINGS, (hydrometer, density, ph), strict=True))
    lowest, highest = (0.0, 40.0) if ph is not None else (alcohol.LOWEST_C, alcohol.HIGHEST_C)
    t = reader.temperature_c("--temperature", temperature, lowest, highest)
    readings = [value for value in given.values() if value is not None]
    if len(readings) != 1:
        reader.wrong(
            "--hydrometer",
            _("one reading is wanted"),
            _("Give --hydrometer, --density or --ph."),
            ", ".join(readings) or "nothing",
        )
    for options, others, belongs in (
        ({"--fresh": fresh, "--days": days, "--dibasic": dibasic or None}, ph is None, _("this belongs to --ph")),
        ({"--target": target, "--stock": stock}, ph is not None, _("this belongs to a strength, not to --ph")),
    ):
        for name, value in options.items():
            if others and value is not None:
                reader.wrong(name, belongs, _("Leave it out."), value)
    much = reader.volume_ml("--volume", volume) if volume is not None else 1000.0
    if ph is not None:
        _check_ph(reader, ph, fresh, days, dibasic, t, much, rules, json)
        return
    _check_strength(reader, hydrometer, density, t, glass, target, much, stock, json)


def mix_together(
    part: list[str] = typer.Option(
        [], "--part", help=_("A liquid as VOLUME:STRENGTH, such as 800mL:60; water is 0. Repeat it.")
    ),
    temperature: str = typer.Option("20", "--temperature", help=_("Temperature of everything, in °C.")),
    target: str | None = typer.Option(None, "--target", help=_("Strength it should have, % vol.")),
    stock: str | None = typer.Option(None, "--stock", help=_("Strength of the stock at hand, % vol.")),
    glass: str = typer.Option("soda-lime", "--glass", help=_("Glass of the hydrometer: soda-lime or borosilicate.")),
    json: bool = typer.Option(False, "--json", help=_("Print the answer as JSON.")),
) -> None:
    """What several liquids make."""
    from keepfast.exchange.files import origin
    from keepfast.plan import mixing
    from keepfast.science import alcohol

    reader = Reader()
    t = reader.temperature_c("--temperature", temperature, 0.0, alcohol.HIGHEST_C)
    volumes, strengths = [], []
    for text in part:
        much, _colon, strong = text.rpartition(":")
        if not much:
            reader.wrong("--part", _("a liquid is VOLUME:STRENGTH"), _("Such as 800mL:60, or 2L:0 for water."), text)
            continue
        volumes.append(reader.volume_ml("--part", much))
        strengths.append(reader.strength("--part", strong, low=0.0))
    if len(part) < 2:
        reader.wrong(
            "--part",
            _("say what is poured together, two liquids at least"),
            _("Such as --part 800mL:60 --part 200mL:96."),
            ", ".join(part) or "nothing",
        )
    if glass not in alcohol.GLASSES:
        reader.wrong("--glass", _("the glass is soda-lime or borosilicate"), _("Most are soda-lime."), glass)
    aim = reader.strength("--target", target) if target is not None else None
    at_hand = reader.strength("--stock", stock) if stock is not None else max(strengths, default=0.0)
    reader.done()
    made = refusing(lambda: alcohol.mix(strengths, volumes, t))
    true = float(made.strength_vol)
    now_ml = 1000.0 * float(made.mass_g) / float(alcohol.density(alcohol.mass_fraction(true), t))
    readings = mixing.alcohol_readings(true, t, glass)
    mend = mixing.to_target(true, at_hand, aim, now_ml, t) if aim is not None else None
    if json:
        show_json(
            {
                "strength_vol": true,
                "strength_mass_percent": 100.0 * float(alcohol.mass_fraction(true)),
                "volume_ml": now_ml,
                "volume_20c_ml": float(made.volume_ml),
                "mass_g": float(made.mass_g),
                "shrinks_ml": math.fsum(volumes) - now_ml,
                "temperature_c": t,
                "target_vol": aim,
                "add": None if mend is None else {"what": mend.add, "ml": mend.ml, "g": mend.g},
                "readings": [{"instrument": r.instrument, "value": r.value, "unit": r.unit} for r in readings],
                "origin": origin({}),
            }
        )
        return
    lines = [
        _("{volume} of {true:.2f} % vol ({mass:.2f} % by mass); the parts shrink by {less}.").format(
            volume=amount(now_ml),
            true=true,
            mass=100.0 * float(alcohol.mass_fraction(true)),
            less=amount(max(0.0, math.fsum(volumes) - now_ml)),
        ),
        *(reading.words for reading in readings),
    ]
    if aim is not None:
        lines.append(_mending(true, aim, at_hand, now_ml, mend))
    show("\n".join(lines))


def _mending(true: float, aim: float, strong: float, batch_ml: float, mend: Correction | None) -> str:
    from keepfast.plan import mixing

    if abs(true - aim) <= mixing.ACCEPTED_VOL:
        return _("Within {d:g} points of {aim:g} %: leave it.").format(d=mixing.ACCEPTED_VOL, aim=aim)
    if mend is None or mend.ml is None or mend.g is None:
        return _("Stock of {s:g} % cannot lift it to {aim:g} %.").format(s=strong, aim=aim)
    return _("For {aim:g} %: add {ml} ({g}) of {what} to {batch}.").format(
        aim=aim, ml=amount(mend.ml), g=weight(mend.g), what=mend.add, batch=amount(batch_ml)
    )


def _check_strength(
    reader: Reader,
    hydrometer: str | None,
    density: str | None,
    t: float,
    glass: str,
    target: str | None,
    much: float,
    stock: str | None,
    json: bool,
) -> None:
    from keepfast.exchange.files import origin
    from keepfast.plan import mixing
    from keepfast.science import alcohol

    if glass not in alcohol.GLASSES:
        reader.wrong("--glass", _("the glass is soda-lime or borosilicate"), _("Most are soda-lime."), glass)
    value = (
        reader.density("--density", density)
        if density is not None
        else reader.strength("--hydrometer", hydrometer or "", low=0.0)
    )
    aim = reader.strength("--target", target) if target is not None else None
    strong = reader.strength("--stock", stock) if stock is not None else 96.0
    reader.done()
    name = "--density" if density is not None else "--hydrometer"
    true, known = read_strength(reader, name, value, t, glass, density is not None)
    reader.done()
    answer: dict[str, Any] = {
        "reading": value,
        "instrument": known,
        "temperature_c": t,
        "strength_vol": true,
        "strength_mass_percent": 100.0 * float(alcohol.mass_fraction(true)),
        "density_kg_m3": float(alcohol.density(alcohol.mass_fraction(true), t)),
        "target_vol": aim,
        "add": None,
    }
    lines = [
        _("True strength {true:.2f} % vol at 20 °C, {mass:.2f} % by mass.").format(
            true=true, mass=answer["strength_mass_percent"]
        )
    ]
    if aim is not None:
        off = abs(true - aim) > mixing.ACCEPTED_VOL
        mend = mixing.to_target(true, strong, aim, much, t) if off else None
        lines.append(_mending(true, aim, strong, much, mend))
        answer["add"] = {"what": mend.add, "ml": mend.ml, "g": mend.g} if mend is not None else None
    lines.append(_("Void for denatured alcohol, and for fluid with salt, buffer, glycerol or formaldehyde in it."))
    if json:
        show_json({**answer, "origin": origin({})})
    else:
        show("\n".join(lines))


def _check_ph(
    reader: Reader,
    ph: str,
    fresh: str | None,
    days: str | None,
    dibasic: str,
    t: float,
    much: float,
    rules: str,
    json: bool,
) -> None:
    from keepfast.exchange.files import origin
    from keepfast.plan import acid
    from keepfast.rules import fluids

    practice = fluids.load(rules)
    recipe = practice.buffer("phosphate")
    read = reader.plain(
        "--ph",
        ph,
        acid.LEAST_PH,
        acid.MOST_PH,
        _("this reckons from pH 5.6 to 8.2; below that the buffer is spent: mix it new"),
    )
    was = (
        reader.plain("--fresh", fresh, 5.8, 8.2, _("a phosphate buffer holds pH 5.8 to 8.2"))
        if fresh is not None
        else None
    )
    age = (
        reader.plain("--days", days, 0.5, 5000.0, _("the days since it was mixed go from 0.5 to 5000"))
        if days is not None
        else None
    )
    salt = reader.salt("--dibasic", dibasic, "dibasic")
    reader.done()
    answer = refusing(lambda: acid.acid_reading(recipe, read, t, much, was_ph=was, days=age, dibasic=salt))
    if json:
        made_from = {practice.identity["name"]: practice.identity["sha256"]}
        show_json({**answer.as_dict(), "origin": origin(made_from)})
    else:
        show("\n".join(_acid_lines(answer)))


def _acid_lines(answer: AcidReading) -> list[str]:

    if answer.acid_low_mol_l <= 0:
        return [
            _("pH {read:.1f} against {fresh:.2f} when fresh, at {t:g} °C: no acid to speak of, leave it.").format(
                read=answer.ph, fresh=answer.fresh_ph, t=answer.temperature_c
            ),
            _("Above {high:.1f} look for a wrong salt or borax in it.").format(high=answer.fresh_ph + 0.2),
        ]
    lines = [
        _(
            "pH {read:.1f} against {fresh:.2f} when fresh: {acid:.0f} mmol/L of acid"
            " ({low:.0f} to {high:.0f} for a tenth of a pH either way), as if {share:.1f} % of 4 % formaldehyde had"
            " turned."
        ).format(
            read=answer.ph,
            fresh=answer.fresh_ph,
            acid=1000 * answer.acid_mol_l,
            low=1000 * answer.acid_low_mol_l,
            high=1000 * answer.acid_high_mol_l,
            share=100 * answer.oxidised_share,
        )
    ]
    if answer.days_to is not None:
        lines += [
            _("At the same pace pH {ph} is reached {days:.0f} days after mixing ({low:.0f} to {high}).").format(
                ph=ph,
                days=span.value,
                low=span.low,
                high=f"{span.high:.0f}" if span.high is not None else _("no end"),
            )
            for ph, span in answer.days_to.items()
        ]
    lines.append(
        _("To bring {batch} back: dissolve {g} of {salt} in a little of it, stir it in, read again.").format(
            batch=amount(answer.batch_ml), g=weight(answer.mend_g), salt=answer.dibasic
        )
    )
    lines.append(
        _("Reckoned for the usual phosphate recipe; light and warmth hasten it, and no pace was found in print.")
    )
    return lines
