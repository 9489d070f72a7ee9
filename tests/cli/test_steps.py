"""``steps`` as a new user types it, on good input and on slips."""

from __future__ import annotations

import contextlib
import datetime
import io
import json
import sys
from pathlib import Path
from typing import NamedTuple

import pytest
from icalendar import Calendar

from keepfast.book.animals import Animal
from keepfast.book.entries import new_id
from keepfast.cli import main
from keepfast.desk.books import open_book
from keepfast.desk.evening import observed_entries


class Done(NamedTuple):
    """What a command left behind."""

    returncode: int
    stdout: str
    stderr: str


def keepfast(*arguments: object) -> Done:
    """Run the command line in this process, as the launcher would."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    before = sys.argv
    sys.argv = ["keepfast", *map(str, arguments)]
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as end:
        code = int(end.code or 0)
    finally:
        sys.argv = before
    return Done(code, out.getvalue(), err.getvalue())


FROG = ("steps", "--form", "frog", "--mass", "40g", "--diameter", "25mm")


def test_a_frog_from_bath_to_jar() -> None:
    done = keepfast(*FROG, "--temperature", 26)
    assert done.returncode == 0, done.stderr
    for words in ("FIXING BATH", "HOW LONG, BY SOURCE", "JAR", "OTHER WAYS", "WHAT OTHERS DO", "DOUBTS"):
        assert words in done.stdout


def test_json_carries_every_series_and_the_calendar() -> None:
    done = keepfast(*FROG, "--start", "2026-04-18T18:00+02:00", "--json")
    answer = json.loads(done.stdout)
    assert {s["key"] for s in answer["series"]} == {"least_alcohol", "fewest_changes", "gentlest"}
    assert answer["calendar"][0]["at"] == "2026-04-18T18:00:00+02:00"
    assert answer["origin"]["inputs"][0]["sha256"]


def test_each_part_of_the_way_brings_its_own_cautions() -> None:
    """Formalin's at the bath, rinse water and flames at the steps; none about alcohol for what stays in formalin."""
    done = keepfast(*FROG)
    assert done.stdout.index("DOUBTS") < done.stdout.index("TAKE CARE") < done.stdout.index("rinse in the open")
    assert "Alcohol: no flame" in done.stdout
    keys = {c["key"] for c in json.loads(keepfast(*FROG, "--json").stdout)["cautions"]}
    assert {"smell_is_no_alarm", "waste", "rinse_water", "decanting_alcohol", "alcohol_and_flames"} <= keys
    later = {c["key"] for c in json.loads(keepfast(*FROG, "--from", "alcohol", "--json").stdout)["cautions"]}
    assert "smell_is_no_alarm" not in later
    assert "alcohol_and_flames" in later
    stays = json.loads(keepfast("steps", "--body", "T-1:larva:2g:8mm", "--stay", "--json").stdout)["cautions"]
    assert "smell_is_no_alarm" in {c["key"] for c in stays}
    assert "alcohol_and_flames" not in {c["key"] for c in stays}


def test_a_jarful_of_several() -> None:
    done = keepfast("steps", "--body", "B-12:frog:40g:25mm", "--body", "B-13:lizard:12g:14mm", "--json")
    answer = json.loads(done.stdout)
    assert [b["name"] for b in answer["jarful"]["bodies"]] == ["B-12", "B-13"]
    assert answer["chosen"] == "gentlest"


def test_a_calendar_file_is_written_whole(tmp_path: Path) -> None:
    path = tmp_path / "b12.ics"
    done = keepfast(*FROG, "--start", "2026-04-18T18:00+02:00", "--calendar", path)
    assert done.returncode == 0, done.stderr
    events = list(Calendar.from_ical(path.read_bytes()).walk("VEVENT"))
    assert events[0].decoded("DTSTART") == datetime.datetime(2026, 4, 18, 16, 0, tzinfo=datetime.UTC)
    assert len(events) == done.stdout.split("\nWHEN\n")[1].split("\n\n")[0].count("\n") + 1


def test_a_series_of_one_s_own() -> None:
    done = keepfast(*FROG, "--strengths", "30,50,70", "--from", "alcohol", "--ratio", "5", "--json")
    own = json.loads(done.stdout)["series"][0]
    assert own["key"] == "own"
    assert [c["strength_vol"] for c in own["changes"]] == [30, 50, 70]


@pytest.mark.parametrize("form", ["larva", "egg_clutch"])
def test_larvae_and_eggs_stay_unless_told(form: str) -> None:
    body = ("steps", "--form", form, "--mass", "2g", "--diameter", "6mm")
    held = keepfast(*body)
    assert held.returncode == 2
    assert held.stdout == ""
    assert "stay in formalin" in held.stderr
    assert "--into-alcohol-anyway" in held.stderr
    stays = keepfast(*body, "--stay")
    assert stays.returncode == 0
    assert "STAYS IN FORMALIN" in stays.stdout
    assert "JAR" not in stays.stdout
    assert keepfast(*body, "--into-alcohol-anyway").returncode == 0


