"""Penetration in two dimensions, along a long body and across it: what lies between two depots.

One half of the distance between neighbours is enough: both its ends are mirrors. Each implicit stage is solved by
alternating directions (approximate factorisation in the manner of Beam and Warming), corrected until it stands, and
formaldehyde is conserved to rounding. Arrays are (radius, length, cases).
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.science import penetration_solver as solver
from keepfast.science.penetration import HALF_LEVEL, MM2_H_PER_M2_S, REFERENCE_MOL_L
from keepfast.science.penetration_layers import Milestone, Tissue, factors_of_warmth, tissue_part
from keepfast.science.tables import load
from keepfast.science.warmth import Warmth

Array = npt.NDArray[np.float64]

RADIAL_NODES = 30
AXIAL_NODES = 28
GROWTH = 1.16
FIRST_H = 0.02


@dataclass(frozen=True)
class Plane:
    """Long bodies on one grid: ``radius_mm`` (nr, cases), ``length_mm`` (nz, cases), of cells (nr, nz, cases)."""

    radius_mm: Array
    length_mm: Array
    water: Array
    fast: Array
    slow: Array
    across: Array  # (nr - 1, nz, cases): conductance between rings
    along: Array  # (nr, nz - 1, cases)
    rate_fast: Array
    rate_slow: Array
    release: Array


@dataclass(frozen=True)
class Depots:
    """
    A long body with a depot every ``spacing_mm``; every field is (cases,), mm and mL.

    The fluid fills ``fluid_share`` of the cavity's cross-section, as far along as its volume reaches.
    """

    radius_mm: Array
    cavity_radius_mm: Array
    spacing_mm: Array
    depot_ml: Array
    fluid_share: Array
    skin_mm: Array
    skin_resistance_mm: Array
    sheet_mm: Array  # a film of fluid over the skin; infinite for a bath


@dataclass(frozen=True)
class Between:
    """What happens half-way between depots on the axis, and at the slowest place of all; hours, (cases,)."""

    midway_arrest_h: Array
    midway_half_bound_h: Array
    slowest_arrest_h: Array
    slowest_half_bound_h: Array


def lay(
    radius_mm: Array,
    length_mm: Array,
    *,
    diffusivity_mm2_h: Array,
    water_fraction: Array,
    capacity_mol_l: Array,
    fast_fraction: Array,
    rate_fast: Array,
    rate_slow: Array,
    release: Array,
    bath_mm: Array | float,
) -> Plane:
    """
    Finite volumes around the nodes of a cylinder.

    ``diffusivity_mm2_h``, ``water_fraction`` and ``capacity_mol_l`` broadcast to (nr - 1, nz, cases): of each ring
    between radial nodes. ``bath_mm`` is the fluid over the skin, 0 for a closed surface, infinite for a bath.
    """
    nr, cases = radius_mm.shape
    nz = length_mm.shape[0]
    middle = 0.5 * (radius_mm[1:] + radius_mm[:-1])
    within = 0.5 * (middle**2 - radius_mm[:-1] ** 2)
    beyond = 0.5 * (radius_mm[1:] ** 2 - middle**2)
    gaps = np.diff(length_mm, axis=0)
    width = np.zeros_like(length_mm)
    width[:-1] += 0.5 * gaps
    width[1:] += 0.5 * gaps

    def ringed(quantity: Any) -> Array:
        return np.broadcast_to(np.asarray(quantity, dtype=float), (nr - 1, nz, cases))

    def gather(quantity: Any, by_width: bool = True) -> Array:
        ring = ringed(quantity)
        total = np.zeros((nr, nz, cases))
        total[:-1] += ring * within[:, None]
        total[1:] += ring * beyond[:, None]
        return np.asarray(total * width) if by_width else total

    water = gather(water_fraction)
    places = gather(capacity_mol_l)
    bath = np.broadcast_to(np.asarray(bath_mm, dtype=float), (cases,))
    own = water.sum(axis=(0, 1))
    film = np.where(np.isinf(bath), solver.UNLIMITED * own, np.where(np.isinf(bath), 0.0, bath) * radius_mm[-1] * width)
    water[-1] += film
    carried = gather(diffusivity_mm2_h, by_width=False)
    return Plane(
        radius_mm,
        length_mm,
        water,
        places * fast_fraction,
        places * (1.0 - fast_fraction),
        ringed(diffusivity_mm2_h) * (middle / np.diff(radius_mm, axis=0))[:, None] * width,
        0.5 * (carried[:, 1:] + carried[:, :-1]) / gaps,
        np.asarray(rate_fast, dtype=float),
        np.asarray(rate_slow, dtype=float),
        np.asarray(release, dtype=float),
    )


def content(plane: Plane, state: solver.State) -> Array:
    """Formaldehyde of every cell, free and bound, the bath's in the outermost. (nr, nz, cases)"""
    return plane.water * state.free + plane.fast * state.fast + plane.slow * state.slow


