"""Formalin: what a bottle holds, what a dilution holds, its vapour, its buffer.

Two namings, never mixed: *formaldehyde* strength is grams in 100 mL (% w/v) or in 100 g (% w/w); *formalin* strength
is volumes of commercial stock in 100 volumes, so that "10 % formalin" holds 3.4 to 4.0 % formaldehyde by the bottle.
The buffer's chemistry is in ``buffers`` and offered here too.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science import tables
from keepfast.science.buffers import (
    acid_to_reach_ph,
    anhydrous_g_mol,
    buffer_ph,
    dibasic_to_lift_ph,
    salt_g_mol,
    salt_role,
    salts,
    split_for_ph,
    unbuffered_ph,
)
from keepfast.science.ranges import Array, first, given, within

__all__ = [
    "BASES",
    "Stock",
    "acid_to_reach_ph",
    "anhydrous_g_mol",
    "buffer_ph",
    "density_18c_g_ml",
    "dibasic_to_lift_ph",
    "formaldehyde_percent_w_v",
    "henry_sources",
    "paraformaldehyde_g",
    "parts_per_million",
    "percent_w_v",
    "percent_w_w",
    "polymer_factor",
    "salt_g_mol",
    "salt_role",
    "salts",
    "sea_water_lift_kg_m3",
    "split_for_ph",
    "stock",
    "stock_ml",
    "unbuffered_ph",
    "vapour_pressure_pa",
]

BASES = ("w/w", "w/v")
HIGHEST_W_W, HIGHEST_W_V = 40.0, 45.0
_RULE_METHANOL_FULL = 5.0  # % methanol from which the rule alone speaks; below, the methanol-free fit fades in
_TABLE_WIDTH = 2.5  # % formaldehyde either side of 37 over which the 37 % table fades into the rule


class Stock(NamedTuple):
    """What a bottle holds: its strength by weight in volume with the span that label and density leave."""

    percent_w_v: float
    low_w_v: float
    high_w_v: float
    percent_w_w: float
    density_g_ml: float  # at 18 degrees C
    methanol_percent_w_w: float


def density_18c_g_ml(percent_w_w: npt.ArrayLike, methanol_percent_w_w: npt.ArrayLike = 0.0) -> Array:
    """
    Density of a formaldehyde solution at 18 degrees C, with or without methanol.

    Parameters
    ----------
    percent_w_w : array_like
        Formaldehyde by weight. [% w/w]  0 to 40.
    methanol_percent_w_w : array_like, default 0.0
        Methanol by weight. [% w/w]  0 to 15; to 20 where formaldehyde is 34.5 to 39.5 %. Broadcasts with percent_w_w.

    Returns
    -------
    ndarray or float
        Density. [g/mL]

    Raises
    ------
    ValueError
        If an argument lies outside.

    Notes
    -----
    Without methanol: a parabola through measured values, residual at most 0.0011 g/mL. At 37 %: a parabola through the
    table by methanol content, residual 0.00013. Methanol at other strengths: 1.00 + 3 F/1000 - 2 M/1000, good to 0.002
    to 0.005 g/mL. The three pass into one another without a step: the rule is full from 5 % methanol, the 37 % table
    fades out 2.5 % either side. A warm bottle is lighter by about 0.0006 g/mL per degree (from memory).

    References
    ----------
    .. [1] J. F. Walker, Formaldehyde, Tables 4, 7 and 8. (read at second hand)
    """
    f = within("percent_w_w", percent_w_w, 0.0, HIGHEST_W_W, "% w/w")
    m = within("methanol_percent_w_w", methanol_percent_w_w, 0.0, 20.0, "% w/w")
    f, m = np.broadcast_arrays(f, m)
    near = np.maximum(0.0, 1.0 - np.abs(f - 37.0) / _TABLE_WIDTH)
    beyond = (m > 15.0) & (near <= 0.0)
    if beyond.any():
        raise ValueError(
            "methanol_percent_w_w must be from 0 to 15 % w/w away from 37 % formaldehyde;"
            f" {first(m, beyond):g} was given"
        )
    free, at_37 = tables.load("walker-1964-formaldehyde-density"), tables.load("walker-1964-formalin-methanol")
    polynomial = np.polynomial.polynomial.polyval
    start, per_f, per_m = at_37.values["rule"]
    rule = start + per_f * f + per_m * m
    full = np.minimum(m / _RULE_METHANOL_FULL, 1.0)
    fitted = polynomial(f, free.values["fit"])
    away = (1.0 - full) * (fitted + per_m * m) + full * rule
    slope = free.values["fit"][1] + 2.0 * free.values["fit"][2] * 37.0
    table = polynomial(m, at_37.values["fit"]) + slope * (f - 37.0)
    return given((1.0 - near) * away + near * table)  # type: ignore[no-any-return]


def percent_w_v(percent_w_w: npt.ArrayLike, methanol_percent_w_w: npt.ArrayLike = 0.0) -> Array:
    """Grams of formaldehyde in 100 mL from grams in 100 g, at 18 degrees C: w/v = w/w x density.

    Raises
    ------
    ValueError
        If an argument lies outside the range of ``density_18c_g_ml``.
    """
    return given(np.asarray(percent_w_w, dtype=float) * density_18c_g_ml(percent_w_w, methanol_percent_w_w))  # type: ignore[no-any-return]


def percent_w_w(percent_w_v: npt.ArrayLike, methanol_percent_w_w: npt.ArrayLike = 0.0) -> Array:
    """
    Grams of formaldehyde in 100 g from grams in 100 mL, at 18 degrees C; the inverse of ``percent_w_v``.

    Parameters
    ----------
    percent_w_v : array_like
        Formaldehyde in volume. [g/100 mL]  0 to what 40 % w/w holds.
    methanol_percent_w_w : array_like
        Methanol by weight. [% w/w]

    Returns
    -------
    ndarray or float
        Formaldehyde by weight. [% w/w]

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    m = np.asarray(methanol_percent_w_w, dtype=float)
    top = _weight_in_volume(np.asarray(HIGHEST_W_W), m)
    # fmin leaves a missing methanol out; without any methanol named there is nothing to hold the strength to.
    least = float(np.fmin.reduce(top, axis=None, initial=HIGHEST_W_V))
    wanted = within("percent_w_v", percent_w_v, 0.0, least, "g/100 mL")
    low, high = np.broadcast_arrays(np.zeros(wanted.shape), np.full(m.shape, HIGHEST_W_W))
    for _ in range(60):
        middle = (low + high) / 2.0
        short = _weight_in_volume(middle, m) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return given(np.where(np.isnan(wanted + m), np.nan, (low + high) / 2.0))  # type: ignore[no-any-return]


