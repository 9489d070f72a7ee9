"""Photographs into a book: whose they are, when they were taken by a clock that is right, and what is left open."""

from __future__ import annotations

import datetime
import importlib.util
from pathlib import Path

import pytest

from keepfast.desk.books import Book, new_book, open_book
from keepfast.desk.reading_in import Wishes, apply, look
from keepfast.findings import FindingsError

_spec = importlib.util.spec_from_file_location(
    "pictures", Path(__file__).parent.parent / "exchange" / "pictures.py"
)  # fmt: skip
assert _spec is not None
assert _spec.loader is not None
pictures = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(pictures)

MADRID = Wishes(zone="Europe/Madrid")


@pytest.fixture
def book(tmp_path: Path):  # type: ignore[no-untyped-def]
    """A book with two animals, B-7 filled at 20:15 and B-8 laid out at 21:00."""
    new_book(tmp_path / "b.keepfast", name="b")
    with open_book(tmp_path / "b.keepfast", who="Ana", device="test") as opened:
        for number, step, at in (("B-7", "fill", "20:15:00"), ("B-8", "pose", "21:00:00")):
            animal = opened.write("animal", {"field_number": number, "form": "frog"}).id
            done = {"animal": animal, "step": step, "at": f"2026-04-18T{at}+02:00"}
            opened.write("preparation_done", done)
        yield opened


def taken(tmp_path: Path, **files: str) -> list[Path]:
    """Pictures of these names (without their ending), each with the time its camera wrote."""
    made = []
    for number, (name, time) in enumerate(files.items()):
        path = tmp_path / f"{name.replace('_', ' ')}.jpg"
        path.write_bytes(pictures.picture(time=f"2026:04:18 {time}", colour=("red", "green", "blue", "black")[number]))
        made.append(path)
    return made


def test_a_photograph_belongs_to_the_animal_whose_number_is_its_name_once(book: Book, tmp_path: Path) -> None:
    paths = taken(tmp_path, b007_dorsal="12:00:00", IMG_0008="12:01:00")
    apply(look(book, paths, MADRID))

    (seven,) = book.by_label("animal", "B-7")
    (eight,) = book.by_label("animal", "B-8")
    assert ["b007 dorsal.jpg"] == [photo["file"] for photo in seven["photographs"]]
    assert "2026-04-18T12:00:00+02:00" == seven["photographs"][0]["taken_at"]
    assert "photographs" not in eight  # a camera's own running number is no animal's
    again = look(book, paths, MADRID)
    assert ({}, 2, []) == (again.counts(), again.same, again.entries)


@pytest.mark.parametrize(
    ("time", "said"),
    [
        ("20:16:30", "B-7 was at the table then (fill, 2 min apart)"),
        ("20:58:00", "B-8 was at the table then (pose, 2 min apart)"),
        ("20:40:00", ""),
    ],
)
def test_a_photograph_without_a_number_is_told_who_was_at_the_table(
    book: Book, tmp_path: Path, time: str, said: str
) -> None:
    draft = look(book, taken(tmp_path, IMG_1234=time), MADRID)

    (note,) = [f.what for f in draft.findings if "in this file's name" in f.what]
    assert said == note.partition("; ")[2]
    # It is only said: what a picture shows is for people to see.
    assert "animal" not in next(e for e in draft.entries if e.kind == "photograph").content


def test_where_two_were_at_the_table_none_is_named(book: Book, tmp_path: Path) -> None:
    nine = book.write("animal", {"field_number": "B-9", "form": "frog"}).id
    book.write("preparation_done", {"animal": nine, "step": "tag", "at": "2026-04-18T20:17:00+02:00"})

    draft = look(book, taken(tmp_path, IMG_1234="20:16:00"), MADRID)

    assert not any("at the table" in f.what for f in draft.findings)


def test_one_photographed_clock_puts_its_camera_right(book: Book, tmp_path: Path) -> None:
    paths = taken(tmp_path, clock="07:00:00", IMG_1="07:16:00")
    other = tmp_path / "b8.jpg"
    other.write_bytes(pictures.picture(time="2026:04:18 21:00:00", camera="Camera Z9"))
    shown = datetime.datetime(2026, 4, 18, 20, 0, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))
    wishes = Wishes(zone="Europe/Madrid", clock_photo=str(paths[0]), clock_showed=shown)

    draft = look(book, [*paths, other], wishes)

    taken_at = {e.content["file"]: e.content.get("taken_at") for e in draft.entries if e.kind == "photograph"}
    assert "2026-04-18T20:16:00+02:00" == taken_at["IMG 1.jpg"]
    assert "2026-04-18T21:00:00+02:00" == taken_at["b8.jpg"]
    assert ["b8.jpg"] == [f.file for f in draft.findings if "another camera" in f.what]
    assert any("B-7 was at the table then" in f.what for f in draft.findings)


def test_a_clock_needs_both_its_photograph_and_what_it_shows(book: Book, tmp_path: Path) -> None:
    (path,) = taken(tmp_path, clock="07:00:00")
    with pytest.raises(FindingsError, match="both"):
        look(book, [path], Wishes(clock_photo=str(path)))


def test_a_folder_of_photographs_is_read_and_one_that_is_no_picture_writes_nothing(book: Book, tmp_path: Path) -> None:
    folder = tmp_path / "DCIM"
    folder.mkdir()
    (folder / "b7.jpg").write_bytes(pictures.picture(gps=pictures.GPS))
    (folder / "notes.txt").write_text("not looked at")
    draft = look(book, [folder], MADRID)
    content = next(e for e in draft.entries if e.kind == "photograph").content
    # 37 55 48.36 N, 6 52 48 W, by arithmetic.
    assert content["latitude"] == pytest.approx(37 + 55 / 60 + 48.36 / 3600, abs=1e-9)
    assert content["longitude"] == pytest.approx(-(6 + 52 / 60 + 48 / 3600), abs=1e-9)

    before = book.last_sequence()
    (folder / "b8.jpg").write_bytes(b"\xff\xd8\xff\xe0 torn")
    with pytest.raises(FindingsError, match=r"b8\.jpg"):
        look(book, [folder], MADRID)
    assert before == book.last_sequence()
