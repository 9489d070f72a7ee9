"""The race of fixative and decay, animal by animal: which part is at risk, when the tray may be left, how sure.

``judge`` is the way in. It builds the sections (``race_spots``), follows them under many draws, and says for each
region the margin between arrest and spoilage. ``advice`` says what would gain most; protocols are never overridden.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.plan import order
from keepfast.plan.camp import Camp
from keepfast.plan.objects import AnimalPlan, Tray
from keepfast.plan.race_spots import FILM_MM, Chance, Spot, film_mm, passages, room_taken, spots_of
from keepfast.rules import evening as evening_rules
from keepfast.rules import race as race_rules
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules
from keepfast.science import decay
from keepfast.science.penetration_layers import Passage
from keepfast.science.penetration_plane import Depots, between
from keepfast.science.warmth import Warmth
from keepfast.words import _

Array = npt.NDArray[np.float64]

DRAWS = 200
LONG_BODIED = ("snake", "legless_lizard", "amphisbaenian", "caecilian")
ROW_OF = 4  # so many fillings of the trunk make a row whose distance matters
SLOWEST_RATE = 1e-3  # of a clock: below it what is overdrawn is not turned into hours
EXTRA_SHARES = (0.05, 0.1, 0.2, 0.35, 0.6, 1.0, 2.0, 5.0)  # of the body's volume, tried on the sheets
THINNED = 8  # every eighth draw is enough to find them


@dataclass(frozen=True)
class Band:
    """Median with 5 and 95 % points; None where it lies beyond the horizon. ``beyond`` is the share that does."""

    median: float | None
    low: float | None
    high: float | None
    beyond: float = 0.0


@dataclass(frozen=True)
class RegionVerdict:
    """
    One region: margin in hours (spoilage minus arrest; negative is lost), its word and its reason.

    ``arrest_h`` and the margin are with a bath after practice's time in the tray; both bound marks are for as long as
    the animal stays in the tray. A margin is None where fixative had not come by the horizon.
    """

    region: str
    name: str
    clock: str
    margin_h: Band
    arrest_h: Band
    spoil_h: Band
    half_bound_h: Band
    nine_tenths_h: Band
    wins: float  # share of draws in which fixative is first
    verdict: str  # key of the word
    says: str
    reason: str
    radius_mm: float
    filled: bool


@dataclass(frozen=True)
class Leave:
    """When the tray may be left: practice's minimum, the model's time, the later of the two, or why not."""

    practice_h: float
    model_h: Band
    may_leave_h: float | None
    held_by: str  # region that takes longest
    supply_short: bool
    missing_ml: float | None  # of working solution, on the sheet; None when none is missing or none would do
    says: str


@dataclass(frozen=True)
class BetweenDepots:
    """Half-way between two fillings of a row, at the medians, in two dimensions."""

    spacing_mm: float
    depot_ml: float
    arrest_h: float | None
    half_bound_h: float | None
    margin_h: float | None
    says: str


@dataclass(frozen=True)
class Suggestion:
    """One thing that would help, or one that could be left out, with what it is worth."""

    key: str  # inject, slit, cooler, wet, closer, fewer
    region: str
    gain_h: float | None  # None where fixative would otherwise not come at all
    margin_h: float  # what would be in hand then, at the medians
    amount_ml: float | None
    says: str


@dataclass(frozen=True)
class AnimalVerdict:
    """The race of one animal, weakest region first."""

    field_number: str
    regions: tuple[RegionVerdict, ...]
    leave: Leave
    between: BetweenDepots | None
    advice: tuple[Suggestion, ...]
    practice: tuple[str, ...]  # rules of practice that stand beside it
    doubts: tuple[str, ...]
    sentence: str
    temperature_c: float
    spent_h: dict[str, float] = field(default_factory=dict)  # hours at 20 degrees C, by clock

    @property
    def weakest(self) -> RegionVerdict:
        """The region that leads the risk."""
        return self.regions[0]

    def as_dict(self) -> dict[str, Any]:
        """For JSON and for ``AnimalPlan.extra["race"]``."""
        answer = plain(asdict(self))
        assert isinstance(answer, dict)
        answer["weakest"] = self.weakest.region
        return answer


def plain(value: Any) -> Any:
    """Tuples as lists, times as text, and figures with no more digits than they deserve."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, float | np.floating):
        return float(f"{float(value):.4g}")
    if isinstance(value, datetime.datetime):
        return value.isoformat()
    return value