def _weight_in_volume(percent: Array, methanol: Array) -> Array:
    return np.asarray(percent * density_18c_g_ml(percent, methanol))


def stock(
    label_percent: float,
    basis: str,
    methanol_percent_w_w: float = 10.0,
    *,
    minimum: bool = False,
    density_g_ml: float | None = None,
) -> Stock:
    """
    What a bottle holds, from its label.

    Parameters
    ----------
    label_percent : float
        The figure on the label. [%]  30 to 40 by weight, 30 to 45 by volume.
    basis : str
        "w/w" (per 100 g) or "w/v" (per 100 mL). The two differ by the density, 8 to 11 %.
    methanol_percent_w_w : float
        Methanol, the stabiliser. [% w/w]  0 to 20; usual bottles hold 10 to 15.
    minimum : bool
        The label says "not less than": nothing is promised above it.
    density_g_ml : float, optional
        A density from the certificate, at about 18 degrees C. [g/mL]  1.0 to 1.2; without it, from the tables.

    Returns
    -------
    Stock
        Strength in % w/v with its span, in % w/w, and density.

    Raises
    ------
    ValueError
        If an argument lies outside or the basis is unknown.

    Notes
    -----
    The span: a nominal figure may be 0.5 low or 1.0 high (36.5 to 38.0 is a usual specification for "37 %", from
    memory); a minimum promises nothing above itself, and up to 38 % or 1 % more is then possible (assumption; the
    US pharmacopoeia's 34.5 % w/w at least is a figure of this kind); density +-0.01 g/mL where it was not given.
    """
    if basis not in BASES:
        raise ValueError(f"basis must be one of {', '.join(BASES)}; {basis!r} was given")
    top = HIGHEST_W_W if basis == "w/w" else HIGHEST_W_V
    slip = "that looks like a dilution or a fraction; the bottle's own figure is wanted" if label_percent < 30 else ""
    within("label_percent", label_percent, 30.0, top, "%", slip)
    if density_g_ml is not None:
        gravity = "in kg/m3 it is a thousand times more" if density_g_ml > 500 else ""
        within("density_g_ml", density_g_ml, 1.0, 1.2, "g/mL", gravity)
    down, up = (0.0, max(1.0, 38.0 - label_percent)) if minimum else (0.5, 1.0)
    if basis == "w/w":
        rho = density_g_ml or float(density_18c_g_ml(label_percent, methanol_percent_w_w))
        by_weight, by_volume = label_percent, label_percent * rho
    else:
        by_weight = (
            label_percent / density_g_ml
            if density_g_ml
            else float(percent_w_w(min(label_percent, _highest_w_v(methanol_percent_w_w)), methanol_percent_w_w))
        )
        rho = density_g_ml or float(density_18c_g_ml(by_weight, methanol_percent_w_w))
        by_volume = label_percent
    doubt = tables.load("walker-1964-formaldehyde-density").value("doubt_g_ml") if density_g_ml is None else 0.0
    factor_low, factor_high = (rho - doubt, rho + doubt) if basis == "w/w" else (1.0, 1.0)
    return Stock(
        by_volume,
        (label_percent - down) * factor_low,
        min((label_percent + up) * factor_high, HIGHEST_W_V),
        by_weight,
        rho,
        methanol_percent_w_w,
    )


