"""Temperature records as loggers write them, and what is refused because nobody could know."""

import datetime
import hashlib
import itertools

import pytest

from keepfast.exchange.loggers import read_logger
from keepfast.findings import FindingsError


@pytest.fixture
def record(tmp_path):
    def write(text: str, encoding: str = "utf-8"):
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode(encoding))
        return path

    return write


def utc(hour: int, minute: int = 0) -> datetime.datetime:
    return datetime.datetime(2026, 4, 18, hour, minute, tzinfo=datetime.UTC)


# Each: what a logger wrote, the zone told by the caller, the times and degrees C that are meant.
WRITTEN = {
    "the plain form": ("time,temperature_c\n2026-04-18T06:00Z,13.6\n2026-04-18T06:30Z,14.3\n", None, [13.6, 14.3]),
    "semicolons, decimal commas and two columns of time": (
        "Datum;Zeit;Temperatur [°C];Feuchte\r\n18.04.2026;08:00;13,6;50\r\n18.04.2026;08:30;14,3;51\r\n",
        "Europe/Berlin",
        [13.6, 14.3],
    ),
    "a preamble, the zone in the heading, short years and am": (
        'Serial 12345\n"#","Date Time, GMT+02:00","Temp, °C","Event"\n1,04/18/26 08:00:00 AM,13.6,\n'
        "2,04/18/26 08:30:00 AM,14.3,\n3,04/18/26 08:31:00 AM,,end\n",
        None,
        [13.6, 14.3],
    ),
    "fahrenheit": ("Timestamp,Temp (°F)\n2026-04-18 06:00,56.48\n2026-04-18 06:30,57.74\n", "UTC", [13.6, 14.3]),
    "a unit in a column of its own": (
        "Date/Time,Unit,Value\n2026-04-18 06:00,C,13.6\n2026-04-18 06:30,F,57.74\n",
        "UTC",
        [13.6, 14.3],
    ),
    "a unit beside each figure": (
        "time,Temperature\n2026-04-18 06:00,13.6 C\n2026-04-18 06:30,14.3 C\n",
        "UTC",
        [13.6, 14.3],
    ),
    "celsius spelt out and dew point beside it": (
        "Time,Celsius(°C),Humidity(%rh),Dew Point(°C)\n2026-04-18 06:00:00,13.6,50,3\n2026-04-18 06:30:00,14.3,50,3\n",
        "UTC",
        [13.6, 14.3],
    ),
    "an air temperature, the zone named above the table": (
        "Time zone: Africa/Nairobi\nDate Time;air_temp_degC\n2026-04-18 09:00;13.6\n2026-04-18 09:30;14.3\n",
        None,
        [13.6, 14.3],
    ),
    "an offset above the table": (
        "UTC offset: -05:00\nTime,Temp (C)\n2026-04-18 01:00,13.6\n2026-04-18 01:30,14.3\n",
        None,
        [13.6, 14.3],
    ),
    "a place's zone in the heading": (
        "time (Europe/Lisbon),temp_c\n2026-04-18 07:00,13.6\n2026-04-18 07:30,14.3\n",
        "Asia/Tokyo",
        [13.6, 14.3],
    ),
    # 1 776 492 000 s after 1970 is 2026-04-18 06:00 UTC: 20 561 days of 86 400 s and six hours.
    "seconds since 1970": ("timestamp,temperature_c\n1776492000,13.6\n1776493800000,14.3\n", None, [13.6, 14.3]),
}


@pytest.mark.parametrize("name", sorted(WRITTEN))
def test_usual_records_are_understood(record, name):
    text, zone, degrees = WRITTEN[name]
    found = read_logger(record(text), zone=zone)

    assert (utc(6), utc(6, 30)) == found.at
    assert degrees == pytest.approx(list(found.temperature_c), abs=0.01)
    assert all(at.utcoffset() is not None for at in found.at)


def test_the_hash_of_the_file_is_kept(record):
    path = record("time,temperature_c\n2026-04-18T06:00Z,13.6\n")

    assert hashlib.sha256(path.read_bytes()).hexdigest() == read_logger(path).sha256


def test_a_record_without_a_unit_is_refused(record):
    with pytest.raises(FindingsError, match="the unit of the temperature is not stated"):
        read_logger(record("time,temp\n2026-04-18 06:00,75\n"), zone="UTC")


def test_a_record_without_a_zone_is_refused(record):
    with pytest.raises(FindingsError, match="nothing says which zone"):
        read_logger(record("time,temp_c\n2026-04-18 06:00,20\n"))


def test_a_table_without_times_or_temperatures_is_refused(record):
    with pytest.raises(FindingsError, match="no table of times and temperatures"):
        read_logger(record("a,b\n1,2\n"))
    with pytest.raises(FindingsError, match="there is no reading"):
        read_logger(record("time,temp_c\n2026-04-18T06:00Z,\n"))
    with pytest.raises(FindingsError, match="no such time zone"):
        read_logger(record("time,temp_c\n2026-04-18 06:00,20\n"), zone="Moon/Base")


