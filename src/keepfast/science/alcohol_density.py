"""Density of ethanol-water mixtures by OIML R 22, and its inverse, fast.

``alcohol`` is the room's front door; here is the arithmetic under it. The formula is a polynomial in mass fraction
whose coefficients are polynomials in temperature, so it is kept as one matrix and evaluated by Horner's rule.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from keepfast.science import tables
from keepfast.science.ranges import Array, first, given, refusal, within

LOWEST_C, HIGHEST_C = -20.0, 40.0
END_TOLERANCE_KG_M3 = 0.05  # a reading this far beyond water or ethanol is the instrument's noise

_BLOCK = 8192  # elements worked at a time: the twelve coefficient arrays then stay in the processor's cache
_GUESS_DENSITIES, _GUESS_DEGREES = 257, 1.0


@cache
def _matrix() -> Array:
    """Coefficients M[k, j] of p^k (t - 20)^j."""
    values = tables.load("oiml-1975-ethanol-water-density").values
    matrix = np.zeros((12, 7))
    matrix[:, 0] = values["A"]
    matrix[0, 1:] = values["B"]
    for power in range(1, 6):
        column = values[f"C{power}"]
        matrix[1 : 1 + len(column), power] = column
    return matrix


@cache
def _orders() -> tuple[int, ...]:
    """Highest power of temperature in each row of the matrix."""
    return tuple(int(np.flatnonzero(row)[-1]) for row in _matrix())


def _in_temperature(k: int, tau: Array) -> Array:
    """Coefficient of p^k at tau = t - 20."""
    row = _matrix()[k]
    top = _orders()[k]
    total = np.full_like(tau, row[top])
    for j in range(top - 1, -1, -1):
        total *= tau
        total += row[j]
    return total


def _density_block(p: Array, tau: Array) -> Array:
    total = _in_temperature(11, tau)
    for k in range(10, -1, -1):
        total *= p
        total += _in_temperature(k, tau)
    return total


def raw_density(p: Array, t: Array) -> Array:
    """The formula itself, unchecked, for arrays that broadcast. [kg/m3]"""
    p, t = np.broadcast_arrays(p, t)
    flat_p, flat_tau = p.reshape(-1), t.reshape(-1) - 20.0
    out = np.empty(flat_p.shape)
    for start in range(0, flat_p.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        out[part] = _density_block(flat_p[part], flat_tau[part])
    return out.reshape(p.shape)


@cache
def _at_20() -> tuple[float, ...]:
    return tuple(float(v) for v in _matrix()[:, 0])


@cache
def ethanol_density_20() -> float:
    """Density of ethanol at 20 degrees C, by the same sum as any other value. [kg/m3]"""
    return float(density_20(np.array(1.0)))


def density_20(p: Array) -> Array:
    """The formula at 20 degrees C, where only the A remain, unchecked. [kg/m3]"""
    coefficients = _at_20()
    total = np.full_like(p, coefficients[11])
    for coefficient in coefficients[10::-1]:
        total *= p
        total += coefficient
    return total


def raw_strength(p: Array) -> Array:
    """Strength at 20 degrees C, unchecked; rounding never lifts it above 100. [% vol]"""
    return np.asarray(np.minimum(100.0 * p * density_20(p) / ethanol_density_20(), 100.0))


def slope_20(p: Array) -> Array:
    """How the formula at 20 degrees C goes with mass fraction, unchecked. [kg/m3]"""
    coefficients = _at_20()
    total = np.full_like(p, 11 * coefficients[11])
    for k in range(10, 0, -1):
        total *= p
        total += k * coefficients[k]
    return total


def freezing_mass_fraction(temperature_c: npt.ArrayLike) -> Array:
    """The weakest mixture that is all liquid at this temperature; 0 from 0 degrees C upward. [-]"""
    table = tables.load("crc-ethanol-freezing")
    t = np.asarray(temperature_c, dtype=float)
    # np.interp needs rising abscissae, and the freezing point falls with strength.
    return given(np.interp(t, table.column("freezing_c")[::-1], table.column("mass_percent")[::-1] / 100.0))  # type: ignore[no-any-return]


def checked(mass_fraction: npt.ArrayLike, temperature_c: npt.ArrayLike) -> tuple[Array, Array]:
    """Both arguments inside the formula's range, or ValueError."""
    slip = "70 % is 0.70" if np.any(np.asarray(mass_fraction, dtype=float) > 1) else ""
    p = within("mass_fraction", mass_fraction, 0.0, 1.0, "", slip)
    t = checked_temperature(temperature_c)
    weakest = freezing_mass_fraction(t)
    frozen = (t < 0) & (p < weakest - 1e-9)
    if frozen.any():
        at = first(t, frozen)
        limit = first(weakest, frozen)
        raise ValueError(
            refusal("mass_fraction", first(p, frozen), limit, 1.0, f"at {at:.4g} degrees C", "weaker is part ice")
        )
    return p, t


def checked_temperature(temperature_c: npt.ArrayLike) -> Array:
    """The temperature inside the formula's range, or ValueError."""
    # What is hotter than any shade is more often degrees F than a real fluid.
    slip = "that looks like degrees F" if np.any(np.asarray(temperature_c, dtype=float) > 50.0) else ""
    return within("temperature_c", temperature_c, LOWEST_C, HIGHEST_C, "degrees C", slip)


@cache
def _guess_table() -> Array:
    """Mass fraction by (whole degree, share of the way from water's to ethanol's density), good to about 1e-5."""
    degrees = np.arange(LOWEST_C, HIGHEST_C + _GUESS_DEGREES / 2, _GUESS_DEGREES)
    fractions = np.linspace(0.0, 1.0, 1025)
    shares = np.linspace(0.0, 1.0, _GUESS_DENSITIES)
    table = np.empty((degrees.size, shares.size))
    for row, column in zip(table, raw_density(fractions[None, :], degrees[:, None]), strict=True):
        row[:] = np.interp(shares, (column[0] - column) / (column[0] - column[-1]), fractions)
    return table