def _highest_w_v(methanol: float) -> float:
    return float(_weight_in_volume(np.asarray(HIGHEST_W_W), np.asarray(methanol)))


def formaldehyde_percent_w_v(formalin_percent: npt.ArrayLike, stock_percent_w_v: npt.ArrayLike) -> Array:
    """
    Formaldehyde in a "so many per cent formalin", by the bottle it was made from.

    Parameters
    ----------
    formalin_percent : array_like
        Volumes of stock in 100 volumes. [%]  0 to 100; "1:9" is 10.
    stock_percent_w_v : array_like
        Formaldehyde in the stock. [g/100 mL]  0 to 45. Broadcasts with formalin_percent.

    Returns
    -------
    ndarray or float
        Formaldehyde. [g/100 mL]  Volumes taken as additive; the contraction is under 0.3 % (from memory).

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    share = within("formalin_percent", formalin_percent, 0.0, 100.0, "%")
    strength = within("stock_percent_w_v", stock_percent_w_v, 0.0, HIGHEST_W_V, "g/100 mL")
    return given(np.asarray(share * strength / 100.0))  # type: ignore[no-any-return]


def stock_ml(
    formaldehyde_percent_w_v: npt.ArrayLike, volume_ml: npt.ArrayLike, stock_percent_w_v: npt.ArrayLike
) -> Array:
    """
    Stock needed for a volume with a wanted formaldehyde strength.

    Parameters
    ----------
    formaldehyde_percent_w_v : array_like
        Wanted. [g/100 mL]  Not above the stock's.
    volume_ml : array_like
        Wanted. [mL]
    stock_percent_w_v : array_like
        Formaldehyde in the stock. [g/100 mL]  0 to 45. All three broadcast together.

    Returns
    -------
    ndarray or float
        Stock. [mL]

    Raises
    ------
    ValueError
        If the stock is weaker than what is wanted, or an argument lies outside.
    """
    wanted = within("formaldehyde_percent_w_v", formaldehyde_percent_w_v, 0.0, HIGHEST_W_V, "g/100 mL")
    strength = within("stock_percent_w_v", stock_percent_w_v, 0.1, HIGHEST_W_V, "g/100 mL")
    weak = wanted > strength
    if weak.any():
        raise ValueError(
            f"formaldehyde_percent_w_v must be at most the stock's {first(strength, weak):.4g} g/100 mL;"
            f" {first(wanted, weak):g} was given: the stock is weaker than the target"
        )
    return given(np.asarray(within("volume_ml", volume_ml, 0.0, 1e12, "mL") * wanted / strength))  # type: ignore[no-any-return]


def paraformaldehyde_g(percent_w_v: npt.ArrayLike, volume_ml: npt.ArrayLike, assay_percent: npt.ArrayLike) -> Array:
    """
    Paraformaldehyde powder for a solution.

    Parameters
    ----------
    percent_w_v : array_like
        Formaldehyde wanted. [g/100 mL]  0 to 20.
    volume_ml : array_like
        Volume wanted. [mL]
    assay_percent : array_like
        Formaldehyde in the powder by its label. [%]  80 to 100. All three broadcast together.

    Returns
    -------
    ndarray or float
        Powder. [g]

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    wanted = within("percent_w_v", percent_w_v, 0.0, 20.0, "g/100 mL")
    assay = within("assay_percent", assay_percent, 80.0, 100.0, "%")
    volume = within("volume_ml", volume_ml, 0.0, 1e12, "mL")
    return given(np.asarray(wanted * volume / assay))  # type: ignore[no-any-return]