def test_all_bad_cells_are_told_at_once(record):
    with pytest.raises(FindingsError) as told:
        read_logger(record("time,temp_c\n2026-04-18T06:00Z,warm\n2026-99-18T06:00Z,20\n2026-04-18T07:00Z,20\n"))

    assert [2, 3] == [f.row for f in told.value.findings]


def test_a_broken_sensor_is_left_out_and_said(record):
    found = read_logger(record("time,temp_c\n2026-04-18T06:00Z,-127\n2026-04-18T06:30Z,14.3\n"))

    assert (14.3,) == found.temperature_c
    assert ["doubt"] == [f.weight for f in found.findings]


def test_readings_come_in_order_and_the_later_of_two_stays(record):
    found = read_logger(record("time,temp_c\n2026-04-18T07:00Z,3\n2026-04-18T06:00Z,1\n2026-04-18T06:00Z,2\n"))

    assert (2.0, 3.0) == found.temperature_c
    assert any("twice" in f.what for f in found.findings)


def test_one_of_several_temperatures_can_be_named(record):
    text = "time,Temp in (°C),Temp out (°C)\n2026-04-18T06:00Z,10,20\n"

    assert (10.0,) == read_logger(record(text)).temperature_c
    assert (20.0,) == read_logger(record(text), column="out").temperature_c
    with pytest.raises(FindingsError, match="no such temperature column"):
        read_logger(record(text), column="roof")


def test_hours_across_a_change_of_clocks_are_true_hours(record):
    """In the night to 2026-03-29 clocks in Madrid go from 02:00 to 03:00: one hour apart, not two."""
    found = read_logger(record("time,temp_c\n2026-03-29 01:30,10\n2026-03-29 03:30,11\n"), zone="Europe/Madrid")

    assert datetime.timedelta(hours=1) == found.at[1] - found.at[0]


NIGHT = datetime.date(2026, 10, 25)  # at 3:00 clocks in Spain go back to 2:00


def shown(day: datetime.date, *clocks: str) -> str:
    return "time,temperature_c\n" + "".join(f"{day} {clock},{10 - k}\n" for k, clock in enumerate(clocks))


def test_the_hour_that_comes_twice_is_told_apart_by_its_order(record):
    text = shown(NIGHT, "01:30", "02:00", "02:30", "02:00", "02:30", "03:00")
    read = read_logger(record(text), zone="Europe/Madrid")

    first = datetime.datetime(2026, 10, 24, 23, 30, tzinfo=datetime.UTC)
    assert [first + datetime.timedelta(minutes=30 * k) for k in range(6)] == list(read.at)
    assert () == read.findings


@pytest.mark.parametrize(
    ("day", "clocks"),
    [(NIGHT, ("01:00", "02:00", "03:00", "04:00")), (datetime.date(2026, 3, 29), ("01:00", "02:00", "03:00", "04:00"))],
)
def test_a_logger_whose_clock_ran_through_the_change_keeps_its_first_offset(record, day, clocks):
    read = read_logger(record(shown(day, *clocks)), zone="Europe/Madrid")

    assert {3600.0} == {(b - a).total_seconds() for a, b in itertools.pairwise(read.at)}
    assert 1 == len({at.utcoffset() for at in read.at})
    assert "the logger's did not" in read.findings[0].what


def test_a_record_that_was_changed_with_the_clocks_is_left_alone(record):
    read = read_logger(
        record(shown(datetime.date(2026, 3, 29), "00:00", "01:00", "03:00", "04:00")), zone="Europe/Madrid"
    )

    assert {3600.0} == {(b - a).total_seconds() for a, b in itertools.pairwise(read.at)}
    assert () == read.findings


def test_a_long_hole_in_a_record_is_told(record):
    rows = ["18:00,21", "18:30,21", "19:00,20", "23:59,14"]
    read = read_logger(record("time,temperature_c\n" + "".join(f"2026-04-18 {r}\n" for r in rows)), zone="UTC")

    assert ["there is no reading from 2026-04-18 19:00+00:00 to 2026-04-18 23:59+00:00"] == [
        f.what.split(",")[0] for f in read.findings
    ]


def test_words_for_no_reading_are_passed_over_and_counted(record):
    rows = ["18:00,21", "18:30,NaN", "19:00,---", "19:30,Error", "20:00,20"]
    read = read_logger(record("time,temperature_c\n" + "".join(f"2026-04-18 {r}\n" for r in rows)), zone="UTC")

    assert (21.0, 20.0) == read.temperature_c
    assert "3 rows" in read.findings[0].what


def test_a_heading_that_names_another_zone_than_the_camps_is_doubted(record):
    rows = "2026-04-18 18:00,21\n2026-04-18 18:30,20\n"
    there, elsewhere = (
        read_logger(record(f"time ({zone}),temp_c\n{rows}"), zone="Europe/Madrid") for zone in ("CEST", "EST")
    )

    assert () == there.findings
    assert "the heading says EST" in elsewhere.findings[0].what
