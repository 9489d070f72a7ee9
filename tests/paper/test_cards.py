"""The cards: every fact of the plan is on them, in print and in plain words, and nothing is ever cut off."""

import re
from dataclasses import replace

import pytest

from keepfast.findings import FindingsError
from keepfast.paper import cards, figures, learning, pdf
from keepfast.paper.wording import all_numbers


@pytest.fixture(scope="module", params=["a4", "letter"])
def pages(request, evening):
    return cards.draw(evening, request.param)


@pytest.fixture(scope="module")
def printed(evening, seen):
    """All cards as PDFium reads them: characters of each card, without spaces."""
    from tests.paper.conftest import characters

    drawn = cards.draw(evening)
    document = seen(pdf.render(drawn))
    words: dict[str, str] = {}
    for i, page in enumerate(drawn):
        words[page.card] = words.get(page.card, "") + characters(document.words(i))
    return words


def test_every_animal_has_its_card_in_the_order_of_the_work(evening, pages) -> None:
    order = list(dict.fromkeys(page.card for page in pages))
    assert list(all_numbers(evening)) == order
    assert {one.animal.field_number for one in evening.animals} == set(order)


def test_printing_on_both_sides_never_puts_two_animals_on_one_sheet(pages) -> None:
    assert all(front.card == back.card for front, back in zip(pages[::2], pages[1::2], strict=True))


def test_the_number_is_the_largest_thing_on_every_side(pages) -> None:
    for page in pages:
        largest = max((item for item in page.items if hasattr(item, "size_pt")), key=lambda item: item.size_pt)
        assert page.card == largest.words


def test_nothing_on_a_card_is_smaller_than_can_be_read(pages) -> None:
    """Nine points at the table; only the foot, which nobody needs at work, may be smaller."""
    for page in pages:
        for item in page.items:
            if hasattr(item, "size_pt") and item.y < page.height_mm - 12:
                assert item.size_pt >= 9, item.words


def test_text_on_paper_is_the_text_meant(evening, seen, same_letters, pages) -> None:
    """Every run of every page, found in what PDFium reads from that page."""
    document = seen(pdf.render(pages))
    for i, page in enumerate(pages):
        read = same_letters(document.words(i))
        missing = [words for words in page.words() if same_letters(words) not in read]
        assert [] == missing


def test_a_card_holds_every_step_reason_doubt_and_amount(evening, printed, same_letters) -> None:
    for one in evening.animals:
        on_card = printed[one.animal.field_number]
        for step in one.steps:
            # A lead runs over lines and carries marks, so it is looked for word by word.
            assert all(same_letters(word.rstrip(".")) in on_card for word in step.action.split())
            assert all(same_letters(word) in on_card for word in step.reason.split())
        for doubt in one.doubts:
            assert all(same_letters(word) in on_card for word in doubt.split()[1:])
        for filling in one.injections:
            assert same_letters(figures.plain_ml(filling.volume_ml)) in on_card
        assert same_letters(one.animal.taxon) in on_card


def test_amounts_stand_in_figures_and_in_the_drawing(evening) -> None:
    one = evening.of("B-04")
    words = [w for page in cards.card(evening, one) for w in page.words()]
    for filling in one.injections:
        assert words.count(figures.ml(filling.volume_ml)) >= 2


def test_there_is_room_for_what_was_really_done(evening) -> None:
    words = [w for page in cards.card(evening, evening.of("B-04"), learner=False) for w in page.words()]
    for blank in ("Delivered, mL", "stayed inside, mL", "tray", "place", "filled", "Worked by", "recorded by"):
        assert blank in words


def test_a_learner_gets_the_why_and_the_faults_and_lines_to_sign(evening) -> None:
    one = evening.of("B-04")
    plain = [w for page in cards.card(evening, one, learner=False) for w in page.words()]
    taught = [w for page in cards.card(evening, one, learner=True) for w in page.words()]
    assert "B-04: why" in taught
    assert "B-04: what goes wrong" in taught
    assert "B-04: why" not in plain
    assert len(learning.faults_for(one)) >= 5
    for fault in learning.faults_for(one):
        assert any(words.startswith(fault.name) for words in taught)


def test_faults_are_those_that_the_animal_can_suffer(evening) -> None:
    keys = {
        number: {f.key for f in learning.faults_for(evening.of(number))} for number in ("B-01", "B-15", "B-18", "B-12")
    }
    assert "kink" in keys["B-01"]
    assert "limb_forgotten" not in keys["B-01"]
    assert "swollen" not in keys["B-15"]  # a small frog is not filled
    assert "tied" in keys["B-18"]
    assert set() == keys["B-12"]  # it does not go into fluid


