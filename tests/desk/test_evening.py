import dataclasses
import datetime
from importlib import resources
from pathlib import Path

import pytest

from keepfast.book.animals import Animal
from keepfast.desk.books import new_book, open_book
from keepfast.desk.evening import measured_kin, plan_of, read_animals, record_decision, record_plan
from keepfast.exchange.camp import read_camp
from keepfast.exchange.lists import read_list
from keepfast.findings import FindingsError
from keepfast.plan import as_json
from keepfast.plan.evening import Rules, plan_evening

DEMO = Path(str(resources.files("keepfast.demo")))
START = datetime.datetime(2026, 4, 18, 18, tzinfo=datetime.timezone(datetime.timedelta(hours=1)))


@pytest.fixture(scope="module")
def listed():
    return read_list(DEMO / "survey.csv", zone="Europe/Lisbon").animals


@pytest.fixture(scope="module")
def evening(listed):
    return plan_evening(listed, read_camp(DEMO / "camp.toml").camp, Rules.load(), start=START, size=50)


@pytest.fixture
def book(tmp_path):
    new_book(tmp_path / "trip.keepfast")
    with open_book(tmp_path / "trip.keepfast", who="Ana", device="laptop") as book:
        yield book


def test_animals_come_out_of_the_book_as_they_stood_in_the_list(book, evening, listed):
    record_plan(book, evening)

    read = read_animals(book)

    expected = sorted((dataclasses.replace(a, row=None) for a in listed), key=lambda a: a.field_number)
    assert expected == list(read.animals)
    assert book.ledger.prove().sound


def test_a_plan_comes_out_of_the_book_as_it_was_reckoned(book, evening):
    record_plan(book, evening)

    document, expected = plan_of(book), as_json.evening(evening)

    assert expected["table"] == document["table"]
    assert expected["animals"] == document["animals"]
    assert (expected["camp"], expected["protocol"]) == (document["camp"], document["protocol"])


def test_one_plan_recorded_twice_is_written_once(book, evening):
    first = record_plan(book, evening)
    entries = book.last_sequence()

    assert first == record_plan(book, evening)
    assert entries == book.last_sequence()


def test_a_plan_recorded_on_top_of_known_animals_adds_only_plans(book, evening, listed):
    book.write("animal", {"field_number": listed[0].field_number, "form": listed[0].form})
    record_plan(book, evening)

    assert len(listed) == len(book.things("animal"))
    assert plan_of(book)["animals"][0]["field_number"] == evening.animals[0].animal.field_number


def test_what_lies_in_fixative_is_not_planned_again(book):
    ids = [book.write("animal", {"field_number": f"B {i}", "form": "frog"}).id for i in range(3)]
    book.write("preparation_done", {"animal": ids[0], "step": "fill", "delivered_ml": 1.0})
    book.write("preparation_done", {"animal": ids[1], "step": "prick"})

    assert ["B 1", "B 2"] == [a.field_number for a in read_animals(book).animals]
    assert ["B 0", "B 1", "B 2"] == [a.field_number for a in read_animals(book, all_=True).animals]
    assert ["B 0"] == [a.field_number for a in read_animals(book, numbers=["b0"]).animals]


def test_what_was_read_is_known_by_the_record_and_not_by_the_file(book):
    book.write("animal", {"field_number": "B 1", "form": "frog"})
    before = read_animals(book).sha256
    book.ledger.prove()

    assert before == read_animals(book).sha256
    book.write("animal", {"field_number": "B 2", "form": "frog"})
    assert before != read_animals(book).sha256


def test_twins_and_animals_without_a_form_are_said_together(book):
    for _ in range(2):
        book.write("animal", {"field_number": "B 1", "form": "frog"})
    book.write("animal", {"field_number": "B 2"})

    with pytest.raises(FindingsError, match="two animals carry this number") as problem:
        read_animals(book)
    assert {"B 1", "B 2"} == {finding.subject for finding in problem.value.findings}


def test_a_decision_is_kept_with_its_reckoning(book):
    frog = book.write("animal", {"field_number": "B 1", "form": "frog"}).id
    record_decision(book, "race", "tonight, before the others", animals=["B 1"], reason="warm", result={"left_h": 1.5})

    (decision,) = book.state("animal", frog)["decisions"]
    assert ("race", "tonight, before the others") == (decision["reckoning"], decision["choice"])
    with book.reading() as reads:
        assert {"left_h": 1.5} == reads.fact(decision["entry"]).content["result"]


def test_a_decision_for_an_unknown_animal_or_jar_is_refused_and_writes_nothing(book):
    before = book.last_sequence()
    with pytest.raises(FindingsError, match="no animal"):
        record_decision(book, "race", "now", animals=["B 77"])
    with pytest.raises(FindingsError, match="no jar"):
        record_decision(book, "steps", "70", jar="12")

    assert before == book.last_sequence()


def test_an_animal_keeps_all_that_was_observed_on_its_way_through_the_book(book):
    from keepfast.desk.evening import observed_entries

    seen = Animal(
        "B 9", "snake", "Natrix maura", "female", "adult", 412.5, "snout_vent", 101.0, "broken", 88.25, 17.0, 14.5,
        "eggs", "full", "rigor", START, 4.5, 1, "found on the road", "colubrid",
    )  # fmt: skip
    book.append(observed_entries(book, seen, "01980000-0000-7000-8000-000000000009"))

    assert (seen,) == read_animals(book).animals


def test_the_measured_of_a_species_are_found_whatever_became_of_them(book, evening):
    record_plan(book, evening)
    done = next(state["id"] for state in book.animal_states() if state["field_number"] == "B-02")
    book.write("preparation_done", {"animal": done, "step": "fill", "delivered_ml": 40.0})

    found = measured_kin(book, ["Timon lepidus", "Tarentola mauritanica"])

    # B-07, the gecko, was never weighed.
    assert ["B-02", "B-03"] == [one.field_number for one in found]
    assert () == measured_kin(book, [])
