"""The plan of an evening: every animal, and the table they share. Start reading here.

``plan_evening`` goes: weigh every animal (``weighing``), order them (``order``), treat each by its protocol
(``animal.treat``, ``filling``), pack the trays (``trays``), then add up fluid, minutes and tools and set the clock.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.book.animals import Animal, usual_length_kind
from keepfast.findings import Finding, FindingsError
from keepfast.plan import animal as animals_
from keepfast.plan import order
from keepfast.plan.camp import Camp
from keepfast.plan.cautions import Day, Warner
from keepfast.plan.objects import (
    Amount,
    AnimalPlan,
    EveningPlan,
)
from keepfast.plan.table import Row, lay_trays, supply_ratios, table_plan
from keepfast.plan.trays import Footprint, Packing, pack
from keepfast.plan.weighing import Weighed, weigh
from keepfast.rules import cautions as cautions_
from keepfast.rules import evening as evening_rules
from keepfast.rules import protocols as protocols_
from keepfast.rules import sources
from keepfast.science.mass import off_trend, robust_trend
from keepfast.words import _

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Rules:
    """All that people decided and that a plan stands on."""

    protocols: protocols_.ProtocolSet
    evening: evening_rules.EveningRules
    cautions: cautions_.Cautions

    @classmethod
    def load(cls, protocol: str | None = None, evening: str = "field", cautions: str = "field") -> Rules:
        """The shipped rules, or a museum's own where a name or path is given.

        A folder given as ``protocol`` may also hold the museum's rules of an evening and its cautions: a file is taken
        for what its ``subject`` names.

        Raises
        ------
        FindingsError
            With everything that is wrong in the files.
        """
        beside = {"evening": evening, "cautions": cautions}
        if protocol is not None and Path(protocol).exists():
            there = sources.by_subject(Path(protocol))
            for subject in beside:
                files = there.get(subject, [])
                if len(files) > 1:
                    raise FindingsError(
                        Finding(
                            _("there are several files of the subject {subject} in one folder").format(subject=subject),
                            _("Keep one of them there."),
                            file=str(file),
                        )
                        for file in files
                    )
                beside[subject] = str(files[0]) if files else beside[subject]
        return cls(protocols_.load(protocol), evening_rules.load(beside["evening"]), cautions_.load(beside["cautions"]))


def plan_evening(
    animals: Sequence[Animal],
    camp: Camp,
    rules: Rules,
    *,
    start: datetime.datetime,
    seed: int = 1,
    size: int = 1000,
    origin: Mapping[str, Any] | None = None,
    findings: Sequence[Finding] = (),
    kin: Sequence[Animal] = (),
) -> EveningPlan:
    """Plan an evening's table.

    Parameters
    ----------
    animals : sequence of Animal
        As observed; field numbers are unique.
    camp : Camp
        Place, warmth, people, trays and fluid.
    rules : Rules
        Protocols, the table's rules and cautions.
    start : datetime
        When the first animal is taken up, with an offset.
    seed, size : int
        Seed and number of the draws behind every range.
    origin : mapping, optional
        Version and hashes of the inputs, carried into the plan.
    findings : sequence of Finding
        Doubts and notes from reading the list, carried into the plan.
    kin : sequence of Animal
        Others that a book holds. They are not planned; where there are many of a species, their trend judges slips.

    Raises
    ------
    FindingsError
        If an animal's mass cannot be estimated; all such animals at once.
    ValueError
        If ``start`` has no offset.
    """
    if start.tzinfo is None:
        raise ValueError(f"start must carry an offset; {start.isoformat()} was given")
    weighed: list[Weighed] = []
    missing: list[Finding] = []
    for observed in animals:
        found = weigh(observed, rules.evening, seed, size)
        if isinstance(found, Finding):
            missing.append(found)
        else:
            weighed.append(found)
    if missing:
        raise FindingsError(missing)
    off = _off_own_trend(animals, kin, rules.evening)
    temperature_c = camp.temperature_at(start)
    pace = order.pace_of(camp, rules.evening)
    day = Day(camp.shelter, temperature_c)
    warner = Warner(rules.cautions, day)
    rows: dict[str, Row] = {}
    for one in weighed:
        protocol = rules.protocols.by_form[one.animal.form]
        facts = animals_.facts_of(one, camp, protocol, temperature_c)
        treated = animals_.treat(one, protocol, facts, warner, seed)
        minutes = order.minutes_of(protocol, one.mass_g.value, len(treated.injections), pace)
        if not treated.fit_for_fluid:
            minutes = {task: (0.0 if task in order.FIXING else value) for task, value in minutes.items()}
        rows[one.animal.field_number] = Row(
            one, protocol, facts,
            order.urgency(one.animal, one.body.diameter_mm, camp, rules.evening, start),
            treated, minutes,
        )  # fmt: skip
    sitting = order.sit(
        {n: r.urgency for n, r in rows.items() if r.treated.fit_for_fluid},
        {n: order.fixing_minutes(r.minutes) for n, r in rows.items()},
        {n: r.weighed.animal for n, r in rows.items()},
        start,
        rules.evening.number("evening", "longest_fixing_h"),
        rules.evening.number("evening", "next_sitting_h"),
    )
    tonight = [rows[n] for n in sitting.tonight]
    packing = pack(
        [Footprint(r.weighed.animal.field_number, r.treated.pose.width_mm, r.treated.pose.height_mm) for r in tonight],
        [(t.width_mm, t.height_mm, t.count) for t in camp.trays],
        rules.evening.number("packing", "gap_mm"),
    )
    trays = lay_trays(packing, rules.evening)
    supply = supply_ratios(rows, sitting.tonight, packing, trays, camp, rules.evening, seed, size)
    fill_at = _fill_hours(rows, sitting)
    plans = tuple(
        _animal_plan(rows[a.field_number], sitting, packing, supply, off.get(a.field_number), fill_at) for a in animals
    )
    by_number = {p.animal.field_number: p for p in plans}
    table = table_plan(
        by_number, rows, sitting, packing, trays, camp, rules.evening, rules.cautions, day, start, seed, size
    )
    identity = rules.protocols.identity
    for form in {r.protocol.form for r in rows.values()}:
        identity["forms"][form]["other_sources"] = [
            {"topic": s.topic, "text": s.text, "source": s.source, "known": s.known}
            for s in rules.protocols.by_form[form].spreads
        ]
    return EveningPlan(
        plans,
        table,
        {**identity, "evening": rules.evening.identity, "cautions": rules.cautions.file.identity},
        dict(origin or {}, seed=seed, draws=size),
        camp.as_dict(),
        tuple(f.as_dict() for f in findings),
    )


def _fill_hours(rows: Mapping[str, Row], sitting: order.Sitting) -> dict[str, float]:
    """Hours from the start until each animal is filled, when the table is worked in rounds."""
    passed = sum(
        rows[n].minutes[task] for n in sitting.tonight for task in ("measure", "photograph", "tissue", "prick")
    )
    found = {}
    for name in sitting.tonight:
        passed += rows[name].minutes["fill"]
        found[name] = passed / 60
    return found


def _off_own_trend(
    animals: Sequence[Animal], kin: Sequence[Animal], rules: evening_rules.EveningRules
) -> dict[str, str]:
    """Where list and book hold many of one species, whoever of tonight lies off their own robust trend."""
    tonight = {animal.field_number for animal in animals}
    by_kind: dict[tuple[str, str], list[Animal]] = {}
    for animal in (*animals, *(one for one in kin if one.field_number not in tonight)):
        of_its_kind = animal.length_kind == usual_length_kind(animal.form) and animal.form != "egg_clutch"
        if animal.taxon and animal.length_mm and animal.mass_g and of_its_kind:
            by_kind.setdefault((animal.taxon, animal.form), []).append(animal)
    doubts = {}
    for (taxon, _form), members in by_kind.items():
        if len(members) < rules.number("trend", "least_animals"):
            continue
        length = np.array([a.length_mm for a in members], dtype=float)
        mass = np.array([(a.mass_g or 0.0) / a.count for a in members], dtype=float)
        trend = robust_trend(length, mass)
        off = off_trend(
            trend,
            length,
            mass,
            least_factor=rules.number("trend", "least_factor"),
            limit_sd=rules.number("trend", "limit_sd"),
        )
        for animal in (a for a, bad in zip(members, off, strict=True) if bad and a.field_number in tonight):
            assert animal.length_mm is not None
            usual = 10 ** (trend.intercept + trend.slope * math.log10(animal.length_mm)) * animal.count
            doubts[animal.field_number] = _(
                "mass and length do not fit the other {count} {taxon} of this list or book: about {usual:.3g} g is"
                " theirs at {length:g} mm. Look at the decimal place and measure again."
            ).format(count=len(members) - 1, taxon=taxon, usual=usual, length=animal.length_mm)
    return doubts


def _animal_plan(
    row: Row,
    sitting: order.Sitting,
    packing: Packing,
    supply: Mapping[str, Amount],
    off: str | None,
    fill_at: Mapping[str, float],
) -> AnimalPlan:
    weighed, treated, urgency = row.weighed, row.treated, row.urgency
    name = weighed.animal.field_number
    own = [*weighed.doubts, *([off] if off else []), *treated.doubts]
    ratio = supply.get(name)
    kinds: dict[str, str] = {}
    wait_h = fill_at.get(name, 0.0)
    if treated.fit_for_fluid and row.is_red:
        words = _(
            "by warmth and hours it should be past saving ({hours:.0f} h at 20 degrees C on the gut's clock): press the"
            " belly before you start, and if it is soft prepare it otherwise"
        )
        if urgency.stage == "lost":
            words = _(
                "by warmth and hours it is past saving ({hours:.0f} h at 20 degrees C on the gut's clock), so it comes"
                " after all that can still be saved: press its belly, and if it is soft prepare it otherwise"
            )
        kinds["past"] = words.format(hours=urgency.spent_gut_h)
    elif treated.fit_for_fluid and urgency.stage == "amber":
        words = _("decay has begun ({reason}): it goes early")
        if treated.injections:
            words = _("decay has begun ({reason}): it goes early and gets its hind end filled first")
        kinds["begun"] = words.format(reason=urgency.reason)
    if treated.fit_for_fluid and weighed.animal.condition != "iced" and urgency.left_h < wait_h and not row.is_red:
        words = _(
            "at this warmth it has about {left:.1f} h left and its fixative comes {wait:.1f} h after the start: lay it"
            " on ice now, dry in its bag, where it has {ice:.0f} h, or work it before all others"
        )
        if urgency.left_on_ice_h < wait_h:
            words = _(
                "at this warmth it has about {left:.1f} h left and its fixative comes {wait:.1f} h after the start: lay"
                " it on ice now, dry in its bag, and if you can work it before all others, for ice alone buys {ice:.0f}"
                " h"
            )
        kinds["ice"] = words.format(left=urgency.left_h, wait=wait_h, ice=urgency.left_on_ice_h)
    if ratio is not None and ratio.value < row.protocol.supply_threshold:
        kinds["supply"] = _(
            "injection, sheets and tray bring {ratio:.1f} times ({low:.1f} to {high:.1f}) the formaldehyde that the"
            " body can bind: the bath of the coming weeks must bring the rest, so do not leave it long in the tray"
        ).format(ratio=ratio.value, low=ratio.low, high=ratio.high)
    if name in packing.too_large:
        own.append(
            _("as posed it takes {w:.0f} by {h:.0f} mm and fits none of the trays: find a larger one").format(
                w=treated.pose.width_mm, h=treated.pose.height_mm
            )
        )
    waits, until = sitting.waiting.get(name, ("", None))
    body = weighed.body
    trunk_ml = sum(i.volume_ml for i in treated.injections if i.at_mm <= body.length_mm and "limb" not in i.site)
    low, high = (float(v) for v in np.percentile(treated.total_drawn_ml, [5, 95])) if treated.injections else (0.0, 0.0)
    cautions = tuple(dict.fromkeys(key for step in treated.steps for key in step.cautions))
    return AnimalPlan(
        animal=weighed.animal,
        body=body,
        mass_g=weighed.mass_g,
        fit_for_fluid=treated.fit_for_fluid,
        destiny=treated.destiny,
        fitness_reason=treated.fitness_reason,
        steps=treated.steps,
        pricks=treated.pricks,
        injections=treated.injections,
        total_ml=treated.total_ml,
        total_low_ml=min(low, treated.total_ml),
        total_high_ml=max(high, treated.total_ml),
        retained_ml=treated.retained_ml,
        per_cm_ml=trunk_ml / (body.length_mm / 10) if treated.injections and not body.limb_lengths_mm else None,
        per_gram_ml=treated.total_ml / body.mass_g if treated.injections else None,
        supply_ratio=ratio,
        pose=treated.pose,
        tag=treated.tag,
        tray_h=treated.tray_h,
        tray_reason=treated.tray_reason,
        urgency_h=urgency.left_h,
        urgency_reason=urgency.reason,
        fill_at_h=fill_at.get(name),
        minutes_by_task=row.minutes,
        cautions=cautions,
        doubts=(*own, *kinds.values()),
        doubt_kinds=(*("own" for _doubt in own), *kinds),
        place=packing.places.get(name),
        waits=waits,
        wait_until=until,
    )
