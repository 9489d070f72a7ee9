"""Penetration into a section of a real body: organ or yolk, injected fluid, wall and skin, in a tray that can run dry.

A section is a stack of rings from the inside out. The bath around it is a wet sheet (a limited volume, mixed with the
surface) or unlimited. What is asked of it is when its slowest point passes each mark: ``first_passage`` answers for
thousands of sections in one call.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.science import penetration_solver as solver
from keepfast.science.penetration import (
    FREE_LEVEL,
    HALF_LEVEL,
    MM2_H_PER_M2_S,
    NINE_TENTHS_LEVEL,
    REFERENCE_MOL_L,
    default,
)
from keepfast.science.tables import load
from keepfast.science.warmth import Warmth

Array = npt.NDArray[np.float64]

LAYERS = ("core", "fluid", "wall", "skin")
FINE = {"core": 10, "fluid": 2, "wall": 13, "skin": 1}
COARSE = {
    "core": 7,
    "fluid": 2,
    "wall": 9,
    "skin": 1,
}  # as good for thin bodies: the front of binding is 1 to 4 mm wide
THIN_MM = 8.0
THINNEST_MM = 1e-3  # a layer that a body lacks is laid this thin: it then neither holds nor hinders anything
DIFFUSION_REFERENCE_C = 20.0
BINDING_REFERENCE_C = 25.0
GROWTH = 1.4
FIRST_H = 0.02
BATH_FIRST_H = 0.2  # after the move: the surface was wet already
BLOCK = 1200  # sections solved together: more would leave the processor's cache
QUICK_ITERATIONS = 1  # the guess is so near that a second one moves a mark by less than 0.05 % (measured)


@dataclass(frozen=True)
class Tissue:
    """Parameters of one draw each; every field is (cases,) or a number."""

    diffusivity_m2_s: Any  # muscle, at 20 degrees C
    water_fraction: Any
    capacity_mol_l: Any
    fast_fraction: Any
    tau_fast_h: Any  # at 25 degrees C and 1.3 mol/L
    tau_slow_h: Any
    release_per_h: Any  # at 25 degrees C
    bath_mol_l: Any
    energy_diffusion_kj_mol: Any
    energy_binding_kj_mol: Any
    fat_diffusivity_ratio: Any
    fat_water_fraction: Any

    @classmethod
    def defaults(cls) -> Tissue:
        """The medians."""
        return cls(**{name: default(name) for name in cls.__dataclass_fields__})


@dataclass(frozen=True)
class Sections:
    """
    Sections of bodies; every field is (cases,), lengths in mm.

    ``radius_mm`` is the tissue's outer radius before anything was injected: fluid makes the body a little thicker.
    """

    radius_mm: Array
    core_radius_mm: Array
    core_fat_share: Array  # 0 muscle or gut, 1 fat
    fluid_area_mm2: Array  # injected fluid in the cross-section around the core
    skin_mm: Array  # true thickness
    skin_resistance_mm: Array  # extra tissue it is worth
    sheet_mm: Array  # wet sheet, as a film of fluid over the skin; infinite for a bath
    exponent: Array  # 1 cylinder, 2 sphere

    @property
    def cases(self) -> int:
        """How many sections."""
        return int(self.radius_mm.size)

    def part(self, chosen: Any) -> Sections:
        """Some of them."""
        return Sections(**{n: getattr(self, n)[chosen] for n in self.__dataclass_fields__})


@dataclass(frozen=True)
class Passage:
    """
    When the slowest point of a region passed each mark, hours; infinite where it did not. Arrays are (cases,).

    ``free_end`` and ``bound_end`` are that region's least free (share of bath strength) and least bound (0 to 1) at
    the last hour. ``bath_arrest_h`` is the arrest of bodies that are moved into a bath on the way.
    """

    arrest_h: Array
    half_bound_h: Array
    nine_tenths_h: Array
    free_end: Array
    bound_end: Array
    bath_arrest_h: Array


@dataclass(frozen=True)
class Profile:
    """Free and bound through the sections at chosen hours: (hours, nodes, cases); ``radius_mm`` is (nodes, cases)."""

    hours: Array
    radius_mm: Array
    free: Array
    bound: Array


def edges(grid: dict[str, int] = FINE) -> dict[str, slice]:
    """Which nodes belong to each layer, its inner and outer edge included; ``all`` is the whole section."""
    answer, start = {"all": slice(0, None)}, 0
    for name in LAYERS:
        answer[name] = slice(start, start + grid[name] + 1)
        start += grid[name]
    return answer


def _spread(count: int, both: bool) -> Array:
    """Places from 0 to 1 within a layer, closer together at its outer end, or at both ends."""
    if not both:
        return np.asarray(np.sin(0.5 * np.pi * np.linspace(0.0, 1.0, count + 1)))
    even = np.linspace(0.0, 1.0, count + 1)
    return np.asarray(0.4 * even + 0.6 * 0.5 * (1.0 - np.cos(np.pi * even)))


def build(sections: Sections, tissue: Tissue, grid: dict[str, int] = FINE) -> tuple[solver.Bodies, solver.State]:
    """Nodes and starting state of the sections; ``grid`` says how many intervals each layer has."""
    cases = sections.cases
    power = sections.exponent + 1
    skin = np.maximum(sections.skin_mm, THINNEST_MM)
    core = np.clip(sections.core_radius_mm, THINNEST_MM, None)
    wall = np.maximum(sections.radius_mm - core - skin, THINNEST_MM)
    # The fluid takes its own room: what lies around it is pushed out, its cross-section kept.
    fluid_volume = sections.fluid_area_mm2 / np.pi * np.where(sections.exponent == 2, sections.radius_mm, 0.5)
    inner = (core**power + power * fluid_volume) ** (1.0 / power)
    fluid_edge = np.maximum(inner, core + THINNEST_MM)
    outer = (np.maximum((core + wall) ** power - core**power, 0.0) + fluid_edge**power) ** (1.0 / power)
    outer = np.maximum(outer, fluid_edge + THINNEST_MM)
    marks = {
        "core": (np.zeros(cases), core),
        "fluid": (core, fluid_edge),
        "wall": (fluid_edge, outer),
        "skin": (outer, outer + skin),
    }
    pieces = []
    for name in LAYERS:
        low, high = marks[name]
        place = _spread(grid[name], both=name != "core")[:, None]
        pieces.append((low + place * (high - low))[0 if name == "core" else 1 :])
    radius = np.concatenate(pieces)
    middle = np.asarray(tissue.diffusivity_m2_s, dtype=float) * MM2_H_PER_M2_S
    fat = sections.core_fat_share
    in_water = load("wilke-chang-1955-methylene-glycol").row(temperature_c=DIFFUSION_REFERENCE_C)["diffusivity_m2_s"]
    values = {
        "core": (
            middle * (1.0 - fat + fat * tissue.fat_diffusivity_ratio),
            (1.0 - fat) * tissue.water_fraction + fat * tissue.fat_water_fraction,
            np.asarray(tissue.capacity_mol_l),
        ),
        "fluid": (in_water * MM2_H_PER_M2_S, 1.0, 0.0),
        "wall": (middle, tissue.water_fraction, tissue.capacity_mol_l),
        "skin": (
            middle * skin / (skin + sections.skin_resistance_mm),
            tissue.water_fraction,
            tissue.capacity_mol_l,
        ),
    }

    def laid(which: int) -> Array:
        rows = [np.broadcast_to(np.asarray(values[n][which], dtype=float), (grid[n], cases)) for n in LAYERS]
        return np.concatenate(rows)

    def wide(value: Any) -> Array:
        return np.broadcast_to(np.asarray(value, dtype=float), (cases,))

    bodies = solver.assemble(
        radius,
        sections.exponent,
        diffusivity_mm2_h=laid(0),
        water_fraction=laid(1),
        capacity_mol_l=laid(2),
        fast_fraction=wide(tissue.fast_fraction),
        rate_fast=wide(1.0 / (np.asarray(tissue.tau_fast_h) * REFERENCE_MOL_L)),
        rate_slow=wide(1.0 / (np.asarray(tissue.tau_slow_h) * REFERENCE_MOL_L)),
        release=wide(tissue.release_per_h),
        bath_volume=sections.sheet_mm * radius[-1] ** sections.exponent,
    )
    bath = wide(tissue.bath_mol_l)
    # Only the fluid's own part of a cell at its edge holds formaldehyde, so that none is made by the grid.
    filled = np.zeros((radius.shape[0] - 1, cases))
    filled[grid["core"] : grid["core"] + grid["fluid"]] = sections.fluid_area_mm2 > 0
    free = bath * solver.gather(filled, radius, sections.exponent) / bodies.water
    # At the surface the sheet's fluid is shared with that node's own, still bare, water.
    sheet = sections.sheet_mm * radius[-1] ** sections.exponent
    free[-1] = bath * np.where(np.isinf(sheet), 1.0, sheet / bodies.water[-1])
    return bodies, solver.State(free, np.zeros_like(free), np.zeros_like(free))


def factors_of_warmth(warmth: Warmth, tissue: Tissue, start_h: npt.ArrayLike) -> Any:
    """The factors of warmth between two hours after the start; ``start_h`` is a number or (cases,)."""
    starts = np.asarray(start_h, dtype=float)
    # One start for all is much the cheaper, for its temperatures are looked up once.
    begun = float(starts.flat[0]) if starts.size and np.all(starts == starts.flat[0]) else starts

    def factors(start: float, end: float) -> tuple[Any, Any]:
        return (
            warmth.mean_factor(begun + start, begun + end, DIFFUSION_REFERENCE_C, tissue.energy_diffusion_kj_mol),
            warmth.mean_factor(begun + start, begun + end, BINDING_REFERENCE_C, tissue.energy_binding_kj_mol),
        )

    if not warmth.is_constant:
        return factors
    always = factors(0.0, 1.0)
    return lambda start, end: always


def factors_of_some(factors: Any, chosen: npt.NDArray[np.intp]) -> Any:
    """The factors of warmth for some of the cases."""

    def some(start: float, end: float) -> tuple[Any, Any]:
        both = factors(start, end)
        return tuple(f[chosen] if np.ndim(f) else f for f in both)

    return some


def tissue_part(tissue: Tissue, chosen: Any) -> Tissue:
    """The parameters of some of the cases."""
    values = {}
    for name in tissue.__dataclass_fields__:
        value = getattr(tissue, name)
        values[name] = value[chosen] if np.ndim(value) else value
    return Tissue(**values)


class Milestone:
    """The first time at which a quantity of each case reached a level, straight in log time between steps."""

    def __init__(self, cases: int) -> None:
        self.when = np.full(cases, np.inf)
        self.before = np.zeros(cases)
        self.hour = 0.0

    def copy(self) -> Milestone:
        """As it stands now."""
        other = Milestone(self.when.size)
        other.when, other.before, other.hour = self.when.copy(), self.before.copy(), self.hour
        return other

    def part(self, chosen: npt.NDArray[np.intp]) -> Milestone:
        """That of some cases."""
        other = Milestone(chosen.size)
        other.when, other.before, other.hour = self.when[chosen], self.before[chosen], self.hour
        return other

    def see(self, hour: float, value: Array, level: Any) -> None:
        """One more step."""
        new = (value >= level) & np.isinf(self.when)
        if new.any():
            gain = np.where(value > self.before, value - self.before, 1.0)
            share = np.clip((level - self.before) / gain, 0.0, 1.0)
            start = max(self.hour, 1e-6)
            then = start * (hour / start) ** share if hour > 0 else np.zeros_like(value)
            self.when = np.where(new, then, self.when)
        self.before, self.hour = value, hour


def first_passage(
    sections: Sections,
    tissue: Tissue,
    place: npt.ArrayLike,
    stop_share: npt.ArrayLike,
    until_h: float,
    warmth: Warmth,
    *,
    stop_bound: float = 1.0,
    bath_after_h: npt.ArrayLike = np.inf,
    start_h: npt.ArrayLike = 0.0,
    growth: float = GROWTH,
    longest_h: float = 12.0,
) -> Passage:
    """
    When the slowest point of a part of each section is arrested, half bound and nine tenths bound.

    Parameters
    ----------
    sections, tissue
        The bodies and their parameters; (cases,) throughout.
    place : array_like of str
        Which part counts: ``core``, ``wall`` or ``all``. Broadcasts with (cases,).
    stop_share : array_like
        Free formaldehyde that stops decay, as a share of bath strength. Broadcasts with (cases,).
    until_h : float
        How long to follow them. [h]
    warmth : Warmth
        Temperature of body and tray.
    stop_bound : float
        Bound share that stops decay as well, whichever comes first; 1 leaves it to the free formaldehyde alone.
    bath_after_h : array_like
        When ``bath_arrest_h`` supposes the move from the wet sheet into an unlimited bath; never unless given. [h]
    start_h : array_like
        Hour of the record at which the fixative went in. Broadcasts with (cases,).
    growth, longest_h : float
        Steps grow by this factor up to this length.

    Returns
    -------
    Passage
        Of (cases,).
    """
    cases = sections.cases
    stop = np.broadcast_to(np.asarray(stop_share, dtype=float), (cases,))
    places = np.broadcast_to(np.asarray(place), (cases,))
    baths = np.broadcast_to(np.asarray(bath_after_h, dtype=float), (cases,))
    starts = np.broadcast_to(np.asarray(start_h, dtype=float), (cases,))
    answer = Passage(*(np.full(cases, np.inf) for _ in Passage.__dataclass_fields__))
    thin = sections.radius_mm < THIN_MM
    for name in np.unique(places):
        for small in (True, False):
            for bath in np.unique(baths):
                alike = np.flatnonzero((places == name) & (thin == small) & (baths == bath))
                for begin in range(0, alike.size, BLOCK):
                    chosen = alike[begin : begin + BLOCK]
                    matter = tissue_part(tissue, chosen)
                    plan = _Plan(
                        str(name),
                        COARSE if small else FINE,
                        stop_bound,
                        until_h,
                        float(bath),
                        factors_of_warmth(warmth, matter, starts[chosen]),
                        growth,
                        longest_h,
                    )
                    found = _passage_block(sections.part(chosen), matter, stop[chosen], plan)
                    for field in Passage.__dataclass_fields__:
                        getattr(answer, field)[chosen] = getattr(found, field)
    return answer


@dataclass(frozen=True)
class _Plan:
    """What one block of sections has in common."""

    place: str
    grid: dict[str, int]
    stop_bound: float
    until_h: float
    bath_after_h: float
    warmth: Any
    growth: float
    longest_h: float


def _passage_block(sections: Sections, tissue: Tissue, stop: Array, plan: _Plan) -> Passage:
    bodies, state = build(sections, tissue, plan.grid)
    bath = np.broadcast_to(np.asarray(tissue.bath_mol_l, dtype=float), stop.shape)
    fast = np.broadcast_to(np.asarray(tissue.fast_fraction, dtype=float), stop.shape)
    nodes = edges(plan.grid)[plan.place]
    scale = 1.0 / (stop * bath)
    options: dict[str, Any] = {
        "growth": plan.growth,
        "longest_h": plan.longest_h,
        "iterations": QUICK_ITERATIONS,
        "every_step": True,
    }

    def bound_of(now: solver.State, share: Array) -> Array:
        return share * now.fast[nodes] + (1.0 - share) * now.slow[nodes]

    def stopped(now: solver.State, bound: Array, by: Array) -> Array:
        # Of each place whichever stops decay first counts; of the region the place that is stopped last.
        return np.asarray(np.maximum(now.free[nodes] * by, bound * (1.0 / plan.stop_bound)).min(axis=0))

    arrest, half, nine = (Milestone(sections.cases) for _ in range(3))
    moving: list[tuple[solver.State, Milestone]] = []

    def look(hour: float, now: solver.State) -> Array:
        bound = bound_of(now, fast)
        least = bound.min(axis=0)
        arrest.see(hour, stopped(now, bound, scale), 1.0)
        half.see(hour, least, HALF_LEVEL)
        nine.see(hour, least, NINE_TENTHS_LEVEL)
        if hour == plan.bath_after_h:
            moving.append((now, arrest.copy()))
        return np.asarray(now.free[nodes].min(axis=0))

    moves = plan.bath_after_h < plan.until_h
    marks = [plan.bath_after_h, plan.until_h] if moves else [plan.until_h]
    _, seen = solver.run(bodies, state, marks, look, warmth=plan.warmth, first_h=FIRST_H, **options)
    in_bath = arrest.when
    late = np.flatnonzero(arrest.when > plan.bath_after_h) if moves else np.zeros(0, dtype=np.intp)
    if late.size:
        then, milestone = moving[0]
        milestone = milestone.part(late)
        some = bodies.part(late)
        sheet = np.where(np.isinf(sections.sheet_mm), 0.0, sections.sheet_mm)[late]
        own = np.where(
            np.isinf(sections.sheet_mm[late]),
            some.water[-2],
            some.water[-1] - sheet * some.radius_mm[-1] ** sections.exponent[late],
        )
        start = then.part(late)
        start.free[-1] = bath[late]
        share, by = fast[late], scale[late]
        warm = factors_of_some(plan.warmth, late)
        solver.run(
            solver.with_bath(some, own, np.inf),
            start,
            [plan.until_h - plan.bath_after_h],
            lambda hour, now: milestone.see(plan.bath_after_h + hour, stopped(now, bound_of(now, share), by), 1.0),
            warmth=lambda begin, end: warm(plan.bath_after_h + begin, plan.bath_after_h + end),
            first_h=BATH_FIRST_H,
            **options,
        )
        in_bath = arrest.when.copy()
        in_bath[late] = milestone.when
    return Passage(
        arrest.when, half.when, nine.when, np.clip(seen[-1] / bath, 0.0, None), np.clip(half.before, 0.0, 1.0), in_bath
    )


def profiles(
    sections: Sections,
    tissue: Tissue,
    hours: npt.ArrayLike,
    warmth: Warmth,
    *,
    start_h: npt.ArrayLike = 0.0,
    growth: float = 1.1,
) -> Profile:
    """
    Free (share of bath strength) and bound (0 to 1) through the sections at chosen hours, for pictures and fronts.

    Parameters
    ----------
    hours : array_like
        Rising, from the moment the fixative went in; the first may be 0. [h]
    sections, tissue, warmth, start_h, growth
        As in ``first_passage``.
    """
    bodies, state = build(sections, tissue)
    times = np.atleast_1d(np.asarray(hours, dtype=float))
    bath = np.broadcast_to(np.asarray(tissue.bath_mol_l, dtype=float), (sections.cases,))
    fast = np.asarray(tissue.fast_fraction, dtype=float)

    def look(_hour: float, now: solver.State) -> tuple[Array, Array]:
        return now.free / bath, np.clip(fast * now.fast + (1.0 - fast) * now.slow, 0.0, 1.0)

    _, seen = solver.run(
        bodies,
        state,
        times,
        look,
        warmth=factors_of_warmth(warmth, tissue, start_h),
        first_h=FIRST_H / 2,
        growth=growth,
        longest_h=6.0,
        tolerance=1e-4 * bath,
    )
    return Profile(times, bodies.radius_mm, np.stack([s[0] for s in seen]), np.stack([s[1] for s in seen]))


def fronts_of(profile: Profile) -> dict[str, Array]:
    """Depth below the skin that free at a tenth, bound one half and bound nine tenths have reached: (hours, cases)."""
    return {
        "free_tenth_mm": np.stack([solver.depth_of(FREE_LEVEL, c, profile.radius_mm) for c in profile.free]),
        "bound_half_mm": np.stack([solver.depth_of(HALF_LEVEL, b, profile.radius_mm) for b in profile.bound]),
        "bound_nine_tenths_mm": np.stack(
            [solver.depth_of(NINE_TENTHS_LEVEL, b, profile.radius_mm) for b in profile.bound]
        ),
    }
