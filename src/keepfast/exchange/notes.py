"""Existing notes, CSV or XLSX, row by row into what the book can hold; or what is wrong, with row and column.

Which column means what is a ``Statement`` (``note_columns``). Every cell that is not empty is also kept word for word.
Start with ``read_notes``.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal
from zoneinfo import ZoneInfo

from keepfast.book.number_blocks import number_key
from keepfast.exchange import cells, columns, lengths
from keepfast.exchange.note_columns import KEPT, LEFT_OUT, MEANINGS, Statement, Use
from keepfast.exchange.tables import Row, Rows
from keepfast.findings import Finding
from keepfast.rules import groups
from keepfast.words import _

PROGRESS_EVERY = 2000
LIKE_THESE = 20  # findings of one sort on one column that are shown one by one

_MONTHS = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII")
_ROMAN = {name: number for number, name in enumerate(_MONTHS, start=1)}
_ROMAN_DATE = re.compile(r"(\d{1,2})[\s./-]+([IVX]{1,4})[\s./-]+(\d{4})", re.IGNORECASE)
_HAS_CLOCK = re.compile(r"\d{1,2}\s*[:h]\s*\d{2}")
_PART_DATE = re.compile(r"\d{4}(?:-\d{2})?")
_INTERVAL = re.compile(r"\d{4}-\d{2}-\d{2}/(?:\d{4}-\d{2}-\d{2}|\d{2}(?:-\d{2})?)")
_MIDNIGHT = re.compile(r"[ T]00:00(?::00)?$")
_QUALIFIER = re.compile(r"\b(cf|aff|sp|spp|ssp|nr|near|gr|complex|agg)\b\.?|\?", re.IGNORECASE)
_AUTHORED = re.compile(r"([A-Z][a-z-]+(?: [a-z][a-z-]+){1,2}) (\(?[A-Z][^\d]*,? ?\d{4}\)?)")
_METRES = re.compile(r"\s*(?:m\.?\s?a\.?\s?s\.?\s?l\.?|msnm|m|metres|meters|±.*)$", re.IGNORECASE)
_UNSEEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class NoteRow:
    """
    One row as read: by kind of entry its fields, and every filled cell word for word by its heading.

    ``place`` holds what was written (``coordinates``, ``latitude``, ``longitude``, ``datum`` as text); it is turned
    into a place elsewhere, where an error can still name ``headings``.
    """

    number: int
    values: dict[str, dict[str, Any]]
    verbatim: dict[str, str]

    @property
    def field_number(self) -> str:
        """The animal's number."""
        return str(self.values.get("animal", {}).get("field_number", ""))


@dataclass
class NotesRead:
    """All rows that could be read, the row numbers that could not, and the findings of both."""

    rows: list[NoteRow] = field(default_factory=list)
    refused: set[int] = field(default_factory=set)
    findings: list[Finding] = field(default_factory=list)
    total: int = 0


