"""A list of animals, CSV or XLSX, into animals as observed; or all that is wrong with it, at once.

Start with ``read_list``. What stands in which column is in ``columns``, how a cell is read in ``cells``.
"""

from __future__ import annotations

import datetime
import math
import re
import textwrap
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from keepfast.book.animals import Animal
from keepfast.exchange import cells, columns, lengths
from keepfast.exchange.columns import Heading
from keepfast.exchange.lengths import LENGTH_COLUMNS
from keepfast.exchange.tables import Row, Rows, read_rows
from keepfast.findings import Finding, FindingsError
from keepfast.rules import groups
from keepfast.words import _, ngettext


@dataclass(frozen=True)
class ListRead:
    """What a list holds: the animals in its order, what is doubtful or worth knowing, and the file's identity."""

    animals: tuple[Animal, ...]
    findings: tuple[Finding, ...]
    sha256: str
    name: str


def read_list(
    path: str | Path,
    *,
    zone: str = "UTC",
    sheet: str | None = None,
    check: Callable[[Animal], Iterable[Finding]] | None = None,
) -> ListRead:
    """
    Animals from a CSV or XLSX list.

    Parameters
    ----------
    path : str or Path
        The list.
    zone : str
        Time zone in which times without an offset are read.
    sheet : str, optional
        Sheet of an XLSX file; without it the first that has the headings of a list.
    check : callable, optional
        A further look at each animal that could be read, so that its errors come together with those of the cells.

    Returns
    -------
    ListRead
        Animals in the order of the list; findings of weight ``doubt`` and ``note``.

    Raises
    ------
    FindingsError
        If anything is wrong; it carries every bad cell with file, row, column, what was read and what to do.
    """
    rows = read_rows(path, sheet, _is_list)
    try:
        own_zone = ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise FindingsError(
            [Finding(_("there is no such time zone"), _("Write one such as Europe/Madrid."), field="zone", read=zone)]
        ) from None
    reader = _Reader(rows, own_zone)
    animals = reader.animals()
    found = [*rows.findings, *reader.findings]
    if check is not None:
        found += [_in_place(finding, rows.label, animal) for animal in animals for finding in check(animal)]
    errors = [finding for finding in found if finding.weight == "error"]
    if errors:
        raise FindingsError(sorted(errors, key=lambda finding: finding.row or 0))
    return ListRead(tuple(animals), tuple(found), rows.sha256, rows.name)


def _in_place(finding: Finding, label: str, animal: Animal) -> Finding:
    return Finding(
        finding.what,
        finding.remedy,
        finding.weight,
        finding.file or label,
        finding.row if finding.row is not None else animal.row,
        finding.field,
        finding.read,
        finding.subject or animal.field_number,
    )


def _no_number(text: str) -> bool:
    """Whether a cell of field numbers is empty; an x, which elsewhere says that nothing was measured, is a number."""
    return cells.missing(text) and text.casefold() != "x"


LONGEST_NUMBER = 40  # characters; more than this no tag holds
HEAD_ROWS = 30  # the headings stand among the first rows, below titles and remarks


def _understood(row: Row) -> set[str]:
    """Names of the columns that the cells of a row would head."""
    return {found[0].name for cell in row.cells if cell and (found := columns.understand_heading(cell))}


def _is_list(rows: Sequence[Row]) -> bool:
    """Whether a sheet has the headings of a list; a sheet of notes before it has not."""
    return any({"field_number", "form"} <= _understood(row) for row in rows[:HEAD_ROWS])


