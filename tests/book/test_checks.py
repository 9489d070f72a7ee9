"""The trade's own checks: each with a case that passes, one that fails, and one where something is missing."""

import datetime

import pytest

from keepfast.book import checks_among as among
from keepfast.book.checks import CHECKS, Case, answers_for, darwin_core
from keepfast.book.numbers import series
from keepfast.rules.checks import load

RULES = load()
NOW = datetime.datetime(2026, 3, 20, 12, tzinfo=datetime.UTC)
ID = "01980000-0000-7000-8000-000000000001"


def done(step, at, **more):
    return {"entry": "e", "who": "Ana", "written": "2026-03-14T23:00:00+00:00", "step": step, "at": at, **more}


def outcome(check, animal, **more):
    return CHECKS[check](Case({"id": ID, "field_number": "AB 1", **animal}, **more), RULES, NOW).outcome


EVENING = "2026-03-14T21:00:00+00:00"
NIGHT = "2026-03-14T23:30:00+00:00"
ALIVE_PHOTO = {"photographs": [{"written": NIGHT, "living": True, "taken_at": NIGHT}]}
PLAN = {"plans": [{"entry": "p", "written": EVENING, "total_low_ml": 1.0, "total_high_ml": 2.0}]}
PERMIT = {"id": "p", "number": "P1", "starts": "2026-03-01", "ends": "2026-03-31", "country_code": "PT",
          "taxa": ["Hyla", "Lacertidae"]}  # fmt: skip
THERE = {"event": {"id": "e", "when": "2026-03-14"}, "place": {"country_code": "PT"}}

CASES = [
    ("number_there", {}, {}, "passed"),
    ("form_fits_name", {"form": "frog", "taxon": "Hyla molleri"}, {}, "passed"),
    ("form_fits_name", {"form": "lizard", "taxon": "Hyla molleri"}, {}, "failed"),
    ("form_fits_name", {"form": "larva", "taxon": "Hyla molleri"}, {}, "passed"),
    ("form_fits_name", {"form": "frog", "taxon": "Nosuchgenus novum"}, {}, "not tested"),
    # Meiri 2010's and Santini 2018's relations give a few grams at these lengths.
    ("mass_fits_length", {"form": "lizard", "measured": {"length_mm": 60, "mass_g": 5.0}}, {}, "passed"),
    ("mass_fits_length", {"form": "lizard", "measured": {"length_mm": 60, "mass_g": 50.0}}, {}, "failed"),
    ("mass_fits_length", {"form": "caecilian", "measured": {"length_mm": 60, "mass_g": 5.0}}, {}, "not tested"),
    ("measures_can_be", {"form": "frog", "measured": {"length_mm": 41, "mass_g": 6}}, {}, "passed"),
    ("measures_can_be", {"form": "frog", "measured": {"length_mm": 4100, "mass_g": 6}}, {}, "failed"),
    ("tail_fits_body", {"form": "lizard", "measured": {"length_mm": 60, "tail_mm": 100}}, {}, "passed"),
    ("tail_fits_body", {"form": "snake", "measured": {"length_mm": 60, "tail_mm": 100}}, {}, "failed"),
    ("tail_fits_body", {"form": "snake", "tail_state": "broken", "measured": {"length_mm": 6, "tail_mm": 9}}, {},
     "not tested"),
    ("young_without_eggs", {"stage": "juvenile", "reproductive_state": "eggs"}, {}, "failed"),
    ("young_without_eggs", {"stage": "adult", "reproductive_state": "eggs", "sex": "male"}, {}, "failed"),
    ("young_without_eggs", {"stage": "adult", "reproductive_state": "eggs", "sex": "female"}, {}, "passed"),
    ("caught_before_death", {"died_at": EVENING}, {"event": {"when": "2026-03-14"}}, "passed"),
    ("caught_before_death", {"died_at": EVENING}, {"event": {"when": "2026-03-15"}}, "failed"),
    ("caught_before_death", {"died_at": EVENING, "found_dead": True}, {"event": {"when": "2026-03-15"}}, "not tested"),
    ("death_before_fixation", {"died_at": EVENING, "done": [done("fill", NIGHT)]}, {}, "passed"),
    ("death_before_fixation", {"died_at": NIGHT, "done": [done("prick", EVENING)]}, {}, "failed"),
    ("death_before_fixation", {"died_at": NIGHT, "done": [done("prick", EVENING, outcome="left out")]}, {},
     "not tested"),
    ("tissue_before_fixative", {"tissues": [{"written": EVENING}], "done": [done("fill", NIGHT)]}, {}, "passed"),
    ("tissue_before_fixative", {"tissues": [{"written": NIGHT, "taken_at": NIGHT}], "done": [done("fill", EVENING)]},
     {}, "failed"),
    ("tissue_before_fixative", {"done": [done("fill", EVENING)]}, {}, "not tested"),
    ("caught_before_preparation", {"done": [done("fill", EVENING)]}, {"event": {"when": "2026-03-15"}}, "failed"),
    ("live_photographs_before_death", {"died_at": EVENING, **ALIVE_PHOTO}, {}, "failed"),
    ("live_photographs_before_death", {"died_at": NIGHT, **ALIVE_PHOTO}, {}, "passed"),
    ("nothing_in_the_future", {"found_at": "2026-03-23"}, {}, "failed"),
    ("nothing_in_the_future", {"found_at": "2026-03-20"}, {}, "passed"),
    ("nothing_in_the_future", {"done": [done("fill", "2026-03-20T12:30:00+00:00")]}, {}, "failed"),
    ("zone_fits_longitude", {"died_at": "2026-03-14T21:00:00+01:00"}, {"place": {"longitude": -8.0}}, "passed"),
    ("zone_fits_longitude", {"died_at": "2026-03-14T21:00:00+09:00"}, {"place": {"longitude": -8.0}}, "failed"),
    ("zone_fits_longitude", {"died_at": "2026-03-14T21:00:00+13:00"}, {"place": {"longitude": -175.0}}, "passed"),
    ("place_with_its_doubt", {}, {"place": {"latitude": 1, "longitude": 2, "uncertainty_m": 30}}, "passed"),
    ("place_with_its_doubt", {}, {"place": {"latitude": 1, "longitude": 2}}, "failed"),
    ("protocol_of_death_named", {"died_at": EVENING}, {}, "failed"),
    ("protocol_of_death_named", {"died_at": EVENING, "protocol_followed": "2026-7"}, {}, "passed"),
    ("permit_covers", {"taxon": "Hyla molleri"}, {**THERE, "permits": (PERMIT,)}, "passed"),
    ("permit_covers", {"taxon": "Podarcis bocagei"}, {**THERE, "permits": (PERMIT,)}, "passed"),
    ("permit_covers", {"taxon": "Natrix maura"}, {**THERE, "permits": (PERMIT,)}, "failed"),
    ("permit_covers", {}, {**THERE, "place": {"country_code": "ES"}, "permits": (PERMIT,)}, "failed"),
    ("permit_covers", {"found_at": "2026-04-01"}, {**THERE, "permits": (PERMIT,)}, "failed"),
    ("permit_covers", {}, THERE, "failed"),
    ("permit_covers", {}, {}, "not tested"),
    ("retained_within_delivered", {"done": [done("fill", NIGHT, delivered_ml=1, retained_ml=0.9)]}, {}, "passed"),
    ("retained_within_delivered", {"done": [done("fill", NIGHT, delivered_ml=1, retained_ml=1.9)]}, {}, "failed"),
    ("filled_as_planned", {**PLAN, "done": [done("fill", NIGHT, delivered_ml=1.4)]}, {}, "passed"),
    ("filled_as_planned", {**PLAN, "done": [done("fill", NIGHT, delivered_ml=14)]}, {}, "failed"),
    ("steps_not_left_open", {**PLAN, "done": [done("fill", NIGHT), done("pose", NIGHT), done("cover", NIGHT)]}, {},
     "passed"),
    ("steps_not_left_open", {**PLAN, "done": [done("fill", NIGHT)]}, {}, "failed"),
    ("steps_not_left_open", PLAN, {}, "failed"),
    ("steps_not_left_open", {}, {}, "not tested"),
]  # fmt: skip