def read_notes(
    table: Rows,
    statement: Statement,
    zone: ZoneInfo,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> NotesRead:
    """
    Every row under the headings, read by the statement.

    Parameters
    ----------
    table : Rows
        From ``tables.read_rows``.
    statement : Statement
        From ``note_columns.propose`` or ``note_columns.read_statement``.
    zone : ZoneInfo
        In which times without an offset are read.
    progress : callable, optional
        Called now and then with rows done and rows in all.

    Returns
    -------
    NotesRead
        A row with an error is in ``refused`` and not in ``rows``; nothing is raised for it.
    """
    return _Reader(table, statement, zone).read(progress)


class _Reader:
    """Reads one table; findings gather here while the rows are gone through."""

    def __init__(self, table: Rows, statement: Statement, zone: ZoneInfo) -> None:
        self.table = table
        self.label = table.label
        self.statement = statement
        self.zone = zone
        self.result = NotesRead()
        self.body = [row for row in table.rows if row.number > statement.heading_row]
        self.uses = [use for use in statement.uses if use.meaning not in (KEPT, LEFT_OUT)]
        self.kept = [use for use in statement.uses if use.meaning != LEFT_OUT]
        self.width = max((use.position for use in statement.uses), default=0) + 1
        self.mark = statement.decimal or cells.decimal_mark(
            row[use.position]
            for use in self.uses
            if MEANINGS[use.meaning].kind in ("length", "mass", "temperature", "number")
            for row in self.body
            if use.position not in row.exact and row[use.position]
        )
        self.order = statement.day_order or cells.day_order(
            row[use.position]
            for use in self.uses
            if MEANINGS[use.meaning].kind in ("when", "moment")
            for row in self.body
        )
        self.bad = False
        self.zone_assumed = 0
        self.read_as = [(use, MEANINGS[use.meaning].kind) for use in self.uses]
        self._repeats: dict[tuple[str, str], int] = {}
        self._words: dict[tuple[int, str], str] = {}
        self._names: dict[str, tuple[str, str, str]] = {}

    def read(self, progress: Callable[[int, int], None] | None) -> NotesRead:
        result = self.result
        result.total = len(self.body)
        if not self.body:
            result.findings.append(
                Finding(_("there is no row under the headings"), _("Write one row for each animal."), file=self.label)
            )
        seen: dict[str, int] = {}
        for done, row in enumerate(self.body):
            self.bad = False
            values = self._row(row)
            number = str(values.get("animal", {}).get("field_number", ""))
            key = number_key(number)  # as the book compares numbers: AB 1 and ab-01 are one
            if number and key in seen:
                self._say(
                    row,
                    self._use("animal.field_number"),
                    _("this field number stands in row {row} already").format(row=seen[key]),
                    _("Look at both tags; a number belongs to one animal."),
                    number,
                )
            seen.setdefault(key, row.number)
            if self.bad:
                result.refused.add(row.number)
            else:
                verbatim = {use.heading: row[use.position] for use in self.kept if row[use.position]}
                result.rows.append(NoteRow(row.number, values, verbatim))
            if progress is not None and done % PROGRESS_EVERY == 0:
                progress(done, len(self.body))
        if progress is not None:
            progress(len(self.body), len(self.body))
        if self.zone_assumed:
            result.findings.append(
                Finding(
                    _("{count} times have no offset; they were read in {zone}").format(
                        count=self.zone_assumed, zone=self.zone.key
                    ),
                    weight="note",
                    file=self.label,
                )
            )
        for (heading, what), count in self._repeats.items():
            if count > LIKE_THESE:
                result.findings.append(
                    Finding(
                        _("{count} more rows: {what}").format(count=count - LIKE_THESE, what=what),
                        weight="note",
                        file=self.label,
                        field=heading,
                    )
                )
        return result

    def _use(self, meaning: str) -> Use:
        return self.statement.meant(meaning) or Use(0, meaning, meaning)

    # --- one row ---

    def _row(self, row: Row) -> dict[str, dict[str, Any]]:
        extra = next((cell for cell in row.cells[self.width :] if cell), "")
        if extra:
            self._say(
                row,
                Use(self.width, "", ""),
                _("this row has more cells than there are headings"),
                _("Look for a separator inside a cell; put such a cell in quotation marks."),
                extra,
            )
            return {}
        raw: dict[str, Any] = {}
        hidden = any(map(_UNSEEN.search, row.cells))
        for use, kind in self.read_as:
            text = row[use.position]
            if not text:
                continue
            if hidden and _UNSEEN.search(text):
                self._say(row, use, _("this cell holds a control character"), _("Type the cell again."), "")
                continue
            if cells.missing(text) and not (kind == "word" and cells.folded(text) == "none"):
                continue
            try:
                value = self._value(row, use, text, kind)
            except cells.CellError as problem:
                self._say(row, use, problem.what, problem.remedy, text)
                continue
            if value is not None:
                raw[use.meaning] = value
        if "animal.field_number" not in raw:
            self._say(
                row,
                self._use("animal.field_number"),
                _("the field number is missing"),
                _("Write the number on the tag."),
                row[self._use("animal.field_number").position],
            )
            return {}
        if self.bad:
            return {}
        self._settle(row, raw)
        values: dict[str, dict[str, Any]] = {}
        for name, value in raw.items():
            thing, _dot, part = name.partition(".")
            values.setdefault(thing, {})[part] = value
        return values

    def _value(self, row: Row, use: Use, text: str, kind: str) -> Any:
        """A cell by the kind of its column; words and days come again and again, so they are read once."""
        if kind not in ("word", "when"):
            return self._value_anew(row, use, text, kind)
        key = (use.position, text)
        known = self._words.get(key)
        if known is None:
            known = self._value_anew(row, use, text, kind)
            if isinstance(known, str):
                self._words[key] = known
        return known

    def _value_anew(self, row: Row, use: Use, text: str, kind: str) -> Any:
        meaning = MEANINGS[use.meaning]
        if kind in ("text", "coordinates"):
            return text
        if kind == "people":
            return [part.strip() for part in re.split(r"\s*[|;&]\s*", text) if part.strip()]
        if kind == "word":
            if meaning.field == "sex":
                if text in ("?", "-"):
                    return "unknown"
                if cells.folded(text) in ("j", "juv", "juvenile"):
                    return "unknown"
            return cells.word(text, meaning.words, columns.WORDS_ALSO.get(meaning.field, {}))
        if kind == "when":
            return self._when(row, use, text)
        if kind == "moment":
            return self._moment(row, use, text)
        if kind == "clock":
            return self._clock(text)
        if kind == "count":
            number = cells.number(text, "count", mark=self.mark, exact=use.position in row.exact).value
            if number < 1 or number != int(number):
                raise cells.CellError(_("a count is a whole number from 1"), _("Write how many there are."))
            return int(number)
        if kind == "number":
            return self._plain_number(row, use, text)
        found = cells.number(text, kind, use.unit, mark=self.mark, exact=use.position in row.exact)
        if found.doubt:
            self._say(row, use, found.doubt, _("It is used as it stands."), text, "doubt")
        if kind in ("length", "mass") and (found.value < 0 or (found.value == 0 and meaning.field != "tail_mm")):
            raise cells.CellError(
                _("this must be more than zero"), _("Leave the cell empty where nothing was measured.")
            )
        return found.value

    def _plain_number(self, row: Row, use: Use, text: str) -> float:
        bare = _METRES.sub("", text.strip())
        value = cells.number(bare, "count", mark=self.mark, exact=use.position in row.exact).value
        if use.meaning in ("place.uncertainty_m", "place.gps_accuracy_m") and value <= 0:
            raise cells.CellError(
                _("an uncertainty is more than zero"), _("Leave the cell empty where it is not known.")
            )
        if use.meaning == "place.elevation_m" and not -500 <= value <= 9000:
            raise cells.CellError(_("no land lies so high or so low"), _("Write the elevation in metres."))
        return value

    def _when(self, row: Row, use: Use, text: str) -> str | datetime.datetime:
        """A day, part of a date or an interval as ISO 8601; a moment where the cell has an hour."""
        bare = _MIDNIGHT.sub("", text.strip())
        if _PART_DATE.fullmatch(bare) or _INTERVAL.fullmatch(bare):
            return bare
        roman = _ROMAN_DATE.fullmatch(bare)
        if roman and roman[2].upper() in _ROMAN:
            bare = f"{roman[3]}-{_ROMAN[roman[2].upper()]:02d}-{int(roman[1]):02d}"
        moment = cells.moment(bare, self.zone, order=self.order)
        if not _HAS_CLOCK.search(bare):
            return moment.at.date().isoformat()
        self.zone_assumed += moment.zone_assumed
        return _fixed(moment.at)

    def _moment(self, row: Row, use: Use, text: str) -> datetime.datetime | datetime.time:
        if re.fullmatch(r"\d{1,2}\s*[:h.]\s*\d{2}(?::\d{2})?", text.strip()) and use.meaning == "animal.found_at":
            return self._clock(text)
        moment = cells.moment(text, self.zone, order=self.order)
        self.zone_assumed += moment.zone_assumed
        if moment.doubt:
            self._say(row, use, moment.doubt, _("Write day, time and offset."), text, "doubt")
        return _fixed(moment.at)

    def _clock(self, text: str) -> datetime.time:
        match = re.fullmatch(
            r"(\d{1,2})\s*[:h.]?\s*(\d{2})(?:[:.]\d{2})?\s*(?:h|hrs|hs|uhr)?\s*([ap])?\.?\s?m?\.?",
            text.strip(),
            re.IGNORECASE,
        )
        if match is None:
            raise cells.CellError(_("this is not a time of day"), _("Write it as 21:15."))
        hour, minute = int(match[1]), int(match[2])
        if match[3]:
            if not 1 <= hour <= 12:
                raise cells.CellError(_("there is no such time of day"), _("Write it as 21:15."))
            hour = hour % 12 + (12 if match[3] in "pP" else 0)
        try:
            return datetime.time(hour, minute)
        except ValueError:
            raise cells.CellError(
                _("there is no such time of day"), _("Write it as 21:15, from 00:00 to 23:59.")
            ) from None

    # --- what several cells say together ---

    def _settle(self, row: Row, raw: dict[str, Any]) -> None:
        """Turn written forms into fields of the book's kinds, in place."""
        self._settle_times(row, raw)
        self._settle_name(row, raw)
        self._settle_lengths(row, raw)
        form = raw.get("animal.form")
        name = raw.get("determination.taxon", "")
        belongs = groups.belonging(name)
        if form is None and belongs is not None:
            raw["animal.form"] = form = belongs.form
        if belongs is not None and belongs.form == form and belongs.group:
            raw["animal.group"] = belongs.group
        if form is not None:
            self._within(row, str(form), raw)

    def _settle_times(self, row: Row, raw: dict[str, Any]) -> None:
        when, clock = raw.get("event.when"), raw.pop("event.time", None)
        if isinstance(when, datetime.datetime):
            raw["event.when"] = when.date().isoformat()
            raw.setdefault("animal.found_at", when)
        day = raw.get("event.when")
        if clock is None and isinstance(raw.get("animal.found_at"), datetime.time):
            clock = raw.pop("animal.found_at")
        if clock is not None:
            if not (isinstance(day, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", day)):
                use = self.statement.meant("event.time") or self._use("animal.found_at")
                self._say(
                    row, use, _("a time of day without its day is kept word for word"), "", row[use.position], "doubt"
                )
            elif "animal.found_at" not in raw:
                at = datetime.datetime.combine(datetime.date.fromisoformat(day), clock, self.zone)
                self.zone_assumed += 1
                raw["animal.found_at"] = _fixed(at)
        for name in ("animal.found_at", "animal.died_at"):
            if isinstance(raw.get(name), datetime.datetime):
                raw[name] = raw[name].isoformat(timespec="minutes")
        if day is not None:
            raw["event.verbatim_when"] = row[self._use("event.when").position]

    def _settle_name(self, row: Row, raw: dict[str, Any]) -> None:
        genus, epithet = raw.pop("determination.genus", ""), raw.pop("determination.epithet", "")
        text = " ".join(str(raw.get("determination.taxon") or f"{genus} {epithet}").split())
        if not text:
            if any(name.startswith("determination.") for name in raw):
                for name in [n for n in raw if n.startswith("determination.")]:
                    del raw[name]
            return
        raw["determination.verbatim_name"] = text
        if text not in self._names:
            self._names[text] = _parted_name(text)
        taxon, qualifier, authorship = self._names[text]
        if qualifier:
            raw.setdefault("determination.qualifier", qualifier)
        if authorship:
            raw.setdefault("determination.authorship", authorship)
        if not taxon:
            use = self.statement.meant("determination.taxon") or self._use("determination.genus")
            self._say(row, use, _("no name is left beside the doubt"), _("It is kept word for word."), "", "doubt")
            for name in [n for n in raw if n.startswith("determination.")]:
                del raw[name]
            return
        raw["determination.taxon"] = taxon
        rank = _rank(taxon)
        if rank:
            raw["determination.rank"] = rank

    def _settle_lengths(self, row: Row, raw: dict[str, Any]) -> None:
        measured = {
            name.partition(".")[2]: raw.pop(name)
            for name in list(raw)
            if name.startswith("measurement.") and MEANINGS[name].kind in ("length", "mass", "word")
        }
        if not measured:
            return
        form = str(raw.get("animal.form") or "")
        found = lengths.settle(form, measured)
        for slip in found.slips:
            use = self.statement.meant(f"measurement.{slip.column}") or self._use("measurement.length_mm")
            self._say(row, use, slip.what, slip.remedy, row[use.position], slip.weight)
        plain = ("mass_g", "diameter_mm", "head_width_mm", "head_length_mm", "forelimb_mm", "hindlimb_mm")
        values: dict[str, float] = {name: measured[name] for name in plain if name in measured}
        if "circumference_mm" in measured and "diameter_mm" not in values:
            values["diameter_mm"] = measured["circumference_mm"] / math.pi
        if found.tail_mm is not None:
            values["tail_mm"] = found.tail_mm
        if found.length_mm is not None:
            values["length_mm"] = found.length_mm
            raw["measurement.length_kind"] = found.kind
        if values:
            raw["measurement.values"] = values

    def _within(self, row: Row, form: str, raw: dict[str, Any]) -> None:
        limits = groups.limits(form)
        for name, value in raw.get("measurement.values", {}).items():
            if name not in limits:
                continue
            low, high = limits[name]
            if not low <= value <= high:
                use = self.statement.meant(f"measurement.{name}")
                use = use or self.statement.meant("measurement.snout_vent_mm") or self._use("measurement.length_mm")
                self._say(
                    row,
                    use,
                    _("{value:g} is beyond any {form} ({low:g} to {high:g})").format(
                        value=value, form=form.replace("_", " "), low=low, high=high
                    ),
                    _("Look at the decimal mark, the unit, and whether two columns were swapped."),
                    row[use.position],
                )

    # --- saying what was found ---

    def _say(
        self,
        row: Row,
        use: Use,
        what: str,
        remedy: str,
        read: str,
        weight: Literal["error", "doubt", "note"] = "error",
    ) -> None:
        if weight == "error":
            self.bad = True
        else:
            key = (use.heading, what)
            self._repeats[key] = self._repeats.get(key, 0) + 1
            if self._repeats[key] > LIKE_THESE:
                return
        number = row[self._use("animal.field_number").position]
        shown = _UNSEEN.sub("\ufffd", read)[:200]
        self.result.findings.append(
            Finding(what, remedy, weight, self.label, row.number, use.heading, shown, "" if number == read else number)
        )


def _parted_name(text: str) -> tuple[str, str, str]:
    """The name without its doubt and author, the doubt, and the author."""
    authorship = ""
    authored = _AUTHORED.fullmatch(text)
    if authored:
        text, authorship = authored[1], authored[2]
    doubt = _QUALIFIER.search(text)
    if not doubt:
        return text, "", authorship
    qualifier, certain = text[doubt.start() :].strip(), text[: doubt.start()].strip()
    # "Hyla cf. molleri" is named Hyla molleri with the doubt kept; "Hyla sp." only Hyla.
    word = doubt[0].rstrip(".").casefold()
    behind = _QUALIFIER.sub(" ", text[doubt.end() :]).split()
    if word in ("cf", "aff", "nr", "near", "?", "gr", "ssp") and behind and behind[0].islower():
        certain = f"{certain} {' '.join(behind)}".strip()
    return certain, qualifier, authorship


def _rank(taxon: str) -> str:
    """The rank that the form of a zoological name tells (ICZN, articles 4, 5 and 29; from memory, unverified)."""
    words = taxon.split()
    if not words[0][:1].isupper() or not all(word.isalpha() or "-" in word for word in words):
        return ""
    if len(words) == 1:
        return "family" if words[0].endswith("idae") else "genus"
    if all(word.islower() for word in words[1:]):
        return {2: "species", 3: "subspecies"}.get(len(words), "")
    return ""


def _fixed(at: datetime.datetime) -> datetime.datetime:
    """The moment with its offset as a plain number, so that it reads the same everywhere."""
    return at.replace(tzinfo=datetime.timezone(at.utcoffset() or datetime.timedelta()))
