"""What a person wrote in one cell: a number with its doubts, a time, a word. Read with certainty or refused.

A cell that can mean two things is never settled by a guess: ``CellError`` says what was seen and what to write instead.
"""

from __future__ import annotations

import datetime
import difflib
import math
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from zoneinfo import ZoneInfo

from keepfast.words import _

# How people write "nobody measured this".
MISSING = frozenset(
    {"", "-", "--", "---", "–", "—", "?", "??", ".", "/", "na", "n/a", "n.a.", "n.a", "null", "none", "nil", "x"}
)

# Units by what they measure, as a factor to mm or g (exact by definition); temperatures are handled apart.
UNITS: dict[str, dict[str, Decimal]] = {
    "length": {
        "mm": Decimal(1),
        "millimetre": Decimal(1),
        "millimeter": Decimal(1),
        "cm": Decimal(10),
        "centimetre": Decimal(10),
        "centimeter": Decimal(10),
        "m": Decimal(1000),
        "metre": Decimal(1000),
        "meter": Decimal(1000),
        "in": Decimal("25.4"),
        "inch": Decimal("25.4"),
        "inches": Decimal("25.4"),
    },
    "mass": {
        "g": Decimal(1),
        "gr": Decimal(1),
        "gram": Decimal(1),
        "gramme": Decimal(1),
        "kg": Decimal(1000),
        "kilogram": Decimal(1000),
        "mg": Decimal("0.001"),
        "oz": Decimal("28.349523125"),
        "lb": Decimal("453.59237"),
    },
    "temperature": {"c": Decimal(1), "celsius": Decimal(1), "f": Decimal(1), "fahrenheit": Decimal(1)},
    "count": {},
}
CANONICAL = {"length": "mm", "mass": "g", "temperature": "c", "count": ""}


