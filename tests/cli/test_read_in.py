"""``read-in`` and ``place`` as a person types them: answers, exit codes, and nothing written by a failure."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from keepfast.cli import main
from keepfast.demo import FOLDER
from keepfast.desk.books import new_book, open_book

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Type a command in an empty folder; its exit code, answer and messages."""
    monkeypatch.chdir(tmp_path)

    def typed(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["keepfast", *words])
        code = 0
        try:
            main()
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = capsys.readouterr()
        return code, out, err

    return typed


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with an empty book."""
    new_book(tmp_path / "b.keepfast", name="b")
    return tmp_path


GOOD = "field number,species,SVL (mm)\nA1,Hyla molleri,41\nA2,Hyla molleri,43\n"


def entries(folder: Path) -> int:
    """How many entries the book has."""
    with open_book(folder / "b.keepfast") as book:
        return book.last_sequence()


def test_a_look_says_what_would_be_and_writes_nothing(run: Run, folder: Path) -> None:
    """Exit 0; the next step is named."""
    (folder / "n.csv").write_text(GOOD)
    code, out, _err = run("read-in", "n.csv", "--into", "b.keepfast")
    assert code == 0
    assert "2 animals" in out
    assert "--apply" in out
    assert entries(folder) == 0


def test_apply_writes_and_says_how_much(run: Run, folder: Path) -> None:
    """As one JSON object, if asked."""
    (folder / "n.csv").write_text(GOOD)
    code, out, _err = run("read-in", "n.csv", "--into", "b.keepfast", "--apply", "--json")
    said = json.loads(out)
    assert code == 0
    assert (said["new"], said["refused"], said["applied"]) == ({"animal": 2}, [], True)
    assert said["entries_written"] == entries(folder) > 0


def test_refused_rows_make_a_look_end_with_1_and_apply_with_2(run: Run, folder: Path) -> None:
    """And nothing is written."""
    (folder / "n.csv").write_text(GOOD + "A3,Hyla molleri,4l\n")
    code, out, _err = run("read-in", "n.csv", "--into", "b.keepfast", "--json")
    assert code == 1
    (refused,) = json.loads(out)["refused"]
    assert (refused["file"], refused["row"], refused["field"]) == ("n.csv", 4, "SVL (mm)")
    code, _out, err = run("read-in", "n.csv", "--into", "b.keepfast", "--apply")
    assert code == 2
    assert "row 4" in err
    assert "nothing was written" in err
    assert entries(folder) == 0


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("read-in", "missing.csv", "--into", "b.keepfast"), "no such file"),
        (("read-in", "n.csv", "--into", "missing.keepfast"), ""),
        (("read-in", "n.csv"), "the book is missing"),
        (("read-in", "n.csv", "--into", "b.keepfast", "--table-is", "poem"), "neither notes nor logger"),
        (("read-in", "n.csv", "--into", "b.keepfast", "--clock-shows", "noon"), "no moment"),
        (("read-in", "empty.csv", "--into", "b.keepfast"), "empty"),
        (("read-in", ".", "--into", "b.keepfast"), "no photograph and no GPX file"),
        (("read-in", "b.keepfast", "--into", "b.keepfast"), ""),
        (("place", "nowhere at all"), "not understood"),
        (("place", "10 O 20 N"), "language"),
        (("place", "5 km NE of camp"), "from where"),
        (("place", "10 km O of camp"), "from where"),
        (("place", "5 km from camp", "--from", "10.5, 20.5"), "no heading"),
        (("place", "10.5, 20.5", "--date", "soon"), "no day"),
        (("place", "10.5, 20.5", "--datum", "mine"), "not known"),
        (("place", "10.5, 20.5", "--gps", "-4"), "above 0"),
        (("place", "10.5, 20.5", "--map", "3"), "scale"),
    ],
)
def test_wrong_usage_is_a_sentence_and_2(run: Run, folder: Path, words: tuple[str, ...], message: str) -> None:
    """Never a traceback, never an answer."""
    (folder / "n.csv").write_text(GOOD)
    (folder / "empty.csv").write_text("")
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert message in err
    assert "Traceback" not in err
    assert entries(folder) == 0


def test_columns_are_kept_changed_and_used(run: Run, folder: Path) -> None:
    """The file that says which column means what; one that is there is not overwritten."""
    (folder / "n.csv").write_text("field number,TL\nA1,9\n")
    code, _out, err = run("read-in", "n.csv", "--keep-columns", "c.toml")
    assert code == 0
    assert "TL" in err
    kept = (folder / "c.toml").read_text()
    assert '"TL" = "kept"' in kept
    (folder / "c.toml").write_text(kept.replace('"TL" = "kept"', '"TL" = "measurement.tail_mm, cm"'))
    code, _out, _err = run("read-in", "n.csv", "--into", "b.keepfast", "--columns", "c.toml", "--apply")
    assert code == 0
    with open_book(folder / "b.keepfast") as book:
        assert book.things("animal")[0]["measured"]["tail_mm"] == 90.0
    code, _out, err = run("read-in", "n.csv", "--keep-columns", "c.toml")
    assert code == 2
    assert "there already" in err


def test_the_demo_walks_through(run: Run, folder: Path) -> None:
    """List, logger and walk of the invented trip into one book."""
    for name in ("survey.csv", "logger.csv", "walk.gpx"):
        words = ("--trip", "Spring survey", "--zone", "Europe/Madrid", "--apply")
        code, _out, err = run("read-in", str(FOLDER / name), "--into", "b.keepfast", *words)
        assert code == 0, err
    with open_book(folder / "b.keepfast") as book:
        assert len(book.things("animal")) == 18
        assert len(book.things("place")) == 5


def test_place_answers_in_figures_and_in_words(run: Run) -> None:
    """The guide's example: 10.27, -123.6 is good to 1.557 km by its writing alone."""
    code, out, _err = run("place", "10.27, -123.6 WGS84", "--json")
    said = json.loads(out)
    assert code == 0
    assert said["radius_m"] == 1557
    assert said["parts_m"]["precision"] == pytest.approx(1556.8, abs=0.2)
    assert said["verbatim"] == "10.27, -123.6 WGS84"
    code, out, _err = run("place", "10.27, -123.6 WGS84", "--gps", "5")
    assert "within 1,567 m" in out
    assert "altered" in out


