"""The race of whole animals: orderings that anyone would expect, words that fit figures, nothing overridden."""

import datetime
import json
from dataclasses import replace

import numpy as np
import pytest

from keepfast.book.animals import Animal
from keepfast.plan import advice, race, race_clock, race_scene, race_verdict, spacing
from keepfast.plan.camp import Camp, Reading
from keepfast.plan.evening import Rules, plan_evening
from keepfast.rules import evening as evening_rules
from keepfast.rules import race as race_rules
from keepfast.science.warmth import Warmth

START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))
CAMP = Camp(temperature_c=24.0)
RULES = Rules.load()
RACE = race_rules.load()
EVENING = evening_rules.load()


def lizard(number="L-1", length=70.0, mass=9.0, **more) -> Animal:
    return Animal(number, "lizard", length_mm=length, mass_g=mass, **{"gut": "empty", **more})


def evening(*animals: Animal, camp: Camp = CAMP):
    return plan_evening(animals, camp, RULES, start=START, size=50)


def judged(*animals: Animal, camp: Camp = CAMP, draws: int = 60, **more):
    plan = evening(*animals, camp=camp)
    return race.judge(
        plan.animals, camp=camp, start=START, trays=plan.table.trays, draws=draws, rules=RACE, evening=EVENING, **more
    )


def margin(verdict, region):
    return next(r for r in verdict.regions if r.region == region).margin_h.median


def test_every_animal_that_goes_into_fluid_is_raced_weakest_region_first():
    rotten = lizard("L-9", condition="decaying", died_at=START - datetime.timedelta(hours=40), kept_at_c=30.0)
    found = judged(lizard("L-1"), lizard("L-2", 140, 70), rotten)

    assert ["L-1", "L-2"] == [v.field_number for v in found]
    for verdict in found:
        wins = [r.wins for r in verdict.regions]
        assert sorted(wins) == wins
        assert verdict.weakest is verdict.regions[0]
        assert {"hindgut", "gonad", "wall", "limb", "tail", "head"} == {r.region for r in verdict.regions}


def test_a_form_has_the_regions_that_it_has():
    found = judged(
        Animal("S-1", "snake", length_mm=500, mass_g=60, gut="empty"),
        Animal("F-1", "frog", length_mm=50, mass_g=13),
        Animal("E-1", "egg_clutch", length_mm=4.0, length_kind="egg_diameter", count=100),
    )

    assert "limb" not in {r.region for r in found[0].regions}
    assert "tail" not in {r.region for r in found[1].regions}
    assert ["wall"] == [r.region for r in found[2].regions]


def test_heat_is_bad():
    cool, hot = (judged(lizard(died_at=START, kept_at_c=t), camp=Camp(temperature_c=t))[0] for t in (18.0, 33.0))

    assert cool.weakest.wins >= hot.weakest.wins
    assert margin(cool, "hindgut") > margin(hot, "hindgut")


def test_hours_since_death_are_spent():
    fresh, old = (judged(lizard(died_at=START - datetime.timedelta(hours=h), kept_at_c=24.0))[0] for h in (0, 4))

    # 24 degrees C: the gut clock runs 1.78 times as fast as at 20, so four hours are 7.1.
    assert old.spent_h["gut"] - fresh.spent_h["gut"] == pytest.approx(7.1, abs=0.05)
    assert margin(old, "hindgut") == pytest.approx(margin(fresh, "hindgut") - 4.0, abs=0.3)


def test_a_wait_before_the_needle_counts_too():
    plan = evening(lizard(died_at=START))
    now, later = (
        race.judge(plan.animals, camp=CAMP, start=START, draws=40, delays_h={"L-1": h}, advise=False)[0]
        for h in (0.0, 2.0)
    )

    assert margin(later, "hindgut") == pytest.approx(margin(now, "hindgut") - 2.0, abs=0.2)


def test_what_lies_on_ice_stays_there_until_its_turn():
    iced = lizard(condition="iced", died_at=START - datetime.timedelta(hours=6))
    fresh = lizard(died_at=START - datetime.timedelta(hours=6), kept_at_c=2.0)
    warm = lizard(died_at=START - datetime.timedelta(hours=6), kept_at_c=24.0)
    at_once, late = (margin(judged(iced, delays_h={"L-1": hours})[0], "hindgut") for hours in (0.0, 4.0))

    # Four hours on ice cost the clock of the gut nothing, for it stands still under 8 degrees C.
    assert at_once == pytest.approx(late, abs=0.3)
    assert late == margin(judged(fresh, delays_h={"L-1": 4.0})[0], "hindgut")
    assert late > margin(judged(warm, delays_h={"L-1": 4.0})[0], "hindgut") + 2


