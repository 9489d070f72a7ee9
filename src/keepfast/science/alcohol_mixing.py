"""Mixing ethanol and water: contraction, any number of liquids, dilution by volume and by mass.

``alcohol`` is the front door and offers all of it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.alcohol_density import (
    HIGHEST_C,
    checked,
    density_20,
    end_densities,
    raw_density,
    raw_mass_fraction_from_strength,
    raw_strength,
)
from keepfast.science.ranges import Array, first, given, within


class Mixture(NamedTuple):
    """What several liquids make together; volumes at 20 degrees C."""

    strength_vol: Array  # % vol at 20 degrees C
    volume_ml: Array  # of the mixture
    mass_g: Array
    contraction_ml: Array  # how much smaller it is than its parts


class Dilution(NamedTuple):
    """What to take for a wanted volume; volumes as measured at the temperature that was named."""

    stock_ml: Array
    water_ml: Array
    stock_g: Array
    water_g: Array
    final_ml: Array
    contraction_ml: Array  # stock and water together minus what they make


def strength(name: str, value: npt.ArrayLike) -> Array:
    """A strength in % vol from 0 to 100, or ValueError."""
    return within(name, value, 0.0, 100.0, "% vol")


def contraction(mass_fraction: npt.ArrayLike, temperature_c: npt.ArrayLike = 20.0) -> Array:
    """
    Share by which ethanol and water shrink when they are mixed.

    Parameters
    ----------
    mass_fraction : array_like
        Mass of ethanol over mass of mixture. [-]  0 to 1.
    temperature_c : array_like
        Temperature of both and of the mixture. [degrees C]  Broadcasts with mass_fraction.

    Returns
    -------
    ndarray or float
        1 - volume of the mixture over the sum of the volumes, 0 to 0.0355 at 20 degrees C. [-]

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    p, t = checked(mass_fraction, temperature_c)
    water, ethanol = end_densities(t)
    share = np.asarray(1.0 - 1.0 / (raw_density(p, t) * (p / ethanol + (1.0 - p) / water)))
    # At the pure ends only rounding is left, of either sign.
    return given(np.where(np.abs(share) < 1e-12, 0.0, share))  # type: ignore[no-any-return]


def mix(strengths_vol: npt.ArrayLike, volumes_ml: npt.ArrayLike, temperature_c: npt.ArrayLike = 20.0) -> Mixture:
    """
    What any number of ethanol-water liquids make together, water being a liquid of 0 % vol.

    Parameters
    ----------
    strengths_vol : array_like
        Strengths, the liquids along the last axis. [% vol]  0 to 100.
    volumes_ml : array_like
        Volume of each as measured. [mL]  Not negative, not all zero.
    temperature_c : array_like
        Temperature at which each was measured. [degrees C]  All three broadcast together.

    Returns
    -------
    Mixture
        Strength, volume, mass and contraction, volumes at 20 degrees C, without the last axis.

    Raises
    ------
    ValueError
        If an argument lies outside, or nothing is mixed.

    Notes
    -----
    Masses add, volumes do not: p = sum(m p) / sum(m), V = sum(m) / rho(p, 20). The order does not matter.
    """
    q = strength("strengths_vol", strengths_vol)
    volume = within("volumes_ml", volumes_ml, 0.0, 1e12, "mL")
    p, t = checked(raw_mass_fraction_from_strength(q), temperature_c)
    p, t, volume = np.broadcast_arrays(np.atleast_1d(p), t, volume)
    mass = volume * raw_density(p, t) / 1000.0
    total = mass.sum(axis=-1)
    if np.any(total <= 0):
        raise ValueError("volumes_ml must not all be 0; nothing was given to mix")
    mixed = np.clip((mass * p).sum(axis=-1) / total, 0.0, 1.0)
    made = 1000.0 * total / density_20(mixed)
    parts = (1000.0 * mass / density_20(p)).sum(axis=-1)
    return Mixture(
        given(raw_strength(mixed)),
        given(made),
        given(total),
        given(parts - made),
    )


