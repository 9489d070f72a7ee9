"""What would help most, what could be spared, and how far apart the fillings of a long body may lie.

Everything here is tried at the medians of the parameters; rules of practice are shown beside it and stay in force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from keepfast.plan.objects import AnimalPlan
from keepfast.plan.race_spots import TRUNK, Chance, Spot, passages
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules
from keepfast.science.penetration_plane import Depots, between
from keepfast.science.warmth import Warmth
from keepfast.words import _

if TYPE_CHECKING:
    from keepfast.plan.race import AnimalVerdict, Suggestion

Array = npt.NDArray[np.float64]


LEAST_COOLER_C = 2.0  # less is not worth a word


def cooler_by(now_c: float, rules: RaceRules) -> float:
    """How much cooler a spot is worth looking for; 0 where it is cold enough."""
    return float(np.clip(now_c - rules.number("advice", "coolest_c"), 0.0, rules.number("advice", "cooler_by_c")))


@dataclass(frozen=True)
class _Trial:
    """One change to one animal's spots, and how it will be told."""

    animal: int
    key: str
    spots: list[Spot]
    cooler_c: float
    amount_ml: float | None
    words: str


def advised(
    verdicts: Sequence[AnimalVerdict],
    plans: Sequence[AnimalPlan],
    spots: Sequence[list[Spot]],
    rules: RaceRules,
    evening: EveningRules,
    warmth: Warmth,
    until_h: float,
) -> list[AnimalVerdict]:
    """The verdicts with their suggestions: what gains most in the weakest region first, then what could be spared."""
    chance = Chance.medians(rules)
    cooler = cooler_by(float(warmth.at(0.0)), rules)
    trials: list[_Trial] = []
    for i, (verdict, plan, own) in enumerate(zip(verdicts, plans, spots, strict=True)):
        if verdict.weakest.verdict != rules.words[0].key:
            trials += _helps(i, verdict, plan, own, rules, cooler)
    margins = _margins(trials, verdicts, plans, chance, rules, evening, warmth, until_h)
    base = _margins(
        [_Trial(i, "", list(own), 0.0, None, "") for i, own in enumerate(spots)],
        verdicts,
        plans,
        chance,
        rules,
        evening,
        warmth,
        until_h,
    )
    helps: dict[int, list[Suggestion]] = {}
    for trial, after in zip(trials, margins, strict=True):
        region = verdicts[trial.animal].weakest.region
        gain = after[region] - base[trial.animal][region]
        if np.isfinite(after[region]) and not gain < rules.number("advice", "least_gain_h"):
            helps.setdefault(trial.animal, []).append(_suggestion(trial, region, gain, after[region]))
    for i, suggestion in _closer(verdicts, spots, rules, evening, warmth, until_h):
        helps.setdefault(i, []).append(suggestion)
    spared = _spared(verdicts, plans, spots, rules, evening, warmth, until_h)
    return [
        replace(
            verdict,
            advice=(*sorted(helps.get(i, []), key=lambda s: -s.margin_h), *spared.get(i, [])),
        )
        for i, verdict in enumerate(verdicts)
    ]


def _suggestion(trial: _Trial, region: str, gain: float, after: float) -> Suggestion:
    from keepfast.plan.race import Suggestion, finite, hours_words

    if np.isfinite(gain):
        says = _("{what}: {gain} h more in hand.").format(what=trial.words, gain=hours_words(gain))
    elif after > 0:
        says = _("{what}: fixative then comes in time, with {margin} h in hand.").format(
            what=trial.words, margin=hours_words(after)
        )
    else:
        says = _("{what}: fixative then comes at all, though {late} h late.").format(
            what=trial.words, late=hours_words(-after)
        )
    return Suggestion(trial.key, region, finite(gain), after, trial.amount_ml, says)


