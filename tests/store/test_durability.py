"""What may befall a book in camp: a killed program, many at once, a full disk, a torn copy, a locked stick."""

import contextlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from sqlalchemy import event

from keepfast.desk.books import Book, about, new_book, open_book
from keepfast.desk.checking import check_book
from keepfast.findings import FindingsError
from keepfast.store.keeping import backup

WORKERS = Path(__file__).with_name("workers.py")


def start(*arguments):
    return subprocess.Popen([sys.executable, str(WORKERS), *map(str, arguments)], stdout=subprocess.PIPE, text=True)


def answer(process):
    out, _nothing = process.communicate(timeout=900)
    assert process.returncode == 0
    return json.loads(out)


@pytest.fixture
def path(tmp_path):
    new_book(tmp_path / "trip.keepfast", name="trip")
    return tmp_path / "trip.keepfast"


def shoot(path, times):
    found = answer(start("shoot", path, times, 14))

    assert [] == found["lost"]
    assert [] == found["unsound"]
    assert found["acknowledged"] >= times
    # Else the shots fell between the writes and told nothing.
    assert found["in_flight"] > times / 10


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_a_program_killed_in_mid_write_loses_nothing_it_has_acknowledged(path):
    shoot(path, 50)


@pytest.mark.long
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_a_thousand_killed_programs_lose_nothing_they_have_acknowledged(path):
    shoot(path, 1000)


def test_two_writers_and_ten_readers_get_on_with_one_another(path):
    with open_book(path, device="one block") as book:
        series = book.write("series", {"name": "AB", "prefix": "AB "}).id
        book.reserve(series, 1000)
    readers = [start("read", path, 2.5, 5) for _ in range(2)]
    writers = [start("write", path, name, 120, series) for name in ("Ana", "Ben")]
    wrote = [answer(process) for process in writers]
    looked = [answer(process) for process in readers]

    numbers = [number for one in wrote for number in one["numbers"]]
    assert 240 == len(set(numbers))
    assert [[], []] == [one["troubles"] for one in looked]
    assert all(one["looks"] > 0 for one in looked)
    with open_book(path) as book:
        assert {i for one in wrote for i in one["acknowledged"]} == {a["id"] for a in book.things("animal")}
        assert book.ledger.prove().sound


def write_until_it_fails(book):
    for i in range(2000):
        book.write("animal", {"field_number": f"CD {i}", "remarks": "x" * 3000})


def test_a_full_disk_leaves_the_book_as_it_was(path):
    with open_book(path) as book:
        book.write("animal", {"field_number": "AB 1"})
        pages = []

        # SQLite's own limit answers as a full disk does (SQLITE_FULL), on any machine.
        @event.listens_for(book.ledger.opened.engine, "begin")
        def fill(connection):
            pages.append(connection.exec_driver_sql("PRAGMA page_count").scalar())
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages[0]}")

        with pytest.raises(FindingsError, match="disk is full"):
            write_until_it_fails(book)
        last = book.last_sequence()
        proof = book.ledger.prove()
    with open_book(path) as book:
        assert proof.sound
        assert last == book.last_sequence() == proof.entries
        book.write("animal", {"field_number": "AB 2"})


@contextlib.contextmanager
def small_drive(folder, size="600k"):
    folder.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", folder], capture_output=True)
    if made.returncode:
        pytest.skip("needs leave to mount a small drive")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", folder], check=True)


def test_a_really_full_drive_leaves_the_book_as_it_was(tmp_path):
    with small_drive(tmp_path / "stick") as stick:
        path = stick / "trip.keepfast"
        new_book(path)
        with open_book(path) as book, pytest.raises(FindingsError, match=r"full|drive"):
            write_until_it_fails(book)
        with open_book(path, read_only=True) as book:
            assert book.ledger.prove().sound
            assert book.last_sequence() > 0


def test_a_stick_with_its_lock_on_is_read_and_not_written(tmp_path):
    with small_drive(tmp_path / "stick", "4m") as stick:
        path = stick / "trip.keepfast"
        new_book(path)
        with open_book(path) as book:
            book.write("animal", {"field_number": "AB 1"})
        subprocess.run(["mount", "-o", "remount,ro", stick], check=True)
        with open_book(path) as book:
            assert ["AB 1"] == [animal.field_number for animal in book.animals()]
            assert book.ledger.prove().sound
            with pytest.raises(FindingsError, match="reading only"):
                book.write("animal", {"field_number": "AB 2"})


def test_a_book_that_cannot_be_written_is_read_with_the_log_beside_it(path, tmp_path, monkeypatch):
    locked = tmp_path / "locked"
    locked.mkdir()
    with open_book(path) as book:
        book.write("animal", {"field_number": "AB 1"})
        # As a stick that was pulled out: the last entry is only in the log.
        for name in (path.name, path.name + "-wal"):
            shutil.copyfile(path.with_name(name), locked / name)
    truth = os.access
    monkeypatch.setattr(os, "access", lambda p, mode: mode != os.W_OK and truth(p, mode))
    with open_book(locked / path.name) as book:
        assert book.read_only
        assert ["AB 1"] == [animal.field_number for animal in book.animals()]
        borrowed = book.ledger.opened.borrowed
        assert borrowed is not None
        assert 0o700 == borrowed.stat().st_mode & 0o777
    assert not borrowed.exists()
    assert {path.name, path.name + "-wal"} == {p.name for p in locked.iterdir()}