def sea_water_lift_kg_m3(temperature_c: npt.ArrayLike) -> Array:
    """
    By how much sea water of salinity 35 is denser than fresh water.

    Parameters
    ----------
    temperature_c : array_like
        Temperature. [degrees C]  0 to 40.

    Returns
    -------
    ndarray or float
        Difference. [kg/m3]  26 to 28; each unit of salinity is worth 0.76.

    Raises
    ------
    ValueError
        If the temperature lies outside.

    Notes
    -----
    Straight through the published check values at 5 and 25 degrees C: good to 0.4 kg/m3 up to 30 degrees C, to 1 at 40.

    References
    ----------
    .. [1] Fofonoff & Millard 1983, UNESCO Technical Papers in Marine Science 44. (read at second hand)
    """
    t = within("temperature_c", temperature_c, 0.0, 40.0, "degrees C")
    table = tables.load("unesco-1983-sea-water")
    low, high = (
        table.row(temperature_c=at, salinity=35.0)["density_kg_m3"]
        - table.row(temperature_c=at, salinity=0.0)["density_kg_m3"]
        for at in (5.0, 25.0)
    )
    return given(np.asarray(low + (high - low) * (t - 5.0) / 20.0))  # type: ignore[no-any-return]


def henry_sources() -> tuple[str, ...]:
    """Names of the Henry constants kept, the default first."""
    return tuple(row["name"] for row in tables.load("sander-2015-formaldehyde-henry").rows)


def polymer_factor(percent_w_v: npt.ArrayLike) -> Array:
    """
    By how much polymers lower formaldehyde's vapour below the dilute law.

    Parameters
    ----------
    percent_w_v : array_like
        Formaldehyde. [g/100 mL]  0 to 45.

    Returns
    -------
    ndarray or float
        Factor. [-]  1 + 0.055 w up to 10 %, straight from there to 2.07 at 40 %, level beyond; +-10 %.

    Raises
    ------
    ValueError
        If the strength lies outside.
    """
    w = within("percent_w_v", percent_w_v, 0.0, HIGHEST_W_V, "g/100 mL")
    table = tables.load("ledbury-blair-1925-formaldehyde-vapour")
    bend, top = table.value("factor_bend_percent"), table.value("factor_top_percent")
    at_bend = 1.0 + table.value("factor_slope") * bend
    return given(np.interp(w, [0.0, bend, top], [1.0, at_bend, table.value("factor_top")]))  # type: ignore[no-any-return]


def vapour_pressure_pa(
    percent_w_v: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    polymer_correction: bool = True,
    *,
    source: str = "warneck-williams-2012",
) -> Array:
    """
    Pressure of formaldehyde over its solution, at equilibrium.

    Parameters
    ----------
    percent_w_v : array_like
        Formaldehyde. [g/100 mL]  0 to 45.
    temperature_c : array_like
        Temperature. [degrees C]  0 to 50. Broadcasts with percent_w_v.
    polymer_correction : bool
        Lower the dilute law by what polymers hold back (default); without it, plain Henry.
    source : str
        Which Henry constant, one of ``henry_sources()``.

    Returns
    -------
    ndarray or float
        Pressure. [Pa]  +-10 % at 25 degrees C, +-15 % at 35.

    Raises
    ------
    ValueError
        If an argument lies outside or the source is unknown.

    Notes
    -----
    p = c / (H f), c in mol/m3, H = H0 exp[B (1/T - 1/298.15)]. Saturated headspace: the air of a room is set by what
    evaporates and how it is aired.

    References
    ----------
    .. [1] Sander, compilation of Henry constants. (read)
    .. [2] Ledbury & Blair via Walker, Formaldehyde, Table 9. (read at second hand)
    """
    w = within("percent_w_v", percent_w_v, 0.0, HIGHEST_W_V, "g/100 mL")
    t = within("temperature_c", temperature_c, 0.0, 50.0, "degrees C")
    if source not in henry_sources():
        raise ValueError(f"source must be one of {', '.join(henry_sources())}; {source!r} was given")
    row = tables.load("sander-2015-formaldehyde-henry").row(name=source)
    henry = row["h0_mol_m3_pa"] * np.exp(row["slope_k"] * (1.0 / (t + 273.15) - 1.0 / 298.15))
    concentration = w * 1e4 / tables.load("molar-masses").value("formaldehyde")
    factor = polymer_factor(w) if polymer_correction else 1.0
    return given(np.asarray(concentration / (henry * factor)))  # type: ignore[no-any-return]


def parts_per_million(pressure_pa: npt.ArrayLike, air_pressure_pa: npt.ArrayLike = 101_325.0) -> Array:
    """A partial pressure as parts per million by volume of air. [ppm]"""
    pressure = within("pressure_pa", pressure_pa, 0.0, 1e5, "Pa")
    return given(1e6 * pressure / within("air_pressure_pa", air_pressure_pa, 3e4, 1.2e5, "Pa"))  # type: ignore[no-any-return]
