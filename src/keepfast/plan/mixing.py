"""Mixing cards: what to pour in which order, rounded to the vessels at hand, and the reading that proves it.

A card is a frozen object that the terminal, JSON and paper read. Alcohol is here; formalin is in
``mixing_formalin``. All volumes are as measured at the card's temperature unless their name says 20 degrees C.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np

from keepfast.plan.amounts import amount, weight
from keepfast.rules.cautions import Caution
from keepfast.rules.fluids import FluidRules, Vessel
from keepfast.science import alcohol
from keepfast.words import _

ROUNDING_SHARE = 0.002  # an amount rounded by less than this is as good as the hand that pours it
ACCEPTED_VOL = 0.5  # % vol by which a mixture may be off before it is mended
SAID_VOL = 0.1  # % vol by which rounding to the measures at hand may be off before the card says so
OFF_BY_VOL = (-2.0, -1.0, 1.0, 2.0)


@dataclass(frozen=True)
class Pour:
    """One vessel filled so many times to a mark."""

    vessel: str
    times: int
    ml: float


@dataclass(frozen=True)
class Portion:
    """One thing that goes in. Solids have no volume; ``poured_ml`` is what the vessels at hand can measure."""

    kind: str  # stock, water, salt, powder
    what: str
    g: float
    ml: float | None = None
    poured_ml: float | None = None
    pours: tuple[Pour, ...] = ()  # none for what is to be weighed


@dataclass(frozen=True)
class Reading:
    """What an instrument shows when the mix is right, with the span that is accepted."""

    instrument: str  # hydrometer, densitometer, ph
    words: str
    value: float | None  # None where the instrument cannot show it
    low: float | None
    high: float | None
    unit: str


@dataclass(frozen=True)
class Correction:
    """What to do when the reading says that the mix is off."""

    when: str
    add: str
    ml: float | None = None
    g: float | None = None


@dataclass(frozen=True)
class MixingCard:
    """Everything on one card."""

    fluid: str  # alcohol, formalin
    title: str
    temperature_c: float
    final_ml: float
    portions: tuple[Portion, ...]
    steps: tuple[str, ...]
    result: dict[str, Any]
    readings: tuple[Reading, ...]
    corrections: tuple[Correction, ...]
    label: str
    cautions: tuple[Caution, ...]
    doubts: tuple[str, ...]
    sources: tuple[str, ...]
    extra: dict[str, Any] = field(default_factory=dict)

    def as_dict(self) -> dict[str, Any]:
        """For JSON: plain values, no NaN."""
        answer = asdict(self)
        answer["cautions"] = [caution.as_dict() for caution in self.cautions]
        return answer


def into_vessels(ml: float, vessels: Sequence[Vessel]) -> tuple[float, tuple[Pour, ...]]:
    """
    A volume as the vessels at hand can measure it.

    The largest is filled as often as it goes; the rest goes into the smallest that holds it, and on into finer ones
    only while the rounding would be more than 0.2 % of the whole.

    Returns
    -------
    float, tuple of Pour
        What is really measured, and how. Nothing for an amount finer than half the finest mark.
    """
    pours: list[Pour] = []
    done, rest = 0.0, ml
    sizes = sorted(vessels, key=lambda v: v.capacity_ml)
    largest = sizes[-1]
    full = int(rest // largest.capacity_ml)
    if full:
        pours.append(Pour(largest.name, full, largest.capacity_ml))
        done += full * largest.capacity_ml
        rest -= full * largest.capacity_ml
    while rest > 1e-9:
        fitting = next((v for v in sizes if v.capacity_ml >= rest - 1e-9), largest)
        rounded = round(rest / fitting.graduation_ml) * fitting.graduation_ml
        finer = [v for v in sizes if v.graduation_ml < fitting.graduation_ml]
        if abs(rounded - rest) <= ROUNDING_SHARE * ml or not finer:
            if rounded > 0:
                pours.append(Pour(fitting.name, 1, rounded))
                done += rounded
            break
        part = math.floor(rest / fitting.graduation_ml + 1e-9) * fitting.graduation_ml
        if part > 0:
            pours.append(Pour(fitting.name, 1, part))
            done += part
        rest -= part
        sizes = finer
    return done, tuple(pours)


def pours_in_words(pours: Sequence[Pour]) -> str:
    """ "8 times the 1 L cylinder full, then 760 mL in the 1 L cylinder"."""
    parts = []
    for pour in pours:
        if pour.times > 1:
            parts.append(
                _("{times} times {ml} in the {vessel}").format(times=pour.times, ml=amount(pour.ml), vessel=pour.vessel)
            )
        else:
            parts.append(_("{ml} in the {vessel}").format(ml=amount(pour.ml), vessel=pour.vessel))
    return _(", then ").join(parts)


def alcohol_card(
    stock_vol: float,
    target_vol: float,
    final_ml: float,
    temperature_c: float,
    rules: FluidRules,
    vessels: Sequence[Vessel],
    cautions: Sequence[Caution] = (),
    *,
    stock_known: str = "",
    denatured: bool = False,
    glass: str = "soda-lime",
) -> MixingCard:
    """
    The card for diluting alcohol with water.

    Parameters
    ----------
    stock_vol, target_vol : float
        Strengths at 20 degrees C. [% vol]
    final_ml : float
        Volume wanted, as it stands at the temperature. [mL]
    temperature_c : float
        Temperature of stock, water and mix. [degrees C]
    rules : FluidRules
        For the file's name on the card.
    vessels : sequence of Vessel
        What is at hand to measure with.
    cautions : sequence of Caution
        Called up by mixing alcohol.
    stock_known : str
        How the stock's strength is known: label, certificate, reading.
    denatured : bool
        The stock holds something other than ethanol and water: readings are void.
    glass : str
        Of the hydrometer.

    Raises
    ------
    ValueError
        If a strength or the temperature lies outside, or the stock is weaker than the target.
    """
    d = alcohol.dilute(stock_vol, target_vol, final_ml, temperature_c)
    portions, coarse = _alcohol_portions(stock_vol, target_vol, d, temperature_c, vessels)
    poured = [portion.poured_ml or 0.0 for portion in portions]
    made = alcohol.mix([stock_vol, 0.0][: len(poured)], poured, temperature_c)
    made_vol = float(made.strength_vol)
    p_made = float(alcohol.mass_fraction(made_vol))
    made_ml = float(made.mass_g) * 1000.0 / float(alcohol.density(p_made, temperature_c))
    naive_water = final_ml - float(d.stock_ml)
    steps = _alcohol_steps(target_vol, d, portions, temperature_c)
    readings = () if denatured else alcohol_readings(target_vol, temperature_c, glass)
    doubts = [
        _(
            "The stock counts as {stock:.4g} % vol at 20 °C{known}. One point of error there is {share:.1f}"
            " points in the mix."
        ).format(
            stock=stock_vol,
            known=f" ({stock_known})" if stock_known else "",
            share=target_vol / stock_vol,
        )
    ]
    if coarse:
        doubts.insert(0, coarse)
    elif abs(made_vol - target_vol) > SAID_VOL:
        doubts.insert(
            0,
            _(
                "Rounded to the measures at hand it comes to {made:.1f} % instead of {target:.4g}: weighing is sharper."
            ).format(made=made_vol, target=target_vol),
        )
    if denatured:
        doubts.append(
            _(
                "The stock is denatured: a hydrometer or densitometer cannot prove this mix. Go by the"
                " certificate's ethanol content and by weight."
            )
        )
    flash = alcohol.flash_point_c(max(float(alcohol.mass_fraction(target_vol)), 0.05))
    result: dict[str, Any] = {
        "strength_vol": made_vol,
        "strength_mass_percent": 100.0 * p_made,
        "volume_ml": made_ml,
        "volume_20c_ml": float(made.volume_ml),
        "contraction_ml": float(d.contraction_ml),
        "density_kg_m3": float(alcohol.density(alcohol.mass_fraction(target_vol), temperature_c)),
        "flash_point_c": {"value": float(flash.value_c), "low": float(flash.low_c), "high": float(flash.high_c)},
    }
    if target_vol < 6.5:
        result.pop("flash_point_c")
    return MixingCard(
        fluid="alcohol",
        title=_("{target:.4g} % alcohol, {volume}, from {stock:.4g} % at {t:g} °C").format(
            target=target_vol, volume=amount(final_ml), stock=stock_vol, t=temperature_c
        ),
        temperature_c=temperature_c,
        final_ml=final_ml,
        portions=portions,
        steps=steps,
        result=result,
        readings=readings,
        corrections=() if denatured else alcohol_corrections(stock_vol, target_vol, final_ml, temperature_c),
        label=_("Ethanol {target:.4g} % vol (20 °C), mixed from {stock:.4g} %; date and name").format(
            target=target_vol, stock=stock_vol
        ),
        cautions=tuple(cautions),
        doubts=tuple(doubts),
        sources=(
            "OIML R 22 (1975)",
            _("practice: {title}, {date}").format(title=rules.identity["title"], date=rules.identity["date"]),
        ),
        extra={
            "stock_vol": stock_vol,
            "target_vol": target_vol,
            "stock_ml": float(d.stock_ml),
            "water_ml": float(d.water_ml),
            "stock_g": float(d.stock_g),
            "water_g": float(d.water_g),
            "naive_water_ml": naive_water,
            "denatured": denatured,
        },
    )


def _alcohol_portions(
    stock_vol: float, target_vol: float, d: alcohol.Dilution, temperature_c: float, vessels: Sequence[Vessel]
) -> tuple[tuple[Portion, ...], str]:
    """Stock and water as the measures at hand give them; where these would spoil the mix, to be weighed, and why."""
    stock = Portion("stock", _("stock, {stock:.4g} % vol").format(stock=stock_vol), float(d.stock_g), float(d.stock_ml))
    water = Portion("water", _("water, clean and soft"), float(d.water_g), float(d.water_ml))
    exact = (stock, water) if float(d.water_ml) > 0 else (stock,)
    measured = []
    for portion in exact:
        ml, pours = into_vessels(portion.ml or 0.0, vessels)
        measured.append(replace(portion, poured_ml=ml, pours=pours))
    weighed = tuple(replace(portion, poured_ml=portion.ml) for portion in exact)
    if not measured[0].poured_ml:
        return weighed, _("The measures at hand cannot measure so little: weigh it, or mix more.")
    made = alcohol.mix([stock_vol, 0.0][: len(measured)], [p.poured_ml or 0.0 for p in measured], temperature_c)
    if abs(float(made.strength_vol) - target_vol) > ACCEPTED_VOL:
        return weighed, _(
            "The measures at hand are too coarse for this, with them it would come to {made:.1f} %: weigh it, or"
            " measure with finer ones."
        ).format(made=float(made.strength_vol))
    return tuple(measured), ""


def how_much(portion: Portion) -> str:
    """ "8.76 L (8 times 1 L in the 1 L cylinder). By weight: 6991 g"; by weight alone where nothing measures it."""
    if not portion.pours:
        return _("weigh {g}, about {ml}").format(g=weight(portion.g), ml=amount(portion.ml or 0.0))
    return _("{ml} ({how}). By weight: {g}").format(
        ml=amount(portion.poured_ml or 0.0), how=pours_in_words(portion.pours), g=weight(portion.g)
    )


def _alcohol_steps(
    target_vol: float, d: alcohol.Dilution, portions: Sequence[Portion], temperature_c: float
) -> tuple[str, ...]:
    if len(portions) == 1:
        return (_("Use the stock as it is: it already has {target:.4g} %.").format(target=target_vol),)
    stock, water = portions
    return (
        _("Let stock and water come to {t:g} °C, in shade.").format(t=temperature_c),
        _("Pour the stock: {much}.").format(much=how_much(stock)),
        _("Add the water: {much}.").format(much=how_much(water)),
        _(
            "Shut it, turn it over ten times, open it once to let the air out. It warms by a few degrees and"
            " shrinks by {ml}: the water above allows for that."
        ).format(ml=amount(float(d.contraction_ml))),
        _(
            "Wait until it is back at {t:g} °C, then take the check reading, then label it. Leave a twentieth of the"
            " can empty: it swells in the sun."
        ).format(t=temperature_c),
    )


def alcohol_readings(target_vol: float, temperature_c: float, glass: str) -> tuple[Reading, ...]:
    """What a hydrometer and a densitometer show in a mix that is right, with the span that is accepted."""
    span = np.array([target_vol, max(target_vol - ACCEPTED_VOL, 0.0), min(target_vol + ACCEPTED_VOL, 100.0)])
    scale = [float(v) for v in alcohol.hydrometer_reading(span, temperature_c, glass)]
    shown = [None if math.isnan(v) else v for v in scale]
    rho = [float(v) for v in alcohol.density(alcohol.mass_fraction(span), temperature_c)]
    hydrometer = (
        _(
            "A glass hydrometer marked in % vol at 20 °C shows {value:.1f} ({low:.1f} to {high:.1f}) at {t:g} °C."
        ).format(value=scale[0], low=scale[1], high=scale[2], t=temperature_c)
        if None not in shown
        else _(
            "At {t:g} °C a glass hydrometer stands off the end of its scale: cool a sample to 20 °C, or use a"
            " densitometer."
        ).format(t=temperature_c)
    )
    return (
        Reading("hydrometer", hydrometer, shown[0], shown[1], shown[2], "% vol"),
        Reading(
            "densitometer",
            _(
                "A densitometer shows {value:.1f} kg/m³ ({low:.1f} to {high:.1f}) at {t:g} °C; that is {sg:.4f} g/mL."
            ).format(value=rho[0], low=rho[2], high=rho[1], t=temperature_c, sg=rho[0] / 1000.0),
            rho[0],
            rho[2],
            rho[1],
            "kg/m3",
        ),
    )


def alcohol_corrections(
    stock_vol: float, target_vol: float, batch_ml: float, temperature_c: float
) -> tuple[Correction, ...]:
    """What brings a batch that is off by one or two points back to its target."""
    made = []
    for off in OFF_BY_VOL:
        true = target_vol + off
        if not 0.0 < true <= 100.0:
            continue
        correction = to_target(true, stock_vol, target_vol, batch_ml, temperature_c)
        if correction is not None:
            made.append(correction)
    return tuple(made)


def to_target(
    true_vol: float, stock_vol: float, target_vol: float, batch_ml: float, temperature_c: float
) -> Correction | None:
    """
    What to add to a batch of known strength so that it has the target.

    Parameters
    ----------
    true_vol, stock_vol, target_vol : float
        The batch's true strength, the stock's, the wanted. [% vol]
    batch_ml : float
        The batch as measured. [mL]
    temperature_c : float
        Of all. [degrees C]

    Returns
    -------
    Correction or None
        None where the stock cannot lift it that far.
    """
    p_true, p_stock, p_target = (float(v) for v in alcohol.mass_fraction([true_vol, stock_vol, target_vol]))
    mass = batch_ml * float(alcohol.density(p_true, temperature_c)) / 1000.0
    when = _("true strength {true:.1f} %").format(true=true_vol)
    if p_true >= p_target:
        g = mass * (p_true / p_target - 1.0)
        # Water to pour is not colder than ice.
        ml = 1000.0 * g / float(alcohol.density(0.0, max(temperature_c, 0.0)))
        return Correction(when, _("water"), ml, g)
    if p_stock <= p_target:
        return None
    g = mass * (p_target - p_true) / (p_stock - p_target)
    return Correction(
        when,
        _("stock, {stock:.4g} %").format(stock=stock_vol),
        1000.0 * g / float(alcohol.density(p_stock, temperature_c)),
        g,
    )
