"""What one named value in an entry may be: its sort, its limits, and the sentence when it is something else."""

from __future__ import annotations

import calendar
import datetime
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from keepfast.book.canonical import LARGEST_WHOLE
from keepfast.book.entries import ID
from keepfast.findings import Finding
from keepfast.words import _

LONGEST_TEXT = 20_000
_PART = r"\d{4}(?:-\d{2}(?:-\d{2}(?:T\d{2}(?::\d{2}(?::\d{2}(?:\.\d+)?)?)?(?:Z|[+-]\d{2}:?\d{2})?)?)?)?"
WHEN = re.compile(rf"{_PART}(?:/(?:{_PART}|\d{{2}}(?:-\d{{2}})?))?", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True)
class Field:
    """One named value.

    ``sort``: text, texts, number, whole, flag, day (2026-03-14), moment (with an offset), when (a day, a moment, a
    month, a year or an interval), id, ids, object (plain JSON), objects, numbers (names to numbers).
    ``to``: the kind of thing an id names. ``about``: the entry belongs to that thing's record.
    ``bulky``: left out of the summary a thing carries; read the entry itself. ``exact``: blanks at its ends count.
    """

    sort: str
    words: str
    needed: bool = False
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    to: str = ""
    about: bool = False
    bulky: bool = False
    exact: bool = False

    def trouble(self, value: Any) -> str:
        """What is wrong with the value, empty when nothing is."""
        return str(_SORTS[self.sort](self, value))


def _text(field: Field, value: Any) -> str:
    if not isinstance(value, str):
        return _("this should be a text")
    if len(value) > LONGEST_TEXT:
        return _("this text is longer than {n} characters").format(n=LONGEST_TEXT)
    if _UNSEEN.search(value):
        return _("this text holds a control character")
    if field.choices and value not in field.choices:
        return _("this is none of: {known}").format(known=", ".join(c for c in field.choices if c))
    return ""


