"""Temperature records: the CSV or XLSX that a logger writes, with whatever it says above its table.

The unit must be stated (in the heading, in a column of its own, or beside each figure): a record of 75 could be a hot
camp in Fahrenheit or a broken sensor, and nobody can tell. A zone is taken from the times, from their heading, or
from the caller.
"""

from __future__ import annotations

import datetime
import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from keepfast.exchange import cells
from keepfast.exchange.tables import Row, Rows, read_rows
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

HEAD_WITHIN = 60  # rows above the table that a logger may fill with its serial number and settings
SENSIBLE_C = (-40.0, 80.0)
MOST_FINDINGS = 20

_TIME_WORDS = ("time", "datetime", "timestamp", "hora", "heure", "zeit", "uhrzeit", "zeitstempel", "fecha", "data")
_DATE_WORDS = ("date", "day", "fecha", "data", "datum", "dia", "jour", "tag")
_WARM_WORDS = ("temp", "celsius", "fahrenheit", "degc", "degf", "tc", "tf")
_NOT_AIR = ("dew", "rocio", "orvalho", "tau", "wet", "limit", "alarm", "max", "min", "high", "low")
_VALUE_WORDS = ("value", "reading", "valor", "wert", "valeur")
_UNIT_WORDS = ("unit", "units", "unidad", "unidade", "einheit", "unite")
_OFFSET = re.compile(r"(?:UTC|GMT)\s*(?P<sign>[+-])?\s*(?P<hour>\d{1,2})?(?::?(?P<minute>\d{2}))?", re.IGNORECASE)
_UNIT = re.compile(
    r"(?:°|º|deg(?:rees)?\.?|\(|\[|,|_|/|\s|^)\s*°?\s*(?P<unit>c|f|k|celsius|fahrenheit|kelvin)\b", re.IGNORECASE
)
# Rows above the table that say in which zone its times are.
_ZONE_WORDS = re.compile(
    r"\b(?:time ?zone|zona horaria|huso horario|fuseau(?: horaire)?|zeitzone|fuso(?: hor[aá]rio)?"
    r"|(?:utc|gmt) ?offset)\b(?P<rest>.*)",
    re.IGNORECASE,
)
_PLACE_ZONE = re.compile(r"\b[A-Z][A-Za-z]+(?:/[A-Z][A-Za-z_]+){1,2}\b")
_BARE_OFFSET = re.compile(r"(?P<sign>[+-])\s*(?P<hour>\d{1,2})(?::?(?P<minute>\d{2}))?\b")
# Short names of zones that a heading may hold; several are used by more than one zone, so they are only compared.
_SHORT_ZONE = re.compile(
    r"\b(?:W|C|E)ES?T\b|\b(?:BST|IST|MSK|SAST|WAT|CAT|EAT|JST|KST|HKT|AES?T|AEDT|NZS?T|NZDT|HST|AKST|AKDT|[ECMP][SD]T)\b"
)
_SECONDS = re.compile(r"^(?P<seconds>\d{10})(?:\d{3}|\.\d+)?$")
# What loggers write where they have no reading.
_NO_READING = frozenset(
    ["nan", "na", "n/a", "null", "none", "nil", "err", "error", "fault", "fail", "open", "short", "nc", "lost"]
)
_DASHES = re.compile(r"[-.]+")
LEAST_GAP_H = 3.0  # between readings, before it is worth a word
_SHORT_YEAR = re.compile(r"^(\s*\d{1,2}[/.-]\d{1,2}[/.-])(\d{2})(?=[\sT,]|$)")


@dataclass(frozen=True)
class Record:
    """A temperature record in order of time, each time with its offset."""

    at: tuple[datetime.datetime, ...]
    temperature_c: tuple[float, ...]
    name: str
    sha256: str
    column: str  # heading of the column that was taken
    unit: str  # as stated: C or F
    zone: str  # where the offsets come from, in words
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class _Head:
    row: int
    time: int
    date: int | None
    warm: int
    unit: str
    unit_column: int | None
    others: tuple[str, ...]
    offset: datetime.timezone | None  # stated in the heading or above the table
    zone: ZoneInfo | None  # the same, where a place was named instead