@pytest.mark.parametrize(("strengths", "way"), [("30,50,70", "below"), ("50,90", "above")])
def test_a_series_that_misses_the_target_says_so(strengths: str, way: str) -> None:
    said = " ".join(keepfast(*FROG, "--strengths", strengths).stdout.split())
    assert f"{way} the 70 % that is wanted" in said


def test_a_series_that_ends_at_the_target_says_nothing_of_it() -> None:
    assert "% that is wanted" not in " ".join(keepfast(*FROG).stdout.split())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("steps",), "say what lies in the jar"),
        (("steps", "--form", "fish", "--mass", "4g"), "no such body form"),
        (("steps", "--form", "frog"), "the mass is wanted"),
        (("steps", "--form", "frog", "--mass", "heavy"), "a number is wanted"),
        (("steps", "--body", "frog:40g"), "NAME:FORM:MASS:THICKNESS"),
        ((*FROG, "--stock", "0.96"), "fraction: write 96"),
        ((*FROG, "--stock", "60"), "weaker"),
        ((*FROG, "--target", "97"), "weaker"),
        ((*FROG, "--strengths", "30,50,99"), "weaker"),
        ((*FROG, "--temperature", "79"), "°F: 26 °C"),
        ((*FROG, "--from", "soup"), "fixing, rinse or alcohol"),
        ((*FROG, "--prefer", "cheapest"), "least_alcohol, fewest_changes, gentlest"),
        ((*FROG, "--start", "tomorrow"), "date and time"),
        ((*FROG, "--start", "2026-04-18T18:00"), "offset"),
        ((*FROG, "--calendar", "x.ics"), "beginning"),
        ((*FROG, "--jar", "30mL"), "no room"),
        ((*FROG, "--jar", "500mL", "--ratio", "3"), "(read: '--ratio, --jar')"),
        ((*FROG, "--bath", "10", "--wrap"), "(read: '--bath, --wrap')"),
        (("steps", "--form", "larva", "--mass", "1g", "--stay", "--into-alcohol-anyway"), "not both"),
        ((*FROG, "--injected", "25mL"), "half its own mass"),
        (("steps", "--body", "B-12:frog:40g:25mm", "--mass", "40g"), "belongs to --form"),
        ((*FROG, "--stock", "70", "--ratio", "0.2"), "more fluid for the jar"),
    ],
)
def test_slips_are_refused(
    arguments: tuple[str, ...], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    done = keepfast(*arguments)
    assert done.returncode == 2, done.stdout
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert words in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_thickness_nobody_measured_is_estimated_and_said() -> None:
    for more in ((), ("--length", "110mm")):
        done = keepfast("steps", "--form", "lizard", "--mass", "40g", *more)
        assert done.returncode == 0, done.stderr
        assert "estimated" in done.stdout


def test_a_book_gives_the_bodies_and_takes_the_decision(tmp_path: Path) -> None:
    """The same plan as by hand; one entry more, none when only looked at."""
    path = tmp_path / "river.keepfast"
    assert keepfast("book", "new", path).returncode == 0
    new_book_entries(path)
    by_hand = json.loads(keepfast(*FROG, "--json").stdout)
    asked = ("steps", "--book", path, "--animal", "B-12", "--json")
    looked = keepfast(*asked, "--look-only")
    assert looked.returncode == 0, looked.stderr
    answer = json.loads(looked.stdout)
    assert answer["decision"] is None
    assert [s["changes"] for s in answer["series"]] == [s["changes"] for s in by_hand["series"]]
    before = entries_in(path)
    done = keepfast(*asked, "--reason", "as always", "--who", "Ana")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["decision"]
    assert entries_in(path) == before + 1


def test_a_book_is_asked_for_what_it_has(tmp_path: Path) -> None:
    path = tmp_path / "river.keepfast"
    keepfast("book", "new", path)
    new_book_entries(path)
    for arguments, words in (
        (("--book", path), "say which animals"),
        (("--book", path, "--animal", "B-99"), "no animal of this number"),
        (("--book", tmp_path / "none.keepfast", "--animal", "B-12"), "none.keepfast"),
        (("--book", path, "--animal", "B-12", "--form", "frog"), "come from the book"),
        (("--animal", "B-12"), "Name its file with --book"),
    ):
        done = keepfast("steps", *arguments)
        assert done.returncode == 2, done.stdout
        assert done.stdout == ""
        assert words in done.stderr


def new_book_entries(path: Path) -> None:
    """One frog in a book."""
    with open_book(path, who="Ana", device="camp laptop") as book:
        frog = Animal("B-12", "frog", mass_g=40.0, length_mm=70.0, diameter_mm=25.0)
        book.append(observed_entries(book, frog, new_id()))


def entries_in(path: Path) -> int:
    """How many entries the book holds."""
    with open_book(path, read_only=True) as book:
        return book.last_sequence()


def test_the_sheet_to_print_and_its_plain_words_are_written(tmp_path: Path) -> None:
    file = tmp_path / "jar.pdf"
    done = keepfast(*FROG, "--start", "2026-04-18T18:00+02:00", "--pdf", file, "--paper", "letter")
    assert done.returncode == 0, done.stderr
    assert file.read_bytes().startswith(b"%PDF-")
    words = file.with_suffix(".txt").read_text(encoding="utf-8")
    assert done.stdout.partition("TAKE CARE")[0].strip() in words
    for told in ("Alcohol: no flame", "done on ____", "Jar read on ____"):
        assert told in words
    first = file.read_bytes()
    keepfast(*FROG, "--start", "2026-04-18T18:00+02:00", "--pdf", file, "--paper", "letter")
    assert first == file.read_bytes()


def test_with_json_the_sheet_is_written_too_and_nothing_else_is_printed(tmp_path: Path) -> None:
    done = keepfast(*FROG, "--pdf", tmp_path / "jar.pdf", "--json")
    assert json.loads(done.stdout)["series"]
    assert {"jar.pdf", "jar.txt"} == {path.name for path in tmp_path.iterdir()}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--pdf", "jar.svg"), "must end in .pdf"),
        (("--pdf", "jar.pdf", "--paper", "a5"), "a4 or letter"),
    ],
)
def test_a_sheet_that_cannot_be_made_is_refused_and_nothing_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    done = keepfast(*FROG, *words)
    assert done.returncode == 2
    assert said in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_name_that_cannot_be_printed_stops_sheet_and_book(tmp_path: Path) -> None:
    done = keepfast("steps", "--body", "Ж-4:frog:40g:25mm", "--pdf", tmp_path / "jar.pdf")
    assert done.returncode == 2
    assert "no sign for Ж" in done.stderr
    assert not list(tmp_path.iterdir())