@cache
def _ethanol_in_temperature() -> tuple[float, ...]:
    """Coefficients in temperature of pure ethanol's density: the columns' sums."""
    return tuple(float(total) for total in _matrix().sum(axis=0))


def _pure_ethanol(tau: Array) -> Array:
    coefficients = _ethanol_in_temperature()
    total = np.full_like(tau, coefficients[-1])
    for coefficient in coefficients[-2::-1]:
        total *= tau
        total += coefficient
    return total


def end_densities(t: Array) -> tuple[Array, Array]:
    """Density of water and of ethanol, unchecked. [kg/m3]"""
    tau = np.asarray(t - 20.0)
    return _in_temperature(0, tau), _pure_ethanol(tau)


def _invert_block(density: Array, tau: Array) -> Array:
    p: Array
    coefficients = [_in_temperature(k, tau) for k in range(12)]
    water, ethanol = coefficients[0], _pure_ethanol(tau)
    guess = _guess_table()
    place = np.clip((water - density) / (water - ethanol), 0.0, 1.0) * (_GUESS_DENSITIES - 1)
    degree = (tau + 20.0 - LOWEST_C) / _GUESS_DEGREES
    column = np.minimum(place.astype(np.intp), _GUESS_DENSITIES - 2)
    row = np.minimum(degree.astype(np.intp), guess.shape[0] - 2)
    place -= column
    degree -= row
    cell = row * _GUESS_DENSITIES + column
    flat = guess.reshape(-1)
    upper = flat.take(cell) * (1 - place) + flat.take(cell + 1) * place
    cell += _GUESS_DENSITIES
    lower = flat.take(cell) * (1 - place) + flat.take(cell + 1) * place
    p = upper * (1 - degree) + lower * degree
    # The density falls strictly with strength, so Newton from a guess this near settles in two steps to 1e-13.
    for _ in range(2):
        value = coefficients[11] * p + coefficients[10]
        slope = coefficients[11].copy()
        for k in range(9, -1, -1):
            slope *= p
            slope += value
            value *= p
            value += coefficients[k]
        value -= density
        value /= slope
        p = np.clip(p - value, 0.0, 1.0)
    return p


def raw_mass_fraction(density: Array, t: Array) -> Array:
    """Mass fraction from density, unchecked but for the ends, which are held to 0 and 1; NaN passes. [-]"""
    density, t = np.broadcast_arrays(density, t)
    flat, tau = density.reshape(-1), t.reshape(-1) - 20.0
    out = np.empty(flat.shape)
    for start in range(0, flat.size, _BLOCK):
        part = slice(start, start + _BLOCK)
        missing = np.isnan(flat[part]) | np.isnan(tau[part])
        if missing.any():
            solved = _invert_block(np.where(missing, 900.0, flat[part]), np.where(missing, 0.0, tau[part]))
            solved[missing] = np.nan
        else:
            solved = _invert_block(flat[part], tau[part])
        out[part] = solved
    return out.reshape(density.shape)


@cache
def _strength_guess() -> tuple[Array, Array]:
    fractions = np.linspace(0.0, 1.0, 1025)
    return raw_strength(fractions), fractions


def raw_mass_fraction_from_strength(strength_vol: Array) -> Array:
    """Mass fraction from strength in % vol at 20 degrees C, unchecked; NaN passes. [-]"""
    strengths, fractions = _strength_guess()
    p = np.asarray(np.interp(strength_vol, strengths, fractions))
    wanted = strength_vol * (ethanol_density_20() / 100.0)
    for _ in range(3):
        density = density_20(p)
        p = np.clip(p - (p * density - wanted) / (density + p * slope_20(p)), 0.0, 1.0)
    return p


def density(mass_fraction: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Array:
    """
    Density of an ethanol-water mixture in vacuum, by the general formula of OIML R 22.

    Parameters
    ----------
    mass_fraction : array_like
        Mass of ethanol over mass of mixture. [-]  0 to 1; below 0 degrees C not weaker than what freezes there.
    temperature_c : array_like
        Temperature. [degrees C]  -20 to 40. Broadcasts with mass_fraction.

    Returns
    -------
    ndarray or float
        Density. [kg/m3]  A weighing in air reads about 1.1 kg/m3 less, see ``density_in_air``.

    Raises
    ------
    ValueError
        If an argument lies outside; the message has its name, the limits and the value.

    Notes
    -----
    rho(p, t) = A1 + sum(k=2..12) A_k p^(k-1) + sum(k=1..6) B_k (t-20)^k + sum(i, k) C_i,k p^k (t-20)^i.
    Measured values of the old national tables lie within 0.12 kg/m3 of it from 45 to 85 % mass and 10 to 40
    degrees C. Newer equations put pure ethanol 0.18 kg/m3 higher at 20 degrees C; strengths are defined by this one.
    Where mixtures freeze is taken from a table of freezing points that carries its own doubt (half a degree).

    References
    ----------
    .. [1] OIML R 22, 1975, International alcoholometric tables (read in copies, see the table file).
    .. [2] Council Directive 76/766/EEC, annex. (read in part)

    Examples
    --------
    A value of the tables of R 22, 31 % mass at 13 degrees C:

    >>> round(float(density(0.31, 13.0)), 2)
    956.42
    """
    p, t = checked(mass_fraction, temperature_c)
    return given(raw_density(p, t))  # type: ignore[no-any-return]
