"""The table in a book: laid out once, written into, taken up again."""

from __future__ import annotations

import dataclasses
import itertools
import random

import pytest

from keepfast.book.entries import new_id
from keepfast.book.numbers import check_character
from keepfast.desk.books import Book
from keepfast.desk.evening import plan_of
from keepfast.desk.table_entries import SESSION, Said, said_of
from keepfast.desk.table_live import LiveTable, Subject
from keepfast.desk.table_plan import read_plan
from keepfast.desk.table_state import TableState
from keepfast.desk.table_views import lying
from keepfast.findings import FindingsError
from tests.live_table import demo_plan, said, small_plan


def first(table: LiveTable) -> Subject:
    return table.subjects[table.order[0]]


def write(table: LiveTable, *words: Said) -> None:
    assert all(o.stored for o in table.append(words))
    table.news()


def test_a_plan_is_laid_out_in_the_book_with_its_animals_trays_and_session(table: LiveTable) -> None:
    plan = small_plan()
    assert plan["table"]["order"] == [table.subjects[s].number for s in table.order]
    assert [str(t["number"]) for t in plan["table"]["trays"]] == [table.subjects[t].number for t in table.trays]
    state = table.book.state("animal", table.order[0])
    assert state is not None
    assert plan["table"]["order"][0] == state["field_number"]
    held = plan_of(table.book, table.evening)
    assert held is not None
    assert {a["field_number"]: a["total_ml"] for a in plan["animals"]} == {
        a["field_number"]: a["total_ml"] for a in held["animals"]
    }


def test_started_again_with_the_plan_or_without_it_is_the_same_evening(table: LiveTable, table_book: Book) -> None:
    before = table_book.last_sequence()
    for again in (LiveTable(table_book), LiveTable(table_book, read_plan(small_plan()))):
        assert (table.evening, table.session, table.order, table.trays) == (
            again.evening,
            again.session,
            again.order,
            again.trays,
        )
    assert before == table_book.last_sequence()


def test_a_tray_that_came_to_be_at_the_table_still_holds_its_animals_when_taken_up_again(
    table: LiveTable, table_book: Book
) -> None:
    tray, animal = new_id(), table.order[0]
    write(table, said(tray, "new_tray", "9", id=tray, number="9"), said(animal, "place", "9 1", tray=tray))
    again = LiveTable(table_book)
    assert tray in again.trays
    assert [(1, animal)] == [(place, one.id) for place, one in lying(again, tray)]
    assert tray == (table_book.state("animal", animal) or {})["container"]["tray"]


ONE = {"field_number": "A 1", "form": "frog"}


@pytest.mark.parametrize(
    ("animals", "table"),
    [
        ([None], {}), ([{**ONE, "injections": [{}]}], {"order": ["A 1"]}), ([{**ONE, "mass_g": 3}], {"order": ["A 1"]}),
        ([{**ONE, "steps": "x"}], {"order": ["A 1"]}), ([{**ONE, "place": "x"}], {"order": ["A 1"]}),
        ([{**ONE, "steps": [{"round": "fill", "injections": 5}]}], {"order": ["A 1"]}),
        ([ONE], {"order": ["A 1"], "trays": [{}]}), ([], {"order": 5}), ([], {"start": "soon"}), ([], {"minutes": "x"}),
    ],
)  # fmt: skip
def test_a_plan_that_is_not_whole_is_refused_in_words(animals: list[object], table: dict[str, object]) -> None:
    with pytest.raises(FindingsError) as refused:
        read_plan({"animals": animals, "table": table})
    assert "changed by hand" in str(refused.value)


def test_without_any_plan_the_animals_that_wait_are_on_the_table(table_book: Book) -> None:
    table_book.write("animal", {"field_number": "KV 9", "form": "frog"})
    gone = table_book.write("animal", {"field_number": "KV 8", "form": "frog"})
    table_book.write("preparation_done", {"animal": gone.id, "step": "fill", "outcome": "done"})
    bare = LiveTable(table_book)
    assert ["KV 9"] == [bare.subjects[s].number for s in bare.order]
    rounds = [move.round for move in bare.moves_of(first(bare))]
    assert ["before", "prick", "fill", "pose"] == rounds


def test_sent_twice_is_stored_once(table: LiveTable, table_book: Book) -> None:
    one = said(table.order[0], "mass_g", 641.0)
    before = table_book.last_sequence()
    assert [True, True] == [o.stored for o in (*table.append([one]), *table.append([one, one])[:1])]
    assert before + 1 == table_book.last_sequence()
    other = dataclasses.replace(said(table.order[0], "mass_g", 99.0), id=one.id)
    (outcome,) = table.append([other])
    assert not outcome.stored
    assert outcome.words


