"""Ethanol and water: density, strength, readings, mixing and dilution.

Everything stands on the density of OIML R 22 (``alcohol_density``) and on masses: volumes shrink on mixing and grow
with warmth, masses do neither. Strengths are % vol at 20 degrees C unless a reference temperature is named. The
vapours over a mixture and its flash point are in ``vapour`` and offered here too.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from keepfast.science import tables
from keepfast.science.alcohol_density import (
    END_TOLERANCE_KG_M3,
    HIGHEST_C,
    LOWEST_C,
    checked,
    checked_temperature,
    density,
    density_20,
    end_densities,
    ethanol_density_20,
    freezing_mass_fraction,
    raw_density,
    raw_mass_fraction,
    raw_mass_fraction_from_strength,
    raw_strength,
)
from keepfast.science.alcohol_mixing import Dilution, Mixture, contraction, dilute, mix, strength, water_to_add_ml
from keepfast.science.ranges import Array, first, given, refusal, within
from keepfast.science.vapour import (
    FlashPoint,
    PartialPressures,
    activity_coefficients,
    ethanol_vapour_pressure,
    flash_point_c,
    mole_fraction,
    partial_pressures,
    water_vapour_pressure,
)

__all__ = [
    "GLASSES",
    "HIGHEST_C",
    "LOWEST_C",
    "REFERENCE_TEMPERATURES_C",
    "Dilution",
    "FlashPoint",
    "Mixture",
    "PartialPressures",
    "activity_coefficients",
    "contraction",
    "convert_reference",
    "density",
    "density_in_air",
    "density_limits",
    "dilute",
    "ethanol_vapour_pressure",
    "flash_point_c",
    "freezing_mass_fraction",
    "hydrometer_reading",
    "mass_fraction",
    "mass_fraction_from_density",
    "mix",
    "mole_fraction",
    "partial_pressures",
    "reading_limits",
    "specific_gravity_in_air",
    "strength_from_density",
    "strength_from_hydrometer",
    "strength_vol",
    "water_to_add_ml",
    "water_vapour_pressure",
]

REFERENCE_TEMPERATURES_C = (20.0, 15.56, 15.0)
GLASSES = ("soda-lime", "borosilicate")


def _reference(reference_c: float) -> float:
    for known in REFERENCE_TEMPERATURES_C:
        # 60 degrees F is 15.5556 degrees C, which people round either way.
        if abs(reference_c - known) < 0.01:
            return known
    raise ValueError(f"reference_c must be one of 20, 15.56, 15 degrees C; {reference_c:g} was given")


def strength_vol(mass_fraction: npt.ArrayLike, *, reference_c: float = 20.0) -> Array:
    """
    Volume strength of a mixture from its mass fraction.

    Parameters
    ----------
    mass_fraction : array_like
        Mass of ethanol over mass of mixture. [-]  0 to 1.
    reference_c : float
        Temperature to which both volumes refer: 20 (default; OIML, EU, European Pharmacopoeia), 15.56 (60 degrees F;
        US proof and pharmacopoeia) or 15 (old Gay-Lussac instruments). [degrees C]

    Returns
    -------
    ndarray or float
        Volume of ethanol per 100 volumes of mixture. [% vol]

    Raises
    ------
    ValueError
        If the mass fraction lies outside or the reference temperature is none of the three.

    Notes
    -----
    q = 100 p rho(p, T) / rho(1, T), T the reference temperature [1].

    References
    ----------
    .. [1] Council Directive 76/766/EEC, annex, section 1. (read)
    """
    at = _reference(reference_c)
    p, _ = checked(mass_fraction, at)
    if at == 20.0:
        return given(raw_strength(p))  # type: ignore[no-any-return]
    t = np.asarray(at)
    q = 100.0 * p * raw_density(p, t) / raw_density(np.asarray(1.0), t)
    return given(np.asarray(np.minimum(q, 100.0)))  # type: ignore[no-any-return]


def mass_fraction(strength_vol: npt.ArrayLike, *, reference_c: float = 20.0) -> Array:
    """
    Mass fraction of a mixture from its volume strength; the inverse of ``strength_vol``.

    Parameters
    ----------
    strength_vol : array_like
        Volume strength. [% vol]  0 to 100.
    reference_c : float
        Temperature to which it refers: 20 (default), 15.56 or 15. [degrees C]

    Returns
    -------
    ndarray or float
        Mass of ethanol over mass of mixture. [-]

    Raises
    ------
    ValueError
        If the strength lies outside or the reference temperature is none of the three.

    Examples
    --------
    70 % vol is 62.39 % by mass:

    >>> round(float(mass_fraction(70.0)), 4)
    0.6239
    """
    at = _reference(reference_c)
    q = strength("strength_vol", strength_vol)
    p = raw_mass_fraction_from_strength(q)
    if at != 20.0:
        t = np.asarray(at)
        pure = raw_density(np.asarray(1.0), t)
        # The two references differ by less than 0.05 %, so a secant on this tiny difference closes at once.
        for _ in range(4):
            there = 100.0 * p * raw_density(p, t) / pure
            p = raw_mass_fraction_from_strength(np.clip(raw_strength(p) + q - there, 0.0, 100.0))
    return given(p)  # type: ignore[no-any-return]


def convert_reference(strength_vol: npt.ArrayLike, from_c: float, to_c: float) -> Array:
    """
    The same fluid's volume strength at another reference temperature.

    Parameters
    ----------
    strength_vol : array_like
        Volume strength. [% vol]  0 to 100.
    from_c, to_c : float
        Reference temperatures, each 20, 15.56 or 15. [degrees C]

    Returns
    -------
    ndarray or float
        Volume strength at the other reference. [% vol]

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    p = mass_fraction(strength_vol, reference_c=from_c)
    return _at_reference(p, to_c)


