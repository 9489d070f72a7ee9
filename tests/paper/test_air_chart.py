"""The chart of the air: every limit and every course named in words, nothing off the page."""

from __future__ import annotations

import datetime

import pytest

from keepfast.paper import air_chart, svg
from keepfast.plan.air import decanting_air, table_air
from keepfast.plan.air_spill import spill_air

DAY = datetime.date(2026, 4, 18)
START = datetime.datetime(2026, 4, 18, 18, tzinfo=datetime.UTC)


def table(**changes):
    given = {"percent_w_v": 3.9, "temperature_c": 25.0, "shelter": "open", "on": DAY, "draws": 60, **changes}
    return table_air({"prick": 20, "fill": 45, "pose": 40, "cover": 10}, [0.125, 0.125], **given)


SCENES = {
    "open": table(),
    "closed tent": table(shelter="tent_closed", jurisdiction="us_osha"),
    "cold and lidded": table(temperature_c=2.0, lids=True, air_speed_m_s=3.0),
    "alcohol": decanting_air(30, 0.02, strength_vol=70, temperature_c=28, on=DAY, draws=60),
    "spill": spill_air(250, strength=3.9, temperature_c=25, shelter="room", taken_up_min=10, on=DAY, draws=60),
    "silent": table_air({"prick": 20.0, "clean": 0.0}, [0.1], percent_w_v=3.9, temperature_c=20, on=DAY, draws=20),
}


@pytest.mark.parametrize("scene", SCENES)
@pytest.mark.parametrize("start", [None, START])
def test_every_scene_is_drawn_whole(scene, start):
    page = air_chart.draw(SCENES[scene].as_dict(), start=start)
    words = " ".join(page.words())
    assert "15 min limit" in words
    if scene != "silent":
        assert "at the face" in words
    assert svg.render(page).count("<svg") == 1


def test_rounds_and_clock_stand_on_it():
    words = list(air_chart.draw(SCENES["open"].as_dict(), start=START).words())
    assert {"filling", "posing", "covering", "cleaning", "18:00"} <= set(words)


def test_each_limit_is_named_once():
    words = list(air_chart.draw(SCENES["closed tent"].as_dict()).words())
    limits = [word for word in words if word.startswith("15 min limit")]
    assert 3 == len(limits) == len(set(limits))


def test_too_small_a_place_is_refused():
    with pytest.raises(ValueError, match="at least 15 x 10"):
        air_chart.draw(SCENES["open"].as_dict(), width_mm=60, height_mm=20)
