"""What a body does to the fluid it lies in, and how long the two take to become one strength.

``strength_after`` and ``residual_formaldehyde`` are the end points of complete mixing; ``share_equalised`` and
``hours_to_equalise`` say when they are reached. All ignore shrinkage and fat.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science import tables
from keepfast.science.alcohol_density import density_20, raw_mass_fraction_from_strength, raw_strength, slope_20
from keepfast.science.penetration import default as penetration_default
from keepfast.science.penetration import warmth_factor
from keepfast.science.ranges import Array, first, given, within

SOLUTES = ("ethanol", "formaldehyde")
LEAST_RATIO, MOST_RATIO = 0.01, 10_000.0
_TERMS, _NODES = 60, 128
_EARLY = 5e-4  # dimensionless time below which the series would need more terms than the early solution's error
_M2_S_TO_MM2_H = 3.6e9


class Range(NamedTuple):
    """A value with its 5 and 95 % points."""

    value: float
    low: float
    high: float


def body_water_fraction(form: str) -> Range:
    """
    Water in a body as a share of its mass, by form.

    Parameters
    ----------
    form : str
        lizard, legless_lizard, snake, amphisbaenian, turtle, crocodilian, frog, salamander, caecilian, larva or
        egg_clutch.

    Returns
    -------
    Range
        Share of mass with its range. [-]

    Raises
    ------
    ValueError
        If the form is not known.
    """
    rows = tables.load("body-water").rows
    for row in rows:
        if row["form"] == form:
            return Range(row["fraction"], row["low"], row["high"])
    raise ValueError(f"form must be one of {', '.join(row['form'] for row in rows)}; {form!r} was given")


def _ratio(value: npt.ArrayLike) -> Array:
    return within("fluid_ml_per_g", value, LEAST_RATIO, MOST_RATIO, "mL per g of body")


def _carried(value: npt.ArrayLike) -> Array:
    return within("carried_ml_per_g", value, 0.0, MOST_RATIO, "mL per g of body")


def _water(value: npt.ArrayLike) -> Array:
    slip = "75 % is 0.75" if np.any(np.asarray(value, dtype=float) > 1) else ""
    return within("water_fraction", value, 0.0, 1.0, "", slip)


def strength_after(
    strengths_vol: npt.ArrayLike,
    fluid_ml_per_g: npt.ArrayLike,
    water_fraction: npt.ArrayLike,
    *,
    start_vol: npt.ArrayLike = 0.0,
    carried_ml_per_g: npt.ArrayLike = 0.0,
) -> Array:
    """
    Strength that body and fluid share after each change of fluid, once they have become one.

    Parameters
    ----------
    strengths_vol : array_like
        Strength of each fresh fluid, the changes along the last axis; a single number is one change. [% vol at
        20 degrees C]  0 to 100; a rinse in water is 0.
    fluid_ml_per_g : array_like
        Fresh fluid for each gram of body, one for all changes or one for each. [mL/g]  0.01 to 10 000.
    water_fraction : array_like
        Body liquid as a share of the body's mass. [-]  0 to 1. All broadcast together.
    start_vol : array_like
        Strength of the body's liquid before the first change. [% vol]  0 (default) is a body out of water or formalin.
    carried_ml_per_g : array_like
        Old fluid that is not drained and stays with the body. [mL/g]  0 (default): drained fully each time.

    Returns
    -------
    ndarray or float
        Strength after each change. [% vol at 20 degrees C]  Of the broadcast shape.

    Raises
    ------
    ValueError
        If an argument lies outside.

    Notes
    -----
    By mass: p_n = (F p_f + W p_n-1) / (F + W), F the mass of fresh fluid, W that of the body's liquid and of what is
    carried along. True mixing takes days to weeks in thick bodies, see ``hours_to_equalise``.

    Examples
    --------
    100 g of frog three quarters of which are water, three changes of five times as much 70 %:

    >>> strength_after([70.0, 70.0, 70.0], 5.0, 0.75).round(2).tolist()
    [61.26, 68.77, 69.82]
    """
    q = within("strengths_vol", strengths_vol, 0.0, 100.0, "% vol")
    ratio = _ratio(fluid_ml_per_g)
    water = _water(water_fraction)
    start = within("start_vol", start_vol, 0.0, 100.0, "% vol")
    carried = _carried(carried_ml_per_g)
    if q.ndim == 0:
        # One change: there is no axis of changes, so everything broadcasts as it is.
        p, ratio, water, start, carried = np.broadcast_arrays(
            raw_mass_fraction_from_strength(q), ratio, water, start, carried
        )
        return given(raw_strength(_mixed(p, raw_mass_fraction_from_strength(start), ratio, water, carried)))  # type: ignore[no-any-return]
    p, ratio, water, start, carried = np.broadcast_arrays(
        raw_mass_fraction_from_strength(q), ratio, water, start, carried
    )
    out = np.empty(p.shape)
    body = raw_mass_fraction_from_strength(start[..., 0]) if p.shape[-1] else np.empty(p.shape[:-1])
    for n in range(p.shape[-1]):
        body = _mixed(p[..., n], body, ratio[..., n], water[..., n], carried[..., n])
        out[..., n] = body
    return raw_strength(out)


def _old_g(body: Array, water: Array, carried: Array) -> Array:
    # What is carried along is the fluid of the change before, which by then has the body's own strength.
    return np.asarray(water + carried * density_20(body) / 1000.0)


def _mixed(fresh: Array, body: Array, ratio: Array, water: Array, carried: Array) -> Array:
    fluid_g, old_g = ratio * density_20(fresh) / 1000.0, _old_g(body, water, carried)
    return np.asarray((fluid_g * fresh + old_g * body) / (fluid_g + old_g))


def fill_strength(
    target_vol: npt.ArrayLike,
    fluid_ml_per_g: npt.ArrayLike,
    water_fraction: npt.ArrayLike,
    *,
    start_vol: npt.ArrayLike = 0.0,
    carried_ml_per_g: npt.ArrayLike = 0.0,
) -> Array:
    """
    Strength of a fill that ends at a wanted strength once the body has mixed into it.

    Parameters
    ----------
    target_vol : array_like
        Strength wanted at the end. [% vol at 20 degrees C]
    fluid_ml_per_g : array_like
        Fluid for each gram of body. [mL/g]
    water_fraction : array_like
        Body liquid as a share of the body's mass. [-]
    start_vol : array_like
        Strength of the body's liquid now. [% vol]
    carried_ml_per_g : array_like
        Old fluid that is not drained and stays with the body. [mL/g]  All five broadcast together.

    Returns
    -------
    ndarray or float
        Strength of the fill. [% vol at 20 degrees C]

    Raises
    ------
    ValueError
        If no fluid up to 100 % vol can end there, or an argument lies outside.

    Examples
    --------
    >>> round(float(fill_strength(70.0, 5.0, 0.75)), 1)
    79.8
    """
    fill = fill_strength_or_nan(target_vol, fluid_ml_per_g, water_fraction, start_vol, carried_ml_per_g)
    inputs = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (target_vol, fluid_ml_per_g, water_fraction, start_vol, carried_ml_per_g))
    )
    impossible = np.isnan(fill) & ~np.isnan(sum(inputs))
    if impossible.any():
        raise ValueError(
            f"target_vol must be one that a single fill can reach; {first(inputs[0], impossible):g} was given, which"
            f" {first(inputs[1], impossible):g} mL per g of body cannot give: use more fluid or more changes"
        )
    return given(fill)  # type: ignore[no-any-return]


def fill_strength_or_nan(
    target_vol: npt.ArrayLike,
    fluid_ml_per_g: npt.ArrayLike,
    water_fraction: npt.ArrayLike,
    start_vol: npt.ArrayLike,
    carried_ml_per_g: npt.ArrayLike = 0.0,
) -> Array:
    """As ``fill_strength``, with NaN instead of an error where no fluid can end there: for searches. [% vol]"""
    target = within("target_vol", target_vol, 0.0, 100.0, "% vol")
    ratio, water = _ratio(fluid_ml_per_g), _water(water_fraction)
    start = within("start_vol", start_vol, 0.0, 100.0, "% vol")
    carried = _carried(carried_ml_per_g)
    target, ratio, water, start, carried = np.broadcast_arrays(target, ratio, water, start, carried)
    wanted, body = raw_mass_fraction_from_strength(target), raw_mass_fraction_from_strength(start)
    # The fill brings rho(p) (p - wanted) for each millilitre; it must make up for what the body lacks.
    lacking = 1000.0 * _old_g(body, water, carried) * (wanted - body) / ratio
    p = np.clip(wanted + lacking / 900.0, 0.0, 1.0)
    for _ in range(8):
        density = density_20(p)
        p = np.clip(p - (density * (p - wanted) - lacking) / (density + (p - wanted) * slope_20(p)), 0.0, 1.0)
    missed = np.abs(_mixed(p, body, ratio, water, carried) - wanted) > 1e-9
    return np.asarray(np.where(missed, np.nan, raw_strength(p)))


def residual_formaldehyde(
    start_percent_w_v: npt.ArrayLike,
    fluid_ml_per_g: npt.ArrayLike,
    water_fraction: npt.ArrayLike,
    changes: npt.ArrayLike = 1,
    *,
    carried_ml_per_g: npt.ArrayLike = 0.0,
) -> Array:
    """
    Free formaldehyde left in a body after changes of clean water, once each has become one with it.

    Parameters
    ----------
    start_percent_w_v : array_like
        Formaldehyde in the body's liquid before. [g/100 mL]  0 to 45.
    fluid_ml_per_g : array_like
        Water for each gram of body and change. [mL/g]
    water_fraction : array_like
        Body liquid as a share of the body's mass. [-]
    changes : array_like
        Number of changes. [-]  0 to 100.
    carried_ml_per_g : array_like
        Old fluid that is not drained and stays with the body each time. [mL/g]  All five broadcast together.

    Returns
    -------
    ndarray or float
        Formaldehyde. [g/100 mL]  The free part only: what is bound stays and keeps bleeding out slowly.

    Raises
    ------
    ValueError
        If an argument lies outside.

    Notes
    -----
    c_n = c_0 (W / (W + F))^n, W the mass of body liquid and of what is carried along, F that of water.
    """
    start = within("start_percent_w_v", start_percent_w_v, 0.0, 45.0, "g/100 mL")
    ratio, water = _ratio(fluid_ml_per_g), _water(water_fraction)
    count = within("changes", changes, 0.0, 100.0)
    g_ml = float(density_20(np.array(0.0))) / 1000.0
    old_g = water + _carried(carried_ml_per_g) * g_ml
    return given(np.asarray(start * (old_g / (old_g + ratio * g_ml)) ** count))  # type: ignore[no-any-return]


def bath_strength(
    start_percent_w_v: npt.ArrayLike,
    fluid_ml_per_g: npt.ArrayLike,
    water_fraction: npt.ArrayLike,
    capacity_mol_l: npt.ArrayLike = 0.0,
) -> Array:
    """
    What is left of a fixing bath once a body has shared its water and bound what it can.

    Parameters
    ----------
    start_percent_w_v : array_like
        Formaldehyde in the fresh bath. [g/100 mL]  0 to 45.
    fluid_ml_per_g : array_like
        Bath for each gram of body. [mL/g]
    water_fraction : array_like
        Body water as a share of the body's mass. [-]
    capacity_mol_l : array_like
        Formaldehyde that tissue binds. [mol per litre of tissue]  0 (default) leaves binding out; tissue takes 0.1 to
        0.6, see ``penetration``. All four broadcast together.

    Returns
    -------
    ndarray or float
        Formaldehyde in the bath at the end. [g/100 mL]  Never below 0.

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    start = within("start_percent_w_v", start_percent_w_v, 0.0, 45.0, "g/100 mL")
    ratio, water = _ratio(fluid_ml_per_g), _water(water_fraction)
    capacity = within("capacity_mol_l", capacity_mol_l, 0.0, 2.0, "mol/L")
    bound = capacity * tables.load("molar-masses").value("formaldehyde") / 10.0
    return given(np.maximum(0.0, (start * ratio - bound) / (ratio + water)))  # type: ignore[no-any-return]


