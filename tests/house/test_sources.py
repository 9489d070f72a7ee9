"""No number without a source: every table and every rule says where it comes from and how that is known."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path
from typing import Any

import pytest

from keepfast.rules import sources
from keepfast.science import tables
from keepfast.terms import KNOWN

RULES = sorted(sources.FOLDER.glob("*/*.toml"))


@pytest.mark.parametrize("name", tables.names())
def test_every_table_of_published_numbers_says_source_and_how_it_is_known(name: str) -> None:
    table = tables.load(name)
    assert table.known in KNOWN
    assert len(table.source) > 3
    assert table.rows or table.values
    for row in table.rows:
        if "known" in row:
            assert row["known"] in KNOWN, row


@pytest.mark.parametrize("path", RULES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_rules_file_is_dated_and_every_value_in_it_has_a_source(path: Path) -> None:
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    assert data["title"]
    assert isinstance(data["date"], datetime.date)
    assert path.parent.name == data["subject"]
    named = data.get("sources", {})
    for entry in named.values():
        if isinstance(entry, dict):
            assert entry["text"]
            assert entry.get("known", "") in KNOWN
    bare: list[str] = []

    def walk(value: Any, where: str, covered: bool) -> None:
        if isinstance(value, dict):
            covered = covered or bool(value.get("source")) or bool(value.get("sources"))
            for key, inner in value.items():
                walk(inner, f"{where}.{key}", covered)
        elif isinstance(value, list):
            for number, inner in enumerate(value):
                walk(inner, f"{where}[{number}]", covered)
        elif isinstance(value, int | float) and not isinstance(value, bool) and not covered:
            bare.append(where)

    # The sources of a whole file do not excuse a rule that names none of them; one source for the file does.
    top = bool(data.get("source"))
    for key, value in data.items():
        if key not in ("title", "date", "subject", "sources", "source"):
            walk(value, key, top)
    assert [] == bare
