"""The race of fixative and decay, animal by animal: which part is at risk, when the tray may be left, how sure.

``judge`` is the way in. It builds the sections (``race_spots``) and what each animal has spent already
(``race_clock``), follows them under many draws, and says for each region the margin between arrest and spoilage.
``advice`` says what would gain most; protocols are never overridden.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from keepfast.plan import advice
from keepfast.plan.camp import Camp
from keepfast.plan.objects import AnimalPlan, Tray
from keepfast.plan.race_clock import (
    KILLED,
    UNKNOWN,
    Entrant,
    Setting,
    entrants_of,
    fluid_at_hand,
    setting_of,
    spoil_hours,
)
from keepfast.plan.race_spots import FILM_MM, Chance, Spot, passages
from keepfast.plan.race_verdict import (
    AnimalVerdict,
    BetweenDepots,
    Leave,
    RegionVerdict,
    band,
    finite,
    hours_words,
    margin_words,
    span_words,
)
from keepfast.plan.spacing import depots_of
from keepfast.rules import evening as evening_rules
from keepfast.rules import race as race_rules
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules
from keepfast.science import decay
from keepfast.science.penetration_layers import Passage
from keepfast.science.penetration_plane import between
from keepfast.words import _

Array = npt.NDArray[np.float64]

DRAWS = 200
LONG_BODIED = ("snake", "legless_lizard", "amphisbaenian", "caecilian")
ROW_OF = 4  # so many fillings of the trunk make a row whose distance matters
EXTRA_SHARES = (0.05, 0.1, 0.2, 0.35, 0.6, 1.0, 2.0, 5.0)  # of the body's volume, tried on the sheets
THINNED = 8  # every eighth draw is enough to find them


def judge(
    plans: Sequence[AnimalPlan],
    *,
    camp: Camp,
    start: datetime.datetime,
    trays: Sequence[Tray] = (),
    beside: Sequence[AnimalPlan] = (),
    delays_h: Mapping[str, float] | None = None,
    seed: int = 1,
    draws: int = DRAWS,
    horizon_h: float | None = None,
    rules: RaceRules | None = None,
    evening: EveningRules | None = None,
    advise: bool = True,
) -> tuple[AnimalVerdict, ...]:
    """
    Race every animal that goes into fluid.

    Parameters
    ----------
    plans : sequence of AnimalPlan
        Those not fit for fluid are left out of the answer.
    camp : Camp
        Its temperature, or its record, which is followed through the night.
    start : datetime
        When the table starts, with an offset.
    trays : sequence of Tray
        With what their sheets hold; without them the usual wetting of the evening's rules is taken.
    beside : sequence of AnimalPlan
        Everything that lies in those trays, where ``plans`` are only some of them: they share the sheets' fluid.
    delays_h : mapping, optional
        Hours from the start to each animal's filling, by field number, 0 where one is not in it; the plan's own
        unless given.
    seed, draws : int
        Of the draws (one dimension); what is in two dimensions runs at the medians.
    horizon_h : float, optional
        How long to follow; the rules' own unless given. [h]
    rules, evening : optional
        Rules of the race and of the evening; the shipped ones unless given.
    advise : bool
        Whether to try what would help.

    Returns
    -------
    tuple of AnimalVerdict
        In the order of the plans.

    Raises
    ------
    ValueError
        If ``start`` has no offset or ``draws`` is not 1 to 100 000.
    """
    if start.tzinfo is None:
        raise ValueError(f"start must carry an offset; {start.isoformat()} was given")
    if not 1 <= draws <= 100_000:
        raise ValueError(f"draws must be 1 to 100000; {draws} was given")
    rules = race_rules.load() if rules is None else rules
    evening = evening_rules.load() if evening is None else evening
    until = rules.number("horizon", "hours") if horizon_h is None else horizon_h
    wetting, spare = fluid_at_hand(beside or plans, trays, camp, evening)
    setting = setting_of(camp, start, rules, evening, until, spare)
    entrants = entrants_of(plans, setting, camp, start, trays, beside, delays_h, wetting)
    if not entrants:
        return ()
    chance = Chance.drawn(rules, seed, draws, setting.bath_mol_l)
    found = passages(
        [s for e in entrants for s in e.spots],
        chance,
        setting.warmth,
        until,
        start_h=[e.delay_h for e in entrants for _spot in e.spots],
        bath_after_h=[e.plan.tray_h for e in entrants for _spot in e.spots],
    )
    rows = _ranges(entrants)
    depots = _between(entrants, setting)
    missing = _missing(entrants, rows, found, chance, setting)
    verdicts = []
    for i, (entrant, chosen) in enumerate(zip(entrants, rows, strict=True)):
        part = Passage(*(getattr(found, f)[chosen] for f in Passage.__dataclass_fields__))
        verdicts.append(_verdict(entrant, part, chance, setting, camp, wetting, depots.get(i), missing.get(i)))
    if advise:
        verdicts = advice.advised(verdicts, entrants, setting)
    return tuple(verdicts)


def _ranges(entrants: Sequence[Entrant]) -> list[slice]:
    answer, at = [], 0
    for entrant in entrants:
        answer.append(slice(at, at + len(entrant.spots)))
        at += len(entrant.spots)
    return answer


def _verdict(
    entrant: Entrant,
    found: Passage,
    chance: Chance,
    setting: Setting,
    camp: Camp,
    wetting: float,
    depots: BetweenDepots | None,
    missing: tuple[bool, float | None] | None,
) -> AnimalVerdict:
    latest = setting.latest_h
    regions = []
    for k, spot in enumerate(entrant.spots):
        limit = setting.red(spot.clock) * chance.limit
        spent = entrant.spent_drawn(spot.clock, chance)
        spoil = spoil_hours(limit, spent, setting.warmth, spot.clock, latest, entrant.delay_h)
        arrest = found.bath_arrest_h[k]
        margin = spoil - arrest
        wins = float(np.mean(margin > 0))
        word = setting.rules.word_for(wins)
        regions.append(
            RegionVerdict(
                region=spot.region,
                name=spot.word,
                clock=spot.clock,
                margin_h=band(margin),
                arrest_h=band(arrest),
                spoil_h=band(np.where(spoil >= latest, np.inf, spoil)),
                half_bound_h=band(found.half_bound_h[k]),
                nine_tenths_h=band(found.nine_tenths_h[k]),
                wins=wins,
                verdict=word.key,
                says=word.says,
                reason=_reason(spot, entrant, setting, found, k, missing),
                radius_mm=spot.radius_mm,
                filled=spot.filled,
                past_saving=entrant.spent_at_once[spot.clock] >= setting.red(spot.clock),
            )
        )
    regions.sort(key=lambda r: (r.wins, -latest if r.margin_h.median is None else r.margin_h.median))
    weak = regions[0]
    return AnimalVerdict(
        field_number=entrant.plan.animal.field_number,
        regions=tuple(regions),
        leave=_leave(entrant, found, setting, missing),
        between=depots,
        advice=(),
        practice=_practice(entrant.plan),
        doubts=_doubts(entrant, setting, camp, wetting),
        sentence=_("{region}: {says}, {margin}. {reason}").format(
            region=_(weak.name).capitalize(), says=_(weak.says), margin=margin_words(weak.margin_h), reason=weak.reason
        ),
        temperature_c=float(setting.warmth.at(entrant.delay_h)),
        filled_after_h=entrant.delay_h,
        bath_mol_l=setting.bath_mol_l[1],
        spent_h=dict(entrant.spent),
    )


def _reason(
    spot: Spot,
    entrant: Entrant,
    setting: Setting,
    found: Passage,
    k: int,
    missing: tuple[bool, float | None] | None,
) -> str:
    spent, limit = entrant.spent[spot.clock], setting.red(spot.clock)
    warm = float(setting.warmth.at(entrant.delay_h))
    rate = float(decay.relative_rate(warm, spot.clock))
    depth = spot.radius_mm * (spot.core_share if spot.filled and spot.region in ("hindgut", "gonad") else 1.0)
    if spent >= limit > entrant.spent_at_once[spot.clock]:
        return _("Its {limit:.0f} h (at 20 °C) run out while it waits {wait:.1f} h for its turn.").format(
            limit=limit, wait=entrant.delay_h
        )
    if spent >= limit:
        return _("It had spent {spent:.0f} of its {limit:.0f} h (at 20 °C) before the fixative went in.").format(
            spent=spent, limit=limit
        )
    if missing is not None and missing[0] and np.mean(np.isfinite(found.half_bound_h[k])) < 0.5:
        return _("The fluid round it is used up before the middle has any.")
    if spot.fat_share >= 0.4:
        return _("Yolk and fat let fixative in slowly, and {depth:.0f} mm of them lie there.").format(depth=depth)
    if not spot.filled:
        if spot.skin_opened == 1.0 and spot.skin_resistance_mm[1] >= 0.5:
            return _("Nothing is put in there: fixative must pass the scales and {depth:.0f} mm of flesh.").format(
                depth=depth
            )
        return _("Nothing is put in there: fixative must come {depth:.0f} mm from the skin.").format(depth=depth)
    if rate >= 2:
        return _("At {warm:.0f} °C its decay runs {rate:.1f} times as fast as at 20 °C.").format(warm=warm, rate=rate)
    return _("Fixative lies beside it and has {depth:.0f} mm to go.").format(depth=depth)


def _leave(entrant: Entrant, found: Passage, setting: Setting, missing: tuple[bool, float | None] | None) -> Leave:
    rules, until = setting.rules, setting.until_h
    practice = entrant.plan.tray_h
    ready = np.maximum(found.half_bound_h, found.arrest_h)
    last = ready.max(axis=0)
    model = band(last)
    middle = np.array([band(row).median or np.inf for row in ready])
    held = entrant.spots[int(np.argmax(middle))].region if np.any(middle > 0) else ""
    name = next((s.word for s in entrant.spots if s.region == held), "")
    sure = rules.number("leave", "sure_share")
    ordered = np.sort(last)
    when = float(ordered[min(int(sure * ordered.size), ordered.size - 1)])
    short, ml = missing if missing is not None else (False, None)
    if np.isfinite(when):
        may: float | None = max(practice, when)
        says = _(
            "Leave the tray after {hours:.0f} h: practice asks for {practice:.0f} h, the model for {model}."
        ).format(hours=may, practice=practice, model=span_words(model))
        return Leave(practice, model, may, held, False, None, says)
    if short and ml is not None:
        says = _(
            "The tray does not hold enough formaldehyde to bind half of the {region} within {hours:.0f} h:"
            " about {ml} mL more on the sheets, or move it to the bath after {practice:.0f} h."
        ).format(region=_(name), hours=until, ml=f"{ml:.2g}" if ml < 10 else f"{ml:.0f}", practice=practice)
        if setting.spare_ml is not None and ml > setting.spare_ml:
            says += " " + _("The camp's own fixative leaves {spare:.0f} mL for that.").format(spare=setting.spare_ml)
    else:
        says = _(
            "The {region} is not half bound within {hours:.0f} h even in plenty of fluid: practice's {practice:.0f} h"
            " are not enough for it; move it to the bath then and count from there."
        ).format(region=_(name), hours=until, practice=practice)
    return Leave(practice, model, None, held, short, ml, says)


def _practice(plan: AnimalPlan) -> tuple[str, ...]:
    found = [_("Tray: {hours:g} h at least. {reason}").format(hours=plan.tray_h, reason=plan.tray_reason)]
    sites: dict[str, float] = {}
    for injection in plan.injections:
        sites[injection.site] = sites.get(injection.site, 0.0) + injection.volume_ml
    if sites:
        found.append(
            _("Fillings by the protocol: {sites}.").format(
                sites=", ".join(f"{_(site)} {ml:.3g} mL" for site, ml in sites.items())
            )
        )
    else:
        found.append(_("The protocol asks for no needle."))
    return tuple(found)


def _doubts(entrant: Entrant, setting: Setting, camp: Camp, wetting: float) -> tuple[str, ...]:
    found = [
        _(
            "Constants come from mammals' tissue and from food bacteria; nothing was measured on whole reptiles or"
            " amphibians. A factor of two in the penetration constant is a factor of four in time."
        )
    ]
    if entrant.death == UNKNOWN:
        found.append(_("Nobody wrote when it died."))
    if entrant.death == KILLED:
        found.append(
            _("It is alive when the table starts: {hours:g} h from its death to its filling are taken.").format(
                hours=setting.rules.number("killed", "hours")
            )
        )
    if entrant.plan.waits:
        found.append(
            _(
                "It waits: it is taken to be filled {hours:g} h after this table starts, and kept cold till then."
            ).format(hours=entrant.delay_h)
        )
    if not any(s.callipered for s in entrant.spots):
        found.append(_("Its girth was not callipered: time goes with the square of it."))
    if not {"formalin_stock_percent", "working_formalin_percent"} <= camp.given:
        found.append(
            _(
                "Nobody stated both stock and dilution: {percent:g} % formalin from a stock of {stock:g} % is taken."
            ).format(percent=camp.working_formalin_percent, stock=camp.formalin_stock_percent)
        )
    if wetting < 1:
        found.append(
            _(
                "The camp's fixative wets the sheets to {share:.0f} % of what is planned, and that is reckoned with."
            ).format(share=100 * wetting)
        )
    return tuple(found)


def _rows_of_fillings(plan: AnimalPlan) -> tuple[float, float] | None:
    """Distance and amount of a row of fillings along the trunk, where there is one."""
    row = sorted((i for i in plan.injections if i.site in ("cavity", "hindgut")), key=lambda i: i.at_mm)
    if plan.animal.form not in LONG_BODIED or len(row) < ROW_OF:
        return None
    gaps = np.diff([i.at_mm for i in row])
    return float(np.median(gaps)), float(np.median([i.volume_ml for i in row]))


def _between(entrants: Sequence[Entrant], setting: Setting) -> dict[int, BetweenDepots]:
    rows = {i: row for i, e in enumerate(entrants) if (row := _rows_of_fillings(e.plan)) is not None}
    if not rows:
        return {}
    chance = setting.medians()
    spots = [next(s for s in entrants[i].spots if s.region == "hindgut") for i in rows]
    depots = depots_of(spots, [r[0] for r in rows.values()], [r[1] for r in rows.values()], setting.rules)
    found = between(
        depots,
        chance.tissue,
        float(chance.stop_mol_l[0]) / setting.bath_mol_l[1],
        setting.until_h,
        setting.warmth,
        stop_bound=chance.stop_bound,
        start_h=np.array([entrants[i].delay_h for i in rows]),
    )
    answer = {}
    for n, (i, (spacing, ml)) in enumerate(rows.items()):
        spoil = setting.spoil_h("gut", entrants[i].spent["gut"], entrants[i].delay_h)
        arrest, half = float(found.midway_arrest_h[n]), float(found.midway_half_bound_h[n])
        says = (
            _("Half-way between fillings ({spacing:.0f} mm apart) decay is stopped after {arrest} h.").format(
                spacing=spacing, arrest=hours_words(arrest)
            )
            if np.isfinite(arrest)
            else _("Half-way between fillings ({spacing:.0f} mm apart) fixative does not arrive in time.").format(
                spacing=spacing
            )
        )
        answer[i] = BetweenDepots(spacing, ml, finite(arrest), finite(half), finite(spoil - arrest), says)
    return answer


def _missing(
    entrants: Sequence[Entrant], rows: Sequence[slice], found: Passage, chance: Chance, setting: Setting
) -> dict[int, tuple[bool, float | None]]:
    """For animals that are not half bound by the horizon: whether supply is what lacks, and the millilitres missing."""
    sure = setting.rules.number("leave", "sure_share")
    some = chance.thinned(THINNED)
    trial: list[Spot] = []
    stuck: list[int] = []
    for i, chosen in enumerate(rows):
        bound = np.isfinite(found.half_bound_h[chosen])
        if np.mean(bound.all(axis=0)) >= sure:
            continue
        stuck.append(i)
        # The region that is bound in fewest draws stands for the animal.
        slowest = entrants[i].spots[int(np.argmin(bound.mean(axis=1)))]
        for share in (*EXTRA_SHARES, np.inf):
            film = FILM_MM * share * entrants[i].plan.body.volume_ml / entrants[i].plan.body.surface_cm2
            trial.append(replace(slowest, sheet_mm=slowest.sheet_mm + film))
    if not stuck:
        return {}
    tries = len(EXTRA_SHARES) + 1
    begun = np.repeat([entrants[i].delay_h for i in stuck], tries)
    reached_half = passages(trial, some, setting.warmth, setting.until_h, start_h=list(begun)).half_bound_h
    bound = np.isfinite(reached_half).mean(axis=1)
    answer: dict[int, tuple[bool, float | None]] = {}
    for n, i in enumerate(stuck):
        reached = bound[n * tries : (n + 1) * tries] >= sure
        enough = np.flatnonzero(reached[:-1])
        ml = EXTRA_SHARES[int(enough[0])] * entrants[i].plan.body.volume_ml if enough.size else None
        answer[i] = (bool(reached[-1]), ml)
    return answer
