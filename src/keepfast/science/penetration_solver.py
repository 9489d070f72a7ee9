"""The engine under ``penetration``: radial diffusion with two-site reversible binding, many bodies at once.

Nodes lie on axis 0, from the middle of the body to its surface, and cases on the last axis, so that every line of
numpy is one long operation. Time is stepped by TR-BDF2 (second order, L-stable), whose two stages share one matrix
form. Binding is linearised about the last iterate and its tangent is what is stored, so that formaldehyde is conserved
to rounding however few iterations were made.

Lengths are millimetres, times hours, concentrations mol/L of tissue water.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

GAMMA = 2.0 - np.sqrt(2.0)  # makes both stages of TR-BDF2 share the factor GAMMA / 2
ALPHA = 1.0 / (GAMMA * (2.0 - GAMMA))
BETA = (1.0 - GAMMA) ** 2 / (GAMMA * (2.0 - GAMMA))
SHAPES = {"slab": 0, "cylinder": 1, "sphere": 2}
UNLIMITED = 1e9  # a bath this many times the body's own capacity: its strength moves by less than rounding shows
FEW_CASES = 256  # below this the per-row cost of numpy exceeds LAPACK's per-cell cost (measured: about 400)


@dataclass(frozen=True)
class Bodies:
    """Many bodies of one grid, ready to be stepped. Arrays are (nodes, cases) or (cases,)."""

    radius_mm: Array  # (nodes, cases): where the nodes lie
    water: Array  # water volume of each node's cell
    fast: Array  # binding places of the fast site in each cell [mol/L x volume]
    slow: Array
    conductance: Array  # (nodes - 1, cases): area x D / distance, at the reference temperature
    rate_fast: Array  # (cases,) per h per mol/L
    rate_slow: Array
    release: Array  # (cases,) per h, the slow site's

    @property
    def cases(self) -> int:
        """How many bodies."""
        return int(self.radius_mm.shape[1])

    def part(self, chosen: npt.NDArray[np.intp]) -> Bodies:
        """Some of them."""
        return Bodies(*(np.ascontiguousarray(getattr(self, name)[..., chosen]) for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class State:
    """Free formaldehyde and the shares of both sites that are taken. Each is (nodes, cases)."""

    free: Array
    fast: Array
    slow: Array

    def part(self, chosen: npt.NDArray[np.intp]) -> State:
        """That of some bodies."""
        return State(*(np.ascontiguousarray(a[:, chosen]) for a in (self.free, self.fast, self.slow)))


def graded(nodes: int, crowding: float) -> Array:
    """Node positions from 0 (middle) to 1 (surface), closer together towards the surface.

    ``crowding`` 0 spaces them evenly; 3 makes the outermost interval a tenth of the innermost.
    """
    steps = np.linspace(1.0, 0.0, nodes)
    depth = steps if crowding == 0 else np.sinh(crowding * steps) / np.sinh(crowding)
    return np.asarray(1.0 - depth)


def assemble(
    radius_mm: Array,
    exponent: int | Array,
    *,
    diffusivity_mm2_h: Array,
    water_fraction: Array,
    capacity_mol_l: Array,
    fast_fraction: Array,
    rate_fast: Array,
    rate_slow: Array,
    release: Array,
    bath_volume: Array | float = np.inf,
) -> Bodies:
    """
    Lay the finite volumes around the nodes.

    Parameters
    ----------
    radius_mm : (nodes, cases)
        Node positions. The innermost may be greater than 0 (a wall bathed from outside only, closed within).
    exponent : int or (cases,)
        0 slab, 1 cylinder, 2 sphere.
    diffusivity_mm2_h, water_fraction, capacity_mol_l : broadcastable to (nodes - 1, cases)
        Of each interval between nodes, so that a layer's edge lies on a node.
    fast_fraction, rate_fast, rate_slow, release : (cases,)
    bath_volume : (cases,) or float
        Volume of the bath per unit of the body (per mm2 for a slab, per mm and radian for a cylinder, per steradian
        for a sphere). It is mixed with the surface node. Infinite for an unlimited bath.
    """
    power = np.asarray(exponent) + 1
    middle = 0.5 * (radius_mm[1:] + radius_mm[:-1])
    water = gather(water_fraction, radius_mm, exponent)
    places = gather(capacity_mol_l, radius_mm, exponent)
    own = water.sum(axis=0)
    bath = np.broadcast_to(np.asarray(bath_volume, dtype=float), own.shape)
    water[-1] += np.where(np.isinf(bath), UNLIMITED * own, bath)
    return Bodies(
        radius_mm=radius_mm,
        water=water,
        fast=places * fast_fraction,
        slow=places * (1.0 - fast_fraction),
        conductance=middle ** (power - 1) * diffusivity_mm2_h / np.diff(radius_mm, axis=0),
        rate_fast=np.asarray(rate_fast, dtype=float),
        rate_slow=np.asarray(rate_slow, dtype=float),
        release=np.asarray(release, dtype=float),
    )


def gather(quantity: Array, radius_mm: Array, exponent: int | Array) -> Array:
    """A quantity per volume, given for each interval between nodes, summed into the nodes' cells. (nodes, cases)"""
    power = np.asarray(exponent) + 1
    middle = 0.5 * (radius_mm[1:] + radius_mm[:-1])
    total = np.zeros_like(radius_mm)
    total[:-1] += quantity * (middle**power - radius_mm[:-1] ** power) / power
    total[1:] += quantity * (radius_mm[1:] ** power - middle**power) / power
    return total


