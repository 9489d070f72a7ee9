"""The sun against published positions and tables, and the shade of a ridge by plain geometry."""

import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from keepfast.science import sun


def zone(hours: float) -> datetime.timezone:
    return datetime.timezone(datetime.timedelta(hours=hours))


def clock(text: str, day: datetime.date, hours: float) -> datetime.datetime:
    return datetime.datetime.combine(day, datetime.time.fromisoformat(text), zone(hours))


def test_the_sun_stands_where_the_reference_case_says():
    """Reda & Andreas, NREL/TP-560-34302 (carried by others): zenith 50.11162, azimuth 194.34024."""
    when = datetime.datetime(2003, 10, 17, 12, 30, 30, tzinfo=zone(-7))
    found = sun.position(when, 39.742476, -105.1786)

    # 0.005 degree: half a second of time; the library's simpler series.
    assert found.azimuth_deg == pytest.approx(194.34024, abs=0.005)
    assert 90 - found.elevation_deg == pytest.approx(50.11162, abs=0.005)


# Place, day, offset, sunrise, sunset, tolerance in seconds. NREL report and page, and US Naval Observatory tables
# (given to the minute), all as carried by a solar library's tests.
RISE_AND_SET = [
    (35.0, 0.0, (1994, 1, 2), 0, "07:08:12", "16:59:55", 5),
    (-35.0, 0.0, (2004, 12, 4), 0, "04:38:57", "19:02:02", 5),
    (39.742476, -105.1786, (2015, 1, 2), -7, "07:21:55", "16:47:43", 5),
    (39.0, -105.0, (2015, 1, 2), -7, "07:19", "16:49", 60),
    (39.0, -105.0, (2015, 8, 2), -7, "05:01", "19:10", 60),
    (39.917, 116.383, (2015, 1, 2), 8, "07:36", "17:00", 60),
    (39.917, 116.383, (2015, 4, 2), 8, "05:58", "18:39", 60),
    (39.917, 116.383, (2015, 12, 2), 8, "07:17", "16:50", 60),
]


@pytest.mark.parametrize(("lat", "lon", "date", "offset", "rise", "sets", "within"), RISE_AND_SET)
def test_the_sun_rises_and_sets_when_the_tables_say(lat, lon, date, offset, rise, sets, within):
    day = datetime.date(*date)
    found = sun.day(day, lat, lon, zone(offset))

    assert abs((found.sunrise - clock(rise, day, offset)).total_seconds()) <= within
    assert abs((found.sunset - clock(sets, day, offset)).total_seconds()) <= within


def test_sunset_belongs_to_the_local_evening():
    """
    The day trap: sought in the UTC day, Golden's sunset of 2015-08-02 is 19:13:57, the evening before. The local one
    is 19:12:53 by a planetary ephemeris.
    """
    day = datetime.date(2015, 8, 2)
    found = sun.day(day, 39.742476, -105.1786, zone(-7))

    assert abs((found.sunset - clock("19:12:53", day, -7)).total_seconds()) <= 5
    assert day == found.sunset.date() == found.sunrise.date()


def test_far_north_it_may_do_neither():
    summer = sun.day(datetime.date(2020, 6, 21), 70.0, 20.0, zone(2))
    winter = sun.day(datetime.date(2020, 12, 21), 70.0, 20.0, zone(1))

    assert ("up", None, None) == (summer.always, summer.sunrise, summer.sunset)
    assert ("down", None, None) == (winter.always, winter.sunrise, winter.sunset)


def test_noon_is_highest():
    found = sun.day(datetime.date(2026, 4, 18), 37.93, -6.88, zone(2))

    # Declination about 10.9 degrees on that day (almanac, from memory): 90 - 37.93 + 10.9.
    assert found.noon_elevation_deg == pytest.approx(63.0, abs=0.3)
    assert found.sunrise < found.noon < found.sunset


