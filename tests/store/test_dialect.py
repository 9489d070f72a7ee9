"""One file knows SQLite; the tables can be made by PostgreSQL too."""

import re
from pathlib import Path

import pytest
from sqlalchemy.dialects import postgresql
from sqlalchemy.schema import CreateIndex, CreateTable

import keepfast.store
from keepfast.store import search, tables

FOLDER = Path(keepfast.store.__file__).parent
SQLITE_WORDS = re.compile(
    r"PRAGMA|FTS5|MATCH |sqlite_master|BEGIN IMMEDIATE|INSERT OR|json_extract|import sqlite3", re.I
)
ALL = [*tables.ink.sorted_tables, *tables.derived.sorted_tables, *search.searched.sorted_tables]


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.py")), ids=lambda path: path.name)
def test_the_dialect_of_sqlite_is_in_one_file(path):
    if path.name == "sqlite.py":
        return
    # Docstrings and comments may speak of it; statements may not.
    code = re.sub(r'""".*?"""|#[^\n]*', "", path.read_text(encoding="utf-8"), flags=re.DOTALL)

    assert [] == SQLITE_WORDS.findall(code)


@pytest.mark.parametrize("table", ALL, ids=lambda table: table.name)
def test_every_table_and_index_can_be_written_for_postgresql(table):
    dialect = postgresql.dialect()
    text = str(CreateTable(table).compile(dialect=dialect))
    indexes = [str(CreateIndex(index).compile(dialect=dialect)) for index in table.indexes]

    assert "WITHOUT ROWID" not in text
    assert all(text.startswith("CREATE INDEX") for text in indexes)


def test_no_value_of_a_book_stands_in_an_error_message(tmp_path):
    from keepfast.desk.books import new_book, open_book

    new_book(tmp_path / "b")
    with open_book(tmp_path / "b") as book:
        engine = book.ledger.opened.engine
        with engine.connect() as connection, pytest.raises(Exception, match="SQL") as problem:
            connection.execute(tables.meta.insert(), {"name": "book", "value": "37.123456 -7.654321"})

    assert "37.123456" not in str(problem.value)
