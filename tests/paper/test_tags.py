"""Tags and labels, read back from their print by other eyes at the resolutions of real printers."""

import dataclasses

import numpy as np
import pytest
from pylibdmtx import pylibdmtx

from keepfast.book import numbers
from keepfast.paper import labels, pdf, tags
from keepfast.paper import type as type_
from keepfast.paper.page import Text
from keepfast.paper.type import PaperError
from keepfast.rules import sheets as sheets_
from keepfast.rules import tags as rules_
from tests.paper import qr_reader

SHEETS = sheets_.load()
RULES = rules_.load()
DPI = (203, 300, 600)

JAR = labels.JarLabel(
    catalogue_number="MZX 145732",
    institution="Museum of the Lower River (invented)",
    taxon="Psammodromus algirus",
    family="Lacertidae",
    type_status="Paratype",
    locality="Serra de Serpa, 4 km NE of Vila Verde",
    country="Portugal",
    collected_on="2026-04-14",
    collector="R. Rivera",
    field_numbers="ABC 12-L",
    count="2",
    fluid="70 % ethanol",
    fixative="10 % formalin",
)


def cut(picture, sheet, place: tuple[float, float], dpi: int, share: float = 0.5):
    """The right part of one label, where its symbol is."""
    k = dpi / 25.4
    x, y = place
    return picture.crop(
        (
            round((x + sheet.label_width_mm * share) * k),
            round((y + 0.3) * k),
            round((x + sheet.label_width_mm - 0.1) * k),
            round((y + sheet.label_height_mm - 0.3) * k),
        )
    )


