"""The screens speak two languages, whole, and their catalogues are in step with what they say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from keepfast.live.words import STATIC, for_scripts, in_scripts, inside_page
from keepfast.locale.gather import catalogues, compiled, of_the_rules, of_the_screens, read_po
from keepfast.words import current_language, use_language

TEMPLATES = STATIC.parent / "templates"


def test_there_is_a_second_language() -> None:
    assert "es" in [path.parent.parent.name for path in catalogues()]


@pytest.mark.parametrize("path", catalogues(), ids=lambda p: p.parent.parent.name)
def test_every_word_of_the_screens_is_in_the_catalogue_and_translated(path: Path) -> None:
    catalogue = read_po(path)
    assert [] == [m for m in of_the_screens() if not (catalogue.get(m) and all(catalogue[m]))]


@pytest.mark.parametrize("path", catalogues(), ids=lambda p: p.parent.parent.name)
def test_the_steps_and_cautions_that_the_hands_read_are_translated(path: Path) -> None:
    """A step that a museum adds is shown as its plan has it; of our own, hardly one is."""
    catalogue, steps = read_po(path), of_the_rules()
    assert len(steps) > 120
    open_ = [m[0] for m in steps if not all(catalogue.get(m) or ("",))]
    assert len(open_) < 0.1 * len(steps), open_


@pytest.mark.parametrize("path", catalogues(), ids=lambda p: p.parent.parent.name)
def test_the_compiled_catalogue_is_made_of_the_written_one(path: Path) -> None:
    assert compiled(read_po(path)) == path.with_suffix(".mo").read_bytes()


@pytest.mark.parametrize("path", catalogues(), ids=lambda p: p.parent.parent.name)
def test_a_translation_keeps_the_places_for_names_and_numbers(path: Path) -> None:
    places = re.compile(r"\{[^}]*\}")
    for (one, many), forms in read_po(path).items():
        if one:
            for source, form in zip((one, many or one), forms, strict=False):
                assert sorted(places.findall(source)) == sorted(places.findall(form)), (source, form)


def test_no_word_in_a_page_is_left_out_of_the_catalogue() -> None:
    """What is left of a template without its tags, its statements and its looked-up words has no letters."""
    for path in TEMPLATES.glob("*.html"):
        text = path.read_text(encoding="utf-8")
        bare = re.sub(r"<script.*?</script>|<!doctype[^>]*>", "", text, flags=re.DOTALL)
        bare = re.sub(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", "", bare, flags=re.DOTALL)
        bare = re.sub(r"<[^>]*>", " ", bare).replace("Keepfast", "").replace("°C", "")
        assert not re.search(r"[A-Za-z]{2,}", bare), (path.name, re.findall(r"[A-Za-z]{2,}", bare))


def test_no_word_in_an_attribute_that_is_read_out_is_left_out() -> None:
    for path in TEMPLATES.glob("*.html"):
        for value in re.findall(r'(?:aria-label|alt|title|placeholder)="([^"]*)"', path.read_text(encoding="utf-8")):
            assert value.startswith("{{"), (path.name, value)


def test_no_script_says_anything_that_is_not_looked_up() -> None:
    for path in STATIC.glob("*.js"):
        text = path.read_text(encoding="utf-8")
        for found in re.findall(r'(?:textContent = |text: |placeholder = )"([^"]*)"', text):
            assert not re.search(r"[A-Za-z]{2,}", found), (path.name, found)


def test_the_scripts_get_their_words_in_the_language_of_the_device() -> None:
    before = current_language()
    try:
        use_language("en")
        assert {} == for_scripts()
        use_language("es")
        spoken = for_scripts()
        assert "Hecho" == spoken["Done"] or "Done" not in in_scripts()
        assert len(in_scripts()) - len(spoken) < 10
    finally:
        use_language(before)


def test_json_in_a_page_cannot_end_the_element_it_stands_in() -> None:
    for sign in ("</script>", "<!--", "]]>", "\u2028", "&lt;"):
        assert not set("<>&\u2028\u2029") & set(inside_page({"x": sign}))
