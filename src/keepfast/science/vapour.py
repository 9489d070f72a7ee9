"""Vapour over ethanol and water at shelf temperature, and the flash point with its doubt."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science import tables
from keepfast.science.alcohol_density import raw_mass_fraction_from_strength
from keepfast.science.ranges import Array, given, within

LOWEST_C, HIGHEST_C = 5.0, 40.0
PARTIAL_PRESSURE_METHODS = ("nrtl", "redlich-kister")


class PartialPressures(NamedTuple):
    """Pressures of the two vapours over a mixture. [kPa]"""

    ethanol_kpa: Array
    water_kpa: Array


class FlashPoint(NamedTuple):
    """Flash point and the span in which the sources leave it. [degrees C]"""

    value_c: Array
    low_c: Array
    high_c: Array


def _ethanol_pure_kpa(t: Array) -> Array:
    table = tables.load("mcgarry-1983-ethanol-vapour")
    tau = 1.0 - (t + 273.15) / table.value("critical_k")
    series = (
        table.value("a") * tau + table.value("b") * tau**1.5 + table.value("c") * tau**3 + table.value("d") * tau**6
    )
    return np.asarray(table.value("critical_kpa") * np.exp(series / (1.0 - tau)))


def _water_pure_kpa(t: Array) -> Array:
    table = tables.load("iapws-1992-water-vapour")
    kelvin = t + 273.15
    v = 1.0 - kelvin / table.value("critical_k")
    series = sum(a * v**power for a, power in zip(table.values["a"], table.values["power"], strict=True))
    return np.asarray(table.value("critical_kpa") * np.exp(table.value("critical_k") / kelvin * series))


def ethanol_vapour_pressure(temperature_c: npt.ArrayLike) -> Array:
    """
    Vapour pressure of pure ethanol, by McGarry's constants of the Wagner equation.

    Parameters
    ----------
    temperature_c : array_like
        Temperature. [degrees C]  5 to 40.

    Returns
    -------
    ndarray or float
        Pressure. [kPa]  Within 0.2 % of the newest equation of state over the range.

    Raises
    ------
    ValueError
        If the temperature lies outside.

    References
    ----------
    .. [1] McGarry 1983 (read at second hand, see the table file).
    """
    return given(_ethanol_pure_kpa(_temperature(temperature_c)))  # type: ignore[no-any-return]


def water_vapour_pressure(temperature_c: npt.ArrayLike) -> Array:
    """
    Vapour pressure of pure water, by the IAPWS saturation equation.

    Parameters
    ----------
    temperature_c : array_like
        Temperature. [degrees C]  5 to 40.

    Returns
    -------
    ndarray or float
        Pressure. [kPa]

    Raises
    ------
    ValueError
        If the temperature lies outside.

    References
    ----------
    .. [1] IAPWS SR1-86(1992) (read at second hand, see the table file).
    """
    return given(_water_pure_kpa(_temperature(temperature_c)))  # type: ignore[no-any-return]


def _temperature(temperature_c: npt.ArrayLike) -> Array:
    return within(
        "temperature_c", temperature_c, LOWEST_C, HIGHEST_C, "degrees C", "the vapour model is right at shelf warmth"
    )


def mole_fraction(mass_fraction: npt.ArrayLike) -> Array:
    """Mole fraction of ethanol from its mass fraction, both 0 to 1."""
    p = within("mass_fraction", mass_fraction, 0.0, 1.0)
    molar = tables.load("molar-masses")
    ethanol = p / molar.value("ethanol")
    return given(ethanol / (ethanol + (1.0 - p) / molar.value("water")))  # type: ignore[no-any-return]


def _nrtl(x1: Array, kelvin: Array) -> tuple[Array, Array]:
    c = tables.load("gmehling-onken-ethanol-water-nrtl")
    tau12 = c.value("a12") + c.value("b12_k") / kelvin
    tau21 = c.value("a21") + c.value("b21_k") / kelvin
    g12, g21 = np.exp(-c.value("alpha") * tau12), np.exp(-c.value("alpha") * tau21)
    x2 = 1.0 - x1
    first = x2**2 * (tau21 * (g21 / (x1 + x2 * g21)) ** 2 + tau12 * g12 / (x2 + x1 * g12) ** 2)
    second = x1**2 * (tau12 * (g12 / (x2 + x1 * g12)) ** 2 + tau21 * g21 / (x1 + x2 * g21) ** 2)
    return np.exp(first), np.exp(second)


def _redlich_kister(x1: Array, kelvin: Array) -> tuple[Array, Array]:
    constants = np.array(tables.load("pemberton-mash-1978-redlich-kister").values["A"])
    x1, _ = np.broadcast_arrays(x1, kelvin)
    x2, difference = 1.0 - x1, 2.0 * x1 - 1.0
    series = np.polynomial.polynomial.polyval(difference, constants)
    slope = np.polynomial.polynomial.polyval(difference, np.polynomial.polynomial.polyder(constants))
    excess = x1 * x2 * series
    by_x1 = (x2 - x1) * series + 2.0 * x1 * x2 * slope
    return np.exp(excess + x2 * by_x1), np.exp(excess - x1 * by_x1)


def activity_coefficients(
    mass_fraction: npt.ArrayLike, temperature_c: npt.ArrayLike, *, method: str = "nrtl"
) -> tuple[Array, Array]:
    """
    Activity coefficients of ethanol and water in their mixture.

    Parameters
    ----------
    mass_fraction : array_like
        Mass of ethanol over mass of mixture. [-]  0 to 1.
    temperature_c : array_like
        Temperature. [degrees C]  5 to 40.
    method : str
        "nrtl" (default; not fitted to the data it is judged on here) or "redlich-kister" (fitted at 30 degrees C;
        holds no temperature).

    Returns
    -------
    pair of ndarray or float
        Ethanol's and water's. [-]

    Raises
    ------
    ValueError
        If an argument lies outside, or the method is unknown.
    """
    x1 = np.asarray(mole_fraction(mass_fraction))
    kelvin = _temperature(temperature_c) + 273.15
    ethanol, water = _coefficients(x1, kelvin, method)
    return given(ethanol), given(water)


def _coefficients(x1: Array, kelvin: Array, method: str) -> tuple[Array, Array]:
    if method == "nrtl":
        return _nrtl(x1, kelvin)
    if method == "redlich-kister":
        return _redlich_kister(x1, kelvin)
    raise ValueError(f"method must be one of {', '.join(PARTIAL_PRESSURE_METHODS)}; {method!r} was given")


def partial_pressures(
    mass_fraction: npt.ArrayLike, temperature_c: npt.ArrayLike, *, method: str = "nrtl"
) -> PartialPressures:
    """
    Pressures of ethanol and water vapour over their mixture, at equilibrium.

    Parameters
    ----------
    mass_fraction : array_like
        Mass of ethanol over mass of mixture. [-]  0 to 1.
    temperature_c : array_like
        Temperature. [degrees C]  5 to 40. Broadcasts with mass_fraction.
    method : str
        "nrtl" (default) or "redlich-kister".

    Returns
    -------
    PartialPressures
        ``ethanol_kpa`` and ``water_kpa``, each of the broadcast shape. [kPa]

    Raises
    ------
    ValueError
        If an argument lies outside, or the method is unknown.

    Notes
    -----
    p_i = x_i gamma_i p_i,pure, the vapour taken as ideal (its error is below 0.5 % at these pressures).
    The constants of NRTL are the published set that is right at shelf temperature: against measurements at
    30 degrees C total pressure is 0.9 % rms off [1]; at 25 degrees C total -1.5 to +3.8 % and ethanol +10 to -8 % [2],
    whose ethanol pressures lie a few per cent above the trend of [1]. Sets fitted to boiling data err 6 to 15 % here.
    The Redlich-Kister set is closer at 30 degrees C (0.14 % rms) because it was fitted to [1].

    References
    ----------
    .. [1] Pemberton & Mash 1978, J. Chem. Thermodynamics 10:867, doi 10.1016/0021-9614(78)90160-X. (read)
    .. [2] Yang et al. 1979, J. Phys. Chem., doi 10.1021/j100484a013. (read)
    """
    x1 = np.asarray(mole_fraction(mass_fraction))
    t = _temperature(temperature_c)
    ethanol, water = _coefficients(x1, t + 273.15, method)
    return PartialPressures(given(x1 * ethanol * _ethanol_pure_kpa(t)), given((1.0 - x1) * water * _water_pure_kpa(t)))


def flash_point_c(mass_fraction: npt.ArrayLike) -> FlashPoint:
    """
    Closed-cup flash point of an ethanol-water mixture, with the span in which the sources leave it.

    Parameters
    ----------
    mass_fraction : array_like
        Mass of ethanol over mass of mixture. [-]  0.05 to 1; below, the sources end.

    Returns
    -------
    FlashPoint
        ``value_c``, ``low_c`` and ``high_c``. [degrees C]

    Raises
    ------
    ValueError
        If the mass fraction lies outside.

    Notes
    -----
    The value is the temperature at which ethanol's vapour over the mixture is as dense as over pure ethanol at its
    own closed-cup flash point, 13 degrees C (sources: 12 to 14). The span covers this model, the published table read
    as % by weight, the same table read as % by volume (it circulates under both labels), and 1 K around each.
    Never assign a hazard class from a value within 3 K of its border: take the stricter class.

    References
    ----------
    .. [1] engineeringtoolbox.com, d_989. (read)
    """
    p = within("mass_fraction", mass_fraction, 0.05, 1.0, "", "the sources end at 5 % by weight")
    table = tables.load("engineering-ethanol-flash-point")
    x1 = np.asarray(mole_fraction(p))
    wanted = _ethanol_pure_kpa(np.asarray(table.value("ethanol_closed_cup_c")))
    low, high = np.full(p.shape, 0.0), np.full(p.shape, 90.0)
    for _ in range(50):
        middle = (low + high) / 2.0
        gamma, _water = _nrtl(x1, middle + 273.15)
        reached = x1 * gamma * _ethanol_pure_kpa(middle) >= wanted
        high, low = np.where(reached, middle, high), np.where(reached, low, middle)
    model = np.where(np.isnan(p), np.nan, (low + high) / 2.0)
    by_weight = np.interp(p, table.column("mass_percent") / 100.0, table.column("flash_c"))
    as_volume = raw_mass_fraction_from_strength(table.column("mass_percent"))
    by_volume = np.interp(p, as_volume, table.column("flash_c"))
    all_three = np.stack([model, by_weight, by_volume])
    return FlashPoint(given(model), given(all_three.min(axis=0) - 1.0), given(all_three.max(axis=0) + 1.0))
