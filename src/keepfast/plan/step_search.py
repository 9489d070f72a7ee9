"""Which series of strengths reaches the target with least alcohol, fewest changes or gentlest steps.

Every series on the grid is weighed, each step with its own amount of fluid. That is millions, so after each step only
those are kept that no other betters in all that counts: what was poured, how far the body has come, how strong the
fluid was. From any state that is left out, the one that betters it can go on the same way and end no worse.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from keepfast.science import bath

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
GOALS = ("least_alcohol", "fewest_changes", "gentlest")
HALF_POINT_VOL = 0.5  # less than this does not make one series gentler than another


@dataclass(frozen=True)
class Problem:
    """What the search is given. Strengths in % vol, ratios in mL per g of body."""

    water_fraction: float
    stock_vol: float
    target_vol: float
    jar_ml_per_g: float
    ratios_ml_per_g: tuple[float, ...]
    grid_vol: float
    least_vol: float
    most_changes: int
    largest_jump_vol: float
    share: float = 1.0  # of the way that a body has gone when the next fluid comes
    start_vol: float = 0.0
    round_vol: float = 0.5
    carried_ml_per_g: float = 0.0


@dataclass(frozen=True)
class Found:
    """One series: strengths and ratios of the fresh fluids, the jar last."""

    strengths_vol: tuple[float, ...]
    ratios_ml_per_g: tuple[float, ...]
    ethanol_ml_per_g: float
    largest_jump_vol: float


@dataclass(frozen=True)
class _States:
    """Bodies on their way, one to an element."""

    ethanol: Array  # poured so far, mL per g
    inside: Array  # mean strength in the body when the next fluid comes
    last: Array  # strength of the last fluid
    jump: Array  # the largest so far
    strengths: Array  # (states, steps)
    ratios: Array

    def chosen(self, at: Places) -> _States:
        return _States(
            self.ethanol[at], self.inside[at], self.last[at], self.jump[at], self.strengths[at], self.ratios[at]
        )


def _closed(problem: Problem, states: _States) -> Found | None:
    """The cheapest of the states with the jar behind it; None where none can end at the target."""
    jar = bath.fill_strength_or_nan(
        problem.target_vol, problem.jar_ml_per_g, problem.water_fraction, states.inside, problem.carried_ml_per_g
    )
    jar = np.round(jar / problem.round_vol) * problem.round_vol
    possible = (jar <= problem.stock_vol + 1e-9) & (jar - states.inside <= problem.largest_jump_vol + 1e-9)
    if not possible.any():
        return None
    ethanol = states.ethanol + jar * problem.jar_ml_per_g / 100.0
    jump = np.maximum(states.jump, jar - states.inside)
    # Thousandths of a millilitre are no difference; then the gentler is better.
    rank = np.lexsort((jump, np.where(possible, np.round(ethanol, 3), np.inf)))[0]
    return Found(
        (*(float(s) for s in states.strengths[rank]), float(jar[rank])),
        (*(float(r) for r in states.ratios[rank]), problem.jar_ml_per_g),
        float(ethanol[rank]),
        float(jump[rank]),
    )


def _stepped(problem: Problem, states: _States) -> _States:
    """All states one step on: every strength and ratio that is allowed from each."""
    grid = np.arange(problem.least_vol, problem.stock_vol + 1e-9, problem.grid_vol)
    strength = np.repeat(grid, len(problem.ratios_ml_per_g))
    ratio = np.tile(np.array(problem.ratios_ml_per_g), grid.size)
    jump = strength[None, :] - states.inside[:, None]
    allowed = (strength[None, :] >= states.last[:, None]) & (jump <= problem.largest_jump_vol + 1e-9)
    state, option = np.nonzero(allowed)
    poured, much, before = strength[option], ratio[option], states.inside[state]
    end = bath.strength_after(
        poured[:, None],
        much[:, None],
        problem.water_fraction,
        start_vol=before[:, None],
        carried_ml_per_g=problem.carried_ml_per_g,
    )[:, 0]
    inside = before + problem.share * (end - before)
    ethanol = states.ethanol[state] + poured * much / 100.0
    # A body that has passed the target would have to be led back.
    short = np.flatnonzero(inside <= problem.target_vol)
    kept = short[_unbettered(ethanol[short], inside[short], poured[short])]
    state, option = state[kept], option[kept]
    return _States(
        ethanol[kept],
        inside[kept],
        strength[option],
        np.maximum(states.jump[state], jump[state, option]),
        np.concatenate([states.strengths[state], strength[option][:, None]], axis=1),
        np.concatenate([states.ratios[state], ratio[option][:, None]], axis=1),
    )


def _unbettered(ethanol: Array, inside: Array, last: Array) -> Places:
    """Places of what no other betters: none is as cheap, as far and as weak in its last fluid."""
    kept: Places = np.zeros(0, dtype=np.intp)
    # Not numpy's own unique: that draws in masked arrays, which take longer than the whole search.
    for strength in sorted(set(last.tolist())):
        own = np.flatnonzero(last == strength)
        pool = np.concatenate([kept, own])
        pool = pool[np.lexsort((last[pool], -inside[pool], ethanol[pool]))]
        farthest = np.concatenate([[-np.inf], np.maximum.accumulate(inside[pool])[:-1]])
        ahead = pool[inside[pool] > farthest + 1e-9]
        kept = np.concatenate([kept, ahead[last[ahead] == strength]])
    return kept


def _by_changes(problem: Problem) -> Iterator[Found]:
    """The cheapest series of each length, the shortest first."""
    nothing = np.zeros((1, 0))
    zero = np.zeros(1)
    states = _States(zero, np.array([problem.start_vol]), zero, zero, nothing, nothing)
    for before in range(problem.most_changes):
        if before:
            states = _stepped(problem, states)
            if not states.inside.size:
                return
        found = _closed(problem, states)
        if found is not None:
            yield found


def _gentlest(problem: Problem, gentle_vol: float) -> Found | None:
    """The shortest series at the smallest limit of a step, in half points from what counts as gentle."""

    def within(half_points: int) -> Found | None:
        limit = min(gentle_vol + half_points * HALF_POINT_VOL, problem.largest_jump_vol)
        return next(_by_changes(replace(problem, largest_jump_vol=limit)), None)

    best = within(0)
    low, high = 0, int(np.ceil(max(0.0, problem.largest_jump_vol - gentle_vol) / HALF_POINT_VOL))
    while best is None and low < high:
        middle = (low + high) // 2
        if within(middle) is None:
            low = middle + 1
        else:
            high = middle
        if low == high:
            best = within(low)
    return best


def search(problem: Problem, gentle_vol: float) -> dict[str, Found]:
    """
    The best series for each goal.

    Parameters
    ----------
    problem : Problem
        What must be reached, from what.
    gentle_vol : float
        The step that counts as gentle. [% vol]

    Returns
    -------
    dict of str to Found
        "least_alcohol": least ethanol poured, steps no larger than allowed.
        "fewest_changes": fewest changes, then least ethanol, steps no larger than allowed.
        "gentlest": fewest changes whose steps all stay within ``gentle_vol``, then least ethanol; where no series can,
        smallest steps.
        Empty where no series within the limits ends at the target.
    """
    by_changes = list(_by_changes(problem))
    gentlest = _gentlest(problem, gentle_vol)
    if not by_changes or gentlest is None:
        return {}
    cheapest = min(by_changes, key=lambda found: round(found.ethanol_ml_per_g, 3))
    return {"least_alcohol": cheapest, "fewest_changes": by_changes[0], "gentlest": gentlest}
