"""The mixing card for formalin: from a bottle and the tins that are really there, or from powder."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from keepfast.plan.amounts import amount, weight
from keepfast.plan.mixing import (
    Correction,
    MixingCard,
    Portion,
    Reading,
    how_much,
    into_vessels,
    pours_in_words,
)
from keepfast.rules.cautions import Caution
from keepfast.rules.fluids import BufferRecipe, FluidRules, Vessel
from keepfast.science import alcohol, formalin, tables
from keepfast.words import _

PH_MODEL_DOUBT = 0.1  # model 0.02, salts as weighed in a field 1 to 2 %, strips and meters the rest
DENSITY_DOUBT_KG_M3 = 3.0
SALT_LIFT_KG_M3_PER_G_L = 0.9  # of anhydrous phosphate; from memory, unverified
MEND_PH = (6.8, 6.5)
MOST_FORMALIN_PERCENT = 50.0  # stronger than half stock is no working solution, and there is no water for salts
POWDER_PH = (6.9, 7.4)  # to which laboratory protocols set a solution from powder
COARSE_SHARE = 0.02  # of the stock: rounding worse than this is told and weighed instead


@dataclass(frozen=True)
class Buffer:
    """What goes in against acid, as weighed."""

    recipe: BufferRecipe
    monobasic: str = ""
    dibasic: str = ""
    monobasic_mol_l: float = 0.0
    dibasic_mol_l: float = 0.0

    @property
    def monobasic_g_l(self) -> float:
        """Of the tin's own salt. [g/L]"""
        return self.monobasic_mol_l * formalin.salt_g_mol(self.monobasic) if self.monobasic else 0.0

    @property
    def dibasic_g_l(self) -> float:
        """Of the tin's own salt. [g/L]"""
        return self.dibasic_mol_l * formalin.salt_g_mol(self.dibasic) if self.dibasic else 0.0


def buffer_for(
    recipe: BufferRecipe, monobasic: str = "", dibasic: str = "", ph: float | None = None, temperature_c: float = 20.0
) -> Buffer:
    """
    The recipe with the salts that are really in the tins, mole for mole.

    Parameters
    ----------
    recipe : BufferRecipe
        From the rules.
    monobasic, dibasic : str
        Formulas on the tins; empty for the recipe's own.
    ph : float, optional
        Another pH than the recipe's, at the temperature, with as much phosphate.
    temperature_c : float
        [degrees C]

    Raises
    ------
    ValueError
        If a salt is unknown or in the wrong role, or the pH is out of a phosphate buffer's reach.
    """
    if not recipe.monobasic:
        return Buffer(recipe)
    mono = monobasic or recipe.monobasic
    di = dibasic or recipe.dibasic
    for name, salt, role in (("monobasic", mono, "monobasic"), ("dibasic", di, "dibasic")):
        found = formalin.salt_role(salt)
        if found != role:
            raise ValueError(
                f"{name} must be one of {', '.join(formalin.salts(role))}; {salt} was given, which is {found}"
            )
    mono_mol = recipe.monobasic_g_l / formalin.salt_g_mol(recipe.monobasic)
    di_mol = recipe.dibasic_g_l / formalin.salt_g_mol(recipe.dibasic)
    if ph is not None:
        split = formalin.split_for_ph(mono_mol + di_mol, ph, temperature_c)
        mono_mol, di_mol = float(split[0]), float(split[1])
    return Buffer(recipe, mono, di, mono_mol, di_mol)


