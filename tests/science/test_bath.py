"""What a body does to its fluid, against worked exchange tables."""

from __future__ import annotations

import math

import numpy as np
import pytest

from keepfast.science import bath


@pytest.mark.parametrize(
    ("ratio", "ends"),
    [
        (1, (40.54, 57.14, 64.24)),
        (2, (51.49, 64.72, 68.45)),
        (5, (61.26, 68.77, 69.82)),
        (10, (65.35, 69.64, 69.97)),
    ],
)
def test_three_changes_of_seventy_per_cent(ratio: float, ends: tuple[float, ...]) -> None:
    """100 g with 75 % water; computed by the compilers, printed digits."""
    assert bath.strength_after([70.0, 70.0, 70.0], ratio, 0.75) == pytest.approx(np.array(ends), abs=0.01)


def test_a_series_and_a_single_strong_fill() -> None:
    """Computed by the compilers: 30/50/70 at 5 mL/g; 95 % once at 2 mL/g."""
    assert bath.strength_after([30.0, 50.0, 70.0], 5.0, 0.75) == pytest.approx([26.08, 46.84, 66.85], abs=0.01)
    assert bath.strength_after([95.0], 2.0, 0.75) == pytest.approx([70.76], abs=0.01)


@pytest.mark.parametrize(("ratio", "fill"), [(2, 94.1), (5, 79.8), (10, 74.9)])
def test_the_fill_that_ends_at_seventy(ratio: float, fill: float) -> None:
    """Computed by the compilers; printed digits. With 1 mL/g it cannot be done."""
    assert bath.fill_strength(70.0, ratio, 0.75) == pytest.approx(fill, abs=0.05)


def test_one_millilitre_per_gram_cannot_end_at_seventy() -> None:
    with pytest.raises(ValueError, match="target_vol must be one that a single fill can reach; 70 was given"):
        bath.fill_strength(70.0, 1.0, 0.75)


def test_rinse_water_takes_formaldehyde_out() -> None:
    """5 mL/g from 4 %: 0.522, 0.068, 0.0089 % (computed by the compilers)."""
    left = bath.residual_formaldehyde(4.0, 5.0, 0.75, [1, 2, 3])
    assert left == pytest.approx([0.522, 0.068, 0.0089], rel=0.01)


def test_fixing_baths_are_spent() -> None:
    """4 % at 1, 2, 3, 5, 10, 20 mL/g before binding (computed by the compilers)."""
    ends = bath.bath_strength(4.0, [1, 2, 3, 5, 10, 20], 0.75)
    assert ends == pytest.approx([2.29, 2.91, 3.20, 3.48, 3.72, 3.86], abs=0.006)


def test_binding_takes_less_than_three_per_cent_of_a_ten_to_one_bath() -> None:
    """0.25 mol/L of tissue against 13 mol in the bath: under 3 % (computed by the compilers)."""
    free, spent = bath.bath_strength(4.0, 10.0, 0.75), bath.bath_strength(4.0, 10.0, 0.75, 0.25)
    assert 0.0 < 1 - spent / free < 0.03


def test_carried_fluid_weakens_the_next_step() -> None:
    dry = bath.strength_after([30.0, 70.0], 3.0, 0.75)
    wet = bath.strength_after([30.0, 70.0], 3.0, 0.75, carried_ml_per_g=0.5)
    assert (wet < dry).all()


def test_ratios_may_differ_from_change_to_change() -> None:
    first = bath.strength_after(30.0, 5.0, 0.75)
    second = bath.strength_after(70.0, 2.0, 0.75, start_vol=first)
    assert bath.strength_after([30.0, 70.0], [5.0, 2.0], 0.75) == pytest.approx([first, second])


def test_a_body_of_strength_equal_to_the_fluid_changes_nothing() -> None:
    assert bath.strength_after([70.0], 3.0, 0.75, start_vol=70.0) == pytest.approx([70.0], abs=1e-9)
    assert bath.strength_after([70.0, 70.0], 3.0, 0.0) == pytest.approx([70.0, 70.0], abs=1e-9)


def test_body_water_by_form() -> None:
    """Snakes about 75 % (Lillywhite et al., abstract read); frogs 76 to 80 % (from memory)."""
    assert bath.body_water_fraction("snake").low <= 0.75 <= bath.body_water_fraction("snake").high
    assert bath.body_water_fraction("frog").value == pytest.approx(0.80)
    with pytest.raises(ValueError, match="form must be one of"):
        bath.body_water_fraction("fish")


def test_times_go_with_the_square_of_the_radius() -> None:
    hours = bath.hours_to_equalise([5.0, 10.0, 20.0], 0.95, 20.0)
    assert hours[1] / hours[0] == pytest.approx(4.0)
    assert hours[2] / hours[0] == pytest.approx(16.0)


def test_practised_step_times_lie_inside_the_range() -> None:
    """Practice gives a step 1 to 3 days (from memory) for ordinary bodies; 12 to 25 mm thick are such."""
    fast = bath.hours_to_equalise(6.0, 0.9, 20.0, which="high")
    slow = bath.hours_to_equalise(12.5, 0.9, 20.0, which="low")
    assert fast < 24.0
    assert slow > 72.0


def test_time_and_share_are_each_other_s_inverse() -> None:
    """Interpolated on a grid 1.2 % apart: 0.0005 of the way."""
    for ratio in (float("inf"), 10.0, 2.0, 0.5):
        for share in (0.1, 0.5, 0.9, 0.99):
            hours = bath.hours_to_equalise(8.0, share, 25.0, fluid_ml_per_g=ratio)
            assert bath.share_equalised(8.0, hours, 25.0, fluid_ml_per_g=ratio) == pytest.approx(share, abs=5e-4)


def test_contracts() -> None:
    nan = float("nan")
    assert isinstance(bath.strength_after(70.0, 5.0, 0.75), float)
    assert bath.strength_after([30.0, 50.0, 70.0], [[1.0], [5.0]], 0.75).shape == (2, 3)
    assert np.isnan(bath.strength_after([30.0, nan, 70.0], 5.0, 0.75)).tolist() == [False, True, True]
    assert math.isnan(bath.strength_after(70.0, nan, 0.75))
    assert math.isnan(bath.strength_after(70.0, 5.0, nan))
    assert math.isnan(bath.fill_strength(nan, 5.0, 0.75))
    assert math.isnan(bath.residual_formaldehyde(4.0, nan, 0.75))
    assert math.isnan(bath.hours_to_equalise(nan))
    for call, words in (
        (lambda: bath.strength_after([101.0], 5.0, 0.75), "strengths_vol must be from 0 to 100"),
        (lambda: bath.strength_after([70.0], 0.0, 0.75), "fluid_ml_per_g must be from"),
        (lambda: bath.strength_after([70.0], -5.0, 0.75), "fluid_ml_per_g must be from"),
        (lambda: bath.strength_after([70.0], 5.0, 75.0), "75 % is 0.75"),
        (lambda: bath.hours_to_equalise(0.0), "radius_mm must be from"),
        (lambda: bath.hours_to_equalise(5.0, 1.0), "share must be from"),
        (lambda: bath.hours_to_equalise(5.0, solute="salt"), "solute must be one of"),
        (lambda: bath.share_equalised(5.0, 1.0, 50.0), "temperature_c must be from 0 to 45"),
        (lambda: bath.diffusivity_m2_s("ethanol", 20.0, "middle"), "which must be one of"),
    ):
        with pytest.raises(ValueError, match=words):
            call()
