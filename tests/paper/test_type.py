"""Type measured beside another reader of fonts, and what happens to what the family cannot write."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageFont

from keepfast.paper import type as type_

# What a field list is made of, and what people's names and places need.
SAMPLES = (
    "B-12",
    "Psammodromus algirus",
    "2.1 mL (1.6 to 2.7)",
    "Žluťoučký kůň",
    "São Tomé, Éire, Straße",
    "34 °C ≥ 5 μm × ½",
)


@pytest.mark.parametrize("face", type_.FACES)
@pytest.mark.parametrize("text", SAMPLES)
def test_a_line_is_as_wide_as_freetype_says(face: str, text: str) -> None:
    """FreeType (through Pillow) reads the same files; only figures differ, which we take in their tabular form."""
    plain = "".join(c for c in type_.spelled(text) if not c.isdigit())
    other = ImageFont.truetype(str(type_.font(face).path), 1000, layout_engine=ImageFont.Layout.BASIC)
    # Both count whole thousandths of the size, so nothing but rounding of floats may differ.
    assert pytest.approx(other.getlength(plain), abs=1e-6) == type_.width_mm(plain, 1000 / type_.MM_PER_POINT, face)


@pytest.mark.parametrize("face", type_.FACES)
def test_figures_stand_in_columns(face: str) -> None:
    assert 1 == len({type_.width_mm(figure, 10, face) for figure in "0123456789"})


def test_a_point_is_a_seventy_second_of_an_inch() -> None:
    """8 point = 2.822 mm, 4 point = 1.411 mm (1 inch = 25.4 mm exactly)."""
    assert pytest.approx(2.822, abs=5e-4) == 8 * type_.MM_PER_POINT
    assert pytest.approx(1.411, abs=5e-4) == 4 * type_.MM_PER_POINT


@pytest.mark.parametrize("text", SAMPLES)
def test_latin_names_and_units_can_be_written_in_every_face(text: str) -> None:
    assert all(() == type_.missing(text, face) for face in type_.FACES)


def test_a_sign_that_looks_the_same_is_taken_from_its_other_code() -> None:
    assert "μm" == type_.spelled("µm")
    assert "é" == type_.spelled("e\u0301")


def test_a_missing_character_names_card_field_and_character() -> None:
    with pytest.raises(type_.PaperError) as problem:
        type_.check("Rana မ", "italic", "B-07", "taxon")
    assert ("B-07", "taxon") == (problem.value.card, problem.value.field)
    sentence = problem.value.findings[0].sentence()
    assert "B-07" in sentence
    assert "taxon" in sentence
    assert "U+1019" in sentence


def test_a_field_number_is_never_parted() -> None:
    assert all("B-12" in line or "12" not in line for line in type_.lines("take B-12 then B-12 again", 20, 10))


@pytest.mark.parametrize(
    "text", ["after 24 h.", "about 2.1 mL more", "70 % ethanol", "at 34 °C", "needle 26 G", "18 mm"]
)
def test_a_number_is_never_parted_from_its_unit(text: str) -> None:
    bound = type_.bound(text)
    assert "\u00a0" in bound
    assert text == bound.replace("\u00a0", " ")


@pytest.mark.parametrize("text", ["2 people", "B-12 has", "3 to 5", "12 holes"])
def test_what_is_no_unit_may_be_parted(text: str) -> None:
    assert text == type_.bound(text)


def test_a_word_wider_than_its_room_is_an_error() -> None:
    with pytest.raises(ValueError, match="wide"):
        type_.lines("incompressible", 5, 10)


def test_an_unknown_face_is_refused() -> None:
    with pytest.raises(ValueError, match="face must be one of"):
        type_.width_mm("a", 10, "fraktur")


@given(st.lists(st.text("abcdefgh-XY012", min_size=1, max_size=9), min_size=1, max_size=40), st.floats(30, 120))
def test_lines_hold_all_words_in_order_and_none_is_too_wide(words: list[str], room: float) -> None:
    lines = type_.lines(" ".join(words), room, 10)
    assert words == " ".join(lines).split(" ")
    assert all(type_.width_mm(line, 10) <= room + 1e-6 for line in lines)


@given(st.floats(5, 100), st.text("ABCDEFG 0123-", min_size=1, max_size=12))
def test_the_largest_size_fits_and_half_a_point_more_does_not(room: float, text: str) -> None:
    size = type_.largest_pt(text, room, "bold", 60, 6)
    if size is None:
        assert type_.width_mm(text, 6, "bold") > room
    else:
        assert type_.width_mm(text, size, "bold") <= room + 1e-6
        assert size == 60 or type_.width_mm(text, size + 0.5, "bold") > room - 1e-6