def _outflow(plane: Plane, free: Array, diffusion: Any) -> Array:
    net = np.zeros_like(free)
    across = plane.across * (free[1:] - free[:-1]) * diffusion
    net[:-1] -= across
    net[1:] += across
    along = plane.along * (free[:, 1:] - free[:, :-1]) * diffusion
    net[:, :-1] -= along
    net[:, 1:] += along
    return net


def _swap(array: Array) -> Array:
    return np.ascontiguousarray(np.swapaxes(array, 0, 1))


def step(
    plane: Plane,
    state: solver.State,
    hours: float,
    diffusion: Any = 1.0,
    binding: Any = 1.0,
    slope: Array | None = None,
    corrections: int = 3,
    tolerance: Any = 1e-4,
) -> tuple[solver.State, Array]:
    """One TR-BDF2 step in both directions; arguments as in ``penetration_solver.step``."""
    half = 0.5 * solver.GAMMA * hours
    reach = half * diffusion
    fast_s, slow_s = half * binding * plane.rate_fast, half * binding * plane.rate_slow
    slow_r = half * binding * plane.release
    across = -reach * plane.across
    along = _swap(-reach * plane.along)
    own_across = np.zeros_like(plane.water)
    own_across[:-1] -= across
    own_across[1:] -= across
    own_along = np.zeros_like(_swap(plane.water))
    own_along[:-1] -= along
    own_along[1:] -= along

    def stage(right: Array, fast: Array, slow: Array, guess: Array) -> solver.State:
        for _ in range(corrections):
            at = np.maximum(guess, 0.0)
            share = 1.0 / (1.0 + fast_s * at)
            fast_at = 1.0 - (1.0 - fast) * share
            fast_by = fast_s * (1.0 - fast_at) * share
            share = 1.0 / (1.0 + slow_r + slow_s * at)
            slow_at = (slow + slow_s * at) * share
            slow_by = slow_s * (1.0 - slow_at) * share
            local = plane.water + plane.fast * fast_by + plane.slow * slow_by
            lack = right - plane.water * at - plane.fast * fast_at - plane.slow * slow_at
            lack -= half * _outflow(plane, at, diffusion)
            first = solver.solve_long(local + own_across, across, lack)
            turned = _swap(local)
            move = _swap(solver.solve_long(turned + own_along, along, turned * _swap(first)))
            guess = at + move
            if np.all(np.abs(move).max(axis=(0, 1)) <= tolerance):
                break
        return solver.State(guess, fast_at + fast_by * move, slow_at + slow_by * move)

    before = content(plane, state)
    guess = state.free if slope is None else state.free + solver.GAMMA * hours * slope
    rate_fast, rate_slow = solver.gain(state, fast_s, slow_s, slow_r)
    middle = stage(
        before - half * _outflow(plane, state.free, diffusion), state.fast + rate_fast, state.slow + rate_slow, guess
    )
    guess = state.free + (middle.free - state.free) / solver.GAMMA
    after = stage(
        solver.ALPHA * content(plane, middle) - solver.BETA * before,
        np.minimum(solver.ALPHA * middle.fast - solver.BETA * state.fast, 1.0),
        np.minimum(solver.ALPHA * middle.slow - solver.BETA * state.slow, 1.0),
        guess,
    )
    return after, (after.free - state.free) / hours


