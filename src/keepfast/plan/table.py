"""The table that the animals share: trays and sheets, supply of formaldehyde, fluid, tools, clock and doubts."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from keepfast.plan import animal as animals_
from keepfast.plan import cautions as warnings
from keepfast.plan import draws, order
from keepfast.plan.amounts import amount
from keepfast.plan.camp import Camp
from keepfast.plan.objects import Amount, AnimalPlan, Moment, TablePlan, Tray, TrayPlace
from keepfast.plan.trays import Packing
from keepfast.plan.weighing import Weighed
from keepfast.rules import cautions as cautions_
from keepfast.rules import evening as evening_rules
from keepfast.rules import protocols as protocols_
from keepfast.science.tables import load
from keepfast.words import _


@dataclass
class Row:
    """One animal on its way through the plan."""

    weighed: Weighed
    protocol: protocols_.Protocol
    facts: dict[str, Any]
    urgency: order.Urgency
    treated: animals_.Treated
    minutes: dict[str, float]

    @property
    def is_red(self) -> bool:
        """Past the limits of the rules already."""
        return self.urgency.stage in order.PAST


def lay_trays(packing: Packing, rules: evening_rules.EveningRules) -> tuple[Tray, ...]:
    per_m2 = rules.number("sheets", "upper_ml_per_m2")
    made = []
    for number, (width, height) in enumerate(packing.tray_sizes, 1):
        upper = per_m2 * width * height / 1e6
        names = sorted(
            (n for n, p in packing.places.items() if p.tray == number), key=lambda n: packing.places[n].place
        )
        made.append(Tray(number, width, height, upper, upper * rules.number("sheets", "lower_share"), tuple(names)))
    return tuple(made)


def supply_ratios(
    rows: Mapping[str, Row],
    tonight: Sequence[str],
    packing: Packing,
    trays: Sequence[Tray],
    camp: Camp,
    rules: evening_rules.EveningRules,
    seed: int,
    size: int,
) -> dict[str, Amount]:
    """Formaldehyde from injection, sheets and tray over what the tissue can bind, with its range."""
    strength = formaldehyde_mol_l(camp, rules)
    found = {}
    for name in tonight:
        row = rows[name]
        rng = draws.generator(seed, f"supply {name}")
        per_l = strength * draws.spread(
            rng, rules.number("fluid", "strength_low"), 1.0, rules.number("fluid", "strength_high"), size
        )
        binds = draws.spread(
            rng,
            rules.number("binding", "low"),
            rules.number("binding", "middle"),
            rules.number("binding", "high"),
            size,
        )
        lower = draws.spread(
            rng, rules.number("sheets", "lower_low"), rules.number("sheets", "lower_share"),
            rules.number("sheets", "lower_high"), size,
        )  # fmt: skip
        if row.protocol.form in VIAL_FORMS:
            fluid_drawn = np.full(size, vial_ml(row.weighed.body.volume_ml, rules))
            fluid = float(fluid_drawn[0])
        else:
            place = packing.places.get(name)
            upper = _own_share(place, packing, trays) if place else 0.0
            inside = row.treated.retained_ml.value if row.treated.retained_ml else 0.0
            fluid_drawn = row.treated.retained_drawn_ml + upper * (1 + lower)
            fluid = inside + upper * (1 + rules.number("sheets", "lower_share"))
        mass = row.weighed.mass_g.value
        middle = strength * fluid / (rules.number("binding", "middle") * mass)
        found[name] = draws.amount(middle, per_l * fluid_drawn / (binds * row.weighed.mass_drawn_g))
    return found


# Kept loose in their own vial of fluid, by their protocols' pose.
VIAL_FORMS = ("larva", "egg_clutch")


def formaldehyde_w_v(camp: Camp, rules: evening_rules.EveningRules) -> float:
    """Formaldehyde in the camp's working solution, by its stock's label. [g/100 mL]"""
    from keepfast.science import formalin

    stock = formalin.percent_w_v(
        min(camp.formalin_stock_percent, formalin.HIGHEST_W_W), rules.number("fluid", "stock_methanol_percent_w_w")
    )
    return float(formalin.formaldehyde_percent_w_v(camp.working_formalin_percent, stock))


def formaldehyde_mol_l(camp: Camp, rules: evening_rules.EveningRules) -> float:
    """The same in mol/L."""
    return formaldehyde_w_v(camp, rules) * 10 / load("molar-masses").value("formaldehyde")


def vial_ml(volume_ml: float, rules: evening_rules.EveningRules) -> float:
    """Fixative in the vial of a larva or a clutch."""
    return max(rules.number("fluid", "vial_per_volume") * volume_ml, 5.0)


def _own_share(place: TrayPlace, packing: Packing, trays: Sequence[Tray]) -> float:
    """The part of the upper sheet's fluid that is this animal's, by the room it takes among its neighbours."""
    tray = trays[place.tray - 1]
    taken = float(sum(packing.places[n].width_mm * packing.places[n].height_mm for n in tray.field_numbers))
    return float(tray.upper_sheet_ml * place.width_mm * place.height_mm / taken)


def table_plan(
    plans: Mapping[str, AnimalPlan],
    rows: Mapping[str, Row],
    sitting: order.Sitting,
    packing: Packing,
    trays: tuple[Tray, ...],
    camp: Camp,
    rules: evening_rules.EveningRules,
    cautions: cautions_.Cautions,
    day: warnings.Day,
    start: datetime.datetime,
    seed: int,
    size: int,
) -> TablePlan:
    number = rules.number
    done = [plans[n] for n in sitting.tonight]
    in_vials = [p for p in done if p.animal.form in VIAL_FORMS]
    by_task = {
        task: round(sum(p.minutes_by_task[task] for p in plans.values() if not p.waits), 1)
        for task in (*order.FIXING, *order.OTHER)
    }
    minutes = round(sum(by_task[task] for task in order.FIXING), 1)
    clock, end = _clock(by_task, done, trays, start, rules)
    by_use = {
        "injections": sum(p.total_ml for p in done),
        "upper_sheets": sum(t.upper_sheet_ml for t in trays),
        "lower_sheets": sum(t.lower_sheet_ml for t in trays),
        "vials": sum(vial_ml(p.body.volume_ml, rules) for p in in_vials),
    }
    by_use["spare"] = number("fluid", "spare_share") * sum(by_use.values())
    by_use = {use: round(ml, 2) for use, ml in by_use.items()}
    whole = round(sum(by_use.values()), 1)
    rng = draws.generator(seed, "table fluid")
    lower = draws.spread(
        rng, number("sheets", "lower_low"), number("sheets", "lower_share"), number("sheets", "lower_high"), size
    )
    drawn = (
        sum((rows[n].treated.total_drawn_ml for n in sitting.tonight), np.zeros(size))
        + by_use["upper_sheets"] * (1 + lower)
        + by_use["vials"]
    ) * (1 + number("fluid", "spare_share"))
    fluid = draws.amount(whole, drawn)
    doubts = _table_doubts(camp, rules, whole, packing, trays, done, start, end)
    return TablePlan(
        order=sitting.tonight,
        waiting=tuple(sitting.waiting),
        not_for_fluid=tuple(n for n, p in plans.items() if not p.fit_for_fluid),
        people=len(camp.people),
        minutes=minutes,
        minutes_low=round(minutes * number("pace", "low"), 1),
        minutes_high=round(minutes * number("pace", "high"), 1),
        minutes_by_task=by_task,
        start=start,
        end=end,
        clock=clock,
        trays=trays,
        tray_bound=packing.bound,
        fixative_ml=whole,
        fixative_low_ml=round(fluid.low, 1),
        fixative_high_ml=round(fluid.high, 1),
        fluid_by_use_ml=by_use,
        syringes=_syringes(done, camp, rules),
        needles=_needles(done, rules),
        lay_ready=_lay_ready(camp, done, trays, whole, rules),
        earliest_out=order.rounded_up(end + datetime.timedelta(hours=max((p.tray_h for p in done), default=0.0))),
        cautions=warnings.tonight(
            cautions,
            plans.values(),
            ((r.weighed.animal.form, warnings.conditions_of(r.facts)) for r in rows.values()),
            day,
        ),
        doubts=doubts,
        defaults_used=camp.defaults_used,
    )


def _clock(
    by_task: Mapping[str, float],
    done: Sequence[AnimalPlan],
    trays: Sequence[Tray],
    start: datetime.datetime,
    rules: evening_rules.EveningRules,
) -> tuple[tuple[Moment, ...], datetime.datetime]:
    names = tuple(p.animal.field_number for p in done)
    ready = rules.number("evening", "lay_ready_minutes")
    moments = [
        Moment(
            start - datetime.timedelta(minutes=ready),
            -ready,
            _("lay everything ready; the fixative stays shut"),
            "before",
        )
    ]
    passed = 0.0

    def line(what: str, minutes: float, round_name: str) -> None:
        nonlocal passed
        if minutes <= 0:
            return
        moments.append(Moment(start + datetime.timedelta(minutes=passed), passed, what, round_name, names))
        passed += minutes

    line(
        _("tags, photographs, measures, tissue: no fixative near"),
        by_task["measure"] + by_task["photograph"] + by_task["tissue"],
        "before",
    )
    line(_("prick every skin that needs it; the fixative is still shut"), by_task["prick"], "prick")
    line(_("open the fixative: eye protection on, fill each animal, hind end first"), by_task["fill"], "fill")
    line(_("pose each on the lower sheet"), by_task["pose"], "pose")
    line(_("cover, and close each tray as soon as it is full"), by_task["cover"], "cover")
    end = start + datetime.timedelta(minutes=passed)
    moments.append(Moment(end, round(passed, 1), _("all trays closed; wash, write, label"), "", names))
    for tray in trays:
        hours = max((p.tray_h for p in done if p.place and p.place.tray == tray.number), default=0.0)
        out = order.rounded_up(end + datetime.timedelta(hours=hours))
        moments.append(
            Moment(
                out,
                round((out - start).total_seconds() / 60, 1),
                _("tray {number} may be opened at the earliest").format(number=tray.number),
                "",
                tray.field_numbers,
            )
        )
    return tuple(replace(m, minutes=round(m.minutes, 1)) for m in moments), end


def _syringes(done: Sequence[AnimalPlan], camp: Camp, rules: evening_rules.EveningRules) -> dict[str, int]:
    """For each animal the smallest syringe that holds it, or the largest filled again; two of each, one is a spare."""
    sizes = rules.syringes_ml
    if camp.syringes and any(camp.syringes.values()):
        sizes = tuple(sorted(size for size, count in camp.syringes.items() if count))
    needed: dict[str, int] = {}
    for plan in done:
        if plan.injections:
            needed[f"{next((s for s in sizes if s >= plan.total_ml), sizes[-1]):g}"] = 2
    return dict(sorted(needed.items(), key=lambda item: float(item[0])))


def _needles(done: Sequence[AnimalPlan], rules: evening_rules.EveningRules) -> dict[int, int]:
    used: dict[int, int] = {}
    for plan in done:
        for gauge in {i.gauge for i in plan.injections}:
            used[gauge] = used.get(gauge, 0) + 1
    per = rules.number("tools", "animals_per_needle")
    # One more than the work needs: a bent point is thrown away, never used on.
    return {gauge: math.ceil(count / per) + 1 for gauge, count in sorted(used.items())}


def _lay_ready(
    camp: Camp, done: Sequence[AnimalPlan], trays: Sequence[Tray], fixative_ml: float, rules: evening_rules.EveningRules
) -> tuple[str, ...]:
    vials = sum(1 for p in done if p.animal.form in VIAL_FORMS)
    lines = [
        _("fixative, shut: {volume} of {percent:g} % formalin (that is about {fa:.1f} % formaldehyde)").format(
            volume=amount(fixative_ml), percent=camp.working_formalin_percent, fa=formaldehyde_w_v(camp, rules)
        ),
        _("trays with tight lids: {count}; sheets: {sheets}").format(count=len(trays), sheets=2 * len(trays)),
        _("clean water for eyes: enough to rinse for 15 minutes, within reach"),
        _("gloves, eye protection for everyone, sharps box, absorbent for spills"),
        _("tags and thread, pencil and carbon ink, this plan"),
        _("tissue vials with strong alcohol, clean tools, no flame near"),
        _("board, pins, twists of paper for mouths, ruler, callipers, scales"),
    ]
    syringes = _syringes(done, camp, rules)
    if syringes:
        lines.append(
            _("syringes: {list}").format(list=", ".join(f"{count} x {size} mL" for size, count in syringes.items()))
        )
    needles = _needles(done, rules)
    if needles:
        lines.append(
            _("needles: {list}").format(list=", ".join(f"{count} x {gauge} G" for gauge, count in needles.items()))
        )
    if any(
        i.site == "hindgut" and p.body.diameter_mm < 20 and not p.body.limb_lengths_mm
        for p in done
        for i in p.injections
    ):
        lines.append(_("one long blunt needle for the slender bodies"))
    if vials:
        lines.append(_("vials or jars for larvae and eggs: {count}").format(count=vials))
    return tuple(lines)


def _told_together(done: Sequence[AnimalPlan]) -> list[str]:
    """What many animals share, said once: who is past saving, who belongs on ice, whose supply is short."""
    with_kind = {kind: [p for p in done if kind in p.doubt_kinds] for kind in ("past", "ice", "supply")}
    told = []
    if with_kind["past"]:
        told.append(
            _(
                "past saving by warmth and hours, so press the belly first and prepare what is soft otherwise: {list}"
            ).format(list=", ".join(p.animal.field_number for p in with_kind["past"]))
        )
    if with_kind["ice"]:
        told.append(
            _(
                "on ice now, dry in the bag, until their turn, for their hind guts do not last until filling: {list}"
            ).format(
                list=", ".join(
                    _("{n} ({h:.1f} h left)").format(n=p.animal.field_number, h=p.urgency_h) for p in with_kind["ice"]
                )
            )
        )
    if with_kind["supply"]:
        told.append(
            _("short of formaldehyde in the tray, so into the bath without delay afterwards: {list}").format(
                list=", ".join(
                    _("{n} ({r:.1f} of what it can bind)").format(n=p.animal.field_number, r=p.supply_ratio.value)
                    for p in with_kind["supply"]
                    if p.supply_ratio
                )
            )
        )
    return told


def _table_doubts(
    camp: Camp,
    rules: evening_rules.EveningRules,
    fixative_ml: float,
    packing: Packing,
    trays: Sequence[Tray],
    done: Sequence[AnimalPlan],
    start: datetime.datetime,
    end: datetime.datetime,
) -> tuple[str, ...]:
    doubts = _told_together(done)
    warm = max(camp.temperature_at(start), camp.temperature_at(end))
    if warm >= rules.number("heat", "set_nothing_c"):
        doubts.append(
            _("at {t:.0f} degrees C nothing should be set: decay outruns the fixative. Wait for the"
              " night or find a cooler"
              " place.").format(t=warm)
        )  # fmt: skip
    elif warm >= rules.number("heat", "colours_suffer_c"):
        doubts.append(_("at {t:.0f} degrees C colours suffer: find shade or wait for a cooler hour").format(t=warm))
    if camp.working_solution_ml is not None and camp.working_solution_ml < fixative_ml:
        doubts.append(
            _("only {have} of working solution is at hand and {need} is needed: mix {more} more first").format(
                have=amount(camp.working_solution_ml),
                need=amount(fixative_ml),
                more=amount(fixative_ml - camp.working_solution_ml),
            )
        )  # fmt: skip
    hours = (end - start).total_seconds() / 3600
    if hours > rules.number("evening", "longest_whole_h"):
        dry = hours - sum(order.fixing_minutes(p.minutes_by_task) for p in done) / 60
        doubts.append(
            _(
                "the whole takes {hours:.1f} h, and {dry:.1f} h of it are measures, photographs and tissue: begin those"
                " earlier in the day, in the hours in which field work rests"
            ).format(hours=hours, dry=dry)
        )
    counts = [t.count for t in camp.trays]
    if all(c is not None for c in counts) and len(trays) > sum(c or 0 for c in counts):
        doubts.append(
            _("trays: {need} needed, {have} at hand").format(need=len(trays), have=sum(c or 0 for c in counts))
        )
    if camp.sheets is not None and camp.sheets < 2 * len(trays):
        doubts.append(_("sheets: {need} needed, {have} at hand").format(need=2 * len(trays), have=camp.sheets))
    if camp.syringes is not None:
        for size, need in _syringes(done, camp, rules).items():
            have = camp.syringes.get(float(size), 0)
            if have < need:
                doubts.append(
                    _("syringes of {size} mL: {need} wanted, one of them a spare; {have} at hand").format(
                        need=need, size=size, have=have
                    )
                )
    if camp.needles is not None:
        for gauge, count in _needles(done, rules).items():
            if camp.needles.get(gauge, 0) < count:
                doubts.append(
                    _("needles of {gauge} G: {need} needed, {have} at hand").format(
                        need=count, gauge=gauge, have=camp.needles.get(gauge, 0)
                    )
                )
    if trays:
        doubts.append(
            _(
                "what the lower sheet holds is an assumption: as much as the upper one ({low:g} to {high:g} times)"
            ).format(low=rules.number("sheets", "lower_low"), high=rules.number("sheets", "lower_high"))
        )
    early = [p.animal.field_number for p in done if p.animal.died_at and p.animal.died_at > start]
    if early:
        doubts.append(_("death is written later than the start for: {list}").format(list=", ".join(early)))
    if packing.too_large:
        doubts.append(_("fits no tray: {list}").format(list=", ".join(packing.too_large)))
    return tuple(doubts)