def diffusivity_m2_s(solute: str, temperature_c: npt.ArrayLike = 20.0, which: str = "default") -> Array:
    """
    How fast a solute spreads in fixed tissue.

    Parameters
    ----------
    solute : str
        "ethanol" or "formaldehyde" (free, in water; its binding is ``penetration``'s matter).
    temperature_c : array_like
        Temperature. [degrees C]  0 to 45.
    which : str
        "default", "low" or "high": the middle and the ends of what is known.

    Returns
    -------
    ndarray or float
        Diffusivity. [m2/s]

    Raises
    ------
    ValueError
        If an argument lies outside or a word is unknown.
    """
    if solute not in SOLUTES:
        raise ValueError(f"solute must be one of {', '.join(SOLUTES)}; {solute!r} was given")
    if which not in ("default", "low", "high"):
        raise ValueError(f"which must be one of default, low, high; {which!r} was given")
    t = within("temperature_c", temperature_c, 0.0, 45.0, "degrees C")
    if solute == "ethanol":
        table = tables.load("keepfast-2026-alcohol-in-tissue")
        base, energy = table.row(name="diffusivity_m2_s")[which], table.row(name="energy_kj_mol")["default"]
    else:
        table = tables.load("keepfast-2026-two-site-binding")
        # The table's figure is a flux per tissue; spreading in the tissue's water is faster by the water's share.
        base = table.row(name="diffusivity_m2_s")[which] / penetration_default("water_fraction")
        energy = penetration_default("energy_diffusion_kj_mol")
    return given(np.asarray(base * warmth_factor(t, 20.0, energy)))  # type: ignore[no-any-return]


