"""Two laptops that were apart: each takes in what the other wrote."""

import datetime
import shutil
import sqlite3

import pytest
from sqlalchemy import select

from keepfast.book.canonical import canonical
from keepfast.book.entries import Entry, link_hash, new_id, print_of
from keepfast.desk import taking_in as desk
from keepfast.desk.attaching import attach, folder_of, prove_files
from keepfast.desk.books import new_book, open_book
from keepfast.desk.checking import check_book
from keepfast.desk.taking_in import take_in
from keepfast.findings import FindingsError
from keepfast.store import taking_in
from keepfast.store.keeping import backup, restore
from keepfast.store.tables import thing

AT = datetime.datetime(2026, 3, 14, 21, 5, tzinfo=datetime.UTC)


@pytest.fixture
def laptops(tmp_path):
    """Two copies of one book, with one animal in both."""
    one, other = tmp_path / "one.keepfast", tmp_path / "other.keepfast"
    new_book(one, name="Trip")
    with open_book(one, who="Ana", device="one") as book:
        book.write("animal", {"field_number": "AB 1", "form": "frog"})
    restore(backup(one).path, other)
    return one, other


def write(path, number, device="", **content):
    with open_book(path, who="Ana", device=device or path.stem) as book:
        return book.write("animal", {"field_number": number, "form": "frog", **content}).id


def takes(path, other, **options):
    with open_book(path, who="Ana", device=path.stem) as book:
        return take_in(book, other, **{"apply": True, **options})


def state(path):
    """All things as they are derived, the chains' common head, and that the book proves."""
    with open_book(path, read_only=True) as book:
        with book.ledger.opened.engine.connect() as connection:
            things = connection.execute(select(thing).order_by(thing.c.kind, thing.c.id)).all()
        proof = book.ledger.prove()
        assert proof.sound, proof
        with book.reading() as reads:
            assert proof.head == reads.head()
        return things, proof.head, proof.entries


def test_after_both_took_in_the_other_they_hold_the_same(laptops):
    one, other = laptops
    write(one, "AB 2")
    frog = write(other, "AB 3")
    with open_book(other, who="Ben", device="other") as book:
        book.correct(frog, {"sex": "female"}, reason="looked again")

    there = takes(one, other).entries
    back = takes(other, one).entries

    assert (3, 2, 1, {"animal": 1}) == (there.there, there.new, there.only_here, there.things)
    assert (4, 1, 0) == (back.there, back.new, back.only_here)
    assert state(one) == state(other)
    assert 0 == takes(one, other).entries.new


@pytest.mark.parametrize("order", ["abcabc", "cbacba", "bacabc", "ccbbaa" * 2])
def test_three_laptops_come_to_hold_the_same_in_any_order(laptops, tmp_path, order):
    one, other = laptops
    third = tmp_path / "third.keepfast"
    restore(backup(one).path, third)
    ring = {"a": (one, other), "b": (other, third), "c": (third, one)}
    for i, path in enumerate((one, other, third)):
        write(path, f"AB {i + 2}")
    for step in order:
        takes(*ring[step])
        write(ring[step][0], f"CD {step}")
    for _round in range(2):
        for path, next_path in ring.values():
            takes(path, next_path)

    assert state(one) == state(other) == state(third)


def test_what_a_phone_sent_to_both_does_no_harm_and_both_chains_are_kept(laptops, tmp_path):
    one, other = laptops
    sent = [Entry("animal", {"field_number": f"PH {i}"}, "Cem", "phone", AT) for i in range(4)]
    with open_book(one) as book:
        book.append([sent[0], sent[1], sent[3]])
    write(one, "AB 2")
    with open_book(other) as book:
        book.append([sent[3], sent[2], sent[0]])
    write(other, "AB 3")

    assert (2, 2) == (takes(one, other).entries.new, takes(other, one).entries.new)
    assert state(one) == state(other)
    third = tmp_path / "third.keepfast"
    new_book(third)
    assert 8 - 1 == takes(third, other, another_book=True).entries.new
    assert state(one)[1] == state(third)[1]
    # The chains go on where they ended, also on the laptop that got a link to its own entry from elsewhere.
    for path in laptops:
        write(path, "AB 9")
        state(path)


def test_one_id_with_two_contents_is_refused_and_nothing_is_taken_in(laptops):
    one, other = laptops
    entry_id = new_id()
    for path, number in ((one, "AB 2"), (other, "AB 3")):
        write(path, number)
        with open_book(path) as book:
            book.append([Entry("jar", {"number": number}, "Ana", "phone", AT, entry_id)])
    before = state(one)

    with pytest.raises(FindingsError, match="this id stands for another entry here") as problem:
        takes(one, other)
    assert any(entry_id == finding.read for finding in problem.value.findings)
    assert before == state(one)


