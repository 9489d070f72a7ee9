"""The search for a series: what it finds is checked by trying everything in a small case."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

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
    """All series by plain loops, each step with its own fluid: strengths, ethanol in mL per g, largest jump."""
    grid = np.arange(problem.least_vol, problem.stock_vol + 1e-9, problem.grid_vol)
    carried = problem.carried_ml_per_g
    made = []

    def on(strengths: tuple[float, ...], inside: float, ethanol: float, jump: float) -> None:
        jar = float(
            bath.fill_strength_or_nan(problem.target_vol, problem.jar_ml_per_g, problem.water_fraction, inside, carried)
        )
        if not math.isnan(jar):
            jar = round(jar / problem.round_vol) * problem.round_vol
            whole = (*strengths, jar)
            reach = max(jump, jar - inside)
            if jar <= problem.stock_vol and reach <= problem.largest_jump_vol:
                made.append((whole, ethanol + jar * problem.jar_ml_per_g / 100, reach))
        if len(strengths) == problem.most_changes - 1:
            return
        for strength, ratio in product(grid, problem.ratios_ml_per_g):
            reach = max(jump, strength - inside)
            if reach > problem.largest_jump_vol or (strengths and strength < strengths[-1]):
                continue
            end = float(
                bath.strength_after(strength, ratio, problem.water_fraction, start_vol=inside, carried_ml_per_g=carried)
            )
            there = inside + problem.share * (end - inside)
            if there > problem.target_vol:
                continue
            on((*strengths, float(strength)), there, ethanol + strength * ratio / 100, reach)

    on((), problem.start_vol, 0.0, 0.0)
    return made


# A stock hardly stronger than the target: few series end there at all.
NARROW = replace(
    PROBLEM, water_fraction=0.5, stock_vol=75.0, jar_ml_per_g=1.0, ratios_ml_per_g=(1.0, 2.0, 5.0), share=0.9
)


def test_a_narrow_way_is_found() -> None:
    problem = replace(NARROW, largest_jump_vol=90.0, carried_ml_per_g=0.3)
    everything = every_series(problem)
    best = search(problem, gentle_vol=30.0)["least_alcohol"]
    assert best.ethanol_ml_per_g == pytest.approx(min(e for _, e, _ in everything), abs=0.001)


@pytest.mark.parametrize(
    ("jump", "carried", "share", "jar"),
    [(35.0, 0.0, 0.9, 3.0), (40.0, 0.0, 1.0, 3.0), (40.0, 0.5, 0.9, 2.0), (60.0, 0.0, 0.9, 5.0), (90.0, 0.2, 1.0, 3.0)],
)
def test_nothing_better_exists(jump: float, carried: float, share: float, jar: float) -> None:
    """Brute force over the same grid, every step with any ratio; 0.001 mL per g is where two amounts count as one."""
    problem = replace(PROBLEM, largest_jump_vol=jump, carried_ml_per_g=carried, share=share, jar_ml_per_g=jar)
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
    # Gentle is within 30 points, or within the fewest half points more that any series manages.
    limit = 30.0 + 0.5 * math.ceil(max(0.0, 2 * (min(j for _, _, j in everything) - 30.0)) - 1e-9)
    gentle = [(s, e) for s, e, j in everything if j <= limit + 1e-9]
    shortest = min(len(s) for s, _ in gentle)
    assert found["gentlest"].largest_jump_vol <= limit + 1e-9
    assert len(found["gentlest"].strengths_vol) == shortest
    assert found["gentlest"].ethanol_ml_per_g == pytest.approx(
        min(e for s, e in gentle if len(s) == shortest), abs=0.001
    )


def test_each_step_may_take_its_own_amount_of_fluid() -> None:
    """A step that need not bring the body far is poured thinner: one amount for all would cost a fifth more."""
    problem = replace(
        PROBLEM, ratios_ml_per_g=(1.0, 2.0, 3.0, 5.0), grid_vol=5.0, most_changes=5, largest_jump_vol=35.0, share=0.9
    )
    free = search(problem, gentle_vol=20.0)["gentlest"]
    tied = min(
        (
            found["gentlest"]
            for ratio in problem.ratios_ml_per_g
            if (found := search(replace(problem, ratios_ml_per_g=(ratio,)), gentle_vol=20.0))
        ),
        key=lambda found: (max(0.0, found.largest_jump_vol - 20.0), found.ethanol_ml_per_g),
    )
    assert len(set(free.ratios_ml_per_g[:-1])) > 1
    assert free.ethanol_ml_per_g < tied.ethanol_ml_per_g


def test_every_series_ends_at_the_target() -> None:
    """Half a point of strength in the last fill moves the end by less."""
    for found in search(replace(PROBLEM, grid_vol=5.0, most_changes=4), gentle_vol=25.0).values():
        end = bath.strength_after(np.array(found.strengths_vol), np.array(found.ratios_ml_per_g), 0.75)[-1]
        assert end == pytest.approx(70.0, abs=0.25)
        assert list(found.strengths_vol) == sorted(found.strengths_vol)
        assert found.largest_jump_vol <= PROBLEM.largest_jump_vol


def test_what_is_carried_along_is_made_up_for() -> None:
    """Half a millilitre a gram of the fluid before stays with the body: the series still ends at the target."""
    problem = replace(PROBLEM, carried_ml_per_g=0.5, grid_vol=5.0, most_changes=4, largest_jump_vol=60.0)
    for found in search(problem, gentle_vol=30.0).values():
        end = bath.strength_after(
            np.array(found.strengths_vol), np.array(found.ratios_ml_per_g), 0.75, carried_ml_per_g=0.5
        )[-1]
        assert end == pytest.approx(70.0, abs=0.3)


def test_what_cannot_be_reached_gives_nothing() -> None:
    assert search(replace(PROBLEM, stock_vol=70.0), gentle_vol=20.0) == {}
