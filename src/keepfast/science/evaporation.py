"""What a wet surface gives off: mass transfer by three published formulas, formaldehyde and ethanol over them.

Three formulas that were fitted to different things agree on a still tray within two per cent; penetration theory gives
2.7 times as much. Nothing here chooses between them in silence: emissions are pairs, and low is never above high.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import constants

from keepfast.science import alcohol, formalin
from keepfast.science.ranges import Array, given, within
from keepfast.science.tables import load

GAS_J_MOL_K = constants.R
ATMOSPHERE_KPA = constants.atm / 1000.0
ZERO_C_K = constants.zero_Celsius
FEET_PER_MIN = 60.0 / constants.foot  # one m/s in feet a minute
TORR_PER_PA = 1.0 / constants.torr

MOLAR_MASS = load("molar-masses").values


class Emission(NamedTuple):
    """What a surface gives off. [mg/min]"""

    low: Array
    high: Array


def _kelvin(temperature_c: npt.ArrayLike) -> Array:
    return within("temperature_c", temperature_c, -30.0, 60.0, "degrees C") + ZERO_C_K  # type: ignore[no-any-return]


def _pressure(pressure_kpa: npt.ArrayLike) -> Array:
    return within("pressure_kpa", pressure_kpa, 30.0, 110.0, "kPa", "101.325 is the sea, 70 a mountain camp")


def _speed(air_speed_m_s: npt.ArrayLike) -> Array:
    return within("air_speed_m_s", air_speed_m_s, 0.01, 20.0, "m/s", "still air indoors is about 0.06")


def _length(length_m: npt.ArrayLike) -> Array:
    return within("length_m", length_m, 0.001, 50.0, "m")


def _molar_mass(molar_mass_g_mol: npt.ArrayLike) -> Array:
    return within("molar_mass_g_mol", molar_mass_g_mol, 2.0, 500.0, "g/mol")


def vapour_mg_m3(pressure_pa: npt.ArrayLike, temperature_c: npt.ArrayLike, molar_mass_g_mol: npt.ArrayLike) -> Array:
    """
    Mass of a vapour in air from its partial pressure, as an ideal gas.

    Parameters
    ----------
    pressure_pa : array_like
        Partial pressure of the vapour. [Pa]
    temperature_c : array_like
        [degrees C]  Valid -30 to 60.
    molar_mass_g_mol : array_like
        [g/mol]

    Returns
    -------
    float or ndarray
        [mg/m3]

    Raises
    ------
    ValueError
        If an argument is out of range.
    """
    pressure = within("pressure_pa", pressure_pa, 0.0, 200_000.0, "Pa")
    moles = pressure / (GAS_J_MOL_K * _kelvin(temperature_c))
    return given(moles * _molar_mass(molar_mass_g_mol) * 1000.0)  # type: ignore[no-any-return]


def diffusion_in_air_cm2_s(
    molar_mass_g_mol: npt.ArrayLike, temperature_c: npt.ArrayLike, pressure_kpa: npt.ArrayLike = ATMOSPHERE_KPA
) -> Array:
    """
    Diffusion coefficient of a vapour in air, from its molar mass alone.

    Parameters
    ----------
    molar_mass_g_mol : array_like
        [g/mol]
    temperature_c : array_like
        [degrees C]  Valid -30 to 60.
    pressure_kpa : array_like, default 101.325
        [kPa]  Valid 30 to 110.

    Returns
    -------
    float or ndarray
        [cm2/s]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    D = 4.09e-5 T^1.9 (1/29 + 1/M)^0.5 M^-0.33 / P, T in K, P in atm: 0.174 for formaldehyde at 25 degrees C, where
    Fuller's method gives 0.172, and 0.138 for ethanol, where it gives 0.1225.

    References
    ----------
    .. [1] Table ``hummel-1996-penetration-evaporation`` (from memory, unverified).
    """
    t = load("hummel-1996-penetration-evaporation").values
    mass, kelvin = _molar_mass(molar_mass_g_mol), _kelvin(temperature_c)
    atmospheres = _pressure(pressure_kpa) / ATMOSPHERE_KPA
    mixing = (1.0 / t["air_g_mol"] + 1.0 / mass) ** t["mixing_power"]
    return given(  # type: ignore[no-any-return]
        t["diffusion_cm2_s"] * kelvin ** t["temperature_power"] * mixing * mass ** t["molar_mass_power"] / atmospheres
    )


def viscosity_of_air_m2_s(temperature_c: npt.ArrayLike, pressure_kpa: npt.ArrayLike = ATMOSPHERE_KPA) -> Array:
    """
    Kinematic viscosity of dry air, by Sutherland's law.

    Parameters
    ----------
    temperature_c : array_like
        [degrees C]  Valid -30 to 60.
    pressure_kpa : array_like, default 101.325
        [kPa]  Valid 30 to 110.

    Returns
    -------
    float or ndarray
        [m2/s]

    Raises
    ------
    ValueError
        If an argument is out of range.

    References
    ----------
    .. [1] Table ``us-standard-atmosphere-1976-air`` (from memory, unverified).
    """
    t = load("us-standard-atmosphere-1976-air").values
    kelvin = _kelvin(temperature_c)
    viscosity = t["viscosity_constant"] * kelvin**1.5 / (kelvin + t["sutherland_k"])
    density = _pressure(pressure_kpa) * t["molar_mass_g_mol"] / (GAS_J_MOL_K * kelvin)
    return given(viscosity / density)  # type: ignore[no-any-return]


def transfer_penetration_m_s(
    length_m: npt.ArrayLike,
    molar_mass_g_mol: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    air_speed_m_s: npt.ArrayLike,
    pressure_kpa: npt.ArrayLike = ATMOSPHERE_KPA,
) -> Array:
    """
    Mass transfer from a surface to the air that slides over it, by penetration theory (Hummel and others 1996).

    Parameters
    ----------
    length_m : array_like
        Length of the surface along the air. [m]  Valid 0.001 to 50.
    molar_mass_g_mol : array_like
        [g/mol]
    temperature_c : array_like
        [degrees C]  Valid -30 to 60.
    air_speed_m_s : array_like
        [m/s]  Valid 0.01 to 20; meant for slow air, up to about 0.5.
    pressure_kpa : array_like, default 101.325
        [kPa]  Valid 30 to 110.

    Returns
    -------
    float or ndarray
        [m/s]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    k = 2 sqrt(D u / (pi L)).

    References
    ----------
    .. [1] Table ``hummel-1996-penetration-evaporation`` (from memory, unverified).
    """
    diffusion = np.asarray(diffusion_in_air_cm2_s(molar_mass_g_mol, temperature_c, pressure_kpa)) * 1e-4
    return given(2.0 * np.sqrt(diffusion * _speed(air_speed_m_s) / (np.pi * _length(length_m))))  # type: ignore[no-any-return]


def transfer_usepa_m_s(
    length_m: npt.ArrayLike,
    molar_mass_g_mol: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    air_speed_m_s: npt.ArrayLike,
) -> Array:
    """
    Mass transfer from a surface to moving air, by the US EPA's engineering model.

    Parameters
    ----------
    length_m : array_like
        Length of the surface along the air. [m]  Valid 0.001 to 50.
    molar_mass_g_mol : array_like
        [g/mol]
    temperature_c : array_like
        [degrees C]  Valid -30 to 60.
    air_speed_m_s : array_like
        [m/s]  Valid 0.01 to 20.

    Returns
    -------
    float or ndarray
        [m/s]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    The published form gives grams a second from torr, feet a minute and centimetres; it is divided here by the vapour
    at the surface, M P / (R T), so that all formulas of this module can stand side by side.

    References
    ----------
    .. [1] Table ``usepa-1991-mass-transfer-evaporation`` (from memory, unverified).
    """
    t = load("usepa-1991-mass-transfer-evaporation").values
    mass, kelvin = _molar_mass(molar_mass_g_mol), _kelvin(temperature_c)
    # Grams a second from one square metre (1e4 cm2) under one pascal of vapour.
    flux_g_s = (
        t["constant"]
        * mass ** t["molar_mass_power"]
        * TORR_PER_PA
        * (1.0 / t["air_g_mol"] + 1.0 / mass) ** t["mixing_power"]
        * (_speed(air_speed_m_s) * FEET_PER_MIN) ** t["air_speed_power"]
        * 1e4
        / kelvin ** t["temperature_power"]
        / (_length(length_m) * 100.0) ** t["length_power"]
        / (np.sqrt(kelvin) - t["temperature_root_offset"]) ** (2.0 / 3.0)
    )
    surface_g_m3 = mass / (GAS_J_MOL_K * kelvin)
    return given(flux_g_s / surface_g_m3)  # type: ignore[no-any-return]


def transfer_mackay_m_s(
    length_m: npt.ArrayLike,
    molar_mass_g_mol: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    air_speed_m_s: npt.ArrayLike,
) -> Array:
    """
    Mass transfer from a pool to the wind (Mackay and Matsugu 1973, as Kawamura and Mackay 1987 write it).

    Parameters
    ----------
    length_m : array_like
        Length of the pool along the wind. [m]  Valid 0.001 to 50.
    molar_mass_g_mol : array_like
        [g/mol]
    temperature_c : array_like
        [degrees C]  Valid -30 to 60.
    air_speed_m_s : array_like
        [m/s]  Valid 0.01 to 20.

    Returns
    -------
    float or ndarray
        [m/s]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    k = 0.0048 u^(7/9) d^(-1/9) Sc^(-2/3), Sc = viscosity of air over the vapour's diffusion in it. The power of the
    wind is disputed (Woodward and Krishna 2002: about 0.10).

    References
    ----------
    .. [1] Table ``mackay-matsugu-1973-pool-evaporation`` (read at second hand).
    """
    t = load("mackay-matsugu-1973-pool-evaporation").values
    diffusion = np.asarray(diffusion_in_air_cm2_s(molar_mass_g_mol, temperature_c)) * 1e-4
    schmidt = np.asarray(viscosity_of_air_m2_s(temperature_c)) / diffusion
    return given(  # type: ignore[no-any-return]
        t["constant"]
        * _speed(air_speed_m_s) ** (t["air_speed_ninths"] / 9.0)
        * _length(length_m) ** (t["length_ninths"] / 9.0)
        * schmidt ** (t["schmidt_thirds"] / 3.0)
    )


def still_pool_mg_min(area_m2: npt.ArrayLike, pressure_pa: npt.ArrayLike, molar_mass_g_mol: npt.ArrayLike) -> Array:
    """
    What a still pool gives off, whatever the wind: the screening line of Mackay and van Wesenbeeck 2014.

    Parameters
    ----------
    area_m2 : array_like
        [m2]
    pressure_pa : array_like
        Vapour pressure at the surface. [Pa]
    molar_mass_g_mol : array_like
        [g/mol]

    Returns
    -------
    float or ndarray
        [mg/min]

    Raises
    ------
    ValueError
        If an argument is out of range.

    References
    ----------
    .. [1] Table ``mackay-vanwesenbeeck-2014-still-pool`` (read; its unit inferred).
    """
    micrograms_m2_h = load("mackay-vanwesenbeeck-2014-still-pool").value("constant")
    pressure = within("pressure_pa", pressure_pa, 0.0, 200_000.0, "Pa")
    return given(micrograms_m2_h * pressure * _molar_mass(molar_mass_g_mol) * _area(area_m2) / 60_000.0)  # type: ignore[no-any-return]


def _area(area_m2: npt.ArrayLike) -> Array:
    return within("area_m2", area_m2, 0.0, 10_000.0, "m2", "an A3 tray has 0.125 m2")


def emission_mg_min(transfer_m_s: npt.ArrayLike, area_m2: npt.ArrayLike, surface_mg_m3: npt.ArrayLike) -> Array:
    """What a surface gives off into clean air: mass transfer times area times the vapour at the surface. [mg/min]"""
    return given(np.asarray(transfer_m_s) * _area(area_m2) * np.asarray(surface_mg_m3) * 60.0)  # type: ignore[no-any-return]


def formaldehyde_emission_mg_min(
    area_m2: npt.ArrayLike,
    length_m: npt.ArrayLike,
    percent_w_v: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    air_speed_m_s: npt.ArrayLike,
    pressure_kpa: npt.ArrayLike = ATMOSPHERE_KPA,
) -> Emission:
    """
    Formaldehyde given off by a surface wet with formalin, as a pair: low and high.

    Parameters
    ----------
    area_m2 : array_like
        Wet area. [m2]
    length_m : array_like
        Its length along the air. [m]  Valid 0.001 to 50.
    percent_w_v : array_like
        Formaldehyde in the fluid, in g per 100 mL: 10 % formalin holds 3.7 to 4.0. [% w/v]
    temperature_c : array_like
        [degrees C]
    air_speed_m_s : array_like
        [m/s]  Valid 0.01 to 20.
    pressure_kpa : array_like, default 101.325
        Pressure of the air. [kPa]  Valid 30 to 110. Only penetration theory depends on it.

    Returns
    -------
    Emission
        ``low``: the lower of the two wind-driven formulas, with the vapour pressure that polymers in the fluid leave.
        ``high``: penetration theory with plain Henry, or ``low`` where a strong wind lifts that above it. [mg/min]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    The surface is taken to stay at the strength and temperature of the fluid: a wet cloth that dries, or cools as it
    does, gives off less. Vapour that has gathered over the tray holds a little back; that too is left out.
    Penetration theory is meant for slow air and grows with its square root, the others nearly with the air itself; it
    also falls faster with length. Over a tray of 0.3 m they overtake it in a wind of some 8 m/s, over a puddle of 3 m
    at 0.3 m/s; from there on both ends are the wind-driven value, so that ``low`` is never above ``high``.

    References
    ----------
    .. [1] Formulas: `transfer_usepa_m_s`, `transfer_mackay_m_s`, `transfer_penetration_m_s`.
    .. [2] Vapour pressure: `keepfast.science.formalin.vapour_pressure_pa`.
    """
    mass = MOLAR_MASS["formaldehyde"]
    wind_driven = np.minimum(
        transfer_usepa_m_s(length_m, mass, temperature_c, air_speed_m_s),
        transfer_mackay_m_s(length_m, mass, temperature_c, air_speed_m_s),
    )
    penetration = transfer_penetration_m_s(length_m, mass, temperature_c, air_speed_m_s, pressure_kpa)
    corrected = formalin.vapour_pressure_pa(percent_w_v, temperature_c)
    plain = formalin.vapour_pressure_pa(percent_w_v, temperature_c, polymer_correction=False)
    return _ordered(
        emission_mg_min(wind_driven, area_m2, vapour_mg_m3(corrected, temperature_c, mass)),
        emission_mg_min(penetration, area_m2, vapour_mg_m3(plain, temperature_c, mass)),
    )


def _ordered(wind_driven: Array, penetration: Array) -> Emission:
    """Both ends in the shape of the wider one, the second at least the first; what is unknown in one is so in both."""
    high = np.maximum(wind_driven, penetration)
    return Emission(given(np.where(np.isnan(high), np.nan, wind_driven)), given(high))


def ethanol_emission_mg_min(
    area_m2: npt.ArrayLike,
    length_m: npt.ArrayLike,
    strength_vol: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    air_speed_m_s: npt.ArrayLike,
    pressure_kpa: npt.ArrayLike = ATMOSPHERE_KPA,
) -> Emission:
    """
    Ethanol given off by an open surface of alcohol, as a pair: low and high.

    Parameters
    ----------
    area_m2 : array_like
        Open area: the mouth of a can, a jar, a bowl, a puddle. [m2]
    length_m : array_like
        Its length along the air. [m]  Valid 0.001 to 50.
    strength_vol : array_like
        Strength of the alcohol. [% vol at 20 degrees C]
    temperature_c : array_like
        [degrees C]  Valid 5 to 40.
    air_speed_m_s : array_like
        [m/s]  Valid 0.01 to 20.
    pressure_kpa : array_like, default 101.325
        Pressure of the air. [kPa]  Valid 30 to 110.

    Returns
    -------
    Emission
        ``low``: the lower of the two wind-driven formulas; ``high``: penetration theory, or ``low`` where a strong wind
        lifts that above it. [mg/min]

    Raises
    ------
    ValueError
        If an argument is out of range.
    """
    mass = MOLAR_MASS["ethanol"]
    surface = vapour_mg_m3(ethanol_vapour_pa(strength_vol, temperature_c), temperature_c, mass)
    wind_driven = np.minimum(
        transfer_usepa_m_s(length_m, mass, temperature_c, air_speed_m_s),
        transfer_mackay_m_s(length_m, mass, temperature_c, air_speed_m_s),
    )
    penetration = transfer_penetration_m_s(length_m, mass, temperature_c, air_speed_m_s, pressure_kpa)
    return _ordered(
        emission_mg_min(wind_driven, area_m2, surface),
        emission_mg_min(penetration, area_m2, surface),
    )


def ethanol_vapour_pa(strength_vol: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Array:
    """Pressure of ethanol vapour over alcohol of this strength. [Pa]"""
    ethanol_kpa, _water_kpa = alcohol.partial_pressures(alcohol.mass_fraction(strength_vol), temperature_c)
    return given(np.asarray(ethanol_kpa) * 1000.0)  # type: ignore[no-any-return]


def small_spill_rate_per_min(
    vapour_pressure_pa: npt.ArrayLike, area_m2: npt.ArrayLike, volume_ml: npt.ArrayLike
) -> Array:
    """
    Share of a small solvent spill that evaporates per minute, for a source that falls off exponentially.

    Parameters
    ----------
    vapour_pressure_pa : array_like
        [Pa]
    area_m2 : array_like
        Area of the puddle. [m2]
    volume_ml : array_like
        What was spilt. [mL]

    Returns
    -------
    float or ndarray
        [1/min]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    Fitted to pure solvents on benches. It does not hold for formalin, whose water leaves as well: take the wet patch as
    a steady source until it is mopped up.

    References
    ----------
    .. [1] Table ``keil-nicas-2003-small-spill`` (from memory, unverified).
    """
    t = load("keil-nicas-2003-small-spill").values
    pressure = within("vapour_pressure_pa", vapour_pressure_pa, 0.0, 200_000.0, "Pa")
    volume = within("volume_ml", volume_ml, 0.001, 1e6, "mL")
    return given(t["per_torr"] * pressure * TORR_PER_PA + t["per_area_over_volume"] * (_area(area_m2) * 1e4) / volume)  # type: ignore[no-any-return]