def read_logger(path: str | Path, *, zone: str | None = None, column: str | None = None) -> Record:
    """
    Read a logger's table.

    Parameters
    ----------
    path : str or Path
        CSV (any usual separator, decimal mark, encoding) or XLSX.
    zone : str, optional
        Zone of times that carry no offset and whose heading names none, such as ``Europe/Madrid``.
    column : str, optional
        Heading (or part of it) of the temperature to take, where there are several.

    Returns
    -------
    Record
        Readings in order of time; a time that stands twice keeps its last reading.

    Raises
    ------
    FindingsError
        If there is no table of times and temperatures, the unit or the zone is not stated, or cells cannot be read:
        all of them at once.
    """
    rows = read_rows(path)
    head = _head(rows, column)
    table = [row for row in rows if row.number > head.row and not row.blank]
    findings = list(rows.findings)
    home = head.zone or _home(zone)
    order = cells.day_order(_full_year(row[head.date if head.date is not None else head.time]) for row in table)
    mark = cells.decimal_mark(row[head.warm] for row in table)
    read: list[tuple[cells.Moment, float]] = []
    wrong: list[Finding] = []
    odd = empty = 0
    for row in table:
        if not row[head.warm]:
            continue  # an event, or the end of the file
        if row[head.warm].casefold() in _NO_READING or _DASHES.fullmatch(row[head.warm]):
            empty += 1
            continue
        try:
            found = _moment(row, head, home, order)
            value = _value(row, head, mark)
        except cells.CellError as problem:
            wrong.append(_finding(rows, row, problem, head))
            continue
        if found.zone_assumed and head.offset is None and home is None:
            wrong.append(_no_zone(rows, row[head.time]))
            break
        if SENSIBLE_C[0] <= value <= SENSIBLE_C[1]:
            read.append((found, value))
        else:
            odd += 1
    if wrong:
        more = len(wrong) - MOST_FINDINGS
        shown = wrong[:MOST_FINDINGS]
        if more > 0:
            shown.append(Finding(_("{count} more rows like these").format(count=more), file=rows.label))
        raise FindingsError(shown)
    if not read:
        raise FindingsError(
            [Finding(_("there is no reading in this table"), _("Look whether it is the right file."), file=rows.label)]
        )
    moments, zones, doubts = _placed([found for found, _value_ in read], head, home, rows)
    findings += doubts
    readings: dict[datetime.datetime, float] = {}
    twice = 0
    for at, (_found, value) in zip(moments, read, strict=True):
        twice += at in readings
        readings[at] = value
    for count, what in (
        (empty, _("{count} rows say that the sensor had no reading; they were passed over")),
        (odd, _("{count} readings outside -40 to 80 °C were left out: the sensor or the unit may be wrong")),
        (twice, _("{count} times stand twice; the later reading was kept: were the clocks changed?")),
    ):
        if count:
            findings.append(Finding(what.format(count=count), weight="doubt", file=rows.label))
    findings += _gaps(sorted(readings), rows)
    if head.others:
        findings.append(
            Finding(
                _("several temperatures stand here; {column} was taken").format(column=_heading(rows, head)),
                _("Name another with its heading if that is the wrong one: {others}.").format(
                    others=", ".join(head.others)
                ),
                weight="note",
                file=rows.label,
            )
        )
    ordered = sorted(readings)
    return Record(
        at=tuple(ordered),
        temperature_c=tuple(readings[at] for at in ordered),
        name=rows.name,
        sha256=rows.sha256,
        column=_heading(rows, head),
        unit=head.unit or _("beside each figure"),
        zone=", ".join(sorted(zones)),
        findings=tuple(findings),
    )


