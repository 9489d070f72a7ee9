"""From the fixing bath through rinses and steps into the jar: what to pour, when, and where it really ends.

``plan_steps`` takes frozen inputs and gives a frozen plan; ``step_calendar`` puts it on the clock. The bath itself is
in ``fixing``, the search for a series in ``step_search``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.plan.fixing import BARE_SKINNED, Doubted, FixingPlan, InJar, Jarful, plan_fixing
from keepfast.plan.mixing import ACCEPTED_VOL
from keepfast.plan.step_search import GOALS, Found, Problem, search
from keepfast.rules.fluids import FluidRules, Saying, Series
from keepfast.science import alcohol, bath, tables
from keepfast.words import _

__all__ = [
    "BARE_SKINNED",
    "GOALS",
    "STAGES",
    "Change",
    "Doubted",
    "FixingPlan",
    "InJar",
    "Jarful",
    "StepSeries",
    "StepsPlan",
    "plan_steps",
]

STAGES = ("fixing", "rinse", "alcohol")


@dataclass(frozen=True)
class Change:
    """One change of fluid. Volumes as measured at the plan's temperature."""

    number: int
    kind: str  # rinse, step, jar
    strength_vol: float  # of the fresh fluid; 0 is water
    ml_per_g: float
    fluid_ml: float
    stock_ml: float
    water_ml: float
    ends_vol: Doubted  # body and fluid once they are one
    body_vol: float  # mean in the body when the next change comes
    jump_vol: float  # fresh fluid above what is in the body
    formaldehyde_percent_w_v: float  # free, in the body, when the next change comes
    hours: Doubted  # until the next change
    share: float  # of the way, after the middle of those hours


@dataclass(frozen=True)
class StepSeries:
    """One way into the jar."""

    key: str  # least_alcohol, fewest_changes, gentlest, own, or a practised series
    words: str
    changes: tuple[Change, ...]
    stock_ml: float
    ethanol_ml: float
    largest_jump_vol: float
    hours: Doubted  # from the first rinse to the jar
    source: str = ""

    @property
    def end_vol(self) -> Doubted:
        """The strength in the jar."""
        return self.changes[-1].ends_vol


