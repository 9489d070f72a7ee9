"""A book knows what lies in its trays, since when, and how warm it was."""

from __future__ import annotations

import datetime
import json

import pytest

from keepfast import cli
from keepfast.desk.books import new_book, open_book
from keepfast.desk.tray_watch import in_trays
from keepfast.findings import FindingsError
from keepfast.plan.camp import Camp
from keepfast.plan.evening import Rules, plan_evening
from keepfast.plan.race_spots import film_mm, room_taken
from keepfast.rules import evening as evening_rules
from tests.live_table import said

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


def at(clock: str) -> str:
    return f"2026-04-18T{clock}:00+02:00"


def laid(book, animal_id, tray_id, clock, place=1):
    book.write("preparation_done", {"animal": animal_id, "step": "fill", "at": at(clock), "delivered_ml": 0.4})
    book.write("moved", {"animals": [animal_id], "tray": tray_id, "places": [{"place": place}], "at": at(clock)})


def test_a_tray_closed_for_all_counts_for_all_that_lie_in_it(book):
    tray = book.write("tray", {"number": "1", "fixative_ml": 90.0}).id
    other = book.write("tray", {"number": "2"}).id
    one, two, three = (animal(book, n) for n in ("A-1", "A-2", "A-3"))
    laid(book, one, tray, "18:30")
    laid(book, two, tray, "18:40", 2)
    laid(book, three, other, "18:50")
    book.write("tray", {"tray": tray, "covered_at": at("19:30")})
    found = in_trays(book)

    assert {"A-1": at("19:30"), "A-2": at("19:30"), "A-3": at("18:50")} == {
        name: when.isoformat() for name, when in found.since.items()
    }
    assert {("1", ("A-1", "A-2"), 90.0), ("2", ("A-3",), None)} == {
        (t.name, t.field_numbers, t.fixative_ml) for t in found.trays
    }
    assert 0.4 == found.filled_ml["A-1"]


def test_hands_that_closed_a_tray_are_read_where_the_pen_wrote_no_time(book):
    tray = book.write("tray", {"number": "1"}).id
    one, late = animal(book, "A-1"), animal(book, "A-2")
    laid(book, one, tray, "18:30")
    for choice, clock in (
        ("move cover/wet done", "19:20"),
        ("move cover/close done", "19:25"),
        ("move pose/all done", "19:40"),
    ):
        book.write("decision", {"tray": tray, "reckoning": "table", "choice": choice, "at": at(clock)})
    laid(book, late, tray, "20:10", 2)
    taken_back = book.write(
        "decision", {"tray": tray, "reckoning": "table", "choice": "round cover done", "at": at("21:00")}
    )
    book.write("correction", {"entry": taken_back.id, "of_kind": "decision", "reason": "not yet", "withdraw": True})

    # Who was laid in after the lid was shut counts from there, not from the lid.
    assert {"A-1": at("19:25"), "A-2": at("20:10")} == {
        name: when.isoformat() for name, when in in_trays(book).since.items()
    }


def test_a_tray_that_was_closed_at_the_live_table_is_read_with_all_that_was_planned_into_it(table, table_book):
    tray = table.trays[0]
    inside = set(table.subjects[tray].tray.numbers)
    one, other, *_rest = [s for s in table.order if table.subjects[s].number in inside]
    closed = said(tray, "covered", True)
    assert all(o.stored for o in table.append([
        said(one, "delivered_ml", 2.5),
        said(one, "place", f"{table.subjects[tray].number} 1", tray=tray),
        said(other, "left_out", True),
        closed,
    ]))  # fmt: skip
    found = in_trays(table_book)

    # Where nobody wrote who lies where, the plan says so; who was left out lies nowhere.
    left = table.subjects[other].number
    assert inside - {left} == set(found.since)
    assert {closed.at.isoformat(timespec="milliseconds")} == {
        at.isoformat(timespec="milliseconds") for at in found.since.values()
    }
    assert 2.5 == found.filled_ml[table.subjects[one].number]


def test_a_book_without_a_camp_file_is_watched_in_the_camp_of_its_evening(table, table_book, monkeypatch, capsys):
    assert all(o.stored for o in table.append([said(table.trays[0], "covered", True)]))
    kept = in_trays(table_book).camp
    monkeypatch.setattr("sys.argv", ["keepfast", "watch", str(table_book.path), "--now", "2099-01-01T12:00", "--json"])
    with pytest.raises(SystemExit) as end:
        cli.main()
    assert not end.value.code
    told = capsys.readouterr()

    assert kept["temperature_c"] == json.loads(told.out)["temperature_c"]
    assert "its evening was planned with" in told.err


def test_hands_alone_may_close_a_tray_at_the_live_table(table, table_book):
    tray = table.trays[0]
    shut = said(tray, "move:cover/all", True)
    assert all(o.stored for o in table.append([shut]))

    assert {shut.at.isoformat(timespec="milliseconds")} == {
        at.isoformat(timespec="milliseconds") for at in in_trays(table_book).since.values()
    }


def test_what_was_taken_out_is_not_watched(book):
    tray, jar = book.write("tray", {"number": "1"}).id, book.write("jar", {"number": "J1"}).id
    one, two, three = (animal(book, n) for n in ("A-1", "A-2", "A-3"))
    for each in (one, two, three):
        laid(book, each, tray, "18:30")
    book.write("moved", {"animals": [one], "jar": jar, "at": at("22:00")})
    book.write("moved", {"animals": [two], "out_of": "lost", "at": at("22:00")})

    assert ("A-3",) == tuple(a.field_number for a in in_trays(book).animals)


def test_readings_typed_at_a_tray_are_temperatures_too(book):
    tray = book.write("tray", {"number": "1"}).id
    one = animal(book, "A-1")
    laid(book, one, tray, "18:30")
    for clock, warm in (("21:00", 24.5), ("20:00", 26.0)):
        book.write("tray_reading", {"tray": tray, "temperature_c": warm, "at": at(clock)})
    book.write("tray_reading", {"tray": tray, "firm": "soft", "at": at("22:00")})

    assert [26.0, 24.5] == [r.temperature_c for r in in_trays(book).readings]


def test_trays_are_watched_as_wet_and_as_filled_as_they_really_are(book):
    tray = book.write("tray", {"number": "1", "fixative_ml": 3.0, "width_mm": 300.0, "height_mm": 200.0}).id
    one, two = animal(book, "A-1"), animal(book, "A-2")
    laid(book, one, tray, "18:30")
    laid(book, two, tray, "18:30", 2)
    held = in_trays(book)
    start = datetime.datetime.fromisoformat(at("18:30"))
    planned = plan_evening(held.animals, Camp(), Rules.load(), start=start, size=20)
    plans, trays = held.as_they_lie(planned.animals, planned.table.trays)

    assert 3.0 == trays[0].upper_sheet_ml + trays[0].lower_sheet_ml
    assert (300.0, 200.0, ("A-1", "A-2")) == (trays[0].width_mm, trays[0].height_mm, trays[0].field_numbers)
    for plan in plans:
        assert 0.4 == pytest.approx(sum(i.volume_ml for i in plan.injections))
        assert 1 == plan.place.tray
    # Two alike share the three millilitres.
    evening, room = evening_rules.load(), room_taken(plans)
    films = [film_mm(p, evening, trays, room) * p.body.surface_cm2 / 10 for p in plans]
    assert [1.5, 1.5] == pytest.approx(films, rel=0.02)