def filled(path, count=300):
    with open_book(path) as book:
        for i in range(0, count, 10):
            book.append(
                [book.entry("animal", {"field_number": f"AB {i + k}", "remarks": "r" * 200}) for k in range(10)]
            )


def outcome(path):
    """What a person would be told of this file: sound, or the sentences."""
    try:
        with open_book(path) as book:
            proof = book.ledger.prove()
            return "sound" if proof.sound else " ".join(proof.troubles + proof.derived_troubles)
    except FindingsError as problem:
        return str(problem)


@pytest.mark.parametrize("share", [0.0, 0.001, 0.01, 0.3, 0.6, 0.95, 0.999])
def test_a_torn_copy_is_never_taken_for_whole(path, tmp_path, share):
    filled(path)
    torn = tmp_path / "torn.keepfast"
    raw = path.read_bytes()
    torn.write_bytes(raw[: int(len(raw) * share)])

    said = outcome(torn)

    assert "sound" != said
    assert "Traceback" not in said


@pytest.mark.parametrize("seed", range(6))
def test_a_page_that_went_bad_is_noticed(path, tmp_path, seed):
    import random

    filled(path)
    luck = random.Random(seed)
    raw = bytearray(path.read_bytes())
    # Overwrite the middle of a page that is in use, as a failing card does.
    start_at = 4096 * luck.randrange(3, len(raw) // 4096 - 1) + 1500
    before = bytes(raw[start_at : start_at + 700])
    raw[start_at : start_at + 700] = bytes(b ^ 0x5A for b in before)
    bad = tmp_path / "bad.keepfast"
    bad.write_bytes(raw)

    said = outcome(bad)

    # A page may be empty in its middle, where nothing is lost; then the book must be whole.
    assert said != "sound" or not any(before)


@pytest.mark.parametrize("share", [0.05, 0.2, 0.5, 0.8, 0.97])
def test_a_log_torn_by_a_power_cut_costs_only_its_end(path, tmp_path, share):
    with open_book(path) as book:
        ids = [book.write("animal", {"field_number": f"AB {i}"}).id for i in range(60)]
        cut = tmp_path / "cut.keepfast"
        shutil.copyfile(path, cut)
        log = Path(f"{path}-wal").read_bytes()
        Path(f"{cut}-wal").write_bytes(log[: int(len(log) * share)])
    with open_book(cut) as book:
        assert book.ledger.prove().sound
        held = [written.entry.id for written in book.read_since(0)]
    # What is there is a beginning of what was written, without a hole.
    assert held == ids[: len(held)]


def test_an_altered_entry_shows_even_when_its_guards_were_taken_away(path):
    filled(path, 20)
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER entry_is_never_changed")
    raw.execute("UPDATE entry SET content = replace(content, 'AB 7', 'AB 8') WHERE content LIKE '%AB 7\"%'")
    raw.commit()
    raw.close()

    said = outcome(path)

    assert "not what was written" in said
    assert "guard" in said


def test_a_lost_entry_shows(path):
    filled(path, 20)
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER entry_is_never_deleted")
    raw.execute("DELETE FROM entry WHERE sequence = 7")
    raw.commit()
    raw.close()

    assert "missing" in outcome(path)


@pytest.mark.parametrize("kind", ["animal", "correction", "number_given", "series"])
@pytest.mark.parametrize(
    "content",
    ['{"field_num', "[1]", "{}", '{"entry":5,"of_kind":7,"reason":1}', '{"animal":[1],"series":[1],"number":"x"}',
     b"\xff\xfe", '{"field_number":{"a":1}}'],
)  # fmt: skip
def test_whatever_an_altered_entry_says_it_is_told_and_nothing_breaks(path, kind, content):
    with open_book(path) as book:
        frog = book.write("animal", {"field_number": "AB 1"}).id
        series = book.write("series", {"name": "AB", "prefix": "AB "}).id
        book.write("number_given", {"series": series, "number": 4, "device": "laptop"})
        book.correct(frog, {"sex": "female"}, reason="looked again")
    raw = sqlite3.connect(path)
    guard = raw.execute("SELECT sql FROM sqlite_master WHERE name = 'entry_is_never_changed'").fetchone()[0]
    raw.execute("DROP TRIGGER entry_is_never_changed")
    raw.execute("UPDATE entry SET content = ? WHERE kind = ?", (content, kind))
    raw.execute(guard)
    raw.commit()
    raw.close()

    assert "not what was written" in outcome(path)
    with pytest.raises(FindingsError, match="does not prove"):
        backup(path)
    with open_book(path) as book:
        for asked in (about, lambda b: b.history("animal", frog), Book.rebuild, lambda b: check_book(b)):
            with contextlib.suppress(FindingsError):
                asked(book)
