"""Published data-quality tests over dates."""

from __future__ import annotations

import calendar
import datetime

from keepfast.book.answers import Answer, failed, not_tested, passed
from keepfast.book.quality_base import Record, days_of, published, read, whole
from keepfast.rules.checks import CheckRules
from keepfast.words import _

_REMEDY = "Write it as 2026-03-14, 2026-03 or 2026; what stood in the notes goes into the verbatim field."


def _standard(label: str, identifier: str, term: str) -> None:
    @published(label, identifier)
    def check(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
        text = read(record, term)
        if not text:
            return not_tested(label, _("{term} is empty").format(term=term))
        if days_of(text):
            return passed(label, text)
        return failed(label, _("{term} is no date of ISO 8601").format(term=term), _(_REMEDY), text)


_standard("VALIDATION_EVENTDATE_STANDARD", "4f2bf8fd-fc5c-493f-a44c-e7b16153c803", "eventDate")
_standard("VALIDATION_DATEIDENTIFIED_STANDARD", "66269bdd-9271-4e76-b25c-7ab81eebe1d8", "dateIdentified")


@published("VALIDATION_EVENTDATE_INRANGE", "3cff4dc4-72e9-4abe-9bf3-8a30f1618432")
def _event_date(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_EVENTDATE_INRANGE", read(record, "eventDate")
    days = days_of(text)
    if days is None:
        return not_tested(label, _("eventDate holds no date"))
    earliest = rules.date("published", "event_earliest")
    if days[1] < earliest:
        why = _("this lies before {day}, when no animal was collected").format(day=earliest)
        return failed(label, why, _("Look at the notes again."), text)
    if days[0] > today:
        return failed(label, _("this date lies in the future"), _("Look at the notes again."), text)
    return passed(label, text)


@published("VALIDATION_YEAR_INRANGE", "ad0c8855-de69-4843-a80c-a5387d20fbc8")
def _year(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_YEAR_INRANGE", read(record, "year")
    year = whole(text)
    if year is None:
        return not_tested(label, _("year holds no number"))
    if rules.date("published", "event_earliest").year <= year <= today.year:
        return passed(label, text)
    return failed(label, _("this year is too early or lies in the future"), _("Look at the notes again."), text)


@published("VALIDATION_DATEIDENTIFIED_INRANGE", "dc8aae4b-134f-4d75-8a71-c4186239178e")
def _date_identified(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_DATEIDENTIFIED_INRANGE", read(record, "dateIdentified")
    identified = days_of(text)
    if identified is None:
        return not_tested(label, _("dateIdentified holds no date"))
    event_text = read(record, "eventDate")
    event = days_of(event_text) if event_text else None
    if event_text and event is None:
        return not_tested(label, _("eventDate holds no date"))
    if identified[0] > today:
        return failed(label, _("it was determined in the future"), _("Look at the notes again."), text)
    if identified[1] < rules.date("published", "identified_earliest"):
        return failed(label, _("it was determined before names had rules"), _("Look at the notes again."), text)
    if event is not None and identified[1] < event[0]:
        why = _("it was determined before it was caught")
        return failed(label, why, _("One of the two dates is wrong."), f"{text} {event_text}")
    return passed(label, text)


@published("VALIDATION_MONTH_STANDARD", "01c6dafa-0886-4b7e-9881-2c3018c98bdc")
def _month(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    return _count("VALIDATION_MONTH_STANDARD", record, "month", 12)


@published("VALIDATION_DAY_STANDARD", "47ff73ba-0028-4f79-9ce1-ee7008d66498")
def _day(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    return _count("VALIDATION_DAY_STANDARD", record, "day", 31)


def _count(label: str, record: Record, term: str, most: int) -> Answer:
    text = read(record, term)
    if not text:
        return not_tested(label, _("{term} is empty").format(term=term))
    value = whole(text)
    if value is not None and 1 <= value <= most:
        return passed(label, text)
    why = _("{term} is no whole number from 1 to {most}").format(term=term, most=most)
    return failed(label, why, _("Look at the notes again."), text)


@published("VALIDATION_DAY_INRANGE", "8d787cb5-73e2-4c39-9cd1-67c7361dc02e")
def _day_of_month(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_DAY_INRANGE", read(record, "day")
    day, month, year = (whole(read(record, term)) for term in ("day", "month", "year"))
    if day is None:
        return not_tested(label, _("day holds no number"))
    if 1 <= day <= 28:
        return passed(label, text)
    if not 1 <= day <= 31:
        return failed(label, _("no month has this day"), _("Look at the notes again."), text)
    if month is None or not 1 <= month <= 12:
        return not_tested(label, _("month holds no month"))
    if month == 2 and day == 29 and year is None:
        return not_tested(label, _("year holds no number"))
    # 2000 stands in for a year that is not known: only 29 February asks for it, and that is answered above.
    if day <= calendar.monthrange(year if year and 1 <= year <= 9999 else 2000, month)[1]:
        return passed(label, text)
    return failed(label, _("this month has no such day"), _("Look at the notes again."), f"{text} {month} {year or ''}")


def _day_of_year(label: str, identifier: str, term: str, which: int) -> None:
    @published(label, identifier)
    def check(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
        text = read(record, term)
        if not text:
            return not_tested(label, _("{term} is empty").format(term=term))
        value = whole(text)
        if value is not None and 1 <= value <= 365:
            return passed(label, text)
        if value == 366:
            days = days_of(read(record, "eventDate"))
            if days is None:
                return not_tested(label, _("eventDate holds no date"))
            if calendar.isleap(days[which].year):
                return passed(label, text)
        return failed(label, _("the year has no such day"), _("Look at the notes again."), text)


_day_of_year("VALIDATION_STARTDAYOFYEAR_INRANGE", "85803c7e-2a5a-42e1-b8d3-299a44cafc46", "startDayOfYear", 0)
_day_of_year("VALIDATION_ENDDAYOFYEAR_INRANGE", "9a39d88c-7eee-46df-b32a-c109f9f81fb8", "endDayOfYear", 1)


@published("VALIDATION_EVENT_CONSISTENT", "5618f083-d55a-4ac2-92b5-b9fb227b832f")
def _parts_of_date(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_EVENT_CONSISTENT", read(record, "eventDate")
    days = days_of(text)
    said = {term: read(record, term) for term in ("year", "month", "day", "startDayOfYear", "endDayOfYear")}
    said = {term: value for term, value in said.items() if value}
    if days is None or not said:
        return not_tested(label, _("eventDate or its parts are empty"))
    first, last = days
    # A year, month or day stands for the whole of the interval, so both ends must have it.
    true = {
        "year": {first.year, last.year},
        "month": {first.month, last.month},
        "day": {first.day, last.day},
        "startDayOfYear": {first.timetuple().tm_yday},
        "endDayOfYear": {last.timetuple().tm_yday},
    }
    wrong = [term for term, value in said.items() if true[term] != {whole(value)}]
    if not wrong:
        return passed(label, text)
    why = _("{terms} does not fit the date").format(terms=", ".join(wrong))
    return failed(label, why, _("Correct the one that is wrong."), " ".join([text, *said.values()]))


def duration_s(text: str) -> int | None:
    """How long a date or interval lasts, the end of an interval included; ``None`` where it is no date.

    MEASURE_EVENTDATE_DURATIONINSECONDS (56b6c695-adf1-418e-95d2-da04cad7be53) of the same draft.
    """
    days = days_of(text)
    if days is None:
        return None
    first, _slash, second = text.partition("/")
    if "T" in first and "T" in second:
        return int((datetime.datetime.fromisoformat(second) - datetime.datetime.fromisoformat(first)).total_seconds())
    return ((days[1] - days[0]).days + 1) * 86_400
