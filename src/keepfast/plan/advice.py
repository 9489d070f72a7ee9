"""What would help most, and what could be spared, tried on the very animal.

Everything here is tried at the medians of the parameters; rules of practice are shown beside it and stay in force.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from keepfast.plan.race_clock import KILLED, Entrant, Setting
from keepfast.plan.race_spots import TRUNK, Chance, Spot, passages
from keepfast.plan.race_verdict import AnimalVerdict, RegionVerdict, Suggestion, finite, hours_words
from keepfast.plan.spacing import depots_of
from keepfast.rules.race import RaceRules
from keepfast.science.penetration_plane import between
from keepfast.words import _

LEAST_COOLER_C = 2.0  # less is not worth a word
LEAST_TOLD_H = 0.1  # below this a gain would be shown as nothing


def cooler_by(now_c: float, rules: RaceRules) -> float:
    """How much cooler a spot is worth looking for; 0 where it is cold enough."""
    return float(np.clip(now_c - rules.number("advice", "coolest_c"), 0.0, rules.number("advice", "cooler_by_c")))


@dataclass(frozen=True)
class _Trial:
    """One change to one animal, and how it will be told."""

    animal: int
    key: str
    spots: list[Spot]
    words: str
    spent: Mapping[str, float]
    delay_h: float
    cooler_c: float = 0.0
    amount_ml: float | None = None


def advised(verdicts: Sequence[AnimalVerdict], entrants: Sequence[Entrant], setting: Setting) -> list[AnimalVerdict]:
    """
    The verdicts with their suggestions: first what is past saving, then what gains most in the weakest region that is
    not, then what could be spared.
    """
    rules, chance = setting.rules, setting.medians()
    cooler = cooler_by(float(setting.warmth.at(0.0)), rules)
    leads = [next((r for r in v.regions if not r.past_saving), None) for v in verdicts]
    trials: list[_Trial] = []
    for i, (entrant, lead) in enumerate(zip(entrants, leads, strict=True)):
        if lead is not None and lead.verdict != rules.words[0].key:
            trials += _helps(i, entrant, lead, setting, cooler)
    base = _margins([_as_it_is(i, e, list(e.spots), "", "") for i, e in enumerate(entrants)], entrants, chance, setting)
    margins = _margins(trials, entrants, chance, setting)
    helps: dict[int, list[Suggestion]] = {}
    small: dict[int, list[Suggestion]] = {}
    for trial, after in zip(trials, margins, strict=True):
        lead = leads[trial.animal]
        assert lead is not None
        before = base[trial.animal][lead.region]
        gain = after[lead.region] - before
        if not np.isfinite(after[lead.region]):
            continue
        told = _suggestion(trial, lead.region, gain, after[lead.region])
        # Where hours are few, what turns a loss into a win counts however little it gains.
        if not gain < rules.number("advice", "least_gain_h") or before <= 0 < after[lead.region]:
            helps.setdefault(trial.animal, []).append(told)
        elif gain >= LEAST_TOLD_H:
            small.setdefault(trial.animal, []).append(told)
    for i, ones in small.items():
        # The best of little is still the best there is.
        helps.setdefault(i, [max(ones, key=lambda s: s.margin_h)])
    for i, suggestion in _closer(verdicts, entrants, setting):
        helps.setdefault(i, []).append(suggestion)
    spared = _spared(verdicts, entrants, setting)
    return [
        replace(
            verdict,
            advice=(
                *_past(verdict, entrant, setting),
                *sorted(helps.get(i, []), key=lambda s: -s.margin_h),
                *spared.get(i, []),
            ),
        )
        for i, (verdict, entrant) in enumerate(zip(verdicts, entrants, strict=True))
    ]


def _as_it_is(
    i: int, entrant: Entrant, spots: list[Spot], key: str, words: str, amount_ml: float | None = None
) -> _Trial:
    return _Trial(i, key, spots, words, entrant.spent, entrant.delay_h, amount_ml=amount_ml)


def _past(verdict: AnimalVerdict, entrant: Entrant, setting: Setting) -> list[Suggestion]:
    """What no fixative brings back, said before anything that would still help."""
    lost = [r for r in verdict.regions if r.past_saving]
    if not lost:
        return []
    first = lost[0]
    says = _(
        "Past saving by warmth and hours: {regions} ({spent:.0f} of {limit:.0f} h at 20 °C spent before the table"
        " begins). No filling brings that back. Press the belly: if it is soft, prepare the animal otherwise; if it is"
        " firm, go on, hind end first."
    ).format(
        regions=", ".join(_(r.name) for r in lost),
        spent=entrant.spent_at_once[first.clock],
        limit=setting.red(first.clock),
    )
    if len(lost) == len(verdict.regions):
        says += " " + _("Work it last, after those that can still be won.")
    margin = -setting.latest_h if first.margin_h.median is None else first.margin_h.median
    return [Suggestion("past", first.region, None, margin, None, says)]


def _suggestion(trial: _Trial, region: str, gain: float, after: float) -> Suggestion:
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


def _helps(i: int, entrant: Entrant, lead: RegionVerdict, setting: Setting, cooler_c: float) -> list[_Trial]:
    """What may be tried for the weakest region of one animal that can still be won."""
    rules, plan, own = setting.rules, entrant.plan, entrant.spots
    at = next(k for k, s in enumerate(own) if s.region == lead.region)
    spot = own[at]
    found = []
    name = _(spot.word)
    if entrant.delay_h > 0 and entrant.death != KILLED:
        as_now = _as_it_is(i, entrant, list(own), "ice", _("On ice, dry in its bag, until its turn"))
        found.append(replace(as_now, spent=entrant.spent_on_ice))
        if not plan.waits:
            words = _("Worked before all others")
            found.append(_Trial(i, "first", list(own), words, entrant.spent_at_once, 0.0))
    if spot.exponent == 1 and spot.spread_mm > 0:
        ml = max(
            rules.number("advice", "injection_ml_per_g") * plan.body.mass_g,
            rules.number("advice", "least_injection_ml"),
        )
        # A limb or the head takes its share of such an amount, not all of it.
        ml *= 1.0 if lead.region in TRUNK else 0.25
        ml = float(f"{ml:.2g}")
        more = replace(spot, fluid_mm2=spot.fluid_mm2 + 1000.0 * ml / spot.spread_mm)
        # Practice's own rule stands beside it: nobody fills a body beyond firmness.
        words = (
            _("Another {ml:g} mL into the {region}, less if it is firm before")
            if spot.filled
            else _("{ml:g} mL into the {region}, less if it is firm before")
        )
        found.append(
            _as_it_is(i, entrant, _with(own, at, more), "inject", words.format(ml=ml, region=name), amount_ml=ml)
        )
        slit = rules.number("skin", "slit_share")
        if spot.skin_opened > slit and spot.skin_resistance_mm[1] >= 0.3:
            opened = _with(own, at, replace(spot, skin_opened=slit))
            words = _("A slit in the skin over the {region}").format(region=name)
            found.append(_as_it_is(i, entrant, opened, "slit", words))
    ml = float(f"{spot.sheet_mm * plan.body.surface_cm2 / 10.0:.2g}")
    at_hand = setting.spare_ml is None or ml <= setting.spare_ml
    if ml > 0 and spot.sheet_mm < spot.radius_mm and at_hand:
        wet = [replace(s, sheet_mm=2.0 * s.sheet_mm) for s in own]
        words = _("{ml:g} mL more on the sheets round it").format(ml=ml)
        found.append(_as_it_is(i, entrant, wet, "wet", words, amount_ml=ml))
    if cooler_c >= LEAST_COOLER_C:
        words = _("A place {by:.0f} °C cooler").format(by=cooler_c)
        found.append(replace(_as_it_is(i, entrant, list(own), "cooler", words), cooler_c=cooler_c))
    return found


def _with(own: list[Spot], at: int, spot: Spot) -> list[Spot]:
    return [spot if k == at else s for k, s in enumerate(own)]


def _margins(
    trials: Sequence[_Trial], entrants: Sequence[Entrant], chance: Chance, setting: Setting
) -> list[dict[str, float]]:
    """Margin of every region of every trial, hours."""
    answer: list[dict[str, float]] = [{} for _ in trials]
    for cooler in sorted({t.cooler_c for t in trials}):
        chosen = [t for t in trials if t.cooler_c == cooler]
        air = setting.warmth.shifted(-cooler) if cooler else setting.warmth
        found = passages(
            [s for t in chosen for s in t.spots],
            chance,
            air,
            setting.until_h,
            start_h=[t.delay_h for t in chosen for _spot in t.spots],
            bath_after_h=[entrants[t.animal].plan.tray_h for t in chosen for _spot in t.spots],
        )
        rows = iter(found.bath_arrest_h[:, 0])
        for n, trial in enumerate(trials):
            if trial.cooler_c == cooler:
                for spot in trial.spots:
                    spoil = setting.spoil_h(spot.clock, trial.spent[spot.clock], trial.delay_h, air)
                    answer[n][spot.region] = spoil - float(next(rows))
    return answer


def _closer(
    verdicts: Sequence[AnimalVerdict], entrants: Sequence[Entrant], setting: Setting
) -> list[tuple[int, Suggestion]]:
    """Twice as many fillings in a row, for those whose row leaves a gap, in two dimensions."""
    rows = [
        (i, v.between)
        for i, v in enumerate(verdicts)
        if v.between is not None
        and (v.between.margin_h is None or v.between.margin_h <= 0)
        and not any(r.past_saving for r in v.regions if r.region == "hindgut")
    ]
    if not rows:
        return []
    chance = setting.medians()
    where = [next(s for s in entrants[i].spots if s.region == "hindgut") for i, _row in rows]
    # As much in each as before: it is the distance that is tried.
    depots = depots_of(
        where, [0.5 * row.spacing_mm for _i, row in rows], [row.depot_ml for _i, row in rows], setting.rules
    )
    found = between(
        depots,
        chance.tissue,
        float(chance.stop_mol_l[0]) / setting.bath_mol_l[1],
        setting.until_h,
        setting.warmth,
        stop_bound=chance.stop_bound,
        start_h=np.array([entrants[i].delay_h for i, _row in rows]),
    )
    answer = []
    for k, (i, row) in enumerate(rows):
        spoil = setting.spoil_h("gut", entrants[i].spent["gut"], entrants[i].delay_h)
        after = spoil - float(found.midway_arrest_h[k])
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
    verdicts: Sequence[AnimalVerdict], entrants: Sequence[Entrant], setting: Setting
) -> dict[int, list[Suggestion]]:
    """Fillings that could be left out: even at the slow end every region they serve keeps the spare margin."""
    rules = setting.rules
    spare = rules.number("advice", "spare_margin_h")
    words = {region.key: _(region.word) for region in rules.regions} | {"trunk": _("trunk")}
    trials: list[_Trial] = []
    for i, (verdict, entrant) in enumerate(zip(verdicts, entrants, strict=True)):
        if verdict.weakest.verdict != rules.words[0].key:
            continue
        for key, regions in (("limb", ("limb",)), ("head", ("head",)), ("tail", ("tail",)), ("trunk", TRUNK)):
            if any(s.region in regions and s.filled for s in entrant.spots):
                bare = [replace(s, fluid_mm2=0.0) if s.region in regions else s for s in entrant.spots]
                trials.append(_as_it_is(i, entrant, bare, key, words[key]))
    if not trials:
        return {}
    slow = setting.medians(diffusivity_m2_s=rules.number("spacing", "pessimist_diffusivity_m2_s"))
    margins = _margins(trials, entrants, slow, setting)
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
