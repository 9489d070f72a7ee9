"""A spill that dries: a source that falls off exponentially, in one box and in two, in closed form.

It describes a puddle of alcohol. Formalin's water leaves as well, so a wet patch of it is a steady source until it is
taken up: for that see ``air.near_far_course``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.air import NearFar, OneBox
from keepfast.science.air_modes import boxes, minutes_from, modes_of, phi1, psi
from keepfast.science.ranges import Array, given, within


class Peak(NamedTuple):
    """When a concentration is highest [min], and how high [mg/m3]."""

    minutes: Array
    mg_m3: Array


def _fed(rate: Array, source_rate: Array, time: Array) -> Array:
    """Response at a time of a mode that decays with ``rate`` to a unit mass given off with ``source_rate``, over it."""
    return time * np.exp(-np.minimum(rate, source_rate) * time) * phi1(np.abs(rate - source_rate) * time)


def _fed_mean(rate: Array, source_rate: Array, time: Array) -> Array:
    """Mean of ``_fed`` from zero to that time."""
    gap = (rate - source_rate) * time
    close = np.abs(gap) < 1e-4
    apart = (phi1(source_rate * time) - phi1(rate * time)) / np.where(close, 1.0, gap)
    return time * np.where(close, psi(0.5 * (rate + source_rate) * time), apart)


def spill_one_box(
    mass_mg: npt.ArrayLike,
    rate_per_min: npt.ArrayLike,
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
    minutes: npt.ArrayLike,
) -> OneBox:
    """
    A well-mixed room after a spill that dries: its source falls off exponentially.

    Parameters
    ----------
    mass_mg : array_like
        What will evaporate in all. [mg]
    rate_per_min : array_like
        Share of what is left that goes per minute. [1/min]
    airflow_m3_min, volume_m3, minutes : array_like
        As in `one_box`.

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
    G(t) = a M e^(-a t). The dose in the end is M/Q, however fast it dries.
    """
    flow, volume = boxes(airflow_m3_min, volume_m3)
    mass, source_rate, time = _spill(mass_mg, rate_per_min, minutes)
    strength = mass * source_rate / volume
    return OneBox(
        given(strength * _fed(flow / volume, source_rate, time)),
        given(strength * _fed_mean(flow / volume, source_rate, time)),
    )


def spill_peak(
    mass_mg: npt.ArrayLike,
    rate_per_min: npt.ArrayLike,
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
) -> Peak:
    """
    When a room is at its worst after a spill that dries, and how bad: ln(a/k)/(a-k), with k = Q/V.

    Raises
    ------
    ValueError
        If an argument is out of range; the air flow must be above 0.
    """
    flow, volume = boxes(airflow_m3_min, volume_m3)
    flow = within("airflow_m3_min", flow, 1e-9, 1e9, "m3/min")
    mass, source_rate, _time = _spill(mass_mg, rate_per_min, 0.0)
    room_rate = flow / volume
    gap = source_rate / room_rate - 1.0
    close = np.abs(gap) < 1e-6
    time = np.where(close, 1.0 - 0.5 * gap, np.log1p(gap) / np.where(close, 1.0, gap)) / room_rate
    level = mass * source_rate / volume * _fed(room_rate, source_rate, time)
    return Peak(given(np.where(np.isnan(level), np.nan, time)), given(level))


def spill_near_far(
    mass_mg: npt.ArrayLike,
    rate_per_min: npt.ArrayLike,
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
    near_volume_m3: npt.ArrayLike,
    exchange_m3_min: npt.ArrayLike,
    minutes: npt.ArrayLike,
) -> NearFar:
    """
    Near and far field after a spill that dries, in closed form.

    Parameters
    ----------
    mass_mg, rate_per_min : array_like
        As in `spill_one_box`.
    airflow_m3_min, volume_m3, near_volume_m3, exchange_m3_min, minutes : array_like
        As in `near_far`.

    Returns
    -------
    NearFar
        [mg/m3]

    Raises
    ------
    ValueError
        If an argument is out of range.
    """
    modes = modes_of(airflow_m3_min, volume_m3, near_volume_m3, exchange_m3_min)
    mass, source_rate, time = _spill(mass_mg, rate_per_min, minutes)
    source = mass * source_rate
    now = _fed(modes.slow, source_rate, time), _fed(modes.fast, source_rate, time)
    mean = _fed_mean(modes.slow, source_rate, time), _fed_mean(modes.fast, source_rate, time)
    return NearFar(
        given(source * (modes.near_slow * now[0] + modes.near_fast * now[1])),
        given(source * modes.far * (now[0] - now[1])),
        given(source * (modes.near_slow * mean[0] + modes.near_fast * mean[1])),
        given(source * modes.far * (mean[0] - mean[1])),
    )


def _spill(mass_mg: npt.ArrayLike, rate_per_min: npt.ArrayLike, minutes: npt.ArrayLike) -> tuple[Array, Array, Array]:
    return (
        within("mass_mg", mass_mg, 0.0, 1e12, "mg"),
        within("rate_per_min", rate_per_min, 1e-9, 1e6, "1/min"),
        minutes_from(minutes),
    )