def test_what_is_alive_is_not_dead_before_its_turn():
    alive, fresh = lizard(condition="alive"), lizard(died_at=START)
    hot = Camp(temperature_c=30.0)
    soon, late = (judged(alive, camp=hot, delays_h={"L-1": hours})[0] for hours in (0.5, 4.0))
    dead = judged(fresh, camp=hot, delays_h={"L-1": 4.0})[0]

    # Half an hour at 30 degrees C from death to filling, 3.361 times as fast as at 20: not the four it waited.
    assert 0.5 * ((30 - 8) / 12) ** 2 == pytest.approx(late.spent_h["gut"], rel=1e-6)
    assert margin(soon, "hindgut") == margin(late, "hindgut") > margin(dead, "hindgut") + 2
    assert not {"ice", "first"} & {a.key for a in late.advice}
    assert any("alive" in words for words in late.doubts)


def test_the_camps_own_fixative_is_what_is_raced():
    # 5 % of a 37 % stock holds half of what 10 % of it holds: 0.67 mol/L instead of 1.34.
    weak = Camp(temperature_c=24.0, working_formalin_percent=5.0)
    stated = CAMP.stating(working_formalin_percent=10.0, formalin_stock_percent=37.0)
    usual, thin = judged(lizard(died_at=START), camp=stated)[0], judged(lizard(died_at=START), camp=weak)[0]

    assert 1.34 == pytest.approx(usual.bath_mol_l, abs=0.03)
    assert 0.5 * usual.bath_mol_l == pytest.approx(thin.bath_mol_l, rel=1e-6)
    for region in ("hindgut", "wall", "limb"):
        first, second = (next(r for r in v.regions if r.region == region) for v in (usual, thin))
        assert second.half_bound_h.median is None or second.half_bound_h.median > first.half_bound_h.median
    assert not any("stock" in words for words in usual.doubts)
    assert any("stock" in words for words in thin.doubts)


def test_a_camp_that_has_too_little_fixative_wets_its_sheets_less():
    plan = evening(lizard("L-1", 110, 32), lizard("L-2", 110, 32))
    need = sum(p.total_ml for p in plan.animals)
    sheets = sum(t.upper_sheet_ml + t.lower_sheet_ml for t in plan.table.trays)
    short = CAMP.stating(working_solution_ml=need + 0.25 * sheets, formalin_stock_ml=0.0)
    plenty = CAMP.stating(working_solution_ml=need + 1.25 * sheets, formalin_stock_ml=0.0)
    mixed = CAMP.stating(working_solution_ml=0.0, formalin_stock_ml=0.1 * (need + 1.25 * sheets))

    def raced(camp):
        return race.judge(plan.animals, camp=camp, start=START, trays=plan.table.trays, draws=40, advise=False)[0]

    thirsty, wet = raced(short), raced(plenty)
    assert any("25 % of what is planned" in words for words in thirsty.doubts)
    assert thirsty.weakest.half_bound_h.beyond > wet.weakest.half_bound_h.beyond
    assert raced(CAMP).weakest == wet.weakest == raced(mixed).weakest


def test_an_earlier_turn_and_ice_are_advice_where_an_animal_waits_in_the_heat():
    late = lizard(length=110, mass=32, died_at=START)
    hot = Camp(temperature_c=30.0)
    waits = judged(late, camp=hot, delays_h={"L-1": 3.0})[0]
    told = {a.key: a for a in waits.advice}

    # Three hours earlier are three hours more; ice keeps nearly all of them, for the clock of enzymes runs on it too.
    assert 3.0 == pytest.approx(told["first"].gain_h, abs=0.05)
    assert 2.0 <= told["ice"].gain_h <= 3.0
    assert not {"ice", "first"} & {a.key for a in judged(late, camp=hot, delays_h={"L-1": 0.0})[0].advice}
    iced = judged(replace(late, condition="iced"), camp=hot, delays_h={"L-1": 3.0})[0]
    assert "ice" not in {a.key for a in iced.advice}