def formalin_card(
    stock: formalin.Stock,
    final_ml: float,
    temperature_c: float,
    buffer: Buffer,
    rules: FluidRules,
    vessels: Sequence[Vessel],
    cautions: Sequence[Caution] = (),
    *,
    formalin_percent: float | None = None,
    formaldehyde_percent: float | None = None,
    assumed: Sequence[str] = (),
    bottle: str = "",
) -> MixingCard:
    """
    The card for working formalin from a bottle.

    Parameters
    ----------
    stock : formalin.Stock
        What the bottle holds.
    final_ml : float
        Volume wanted. [mL]
    temperature_c : float
        [degrees C]
    buffer : Buffer
        What goes in against acid.
    rules, vessels, cautions
        As for alcohol.
    formalin_percent : float, optional
        Volumes of stock in 100; or
    formaldehyde_percent : float, optional
        grams of formaldehyde in 100 mL. One of the two.
    assumed : sequence of str
        What was not said and is assumed; goes among the doubts.
    bottle : str
        The bottle in words.

    Raises
    ------
    ValueError
        If both or neither strength is given, the stock is weaker than what is wanted, or more than half of the mix
        would be stock.
    """
    if (formalin_percent is None) == (formaldehyde_percent is None):
        raise ValueError("give formalin_percent or formaldehyde_percent, one of the two")
    if formalin_percent is None:
        assert formaldehyde_percent is not None
        stock_ml = float(formalin.stock_ml(formaldehyde_percent, final_ml, stock.percent_w_v))
        formalin_percent = 100.0 * stock_ml / final_ml
    else:
        formalin.formaldehyde_percent_w_v(formalin_percent, stock.percent_w_v)
        stock_ml = final_ml * formalin_percent / 100.0
    if formalin_percent > MOST_FORMALIN_PERCENT + 1e-9:
        raise ValueError(
            f"formalin_percent must be at most {MOST_FORMALIN_PERCENT:g} %; {formalin_percent:.4g} was given:"
            " stronger fluid is stock, not a working solution"
        )
    holds = {
        key: float(formalin.formaldehyde_percent_w_v(formalin_percent, value))
        for key, value in (("value", stock.percent_w_v), ("low", stock.low_w_v), ("high", stock.high_w_v))
    }
    litres = final_ml / 1000.0
    water_ml = final_ml - stock_ml
    stock_density = stock.density_g_ml + tables.load("walker-1964-formaldehyde-density").value(
        "stock_temperature_g_ml_k"
    ) * (temperature_c - 18.0)
    stock_poured, stock_pours = into_vessels(stock_ml, vessels)
    coarse = abs(stock_poured - stock_ml) > COARSE_SHARE * stock_ml
    if coarse:
        stock_poured, stock_pours = stock_ml, ()
    water = _measured_water(buffer, water_ml, temperature_c, vessels)
    salts = _salts(buffer, litres)
    bottled = Portion(
        "stock",
        _("stock formalin, {bottle}").format(bottle=bottle),
        stock_ml * stock_density,
        stock_ml,
        stock_poured,
        stock_pours,
    )
    portions = (water, *salts, bottled)
    naming = both_namings(formalin_percent, holds)
    result, readings, corrections, doubts = _chemistry(
        buffer, stock, formalin_percent, holds, temperature_c, litres, formalin_percent / 100.0, rules
    )
    least_c = rules.number("formalin", "least_storage_c")
    if temperature_c < least_c:
        doubts.append(
            _(
                "Below {least:g} °C formalin slowly turns cloudy with polymer and loses strength: keep stock"
                " and mix warmer."
            ).format(least=least_c)
        )
    rest = rules.number(
        "formalin", "rest_cold_h" if temperature_c < rules.number("formalin", "cold_below_c") else "rest_h"
    )
    if coarse:
        doubts.insert(0, _("The measures at hand are too coarse for the stock: weigh it, or measure with finer ones."))
    steps = [_("Measure the water: {much}. Keep a tenth of it back.").format(much=how_much(water))]
    if salts and buffer.recipe.monobasic:
        steps.append(
            _("Dissolve the salts in it, one after the other, until it is clear: {salts}.").format(
                salts=", ".join(f"{weight(p.g)} {p.what}" for p in salts)
            )
        )
    steps.append(
        _("Pour the stock into the water, never the water onto the stock: {much}. Shut the bottle.").format(
            much=how_much(bottled)
        )
    )
    if salts and not buffer.recipe.monobasic:
        steps.append(_("Add {salts}.").format(salts=", ".join(f"{weight(p.g)} {p.what}" for p in salts)))
    steps += [
        _("Make up to {ml} with the water kept back, shut, turn over ten times.").format(ml=amount(final_ml)),
        _("Let it stand {h:g} h before use: the polymers of the stock need that time to let go{cold}.").format(
            h=rest, cold=_(", longer in the cold") if temperature_c >= 10 else ""
        ),
        _("Take the check reading, then label it with both names of its strength."),
    ]
    return MixingCard(
        fluid="formalin",
        title=_(
            "{formalin:.3g} % formalin = {value:.1f} % formaldehyde ({low:.1f} to {high:.1f}), {volume} at {t:g} °C"
        ).format(formalin=formalin_percent, **holds, volume=amount(final_ml), t=temperature_c),
        temperature_c=temperature_c,
        final_ml=final_ml,
        portions=portions,
        steps=tuple(steps),
        result={"naming": naming, **result},
        readings=readings,
        corrections=corrections,
        label=_("{naming}; {buffer}; date and name").format(naming=naming, buffer=_(buffer.recipe.words)),
        cautions=tuple(cautions),
        doubts=(*(_(a) for a in assumed), *doubts),
        sources=(
            _("Walker, Formaldehyde (densities, at second hand)"),
            _("Partanen & Minkkinen 1996 (pKa, abstract)"),
            _("buffer: {source}").format(source=buffer.recipe.source),
            _("practice: {title}, {date}").format(title=rules.identity["title"], date=rules.identity["date"]),
        ),
        extra={
            "formalin_percent": formalin_percent,
            "formaldehyde_percent_w_v": holds,
            "stock_ml": stock_ml,
            "water_ml": water_ml,
            "stock": stock._asdict(),
            "buffer": buffer.recipe.key,
            "salts_g": {p.what: p.g for p in salts},
        },
    )


