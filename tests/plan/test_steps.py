"""From bath to jar: the plan ends where it says, larvae stay where they belong, and nothing is hidden."""

from __future__ import annotations

import json

import numpy as np
import pytest

from keepfast.findings import FindingsError
from keepfast.plan.steps import InJar, Jarful, StepsPlan, plan_steps
from keepfast.rules import fluids
from keepfast.science import bath

RULES = fluids.load()


def jarful(form: str = "frog", mass: float = 40.0, diameter: float = 25.0, known: str = "measured") -> Jarful:
    return Jarful((InJar("B-12", form, mass, diameter, known),))


def plan(form: str = "frog", **more: object) -> StepsPlan:
    return plan_steps(jarful(form), RULES, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("form", ["frog", "salamander", "lizard", "snake", "turtle"])
def test_every_offered_series_ends_at_the_target(form: str) -> None:
    """Within half a point, which is the rounding of the strengths."""
    made = plan(form, temperature_c=25.0)
    assert {s.key for s in made.series} == {"least_alcohol", "fewest_changes", "gentlest"}
    for series in made.series:
        assert series.end_vol.value == pytest.approx(made.target_vol, abs=0.5)
        assert series.end_vol.low <= series.end_vol.value <= series.end_vol.high


def test_goals_are_what_they_say() -> None:
    made = {s.key: s for s in plan("frog").series}
    assert made["least_alcohol"].ethanol_ml <= min(made["fewest_changes"].ethanol_ml, made["gentlest"].ethanol_ml)
    assert len(made["fewest_changes"].changes) <= min(len(s.changes) for s in made.values())
    assert made["gentlest"].largest_jump_vol <= min(
        made["least_alcohol"].largest_jump_vol, made["fewest_changes"].largest_jump_vol
    )


def test_amphibians_are_staged_and_reptiles_may_go_direct() -> None:
    frog, lizard = plan("frog"), plan("lizard")
    assert frog.chosen == "gentlest"
    assert lizard.chosen == "fewest_changes"
    assert frog.of("fewest_changes").largest_jump_vol <= RULES.jump("frog").largest_vol + 1e-9
    assert len(lizard.of("fewest_changes").changes) <= len(frog.of("fewest_changes").changes)


def test_the_strictest_form_rules_a_shared_jar() -> None:
    mixed = Jarful((InJar("a", "lizard", 40.0, 20.0, "measured"), InJar("b", "frog", 5.0, 12.0, "measured")))
    assert plan_steps(mixed, RULES).chosen == "gentlest"


def test_one_s_own_series_is_carried_as_asked() -> None:
    """30/50/70 at 5 mL/g into 75 % water ends near 66.85 when each step is complete (computed by the compilers)."""
    body = Jarful((InJar("a", "snake", 100.0, 4.0, "measured"),))
    made = plan_steps(body, RULES, stage="alcohol", own_strengths_vol=[30, 50, 70], jar_ml_per_g=5.0)
    own = made.of("own")
    assert made.chosen == "own"
    assert [c.strength_vol for c in own.changes] == [30, 50, 70]
    complete = bath.strength_after([30.0, 50.0, 70.0], 5.0, made.water.value)[-1]
    assert own.end_vol.value == pytest.approx(complete, abs=1.0)
    assert own.end_vol.value < complete


def test_rinses_take_formaldehyde_out_and_stop_within_two_days() -> None:
    made = plan("frog", temperature_c=20.0)
    rinses = [c for c in made.series[0].changes if c.kind == "rinse"]
    left = [c.formaldehyde_percent_w_v for c in rinses]
    assert left == sorted(left, reverse=True)
    assert left[-1] < 0.25
    assert sum(c.hours.value for c in rinses) <= RULES.number("rinse", "most_h") + 1e-9
    assert not [c for c in plan("frog", stage="alcohol").series[0].changes if c.kind == "rinse"]


def test_stock_and_water_make_each_fluid() -> None:
    """Each fill's stock holds its ethanol."""
    made = plan("lizard", temperature_c=20.0)
    for change in made.series[0].changes:
        if change.kind != "rinse":
            assert change.stock_ml * 0.96 == pytest.approx(change.fluid_ml * change.strength_vol / 100, rel=1e-6)


def test_thin_bodies_are_done_sooner_and_doubt_is_shown() -> None:
    thin = plan_steps(jarful(diameter=8.0), RULES).series[0]
    thick = plan_steps(jarful(diameter=30.0), RULES).series[0]
    assert thin.hours.value < thick.hours.value
    for change in thick.changes:
        assert change.hours.low <= change.hours.value <= change.hours.high


def test_the_jar_is_not_read_before_it_is_of_one_strength() -> None:
    """Two to three weeks is practice; a trunk of 80 mm takes longer in the jar."""
    thin = plan_steps(jarful(diameter=15.0), RULES)
    thick = plan_steps(jarful("snake", 5000.0, 80.0), RULES)
    assert thin.check_days == (RULES.number("steps", "check_days_low"), RULES.number("steps", "check_days_high"))
    jar = thick.of(thick.chosen).changes[-1]
    assert thick.check_days[0] * 24 >= jar.hours.value > RULES.number("steps", "check_days_low") * 24
    assert thick.check_days[1] * 24 >= jar.hours.high


def test_an_estimated_thickness_is_said() -> None:
    made = plan_steps(jarful(known="estimated from mass"), RULES)
    assert any("estimated" in doubt for doubt in made.doubts)


def test_a_jar_with_little_fluid_is_said() -> None:
    made = plan("frog", jar_ml_per_g=1.5, stock_vol=96.0)
    assert any("little for a jar" in doubt for doubt in made.doubts)


def test_carried_fluid_is_reckoned_with() -> None:
    dry, wet = (plan("frog", own_strengths_vol=[30, 50, 70], carried_ml_per_g=c).of("own") for c in (0.0, 0.5))
    assert wet.end_vol.value < dry.end_vol.value


@pytest.mark.parametrize("form", ["larva", "egg_clutch"])
def test_larvae_and_eggs_are_not_sent_on_unless_told(form: str) -> None:
    with pytest.raises(FindingsError, match="stay in formalin"):
        plan(form)
    with pytest.raises(FindingsError):
        plan(form, stage="alcohol")
    stays = plan(form, stage="fixing")
    assert stays.stays_in_formalin
    assert stays.series == ()
    assert stays.fixing is not None
    sent = plan(form, into_alcohol_anyway=True)
    assert sent.series
    assert not sent.stays_in_formalin


def test_a_jarful_with_one_larva_among_frogs_is_held_back_too() -> None:
    mixed = Jarful((InJar("a", "frog", 40.0, 20.0, "measured"), InJar("b", "larva", 1.0, 5.0, "measured")))
    with pytest.raises(FindingsError, match="larva"):
        plan_steps(mixed, RULES)


def test_what_cannot_be_reached_is_said_with_what_would_help() -> None:
    with pytest.raises(FindingsError, match="Take more fluid for the jar"):
        plan("frog", jar_ml_per_g=0.2, stock_vol=70.0)
    with pytest.raises(ValueError, match="stage must be one of"):
        plan("frog", stage="soup")
    with pytest.raises(ValueError, match="prefer must be one of"):
        plan("frog", prefer="cheapest")


def test_a_plan_is_plain_json() -> None:
    for made in (plan("frog", stage="fixing"), plan("larva", stage="fixing")):
        back = json.loads(json.dumps(made.as_dict(), allow_nan=False))
        assert back["jarful"]["bodies"][0]["name"] == "B-12"
        assert not any(isinstance(v, float) and np.isnan(v) for v in back.values())
