"""Calendar files as the standard (RFC 5545) wants them, read back by another reading of the same rules."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import pytest
from icalendar import Calendar

from keepfast.exchange import calendar


@dataclass(frozen=True)
class Thing:
    at: datetime.datetime
    key: str
    what: str
    why: str
    minutes: int = 30


AT = datetime.datetime.fromisoformat("2026-03-14T18:00+01:00")
THINGS = [
    Thing(
        AT, "rinse-1", "Rinse 1, clean water: B-12", "200 mL of water; drain well, then go on: three times in all, " * 3
    ),
    Thing(AT + datetime.timedelta(days=2), "jar", "Into the jar, 74 %: Ñandú", "93 mL of stock\nand water"),
]


def test_what_is_written_is_read_back() -> None:
    parsed = Calendar.from_ical(calendar.write(THINGS, "B-12", AT))
    events = list(parsed.walk("VEVENT"))
    assert [str(e["SUMMARY"]) for e in events] == [t.what for t in THINGS]
    assert [str(e["DESCRIPTION"]) for e in events] == [t.why for t in THINGS]
    assert [e.decoded("DTSTART") for e in events] == [t.at for t in THINGS]
    assert all(e.decoded("DTEND") - e.decoded("DTSTART") == datetime.timedelta(minutes=30) for e in events)
    assert all(len(list(e.walk("VALARM"))) == 1 for e in events)


def test_lines_are_ended_and_folded_as_the_standard_wants() -> None:
    """RFC 5545, 3.1: CRLF, at most 75 octets a line; 3.4 and 3.6: PRODID, VERSION, UID, DTSTAMP."""
    raw = calendar.write(THINGS, "B-12", AT)
    assert b"\r\n" in raw
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    for name in (b"BEGIN:VCALENDAR", b"VERSION:2.0", b"PRODID:", b"UID:", b"DTSTAMP:20260314T170000Z"):
        assert name in raw


def test_the_same_plan_written_again_is_the_same_file() -> None:
    """So that a calendar replaces its entries instead of doubling them."""
    assert calendar.write(THINGS, "B-12", AT) == calendar.write(THINGS, "B-12", AT)
    moved = Calendar.from_ical(calendar.write([THINGS[0]], "B-12", AT + datetime.timedelta(days=1)))
    again = Calendar.from_ical(calendar.write([THINGS[0]], "B-12", AT))
    assert str(next(iter(moved.walk("VEVENT")))["UID"]) == str(next(iter(again.walk("VEVENT")))["UID"])


def test_two_jarfuls_of_one_name_do_not_replace_each_other() -> None:
    """RFC 5545, 3.8.4.7: a UID is unique; two frogs without a number both are called frog."""
    uids = {
        str(next(iter(Calendar.from_ical(calendar.write([THINGS[0]], "frog", AT, of=of)).walk("VEVENT")))["UID"])
        for of in ("frog 40 g", "frog 41 g")
    }
    assert len(uids) == 2


def test_nothing_is_published_in_the_name_of_nobody() -> None:
    """RFC 5546, 3.2.1: a METHOD of PUBLISH wants an ORGANIZER; without METHOD it is a plain calendar file."""
    raw = calendar.write(THINGS, "B-12", AT)
    assert b"METHOD" not in raw


def test_a_time_without_an_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="at must carry an offset"):
        calendar.write([Thing(datetime.datetime(2026, 3, 14), "a", "b", "c")], "x", AT)