def test_a_pole_of_two_metres_throws_two_metres_at_45_degrees():
    found = sun.shade([90.0, 180.0, 270.0], 45.0, 2.0, 0.0)

    assert found.length_m == pytest.approx([2.0, 2.0, 2.0])
    assert found.azimuth_deg == pytest.approx([270.0, 0.0, 90.0])


def test_a_ridge_shades_the_side_away_from_the_sun():
    """North-south ridge: westwards in the morning, eastwards in the afternoon, nothing when the sun runs along it."""
    found = sun.shade([90.0, 180.0, 270.0], 45.0, 2.0, 0.0)

    assert found.reach_m == pytest.approx([2.0, 0.0, 2.0], abs=1e-9)
    assert 270.0 == found.toward_deg[0]
    assert 90.0 == found.toward_deg[2]


def test_a_ridge_at_an_angle_shades_by_the_sine():
    # Sun in the south-east at 30 degrees, ridge east-west: 2 / tan 30 x sin 45.
    found = sun.shade(135.0, 30.0, 2.0, 90.0)

    assert found.reach_m == pytest.approx(2.449, abs=1e-3)
    assert 0.0 == found.toward_deg


def test_a_low_sun_gives_no_shade_to_speak_of():
    assert np.isnan(sun.shade(90.0, 2.0, 2.0, 0.0).length_m)


def test_places_times_and_heights_that_make_no_sense_are_refused():
    now = datetime.datetime(2026, 4, 18, 12, tzinfo=zone(2))
    with pytest.raises(ValueError, match="latitude_deg must be"):
        sun.position(now, 91, 0)
    with pytest.raises(ValueError, match="must carry an offset"):
        sun.position(now.replace(tzinfo=None), 0, 0)
    with pytest.raises(ValueError, match="height_m must be"):
        sun.shade(90, 45, 0, 0)
    with pytest.raises(ValueError, match="length_h must be"):
        sun.coolest_window([0.0, 1.0], [20.0, 21.0], 5.0)


def test_a_night_that_begins_after_midnight_still_has_its_sunset():
    """Tromsoe, first days of the midnight sun: it goes down after midnight, and then for two months not at all."""
    zone = ZoneInfo("Europe/Oslo")
    last = sun.day(datetime.date(2026, 5, 17), 69.65, 18.96, zone)

    assert last.sunset is not None
    assert last.sunrise is not None
    assert 0 == last.sunset.hour
    assert last.sunset < last.sunrise
    assert "up" == sun.day(datetime.date(2026, 5, 20), 69.65, 18.96, zone).always
    # Both hemispheres alike: south of the tropic the noon sun of summer stands in the north.
    sydney = sun.day(datetime.date(2026, 12, 21), -33.87, 151.2, ZoneInfo("Australia/Sydney"))
    azimuth = sun.position(sydney.noon, -33.87, 151.2).azimuth_deg
    assert min(azimuth, 360 - azimuth) < 2
    assert 90 - 33.87 + 23.44 == pytest.approx(sydney.noon_elevation_deg, abs=0.05)


def test_what_is_unknown_of_the_sun_throws_no_shade():
    found = sun.shade([180.0, np.nan, 180.0], [45.0, 45.0, np.nan], 2.0, 90.0)

    assert np.isfinite(found.reach_m).tolist() == np.isfinite(found.toward_deg).tolist() == [True, False, False]
    with pytest.raises(ValueError, match="date must be from 1900 to 2100; 2101"):
        sun.day(datetime.date(2101, 1, 1), 40.0, -3.0, datetime.UTC)


def test_the_coolest_stretch_of_a_record_is_found():
    hours = np.arange(0.0, 24.5, 0.5)
    warm = 20 + 6 * np.cos((hours - 15) * 2 * np.pi / 24)
    start, mean = sun.coolest_window(hours, warm, 4.0)

    # A cosine with its low at 3 h: the stretch lies around it.
    assert start == pytest.approx(1.0, abs=0.1)
    assert mean == pytest.approx(20 - 6 * np.sin(np.pi / 6) / (np.pi / 6), abs=0.02)
