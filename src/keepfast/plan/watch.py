"""Trays in progress: where each animal's fronts are now, when it may leave, and whether the spot is too warm.

The temperature is what was read so far; what comes is taken from the same hours of the last day where the record
is that long, and from the last reading otherwise. Which of them is said.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.plan.advice import LEAST_COOLER_C, cooler_by
from keepfast.plan.camp import Camp, Reading
from keepfast.plan.objects import AnimalPlan, Tray
from keepfast.plan.race import judge
from keepfast.plan.race_clock import Entrant, Setting, entrants_of, fluid_at_hand, setting_of
from keepfast.plan.race_spots import TRUNK, Chance, passages, sections
from keepfast.plan.race_verdict import AnimalVerdict, Band, band, finite, plain
from keepfast.rules import evening as evening_rules
from keepfast.rules import race as race_rules
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules
from keepfast.science import decay
from keepfast.science.penetration_layers import fronts_of, profiles
from keepfast.words import _

Array = npt.NDArray[np.float64]

FRONT_DRAWS = 60
A_DAY_H = 24.0
A_DAY = datetime.timedelta(days=1)
MOST_H = 2000.0  # followed in a tray; a year of it would tell no more
STALE_H = 6.0  # a reading older than this says little of now
MARKS = ("free_tenth_mm", "bound_half_mm", "bound_nine_tenths_mm")


@dataclass(frozen=True)
class RegionNow:
    """One region now: in what share of the draws decay is stopped and half of the places are bound."""

    region: str
    name: str
    arrested: float
    half_bound: float


@dataclass(frozen=True)
class AnimalNow:
    """One animal in its tray."""

    field_number: str
    in_tray_since: datetime.datetime
    hours: float
    radius_mm: float  # of its thickest part, with what was filled in
    fronts_mm: dict[str, Band]  # depth below the skin, at the thickest; 0 again where the sheet is spent
    sheet_strength: Band  # at the skin, as a share of bath strength
    regions: tuple[RegionNow, ...]
    practice_at: datetime.datetime
    model_at: datetime.datetime | None
    may_leave_at: datetime.datetime | None
    may_leave_now: bool
    sentence: str
    weakest: str
    shade_gain_h: float | None  # of time in hand, in its weakest region; None where nothing can be gained any more


@dataclass(frozen=True)
class _Fronts:
    """How far fronts have come in the thickest part of an animal."""

    radius_mm: float  # as it is filled: the fluid makes it thicker
    depths_mm: dict[str, Band]
    sheet: Band


@dataclass(frozen=True)
class Watch:
    """All trays at one moment."""

    now: datetime.datetime
    temperature_c: float
    highest_c: float
    alarms: tuple[str, ...]
    shade_c: float
    animals: tuple[AnimalNow, ...]
    assumptions: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        answer = plain(asdict(self))
        assert isinstance(answer, dict)
        return answer


def watch(
    plans: Sequence[AnimalPlan],
    *,
    camp: Camp,
    since: Mapping[str, datetime.datetime],
    readings: Sequence[Reading],
    now: datetime.datetime,
    trays: Sequence[Tray] = (),
    shade_c: float | None = None,
    seed: int = 1,
    draws: int = 200,
    rules: RaceRules | None = None,
    evening: EveningRules | None = None,
) -> Watch:
    """
    Where every animal in a tray stands.

    Parameters
    ----------
    plans : sequence of AnimalPlan
        Those whose field number is in ``since`` are watched.
    camp : Camp
        Its temperature stands in where there is no reading.
    since : mapping
        When each was filled and covered, with an offset, by field number.
    readings : sequence of Reading
        Temperatures at the trays so far, in any order; later ones than ``now`` are left out.
    now : datetime
        With an offset.
    trays : sequence of Tray
        With what their sheets hold.
    shade_c : float, optional
        How warm a cooler spot is; five degrees less than now unless given, and never colder than is of use.
        [degrees C]
    seed, draws : int
        As in ``race.judge``.

    Raises
    ------
    ValueError
        If a time has no offset, or an animal went in after ``now``.
    """
    rules = race_rules.load() if rules is None else rules
    evening = evening_rules.load() if evening is None else evening
    for name, when in (("now", now), *since.items()):
        if when.tzinfo is None:
            raise ValueError(f"{name} must carry an offset; {when.isoformat()} was given")
        if when > now:
            raise ValueError(f"{name} went in at {when.isoformat()}, after now ({now.isoformat()})")
    record = tuple(sorted((r for r in readings if r.at <= now), key=lambda r: r.at))
    air = replace(camp, temperature_record=record)
    at_now = air.temperature_at(now)
    cooler = at_now - cooler_by(at_now, rules) if shade_c is None else shade_c
    longest = max(((now - since[n]).total_seconds() / 3600.0 for n in since), default=0.0)
    # What has lain there longer than trays usually do is still followed to its end.
    until = min(max(rules.number("horizon", "hours"), longest + A_DAY_H), MOST_H)
    wetting, _spare = fluid_at_hand(plans, trays, camp, evening)
    found: dict[str, AnimalNow] = {}
    chosen = [p for p in plans if p.animal.field_number in since and p.fit_for_fluid]
    for start in sorted({since[p.animal.field_number] for p in chosen}):
        group = [p for p in chosen if since[p.animal.field_number] == start]
        verdicts = judge(
            group,
            camp=air,
            start=start,
            trays=trays,
            beside=plans,
            delays_h={},
            seed=seed,
            draws=draws,
            rules=rules,
            evening=evening,
            advise=False,
            horizon_h=until,
        )
        hours = (now - start).total_seconds() / 3600.0
        setting = setting_of(air, start, rules, evening, until)
        entrants = entrants_of(group, setting, air, start, trays, plans, {}, wetting)
        drawn = Chance.drawn(rules, seed, draws, setting.bath_mol_l)
        passed = passages([s for e in entrants for s in e.spots], drawn, setting.warmth, min(max(hours, 0.05), MOST_H))
        fronts = _fronts(entrants, setting, seed, hours)
        gains = _gains(entrants, verdicts, setting, hours, cooler - at_now)
        at = 0
        for k, (entrant, verdict) in enumerate(zip(entrants, verdicts, strict=True)):
            rows = slice(at, at + len(entrant.spots))
            at += len(entrant.spots)
            regions = tuple(
                RegionNow(
                    s.region,
                    s.word,
                    float(np.mean(np.isfinite(passed.arrest_h[rows][n]))),
                    float(np.mean(np.isfinite(passed.half_bound_h[rows][n]))),
                )
                for n, s in enumerate(entrant.spots)
            )
            found[verdict.field_number] = _one(entrant, verdict, regions, fronts[k], start, now, gains[k])
    highest = max([r.temperature_c for r in record if not since or r.at >= min(since.values())], default=at_now)
    return Watch(
        now=now,
        temperature_c=at_now,
        highest_c=highest,
        alarms=alarms(at_now, highest, rules, evening),
        shade_c=cooler,
        animals=tuple(found[p.animal.field_number] for p in plans if p.animal.field_number in found),
        assumptions=_assumed(air, now),
    )


def _one(
    entrant: Entrant,
    verdict: AnimalVerdict,
    regions: tuple[RegionNow, ...],
    fronts: _Fronts,
    start: datetime.datetime,
    now: datetime.datetime,
    gain: float | None,
) -> AnimalNow:
    def after(hours: float | None) -> datetime.datetime | None:
        return None if hours is None else start + datetime.timedelta(hours=hours)

    may = after(verdict.leave.may_leave_h)
    return AnimalNow(
        field_number=verdict.field_number,
        in_tray_since=start,
        hours=(now - start).total_seconds() / 3600.0,
        radius_mm=fronts.radius_mm,
        fronts_mm=fronts.depths_mm,
        sheet_strength=fronts.sheet,
        regions=regions,
        practice_at=start + datetime.timedelta(hours=entrant.plan.tray_h),
        model_at=after(verdict.leave.model_h.median),
        may_leave_at=may,
        may_leave_now=may is not None and may <= now,
        sentence=verdict.sentence,
        weakest=verdict.weakest.region,
        shade_gain_h=gain,
    )


def _assumed(air: Camp, now: datetime.datetime) -> tuple[str, ...]:
    """How the record is drawn on from its last reading, in words."""
    record = air.temperature_record
    if not record:
        return (_("No temperature was read: {warm:.0f} °C is taken throughout.").format(warm=air.temperature_c),)
    last = record[-1]
    told = []
    since_h = (now - last.at).total_seconds() / 3600.0
    if since_h > STALE_H:
        told.append(_("The last reading is {hours:.0f} h old: read the thermometer again.").format(hours=since_h))
    if len(air.record_until(last.at + A_DAY)) > len(record):
        told.append(_("The days to come are taken to be like the last one."))
    else:
        told.append(_("From now on the last reading is taken, {warm:.1f} °C.").format(warm=last.temperature_c))
    return tuple(told)


def _fronts(entrants: Sequence[Entrant], setting: Setting, seed: int, hours: float) -> list[_Fronts]:
    """Depth below the skin of the thickest part of each animal, and what is left of the sheet's strength there."""
    chance = Chance.drawn(setting.rules, seed, FRONT_DRAWS, setting.bath_mol_l)
    trunk = [[s for s in e.spots if s.exponent == 2 or s.region in TRUNK] for e in entrants]
    bodies, tissue = sections([max(own, key=lambda s: s.radius_mm) for own in trunk], chance)
    profile = profiles(bodies, tissue, [min(max(hours, 0.05), MOST_H)], setting.warmth, growth=1.3)
    found = fronts_of(profile)
    parts = [slice(k * chance.size, (k + 1) * chance.size) for k in range(len(entrants))]
    return [
        _Fronts(
            float(np.median(profile.radius_mm[-1, part])),
            {mark: band(found[mark][0, part]) for mark in MARKS},
            band(profile.free[0, -1, part]),
        )
        for part in parts
    ]


