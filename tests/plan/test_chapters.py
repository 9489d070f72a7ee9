"""Air, sun and race hang on a plan that already stands, and change nothing in it."""

from __future__ import annotations

import datetime
from zoneinfo import ZoneInfo

import pytest

from keepfast.book.animals import Animal
from keepfast.plan.camp import Camp, Reading
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


def air_of(camp: Camp, seed: int = 1):  # type: ignore[no-untyped-def]
    return with_air(plan(camp), camp, RULES.evening, seed, 200).table.extra["air"]


def face(air):  # type: ignore[no-untyped-def]
    return air["exposures"][0]["ppm"]["value"]


def test_what_the_camp_knows_of_its_tent_answers_what_the_plan_asks() -> None:
    """Without a word the worst case is taken and asked about; flaps, size, air changes and lids each make it better."""
    unknown = air_of(Camp(shelter="tent"))
    assert unknown["questions"]
    assert unknown["questions"][0].split("?")[0] in "Are one or two flaps open, and how large are they?"
    for better in (
        {"shelter": "tent_two_flaps", "opening_m2": 1.5, "air_speed_m_s": 0.2},
        {"shelter": "tent", "air_changes_per_h": 20.0},
    ):
        known = air_of(Camp(**better))
        assert not known["questions"]
        assert face(known) < 0.5 * face(unknown)
    assert face(air_of(Camp(shelter="tent", volume_m3=60.0))) < face(unknown)
    assert face(air_of(Camp(shelter="tent", lids=True))) < 0.8 * face(unknown)


def test_the_pressure_follows_the_height_of_the_camp() -> None:
    """1 ppm of formaldehyde at 15 degrees C and 70 kPa is 0.8773 mg/m3 (C-5); 3000 m have 70.1 kPa (standard)."""
    high = air_of(Camp(temperature_c=15.0, elevation_m=3000.0))
    assert 0.8773 == pytest.approx(high["mg_m3_per_ppm"], rel=0.003)
    assert 101.325 == pytest.approx(air_of(Camp())["pressure_kpa"])


def test_the_coolest_hour_is_told_by_the_clock_of_the_camp() -> None:
    """The coolest half hour of the day from the start on, and not of a night long past."""

    def at(day: int, hour: int, temperature_c: float) -> Reading:
        return Reading(datetime.datetime(2026, 4, day, hour, 0, tzinfo=MADRID), temperature_c)

    record = (at(16, 5, 2.0), at(17, 18, 29.0), at(18, 18, 30.0), at(19, 5, 14.0), at(19, 18, 29.0))
    camp = Camp(temperature_record=record, time_zone="Europe/Madrid")
    hour = next(h for h in air_of(camp)["helps"] if h["key"] == "hour")
    assert "about 05:00, 14 degrees C" in hour["words"]


def test_the_warmth_is_the_warmest_while_the_fixative_is_open() -> None:
    record = tuple(
        Reading(START + datetime.timedelta(hours=h), c) for h, c in ((-6, 38.0), (-1, 20.0), (12, 20.0), (20, 35.0))
    )
    assert 20.0 == pytest.approx(air_of(Camp(temperature_record=record))["temperature_c"])


def test_the_spill_to_be_ready_for_says_what_it_stands_on() -> None:
    """A cup, taken up in a quarter of an hour, with the seed of the plan."""
    spill = air_of(Camp(), seed=7)["spill"]
    assert (250.0, 15.0, 7) == (spill["volume_ml"], spill["taken_up_min"], spill["seed"])
    assert "taken up after 15 min" in spill["line"]
    assert "stay away" in spill["line"]


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
