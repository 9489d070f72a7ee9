"""A day of near and far field for a thousand draws: closed form beside a stiff integrator."""

from __future__ import annotations

import itertools

import numpy as np
from scipy.integrate import solve_ivp

from benchmarks.rows import Row, seconds
from keepfast.science import air

DRAWS, MINUTES = 1000, 480
INTEGRATED = 12  # of the draws; the integrator's time is scaled up from these


def day() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Edges, emissions (minutes, draws), air flow, near volume and exchange: trays opened, filled, posed, covered."""
    rng = np.random.default_rng(1)
    edges = np.arange(MINUTES + 1.0)
    strength = rng.lognormal(np.log(5.0), 0.5, DRAWS)
    emission = np.zeros((MINUTES, DRAWS))
    for first, last, share in ((80, 125, 0.5), (125, 165, 1.0), (165, 175, 0.4), (300, 310, 0.2)):
        emission[first:last] = share * strength
    flow = np.exp(rng.uniform(np.log(0.08), np.log(30.0), DRAWS))
    near_volume, exchange = air.near_field(0.5, np.exp(rng.uniform(np.log(0.06), np.log(0.4), DRAWS)))
    return edges, emission, flow, np.asarray(near_volume), np.asarray(exchange)


def integrate(edges: np.ndarray, emission: np.ndarray, flow: float, near_volume: float, exchange: float) -> np.ndarray:
    """Near, far and their doses at the edges, by LSODA, restarted where the source changes."""
    far_volume = 30.0 - near_volume
    jumps = [0, *(np.flatnonzero(np.diff(emission)) + 1), len(emission)]
    state = np.zeros(4)
    found = [state]
    for first, last in itertools.pairwise(jumps):
        source = emission[first]

        def slope(t: float, y: np.ndarray, source: float = source) -> list[float]:
            return [
                (source + exchange * (y[1] - y[0])) / near_volume,
                (exchange * (y[0] - y[1]) - flow * y[1]) / far_volume,
                y[0],
                y[1],
            ]

        times = edges[first + 1 : last + 1]
        solved = solve_ivp(slope, (edges[first], edges[last]), state, "LSODA", times, rtol=1e-8, atol=1e-10)
        found.extend(solved.y.T)
        state = solved.y[:, -1]
    return np.array(found)


def run() -> list[Row]:
    """Time both and compare their 15 min and 8 h means."""
    edges, emission, flow, near_volume, exchange = day()

    def closed() -> air.Course:
        return air.near_far_course(edges, emission, flow, 30.0, near_volume, exchange)

    def stiff() -> list[np.ndarray]:
        return [integrate(edges, emission[:, k], flow[k], near_volume[k], exchange[k]) for k in range(INTEGRATED)]

    ours = closed()
    worst = 0.0
    for k, theirs in enumerate(stiff()):
        for column, dose in ((2, ours.near_dose), (3, ours.far_dose)):
            for window in (15.0, 480.0):
                expected = air.highest_mean(edges, theirs[:, column], window)
                worst = max(worst, abs(float(air.highest_mean(edges, dose[:, k], window) / expected) - 1.0))
        for column, level in ((0, ours.near_now), (1, ours.far_now)):
            inside = theirs[:, column] > 1e-3 * theirs[:, column].max()
            worst = max(worst, float(np.max(np.abs(level[inside, k] / theirs[inside, column] - 1.0))))
    fast = seconds(closed)
    slow = seconds(stiff, repeats=1) * DRAWS / INTEGRATED
    return [
        Row(
            f"a day of near and far field, {DRAWS} draws",
            fast,
            "50 ms and within 0.1 % of a stiff integrator",
            fast <= 0.05 and worst <= 1e-3,
            beside=f"LSODA, scaled up from {INTEGRATED} draws",
            beside_seconds=slow,
            note=f"largest difference {100 * worst:.2g} %",
        )
    ]