def _gains(
    entrants: Sequence[Entrant], verdicts: Sequence[AnimalVerdict], setting: Setting, hours: float, by_c: float
) -> list[float | None]:
    """What a move to the cooler spot now would add to the time in hand of the weakest region, at the medians."""
    if by_c > -LEAST_COOLER_C:
        return [None] * len(entrants)
    weak = [next(s for s in e.spots if s.region == v.weakest.region) for e, v in zip(entrants, verdicts, strict=True)]
    chance = setting.medians()
    baths = [e.plan.tray_h for e in entrants]
    answer: list[float | None] = []
    airs = (setting.warmth, setting.warmth.shifted(by_c, hours))
    arrests = [passages(weak, chance, air, setting.until_h, bath_after_h=baths).bath_arrest_h[:, 0] for air in airs]
    for k, (spot, entrant) in enumerate(zip(weak, entrants, strict=True)):
        here, there = (
            setting.spoil_h(spot.clock, entrant.spent[spot.clock], 0.0, air) - float(arrest[k])
            for air, arrest in zip(airs, arrests, strict=True)
        )
        # What is stopped already, or spoilt already, gains nothing.
        over = arrests[0][k] <= hours or setting.spoil_h(spot.clock, entrant.spent[spot.clock], 0.0) <= hours
        answer.append(None if over or not np.isfinite(there - here) else finite(there - here))
    return answer


