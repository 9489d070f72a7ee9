"""Finding by number, name, place, day, jar, person and text, with slips of the finger forgiven."""

import pytest

from keepfast.book.searching import day_words, read_query, slips_of_number, words_of
from keepfast.desk.books import new_book, open_book


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "trip.keepfast"
    new_book(path)
    with open_book(path, who="Zoë Ångström", device="laptop") as book:
        trip = book.write("trip", {"name": "Alentejo in spring"})
        lagoon = book.write("place", {"name": "Lagoa Verde", "state_province": "Évora", "country_code": "PT"})
        ridge = book.write("place", {"name": "Cork ridge"})
        e1 = book.write("event", {"number": "E1", "trip": trip.id, "place": lagoon.id, "when": "2026-03-14",
                                  "by": ["Ana Prado"], "method": "by lamp"})  # fmt: skip
        e2 = book.write("event", {"number": "E2", "trip": trip.id, "place": ridge.id, "when": "2026-03-15/17"})
        jar = book.write("jar", {"number": "J-7", "shelf": "cabinet 3"})
        rows = [
            ("AB 12", "frog", "Hyla molleri", e1, "calling from reeds"),
            ("AB 13", "lizard", "Podarcis carbonelli", e2, "tail regrown"),
            ("AB 120", "salamander", "Pleurodeles waltl", e1, ""),
            ("XY 4512", "snake", "Natrix maura", e2, "under cork bark"),
        ]
        for number, form, taxon, event, remarks in rows:
            one = book.write("animal", {"field_number": number, "form": form, "event": event.id, "remarks": remarks})
            book.write("determination", {"animal": one.id, "taxon": taxon})
            if number == "AB 13":
                book.write("moved", {"animals": [one.id], "jar": jar.id})
                book.write("tissue", {"animal": one.id, "number": "T 900", "part": "liver"})
                book.write("catalogue_number", {"animal": one.id, "number": "MUS 55123"})
        yield book


def animals(book, text):
    return sorted(hit.label for hit in book.find(text).hits if hit.kind == "animal")


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        # exact: number, name, place, day, person, jar, text
        ("AB 12", ["AB 12"]),
        ("ab012", ["AB 12"]),
        ("AB-12", ["AB 12"]),
        ("12", ["AB 12"]),
        ("0012", ["AB 12"]),
        ("ab 012 hyla", ["AB 12"]),
        ("ab0012 hyla", ["AB 12"]),
        ("number:0120", ["AB 120"]),
        ("hyla", ["AB 12"]),
        ("lagoa verde", ["AB 12", "AB 120"]),
        ("evora", ["AB 12", "AB 120"]),
        ("2026-03-14", ["AB 12", "AB 120"]),
        ("14 March 2026", ["AB 12", "AB 120"]),
        ("16.3.2026", ["AB 13", "XY 4512"]),
        ("17/III/2026", ["AB 13", "XY 4512"]),
        ("March 2026", ["AB 12", "AB 120", "AB 13", "XY 4512"]),
        ("ana prado", ["AB 12", "AB 120"]),
        ("J7", ["AB 13"]),
        ("jar: J-7", ["AB 13"]),
        ("reeds", ["AB 12"]),
        ("lamp", ["AB 12", "AB 120"]),
        ("T900", ["AB 13"]),
        ("MUS 55123", ["AB 13"]),
        # all words must hold
        ("hyla ridge", []),
        ("podarcis ridge", ["AB 13"]),
        # beginnings
        ("podar", ["AB 13"]),
        # a part named
        ("place:cork", ["AB 13", "XY 4512"]),
        ("text:cork", ["XY 4512"]),
        # slips: a letter too few, too many, wrong, two swapped, two slips in a long word, a number
        ("podarics", ["AB 13"]),
        ("hylla", ["AB 12"]),
        ("natirx", ["XY 4512"]),
        ("pleurodelis", ["AB 120"]),
        ("carbonnelii", ["AB 13"]),
        ("natrx maurra", ["XY 4512"]),
        ("natrx bar", ["XY 4512"]),  # one word misspelt, the other only begun
        ("XY 4521", ["XY 4512"]),
        ("XY 4513", ["XY 4512"]),
        ("XY 452", ["XY 4512"]),
        ("XY 45l2", ["XY 4512"]),
        # what is too far is not guessed
        ("quadrangle", []),
        ("", []),
        ("!!!", []),
    ],
)
def test_the_animals_that_are_meant_are_found(book, asked, expected):
    assert sorted(expected) == animals(book, asked)