class CellError(ValueError):
    """A cell that cannot be read with certainty: what was seen, and what to do."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


@dataclass(frozen=True)
class Number:
    """A number in the unit asked for, and a doubt in words where the writer had one."""

    value: float
    doubt: str = ""


def missing(text: str) -> bool:
    """Whether the cell says, in one of the usual ways, that there is nothing to say."""
    return text.strip().casefold() in MISSING


# --- numbers ------------------------------------------------------------------------------------------------------

_GROUPED_COMMA = re.compile(r"\d{1,3}(,\d{3})+\.\d+")
_GROUPED_POINT = re.compile(r"\d{1,3}(\.\d{3})+,\d+")
_PLAIN = re.compile(r"(\d+)([.,])(\d+)")
_APPROXIMATE = re.compile(
    r"^(~|≈|∼|ca\.?|c\.|circa|about|approx\.?|approximately|est\.?)\s*(?=[\d.,+-])", re.IGNORECASE
)
_LIMIT = re.compile(r"^[<>≤≥]")
_RANGE = re.compile(r"^\s*[\d.,]+\s*\D{0,3}\s*(-|–|—|to|bis|a)\s*[\d.,]+\s*\D{0,3}$", re.IGNORECASE)
_SUM = re.compile(r"^\s*[\d.,]+\s*\+\s*[\d.,]+")
_DATE = re.compile(
    r"^\d{4}-\d{2}-\d{2}|^\d{1,2}[-./ ]?(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)", re.IGNORECASE
)
_NUMBER = re.compile(r"^([+-]?)((?:\d[\d.,' ]*|[.,]\d+))(?:[eE]([+-]?\d{1,3}))?\s*([^\d\s].*)?$")


def _plain(text: str) -> str:
    """Full-width digits, special blanks and the several minus signs in their plain form."""
    flat = unicodedata.normalize("NFKC", text).translate(
        {0x2212: "-", 0x2009: " ", 0x202F: " ", 0xA0: " ", 0x2019: "'"}
    )
    return flat.strip()


def decimal_mark(texts: Iterable[str]) -> str:
    """The decimal mark that these cells prove: ``"."``, ``","``, ``"both"``, or ``""`` when none of them tells.

    A mark with three digits behind it proves nothing (1,234 may be a thousand), except after a leading zero or more
    than three digits.
    """
    seen = set()
    for text in texts:
        flat = _plain(text)
        if _GROUPED_COMMA.search(flat):
            seen.add(".")
        elif _GROUPED_POINT.search(flat):
            seen.add(",")
        else:
            found = _PLAIN.search(flat)
            if found and re.fullmatch(r"[^\d.,]*\d+[.,]\d+[^\d.,]*", flat):
                whole, mark, part = found.groups()
                if len(part) != 3 or whole.startswith("0") or len(whole) > 3:
                    seen.add(mark)
    return "both" if len(seen) == 2 else (seen.pop() if seen else "")


def number(text: str, dimension: str, unit: str = "", *, mark: str = "", exact: bool = False) -> Number:
    """
    The number in a cell, in mm, g, degrees C or plain.

    Parameters
    ----------
    text : str
        The cell. ``12,5``, ``1.234,5``, ``~12``, ``12 g``, ``1 234.5`` are read; ``1,234`` only when ``mark`` tells.
    dimension : str
        ``length``, ``mass``, ``temperature`` or ``count``.
    unit : str, optional
        Unit of the heading; a unit in the cell wins over it.
    mark : str, optional
        Decimal mark that the rest of the file proves (see ``decimal_mark``).
    exact : bool, optional
        The file itself stores a number here, so its point is a decimal point.

    Raises
    ------
    CellError
        If it is no number, could be two, or is a range, a sum, a limit, not finite, or in another kind of unit.
    """
    flat = _plain(text)
    if exact:
        if re.fullmatch(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?", flat) is None:
            raise CellError(_("this is not a number"), _("Write a number such as 12.5."))
        return Number(_converted(Decimal(flat), dimension, unit))
    doubt = ""
    if _APPROXIMATE.match(flat):
        flat = _APPROXIMATE.sub("", flat)
        doubt = _("the list calls this number approximate")
    if flat.endswith("?"):
        flat = flat[:-1].strip()
        doubt = _("the list puts a question mark to this number")
    if _LIMIT.match(flat):
        raise CellError(
            _("this is a limit, not a measurement"), _("Write the number that was read, or leave the cell empty.")
        )
    if _DATE.match(flat):
        raise CellError(
            _("this is a date where a number belongs"),
            _("The spreadsheet may have turned a number into a date: set the cell to text and type the number again."),
        )
    if _SUM.match(flat):
        raise CellError(_("this is a sum"), _("Write its result; for a tail that grew again, say so in tail_state."))
    if _RANGE.match(flat):
        raise CellError(_("this is a range"), _("Write one number, the middle if need be, and the range in remarks."))
    found = _NUMBER.match(flat)
    if found is None:
        raise CellError(_("this is not a number"), _("Write a number such as 12.5, or leave the cell empty."))
    sign, digits, power, rest = found.groups()
    value = _digits(digits.strip(), mark, dimension)
    if power:
        value = value.scaleb(int(power))
    if sign == "-":
        value = -value
    own_unit = _unit_in_cell(rest, dimension) if rest else unit
    return Number(_converted(value, dimension, own_unit), doubt)


def _digits(text: str, mark: str, dimension: str) -> Decimal:
    unclear = CellError(
        _("this number can be read in two ways, with a decimal mark or with a mark between thousands"),
        _("Write it without a mark between thousands, and with one more or one less figure after the decimal mark."),
    )
    body = text
    if re.fullmatch(r"\d{1,3}([ ']\d{3})+([.,]\d+)?", body):
        body = re.sub(r"[ ']", "", body).replace(",", ".")
        return Decimal(body)
    if " " in body or "'" in body:
        raise CellError(_("these are two numbers in one cell"), _("Write one number a cell."))
    points, commas = body.count("."), body.count(",")
    if points and commas:
        if _GROUPED_COMMA.fullmatch(body):
            return Decimal(body.replace(",", ""))
        if _GROUPED_POINT.fullmatch(body):
            return Decimal(body.replace(".", "").replace(",", "."))
        raise unclear
    if points + commas > 1:
        if re.fullmatch(r"\d{1,3}([.,]\d{3}){2,}", body):
            return Decimal(re.sub(r"[.,]", "", body))
        raise CellError(_("this is not a number"), _("Write a number such as 12.5."))
    if not points + commas:
        return Decimal(body)
    used = "." if points else ","
    whole, part = body.split(used)
    thousands_possible = len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")
    # A comma before three figures needs the file's own proof. A point is the decimal mark of the template and is
    # doubted only where the file uses commas, and in a length, which nobody reads to a thousandth.
    doubtful_point = mark in (",", "both") or (not mark and dimension == "length")
    if thousands_possible and ((used == "." and doubtful_point) or (used == "," and mark != ",")):
        raise unclear
    return Decimal(f"{whole or '0'}.{part or '0'}")


def _unit_in_cell(rest: str, dimension: str) -> str:
    name = re.sub(r"[°º.\s]|^deg(rees)?", "", rest.casefold())
    for variant in (name, name.removesuffix("s")):
        if variant in UNITS[dimension]:
            return variant
    for other, units in UNITS.items():
        if name in units or name.removesuffix("s") in units:
            kinds = {"length": _("a length"), "mass": _("a mass"), "temperature": _("a temperature")}
            raise CellError(
                _("{kind} stands here").format(kind=kinds.get(other, other)),
                _("Look whether two columns were swapped."),
            )
    raise CellError(
        _("there is more in this cell than a number"),
        _("Write the number alone and what else there is to say in remarks."),
    )


def _converted(value: Decimal, dimension: str, unit: str) -> float:
    if dimension == "temperature" and unit in ("f", "fahrenheit"):
        value = (value - 32) * 5 / 9
    elif dimension != "temperature":
        value *= UNITS[dimension].get(unit, Decimal(1))
    answer = float(value)
    if not math.isfinite(answer):
        raise CellError(_("no measurement is as large as this"), _("Look at the figures once more."))
    return answer


# --- words --------------------------------------------------------------------------------------------------------


def folded(text: str) -> str:
    """Letters and digits only, without case and accents: how words are compared."""
    flat = unicodedata.normalize("NFKD", text.casefold())
    return "".join(ch for ch in flat if ch.isalnum() and not unicodedata.combining(ch))


def word(text: str, allowed: tuple[str, ...], also: Mapping[str, str]) -> str:
    """
    The word of the vocabulary that a cell means.

    Parameters
    ----------
    text : str
        The cell; case, blanks, hyphens and accents do not count.
    allowed : tuple of str
        The vocabulary.
    also : mapping
        Folded other words of the trade to words of the vocabulary.

    Raises
    ------
    CellError
        If it means none of them; the remedy lists them, the closest first named.
    """
    key = folded(text) or text.strip()
    for candidate in allowed:
        if key == folded(candidate):
            return candidate
    if key in also:
        return also[key]
    known = [folded(candidate) for candidate in allowed] + list(also)
    close = difflib.get_close_matches(key, known, n=1, cutoff=0.75)
    remedy = _("Write one of: {words}.").format(words=", ".join(allowed))
    if close:
        meant = also.get(close[0]) or next(candidate for candidate in allowed if folded(candidate) == close[0])
        remedy = _("Was {word} meant?").format(word=meant) + " " + remedy
    raise CellError(_("this word is not known here"), remedy)


# --- times --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Moment:
    """A time with its offset; whether the zone was assumed, and a doubt in words."""

    at: datetime.datetime
    zone_assumed: bool
    doubt: str = ""


_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january ene enero janeiro",
            "feb february febrero fev fevereiro",
            "mar march marzo marco",
            "apr april abr abril",
            "may mayo mai maio",
            "jun june junio junho",
            "jul july julio julho",
            "aug august ago agosto",
            "sep sept september septiembre set setembro",
            "oct october octubre out outubro",
            "nov november noviembre novembro",
            "dec december dic diciembre dez dezembro",
        ),
        start=1,
    )
    for name in names.split()
}
_CLOCK = re.compile(
    r"(?P<hour>\d{1,2})\s*[:h.]\s*(?P<minute>\d{2})(?:[:.](?P<second>\d{2})(?:[.,]\d+)?)?\s*(?P<half>[ap]\.?m\.?)?"
    r"\s*(?P<zone>Z|UTC|GMT|[+-]\d{2}:?\d{2}|[+-]\d{2})?$",
    re.IGNORECASE,
)
_YEAR_FIRST = re.compile(r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})(?:T|\s+|$)")
_YEAR_LAST = re.compile(r"(?P<one>\d{1,2})(?P<mark>[-/.])(?P<two>\d{1,2})[-/.](?P<year>\d{4})(?:T|,?\s+|$)")
_NAMED = re.compile(
    r"(?:(?P<day>\d{1,2})(?:st|nd|rd|th)?[\s.-]+(?:de\s+)?(?P<month>[^\W\d_]{3,12})\.?|"
    r"(?P<month2>[^\W\d_]{3,12})\.?\s+(?P<day2>\d{1,2})(?:st|nd|rd|th)?,?)[\s-]+(?:de\s+)?(?P<year>\d{4})(?:T|,?\s+|$)"
)


def day_order(texts: Iterable[str]) -> str:
    """Whether days or months come first in dates like 13/04/2026: ``"day"``, ``"month"`` or ``""`` when none tells."""
    seen = set()
    for text in texts:
        found = _YEAR_LAST.match(_plain(text))
        if found:
            one, two = int(found["one"]), int(found["two"])
            if one > 12 >= two:
                seen.add("day")
            if two > 12 >= one:
                seen.add("month")
    return seen.pop() if len(seen) == 1 else ""


# From 1954 to 2119: whatever a trip's list can mean by such a number.
_DAY_NUMBER = re.compile(r"^[2-7]\d{4}(\.\d+)?$")


def is_day_number(text: str) -> bool:
    """Whether a number in a spreadsheet's cell can be a moment that is not formatted as one."""
    return _DAY_NUMBER.match(text) is not None


