"""What the pictures of the race show: one section of a body at chosen hours, and its fronts through time.

Nothing is drawn here: ``paper.race_pictures`` does that from these frozen objects.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from keepfast.plan.camp import Camp
from keepfast.plan.objects import AnimalPlan, Tray
from keepfast.plan.race_clock import entrants_of, fluid_at_hand, setting_of
from keepfast.plan.race_spots import Chance, sections
from keepfast.plan.race_verdict import AnimalVerdict
from keepfast.rules import evening as evening_rules
from keepfast.rules import race as race_rules
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules
from keepfast.science.penetration_layers import edges, fronts_of, profiles

PICTURE_HOURS = (1.0, 6.0, 24.0, 72.0)
SERIES_HOURS = (
    0.0,
    0.5,
    1.0,
    2.0,
    3.0,
    4.0,
    6.0,
    8.0,
    10.0,
    12.0,
    15.0,
    18.0,
    21.0,
    24.0,
    30.0,
    36.0,
    48.0,
    60.0,
    72.0,
)
BAND_DRAWS = 60
MARKS = ("free_tenth_mm", "bound_half_mm", "bound_nine_tenths_mm")


@dataclass(frozen=True)
class Front:
    """One front's depth below the skin at each hour of the series: median, 5 and 95 % points. [mm]"""

    mark: str
    median: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True)
class Scene:
    """A section of the weakest region of one animal, at the medians, and its fronts with their doubt."""

    field_number: str
    region: str
    name: str
    says: str
    radius_mm: tuple[float, ...]  # of the nodes, from the middle to the skin
    edges_mm: dict[str, float]  # outer edge of core, fluid, wall and skin
    filled: bool
    hours: tuple[float, ...]
    free: tuple[tuple[float, ...], ...]  # share of bath strength, by hour and node
    bound: tuple[tuple[float, ...], ...]
    series_h: tuple[float, ...]
    fronts: tuple[Front, ...]
    practice_h: float


def scenes(
    plans: Sequence[AnimalPlan],
    verdicts: Sequence[AnimalVerdict],
    *,
    camp: Camp,
    start: datetime.datetime,
    trays: Sequence[Tray] = (),
    beside: Sequence[AnimalPlan] = (),
    seed: int = 1,
    rules: RaceRules | None = None,
    evening: EveningRules | None = None,
) -> tuple[Scene, ...]:
    """
    One scene for each verdict, of the region that leads its risk.

    Parameters
    ----------
    plans, verdicts
        Of the same animals in the same order.
    camp, start, trays, beside, seed, rules, evening
        As in ``race.judge``.
    """
    if not plans:
        return ()
    rules = race_rules.load() if rules is None else rules
    evening = evening_rules.load() if evening is None else evening
    delays = {v.field_number: v.filled_after_h for v in verdicts}
    setting = setting_of(camp, start, rules, evening, max(delays.values()) + SERIES_HOURS[-1])
    wetting, _spare = fluid_at_hand(beside or plans, trays, camp, evening)
    entrants = entrants_of(plans, setting, camp, start, trays, beside, delays, wetting)
    spots = [next(s for s in e.spots if s.region == v.weakest.region) for e, v in zip(entrants, verdicts, strict=True)]
    begun = [e.delay_h for e in entrants]
    profile = profiles(*sections(spots, setting.medians()), PICTURE_HOURS, setting.warmth, start_h=np.array(begun))
    chance = Chance.drawn(rules, seed, BAND_DRAWS, setting.bath_mol_l)
    series = fronts_of(
        profiles(
            *sections(spots, chance),
            SERIES_HOURS,
            setting.warmth,
            start_h=np.repeat(begun, BAND_DRAWS),
            growth=1.35,
        )
    )
    where = edges()
    answer = []
    for k, (plan, verdict, spot) in enumerate(zip(plans, verdicts, spots, strict=True)):
        radius = profile.radius_mm[:, k]
        part = slice(k * BAND_DRAWS, (k + 1) * BAND_DRAWS)
        points = {mark: np.percentile(series[mark][:, part], [50, 5, 95], axis=1) for mark in MARKS}
        answer.append(
            Scene(
                field_number=plan.animal.field_number,
                region=spot.region,
                name=spot.word,
                says=verdict.weakest.says,
                radius_mm=tuple(float(r) for r in radius),
                edges_mm={n: float(radius[s.stop - 1]) for n, s in where.items() if s.stop is not None},
                filled=spot.filled,
                hours=PICTURE_HOURS,
                free=tuple(tuple(float(v) for v in row[:, k]) for row in profile.free),
                bound=tuple(tuple(float(v) for v in row[:, k]) for row in profile.bound),
                series_h=SERIES_HOURS,
                fronts=tuple(Front(m, *(tuple(float(v) for v in row) for row in points[m])) for m in MARKS),
                practice_h=plan.tray_h,
            )
        )
    return tuple(answer)
