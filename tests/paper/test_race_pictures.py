"""Pictures of the race: every state in words, drawn to scale, nothing off the page."""

from __future__ import annotations

import datetime

import pytest

from keepfast.book.animals import Animal
from keepfast.paper import race_pictures, svg
from keepfast.paper.page import Ring
from keepfast.plan import race, race_scene
from keepfast.plan.camp import Camp
from keepfast.plan.evening import Rules, plan_evening

START = datetime.datetime(2026, 4, 18, 18, tzinfo=datetime.UTC)
CAMP = Camp(temperature_c=26.0)


@pytest.fixture(scope="module")
def judged():
    animals = (
        Animal("L-1", "lizard", length_mm=45, mass_g=2.0),
        Animal("L-2", "lizard", length_mm=260, mass_g=520, gut="full"),
        Animal("F-1", "frog", length_mm=36, mass_g=3.9),
        Animal("E-1", "egg_clutch", length_mm=4.0, length_kind="egg_diameter", count=200),
    )
    plan = plan_evening(animals, CAMP, Rules.load(), start=START, size=50)
    found = race.judge(plan.animals, camp=CAMP, start=START, trays=plan.table.trays, draws=40)
    plans = [plan.of(v.field_number) for v in found]
    return found, race_scene.scenes(plans, found, camp=CAMP, start=START, trays=plan.table.trays)


def test_margins_name_every_region_and_its_word(judged):
    for verdict in judged[0]:
        words = set(race_pictures.margins(verdict.as_dict()).words())
        assert {r.name for r in verdict.regions} <= words
        assert {r.says for r in verdict.regions} <= words
        assert verdict.field_number in words


def test_margins_can_be_drawn_when_all_is_lost(judged):
    lost = judged[0][0].as_dict()
    for region in lost["regions"]:
        region["margin_h"] = {"median": None, "low": None, "high": None, "beyond": 1.0}

    assert svg.render(race_pictures.margins(lost)).count("<svg") == 1


def test_a_section_is_drawn_to_one_scale_with_a_rule(judged):
    for scene in judged[1]:
        page = race_pictures.section(scene)
        rings = sorted({round(i.radius_mm, 6) for i in page.items if isinstance(i, Ring)})
        scale = rings[-1] / scene.radius_mm[-1]

        # Rings of the layers stand at the same scale as the outline.
        assert any(r == pytest.approx(scene.edges_mm["core"] * scale, rel=1e-4) for r in rings)
        assert any("mm" in w for w in page.words())
        assert {"free", "bound", "a tenth", "one half", "nine tenths"} <= set(page.words())


def test_fronts_are_told_apart_by_words(judged):
    for scene in judged[1]:
        words = " ".join(race_pictures.fronts(scene).words())
        assert all(
            w in words
            for w in (
                "Free, a tenth of bath strength",
                "Bound, one half",
                "Bound, nine tenths",
                "5 to 95 %",
                "practice",
            )
        )


def test_every_picture_is_one_drawing(judged):
    for verdict, scene in zip(*judged, strict=True):
        for text in (
            race_pictures.margins_svg(verdict.as_dict()),
            race_pictures.section_svg(scene),
            race_pictures.fronts_svg(scene),
        ):
            assert text.count("<svg") == 1


def test_the_weakest_region_fits_into_a_line(judged):
    found = judged[0][1]

    assert found.weakest.says in race_pictures.weakest_words(found.as_dict())


def test_a_number_that_cannot_be_written_stops_no_picture(judged):
    """The file's name says it; a plan is made for the animal all the same."""
    race = {**judged[0][0].as_dict(), "field_number": "Ж-4"}
    words = list(race_pictures.margins(race).words())
    assert "Ж-4" not in words
    assert any("hours in hand" in w for w in words)