def test_what_is_past_saving_is_told_so_before_anything_else():
    rotten = lizard(length=110, mass=32, died_at=START - datetime.timedelta(hours=6), kept_at_c=32.0, gut="full")
    found = judged(rotten)[0]

    # Six hours at 32 degrees C are 24 on the gut's clock of 8, and 13.8 on the enzymes' of 24.
    lost = {r.region for r in found.regions if r.past_saving}
    assert {"hindgut"} == lost
    assert "past" == found.advice[0].key
    assert "hind gut (24 of 8 h" in found.advice[0].says
    assert all(a.region not in lost for a in found.advice[1:])
    assert not judged(lizard(died_at=START))[0].regions[0].past_saving


def test_what_only_its_wait_would_spoil_is_not_past_saving():
    # At 30 degrees C the gut's 8 h last 2.4 h; after three hours of waiting they are gone, at once they are not.
    waits = judged(lizard(length=110, mass=32, died_at=START), camp=Camp(temperature_c=30.0), delays_h={"L-1": 3.0})[0]
    gut = next(r for r in waits.regions if r.region == "hindgut")

    assert "run out while it waits 3.0 h" in gut.reason
    assert not any(r.past_saving for r in waits.regions)
    assert {"first", "ice"} <= {a.key for a in waits.advice}


def test_what_waits_for_the_next_sitting_is_raced_from_there():
    crowd = [lizard(f"L-{k}", 110, 32, died_at=START, kept_at_c=24.0) for k in range(60)]
    plan = evening(*crowd)
    waiting = next(p for p in plan.animals if p.waits)
    found = race.judge([waiting], camp=CAMP, start=START, trays=plan.table.trays, draws=40)[0]

    assert EVENING.number("evening", "next_sitting_h") == found.filled_after_h
    # Under 8 degrees C the gut's clock stands still.
    assert 0.0 == found.spent_h["gut"]
    assert any("It waits" in words for words in found.doubts)
    assert "first" not in {a.key for a in found.advice}


def test_a_late_filling_finds_the_night_as_it_is_then():
    hours = (0, 1, 2, 10)
    cold = tuple(
        Reading(START + datetime.timedelta(hours=h), t) for h, t in zip(hours, (32.0, 32.0, 12.0, 12.0), strict=True)
    )
    plan = evening(lizard(died_at=START))

    def half(delay):
        found = race.judge(
            plan.animals,
            camp=Camp(temperature_record=cold),
            start=START,
            draws=40,
            delays_h={"L-1": delay},
            advise=False,
        )[0]
        return next(r for r in found.regions if r.region == "limb").half_bound_h.median

    # What is filled in the cold binds later after its filling than what was filled in the warm.
    assert half(2.0) > half(0.0) + 0.1


def test_the_days_after_a_record_are_like_its_last_one():
    day = [Reading(START + datetime.timedelta(hours=h - 24), 20.0 + 8 * np.sin(h / 24 * 2 * np.pi)) for h in range(25)]
    camp = Camp(temperature_record=tuple(day))

    for h in (3.5, 18.0, 90.25):
        at = START + datetime.timedelta(hours=h)
        assert camp.temperature_at(at) == pytest.approx(20.0 + 8 * np.sin(h / 24 * 2 * np.pi), abs=0.08)
        assert camp.temperature_at(at) == pytest.approx(race_clock.warmth_of(camp, START, 96.0).at(h), abs=1e-9)
    short = Camp(temperature_record=tuple(day[:12]))
    assert short.temperature_at(START) == day[11].temperature_c


def test_large_bodies_fare_worse_than_small_ones():
    found = judged(
        lizard("L-1", 50, 3.5, died_at=START),
        lizard("L-2", 110, 32, died_at=START),
        lizard("L-3", 270, 520, died_at=START),
    )

    hindgut = [margin(v, "hindgut") for v in found]
    wins = [next(r.wins for r in v.regions if r.region == "wall") for v in found]
    assert sorted(wins, reverse=True) == wins
    assert hindgut[0] > hindgut[2] or hindgut[2] is None


def test_a_yolky_female_is_worse_off_than_one_without():
    base = {"length": 110.0, "mass": 32.0, "sex": "female", "died_at": START}
    without, with_yolk = judged(
        lizard("L-1", reproductive_state="none", **base), lizard("L-2", reproductive_state="follicles", **base)
    )

    assert margin(with_yolk, "gonad") < margin(without, "gonad")
    assert "gut" == next(r.clock for r in with_yolk.regions if r.region == "gonad")


def test_a_filling_helps_the_hind_gut():
    plan = evening(lizard(length=110, mass=32, died_at=START))
    bare = tuple(replace(p, injections=()) for p in plan.animals)
    filled, empty = (race.judge(p, camp=CAMP, start=START, draws=60, advise=False)[0] for p in (plan.animals, bare))

    assert margin(filled, "hindgut") > margin(empty, "hindgut")


