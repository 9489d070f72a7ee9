"""A cell is read with certainty or refused."""

from __future__ import annotations

import contextlib
import datetime
import math
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from keepfast.exchange.cells import CellError, day_order, decimal_mark, folded, moment, number, word

MADRID = ZoneInfo("Europe/Madrid")


@pytest.mark.parametrize(
    ("expected", "text"),
    [
        (12.5, "12.5"),
        (12.5, "12,5"),
        (1234.5, "1.234,5"),
        (1234.5, "1,234.5"),
        (1234567.0, "1.234.567"),
        (1234.5, "1 234,5"),
        (1234.0, "1'234"),
        (0.5, ",5"),
        (0.5, ".5"),
        (0.125, "0,125"),
        (1234.567, "1234,567"),
        (12.0, "12 g"),
        (12.0, "12g"),
        (1200.0, "1.2 kg"),
        (0.8, "800 mg"),
        (12.0, "１２"),
        (-3.0, "−3"),
        (1200.0, "1.2e3"),
        (1.234, "1.234"),
    ],
)
def test_the_ways_people_write_a_mass(expected: float, text: str) -> None:
    # Exact: every conversion is decimal arithmetic.
    assert expected == number(text, "mass").value


def test_a_unit_in_the_heading_converts_and_one_in_the_cell_wins() -> None:
    assert 125.0 == number("12,5", "length", "cm").value
    assert 12.5 == number("12,5 mm", "length", "cm").value
    # The international inch is 25.4 mm by definition (1959).
    assert 254.0 == number("10 in", "length").value
    # 212 degrees F is the boiling point of water, 100 degrees C, by definition of the scale.
    assert 100.0 == number("212", "temperature", "f").value


@pytest.mark.parametrize("text", ["~12", "ca. 12", "c. 12", "about 12", "≈ 12", "12?", "approx 12 g"])
def test_an_approximate_number_is_taken_with_its_doubt(text: str) -> None:
    answer = number(text, "mass")
    assert 12.0 == answer.value
    assert answer.doubt


@pytest.mark.parametrize(
    "text",
    ["12-13", "12 – 13", "45+12", "<5", "> 5", "nan", "inf", "-inf", "soon", "12 5", "1.2.3", "12 mm", "12 g wet",
     "--3", "2026-05-12", "12-May", "12.May", "0x1F", "1e400 g?x", "#N/A", "1,23,45", "12 to 13", "٣ kilo", "1e999"],
)  # fmt: skip
def test_what_is_no_single_mass_is_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(CellError) as caught:
        number(text, "mass")
    assert caught.value.remedy


def test_a_thousand_and_a_decimal_are_never_mixed_up() -> None:
    """1,234 is read only where the rest of the file tells which mark it is."""
    with pytest.raises(CellError, match="two ways"):
        number("1,234", "mass")
    assert 1.234 == number("1,234", "mass", mark=",").value
    with pytest.raises(CellError, match="two ways"):
        number("1,234", "mass", mark=".")
    with pytest.raises(CellError, match="two ways"):
        number("1.234", "mass", mark=",")
    assert 1.234 == number("1.234", "mass", mark=",", exact=True).value
    with pytest.raises(CellError, match="two ways"):
        number("1.080", "length")
    assert 1.08 == number("1.080", "length", mark=".").value


def test_a_swapped_unit_is_named() -> None:
    with pytest.raises(CellError, match="a length stands here"):
        number("48 mm", "mass")


@pytest.mark.parametrize(
    ("expected", "texts"),
    [
        ("", []),
        ("", ["12", "1,234"]),
        (",", ["12", "1,234", "4,8"]),
        (".", ["4.8 mm"]),
        ("both", ["4.8", "4,8"]),
        (",", ["0,123"]),
        (".", ["1,234.5"]),
        (",", ["1.234,5"]),
    ],
)
def test_a_file_proves_its_decimal_mark(expected: str, texts: list[str]) -> None:
    assert expected == decimal_mark(texts)