def test_an_animal_not_for_fluid_says_so_and_why(evening) -> None:
    one = evening.of("B-12")
    words = " ".join(w for page in cards.card(evening, one) for w in page.words())
    assert "Not into fluid" in words
    assert one.fitness_reason.split(".")[0] in words


def test_a_character_that_cannot_be_printed_names_card_and_field(with_taxon) -> None:
    with pytest.raises(FindingsError) as problem:
        cards.draw(with_taxon("B-07", "Tarentola မြန်"))
    (finding,) = {f.sentence() for f in problem.value.findings}
    assert "B-07" in finding
    assert "taxon" in finding


def test_all_that_cannot_be_printed_is_said_at_once(evening) -> None:
    animals = tuple(
        replace(one, animal=replace(one.animal, taxon="ကကက")) if one.animal.field_number in ("B-01", "B-07") else one
        for one in evening.animals
    )
    with pytest.raises(FindingsError) as problem:
        cards.draw(replace(evening, animals=animals))
    assert {"B-01", "B-07"} == {finding.subject for finding in problem.value.findings}


def test_a_name_too_long_for_its_line_is_an_error_not_a_cut(with_taxon) -> None:
    with pytest.raises(FindingsError) as problem:
        cards.draw(with_taxon("B-07", "Tarentola mauritanica " * 8))
    assert ("B-07", "taxon") == (problem.value.findings[0].subject, problem.value.findings[0].field)


def test_the_race_says_its_verdict_and_hatches_the_leading_region(evening) -> None:
    race = {
        "regions": [{"region": "hindgut", "name": "hind gut", "verdict": "at_risk", "says": "at risk"}],
        "sentence": "Hind gut at risk: 2 h in hand.",
        "advice": [{"says": "Another 1 mL into the hind gut: 5 h more in hand."}],
        "leave": {"says": "Leave the tray after 24 h."},
        "doubts": ["Nothing was measured on whole reptiles."],
    }
    one = replace(evening.of("B-04"), extra={"race": race})
    text = " ".join(w for page in cards.card(evening, one) for w in page.words()).replace("\u00a0", " ")
    for words in ("Hind gut at risk", "Another 1 mL", "Leave the tray after 24 h", "most at risk (at risk)"):
        assert words in text
    (region,) = cards.leading_region(one)
    assert one.body.length_mm * 0.5 < region.start_mm < region.end_mm <= one.body.length_mm + 0.1


def test_the_symbol_of_every_card_is_read_by_another_decoder(evening, seen) -> None:
    """libdmtx on PDFium's picture at 300 dpi, the upper right corner of each first side."""
    from pylibdmtx import pylibdmtx

    drawn = cards.draw(evening, learner=False)
    document = seen(pdf.render(drawn))
    first = {page.card: i for i, page in reversed(list(enumerate(drawn)))}
    k = 300 / 25.4
    for number, i in first.items():
        corner = document.picture(i, 300).crop((round(182 * k), round(6 * k), round(203 * k), round(28 * k)))
        assert [number] == [found.data.decode() for found in pylibdmtx.decode(corner, max_count=1, timeout=60_000)]


def test_cards_of_some_animals_only(evening) -> None:
    assert ["B-05", "B-15"] == list(dict.fromkeys(p.card for p in cards.pages_of(["B-05", "B-15"], evening)))


def test_the_plain_words_say_what_the_cards_say(evening) -> None:
    text = cards.text(evening)
    assert not re.search("[\u00a0\u2011]", text)
    parts = dict(zip(re.findall(r"=== (.+) ===", text), re.split(r"=== .+ ===", text)[1:], strict=True))
    for one in evening.animals:
        part = parts[one.animal.field_number]
        assert one.animal.taxon in part
        for step in one.steps:
            assert step.action in part
            assert step.reason in part
        for doubt in one.doubts:
            assert doubt[1:] in part
        assert "What was really done" in part


def test_the_same_evening_gives_the_same_bytes(evening) -> None:
    assert pdf.render(cards.draw(evening)) == pdf.render(cards.draw(evening))


def test_what_was_noted_of_an_animal_is_on_its_card(evening) -> None:
    """When it died, how warm it lay, and the list's own words; in the plain text too."""
    for one in evening.animals:
        front = " ".join(w.replace("\u00a0", " ") for w in cards.card(evening, one)[0].words())
        text = "\n".join(cards.card_lines(evening, one))
        remark = one.animal.remarks
        for words in (front, text):
            assert remark in words
            if one.animal.died_at is not None:
                assert f"{one.animal.died_at:%H:%M}" in words
            if one.animal.kept_at_c is not None:
                assert f"Kept at {one.animal.kept_at_c:g} °C" in words