def test_a_stout_snake_needs_its_depots_more_than_a_slender_one():
    # What practice holds, as an ordering only: stout snakes are lost without, slender ones may pass.
    plan = evening(
        Animal("thin", "snake", length_mm=500, mass_g=20, gut="empty", died_at=START),
        Animal("stout", "snake", length_mm=800, mass_g=550, gut="empty", died_at=START),
    )
    bare = tuple(replace(p, injections=()) for p in plan.animals)
    filled, none = (
        tuple(v.weakest.wins for v in race.judge(ps, camp=CAMP, start=START, draws=60, advise=False, delays_h={}))
        for ps in (plan.animals, bare)
    )

    assert none[0] > 0.5 > none[1]
    assert filled[0] > filled[1] > none[1]


def test_the_same_seed_says_the_same_and_another_nearly_so():
    one, again = judged(lizard(), seed=4), judged(lizard(), seed=4)
    other = judged(lizard(), seed=5)

    assert one[0].as_dict() == again[0].as_dict()
    assert one[0].weakest.margin_h.median != other[0].weakest.margin_h.median


def test_bands_are_in_order_and_words_fit_their_shares():
    for verdict in judged(lizard("L-1"), lizard("L-2", 200, 250)):
        for region in verdict.regions:
            band = region.margin_h
            low, middle, high = (-np.inf if v is None else v for v in (band.low, band.median, band.high))
            assert low <= middle <= high
            assert RACE.word_for(region.wins).key == region.verdict
        assert verdict.weakest.says in verdict.sentence


def test_a_verdict_is_plain_json():
    text = json.dumps(judged(lizard())[0].as_dict(), allow_nan=False)

    assert {"field_number", "regions", "leave", "advice", "practice", "sentence", "weakest"} <= set(json.loads(text))


def test_the_tray_is_never_left_before_practice_allows():
    for verdict in judged(lizard("L-1", 45, 2.0), lizard("L-2", 110, 32)):
        leave = verdict.leave
        assert leave.may_leave_h is None or leave.may_leave_h >= leave.practice_h
        assert any(f"{leave.practice_h:g} h" in words for words in verdict.practice)


def test_a_dry_tray_is_called_short_with_the_millilitres_that_lack():
    plan = evening(lizard(length=110, mass=32))
    dry = tuple(replace(t, upper_sheet_ml=0.2, lower_sheet_ml=0.2) for t in plan.table.trays)
    found = race.judge(plan.animals, camp=CAMP, start=START, trays=dry, draws=60, advise=False)[0]

    assert found.leave.may_leave_h is None
    assert found.leave.supply_short
    # Half of 0.25 mol/L in 32 mL needs 3 mL of 1.3 mol/L; it cannot be less than what the filling left over, nor
    # more than ten bodies' worth.
    assert 0.5 <= found.leave.missing_ml <= 320


def test_a_record_is_followed_through_the_night():
    hours = [START + datetime.timedelta(hours=h) for h in (0, 6, 12)]
    falling = Camp(temperature_record=tuple(Reading(a, t) for a, t in zip(hours, (30.0, 12.0, 10.0), strict=True)))
    cooling, steady = (
        judged(lizard(died_at=START), camp=falling)[0],
        judged(lizard(died_at=START), camp=Camp(temperature_c=30.0))[0],
    )

    assert margin(cooling, "hindgut") > margin(steady, "hindgut")


def test_impossible_requests_are_refused():
    plan = evening(lizard())
    with pytest.raises(ValueError, match="start must carry an offset"):
        race.judge(plan.animals, camp=CAMP, start=START.replace(tzinfo=None))
    with pytest.raises(ValueError, match="draws must be 1 to 100000"):
        race.judge(plan.animals, camp=CAMP, start=START, draws=0)
    assert () == race.judge((), camp=CAMP, start=START)


def test_bands_tell_what_lies_beyond():
    found = race_verdict.band(np.array([1.0, 2.0, 3.0, np.inf]))

    assert (3.0, 1.0, None, 0.25) == (found.median, found.low, found.high, found.beyond)


@pytest.mark.parametrize(("hours", "words"), [(0.04, "0"), (-0.04, "0"), (3.26, "3.3"), (-12.6, "−13"), (99.4, "99")])
def test_hours_are_told_with_few_figures(hours, words):
    assert words == race_verdict.hours_words(hours)