@given(st.decimals(min_value="0.01", max_value=99999, places=2), st.sampled_from([".", ","]))
def test_any_measurement_comes_back_as_written(value: object, mark: str) -> None:
    assert float(value) == number(str(value).replace(".", mark), "mass", mark=mark).value  # type: ignore[arg-type]


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_a_refusal(text: str) -> None:
    with contextlib.suppress(CellError):
        assert math.isfinite(number(text, "length").value)


@pytest.mark.parametrize(
    ("expected", "text"),
    [
        ("2026-04-12T14:30:00+02:00", "2026-04-12 14:30"),
        ("2026-04-12T14:30:00+02:00", "2026-04-12T14:30:00"),
        ("2026-04-12T14:30:00+00:00", "2026-04-12T14:30Z"),
        ("2026-04-12T14:30:00-05:00", "2026-04-12 14:30-05:00"),
        ("2026-04-12T14:30:00+05:30", "2026-04-12 14:30 +0530"),
        ("2026-04-12T14:30:00+02:00", "12.4.2026 14:30"),
        ("2026-04-13T14:30:00+02:00", "13/04/2026 14h30"),
        ("2026-04-13T14:30:00+02:00", "04/13/2026 2:30 pm"),
        ("2026-04-12T00:30:00+02:00", "12 April 2026 12:30 am"),
        ("2026-04-12T14:30:00+02:00", "12 abr 2026 14:30"),
        ("2026-04-12T14:30:00+02:00", "Apr 12, 2026 14:30"),
        ("2026-01-12T14:30:00+01:00", "2026-01-12 14:30"),
        ("2026-04-12T00:00:00+02:00", "2026-04-12"),
    ],
)
def test_times_are_read_in_the_zone_of_the_trip(expected: str, text: str) -> None:
    assert expected == moment(text, MADRID).at.isoformat()


def test_a_day_without_an_hour_is_taken_at_its_longest_and_doubted() -> None:
    assert moment("2026-04-12", MADRID).doubt


@pytest.mark.parametrize(
    "text",
    ["04/05/2026 14:30", "14:30", "yesterday", "2026-02-30 10:00", "2026-04-12 25:00", "12/04/26 14:30", "45000"],
)
def test_a_time_that_could_be_another_is_refused(text: str) -> None:
    with pytest.raises(CellError) as caught:
        moment(text, MADRID)
    assert caught.value.remedy


def test_other_dates_of_the_column_settle_the_order_with_a_doubt() -> None:
    order = day_order(["04/05/2026 10:00", "13/05/2026 10:00"])
    assert "day" == order
    answer = moment("04/05/2026 14:30", MADRID, order=order)
    assert (5, 4) == (answer.at.month, answer.at.day)
    assert answer.doubt
    assert "" == day_order(["13/05/2026 10:00", "05/13/2026 10:00"])


def test_the_hour_that_comes_twice_is_doubted() -> None:
    # In 2026 summer time ends on 25 October at 03:00 in the zone Europe/Madrid (IANA time zone data).
    assert moment("2026-10-25 02:30", MADRID).doubt
    assert not moment("2026-10-25 03:30", MADRID).doubt


def test_times_with_an_offset_need_no_zone() -> None:
    answer = moment("2026-04-12 14:30+02:00", ZoneInfo("Asia/Tokyo"))
    assert datetime.datetime(2026, 4, 12, 12, 30, tzinfo=datetime.UTC) == answer.at
    assert not answer.zone_assumed


def test_words_are_compared_without_case_blanks_and_accents() -> None:
    assert "egg_clutch" == word("Egg clutch", ("larva", "egg_clutch"), {})
    assert "female" == word("fémea", ("male", "female"), {"femea": "female"})
    assert "cafe" == folded(" Ca-Fé ")


def test_an_unknown_word_is_answered_with_the_closest() -> None:
    with pytest.raises(CellError) as caught:
        word("lizzard", ("lizard", "snake"), {})
    assert caught.value.remedy.startswith("Was lizard meant?")
