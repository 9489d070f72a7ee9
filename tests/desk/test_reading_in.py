"""Reading files into a book: what a look says, what is then written, and that reading twice does no harm."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from keepfast.book.entries import new_id
from keepfast.demo import FOLDER
from keepfast.desk.books import Book, new_book, open_book
from keepfast.desk.reading_in import Wishes, apply, as_dict, columns_of, look
from keepfast.findings import FindingsError

NOTES = """Field No.;Species;Sex;SVL (mm);Mass (g);Date;Time;Collector;Locality;Coordinates;Datum;Tissue;Jar;Notes;Odd
AB 1;Hyla cf. molleri;m;41,2;3,1;18/04/2026;10:40;Ana Ruiz | Tom Bell;Mill pond;37°55'46"N 6°52'51"W;WGS84;T1;J-1;;1
AB 2;Pelobates cultripes;f;71,0;42;18/04/2026;22:05;Ana Ruiz | Tom Bell;Mill pond;37°55'46"N 6°52'51"W;WGS84;T2;J-1;x;2
AB 3;Lacerta sp.;;82,5;15;19.04.2026;;Ana Ruiz;North bank;29 north 687000 4200000;;;;;3
AB 4;Timon lepidus;male;171;150;;;;;;;;;;4
"""


@pytest.fixture
def book(tmp_path: Path):  # type: ignore[no-untyped-def]
    """An empty book, open."""
    new_book(tmp_path / "b.keepfast", name="b")
    with open_book(tmp_path / "b.keepfast", who="Ana", device="test") as opened:
        yield opened


def notes(tmp_path: Path, text: str = NOTES, name: str = "notes.csv") -> Path:
    """The notes as a file."""
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


WISHES = Wishes(zone="Europe/Madrid", source="GPS", trip="Mill trip")


def test_a_look_writes_nothing(book: Book, tmp_path: Path) -> None:
    """Only what would be new, changed and refused."""
    draft = look(book, [notes(tmp_path)], WISHES)
    assert draft.counts() == {"trip": 1, "place": 2, "event": 2, "animal": 4, "tissue": 2, "jar": 1}
    assert (draft.refused, draft.changed, draft.same) == ((), [], 0)
    assert book.last_sequence() == 0


def test_what_was_looked_at_is_what_is_written(book: Book, tmp_path: Path) -> None:
    """Every animal with its event, place, measures, name, tissue and jar."""
    draft = look(book, [notes(tmp_path)], WISHES)
    assert apply(draft) == len(draft.entries) == book.last_sequence()
    (first,) = book.by_label("animal", "AB 1")
    assert first["measured"] == {"length_mm": 41.2, "mass_g": 3.1, "length_kind": "snout_vent"}
    assert first["taxon"] == "Hyla molleri"
    assert first["found_at"] == "2026-04-18T10:40+02:00"
    event = book.state("event", first["event"])
    assert event is not None
    assert (event["when"], event["by"]) == ("2026-04-18", ["Ana Ruiz", "Tom Bell"])
    place = book.state("place", event["place"])
    assert place is not None
    # 37 55 46 is 37.929444; 6 52 51 is 6.880833: the notation's own arithmetic, to its last printed digit.
    assert (place["latitude"], place["longitude"]) == (
        pytest.approx(37.929444, abs=1e-6),
        pytest.approx(-6.880833, abs=1e-6),
    )
    assert place["verbatim_coordinates"] == "37°55'46\"N 6°52'51\"W"
    assert place["uncertainty_m"] > 30  # a receiver's 30 m and the second's diagonal of 39 m
    assert "altered" in place["protocol"]
    jar = book.state("jar", first["container"]["jar"])
    assert jar is not None
    assert jar["number"] == "J-1"
    assert [t["number"] for t in first["tissues"]] == ["T1"]


def test_the_row_is_kept_word_for_word(book: Book, tmp_path: Path) -> None:
    """In the entry that made the animal, also the column that means nothing."""
    apply(look(book, [notes(tmp_path)], WISHES))
    (first,) = book.by_label("animal", "AB 1")
    entry = next(w.entry for w in book.read_since(0) if w.entry.id == first["id"])
    assert entry.content["verbatim"]["Odd"] == "1"
    assert entry.content["verbatim"]["SVL (mm)"] == "41,2"


def test_reading_the_same_file_again_changes_nothing(book: Book, tmp_path: Path) -> None:
    """Not one entry."""
    path = notes(tmp_path)
    apply(look(book, [path], WISHES))
    before = book.last_sequence()
    again = look(book, [path], WISHES)
    assert (again.counts(), again.changed, again.same, again.entries) == ({}, [], 4, [])
    assert apply(again) == 0
    assert book.last_sequence() == before


def test_what_changed_is_told_field_by_field(book: Book, tmp_path: Path) -> None:
    """Was and now, with the row; an emptied cell says nothing."""
    apply(look(book, [notes(tmp_path)], WISHES))
    text = NOTES.replace("AB 1;Hyla cf. molleri;m", "AB 1;Hyla cf. molleri;f").replace(";42;", ";43;")
    text = text.replace("T1;J-1", "T1;J-2").replace("AB 4;Timon lepidus;male", "AB 4;Timon lepidus;")
    draft = look(book, [notes(tmp_path, text)], WISHES)
    told = {(line.row, line.subject, line.field): (line.was, line.now) for line in draft.changed}
    assert told == {
        (2, "AB 1", "sex"): ("male", "female"),
        (2, "AB 1", "jar"): ("J-1", "J-2"),
        (3, "AB 2", "measured.mass_g"): (42.0, 43.0),
    }
    assert draft.same == 2
    apply(draft)
    (first,) = book.by_label("animal", "AB 1")
    assert first["sex"] == "female"
    assert len(book.history("animal", first["id"])) > 3  # what was said before is still there


def test_one_refused_row_keeps_all_from_being_written(book: Book, tmp_path: Path) -> None:
    """All or nothing, with row and column of what is wrong."""
    bad = NOTES.replace("29 north 687000", "29S 687000").replace(";150;", ";15o;")
    draft = look(book, [notes(tmp_path, bad)], WISHES)
    assert [(f.row, f.field, f.subject) for f in draft.refused] == [
        (5, "Mass (g)", "AB 4"),
        (4, "Coordinates", "AB 3"),
    ]
    with pytest.raises(FindingsError):
        apply(draft)
    assert book.last_sequence() == 0


def test_rows_of_one_stop_share_their_event_and_place(book: Book, tmp_path: Path) -> None:
    """And rows of another day do not."""
    text = "field number,date,locality\nA1,2026-04-18,Pond\nA2,2026-04-18,Pond\nA3,2026-04-19,Pond\n"
    draft = look(book, [notes(tmp_path, text)])
    assert draft.counts() == {"place": 1, "event": 2, "animal": 3}


def test_an_event_that_is_told_in_two_ways_is_refused(book: Book, tmp_path: Path) -> None:
    """With the row that said otherwise first; a gap is filled, not refused."""
    text = "field number,station,date,method\nA1,S-1,2026-04-18,\nA2,S-1,2026-04-18,by lamp\nA3,S-1,2026-04-19,\n"
    draft = look(book, [notes(tmp_path, text)])
    assert [(f.row, f.field) for f in draft.refused] == [(4, "date")]
    assert "row 2" in draft.refused[0].what


def test_a_tube_of_two_animals_and_a_catalogue_number_twice_are_refused(book: Book, tmp_path: Path) -> None:
    """A number belongs to one thing."""
    text = "field number,tissue number,catalogue number\nA1,T1,R 1\nA2,T1,R 2\nA3,T3,R 1\n"
    draft = look(book, [notes(tmp_path, text)])
    assert [(f.row, f.field) for f in draft.refused] == [(3, "tissue number"), (4, "catalogue number")]


def test_coordinates_without_a_source_get_no_radius_and_that_is_told_once(book: Book, tmp_path: Path) -> None:
    """What is not known is left empty; a radius that the notes state is taken as stated."""
    text = (
        "field number,locality,coordinates,datum,coordinate uncertainty in meters\n"
        'A1,Pond,"10.2745, -70.6123",WGS84,\nA2,Mill,"10.2845, -70.6123",WGS84,\n'
        'A3,Bank,"10.2945, -70.6123",WGS84,250\n'
    )
    draft = look(book, [notes(tmp_path, text)])
    doubts = [f for f in draft.findings if "came from" in f.what]
    assert len(doubts) == 1
    apply(draft)
    radius = {place["name"]: place.get("uncertainty_m") for place in book.things("place")}
    assert radius == {"Pond": None, "Mill": None, "Bank": 250.0}


def test_a_grid_is_laid_on_the_datum_of_its_own_column(book: Book, tmp_path: Path) -> None:
    """NAD27 in another column than the UTM text: the same as in one text."""
    from keepfast.science import place

    text = "field number,locality,utm,datum\nA1,Pond,17T 630000 4833400,NAD27\n"
    apply(look(book, [notes(tmp_path, text)], Wishes(source="GPS")))
    expected = place.georeference(place.parse("17T 630000 4833400 NAD27"))
    (found,) = book.things("place")
    assert (found["latitude"], found["longitude"]) == pytest.approx((expected.latitude, expected.longitude), abs=1e-9)
    assert found["verbatim_datum"] == "NAD27"


def test_the_demo_list_is_read_in_as_it_is(book: Book) -> None:
    """Eighteen animals, and they come out of the book as they went in."""
    from keepfast.exchange.lists import read_list

    apply(look(book, [FOLDER / "survey.csv"], Wishes(zone="Europe/Madrid")))
    expected = {a.field_number: a for a in read_list(FOLDER / "survey.csv", zone="Europe/Madrid").animals}
    found = {a.field_number: a for a in book.animals()}
    assert found.keys() == expected.keys()
    for number, animal in expected.items():
        for name in (
            "form",
            "taxon",
            "sex",
            "length_mm",
            "length_kind",
            "tail_mm",
            "mass_g",
            "died_at",
            "count",
            "group",
        ):
            assert getattr(found[number], name) == getattr(animal, name), (number, name)


def test_a_list_that_was_planned_from_says_nothing_new(book: Book) -> None:
    """A plan with --into has written the animals; the list it was made from, read in, changes none of them."""
    from keepfast.desk.evening import observed_entries
    from keepfast.exchange.lists import read_list

    entries = []
    for animal in read_list(FOLDER / "survey.csv", zone="Europe/Madrid").animals:
        entries += observed_entries(book, animal, new_id())
    book.append(entries)
    ids = [entry.id for entry in entries if entry.kind == "animal"]
    book.write("evening", {"name": "first", "animals": ids, "camp": {"time_zone": "Europe/Madrid"}})

    draft = look(book, [FOLDER / "survey.csv"])

    assert ({}, [], 18, []) == (draft.counts(), draft.changed, draft.same, draft.entries)
    assert "Europe/Madrid" == draft.files[0]["zone"]


@pytest.mark.parametrize(
    ("had", "name", "new"),
    [
        ({"taxon": "Hyla molleri"}, "Hyla molleri", False),
        ({"taxon": "Hyla molleri", "rank": "species"}, "Hyla arborea", True),
        ({"taxon": "Hyla molleri", "qualifier": "cf. molleri"}, "Hyla cf. molleri", False),
        ({"taxon": "Hyla molleri", "qualifier": "cf. molleri"}, "Hyla molleri", True),
        ({"taxon": "Hyla molleri"}, "Hyla cf. molleri", True),
    ],
)
def test_a_name_is_another_one_when_its_words_or_its_doubt_are(
    book: Book, tmp_path: Path, had: dict[str, str], name: str, new: bool
) -> None:
    frog = book.write("animal", {"field_number": "AB 1", "form": "frog"}).id
    book.write("determination", {"animal": frog, **had})

    draft = look(book, [notes(tmp_path, f"field number,species\nAB 1,{name}\n")])

    assert new == bool(draft.changed)
    assert all(line.was != line.now for line in draft.changed)


def test_a_number_that_does_not_fit_its_check_character_is_doubted(book: Book, tmp_path: Path) -> None:
    from keepfast.book.numbers import series

    printed = [number.printed for number in series("AB 1-6").numbers()]
    printed[3] = printed[3].replace("4", "7")
    text = "field number,species\n" + "".join(f"{number},Hyla molleri\n" for number in printed)

    draft = look(book, [notes(tmp_path, text)])

    assert [printed[3]] == [f.subject for f in draft.findings if "check character" in f.what]
    assert not draft.refused


def test_waypoints_become_places_and_meet_animals_by_name_and_time(book: Book, tmp_path: Path) -> None:
    """B-01 by its name; C-1, found at 08:40 UTC with no place, by the track at that minute."""
    apply(look(book, [FOLDER / "survey.csv"], Wishes(zone="Europe/Madrid")))
    text = "field number,date,time\nC-1,2026-04-18,10:40\nC-2,2026-04-18,23:00\n"
    apply(look(book, [notes(tmp_path, text)], Wishes(zone="Europe/Madrid")))
    draft = look(book, [FOLDER / "walk.gpx"])
    told = {line.subject: line.now for line in draft.changed}
    assert set(told) == {"B-01", "B-02", "C-1"}
    assert "track" in told["C-1"]
    apply(draft)
    (animal,) = book.by_label("animal", "B-01")
    event = book.state("event", animal["event"])
    assert event is not None
    assert event["when"] == "2026-04-18T08:41+00:00"
    place = book.state("place", event["place"])
    assert place is not None
    assert (place["latitude"], place["uncertainty_m"]) == (37.9312, 30.0)
    again = look(book, [FOLDER / "walk.gpx"])
    assert (again.counts(), again.changed, again.entries) == ({}, [], [])


def test_notes_and_their_waypoints_in_one_go(book: Book, tmp_path: Path) -> None:
    """What is read first is known to what is read after it."""
    text = "field number,date,time\nC-1,2026-04-18,10:40\n"
    draft = look(book, [notes(tmp_path, text), FOLDER / "walk.gpx"], Wishes(zone="Europe/Madrid"))
    assert draft.changed == []
    apply(draft)
    (animal,) = book.by_label("animal", "C-1")
    event = book.state("event", animal["event"])
    assert event is not None
    assert book.state("place", event["place"]) is not None


def test_a_logger_hangs_from_its_trip_once(book: Book) -> None:
    """Without a trip it is refused; twice it is the same."""
    assert look(book, [FOLDER / "logger.csv"]).refused
    wishes = Wishes(trip="Spring", where="tray")
    apply(look(book, [FOLDER / "logger.csv"], wishes))
    (trip,) = book.things("trip")
    (logged,) = trip["logged"]
    assert (logged["file"], logged["where"]) == ("logger.csv", "tray")
    assert look(book, [FOLDER / "logger.csv"], wishes).entries == []


def test_the_reading_itself_is_in_the_book(book: Book, tmp_path: Path) -> None:
    """File, hash, rows, and which column meant what."""
    apply(look(book, [notes(tmp_path)], WISHES))
    (said,) = [w.entry.content for w in book.read_since(0) if w.entry.kind == "reading_in"]
    assert (said["file"], said["rows"], said["sort"]) == ("notes.csv", 4, "notes")
    assert said["columns"]["columns"]["SVL (mm)"] == "measurement.snout_vent_mm, mm"
    assert said["columns"]["zone"] == "Europe/Madrid"


def test_what_is_said_as_json_has_new_changed_and_refused(book: Book, tmp_path: Path) -> None:
    """The words that a program reads."""
    import json

    said = as_dict(look(book, [notes(tmp_path)], WISHES), None)
    assert json.loads(json.dumps(said, allow_nan=False))["new"]["animal"] == 4
    assert {"changed", "refused", "unchanged", "applied", "entries_written"} <= set(said)


@pytest.mark.parametrize(
    ("wishes", "reason"),
    [
        (Wishes(zone="Mars/Olympus"), "time zone"),
        (Wishes(source="my uncle"), "receiver"),
        (Wishes(source="map 1:3"), "receiver"),
        (Wishes(language="xx"), "language"),
        (Wishes(columns=Path("no-such-file.toml")), "no such file"),
    ],
)
def test_a_wish_that_cannot_be_met_is_a_sentence(book: Book, tmp_path: Path, wishes: Wishes, reason: str) -> None:
    """Before anything is drafted."""
    with pytest.raises(FindingsError, match=reason):
        look(book, [notes(tmp_path)], wishes)


def test_progress_is_told(book: Book, tmp_path: Path) -> None:
    """From nothing to all."""
    told: list[tuple[int, int]] = []
    look(book, [notes(tmp_path)], WISHES, progress=lambda _name, done, total: told.append((done, total)))
    assert told[0][0] == 0
    assert told[-1][0] == told[-1][1] > 0


def test_columns_can_be_looked_at_alone(tmp_path: Path) -> None:
    """Without a book."""
    statement, rows = columns_of(notes(tmp_path))
    assert rows.name == "notes.csv"
    assert statement.meant("animal.field_number") is not None


def test_a_book_written_in_meanwhile_is_looked_at_again(book: Book, tmp_path: Path) -> None:
    """Else the same animal could come in twice from two devices."""
    draft = look(book, [notes(tmp_path)], WISHES)
    book.write("animal", {"field_number": "AB 1", "form": "frog"})
    with pytest.raises(FindingsError, match="once more"):
        apply(draft)
    assert book.last_sequence() == 1
    again = look(book, [notes(tmp_path)], WISHES)
    assert ("animal", "AB 1") not in {(line.kind, line.subject) for line in again.new}
    apply(again)
    assert len(book.by_label("animal", "AB 1")) == 1


KILLED = """
import sys
from keepfast.desk.books import open_book
from keepfast.desk.reading_in import Wishes, apply, look
with open_book(sys.argv[1], who="Ana", device="test") as book:
    draft = look(book, [sys.argv[2]], Wishes())
    print(len(draft.entries), flush=True)
    apply(draft)
