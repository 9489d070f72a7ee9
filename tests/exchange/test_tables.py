"""Tables as people save them are read alike, and files packed to do harm are refused."""

from __future__ import annotations

import contextlib
import datetime
import io
import zipfile
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from keepfast.exchange.lists import read_list
from keepfast.exchange.tables import Rows, decode, read_raw_rows, read_rows
from keepfast.findings import FindingsError

TABLE = [["número", "especie", "masa (g)"], ["B-1", "Lagarto ocelado", "12.5"], ["B-2", "Señorita; sí", "7"]]


def as_csv(separator: str, line_end: str) -> str:
    def cell(text: str) -> str:
        return f'"{text}"' if separator in text else text

    return line_end.join(separator.join(cell(c) for c in row) for row in TABLE) + line_end


def cells(rows: Rows) -> list[list[str]]:
    return [list(row.cells) for row in rows]


@pytest.mark.parametrize("separator", [";", "\t", ",", "|"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1"])
def test_every_usual_way_of_saving_a_table_reads_the_same(separator: str, line_end: str, encoding: str) -> None:
    raw = as_csv(separator, line_end).encode(encoding)
    assert cells(read_raw_rows(raw, "a.csv", "")) == TABLE


def test_the_first_line_may_name_the_separator() -> None:
    rows = read_raw_rows(b"sep=;\r\na,b;c\r\n1,5;2\r\n", "a.csv", "")
    assert [["a,b", "c"], ["1,5", "2"]] == cells(rows)
    assert [2, 3] == [row.number for row in rows]


def test_blank_rows_are_left_out_and_still_counted() -> None:
    rows = read_raw_rows(b"a,b\n\n,\n1,2\n\n", "a.csv", "")
    assert [(1, ("a", "b")), (4, ("1", "2"))] == [(row.number, row.cells) for row in rows]


def test_a_quoted_cell_may_hold_separators_quotation_marks_and_line_ends() -> None:
    rows = read_raw_rows(b'a,b\n"one, ""two""\nthree",4\n', "a.csv", "")
    assert ('one, "two"\nthree', "4") == rows.rows[1].cells


def test_decimal_commas_do_not_win_over_semicolons() -> None:
    rows = read_raw_rows(b"a;b;c\n1,5;2,5;3,5\n1,5;2,5;3,5\n", "a.csv", "")
    assert ";" == rows.separator


def test_an_open_quotation_mark_is_named_with_its_row() -> None:
    with pytest.raises(FindingsError) as caught:
        read_raw_rows(b'a,b\n1,2\n"3,4\n5,6\n', "a.csv", "")
    assert 3 == caught.value.findings[0].row


def test_latin_text_is_told_so_that_somebody_looks() -> None:
    rows = read_raw_rows("a,Señal\n".encode("cp1252"), "a.csv", "")
    assert ["note"] == [finding.weight for finding in rows.findings]
    assert "Windows-1252" in rows.findings[0].what


def test_a_byte_that_windows_1252_lacks_is_latin_1() -> None:
    assert ("a\x81é", "Latin-1") == decode(b"a\x81\xe9")


@pytest.mark.parametrize(
    "raw",
    [
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500),
        b"PK\x03\x04" + bytes(60),
        bytes(range(256)) * 4,
        b"\xff\xfe\x00",
        b"a,b\n" + b'"' + b"x" * 200_000 + b'"',
    ],
)
def test_what_is_no_table_is_refused_in_words(raw: bytes) -> None:
    with pytest.raises(FindingsError) as caught:
        read_raw_rows(raw, "list.csv", "")
    assert caught.value.findings[0].remedy


# --- XLSX ---


def workbook(write: object) -> bytes:
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True, "default_date_format": "yyyy-mm-dd hh:mm"}) as book:
        # The hour of writing would otherwise be in the bytes, and the bytes are what is damaged below.
        book.set_properties({"created": datetime.datetime(2026, 3, 1)})
        write(book)  # type: ignore[operator]
    return buffer.getvalue()


def test_a_spreadsheet_gives_numbers_times_and_text_as_text() -> None:
    def write(book: xlsxwriter.Workbook) -> None:
        book.add_worksheet("Empty")
        sheet = book.add_worksheet("Animals")
        sheet.write_row(0, 0, ["number", "mass", "died", "note"])
        sheet.write_string(3, 0, "007")
        sheet.write_number(3, 1, 12.0)
        sheet.write_datetime(3, 2, datetime.datetime(2026, 4, 12, 14, 30))
        sheet.write_boolean(3, 3, True)
        sheet.write_number(4, 1, 0.1)

    rows = read_raw_rows(workbook(write), "a.xlsx", "")
    assert "Animals" == rows.sheet
    assert [1, 4, 5] == [row.number for row in rows]
    assert ("007", "12", "2026-04-12 14:30:00", "true") == rows.rows[1].cells
    assert frozenset({1}) == rows.rows[1].exact
    assert "0.1" == rows.rows[2][1]