def test_a_number_comes_before_what_only_mentions_it(book):
    assert "AB 12" == book.find("AB 12").hits[0].label
    assert "number" == book.find("AB 12").hits[0].how


def test_it_is_said_which_word_was_taken_for_which(book):
    found = book.find("podarics")

    assert {"podarics": ("podarcis",)} == dict(found.read_as)
    assert {"near"} == {hit.how for hit in found.hits}


def test_other_things_are_found_too_and_kinds_can_be_chosen(book):
    kinds = {hit.kind for hit in book.find("evora").hits}

    assert {"place", "event", "animal"} <= kinds
    assert {"place"} == {hit.kind for hit in book.find("evora", kinds=["place"]).hits}
    assert ["J-7"] == [hit.label for hit in book.find("cabinet 3", kinds=["jar"]).hits]
    assert ["Alentejo in spring"] == [hit.label for hit in book.find("alentejo", kinds=["trip"]).hits]


def test_a_hit_tells_in_one_line_what_it_is(book):
    (hit,) = [hit for hit in book.find("carbonelli").hits if hit.kind == "animal"]

    assert "Podarcis carbonelli, 2026-03-15/17, Cork ridge, jar J-7, MUS 55123" == hit.line


def test_more_than_was_asked_for_is_said(book):
    found = book.find("2026", limit=2)

    assert (2, True) == (len(found.hits), found.more)


@pytest.mark.parametrize(
    "text", ['"', "AND", "NEAR(a b)", "a*", "*", "name:", "jar: jar:", "x" * 5000, "' OR 1=1 --", "\x00", "年" * 50,
             "number : 1", "-hyla", "{name}:x", "^a", "(", "a OR b NOT c", "2026-99-99", "99 March 2026"],
)  # fmt: skip
def test_hostile_or_odd_text_is_only_text(book, text):
    assert isinstance(book.find(text).hits, tuple)


def test_what_is_corrected_or_moved_is_found_by_its_new_words_and_not_by_the_old(tmp_path):
    new_book(tmp_path / "b")
    with open_book(tmp_path / "b") as book:
        place = book.write("place", {"name": "Lagoa Verde"})
        event = book.write("event", {"number": "E1", "place": place.id})
        animal = book.write("animal", {"field_number": "AB 1", "event": event.id})
        book.correct(place.id, {"name": "Fonte Fria"}, reason="misheard")
        assert ["AB 1"] == animals(book, "fonte fria")
        assert [] == animals(book, "lagoa verde")
        book.correct(animal.id, {"field_number": "AB 2"}, reason="misread")
        assert ([], ["AB 2"]) == (animals(book, "AB 1 fonte"), animals(book, "ab2"))
        assert book.ledger.prove().sound


def test_days_are_found_one_by_one_and_long_intervals_by_year():
    assert ("20260314", "202603", "2026") == day_words("2026-03-14")
    assert {"20261231", "20270101"} <= set(day_words("2026-12-31/2027-01-01"))
    assert ("2019", "2020") == day_words("2019-05/2020-02")
    assert () == day_words("soon")


def test_a_query_is_read_with_its_days_and_parts():
    query = read_query("jar: A 12 by:ana 14 March 2026 hyla")

    assert {("20260314", "day"), ("a", "jar"), ("12", "jar"), ("ana", "person"), ("hyla", "")} == {
        (one.word, one.part) for one in query.words
    }


def test_words_lose_case_and_accents():
    assert ["evora", "angstrom", "7"] == words_of("Évora, Ångström_7")


def test_slips_of_a_number_are_one_slip_away():
    slips = slips_of_number("121")

    assert {"211", "112", "122", "11", "1121", "1210"} <= set(slips)
    assert "121" not in slips
    assert len(slips) == len(set(slips))