def both_namings(formalin_percent: float, holds: dict[str, float]) -> str:
    """The strength in both languages at once, so that nobody takes one for the other."""
    return _("{formalin:.3g} % formalin = {value:.2f} % formaldehyde ({low:.1f} to {high:.1f}, g in 100 mL)").format(
        formalin=formalin_percent, **holds
    )


def _measured_water(buffer: Buffer, ml: float, temperature_c: float, vessels: Sequence[Vessel]) -> Portion:
    sea = buffer.recipe.key == "seawater"
    density = float(alcohol.density(0.0, temperature_c))
    if sea:
        density += float(formalin.sea_water_lift_kg_m3(temperature_c))
    poured, pours = into_vessels(ml, vessels)
    what = _("sea water") if sea else _("water, clean and soft")
    # What is missing or over is made up for at the end.
    return Portion("water", what, ml * density / 1000.0, ml, poured if pours else ml, pours)


def _salts(buffer: Buffer, litres: float) -> tuple[Portion, ...]:
    if buffer.recipe.monobasic:
        return (
            Portion("salt", buffer.monobasic, buffer.monobasic_g_l * litres),
            Portion("salt", buffer.dibasic, buffer.dibasic_g_l * litres),
        )
    if buffer.recipe.solid:
        return (Portion("salt", _(buffer.recipe.solid), buffer.recipe.solid_g_l * litres),)
    return ()