@pytest.mark.parametrize(("check", "animal", "more", "expected"), CASES)
def test_the_check_answers(check, animal, more, expected):
    assert expected == outcome(check, animal, **more)


def test_every_check_is_tried_here():
    assert set(CHECKS) == {check for check, *_rest in CASES}


def test_every_answer_says_what_is_missing_or_what_to_do():
    for answer in answers_for(Case({"id": ID}), RULES, NOW):
        assert answer.outcome == "passed" or answer.why
        assert answer.outcome != "failed" or answer.remedy


def test_a_finding_let_stand_comes_back_with_another_value():
    animal = {"id": ID, "form": "snake", "measured": {"length_mm": 60, "tail_mm": 100}}
    (before,) = [a for a in answers_for(Case(animal), RULES, NOW) if a.check == "tail_fits_body"]
    animal["accepted"] = [{"check": "tail_fits_body", "seen": before.seen, "reason": "measured twice"}]
    (stands,) = [a for a in answers_for(Case(animal), RULES, NOW) if a.check == "tail_fits_body"]
    animal["measured"] = {"length_mm": 60, "tail_mm": 101}
    (again,) = [a for a in answers_for(Case(animal), RULES, NOW) if a.check == "tail_fits_body"]

    assert [True, False, True] == [before.open, stands.open, again.open]


def test_the_flat_record_has_what_the_record_says():
    flat = darwin_core(
        Case(
            {"id": ID, "field_number": "AB 1", "taxon": "Hyla molleri", "determinations": [{"taxon": "Hyla molleri"}]},
            {"when": "2026-03-14"},
            {"latitude": 38.0, "longitude": -8.0, "country_code": "PT"},
        )
    )

    assert ("2026", "3", "14", "species", "EPSG:4326", "AB 1") == tuple(
        flat[t] for t in ("year", "month", "day", "taxonRank", "geodeticDatum", "recordNumber")
    )