def _heading(rows: Rows, head: _Head) -> str:
    return next(row[head.warm] for row in rows if row.number == head.row)


def _home(zone: str | None) -> ZoneInfo | None:
    if zone is None:
        return None
    try:
        return ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise FindingsError(
            [
                Finding(
                    _("there is no such time zone"),
                    _("Write it as Europe/Madrid, or as UTC."),
                    field="zone",
                    read=zone,
                )
            ]
        ) from None


def _head(rows: Rows, wanted: str | None) -> _Head:
    """The row of headings and what stands where."""
    for row in rows:
        if row.number > HEAD_WITHIN:
            break
        folded = [cells.folded(cell) for cell in row.cells]
        time, date = _time_columns(folded)
        if time is None:
            continue
        warm = [i for i, name in enumerate(folded) if i not in (time, date) and _is_warm(row[i], name)]
        values = [i for i, name in enumerate(folded) if name.startswith(_VALUE_WORDS)]
        units = [i for i, name in enumerate(folded) if name in _UNIT_WORDS]
        unit_column = units[0] if units and not warm and values else None
        candidates = warm or (values if unit_column is not None else [])
        if not candidates:
            continue
        chosen = _chosen(rows, row, candidates, wanted)
        unit = _unit(row[chosen])
        sample = [r[chosen] for r in rows if r.number > row.number and r[chosen]][:5]
        beside = bool(sample) and all(re.search(r"[°º]?\s*[CF]$", cell) for cell in sample)
        if not unit and unit_column is None and not beside:
            raise FindingsError(
                [
                    Finding(
                        _("the unit of the temperature is not stated"),
                        _("Write it into the heading, such as temperature_c or Temp (°F)."),
                        file=rows.label,
                        row=row.number,
                        field=row[chosen],
                    )
                ]
            )
        others = tuple(row[i] for i in candidates if i != chosen)
        return _Head(row.number, time, date, chosen, unit, unit_column, others, *_stated_zone(rows, row, time))
    raise FindingsError(
        [
            Finding(
                _("no table of times and temperatures was found"),
                _("It needs a row of headings with a time and a temperature, such as time,temperature_c."),
                file=rows.label,
            )
        ]
    )


def _time_columns(folded: Sequence[str]) -> tuple[int | None, int | None]:
    """The column of the time, and that of the date when it stands apart."""
    dates = [i for i, name in enumerate(folded) if name in _DATE_WORDS]
    times = [i for i, name in enumerate(folded) if name.startswith(_TIME_WORDS) and i not in dates]
    both = [i for i, name in enumerate(folded) if name.startswith(("datetime", "dateandtime", "fechahora", "datahora"))]
    if both:
        return both[0], None
    if times and dates:
        return times[0], dates[0]
    if times:
        return times[0], None
    return (dates[0], None) if dates else (None, None)


def _is_warm(heading: str, folded: str) -> bool:
    if any(word in folded for word in _NOT_AIR):
        return False
    return folded.startswith(_WARM_WORDS) or "temp" in folded or bool(re.search(r"[°º]\s*[CF]\b", heading))


def _chosen(rows: Rows, row: Row, candidates: Sequence[int], wanted: str | None) -> int:
    if wanted is None:
        return candidates[0]
    key = cells.folded(wanted)
    found = [i for i in candidates if key in cells.folded(row[i])]
    if not found:
        raise FindingsError(
            [
                Finding(
                    _("there is no such temperature column"),
                    _("Here are: {columns}.").format(columns=", ".join(row[i] for i in candidates)),
                    file=rows.label,
                    row=row.number,
                    read=wanted,
                )
            ]
        )
    return found[0]


def _unit(heading: str) -> str:
    found = _UNIT.search(heading)
    if found is None:
        name = cells.folded(heading)
        return next((u for word, u in (("celsius", "C"), ("fahrenheit", "F")) if word in name), "")
    return found["unit"][0].upper()


