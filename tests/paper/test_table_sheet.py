"""The table's sheet: who, in which order, how much, when, where, and what to mind before it is too late."""

from dataclasses import replace

import pytest

from keepfast.findings import FindingsError
from keepfast.paper import cards, figures, pdf, table_sheet


@pytest.fixture(scope="module", params=["a4", "letter"])
def pages(request, evening):
    return table_sheet.draw(evening, request.param)


def test_text_on_paper_is_the_text_meant(seen, same_letters, pages) -> None:
    document = seen(pdf.render(pages))
    for i, page in enumerate(pages):
        read = same_letters(document.words(i))
        assert [] == [words for words in page.words() if same_letters(words) not in read]


def test_every_animal_of_tonight_stands_there_with_turn_place_and_amount(evening) -> None:
    words = [w for page in table_sheet.draw(evening) for w in page.words()]
    for number in evening.table.order:
        one = evening.of(number)
        assert number in words
        if one.injections:
            assert figures.plain_ml(one.total_ml) in words
        assert f"{one.place.tray}.{one.place.place}" in words
    for number in (*evening.table.waiting, *evening.table.not_for_fluid):
        assert any(word.startswith(f"{number},") for word in words)


def test_what_to_mind_tonight_comes_before_the_order(evening) -> None:
    for lines in (table_sheet.text(evening), "\n".join(table_sheet.draw(evening)[0].words())):
        assert lines.index("Mind tonight") < lines.index("The order")


def test_what_forbids_the_work_stands_on_the_first_side(evening) -> None:
    words = "Do not work with open formalin in a closed tent."
    air = {**evening.table.extra.get("air", {}), "line": "Air.", "urgent": [words], "warnings": [words, "Smell."]}
    told = replace(evening, table=replace(evening.table, extra={**evening.table.extra, "air": air}))
    text = table_sheet.text(told)
    assert 1 == text.count(words)
    assert text.index("Mind tonight") < text.index(words) < text.index("The order") < text.index("Smell.")


def test_the_clock_tells_the_day_where_it_is_another(evening) -> None:
    words = " ".join(w for page in table_sheet.draw(evening) for w in page.words())
    assert "19 Apr: Trays 1, 2" in words


def test_there_is_a_box_for_each_animal_and_round(evening) -> None:
    boxes = [
        item
        for page in table_sheet.draw(evening)
        for item in page.items
        if hasattr(item, "closed") and item.closed and item.width_mm == 0.3 and len(item.points) == 4
        and abs(item.points[1][0] - item.points[0][0] - 4.4) < 1e-6
    ]  # fmt: skip
    assert 4 * len(evening.table.order) == len(boxes)


def test_every_caution_stands_once_under_its_round(evening) -> None:
    text = table_sheet.text(evening)
    for caution in evening.table.cautions:
        assert 1 == text.count(f"  - {caution.text}")
    places = [
        text.index(title) for title in ("Before: no fixative near", "Prick: the fixative", "Fill: eye protection")
    ]
    assert places[1] < text.index("never recap") < places[2]
    assert places[0] < text.index("Fangs and venom stay dangerous") < places[1]
    # Alcohol is there for the tissue before anything is fixed, not only if something happens.
    assert places[0] < text.index("Alcohol: no flame") < places[1] < text.index("Alcohol spilt")


def test_every_tray_is_drawn_with_its_animals_and_a_bar(evening) -> None:
    words = [w for page in table_sheet.draw(evening) for w in page.words()]
    for tray in evening.table.trays:
        assert f"Tray {tray.number}" in words
    assert any(word.startswith("50 mm") for word in words)


def test_there_is_room_to_write_even_on_a_full_table(evening) -> None:
    for paper in ("a4", "letter"):
        page = table_sheet.draw(evening, paper)[-1]
        assert "Room to write" in list(page.words())
        lines = [item for item in page.items if hasattr(item, "points") and item.width_mm == 0.3]
        assert len(lines) >= 4


