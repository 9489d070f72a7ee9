"""How far apart the fillings of a long body may lie, in two dimensions, at the medians and at the slow end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from keepfast.plan.race_clock import spoil_hours
from keepfast.plan.race_spots import Chance, Spot
from keepfast.plan.race_verdict import finite, hours_words
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules
from keepfast.science.penetration_plane import Depots, between
from keepfast.science.ranges import within
from keepfast.science.warmth import Warmth
from keepfast.words import _


def depots_of(
    spots: Sequence[Spot], spacings_mm: Sequence[float], depots_ml: Sequence[float], rules: RaceRules
) -> Depots:
    """Long bodies with a row of fillings, at the medians of skin, retention and sheet."""
    chance = Chance.medians(rules)
    radius = np.array([s.radius_mm for s in spots])
    return Depots(
        radius_mm=radius,
        cavity_radius_mm=0.5 * radius,
        spacing_mm=np.asarray(spacings_mm, dtype=float),
        depot_ml=np.asarray(depots_ml, dtype=float) * float(chance.retained[0]),
        fluid_share=np.full(radius.size, rules.number("spacing", "fluid_share")),
        skin_mm=np.minimum(np.array([s.skin_share for s in spots]) * radius, 1.0),
        skin_resistance_mm=np.array([s.skin_resistance_mm[1] * s.skin_opened for s in spots]),
        sheet_mm=np.array([s.sheet_mm for s in spots]) * float(chance.sheet[0]),
    )


@dataclass(frozen=True)
class Spacing:
    """One distance between fillings: when the place half-way is arrested and half bound, and the time in hand."""

    spacing_mm: float
    arrest_h: float | None
    half_bound_h: float | None
    margin_h: float | None
    pessimist_margin_h: float | None

    @property
    def suffices(self) -> bool:
        """At the medians and at the slow end fixative is first."""
        return _positive(self.margin_h) and _positive(self.pessimist_margin_h)


@dataclass(frozen=True)
class SpacingAnswer:
    """How far apart fillings may lie in a long body tonight."""

    diameter_mm: float
    depot_ml: float
    temperature_c: float
    widest_mm: float | None  # that suffices also at the slow end
    widest_at_medians_mm: float | None
    tried: tuple[Spacing, ...]
    practice: str
    says: str


def spacing_for(
    diameter_mm: float,
    depot_ml: float,
    warmth: Warmth,
    rules: RaceRules,
    evening: EveningRules,
    *,
    spent_gut_h: float = 0.0,
    sheet_mm: float | None = None,
    form: str = "snake",
    bath_mol_l: float | None = None,
    until_h: float | None = None,
) -> SpacingAnswer:
    """
    The widest distance between fillings that suffices for a long body of this girth at this warmth.

    Parameters
    ----------
    diameter_mm : float
        At its thickest. [mm]  Valid 4 to 200.
    depot_ml : float
        Each filling. [mL]  Valid 0.01 to 50.
    warmth : Warmth
        From the filling on.
    spent_gut_h : float
        Decay before it, gut clock. [h at 20 degrees C]
    sheet_mm : float, optional
        Fluid of the sheets as a film over the skin; the evening's usual wetting unless given. [mm]
    form : str
        Whose skin.
    bath_mol_l : float, optional
        Formaldehyde in the fixative; the usual working solution unless given. [mol/L]  Valid 0.05 to 15.
    until_h : float, optional
        How long to follow. [h]

    Raises
    ------
    ValueError
        If diameter, amount or strength lie outside their limits.
    """
    within("diameter_mm", diameter_mm, 4.0, 200.0)
    within("depot_ml", depot_ml, 0.01, 50.0)
    fixative = {} if bath_mol_l is None else {"bath_mol_l": float(within("bath_mol_l", bath_mol_l, 0.05, 15.0))}
    until = rules.number("horizon", "hours") if until_h is None else until_h
    if sheet_mm is None:
        # A coil shows the sheets about a third of its skin at a time; each sheet wets one side.
        wet = evening.number("sheets", "upper_ml_per_m2") * 1e-3 * (1 + evening.number("sheets", "lower_share"))
        sheet_mm = wet / np.pi
    thickness, resistance = rules.skin(form)
    tried = rules.spacings_mm
    many = np.ones(len(tried))
    middle = Chance.medians(rules, **fixative)
    depots = Depots(
        radius_mm=0.5 * diameter_mm * many,
        cavity_radius_mm=0.25 * diameter_mm * many,
        spacing_mm=np.array(tried),
        depot_ml=depot_ml * float(middle.retained[0]) * many,
        fluid_share=rules.number("spacing", "fluid_share") * many,
        skin_mm=np.minimum(thickness * 0.5 * diameter_mm, 1.0) * many,
        skin_resistance_mm=resistance[1] * many,
        sheet_mm=sheet_mm * float(middle.sheet[0]) * many,
    )
    latest = rules.number("horizon", "latest_spoil_h")
    limit = np.array([evening.number("load", "gut_red_h")])
    spoil = float(spoil_hours(limit, np.array([spent_gut_h]), warmth, "gut", latest)[0])
    answers = []
    for diffusivity in (None, rules.number("spacing", "pessimist_diffusivity_m2_s")):
        chance = middle if diffusivity is None else Chance.medians(rules, diffusivity_m2_s=diffusivity, **fixative)
        stop = float(chance.stop_mol_l[0]) / float(chance.tissue.bath_mol_l[0])
        answers.append(between(depots, chance.tissue, stop, until, warmth, stop_bound=chance.stop_bound))
    found = tuple(
        Spacing(
            spacing,
            finite(float(answers[0].midway_arrest_h[k])),
            finite(float(answers[0].midway_half_bound_h[k])),
            finite(spoil - float(answers[0].midway_arrest_h[k])),
            finite(spoil - float(answers[1].midway_arrest_h[k])),
        )
        for k, spacing in enumerate(tried)
    )
    sure = _widest(found, lambda s: s.suffices)
    at_medians = _widest(found, lambda s: _positive(s.margin_h))
    practice = _("Practice: every 10 to 20 mm in a stout snake (15 mm by the shipped protocol); others write 20 to 50.")
    if sure is None:
        says = _("No distance that was tried suffices at the slow end at {warm:.0f} °C: fill closer, slit, or cool it.")
        says = says.format(warm=float(warmth.at(0.0)))
    else:
        says = _(
            "Every {sure:.0f} mm suffices tonight (every {middle:.0f} mm by the medians alone); {spoil} h are left."
        )
        says = says.format(sure=sure, middle=at_medians or sure, spoil=hours_words(spoil))
    return SpacingAnswer(diameter_mm, depot_ml, float(warmth.at(0.0)), sure, at_medians, found, practice, says)


def _positive(value: float | None) -> bool:
    return value is not None and value > 0


def _widest(found: Sequence[Spacing], good: Any) -> float | None:
    """The last distance before the first that fails, so that no lucky wide one is taken."""
    best = None
    for one in found:
        if not good(one):
            break
        best = one.spacing_mm
    return best
