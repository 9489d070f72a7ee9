"""The fixing weeks: spent baths, wet wraps, and the spread of sources."""

from __future__ import annotations

import pytest

from keepfast.plan.fixing import InJar, Jarful, plan_fixing
from keepfast.rules import fluids

RULES = fluids.load()


def jarful(form: str = "lizard", mass: float = 50.0, diameter: float = 20.5) -> Jarful:
    return Jarful((InJar("B-12", form, mass, diameter, "measured"),))


@pytest.mark.parametrize(
    ("form", "mass", "diameter", "practice"),
    [
        ("lizard", 4.9, 9.5, (1, 3)),
        ("lizard", 50.0, 20.5, (3, 7)),
        ("lizard", 500.0, 45.0, (7, 14)),
        ("snake", 1500.0, 40.0, (14, 30)),
    ],
)
def test_plans_lie_inside_practice(form: str, mass: float, diameter: float, practice: tuple[float, float]) -> None:
    """Size classes of field handbooks (from memory), which the model reaches with a safety factor of 2 to 3."""
    planned = plan_fixing(jarful(form, mass, diameter), RULES, 20.0)
    assert practice[0] <= planned.days.value <= practice[1]
    assert planned.days.low <= planned.days.value <= planned.days.high


def test_centre_times_of_worked_animals() -> None:
    """Nine tenths bound in the middle, bath only: 28, 41, 91 h for 5, 50, 500 g (the compilers' own solution), 15 %."""
    for diameter, hours in ((9.5, 28.0), (20.5, 41.0), (45.0, 91.0)):
        planned = plan_fixing(jarful(diameter=diameter), RULES, 20.0)
        assert planned.centre_h.value == pytest.approx(hours, rel=0.15)
        assert planned.centre_h.low < planned.centre_h.value < planned.centre_h.high


def test_a_generous_bath_needs_no_change_and_a_small_one_does() -> None:
    """At 10 mL/g a bath keeps over nine tenths, at 2 mL/g under three quarters (by the compilers: 2.91 of 4)."""
    generous, small = plan_fixing(jarful(), RULES, 20.0), plan_fixing(jarful(), RULES, 20.0, ml_per_g=2.0)
    assert generous.change_after_h is None
    assert generous.fills == 1
    assert small.spent_share < 0.75
    assert small.change_after_h is not None
    assert small.fills >= 2


def test_a_wet_wrap_is_spent_soonest() -> None:
    wrapped = plan_fixing(jarful(), RULES, 20.0, wrapped=True)
    assert wrapped.ml_per_g == 1.0
    assert wrapped.fills > plan_fixing(jarful(), RULES, 20.0, ml_per_g=2.0).fills
    assert wrapped.end_percent_w_v.low < wrapped.end_percent_w_v.value < wrapped.end_percent_w_v.high


def test_sources_are_shown_side_by_side_and_fishes_do_not_count() -> None:
    planned = plan_fixing(jarful(), RULES, 20.0)
    assert any(t.analogue for t in planned.by_source)
    assert any("all reptiles" in t.whom for t in planned.by_source)
    assert planned.spread_days == (3.0, 10.0)


def test_warmth_shortens_and_scales_lengthen() -> None:
    cold, warm = plan_fixing(jarful(), RULES, 10.0), plan_fixing(jarful(), RULES, 30.0)
    assert cold.centre_h.value > warm.centre_h.value
    frog, lizard = plan_fixing(jarful("frog"), RULES, 20.0), plan_fixing(jarful("lizard"), RULES, 20.0)
    assert frog.centre_h.value == lizard.centre_h.value
    assert frog.centre_h.high < lizard.centre_h.high


def test_a_jarful_goes_by_its_thickest_and_its_water_by_mass() -> None:
    two = Jarful((InJar("a", "frog", 10.0, 12.0, "measured"), InJar("b", "snake", 30.0, 20.0, "measured")))
    assert two.radius_mm == 10.0
    assert two.mass_g == 40.0
    assert two.water().value == pytest.approx((10 * 0.80 + 30 * 0.74) / 40)
    assert two.scaled


def test_what_was_injected_counts_as_body_liquid() -> None:
    filled = Jarful((InJar("a", "snake", 100.0, 20.0, "measured", injected_ml=8.0),))
    assert filled.water().value == pytest.approx(0.74 + 0.08)
