"""How warm it is and will be, and how far decay has run before the fixative comes: what every racer starts with."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from keepfast.plan import order
from keepfast.plan.camp import Camp
from keepfast.plan.objects import AnimalPlan, Tray
from keepfast.plan.race_spots import IN_A_VIAL, Chance, Spot, film_mm, room_taken, spots_of
from keepfast.plan.table import formaldehyde_mol_l, vial_ml
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules, Range
from keepfast.science import decay
from keepfast.science.warmth import Warmth

Array = npt.NDArray[np.float64]

SLOWEST_RATE = 1e-3  # of a clock: below it what is overdrawn is not turned into hours
KNOWN, UNKNOWN, KILLED = "known", "unknown", "killed"  # how sure its hours since death are


@dataclass(frozen=True)
class Entrant:
    """One animal on its way through the race; ``spent`` is decay before the filling, by clock. [h at 20 degrees C]"""

    plan: AnimalPlan
    spots: list[Spot]
    delay_h: float  # from the start of the table to its filling
    spent: Mapping[str, float]
    spent_on_ice: Mapping[str, float]  # the same, had it been laid on ice when the table started
    spent_at_once: Mapping[str, float]  # the same, were it filled when the table starts
    death: str  # KNOWN, UNKNOWN or KILLED

    def spent_drawn(self, clock: str, chance: Chance) -> Array:
        """Decay before the filling under each draw."""
        factor = {UNKNOWN: chance.delay, KILLED: chance.killed}.get(self.death, np.ones(chance.size))
        return np.asarray(self.spent[clock] * factor)


@dataclass(frozen=True)
class Setting:
    """What all racers of one night have in common."""

    rules: RaceRules
    evening: EveningRules
    warmth: Warmth  # hours count from the start of the table
    until_h: float
    bath_mol_l: Range  # of the camp's own working solution
    spare_ml: float | None  # working solution beyond what the plan takes; None where nobody stated it

    def medians(self, **tissue: float) -> Chance:
        """One draw: the medians, in this camp's fixative."""
        return Chance.medians(self.rules, **{"bath_mol_l": self.bath_mol_l[1], **tissue})

    def red(self, clock: str) -> float:
        """Load at which a clock says spoilt. [h at 20 degrees C]"""
        return self.evening.number("load", f"{clock}_red_h")

    @property
    def latest_h(self) -> float:
        """Beyond this decay is called stopped by the cold."""
        return self.rules.number("horizon", "latest_spoil_h")

    def spoil_h(self, clock: str, spent: float, delay_h: float, warmth: Warmth | None = None) -> float:
        """Hours from filling to spoilage at the medians."""
        air = self.warmth if warmth is None else warmth
        limit = np.array([self.red(clock)])
        return float(spoil_hours(limit, np.array([spent]), air, clock, self.latest_h, delay_h)[0])


def warmth_of(camp: Camp, start: datetime.datetime, until_h: float) -> Warmth:
    """The camp's temperature with hours counted from the start, carried on beyond its record."""
    record = camp.record_until(start + datetime.timedelta(hours=until_h))
    if not record:
        return Warmth.constant(camp.temperature_c)
    hours = np.array([(r.at - start).total_seconds() / 3600.0 for r in record])
    warm = np.array([r.temperature_c for r in record])
    keep = np.concatenate([[True], np.diff(hours) > 0])
    return Warmth(hours[keep], warm[keep])


def bath_of(camp: Camp, evening: EveningRules) -> Range:
    """Strength of the camp's working solution, with how far what is poured lies from label and dilution. [mol/L]"""
    middle = formaldehyde_mol_l(camp, evening)
    return (
        middle * evening.number("fluid", "strength_low"),
        middle,
        middle * evening.number("fluid", "strength_high"),
    )