def _offset(heading: str) -> datetime.timezone | None:
    found = _OFFSET.search(heading)
    return None if found is None else _as_offset(found)


def _as_offset(found: re.Match[str]) -> datetime.timezone | None:
    hours = int(found["hour"] or 0) + int(found["minute"] or 0) / 60
    if hours > 15:
        return None
    return datetime.timezone(datetime.timedelta(hours=-hours if found["sign"] == "-" else hours))


def _stated_zone(rows: Rows, row: Row, time: int) -> tuple[datetime.timezone | None, ZoneInfo | None]:
    """The offset or the place's zone that the heading of the time states, or a line above the table."""
    texts = [row[time]]
    for above in rows:
        if above.number >= row.number:
            break
        said = _ZONE_WORDS.search(" ".join(above.cells))
        if said is not None:
            texts.append(said["rest"])
    for k, text in enumerate(texts):
        place = _PLACE_ZONE.search(text)
        if place is not None:
            try:
                return None, ZoneInfo(place[0])
            except (ZoneInfoNotFoundError, ValueError, OSError):
                pass
        offset = _offset(text)
        bare = _BARE_OFFSET.search(text) if offset is None and k > 0 else None
        if offset is None and bare is not None:
            offset = _as_offset(bare)
        if offset is not None:
            return offset, None
    return None, None


def _moment(row: Row, head: _Head, home: ZoneInfo | None, order: str) -> cells.Moment:
    """The time of a row, in the zone of its home (or UTC for want of one) where it carries no offset of its own."""
    text = row[head.time] if head.date is None else f"{row[head.date]} {row[head.time]}"
    seconds = _SECONDS.fullmatch(text.strip())
    if seconds is not None:
        # Seconds, or thousandths of them, since 1970: they are UTC by their nature.
        return cells.Moment(datetime.datetime.fromtimestamp(int(seconds["seconds"]), datetime.UTC), False)
    return cells.moment(_full_year(text), home or ZoneInfo("UTC"), order=order)


def _placed(
    found: Sequence[cells.Moment], head: _Head, home: ZoneInfo | None, rows: Rows
) -> tuple[list[datetime.datetime], set[str], list[Finding]]:
    """Every time with its offset, where those come from, and what is doubtful about it."""
    answer: list[datetime.datetime] = [one.at for one in found]
    zones: set[str] = set()
    doubts: list[Finding] = []
    bare = [k for k, one in enumerate(found) if one.zone_assumed]
    if len(bare) < len(found):
        zones.add(_("stated with each time"))
    if not bare:
        return answer, zones, doubts
    if head.offset is not None:
        zones.add(_("stated in the heading"))
        for k in bare:
            answer[k] = found[k].at.replace(tzinfo=head.offset)
        return answer, zones, doubts
    assert home is not None
    placed, words = _by_the_clock([found[k].at.replace(tzinfo=None) for k in bare], home)
    for k, at in zip(bare, placed, strict=True):
        answer[k] = at
    if words:
        doubts.append(Finding(words, weight="doubt", file=rows.label))
    said = next((_SHORT_ZONE.search(row[head.time]) for row in rows if row.number == head.row), None)
    there = min(answer).astimezone(home).tzname()
    if said is not None and said[0] != there:
        doubts.append(
            Finding(
                _("the heading says {said}, and the times were taken as {zone} ({there})").format(
                    said=said[0], zone=home.key, there=there
                ),
                _("If that is wrong, write the offset into the heading, such as GMT+02:00."),
                weight="doubt",
                file=rows.label,
            )
        )
    zones.add(_("stated in the heading") if head.zone is not None else _("taken as {zone}").format(zone=home.key))
    return answer, zones, doubts