def test_version_hashes_seed_and_protocol_are_on_every_page(evening, pages) -> None:
    for page in pages:
        foot = " ".join(page.words())
        assert f"Keepfast {evening.origin['keepfast']}" in foot
        assert evening.origin["inputs"][0]["sha256"][:12] in foot
        assert "seed 1" in foot
        assert str(evening.protocol["date"]) in foot


def test_a_slip_that_no_check_character_can_catch_is_said(evening) -> None:
    from keepfast.book.numbers import slips

    found = tuple(f.as_dict() for f in slips(one.animal.field_number for one in evening.animals))
    assert "cannot be caught" in table_sheet.text(replace(evening, findings=found))


def test_the_plain_words_hold_clock_order_trays_and_cautions(evening) -> None:
    text = table_sheet.text(evening)
    for moment in evening.table.clock:
        assert figures.clock(moment.at) in text
        assert moment.what[1:] in text or moment.at > evening.table.end
    for number in evening.table.order:
        assert f"  {number}  " in text
    for caution in evening.table.cautions:
        assert caution.text in text
    for line in evening.table.lay_ready:
        assert line[1:] in text
    assert "Tray 1" in text


def test_an_evening_without_animals_is_still_a_sheet(evening) -> None:
    empty = replace(
        evening,
        animals=(),
        table=replace(evening.table, order=(), waiting=(), not_for_fluid=(), trays=(), clock=(), extra={}),
    )
    assert table_sheet.draw(empty)
    assert "Tonight: 0 animals" in table_sheet.text(empty)


def test_a_hundred_animals_run_over_as_many_pages_as_they_need(evening) -> None:
    one = evening.of("B-04")
    many = tuple(replace(one, animal=replace(one.animal, field_number=f"Q-{i:03d}")) for i in range(100))
    numbers = tuple(m.animal.field_number for m in many)
    table = replace(evening.table, order=numbers, waiting=(), not_for_fluid=(), trays=())
    pages = table_sheet.draw(replace(evening, animals=many, table=table))
    words = [w for page in pages for w in page.words()]
    assert all(number in words for number in numbers)


def test_what_cannot_be_printed_names_the_field(with_taxon) -> None:
    with pytest.raises(FindingsError) as problem:
        table_sheet.draw(with_taxon("B-03", "Timon မ"))
    assert "taxon" in problem.value.findings[0].sentence()


def test_many_that_wait_for_one_reason_are_told_together(evening) -> None:
    one = evening.of("B-04")
    reason = "keep it on ice; it loses less by waiting"
    until = evening.table.start
    many = tuple(
        replace(one, animal=replace(one.animal, field_number=f"Q-{i:03d}"), waits=reason, wait_until=until)
        for i in range(60)
    )
    table = replace(
        evening.table, order=(), trays=(), not_for_fluid=(), waiting=tuple(m.animal.field_number for m in many)
    )
    waiting = replace(evening, animals=many, table=table)
    words = " ".join(w.replace("\u00a0", " ") for page in table_sheet.draw(waiting) for w in page.words())
    text = table_sheet.text(waiting)
    for told in (words, text):
        assert "60 animals wait." in told
        assert 1 == told.lower().count(reason)
        assert all(f"Q-{i:03d}" in told for i in range(60))


def test_the_heads_of_the_order_stand_on_every_side_that_it_fills(evening) -> None:
    one = evening.of("B-04")
    many = tuple(replace(one, animal=replace(one.animal, field_number=f"Q-{i:03d}")) for i in range(100))
    numbers = tuple(m.animal.field_number for m in many)
    table = replace(evening.table, order=numbers, waiting=(), not_for_fluid=(), trays=())
    for page in table_sheet.draw(replace(evening, animals=many, table=table)):
        words = list(page.words())
        if any(number in words for number in numbers):
            assert {"tray.place", "fill, mL", "prick", "cover"} <= set(words)


def test_a_name_too_long_for_its_column_names_the_animal_not_the_sheet(with_taxon) -> None:
    with pytest.raises(FindingsError) as problem:
        table_sheet.draw(with_taxon("B-03", "T" + "imonlepidus" * 6))
    assert "B-03" == problem.value.findings[0].subject