@dataclass(frozen=True)
class StepsPlan:
    """Everything for one jarful."""

    jarful: Jarful
    stage: str  # where it begins
    temperature_c: float
    stock_vol: float
    target_vol: float
    target_words: str
    water: Doubted
    fixing: FixingPlan | None
    stays_in_formalin: bool  # True when nothing but the bath is planned
    stay_text: str
    stay_strengths: tuple[Saying, ...]
    stay_change_h: tuple[float, float]  # when their fixative is changed, once
    series: tuple[StepSeries, ...]
    chosen: str
    practice: tuple[Series, ...]
    rinse_practice: tuple[Saying, ...]
    check_days: tuple[float, float]
    doubts: tuple[str, ...]
    rules: dict[str, str]

    def of(self, key: str) -> StepSeries:
        """The series of this key.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {series.key: series for series in self.series}[key]

    def as_dict(self) -> dict[str, Any]:
        """For JSON: plain values; a time without end is None."""
        return _plain(asdict(self))  # type: ignore[no-any-return]


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(v) for key, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def plan_steps(
    jarful: Jarful,
    rules: FluidRules,
    *,
    stage: str = "rinse",
    stock_vol: float = 96.0,
    target_vol: float | None = None,
    temperature_c: float = 20.0,
    jar_ml_per_g: float | None = None,
    carried_ml_per_g: float = 0.0,
    formaldehyde_percent_w_v: float = 4.0,
    own_strengths_vol: Sequence[float] | None = None,
    prefer: str = "",
    wrapped: bool = False,
    bath_ml_per_g: float | None = None,
    into_alcohol_anyway: bool = False,
) -> StepsPlan:
    """
    The way of a jarful from fixing bath to closed jar.

    Parameters
    ----------
    jarful : Jarful
        What shares the jar.
    rules : FluidRules
        Practice.
    stage : str
        Where it begins: "fixing", "rinse" or "alcohol" (already rinsed).
    stock_vol : float
        Strength of the alcohol at hand. [% vol]
    target_vol : float, optional
        Strength wanted in the jar; the rules' own when not given. [% vol]
    temperature_c : float
        [degrees C]
    jar_ml_per_g : float, optional
        Fluid in the jar for each gram of body; the rules' own when not given.
    carried_ml_per_g : float
        Old fluid that stays with the bodies at each change. [mL/g]
    formaldehyde_percent_w_v : float
        In the bodies when rinsing begins. [g/100 mL]
    own_strengths_vol : sequence of float, optional
        Strengths of one's own series, the jar last.
    prefer : str
        "least_alcohol", "fewest_changes" or "gentlest"; empty: one's own series if given, else gentlest for staged
        forms and fewest changes for the others.
    wrapped, bath_ml_per_g
        For the fixing stage.
    into_alcohol_anyway : bool
        Send larvae and eggs on into alcohol.

    Raises
    ------
    FindingsError
        If larvae or eggs would go into alcohol without being sent there, or no series ends at the target.
    ValueError
        If a number lies outside.
    """
    if stage not in STAGES:
        raise ValueError(f"stage must be one of {', '.join(STAGES)}; {stage!r} was given")
    staying = [form for form in jarful.forms if form in rules.stay_forms]
    stays = bool(staying) and not into_alcohol_anyway
    if stays and stage != "fixing":
        raise FindingsError(
            [
                Finding(
                    _("{forms} normally stay in formalin").format(
                        forms=", ".join(f.replace("_", " ") for f in staying)
                    ),
                    _(rules.stay_text) + " " + _("To send them on all the same, say so: --into-alcohol-anyway."),
                    field="form",
                )
            ]
        )
    water = jarful.water()
    fixing = (
        plan_fixing(
            jarful,
            rules,
            temperature_c,
            wrapped=wrapped,
            ml_per_g=bath_ml_per_g,
            start_percent_w_v=formaldehyde_percent_w_v,
        )
        if stage == "fixing"
        else None
    )
    aim = min((rules.target(form) for form in jarful.forms), key=lambda t: t.strength_vol)
    target = aim.strength_vol if target_vol is None else target_vol
    series: tuple[StepSeries, ...] = ()
    practice: tuple[Series, ...] = ()
    chosen = ""
    jump = min((rules.jump(form) for form in jarful.forms), key=lambda j: j.largest_vol)
    doubts = _staying_too(jarful, rules) if stays else []
    if not stays:
        maker = _Maker(
            jarful, rules, water, stage, stock_vol, temperature_c, carried_ml_per_g, formaldehyde_percent_w_v
        )
        ratio = rules.number("bath", "storage_ml_per_g") if jar_ml_per_g is None else jar_ml_per_g
        series, chosen = _series(maker, target, ratio, own_strengths_vol, prefer, jump.key == "staged")
        practice = rules.series
        doubts = _doubts(jarful, rules, ratio, series, chosen, target)
    return StepsPlan(
        jarful=jarful,
        stage=stage,
        temperature_c=temperature_c,
        stock_vol=stock_vol,
        target_vol=target,
        target_words=aim.words if target_vol is None else _("as asked for"),
        water=water,
        fixing=fixing,
        stays_in_formalin=stays,
        stay_text=rules.stay_text,
        stay_strengths=rules.stay_strengths,
        stay_change_h=(rules.number("stay", "change_h_low"), rules.number("stay", "change_h_high")),
        series=series,
        chosen=chosen,
        practice=practice,
        rinse_practice=rules.rinse_practice,
        check_days=_check_days(rules, next((s for s in series if s.key == chosen), None)),
        doubts=tuple(doubts),
        rules=rules.identity,
    )


@dataclass(frozen=True)
class _Maker:
    """Carries one jarful through changes, one after the other."""

    jarful: Jarful
    rules: FluidRules
    water: Doubted
    stage: str
    stock_vol: float
    temperature_c: float
    carried_ml_per_g: float
    formaldehyde_percent_w_v: float

    def hours(self, share: float, solute: str, ratio: float) -> Doubted:
        """Time to come so far of the way, with the ends of what is known; scales count at the slow end."""
        extra = tables.load("keepfast-2026-alcohol-in-tissue").row(name="skin_extra_mm")["default"]
        radius = self.jarful.radius_mm

        def at(r: float, which: str) -> float:
            return float(
                bath.hours_to_equalise(
                    r,
                    share,
                    self.temperature_c,
                    solute=solute,
                    which=which,
                    fluid_ml_per_g=ratio,
                    water_fraction=self.water.value,
                )
            )

        slow = radius + (extra if self.jarful.scaled else 0.0)
        return Doubted(at(radius, "default"), at(radius, "high"), at(slow, "low"))

    def rinsed(self, free: float, ratio: float) -> float:
        """Free formaldehyde once a fluid without any has become one with the bodies. [g/100 mL]"""
        return float(bath.residual_formaldehyde(free, ratio, self.water.value, carried_ml_per_g=self.carried_ml_per_g))

    @cached_property
    def rinses(self) -> list[Change]:
        """Changes of water until alcohol may follow; the same for every series."""
        if self.stage == "alcohol":
            return []
        number = self.rules.number
        ratio = number("rinse", "water_ml_per_g")
        limit, most = number("rinse", "residual_percent"), int(number("rinse", "most_changes"))
        free = self.formaldehyde_percent_w_v
        made: list[Change] = []
        wanted = self.hours(number("rinse", "share"), "formaldehyde", ratio)
        while free > limit and len(made) < most:
            cap = number("rinse", "most_h") / most
            least = number("rinse", "least_h")
            hours = Doubted(*(min(max(h, least), cap) for h in (wanted.value, wanted.low, wanted.high)))
            share = float(
                bath.share_equalised(
                    self.jarful.radius_mm,
                    hours.value,
                    self.temperature_c,
                    solute="formaldehyde",
                    fluid_ml_per_g=ratio,
                    water_fraction=self.water.value,
                )
            )
            end = self.rinsed(free, ratio)
            free += share * (end - free)
            made.append(
                Change(
                    number=len(made) + 1,
                    kind="rinse",
                    strength_vol=0.0,
                    ml_per_g=ratio,
                    fluid_ml=ratio * self.jarful.mass_g,
                    stock_ml=0.0,
                    water_ml=ratio * self.jarful.mass_g,
                    ends_vol=Doubted(0.0, 0.0, 0.0),
                    body_vol=0.0,
                    jump_vol=0.0,
                    formaldehyde_percent_w_v=free,
                    hours=hours,
                    share=share,
                )
            )
        return made

    def carried(self, key: str, words: str, found: Found, source: str = "") -> StepSeries:
        """The series as it really goes: each step starts from what the body has by then."""
        changes = list(self.rinses)
        free = changes[-1].formaldehyde_percent_w_v if changes else 0.0
        inside = Doubted(0.0, 0.0, 0.0)
        last = len(found.strengths_vol) - 1
        water = [self.water.value, self.water.high, self.water.low]
        volumes = [ratio * self.jarful.mass_g for ratio in found.ratios_ml_per_g]
        mixes = alcohol.dilute(self.stock_vol, found.strengths_vol, volumes, self.temperature_c)
        for n, (strength, ratio) in enumerate(zip(found.strengths_vol, found.ratios_ml_per_g, strict=True)):
            share = self.rules.number("steps", "jar_share" if n == last else "share")
            hours = self.hours(share, "ethanol", ratio)
            ends = Doubted(
                *bath.strength_after(
                    strength,
                    ratio,
                    water,
                    start_vol=[inside.value, inside.low, inside.high],
                    carried_ml_per_g=self.carried_ml_per_g,
                ).tolist()
            )
            body = inside.value + share * (ends.value - inside.value)
            free += share * (self.rinsed(free, ratio) - free)
            changes.append(
                Change(
                    number=len(changes) + 1,
                    kind="jar" if n == last else "step",
                    strength_vol=strength,
                    ml_per_g=ratio,
                    fluid_ml=volumes[n],
                    stock_ml=float(mixes.stock_ml[n]),
                    water_ml=float(mixes.water_ml[n]),
                    ends_vol=ends,
                    body_vol=body,
                    jump_vol=strength - inside.value,
                    formaldehyde_percent_w_v=free,
                    hours=hours,
                    share=share,
                )
            )
            inside = Doubted(
                body, *(i + share * (e - i) for i, e in ((inside.low, ends.low), (inside.high, ends.high)))
            )
        steps = [c for c in changes if c.kind != "rinse"]
        before_jar = changes[:-1]
        return StepSeries(
            key=key,
            words=words,
            changes=tuple(changes),
            stock_ml=math.fsum(c.stock_ml for c in steps),
            ethanol_ml=math.fsum(c.fluid_ml * c.strength_vol / 100.0 for c in steps),
            largest_jump_vol=max(c.jump_vol for c in steps),
            hours=Doubted(*(math.fsum(getattr(c.hours, w) for c in before_jar) for w in ("value", "low", "high"))),
            source=source,
        )


def _series(
    maker: _Maker,
    target: float,
    jar_ratio: float,
    own: Sequence[float] | None,
    prefer: str,
    staged: bool,
) -> tuple[tuple[StepSeries, ...], str]:
    number = maker.rules.number
    jump = min((maker.rules.jump(form) for form in maker.jarful.forms), key=lambda j: j.largest_vol)
    problem = Problem(
        water_fraction=maker.water.value,
        stock_vol=maker.stock_vol,
        target_vol=target,
        jar_ml_per_g=jar_ratio,
        ratios_ml_per_g=maker.rules.ratios_ml_per_g,
        grid_vol=number("steps", "grid_vol"),
        least_vol=number("steps", "least_vol"),
        most_changes=int(number("steps", "most_changes")),
        largest_jump_vol=jump.largest_vol,
        share=number("steps", "share"),
        round_vol=number("steps", "round_vol"),
        carried_ml_per_g=maker.carried_ml_per_g,
    )
    found = search(problem, jump.gentle_vol)
    names = {
        "least_alcohol": _("least alcohol"),
        "fewest_changes": _("fewest changes"),
        "gentlest": _("gentlest steps"),
    }
    series = [maker.carried(key, names[key], found[key]) for key in GOALS if key in found]
    if own is not None:
        ratios = (*((jar_ratio,) * len(own)),)
        series.insert(0, maker.carried("own", _("as asked for"), Found(tuple(own), ratios, 0.0, 0.0)))
    if not series:
        raise FindingsError(
            [
                Finding(
                    _("no series within the rules ends at {target:g} % with {ratio:g} mL per g in the jar").format(
                        target=target, ratio=jar_ratio
                    ),
                    _("Take more fluid for the jar, a stronger stock, or a lower target.")
                    if maker.carried_ml_per_g <= 0
                    else _(
                        "Let the bodies drain better, take more fluid for the jar, a stronger stock, or a lower target."
                    ),
                    field="target",
                )
            ]
        )
    keys = [s.key for s in series]
    if prefer:
        if prefer not in keys:
            raise ValueError(f"prefer must be one of {', '.join(keys)}; {prefer!r} was given")
        return tuple(series), prefer
    usual = "own" if own is not None else "gentlest" if staged else "fewest_changes"
    return tuple(series), usual if usual in keys else keys[0]


def _check_days(rules: FluidRules, chosen: StepSeries | None) -> tuple[float, float]:
    """When the jar is read: as practised, and not before body and fluid have become one."""
    low, high = rules.number("steps", "check_days_low"), rules.number("steps", "check_days_high")
    if chosen is None:
        return low, high
    until = chosen.changes[-1].hours
    return max(low, float(math.ceil(until.value / 24))), max(high, float(math.ceil(until.high / 24)))


def _staying_too(jarful: Jarful, rules: FluidRules) -> list[str]:
    others = [b.name for b in jarful.bodies if b.form not in rules.stay_forms]
    if not others:
        return []
    return [
        _(
            "{who} would stay in formalin with them: plan what is to go on into alcohol without the larvae and eggs."
        ).format(who=", ".join(others))
    ]


def _doubts(
    jarful: Jarful, rules: FluidRules, ratio: float, series: Sequence[StepSeries], chosen: str, target: float
) -> list[str]:
    said = [
        _(
            "Body water is taken as {value:.0f} % ({low:.0f} to {high:.0f} %); fat animals hold less, a full"
            " bladder more."
        ).format(**{end: 100.0 * share for end, share in asdict(jarful.water()).items()}),
        _(
            "How fast alcohol spreads in tissue is known to a factor of two; pricked and slit bodies are at the"
            " fast end."
        ),
    ]
    if any(b.diameter_known != "measured" for b in jarful.bodies):
        said.append(
            _("The thickness is estimated: a calliper reading makes the times sharper, they go with its square.")
        )
    least = rules.number("bath", "least_storage_ml_per_g")
    if ratio < least:
        said.append(
            _("{ratio:.1f} mL per g is little for a jar: {least:g} is the least that is advised.").format(
                ratio=ratio, least=least
            )
        )
    best = next(s for s in series if s.key == chosen)
    ends = best.changes[-1].ends_vol.value
    if ends < target - ACCEPTED_VOL:
        said.append(
            _(
                "This series ends at {ends:.1f} %, below the {target:g} % that is wanted: take a stronger last fluid,"
                " or top up until it stays."
            ).format(ends=ends, target=target)
        )
    if ends > target + ACCEPTED_VOL:
        said.append(
            _(
                "This series ends at {ends:.1f} %, above the {target:g} % that is wanted: take a weaker last fluid."
            ).format(ends=ends, target=target)
        )
    rinses = [c for c in best.changes if c.kind == "rinse"]
    if rinses and rinses[-1].formaldehyde_percent_w_v > rules.number("rinse", "residual_percent"):
        said.append(
            _(
                "{free:.2f} % free formaldehyde is left after the rinses; more rinsing would take out what is bound."
            ).format(free=rinses[-1].formaldehyde_percent_w_v)
        )
    return said
