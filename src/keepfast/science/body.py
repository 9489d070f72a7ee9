"""The body of a reptile or amphibian as a solid of revolution along its axis, from snout to vent and along the tail."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Body:
    """A body's outline. Trunk from the snout to the vent, tail from the vent to its tip.

    ``axis_mm`` and ``radius_mm`` have the same length n and run from the snout to the tip of the tail;
    ``cavity_radius_mm`` (n) is zero outside the body cavity, which lies between ``cavity_start_mm`` and
    ``cavity_end_mm``. Volumes in mL, surface in cm2.
    """

    form: str
    length_mm: float
    tail_mm: float
    diameter_mm: float
    axis_mm: Array
    radius_mm: Array
    cavity_radius_mm: Array
    cavity_start_mm: float
    cavity_end_mm: float
    volume_ml: float
    wall_volume_ml: float
    cavity_volume_ml: float
    surface_cm2: float
    mass_g: float
    measured: frozenset[str]  # which of length, mass, diameter, tail, head were measured