def test_a_bad_entry_does_not_hold_up_the_good_ones(table: LiveTable) -> None:
    good, bad = said(table.order[0], "mass_g", 641.0), said(table.order[0], "mass_g", "heavy")
    assert [False, True] == [o.stored for o in table.append([bad, good])]


def test_what_was_said_stands_in_the_books_own_state(table: LiveTable, table_book: Book) -> None:
    animal, tray = table.order[0], table.trays[0]
    wrong = said(animal, "mass_g", 64.0)
    write(
        table,
        wrong,
        said(animal, "mass_g", 640.0, corrects=wrong.id, seen=wrong.id),
        said(animal, "sex", "female"),
        said(animal, "tissue", "T 101"),
        said(animal, "delivered_ml", 31.0),
        said(animal, "place", "1 1", tray=tray),
        said(tray, "covered", True),
        said(tray, "temperature_c", 24.5),
    )
    state = table_book.state("animal", animal)
    assert state is not None
    assert 640.0 == state["measured"]["mass_g"]
    assert "female" == state["sex"]
    assert tray == state["container"]["tray"]
    assert {"fill"} <= set(state["steps_done"])
    assert ["T 101"] == [t["number"] for t in table_book.things("tissue")]
    tray_state = table_book.state("tray", tray)
    assert tray_state is not None
    assert tray_state["covered_at"]
    assert 24.5 == tray_state["readings"][0]["temperature_c"]


def test_two_pens_that_differ_are_asked_about_until_one_of_them_is_chosen(table: LiveTable) -> None:
    animal = table.order[0]
    ana = said(animal, "tail_mm", 83.0, device="a", who="Ana")
    ben = said(animal, "tail_mm", 38.0, device="b", who="Ben")
    write(table, ana, ben)
    ((_key, newest, clash),) = table.state.open_questions()
    assert (38.0, 83.0) == (newest["value"], clash["value"] if clash else None)
    write(table, said(animal, "tail_mm", 83.0, seen=ben.id, also_seen=ana.id, corrects=ben.id))
    assert [] == list(table.state.open_questions())


def test_two_pens_that_agree_are_not_asked_about(table: LiveTable) -> None:
    animal = table.order[0]
    write(table, said(animal, "tail_mm", 83.0, device="a"), said(animal, "tail_mm", 83.0, device="b"))
    assert [] == list(table.state.open_questions())


def test_a_number_kept_with_a_reason_is_no_open_question_any_more(table: LiveTable) -> None:
    animal = table.order[0]
    odd = said(animal, "mass_g", 64.0, asked="far_from_plan", asked_words="The list has 640 g.")
    write(table, odd)
    assert 1 == len(list(table.state.open_questions()))
    write(table, said(animal, "mass_g", 64.0, answers=odd.id, text="the scale was reset", asked="far_from_plan"))
    assert [] == list(table.state.open_questions())


def test_the_table_is_the_same_in_whatever_order_the_entries_came(table: LiveTable) -> None:
    animal, other = table.order[0], table.order[1]
    a = said(animal, "tail_mm", 83.0, device="a")
    b = said(animal, "tail_mm", 38.0, device="b")
    words = [
        a, b,
        said(animal, "mass_g", 64.0, asked="far_from_plan"),
        said(other, "move:before/x", True),
        said(SESSION, "pause", True), said(SESSION, "pause", False),
        said(animal, "tail_mm", 80.0, seen=b.id, also_seen=a.id, corrects=b.id),
        said(other, "later:fill", True),
    ]  # fmt: skip
    write(table, *words)
    slims = [s for w in table.book.read_since(0, 10_000) if (s := said_of(w.entry, w.sequence))]
    shuffler = random.Random(7)
    views = set()
    for _turn in range(20):
        shuffler.shuffle(slims)
        state = TableState(table.rules)
        for slim in slims:
            state.take(slim)
        shown = sorted((s["subject"], s["field"], s["id"], bool(s.get("clash"))) for s in state.snapshot())
        views.add((tuple(shown), state.paused() is None, tuple(state.order(table.order, "fill"))))
    assert 1 == len(views)


def test_an_entry_of_another_evening_is_stored_but_not_shown(table: LiveTable, table_book: Book) -> None:
    other = table_book.write("evening", {"name": "yesterday"}).id
    late = said(table.order[0], "mass_g", 641.0, evening=other)
    (outcome,) = table.append([late])
    assert outcome.stored
    assert [] == table.news()


def test_what_was_written_for_another_book_does_not_land_in_this_one(table: LiveTable) -> None:
    stray = said(table.order[0], "mass_g", 641.0, evening=new_id())
    (outcome,) = table.append([stray])
    assert not outcome.stored
    assert "another book" in outcome.words


