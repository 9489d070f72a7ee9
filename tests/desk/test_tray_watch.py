"""A book knows what lies in its trays, since when, and how warm it was."""

from __future__ import annotations

import datetime
import json

import pytest

from keepfast import cli
from keepfast.desk.books import new_book, open_book
from keepfast.desk.tray_watch import in_trays
from keepfast.findings import FindingsError

COVERED = "2026-04-18T19:30:00+02:00"


@pytest.fixture
def book(tmp_path):
    new_book(tmp_path / "trip.keepfast")
    with open_book(tmp_path / "trip.keepfast", who="Ana", device="laptop") as opened:
        yield opened


def animal(book, number, form="lizard"):
    made = book.write("animal", {"field_number": number, "form": form})
    book.write("measurement", {"animal": made.id, "values": {"length_mm": 60.0, "mass_g": 5.0}})
    return made.id


def test_a_book_without_trays_says_so(book):
    animal(book, "A-1")
    with pytest.raises(FindingsError, match="no animal of this book lies in a tray"):
        in_trays(book)


def test_the_latest_cover_counts_and_filling_where_none_was_written(book):
    one, two, three = (animal(book, n) for n in ("A-1", "A-2", "A-3"))
    for step, at in (("fill", "2026-04-18T18:30:00+02:00"), ("cover", COVERED)):
        book.write("preparation_done", {"animal": one, "step": step, "at": at})
    book.write("preparation_done", {"animal": two, "step": "fill", "at": "2026-04-18T18:40:00+02:00"})
    book.write("preparation_done", {"animal": three, "step": "cover", "at": COVERED, "outcome": "failed"})
    found = in_trays(book)

    assert {
        "A-1": datetime.datetime.fromisoformat(COVERED),
        "A-2": datetime.datetime.fromisoformat("2026-04-18T18:40:00+02:00"),
    } == found.since
    assert ("A-1", "A-2") == tuple(a.field_number for a in found.animals)
    assert 60.0 == found.animals[0].length_mm


def test_temperatures_of_the_trip_come_in_order(book):
    trip = book.write("trip", {"name": "Spring"}).id
    one = animal(book, "A-1")
    book.write("preparation_done", {"animal": one, "step": "cover", "at": COVERED})
    book.write(
        "temperatures",
        {
            "trip": trip,
            "at": ["2026-04-18T20:00:00+02:00", "2026-04-18T19:00:00+02:00"],
            "temperature_c": {"values": [21.0, 22.5]},
        },
    )
    found = in_trays(book)

    assert [22.5, 21.0] == [r.temperature_c for r in found.readings]
    assert 64 == len(found.sha256)


def test_the_command_watches_a_book_without_being_told_since_when(book, monkeypatch, capsys):
    one = animal(book, "A-1")
    book.write("preparation_done", {"animal": one, "step": "cover", "at": COVERED})
    monkeypatch.setattr(
        "sys.argv", ["keepfast", "watch", str(book.path), "--now", "2026-04-19T09:30:00+02:00", "--json"]
    )
    with pytest.raises(SystemExit) as end:
        cli.main()
    assert not end.value.code
    answer = json.loads(capsys.readouterr().out)

    assert 14.0 == answer["animals"][0]["hours"]