def band(values: Array) -> Band:
    """Median, 5 and 95 % points of draws in which infinite means beyond the horizon."""
    ordered = np.sort(values)

    def point(share: float) -> float | None:
        value = float(ordered[min(int(share * ordered.size), ordered.size - 1)])
        return value if np.isfinite(value) else None

    return Band(point(0.5), point(0.05), point(0.95), float(np.mean(~np.isfinite(values))))


def finite(value: float) -> float | None:
    """The value, or None where it is beyond the horizon."""
    return float(value) if np.isfinite(value) else None


def warmth_of(camp: Camp, start: datetime.datetime) -> Warmth:
    """The camp's temperature with hours counted from the start."""
    record = camp.temperature_record
    if not record:
        return Warmth.constant(camp.temperature_c)
    hours = np.array([(r.at - start).total_seconds() / 3600.0 for r in record])
    warm = np.array([r.temperature_c for r in record])
    keep = np.concatenate([[True], np.diff(hours) > 0])
    return Warmth(hours[keep], warm[keep])


@dataclass(frozen=True)
class _Entry:
    """One animal on its way through the race."""

    plan: AnimalPlan
    spots: list[Spot]
    delay_h: float
    spent: dict[str, float]
    assumed: bool


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
    warmth = warmth_of(camp, start)
    laid = room_taken(beside or plans)
    entries = []
    for plan in plans:
        film = film_mm(plan, evening, trays, laid) if plan.fit_for_fluid else 0.0
        spots = spots_of(plan, rules, film) if plan.fit_for_fluid else []
        if not spots:
            continue
        own = plan.fill_at_h if delays_h is None else delays_h.get(plan.animal.field_number)
        delay = own or 0.0
        urgency = order.urgency(plan.animal, plan.body.diameter_mm, camp, evening, start)
        before = {"gut": urgency.spent_gut_h, "autolysis": urgency.spent_autolysis_h}
        kept = order.kept_c(plan.animal, camp, evening, start)
        # What lies cooler than the table, on ice above all, stays there until its turn.
        waiting = Warmth.constant(kept) if kept < warmth.at(0.0) else warmth
        spent = {c: before[c] + float(waiting.load(0.0, delay, c)) for c in decay.CLOCKS}
        entries.append(_Entry(plan, spots, delay, spent, urgency.assumed))
    if not entries:
        return ()
    chance = Chance.drawn(rules, seed, draws)
    found = passages(
        [s for e in entries for s in e.spots],
        chance,
        warmth,
        until,
        bath_after_h=[e.plan.tray_h for e in entries for _spot in e.spots],
    )
    rows = _ranges(entries)
    depots = _between(entries, rules, evening, warmth, until)
    missing = _missing(entries, rows, found, chance, rules, warmth, until)
    verdicts = []
    for i, (entry, chosen) in enumerate(zip(entries, rows, strict=True)):
        part = Passage(*(getattr(found, f)[chosen] for f in Passage.__dataclass_fields__))
        verdicts.append(_verdict(entry, part, chance, rules, evening, warmth, depots.get(i), missing.get(i), until))
    if advise:
        from keepfast.plan import advice

        verdicts = advice.advised(
            verdicts, [e.plan for e in entries], [e.spots for e in entries], rules, evening, warmth, until
        )
    return tuple(verdicts)


def _ranges(entries: Sequence[_Entry]) -> list[slice]:
    answer, at = [], 0
    for entry in entries:
        answer.append(slice(at, at + len(entry.spots)))
        at += len(entry.spots)
    return answer


def red_limit(evening: EveningRules, clock: str) -> float:
    """Load at which a clock says spoilt. [h at 20 degrees C]"""
    return evening.number("load", f"{clock}_red_h")


def spoil_hours(limit: Array, spent: Array, warmth: Warmth, clock: str, latest_h: float, delay_h: float = 0.0) -> Array:
    """Hours from filling to the limit; negative where it was passed before, ``latest_h`` where the cold stops it."""
    left = limit - spent
    when = np.asarray(warmth.hour_of(np.maximum(left, 0.0), delay_h, delay_h + latest_h, clock), dtype=float) - delay_h
    rate = max(float(decay.relative_rate(float(warmth.at(delay_h)), clock)), SLOWEST_RATE)
    return np.where(left > 0, np.minimum(when, latest_h), np.maximum(left / rate, -latest_h))


