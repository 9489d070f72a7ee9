"""The plan of one animal: whether it belongs in fluid, and every step with its reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.plan import draws, filling
from keepfast.plan.camp import Camp
from keepfast.plan.cautions import Warner, conditions_of
from keepfast.plan.objects import Amount, Injection, Pose, Prick, Step
from keepfast.plan.weighing import Weighed
from keepfast.rules import groups
from keepfast.rules.protocol import PoseRule, Protocol, Saying
from keepfast.rules.tables import holds, value_at
from keepfast.science import body as bodies
from keepfast.words import _

Array = npt.NDArray[np.float64]


def facts_of(weighed: Weighed, camp: Camp, protocol: Protocol, temperature_c: float) -> dict[str, Any]:
    """What a rule may ask about an animal."""
    animal, body = weighed.animal, weighed.body
    genus, certain = groups.genus_of(animal.taxon)
    venomous = genus in protocol.venomous_genera
    if protocol.venomous_if_unknown and not venomous:
        # Not named with certainty, or of a genus nobody listed as harmless: handled as if it had venom.
        venomous = not certain or groups.belonging(animal.taxon) is None
    return {
        "mass_g": weighed.mass_g.value,
        "length_mm": body.length_mm,
        "diameter_mm": body.diameter_mm,
        "tail_mm": body.tail_mm,
        "tail_over_length": body.tail_mm / body.length_mm,
        "head_width_mm": body.head_width_mm,
        "head_over_length": body.head_width_mm / body.length_mm,
        "limb_diameter_mm": 2 * body.limb_radius_mm,
        "temperature_c": temperature_c,
        "count": animal.count,
        "form": animal.form,
        "sex": animal.sex,
        "stage": animal.stage,
        "reproductive_state": animal.reproductive_state,
        "gut": animal.gut,
        "condition": animal.condition,
        "tail_state": animal.tail_state,
        "genus": genus or None,
        "venomous": venomous,
        "approved_protocol": bool(camp.approved_protocol),
        "has_limbs": bool(body.limb_lengths_mm),
    }


@dataclass(frozen=True)
class Treated:
    """What the protocol does to one animal."""

    fit_for_fluid: bool
    destiny: str
    fitness_reason: str
    steps: tuple[Step, ...]
    pricks: tuple[Prick, ...]
    injections: tuple[Injection, ...]
    total_ml: float
    total_drawn_ml: Array
    retained_ml: Amount | None
    retained_drawn_ml: Array
    pose: Pose
    tag: str
    tray_h: float
    tray_reason: str
    doubts: tuple[str, ...]


def treat(weighed: Weighed, protocol: Protocol, facts: Mapping[str, Any], warner: Warner, seed: int) -> Treated:
    """Apply a protocol to one animal."""
    animal, body = weighed.animal, weighed.body
    size = weighed.mass_drawn_g.size
    rng = draws.generator(seed, f"fill {animal.field_number}")
    fitness = next((rule for rule in protocol.fitness if holds(rule.when, facts)), None)
    destiny = fitness.destiny if fitness else "fluid"
    fit = destiny == "fluid"
    doubts = [f"{_(rule.action)}. {_(rule.reason)}" for rule in protocol.doubts if holds(rule.when, facts)]
    no_needle = next((rule for rule in protocol.no_needle if holds(rule.when, facts)), None)
    if fit:
        pricks, prick_rules = filling.pricks(protocol, body, facts)
        filled = filling.fill(protocol, body, facts, weighed.mass_drawn_g, rng)
    else:
        pricks, prick_rules = (), {}
        filled = filling.Filling((), {}, 0.0, np.zeros(size))

    steps: list[Step] = []
    conditions = conditions_of(facts)

    def add(
        round_name: str,
        key: str,
        action: str,
        reason: str,
        source: str,
        p: tuple[int, ...] = (),
        i: tuple[int, ...] = (),
        *,
        hazards: str | None = None,
    ) -> None:
        # The hazards are those of the round, unless no needle is used in it.
        called = warner.called_up(round_name if hazards is None else hazards, key, animal.form, fit, conditions)
        told = {c for step in steps for c in step.cautions}
        # Each caution stands once on a card, at the first step where its hazard arises.
        steps.append(Step(round_name, key, action, reason, source, tuple(k for k in called if k not in told), p, i))

    def say(round_name: str, rule: Saying, *, hazards: str | None = None) -> None:
        add(round_name, rule.key, _(rule.action), _(rule.reason), protocol.source_words(rule.source), hazards=hazards)

    tag_rule = next((rule for rule in protocol.tags if holds(rule.when, facts)), None)
    for rule in protocol.before:
        # A body that will not be a fluid voucher is not opened for the needle, but its data and tissue are taken.
        if holds(rule.when, facts) and (fit or rule.key in _ALWAYS):
            say("before", rule)
            if rule.key == "tag_tied" and tag_rule is not None:
                say("before", tag_rule)
    if tag_rule is not None and not any(step.key == tag_rule.key for step in steps):
        say("before", tag_rule)
    if not fit and fitness is not None:
        words = (
            _("Not into fluid: prepare it as a skeleton") if destiny == "skeleton" else _("Not into fluid: tissue only")
        )
        add("before", f"destiny_{destiny}", words, _(fitness.reason), protocol.source_words(fitness.source))
    if fit:
        if no_needle is not None:
            say("prick", no_needle, hazards="")
        by_rule: dict[str, list[int]] = {}
        for prick in pricks:
            by_rule.setdefault(prick_rules[prick.number].key, []).append(prick.number)
        for prick_rule in protocol.pricks:
            if prick_rule.key in by_rule:
                add(
                    "prick", prick_rule.key, _(prick_rule.action), _(prick_rule.reason),
                    protocol.source_words(prick_rule.source), tuple(by_rule[prick_rule.key]),
                )  # fmt: skip
        if filled.injections:
            for rule in protocol.filling:
                if rule.key != "firm_never_swollen" and holds(rule.when, facts):
                    say("fill", rule)
            by_fill: dict[str, list[int]] = {}
            for number, fill_rule in filled.rule_of.items():
                by_fill.setdefault(fill_rule.key, []).append(number)
            for fill_rule in protocol.fills:
                if fill_rule.key in by_fill:
                    add(
                        "fill", fill_rule.key, _(fill_rule.action), _(fill_rule.reason),
                        protocol.source_words(fill_rule.source), (), tuple(by_fill[fill_rule.key]),
                    )  # fmt: skip
            for rule in protocol.filling:
                if rule.key == "firm_never_swollen":
                    say("fill", rule)
        elif no_needle is not None and not protocol.fills:
            for rule in protocol.filling:
                if holds(rule.when, facts):
                    say("fill", rule, hazards="pose")
    pose_rule = next((rule for rule in protocol.poses if holds(rule.when, facts)), protocol.poses[-1])
    pose = _pose(pose_rule, body)
    if fit:
        add("pose", pose_rule.key, _(pose_rule.action), _(pose_rule.reason), protocol.source_words(pose_rule.source))
        for rule in protocol.posing:
            if holds(rule.when, facts):
                say("pose", rule)
        for rule in protocol.covering:
            if holds(rule.when, facts):
                say("cover", rule)
    tray_rule = next((rule for rule in protocol.tray if holds(rule.when, facts)), protocol.tray[-1])
    tray_h = value_at(tray_rule.hours, weighed.mass_g.value) if fit else 0.0
    retained = None
    share = draws.spread(rng, *protocol.retained_share, size)
    retained_drawn = filled.total_drawn_ml * np.minimum(share, 1.0)
    if filled.injections:
        middle = filled.total_ml * protocol.retained_share[1]
        retained = draws.amount(
            round(middle, 3), retained_drawn, source=protocol.source_words(protocol.retained_source)
        )
    return Treated(
        fit,
        destiny,
        _(fitness.reason) if fitness else "",
        tuple(steps),
        pricks,
        filled.injections,
        filled.total_ml,
        filled.total_drawn_ml,
        retained,
        retained_drawn,
        pose,
        _(tag_rule.action) if tag_rule else "",
        tray_h,
        _("{reason} Sources give {low:g} to {high:g} h.").format(
            reason=_(tray_rule.reason), low=tray_rule.low_h, high=tray_rule.high_h
        )
        if fit
        else "",
        tuple(doubts),
    )


# What is done to every animal, whatever becomes of it.
_ALWAYS = ("death_confirmed", "tag_tied", "life_photographs", "measured", "tissue", "fangs", "jaws")


def _pose(rule: PoseRule, body: bodies.Body) -> Pose:
    length = body.length_mm * body.count ** (1 / 3)  # one row of many is a clutch or a lot, loose in its vial
    measures = (length, body.diameter_mm, (length * body.diameter_mm) ** 0.5)
    width, height = (
        round(sum(factor * measure for factor, measure in zip(factors, measures, strict=True)), 1)
        for factors in (rule.width, rule.height)
    )
    return Pose(rule.pose, _(rule.action), _(rule.reason), width, height)