def _chemistry(
    buffer: Buffer,
    stock: formalin.Stock,
    formalin_percent: float,
    holds: dict[str, float],
    temperature_c: float,
    litres: float,
    acid_share: float,
    rules: FluidRules,
) -> tuple[dict[str, Any], tuple[Reading, ...], tuple[Correction, ...], list[str]]:
    """What the mix is, reads, and may be mended with; ``acid_share`` is the bottle's part in it, powder brings none."""
    limit = tables.load("formic-acid").value("limit_mol_l") * acid_share
    vapour_pa = float(formalin.vapour_pressure_pa(min(holds["value"], formalin.HIGHEST_W_V), temperature_c))
    salt_g_l = 0.0
    result: dict[str, Any] = {
        "formalin_percent": formalin_percent,
        "formaldehyde_percent_w_v": holds,
        "formaldehyde_mol_l": holds["value"] * 10.0 / tables.load("molar-masses").value("formaldehyde"),
        "methanol_percent_w_v": stock.methanol_percent_w_w * stock.density_g_ml * formalin_percent / 100.0,
        "vapour_pa": vapour_pa,
        "vapour_ppm": float(formalin.parts_per_million(vapour_pa)),
        "acid_from_the_bottle_at_most_mol_l": limit,
    }
    corrections: list[Correction] = []
    doubts: list[str] = []
    if buffer.recipe.monobasic:
        a, b = buffer.monobasic_mol_l, buffer.dibasic_mol_l
        salt_g_l = a * formalin.anhydrous_g_mol(buffer.monobasic) + b * formalin.anhydrous_g_mol(buffer.dibasic)
        fresh = float(formalin.buffer_ph(a, b, temperature_c))
        with_acid = float(formalin.buffer_ph(a, b, temperature_c, limit)) if limit < b else None
        budget = {str(ph): float(formalin.acid_to_reach_ph(a, b, temperature_c, ph)) for ph in (6.8, 6.5, 6.0)}
        formaldehyde = result["formaldehyde_mol_l"]
        result["oxidised_share_at"] = {ph: acid / formaldehyde for ph, acid in budget.items()}
        result |= {"ph": fresh, "ph_at_the_acid_limit": with_acid, "acid_budget_mol_l": budget}
        low = min(fresh, with_acid if with_acid is not None else fresh) - PH_MODEL_DOUBT
        ph = Reading(
            "ph",
            (
                _(
                    "A pH meter or strip shows {fresh:.1f} at {t:g} °C; down to {low:.1f} when the bottle is old"
                    " and at its limit of acid."
                )
                if limit > 0
                else _("A pH meter or strip shows {fresh:.1f} at {t:g} °C.")
            ).format(fresh=fresh, t=temperature_c, low=low + PH_MODEL_DOUBT),
            fresh,
            low,
            fresh + PH_MODEL_DOUBT,
            "pH",
        )
        corrections += _ph_corrections(buffer, temperature_c, litres)
        doubts += _wrong_tins(buffer, temperature_c)
    else:
        ph = Reading(
            "ph",
            _("A strip shows between {low:.1f} and {high:.1f}: {note}").format(
                low=buffer.recipe.ph_low, high=buffer.recipe.ph_high, note=_(buffer.recipe.note)
            ),
            None,
            buffer.recipe.ph_low,
            buffer.recipe.ph_high,
            "pH",
        )
        if limit <= 0 and buffer.recipe.key == "none":
            # No bottle's acid: what the lye left is all there is.
            low, high = POWDER_PH
            words = _("A strip shows {low:.1f} to {high:.1f} once it is set: the lye decides, so read it before use.")
            ph = Reading("ph", words.format(low=low, high=high), None, low, high, "pH")
        result["ph"] = None
        if buffer.recipe.key == "seawater":
            alkalinity = tables.load("formic-acid").value("seawater_alkalinity_mol_l") * (
                1.0 - formalin_percent / 100.0
            )
            result["acid_budget_mol_l"] = alkalinity
            doubts.append(
                _("Sea water can neutralise {share:.0f} % of the acid that an old bottle may bring.").format(
                    share=100.0 * (min(1.0, alkalinity / limit) if limit > 0 else 1.0)
                )
            )
    if buffer.recipe.makeshift:
        doubts.append(
            _("This is a makeshift: mix it fresh, read the pH every week, and go over to a buffer when you can.")
        )
    density = _working_density(holds["value"], stock, formalin_percent, salt_g_l, temperature_c)
    doubt = DENSITY_DOUBT_KG_M3
    if buffer.recipe.key == "seawater":
        share = 1.0 - formalin_percent / 100.0
        density += share * float(formalin.sea_water_lift_kg_m3(temperature_c))
        sea = tables.load("unesco-1983-sea-water")
        doubt += sea.value("salinity_span") * sea.value("kg_m3_per_salinity")
    result["density_kg_m3"] = density
    readings = (
        ph,
        Reading(
            "densitometer",
            _(
                "A densitometer shows about {value:.0f} kg/m³ (± {doubt:.0f}) at {t:g} °C: enough to find a"
                " forgotten salt or a tenfold slip, not to prove the strength."
            ).format(value=density, doubt=doubt, t=temperature_c),
            density,
            density - doubt,
            density + doubt,
            "kg/m3",
        ),
    )
    months_low, months_high = (rules.number("formalin", f"stock_months_{end}") for end in ("low", "high"))
    doubts.append(
        _(
            "The bottle may hold {low:.1f} to {high:.1f} % w/v: labels, density and age leave that. It turns acid with"
            " age: give it up after {months_low:g} to {months_high:g} months."
        ).format(low=stock.low_w_v, high=stock.high_w_v, months_low=months_low, months_high=months_high)
    )
    return result, readings, tuple(corrections), doubts