def _verdict(
    entry: _Entry,
    found: Passage,
    chance: Chance,
    rules: RaceRules,
    evening: EveningRules,
    warmth: Warmth,
    depots: BetweenDepots | None,
    missing: tuple[bool, float | None] | None,
    until: float,
) -> AnimalVerdict:
    latest = rules.number("horizon", "latest_spoil_h")
    regions = []
    for k, spot in enumerate(entry.spots):
        limit = red_limit(evening, spot.clock) * chance.limit
        spent = entry.spent[spot.clock] * (chance.delay if entry.assumed else np.ones(chance.size))
        spoil = spoil_hours(limit, spent, warmth, spot.clock, latest, entry.delay_h)
        arrest = found.bath_arrest_h[k]
        margin = spoil - arrest
        wins = float(np.mean(margin > 0))
        word = rules.word_for(wins)
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
                reason=_reason(spot, entry, evening, warmth, found, k, missing),
                radius_mm=spot.radius_mm,
                filled=spot.filled,
            )
        )
    regions.sort(key=lambda r: (r.wins, _or(r.margin_h.median, -latest)))
    leave = _leave(entry, found, rules, until, missing)
    weak = regions[0]
    return AnimalVerdict(
        field_number=entry.plan.animal.field_number,
        regions=tuple(regions),
        leave=leave,
        between=depots,
        advice=(),
        practice=_practice(entry.plan),
        doubts=_doubts(entry),
        sentence=_sentence(weak),
        temperature_c=float(warmth.at(entry.delay_h)),
        spent_h=dict(entry.spent),
    )


def _sentence(weak: RegionVerdict) -> str:
    return _("{region}: {says}, {margin}. {reason}").format(
        region=_(weak.name).capitalize(), says=_(weak.says), margin=margin_words(weak.margin_h), reason=weak.reason
    )


def margin_words(found: Band) -> str:
    """A margin with its interval, in words: what is None was lost altogether."""
    if found.median is None:
        return _("fixative does not stop decay there in the time followed")
    low = _("lost") if found.low is None else hours_words(found.low)
    high = _("lost") if found.high is None else hours_words(found.high)
    if found.median < 0:
        return _("fixative {hours} h too late ({low} to {high} h in hand)").format(
            hours=hours_words(-found.median), low=low, high=high
        )
    return _("{hours} h in hand ({low} to {high})").format(hours=hours_words(found.median), low=low, high=high)


def _or(value: float | None, instead: float) -> float:
    return instead if value is None else value


def hours_words(hours: float) -> str:
    """Hours with no more digits than the model deserves; a true minus sign."""
    text = f"{hours:.0f}" if abs(hours) >= 9.5 else f"{hours:.1f}"
    text = "0" if text in ("-0", "0.0", "-0.0") else text
    return text.replace("-", "\N{MINUS SIGN}")


def _reason(
    spot: Spot,
    entry: _Entry,
    evening: EveningRules,
    warmth: Warmth,
    found: Passage,
    k: int,
    missing: tuple[bool, float | None] | None,
) -> str:
    spent, limit = entry.spent[spot.clock], red_limit(evening, spot.clock)
    warm = float(warmth.at(entry.delay_h))
    rate = float(decay.relative_rate(warm, spot.clock))
    depth = spot.radius_mm * (spot.core_share if spot.filled and spot.region in ("hindgut", "gonad") else 1.0)
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


def _leave(
    entry: _Entry, found: Passage, rules: RaceRules, until: float, missing: tuple[bool, float | None] | None
) -> Leave:
    practice = entry.plan.tray_h
    ready = np.maximum(found.half_bound_h, found.arrest_h)
    last = ready.max(axis=0)
    model = band(last)
    middle = np.array([band(row).median or np.inf for row in ready])
    held = entry.spots[int(np.argmax(middle))].region if np.any(middle > 0) else ""
    name = next((s.word for s in entry.spots if s.region == held), "")
    sure = rules.number("leave", "sure_share")
    ordered = np.sort(last)
    when = float(ordered[min(int(sure * ordered.size), ordered.size - 1)])
    short, ml = missing if missing is not None else (False, None)
    if np.isfinite(when):
        may: float | None = max(practice, when)
        says = _(
            "Leave the tray after {hours:.0f} h: practice asks for {practice:.0f} h, the model for {model}."
        ).format(hours=may, practice=practice, model=_span(model))
        return Leave(practice, model, may, held, False, None, says)
    if short and ml is not None:
        says = _(
            "The tray does not hold enough formaldehyde to bind half of the {region} within {hours:.0f} h:"
            " about {ml} mL more on the sheets, or move it to the bath after {practice:.0f} h."
        ).format(region=_(name), hours=until, ml=f"{ml:.2g}" if ml < 10 else f"{ml:.0f}", practice=practice)
    else:
        says = _(
            "The {region} is not half bound within {hours:.0f} h even in plenty of fluid: practice's {practice:.0f} h"
            " are not enough for it; move it to the bath then and count from there."
        ).format(region=_(name), hours=until, practice=practice)
    return Leave(practice, model, None, held, short, ml, says)


