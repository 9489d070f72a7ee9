"""Tables as people really save them: CSV and XLSX into rows of text cells that know where they stood.

Nothing is understood here, only read: encodings, separators, quotation marks, sheets. Numbers, times and words are
read by ``cells``; headings by ``columns``. Start with ``read_rows``.
"""

from __future__ import annotations

import csv
import datetime
import io
import itertools
import re
import zipfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from keepfast.exchange.files import read_bytes
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

SEPARATORS = (";", "\t", ",", "|")
# Limits that no list of a camp comes near, so that a hostile or broken file is refused before it fills the memory.
LIMIT_BYTES = 100_000_000
LIMIT_UNPACKED_BYTES = 300_000_000
LIMIT_PARTS = 2_000
LIMIT_CELLS = 20_000_000
LIMIT_CELL_CHARACTERS = 131_072
LIMIT_TEXT_CHARACTERS = 400_000_000


@dataclass(frozen=True)
class Row:
    """One row: its number in the file counting from 1, and its cells as text without outer blanks.

    ``exact`` holds the positions of cells that the file itself stores as a number, so that their point is a decimal
    point whatever the rest of the file does.
    """

    number: int
    cells: tuple[str, ...]
    exact: frozenset[int] = frozenset()

    def __getitem__(self, position: int) -> str:
        return self.cells[position] if position < len(self.cells) else ""

    @property
    def blank(self) -> bool:
        """Whether nothing is written here."""
        return not any(self.cells)


@dataclass(frozen=True)
class Rows:
    """All rows of one sheet, blank ones left out, with the identity of the file."""

    name: str  # file name without its folders
    sha256: str
    rows: tuple[Row, ...]
    sheet: str = ""  # name of the sheet, for XLSX
    encoding: str = ""  # for CSV
    separator: str = ""
    findings: tuple[Finding, ...] = field(default=())

    @property
    def label(self) -> str:
        """File and sheet, as a finding names them."""
        return f"{self.name} [{self.sheet}]" if self.sheet else self.name

    def __iter__(self) -> Iterator[Row]:
        return iter(self.rows)

    def __len__(self) -> int:
        return len(self.rows)


def read_rows(path: str | Path, sheet: str | None = None, fits: Callable[[Sequence[Row]], bool] | None = None) -> Rows:
    """
    Every row of a CSV or XLSX file as text.

    The content decides, not the ending of the name. Met and understood: a BOM, UTF-8, UTF-16, Windows-1252 and
    Latin-1; semicolons, tabs, commas and bars as separators, and a first line ``sep=;``; Windows, old Mac and Unix
    line ends; quoted cells with line ends in them. Blank rows are left out but counted, so that row numbers are those
    a spreadsheet shows.

    Parameters
    ----------
    path : str or Path
        The file.
    sheet : str, optional
        Which sheet of an XLSX file; without it, the first one that holds anything.
    fits : callable, optional
        Says of a sheet's rows whether they are what is looked for; without a named sheet the first such is taken, and
        the first that holds anything where there is none.

    Raises
    ------
    FindingsError
        If the file is missing, is neither a text table nor XLSX, is too large, or is packed to do harm.
    """
    raw, sha256 = read_bytes(path, LIMIT_BYTES)
    return read_raw_rows(raw, Path(path).name, sha256, sheet, fits)