def follow(
    plane: Plane,
    state: solver.State,
    hours: npt.ArrayLike,
    look: Callable[[float, solver.State], Any],
    *,
    warmth: Callable[[float, float], tuple[Any, Any]] | None = None,
    first_h: float = FIRST_H,
    growth: float = GROWTH,
    longest_h: float = 6.0,
    tolerance: Any = 1e-3,
    every_step: bool = False,
) -> tuple[solver.State, list[Any]]:
    """Step through ``hours``, looking at each (or after every step); as ``penetration_solver.run``."""
    marks = np.atleast_1d(np.asarray(hours, dtype=float))
    wanted = set(marks.tolist())
    seen = [look(0.0, state)] if 0.0 in wanted or every_step else []
    times = solver.time_grid(marks, first_h, growth, longest_h)
    slope: Array | None = None
    for start, end in itertools.pairwise(times):
        diffusion, binding = (1.0, 1.0) if warmth is None else warmth(float(start), float(end))
        state, slope = step(plane, state, float(end - start), diffusion, binding, slope, tolerance=tolerance)
        if every_step or float(end) in wanted:
            seen.append(look(float(end), state))
    return state, seen


def build(depots: Depots, tissue: Tissue) -> tuple[Plane, solver.State]:
    """Grid and starting state of long bodies with depots."""
    cases = depots.radius_mm.size
    skin = np.maximum(depots.skin_mm, 1e-3)
    cavity = depots.cavity_radius_mm
    inner, outer, rim = RADIAL_NODES // 3, RADIAL_NODES - RADIAL_NODES // 3 - 2, 2
    wall_edge = depots.radius_mm - skin
    radius = np.concatenate(
        [
            np.linspace(0.0, 1.0, inner + 1)[:, None] * cavity,
            cavity + (np.linspace(0.0, 1.0, outer)[1:, None] ** 0.85) * (wall_edge - cavity),
            wall_edge + np.linspace(0.0, 1.0, rim + 1)[1:, None] * skin,
        ]
    )
    reach = 0.5 * depots.spacing_mm
    # Fluid fills its share of the cavity; where its volume would reach past the half-way mark, the share grows.
    area = np.pi * cavity**2
    filled = np.minimum(0.5 * depots.depot_ml * 1000.0 / (area * depots.fluid_share), reach)
    share = np.clip(0.5 * depots.depot_ml * 1000.0 / (area * np.maximum(filled, 1e-9)), 0.0, 1.0)
    even = np.linspace(0.0, 1.0, AXIAL_NODES)[:, None]
    length = even * reach
    step_mm = reach / (AXIAL_NODES - 1)
    # A node's cell is filled by as much of it as the depot covers, so that no millilitre is lost to the grid.
    low = np.clip(length - 0.5 * step_mm, 0.0, reach)
    high = np.clip(length + 0.5 * step_mm, 0.0, reach)
    covered = np.clip((filled - low) / (high - low), 0.0, 1.0) * share
    nr = radius.shape[0]
    in_cavity = np.zeros((nr - 1, 1, 1))
    in_cavity[:inner] = 1.0
    fluid = in_cavity * covered[None]
    water = (1.0 - fluid) * tissue.water_fraction + fluid
    places = (1.0 - fluid) * tissue.capacity_mol_l
    muscle = np.asarray(tissue.diffusivity_m2_s, dtype=float) * MM2_H_PER_M2_S
    ring = np.ones((nr - 1, 1, cases)) * muscle
    ring[-rim:] = muscle * skin / (skin + depots.skin_resistance_mm)
    in_water = load("wilke-chang-1955-methylene-glycol").row(temperature_c=20.0)["diffusivity_m2_s"] * MM2_H_PER_M2_S
    spread = (1.0 - fluid) * ring + fluid * in_water

    def wide(value: Any) -> Array:
        return np.broadcast_to(np.asarray(value, dtype=float), (cases,))

    plane = lay(
        radius,
        length,
        diffusivity_mm2_h=spread,
        water_fraction=water,
        capacity_mol_l=places,
        fast_fraction=wide(tissue.fast_fraction),
        rate_fast=wide(1.0 / (np.asarray(tissue.tau_fast_h) * REFERENCE_MOL_L)),
        rate_slow=wide(1.0 / (np.asarray(tissue.tau_slow_h) * REFERENCE_MOL_L)),
        release=wide(tissue.release_per_h),
        bath_mm=depots.sheet_mm,
    )
    bath = wide(tissue.bath_mol_l)
    middle = 0.5 * (radius[1:] + radius[:-1])
    within = 0.5 * (middle**2 - radius[:-1] ** 2)[:, None]
    beyond = 0.5 * (radius[1:] ** 2 - middle**2)[:, None]
    width = (high - low)[None]
    put = np.zeros_like(plane.water)
    put[:-1] += fluid * within * width
    put[1:] += fluid * beyond * width
    sheet = np.where(np.isinf(depots.sheet_mm), 0.0, depots.sheet_mm)
    put[-1] += np.where(np.isinf(depots.sheet_mm), plane.water[-1], sheet * radius[-1] * width[0])
    free = bath * put / plane.water
    return plane, solver.State(free, np.zeros_like(free), np.zeros_like(free))


