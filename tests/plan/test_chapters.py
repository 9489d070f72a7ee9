"""Air, sun and race hang on a plan that already stands, and change nothing in it."""

from __future__ import annotations

import datetime
from zoneinfo import ZoneInfo

import pytest

from keepfast.book.animals import Animal
from keepfast.plan.camp import Camp
from keepfast.plan.chapters import with_air, with_race, with_sun
from keepfast.plan.evening import Rules, plan_evening

MADRID = ZoneInfo("Europe/Madrid")
START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=MADRID)
RULES = Rules.load()
HERD = [
    Animal("A-1", "lizard", length_mm=70.0),
    Animal("A-2", "frog", length_mm=60.0),
    Animal("A-3", "turtle", length_mm=120.0),
]


def plan(camp: Camp, start: datetime.datetime = START):  # type: ignore[no-untyped-def]
    return plan_evening(HERD, camp, RULES, start=start, size=50)


def test_the_air_is_that_of_this_table() -> None:
    """More warmth, more formaldehyde; the rounds before the fixative is open give off nothing."""
    cool, hot = (
        with_air(plan(Camp(temperature_c=t)), Camp(temperature_c=t), RULES.evening, 1, 200).table.extra["air"]
        for t in (12.0, 32.0)
    )
    assert hot["emission_mg_min"]["value"] > 2 * cool["emission_mg_min"]["value"]
    assert "limit of" in cool["line"]


def test_the_race_is_told_for_every_animal_that_goes_into_fluid() -> None:
    """Its protocol stays as it was: same fillings, same time in the tray."""
    bare = plan(Camp())
    raced = with_race(bare, Camp(), RULES.evening, 1)
    for before, after in zip(bare.animals, raced.animals, strict=True):
        assert after.extra["race"]["regions"]
        assert after.injections == before.injections
        assert after.tray_h == before.tray_h


def test_sunset_is_where_an_almanac_has_it() -> None:
    """Seville, 18 April 2026: sunset at 21:01 local summer time.

    From the formula of Meeus, Astronomical Algorithms (1998), chapter 15, worked by hand to the minute: declination of
    the sun 10.9 degrees, equation of time +0.6 min, longitude 5.98 W, latitude 37.39 N, altitude -0.833 degrees:
    hour angle 99.6 degrees, that is 6 h 38 min after local noon at 14:23. Two minutes either way.
    """
    camp = Camp(latitude=37.39, longitude=-5.98, time_zone="Europe/Madrid")
    told = with_sun(plan(camp), camp).table.extra["sun"]
    sunset = datetime.datetime.fromisoformat(told["sunset"])
    assert abs((sunset - datetime.datetime(2026, 4, 18, 21, 1, tzinfo=MADRID)).total_seconds()) <= 2 * 60


@pytest.mark.parametrize(("hour", "minute", "said"), [(8, 0, "out of it"), (20, 50, "headlamp"), (22, 0, "headlamp")])
def test_the_light_is_told_by_when_the_table_starts(hour: int, minute: int, said: str) -> None:
    """By day, into the dusk, and by night."""
    camp = Camp(latitude=37.39, longitude=-5.98, time_zone="Europe/Madrid")
    start = datetime.datetime(2026, 4, 18, hour, minute, tzinfo=MADRID)
    assert said in with_sun(plan(camp, start), camp).table.extra["sun"]["line"]


def test_a_camp_without_a_place_has_no_sun() -> None:
    """Nothing is guessed."""
    assert "sun" not in with_sun(plan(Camp()), Camp()).table.extra