def _helps(
    i: int, verdict: AnimalVerdict, plan: AnimalPlan, own: list[Spot], rules: RaceRules, cooler_c: float
) -> list[_Trial]:
    """What may be tried for the weakest region of one animal."""
    weak = verdict.weakest.region
    at = next(k for k, s in enumerate(own) if s.region == weak)
    spot = own[at]
    found = []
    name = _(spot.word)
    if spot.exponent == 1 and spot.spread_mm > 0:
        ml = max(
            rules.number("advice", "injection_ml_per_g") * plan.body.mass_g,
            rules.number("advice", "least_injection_ml"),
        )
        # A limb or the head takes its share of such an amount, not all of it.
        ml *= 1.0 if weak in TRUNK else 0.25
        ml = float(f"{ml:.2g}")
        more = replace(spot, fluid_mm2=spot.fluid_mm2 + 1000.0 * ml / spot.spread_mm)
        found.append(
            _Trial(
                i,
                "inject",
                _with(own, at, more),
                0.0,
                ml,
                _("Another {ml:g} mL into the {region}").format(ml=ml, region=name),
            )
        )
        slit = rules.number("skin", "slit_share")
        if spot.skin_opened > slit and spot.skin_resistance_mm[1] >= 0.3:
            opened = [replace(s, skin_opened=min(s.skin_opened, slit)) if s.region == weak else s for s in own]
            found.append(
                _Trial(i, "slit", opened, 0.0, None, _("A slit in the skin over the {region}").format(region=name))
            )
    wet = [replace(s, sheet_mm=2.0 * s.sheet_mm) for s in own]
    ml = float(f"{spot.sheet_mm * plan.body.surface_cm2 / 10.0:.2g}")
    if spot.sheet_mm < spot.radius_mm:
        found.append(_Trial(i, "wet", wet, 0.0, ml, _("{ml:g} mL more on the sheets round it").format(ml=ml)))
    if cooler_c >= LEAST_COOLER_C:
        words = _("A place {by:.0f} °C cooler").format(by=cooler_c)
        found.append(_Trial(i, "cooler", list(own), cooler_c, None, words))
    return found


def _with(own: list[Spot], at: int, spot: Spot) -> list[Spot]:
    return [spot if k == at else s for k, s in enumerate(own)]


def _margins(
    trials: Sequence[_Trial],
    verdicts: Sequence[AnimalVerdict],
    plans: Sequence[AnimalPlan],
    chance: Chance,
    rules: RaceRules,
    evening: EveningRules,
    warmth: Warmth,
    until_h: float,
) -> list[dict[str, float]]:
    """Margin of every region of every trial, hours."""
    from keepfast.plan.race import red_limit, spoil_hours

    latest = rules.number("horizon", "latest_spoil_h")
    answer: list[dict[str, float]] = [{} for _ in trials]
    for cooler in sorted({t.cooler_c for t in trials}):
        chosen = [n for n, t in enumerate(trials) if t.cooler_c == cooler]
        air = warmth.shifted(-cooler) if cooler else warmth
        found = passages(
            [s for n in chosen for s in trials[n].spots],
            chance,
            air,
            until_h,
            bath_after_h=[plans[trials[n].animal].tray_h for n in chosen for _spot in trials[n].spots],
        )
        at = 0
        for n in chosen:
            spent = verdicts[trials[n].animal].spent_h
            for spot in trials[n].spots:
                limit = np.array([red_limit(evening, spot.clock)])
                spoil = float(spoil_hours(limit, np.array([spent[spot.clock]]), air, spot.clock, latest)[0])
                answer[n][spot.region] = spoil - float(found.bath_arrest_h[at, 0])
                at += 1
    return answer


def _closer(
    verdicts: Sequence[AnimalVerdict],
    spots: Sequence[list[Spot]],
    rules: RaceRules,
    evening: EveningRules,
    warmth: Warmth,
    until_h: float,
) -> list[tuple[int, Suggestion]]:
    """Twice as many fillings in a row, for those whose row leaves a gap, in two dimensions."""
    from keepfast.plan.race import Suggestion, depots_of, hours_words, red_limit, spoil_hours

    rows = [
        (i, v.between)
        for i, v in enumerate(verdicts)
        if v.between is not None and (v.between.margin_h is None or v.between.margin_h <= 0)
    ]
    if not rows:
        return []
    chance = Chance.medians(rules)
    where = [next(s for s in spots[i] if s.region == "hindgut") for i, _row in rows]
    # As much in each as before: it is the distance that is tried.
    depots = depots_of(where, [0.5 * row.spacing_mm for _i, row in rows], [row.depot_ml for _i, row in rows], rules)
    stop = float(chance.stop_mol_l[0]) / float(chance.tissue.bath_mol_l[0])
    found = between(depots, chance.tissue, stop, until_h, warmth, stop_bound=chance.stop_bound)
    latest = rules.number("horizon", "latest_spoil_h")
    answer = []
    for k, (i, row) in enumerate(rows):
        limit = np.array([red_limit(evening, "gut")])
        spent = np.array([verdicts[i].spent_h["gut"]])
        after = float(spoil_hours(limit, spent, warmth, "gut", latest)[0]) - float(found.midway_arrest_h[k])
        if not np.isfinite(after):
            continue
        gain = None if row.margin_h is None else after - row.margin_h
        words = _("Fillings every {closer:.0f} mm instead of {now:.0f}, as much in each").format(
            closer=0.5 * row.spacing_mm, now=row.spacing_mm
        )
        how = (
            _("half-way between them there are then {hours} h in hand")
            if after > 0
            else _("half-way between them fixative then comes {hours} h late")
        )
        says = f"{words}: {how.format(hours=hours_words(abs(after)))}."
        answer.append((i, Suggestion("closer", "hindgut", gain, after, row.depot_ml, says)))
    return answer