"""


@pytest.mark.parametrize("after_s", [0.0, 0.05, 0.2])
def test_a_killed_reading_in_leaves_all_or_nothing(tmp_path: Path, after_s: float) -> None:
    """kill -9 at several moments of the writing: the book is sound and has none of it, or all."""
    import subprocess
    import sys
    import time

    new_book(tmp_path / "k.keepfast", name="k")
    lines = "".join(f"KB {n},Hyla molleri,{30 + n % 50}\n" for n in range(2000))
    path = notes(tmp_path, "field number,species,SVL\n" + lines)
    process = subprocess.Popen(
        [sys.executable, "-c", KILLED, str(tmp_path / "k.keepfast"), str(path)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    expected = int(process.stdout.readline())
    time.sleep(after_s)
    process.kill()
    process.wait()
    process.stdout.close()
    with open_book(tmp_path / "k.keepfast", who="Ana", device="test") as book:
        assert book.last_sequence() in (0, expected)
        assert len(book.things("animal")) in (0, 2000)
        apply(look(book, [path], Wishes()))
        assert len(book.things("animal")) == 2000


def test_a_broken_write_leaves_the_book_as_it_was(book: Book, tmp_path: Path) -> None:
    """An entry that no book takes, slipped in at the end of a good draft."""
    from keepfast.book.entries import Entry

    draft = look(book, [notes(tmp_path)], WISHES)
    draft.entries.append(Entry("animal", {"no such field": 1}, "Ana", "test", datetime.datetime.now(datetime.UTC)))
    with pytest.raises(FindingsError):
        apply(draft)
    assert book.last_sequence() == 0
    assert book.things("animal") == ()