def _by_the_clock(bare: Sequence[datetime.datetime], home: ZoneInfo) -> tuple[list[datetime.datetime], str]:
    """
    Times of a clock on the wall with their offsets, in the order of the file.

    Where clocks go back, the hour that comes twice is told apart by its order. A logger whose own clock ran through
    the change (it shows an hour that never was, or passes the doubled one but once) keeps the offset it began with;
    then the second answer says so.
    """

    def offset(at: datetime.datetime, fold: int) -> datetime.timedelta:
        return at.replace(tzinfo=home, fold=fold).utcoffset() or datetime.timedelta()

    def fixed(at: datetime.datetime, by: datetime.timedelta) -> datetime.datetime:
        # A fixed offset, because times of one changing zone subtract by the clock on the wall.
        return at.replace(tzinfo=datetime.timezone(by))

    never = [at for at in bare if offset(at, 0) < offset(at, 1)]
    double = [at for at in bare if offset(at, 0) > offset(at, 1)]
    folds: list[int] = []
    first_pass: set[datetime.datetime] = set()
    before: tuple[datetime.datetime, int] | None = None
    for at in bare:
        fold = 0
        if offset(at, 0) > offset(at, 1):
            back = before is not None and at <= before[0]
            fold = int(at in first_pass or back or (before is not None and before[1] == 1))
            first_pass.add(at)
            before = (at, fold)
        else:
            before = None
        folds.append(fold)
    steps = sorted(b - a for a, b in itertools.pairwise(sorted(set(bare))))
    often = bool(steps) and steps[len(steps) // 2] <= datetime.timedelta(hours=1)
    once = bool(double) and not any(folds) and often and min(bare) < min(double) and max(double) < max(bare)
    if never or once:
        by = offset(min(bare), 0)
        return [fixed(at, by) for at in bare], _(
            "the clocks changed during this record and the logger's did not: its first offset, {offset}, is kept"
        ).format(offset=min(bare).replace(tzinfo=datetime.timezone(by)).isoformat()[-6:])
    return [fixed(at, offset(at, fold)) for at, fold in zip(bare, folds, strict=True)], ""


def _gaps(at: Sequence[datetime.datetime], rows: Rows) -> list[Finding]:
    """The longest stretch without a reading, where it is long beside the usual one."""
    steps = [(after - before, before, after) for before, after in itertools.pairwise(at)]
    if not steps:
        return []
    usual = sorted(step for step, _before, _after in steps)[len(steps) // 2]
    longest, before, after = max(steps)
    if longest < max(datetime.timedelta(hours=LEAST_GAP_H), 4 * usual):
        return []
    return [
        Finding(
            _("there is no reading from {before} to {after}, and a straight line is taken between them").format(
                before=before.isoformat(" ", "minutes"), after=after.isoformat(" ", "minutes")
            ),
            weight="doubt",
            file=rows.label,
        )
    ]


def _full_year(text: str) -> str:
    """Loggers write years with two figures; none of them is older than this century."""
    return _SHORT_YEAR.sub(r"\g<1>20\2", text)


def _value(row: Row, head: _Head, mark: str) -> float:
    unit = head.unit
    if head.unit_column is not None:
        unit = _unit(" " + row[head.unit_column])
        if not unit:
            raise cells.CellError(_("the unit of this reading is not stated"), _("Write C or F."))
    exact = head.warm in row.exact
    if unit == "K":
        return cells.number(row[head.warm], "temperature", "c", mark=mark, exact=exact).value - 273.15
    return cells.number(row[head.warm], "temperature", unit.lower(), mark=mark, exact=exact).value


def _finding(rows: Rows, row: Row, problem: cells.CellError, head: _Head) -> Finding:
    return Finding(problem.what, problem.remedy, file=rows.label, row=row.number, read=" | ".join(row.cells)[:80])


def _no_zone(rows: Rows, read: str) -> Finding:
    return Finding(
        _("the times carry no offset and nothing says which zone they are in"),
        _("Say it, such as --zone Europe/Madrid, or put an offset behind each time."),
        file=rows.label,
        read=read,
    )
