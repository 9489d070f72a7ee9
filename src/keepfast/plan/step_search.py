"""Which series of strengths reaches the target with least alcohol, fewest changes or gentlest steps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations_with_replacement

import numpy as np
import numpy.typing as npt

from keepfast.science import bath

Array = npt.NDArray[np.float64]
GOALS = ("least_alcohol", "fewest_changes", "gentlest")


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


@dataclass(frozen=True)
class Found:
    """One series: strengths and ratios of the fresh fluids, the jar last."""

    strengths_vol: tuple[float, ...]
    ratios_ml_per_g: tuple[float, ...]
    ethanol_ml_per_g: float
    largest_jump_vol: float


@dataclass(frozen=True)
class _Batch:
    """All series of one length and one ratio."""

    strengths: Array  # (series, changes), the jar last
    ratios: tuple[float, ...]
    ethanol: Array
    jump: Array


def _batches(problem: Problem) -> Iterator[_Batch]:
    top = min(problem.stock_vol, 100.0)
    grid = np.arange(problem.least_vol, top + 1e-9, problem.grid_vol)
    for before in range(problem.most_changes):
        for ratio in problem.ratios_ml_per_g if before else (problem.jar_ml_per_g,):
            # Strengths never fall along a series, so combinations in order are all there are.
            series = list(combinations_with_replacement(grid, before))
            steps = np.array(series, dtype=float).reshape(len(series), before)
            inside = np.full((len(steps), 1), problem.start_vol)
            for n in range(before):
                now = inside[:, -1:]
                end = bath.strength_after(steps[:, n : n + 1], ratio, problem.water_fraction, start_vol=now)
                inside = np.concatenate([inside, now + problem.share * (end - now)], axis=1)
            jar = np.asarray(
                bath.fill_strength_or_nan(
                    problem.target_vol, problem.jar_ml_per_g, problem.water_fraction, inside[:, -1]
                )
            )
            jar = np.round(jar / problem.round_vol) * problem.round_vol
            strengths = np.concatenate([steps, jar[:, None]], axis=1)
            possible = ~np.isnan(jar) & (jar <= top + 1e-9)
            if before:
                possible &= jar >= steps[:, -1] - problem.round_vol
            if not possible.any():
                continue
            strengths, inside = strengths[possible], inside[possible]
            ratios = (*((ratio,) * before), problem.jar_ml_per_g)
            yield _Batch(
                strengths,
                ratios,
                (strengths * np.array(ratios)).sum(axis=1) / 100.0,
                (strengths - inside).max(axis=1),
            )


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
        "gentlest": fewest changes whose steps all stay within ``gentle_vol``; where no series can, smallest steps.
        Empty where no series within the limits ends at the target.
    """
    best: dict[str, tuple[tuple[float, ...], Found]] = {}
    for batch in _batches(problem):
        allowed = np.flatnonzero(batch.jump <= problem.largest_jump_vol + 1e-9)
        if not allowed.size:
            continue
        changes = np.full(allowed.shape, float(batch.strengths.shape[1]))
        ethanol, jump = np.round(batch.ethanol[allowed], 3), batch.jump[allowed]
        # Half points of strength do not make one series gentler than another.
        over = np.maximum(0.0, np.ceil(2.0 * (jump - gentle_vol)) / 2.0)
        for goal, ranks in (
            ("least_alcohol", (ethanol, changes, jump)),
            ("fewest_changes", (changes, ethanol, jump)),
            ("gentlest", (over, changes, ethanol)),
        ):
            at = int(np.lexsort(ranks[::-1])[0])
            key = tuple(float(rank[at]) for rank in ranks)
            if goal in best and best[goal][0] <= key:
                continue
            row = int(allowed[at])
            strengths = tuple(float(s) for s in batch.strengths[row])
            best[goal] = (key, Found(strengths, batch.ratios, float(batch.ethanol[row]), float(batch.jump[row])))
    return {goal: best[goal][1] for goal in GOALS if goal in best}