def _span(found: Band) -> str:
    if found.median is None:
        return _("more than it was followed")
    low = f"{found.low:.0f}" if found.low is not None else "?"
    if found.high is None:
        return _("{median:.0f} h ({low} h to beyond the end)").format(median=found.median, low=low)
    return _("{median:.0f} h ({low} to {high:.0f})").format(median=found.median, low=low, high=found.high)


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


def _doubts(entry: _Entry) -> tuple[str, ...]:
    found = [
        _(
            "Constants come from mammals' tissue and from food bacteria; nothing was measured on whole reptiles or"
            " amphibians. A factor of two in the penetration constant is a factor of four in time."
        )
    ]
    if entry.assumed:
        found.append(_("Nobody wrote when it died."))
    if not any(s.callipered for s in entry.spots):
        found.append(_("Its girth was not callipered: time goes with the square of it."))
    return tuple(found)


def _rows_of_fillings(plan: AnimalPlan) -> tuple[float, float] | None:
    """Distance and amount of a row of fillings along the trunk, where there is one."""
    row = sorted((i for i in plan.injections if i.site in ("cavity", "hindgut")), key=lambda i: i.at_mm)
    if plan.animal.form not in LONG_BODIED or len(row) < ROW_OF:
        return None
    gaps = np.diff([i.at_mm for i in row])
    return float(np.median(gaps)), float(np.median([i.volume_ml for i in row]))


def _between(
    entries: Sequence[_Entry], rules: RaceRules, evening: EveningRules, warmth: Warmth, until: float
) -> dict[int, BetweenDepots]:
    rows = {i: row for i, e in enumerate(entries) if (row := _rows_of_fillings(e.plan)) is not None}
    if not rows:
        return {}
    chance = Chance.medians(rules)
    spots = [next(s for s in entries[i].spots if s.region == "hindgut") for i in rows]
    depots = depots_of(spots, [r[0] for r in rows.values()], [r[1] for r in rows.values()], rules)
    stop = float(chance.stop_mol_l[0]) / float(chance.tissue.bath_mol_l[0])
    found = between(depots, chance.tissue, stop, until, warmth, stop_bound=chance.stop_bound)
    latest = rules.number("horizon", "latest_spoil_h")
    answer = {}
    for n, (i, (spacing, ml)) in enumerate(rows.items()):
        entry = entries[i]
        limit = np.array([red_limit(evening, "gut")])
        spoil = float(spoil_hours(limit, np.array([entry.spent["gut"]]), warmth, "gut", latest, entry.delay_h)[0])
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


def _missing(
    entries: Sequence[_Entry],
    rows: Sequence[slice],
    found: Passage,
    chance: Chance,
    rules: RaceRules,
    warmth: Warmth,
    until: float,
) -> dict[int, tuple[bool, float | None]]:
    """For animals that are not half bound by the horizon: whether supply is what lacks, and the millilitres missing."""
    sure = rules.number("leave", "sure_share")
    some = chance.thinned(THINNED)
    trial: list[Spot] = []
    stuck: list[int] = []
    for i, chosen in enumerate(rows):
        bound = np.isfinite(found.half_bound_h[chosen])
        if np.mean(bound.all(axis=0)) >= sure:
            continue
        stuck.append(i)
        # The region that is bound in fewest draws stands for the animal.
        slowest = entries[i].spots[int(np.argmin(bound.mean(axis=1)))]
        for share in (*EXTRA_SHARES, np.inf):
            film = FILM_MM * share * entries[i].plan.body.volume_ml / entries[i].plan.body.surface_cm2
            trial.append(replace(slowest, sheet_mm=slowest.sheet_mm + film))
    if not stuck:
        return {}
    bound = np.isfinite(passages(trial, some, warmth, until).half_bound_h).mean(axis=1)
    answer: dict[int, tuple[bool, float | None]] = {}
    tries = len(EXTRA_SHARES) + 1
    for n, i in enumerate(stuck):
        reached = bound[n * tries : (n + 1) * tries] >= sure
        enough = np.flatnonzero(reached[:-1])
        ml = EXTRA_SHARES[int(enough[0])] * entries[i].plan.body.volume_ml if enough.size else None
        answer[i] = (bool(reached[-1]), ml)
    return answer
