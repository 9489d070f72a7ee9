"""Trays in progress: where fronts are, when they may be left, and whether the spot is too warm."""

import datetime
import json

import pytest

from keepfast.book.animals import Animal
from keepfast.plan.camp import Camp, Reading
from keepfast.plan.evening import Rules, plan_evening
from keepfast.plan.watch import best_start, watch

ZONE = datetime.timezone(datetime.timedelta(hours=2))
START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=ZONE)
CAMP = Camp(temperature_c=22.0)


@pytest.fixture(scope="module")
def table():
    animals = (
        Animal("L-1", "lizard", length_mm=60, mass_g=5.0, gut="empty", died_at=START),
        Animal("L-2", "lizard", length_mm=110, mass_g=32.0, gut="empty", died_at=START),
    )
    return plan_evening(animals, CAMP, Rules.load(), start=START, size=50)


def looked(table, hours, readings=(), **more):
    now = START + datetime.timedelta(hours=hours)
    return watch(
        table.animals, camp=CAMP, since={"L-1": START, "L-2": START}, readings=readings, now=now,
        trays=table.table.trays, draws=40, **more,
    )  # fmt: skip


def reading(hours, warm):
    return Reading(START + datetime.timedelta(hours=hours), warm)


def test_binding_only_goes_on(table):
    early, late = looked(table, 3), looked(table, 20)

    for before, after in zip(early.animals, late.animals, strict=True):
        assert (3.0, 20.0) == pytest.approx((before.hours, after.hours))
        assert before.fronts_mm["bound_half_mm"].high <= after.fronts_mm["bound_half_mm"].high
        for one, other in zip(before.regions, after.regions, strict=True):
            assert one.arrested <= other.arrested
            assert one.half_bound <= other.half_bound


def test_nothing_may_leave_before_practices_minimum(table):
    found = looked(table, 3).animals[0]

    assert START + datetime.timedelta(hours=24) == found.practice_at
    assert not found.may_leave_now
    assert found.may_leave_at is None or found.may_leave_at >= found.practice_at
    assert looked(table, 60).animals[0].may_leave_now


def test_each_animal_has_its_own_start(table):
    later = START + datetime.timedelta(hours=2)
    found = watch(
        table.animals, camp=CAMP, since={"L-1": START, "L-2": later}, readings=(), draws=40,
        now=START + datetime.timedelta(hours=5), trays=table.table.trays,
    )  # fmt: skip

    assert [5.0, 3.0] == pytest.approx([a.hours for a in found.animals])


def test_a_hot_spot_raises_an_alarm_and_shade_gains_time(table):
    found = looked(table, 0.5, [reading(0, 36.0), reading(0.5, 36.0)], shade_c=24.0)

    assert any("36" in alarm for alarm in found.alarms)
    assert () == looked(table, 0.5, [reading(0, 20.0)]).alarms
    assert any("40" in a or "41" in a for a in looked(table, 0.5, [reading(0, 41.0)]).alarms)
    gains = [a.shade_gain_h for a in found.animals if a.shade_gain_h is not None]
    assert all(g > 0 for g in gains)


def test_past_heat_is_remembered(table):
    found = looked(table, 6, [reading(0, 37.0), reading(3, 24.0), reading(5, 22.0)])

    assert 37.0 == found.highest_c
    assert any("37" in alarm for alarm in found.alarms)


def test_what_is_assumed_of_the_days_to_come_is_said(table):
    assert any("22" in a for a in looked(table, 3).assumptions)
    assert any("last reading" in a for a in looked(table, 3, [reading(0, 20.0)]).assumptions)
    day = [reading(h, 15.0 + h / 4) for h in range(25)]
    assert any("like the last one" in a for a in looked(table, 25, day).assumptions)


def test_a_warm_record_binds_sooner_than_a_cool_one(table):
    warm, cool = (looked(table, 8, [reading(0, t)]).animals[1] for t in (30.0, 12.0))

    assert sum(r.half_bound for r in warm.regions) > sum(r.half_bound for r in cool.regions)


def test_a_watch_is_plain_json(table):
    assert json.loads(json.dumps(looked(table, 3).as_dict(), allow_nan=False))["animals"][0]["field_number"] == "L-1"


def test_times_must_make_sense(table):
    with pytest.raises(ValueError, match="after now"):
        looked(table, -1)
    with pytest.raises(ValueError, match="must carry an offset"):
        watch(table.animals, camp=CAMP, since={"L-1": START.replace(tzinfo=None)}, readings=(), now=START)


def test_the_coolest_time_of_a_day_is_found():
    """A day whose low is at 05:00 and high at 17:00, as straight lines: three hours round 05:00 are coolest."""
    midnight = datetime.datetime(2026, 4, 18, tzinfo=ZONE)
    readings = [Reading(midnight + datetime.timedelta(hours=h), 12 + abs((h - 5 + 12) % 24 - 12)) for h in range(49)]
    start, mean = best_start(readings, 3.0, midnight, midnight + datetime.timedelta(hours=21))

    assert datetime.timedelta(hours=3.5) == start - midnight
    # A triangle one and a half hours to each side: 12.75 on the mean; 0.05 for steps of six minutes.
    assert mean == pytest.approx(12.75, abs=0.06)
    with pytest.raises(ValueError, match="a day at least"):
        best_start(readings[:5], 3.0, midnight, midnight)
