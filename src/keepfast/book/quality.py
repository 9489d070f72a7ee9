"""The published data-quality tests that matter to a preserved reptile or amphibian, over a flat Darwin Core record.

TDWG Biodiversity Data Quality tests, draft for review of 2026-06-03. A test is known by its identifier, for labels
were changed; ``PUBLISHED`` gives both. What the draft calls prerequisites not met is *not tested* here, with what is
missing. Tests that need a taxonomic or geographic authority that cannot be asked in camp answer so too. The tests
stand in ``quality_terms`` and ``quality_dates``.
"""

from __future__ import annotations

import datetime

from keepfast.book import quality_dates, quality_terms
from keepfast.book.answers import Answer
from keepfast.book.quality_base import PUBLISHED, TESTS, Record
from keepfast.rules.checks import CheckRules

__all__ = ["PUBLISHED", "quality_dates", "quality_terms", "run", "run_all"]


def run(label: str, record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    """One test over one record.

    Parameters
    ----------
    label : str
        Label of the test, as in ``PUBLISHED``.
    record : mapping
        Darwin Core terms to texts, with or without a prefix such as ``dwc:``.
    rules : CheckRules
        Limits and vocabularies.
    today : date
        The last day that is not in the future.
    """
    return TESTS[label](_plain(record), rules, today)


def run_all(record: Record, rules: CheckRules, today: datetime.date) -> tuple[Answer, ...]:
    """Every test over one record."""
    plain = _plain(record)
    return tuple(test(plain, rules, today) for test in TESTS.values())


def _plain(record: Record) -> dict[str, str]:
    return {name.rpartition(":")[2]: value for name, value in record.items()}