def test_numbers_set_aside_for_two_devices_never_meet(table: LiveTable, table_book: Book) -> None:
    table_book.write("series", {"name": "own", "prefix": "B-", "width": 2, "first": 1, "use": "animal"})
    one, other = table.set_aside("phone", 4), table.set_aside("tablet", 4)
    more = table.set_aside("phone", 4)
    numbers = [n["number"] for n in itertools.chain(one, other, more)]
    assert 12 == len(set(numbers))
    # The demo's animals carry B-01 to B-03 here already.
    assert not set(numbers) & {table.subjects[s].number for s in table.order}
    assert check_character(one[0]["number"]) == one[0]["check"]


def test_a_book_without_a_series_sets_nothing_aside(table: LiveTable) -> None:
    assert [] == table.set_aside("phone", 4)


def test_an_animal_that_comes_late_has_fields_and_moves(table: LiveTable) -> None:
    late = said("", "animal", "frog", number="B-99", text="Hyla")
    late = dataclasses.replace(late, subject=late.id)
    write(table, late)
    one = table.subjects[late.id]
    assert ("B-99", "frog", True) == (one.number, one.form, one.added)
    assert "mass_g" in [f.key for f in table.fields_of(one)]
    assert "tail_mm" not in [f.key for f in table.fields_of(one)]
    assert table.book.by_label("animal", "B-99")


def test_every_animal_of_the_demo_is_drawn_for_every_move(table_book: Book) -> None:
    whole = LiveTable(table_book, read_plan(demo_plan()))
    for subject in whole.order:
        moves = whole.moves_of(whole.subjects[subject])
        assert moves
        for move in moves:
            drawn = whole.drawing(subject, move.key)
            assert drawn is not None
            assert drawn.startswith("<svg")
            assert "style=" not in drawn
            for number in move.injections[:1]:
                assert f">{number}</text>" in drawn


def test_the_moves_carry_all_that_is_planned(table_book: Book) -> None:
    """No filling of the plan is missing on the hands' screen, and none is there twice."""
    plan = demo_plan()
    whole = LiveTable(table_book, read_plan(plan))
    by_number = {a["field_number"]: a for a in plan["animals"]}
    for subject in whole.order:
        one = whole.subjects[subject]
        numbers = [n for move in whole.moves_of(one) for n in move.injections]
        assert sorted(i["number"] for i in by_number[one.number]["injections"]) == sorted(numbers)
        pricks = [n for move in whole.moves_of(one) for n in move.pricks]
        assert sorted(p["number"] for p in by_number[one.number]["pricks"]) == sorted(pricks)


def test_an_animal_not_fit_for_fluid_is_asked_for_nothing_beyond_the_first_round(table_book: Book) -> None:
    whole = LiveTable(table_book, read_plan(demo_plan()))
    spoilt = next(whole.subjects[s] for s in whole.order if whole.subjects[s].number == "B-12")
    assert {"before"} == {f.round for f in whole.fields_of(spoilt)}


def test_something_that_is_no_plan_is_said_to_be_none() -> None:
    for wrong in ({}, {"animals": 3, "table": {}}, {"animals": [{"form": "frog"}], "table": {}}):
        with pytest.raises(FindingsError):
            read_plan(wrong)


def test_every_caution_of_a_step_is_said_to_the_hands(table_book: Book) -> None:
    """What its own kind calls up is said at that animal, what holds for everybody once, and none is lost."""
    plan = demo_plan()
    texts = {c["key"]: c["text"] for c in plan["table"]["cautions"]}
    whole = LiveTable(table_book, read_plan(plan))
    by_number = {a["field_number"]: a for a in plan["animals"]}
    said = {
        whole.subjects[subject].number: [m.caution for m in whole.moves_of(whole.subjects[subject]) if m.caution]
        for subject in whole.order
    }
    for number, animal in by_number.items():
        called = {key for step in animal["steps"] if step["round"] != "cover" for key in step["cautions"]}
        for key in called & {"fangs_after_death", "cold_animals_revive", "gas_under_pressure", "skin_secretions"}:
            assert any(texts[key] in words for words in said[number]), (number, key)
        assert len(" ".join(said[number])) == len(" ".join(dict.fromkeys(said[number])))  # nothing twice
    everything = " ".join(words for lines in said.values() for words in lines)
    called = {
        key for a in by_number.values() for step in a["steps"] if step["round"] != "cover" for key in step["cautions"]
    }
    for key in called:
        assert texts[key] in everything, key
    assert 1 == everything.count(texts["needles"])
    assert 1 == everything.count(texts["alcohol_and_flames"])
