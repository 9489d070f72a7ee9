"""Finding: the documents that are searched, and the words that a slip of the finger is matched against."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection

from keepfast.book.kinds import Subject


def make_tables(connection: Connection) -> None:
    """Make the tables of the search, empty."""


def drop_tables(connection: Connection) -> None:
    """Throw the tables of the search away."""


def update_documents(connection: Connection, touched: Sequence[Subject]) -> None:
    """Bring the documents of these things, and of those that speak of them, in step."""