def _bessel(order: int, x: Array) -> Array:
    """Bessel function J_0 or J_1 by its integral; the trapezoid rule over a period is exact for x below 2 _NODES."""
    angles = (np.arange(_NODES) + 0.5) * np.pi / _NODES
    return np.asarray(np.cos(order * angles - np.multiply.outer(x, np.sin(angles))).mean(axis=-1))


def _bracketed(low: Array, high: Array, alpha: float) -> Array:
    """Roots of alpha q J0(q) + 2 J1(q) between the brackets, by halving and then Newton; infinite alpha: of J0."""
    outer, inner = (1.0, 0.0) if np.isinf(alpha) else (alpha, 2.0)
    sign = np.sign(outer * low * _bessel(0, low) + inner * _bessel(1, low))
    for _ in range(8):
        q = np.asarray((low + high) / 2.0)
        same = np.sign(outer * q * _bessel(0, q) + inner * _bessel(1, q)) == sign
        low, high = np.where(same, q, low), np.where(same, high, q)
    q = np.asarray((low + high) / 2.0)
    for _ in range(4):
        j0, j1 = _bessel(0, q), _bessel(1, q)
        q = q - (outer * q * j0 + inner * j1) / (outer * (j0 - q * j1) + inner * (j0 - j1 / q))
    return np.asarray(q)