def read_raw_rows(
    raw: bytes,
    name: str,
    sha256: str,
    sheet: str | None = None,
    fits: Callable[[Sequence[Row]], bool] | None = None,
) -> Rows:
    """As ``read_rows``, from bytes already at hand."""
    if raw[:4] == b"PK\x03\x04":
        return _read_xlsx(raw, name, sha256, sheet, fits)
    if raw[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise _refused(
            name,
            _("this is an old spreadsheet (.xls) or one locked with a password"),
            _("Open it and save it as XLSX without a password, or as CSV."),
        )
    return _read_csv(raw, name, sha256)


def _refused(name: str, what: str, remedy: str, row: int | None = None, read: str | None = None) -> FindingsError:
    return FindingsError([Finding(what, remedy, file=name, row=row, read=read)])


# --- text ---------------------------------------------------------------------------------------------------------


def decode(raw: bytes) -> tuple[str, str]:
    """The text of a file and the name of the encoding that was taken.

    A BOM is believed; then UTF-16 is known by its zeros, UTF-8 by being valid; what is left is Windows-1252, or
    Latin-1 where it uses a byte that Windows-1252 does not have.

    Raises
    ------
    UnicodeDecodeError
        If a file that says it is UTF-8 or UTF-16 is not.
    """
    if raw[:4] in (b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff"):
        return raw.decode("utf-32"), "UTF-32"
    if raw[:3] == b"\xef\xbb\xbf":
        return raw.decode("utf-8-sig"), "UTF-8"
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16"), "UTF-16"
    start = raw[:4000]
    if start and start.count(0) > len(start) // 4:
        return raw.decode("utf-16-be" if start[0] == 0 else "utf-16-le"), "UTF-16"
    for encoding, words in (("utf-8", "UTF-8"), ("cp1252", "Windows-1252")):
        try:
            return raw.decode(encoding), words
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1"), "Latin-1"


def _read_csv(raw: bytes, name: str, sha256: str) -> Rows:
    try:
        text, encoding = decode(raw)
    except UnicodeDecodeError:
        raise _refused(name, _("the text of this file is damaged"), _("Save it again as CSV in UTF-8.")) from None
    if "\x00" in text or (text and sum(ch < " " and ch not in "\t\r\n\f\v" for ch in text[:4000]) > 4):
        raise _refused(name, _("this is not a table of text"), _("Save the list as CSV or XLSX."))
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    declared = re.match(r'"?sep=([;,|\t])"?\n', text)
    separator = declared.group(1) if declared else _separator(text)
    records, findings = _records(text, separator, name)
    rows = []
    for number, cells in enumerate(records, start=1):
        if number == 1 and declared:
            continue
        row = Row(number, tuple(cell.strip(" \t\n\u00a0\ufeff") for cell in cells))
        if not row.blank:
            rows.append(row)
    if encoding in ("Windows-1252", "Latin-1"):
        findings.append(
            Finding(
                _("the file is not UTF-8; it was read as {encoding}").format(encoding=encoding),
                _("Look whether accented letters came out right."),
                "note",
                file=name,
            )
        )
    return Rows(name, sha256, tuple(rows), "", encoding, separator, tuple(findings))


def _separator(text: str) -> str:
    """The separator that cuts the first rows into most cells, most evenly."""
    lines = [line for line in text[:200_000].split("\n")[:200] if line.strip()][:40]
    best, best_score = ",", 0.0
    for separator in SEPARATORS:
        counts = Counter(_outside_quotes(line).count(separator) for line in lines)
        usual, times = max(counts.items(), key=lambda item: (item[1] * (item[0] > 0), item[0]), default=(0, 0))
        score = usual * times / max(1, len(lines))
        if score > best_score:
            best, best_score = separator, score
    return best


def _outside_quotes(line: str) -> str:
    return re.sub(r'"[^"]*"', "", line)


def _records(text: str, separator: str, name: str) -> tuple[list[list[str]], list[Finding]]:
    findings: list[Finding] = []
    for strict in (True, False):
        records: list[list[str]] = []
        try:
            for record in csv.reader(io.StringIO(text), delimiter=separator, strict=strict):
                records.append(record)
                if len(records) * max(1, len(record)) > LIMIT_CELLS:
                    raise _refused(name, _("the table has more cells than can be read at once"), _("Split it."))
            return records, findings
        except csv.Error as problem:
            row = len(records) + 1
            if "field larger" in str(problem):
                raise _refused(
                    name, _("a cell holds more text than can be true"), _("Look for an open quotation mark."), row
                ) from None
            if "unexpected end" in str(problem):
                raise _refused(
                    name,
                    _("a quotation mark opens in this row and never closes"),
                    _('Close it, or write "" for a quotation mark that is part of the text.'),
                    row,
                ) from None
            findings.append(
                Finding(
                    _("a quotation mark stands where none belongs; the row was read as well as it could be"),
                    _("Look at this row in the plan."),
                    "doubt",
                    file=name,
                    row=row,
                )
            )
    raise AssertionError("the lenient reading of quotation marks cannot fail")


# --- XLSX ---------------------------------------------------------------------------------------------------------

_CELL = re.compile(rb'<(?:\w+:)?c\b[^>]*?\br=["\']([A-Z]{1,4})(\d{1,8})["\']')
_ROW = re.compile(rb'<(?:\w+:)?row\b[^>]*?\br=["\'](\d{1,8})["\']')
_SHARED = re.compile(rb't=["\']s["\']')
_ENTRY = re.compile(rb"<(?:\w+:)?si\b")


def _read_xlsx(
    raw: bytes, name: str, sha256: str, wanted: str | None, fits: Callable[[Sequence[Row]], bool] | None
) -> Rows:
    errors = _refuse_harmful_package(raw, name)
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(raw))
        sheets = list(book.sheet_names)
        if wanted is not None and wanted not in sheets:
            raise _refused(
                name,
                _("there is no sheet of this name"),
                _("Its sheets are: {sheets}.").format(sheets=", ".join(sheets)),
                read=wanted,
            )
        first: Rows | None = None
        for sheet in [wanted] if wanted is not None else sheets:
            grid = book.get_sheet_by_name(sheet).to_python(skip_empty_area=False)
            # Sheets are written in their order as sheet1, sheet2 and so on by every program met.
            for row, column, text in errors.get(f"xl/worksheets/sheet{sheets.index(sheet) + 1}.xml", ()):
                if row < len(grid) and column < len(grid[row]):
                    grid[row][column] = text
            rows = _rows_of_sheet(grid)
            if rows and (fits is None or wanted is not None or fits(rows)):
                return Rows(name, sha256, tuple(rows), sheet)
            if rows and first is None:
                first = Rows(name, sha256, tuple(rows), sheet)
        return first or Rows(name, sha256, (), wanted or (sheets[0] if sheets else ""))
    except (KeyboardInterrupt, SystemExit, FindingsError):
        raise
    except (CalamineError, OSError, ValueError, KeyError, TypeError) as problem:
        raise _unreadable(name) from problem
    except BaseException as problem:
        # A fault inside the compiled reader arrives as a panic, which is not an Exception.
        if type(problem).__name__ != "PanicException":
            raise
        raise _unreadable(name) from None


def _unreadable(name: str) -> FindingsError:
    return _refused(
        name, _("this spreadsheet cannot be read"), _("Open it, save it again as XLSX or CSV, and try once more.")
    )


def _rows_of_sheet(grid: Sequence[Sequence[object]]) -> list[Row]:
    rows = []
    for number, values in enumerate(grid, start=1):
        cells = tuple(_cell_text(value) for value in values)
        if any(cells):
            exact = frozenset(
                position
                for position, value in enumerate(values)
                if isinstance(value, int | float) and not isinstance(value, bool)
            )
            rows.append(Row(number, cells, exact))
    return rows


def _cell_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime.datetime):
        whole = value.replace(microsecond=0)
        # A spreadsheet keeps times as a share of a day, so a whole minute may come back a few microseconds short.
        if value.microsecond >= 500_000:
            whole += datetime.timedelta(seconds=1)
        return whole.isoformat(sep=" ")
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return str(value).strip(" \t\r\n\u00a0\ufeff")