def fluid_at_hand(
    plans: Sequence[AnimalPlan], trays: Sequence[Tray], camp: Camp, evening: EveningRules
) -> tuple[float, float | None]:
    """
    What share of the planned wetting the camp's fixative suffices for, and what is left beyond it.

    Returns
    -------
    float, float or None
        Share from 0 to 1; working solution to spare, that still to be mixed from the stock included, None where the
        camp has not stated both. [mL]
    """
    if camp.working_solution_ml is None or camp.formalin_stock_ml is None:
        return 1.0, None
    have = camp.working_solution_ml + camp.formalin_stock_ml * 100.0 / camp.working_formalin_percent
    sheets = sum(t.upper_sheet_ml + t.lower_sheet_ml for t in trays)
    inside = [p for p in plans if p.fit_for_fluid]
    first = sum(p.total_ml for p in inside) + sum(
        vial_ml(p.body.volume_ml, evening) for p in inside if p.animal.form in IN_A_VIAL
    )
    left = have - first - sheets
    share = 1.0 if left >= 0 or sheets <= 0 else max(have - first, 0.0) / sheets
    return share, max(left, 0.0)


def setting_of(
    camp: Camp,
    start: datetime.datetime,
    rules: RaceRules,
    evening: EveningRules,
    until_h: float,
    spare_ml: float | None = None,
) -> Setting:
    """The night of a camp: temperatures and fixative as they are there."""
    return Setting(rules, evening, warmth_of(camp, start, until_h), until_h, bath_of(camp, evening), spare_ml)


def entrants_of(
    plans: Sequence[AnimalPlan],
    setting: Setting,
    camp: Camp,
    start: datetime.datetime,
    trays: Sequence[Tray] = (),
    beside: Sequence[AnimalPlan] = (),
    delays_h: Mapping[str, float] | None = None,
    wetting: float = 1.0,
) -> list[Entrant]:
    """Every animal that goes into fluid, with its regions and the decay it brings along; arguments as in ``judge``.

    ``wetting`` is the share of the planned wetting that the sheets of the trays really get.
    """
    laid = room_taken(beside or plans)
    found = []
    for plan in plans:
        if not plan.fit_for_fluid:
            continue
        film = film_mm(plan, setting.evening, trays, laid)
        spots = spots_of(plan, setting.rules, film if plan.place is None else film * wetting)
        if spots:
            found.append(_entrant(plan, spots, setting, camp, start, delays_h))
    return found


def _entrant(
    plan: AnimalPlan,
    spots: list[Spot],
    setting: Setting,
    camp: Camp,
    start: datetime.datetime,
    delays_h: Mapping[str, float] | None,
) -> Entrant:
    evening, warmth = setting.evening, setting.warmth
    waits = delays_h is None and bool(plan.waits)
    if delays_h is not None:
        delay = delays_h.get(plan.animal.field_number, 0.0)
    else:
        delay = evening.number("evening", "next_sitting_h") if waits else plan.fill_at_h or 0.0
    if plan.animal.condition == "alive":
        # It loses nothing by waiting; its clocks start when it dies, shortly before its turn.
        hours = setting.rules.number("killed", "hours")
        spent = {c: float(decay.load(hours, float(warmth.at(delay)), c)) for c in decay.CLOCKS}
        return Entrant(plan, spots, delay, spent, spent, spent, KILLED)
    urgency = order.urgency(plan.animal, plan.body.diameter_mm, camp, evening, start)
    before = {"gut": urgency.spent_gut_h, "autolysis": urgency.spent_autolysis_h}
    cold = evening.number("ice", "temperature_c")
    kept = order.kept_c(plan.animal, camp, evening, start)
    ice = Warmth.constant(min(kept, cold))
    # What lies cooler than the table, on ice above all, stays there until its turn.
    lies = ice if waits else Warmth.constant(kept) if kept < warmth.at(0.0) else warmth

    def after(waiting: Warmth) -> dict[str, float]:
        return {c: before[c] + float(waiting.load(0.0, delay, c)) for c in decay.CLOCKS}

    return Entrant(plan, spots, delay, after(lies), after(ice), before, UNKNOWN if urgency.assumed else KNOWN)


def spoil_hours(limit: Array, spent: Array, warmth: Warmth, clock: str, latest_h: float, delay_h: float = 0.0) -> Array:
    """Hours from filling to the limit; negative where it was passed before, ``latest_h`` where the cold stops it."""
    left = limit - spent
    when = np.asarray(warmth.hour_of(np.maximum(left, 0.0), delay_h, delay_h + latest_h, clock), dtype=float) - delay_h
    rate = max(float(decay.relative_rate(float(warmth.at(delay_h)), clock)), SLOWEST_RATE)
    return np.where(left > 0, np.minimum(when, latest_h), np.maximum(left / rate, -latest_h))
