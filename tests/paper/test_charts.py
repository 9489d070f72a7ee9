"""Small charts: everything named in words, true to the values, and calm where values are missing."""

import datetime
import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from keepfast.paper import charts, pdf
from keepfast.paper.page import Path
from keepfast.paper.type import PaperError

HOURS = np.linspace(0, 6, 61)


def chart(**more):
    return charts.draw(
        x_label="hours",
        y_label="ppm",
        lines=[charts.Line(HOURS, np.sin(HOURS) + 2, "likely")],
        bands=[charts.Band(HOURS, np.sin(HOURS) + 1, np.sin(HOURS) + 3, "5 to 95 %")],
        thresholds=[charts.Threshold(1.5, "limit 1.5")],
        moments=[charts.Moment(2.0, "tray covered")],
        title="Air at the table",
        **more,
    )


def test_everything_is_named_in_words(seen, same_letters) -> None:
    page = chart()
    wanted = ["likely", "5 to 95 %", "limit 1.5", "tray covered", "hours", "ppm", "Air at the table"]
    assert set(wanted) <= set(page.words())
    read = same_letters(seen(pdf.render([page])).words(0))
    assert all(same_letters(word) in read for word in wanted)


def test_a_straight_line_is_drawn_through_its_values() -> None:
    """With both axes given, a line from corner to corner ends in the corners of the frame."""
    page = charts.draw(
        x_label="x",
        y_label="y",
        lines=[charts.Line([0, 10], [0, 5], "a")],
        x_range=(0, 10),
        y_range=(0, 5),
        hours=False,
    )
    frame = next(item for item in page.items if isinstance(item, Path) and len(item.points) == 3)
    (left, top), (_left, bottom), (right, _bottom) = frame.points
    line = next(item for item in page.items if isinstance(item, Path) and item.width_mm == 0.9)
    assert pytest.approx([left, bottom, right, top]) == [v for point in line.points for v in point]


def test_what_is_missing_leaves_a_gap() -> None:
    values = np.where((HOURS > 2) & (HOURS < 3), math.nan, 1 + HOURS)
    page = charts.draw(x_label="h", y_label="y", lines=[charts.Line(HOURS, values, "a")])
    assert 2 == sum(isinstance(item, Path) and item.width_mm == 0.9 for item in page.items)


def test_the_clock_is_shown_at_round_times() -> None:
    start = datetime.datetime(2026, 4, 18, 18, 20, tzinfo=datetime.UTC)
    words = list(chart(start=start).words())
    assert "19:00" in words
    assert "00:00" in words
    assert not any(word.endswith(":20") for word in words)


def test_lines_are_told_apart_without_colour() -> None:
    page = charts.draw(x_label="h", y_label="y", lines=[charts.Line(HOURS, HOURS + i, f"line {i}") for i in range(4)])
    dashes = [item.dash for item in page.items if isinstance(item, Path) and len(item.points) == 61]
    assert 4 == len(set(dashes))


def test_a_logarithmic_axis_needs_values_above_zero() -> None:
    with pytest.raises(ValueError, match="above 0"):
        charts.draw(x_label="h", y_label="y", lines=[charts.Line([0, 1], [0, 0], "a")], log_y=True)
    page = charts.draw(x_label="h", y_label="y", lines=[charts.Line([0, 1], [0.02, 40], "a")], log_y=True)
    assert {"0.01", "0.1", "1", "10", "100"} <= set(page.words())


def test_nothing_to_draw_is_an_error() -> None:
    with pytest.raises(ValueError, match="finite"):
        charts.draw(x_label="h", y_label="y", lines=[charts.Line([], [], "a")])


def test_a_chart_too_small_is_an_error() -> None:
    with pytest.raises((ValueError, PaperError)):
        chart(width_mm=30, height_mm=15)


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
def test_ticks_are_round_inside_and_few(low: float, span: float) -> None:
    found = charts.ticks(low, low + span)
    assert len(found) <= 7
    assert all(low - 1e-6 * max(abs(low), span) <= value <= low + span * (1 + 1e-9) + 1e-9 for value in found)


@given(st.floats(0.05, 400))
def test_hours_are_told_as_a_clock_tells_them(span: float) -> None:
    found = charts.hour_ticks(0, span)
    assert 1 <= len(found) <= 8
    if len(found) > 1:
        step = found[1] - found[0]
        assert any(step == pytest.approx(known) for known in (1 / 60, 1 / 12, 1 / 6, 0.25, 0.5)) or step >= 1


@given(st.lists(st.floats(0, 100), min_size=1, max_size=12), st.floats(0.5, 6))
def test_spread_keeps_order_room_and_stays_near(wanted: list[float], room: float) -> None:
    placed = charts.spread(wanted, room, 0, 100)
    pairs = sorted(zip(wanted, placed, strict=True))
    assert all(b - a >= room - 1e-6 for (_w, a), (_v, b) in itertools.pairwise(pairs))
    assert min(placed) >= -1e-6
    assert max(placed) <= 100 + 1e-6
    gaps = [b - a for a, b in itertools.pairwise(sorted(wanted))]
    if all(gap >= room for gap in gaps):
        assert pytest.approx(wanted, abs=1e-6) == placed


@pytest.mark.parametrize(
    ("value", "shown"), [(0.0, "0"), (0.1, "0.1"), (1500.0, "1500"), (-2.5, "−2.5"), (1e-5, "0.00001")]
)
def test_numbers_are_written_plainly(value: float, shown: str) -> None:
    assert shown == charts.number(value)


@pytest.mark.parametrize(
    ("expected", "low", "high"),
    [
        ([100.0, 200.0, 500.0, 1000.0, 2000.0], 100.0, 2000.0),
        ([0.1, 1.0, 10.0], 0.02, 20.0),
        ([1.0, 10.0, 100.0, 1000.0], 1.0, 1000.0),
        ([0.5, 1.0, 2.0, 5.0], 0.5, 5.0),
    ],
)
def test_a_logarithmic_axis_names_enough_of_its_values(expected, low, high) -> None:
    assert expected == pytest.approx(charts.log_ticks(low, high))