def _working_density(
    percent_w_v: float, stock: formalin.Stock, formalin_percent: float, salt_g_l: float, temperature_c: float
) -> float:
    """A thin solution swells with warmth as water does; from 18 degrees C, where the tables stand."""
    methanol = stock.methanol_percent_w_w * formalin_percent / 100.0
    by_weight = percent_w_v
    for _round in range(3):
        rho = float(formalin.density_18c_g_ml(min(by_weight, 40.0), min(methanol, 15.0)))
        by_weight = percent_w_v / rho
    swelling = float(alcohol.density(0.0, temperature_c) / alcohol.density(0.0, 18.0))
    return (1000.0 * rho + SALT_LIFT_KG_M3_PER_G_L * salt_g_l) * swelling


def _ph_corrections(buffer: Buffer, temperature_c: float, litres: float) -> list[Correction]:
    """Dibasic salt that lifts an acid mix back to the fresh pH."""
    a, b = buffer.monobasic_mol_l, buffer.dibasic_mol_l
    fresh = float(formalin.buffer_ph(a, b, temperature_c))
    made = []
    for low in MEND_PH:
        if low >= fresh:
            continue
        acid = float(formalin.acid_to_reach_ph(a, b, temperature_c, low))
        extra = float(formalin.dibasic_to_lift_ph(a, b, temperature_c, acid, fresh))
        if math.isnan(extra):
            continue
        made.append(
            Correction(
                _("pH {low:.1f}").format(low=low),
                buffer.dibasic,
                g=extra * formalin.salt_g_mol(buffer.dibasic) * litres,
            )
        )
    return made


def _wrong_tins(buffer: Buffer, temperature_c: float) -> list[str]:
    """What the pH would be if the dibasic tin held another hydrate than its name says."""
    readings = []
    for salt in formalin.salts("dibasic"):
        if salt == buffer.dibasic or not salt.startswith("Na"):
            continue
        b = buffer.dibasic_g_l / formalin.salt_g_mol(salt)
        readings.append(f"{salt} {float(formalin.buffer_ph(buffer.monobasic_mol_l, b, temperature_c)):.2f}")
    return [
        _("If the dibasic tin holds another salt than {salt}, the same weight gives another pH: {list}.").format(
            salt=buffer.dibasic, list=", ".join(readings)
        )
    ]


