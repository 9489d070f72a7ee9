"""The fixing weeks: bath or wet wrap, how far it is spent, how long by whom, and when a body counts as fixed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from keepfast.rules.fluids import FixingTime, FluidRules, Saying
from keepfast.science import bath, fixation, tables
from keepfast.words import _

# Scales keep fluid out; what they add to the way is in the table of tissue.
BARE_SKINNED = ("frog", "salamander", "caecilian", "larva", "egg_clutch")
FULL_BATH_PERCENT_W_V = 4.0


@dataclass(frozen=True)
class Doubted:
    """A computed value with its 5 and 95 % points."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class InJar:
    """One body, or several alike, as far as fluids care."""

    name: str
    form: str
    mass_g: float  # all of ``count`` together
    diameter_mm: float
    diameter_known: str  # measured, or estimated from what
    count: int = 1
    injected_ml: float = 0.0  # what was filled in and stayed: it counts as body liquid


@dataclass(frozen=True)
class Jarful:
    """What shares a bath and later a jar. The thickest body sets the pace, the most delicate the steps."""

    bodies: tuple[InJar, ...]

    @property
    def mass_g(self) -> float:
        """All bodies together."""
        return math.fsum(b.mass_g for b in self.bodies)

    @property
    def radius_mm(self) -> float:
        """Of the thickest body."""
        return max(b.diameter_mm for b in self.bodies) / 2.0

    @property
    def forms(self) -> tuple[str, ...]:
        """Each form once, in order."""
        return tuple(dict.fromkeys(b.form for b in self.bodies))

    @property
    def scaled(self) -> bool:
        """Whether any body wears scales."""
        return any(form not in BARE_SKINNED for form in self.forms)

    def water(self) -> Doubted:
        """Body liquid, injected fluid included, as a share of the fresh mass of all of it, with its range."""
        parts = [(b.mass_g, b.injected_ml, bath.body_water_fraction(b.form)) for b in self.bodies]
        total = self.mass_g

        def share(end: str) -> float:
            # A body filled beyond its own mass would be another slip; the exchange needs a share of at most one.
            return min(1.0, math.fsum(m * getattr(w, end) + injected for m, injected, w in parts) / total)

        return Doubted(share("value"), share("low"), share("high"))


@dataclass(frozen=True)
class FixingPlan:
    """How a jarful is fixed. Times in hours and days from the moment it goes in."""

    wrapped: bool
    ml_per_g: float
    fluid_ml: float
    start_percent_w_v: float
    end_percent_w_v: Doubted
    spent_share: float  # of its strength that the first fill keeps
    fills: int
    change_after_h: float | None
    change_reason: str
    by_source: tuple[FixingTime, ...]
    spread_days: tuple[float, float]  # over the sources that speak of such bodies
    centre_h: Doubted  # nine tenths bound in the middle, bath only, nothing injected
    days: Doubted  # what is planned, with the spread that remains
    signs: tuple[Saying, ...]
    travel: tuple[Saying, ...]
    doubts: tuple[str, ...]


def hours_to_fix_centre(radius_mm: float, temperature_c: float, scaled: bool) -> Doubted:
    """
    Time until nine tenths of the middle of the thickest body is bound, from the bath alone.

    Parameters
    ----------
    radius_mm : float
        [mm]
    temperature_c : float
        [degrees C]
    scaled : bool
        Scales lengthen the way; the far end of the range takes them in.

    Returns
    -------
    Doubted
        [h]  Middle and ends of the tissue's diffusivity as known.
    """
    skin = tables.load("keepfast-2026-alcohol-in-tissue").row(name="skin_extra_mm")["default"] if scaled else 0.0
    return Doubted(
        float(fixation.hours_to_bind_centre(radius_mm, temperature_c)),
        float(fixation.hours_to_bind_centre(radius_mm, temperature_c, which="high")),
        float(fixation.hours_to_bind_centre(radius_mm + skin, temperature_c, which="low")),
    )