_ERROR_CELL = re.compile(rb'<c r="([A-Z]{1,3})([0-9]{1,7})"[^>]*\bt="e"[^>]*>(?:(?!</c>).)*?<v>([^<]{1,40})</v>', re.S)


def _error_cells(content: bytes) -> list[tuple[int, int, str]]:
    """Cells of a sheet that hold an error, such as a division by zero or a lost reference."""
    found = []
    for letters, number, text in _ERROR_CELL.findall(content):
        found.append((int(number) - 1, _column(letters) - 1, text.decode("ascii", "replace")))
    return found


def _refuse_harmful_package(raw: bytes, name: str) -> dict[str, list[tuple[int, int, str]]]:
    """Unpack once, counting, before the reader proper sees the file: it trusts what a package says of itself.

    Returns the cells of each sheet's part that hold a spreadsheet's error (row and column from 0, its text), which the
    reader proper would give as empty.
    """
    too_large = _refused(
        name,
        _("this spreadsheet unpacks to more than can be read at once"),
        _("Save the one sheet as CSV and try that."),
    )
    longest = shared = 0
    errors: dict[str, list[tuple[int, int, str]]] = {}
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as package:
            parts = package.infolist()
            if not any(part.filename == "xl/workbook.xml" for part in parts):
                if any(part.filename.endswith((".bin", "content.xml")) for part in parts):
                    raise _refused(
                        name, _("this is a spreadsheet, but not XLSX"), _("Open it and save it as XLSX or CSV.")
                    )
                raise _refused(name, _("this is a packed file, but no spreadsheet"), _("Save the list as CSV or XLSX."))
            if len(parts) > LIMIT_PARTS:
                raise too_large
            left = LIMIT_UNPACKED_BYTES
            for part in parts:
                with package.open(part) as stream:
                    content = stream.read(left + 1)
                left -= len(content)
                if left < 0:
                    raise too_large
                if b"<!DOCTYPE" in content or b"<!ENTITY" in content:
                    raise _unreadable(name)
                if part.filename.startswith("xl/worksheets/"):
                    errors[part.filename] = _error_cells(content)
                    if _extent(content) > LIMIT_CELLS:
                        raise too_large
                    shared += len(_SHARED.findall(content))
                elif part.filename == "xl/sharedStrings.xml":
                    starts = [m.start() for m in _ENTRY.finditer(content)] + [len(content)]
                    longest = max((b - a for a, b in itertools.pairwise(starts)), default=0)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError, ValueError, KeyError) as problem:
        raise _unreadable(name) from problem
    except Exception as problem:
        if type(problem).__module__ in ("zlib", "_lzma", "lzma"):
            raise _unreadable(name) from problem
        raise
    if longest > 1_000 and longest * shared > LIMIT_TEXT_CHARACTERS:
        raise too_large
    return errors


def _extent(sheet: bytes) -> int:
    """Rows times columns that the reader would lay out for this sheet, including the empty ones between."""
    rows = [int(number) for number in _ROW.findall(sheet)]
    row = max(rows, default=0)
    column = 0
    for letters, number in set(_CELL.findall(sheet)):
        row = max(row, int(number))
        column = max(column, _column(letters))
    return row * max(1, column)


def _column(letters: bytes) -> int:
    """Column A is 1, Z is 26, AA is 27."""
    place = 0
    for letter in letters:
        place = place * 26 + letter - 64
    return place
