"""The plan of one animal: what it weighs, whether it belongs in fluid, and every step with its reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.book.animals import Animal
from keepfast.findings import Finding
from keepfast.plan import draws, filling
from keepfast.plan.camp import Camp
from keepfast.plan.cautions import Warner, conditions_of
from keepfast.plan.objects import Amount, Injection, Pose, Prick, Step
from keepfast.rules import groups
from keepfast.rules.evening import EveningRules
from keepfast.rules.protocol import PoseRule, Protocol, Saying
from keepfast.rules.tables import holds, value_at
from keepfast.science import body as bodies
from keepfast.science.mass import likely_slip, mass_from_length, mass_line
from keepfast.words import _

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Weighed:
    """One animal with its mass, its draws and its body; or the finding that says what is missing."""

    animal: Animal
    mass_g: Amount
    mass_drawn_g: Array
    body: bodies.Body
    doubts: tuple[str, ...]


def weigh(animal: Animal, rules: EveningRules, seed: int, size: int) -> Weighed | Finding:
    """Mass and body of an animal: measured where they were, estimated with a range where not."""
    rng = draws.generator(seed, f"mass {animal.field_number}")
    doubts: list[str] = []
    length, mass = animal.length_mm, animal.mass_g
    form, group = animal.form, animal.group
    tail = animal.tail_mm
    if tail is None and animal.tail_state == "broken":
        tail = 0.0
        doubts.append(_("the tail is broken and its stump was not measured; none is planned for"))
    measured = {
        name
        for name in ("length_mm", "mass_g", "diameter_mm", "tail_mm", "head_width_mm")
        if getattr(animal, name) is not None
    }
    span = (1.0, 1.0)
    if length is not None and animal.length_kind == "total" and form != "larva":
        length, tail, span = _parts_of_total(form, length, tail)
        if animal.tail_mm is None:
            measured -= {"length_mm"}
            doubts.append(
                _(
                    "only the total length is known: {length:.0f} mm to the vent is taken, by a tail that is typical of"
                    " the form. Measure the tail."
                ).format(length=length)
            )
    if length is None:
        if mass is None:
            return _needs(animal, _("it has neither length nor mass"))
        length = float(bodies.length_from_mass_mm(form, mass, group, animal.count))
        doubts.append(_("length was not measured; {length:.0f} mm is typical of this mass").format(length=length))
    if mass is not None:
        sd = rules.number("balance", "relative_sd")
        drawn = mass * np.exp(sd * rng.standard_normal(size))
        amount = draws.amount(mass, drawn, measured=True, source=_("weighed"))
        doubts += _slip_doubts(replace(animal, length_mm=length), rules) if animal.length_mm is not None else []
    else:
        by_girth = animal.diameter_mm is not None or form == "egg_clutch"
        if by_girth:
            if form == "egg_clutch":
                middle = float(bodies.clutch_mass_g(length, animal.count))
                one = bodies.mass_from_girth("larva", 10.0, 1.0)
                low, high = middle * float(one.low / one.median), middle * float(one.high / one.median)
                source = _("spheres of the egg's diameter")
            else:
                assert animal.diameter_mm is not None
                estimate = bodies.mass_from_girth(form, length, animal.diameter_mm, tail)
                middle, low, high = (animal.count * float(value) for value in estimate)
                source = _("from length and girth, by the form's outline")
        else:
            try:
                low, middle, high = (
                    float(getattr(mass_from_length(form, length * factor, group), point))
                    for point, factor in (("low", span[0]), ("median", 1.0), ("high", span[1]))
                )
            except ValueError:
                return _needs(animal, _("no mass can be estimated from length alone for this form"))
            source = mass_line(form, group).source
        drawn = draws.spread(rng, low, middle, high, size)
        # The relation's own 5 and 95 % points are stated, not those of one set of draws.
        amount = Amount(middle, low, high, False, source)
        doubts.append(
            _("mass was not weighed: about {middle:.3g} g ({low:.3g} to {high:.3g}).").format(
                middle=middle, low=low, high=high
            )
            + ("" if by_girth else " " + _("The amounts hang on it: weigh it, or calliper the trunk at its thickest."))
            + " "
            + _("Estimated by: {source}.").format(source=source)
        )
    body = bodies.body_of(
        form,
        length,
        amount.value,
        diameter_mm=animal.diameter_mm if form != "egg_clutch" else None,
        tail_mm=tail,
        head_width_mm=animal.head_width_mm,
        count=animal.count,
        measured=frozenset(measured),
    )
    if mass is not None and animal.diameter_mm is not None and form != "egg_clutch":
        expected = animal.count * float(bodies.mass_from_girth(form, length, animal.diameter_mm, tail).median)
        factor = mass / expected
        if not 1 / 2.5 < factor < 2.5:
            doubts.append(
                _("mass and girth do not fit: {mass:g} g against about {girth:.3g} g from a girth of {d:g} mm").format(
                    mass=mass, girth=expected, d=animal.diameter_mm
                )
                + " "
                + _("Weigh and calliper it again.")
            )
    return Weighed(animal, amount, drawn, body, tuple(doubts))


# A tail may be this much longer or shorter than is typical of the form: an assumption, after 1 to 3 times the
# snout-vent length in lizards and 0.1 to 0.3 in snakes.
_TAIL_FACTOR = 1.6


def _parts_of_total(form: str, total_mm: float, tail_mm: float | None) -> tuple[float, float, tuple[float, float]]:
    """Snout-vent and tail out of a total length, and how much shorter or longer the first may be, as factors."""
    if tail_mm is not None and tail_mm < total_mm:
        return total_mm - tail_mm, tail_mm, (1.0, 1.0)
    share = float(bodies.default_tail_mm(form, 1.0))
    trunk = total_mm / (1 + share)
    return trunk, total_mm - trunk, ((1 + share) / (1 + share * _TAIL_FACTOR), (1 + share) / (1 + share / _TAIL_FACTOR))


def _needs(animal: Animal, why: str) -> Finding:
    return Finding(
        why,
        _("Give its mass (mass_g), or its girth: the trunk callipered at its thickest (diameter_mm)."),
        row=animal.row,
        field="mass_g",
        subject=animal.field_number,
    )


SLIP_WORDS = {
    "mass_tenfold": "a decimal place in the mass: was it {mass_tenth:g} g?",
    "mass_tenth": "a decimal place in the mass: was it {mass_ten:g} g?",
    "length_cm_for_mm": "centimetres written for millimetres: was it {length_ten:g} mm?",
    "length_tenfold": "a nought too many in the length: was it {length_tenth:g} mm?",
    "swapped": "length and mass swapped: was it {mass:g} mm and {length:g} g?",
    "unexplained": "none of the usual ones explains it, so measure and weigh again",
}


def _slip_doubts(animal: Animal, rules: EveningRules) -> list[str]:
    length, mass = animal.length_mm, animal.mass_g
    if length is None or mass is None:
        return []
    try:
        slip = likely_slip(animal.form, length, mass, animal.group, limit_sd=rules.number("slip", "limit_sd"))
    except ValueError:
        return []
    if slip is None:
        return []
    return [
        _("mass and length do not fit ({factor} times the usual for {length:g} mm); likeliest slip: ").format(
            factor=f"{slip.factor:.0f}" if slip.factor >= 100 else f"{slip.factor:.2g}", length=length
        )
        + _(SLIP_WORDS[slip.kind]).format(
            mass=mass,
            length=length,
            mass_ten=mass * 10,
            mass_tenth=mass / 10,
            length_ten=length * 10,
            length_tenth=length / 10,
        )
    ]


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
