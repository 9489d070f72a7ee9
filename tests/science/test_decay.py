"""Growth of bacteria and the clocks of decay against published figures and a worked table."""

import math

import numpy as np
import pytest

from keepfast.science.decay import (
    doubling_time_h,
    growth_rate,
    is_extrapolated,
    load,
    organisms,
    relative_rate,
)

# mu (1/h) and doubling time (h) at 20, 25, 30 degrees C, worked out by hand from the published formulas.
WORKED = {
    "clostridium_perfringens": ((0.10, 0.32, 0.66), (6.8, 2.2, 1.05)),
    "escherichia_coli": ((0.38, 0.75, 1.24), (1.8, 0.93, 0.56)),
    "pseudomonas_chicken": ((0.40, 0.56, 0.75), (None, None, None)),
}


@pytest.mark.parametrize("organism", sorted(WORKED))
def test_growth_follows_the_published_models(organism):
    rates, doubling = WORKED[organism]

    # The table has two figures: half a unit of the last.
    assert growth_rate(organism, [20.0, 25.0, 30.0]) == pytest.approx(rates, abs=0.006)
    for warm, hours in zip((20.0, 25.0, 30.0), doubling, strict=True):
        if hours is not None:
            assert doubling_time_h(organism, warm) == pytest.approx(hours, rel=0.025)


@pytest.mark.parametrize(
    ("organism", "inside", "outside"),
    [
        ("clostridium_perfringens", (13.6, 50.5), (13.5, 10.0, 50.6, 60.0)),
        ("escherichia_coli", (7.8, 47.3), (7.75, 0.0, 47.4, 55.0)),
        ("pseudomonas_chicken", (-6.1, 40.0), (-6.2, -20.0)),
    ],
)
def test_nothing_grows_outside_the_ends_of_a_model(organism, inside, outside):
    assert all(growth_rate(organism, t) > 0 for t in inside)
    assert [0.0] * len(outside) == [growth_rate(organism, t) for t in outside]
    assert math.isinf(doubling_time_h(organism, outside[0]))


def test_only_pseudomonas_says_where_it_was_fitted():
    """Fitted at 4 to 15 degrees C: elsewhere an extrapolation, and it must be said where it is shown."""
    assert [False, False, True] == list(is_extrapolated("pseudomonas_chicken", [4.0, 15.0, 20.0]))
    assert not is_extrapolated("escherichia_coli", 30.0)


def test_floats_stay_floats_and_the_unknown_stays_unknown():
    assert isinstance(growth_rate("escherichia_coli", 20), float)
    assert np.isnan(growth_rate("escherichia_coli", [np.nan, 20.0])).tolist() == [True, False]
    assert math.isnan(load(1.0, float("nan"), "gut"))
    assert math.isnan(load(float("nan"), 20.0, "autolysis"))


def test_what_is_unknown_or_out_of_range_is_refused():
    with pytest.raises(ValueError, match=r"organism must be one of .*'yeast' was given"):
        growth_rate("yeast", 20)
    with pytest.raises(ValueError, match=r"temperature_c must be .*100 was given"):
        growth_rate("escherichia_coli", 100)
    with pytest.raises(ValueError, match="clock must be one of gut, autolysis; 'sand' was given"):
        load(1, 20, "sand")
    with pytest.raises(ValueError, match=r"hours must be .*-1 was given"):
        load(-1, 20, "gut")
    assert ("clostridium_perfringens", "escherichia_coli", "pseudomonas_chicken") == organisms()


def test_an_hour_at_20_degrees_is_an_hour():
    assert (1.0, 1.0) == (load(1, 20, "gut"), load(1, 20, "autolysis"))


@pytest.mark.parametrize(("warm", "hours"), [(20, 2.0), (25, 1.0), (30, 0.6), (35, 0.4)])
def test_two_hours_of_gut_clock_last_as_long_as_worked_out(warm, hours):
    """Worked table of the proposal: 2 h at 20, 1.0 at 25, 0.6 at 30, 0.4 at 35 degrees C."""
    # The hours have one decimal.
    assert 2.0 / relative_rate(warm, "gut") == pytest.approx(hours, abs=0.05)


def test_on_ice_the_gut_stops_and_enzymes_go_on():
    """Doubling every ten degrees: a quarter at 0 degrees C."""
    assert 0.0 == load(24, 0, "gut")
    assert 6.0 == pytest.approx(load(24, 0, "autolysis"))


def test_a_gut_reacts_more_steeply_to_warmth_than_diffusion_does():
    """d ln(rate)/dT of a square-root model is 2 / (T - Tmin): e^(20/12) = 5.3 in ten degrees at the slope of 20."""
    slope = 10 * math.log(relative_rate(20.05, "gut") / relative_rate(19.95, "gut")) / 0.1

    assert slope == pytest.approx(20 / 12, rel=1e-4)
    # Diffusion: about 1.3 in ten degrees (20 kJ/mol).
    assert math.exp(slope) > 1.3


def test_pieces_of_a_day_add_up():
    assert load([1.0, 2.0], [20.0, 30.0], "gut").sum() == pytest.approx(1 + 2 * (22 / 12) ** 2)
