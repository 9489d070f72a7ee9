"""Fixtures of the live tests."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from keepfast.desk.books import Book, new_book, open_book
from keepfast.desk.table_live import LiveTable
from keepfast.desk.table_plan import read_plan
from tests.live_table import Nursery, demo_plan_text, small_plan


@pytest.fixture(scope="session")
def nursery() -> Iterator[Nursery]:
    """Where servers are forked."""
    made = Nursery()
    yield made
    made.close()


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """An empty book."""
    new_book(tmp_path / "river.keepfast")
    with open_book(tmp_path / "river.keepfast", who="Ana", device="laptop") as opened:
        yield opened


@pytest.fixture
def table(book: Book) -> LiveTable:
    """Three animals of the demo evening, laid out."""
    return LiveTable(book, read_plan(small_plan()))


@pytest.fixture
def plan_file(tmp_path: Path) -> Path:
    """Three animals of the demo evening as plan.json."""
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(small_plan()), encoding="utf-8")
    return path


@pytest.fixture
def whole_plan_file(tmp_path: Path) -> Path:
    """The whole demo evening as plan.json."""
    path = tmp_path / "whole-plan.json"
    path.write_text(demo_plan_text(), encoding="utf-8")
    return path