def dilute(
    stock_strength_vol: npt.ArrayLike,
    target_strength_vol: npt.ArrayLike,
    final_ml: npt.ArrayLike,
    temperature_c: npt.ArrayLike = 20.0,
) -> Dilution:
    """
    Stock and water for a wanted volume of a wanted strength, by volume and by mass.

    Parameters
    ----------
    stock_strength_vol, target_strength_vol : array_like
        Strengths at 20 degrees C. [% vol]  Target above 0, not above the stock.
    final_ml : array_like
        Volume wanted, as it stands at the temperature. [mL]
    temperature_c : array_like
        Temperature at which everything is measured. [degrees C]  0 to 40. All four broadcast together.

    Returns
    -------
    Dilution
        Amounts in mL at that temperature and in grams. Measuring the stock and making up with water to ``final_ml``
        once the mixture is back at the temperature is the same thing.

    Raises
    ------
    ValueError
        If an argument lies outside, or the stock is weaker than the target.
    """
    stock, target = _stock_and_target(stock_strength_vol, target_strength_vol)
    wanted = within("final_ml", final_ml, 0.0, 1e12, "mL")
    within("temperature_c", temperature_c, 0.0, HIGHEST_C, "degrees C", "below 0 the water is ice")
    p_target, t = checked(raw_mass_fraction_from_strength(target), temperature_c)
    p_stock, t = checked(raw_mass_fraction_from_strength(stock), t)
    p_stock, p_target, wanted, t = np.broadcast_arrays(p_stock, p_target, wanted, t)
    water_density, _ = end_densities(t)
    final_g = wanted * raw_density(p_target, t) / 1000.0
    # Where both strengths are one, rounding must not ask for less than no water.
    stock_g = final_g * np.minimum(p_target / p_stock, 1.0)
    water_g = final_g - stock_g
    stock_ml = 1000.0 * stock_g / raw_density(p_stock, t)
    water_ml = 1000.0 * water_g / water_density
    return Dilution(
        given(stock_ml),
        given(water_ml),
        given(stock_g),
        given(water_g),
        given(np.where(np.isnan(stock_ml), np.nan, wanted)),
        given(stock_ml + water_ml - wanted),
    )


def _stock_and_target(stock_strength_vol: npt.ArrayLike, target_strength_vol: npt.ArrayLike) -> tuple[Array, Array]:
    stock = strength("stock_strength_vol", stock_strength_vol)
    target = strength("target_strength_vol", target_strength_vol)
    none = target <= 0
    if none.any():
        raise ValueError(
            f"target_strength_vol must be above 0 and at most the stock's % vol; {first(target, none):g} was given"
        )
    weak = target > stock
    if weak.any():
        raise ValueError(
            f"target_strength_vol must be at most the stock's {first(stock, weak):g} % vol;"
            f" {first(target, weak):g} was given: the stock is weaker than the target"
        )
    return stock, target


def water_to_add_ml(
    stock_strength_vol: npt.ArrayLike, target_strength_vol: npt.ArrayLike, stock_ml: npt.ArrayLike
) -> Array:
    """
    Water to add to a volume of stock so that the mixture has the target strength, all at 20 degrees C.

    Parameters
    ----------
    stock_strength_vol, target_strength_vol : array_like
        Strengths at 20 degrees C. [% vol]  Target above 0, not above the stock.
    stock_ml : array_like
        Stock at 20 degrees C. [mL]  All three broadcast together.

    Returns
    -------
    ndarray or float
        Water at 20 degrees C. [mL]  More than the difference of the volumes, because the mixture shrinks.

    Raises
    ------
    ValueError
        If an argument lies outside, or the stock is weaker than the target.

    Examples
    --------
    >>> round(float(water_to_add_ml(96.0, 70.0, 100.0)), 2)
    40.78
    """
    stock, target = _stock_and_target(stock_strength_vol, target_strength_vol)
    volume = within("stock_ml", stock_ml, 0.0, 1e12, "mL")
    p_stock, p_target = raw_mass_fraction_from_strength(stock), raw_mass_fraction_from_strength(target)
    water = density_20(np.array(0.0))
    return given(volume * density_20(p_stock) * np.maximum(p_stock / p_target - 1.0, 0.0) / water)  # type: ignore[no-any-return]
