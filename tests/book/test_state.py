import datetime
import itertools

from keepfast.book.entries import Entry, new_id
from keepfast.book.state import animal_of, derive, fact_of, resolve

START = datetime.datetime(2026, 3, 14, 20, tzinfo=datetime.UTC)


class Writing:
    """Writes entries a minute apart."""

    def __init__(self):
        self.minutes = itertools.count()

    def __call__(self, kind, content, who="Ana"):
        return Entry(kind, content, who, "laptop", START + datetime.timedelta(minutes=next(self.minutes)))


def state_of(animal, *entries, kind="animal"):
    corrections = [fact_of(e) for e in entries if e.kind == "correction"]
    return derive(kind, animal, [resolve(fact_of(e), corrections) for e in entries if e.kind != "correction"])


def correction(write, of, reason="slip", **more):
    return write("correction", {"entry": of.id, "of_kind": of.kind, "reason": reason, **more})


def test_a_later_word_replaces_an_earlier_one_and_what_was_not_said_stays():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1", "form": "frog", "sex": "male"})
    more = write("animal", {"animal": frog.id, "sex": "female"})

    state = state_of(frog.id, more, frog)

    assert ("frog", "female", "AB 1") == (state["form"], state["sex"], state["field_number"])


def test_measurements_are_all_kept_and_the_last_fresh_one_counts():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1", "form": "frog"})
    fresh = write("measurement", {"animal": frog.id, "values": {"length_mm": 41.0, "mass_g": 6.2}})
    again = write("measurement", {"animal": frog.id, "values": {"length_mm": 41.5}})
    years = write("measurement", {"animal": frog.id, "values": {"length_mm": 39.0}, "state": "in storage"})

    state = state_of(frog.id, frog, years, again, fresh)

    assert 3 == len(state["measurements"])
    assert {"length_mm": 41.5, "mass_g": 6.2, "length_kind": "snout_vent"} == state["measured"]
    assert (41.5, 6.2) == (animal_of(state).length_mm, animal_of(state).mass_g)


def test_the_name_of_the_last_determination_counts_even_when_an_older_card_is_typed_in_later():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1"})
    new = write("determination", {"animal": frog.id, "taxon": "Hyla orientalis", "on": "2020"})
    card = write("determination", {"animal": frog.id, "taxon": "Hyla arborea", "on": "1932-10-15"})

    state = state_of(frog.id, frog, new, card)

    assert "Hyla orientalis" == state["taxon"]
    assert ["Hyla orientalis", "Hyla arborea"] == [d["taxon"] for d in state["determinations"]]


def test_a_correction_changes_what_it_names_and_leaves_its_trace():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1"})
    slip = write("measurement", {"animal": frog.id, "values": {"mass_g": 62}})
    right = correction(write, slip, set={"values": {"mass_g": 6.2}}, reason="comma forgotten")

    state = state_of(frog.id, frog, slip, right)

    assert 6.2 == state["measured"]["mass_g"]
    assert ("comma forgotten", ["values"]) == (state["corrections"][0]["reason"], state["corrections"][0]["fields"])


def test_a_correction_may_be_corrected_and_withdrawn():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1", "sex": "male"})
    wrong = correction(write, frog, set={"sex": "female"})
    better = correction(write, wrong, set={"set": {"sex": "unknown"}})

    assert "unknown" == state_of(frog.id, frog, wrong, better)["sex"]
    assert "male" == state_of(frog.id, frog, wrong, correction(write, wrong, withdraw=True))["sex"]


def test_a_measurement_written_to_the_wrong_animal_moves_to_the_right_one():
    write = Writing()
    one, other = (write("animal", {"field_number": number}) for number in ("AB 1", "AB 2"))
    mass = write("measurement", {"animal": one.id, "values": {"mass_g": 6}})
    right = correction(write, mass, set={"animal": other.id})

    assert "measured" not in state_of(one.id, one, mass, right)
    assert 6 == state_of(other.id, other, mass, right)["measured"]["mass_g"]


def test_a_withdrawn_animal_says_why():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1"})

    assert "let go" == state_of(frog.id, frog, correction(write, frog, withdraw=True, reason="let go"))["withdrawn"]


def test_a_correction_of_another_kind_than_it_says_is_passed_over():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1", "remarks": "ok"})
    strange = write("correction", {"entry": frog.id, "of_kind": "jar", "set": {"remarks": "hm"}, "reason": "?"})

    assert "ok" == state_of(frog.id, frog, strange)["remarks"]


def test_corrections_that_name_one_another_in_a_ring_come_to_an_end():
    write = Writing()
    ids = new_id(), new_id()
    ring = [
        Entry(
            "correction", {"entry": other, "of_kind": "correction", "withdraw": True, "reason": "?"}, "A", "b", id=one
        )
        for one, other in (ids, ids[::-1])
    ]
    frog = write("animal", {"field_number": "AB 1", "sex": "male"})

    assert "male" == state_of(frog.id, frog, *ring)["sex"]


def test_where_an_animal_lies_is_the_last_move_by_the_hour_it_was_done():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1"})
    tray, jar = new_id(), new_id()
    into_jar = write("moved", {"animals": [frog.id], "jar": jar, "at": "2026-03-20T09:00:00+00:00"})
    into_tray = write("moved", {"animals": [frog.id], "tray": tray, "at": "2026-03-14T23:00:00+00:00"})

    assert jar == state_of(frog.id, frog, into_jar, into_tray)["container"]["jar"]


def test_steps_left_out_are_listed_but_not_done():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1"})
    done = write("preparation_done", {"animal": frog.id, "step": "fill", "number": 1, "delivered_ml": 1.2,
                                      "retained_ml": 1.1})  # fmt: skip
    out = write("preparation_done", {"animal": frog.id, "step": "prick", "outcome": "left out", "reason": "thin skin"})

    state = state_of(frog.id, frog, done, out)

    assert ["fill"] == state["steps_done"]
    assert [(1.2, 1.1), (None, None)] == [(d.get("delivered_ml"), d.get("retained_ml")) for d in state["done"]]


def test_a_large_plan_is_left_in_its_entry():
    write = Writing()
    evening = write("evening", {"name": "first", "plan": {"table": [1, 2]}, "animals": []})

    state = state_of(evening.id, evening, kind="evening")

    assert "plan" not in state
    assert {"plan": evening.id} == state["held"]


def test_what_came_before_its_animal_waits_for_it():
    write = Writing()
    frog = write("animal", {"field_number": "AB 1"})
    mass = write("measurement", {"animal": frog.id, "values": {"mass_g": 6}})

    assert "entered" not in state_of(frog.id, mass)
    assert state_of(frog.id, frog, mass) == state_of(frog.id, mass, frog)
