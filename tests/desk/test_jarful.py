"""A jarful out of a book, and its decision back into it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from keepfast.book.animals import Animal
from keepfast.book.entries import new_id
from keepfast.desk.books import Book, new_book, open_book
from keepfast.desk.evening import observed_entries
from keepfast.desk.jarful import decide, read_jarful
from keepfast.findings import FindingsError
from keepfast.plan.steps import plan_steps
from keepfast.rules import fluids

RULES = fluids.load()
ANIMALS = (
    Animal("B-12", "frog", mass_g=40.0, length_mm=70.0, diameter_mm=25.0),
    Animal("B-13", "lizard", length_mm=80.0),
    Animal("B-14", "snake", mass_g=60.0),
    Animal("B-15", "frog"),
    Animal("T-1", "larva", mass_g=1.0, length_mm=30.0, diameter_mm=6.0),
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    path = tmp_path / "river.keepfast"
    new_book(path, "River")
    with open_book(path, who="Ana", device="camp laptop") as opened:
        ids = {}
        for animal in ANIMALS:
            ids[animal.field_number] = new_id()
            opened.append(observed_entries(opened, animal, ids[animal.field_number]))
        jar = opened.write("jar", {"number": "J-3", "volume_ml": 500.0}).id
        opened.write("moved", {"animals": [ids["B-12"], ids["B-13"]], "jar": jar})
        opened.write("jar", {"number": "J-4"})
        yield opened


def test_animals_by_number_with_what_was_measured_and_what_was_not(book: Book) -> None:
    read = read_jarful(book, numbers=["B-12", "B-13", "B-14"])
    frog, lizard, snake = sorted(read.jarful.bodies, key=lambda b: b.name)
    assert (frog.mass_g, frog.diameter_mm, frog.diameter_known) == (40.0, 25.0, "measured")
    assert lizard.diameter_known != "measured"
    assert 3 < lizard.mass_g < 20  # Meiri 2010: 7.9 g at 80 mm
    assert snake.mass_g == 60.0
    assert any("B-13: mass was not weighed" in doubt for doubt in read.doubts)


def test_what_was_filled_in_counts_as_body_liquid(book: Book) -> None:
    """What stayed counts before what went in; pricks count for nothing."""
    (frog,) = book.by_label("animal", "B-12")
    for content in (
        {"step": "fill", "delivered_ml": 2.0, "retained_ml": 1.5},
        {"step": "fill", "delivered_ml": 1.0},
        {"step": "prick"},
    ):
        book.write("preparation_done", {"animal": frog["id"], **content})
    (body,) = read_jarful(book, numbers=["B-12"]).jarful.bodies
    assert body.injected_ml == pytest.approx(2.5)


def test_all_that_lie_in_a_jar(book: Book) -> None:
    read = read_jarful(book, jar="J-3")
    assert set(read.numbers) == {"B-12", "B-13"}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, "say which animals"),
        ({"numbers": ["B-12"], "jar": "J-3"}, "say which animals"),
        ({"numbers": ["B-99"]}, "no animal of this number"),
        ({"jar": "J-9"}, "no jar of this name"),
        ({"tray": "9"}, "no tray of this name"),
        ({"jar": "J-4"}, "nothing lies in it"),
        ({"numbers": ["B-15"]}, "neither length nor mass"),
    ],
)
def test_what_the_book_cannot_tell_is_said(book: Book, asked: dict[str, object], words: str) -> None:
    with pytest.raises(FindingsError, match=words):
        read_jarful(book, **asked)  # type: ignore[arg-type]


def test_a_decision_is_written_with_its_plan_and_what_it_was_made_from(book: Book) -> None:
    read = read_jarful(book, jar="J-3")
    plan = plan_steps(read.jarful, RULES)
    before = book.last_sequence()
    entry = decide(book, read, plan, reason="thin skins")
    written = book.read_since(before)
    assert [w.entry.id for w in written] == [entry]
    content = written[0].entry.content
    assert content["reckoning"] == "steps"
    assert "gentlest" in content["choice"]
    assert content["reason"] == "thin skins"
    assert content["result"]["chosen"] == plan.chosen
    assert {i["name"] for i in content["origin"]["inputs"]} == {"river.keepfast", "field"}
    for number in ("B-12", "B-13"):
        (animal,) = book.by_label("animal", number)
        assert animal["decisions"]


def test_a_larva_s_decision_is_that_it_stays(book: Book) -> None:
    read = read_jarful(book, numbers=["T-1"])
    plan = plan_steps(read.jarful, RULES, stage="fixing")
    before = book.last_sequence()
    decide(book, read, plan)
    assert book.read_since(before)[0].entry.content["choice"] == "stays in formalin"
