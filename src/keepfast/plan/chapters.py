"""The chapters that hang on a plan once it stands: the air of its table, its sun, and the race of each animal."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace
from typing import Any

from keepfast.plan.camp import Camp
from keepfast.plan.objects import EveningPlan
from keepfast.plan.table import formaldehyde_w_v
from keepfast.rules.evening import EveningRules
from keepfast.words import _

# A cup of fixative knocked over and wiped up in a quarter of an hour: the accident to be ready for. Assumptions.
_SPILL_ML = 250.0
_TAKEN_UP_MIN = 15.0
_HALF_HOUR = datetime.timedelta(minutes=30)


def place_known(camp: Camp) -> dict[str, Any]:
    """What a camp says of its place, as `keepfast.plan.air.table_air` and its sisters take it."""
    from keepfast.science.air import standard_pressure_kpa

    return {
        "shelter": camp.shelter,
        "air_speed_m_s": camp.air_speed_m_s,
        "volume_m3": camp.volume_m3,
        "air_changes_per_h": camp.air_changes_per_h,
        "opening_m2": camp.opening_m2,
        "pressure_kpa": float(standard_pressure_kpa(camp.elevation_m or 0.0)),
    }


def _half_hours(first: datetime.datetime, last: datetime.datetime) -> list[datetime.datetime]:
    """Moments half an hour apart, the last one among them."""
    return [*(first + k * _HALF_HOUR for k in range(max(0, math.ceil((last - first) / _HALF_HOUR)))), last]


def with_air(plan: EveningPlan, camp: Camp, rules: EveningRules, seed: int, draws: int) -> EveningPlan:
    """The plan with its table's air under ``table.extra["air"]``.

    Raises
    ------
    FindingsError
        If the camp's shelter or jurisdiction is not one of the rules'.
    """
    from keepfast.plan.air import table_air
    from keepfast.plan.air_spill import spill_air

    table = plan.table
    if not table.order:
        return plan
    minutes = table.minutes_by_task
    strength = formaldehyde_w_v(camp, rules)
    opened = next((m.at for m in table.clock if m.round == "fill"), table.start)
    warmest = max(camp.temperature_at(at) for at in _half_hours(opened, table.end))
    coolest = None
    if camp.temperature_record:
        coolest = min(_half_hours(table.start, table.start + datetime.timedelta(days=1)), key=camp.temperature_at)
    place: dict[str, Any] = {
        **place_known(camp),
        "jurisdiction": camp.jurisdiction,
        "on": table.start.astimezone(camp.zone).date(),
    }
    air = table_air(
        {
            "before": minutes["measure"] + minutes["photograph"] + minutes["tissue"],
            **{task: minutes[task] for task in ("prick", "fill", "pose", "cover")},
        },
        [tray.width_mm * tray.height_mm / 1e6 for tray in table.trays],
        percent_w_v=strength,
        temperature_c=warmest,
        lids=camp.lids,
        coolest_c=camp.temperature_at(coolest) if coolest else None,
        coolest_at=coolest.astimezone(camp.zone) if coolest else None,
        draws=draws,
        seed=seed,
        **place,
    )
    spill = spill_air(
        _SPILL_ML,
        strength=strength,
        temperature_c=warmest,
        taken_up_min=_TAKEN_UP_MIN,
        draws=min(draws, 500),
        seed=seed,
        **place,
    )
    told = {**air.as_dict(), "spill": spill.as_dict()}
    return replace(plan, table=replace(table, extra={**table.extra, "air": told}))


def with_race(plan: EveningPlan, camp: Camp, rules: EveningRules, seed: int) -> EveningPlan:
    """The plan with each animal's race under ``extra["race"]``; the protocol stands, whatever the model says."""
    from keepfast.plan.race import judge

    tonight = [plan.of(number) for number in plan.table.order]
    verdicts = {
        verdict.field_number: verdict
        for verdict in judge(
            tonight,
            camp=camp,
            start=plan.table.start,
            trays=plan.table.trays,
            delays_h={p.animal.field_number: p.fill_at_h for p in tonight if p.fill_at_h is not None},
            seed=seed,
            evening=rules,
        )
    }
    animals = tuple(
        replace(one, extra={**one.extra, "race": verdicts[one.animal.field_number].as_dict()})
        if one.animal.field_number in verdicts
        else one
        for one in plan.animals
    )
    return replace(plan, animals=animals)


def with_sun(plan: EveningPlan, camp: Camp) -> EveningPlan:
    """The plan with the day's sun under ``table.extra["sun"]``, where the camp says where it is."""
    if camp.latitude is None or camp.longitude is None:
        return plan
    from keepfast.science.sun import day

    table = plan.table
    zone = camp.zone
    start, end = table.start.astimezone(zone), table.end.astimezone(zone)
    sun = day(start.date(), camp.latitude, camp.longitude, zone)
    filling = next((m.at for m in table.clock if m.round == "fill"), start)
    if sun.sunset is None:
        line = _("The sun does not set.") if sun.always == "up" else _("The sun does not rise.")
    elif filling >= sun.sunset:
        line = _(
            "The sun sets at {sunset}: the filling is done by headlamp. Start earlier if the light matters;"
            " the best hours are those in which field work rests."
        ).format(sunset=f"{sun.sunset:%H:%M}")
    elif end > sun.sunset:
        line = _("The sun sets at {sunset}, before all is covered: have the headlamps ready.").format(
            sunset=f"{sun.sunset:%H:%M}"
        )
    else:
        line = _("The sun sets at {sunset}, after all is covered: keep the trays out of it until then.").format(
            sunset=f"{sun.sunset:%H:%M}"
        )
    told = {
        "sunrise": sun.sunrise.isoformat(timespec="seconds") if sun.sunrise else None,
        "sunset": sun.sunset.isoformat(timespec="seconds") if sun.sunset else None,
        "line": line,
    }
    return replace(plan, table=replace(table, extra={**table.extra, "sun": told}))
