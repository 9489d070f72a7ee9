"""A scene whose air is to be judged: what is open when, in which place; and its near and far field for many draws.

``Scene`` holds what is known, ``draw`` what is not, ``course`` puts both together. What the numbers mean for people is
said in ``air``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from keepfast.rules.shelters import Pair, Shelter
from keepfast.science import air, evaporation
from keepfast.science.tables import load

Array = npt.NDArray[np.float64]
Order = Literal["by_round", "tray_by_tray", "by_animal"]
ORDERS: tuple[Order, ...] = ("by_round", "tray_by_tray", "by_animal")
WET_ROUNDS = ("before", "prick", "fill", "pose", "cover", "clean")

_FINE = 10  # looks per step at what is open
_MOST_CELLS = 1440
_Z_90 = 1.6448536269514722  # standard normal: 5 % lie beyond


@dataclass(frozen=True)
class Table:
    """A table worked in rounds: minutes of each, sheets of the trays, and how it is worked."""

    minutes: Mapping[str, float]
    sheets_m2: tuple[float, ...]
    bowl_m2: float
    wipes_m2: float
    lids: bool
    order: Order
    lid_share_fill: float
    lid_share_bowl: float

    @property
    def total_min(self) -> float:
        """From the first thing done to the last."""
        return sum(self.minutes.get(name, 0.0) for name in WET_ROUNDS)

    @property
    def step_min(self) -> float:
        """A minute; more only for a table that takes more than a day, so that its sums stay as quick."""
        return max(1.0, float(np.ceil(self.total_min / _MOST_CELLS)))

    def open_areas(self) -> Array:
        """Open area of trays, of the bowl and of wipes, averaged over each step. [m2], of shape (steps, 3)"""
        cells = max(1, int(np.ceil(self.total_min / self.step_min - 1e-9)))
        times = (np.arange(cells * _FINE) + 0.5) / _FINE * self.step_min
        trays = np.zeros_like(times)
        length = {name: self.minutes.get(name, 0.0) for name in WET_ROUNDS}
        start, at = {}, 0.0
        for name in WET_ROUNDS:
            start[name] = at
            at += length[name]
        end = start["cover"] + length["cover"]
        shares = np.concatenate([[0.0], np.cumsum(self.sheets_m2)])
        shares = shares / shares[-1] if shares[-1] > 0 else shares

        def within(first: float, last: float) -> Array:
            return ((times >= first) & (times < last)).astype(float)

        work = start["prick"] if self.order == "by_animal" else start["fill"]
        for area, before, after in zip(self.sheets_m2, shares[:-1], shares[1:], strict=True):
            if self.lids:
                trays += area * sum(
                    share * within(start[name] + before * length[name], start[name] + after * length[name])
                    for name, share in (("fill", self.lid_share_fill), ("pose", 1.0), ("cover", 1.0))
                )
            elif self.order == "tray_by_tray":
                trays += area * within(work + before * (end - work), work + after * (end - work))
            else:
                opened = work + before * (start["pose"] - work)
                trays += area * within(opened, start["cover"] + after * length["cover"])
        if self.lids:
            dipping = within(start["fill"], start["pose"]) + within(start["cover"], end)
            bowl = self.bowl_m2 * self.lid_share_bowl * dipping
        else:
            bowl = self.bowl_m2 * within(work, end)
        wipes = self.wipes_m2 * within(start["clean"], start["clean"] + length["clean"])
        fine = np.stack([trays, bowl, wipes], axis=1).reshape(cells, _FINE, 3)
        return np.asarray(fine.mean(axis=1))

    @property
    def lengths_m(self) -> tuple[float, float, float]:
        """Length along the air of a tray, the bowl and the wipes. [m]"""
        return (sheet_length_m(self.sheets_m2), sheet_length_m([self.bowl_m2]), sheet_length_m([self.wipes_m2]))


@dataclass(frozen=True)
class Scene:
    """What is known of one scene. ``areas_m2`` has one row per step and one column per length in ``lengths_m``."""

    substance: Literal["formaldehyde", "ethanol"]
    strength: float  # % w/v formaldehyde, or % vol alcohol
    temperature_c: float
    pressure_kpa: float
    shelter: Shelter
    air_speed_m_s: Pair
    volume_m3: float
    air_changes_per_h: Pair | None
    opening_m2: float | None
    face_m: float
    areas_m2: Array
    lengths_m: tuple[float, ...]
    step_min: float = 1.0

    @property
    def ppm_mg_m3(self) -> float:
        """Milligrams per cubic metre in one ppm of this vapour, here."""
        mass = evaporation.MOLAR_MASS[self.substance]
        return float(air.mg_m3_per_ppm(self.temperature_c, self.pressure_kpa, mass))


@dataclass(frozen=True)
class Draws:
    """Where each draw stands in what is not known, as shares from 0 to 1; the same for every change of a scene."""

    emission: Array
    speed: Array
    airflow: Array
    near: Array
    far: Array


def draw(count: int, seed: int) -> Draws:
    """Latin hypercube of this many draws: every stretch of every doubt is met equally often."""
    rng = np.random.default_rng(seed)
    columns = [(rng.permutation(count) + rng.random(count)) / count for _ in range(5)]
    return Draws(*columns)


def between(pair: Pair, share: Array) -> Array:
    """From the first to the second of a pair, evenly in the logarithm."""
    return pair[0] * (pair[1] / pair[0]) ** share


def factor(within_90_percent: float, share: Array) -> Array:
    """A factor around 1 whose 90 % interval is one over this to this, log-normal."""
    # The inverse of the normal distribution lives in scipy.special; imported here since planning starts often.
    from scipy.special import ndtri

    spread: Array = np.log(within_90_percent) / _Z_90 * ndtri(np.clip(share, 1e-12, 1 - 1e-12))
    return np.exp(spread)


def airflow_m3_min(scene: Scene, draws: Draws, speed: Array) -> Array:
    """Air that carries vapour away from the place, by draw."""
    shelter = scene.shelter
    if scene.air_changes_per_h is not None:
        return between(scene.air_changes_per_h, draws.airflow) * scene.volume_m3 / 60.0
    if scene.opening_m2 is not None and shelter.opening_share is not None:
        return between(shelter.opening_share, draws.airflow) * scene.opening_m2 * speed * 60.0
    if shelter.section_m2 is not None:
        return between(shelter.section_share, draws.airflow) * shelter.section_m2 * speed * 60.0
    assert shelter.air_changes_per_h is not None
    return between(shelter.air_changes_per_h, draws.airflow) * scene.volume_m3 / 60.0


def emission_per_m2(scene: Scene, draws: Draws, speed: Array, length_m: float) -> Array:
    """What one square metre gives off, by draw: evenly in the logarithm from the low to the high model. [mg/min]"""
    gives = air.formaldehyde_emission_mg_min if scene.substance == "formaldehyde" else air.ethanol_emission_mg_min
    low, high = gives(1.0, length_m, scene.strength, scene.temperature_c, speed, scene.pressure_kpa)
    return np.asarray(low ** (1.0 - draws.emission) * high**draws.emission)


@dataclass(frozen=True)
class Course:
    """Near and far field of a scene at each step, by draw, the doubt of the model included. [mg/m3]"""

    minutes: Array
    near: Array
    far: Array
    near_dose: Array
    far_dose: Array
    emission_mg_min: Array
    exchange_m3_min: Array
    near_factor: Array


def course(scene: Scene, draws: Draws, emission_mg_min: Array | None = None) -> Course:
    """Near and far field through the scene; ``emission_mg_min`` (steps, draws) replaces what the areas give off."""
    speed = between(scene.air_speed_m_s, draws.speed)
    near_volume, exchange = air.near_field(scene.face_m, speed)
    flow = airflow_m3_min(scene, draws, speed)
    if emission_mg_min is None:
        per_m2 = np.stack([emission_per_m2(scene, draws, speed, length) for length in scene.lengths_m])
        emission_mg_min = scene.areas_m2 @ per_m2
    edges = np.arange(len(emission_mg_min) + 1, dtype=float) * scene.step_min
    result = air.near_far_course(edges, emission_mg_min, flow, scene.volume_m3, near_volume, exchange)
    doubt = load("arnold-2017-box-model-performance")
    near_factor = factor(doubt.value("near_factor"), draws.near)
    far_factor = factor(doubt.value("far_factor"), draws.far)
    far, far_dose = result.far_now * far_factor, result.far_dose * far_factor
    return Course(
        edges,
        # The near field holds at least what the rest holds, whatever the doubt of either.
        np.maximum(result.near_now * near_factor, far),
        far,
        np.maximum(result.near_dose * near_factor, far_dose),
        far_dose,
        emission_mg_min,
        np.asarray(exchange),
        near_factor,
    )


def sheet_length_m(sheets_m2: Sequence[float]) -> float:
    """Length along the air of a middling sheet, as if square. [m]"""
    return max(float(np.sqrt(np.mean(sheets_m2))), 0.01) if len(sheets_m2) else 0.1
