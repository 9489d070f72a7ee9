"""The search for a series: what it finds is checked by trying everything in a small case."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest

from keepfast.plan.step_search import GOALS, Problem, search
from keepfast.science import bath

PROBLEM = Problem(
    water_fraction=0.75,
    stock_vol=96.0,
    target_vol=70.0,
    jar_ml_per_g=3.0,
    ratios_ml_per_g=(2.0, 5.0),
    grid_vol=15.0,
    least_vol=15.0,
    most_changes=3,
    largest_jump_vol=40.0,
)


def every_series(problem: Problem) -> list[tuple[tuple[float, ...], float, float]]:
    """All series by plain loops: strengths, ethanol in mL per g, largest jump."""
    grid = np.arange(problem.least_vol, problem.stock_vol + 1e-9, problem.grid_vol)
    made = []
    for before in range(problem.most_changes):
        for ratio in problem.ratios_ml_per_g if before else (problem.jar_ml_per_g,):
            for steps in product(grid, repeat=before):
                inside, jump = 0.0, 0.0
                for strength in steps:
                    jump = max(jump, strength - inside)
                    inside = float(bath.strength_after(strength, ratio, problem.water_fraction, start_vol=inside))
                jar = float(
                    bath.fill_strength_or_nan(problem.target_vol, problem.jar_ml_per_g, problem.water_fraction, inside)
                )
                jar = round(jar / problem.round_vol) * problem.round_vol if jar == jar else jar
                strengths = (*steps, jar)
                if not jar <= problem.stock_vol or any(b < a for a, b in pairwise(strengths)):
                    continue
                jump = max(jump, jar - inside)
                if jump <= problem.largest_jump_vol:
                    ethanol = (sum(steps) * ratio + jar * problem.jar_ml_per_g) / 100
                    made.append((strengths, ethanol, jump))
    return made


@pytest.mark.parametrize("jump", [35.0, 40.0, 60.0, 90.0])
def test_nothing_better_exists(jump: float) -> None:
    """Brute force over the same grid; 0.001 mL per g is where two amounts count as one."""
    problem = replace(PROBLEM, largest_jump_vol=jump)
    everything = every_series(problem)
    found = search(problem, gentle_vol=30.0)
    assert set(found) == (set(GOALS) if everything else set())
    if not everything:
        return
    assert found["least_alcohol"].ethanol_ml_per_g == pytest.approx(min(e for _, e, _ in everything), abs=0.001)
    fewest = min(len(s) for s, _, _ in everything)
    assert len(found["fewest_changes"].strengths_vol) == fewest
    assert found["fewest_changes"].ethanol_ml_per_g == pytest.approx(
        min(e for s, e, _ in everything if len(s) == fewest), abs=0.001
    )
    over = min(max(0.0, j - 30.0) for _, _, j in everything)
    assert max(0.0, found["gentlest"].largest_jump_vol - 30.0) <= over + 0.5


def test_every_series_ends_at_the_target() -> None:
    """Half a point of strength in the last fill moves the end by less."""
    for found in search(replace(PROBLEM, grid_vol=5.0, most_changes=4), gentle_vol=25.0).values():
        end = bath.strength_after(np.array(found.strengths_vol), np.array(found.ratios_ml_per_g), 0.75)[-1]
        assert end == pytest.approx(70.0, abs=0.25)
        assert list(found.strengths_vol) == sorted(found.strengths_vol)
        assert found.largest_jump_vol <= PROBLEM.largest_jump_vol


def test_what_cannot_be_reached_gives_nothing() -> None:
    assert search(replace(PROBLEM, stock_vol=70.0), gentle_vol=20.0) == {}
