"""Mass and body of one animal: measured where they were, estimated with a range where not, and what does not fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from keepfast.book.animals import Animal
from keepfast.findings import Finding
from keepfast.plan import draws
from keepfast.plan.objects import Amount
from keepfast.rules.evening import EveningRules
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
    count = animal.count
    if form == "egg_clutch" and count == 1 and mass is not None and animal.length_mm is not None:
        count = max(1, round(mass / float(bodies.clutch_mass_g(length, 1))))
        if count > 1:
            doubts.append(
                _("the eggs were not counted: about {count} by mass and diameter are taken").format(count=count)
            )
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
        count=count,
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