def test_a_look_writes_nothing(laptops):
    one, other = laptops
    write(other, "ab-001")
    before, size = state(one), one.stat().st_size

    seen = takes(one, other, apply=False)

    assert ({"AB 1": 2}, False) == (seen.entries.twins, seen.applied)
    assert (before, size) == (state(one), one.stat().st_size)


def test_numbers_that_both_gave_out_are_found_by_the_checks(laptops):
    one, other = laptops
    with open_book(one, device="one") as book:
        series = book.write("series", {"name": "CD", "prefix": "CD ", "first": 1, "use": "animal"}).id
    takes(other, one)
    for path in laptops:
        with open_book(path, device=path.stem) as book:
            book.reserve(series, 10)
            number = book.give_number(series)
        write(path, number)
    takes(one, other)

    with open_book(one, read_only=True) as book:
        failed = {answer.check for answer in check_book(book, now=AT + datetime.timedelta(days=900)).open}
    assert {"number_is_one", "blocks_apart"} <= failed


def hostile(path, content, kind="animal", **changed):
    """Write a row past the program, with a link that holds."""
    raw = sqlite3.connect(path)
    raw.row_factory = sqlite3.Row
    last = raw.execute("SELECT * FROM entry ORDER BY sequence DESC LIMIT 1").fetchone()
    row = {
        **dict(last), "sequence": last["sequence"] + 1, "number": last["number"] + 1, "previous": last["hash"],
        "id": new_id(), "content": content, "kind": kind, **changed,
    }  # fmt: skip
    said = [row["id"], row["device"], row["who"], row["at"], str(row["order_ms"]), row["kind"], row["content"]]
    row["hash"] = link_hash(row["store"], row["number"], row["previous"], print_of(said))
    names = ", ".join(row)
    raw.execute(f"INSERT INTO entry ({names}) VALUES ({', '.join('?' for _ in row)})", list(row.values()))
    raw.commit()
    raw.close()


@pytest.mark.parametrize(
    "changed",
    [
        {"content": '{"form":"dragon"}'},
        {"content": '{"field_number":"AB 7"'},
        {"content": '["field_number"]'},
        {"content": '{"field_number": "AB 7"}'},  # not in the canonical form
        {"content": '{"field_number":NaN}'},
        {"content": "[" * 5000},
        {"content": canonical({"field_number": "AB 7"}), "id": "1"},
        {"content": canonical({"field_number": "AB 7"}), "at": "yesterday"},
        {"content": canonical({"field_number": "AB 7"}), "at": "2026-03-14T21:05:00.000"},
        {"content": canonical({"field_number": "AB 7"}), "order_ms": -5},
        {"content": canonical({"field_number": "AB 7"}), "order_ms": "soon"},
        {"content": canonical({"field_number": "AB 7"}), "who": ""},
        {"content": "{}", "kind": "correction"},
    ],
)
def test_what_no_program_of_ours_can_have_written_is_refused(laptops, changed):
    one, other = laptops
    write(other, "AB 2")
    hostile(other, **changed)
    before = state(one)

    with pytest.raises(FindingsError):
        takes(one, other)
    assert before == state(one)