def test_staying_is_for_those_who_stay() -> None:
    done = keepfast("steps", "--form", "frog", "--mass", "40g", "--diameter", "25mm", "--stay")
    assert done.returncode == 2
    assert "for larvae and eggs" in done.stderr
    done = keepfast("steps", "--body", "a:frog:40g:25mm", "--body", "b:larva:1g:6mm", "--stay")
    assert done.returncode == 0, done.stderr
    assert "a would stay in formalin with them" in " ".join(done.stdout.split())


def test_a_body_without_a_name_is_asked_for_it() -> None:
    done = keepfast("steps", "--body", ":frog:40g")
    assert done.returncode == 2
    assert "a body needs its name" in done.stderr


def test_a_calendar_that_cannot_be_written_stops_before_the_book(tmp_path: Path) -> None:
    """What stands in a book cannot be taken back, so it is written last."""
    book = tmp_path / "river.keepfast"
    assert keepfast("book", "new", book).returncode == 0
    new_book_entries(book)
    blocked = tmp_path / "taken"
    blocked.write_text("a file where a folder would be needed")
    before = entries_in(book)
    start = ("--start", "2026-04-18T18:00+02:00", "--calendar", blocked / "b12.ics")
    done = keepfast("steps", "--book", book, "--animal", "B-12", *start)
    assert done.returncode == 2, done.stdout
    assert "Traceback" not in done.stderr
    assert entries_in(book) == before


def test_strengths_with_a_decimal_comma() -> None:
    done = keepfast(*FROG, "--strengths", "32,5; 50; 70", "--json")
    own = next(series for series in json.loads(done.stdout)["series"] if series["key"] == "own")
    assert [c["strength_vol"] for c in own["changes"] if c["kind"] != "rinse"] == [32.5, 50.0, 70.0]


@pytest.mark.parametrize("more", [("--carried", "1"), ("--ratio", "0.3"), ("--ratio", "1.2"), ("--ratio", "200")])
def test_whatever_is_carried_or_poured_every_series_ends_at_the_target(more: tuple[str, str]) -> None:
    """Half a point is what strengths are rounded to."""
    done = keepfast(*FROG, *more, "--json")
    assert done.returncode == 0, done.stderr
    for series in json.loads(done.stdout)["series"]:
        assert series["changes"][-1]["ends_vol"]["value"] == pytest.approx(70.0, abs=0.5)


def test_what_is_carried_can_be_too_much() -> None:
    done = keepfast(*FROG, "--carried", "5")
    assert done.returncode == 2
    assert "Let the bodies drain better" in done.stderr
