"""``book``, ``find`` and ``check``, used as a new user would, on good input and on wrong."""

from __future__ import annotations

import json
import sqlite3
import stat
import subprocess

import pytest

from keepfast import cli

NOBODY = "01980000-0000-7000-8000-000000000000"


@pytest.fixture
def keepfast(tmp_path, monkeypatch, capsys):
    """Run a command in a folder of its own: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("KEEPFAST_WHO", "Ana")
    monkeypatch.setenv("KEEPFAST_DEVICE", "laptop")

    def run(*arguments):
        monkeypatch.setattr("sys.argv", ["keepfast", *map(str, arguments)])
        code = 0
        try:
            cli.main()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return code, out, err

    return run


@pytest.fixture
def book(keepfast):
    """A small book, written from the command line alone."""
    for command in (
        ("new", "trip.keepfast", "--name", "River trip"),
        ("add", "trip.keepfast", "place", "name=Green lagoon", "latitude=38.1", "longitude=-8.2", "uncertainty_m=30",
         "country_code=PT"),
        ("add", "trip.keepfast", "event", "number=E1", "place=Green lagoon", "when=2026-03-14", "by=Ana, Ben"),
        ("add", "trip.keepfast", "animal", "field_number=AB 1", "form=frog", "event=E1", "sex=female"),
        ("add", "trip.keepfast", "measurement", "animal=ab1", "mass_g=6,2", "length_mm=41"),
        ("add", "trip.keepfast", "determination", "animal=AB 1", "taxon=Hyla molleri"),
    ):  # fmt: skip
        code, _out, err = keepfast("book", *command)
        assert (0, "") == (code, err)
    return "trip.keepfast"


def as_json(answer):
    code, out, err = answer
    assert "" == err
    return code, json.loads(out)


def test_a_book_says_what_it_holds(keepfast, book):
    code, told = as_json(keepfast("book", "info", book, "--json"))

    assert (0, "River trip", 5, {"place": 1, "event": 1, "animal": 1}) == (
        code, told["name"], told["entries"], told["things"],
    )  # fmt: skip
    assert "River trip" in keepfast("book", "info", book)[1]


def test_an_animal_is_shown_with_its_history(keepfast, book):
    code, told = as_json(keepfast("book", "show", book, "AB 1", "--json"))

    assert (0, 6.2, "Hyla molleri") == (code, told["state"]["measured"]["mass_g"], told["state"]["taxon"])
    assert ["animal", "measurement", "determination"] == [line["kind"] for line in told["history"]]
    text = keepfast("book", "show", book, "AB 1")[1]
    assert "Hyla molleri" in text
    assert "Ana" in text


def test_a_correction_keeps_the_other_measures_and_shows_both(keepfast, book):
    swapped = ("mass_g=2.6", "--of", "measurement", "--reason", "figures swapped")
    assert 0 == keepfast("book", "correct", book, "AB 1", *swapped)[0]

    _code, told = as_json(keepfast("book", "show", book, "AB 1", "--json"))
    assert {"mass_g": 2.6, "length_mm": 41} == {k: told["state"]["measured"][k] for k in ("mass_g", "length_mm")}
    assert (6.2, 2.6, "figures swapped") == (
        told["history"][1]["content"]["values"]["mass_g"],
        told["history"][1]["now"]["values"]["mass_g"],
        told["history"][1]["corrections"][0]["reason"],
    )
    assert "figures swapped" in keepfast("book", "show", book, "AB 1")[1]


def test_wrong_fields_are_all_said_and_nothing_is_written(keepfast, book):
    before = as_json(keepfast("book", "info", book, "--json"))[1]["head"]
    code, out, err = keepfast(
        "book", "add", book, "animal", "field_number=AB 2", "form=dragon", "colour=red", "count=x"
    )

    assert (2, "") == (code, out)
    assert "colour" in err
    assert "count" in err
    code, _out, err = keepfast("book", "add", book, "animal", "field_number=AB 2", "form=dragon")
    assert 2 == code
    assert "dragon" in err
    assert before == as_json(keepfast("book", "info", book, "--json"))[1]["head"]


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (("book", "info", "nothing"), "no such book"),
        (("book", "new", "trip.keepfast"), "this name already"),
        (("book", "add", "trip.keepfast", "wish", "a=b"), "no such kind"),
        (("book", "add", "trip.keepfast", "animal", "nonsense"), "field=value"),
        (("book", "add", "trip.keepfast", "animal", "sex=male", "sex=female"), "twice"),
        (("book", "add", "trip.keepfast", "measurement", "animal=AB 9", "mass_g=1"), "no animal of this name"),
        (("book", "add", "trip.keepfast", "measurement", "animal=AB 1", "mass_g=heavy"), "number"),
        (("book", "show", "trip.keepfast", "AB 9"), "no animal of this name"),
        (("book", "show", "trip.keepfast", "AB 1", "--kind", "dream"), "no such kind"),
        (("book", "correct", "trip.keepfast", NOBODY, "sex=male", "--reason", "x"), "no such entry"),
        (("book", "correct", "trip.keepfast", "AB 9", "sex=male", "--reason", "x"), "no animal of this name"),
        (("book", "correct", "trip.keepfast", "AB 1", "--of", "condition", "--reason", "x"), "nothing of this kind"),
        (("book", "correct", "trip.keepfast", "AB 1", "sex=male"), "says why"),
        (("book", "reserve", "trip.keepfast", "AB", "5"), "no series of this name"),
        (("book", "restore", "trip.keepfast"), "where the book is to be"),
        (("find", "nothing", "x"), "no such book"),
        (("check", "trip.keepfast", "--now", "soon"), "moment"),
        (("check", "trip.keepfast", "--rules", "nowhere.toml"), "no such rules file"),
        (("check", "trip.keepfast", "--accept", "mass_fits_length", "--of", "AB 1"), "reason"),
        (("check", "trip.keepfast", "--accept", "nothing", "--of", "AB 1", "--reason", "x"), "no such finding"),
    ],
)
def test_a_mistake_ends_in_a_sentence_and_two(keepfast, book, command, words):
    code, out, err = keepfast(*command)

    assert (2, "") == (code, out)
    assert words in err


def test_finding_forgives_and_says_how(keepfast, book):
    code, told = as_json(keepfast("find", book, "hyla", "moleri", "--json"))

    assert (0, "AB 1", "near") == (code, told["hits"][0]["label"], told["hits"][0]["how"])
    assert {"moleri": ["molleri"]} == told["read_as"]
    assert "AB 1" in keepfast("find", book, "14 March 2026")[1]
    code, out, err = keepfast("find", book, "quadrangle")
    assert (0, "") == (code, out)
    assert "Nothing found" in err


def test_numbers_are_reserved_given_and_accounted_for(keepfast, book):
    keepfast("book", "add", book, "series", "name=AB", "prefix=AB ", "first=1", "use=animal")
    assert 0 == keepfast("book", "reserve", book, "AB", "3", "--device", "phone")[0]
    code, told = as_json(keepfast("book", "next", book, "AB", "--device", "phone", "--json"))

    assert (0, "AB 2") == (code, told["number"])
    assert 2 == keepfast("book", "next", book, "AB")[0]
    text = keepfast("book", "numbers", book, "AB")[1]
    assert "AB 2 to AB 4 for phone" in text
    assert "given out on phone, carried by nothing" in text


def test_a_book_is_proven_backed_up_and_restored(keepfast, book, tmp_path):
    code, told = as_json(keepfast("book", "prove", book, "--json"))
    assert (0, True, 5) == (code, told["sound"], told["entries"])
    code, kept = as_json(keepfast("book", "backup", book, "--to", "kept", "--json"))
    assert (0, True, told["head"]) == (code, kept["sound"], kept["head"])
    keepfast("book", "add", book, "jar", "number=7")

    code, _out, err = keepfast("book", "restore", "kept", book)
    assert 2 == code
    assert "1 of its entries are not in the backup" in err
    code, restored = as_json(keepfast("book", "restore", "kept", book, "--replace", "--json"))
    assert (0, told["head"]) == (code, restored["head"])
    assert 5 == as_json(keepfast("book", "info", book, "--json"))[1]["entries"]
    assert 6 == as_json(keepfast("book", "info", restored["aside"], "--json"))[1]["entries"]


def test_a_backup_and_its_new_place_may_be_named_either_way_round(keepfast, book):
    keepfast("book", "backup", book, "kept")

    assert 0 == keepfast("book", "restore", "kept", "one.keepfast")[0]
    assert 0 == keepfast("book", "restore", "two.keepfast", "kept")[0]
    assert 2 == keepfast("book", "restore", "nothing", "nowhere")[0]
    assert 0 == keepfast("book", "prove", "two.keepfast")[0]


def test_a_book_that_does_not_prove_ends_with_one_and_a_rebuild_mends_it(keepfast, book):
    raw = sqlite3.connect(book)
    raw.execute("DELETE FROM thing")
    raw.commit()
    raw.close()
    code, out, _err = keepfast("book", "prove", book)
    assert 1 == code
    assert "book rebuild" in out
    assert 0 == keepfast("book", "rebuild", book)[0]
    assert 0 == keepfast("book", "prove", book)[0]


def test_an_altered_entry_ends_with_one_and_points_to_the_backup(keepfast, book):
    raw = sqlite3.connect(book)
    raw.execute("DROP TRIGGER entry_is_never_changed")
    raw.execute("UPDATE entry SET who = 'Eve' WHERE sequence = 2")
    raw.commit()
    raw.close()
    code, out, _err = keepfast("book", "prove", book)

    assert 1 == code
    assert "entry 2 is not what was written" in out
    assert "book restore" in out


def test_checking_ends_with_one_until_every_finding_is_mended_or_let_stand(keepfast, book):
    moment = ("--now", "2026-03-15T09:00+00:00")
    code, told = as_json(keepfast("check", book, *moment, "--json"))
    assert 1 == code
    assert [("permit_covers", "AB 1")] == [
        (a["check"], a["subject"]) for a in told["answers"] if a["outcome"] == "failed"
    ]
    text = keepfast("check", book, *moment)[1]
    assert "no permit is named" in text
    assert "VALIDATION" not in text

    keepfast("check", book, "--accept", "permit_covers", "--of", "AB 1", "--reason", "found dead on the road")
    code, told = as_json(keepfast("check", book, *moment, "--json"))
    assert (0, 0, 1) == (code, told["open"], told["counts"]["accepted"])
    assert "not tested" in keepfast("check", book, *moment, "--all")[1]


def test_a_file_is_kept_beside_the_book_and_proven(keepfast, book, tmp_path):
    (tmp_path / "field card.jpg").write_bytes(b"a photograph of a card")
    for _ in range(2):
        assert 0 == keepfast("book", "attach", book, "field card.jpg", "--to", "AB 1", "--remarks", "card")[0]
    # SHA-256 by the system's own tool.
    by_tool = subprocess.run(
        ["sha256sum", "field card.jpg"], capture_output=True, text=True, check=True
    ).stdout.split()[0]
    kept = tmp_path / f"{book}.files" / by_tool[:2] / by_tool
    assert b"a photograph of a card" == kept.read_bytes()
    assert [0o600, 0o700] == [stat.S_IMODE(p.stat().st_mode) for p in (kept, kept.parent)]
    assert 1 == sum(p.is_file() for p in (tmp_path / f"{book}.files").rglob("*"))
    code, told = as_json(keepfast("book", "prove", book, "--json"))
    assert (0, {"whole": 1, "altered": [], "absent": []}) == (code, told["files"])
    assert "copy trip.keepfast.files too" in keepfast("book", "backup", book)[2]

    kept.write_bytes(b"another")
    code, out, _err = keepfast("book", "prove", book)
    assert 1 == code
    assert "field card.jpg was altered" in out
    kept.unlink()
    code, out, _err = keepfast("book", "prove", book)
    assert 0 == code
    assert "field card.jpg is not beside the book" in out


def test_a_file_that_is_not_there_or_belongs_to_nothing_is_refused(keepfast, book, tmp_path):
    (tmp_path / "card.txt").write_text("x")
    assert "no such file" in keepfast("book", "attach", book, "nothing.jpg", "--to", "AB 1")[2]
    assert "no animal of this name" in keepfast("book", "attach", book, "card.txt", "--to", "AB 9")[2]
    assert "no files are attached" in keepfast("book", "attach", book, "card.txt", "--to", "x", "--kind", "series")[2]
    assert 5 == as_json(keepfast("book", "info", book, "--json"))[1]["entries"]


def test_what_holds_for_most_animals_is_said_once(keepfast, book):
    for number in (2, 3):
        keepfast("book", "add", book, "animal", f"field_number=AB {number}", "form=frog", "event=E1")
    text = keepfast("check", book)[1]
    assert 1 == text.count("no permit is named")
    assert "Every animal" in text

    keepfast("book", "add", book, "animal", "field_number=AB 4", "form=frog")
    text = keepfast("check", book)[1]
    assert 1 == text.count("no permit is named")
    assert "3 of 4 animals" in text
    assert "AB 4\n  place_with_its_doubt" in text


def test_the_catalogue_of_entries_is_told(keepfast):
    assert "measurement" in keepfast("book", "kinds")[1]
    code, told = as_json(keepfast("book", "kinds", "jar", "--json"))
    assert (0, "text") == (code, told["kinds"]["jar"]["fields"]["shelf"]["sort"])
    assert "Room, cabinet, shelf." in keepfast("book", "kinds", "jar")[1]


def test_a_terminal_is_not_given_anything_it_would_obey(keepfast, book):
    keepfast("book", "add", book, "animal", "field_number=AB 3", "remarks=\u202eevil\u009b31m")
    text = keepfast("book", "show", book, "AB 3")[1] + keepfast("find", book, "evil")[1]

    assert "evil" in text
    assert "\u202e" not in text
    assert "\u009b" not in text


def test_blocks_that_two_laptops_took_apart_are_told_when_they_meet(keepfast, book):
    keepfast("book", "add", book, "series", "name=AP", "prefix=AP ", "first=1", "use=animal")
    keepfast("book", "backup", book, "--to", "early.keepfast-backup")
    keepfast("book", "restore", "early.keepfast-backup", "helper.keepfast")
    for name, device in ((book, "laptop"), ("helper.keepfast", "phone")):
        keepfast("book", "reserve", name, "AP", "10", "--device", device)
    keepfast("book", "take-in", "helper.keepfast", "--into", book, "--apply")

    assert "laptop and phone hold some of the same numbers" in keepfast("book", "numbers", book, "AP")[1]


def test_two_laptops_take_in_what_the_other_wrote(keepfast, book, tmp_path):
    keepfast("book", "backup", book, "--to", "early.keepfast-backup")
    keepfast("book", "restore", "early.keepfast-backup", "helper.keepfast")
    keepfast("book", "add", "helper.keepfast", "animal", "field_number=AB 001", "form=frog", "--who", "Ben")
    keepfast("book", "add", book, "animal", "field_number=AB 3", "form=frog")

    code, out, err = keepfast("book", "take-in", "helper.keepfast", "--into", book)
    assert (0, "") == (code, err)
    for words in ("River trip: a copy of this book", "New:       1 entry", "by Ben (1)", "Only here: 1 entry",
                  "AB 001 is carried by 2 animals", "Nothing is written yet"):  # fmt: skip
        assert words in out
    assert 6 == as_json(keepfast("book", "info", book, "--json"))[1]["entries"]

    assert 0 == keepfast("book", "take-in", "helper.keepfast", "--into", book, "--apply")[0]
    code, told = as_json(keepfast("book", "take-in", book, "--into", "helper.keepfast", "--apply", "--json"))
    assert (0, 1, 0, True) == (code, told["new"], told["only_here"], told["applied"])
    heads = [as_json(keepfast("book", "info", name, "--json"))[1]["head"] for name in (book, "helper.keepfast")]
    assert heads[0] == heads[1]
    assert "has all this already" in keepfast("book", "take-in", book, "--into", "helper.keepfast", "--apply")[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("nowhere.keepfast", "--into", "trip.keepfast"), "there is no such book"),
        (("trip.keepfast", "--into", "nowhere.keepfast"), "there is no such book"),
        (("trip.keepfast", "--into", "trip.keepfast"), "one file"),
        (("trip.keepfast",), "the book is missing"),
        (("note.txt", "--into", "trip.keepfast"), "this is not a book"),
        (("river.keepfast", "--into", "trip.keepfast", "--apply"), "no copy of the book"),
    ],
)
def test_what_cannot_be_taken_in_is_said(keepfast, book, tmp_path, arguments, words):
    (tmp_path / "note.txt").write_text("AB 1 frog")
    keepfast("book", "new", "river.keepfast")
    for json_or_not in ((), ("--json",)):
        code, out, err = keepfast("book", "take-in", *arguments, *json_or_not)
        assert (2, "") == (code, out)
        assert words in err
    assert 5 == as_json(keepfast("book", "info", book, "--json"))[1]["entries"]
