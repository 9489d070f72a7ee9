"""Making, opening, proving, backing up, restoring, rebuilding."""

import contextlib
import os
import sqlite3
import stat
from pathlib import Path

import pytest

from keepfast.desk.books import new_book, open_book
from keepfast.desk.checking import check_book
from keepfast.findings import FindingsError
from keepfast.store import drives
from keepfast.store.keeping import backup, restore


@pytest.fixture
def path(tmp_path):
    new_book(tmp_path / "trip.keepfast", name="trip")
    with open_book(tmp_path / "trip.keepfast", who="Ana") as book:
        frog = book.write("animal", {"field_number": "AB 1", "form": "frog"})
        book.write("measurement", {"animal": frog.id, "values": {"mass_g": 6.2}})
        place = book.write("place", {"name": "Green lagoon"})
        event = book.write("event", {"number": "E1", "place": place.id, "when": "2026-03-14", "by": ["Ana"]})
        book.write("animal", {"animal": frog.id, "event": event.id})
        book.correct(place.id, {"name": "Greenish lagoon"}, reason="misheard")
    return tmp_path / "trip.keepfast"


def raw(path, *statements):
    connection = sqlite3.connect(path)
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


def test_a_book_is_private_to_its_user(path):
    assert 0o600 == stat.S_IMODE(path.stat().st_mode)
    with open_book(path) as book:
        book.write("jar", {"number": "1"})
        beside = [p for p in path.parent.iterdir() if p.name.startswith(path.name)]
        assert {0o600} == {stat.S_IMODE(p.stat().st_mode) for p in beside}


def test_nothing_is_written_over(path, tmp_path):
    before = path.read_bytes()
    with pytest.raises(FindingsError, match="this name already"):
        new_book(path)
    with pytest.raises(FindingsError, match="no such folder"):
        new_book(tmp_path / "nowhere" / "x.keepfast")

    assert before == path.read_bytes()
    assert [path] == list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "not a book"), (b"hello", "not a book"), (b"SQLite format 3\0" + b"\0" * 84, "not a book")],
)
def test_what_is_no_book_is_refused(tmp_path, content, words):
    (tmp_path / "x").write_bytes(content)
    with pytest.raises(FindingsError, match=words):
        open_book(tmp_path / "x")
    with pytest.raises(FindingsError, match="folder"):
        open_book(tmp_path)
    with pytest.raises(FindingsError, match="no such book"):
        open_book(tmp_path / "y")


def test_another_database_is_not_taken_for_a_book(tmp_path):
    raw(tmp_path / "other.db", "CREATE TABLE entry (a)")
    with pytest.raises(FindingsError, match="not a book"):
        open_book(tmp_path / "other.db")


@pytest.mark.parametrize("name", ["ledger format", "derived format"])
def test_a_book_of_a_newer_program_is_refused_and_left_alone(path, name):
    raw(
        path,
        f"UPDATE meta SET value = '99' WHERE name = '{name}'",
        "UPDATE meta SET value = '7.0' WHERE name='program'",
    )
    before = path.read_bytes()
    with pytest.raises(FindingsError, match="newer Keepfast"):
        open_book(path)

    assert before == path.read_bytes()


def test_a_book_of_an_older_program_is_rebuilt_after_a_backup(path, tmp_path):
    with open_book(path) as book:
        expected = book.things("animal"), book.find("greenish").hits
    raw(path, "UPDATE meta SET value = '0' WHERE name = 'derived format'", "DELETE FROM thing", "DELETE FROM document")
    with open_book(path) as book:
        assert expected == (book.things("animal"), book.find("greenish").hits)
        assert book.ledger.prove().sound
    (kept,) = tmp_path.glob("*before-rebuild*")
    assert 0o600 == stat.S_IMODE(kept.stat().st_mode)


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM thing WHERE label = 'AB 1'",
        "UPDATE thing SET data = replace(data, '6.2', '62')",
        "UPDATE thing SET data = substr(data, 1, 20)",
        "UPDATE thing SET data = '[1]'",
        "UPDATE thing SET data = x'ff00'",
        "UPDATE thing SET withdrawn = 1 WHERE kind = 'animal'",
        "INSERT INTO thing SELECT 'jar', id || 'x', label, label_key, entered, withdrawn, data FROM thing LIMIT 1",
        "DELETE FROM about WHERE kind = 'animal'",
        "INSERT INTO about SELECT kind, 'nobody', sequence FROM about LIMIT 1",
        "DELETE FROM link",
        "DELETE FROM used_number",
        "UPDATE correction SET root = NULL",
        "UPDATE document SET name = 'Hyla'",
        "DELETE FROM document WHERE kind = 'animal'",
        "DELETE FROM word",
        "INSERT INTO document_words (document_words) VALUES ('delete-all')",
    ],
)
def test_what_is_kept_beside_the_entries_is_proven_and_mended(path, tmp_path, statement):
    raw(path, statement)
    with open_book(path) as book:
        proof = book.ledger.prove()
        assert not proof.sound
        assert not proof.troubles, "the entries are whole"
        assert proof.derived_troubles
        with contextlib.suppress(FindingsError):  # a sentence, nothing worse
            check_book(book)
        kept, after = book.rebuild()
        assert after.sound
        assert ["AB 1"] == [hit.label for hit in book.find("greenish").hits if hit.kind == "animal"]
    assert kept.exists()