def between(
    depots: Depots,
    tissue: Tissue,
    stop_share: npt.ArrayLike,
    until_h: float,
    warmth: Warmth,
    *,
    stop_bound: float = 1.0,
    start_h: npt.ArrayLike = 0.0,
    growth: float = GROWTH,
) -> Between:
    """
    When the place half-way between two depots, and the slowest place of all, is arrested and half bound.

    Parameters
    ----------
    depots, tissue
        The bodies and their parameters; (cases,) throughout.
    stop_share : array_like
        Free formaldehyde that stops decay, as a share of bath strength.
    until_h, warmth, stop_bound, start_h, growth
        As in ``penetration_layers.first_passage``.

    Returns
    -------
    Between
        Hours; infinite where it does not happen by ``until_h``.
    """
    cases = depots.radius_mm.size
    tissue = tissue_part(tissue, slice(None))
    plane, state = build(depots, tissue)
    bath = np.broadcast_to(np.asarray(tissue.bath_mol_l, dtype=float), (cases,))
    stop = np.broadcast_to(np.asarray(stop_share, dtype=float), (cases,)) * bath
    fast = np.asarray(tissue.fast_fraction, dtype=float)
    marks = [Milestone(cases) for _ in range(4)]

    def look(hour: float, now: solver.State) -> None:
        bound = fast * now.fast + (1.0 - fast) * now.slow
        stopped = np.maximum(now.free / stop, bound / stop_bound)
        marks[0].see(hour, stopped[0, -1], 1.0)
        marks[1].see(hour, bound[0, -1], HALF_LEVEL)
        marks[2].see(hour, stopped.min(axis=(0, 1)), 1.0)
        marks[3].see(hour, bound.min(axis=(0, 1)), HALF_LEVEL)

    follow(
        plane,
        state,
        [until_h],
        look,
        warmth=factors_of_warmth(warmth, tissue, start_h),
        growth=growth,
        tolerance=2e-3 * bath,
        every_step=True,
    )
    return Between(*(mark.when for mark in marks))