def content(bodies: Bodies, state: State) -> Array:
    """Formaldehyde of every cell, free and bound, the bath's in the last. (nodes, cases)"""
    return bodies.water * state.free + bodies.fast * state.fast + bodies.slow * state.slow


def solve_long(diagonal: Array, beside: Array, right: Array) -> Array:
    """Symmetric tridiagonal systems, one a column, by Thomas' recurrence along axis 0 for all columns at once."""
    ratio = np.empty_like(beside)
    answer = np.empty_like(right)
    pivot = diagonal[0].copy()
    work = np.empty_like(pivot)
    np.divide(right[0], pivot, out=answer[0])
    for i in range(1, len(diagonal)):
        np.divide(beside[i - 1], pivot, out=ratio[i - 1])
        np.multiply(beside[i - 1], ratio[i - 1], out=work)
        np.subtract(diagonal[i], work, out=pivot)
        np.multiply(beside[i - 1], answer[i - 1], out=work)
        np.subtract(right[i], work, out=work)
        np.divide(work, pivot, out=answer[i])
    for i in range(len(diagonal) - 2, -1, -1):
        np.multiply(ratio[i], answer[i + 1], out=work)
        np.subtract(answer[i], work, out=answer[i])
    return answer


def solve_few(diagonal: Array, beside: Array, right: Array) -> Array:
    """The same systems as one long band through LAPACK: better when there are few columns."""
    # Loaded here: a table planned with hundreds of draws never needs it, and it takes a fifth of a second.
    from scipy.linalg import lapack

    nodes, cases = diagonal.shape
    off = np.zeros((cases, nodes))
    off[:, :-1] = beside.T
    _, _, answer, info = lapack.dptsv(
        np.ascontiguousarray(diagonal.T).ravel(), off.ravel()[:-1], np.ascontiguousarray(right.T).ravel()
    )
    if info != 0:
        raise ArithmeticError(f"the tridiagonal system could not be solved (LAPACK info {info})")
    return np.ascontiguousarray(answer.reshape(cases, nodes).T)


def _flux(bodies: Bodies, free: Array, diffusion: Any) -> Array:
    """Net outflow of every cell."""
    between = bodies.conductance * (free[1:] - free[:-1]) * diffusion
    net = np.empty_like(free)
    net[0] = -between[0]
    net[1:-1] = between[:-1] - between[1:]
    net[-1] = between[-1]
    return net


def gain(state: State, fast_s: Any, slow_s: Any, slow_r: Any) -> tuple[Array, Array]:
    """What both sites gain in an explicit half step, never more than they have room for."""
    held = np.maximum(state.free, 0.0)
    fast = np.minimum(fast_s * held, 1.0)
    fast *= np.maximum(1.0 - state.fast, 0.0)
    held *= slow_s
    slow = held * np.maximum(1.0 - state.slow, 0.0)
    slow -= slow_r * state.slow
    # Taking and letting go are damped together: each on its own would move the balance between them.
    slow /= np.maximum(np.add(held, slow_r, out=held), 1.0, out=held)
    return fast, slow


