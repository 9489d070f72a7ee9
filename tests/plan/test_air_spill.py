"""A spill: the sooner taken up, the sooner back; in the open it is a distance, in a room a time."""

from __future__ import annotations

import datetime
import json
import math

import pytest

from keepfast.findings import FindingsError
from keepfast.plan.air_spill import spill_air
from keepfast.plan.air_words import time_away
from keepfast.science import air

DAY = datetime.date(2026, 4, 18)


def spilt(volume_ml=250.0, **changes):
    given = {"strength": 3.9, "temperature_c": 25.0, "shelter": "room", "on": DAY, "draws": 200, **changes}
    return spill_air(volume_ml, **given)


def longest(found):
    return max(720.0 if a.minutes_high is None else a.minutes_high for a in found.away)


def test_taking_it_up_sooner_and_airing_better_bring_people_back_sooner():
    base = spilt(taken_up_min=15, air_changes_per_h=3.0)
    assert longest(spilt(taken_up_min=60, air_changes_per_h=3.0)) > longest(base)
    assert longest(spilt(taken_up_min=15, air_changes_per_h=12.0)) < longest(base)
    assert longest(spilt(taken_up_min=15, air_changes_per_h=3.0, strength=40.0)) > longest(base)
    assert longest(spilt(taken_up_min=15, air_changes_per_h=3.0, jurisdiction="us_osha")) == longest(base)


def test_a_puddle_left_alone_keeps_giving_off():
    left = spilt(taken_up_min=None)
    assert any(a.minutes_high is None for a in left.away)
    assert "nobody takes it up" in " ".join(left.assumptions)


def test_in_the_open_it_is_a_distance():
    found = spilt(shelter="open", taken_up_min=15)
    distances = [a.distance_m for a in found.away]
    assert all(d is not None and d >= 0.5 for d in distances)
    assert distances == sorted(distances)  # stricter limits ask for more
    assert all(a.distance_m is None for a in spilt().away)


def test_the_room_falls_as_one_box_does_once_it_is_taken_up():
    """From its peak to a limit takes ln(peak/limit) V/Q: the times between two limits differ by that (C-11's form)."""
    found = spilt(taken_up_min=15, air_changes_per_h=2.0, volume_m3=40.0, jurisdiction="germany", draws=2000)
    germany, strictest = found.away
    expected = air.minutes_to_fall(0.6, 0.1, 40.0 * 2.0 / 60.0, 40.0)
    assert expected == pytest.approx(strictest.minutes - germany.minutes, abs=2.5)  # both are whole minutes


def test_the_time_to_stay_away_is_a_sum_that_anybody_can_do():
    """A room of 40 m3 with two air changes an hour: filled for 15 min, then emptied, by the one box of C-8 and C-10.

    A middle draw against the middle of many; a tenth covers that near and far field are not quite one box.
    """
    found = spilt(taken_up_min=15, air_changes_per_h=2.0, volume_m3=40.0, jurisdiction="germany", draws=2000)
    low, high = air.formaldehyde_emission_mg_min(0.125, 0.125**0.5, 3.9, 25.0, (0.06 * 0.1) ** 0.5)
    rate = 2.0 / 60.0
    filled = (low * high) ** 0.5 / (rate * 40.0) * (1.0 - math.exp(-rate * 15.0))
    limit = 0.6 * 1.2273  # C-1
    assert 15.0 + math.log(filled / limit) / rate == pytest.approx(found.away[0].minutes, rel=0.1)
    assert "a puddle of 0.12 m2 taken up after 15 min" in found.line


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(0.4, "0 min"), (16.0, "16 min"), (90.0, "90 min"), (91.0, "2 h"), (121.0, "2.5 h"), (180.0, "3 h")],
)
def test_a_long_time_is_told_in_hours_and_never_too_short(minutes, said):
    assert said == time_away(minutes)


def test_alcohol_dries_and_gives_off_no_more_than_was_spilt():
    """Mass is kept: no more can be in the room than was spilt."""
    found = spilt(500.0, fluid="alcohol", strength=70.0)
    assert "ethanol" == found.substance
    grams = 500.0 * 0.70 * 0.789
    peak_mg_m3 = found.peak_far_ppm.high * found.mg_m3_per_ppm
    assert peak_mg_m3 * 30.0 <= 1.6 * 1000.0 * grams  # all of it in the room at once, and the model's doubt
    assert any("no flame" in w for w in found.warnings)


def test_area_follows_volume_unless_it_is_given():
    assert 0.125 == pytest.approx(spilt(250.0).area_m2)  # two millimetres deep
    assert 0.25 == pytest.approx(spilt(500.0).area_m2)
    assert 1.0 == spilt(250.0, area_m2=1.0).area_m2


def test_it_fits_in_json_and_speaks_of_below_or_away():
    found = spilt(taken_up_min=15)
    data = json.loads(json.dumps(found.as_dict(), allow_nan=False))
    assert data["line"] == found.line
    assert all(a["words"] for a in data["away"])
    assert "safe" not in json.dumps(data)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"volume_ml": 0.0}, "volume_ml must be above 0"),
        ({"fluid": "petrol"}, "fluid must be one of formalin, alcohol"),
        ({"taken_up_min": 0.0}, "taken_up_min must be from 1"),
        ({"area_m2": 0.0}, "area_m2 must be from"),
    ],
)
def test_what_cannot_be_is_refused(changes, says):
    with pytest.raises(ValueError, match="must be") as problem:
        spilt(**changes)
    assert says in str(problem.value)


def test_an_unknown_place_is_a_finding():
    with pytest.raises(FindingsError):
        spilt(shelter="yurt")
