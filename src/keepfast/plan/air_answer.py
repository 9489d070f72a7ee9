"""The air of a scene as people are told of it: averages with their band, limits, what helps, a course to draw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from keepfast.plan import air_words
from keepfast.rules.limits import Duty, Limit

Substance = Literal["formaldehyde", "ethanol"]
Where = Literal["near", "far"]


@dataclass(frozen=True)
class Band:
    """A middle value with its 5 and 95 % points."""

    value: float
    low: float
    high: float

    def over(self, divisor: float) -> Band:
        """The same in another unit."""
        return Band(self.value / divisor, self.low / divisor, self.high / divisor)

    def as_dict(self) -> dict[str, float]:
        """For JSON."""
        return {"value": self.value, "low": self.low, "high": self.high}


@dataclass(frozen=True)
class Against:
    """One average held against one limit. ``role``: chosen, strictest_law or strictest."""

    roles: tuple[str, ...]
    limit: Limit
    limit_mg_m3: float
    ratio: float
    word: str  # below, near, above

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "roles": list(self.roles),
            "word": self.word,
            "words": air_words.against(self.word, self.limit),
            "ratio": self.ratio,
            "limit_mg_m3": self.limit_mg_m3,
            "limit": self.limit.as_dict(),
        }


@dataclass(frozen=True)
class Exposure:
    """An average that a person breathes: where, over how many minutes, how much, and against which limits."""

    where: Where
    minutes: float
    mg_m3: Band
    ppm: Band
    against: tuple[Against, ...]

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "where": self.where,
            "minutes": self.minutes,
            "mg_m3": self.mg_m3.as_dict(),
            "ppm": self.ppm.as_dict(),
            "against": [a.as_dict() for a in self.against],
        }


@dataclass(frozen=True)
class Help:
    """One change and what it would do to the worst quarter of an hour at the face."""

    key: str
    words: str
    near_15_min_ppm: Band
    times_less: float

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "key": self.key,
            "words": self.words,
            "near_15_min_ppm": self.near_15_min_ppm.as_dict(),
            "times_less": self.times_less,
        }


@dataclass(frozen=True)
class Series:
    """The course of the air for a small chart: middle and upper at the face, middle in the rest. [mg/m3]"""

    minutes: tuple[float, ...]
    near: tuple[float, ...]
    near_high: tuple[float, ...]
    far: tuple[float, ...]
    marks: tuple[tuple[float, str], ...]  # when each round begins

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "minutes": list(self.minutes),
            "near_mg_m3": list(self.near),
            "near_high_mg_m3": list(self.near_high),
            "far_mg_m3": list(self.far),
            "marks": [{"minutes": at, "round": name} for at, name in self.marks],
        }


@dataclass(frozen=True)
class Air:
    """The air of one scene, in figures and in words."""

    substance: Substance
    place: str
    place_words: str
    do_not_work: bool
    temperature_c: float
    pressure_kpa: float
    mg_m3_per_ppm: float
    minutes: float
    emission_mg_min: Band  # at its strongest
    exposures: tuple[Exposure, ...]
    duties: tuple[Duty, ...]  # what the chosen body asks for at such figures
    helps: tuple[Help, ...]
    together: Help | None
    series: Series
    line: str
    urgent: tuple[str, ...]  # what forbids the work as it stands; among the warnings too
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    questions: tuple[str, ...]
    rules: tuple[dict[str, str], ...]
    seed: int
    draws: int
    flash: dict[str, Any] | None = None

    def of(self, where: str, minutes: float) -> Exposure:
        """One of the averages.

        Raises
        ------
        KeyError
            If there is none of this place and time.
        """
        for exposure in self.exposures:
            if exposure.where == where and exposure.minutes == minutes:
                return exposure
        raise KeyError((where, minutes))

    def as_dict(self) -> dict[str, Any]:
        """For JSON: plain values only."""
        return {
            "substance": self.substance,
            "line": self.line,
            "urgent": list(self.urgent),
            "warnings": list(self.warnings),
            "place": {"key": self.place, "words": self.place_words, "do_not_work": self.do_not_work},
            "temperature_c": self.temperature_c,
            "pressure_kpa": self.pressure_kpa,
            "mg_m3_per_ppm": self.mg_m3_per_ppm,
            "minutes": self.minutes,
            "emission_mg_min": self.emission_mg_min.as_dict(),
            "exposures": [e.as_dict() for e in self.exposures],
            "duties": [d.as_dict() for d in self.duties],
            "helps": [h.as_dict() for h in self.helps],
            "together": self.together.as_dict() if self.together else None,
            "flash": self.flash,
            "assumptions": list(self.assumptions),
            "questions": list(self.questions),
            "series": self.series.as_dict(),
            "rules": list(self.rules),
            "seed": self.seed,
            "draws": self.draws,
        }
