"""A spill: how far to go and how long to stay away. Start with `spill_air`."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

import numpy as np

from keepfast.plan import air_words
from keepfast.plan.air import SEA_LEVEL_KPA, band_of, flash_of, series_of
from keepfast.plan.air_answer import Band, Series, Substance
from keepfast.plan.air_limits import body_named, limit_mg_m3, roles_of
from keepfast.plan.air_place import finite, place_of, taken_temperature
from keepfast.plan.air_scene import Array, Course, Scene, between, course, draw, emission_per_m2, sheet_length_m
from keepfast.rules import limits as limits_rules
from keepfast.rules import shelters as shelters_rules
from keepfast.rules.limits import SHORT_TERM_MIN, Limit, Limits
from keepfast.rules.shelters import Shelters
from keepfast.science import alcohol, evaporation
from keepfast.words import _

HORIZON_MIN = 720
FLUIDS = ("formalin", "alcohol")
_SUBSTANCE: dict[str, Substance] = {"formalin": "formaldehyde", "alcohol": "ethanol"}


@dataclass(frozen=True)
class Away:
    """How long the air stays above one limit after the spill; ``None`` beyond the hours that were looked at."""

    roles: tuple[str, ...]
    limit: Limit
    minutes: float | None
    minutes_high: float | None
    distance_m: float | None  # downwind, while it is wet; only where a breeze sweeps the place

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "roles": list(self.roles),
            "minutes": self.minutes,
            "minutes_high": self.minutes_high,
            "distance_m": self.distance_m,
            "words": air_words.away(self),
            "limit": self.limit.as_dict(),
        }


@dataclass(frozen=True)
class Spill:
    """A spill in figures and in words."""

    fluid: str
    substance: Substance
    place: str
    place_words: str
    do_not_work: bool
    volume_ml: float
    area_m2: float
    taken_up_min: float | None
    temperature_c: float
    mg_m3_per_ppm: float
    emission_mg_min: Band
    peak_near_ppm: Band
    peak_far_ppm: Band
    away: tuple[Away, ...]
    series: Series
    line: str
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    questions: tuple[str, ...]
    rules: tuple[dict[str, str], ...]
    seed: int
    draws: int

    def as_dict(self) -> dict[str, Any]:
        """For JSON: plain values only."""
        return {
            "fluid": self.fluid,
            "substance": self.substance,
            "line": self.line,
            "warnings": list(self.warnings),
            "place": {"key": self.place, "words": self.place_words, "do_not_work": self.do_not_work},
            "volume_ml": self.volume_ml,
            "area_m2": self.area_m2,
            "taken_up_min": self.taken_up_min,
            "temperature_c": self.temperature_c,
            "mg_m3_per_ppm": self.mg_m3_per_ppm,
            "emission_mg_min": self.emission_mg_min.as_dict(),
            "peak_near_ppm": self.peak_near_ppm.as_dict(),
            "peak_far_ppm": self.peak_far_ppm.as_dict(),
            "away": [a.as_dict() for a in self.away],
            "assumptions": list(self.assumptions),
            "questions": list(self.questions),
            "series": self.series.as_dict(),
            "rules": list(self.rules),
            "seed": self.seed,
            "draws": self.draws,
        }


def spill_air(
    volume_ml: float,
    *,
    fluid: str = "formalin",
    strength: float,
    temperature_c: float,
    taken_up_min: float | None = None,
    area_m2: float | None = None,
    shelter: str = "tent",
    air_speed_m_s: float | None = None,
    volume_m3: float | None = None,
    air_changes_per_h: float | None = None,
    opening_m2: float | None = None,
    pressure_kpa: float = SEA_LEVEL_KPA,
    jurisdiction: str | None = None,
    on: datetime.date | None = None,
    draws: int = 500,
    seed: int = 1,
    limits: Limits | None = None,
    shelters: Shelters | None = None,
) -> Spill:
    """
    The air after a spill, and how long to stay away.

    Parameters
    ----------
    volume_ml : float
        What was spilt. [mL]
    fluid : {"formalin", "alcohol"}
    strength : float
        Formalin: formaldehyde in g per 100 mL. Alcohol: % vol.
    temperature_c : float
        Of the floor. [degrees C]  Taken to the ends of the vapour models beyond them, and said.
    taken_up_min : float, optional
        When the spill is taken up. [min]  Without it, nobody does.
    area_m2 : float, optional
        Of the puddle; without it, from a depth in the rules. [m2]
    others
        As in `keepfast.plan.air.table_air`.

    Returns
    -------
    Spill

    Raises
    ------
    FindingsError
        If the place, a figure of it, or the jurisdiction is not known.
    ValueError
        If another argument is out of range.

    Notes
    -----
    Formalin: a steady source while it is wet, since its water leaves with the formaldehyde. Alcohol: what evaporates
    falls off exponentially (Keil and Nicas 2003, made for pure solvents). Looked at for twelve hours.
    """
    if fluid not in FLUIDS:
        raise ValueError(f"fluid must be one of {', '.join(FLUIDS)}; {fluid!r} was given")
    if not 0 < volume_ml <= 1e6:
        raise ValueError(f"volume_ml must be above 0 and at most 1000000 mL; {volume_ml} was given")
    if taken_up_min is not None and not 1 <= taken_up_min <= HORIZON_MIN:
        raise ValueError(f"taken_up_min must be from 1 to {HORIZON_MIN}; {taken_up_min} was given")
    if area_m2 is not None and not 1e-4 <= area_m2 <= 1000:
        raise ValueError(f"area_m2 must be from 0.0001 to 1000 m2; {area_m2} was given")
    finite(strength=strength, temperature_c=temperature_c, pressure_kpa=pressure_kpa)
    rules = shelters or shelters_rules.load()
    held = limits or limits_rules.load()
    substance = _SUBSTANCE[fluid]
    jurisdiction = body_named(held, substance, jurisdiction, on)
    place = place_of(rules, shelter, air_speed_m_s, volume_m3, air_changes_per_h, opening_m2)
    area = volume_ml / 1000.0 / rules.number("puddle_mm") if area_m2 is None else area_m2
    lowest, highest = (0.0, 50.0) if fluid == "formalin" else (5.0, 40.0)
    taken_c = taken_temperature(temperature_c, lowest, highest)
    length = sheet_length_m([area])
    scene = Scene(
        substance,
        strength,
        taken_c,
        pressure_kpa,
        place.shelter,
        place.speeds(rules.number("speed_factor")),
        place.room_m3,
        place.changes,
        place.opening_m2,
        rules.number("face_m"),
        np.zeros((0, 1)),
        (length,),
    )
    taken = draw(draws, seed)
    first = area * emission_per_m2(scene, taken, between(scene.air_speed_m_s, taken.speed), length)
    wet = np.clip((HORIZON_MIN if taken_up_min is None else taken_up_min) - np.arange(HORIZON_MIN), 0.0, 1.0)
    source = wet[:, None] * first
    if fluid == "alcohol":
        source = source * _drying(scene, volume_ml, area)[:, None]
        source *= np.minimum(1.0, _ethanol_mg(strength, volume_ml) / np.maximum(source.sum(axis=0), 1e-9))
    run = course(scene, taken, source)
    ppm = scene.ppm_mg_m3
    away = tuple(
        _away(roles, row, run, first, scene)
        for row, roles in roles_of(held, scene, SHORT_TERM_MIN, jurisdiction, on).items()
    )
    told = [] if taken_c == temperature_c else [air_words.temperature_taken(temperature_c, taken_c)]
    if area_m2 is None:
        told.append(air_words.assumed(rules, "puddle_mm"))
    if taken_up_min is None:
        told.append(_("Worst case taken: nobody takes it up."))
    warnings = (
        *air_words.warnings_of_place(substance, place.shelter),
        *air_words.warnings(substance, taken_c),
    )
    if fluid == "alcohol":
        warnings = (*air_words.flash_warnings(flash_of(strength, taken_c, pressure_kpa), taken_c), *warnings)
    return Spill(
        fluid=fluid,
        substance=substance,
        place=place.shelter.key,
        place_words=_(place.shelter.words),
        do_not_work=place.shelter.do_not_work,
        volume_ml=volume_ml,
        area_m2=area,
        taken_up_min=taken_up_min,
        temperature_c=taken_c,
        mg_m3_per_ppm=ppm,
        emission_mg_min=band_of(first),
        peak_near_ppm=band_of(run.near.max(axis=0) / ppm),
        peak_far_ppm=band_of(run.far.max(axis=0) / ppm),
        away=away,
        series=series_of(run, ()),
        line=air_words.spill_line(fluid, _(place.shelter.words), volume_ml, area, taken_up_min, away),
        warnings=warnings,
        assumptions=(*told, *air_words.place_assumptions(place, rules)),
        questions=air_words.questions(place),
        rules=(held.file.identity, rules.file.identity),
        seed=seed,
        draws=draws,
    )


def _ethanol_mg(strength_vol: float, volume_ml: float) -> float:
    return volume_ml * strength_vol / 100.0 * float(alcohol.density(1.0, 20.0))


def _drying(scene: Scene, volume_ml: float, area_m2: float) -> Array:
    """What is left of an alcohol puddle's first emission, minute by minute."""
    vapour = evaporation.ethanol_vapour_pa(scene.strength, scene.temperature_c)
    rate = float(evaporation.small_spill_rate_per_min(vapour, area_m2, volume_ml))
    return np.asarray(np.exp(-rate * (np.arange(HORIZON_MIN) + 0.5)))


def _away(roles: tuple[str, ...], row: Limit, run: Course, emission: Array, scene: Scene) -> Away:
    limit = limit_mg_m3(row, scene.ppm_mg_m3)

    def until(percentile: float) -> float | None:
        over = np.flatnonzero(np.percentile(run.far, percentile, axis=1) > limit)
        if not len(over):
            return 0.0
        return None if over[-1] == len(run.minutes) - 1 else float(run.minutes[over[-1] + 1])

    distance = None
    if scene.shelter.section_m2 is not None:
        # Exchange grows with the square of the radius: where emission over exchange falls to the limit.
        radii = scene.face_m * np.sqrt(emission * run.near_factor / (run.exchange_m3_min * limit))
        distance = float(max(scene.face_m, np.percentile(radii, 95.0)))
    return Away(roles, row, until(50.0), until(95.0), distance)
