"""The rules of an evening are data: a copy can be edited, and whatever is wrong with it is said, never a crash."""

from __future__ import annotations

from pathlib import Path

import pytest

from keepfast.findings import FindingsError
from keepfast.rules import evening, sources

SHIPPED = sources.FOLDER / "evening" / "field.toml"


def test_what_ships_names_a_source_for_every_section() -> None:
    """Each with how it is known."""
    rules = evening.load()
    assert set(rules.sources) == {section for section, _key in rules.numbers}


def test_a_copy_with_another_number_is_taken_as_it_stands(tmp_path: Path) -> None:
    """And its identity is its own."""
    own = tmp_path / "ours.toml"
    text = SHIPPED.read_text(encoding="utf-8")
    own.write_text(text.replace("upper_ml_per_m2 = 401", "upper_ml_per_m2 = 300"), encoding="utf-8")
    assert evening.load(own).number("sheets", "upper_ml_per_m2") == 300
    assert evening.load(own).identity["sha256"] != evening.load().identity["sha256"]


@pytest.mark.parametrize(
    ("old", "new", "field", "said"),
    [
        ("title =", "sources = 5\ntitle =", "sources", "this is a table"),
        ("title =", 'load = "heavy"\ntitle =', "load", "this is a table"),
        ("title =", "pace = [1, 2]\ntitle =", "pace", "this is a table"),
        ("title =", "tools = [[1]]\ntitle =", "tools", "this is a table"),
        ('source = "limits"', "source = [1]", "load.source", "names its source"),
        ('source = "limits"', 'source = "nobody"', "load.source", "names its source"),
        ('limits = { text = "', 'limits = { words = "', "load.source", "names its source"),
        ('known = "computed"', 'known = "surely"', "load.source", "names its source"),
        ("gut_red_h = 8", 'gut_red_h = "8"', "load.gut_red_h", "a number from"),
        ("gut_red_h = 8", "gut_red_h = nan", "load.gut_red_h", "a number from"),
        ("gut_red_h = 8", "gut_red_h = 1", "load.gut_green_h", "may not be more than gut_red_h"),
        ("lower_low = 0.7", "lower_low = 0", "sheets.lower_low", "a number from 0.01"),
        ("lower_low = 0.7", "lower_low = 1.2", "sheets.lower_low", "may not be more than lower_share"),
        ("syringes_ml = [1, 2.5, 5, 10, 20, 60]", "syringes_ml = 5", "tools.syringes_ml", "list of syringe sizes"),
        ("syringes_ml = [1, 2.5, 5, 10, 20, 60]", "syringes_ml = [0]", "tools.syringes_ml", "list of syringe sizes"),
        ("by_people = [[1, 1.7]", "by_people = [[3, 1.7]", "pace.by_people", "must rise"),
        ("gut_full = 1.5", "gut_ful = 1.5", "urgency.gut_ful", "means nothing"),
    ],
)
def test_a_slip_in_it_is_said_with_its_place(tmp_path: Path, old: str, new: str, field: str, said: str) -> None:
    """One finding at the least names the place and what is wrong there."""
    text = SHIPPED.read_text(encoding="utf-8")
    assert old in text
    section = f"[{field}]"
    if new.startswith(f"{field} =") and section in text:
        # The same name cannot stand twice in one file, so its own table is taken out.
        before, _, after = text.partition(section)
        text = before + "[" + after.partition("\n[")[2]
        text = text if "\n[" in after else before
    own = tmp_path / "ours.toml"
    own.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FindingsError) as caught:
        evening.load(own)
    assert any(f.field == field and said in f.what for f in caught.value.findings)