def test_the_chart_of_the_air_is_told_in_plain_words(evening) -> None:
    text = table_sheet.text(evening)
    for told in (
        "filling: at the face up to",
        "posing: at the face up to",
        "cleaning: at the face up to",
        "15 min limit",
    ):
        assert told in text


def test_each_tray_tells_how_much_its_sheets_hold_in_plain_words_too(evening) -> None:
    assert len(evening.table.trays) == table_sheet.text(evening).count("Sheets: upper")


def test_a_files_name_keeps_its_own_spelling_and_its_letters_never_stop_the_print(evening) -> None:
    """A capital would make it another file; what the typeface lacks is a question mark beside the hash."""
    named = [{"name": "список.csv", "sha256": "0" * 64}]
    pages = table_sheet.draw(replace(evening, origin={**evening.origin, "inputs": named}))
    assert any("??????.csv 000000000000" in w for w in pages[0].words())
    from keepfast.paper.wording import full_stop

    assert ("survey.csv: 15 times.", "Fills first.", "B-12 waits.") == tuple(
        full_stop(w) for w in ("survey.csv: 15 times", "fills first", "B-12 waits")
    )


@pytest.mark.parametrize("number", ["WWWWWW 000000-W", "ABCDEF 123456-7", "A-B-C 2026-0001"])
def test_a_field_number_with_a_space_is_never_parted_in_the_order(evening, number: str) -> None:
    one = evening.of("B-04")
    named = replace(one, animal=replace(one.animal, field_number=number))
    table = replace(evening.table, order=(number,), waiting=(), not_for_fluid=(), trays=())
    for paper in ("a4", "letter"):
        assert number in [
            w for page in table_sheet.draw(replace(evening, animals=(named,), table=table), paper) for w in page.words()
        ]


def test_a_very_long_number_goes_on_at_a_hyphen_and_is_whole_everywhere_else(evening) -> None:
    number = "LONGCOLLECTOR-2026-000123"
    one = evening.of("B-04")
    named = replace(one, animal=replace(one.animal, field_number=number))
    table = replace(evening.table, order=(number,), waiting=(), not_for_fluid=(), trays=())
    plan = replace(evening, animals=(named,), table=table)
    words = [w for page in table_sheet.draw(plan) for w in page.words()]
    first = words.index("LONGCOLLECTOR-")
    assert "2026-000123" == words[first + 1]
    assert number in list(cards.card(plan, named)[0].words())


def test_place_and_approval_stand_on_the_sheet_or_are_asked_for(evening) -> None:
    """The paper alone must say, after forty years, where it was and under which approval."""
    pages = table_sheet.draw(evening)
    first = " ".join(w.replace("\u00a0", " ") for w in pages[0].words())
    text = table_sheet.text(evening)
    for told in (first, text):
        assert (
            "Oak meadow above the old mill (invented), 37.93, \u22126.88; approved protocol INVENTED-2026-07." in told
        )
    bare = replace(evening, camp={**evening.camp, "place": None, "approved_protocol": ""})
    words = [w for page in table_sheet.draw(bare) for w in page.words()]
    assert {"Place", "approved protocol", "at the table"} <= set(words)
    assert "Place ____" in table_sheet.text(bare)
    assert "Place" not in [w for page in pages for w in page.words()]


def test_the_light_goes_by_the_clock(evening) -> None:
    sun = {"sunset": "2026-04-18T21:06:07+02:00", "sunrise": "2026-04-18T07:48:14+02:00", "line": ""}
    lit = replace(evening, table=replace(evening.table, extra={**evening.table.extra, "sun": sun}))
    words = [w for page in table_sheet.draw(lit) for w in page.words()]
    assert "21:06" in words
    assert any(w.startswith("The sun sets") for w in words)
    assert not any("sun rises" in w for w in words)
    assert "  21:06  The sun sets: headlamps from here." in table_sheet.text(lit)
