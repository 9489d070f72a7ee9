"""Temperature through time, and what it does to rates: means over a step, and the decay that adds up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.science import decay
from keepfast.science.penetration import warmth_factor

Array = npt.NDArray[np.float64]

SAMPLE_H = 0.5  # a camp's day is smooth at this scale
MOST_SAMPLES = 64


@dataclass(frozen=True)
class Warmth:
    """
    A temperature record: straight lines between readings, the end values beyond them.

    ``hours`` rise and count from any zero; ``temperature_c`` has the same length. One reading is a constant.
    """

    hours: Array
    temperature_c: Array

    def __post_init__(self) -> None:
        if self.hours.ndim != 1 or self.hours.shape != self.temperature_c.shape or self.hours.size == 0:
            raise ValueError(
                "hours and temperature_c must be lists of one length, 1 or more; "
                f"{self.hours.shape} and {self.temperature_c.shape} were given"
            )
        if np.any(np.diff(self.hours) <= 0):
            raise ValueError("hours must rise from reading to reading")

    @classmethod
    def constant(cls, temperature_c: float) -> Warmth:
        """The same temperature always."""
        return cls(np.array([0.0]), np.array([float(temperature_c)]))

    @property
    def is_constant(self) -> bool:
        """Whether it never changes."""
        return bool(np.all(self.temperature_c == self.temperature_c[0]))

    def at(self, hours: npt.ArrayLike) -> Any:
        """Temperature at these hours. [degrees C]"""
        value = np.interp(np.asarray(hours, dtype=float), self.hours, self.temperature_c)
        return float(value) if value.ndim == 0 else value

    def shifted(self, by_c: float, from_h: float = -np.inf) -> Warmth:
        """The same record, warmer or cooler by this much from an hour on."""
        if np.isneginf(from_h):
            return Warmth(self.hours, self.temperature_c + by_c)
        edge = np.array([from_h, from_h + 1e-6])
        hours = np.unique(np.concatenate([self.hours, edge]))
        return Warmth(hours, np.asarray(self.at(hours)) + np.where(hours > from_h, by_c, 0.0))

    def _samples(self, start: npt.ArrayLike, end: npt.ArrayLike) -> Array:
        if self.is_constant:
            return self.temperature_c[:1]
        begin = np.asarray(start, dtype=float)
        length = np.asarray(end, dtype=float) - begin
        count = int(np.clip(np.ceil(np.max(length) / SAMPLE_H), 2, MOST_SAMPLES))
        share = ((np.arange(count) + 0.5) / count).reshape(-1, *([1] * length.ndim))
        return np.asarray(self.at(begin + share * length))

    def mean_factor(
        self, start: npt.ArrayLike, end: npt.ArrayLike, reference_c: float, energy_kj_mol: npt.ArrayLike
    ) -> Any:
        """
        Mean Arrhenius factor between two hours, of the shape of the energies. [-]

        ``start`` and ``end`` may be arrays too, which then broadcast with the energies.
        """
        warm = self._samples(start, end)
        energy = np.asarray(energy_kj_mol, dtype=float)
        if warm.ndim == 1:
            warm = warm.reshape(-1, *([1] * energy.ndim))
        factor = np.asarray(warmth_factor(warm, reference_c, energy)).mean(axis=0)
        return float(factor) if factor.ndim == 0 else factor

    def load(self, start: float, end: npt.ArrayLike, clock: str) -> Any:
        """
        Decay between two hours. [h at 20 degrees C]

        ``end`` may be an array; hours before ``start`` count as none.
        """
        ends = np.asarray(end, dtype=float)
        if self.is_constant:
            value = np.maximum(ends - start, 0.0) * decay.relative_rate(float(self.temperature_c[0]), clock)
            return float(value) if value.ndim == 0 else value
        times, total = self._running(start, float(np.nanmax(ends, initial=start)), clock)
        value = np.interp(ends, times, total)
        return float(value) if value.ndim == 0 else value

    def hour_of(self, load: npt.ArrayLike, start: float, latest: float, clock: str) -> Any:
        """The hour at which so much decay has run since ``start``; infinite if not by ``latest``. [h]"""
        wanted = np.asarray(load, dtype=float)
        if self.is_constant:
            rate = decay.relative_rate(float(self.temperature_c[0]), clock)
            with np.errstate(divide="ignore", invalid="ignore"):
                value = start + np.where(wanted <= 0, 0.0, wanted / rate)
        else:
            times, total = self._running(start, latest, clock)
            value = np.interp(wanted, total, times)
            value = np.where(wanted > total[-1], np.inf, value)
        value = np.where(value > latest, np.inf, value)
        return float(value) if value.ndim == 0 else value

    def _running(self, start: float, latest: float, clock: str) -> tuple[Array, Array]:
        """Hours and the decay that has run by then."""
        count = int(np.clip(np.ceil((latest - start) / SAMPLE_H), 1, 20_000))
        edges = start + (latest - start) * np.arange(count + 1) / count
        rate = np.asarray(decay.relative_rate(np.asarray(self.at(0.5 * (edges[1:] + edges[:-1]))), clock))
        return edges, np.concatenate([[0.0], np.cumsum(rate * np.diff(edges))])