def test_a_backup_of_a_book_in_use_is_whole_and_private(path, tmp_path):
    with open_book(path) as book:
        book.write("jar", {"number": "12"})
        kept = backup(path, tmp_path / "backup")
        book.write("jar", {"number": "13"})
    assert kept.proof.sound
    assert 0o600 == stat.S_IMODE(kept.path.stat().st_mode)
    with open_book(kept.path, read_only=True) as copy:
        assert ["12"] == [jar["number"] for jar in copy.things("jar")]


def test_a_backup_lands_beside_the_book_or_in_a_folder_and_never_on_something(path, tmp_path):
    beside, inside = backup(path), backup(path, tmp_path)

    assert beside.path.parent == inside.path.parent == tmp_path
    assert beside.path != inside.path
    with pytest.raises(FindingsError, match="this name already"):
        backup(path, path)
    with pytest.raises(FindingsError, match="no such folder"):
        backup(path, tmp_path / "nowhere" / "b")
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


def test_a_restored_book_is_the_book_and_starts_a_chain_of_its_own(path, tmp_path):
    kept = backup(path, tmp_path / "backup")
    target = tmp_path / "again.keepfast"
    restore(kept.path, target)
    with open_book(target) as again, open_book(path) as book:
        assert again.id == book.id
        assert again.things("animal") == book.things("animal")
        again.write("jar", {"number": "1"})
        assert {w.store for w in again.read_since(0)} > {w.store for w in book.read_since(0)}


def test_restoring_over_a_book_says_what_would_go_and_moves_it_aside(path, tmp_path):
    kept = backup(path, tmp_path / "backup")
    with open_book(path) as book:
        for i in range(3):
            book.write("jar", {"number": str(i)})
    before = path.read_bytes()
    with pytest.raises(FindingsError, match="3 of its entries are not in the backup"):
        restore(kept.path, path)
    assert before == path.read_bytes()

    done = restore(kept.path, path, replace=True)
    assert before == done.aside.read_bytes()
    with open_book(path) as book:
        assert () == book.things("jar")
        book.write("jar", {"number": "9"})
        assert book.ledger.prove().sound


def test_restoring_over_a_damaged_book_is_possible(path, tmp_path):
    kept = backup(path, tmp_path / "backup")
    path.write_bytes(path.read_bytes()[:9000])
    with pytest.raises(FindingsError, match="cannot be read"):
        restore(kept.path, path)
    restore(kept.path, path, replace=True)
    with open_book(path) as book:
        assert book.ledger.prove().sound


def test_a_damaged_backup_is_not_restored_and_a_damaged_book_not_backed_up(path, tmp_path):
    bad = tmp_path / "bad.keepfast-backup"
    whole = path.read_bytes()
    bad.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(FindingsError):
        restore(bad, tmp_path / "new.keepfast")
    raw(path, "DROP TRIGGER entry_is_never_changed", "UPDATE entry SET who = 'Eve' WHERE sequence = 1")
    with pytest.raises(FindingsError, match="does not prove"):
        backup(path, tmp_path / "b")

    assert {path.name, bad.name} == {p.name for p in tmp_path.iterdir()}


def test_a_backup_is_not_restored_onto_itself(path):
    with pytest.raises(FindingsError, match="one file"):
        restore(path, path, replace=True)


LINUX = """proc /proc proc rw 0 0
/dev/sda1 / ext4 rw 0 0
server:/home /home/shared nfs4 rw 0 0
//nas/docs /media/my\\040nas cifs rw 0 0
/dev/sdb1 /media/stick vfat rw 0 0
"""
MAC = """/dev/disk3s1s1 on / (apfs, sealed, local, read-only, journaled)
//ana@nas/docs on /Volumes/docs (smbfs, nodev, nosuid, mounted by ana)
"""


@pytest.mark.parametrize(
    ("place", "refused"),
    [("/home/shared/trip.keepfast", True), ("/home/ana/trip.keepfast", False), ("/media/my nas/x", True),
     ("/media/stick/x", False), ("/home/sharedness/x", False)],
)  # fmt: skip
def test_a_network_drive_is_refused_and_a_stick_is_not(place, refused):
    # The form of /proc/self/mounts is that of fstab(5), blanks written as \040.
    mounts = drives._mounts_of_linux(LINUX)

    assert refused == (drives.network_trouble(Path(place), mounts) is not None)


def test_a_network_drive_of_a_mac_is_refused():
    mounts = drives._mounts_of_mac(MAC)

    assert drives.network_trouble(Path("/Volumes/docs/x"), mounts)
    assert not drives.network_trouble(Path("/Users/ana/x"), mounts)


def test_a_book_on_a_network_drive_is_neither_made_nor_opened(path, monkeypatch):
    monkeypatch.setattr(drives, "_mounts", lambda: [("/", "nfs4")])
    with pytest.raises(FindingsError, match="network drive"):
        open_book(path)
    with pytest.raises(FindingsError, match="network drive"):
        new_book(path.with_name("other.keepfast"))
    assert not path.with_name("other.keepfast").exists()


def test_the_mark_of_a_place_tells_nobody_where_it_is(path):
    mark = drives.place_of(path)

    assert mark == drives.place_of(path)
    assert mark != drives.place_of(path.with_name("other"))
    assert os.path.basename(path) not in mark
