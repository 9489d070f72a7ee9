"""The plan as plain JSON values, as ``plan.schema.json`` beside this file describes them."""

from __future__ import annotations

import datetime
import json
import math
from pathlib import Path
from typing import Any

from keepfast.plan.objects import Amount, AnimalPlan, EveningPlan, Injection, Moment, Prick, Step, TablePlan

SCHEMA_FILE = Path(__file__).parent / "plan.schema.json"


def schema() -> dict[str, Any]:
    """The published JSON Schema of ``plan.json``."""
    answer: dict[str, Any] = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    return answer


def evening(plan: EveningPlan) -> dict[str, Any]:
    """The whole plan."""
    return {
        "origin": plan.origin,
        "protocol": plan.protocol,
        "camp": plan.camp,
        "animals": [animal(p) for p in plan.animals],
        "table": table(plan.table),
        "findings": list(plan.findings),
    }


def animal(plan: AnimalPlan) -> dict[str, Any]:
    """One animal: what was observed, what is planned, what is doubted."""
    seen = plan.animal
    body = plan.body
    return {
        "field_number": seen.field_number,
        "taxon": seen.taxon,
        "form": seen.form,
        "sex": seen.sex,
        "stage": seen.stage,
        "condition": seen.condition,
        "reproductive_state": seen.reproductive_state,
        "gut": seen.gut,
        "count": seen.count,
        "died_at": _moment(seen.died_at),
        "remarks": seen.remarks,
        "mass_g": amount(plan.mass_g),
        "body": {
            "length_mm": _n(body.length_mm),
            "tail_mm": _n(body.tail_mm),
            "diameter_mm": _n(body.diameter_mm),
            "volume_ml": _n(body.volume_ml),
            "cavity_volume_ml": _n(body.cavity_volume_ml),
            "wall_volume_ml": _n(body.wall_volume_ml),
            "surface_cm2": _n(body.surface_cm2),
            "measured": sorted(body.measured),
        },
        "fit_for_fluid": plan.fit_for_fluid,
        "destiny": plan.destiny,
        "fitness_reason": plan.fitness_reason,
        "steps": [_step(s) for s in plan.steps],
        "pricks": [_prick(p) for p in plan.pricks],
        "injections": [_injection(i) for i in plan.injections],
        "total_ml": _n(plan.total_ml),
        "total_low_ml": _n(plan.total_low_ml),
        "total_high_ml": _n(plan.total_high_ml),
        "retained_ml": amount(plan.retained_ml) if plan.retained_ml else None,
        "per_cm_ml": _n(plan.per_cm_ml),
        "per_gram_ml": _n(plan.per_gram_ml),
        "supply_ratio": amount(plan.supply_ratio) if plan.supply_ratio else None,
        "pose": {
            "key": plan.pose.key,
            "words": plan.pose.words,
            "reason": plan.pose.reason,
            "width_mm": plan.pose.width_mm,
            "height_mm": plan.pose.height_mm,
        },
        "tag": plan.tag,
        "tray_h": _n(plan.tray_h),
        "tray_reason": plan.tray_reason,
        "urgency_h": _n(plan.urgency_h),
        "urgency_reason": plan.urgency_reason,
        "fill_at_h": _n(plan.fill_at_h),
        "minutes_by_task": plan.minutes_by_task,
        "cautions": list(plan.cautions),
        "doubts": list(plan.doubts),
        "place": None
        if plan.place is None
        else {
            "tray": plan.place.tray,
            "place": plan.place.place,
            "x_mm": _n(plan.place.x_mm),
            "y_mm": _n(plan.place.y_mm),
            "width_mm": _n(plan.place.width_mm),
            "height_mm": _n(plan.place.height_mm),
            "turned": plan.place.turned,
        },
        "waits": plan.waits,
        "wait_until": _moment(plan.wait_until),
        **plan.extra,
    }


def table(plan: TablePlan) -> dict[str, Any]:
    """The table for the evening."""
    return {
        "order": list(plan.order),
        "waiting": list(plan.waiting),
        "not_for_fluid": list(plan.not_for_fluid),
        "people": plan.people,
        "minutes": plan.minutes,
        "minutes_low": plan.minutes_low,
        "minutes_high": plan.minutes_high,
        "minutes_by_task": plan.minutes_by_task,
        "start": _moment(plan.start),
        "end": _moment(plan.end),
        "clock": [_clock(m) for m in plan.clock],
        "trays": [
            {
                "number": t.number,
                "width_mm": t.width_mm,
                "height_mm": t.height_mm,
                "upper_sheet_ml": _n(t.upper_sheet_ml),
                "lower_sheet_ml": _n(t.lower_sheet_ml),
                "field_numbers": list(t.field_numbers),
            }
            for t in plan.trays
        ],
        "tray_bound": plan.tray_bound,
        "fixative_ml": plan.fixative_ml,
        "fixative_low_ml": plan.fixative_low_ml,
        "fixative_high_ml": plan.fixative_high_ml,
        "fluid_by_use_ml": plan.fluid_by_use_ml,
        "syringes": plan.syringes,
        "needles": {str(gauge): count for gauge, count in plan.needles.items()},
        "lay_ready": list(plan.lay_ready),
        "earliest_out": _moment(plan.earliest_out),
        "cautions": [
            {
                "key": c.key,
                "text": c.text,
                "reason": c.reason,
                "source": c.source,
                "known": c.known,
                "called_up_by": c.called_up_by,
                "round": c.round,
            }
            for c in plan.cautions
        ],
        "doubts": list(plan.doubts),
        "defaults_used": list(plan.defaults_used),
        **plan.extra,
    }


def amount(value: Amount) -> dict[str, Any]:
    """A value with its 5 and 95 % points."""
    return {
        "value": _n(value.value),
        "low": _n(value.low),
        "high": _n(value.high),
        "measured": value.measured,
        "source": value.source,
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "round": step.round,
        "key": step.key,
        "action": step.action,
        "reason": step.reason,
        "source": step.source,
        "cautions": list(step.cautions),
        "pricks": list(step.prick_numbers),
        "injections": list(step.injection_numbers),
    }


def _prick(prick: Prick) -> dict[str, Any]:
    return {
        "number": prick.number,
        "at_mm": _n(prick.at_mm),
        "region": prick.region,
        "side": prick.side,
        "count": prick.count,
        "reason": prick.reason,
    }


def _injection(injection: Injection) -> dict[str, Any]:
    return {
        "number": injection.number,
        "at_mm": _n(injection.at_mm),
        "site": injection.site,
        "side": injection.side,
        "depth_mm": injection.depth_mm,
        "gauge": injection.gauge,
        "volume_ml": injection.volume_ml,
        "low_ml": _n(injection.low_ml),
        "high_ml": _n(injection.high_ml),
        "reason": injection.reason,
        "source": injection.source,
    }


def _clock(moment: Moment) -> dict[str, Any]:
    return {
        "at": _moment(moment.at),
        "minutes": moment.minutes,
        "what": moment.what,
        "round": moment.round,
        "field_numbers": list(moment.field_numbers),
    }


def _n(value: float | None) -> float | None:
    """Six digits, so that the last bits of one machine's arithmetic do not show; an endless wait is null."""
    if value is None or not math.isfinite(value):
        return None
    return float(f"{value:.6g}")


def _moment(moment: datetime.datetime | None) -> str | None:
    return None if moment is None else moment.isoformat(timespec="seconds")
