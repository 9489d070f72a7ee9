"""The air of a planned evening: what the plan and its camp already say, handed to ``air``. Start with `with_air`."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from keepfast.plan.air import table_air
from keepfast.plan.air_answer import Air
from keepfast.plan.air_spill import Spill, spill_air
from keepfast.plan.camp import Camp
from keepfast.plan.objects import EveningPlan
from keepfast.science import formalin

DRAWS = 400
# What one clumsy elbow spills, and how soon a pair with sand at hand has taken it up.
SPILT_ML, TAKEN_UP_MIN = 250.0, 15.0  # common practice, no published source


def with_air(evening: EveningPlan, camp: Camp, *, seed: int = 1, draws: int = DRAWS) -> EveningPlan:
    """
    The same plan with its air under ``table.extra["air"]``, as plain JSON values.

    Parameters
    ----------
    evening : EveningPlan
    camp : Camp
        The camp that the plan was made for.
    seed, draws : int
        Of the doubts.

    Returns
    -------
    EveningPlan
        ``table.extra["air"]`` is ``Air.as_dict()`` and, under its key ``"spill"``, ``Spill.as_dict()`` without its
        course.

    Raises
    ------
    FindingsError
        If the camp names limits that are not held.
    """
    air: dict[str, Any] = evening_air(evening, camp, seed=seed, draws=draws).as_dict()
    spill = evening_spill(evening, camp, seed=seed, draws=draws).as_dict()
    air["spill"] = {key: value for key, value in spill.items() if key != "series"}
    table = replace(evening.table, extra={**evening.table.extra, "air": air})
    return replace(evening, table=table)


def evening_air(evening: EveningPlan, camp: Camp, *, seed: int = 1, draws: int = DRAWS) -> Air:
    """The air at the table of this plan, in rounds as its clock has them; see `keepfast.plan.air.table_air`."""
    table, tasks = evening.table, evening.table.minutes_by_task
    minutes = {
        "before": sum(tasks.get(task, 0.0) for task in ("measure", "photograph", "tissue")),
        **{task: tasks.get(task, 0.0) for task in ("prick", "fill", "pose", "cover")},
    }
    record = camp.temperature_record
    return table_air(
        minutes,
        [tray.width_mm * tray.height_mm / 1e6 for tray in table.trays],
        percent_w_v=_percent_w_v(camp),
        temperature_c=camp.temperature_at(table.start + (table.end - table.start) / 2),
        coolest_c=min(reading.temperature_c for reading in record) if record else None,
        shelter=camp.shelter,
        air_speed_m_s=_air_speed(camp),
        jurisdiction=camp.jurisdiction,
        on=table.start.date(),
        seed=seed,
        draws=draws,
    )


def evening_spill(evening: EveningPlan, camp: Camp, *, seed: int = 1, draws: int = DRAWS) -> Spill:
    """What it would mean to spill some of tonight's fixative; see `keepfast.plan.air_spill.spill_air`."""
    table = evening.table
    return spill_air(
        SPILT_ML,
        fluid="formalin",
        strength=_percent_w_v(camp),
        temperature_c=camp.temperature_at(table.start + (table.end - table.start) / 2),
        taken_up_min=TAKEN_UP_MIN,
        shelter=camp.shelter,
        air_speed_m_s=_air_speed(camp),
        jurisdiction=camp.jurisdiction,
        on=table.start.date(),
        seed=seed,
        draws=draws,
    )


def _percent_w_v(camp: Camp) -> float:
    stock = formalin.percent_w_v(camp.formalin_stock_percent)
    return float(formalin.formaldehyde_percent_w_v(camp.working_formalin_percent, stock))


def _air_speed(camp: Camp) -> float | None:
    """A camp may say that nothing stirs, or tell of a storm: the models begin and end a little inside of that."""
    return None if camp.air_speed_m_s is None else min(max(camp.air_speed_m_s, 0.02), 15.0)
