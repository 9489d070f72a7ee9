"""Where one body is pricked and filled, and with how much, by its protocol."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.plan import draws
from keepfast.plan.objects import Injection, Prick
from keepfast.rules.protocol import FillRule, PrickRule, Protocol
from keepfast.rules.tables import Points, holds, step_at, value_at
from keepfast.science.body import Body

Array = npt.NDArray[np.float64]

# Grids that a syringe can be read on, by the size of the amount: assumption, from usual marks.
_GRIDS = ((0.1, 0.01), (1.0, 0.05), (5.0, 0.1), (20.0, 0.5), (math.inf, 1.0))


@dataclass(frozen=True)
class Filling:
    """All fillings of one body with their rules, and the draws of their sum."""

    injections: tuple[Injection, ...]
    rule_of: Mapping[int, FillRule]  # number of the injection: its rule
    total_ml: float
    total_drawn_ml: Array


def _grid(volume_ml: float) -> float:
    return next(grid for limit, grid in _GRIDS if volume_ml <= limit)


def readable_ml(volume_ml: float) -> float:
    """An amount rounded to marks that a syringe of its size has; never falls when the amount rises."""
    grid = _grid(volume_ml)
    return round(max(round(volume_ml / grid), 1) * grid, 4)


def readable_amounts(volumes_ml: Sequence[float]) -> list[float]:
    """Amounts rounded to marks, each by its own size, whose sum is the rounded sum.

    Rounded one by one they would lose or gain a mark here and there, and a body that needs more could be given less.
    Each grid divides the coarser ones, so the rest can always be spread in whole marks, where a site is furthest off.
    """
    rounded = [readable_ml(v) for v in volumes_ml]
    rest = readable_ml(sum(volumes_ml)) - sum(rounded)
    grids = [_grid(v) for v in volumes_ml]
    for _mark in range(100 * len(volumes_ml)):
        step = 1 if rest > 0 else -1
        fitting = [
            k for k, grid in enumerate(grids) if grid <= abs(rest) + 1e-9 and (step > 0 or rounded[k] > grid + 1e-9)
        ]
        if not fitting:
            break
        k = max(fitting, key=lambda k: (step * (volumes_ml[k] - rounded[k]) / volumes_ml[k], -k))
        rounded[k] = round(rounded[k] + step * grids[k], 4)
        rest -= step * grids[k]
    return rounded


def pricks(
    protocol: Protocol, body: Body, facts: Mapping[str, Any]
) -> tuple[tuple[Prick, ...], Mapping[int, PrickRule]]:
    """The pricks in the order of work, numbered, with the rule of each."""
    made: list[Prick] = []
    rules: dict[int, PrickRule] = {}
    if any(holds(rule.when, facts) for rule in protocol.no_needle):
        return (), rules
    for rule in protocol.pricks:
        if not holds(rule.when, facts) or (rule.region in ("tail", "tail base") and body.tail_mm <= 0):
            continue
        start, end = (
            (body.length_mm + share * body.tail_mm) if rule.region in ("tail", "tail base") else share * body.length_mm
            for share in rule.at
        )
        places = [(start + end) / 2]
        if rule.spacing_mm is not None:
            # Not more than the rule's count of rows' worth on a long tail: each hole is a fault, too.
            number = max(2, math.floor((end - start) / rule.spacing_mm) + 1)
            places = [float(v) for v in np.linspace(start, end, number)]
        for at in places:
            count = rule.count if rule.spacing_mm is None else 1
            made.append(Prick(len(made) + 1, at, rule.region, rule.side, count, rule.reason))
            rules[len(made)] = rule
    return tuple(made), rules


def fill(
    protocol: Protocol,
    body: Body,
    facts: Mapping[str, Any],
    mass_drawn_g: Array,
    rng: np.random.Generator,
) -> Filling:
    """The fillings in the order of work, numbered, with amounts, needles and depths.

    Parameters
    ----------
    mass_drawn_g : array (draws,)
        What the animal may weigh; girth follows it where it was not measured.
    """
    size = mass_drawn_g.size
    nothing = Filling((), {}, 0.0, np.zeros(size))
    if any(holds(rule.when, facts) for rule in protocol.no_needle):
        return nothing
    rules = [
        rule
        for rule in protocol.fills
        if holds(rule.when, facts)
        and not (rule.of_tail and body.tail_mm <= 0)
        and not (rule.kind == "limbs" and not body.limb_lengths_mm)
    ]
    if not rules:
        return nothing
    total = value_at(protocol.total_ml, body.mass_g, "proportional")
    total_drawn = _table(protocol.total_ml, mass_drawn_g)
    if protocol.ceiling_ml_per_cm is not None:
        most = protocol.ceiling_ml_per_cm * body.length_mm / 10
        total, total_drawn = min(total, most), np.minimum(total_drawn, most)
    # What yolk takes comes on top: it does not make the hind gut's share smaller.
    shares = sum(rule.share or 0.0 for rule in rules if not rule.on_top) or 1.0
    relative = mass_drawn_g / body.mass_g
    planned: list[tuple[FillRule, float, float, str, Array]] = []
    rows: dict[str, list[tuple[float, str, float]]] = {}
    for rule in rules:
        rows[rule.key] = _places(rule, body, rows.get(rule.follows, ()))
        for at, side, fraction in rows[rule.key]:
            if rule.share is not None:
                ml, drawn = total * rule.share / shares * fraction, total_drawn * rule.share / shares * fraction
            else:
                measure, measure_drawn = _measure(rule.ml_by, body, facts, relative)
                ml = value_at(rule.ml, measure, "proportional") * fraction
                drawn = _table(rule.ml, measure_drawn) * fraction
            planned.append((rule, at, ml, side, drawn))
    capped = 1.0
    whole = sum(p[2] for p in planned)
    if protocol.ceiling_ml_per_g is not None and whole > protocol.ceiling_ml_per_g * body.mass_g:
        capped = protocol.ceiling_ml_per_g * body.mass_g / whole
    judgement = draws.spread(rng, protocol.total_low, 1.0, protocol.total_high, size)
    gauge = round(step_at(protocol.gauges, body.mass_g))
    injections: list[Injection] = []
    rule_of: dict[int, FillRule] = {}
    sum_drawn = np.zeros(size)
    volumes = readable_amounts([p[2] * capped for p in planned])
    for (rule, at, _ml, side, drawn), volume in zip(planned, volumes, strict=True):
        each = drawn * capped * judgement
        sum_drawn += each
        low, high = (float(v) for v in np.percentile(each, [5, 95]))
        number = len(injections) + 1
        injections.append(
            Injection(
                number=number,
                at_mm=at,
                site=rule.site,
                side=side,
                depth_mm=round(_depth(rule, body, at), 1),
                gauge=gauge,
                volume_ml=volume,
                low_ml=min(low, volume),
                high_ml=max(high, volume),
                reason=rule.reason,
                source=protocol.source_words(rule.source),
            )
        )
        rule_of[number] = rule
    return Filling(tuple(injections), rule_of, round(sum(i.volume_ml for i in injections), 4), sum_drawn)


def _table(points: Points, x: Array) -> Array:
    """A breakpoint table over many values at once, its ends proportional."""
    px, py = np.array([p[0] for p in points]), np.array([p[1] for p in points])
    inside = np.interp(x, px, py)
    beyond = np.where(x > px[-1], py[-1] * x / px[-1], inside)
    return np.asarray(np.where(x < px[0], py[0] * x / px[0], beyond))


def _places(
    rule: FillRule, body: Body, followed: Sequence[tuple[float, str, float]] = ()
) -> list[tuple[float, str, float]]:
    """Places of a rule: mm along the axis, side, and the fraction of the amount that each takes.

    ``followed`` are the places of the row that this one goes on from: spacing and sides run on.
    """
    base, span = (body.length_mm, body.tail_mm) if rule.of_tail else (0.0, body.length_mm)
    start, end = base + rule.at[0] * span, base + rule.at[1] * span
    if rule.kind == "limbs":
        at = (start + end) / 2
        half = 0.5 if rule.share is not None else 1.0
        return [(at, "left", half), (at, "right", half)]
    if rule.kind == "point" and rule.side == "both":
        at = (start + end) / 2
        return [(at, "left", 0.5), (at, "right", 0.5)]
    if rule.kind == "point":
        return [((start + end) / 2, rule.side, 1.0)]
    assert rule.spacing_mm is not None
    first_left = True
    if followed:
        end, first_left = followed[-1][0] - rule.spacing_mm, followed[-1][1] != "left"
        if end < start:
            return []
    number = max(1, math.floor((end - start) / rule.spacing_mm + 1e-9) + 1)
    places = []
    for k in range(number):
        # From behind on the trunk, where decay starts; from the base on the tail, where the muscle is.
        at = start + k * rule.spacing_mm if rule.of_tail else end - k * rule.spacing_mm
        thin = float(body.radius_at(at)) / (body.diameter_mm / 2)
        if rule.of_tail:
            thin /= float(body.radius_at(base + 1e-6)) / (body.diameter_mm / 2)
        side = ("left" if (k % 2 == 0) == first_left else "right") if rule.side == "alternate" else rule.side
        places.append((at, side, min(thin, 1.0) ** 2))
    return places


def _measure(name: str, body: Body, facts: Mapping[str, Any], relative: Array) -> tuple[float, Array]:
    """The measure that a table is against, and its draws: girths go with the root of the mass unless callipered."""
    value = float(facts[name])
    if name == "mass_g":
        return value, value * relative
    callipered = (name == "diameter_mm" and "diameter_mm" in body.measured) or (
        name == "head_width_mm" and "head_width_mm" in body.measured
    )
    return value, np.full_like(relative, value) if callipered else value * np.sqrt(relative)


def _depth(rule: FillRule, body: Body, at_mm: float) -> float:
    """How deep the point goes below the skin."""
    radius = body.limb_radius_mm if rule.kind == "limbs" and "limb" in rule.site else float(body.radius_at(at_mm))
    return rule.depth_share * radius