def test_a_kind_of_entry_that_is_not_known_yet_comes_along(laptops):
    one, other = laptops
    hostile(other, '{"of":"a newer program"}', kind="song")

    assert 1 == takes(one, other).entries.new
    assert 2 == state(one)[2]


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE entry SET who = 'Zoe' WHERE sequence = 2", "is not what was written"),
        ("DELETE FROM entry WHERE sequence = 2", "the chain is broken"),
        ("SELECT 1", "the guard entry_is_never_changed"),
    ],
)
def test_an_altered_book_is_not_believed(laptops, statement, words):
    one, other = laptops
    write(other, "AB 2")
    write(other, "AB 3")
    raw = sqlite3.connect(other)
    guards = dict(raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'entry'"))
    for name in guards:
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute(statement)
    if "SELECT" not in statement:
        for sql in guards.values():
            raw.execute(sql)
    raw.commit()
    raw.close()
    before = state(one)

    with pytest.raises(FindingsError, match=words):
        takes(one, other)
    assert before == state(one)


def test_a_failure_half_way_leaves_the_book_as_it_was(laptops, monkeypatch):
    one, other = laptops
    for i in range(2, 8):
        write(other, f"AB {i}")
    before = state(one)
    monkeypatch.setattr(taking_in, "STEP", 2)

    def pulls_the_plug(done, _of):
        if done > 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        takes(one, other, progress=pulls_the_plug)
    assert before == state(one)
    assert 6 == takes(one, other).entries.new
    assert state(one) == state(other)


def test_a_chain_that_was_written_on_in_two_copies_is_told_and_can_be_taken_in(laptops):
    one, other = laptops
    early = backup(one).path
    write(one, "AB 2")
    takes(other, one)
    shutil.copyfile(early, one)  # by hand, not with `book restore`
    write(one, "AB 3")

    with pytest.raises(FindingsError, match="gone two ways"):
        takes(one, other)
    with pytest.raises(FindingsError, match="gone two ways"):
        takes(other, one)
    assert 1 == len(takes(one, other, gone_apart=True).entries.apart)
    takes(other, one, gone_apart=True)
    assert state(one)[0] == state(other)[0]
    # Nothing is lacking any more, so nobody is asked again.
    assert 0 == takes(one, other).entries.new == takes(other, one).entries.new


def test_a_chain_of_its_own_that_comes_back_from_another_copy_goes_on(laptops):
    one, other = laptops
    early = backup(one).path
    write(one, "AB 2")
    takes(other, one)
    shutil.copyfile(early, one)
    takes(one, other)
    write(one, "AB 3")
    takes(other, one)

    assert state(one) == state(other)


def test_another_book_is_taken_in_only_when_that_is_said(laptops, tmp_path):
    one, _other = laptops
    stranger = tmp_path / "stranger.keepfast"
    new_book(stranger, name="River")
    write(stranger, "XY 1")

    assert not takes(one, stranger, apply=False).entries.same_book
    with pytest.raises(FindingsError, match="no copy of the book"):
        takes(one, stranger)
    assert 1 == takes(one, stranger, another_book=True).entries.new
    assert 2 == state(one)[2]


def test_a_book_is_not_taken_into_itself_nor_into_one_that_is_only_read(laptops):
    one, other = laptops
    with pytest.raises(FindingsError, match="one file"):
        takes(one, one)
    with open_book(one, read_only=True) as book, pytest.raises(FindingsError, match="reading only"):
        take_in(book, other, apply=True)


@pytest.mark.parametrize(
    "statement",
    ["UPDATE again SET number = 9", "DELETE FROM again", "INSERT OR REPLACE INTO again SELECT * FROM again"],
)
def test_the_database_itself_keeps_the_further_links(laptops, statement):
    one, other = laptops
    sent = Entry("jar", {"number": "7"}, "Cem", "phone", AT)
    for path in laptops:
        with open_book(path) as book:
            book.append([sent])
    takes(one, other)
    raw = sqlite3.connect(one)
    with pytest.raises(sqlite3.DatabaseError, match="a link is never"):
        raw.execute(statement)
    raw.rollback()
    for name in ("link_is_never_changed", "link_is_never_deleted"):
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute("UPDATE again SET hash = 'other'")
    raw.commit()
    raw.close()
    with open_book(one, read_only=True) as book:
        troubles = " ".join(book.ledger.prove().troubles)
    assert "link_is_never_changed" in troubles
    assert "is not what was written" in troubles


def test_a_book_of_before_further_links_were_kept_can_be_read_written_and_taken_in(laptops):
    one, other = laptops
    for path in laptops:
        raw = sqlite3.connect(path)
        raw.execute("DROP TABLE again")
        raw.commit()
        raw.close()
    assert 1 == state(one)[2]
    write(one, "AB 2")

    assert 1 == takes(other, one).entries.new
    assert state(one) == state(other)


def test_attached_files_come_along_and_an_altered_one_does_not(laptops, tmp_path):
    one, other = laptops
    for name in ("card.jpg", "call.wav"):
        (tmp_path / name).write_bytes(name.encode() * 100)
        with open_book(other) as book:
            attach(book, tmp_path / name, "animal", "AB 1")
    call = next(f for f in folder_of(other).rglob("*") if f.is_file() and f.read_bytes().startswith(b"call"))
    call.write_bytes(b"torn")
    # On the stick lie a backup and, beside it, the folder as it is called at home.
    stick = tmp_path / "stick"
    stick.mkdir()
    kept = backup(other, stick).path
    assert ("call.wav", "card.jpg") == takes(one, kept, apply=False).absent
    shutil.copytree(folder_of(other), stick / "other.keepfast.files")

    assert (1, ("call.wav",)) == (takes(one, kept, apply=False).files, takes(one, kept, apply=False).altered)
    assert not folder_of(one).exists()
    assert (1, 2) == (takes(one, kept).files, state(one)[2] - 1)
    with open_book(one, read_only=True) as book:
        files = prove_files(book)
    assert (1, (), ("call.wav",)) == (files.whole, files.altered, files.absent)


def test_those_who_listen_are_told_after_commit(laptops):
    one, other = laptops
    write(other, "AB 2")
    told = []
    with open_book(one) as book:
        book.listen(lambda written: told.append(([w.entry.content["field_number"] for w in written],
                                                 book.last_sequence())))  # fmt: skip
        desk.take_in(book, other)
        assert [] == told
        desk.take_in(book, other, apply=True)
    assert [(["AB 2"], 2)] == told
