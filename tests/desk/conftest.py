"""Fixtures for what the live screens ask of a book."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from keepfast.desk.books import Book, new_book, open_book
from keepfast.desk.table_live import LiveTable
from keepfast.desk.table_plan import read_plan
from tests.live_table import small_plan


@pytest.fixture
def table_book(tmp_path: Path) -> Iterator[Book]:
    """An empty book."""
    new_book(tmp_path / "river.keepfast")
    with open_book(tmp_path / "river.keepfast", who="Ana", device="laptop") as opened:
        yield opened


@pytest.fixture
def table(table_book: Book) -> LiveTable:
    """Three animals of the demo evening, laid out."""
    return LiveTable(table_book, read_plan(small_plan()))