def plan_fixing(
    jarful: Jarful,
    rules: FluidRules,
    temperature_c: float,
    *,
    wrapped: bool = False,
    ml_per_g: float | None = None,
    start_percent_w_v: float = FULL_BATH_PERCENT_W_V,
) -> FixingPlan:
    """
    The fixing weeks of a jarful.

    Parameters
    ----------
    jarful : Jarful
        What lies in the bath.
    rules : FluidRules
        Practice.
    temperature_c : float
        Of the bath. [degrees C]
    wrapped : bool
        In wet cloth in sealed bags instead of a bath.
    ml_per_g : float, optional
        Fluid for each gram of body; the rules' own when not given.
    start_percent_w_v : float
        Formaldehyde in the fresh fluid. [g/100 mL]

    Raises
    ------
    ValueError
        If an amount or the temperature lies outside.
    """
    usual = rules.number("bath", "wrap_ml_per_g" if wrapped else "fixing_ml_per_g")
    ratio = usual if ml_per_g is None else ml_per_g
    water = jarful.water()
    capacity = tables.load("keepfast-2026-two-site-binding").row(name="capacity_mol_l")
    end = Doubted(
        *(
            float(bath.bath_strength(start_percent_w_v, ratio, w, capacity[which]))
            for w, which in ((water.value, "default"), (water.high, "high"), (water.low, "low"))
        )
    )
    share = end.value / start_percent_w_v
    wanted = rules.number("bath", "spent_share")
    fills, change_after_h, reason = (
        1,
        None,
        _("The bath keeps {share:.0f} % of its strength: no change is needed.").format(share=100 * share),
    )
    if share < wanted:
        fills = _fills(start_percent_w_v, ratio, water.value, capacity["default"], wanted)
        change_after_h = max(
            12.0,
            float(
                bath.hours_to_equalise(
                    jarful.radius_mm,
                    rules.number("bath", "taken_up_share"),
                    temperature_c,
                    solute="formaldehyde",
                    fluid_ml_per_g=ratio,
                    water_fraction=water.value,
                )
            ),
        )
        reason = _(
            "The first fill falls to {share:.0f} % of its strength, by the body's water and by what binds:"
            " change it, {fills} fills in all."
        ).format(share=100 * share, fills=fills)
    speaking = tuple(t for t in rules.fixing_times if any(t.covers(b.form, b.mass_g / b.count) for b in jarful.bodies))
    centre = hours_to_fix_centre(jarful.radius_mm, temperature_c, jarful.scaled)
    least = rules.number("fixed", "least_days")
    counted = [t for t in speaking if not t.analogue]
    by_class = [t for t in counted if t.from_g > 0 or math.isfinite(t.below_g)] or counted
    class_low = max(t.days_low for t in by_class)
    class_high = max(t.days_high if t.days_high is not None else t.days_low for t in by_class)
    longest = max(t.days_high if t.days_high is not None else t.days_low for t in counted)
    model_low = centre.value * rules.number("fixed", "safety_low") / 24.0
    model_high = centre.value * rules.number("fixed", "safety_high") / 24.0
    planned = max(least, (class_low + class_high) / 2.0, model_low)
    days = Doubted(
        float(math.ceil(planned)),
        float(max(least, min(class_low, model_low))),
        float(max(longest, model_high, centre.high / 24.0)),
    )
    doubts = [
        _("The computed time is for a body that was neither injected nor slit; filled bodies are fixed sooner."),
        _(
            "Sources differ from {low:g} to {high:g} days for bodies like these: go by the signs, not by the calendar."
        ).format(low=min(t.days_low for t in counted), high=longest),
    ]
    if not wrapped and ratio < rules.number("bath", "least_ml_per_g"):
        doubts.append(
            _("{ratio:g} mL per g is little for a bath: {least:g} is the least that is advised.").format(
                ratio=ratio, least=rules.number("bath", "least_ml_per_g")
            )
        )
    return FixingPlan(
        wrapped=wrapped,
        ml_per_g=ratio,
        fluid_ml=ratio * jarful.mass_g,
        start_percent_w_v=start_percent_w_v,
        end_percent_w_v=end,
        spent_share=share,
        fills=fills,
        change_after_h=change_after_h,
        change_reason=reason,
        by_source=speaking,
        spread_days=(min(t.days_low for t in counted), longest),
        centre_h=centre,
        days=days,
        signs=rules.signs,
        travel=rules.travel,
        doubts=tuple(doubts),
    )


def _fills(start: float, ratio: float, water: float, capacity: float, wanted_share: float) -> int:
    """Fresh fills until body and fluid end above the wanted share; what binds is taken from the first."""
    inside = float(bath.bath_strength(start, ratio, water, capacity))
    fills = 1
    while inside < wanted_share * start and fills < 10:
        inside = (start * ratio + inside * water) / (ratio + water)
        fills += 1
    return fills
