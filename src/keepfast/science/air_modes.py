"""Two boxes of air as two modes that settle at their own rates: the arithmetic under ``air`` and ``spill``."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.ranges import Array, first, within

_SMALL = 0.05  # below this a series is closer than the difference of nearly equal numbers

# Growth of a mode: for x = rate * minutes, phi1 = (1 - e^-x)/x, phi2 = (1 - phi1)/x, psi = (phi1 - e^-x)/x.


def phi1(x: Array) -> Array:
    """Mean over its time of a mode that dies away: (1 - e^-x) / x, and 1 at 0."""
    divisor = np.where(x == 0.0, 1.0, x)
    return np.where(x == 0.0, 1.0, -np.expm1(-x) / divisor)


def phi2(x: Array) -> Array:
    """Mean over its time of a mode that builds up, per rate: (1 - phi1(x)) / x, and a half at 0; x from 0."""
    divisor = np.where(x < _SMALL, 1.0, x)
    series = 1 / 2 - x * (1 / 6 - x * (1 / 24 - x * (1 / 120 - x * (1 / 720 - x / 5040))))
    return np.where(x < _SMALL, series, (1.0 - phi1(x)) / divisor)


def psi(x: Array) -> Array:
    """How far a dying mode's mean lies above its end, per rate: (phi1(x) - e^-x) / x, a half at 0; x from 0."""
    divisor = np.where(x < _SMALL, 1.0, x)
    series = 1 / 2 - x * (1 / 3 - x * (1 / 8 - x * (1 / 30 - x * (1 / 144 - x / 840))))
    return np.where(x < _SMALL, series, (phi1(x) - np.exp(-x)) / divisor)


def boxes(airflow_m3_min: npt.ArrayLike, volume_m3: npt.ArrayLike) -> tuple[Array, Array]:
    """Airflow in m3/min and volume in m3 as arrays, or ValueError outside what a room can be."""
    return (
        within("airflow_m3_min", airflow_m3_min, 0.0, 1e9, "m3/min"),
        within("volume_m3", volume_m3, 1e-6, 1e9, "m3"),
    )


def minutes_from(minutes: npt.ArrayLike) -> Array:
    """Minutes as an array, from 0, or ValueError outside their limits."""
    return within("minutes", minutes, 0.0, 1e7, "min")


def emission_from(emission_mg_min: npt.ArrayLike) -> Array:
    """Emission in mg/min as an array, from 0, or ValueError outside its limits."""
    return within("emission_mg_min", emission_mg_min, 0.0, 1e12, "mg/min")


class Modes(NamedTuple):
    """The two rates at which near and far field settle, and how much of the near and far response each carries."""

    slow: Array  # 1/min
    fast: Array
    near_slow: Array  # 1/m3
    near_fast: Array
    far: Array  # 1/m3; the far response is far * (slow mode - fast mode)


def modes_of(
    airflow_m3_min: npt.ArrayLike,
    volume_m3: npt.ArrayLike,
    near_volume_m3: npt.ArrayLike,
    exchange_m3_min: npt.ArrayLike,
) -> Modes:
    """The two modes of a near and a far field that exchange air; ValueError where the near one fills the room."""
    flow, volume = boxes(airflow_m3_min, volume_m3)
    near_volume = within("near_volume_m3", near_volume_m3, 1e-6, 1e9, "m3")
    exchange = within("exchange_m3_min", exchange_m3_min, 1e-9, 1e9, "m3/min")
    too_small = volume <= near_volume
    if np.any(too_small):
        raise ValueError(
            f"volume_m3 must be above near_volume_m3, {first(near_volume, too_small):.6g} m3;"
            f" {first(volume, too_small):.6g} was given: it is the whole room"
        )
    far_volume = volume - near_volume
    near_rate = exchange / near_volume
    far_rate = (exchange + flow) / far_volume
    # Differences of nearly equal numbers are avoided throughout, so that a huge exchange gives the one box.
    coupling = exchange**2 / (near_volume * far_volume)
    difference = near_rate - far_rate
    spread = np.sqrt(difference**2 + 4.0 * coupling)
    large = 0.5 * (spread + np.abs(difference))
    small = coupling / large
    fast = 0.5 * (near_rate + far_rate + spread)
    slow = exchange * flow / (near_volume * far_volume) / fast
    over_near = 1.0 / (near_volume * spread)
    return Modes(
        slow=slow,
        fast=fast,
        near_slow=np.where(difference >= 0.0, small, large) * over_near,
        near_fast=np.where(difference >= 0.0, large, small) * over_near,
        far=exchange / (near_volume * far_volume * spread),
    )
