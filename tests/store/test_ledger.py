import datetime
import sqlite3

import pytest

from keepfast.book.entries import FIRST_LINK, Entry, link_hash, new_id
from keepfast.desk.books import new_book, open_book
from keepfast.findings import FindingsError

AT = datetime.datetime(2026, 3, 14, 21, 5, tzinfo=datetime.UTC)


@pytest.fixture
def path(tmp_path):
    new_book(tmp_path / "trip.keepfast", name="trip")
    return tmp_path / "trip.keepfast"


@pytest.fixture
def book(path):
    with open_book(path, who="Ana", device="laptop") as book:
        yield book


def animal(number, **more):
    return Entry("animal", {"field_number": number}, "Ana", "phone", AT, **more)


def test_what_was_written_is_read_again_as_it_was(book):
    entry = Entry(
        "place",
        {"name": "Fonte “das Rãs” \U0001f438", "latitude": 37.05, "elevation_low_m": -0.0, "remarks": "a\nb\tc"},
        "Zoë", "phone", datetime.datetime(2026, 3, 14, 21, 5, 1, 500_000, tzinfo=datetime.UTC),
    )  # fmt: skip
    (done,) = book.append([entry])

    (written,) = book.read_since(0)
    assert (done.sequence, done.new) == (written.sequence, True)
    assert entry == written.entry
    assert entry.text == written.entry.text


def test_sending_twice_does_no_harm(book):
    entry = animal("AB 1")
    first = book.append([entry])
    again = book.append([entry, entry])

    assert [(first[0].sequence, False)] * 2 == [(a.sequence, a.new) for a in again]
    assert 1 == book.last_sequence()


def test_one_id_for_two_entries_is_refused_and_nothing_of_the_batch_is_written(book):
    entry = animal("AB 1")
    book.append([entry])

    with pytest.raises(FindingsError, match="stands for another entry"):
        book.append([animal("AB 2"), animal("AB 3", id=entry.id)])
    one = animal("AB 4")
    with pytest.raises(FindingsError, match="stands for another entry"):
        book.append([one, animal("AB 5", id=one.id)])
    assert 1 == book.last_sequence()


def test_one_bad_entry_keeps_the_whole_batch_out_and_all_that_is_wrong_is_said(book):
    with pytest.raises(FindingsError) as problem:
        book.append(
            [animal("AB 1"), Entry("animal", {"form": "dragon"}, "Ana", "x", AT), Entry("jar", {}, "", "x", AT)]
        )

    assert {"form", "who", "number"} <= {f.field for f in problem.value.findings}
    assert 0 == book.last_sequence()


def test_entries_are_chained_by_hash(book):
    for i in range(3):
        book.append([animal(f"AB {i}")])
    chain = book.read_since(0)

    previous = FIRST_LINK
    for number, written in enumerate(chain, 1):
        assert (number, previous) == (written.number, written.previous)
        previous = link_hash(written.store, number, previous, written.entry.print)
        assert previous == written.hash


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET who = 'somebody else'",
        "DELETE FROM entry",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry",
        "REPLACE INTO entry SELECT sequence, id, store, number + 9, previous, hash, device, who, at, order_ms, kind,"
        " content FROM entry",
        "INSERT INTO entry SELECT sequence + 9, id, store, number + 9, previous, hash, device, who, at, order_ms, kind,"
        " content FROM entry",
        "UPDATE OR REPLACE entry SET sequence = 2",
    ],
)
def test_the_database_itself_refuses_to_change_or_delete_an_entry(book, path, statement):
    book.append([animal("AB 1")])
    raw = sqlite3.connect(path)
    with pytest.raises(sqlite3.DatabaseError, match="never"):
        raw.execute(statement)
    raw.rollback()

    assert ["AB 1"] == [row[0] for row in raw.execute("SELECT json_extract(content, '$.field_number') FROM entry")]
    raw.close()


def test_others_are_told_after_commit_and_not_when_it_failed(book):
    told = []
    stop = book.listen(lambda written: told.append((len(written), book.last_sequence())))
    book.append([animal("AB 1"), animal("AB 2")])
    with pytest.raises(FindingsError):
        book.append([Entry("animal", {}, "Ana", "x", AT)])
    stop()
    book.append([animal("AB 3")])

    assert [(2, 2)] == told


def test_reading_on_goes_in_pieces(book):
    book.append([animal(f"AB {i}") for i in range(25)])

    first = book.read_since(0, 10)
    rest = book.read_since(first[-1].sequence, 100)
    assert list(range(1, 26)) == [w.sequence for w in first + rest]


def test_the_order_holds_where_a_clock_jumps_back(book, monkeypatch):
    from keepfast.desk import books

    clock = [datetime.datetime(2026, 3, 14, 21, 5, tzinfo=datetime.UTC)]
    monkeypatch.setattr(books, "now", lambda: clock[0])
    frog = book.write("animal", {"field_number": "AB 1", "sex": "male"})
    clock[0] -= datetime.timedelta(days=400)
    book.write("animal", {"animal": frog.id, "sex": "female"})

    assert "female" == book.state("animal", frog.id)["sex"]
    assert ["2026-03-14", "2025-02-07"] == [w.entry.at_text[:10] for w in book.read_since(0)]
    with book.reading() as reads:
        assert {"laptop": pytest.approx(400 * 1440, rel=1e-6)} == reads.clock_jumps()


def test_one_clock_years_ahead_does_not_pull_the_others_along(book):
    book.append([Entry("animal", {"field_number": "AB 1"}, "Ana", "phone", AT.replace(year=2090))])

    assert book.entry("jar", {"number": "1"}).order_ms < 3_000_000_000_000


def test_a_file_that_was_copied_writes_a_chain_of_its_own(book, path, tmp_path):
    book.append([animal("AB 1")])
    import shutil

    book.close()
    shutil.copyfile(path, tmp_path / "copy.keepfast")
    with open_book(tmp_path / "copy.keepfast") as copy, open_book(path) as original:
        copy.append([animal("AB 2")])
        original.append([animal("AB 3")])
        here, there = original.read_since(1)[0], copy.read_since(1)[0]

        assert original.id == copy.id
        assert here.store != there.store
        assert (1, FIRST_LINK) == (there.number, there.previous)
        assert copy.ledger.prove().sound


def test_the_same_book_opened_twice_goes_on_with_its_chain(path):
    for i in range(2):
        with open_book(path) as book:
            book.append([animal(f"AB {i}")])
    with open_book(path) as book:
        assert [1, 2] == [w.number for w in book.read_since(0)]


def test_a_correction_that_comes_before_its_entry_waits_for_it(book):
    entry = animal("AB 1")
    fix = {"entry": entry.id, "of_kind": "animal", "set": {"field_number": "AB 7"}, "reason": "tag misread"}
    book.append([Entry("correction", fix, "Ana", "phone", AT)])
    book.append([entry])

    assert "AB 7" == book.state("animal", entry.id)["field_number"]
    assert book.ledger.prove().sound


def test_an_unknown_kind_of_a_newer_program_is_kept_and_passed_over(book):
    from keepfast.store.ledger import _write

    strange = Entry("dream", {"of": "rain"}, "Ana", "phone", AT)
    with book.ledger.opened.engine.connect().execution_options(write=True) as connection, connection.begin():
        _write(connection, new_id(), [strange])

    assert "dream" == book.read_since(0)[0].entry.kind
    assert book.ledger.prove().sound
