"""The air over a table: one box, near and far field, in closed form; ppm and mg/m3; averages.

Concentrations in mg/m3, emissions in mg/min, air flows in m3/min, times in minutes. What a wet surface gives off is in
``evaporation`` (the names that belong to both are importable from here), a puddle that dries in ``spill``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.air_modes import boxes, emission_from, minutes_from, modes_of, phi1, phi2
from keepfast.science.evaporation import (
    ATMOSPHERE_KPA,
    GAS_J_MOL_K,
    MOLAR_MASS,
    ZERO_C_K,
    Emission,
    diffusion_in_air_cm2_s,
    ethanol_emission_mg_min,
    formaldehyde_emission_mg_min,
)
from keepfast.science.ranges import Array, given, within
from keepfast.science.tables import load

__all__ = [
    "Course",
    "Emission",
    "NearFar",
    "NearField",
    "OneBox",
    "diffusion_in_air_cm2_s",
    "ethanol_emission_mg_min",
    "formaldehyde_emission_mg_min",
    "highest_mean",
    "mg_m3_per_ppm",
    "minutes_to_fall",
    "minutes_to_share",
    "near_far",
    "near_far_course",
    "near_field",
    "one_box",
    "standard_pressure_kpa",
]

SHAPES = ("hemisphere", "sphere")


class OneBox(NamedTuple):
    """Concentration now and its mean from the start. [mg/m3]"""

    now: Array
    mean: Array


class NearFar(NamedTuple):
    """Near and far field, now and as means from the start. [mg/m3]"""

    near_now: Array
    far_now: Array
    near_mean: Array
    far_mean: Array


class NearField(NamedTuple):
    """Volume of the near field [m3] and the air it exchanges with the rest [m3/min]."""

    volume_m3: Array
    exchange_m3_min: Array


class Course(NamedTuple):
    """Near and far field at the edges of a course of emissions; doses are integrals from its start. [mg min/m3]"""

    minutes: Array
    near_now: Array
    far_now: Array
    near_dose: Array
    far_dose: Array


def mg_m3_per_ppm(
    temperature_c: npt.ArrayLike,
    pressure_kpa: npt.ArrayLike = ATMOSPHERE_KPA,
    molar_mass_g_mol: npt.ArrayLike = MOLAR_MASS["formaldehyde"],
) -> Array:
    """
    Milligrams per cubic metre in one part per million by volume, formaldehyde unless told otherwise.

    Parameters
    ----------
    temperature_c : array_like
        [degrees C]  Valid -30 to 60.
    pressure_kpa : array_like, default 101.325
        Pressure of the air. [kPa]  Valid 30 to 110.
    molar_mass_g_mol : array_like, default 30.026
        [g/mol]

    Returns
    -------
    float or ndarray
        [mg/m3 per ppm]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    Ideal gas: M P / (R T). The usual 1.23 is a figure of 25 degrees C at sea level; at a mountain camp it is wrong by
    a third.

    Examples
    --------
    >>> round(mg_m3_per_ppm(25.0), 4)
    1.2273
    """
    kelvin = within("temperature_c", temperature_c, -30.0, 60.0, "degrees C") + ZERO_C_K
    pressure = within("pressure_kpa", pressure_kpa, 30.0, 110.0, "kPa", "101.325 is the sea, 70 a mountain camp")
    mass = within("molar_mass_g_mol", molar_mass_g_mol, 2.0, 500.0, "g/mol")
    return given(mass * pressure / (GAS_J_MOL_K * kelvin))  # type: ignore[no-any-return]


def standard_pressure_kpa(elevation_m: npt.ArrayLike) -> Array:
    """
    Pressure of the air at a height, as the standard atmosphere has it.

    Parameters
    ----------
    elevation_m : array_like
        Height above the sea. [m]  Valid -500 to 9000.

    Returns
    -------
    float or ndarray
        [kPa]

    Raises
    ------
    ValueError
        If the height is out of range.

    Notes
    -----
    Weather moves it by two or three per cent, which is far below what else is unknown of a table's air.

    References
    ----------
    .. [1] Table ``us-standard-atmosphere-1976-air`` (from memory, unverified).

    Examples
    --------
    >>> round(standard_pressure_kpa(3000.0), 1)
    70.1
    """
    t = load("us-standard-atmosphere-1976-air").values
    height = within("elevation_m", elevation_m, -500.0, 9000.0, "m", "perhaps in feet")
    power = t["gravity_m_s2"] * t["molar_mass_g_mol"] / 1000.0 / (GAS_J_MOL_K * t["lapse_k_m"])
    return given(t["sea_level_kpa"] * (1.0 - t["lapse_k_m"] * height / t["sea_level_k"]) ** power)  # type: ignore[no-any-return]


def one_box(
    emission_mg_min: npt.ArrayLike,
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
    minutes: npt.ArrayLike,
    start_mg_m3: npt.ArrayLike = 0.0,
) -> OneBox:
    """
    A well-mixed room with a steady source and clean air coming in.

    Parameters
    ----------
    emission_mg_min : array_like
        [mg/min]  From 0.
    airflow_m3_min : array_like
        Clean air in and used air out. [m3/min]  From 0, a shut room.
    volume_m3 : array_like
        [m3]
    minutes : array_like
        Time since the start. [min]  From 0.
    start_mg_m3 : array_like, default 0.0
        Concentration at the start. [mg/m3]

    Returns
    -------
    OneBox
        ``now`` and ``mean`` (from zero to that time). [mg/m3]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    V dC/dt = G - Q C, solved exactly. Nothing is lost on walls or by reaction. In a chamber this model met the
    criteria in 88 to 97 % of more than 800 pairs (table ``arnold-2017-box-model-performance``).

    Examples
    --------
    >>> round(one_box(10.0, 5.0, 100.0, 60.0).now, 5)
    1.90043
    """
    flow, volume = boxes(airflow_m3_min, volume_m3)
    time, source = minutes_from(minutes), emission_from(emission_mg_min)
    start = within("start_mg_m3", start_mg_m3, 0.0, 1e12, "mg/m3")
    x = flow / volume * time
    grown = source / volume * time
    return OneBox(given(start * np.exp(-x) + grown * phi1(x)), given(start * phi1(x) + grown * phi2(x)))


def minutes_to_share(share: npt.ArrayLike, airflow_m3_min: npt.ArrayLike, volume_m3: npt.ArrayLike) -> Array:
    """
    Minutes until a steady source has brought a clean room to this share of its final level: ln(1/(1-share)) V/Q.

    Raises
    ------
    ValueError
        If share is not from 0 to 0.999999, or another argument is out of range.
    """
    flow, volume = boxes(airflow_m3_min, volume_m3)
    wanted = within("share", share, 0.0, 0.999999)
    with np.errstate(divide="ignore"):
        return given(-np.log1p(-wanted) * volume / flow)  # type: ignore[no-any-return]


def minutes_to_fall(
    start_mg_m3: npt.ArrayLike,
    end_mg_m3: npt.ArrayLike,
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
) -> Array:
    """
    Minutes of airing until a room without a source falls from one level to another; 0 when it is there already.

    Raises
    ------
    ValueError
        If a level is not above 0, or another argument is out of range.
    """
    flow, volume = boxes(airflow_m3_min, volume_m3)
    start = within("start_mg_m3", start_mg_m3, 1e-12, 1e12, "mg/m3")
    end = within("end_mg_m3", end_mg_m3, 1e-12, 1e12, "mg/m3")
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = np.log(start / end) * volume / flow
    return given(np.where(start <= end, 0.0, needed))  # type: ignore[no-any-return]


def near_field(radius_m: npt.ArrayLike, air_speed_m_s: npt.ArrayLike, shape: str = "hemisphere") -> NearField:
    """
    The air around a face that leans over the work: its volume, and what it exchanges with the rest.

    Parameters
    ----------
    radius_m : array_like
        From the source to the face. [m]  Valid 0.05 to 10.
    air_speed_m_s : array_like
        Random air speed. [m/s]  Valid 0.001 to 50.
    shape : {"hemisphere", "sphere"}
        A half sphere over a bench, or a whole one around a source that hangs free; the choice doubles the exchange.

    Returns
    -------
    NearField
        ``volume_m3`` and ``exchange_m3_min``.

    Raises
    ------
    ValueError
        If an argument is out of range or the shape is not one of the two.

    Notes
    -----
    Half of the free surface lets air in and half lets it out: exchange = surface * speed / 2.

    Examples
    --------
    >>> volume, exchange = near_field(0.5, 0.1)
    >>> round(volume, 4), round(exchange, 4)
    (0.2618, 4.7124)
    """
    if shape not in SHAPES:
        raise ValueError(f"shape must be one of {', '.join(SHAPES)}; {shape!r} was given")
    radius = within("radius_m", radius_m, 0.05, 10.0, "m")
    speed = within("air_speed_m_s", air_speed_m_s, 0.001, 50.0, "m/s")
    whole = 1.0 if shape == "sphere" else 0.5
    # Times one, but a missing speed leaves no near field to speak of.
    volume = whole * 4.0 / 3.0 * np.pi * radius**3 * (speed / speed)
    surface = whole * 4.0 * np.pi * radius**2
    return NearField(given(volume), given(0.5 * surface * speed * 60.0))


def near_far(
    emission_mg_min: npt.ArrayLike,
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
    near_volume_m3: npt.ArrayLike,
    exchange_m3_min: npt.ArrayLike,
    minutes: npt.ArrayLike,
) -> NearFar:
    """
    Two boxes: the air at the face and the air of the rest, clean at the start, with a steady source in the near one.

    Parameters
    ----------
    emission_mg_min : array_like
        [mg/min]  From 0.
    airflow_m3_min : array_like
        Clean air into the far field and used air out of it. [m3/min]  From 0.
    volume_m3 : array_like
        The whole room, near field included. [m3]
    near_volume_m3 : array_like
        [m3]  Below ``volume_m3``.
    exchange_m3_min : array_like
        Air between the two. [m3/min]  Above 0.
    minutes : array_like
        Time since the start. [min]  From 0.

    Returns
    -------
    NearFar
        ``near_now, far_now, near_mean, far_mean``; means from zero to that time. [mg/m3]

    Raises
    ------
    ValueError
        If an argument is out of range, or the near field is not smaller than the room.

    Notes
    -----
    V_N dC_N/dt = G + b (C_F - C_N);  V_F dC_F/dt = b (C_N - C_F) - Q C_F, solved exactly. Steady: C_F = G/Q,
    C_N = G/Q + G/b. In a chamber the near field met the criteria in 67 to 84 % of pairs and the far field in 69 to
    91 %; put a factor of about two beside a near-field figure (table ``arnold-2017-box-model-performance``).

    References
    ----------
    .. [1] Nicas 1996, American Industrial Hygiene Association Journal 57:542 (equations from memory; held to a stiff
           integrator in the tests).

    Examples
    --------
    >>> volume, exchange = near_field(0.5, 0.1)
    >>> round(near_far(10.0, 5.0, 100.0, volume, exchange, 15.0).near_now, 3)
    3.172
    """
    modes = modes_of(airflow_m3_min, volume_m3, near_volume_m3, exchange_m3_min)
    time, source = minutes_from(minutes), emission_from(emission_mg_min)
    slow, fast = modes.slow * time, modes.fast * time
    now_slow, now_fast = time * phi1(slow), time * phi1(fast)
    mean_slow, mean_fast = time * phi2(slow), time * phi2(fast)
    return NearFar(
        given(source * (modes.near_slow * now_slow + modes.near_fast * now_fast)),
        given(source * modes.far * (now_slow - now_fast)),
        given(source * (modes.near_slow * mean_slow + modes.near_fast * mean_fast)),
        given(source * modes.far * (mean_slow - mean_fast)),
    )


def near_far_course(
    edges_min: npt.ArrayLike,
    emission_mg_min: npt.ArrayLike,
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
    near_volume_m3: npt.ArrayLike,
    exchange_m3_min: npt.ArrayLike,
) -> Course:
    """
    Near and far field through a day in which the source changes: exact from edge to edge, for many draws at once.

    Parameters
    ----------
    edges_min : array_like, shape (n + 1,)
        Times at which the emission may change, rising. [min]
    emission_mg_min : array_like, shape (n,) or (n, draws)
        Emission between one edge and the next. [mg/min]
    airflow_m3_min, volume_m3, near_volume_m3, exchange_m3_min : array_like, scalar or shape (draws,)
        As in `near_far`; they stay the same all day.

    Returns
    -------
    Course
        ``minutes`` (n + 1,); ``near_now, far_now, near_dose, far_dose`` (n + 1,) or (n + 1, draws).

    Raises
    ------
    ValueError
        If an argument is out of range, the edges do not rise, or their number does not fit the emissions.
    """
    edges = np.asarray(edges_min, dtype=float)
    source = emission_from(emission_mg_min)
    if edges.ndim != 1 or len(edges) != len(source) + 1 or not np.all(np.diff(edges) > 0):
        raise ValueError(
            f"edges_min must be one longer than emission_mg_min and rising; {len(edges)} edges and {len(source)}"
            " emissions were given"
        )
    modes = modes_of(airflow_m3_min, volume_m3, near_volume_m3, exchange_m3_min)
    shape = np.broadcast_shapes(source.shape[1:], *(part.shape for part in modes))
    rates = np.stack([np.broadcast_to(modes.slow, shape), np.broadcast_to(modes.fast, shape)])
    share = np.stack([np.broadcast_to(modes.near_slow, shape), np.broadcast_to(modes.near_fast, shape)])
    far_share = np.broadcast_to(modes.far, shape)
    near_now, far_now, near_dose, far_dose = (np.zeros((len(edges), *shape)) for _course in range(4))
    level, dose = np.zeros((2, *shape)), np.zeros((2, *shape))
    keep = kept = grown_twice = level
    last = np.nan
    for k, step in enumerate(np.diff(edges)):
        if step != last:  # a day on an even grid needs these once
            x = rates * step
            keep, kept, grown_twice = np.exp(-x), step * phi1(x), step * step * phi2(x)
            last = step
        dose += kept * level
        dose += grown_twice * source[k]
        level *= keep
        level += kept * source[k]
        (share * level).sum(axis=0, out=near_now[k + 1, ...])
        (share * dose).sum(axis=0, out=near_dose[k + 1, ...])
        np.multiply(far_share, level[0] - level[1], out=far_now[k + 1, ...])
        np.multiply(far_share, dose[0] - dose[1], out=far_dose[k + 1, ...])
    return Course(edges, near_now, far_now, near_dose, far_dose)


def highest_mean(edges_min: npt.ArrayLike, dose: npt.ArrayLike, window_min: float) -> Array:
    """
    The highest average over any window of this length that begins at an edge; outside the course the air is clean.

    Parameters
    ----------
    edges_min : array_like, shape (n + 1,)
        Rising. [min]
    dose : array_like, shape (n + 1,) or (n + 1, draws)
        Integral from the first edge on, as in `Course`. [mg min/m3]
    window_min : float
        15 for a short-term limit, 480 for a working day. [min]

    Returns
    -------
    float or ndarray
        Of shape () or (draws,). [mg/m3]

    Raises
    ------
    ValueError
        If the window is not above 0.

    Notes
    -----
    A window that reaches beyond the end counts clean air there, so a dose of two hours spread over 480 minutes is the
    8 h average of an evening that is the day's only exposure. Between edges the dose is taken as straight, which on a
    grid of one minute changes a 15 min average by less than a part in a thousand.
    """
    if not window_min > 0:
        raise ValueError(f"window_min must be above 0 min; {window_min} was given")
    edges, doses = np.asarray(edges_min, dtype=float), np.asarray(dose, dtype=float)
    ends = np.minimum(edges + window_min, edges[-1])
    place = np.clip(np.searchsorted(edges, ends, side="right") - 1, 0, len(edges) - 2)
    share = (ends - edges[place]) / (edges[place + 1] - edges[place])
    share = share.reshape(-1, *([1] * (doses.ndim - 1)))
    at_end = doses[place] + share * (doses[place + 1] - doses[place])
    return given(np.max(at_end - doses, axis=0) / window_min)  # type: ignore[no-any-return]