def test_advice_gains_what_it_says_and_the_best_comes_first():
    found = judged(lizard(length=200, mass=250, died_at=START), advise=True)[0]
    helps = [a for a in found.advice if a.key != "fewer"]

    assert helps
    assert sorted((a.margin_h for a in helps), reverse=True) == [a.margin_h for a in helps]
    least = RACE.number("advice", "least_gain_h")
    assert all(a.gain_h is None or a.gain_h >= least or a.margin_h > 0 >= a.margin_h - a.gain_h for a in helps)
    assert {a.key for a in helps} <= {"first", "ice", "inject", "slit", "wet", "cooler"}


def test_whoever_is_in_danger_is_told_the_best_there_is_however_little():
    late = lizard(length=110, mass=32, died_at=START - datetime.timedelta(hours=1), kept_at_c=31.0, gut="full")
    found = judged(late, camp=Camp(temperature_c=31.0), delays_h={"L-1": 0.5})[0]

    assert found.weakest.verdict in ("at_risk", "doubtful")
    assert found.advice
    assert all(a.gain_h is None or a.gain_h > 0 for a in found.advice)


def test_margins_that_round_to_nothing_are_said_so():
    words = race_verdict.margin_words(race_verdict.Band(-0.02, -5.0, 3.0))

    assert "arrive together" in words
    assert "too late" not in words


def test_what_is_safe_needs_no_help_and_may_be_spared_a_hole():
    found = judged(lizard(length=45, mass=2.0, died_at=START, kept_at_c=10.0), camp=Camp(temperature_c=10.0))[0]

    assert "holds" == found.weakest.verdict
    assert all(a.key == "fewer" for a in found.advice)


def test_no_cooler_place_is_advised_where_it_is_cold_already():
    assert 0.0 == advice.cooler_by(10.0, RACE)
    assert 5.0 == advice.cooler_by(30.0, RACE)


def test_closer_fillings_suffice_when_it_is_warmer_or_the_body_is_thicker():
    def widest(diameter, warm, ml=0.5):
        found = spacing.spacing_for(diameter, ml, Warmth.constant(warm), RACE, EVENING)
        return found.widest_mm or 0.0

    assert widest(14, 15) >= widest(14, 30)
    assert widest(12, 22) >= widest(25, 22)
    assert widest(14, 22, 1.0) >= widest(14, 22, 0.3)
    with pytest.raises(ValueError, match="diameter_mm must be"):
        spacing.spacing_for(1.0, 0.5, Warmth.constant(20.0), RACE, EVENING)


def test_practice_stands_beside_the_spacing():
    found = spacing.spacing_for(25, 0.5, Warmth.constant(22.0), RACE, EVENING)

    assert "15 mm" in found.practice
    assert RACE.spacings_mm == tuple(s.spacing_mm for s in found.tried)


def test_a_row_of_fillings_is_followed_in_two_dimensions():
    found = judged(Animal("S-1", "snake", length_mm=1000, mass_g=600, diameter_mm=33, gut="empty"))[0]

    assert 15.0 == found.between.spacing_mm
    assert found.between.says


def test_closer_fillings_are_tried_where_a_row_leaves_a_gap():
    snake = Animal("S-1", "snake", length_mm=1000, mass_g=600, diameter_mm=33, gut="full", died_at=START)
    found = judged(snake, camp=Camp(temperature_c=22.0))[0]

    assert found.between.margin_h is None or found.between.margin_h <= 0
    closer = [a for a in found.advice if a.key == "closer"]
    assert "every 8 mm instead of 15" in closer[0].says.lower()


def test_scenes_hold_what_their_pictures_need():
    plan = evening(lizard(length=110, mass=32))
    found = race.judge(plan.animals, camp=CAMP, start=START, trays=plan.table.trays, draws=40)
    scene = race_scene.scenes(plan.animals, found, camp=CAMP, start=START, trays=plan.table.trays)[0]

    assert found[0].weakest.region == scene.region
    assert len(scene.hours) == len(scene.free) == len(scene.bound)
    assert len(scene.radius_mm) == len(scene.free[0])
    for front in scene.fronts:
        assert all(
            0 <= low <= middle <= high for low, middle, high in zip(front.low, front.median, front.high, strict=True)
        )
    assert scene.edges_mm["core"] < scene.edges_mm["fluid"] < scene.edges_mm["wall"] < scene.edges_mm["skin"]
