"""What the published data-quality tests share: their register, and how a flat Darwin Core record is read."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping

from keepfast.book.answers import Answer
from keepfast.book.fields import WHEN, earliest_of, latest_of
from keepfast.rules.checks import CheckRules

Record = Mapping[str, str]
Test = Callable[[Record, CheckRules, datetime.date], Answer]

# Label, and the identifier that stays: https://rs.tdwg.org/bdqtest/terms/<identifier>.
PUBLISHED: dict[str, str] = {}
TESTS: dict[str, Test] = {}


def published(label: str, identifier: str) -> Callable[[Test], Test]:
    """Enter a test in the register."""

    def note(test: Test) -> Test:
        PUBLISHED[label] = identifier
        TESTS[label] = test
        return test

    return note


def read(record: Record, term: str) -> str:
    """The text of a term, empty where it is nothing or only white space."""
    value = record.get(term) or ""
    return value if value.strip() else ""


def number(text: str) -> float | None:
    """A finite number, or ``None``."""
    try:
        value = float(text)
    except ValueError:
        return None
    return value if abs(value) < float("inf") else None


def whole(text: str) -> int | None:
    """A whole number, or ``None``."""
    return int(text) if re.fullmatch(r"\s*[+-]?\d{1,9}\s*", text) else None


def days_of(text: str) -> tuple[datetime.date, datetime.date] | None:
    """First and last day of a date or interval of ISO 8601-1; ``None`` where it is none."""
    if not WHEN.fullmatch(text):
        return None
    try:
        return earliest_of(text), latest_of(text)
    except ValueError:
        return None