def paraformaldehyde_card(
    percent_w_v: float,
    final_ml: float,
    assay_percent: float,
    temperature_c: float,
    buffer: Buffer,
    rules: FluidRules,
    vessels: Sequence[Vessel],
    cautions: Sequence[Caution] = (),
) -> MixingCard:
    """
    The card for formaldehyde solution from powder: stable without methanol, for a camp that cannot carry bottles.

    Parameters
    ----------
    percent_w_v : float
        Formaldehyde wanted. [g/100 mL]
    final_ml, temperature_c
        As for ``formalin_card``.
    assay_percent : float
        Formaldehyde in the powder by its label. [%]
    buffer, rules, vessels, cautions
        As for ``formalin_card``.

    Raises
    ------
    ValueError
        If strength or assay lies outside, or the buffer is sea water, which the lye that clears the powder clouds.
    """
    if buffer.recipe.key == "seawater":
        raise ValueError("buffer must not be seawater for powder: lye clouds sea water, dissolve it in fresh water")
    g = float(formalin.paraformaldehyde_g(percent_w_v, final_ml, assay_percent))
    litres = final_ml / 1000.0
    holds = {"value": percent_w_v, "low": percent_w_v * 0.97, "high": percent_w_v * 1.02}
    as_formalin = 10.0 * percent_w_v / 4.0
    stock = formalin.Stock(100.0 * percent_w_v / as_formalin, 0.0, 0.0, 37.0, 1.11, 0.0)
    result, readings, corrections, doubts = _chemistry(
        buffer, stock, as_formalin, holds, temperature_c, litres, 0.0, rules
    )
    water_ml = final_ml * 0.8
    water_poured, water_pours = into_vessels(water_ml, vessels)
    salts = _salts(buffer, litres)
    warm_low, warm_high = (rules.number("formalin", f"paraformaldehyde_{end}_c") for end in ("low", "high"))
    steps = (
        _("In the open, dust mask on: weigh {g} of the powder, upwind of everyone.").format(g=weight(g)),
        _(
            "Warm {ml} of water ({how}) to {low:g} to {high:g} °C, no more, away from any flame. Stir the"
            " powder in: it stays milky."
        ).format(ml=amount(water_poured), how=pours_in_words(water_pours), low=warm_low, high=warm_high),
        _("Add 1 mol/L sodium hydroxide drop by drop, stirring, until it is clear."),
        _("Let it cool, pour it through a filter."),
        *(
            [
                (_("Dissolve in it: {salts}.") if buffer.recipe.monobasic else _("Add {salts}.")).format(
                    salts=", ".join(f"{weight(p.g)} {p.what}" for p in salts)
                )
            ]
            if salts
            else []
        ),
        # Acid phosphate only where phosphate is in it already: with lime it falls out.
        (
            _(
                "Make up to {ml} with water; bring the pH to {low:g} to {high:g} with a little acid phosphate if it is"
                " above."
            )
            if buffer.recipe.monobasic
            else _("Make up to {ml} with water.")
        ).format(ml=amount(final_ml), low=POWDER_PH[0], high=POWDER_PH[1]),
        _("Keep it shut and cool (2 to 8 °C). Use it within a week; one source says a month."),
    )
    naming = _(
        "{value:.2f} % formaldehyde (g in 100 mL), as strong as {formalin:.3g} % formalin from a 40 % w/v bottle"
    ).format(value=percent_w_v, formalin=as_formalin)
    return MixingCard(
        fluid="formalin",
        title=_("{value:.2f} % formaldehyde from paraformaldehyde powder, {volume}").format(
            value=percent_w_v, volume=amount(final_ml)
        ),
        temperature_c=temperature_c,
        final_ml=final_ml,
        portions=(
            Portion("powder", _("paraformaldehyde powder, {assay:g} %").format(assay=assay_percent), g),
            Portion(
                "water",
                _("water, warm"),
                water_ml * float(alcohol.density(0.0, 40.0)) / 1000.0,
                water_ml,
                water_poured,
                water_pours,
            ),
            *salts,
        ),
        steps=steps,
        result={"naming": naming, **result},
        readings=readings,
        corrections=corrections,
        label=_("{naming}; no methanol; date and name").format(naming=naming),
        cautions=tuple(cautions),
        doubts=(
            _("Powder that is old or damp dissolves badly: what stays on the filter is missing from the strength."),
            _("Without methanol it turns cloudy sooner in the cold; cloud means that it is weaker than its label."),
            *doubts[:-1],  # the last is of the bottle
        ),
        sources=(
            _("laboratory protocols (55 to 60 °C, sodium hydroxide drop by drop); keeping: sources disagree"),
            _("buffer: {source}").format(source=buffer.recipe.source),
        ),
        extra={
            "formaldehyde_percent_w_v": holds,
            "powder_g": g,
            "assay_percent": assay_percent,
            "buffer": buffer.recipe.key,
            "salts_g": {p.what: p.g for p in salts},
        },
    )