@cache
def _zeros_of_j0() -> Array:
    centre = (np.arange(1, _TERMS + 1) - 0.25) * np.pi
    return _bracketed(np.asarray(centre - 0.2), np.asarray(centre + 0.2), float("inf"))


@lru_cache(maxsize=64)
def _roots(alpha: float) -> Array:
    """Roots of alpha q J0(q) + 2 J1(q) = 0: each a little above a zero of J0, below the next zero of J1."""
    zeros = _zeros_of_j0()
    return zeros if np.isinf(alpha) else _bracketed(zeros, np.asarray(zeros + 0.55 * np.pi), alpha)


def _uptake(tau: Array, alpha: float) -> Array:
    """Share of the final uptake of a long cylinder in a stirred bath alpha times its own liquid."""
    q = _roots(alpha)
    if np.isfinite(alpha):
        weights = 4.0 * alpha * (1.0 + alpha) / (4.0 + 4.0 * alpha + alpha**2 * q**2)
        early = (1.0 + alpha) / alpha
    else:
        weights = 4.0 / q**2
        early = 1.0
    late = 1.0 - (weights * np.exp(-np.multiply.outer(np.maximum(tau, _EARLY), q**2))).sum(axis=-1)
    start = early * (4.0 * np.sqrt(tau / np.pi) - tau)
    return np.where(tau < _EARLY, start, late)


@lru_cache(maxsize=64)
def _curve(alpha: float) -> tuple[Array, Array]:
    """The uptake against the logarithm of dimensionless time, strictly rising."""
    exponents = np.linspace(-5.0, 1.0, 1201)
    reached = np.maximum.accumulate(_uptake(10.0**exponents, alpha))
    # The curve is smooth in the logarithm of time: straight lines 1.2 % apart are good to 1e-4 of the answer.
    rising = np.concatenate([[True], np.diff(reached) > 0])
    return reached[rising], exponents[rising]