def _at_reference(p: Array, reference_c: float) -> Array:
    return strength_vol(p, reference_c=reference_c)


def density_in_air(density_kg_m3: npt.ArrayLike) -> Array:
    """
    Apparent density of a liquid weighed in air against steel or brass.

    Parameters
    ----------
    density_kg_m3 : array_like
        Density in vacuum. [kg/m3]  700 to 1300.

    Returns
    -------
    ndarray or float
        rho - 1.2 (1 - rho/8000), air at 1.2 and weights at 8000 kg/m3. [kg/m3]

    Raises
    ------
    ValueError
        If the density lies outside.

    References
    ----------
    .. [1] Conventions of OIML R 22, table XII. (read at second hand)
    """
    rho = within("density_kg_m3", density_kg_m3, 700.0, 1300.0, "kg/m3", _gravity_slip(density_kg_m3))
    return given(rho - 1.2 * (1.0 - rho / 8000.0))  # type: ignore[no-any-return]


def specific_gravity_in_air(
    mass_fraction: npt.ArrayLike, temperature_c: npt.ArrayLike, water_temperature_c: npt.ArrayLike
) -> Array:
    """
    Specific gravity as pharmacopoeias print it: weight in air over that of as much water.

    Parameters
    ----------
    mass_fraction : array_like
        Mass of ethanol over mass of mixture. [-]
    temperature_c, water_temperature_c : array_like
        Temperatures of the mixture and of the water, 25/25 or 15.56/15.56 in print. [degrees C]

    Returns
    -------
    ndarray or float
        Specific gravity. [-]

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    mixture = density_in_air(density(mass_fraction, temperature_c))
    water = density_in_air(density(0.0, water_temperature_c))
    return given(np.asarray(mixture / water))  # type: ignore[no-any-return]


def _gravity_slip(value: npt.ArrayLike) -> str:
    array = np.asarray(value, dtype=float)
    if np.any((array > 0.5) & (array < 1.5)):
        return "that looks like a specific gravity or g/mL; in kg/m3 it is a thousand times more"
    return ""


def density_limits(temperature_c: npt.ArrayLike) -> tuple[Array, Array]:
    """
    Densities that a liquid mixture of ethanol and water can show at a temperature.

    Parameters
    ----------
    temperature_c : array_like
        Temperature. [degrees C]  -20 to 40.

    Returns
    -------
    pair of ndarray or float
        Lowest (ethanol) and highest (water, or below 0 degrees C the weakest that is not part ice), each with the
        0.05 kg/m3 that still count as the end. [kg/m3]

    Raises
    ------
    ValueError
        If the temperature lies outside.
    """
    low, high = _limits(checked_temperature(temperature_c))
    return given(low), given(high)


def _limits(t: Array) -> tuple[Array, Array]:
    dense, ethanol = end_densities(t)
    if (t < 0).any():
        cold = np.where(np.isnan(t), 0.0, t)
        dense = np.where(t < 0, raw_density(np.asarray(freezing_mass_fraction(cold)), cold), dense)
    return np.asarray(ethanol - END_TOLERANCE_KG_M3), np.asarray(dense + END_TOLERANCE_KG_M3)


def reading_limits(temperature_c: npt.ArrayLike, glass: str = "soda-lime") -> tuple[Array, Array]:
    """
    Readings that a glass alcoholometer can show in a liquid mixture of ethanol and water.

    Parameters
    ----------
    temperature_c : array_like
        Temperature of the fluid. [degrees C]  -20 to 40.
    glass : str
        "soda-lime" (default) or "borosilicate".

    Returns
    -------
    pair of ndarray or float
        Lowest and highest, within the scale of 0 to 100. [% vol]

    Raises
    ------
    ValueError
        If the temperature lies outside, or the glass is unknown.
    """
    t = checked_temperature(temperature_c)
    low, high = _limits(t)
    grown = 1.0 - _glass_expansion(glass) * (t - 20.0)
    return given(_as_reading(high, grown)), given(_as_reading(low, grown))


def _as_reading(rho: Array, grown: Array) -> Array:
    return raw_strength(raw_mass_fraction(np.asarray(rho / grown), np.asarray(20.0)))


def _inside_ends(name: str, unit: str, shown: Array, rho: Array, t: Array, grown: Array | None = None) -> None:
    """Refuse a density that no mixture has at that temperature, in the terms of what was read.

    ``grown`` is what an alcoholometer's own warmth makes of the density its scale stands for.
    """
    low, high = _limits(t)
    # The sum of an end and the tolerance may round either way; exactly there is still inside.
    over, under = rho > high + 1e-9, rho < low - 1e-9
    outside = over | under
    if not outside.any():
        return
    at = f"{unit} at {first(t, outside):.4g} degrees C"
    if grown is not None:
        end = "denser than water" if first(over, outside) else "lighter than ethanol"
        slip = f"{end} there, so the reading, the temperature or the fluid is another"
        low, high = _as_reading(high, grown), _as_reading(low, grown)
    else:
        slip = _gravity_slip(first(shown, outside)) or (
            "denser than water: salt, buffer or glycerol in it, or a reading in other units"
            if first(over, outside)
            else "lighter than ethanol: a denaturant, or another temperature"
        )
    raise ValueError(refusal(name, first(shown, outside), first(low, outside), first(high, outside), at, slip))


def mass_fraction_from_density(density_kg_m3: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Array:
    """
    Mass fraction of an ethanol-water mixture from its density; the inverse of ``density``.

    Parameters
    ----------
    density_kg_m3 : array_like
        True density, as an oscillating-tube densitometer shows it. [kg/m3]
    temperature_c : array_like
        Temperature at which it was read. [degrees C]  -20 to 40. Broadcasts with density_kg_m3.

    Returns
    -------
    ndarray or float
        Mass of ethanol over mass of mixture. [-]  A reading up to 0.05 kg/m3 beyond an end counts as the end.

    Raises
    ------
    ValueError
        If no mixture has this density at this temperature, or the temperature lies outside.
    """
    return given(_mass_fraction_from_density(density_kg_m3, temperature_c))  # type: ignore[no-any-return]


def _mass_fraction_from_density(density_kg_m3: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Array:
    t = checked_temperature(temperature_c)
    rho = np.asarray(density_kg_m3, dtype=float)
    _inside_ends("density_kg_m3", "kg/m3", rho, rho, t)
    return _not_below_freezing(raw_mass_fraction(rho, t), t)


def _not_below_freezing(p: Array, t: Array) -> Array:
    """Within the tolerance a cold reading may fall just under the first ice: it counts as that end."""
    return np.maximum(p, freezing_mass_fraction(t)) if (t < 0).any() else p


def strength_from_density(density_kg_m3: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Array:
    """
    Volume strength at 20 degrees C from a density read at any temperature.

    Parameters
    ----------
    density_kg_m3 : array_like
        True density, as an oscillating-tube densitometer shows it. [kg/m3]
    temperature_c : array_like
        Temperature at which it was read. [degrees C]  -20 to 40. Broadcasts with density_kg_m3.

    Returns
    -------
    ndarray or float
        Strength at 20 degrees C. [% vol]  A reading up to 0.05 kg/m3 beyond water or ethanol counts as the end.

    Raises
    ------
    ValueError
        If no mixture has this density at this temperature, or the temperature lies outside; the message has the range
        and the likely slip.

    Notes
    -----
    The density falls strictly with strength at every temperature of the range, so there is one answer. It is found
    by two Newton steps from a table, to about 1e-10 % vol of a root search.
    Void for anything but ethanol and water: 10 g/L of salt raise the density by some 8 to 10 kg/m3 and make 70 % vol
    read 3 to 4 % too weak (estimate, unverified); denaturants, glycerol, formaldehyde and borax shift it as well.

    Examples
    --------
    >>> round(float(strength_from_density(877.0, 30.0)), 2)
    70.05
    """
    p = _mass_fraction_from_density(density_kg_m3, temperature_c)
    return given(raw_strength(p))  # type: ignore[no-any-return]


def _glass_expansion(glass: str) -> float:
    if glass not in GLASSES:
        raise ValueError(f"glass must be one of {', '.join(GLASSES)}; {glass!r} was given")
    return float(tables.load("alcoholometer-glass").row(glass=glass)["cubic_expansion_per_k"])


def strength_from_hydrometer(
    reading_vol: npt.ArrayLike, temperature_c: npt.ArrayLike, glass: str = "soda-lime"
) -> Array:
    """
    Volume strength at 20 degrees C from a glass alcoholometer read at any temperature.

    Parameters
    ----------
    reading_vol : array_like
        What the scale shows, an instrument marked in % vol at 20 degrees C. [% vol]  0 to 100.
    temperature_c : array_like
        Temperature of the fluid. [degrees C]  -20 to 40. Broadcasts with reading_vol.
    glass : str
        "soda-lime" (default, 25e-6 per K) or "borosilicate" (10e-6 per K, from memory).

    Returns
    -------
    ndarray or float
        Strength at 20 degrees C. [% vol]

    Raises
    ------
    ValueError
        If no mixture gives this reading at this temperature, an argument lies outside, or the glass is unknown.

    Notes
    -----
    The scale turns density into strength at 20 degrees C; the glass has grown by 1 + 25e-6 (t - 20), so the fluid's
    density is rho(p(reading), 20) (1 - 25e-6 (t - 20)); the strength with that density at t is the answer.
    From 65 to 75 % vol this takes off about 0.33 % vol per degree above 20 and adds 0.32 below.

    Examples
    --------
    >>> round(float(strength_from_hydrometer(70.0, 30.0)), 2)
    66.67
    """
    expansion = _glass_expansion(glass)
    reading = strength("reading_vol", reading_vol)
    t = checked_temperature(temperature_c)
    grown = 1.0 - expansion * (t - 20.0)
    rho = density_20(raw_mass_fraction_from_strength(reading)) * grown
    _inside_ends("reading_vol", "% vol", reading, rho, t, grown)
    p = _not_below_freezing(raw_mass_fraction(rho, t), t)
    return given(raw_strength(p))  # type: ignore[no-any-return]


def hydrometer_reading(strength_vol: npt.ArrayLike, temperature_c: npt.ArrayLike, glass: str = "soda-lime") -> Array:
    """
    What a glass alcoholometer shows in a fluid of known strength; the inverse of ``strength_from_hydrometer``.

    Parameters
    ----------
    strength_vol : array_like
        Strength at 20 degrees C. [% vol]  0 to 100.
    temperature_c : array_like
        Temperature of the fluid. [degrees C]  -20 to 40. Broadcasts with strength_vol.
    glass : str
        "soda-lime" (default) or "borosilicate".

    Returns
    -------
    ndarray or float
        Reading. [% vol]  NaN where the instrument sinks below or floats above its scale.

    Raises
    ------
    ValueError
        If an argument lies outside, or the glass is unknown.
    """
    expansion = _glass_expansion(glass)
    p, t = checked(raw_mass_fraction_from_strength(strength("strength_vol", strength_vol)), temperature_c)
    shown = np.asarray(raw_density(p, t) / (1.0 - expansion * (t - 20.0)))
    off = (shown > density_20(np.array(0.0)) + END_TOLERANCE_KG_M3) | (
        shown < ethanol_density_20() - END_TOLERANCE_KG_M3
    )
    reading = raw_mass_fraction(np.where(off, np.nan, shown), np.asarray(20.0))
    return given(raw_strength(reading))  # type: ignore[no-any-return]