def moment_of_day_number(text: str, zone: ZoneInfo) -> Moment:
    """The moment that a spreadsheet keeps as a number of days (ISO/IEC 29500, 1900 date system)."""
    at = datetime.datetime(1899, 12, 30) + datetime.timedelta(seconds=round(float(text) * 86_400))
    said = _("a spreadsheet's day number was read as {moment}").format(moment=at.isoformat(" ", "minutes"))
    return Moment(at.replace(tzinfo=zone), True, said)


def moment(text: str, zone: ZoneInfo, *, order: str = "") -> Moment:
    """
    A date with a time of day, with its offset; one without a zone is taken in ``zone``.

    Parameters
    ----------
    text : str
        The cell: ISO 8601, or day, month and year in the usual orders, and the time as 14:30, 14h30 or 2:30 pm.
    zone : ZoneInfo
        The trip's zone.
    order : str, optional
        What the rest of the column proves about 04/05/2026 (see ``day_order``).

    Raises
    ------
    CellError
        If it is no time, lacks its day, or could be two days.
    """
    flat = _plain(text)
    if re.match(r"^\d{1,2}[:h]\d{2}", flat):
        raise CellError(_("the day is missing"), _("Write day and time, such as 2026-04-12 14:30."))
    day, rest, told_by_others = _day(flat, order)
    if not rest:
        at = datetime.datetime.combine(day, datetime.time(), zone)
        return Moment(at, True, _("the hour is missing, so the start of that day was taken, the longest it can be"))
    found = _CLOCK.match(rest)
    if found is None:
        raise _no_time()
    hour, minute, second = int(found["hour"]), int(found["minute"]), int(found["second"] or 0)
    if found["half"]:
        if not 1 <= hour <= 12:
            raise _no_time()
        hour = hour % 12 + (12 if found["half"][0] in "pP" else 0)
    try:
        clock = datetime.time(hour, minute, second)
    except ValueError:
        raise CellError(_("there is no such time of day"), _("Write it as 14:30, from 00:00 to 23:59.")) from None
    doubt = _("the other dates of this column tell which figure is the month") if told_by_others else ""
    if found["zone"]:
        return Moment(datetime.datetime.combine(day, clock, _offset(found["zone"])), False, doubt)
    at = datetime.datetime.combine(day, clock, zone)
    if at.utcoffset() != at.replace(fold=1).utcoffset():
        doubt = _("the clocks changed in that night, so this time is unsure by the change")
    return Moment(at, True, doubt)