def _bath_over_body(fluid_ml_per_g: float, water_fraction: float) -> float:
    if np.isinf(fluid_ml_per_g):
        return float("inf")
    ratio = float(_ratio(fluid_ml_per_g))
    water = float(within("water_fraction", water_fraction, 0.01, 1.0))
    return ratio / water


def share_equalised(
    radius_mm: npt.ArrayLike,
    hours: npt.ArrayLike,
    temperature_c: npt.ArrayLike = 20.0,
    *,
    solute: str = "ethanol",
    which: str = "default",
    fluid_ml_per_g: float = float("inf"),
    water_fraction: float = 0.75,
) -> Array:
    """
    How far a body has come from its old strength to the one it will share with the fluid.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the trunk at its thickest, taken as a long cylinder. [mm]  0.1 to 500.
    hours : array_like
        Time in the fluid, moved now and then. [h]
    temperature_c : array_like
        Temperature. [degrees C]  0 to 45. The three broadcast together.
    solute : str
        "ethanol" or "formaldehyde".
    which : str
        "default", "low" or "high" diffusivity: the middle and the ends of what is known.
    fluid_ml_per_g : float
        Fluid for each gram of body. [mL/g]  Infinite by default; a small bath is equal sooner, at a lower strength.
    water_fraction : float
        Body liquid as a share of mass. [-]

    Returns
    -------
    ndarray or float
        Share of the way, mean over the body. [-]  0 to 1.

    Raises
    ------
    ValueError
        If an argument lies outside or a word is unknown.

    Notes
    -----
    Crank's solution for a cylinder in a stirred solution of limited volume: 1 - sum 4 a (1 + a) / (4 + 4 a + a^2 q^2)
    exp(-q^2 D t / r^2), a the fluid over the body's liquid, q the roots of a q J0(q) + 2 J1(q) = 0; for an unlimited
    bath 1 - sum 4/q^2 exp(-q^2 D t / r^2), q the zeros of J0. Injection and slits make it faster, scaled skin and fat
    slower; unstirred fluid slower too.

    References
    ----------
    .. [1] Crank 1975, The Mathematics of Diffusion, eqs 5.23 and 5.33. (from memory; checked against Bessel functions
       and a finite-volume solution in the tests)
    """
    r = within("radius_mm", radius_mm, 0.1, 500.0, "mm")
    time = within("hours", hours, 0.0, 1e7, "h")
    d = np.asarray(diffusivity_m2_s(solute, temperature_c, which)) * _M2_S_TO_MM2_H
    tau = np.asarray(d * time / r**2)
    return given(_uptake(tau, _bath_over_body(fluid_ml_per_g, water_fraction)))  # type: ignore[no-any-return]


def hours_to_equalise(
    radius_mm: npt.ArrayLike,
    share: npt.ArrayLike = 0.95,
    temperature_c: npt.ArrayLike = 20.0,
    *,
    solute: str = "ethanol",
    which: str = "default",
    fluid_ml_per_g: float = float("inf"),
    water_fraction: float = 0.75,
) -> Array:
    """
    Time after which a body has come a share of the way; the inverse of ``share_equalised``.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the trunk at its thickest. [mm]  0.1 to 500.
    share : array_like
        Share of the way. [-]  0.05 to 0.9999.
    temperature_c : array_like
        Temperature. [degrees C]  0 to 45. The three broadcast together.
    solute, which, fluid_ml_per_g, water_fraction
        As for ``share_equalised``.

    Returns
    -------
    ndarray or float
        Time. [h]  Goes with the square of the radius.

    Raises
    ------
    ValueError
        If an argument lies outside or a word is unknown.
    """
    r = within("radius_mm", radius_mm, 0.1, 500.0, "mm")
    wanted = within("share", share, 0.05, 0.9999)
    d = np.asarray(diffusivity_m2_s(solute, temperature_c, which)) * _M2_S_TO_MM2_H
    alpha = _bath_over_body(fluid_ml_per_g, water_fraction)
    reached, exponents = _curve(alpha)
    tau = 10.0 ** np.interp(wanted, reached, exponents)
    return given(np.asarray(tau * r**2 / d))  # type: ignore[no-any-return]