def _spared(
    verdicts: Sequence[AnimalVerdict],
    plans: Sequence[AnimalPlan],
    spots: Sequence[list[Spot]],
    rules: RaceRules,
    evening: EveningRules,
    warmth: Warmth,
    until_h: float,
) -> dict[int, list[Suggestion]]:
    """Fillings that could be left out: even at the slow end every region they serve keeps the spare margin."""
    from keepfast.plan.race import Suggestion

    spare = rules.number("advice", "spare_margin_h")
    by_key = {region.key: region for region in rules.regions}
    trials: list[_Trial] = []
    for i, (verdict, own) in enumerate(zip(verdicts, spots, strict=True)):
        if verdict.weakest.verdict != rules.words[0].key:
            continue
        for region in ("limb", "head", "tail"):
            served = [k for k, s in enumerate(own) if s.region == region and s.filled]
            if served:
                bare = _with(own, served[0], replace(own[served[0]], fluid_mm2=0.0))
                trials.append(_Trial(i, region, bare, 0.0, None, _(by_key[region].word)))
        trunk = [k for k, s in enumerate(own) if s.region in TRUNK and s.filled]
        if trunk:
            bare = [replace(s, fluid_mm2=0.0) if k in trunk else s for k, s in enumerate(own)]
            trials.append(_Trial(i, "trunk", bare, 0.0, None, _("trunk")))
    if not trials:
        return {}
    slow = Chance.medians(rules, diffusivity_m2_s=rules.number("spacing", "pessimist_diffusivity_m2_s"))
    margins = _margins(trials, verdicts, plans, slow, rules, evening, warmth, until_h)
    answer: dict[int, list[Suggestion]] = {}
    for trial, after in zip(trials, margins, strict=True):
        regions = TRUNK if trial.key == "trunk" else (trial.key,)
        low = min(after[r] for r in regions if r in after)
        if low >= spare:
            says = _(
                "By the model the filling of the {region} could be left out: {margin:.0f} h would be left even at the"
                " slow end. Practice asks for it; fewer holes are better for the specimen, and the choice is yours."
            ).format(region=trial.words, margin=low)
            answer.setdefault(trial.animal, []).append(Suggestion("fewer", trial.key, None, low, None, says))
    return answer


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
    until_h : float, optional
        How long to follow. [h]

    Raises
    ------
    ValueError
        If diameter or amount lie outside their limits.
    """
    from keepfast.plan.race import finite, hours_words, red_limit, spoil_hours
    from keepfast.science.ranges import within

    within("diameter_mm", diameter_mm, 4.0, 200.0)
    within("depot_ml", depot_ml, 0.01, 50.0)
    until = rules.number("horizon", "hours") if until_h is None else until_h
    if sheet_mm is None:
        # A coil shows the sheets about a third of its skin at a time; each sheet wets one side.
        wet = evening.number("sheets", "upper_ml_per_m2") * 1e-3 * (1 + evening.number("sheets", "lower_share"))
        sheet_mm = wet / np.pi
    thickness, resistance = rules.skin(form)
    tried = rules.spacings_mm
    many = np.ones(len(tried))
    middle = Chance.medians(rules)
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
    limit = np.array([red_limit(evening, "gut")])
    spoil = float(spoil_hours(limit, np.array([spent_gut_h]), warmth, "gut", latest)[0])
    answers = []
    for diffusivity in (None, rules.number("spacing", "pessimist_diffusivity_m2_s")):
        chance = middle if diffusivity is None else Chance.medians(rules, diffusivity_m2_s=diffusivity)
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