def _no_time() -> CellError:
    return CellError(
        _("this is not a time"), _("Write it as 2026-04-12 14:30, with an offset such as +02:00 if known.")
    )


def _day(flat: str, order: str) -> tuple[datetime.date, str, bool]:
    """The day, what stands behind it, and whether only other cells told the month from the day."""
    told_by_others = False
    if found := _YEAR_FIRST.match(flat):
        year, month, day = int(found["year"]), int(found["month"]), int(found["day"])
    elif found := _YEAR_LAST.match(flat):
        one, two, year = int(found["one"]), int(found["two"]), int(found["year"])
        # Dates with points are written day first wherever they are written.
        if found["mark"] == "." or one == two or one > 12:
            day, month = one, two
        elif two > 12:
            month, day = one, two
        elif order:
            day, month = (one, two) if order == "day" else (two, one)
            told_by_others = True
        else:
            raise CellError(_("this date can be read in two ways"), _("Write it as 2026-04-12."))
    elif found := _NAMED.match(flat):
        name = folded(found["month"] or found["month2"])
        if name not in _MONTHS:
            raise _no_time()
        year, month, day = int(found["year"]), _MONTHS[name], int(found["day"] or found["day2"])
    else:
        raise _no_time()
    try:
        when = datetime.date(year, month, day)
    except ValueError:
        raise CellError(_("there is no such day"), _("Write it as 2026-04-12.")) from None
    if not 1700 <= year <= 2200:
        raise CellError(_("this year cannot be right"), _("Write the year with four figures."))
    return when, flat[found.end() :].strip(), told_by_others


def _offset(text: str) -> datetime.timezone:
    if text.upper() in ("Z", "UTC", "GMT"):
        return datetime.UTC
    digits = text[1:].replace(":", "")
    minutes = int(digits[:2]) * 60 + int(digits[2:] or 0)
    if minutes > 14 * 60:
        raise CellError(_("there is no such offset from UTC"), _("Write it as +02:00."))
    return datetime.timezone(datetime.timedelta(minutes=minutes if text[0] == "+" else -minutes))
