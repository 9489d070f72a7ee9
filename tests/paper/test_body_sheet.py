"""The picture of one body says whose it is and which part is most at risk."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest

from keepfast.book.animals import Animal
from keepfast.paper import body_sheet
from keepfast.plan.camp import Camp
from keepfast.plan.chapters import with_race
from keepfast.plan.evening import Rules, plan_evening

START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=datetime.UTC)
ANIMALS = (
    Animal("IB-07", "snake", length_mm=1300.0, mass_g=550.0, gut="full", died_at=START - datetime.timedelta(hours=4)),
    Animal("IB-08", "frog", length_mm=26.0),
    Animal("IB-09", "snake", length_mm=480.0, mass_g=95.0, condition="decaying"),
    Animal("MUSEUM-EXPEDITION-2026-SPRING-0001234567", "lizard", length_mm=60.0),
    Animal("IB-10", "egg_clutch", length_mm=4.0, count=320),
)


def test_every_picture_names_its_animal_and_what_becomes_of_it() -> None:
    """The number is the largest thing on it; a body that is not for fluid says so; the part at risk is named."""
    rules = Rules.load()
    plan = plan_evening(ANIMALS, Camp(), rules, start=START, size=50)
    plan = with_race(plan, Camp(), rules.evening, 1)
    told = {}
    for one in plan.animals:
        page = body_sheet.draw(one)
        words = [item for item in page.items if hasattr(item, "size_pt")]
        largest = max(words, key=lambda item: item.size_pt)
        assert largest.words == one.animal.field_number
        told[one.animal.field_number] = " ".join(page.words())
        assert page.height_mm < 300
    assert "Hatched: " in told["IB-07"]
    assert "not weighed" in told["IB-08"]
    assert "No filling" in told["IB-08"]
    assert "Not into fluid" in told["IB-09"]


@pytest.mark.parametrize("length_mm", [600.0, 2400.0])
def test_a_long_body_is_drawn_whole(length_mm: float) -> None:
    """Whatever its length: the rule runs to the tip of the tail, and the drawing says that it is cut into rows."""
    snake = Animal("A-1", "snake", length_mm=length_mm, diameter_mm=30.0)
    (one,) = plan_evening([snake], Camp(), Rules.load(), start=START, size=20).animals
    words = list(body_sheet.draw(one).words())
    tip_mm = one.body.length_mm + one.body.tail_mm
    assert tip_mm - 200 < max(int(word) for word in words if word.isdigit()) <= tip_mm + 200
    assert "Cut into" in " ".join(words)


def test_a_number_that_cannot_be_written_stops_no_plan(evening) -> None:
    """A number in other letters, or a very long one: the file is named for it, and the picture drawn all the same."""
    one = evening.of("B-05")
    for number in ("Ж-4", "W" * 400):
        other = replace(one, animal=replace(one.animal, field_number=number))
        words = list(body_sheet.draw(other).words())
        assert number not in words
        assert any("mL" in w for w in words)