def test_a_card_says_day_and_place_of_its_evening(evening) -> None:
    """Found alone in a box, it still says where and when."""
    one = evening.of("B-05")
    bare = replace(one, animal=replace(one.animal, remarks="  ", died_at=None, kept_at_c=None))
    front = " ".join(w.replace("\u00a0", " ") for w in cards.card(evening, bare)[0].words())
    assert "Noted. 18 Apr 2026, Oak meadow above the old mill (invented), 37.93, \u22126.88." in front
    nowhere = replace(evening, camp={**evening.camp, "place": None})
    assert "Noted. 18 Apr 2026." in "\n".join(cards.card_lines(nowhere, bare))


def test_long_remarks_are_set_in_full(evening) -> None:
    one = evening.of("B-05")
    words = " ".join(f"word{n}" for n in range(400))
    long = replace(one, animal=replace(one.animal, remarks=words))
    page = " ".join(w for p in cards.card(evening, long) for w in p.words())
    assert all(f"word{n}" in page for n in range(400))


def test_remarks_that_no_card_can_hold_are_an_error_that_names_them(evening) -> None:
    one = evening.of("B-05")
    endless = replace(one, animal=replace(one.animal, remarks="under the bark of a fallen oak " * 600))
    with pytest.raises(FindingsError) as problem:
        cards.card(evening, endless)
    assert ("B-05", "remarks") == (problem.value.findings[0].subject, problem.value.findings[0].field)


def test_columns_of_steps_end_level_where_they_end(evening) -> None:
    """A last side with all its steps in one column and none in the other would look as if half were missing."""
    for number in all_numbers(evening):
        for page in cards.card(evening, evening.of(number)):
            boxes = [i for i in page.items if getattr(i, "closed", False) and i.fill is None and i.width_mm == 0.5]
            ticks = [i.points[0] for i in boxes if i.points[1][0] - i.points[0][0] == pytest.approx(3.4)]
            columns = [sum(x < page.width_mm / 2 for x, _y in ticks), sum(x > page.width_mm / 2 for x, _y in ticks)]
            assert sum(columns) < 5 or min(columns) > 0, number


def test_who_signs_stands_on_the_side_of_the_first_step(evening) -> None:
    for number in all_numbers(evening):
        for page in cards.card(evening, evening.of(number), learner=True):
            words = list(page.words())
            assert ("Learned by" in words) == any("Tick the box" in w for w in words)
            assert "Learned by" not in words or any(w.startswith("Before") for w in words)


def test_the_plain_words_have_each_ring_and_each_prick_by_its_place(evening) -> None:
    """What the drawing shows by its rule is said in millimetres."""
    for number in all_numbers(evening):
        one = evening.of(number)
        text = "\n".join(cards.card_lines(evening, one))
        for filling in one.injections:
            alone = f"  {filling.number}: " in text
            assert (
                alone or f"{filling.number}: {figures.plain_ml(filling.volume_ml)} mL at {filling.at_mm:.0f} mm" in text
            )
        for prick in one.pricks:
            assert f"P{prick.number} {prick.at_mm:.0f}" in text


def test_a_large_mass_is_told_in_kilograms_and_a_large_amount_in_three_figures() -> None:
    assert "240 kg" == figures.grams(240_000).replace("\u00a0", " ")
    assert "9990 g" == figures.grams(9990).replace("\u00a0", " ")
    assert "12.0 kg (9.50 to 15.1)" == figures.grams_doubt(12_000, 9_500, 15_100).replace("\u00a0", " ")
    assert ("19500", "1000", "999", "12") == tuple(figures.plain_ml(v) for v in (19493, 999.7, 999.4, 12.2))


def test_the_signs_of_sex_in_a_remark_are_written_in_words(evening) -> None:
    one = evening.of("B-05")
    noted = replace(one, animal=replace(one.animal, remarks="pH 6.8; 2♀ and a ♂ near"))
    front = " ".join(w.replace("\u00a0", " ") for w in cards.card(evening, noted)[0].words())
    assert "pH 6.8; 2 female and a male near." in front


def test_a_card_has_the_cautions_of_its_own_kind_of_animal_and_no_general_ones(evening) -> None:
    """Whether one animal is on the table or eighteen; what holds for all stands on the table's sheet."""
    texts = {caution.key: caution.text for caution in evening.table.cautions}
    for plan in (evening, replace(evening, animals=(evening.of("B-01"), evening.of("B-05")))):
        snake = "\n".join(cards.card_lines(plan, plan.of("B-01"), learner=False))
        lizard = "\n".join(cards.card_lines(plan, plan.of("B-05"), learner=False))
        assert texts["fangs_after_death"] in snake
        assert texts["fangs_after_death"] not in lizard
        for general in ("gloves_from_first_touch", "no_food_at_the_table", "salmonella", "eye_rinse_ready"):
            assert texts[general] not in snake
            assert texts[general] not in lizard