class _Reader:
    """Reads one list; findings gather here while the rows are gone through."""

    def __init__(self, rows: Rows, zone: ZoneInfo) -> None:
        self.label = rows.label
        self.zone = zone
        self.findings: list[Finding] = []
        self._error_count = 0
        self._bad_in_row: set[str] = set()
        self.headings, self.body = self._heading_row(rows)
        self.mark, self.order = self._proofs()
        self._zones_assumed: list[int] = []
        self._words_taken: dict[tuple[str, str, str], list[int]] = {}

    def animals(self) -> list[Animal]:
        read = []
        for row in self.body:
            animal = self._animal(row)
            if animal is not None:
                read.append(animal)
        self._twins()
        self._say_assumptions()
        return read

    # --- headings and what the whole file proves ---

    def _heading_row(self, rows: Rows) -> tuple[columns.Headings, list[Row]]:
        if not len(rows):
            raise FindingsError(
                [Finding(_("the list is empty"), _("./keepfast template writes one to begin with."), file=self.label)]
            )
        best, most = 0, 0
        for index, row in enumerate(rows.rows[:HEAD_ROWS]):
            count = len(_understood(row))
            if count > most:
                best, most = index, count
        head = rows.rows[best]
        headings = columns.understand(head.cells, self.label, head.number)
        errors = [finding for finding in headings.findings if finding.weight == "error"]
        lengths_or_mass = {"length_mm", "mass_g", *LENGTH_COLUMNS}
        for name in ("field_number", "form"):
            if name not in headings.known:
                errors.append(self._no_column(name, head))
        if not errors and not lengths_or_mass & set(headings.known):
            errors.append(self._no_column("length_mm or mass_g", head))
        if errors:
            raise FindingsError(errors)
        self.findings += headings.findings
        if best:
            self.findings.append(
                Finding(
                    _("the headings stand in row {row}; what is above them was not read").format(row=head.number),
                    weight="note",
                    file=self.label,
                    row=head.number,
                )
            )
        body = list(rows.rows[best + 1 :])
        if not body:
            raise FindingsError(
                [
                    Finding(
                        _("there is no animal in this list"),
                        _("Write one row for each under the headings."),
                        file=self.label,
                    )
                ]
            )
        return headings, body

    def _no_column(self, name: str, head: Row) -> Finding:
        return Finding(
            _("the column {name} is missing").format(name=name),
            _("Add it. These headings were read: {headings}.").format(
                headings=textwrap.shorten(", ".join(c for c in head.cells if c), 300, placeholder=" …")
            ),
            file=self.label,
            row=head.number,
            field=name,
        )

    def _proofs(self) -> tuple[str, str]:
        numeric = [h for h in self.headings.known.values() if h.column.kind in ("length", "mass", "temperature")]
        mark = cells.decimal_mark(
            row[h.position] for row in self.body for h in numeric if h.position not in row.exact and row[h.position]
        )
        died = self.headings.known.get("died_at")
        order = cells.day_order(row[died.position] for row in self.body) if died else ""
        return mark, order

    # --- one row ---

    def _animal(self, row: Row) -> Animal | None:
        before = self._error_count
        self._bad_in_row = set()
        extra = [cell for cell in row.cells[self.headings.width :] if cell]
        if extra:
            self._error(
                row,
                "",
                _("this row has more cells than there are headings"),
                _("Look for a separator or a decimal comma inside a cell; put such a cell in quotation marks."),
                extra[0],
            )
            return None
        value = {name: self._value(row, heading) for name, heading in self.headings.known.items()}
        number = row[self.headings.known["field_number"].position]
        if _no_number(number):
            self._error(
                row, "field_number", _("the field number is missing"), _("Write the number on the tag."), number
            )
        elif len(number) > LONGEST_NUMBER:
            too_long = _("this field number is longer than {most} characters, and no tag holds it")
            self._error(
                row,
                "field_number",
                too_long.format(most=LONGEST_NUMBER),
                _("Write the number alone, and what else there is to say in remarks."),
                f"{number[:LONGEST_NUMBER]}…",
            )
        form = value.get("form")
        taxon = value.get("taxon") or ""
        belongs = groups.belonging(taxon)
        if form is None:
            if cells.missing(row[self.headings.known["form"].position]):
                hint = (
                    _("Write {form}.").format(form=belongs.form)
                    if belongs
                    else _("Write one of: {words}.").format(words=", ".join(columns.BY_NAME["form"].words))
                )
                self._error(row, "form", _("the form is missing"), hint, "")
            return None
        if belongs and belongs.form != form and form not in ("larva", "egg_clutch"):
            self._doubt(
                row,
                "form",
                _("by its name {taxon} is of the form {form}").format(taxon=taxon, form=belongs.form),
                _("Look at form and taxon of this row."),
                form,
            )
        length, kind, tail = self._lengths(row, form, value)
        mass = value.get("mass_g")
        measured = {"length_mm", "length_kind", "mass_g", *LENGTH_COLUMNS}
        if length is None and mass is None and not measured & self._bad_in_row:
            self._error(
                row,
                "length_mm",
                _("length and mass are both missing"),
                _("One of them is needed."),
                "",
            )
        diameter = self._diameter(row, value)
        self._within(
            row,
            form,
            {
                "length_mm": length,
                "tail_mm": tail,
                "mass_g": mass,
                "diameter_mm": diameter,
                **{name: value.get(name) for name in ("head_width_mm", "kept_at_c")},
            },
        )
        for name, measure in (("diameter_mm", diameter), ("head_width_mm", value.get("head_width_mm"))):
            if measure and length and measure >= length and form != "egg_clutch":
                self._error(
                    row,
                    name,
                    _("this is more than the length"),
                    _("Look at the decimal mark, the unit, and whether two columns were swapped."),
                    self._written(row, name),
                )
        count = self._count(row, form, value)
        if self._error_count != before:
            return None
        died = value.get("died_at")
        condition = value.get("condition") or "fresh"
        if died is not None and condition == "alive":
            self._doubt(
                row, "died_at", _("it is called alive and has a time of death"), _("Look at both cells."), "alive"
            )
        if value.get("sex") == "male" and value.get("reproductive_state") not in (None, "none"):
            self._doubt(
                row,
                "sex",
                _("it is called male and has follicles, eggs or embryos"),
                _("Look at both cells. It is planned with the yolk."),
                self._written(row, "sex"),
            )
        stage = value.get("stage") or ""
        if (form in ("frog", "salamander") and stage == "larva") or (
            form == "larva" and stage in ("adult", "juvenile")
        ):
            self._doubt(
                row, "stage", _("form and stage do not fit each other"), _("A tadpole has the form larva."), stage
            )
        return Animal(
            field_number=number,
            form=form,
            taxon=taxon,
            sex=value.get("sex") or "unknown",
            stage=stage,
            length_mm=length,
            length_kind=kind,
            tail_mm=tail,
            tail_state=value.get("tail_state") or "whole",
            mass_g=mass,
            diameter_mm=diameter,
            head_width_mm=value.get("head_width_mm"),
            reproductive_state=value.get("reproductive_state") or "none",
            gut=value.get("gut") or "",
            condition=condition,
            died_at=died,
            kept_at_c=value.get("kept_at_c"),
            count=count,
            remarks=value.get("remarks") or "",
            group=belongs.group if belongs and belongs.form == form else None,
            row=row.number,
        )

    def _value(self, row: Row, heading: Heading) -> Any:
        """A cell by the kind of its column; None where nothing is written or where it was bad (then it is said)."""
        text, kind, name = row[heading.position], heading.column.kind, heading.column.name
        if kind == "text":
            return text
        if name == "sex" and text in ("?", "-"):
            return "unknown"
        if cells.missing(text) and not (kind == "word" and cells.folded(text) == "none"):
            return None
        try:
            if kind == "word":
                return self._word(row, name, text)
            if kind == "time":
                return self._moment(row, heading, text)
            number = cells.number(
                text,
                kind,
                heading.unit,
                mark=self.mark,
                exact=heading.position in row.exact,
            )
        except cells.CellError as problem:
            self._error(row, name, problem.what, problem.remedy, text)
            return None
        if number.doubt:
            self._doubt(row, name, number.doubt, _("It is used as it stands."), text)
        if kind in ("length", "mass") and (number.value < 0 or (number.value == 0 and name != "tail_mm")):
            self._error(
                row,
                name,
                _("this must be more than zero"),
                _("Leave the cell empty where nothing was measured."),
                text,
            )
            return None
        return number.value

    def _word(self, row: Row, name: str, text: str) -> str | None:
        also = columns.WORDS_ALSO.get(name, {})
        if name == "sex" and cells.folded(text) in ("j", "juv", "juvenile"):
            return "unknown"
        remedy = columns.TOO_LITTLE.get(name, {}).get(cells.folded(text))
        if remedy is not None:
            raise cells.CellError(_("this word does not say enough"), _(remedy))
        word = cells.word(text, columns.BY_NAME[name].words, also)
        if cells.folded(text) != cells.folded(word):
            self._words_taken.setdefault((name, text, word), []).append(row.number)
        return word

    def _moment(self, row: Row, heading: Heading, text: str) -> datetime.datetime:
        zone = self.zone
        stated = heading.unit.upper()
        if stated in ("UTC", "GMT", "Z"):
            zone = ZoneInfo("UTC")
        elif re.fullmatch(r"(UTC|GMT)?[+-]\d{1,2}(:?\d{2})?", stated):
            raise cells.CellError(
                _("an offset in a heading is not read"), _("Write the offset behind each time, such as 14:30+02:00.")
            )
        if heading.position in row.exact and cells.is_day_number(text):
            moment = cells.moment_of_day_number(text, zone)
        else:
            moment = cells.moment(text, zone, order=self.order)
        if moment.zone_assumed and zone is self.zone:
            self._zones_assumed.append(row.number)
        if moment.doubt:
            self._doubt(row, "died_at", moment.doubt, _("Write day, time and offset."), text)
        return moment.at

    def _lengths(self, row: Row, form: str, value: dict[str, Any]) -> tuple[float | None, str, float | None]:
        """Length, its kind and the tail, from whichever of the columns of length are filled."""
        found = lengths.settle(form, value)
        for slip in found.slips:
            self._say(row, slip.column, slip.what, slip.remedy, self._written(row, slip.column), slip.weight)
        return found.length_mm, found.kind, found.tail_mm

    def _diameter(self, row: Row, value: dict[str, Any]) -> float | None:
        around = value.get("circumference_mm")
        diameter: float | None = value.get("diameter_mm")
        if diameter is None and around is not None:
            self._doubt(
                row,
                "circumference_mm",
                _("the trunk was taped around; its diameter is that divided by pi"),
                _("A calliper reading is better."),
                self._written(row, "circumference_mm"),
            )
            return float(around / math.pi)
        return diameter

    def _within(self, row: Row, form: str, measures: dict[str, float | None]) -> None:
        limits = groups.limits(form)
        for name, measure in measures.items():
            if measure is None:
                continue
            low, high = limits[name]
            if not low <= measure <= high:
                self._error(
                    row,
                    name,
                    _("{value:g} {unit} is beyond any {form} ({low:g} to {high:g})").format(
                        value=measure, unit=columns.BY_NAME[name].unit, form=form.replace("_", " "), low=low, high=high
                    ),
                    _("Look at the decimal mark, the unit, and whether two columns were swapped."),
                    self._written(row, name),
                )

    def _count(self, row: Row, form: str, value: dict[str, Any]) -> int:
        count = value.get("count")
        if count is None:
            if form == "egg_clutch":
                self._doubt(
                    row,
                    "count",
                    _("the number of eggs is missing; one was taken"),
                    _("Count them, or write what they come to about."),
                    "",
                )
            return 1
        low, high = groups.limits(form)["count"]
        if not float(count).is_integer() or not low <= count <= high:
            self._error(
                row,
                "count",
                _("a count is a whole number from {low:g} to {high:g}").format(low=low, high=high),
                _("Write how many there are."),
                self._written(row, "count"),
            )
            return 1
        if count > 1 and form not in ("larva", "egg_clutch"):
            self._error(
                row,
                "count",
                _("one row is one animal"),
                _("Give each its own row and number; eggs inside a female belong in reproductive_state and remarks."),
                self._written(row, "count"),
            )
        return int(count)

    # --- the list as a whole ---

    def _twins(self) -> None:
        position = self.headings.known["field_number"].position
        first: dict[str, int] = {}
        for row in self.body:
            number = row[position]
            if _no_number(number):
                continue
            key = " ".join(number.split()).casefold()
            if key in first:
                self._error(
                    row,
                    "field_number",
                    _("this field number stands in row {row} already").format(row=first[key]),
                    _("Look at both tags; a number belongs to one animal."),
                    number,
                )
            else:
                first[key] = row.number

    def _say_assumptions(self) -> None:
        if self._zones_assumed:
            self.findings.append(
                Finding(
                    ngettext(
                        "{count} time has no offset; it was read in {zone}",
                        "{count} times have no offset; they were read in {zone}",
                        len(self._zones_assumed),
                    ).format(count=len(self._zones_assumed), zone=self.zone.key),
                    weight="note",
                    file=self.label,
                    field="died_at",
                )
            )
        for (name, text, word), numbers in self._words_taken.items():
            if len(text) > 2:
                self.findings.append(
                    Finding(
                        _("{text} was read as {word}").format(text=text, word=word),
                        weight="note",
                        file=self.label,
                        row=numbers[0],
                        field=name,
                    )
                )

    # --- saying what was found ---

    def _written(self, row: Row, name: str) -> str:
        heading = self.headings.known.get(name)
        if name == "length_mm" and (heading is None or not row[heading.position]):
            heading = next(
                (
                    self.headings.known[other]
                    for other in LENGTH_COLUMNS
                    if other in self.headings.known and row[self.headings.known[other].position]
                ),
                heading,
            )
        if name == "diameter_mm" and heading is None:
            heading = self.headings.known.get("circumference_mm")
        return row[heading.position] if heading else ""

    def _error(self, row: Row, name: str, what: str, remedy: str, read: str) -> None:
        self._say(row, name, what, remedy, read, "error")

    def _doubt(self, row: Row, name: str, what: str, remedy: str, read: str) -> None:
        self._say(row, name, what, remedy, read, "doubt")

    def _say(self, row: Row, name: str, what: str, remedy: str, read: str, weight: Any) -> None:
        if weight == "error":
            self._error_count += 1
            self._bad_in_row.add(name)
        heading = self.headings.known.get(name)
        number = row[self.headings.known["field_number"].position]
        self.findings.append(
            Finding(
                what,
                remedy,
                weight,
                self.label,
                row.number,
                heading.written if heading else name,
                read,
                "" if name == "field_number" else number,
            )
        )