def brief(number, day="", tag=1, **more):
    return among.Brief(f"01980000-0000-7000-8000-{tag:012d}", number, day, more.get("catalogue", ()), (),
                       more.get("permits", ()), more.get("count", 1))  # fmt: skip


def failures(answers, check):
    return [a.subject for a in answers if a.check == check and a.outcome == "failed"]


def test_twins_are_found_however_their_number_is_written():
    briefs = [brief("AB 1", tag=1), brief("ab-01", tag=2), brief("AB 2", tag=3)]

    assert ["AB 1", "ab-01"] == failures(among.twins(briefs), "number_is_one")


def test_a_catalogue_number_given_twice_is_found_within_its_collection():
    briefs = [brief("AB 1", tag=1, catalogue=("MUS Herp 12",)), brief("AB 2", tag=2, catalogue=("MUS Herp 12",)),
              brief("AB 3", tag=3, catalogue=("MUS Bird 12",))]  # fmt: skip

    assert ["AB 1", "AB 2"] == failures(among.twins(briefs), "catalogue_number_is_one")


def test_a_number_that_does_not_end_in_its_check_character_is_told_and_one_without_is_not_tested():
    # ISO/IEC 7064, MOD 37,36, as `book.numbers` has it; the fourth is misread.
    printed = [number.printed for number in series("AB 1-5").numbers()]
    printed[3] = printed[3].replace("4", "9")
    answers = list(among.check_characters([brief(n, tag=i) for i, n in enumerate([*printed, "R 1", "R 2", "R 3", ""])]))

    assert [printed[3]] == failures(answers, "check_character_fits")
    assert ["R 1", "R 2", "R 3"] == [a.subject for a in answers if a.outcome == "not tested"]
    assert 8 == len(answers)


def test_only_the_number_out_of_order_is_told():
    briefs = [brief(f"AB {i}", f"2026-03-{10 + i:02d}", i) for i in range(1, 9)]
    briefs[3] = brief("AB 4", "2026-03-02", 4)

    assert ["AB 4"] == failures(among.order_of_numbers(briefs), "numbers_in_order")


def test_gaps_without_a_reason_and_shared_blocks_are_found():
    series = {"id": ID, "name": "AB", "prefix": "AB ", "first": 1,
              "explained": [{"first": 2, "last": 2, "reason": "torn"}],
              "blocks": [{"device": "a", "first": 1, "last": 4}, {"device": "b", "first": 4, "last": 9}]}  # fmt: skip
    found = list(among.accounts_of_series(series, [1, 5, 7], [{"number": 3, "device": "a"}], RULES))

    assert ["AB 6: nothing carries it, and nobody has said why"] == [
        a.why for a in found if a.check == "gaps_explained" and a.outcome == "failed"
    ]
    assert ["AB"] == failures(found, "blocks_apart")


def test_a_permit_that_is_overdrawn_is_found():
    briefs = [brief(f"AB {i}", tag=i, permits=("p",), count=2) for i in range(3)]

    (answer,) = among.permits_not_overdrawn([{"id": "p", "number": "P1", "most": 5}], briefs)
    assert ("failed", "6 / 5") == (answer.outcome, answer.seen)


def test_a_degree_of_the_equator_is_as_long_as_everybody_says():
    # 2 pi 6371.0088 km / 360 = 111.195 km
    assert 111.195 == pytest.approx(
        among.distance_km({"latitude": 0, "longitude": 0}, {"latitude": 0, "longitude": 1}), abs=0.001
    )


def test_nobody_travels_faster_than_the_road():
    lisbon, faro, far = ({"latitude": a, "longitude": b} for a, b in ((38.7, -9.1), (37.0, -7.9), (52.5, 13.4)))

    def stop(number, when):
        return {"id": number, "number": number, "when": when, "by": ["Ana"]}

    ok = [(stop("E1", "2026-03-14T08:00Z"), lisbon), (stop("E2", "2026-03-14T12:00Z"), faro)]
    fast = [(stop("E1", "2026-03-14T08:00Z"), lisbon), (stop("E2", "2026-03-14T09:00Z"), faro)]
    flown = [(stop("E1", "2026-03-14"), lisbon), (stop("E2", "2026-03-14"), far)]

    assert [] == failures(among.travel(ok, RULES), "travel_can_be")
    assert ["E2"] == failures(among.travel(fast, RULES), "travel_can_be")
    assert ["E2"] == failures(among.travel(flown, RULES), "travel_can_be")


def test_a_clock_that_jumped_back_is_told_once_it_matters():
    assert ["phone"] == failures(among.clocks([("phone", 600.0), ("laptop", 2.0)], RULES), "clock_goes_forward")