def test_a_southern_latitude_is_no_option(run: Run) -> None:
    """A minus in front is part of the place."""
    code, out, _err = run("place", "-33.9321, 18.8602 WGS84", "--json")
    assert code == 0
    assert json.loads(out)["latitude"] == -33.9321


def test_an_offset_is_laid_from_its_start(run: Run) -> None:
    """Along a magnetic bearing too, with its date."""
    words = ("place", "5 km bearing 30 magnetic from camp", "--from", "10.2745, -70.6123 WGS84", "--date", "2026-04-01")
    code, out, _err = run(*words, "--json")
    said = json.loads(out)
    assert code == 0
    assert said["offset"]["reference"] == "magnetic"
    assert any("WMM-2025" in remark for remark in said["remarks"])


def test_text_of_a_file_is_shown_as_text_and_a_changed_stop_by_its_name(run: Run, folder: Path) -> None:
    """A cell holds no command for the terminal and cannot turn the letters round; no id where people have a name."""
    heading = "field number,species,date,locality,remarks\n"
    (folder / "n.csv").write_text(f"{heading}A1,Hyla molleri,2026-04-18,Mill pond,x\n", encoding="utf-8")
    assert run("read-in", "n.csv", "--into", "b.keepfast", "--apply")[0] == 0
    row = "A1,Hyla molleri,2026-04-18,North \u202eknab\u202c,\u009b31m\u2028red\n"
    (folder / "n.csv").write_text(heading + row, encoding="utf-8")

    code, out, err = run("read-in", "n.csv", "--into", "b.keepfast")

    assert code == 0
    assert not {"\u202e", "\u202c", "\u009b", "\u2028", "\x1b"} & set(out + err)
    assert "event: 2026-04-18, Mill pond -> 2026-04-18, North" in out
