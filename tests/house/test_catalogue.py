"""What people read can be said in another language: a made-up one, in which every text is marked, shows it."""

from __future__ import annotations

import ast
import datetime
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest

from keepfast import demo, words
from keepfast.exchange.lists import read_list
from keepfast.exchange.template import explanation
from keepfast.findings import FindingsError
from keepfast.plan.camp import Camp

SOURCE = Path(__file__).parents[2] / "src" / "keepfast"
MARK = "«"


def messages() -> set[str]:
    """Every text that the code hands to a catalogue."""
    found = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("_", "_marked", "ngettext")
            ):
                for argument in node.args[:2]:
                    if isinstance(argument, ast.Constant) and isinstance(argument.value, str) and argument.value:
                        found.add(argument.value)
    return found


def compiled(pairs: dict[str, str]) -> bytes:
    """A catalogue in the binary form of GNU gettext (its manual, "The Format of GNU MO Files")."""
    entries = [("", "Content-Type: text/plain; charset=UTF-8\n"), *sorted(pairs.items())]
    originals, translations = [[text.encode() for text in column] for column in zip(*entries, strict=True)]
    count = len(entries)
    start = 28 + 16 * count
    tables, blob = b"", b""
    for texts in (originals, translations):
        for text in texts:
            tables += struct.pack("<II", len(text), start + len(blob))
            blob += text + b"\0"
    return struct.pack("<7I", 0x950412DE, 0, count, 28, 28 + 8 * count, 0, start) + tables + blob


@pytest.fixture
def spoken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    folder = tmp_path / "locale" / "xx" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    (folder / "keepfast.mo").write_bytes(compiled({text: MARK + text for text in messages()}))
    monkeypatch.setattr(words, "LOCALE_FOLDER", tmp_path / "locale")
    words._catalogue.cache_clear()
    words.use_language("xx")
    yield
    words.use_language("en")
    words._catalogue.cache_clear()


def test_there_is_much_to_translate() -> None:
    assert len(messages()) > 150


def test_an_unknown_language_is_refused_with_those_there_are() -> None:
    with pytest.raises(ValueError, match="en"):
        words.use_language("nowhere")


@pytest.mark.usefixtures("spoken")
def test_what_is_wrong_with_a_list_is_said_in_that_language(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(
        "field_number,form,length_mm,mass_g,died_at,count\n"
        "A,frgo,12-13,-1,soon,2\nB,frog,4e9,0,12:30,2\nB,frog,,,2026-02-30,2.5\n"
    )
    with pytest.raises(FindingsError) as caught:
        read_list(path)
    assert len(caught.value.findings) > 8
    for finding in caught.value.findings:
        assert finding.what.startswith(MARK), finding.what
        assert finding.remedy.startswith(MARK), finding.remedy


@pytest.mark.usefixtures("spoken")
def test_defaults_and_the_template_are_explained_in_that_language() -> None:
    assert all(text.startswith(MARK) for text in Camp().defaults_used)
    assert explanation().count(MARK) > 15


@pytest.mark.usefixtures("spoken")
def test_the_summary_of_a_plan_is_told_in_that_language() -> None:
    from keepfast.cli.plan_words import summary
    from keepfast.plan.evening import Rules, plan_evening

    animals = read_list(demo.FOLDER / "survey.csv", zone="Europe/Madrid").animals
    start = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=datetime.UTC)
    evening = plan_evening(animals, Camp(language="xx"), Rules.load(), start=start, size=20)
    told = summary(evening)
    assert told.count(MARK) > 20