def alarms(now_c: float, highest_c: float, rules: RaceRules, evening: EveningRules) -> tuple[str, ...]:
    """What is to be said of a spot that is too warm, or was."""
    found = []
    colours, nothing = evening.number("heat", "colours_suffer_c"), evening.number("heat", "set_nothing_c")
    gut = float(decay.relative_rate(now_c, "gut"))
    if now_c >= nothing:
        found.append(_("Too hot: at {now:.0f} °C nothing should be set. Move the trays now.").format(now=now_c))
    elif now_c >= colours:
        found.append(
            _(
                "Too warm: at {now:.0f} °C colours suffer and the gut decays {rate:.1f} times as fast as at 20 °C."
            ).format(now=now_c, rate=gut)
        )
    elif now_c >= rules.number("watch", "warm_c"):
        found.append(
            _("Warm: at {now:.0f} °C the gut decays {rate:.1f} times as fast as at 20 °C. Shade helps.").format(
                now=now_c, rate=gut
            )
        )
    if highest_c >= colours > now_c:
        found.append(_("It has been {highest:.0f} °C here: colours may have suffered.").format(highest=highest_c))
    return tuple(found)


def best_start(
    readings: Sequence[Reading], length_h: float, earliest: datetime.datetime, latest: datetime.datetime
) -> tuple[datetime.datetime, float]:
    """
    The coolest time for a table of this length, from a record of the days before (or of a forecast).

    Parameters
    ----------
    readings : sequence of Reading
        In order of time, a day at least.
    length_h : float
        Of the table. [h]
    earliest, latest : datetime
        Between which it may start, with an offset.

    Returns
    -------
    tuple
        Its start, and the mean temperature over it. [degrees C]

    Raises
    ------
    ValueError
        If the record is shorter than a day, or ``latest`` is before ``earliest``.

    Notes
    -----
    Each hour of the day is taken to be as it was on the mean of the days recorded.
    """
    if latest < earliest:
        raise ValueError("latest must not be before earliest")
    if not readings or (readings[-1].at - readings[0].at).total_seconds() < (A_DAY_H - 1.0) * 3600:
        raise ValueError("readings must cover a day at least")
    zero = readings[0].at
    hours = np.array([(r.at - zero).total_seconds() / 3600.0 for r in readings])
    warm = np.array([r.temperature_c for r in readings])
    # A mean day in steps of six minutes, made of all the days there are.
    bins = np.arange(0.0, A_DAY_H, 0.1)
    whole = [
        np.interp(bins + n * A_DAY_H, hours, warm, right=np.nan)
        for n in range(int(np.ceil((hours[-1] - hours[0]) / A_DAY_H)))
    ]
    mean_day = np.nanmean(np.vstack(whole), axis=0)
    mean_day = np.where(np.isnan(mean_day), np.nanmean(mean_day), mean_day)
    running = np.concatenate([[0.0], np.cumsum(np.tile(mean_day, 3)) * 0.1])

    def mean_over(start: datetime.datetime) -> float:
        phase = ((start - zero).total_seconds() / 3600.0) % A_DAY_H
        edges = np.interp([phase, phase + length_h], np.arange(running.size) * 0.1, running)
        return float((edges[1] - edges[0]) / length_h)

    count = int((latest - earliest).total_seconds() // 900) + 1
    starts = [earliest + datetime.timedelta(minutes=15 * k) for k in range(count)]
    means = [mean_over(s) for s in starts]
    best = int(np.argmin(means))
    return starts[best], means[best]