def decoded(picture, dpi: int) -> list[str]:
    found = pylibdmtx.decode(picture, max_count=1, timeout=60_000, shrink=max(1, dpi // 300))
    return [one.data.decode() for one in found]


@pytest.mark.parametrize("dpi", DPI)
@pytest.mark.parametrize(
    ("name", "series"),
    [("a4-tags", "ABC 1-60"), ("a4-tags-small", "KV 960-1091"), ("letter-tags", "R-001 to 056")],
)
def test_every_tag_of_a_sheet_is_read_back_by_another_decoder(seen, name: str, series: str, dpi: int) -> None:
    """libdmtx did not write the symbols; PDFium did not write the page."""
    sheet = SHEETS.sheet(name, "tag")
    run = numbers.series(series).numbers()
    picture = seen(pdf.render(tags.draw(run, sheet, RULES))).picture(0, dpi)
    read = [decoded(cut(picture, sheet, place, dpi), dpi) for place in sheet.places()[: len(run)]]
    assert [[number.printed] for number in run] == read


@pytest.mark.parametrize("name", ["roll-tags", "roll-tags-small"])
def test_a_roll_has_one_tag_a_page_of_its_own_size(seen, name: str) -> None:
    sheet = SHEETS.sheet(name, "tag")
    run = numbers.series("ABC 7-9").numbers()
    document = seen(pdf.render(tags.draw(run, sheet, RULES)))
    assert 3 == len(document)
    assert pytest.approx((sheet.label_width_mm, sheet.label_height_mm), abs=0.01) == document.size_mm(0)
    assert [run[1].printed] == decoded(document.picture(1, 300), 300)


@pytest.mark.parametrize("name", [s.name for s in SHEETS.sheets.values() if s.kind == "tissue"])
@pytest.mark.parametrize("dpi", DPI)
def test_tube_labels_are_read_back(seen, name: str, dpi: int) -> None:
    sheet = SHEETS.sheet(name, "tissue")
    made = [labels.TissueLabel(f"ABC {n}-K", "T1", "liver", "96 % ethanol", "2026-04-14") for n in range(1, 6)]
    document = seen(pdf.render(labels.draw_tissues(made, sheet, RULES)))
    for i, label in enumerate(made):
        page, place = (i, (0.0, 0.0)) if sheet.is_roll else (0, sheet.places()[i])
        assert [f"{label.number} T1"] == decoded(cut(document.picture(page, dpi), sheet, place, dpi), dpi)


@pytest.mark.parametrize("name", [s.name for s in SHEETS.sheets.values() if s.kind == "jar"])
@pytest.mark.parametrize("dpi", DPI)
def test_jar_labels_are_read_back_by_a_reader_of_our_own(seen, name: str, dpi: int) -> None:
    sheet = SHEETS.sheet(name, "jar")
    made = [dataclasses.replace(JAR, catalogue_number=f"MZX {14573 + i}") for i in range(3)]
    document = seen(pdf.render(labels.draw_jars(made, sheet, RULES)))
    for i, label in enumerate(made):
        page, place = (i, (0.0, 0.0)) if sheet.is_roll else (0, sheet.places()[i])
        part = np.asarray(cut(document.picture(page, dpi), sheet, place, dpi, share=0.72))
        part = part[: round(0.6 * part.shape[0])]
        assert (label.catalogue_number, "M") == qr_reader.read(qr_reader.modules(part))


@pytest.mark.parametrize("name", ["a4-tags", "letter-tags-small", "a4-jar", "letter-tissue"])
def test_the_check_bar_is_fifty_millimetres(seen, extent, name: str) -> None:
    """Within 0.2 mm: what a ruler can tell. Measured at 600 dpi, one dot 0.042 mm."""
    sheet = SHEETS.sheets[name]
    if sheet.kind == "tag":
        pages = tags.draw(numbers.series("ABC 1-4").numbers(), sheet, RULES)
    elif sheet.kind == "jar":
        pages = labels.draw_jars([JAR], sheet, RULES)
    else:
        pages = labels.draw_tissues([labels.TissueLabel("ABC 1-V")], sheet, RULES)
    bar = next(item for item in pages[0].items if hasattr(item, "boxes") and (50.0, 0.2) == item.boxes[0][2:])
    x, y = bar.boxes[0][:2]
    left, right = extent(seen(pdf.render(pages)).grey(0, 600), 600, (x - 2, y + 0.1, x + 51.5, y + 1.0))
    assert pytest.approx(50.0, abs=0.2) == right - left


def test_number_and_symbol_say_the_same_and_text_is_the_text_meant(seen, same_letters) -> None:
    sheet = SHEETS.sheet("a4-tags", "tag")
    run = numbers.series("ABC 1-60").numbers()
    pages = tags.draw(run, sheet, RULES, note="R. Rivera")
    words = same_letters(seen(pdf.render(pages)).words(0))
    assert all(same_letters(number.printed) in words for number in run)
    assert sum(same_letters(w).__len__() for w in pages[0].words()) == len(words)


def test_all_tags_of_a_run_are_set_alike() -> None:
    pages = tags.draw(numbers.series("ABC 8-11").numbers(), SHEETS.sheet("a4-tags", "tag"), RULES)
    sizes = {item.size_pt for item in pages[0].items if getattr(item, "face", "") == "mono_bold"}
    assert 1 == len(sizes)


def test_a_number_is_never_smaller_than_the_rules_allow() -> None:
    pages = tags.draw(numbers.series("LONGISH 1000-1003").numbers(), SHEETS.sheet("a4-tags-small", "tag"), RULES)
    sizes = [item.size_pt for item in pages[0].items if getattr(item, "face", "") == "mono_bold"]
    assert min(sizes) >= RULES.tag_number_least_pt


def test_a_number_that_does_not_fit_names_its_tag() -> None:
    with pytest.raises(PaperError) as problem:
        tags.draw(numbers.series("VERYLONGPREFIXOFSOMEONE 1-3").numbers(), SHEETS.sheet("a4-tags", "tag"), RULES)
    assert problem.value.card.startswith("VERYLONGPREFIXOFSOMEONE")
    assert "number" == problem.value.field


def test_a_series_without_check_characters_says_what_that_costs() -> None:
    run = numbers.series("ABC 1-3", checked=False).numbers()
    sheet = tags.draw(run, SHEETS.sheet("a4-tags", "tag"), RULES)[0]
    assert any("cannot be caught" in words for words in sheet.words())
    assert "cannot be caught" in tags.text(run, RULES, [])


def test_the_plain_words_hold_every_number_and_both_sides_of_the_dispute() -> None:
    run = numbers.series("ABC 1-60").numbers()
    text = tags.text(run, RULES, [("frog", "Tag above the knee", "It cannot slip.")])
    assert all(number.printed in text.splitlines() for number in run)
    assert "Tag above the knee" in text
    assert all(medium.finding in text and medium.source in text for medium in RULES.media)


def test_cutting_lines_are_drawn_once_where_labels_touch() -> None:
    page = tags.draw(numbers.series("ABC 1-4").numbers(), SHEETS.sheet("a4-tags", "tag"), RULES)[0]
    cuts = [item for item in page.items if getattr(item, "dash", ()) and not item.closed]
    assert 4 + 4 + 5 == len(cuts)


def test_a_jar_label_holds_all_it_was_given(seen, same_letters) -> None:
    page = labels.jar(JAR, SHEETS.sheet("roll-jar", "jar"), RULES)
    words = same_letters(seen(pdf.render([page])).words(0))
    for value in dataclasses.asdict(JAR).values():
        assert same_letters(value) in words


def test_a_jar_label_is_never_set_below_the_least_size() -> None:
    for name in ("a4-jar", "a4-jar-small"):
        page = labels.jar(JAR, SHEETS.sheet(name, "jar"), RULES)
        assert min(item.size_pt for item in page.items if hasattr(item, "size_pt")) >= RULES.jar_body_least_pt


def test_a_jar_label_that_is_too_full_names_label_and_field() -> None:
    with pytest.raises(PaperError) as problem:
        labels.jar(
            dataclasses.replace(JAR, locality="a long way from anywhere, " * 12),
            SHEETS.sheet("a4-jar-small", "jar"),
            RULES,
        )
    assert ("MZX 145732", "locality") == (problem.value.card, problem.value.field)


def test_a_tube_label_that_is_too_full_names_label_and_field() -> None:
    with pytest.raises(PaperError) as problem:
        labels.tissue(
            labels.TissueLabel("ABC 1-V", "T1", "liver and a great deal of other things"),
            SHEETS.sheet("a4-tissue", "tissue"),
            RULES,
        )
    assert ("ABC 1-V T1", "tissue") == (problem.value.card, problem.value.field)


@pytest.mark.parametrize(
    ("series", "title"),
    [
        (["ABC 1-60"], "Field tags ABC 1 to ABC 60"),
        (["KV 7"], "Field tags KV 7"),
        (["ABC 1-3", "KV 7-9"], "Field tags ABC 1 to ABC 3, KV 7 to KV 9"),
        (["A 1", "B 1", "C 1", "D 1"], "Field tags A 1, B 1, C 1, and others"),
    ],
)
def test_a_sheet_is_named_by_its_series(series: list[str], title: str) -> None:
    run = [number for text in series for number in numbers.series(text).numbers()]
    assert title == tags.title_of(run)


def test_words_of_a_tube_label_stand_clear_of_every_cut() -> None:
    """As much white above the number as below the last line, so that a crooked cut takes nothing."""
    sheet = SHEETS.sheet("roll-tissue", "tissue")
    label = labels.TissueLabel("ABC 12-L", "T1", "liver", "96 % ethanol")
    texts = [i for i in labels.tissue(label, sheet, RULES).items if isinstance(i, Text)]
    above = min(i.y - type_.cap_mm(i.size_pt, i.face) for i in texts)
    below = sheet.label_height_mm - max(i.y for i in texts)
    assert above >= 1.0
    assert abs(above - below) < 0.6
