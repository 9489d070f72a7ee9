"""A temperature record: means over a step, decay that adds up, and the hour at which a load is full."""

import numpy as np
import pytest
from scipy.integrate import quad

from keepfast.science import decay
from keepfast.science.penetration import warmth_factor
from keepfast.science.warmth import Warmth

DAY = Warmth(np.array([0.0, 6.0, 12.0, 18.0, 24.0]), np.array([14.0, 11.0, 25.0, 19.0, 14.0]))


def test_a_constant_is_the_same_everywhere():
    warm = Warmth.constant(27.0)

    assert 27.0 == warm.at(-5.0) == warm.at(1e6)
    assert warm.mean_factor(0, 9, 20.0, 18.5) == pytest.approx(warmth_factor(27.0, 20.0, 18.5))
    assert warm.load(2.0, 5.0, "gut") == pytest.approx(decay.load(3.0, 27.0, "gut"))


def test_means_over_a_step_are_integrals():
    exact, _ = quad(lambda h: warmth_factor(DAY.at(h), 25.0, 56.0), 3.0, 11.0, points=[6.0])

    # 0.5 %: half-hour samples of a record that bends.
    assert DAY.mean_factor(3.0, 11.0, 25.0, 56.0) == pytest.approx(exact / 8.0, rel=0.005)
    assert DAY.mean_factor(3.0, 11.0, 25.0, np.array([20.0, 56.0])).shape == (2,)


def test_steps_that_begin_at_other_hours_are_each_their_own():
    begun, energy = np.array([3.0, 9.5, 20.0]), np.array([20.0, 56.0, 18.5])
    together = DAY.mean_factor(begun, begun + 2.0, 25.0, energy)

    assert together == pytest.approx(
        [DAY.mean_factor(b, b + 2.0, 25.0, e) for b, e in zip(begun, energy, strict=True)], rel=1e-12
    )
    assert DAY.mean_factor(begun, begun + 2.0, 25.0, 56.0).shape == (3,)


@pytest.mark.parametrize("clock", ["gut", "autolysis"])
def test_decay_along_a_record_is_its_integral(clock):
    exact, _ = quad(lambda h: decay.relative_rate(DAY.at(h), clock), 1.0, 22.0, points=[6.0, 12.0, 18.0])

    # 0.5 %: half-hour steps.
    assert DAY.load(1.0, 22.0, clock) == pytest.approx(exact, rel=0.005)


def test_the_hour_of_a_load_undoes_the_load():
    hours = DAY.hour_of([0.5, 3.0, 8.0], 1.0, 60.0, "gut")

    assert [DAY.load(1.0, h, "gut") for h in hours] == pytest.approx([0.5, 3.0, 8.0], rel=0.01)


def test_what_the_cold_stops_never_comes():
    assert np.isinf(Warmth.constant(5.0).hour_of(1.0, 0.0, 500.0, "gut"))
    assert 3.0 == Warmth.constant(5.0).hour_of(0.0, 3.0, 500.0, "gut")


def test_a_move_to_the_shade_counts_from_its_hour():
    moved = DAY.shifted(-5.0, 10.0)

    assert DAY.at(9.0) == moved.at(9.0)
    assert DAY.at(12.0) - 5.0 == pytest.approx(moved.at(12.0))


def test_a_record_must_rise_and_match():
    with pytest.raises(ValueError, match="must rise"):
        Warmth(np.array([0.0, 0.0]), np.array([1.0, 2.0]))
    with pytest.raises(ValueError, match="lists of one length"):
        Warmth(np.array([0.0, 1.0]), np.array([1.0]))
