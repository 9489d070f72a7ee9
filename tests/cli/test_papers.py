"""Printing from the command line: right input, wrong input, and nothing half done."""

import json

import pypdfium2
import pytest
from typer.testing import CliRunner

from keepfast.book.numbers import is_valid
from keepfast.cli import build, main

RUN = CliRunner()


def run(*words: str):
    return RUN.invoke(build(), list(words))


@pytest.fixture
def refused(monkeypatch, capsys):
    """Run a command as the launcher does; returns the exit code and what was said."""

    def go(*words: str) -> tuple[int, str]:
        monkeypatch.setattr("sys.argv", ["keepfast", *words])
        with pytest.raises(SystemExit) as stop:
            main()
        return int(stop.value.code or 0), capsys.readouterr().err

    return go


def test_a_sheet_of_tags_and_its_plain_words_are_written(tmp_path) -> None:
    out = tmp_path / "trip" / "tags.pdf"
    done = run("tags", "--series", "ABC 1-60", "--out", str(out))
    assert 0 == done.exit_code
    document = pypdfium2.PdfDocument(out.read_bytes())
    assert 1 == len(document)
    assert "ABC 60" in document[0].get_textpage().get_text_range().replace("\r\n", " ")
    words = out.with_suffix(".txt").read_text(encoding="utf-8")
    assert all(is_valid(line) for line in words.splitlines()[2:62])
    assert "How each form is tagged" in words


def test_json_tells_what_was_printed(tmp_path) -> None:
    done = run("tags", "--series", "ABC 1-3", "--out", str(tmp_path / "t.pdf"), "--sheet", "roll-tags", "--json")
    answer = json.loads(done.stdout)
    assert (3, "roll-tags", 3) == (len(answer["printed"]), answer["sheet"], answer["pages"])
    assert all(is_valid(number) for number in answer["printed"])
    assert answer["origin"]["keepfast"]


def test_the_same_command_gives_the_same_bytes(tmp_path) -> None:
    for name in ("a.pdf", "b.pdf"):
        run("tags", "--series", "ABC 1-60", "--out", str(tmp_path / name))
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--series", "ABC 60-1"], "backwards"),
        (["--series", "ABC"], "not a series"),
        (["--series", "ABC 1-3", "--series", "abc 2"], "printed twice"),
        (["--series", "ABC 1-3", "--sheet", "a4-jar"], "no sheet of this name"),
        (["--series", "ABC 1-3", "--dpi", "5"], "dots per inch"),
        (["--series", "AVERYLONGPREFIXINDEEDFORATAG 1-3"], "does not fit"),
        (["--series", "Žluť 1-3"], "check character"),
        (["--series", "ABC 1-3", "--sheets-file", "nowhere.toml"], "no such rules file"),
    ],
)
def test_wrong_wishes_write_nothing_and_say_what_to_do(tmp_path, refused, words: list[str], said: str) -> None:
    code, err = refused("tags", *words, "--out", str(tmp_path / "t.pdf"))
    assert 2 == code
    assert said in err
    assert [] == list(tmp_path.iterdir())


def test_only_a_pdf_is_written(tmp_path, refused) -> None:
    code, err = refused("tags", "--series", "ABC 1-3", "--out", str(tmp_path / "t.png"))
    assert (2, True) == (code, ".pdf" in err)
    assert [] == list(tmp_path.iterdir())


def test_a_series_without_check_characters_is_printed_with_a_word_of_warning(tmp_path) -> None:
    done = run("tags", "--series", "Ž 1-3", "--no-check", "--out", str(tmp_path / "t.pdf"))
    assert 0 == done.exit_code
    assert "cannot be caught" in done.stderr


def test_jar_labels_from_a_list_with_darwin_core_headings(tmp_path) -> None:
    (tmp_path / "jars.csv").write_text(
        "catalogNumber;scientificName;eventDate;shelf\nMZX 1;Rana iberica;2026-04-18;A3\nMZX 2;Hyla arborea;;B\n",
        encoding="utf-8",
    )
    done = run("labels", "jar", str(tmp_path / "jars.csv"), "--out", str(tmp_path / "jars.pdf"))
    assert 0 == done.exit_code, done.output
    assert "shelf" in done.stderr  # a column that is not printed is said
    words = (tmp_path / "jars.txt").read_text(encoding="utf-8")
    assert "MZX 2" in words
    assert "Rana iberica" in words


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("scientificName\nRana\n", "catalogue_number"),
        ("catalogNumber,scientificName\n", "no rows"),
        ("catalogNumber,scientificName\nMZX 1,Rana\n,Hyla\n", "row 3"),
        ("catalogNumber,scientificName\nMZX 1,Rana မ\n", "taxon, MZX 1"),
        ("catalogNumber,locality\nMZX 1," + "far away " * 200 + "\n", "locality, MZX 1"),
    ],
)
def test_a_list_that_cannot_be_printed_says_where(tmp_path, refused, content: str, said: str) -> None:
    (tmp_path / "jars.csv").write_text(content, encoding="utf-8")
    code, err = refused("labels", "jar", str(tmp_path / "jars.csv"), "--out", str(tmp_path / "o" / "jars.pdf"))
    assert 2 == code
    assert said in err
    assert not (tmp_path / "o").exists()


def test_tube_labels_from_a_series(tmp_path) -> None:
    done = run(
        "labels", "tissue", "--series", "ABC 1-4", "--tubes", "2", "--kind", "liver", "--fluid", "96 % ethanol",
        "--out", str(tmp_path / "tubes.pdf"), "--json",
    )  # fmt: skip
    answer = json.loads(done.stdout)
    assert 8 == len(answer["printed"])
    assert answer["printed"][0].endswith(" T1")


def test_tube_labels_need_a_list_or_a_series(tmp_path, refused) -> None:
    code, err = refused("labels", "tissue", "--out", str(tmp_path / "t.pdf"))
    assert (2, True) == (code, "either a list or a series" in err)


def test_sheets_are_listed(tmp_path) -> None:
    done = run("labels", "sheets")
    assert "a4-tags" in done.stdout
    assert {"a4-tags", "roll-jar"} <= {
        s["name"] for s in json.loads(run("labels", "sheets", "--json").stdout)["sheets"]
    }


def test_a_number_is_checked() -> None:
    assert 0 == run("labels", "check", "A12425GABC1234002M").exit_code
    wrong = run("labels", "check", "A12425GABC1234003M")
    assert 1 == wrong.exit_code
    assert "does not fit" in wrong.stdout
    answer = json.loads(run("labels", "check", "ABC 12-L", "--json").stdout)
    assert answer["numbers"][0]["valid"]


def test_a_roll_has_no_bar_so_a_label_is_measured(tmp_path) -> None:
    done = run("tags", "--series", "ABC 1-3", "--out", str(tmp_path / "t.pdf"), "--sheet", "roll-tags")
    assert "46 by 16 mm" in done.stderr
    assert "bar" not in done.stderr
    assert "ruler to the bar" in run("tags", "--series", "ABC 1-3", "--out", str(tmp_path / "s.pdf")).stderr
