"""Seeded chance: what is not known is drawn, animal by animal, so that one animal's draws never depend on another's."""

from __future__ import annotations

import zlib

import numpy as np
import numpy.typing as npt

from keepfast.plan.objects import Amount

Array = npt.NDArray[np.float64]

Z_90 = 1.6448536269514722  # 95 % point of the normal distribution


def generator(seed: int, name: str) -> np.random.Generator:
    """The generator of one animal (or of the table) under this seed."""
    return np.random.Generator(np.random.PCG64([seed, zlib.crc32(name.encode("utf-8"))]))


def spread(rng: np.random.Generator, low: float, middle: float, high: float, size: int) -> Array:
    """Draws whose 5, 50 and 95 % points are these: log-normal, with a wing of its own on each side.

    Raises
    ------
    ValueError
        If the three are not above 0 and in order.
    """
    if not 0 < low <= middle <= high:
        raise ValueError(f"low, middle and high must be above 0 and in order; {low}, {middle}, {high} were given")
    z = rng.standard_normal(size)
    below, above = np.log(middle / low) / Z_90, np.log(high / middle) / Z_90
    return np.asarray(middle * np.exp(np.where(z < 0, z * below, z * above)))


def amount(value: float, drawn: Array, *, measured: bool = False, source: str = "") -> Amount:
    """A value with the 5 and 95 % points of its draws, never on the wrong side of the value itself."""
    # As np.percentile does it, without the masked arrays which that draws in: 15 ms of a command that asks of one body.
    ordered = np.sort(drawn)
    last = ordered.size - 1
    low, high = (float(v) for v in np.interp([0.05 * last, 0.95 * last], np.arange(ordered.size), ordered))
    return Amount(value, min(low, value), max(high, value), measured, source)