def step(
    bodies: Bodies,
    state: State,
    hours: float,
    diffusion: Any = 1.0,
    binding: Any = 1.0,
    slope: Array | None = None,
    tolerance: Any = 1e-6,
    iterations: int = 8,
) -> tuple[State, Array]:
    """
    One TR-BDF2 step.

    ``diffusion`` and ``binding`` are the factors of warmth (numbers or (cases,)), averaged over the step; ``slope`` is
    the last step's rate of change, a first guess. Iterations end when no free concentration moved by more than
    ``tolerance`` (mol/L). Returns the new state and its slope.
    """
    half = 0.5 * GAMMA * hours
    reach = half * diffusion
    fast_s = half * binding * bodies.rate_fast
    slow_s = half * binding * bodies.rate_slow
    slow_r = half * binding * bodies.release
    beside = -reach * bodies.conductance
    diagonal = bodies.water.copy()
    diagonal[:-1] -= beside
    diagonal[1:] -= beside
    solve = solve_few if bodies.cases < FEW_CASES else solve_long

    # Written with kept buffers: at thousands of cases fresh arrays cost more than the sums in them.
    wet, taken, ratio, bend, lean, side = (np.empty_like(bodies.water) for _ in range(6))

    def stage(right: Array, fast: Array, slow: Array, guess: Array) -> State:
        bare = 1.0 - fast
        for round_ in range(iterations):
            at = np.maximum(guess, 0.0, out=wet)
            # Fast site: taken = 1 - bare / (1 + s c), and its slope s bare / (1 + s c)^2.
            np.multiply(fast_s, at, out=ratio)
            np.add(ratio, 1.0, out=ratio)
            np.divide(bare, ratio, out=taken)
            np.divide(taken, ratio, out=bend)
            np.multiply(bend, fast_s, out=bend)
            np.subtract(1.0, taken, out=taken)
            # Slow site, which also lets go: (slow + s c) / (1 + r + s c), slope s (1 - it) / (1 + r + s c).
            np.multiply(slow_s, at, out=ratio)
            slow_at = slow + ratio
            np.add(ratio, 1.0 + slow_r, out=ratio)
            np.divide(slow_at, ratio, out=slow_at)
            np.subtract(1.0, slow_at, out=lean)
            np.divide(lean, ratio, out=lean)
            np.multiply(lean, slow_s, out=lean)
            load = bodies.fast * bend
            np.multiply(bodies.slow, lean, out=side)
            np.add(load, side, out=load)
            known = load * at
            np.add(known, right, out=known)
            np.multiply(bodies.fast, taken, out=side)
            np.subtract(known, side, out=known)
            np.multiply(bodies.slow, slow_at, out=side)
            np.subtract(known, side, out=known)
            np.add(load, diagonal, out=load)
            free = solve(load, beside, known)
            np.subtract(free, guess, out=side)
            if round_ == iterations - 1 or np.all(np.abs(side, out=side).max(axis=0) <= tolerance):
                break
            guess = free
        # The tangent, not the curve, is kept: it is what the balance above was struck with.
        np.subtract(free, at, out=side)
        np.multiply(bend, side, out=bend)
        np.multiply(lean, side, out=lean)
        return State(free, taken + bend, slow_at + lean)

    before = content(bodies, state)
    guess = state.free if slope is None else state.free + GAMMA * hours * slope
    # The explicit half may not overfill a site: where binding is much faster than the step it would otherwise run away.
    rate_fast, rate_slow = gain(state, fast_s, slow_s, slow_r)
    middle = stage(
        before - half * _flux(bodies, state.free, diffusion),
        # The tangent kept from the last step may lie a hair above full, where the curve's slope would turn negative.
        np.minimum(state.fast + rate_fast, 1.0),
        np.minimum(state.slow + rate_slow, 1.0),
        guess,
    )
    guess = state.free + (middle.free - state.free) / GAMMA
    after = stage(
        ALPHA * content(bodies, middle) - BETA * before,
        np.minimum(ALPHA * middle.fast - BETA * state.fast, 1.0),
        np.minimum(ALPHA * middle.slow - BETA * state.slow, 1.0),
        guess,
    )
    return after, (after.free - state.free) / hours