def test_a_sheet_can_be_named_and_a_wrong_name_is_answered_with_those_there_are() -> None:
    def write(book: xlsxwriter.Workbook) -> None:
        book.add_worksheet("First").write(0, 0, "a")
        book.add_worksheet("Second").write(0, 0, "b")

    raw = workbook(write)
    assert "b" == read_raw_rows(raw, "a.xlsx", "", "Second").rows[0][0]
    with pytest.raises(FindingsError, match="First, Second"):
        read_raw_rows(raw, "a.xlsx", "", "Third")


def package(parts: dict[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in parts.items():
            out.writestr(name, content)
    return buffer.getvalue()


def repacked(replace: dict[str, bytes]) -> bytes:
    """A sound workbook with some of its parts replaced."""
    raw = workbook(lambda book: book.add_worksheet("A").write_row(0, 0, ["a", "b"]))
    with zipfile.ZipFile(io.BytesIO(raw)) as package_in:
        parts = {name: package_in.read(name) for name in package_in.namelist()}
    return package({**parts, **replace})


SHEET = (
    b'<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b'<row r="1"><c r="A1"><v>1</v></c></row>%s</sheetData></worksheet>'
)


@pytest.mark.parametrize(
    "parts",
    [
        {"xl/worksheets/sheet1.xml": SHEET % b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'},
        {"xl/worksheets/sheet1.xml": SHEET % b"" + b" " * 310_000_000},
        {"xl/worksheets/sheet1.xml": b'<!DOCTYPE x [<!ENTITY a "aaaa">]>' + SHEET % b""},
        {f"xl/media/{number}.bin": b"" for number in range(2_100)},
        {
            "xl/sharedStrings.xml": b"<sst><si><t>" + b"x" * 2_000_000 + b"</t></si></sst>",
            "xl/worksheets/sheet1.xml": SHEET
            % b"".join(b'<row r="%d"><c r="A%d" t="s"><v>0</v></c></row>' % (n, n) for n in range(2, 400)),
        },
    ],
    ids=["one cell in the far corner", "a bomb of blanks", "entities", "thousands of parts", "one text used often"],
)
def test_a_package_made_to_fill_the_memory_is_refused(parts: dict[str, bytes]) -> None:
    with pytest.raises(FindingsError):
        read_raw_rows(repacked(parts), "a.xlsx", "")


def test_a_package_that_is_no_spreadsheet_is_refused() -> None:
    with pytest.raises(FindingsError, match="no spreadsheet"):
        read_raw_rows(package({"readme.txt": b"hello"}), "a.xlsx", "")
    with pytest.raises(FindingsError, match="not XLSX"):
        read_raw_rows(package({"content.xml": b"<x/>"}), "a.ods", "")


def test_a_missing_file_and_a_folder_are_findings(tmp_path: object) -> None:
    with pytest.raises(FindingsError, match="no such file"):
        read_rows(f"{tmp_path}/none.csv")
    with pytest.raises(FindingsError, match="folder"):
        read_rows(str(tmp_path))


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_give_rows_or_findings_and_never_a_traceback(raw: bytes) -> None:
    try:
        rows = read_raw_rows(raw, "a.csv", "")
    except FindingsError:
        return
    assert all(not row.blank for row in rows)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_damaged_spreadsheet_gives_rows_or_findings_and_never_a_traceback(data: st.DataObject) -> None:
    raw = bytearray(workbook(lambda book: book.add_worksheet("A").write_row(0, 0, ["a", 1, 2.5])))
    for _ in range(data.draw(st.integers(1, 6))):
        raw[data.draw(st.integers(4, len(raw) - 1))] = data.draw(st.integers(0, 255))
    with contextlib.suppress(FindingsError):
        read_raw_rows(bytes(raw), "a.xlsx", "")


def test_a_cell_with_a_spreadsheet_error_is_told_and_never_read_as_empty(tmp_path: Path) -> None:
    """A division by zero in the mass is no missing mass: estimating it in silence would be a wrong answer."""
    path = tmp_path / "broken.xlsx"
    with xlsxwriter.Workbook(str(path)) as workbook:
        sheet = workbook.add_worksheet()
        sheet.write_row(0, 0, ["field_number", "form", "length_mm", "mass_g"])
        sheet.write_row(1, 0, ["A-1", "lizard", 70])
        sheet.write_formula(1, 3, "=C99/0", None, "#DIV/0!")
    with pytest.raises(FindingsError) as caught:
        read_list(path)
    (finding,) = caught.value.findings
    assert (finding.row, finding.read) == (2, "#DIV/0!")
    assert "mass_g" in finding.field