def _number(field: Field, value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _("this should be a number")
    if isinstance(value, int) and abs(value) > LARGEST_WHOLE:
        return _("this number is too large")
    if not math.isfinite(value):
        return _("this should be a number")
    if (field.low is not None and value < field.low) or (field.high is not None and value > field.high):
        low = "" if field.low is None else f"{field.low:g}"
        high = "" if field.high is None else f"{field.high:g}"
        if low and high:
            return _("this should lie between {low} and {high}").format(low=low, high=high)
        return _("this should be {low} or more").format(low=low) if low else _("at most {high}").format(high=high)
    return ""


def _whole(field: Field, value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int):
        return _("this should be a whole number")
    return _number(field, value)


def _flag(field: Field, value: Any) -> str:
    return "" if isinstance(value, bool) else _("this should be true or false")


def _day(field: Field, value: Any) -> str:
    try:
        # Weeks and days of the year are ISO 8601 too, but do not sort among the others.
        if not isinstance(value, str) or not _DAY.fullmatch(value):
            raise ValueError
        datetime.date.fromisoformat(value)
    except ValueError:
        return _("this should be a day such as 2026-03-14")
    return ""


def _moment(field: Field, value: Any) -> str:
    try:
        moment = datetime.datetime.fromisoformat(value if isinstance(value, str) else "")
    except ValueError:
        return _("this should be a moment such as 2026-03-14T21:05+02:00")
    return "" if moment.utcoffset() is not None else _("this moment needs an offset, such as +02:00")


def _when(field: Field, value: Any) -> str:
    if not isinstance(value, str) or not WHEN.fullmatch(value):
        return _("this should be a date, a moment or an interval of ISO 8601, such as 2026-03-14")
    first, slash, _second = value.partition("/")
    try:
        earliest_of(first)
        if slash:
            latest_of(value)
    except ValueError:
        return _("there is no such day or hour")
    return ""


def _id(field: Field, value: Any) -> str:
    return "" if isinstance(value, str) and ID.fullmatch(value) else _("this should be the id of something entered")


def _many(sort: str, most: int) -> Any:
    def check(field: Field, value: Any) -> str:
        if not isinstance(value, Sequence) or isinstance(value, str | bytes):
            return _("this should be a list")
        if len(value) > most:
            return _("this list is longer than {n}").format(n=most)
        return next((trouble for part in value if (trouble := _SORTS[sort](field, part))), "")

    return check


def _object(field: Field, value: Any) -> str:
    return "" if isinstance(value, Mapping) else _("this should be a set of named values")


def _numbers(field: Field, value: Any) -> str:
    if not isinstance(value, Mapping):
        return _("this should be a set of named numbers")
    for name, part in value.items():
        if field.choices and name not in field.choices:
            return _("{name} is none of: {known}").format(name=name, known=", ".join(field.choices))
        if trouble := _number(field, part):
            return f"{name}: {trouble}"
    return ""


_SORTS: dict[str, Any] = {
    "text": _text,
    "number": _number,
    "whole": _whole,
    "flag": _flag,
    "day": _day,
    "moment": _moment,
    "when": _when,
    "id": _id,
    "object": _object,
    "numbers": _numbers,
    "texts": _many("text", 1000),
    "ids": _many("id", 100_000),
    "objects": _many("object", 100_000),
}


def _last_day(year: int, month: int, day: int | None) -> datetime.date:
    if day is not None:
        return datetime.date(year, month, day)
    if not 1 <= month <= 12:
        raise ValueError(f"month must lie between 1 and 12; {month} was given")
    return datetime.date(year, month, calendar.monthrange(year, month)[1])


def earliest_of(when: str) -> datetime.date:
    """The first day that a date of ISO 8601, whole or partial, alone or the start of an interval, can mean.

    Raises
    ------
    ValueError
        If there is no such day.
    """
    part = when.partition("/")[0]
    day, _t, clock = part.partition("T")
    if clock:
        datetime.datetime.fromisoformat(part)
    bits = [int(bit) for bit in day.split("-")]
    return datetime.date(bits[0], bits[1] if len(bits) > 1 else 1, bits[2] if len(bits) > 2 else 1)


def latest_of(when: str) -> datetime.date:
    """The last day that a date of ISO 8601 can mean; the end of an interval counts as included.

    Darwin Core's wording of 2026-05-26 and the draft quality tests of 2026-06-03 disagree on that end; the tests'
    reading, end included, is taken.

    Raises
    ------
    ValueError
        If there is no such day, or the interval ends before it starts.
    """
    first, slash, second = when.partition("/")
    if not slash:
        bits = [int(bit) for bit in first.partition("T")[0].split("-")]
        if "T" in first:
            datetime.datetime.fromisoformat(first)
        return _last_day(bits[0], bits[1] if len(bits) > 1 else 12, bits[2] if len(bits) > 2 else None)
    start_day = first.partition("T")[0]
    if re.fullmatch(r"\d{2}", second):  # 2007-11-13/15, or 2007-11/12
        second = (start_day[:8] if len(start_day) == 10 else start_day[:5]) + second
    elif re.fullmatch(r"\d{2}-\d{2}", second):
        second = start_day[:5] + second
    end = latest_of(second)
    if end < earliest_of(first):
        raise ValueError(f"the interval {when} ends before it starts")
    return end


def findings_of_fields(
    fields: Mapping[str, Field], content: Mapping[str, Any], *, whole: bool, subject: str = ""
) -> Iterator[Finding]:
    """What is wrong with the named values; ``whole`` also asks for the needed ones."""
    for name, value in content.items():
        field = fields.get(name)
        if field is None:
            yield Finding(
                _("this has no place in such an entry"),
                _("Known here: {known}.").format(known=", ".join(fields)),
                field=str(name)[:80],
                subject=subject,
            )
        elif value is None:
            if field.needed:
                yield Finding(_("this may not be left empty"), field=name, subject=subject)
        elif trouble := field.trouble(value):
            yield Finding(trouble, field=name, read=str(value)[:80], subject=subject)
    if whole:
        for name, field in fields.items():
            if field.needed and name not in content:
                yield Finding(_("this is missing"), field.words, field=name, subject=subject)
