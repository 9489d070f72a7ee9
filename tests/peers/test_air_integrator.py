"""The closed forms of the air beside a stiff integrator (scipy's LSODA) that knows only the balance of mass."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from keepfast.science import air, spill

CASES = [
    (10.0, 5.0, 100.0, 0.5, 0.1),
    (3.0, 0.5, 30.0, 0.8, 0.06),
    (40.0, 0.0, 12.0, 0.5, 0.06),  # shut for good
    (1.0, 300.0, 8.0, 0.5, 0.3),  # swept by a breeze
]
# The integrator is asked for 1e-10; a thousand times that is left for both.
CLOSE = 1e-7


def integrated(source, flow, volume, near_volume, exchange, end, times, breaks=()):
    """Near, far and their integrals, by LSODA, restarted at every break of the source."""
    far_volume = volume - near_volume

    def slope(t, y):
        given = source(t)
        return [
            (given + exchange * (y[1] - y[0])) / near_volume,
            (exchange * (y[0] - y[1]) - flow * y[1]) / far_volume,
            y[0],
            y[1],
        ]

    state, found = np.zeros(4), []
    edges = [0.0, *breaks, end]
    for first, last in itertools.pairwise(edges):
        inside = [t for t in times if first < t <= last] or [last]
        solved = solve_ivp(slope, (first, last), state, "LSODA", inside, rtol=1e-10, atol=1e-12, max_step=5.0)
        found += list(solved.y.T[: len([t for t in times if first < t <= last])])
        state = solve_ivp(slope, (first, last), state, "LSODA", [last], rtol=1e-10, atol=1e-12, max_step=5.0).y[:, -1]
    return np.array(found)


@pytest.mark.parametrize("case", CASES)
def test_a_steady_source(case):
    emission, flow, volume, radius, speed = case
    near_volume, exchange = air.near_field(radius, speed)
    times = np.array([1.0, 7.5, 15.0, 60.0, 240.0])
    expected = integrated(lambda t: emission, flow, volume, near_volume, exchange, 240.0, times)
    found = air.near_far(emission, flow, volume, near_volume, exchange, times)
    assert expected[:, 0] == pytest.approx(found.near_now, rel=CLOSE)
    assert expected[:, 1] == pytest.approx(found.far_now, rel=CLOSE)
    assert expected[:, 2] / times == pytest.approx(found.near_mean, rel=CLOSE)
    assert expected[:, 3] / times == pytest.approx(found.far_mean, rel=CLOSE)


@pytest.mark.parametrize("case", CASES)
def test_a_day_whose_source_changes(case):
    emission, flow, volume, radius, speed = case
    near_volume, exchange = air.near_field(radius, speed)
    edges = np.array([0.0, 20.0, 45.0, 46.0, 110.0, 240.0])
    sources = emission * np.array([0.0, 1.0, 0.2, 3.0, 0.0])
    expected = integrated(
        lambda t: sources[min(np.searchsorted(edges, t, side="right") - 1, 4)],
        flow,
        volume,
        near_volume,
        exchange,
        240.0,
        edges[1:],
        edges[1:-1],
    )
    found = air.near_far_course(edges, sources, flow, volume, near_volume, exchange)
    for column, values in enumerate((found.near_now, found.far_now, found.near_dose, found.far_dose)):
        assert expected[:, column] == pytest.approx(
            values[1:], rel=1e-6, abs=1e-9
        )  # breaks cost the integrator a digit


@pytest.mark.parametrize(("mass", "rate"), [(1000.0, 0.05), (500.0, 2.0), (200.0, 0.0166652)])
def test_a_spill_that_dries(mass, rate):
    """The last rate lies next to the slow rate of the room, where the closed form has to take its other branch."""
    near_volume, exchange = air.near_field(0.8, 0.06)
    times = np.array([2.0, 15.0, 60.0, 200.0])
    expected = integrated(lambda t: mass * rate * np.exp(-rate * t), 0.5, 30.0, near_volume, exchange, 200.0, times)
    found = spill.spill_near_far(mass, rate, 0.5, 30.0, near_volume, exchange, times)
    assert expected[:, 0] == pytest.approx(found.near_now, rel=1e-6)
    assert expected[:, 1] == pytest.approx(found.far_now, rel=1e-6)
    assert expected[:, 2] / times == pytest.approx(found.near_mean, rel=1e-6)
    assert expected[:, 3] / times == pytest.approx(found.far_mean, rel=1e-6)
