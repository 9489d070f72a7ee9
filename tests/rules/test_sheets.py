"""Sheets, tags and faults as data: the standard sizes are right, and a museum's own file is checked as a whole."""

import math

import pytest

from keepfast.findings import FindingsError
from keepfast.paper import faults as pictures
from keepfast.rules import faults, sheets, tags

SHIPPED = sheets.load()


def test_a4_is_what_iso_216_says() -> None:
    """A0 has one square metre and sides as 1 to the root of 2; each next is halved and rounded down to millimetres."""
    wide, high = 1000 / 2**0.25, 1000 * 2**0.25
    wide, high = round(wide), round(high)
    for _step in range(4):
        wide, high = math.floor(high / 2), wide
    assert (210, 297) == (wide, high)
    assert (float(wide), float(high)) == (SHIPPED.paper("a4").width_mm, SHIPPED.paper("a4").height_mm)


def test_letter_is_eight_and_a_half_by_eleven_inches() -> None:
    paper = SHIPPED.paper("letter")
    assert pytest.approx((8.5 * 25.4, 11 * 25.4)) == (paper.width_mm, paper.height_mm)


@pytest.mark.parametrize("sheet", SHIPPED.sheets.values(), ids=lambda s: s.name)
def test_labels_lie_on_their_sheet_and_never_on_each_other(sheet: sheets.Sheet) -> None:
    places = sheet.places()
    assert len(places) == len(set(places)) == sheet.columns * sheet.rows
    for x, y in places:
        assert x >= 0
        assert y >= 0
        assert x + sheet.label_width_mm <= sheet.width_mm + 1e-9
        assert y + sheet.label_height_mm <= sheet.height_mm + 1e-9
    for i, (x, y) in enumerate(places):
        for a, b in places[:i]:
            assert abs(x - a) >= sheet.label_width_mm - 1e-9 or abs(y - b) >= sheet.label_height_mm - 1e-9


@pytest.mark.parametrize("sheet", SHIPPED.sheets.values(), ids=lambda s: s.name)
def test_a_sheets_title_says_how_many_labels_it_has(sheet: sheets.Sheet) -> None:
    if not sheet.is_roll:
        assert f"{len(sheet.places())} " in sheet.title


def test_there_are_sheets_for_both_papers_and_rolls_of_every_kind() -> None:
    for kind in sheets.KINDS:
        names = [s.name for s in SHIPPED.sheets.values() if s.kind == kind]
        assert any(name.startswith("a4") for name in names)
        assert any(name.startswith("letter") for name in names)
        assert any(name.startswith("roll") for name in names)


def test_a_wrong_name_says_which_there_are() -> None:
    with pytest.raises(FindingsError, match="a4-tags"):
        SHIPPED.sheet("a4-jar", "tag")
    with pytest.raises(FindingsError, match="letter"):
        SHIPPED.paper("a3")


GOOD = """
title = "Mine"
date = 2026-03-01
subject = "sheets"

[papers.a5]
title = "A5"
width_mm = 148
height_mm = 210
source = "ISO 216"

[[sheets]]
name = "mine"
kind = "tag"
paper = "a5"
label_mm = [40, 12]
columns = 3
rows = 10
first_mm = [10, 20]
source = "own stock"
"""


def test_a_museums_own_sheet_is_taken(tmp_path) -> None:
    (tmp_path / "mine.toml").write_text(GOOD)
    sheet = sheets.load(tmp_path / "mine.toml").sheet("mine", "tag")
    assert (148.0, 210.0, 30) == (sheet.width_mm, sheet.height_mm, len(sheet.places()))


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        ("columns = 3", "columns = 4", "reach"),
        ("columns = 3", "columns = 0", "whole number"),
        ('kind = "tag"', 'kind = "flag"', "kind must be"),
        ('paper = "a5"', 'paper = "a9"', "no paper"),
        ("[40, 12]", "[40]", "two lengths"),
        ("[40, 12]", "[1, 12]", "length from"),
        ("rows = 10", 'rows = 10\ncolour = "red"', "means nothing"),
        ('source = "own stock"', "", "source is missing"),
        ("width_mm = 148", 'width_mm = "wide"', "length from"),
        ('paper = "a5"\n', "", "need a paper"),
    ],
)
def test_what_is_wrong_in_a_sheet_is_said_with_its_place(tmp_path, old: str, new: str, word: str) -> None:
    (tmp_path / "mine.toml").write_text(GOOD.replace(old, new))
    with pytest.raises(FindingsError) as problem:
        sheets.load(tmp_path / "mine.toml")
    sentence = " ".join(f.sentence() for f in problem.value.findings)
    assert word in sentence
    assert "mine.toml" in sentence


def test_all_that_is_wrong_is_said_at_once(tmp_path) -> None:
    (tmp_path / "mine.toml").write_text(GOOD.replace("columns = 3", "columns = -1").replace("[40, 12]", "[]"))
    with pytest.raises(FindingsError) as problem:
        sheets.load(tmp_path / "mine.toml")
    assert len(problem.value.findings) >= 2


def test_findings_about_papers_and_inks_have_sources_and_both_sides() -> None:
    rules = tags.load()
    assert all(medium.source and medium.known for medium in rules.media)
    assert ("laser print on paper", "inkjet") == rules.disputed()
    assert rules.floor_pt <= rules.jar_body_least_pt <= rules.tag_number_least_pt


def test_a_tag_file_without_its_parts_is_refused_with_all_that_is_missing(tmp_path) -> None:
    (tmp_path / "mine.toml").write_text('title = "x"\ndate = 2026-01-01\nsubject = "tags"\n')
    with pytest.raises(FindingsError) as problem:
        tags.load(tmp_path / "mine.toml")
    fields = {finding.field for finding in problem.value.findings}
    assert {"default", "test", "type", "symbol", "media", "habits"} <= fields


def test_every_fault_has_its_picture_its_words_and_its_source() -> None:
    for fault in faults.load():
        assert fault.drawing in pictures.PICTURES
        assert fault.seen
        assert fault.why
        assert fault.instead
        assert fault.source


def test_a_fault_file_is_checked(tmp_path) -> None:
    (tmp_path / "mine.toml").write_text(
        'title = "x"\ndate = 2026-01-01\nsubject = "faults"\n[[faults]]\nkey = "a"\nneeds = "wings"\n'
    )
    with pytest.raises(FindingsError) as problem:
        faults.load(tmp_path / "mine.toml")
    words = " ".join(finding.what for finding in problem.value.findings)
    assert "needs must be" in words
    assert "drawing is missing" in words
