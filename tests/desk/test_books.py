import threading

import pytest

from keepfast.desk.books import about, account_of_series, new_book, open_book
from keepfast.findings import FindingsError


@pytest.fixture
def book(tmp_path):
    new_book(tmp_path / "trip.keepfast", name="River trip")
    with open_book(tmp_path / "trip.keepfast", who="Ana", device="laptop") as book:
        yield book


@pytest.fixture
def series(book):
    return book.write("series", {"name": "AB", "prefix": "AB ", "width": 3, "first": 1, "use": "animal"}).id


def test_two_devices_never_give_one_number(book, series):
    book.reserve(series, 3)
    book.reserve(series, 3, device="phone")

    given = [book.give_number(series), book.give_number(series, device="phone"), book.give_number(series)]

    assert ["AB 001", "AB 004", "AB 002"] == given
    assert "AB 003" == book.next_number(series)


def test_a_device_without_numbers_left_is_told_so(book, series):
    book.reserve(series, 1)
    book.give_number(series)
    with pytest.raises(FindingsError, match="no number of that series left"):
        book.give_number(series)
    with pytest.raises(FindingsError, match="no number of that series left"):
        book.give_number(series, device="phone")
    with pytest.raises(FindingsError, match="no such series"):
        book.give_number("01980000-0000-7000-8000-000000000000")


def test_a_number_written_by_hand_is_not_given_again(book, series):
    book.reserve(series, 5)
    book.write("animal", {"field_number": "ab-2"})

    assert "AB 003" == book.give_number(series)


def test_a_number_is_not_given_again_when_its_animal_is_withdrawn_or_corrected(book, series):
    book.reserve(series, 5)
    one = book.write("animal", {"field_number": book.give_number(series)})
    book.correct(one.id, {"field_number": "XY 9"}, reason="other series")
    two = book.write("animal", {"field_number": book.give_number(series)})
    book.correct(two.id, reason="let go", withdraw=True)

    assert "AB 003" == book.give_number(series)


def test_a_block_follows_what_a_collector_has_already_used(book):
    series = book.write("series", {"name": "JS", "prefix": "JS ", "use": "animal"}).id
    book.write("animal", {"field_number": "JS 4711"})

    assert ("JS 4712", "JS 4721") == book.reserve(series, 10)


def test_a_series_that_ends_says_so(book):
    series = book.write("series", {"name": "short", "prefix": "S", "first": 1, "last": 5}).id
    book.reserve(series, 5)
    with pytest.raises(FindingsError, match="not so many numbers left"):
        book.reserve(series, 1)


def test_many_threads_get_numbers_of_their_own(book, series):
    book.reserve(series, 200)
    given = []
    threads = [
        threading.Thread(target=lambda: given.extend(book.give_number(series) for _ in range(10))) for _ in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert 60 == len(given) == len(set(given))


def test_every_number_of_a_series_is_accounted_for(book, series):
    book.reserve(series, 4)
    for _ in range(3):
        number = book.give_number(series)
    book.write("animal", {"field_number": "AB 001"})
    book.write("animal", {"field_number": "AB 006"})
    book.write("number_explained", {"series": series, "first": 5, "last": 5, "reason": "label torn"})

    told = account_of_series(book, series)

    assert "AB 003" == number
    assert (2, 3) == (told["used"], told["given"])
    assert [
        ("AB 002", "AB 003", "given out on laptop, carried by nothing"),
        ("AB 004", "AB 004", "set aside for laptop, not given out"),
        ("AB 005", "AB 005", "label torn"),
    ] == [(g["first"], g["last"], g["reason"]) for g in told["gaps"]]


def test_animals_are_read_by_trip_event_tray_and_jar(book):
    trip = book.write("trip", {"name": "one"}).id
    events = [book.write("event", {"number": f"E{i}", "trip": trip}).id for i in range(2)]
    ids = [
        book.write("animal", {"field_number": f"B {i}", "form": "frog", "event": events[i % 2]}).id for i in range(12)
    ]
    jar = book.write("jar", {"number": "1"}).id
    tray = book.write("tray", {"number": "1"}).id
    book.write("moved", {"animals": ids[:4], "tray": tray})
    book.write("moved", {"animals": ids[:2], "jar": jar})
    book.write("animal", {"field_number": "Z 1", "form": "frog"})

    def numbers(**where):
        return [animal.field_number for animal in book.animals(**where)]

    assert [f"B {i}" for i in range(12)] == numbers(trip=trip)
    assert [f"B {i}" for i in (0, 2, 4, 6, 8, 10)] == numbers(event=events[0])
    assert ["B 0", "B 1"] == numbers(jar=jar)
    assert ["B 2", "B 3"] == numbers(tray=tray)
    assert ["B 3"] == numbers(tray=tray, event=events[1])
    assert 13 == len(numbers())


def test_a_withdrawn_animal_is_not_read(book):
    one = book.write("animal", {"field_number": "B 1"})
    book.correct(one.id, reason="let go", withdraw=True)

    assert () == book.animals()
    assert "let go" == book.state("animal", one.id)["withdrawn"]


def test_what_a_book_holds_is_told(book):
    book.write("animal", {"field_number": "B 1"})
    told = about(book)

    assert ("River trip", 1, {"animal": 1}, "Ana") == (told["name"], told["entries"], told["things"], told["last_by"])


def test_correcting_what_is_not_there_is_refused(book):
    with pytest.raises(FindingsError, match="no such entry"):
        book.correct("01980000-0000-7000-8000-000000000000", {"sex": "male"}, reason="slip")
