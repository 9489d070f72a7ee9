"""The evening's papers as files: what they are called, how one moves through them, and what stops them."""

from dataclasses import replace

import pytest

from keepfast.findings import FindingsError
from keepfast.paper import cards, evening_papers, table_sheet
from keepfast.paper.wording import all_numbers


@pytest.fixture(scope="module")
def files(evening):
    return evening_papers.files(evening, learner=True)


def test_there_are_two_papers_each_with_its_plain_words(evening, files) -> None:
    assert ["cards.pdf", "cards.txt", "table.pdf", "table.txt"] == sorted(files)
    assert table_sheet.text(evening).encode() == files["table.txt"]
    assert cards.text(evening, True).encode() == files["cards.txt"]


def test_the_same_evening_gives_the_same_bytes(evening, files) -> None:
    assert files == evening_papers.files(evening, learner=True)


def test_a_file_says_what_it_is_and_what_it_was_made_from(seen, files) -> None:
    """What a screen reader or a window's title tells first."""
    table = seen(files["table.pdf"]).document.get_metadata_dict()
    assert "Tonight: 17 animals, 2 people, 18 Apr 2026" == table["Title"]
    assert "survey.csv" in table["Subject"]
    assert "Cards for 18 animals, 18 Apr 2026" == seen(files["cards.pdf"]).document.get_metadata_dict()["Title"]
    for name in ("table.pdf", "cards.pdf"):
        assert b"/DisplayDocTitle true" in files[name]
        assert b"/Lang (en-GB)" in files[name]


def test_an_outline_leads_to_every_card_and_every_heading(evening, seen, files) -> None:
    marks = list(seen(files["cards.pdf"]).document.get_toc())
    tops = [mark for mark in marks if mark.level == 0]
    assert list(all_numbers(evening)) == [mark.get_title() for mark in tops]
    pages = cards.draw(evening)
    assert [page.card for page in pages].index("B-05") == next(
        mark.get_dest().get_index() for mark in tops if mark.get_title() == "B-05"
    )
    below = {mark.get_title() for mark in marks if mark.level == 1}
    assert {"Before: no fixative near", "B-05: why", "B-05: what goes wrong"} <= below
    table = [mark.get_title() for mark in seen(files["table.pdf"]).document.get_toc()]
    for heading in ("The clock", "Lay ready", "The order", "The trays, as they lie", "The air"):
        assert heading in table


def test_all_that_cannot_be_printed_on_any_paper_is_said_at_once(evening) -> None:
    """Letters that the typeface lacks, in three fields of three animals, each with card and field."""
    changed = {"B-03": {"taxon": "蜥蜴"}, "B-04": {"remarks": "حجر قرب الماء"}, "B-05": {"taxon": "Лацерта"}}
    animals = tuple(
        replace(one, animal=replace(one.animal, **changed.get(one.animal.field_number, {}))) for one in evening.animals
    )
    with pytest.raises(FindingsError) as problem:
        evening_papers.files(replace(evening, animals=animals))
    found = {(finding.subject, finding.field) for finding in problem.value.findings}
    assert {("B-03", "taxon"), ("B-04", "remarks"), ("B-05", "taxon")} == found
    assert all("CJK" in f.what or "ARABIC" in f.what or "CYRILLIC" in f.what for f in problem.value.findings)


def test_what_does_not_fit_is_said_once_for_each_animal(with_taxon) -> None:
    endless = "T" + "imonlepidus" * 14
    with pytest.raises(FindingsError) as problem:
        evening_papers.files(with_taxon("B-03", endless))
    assert [("B-03", endless)] == [(f.subject, f.read) for f in problem.value.findings]