def time_grid(hours: Sequence[float] | Array, first_h: float, growth: float, longest_h: float = np.inf) -> Array:
    """Times from 0 that meet every one of ``hours`` and grow from ``first_h`` by at most the factor ``growth``."""
    marks = np.unique(np.asarray(hours, dtype=float))
    marks = marks[marks > 0]
    times = [0.0]
    for mark in marks:
        now = times[-1]
        if now == 0.0:
            first = min(first_h, mark)
            count = int(np.ceil(np.log(mark / first) / np.log(growth)))
            path = first * (mark / first) ** (np.arange(count + 1) / count) if count else np.array([mark])
        else:
            count = max(1, int(np.ceil(np.log(mark / now) / np.log(growth) - 1e-9)))
            path = now * (mark / now) ** (np.arange(1, count + 1) / count)
        for target in path:
            gap = target - times[-1]
            pieces = max(1, int(np.ceil(gap / longest_h - 1e-9)))
            start = times[-1]
            times.extend(start + gap * (i + 1) / pieces for i in range(pieces))
        times[-1] = float(mark)
    return np.array(times)


def run(
    bodies: Bodies,
    state: State,
    hours: Sequence[float] | Array,
    look: Callable[[float, State], Any],
    *,
    warmth: Callable[[float, float], tuple[Any, Any]] | None = None,
    first_h: float = 1e-3,
    growth: float = 1.1,
    longest_h: float = np.inf,
    tolerance: Any = 1e-6,
    iterations: int = 8,
    every_step: bool = False,
) -> tuple[State, list[Any]]:
    """
    Step from 0 through all of ``hours`` (rising, the first may be 0).

    ``look(time, state)`` is called at each of them (or after every step with ``every_step``) and its answers are
    returned in order. ``warmth(start, end)`` gives the mean factors of diffusion and of binding between two times.
    """
    marks = np.asarray(hours, dtype=float)
    wanted = set(marks.tolist())
    seen = [look(0.0, state)] if 0.0 in wanted or every_step else []
    times = time_grid(marks, first_h, growth, longest_h)
    slope: Array | None = None
    for start, end in itertools.pairwise(times):
        diffusion, binding = (1.0, 1.0) if warmth is None else warmth(float(start), float(end))
        state, slope = step(
            bodies, state, float(end - start), diffusion, binding, slope, tolerance=tolerance, iterations=iterations
        )
        if every_step or float(end) in wanted:
            seen.append(look(float(end), state))
    return state, seen


def blank(bodies: Bodies, bath_mol_l: Array) -> State:
    """Before the start: bare tissue, and at the surface the bath's own strength, diluted only by that node's water."""
    free = np.zeros_like(bodies.radius_mm)
    free[-1] = bath_mol_l
    return State(free, np.zeros_like(free), np.zeros_like(free))


def with_bath(bodies: Bodies, tissue_water: Array, bath_volume: Array | float) -> Bodies:
    """The same bodies in another bath; ``tissue_water`` is the surface cell's own water."""
    water = bodies.water.copy()
    own = water[:-1].sum(axis=0) + tissue_water
    bath = np.broadcast_to(np.asarray(bath_volume, dtype=float), own.shape)
    water[-1] = tissue_water + np.where(np.isinf(bath), UNLIMITED * own, bath)
    return replace(bodies, water=water)


def depth_of(level: float, values: Array, radius_mm: Array) -> Array:
    """
    How deep below the surface a profile still reaches a level, counted from the surface to the first failure.

    ``values`` and ``radius_mm`` are (nodes, cases). 0 where the surface itself is below it, the whole way to the
    innermost node where nothing is.
    """
    below = values < level
    nodes, cases = values.shape
    last = nodes - 1 - np.argmax(below[::-1], axis=0)
    column = np.arange(cases)
    inner = np.minimum(last, nodes - 2)
    low, high = values[inner, column], values[inner + 1, column]
    gap = np.where(high > low, high - low, 1.0)
    share = np.clip((level - low) / gap, 0.0, 1.0)
    at = radius_mm[inner, column] + share * (radius_mm[inner + 1, column] - radius_mm[inner, column])
    depth = radius_mm[-1] - at
    depth = np.where(below[-1], 0.0, depth)
    return np.where(below.any(axis=0), depth, radius_mm[-1] - radius_mm[0])
