"""An empty list of animals with its explanation, as CSV or XLSX. The columns come from ``columns``."""

from __future__ import annotations

import datetime
import io
import textwrap
from pathlib import Path

from keepfast.exchange.columns import TEMPLATE, Column
from keepfast.exchange.files import write_file
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

# How many rows of the spreadsheet are prepared with lists to choose from.
PREPARED_ROWS = 500


def explanation() -> str:
    """What stands in each column, as plain text to be read beside the template."""
    lines = [
        _("One row is one animal. Field number, form, and length or mass are needed; leave out what nobody measured."),
        "",
    ]
    width = max(len(column.name) for column in TEMPLATE)
    for column in TEMPLATE:
        needed = f" ({_('needed')})" if column.required == "yes" else ""
        told = textwrap.wrap(f"{_(column.meaning)}{needed}", 76)
        if column.words:
            told += textwrap.wrap(", ".join(column.words), 76)
        lines += [
            f"{name:<{width}}  {line}" for name, line in zip([column.name] + [""] * len(told), told, strict=False)
        ]
    return "\n".join(lines)


def csv_template() -> bytes:
    """The headings alone, in UTF-8, with Windows line ends as spreadsheets write them."""
    return (",".join(column.name for column in TEMPLATE) + "\r\n").encode("utf-8")


def xlsx_template() -> bytes:
    """A sheet to fill in, with lists to choose words from, and a second sheet that explains each column."""
    import xlsxwriter

    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as book:
        # A fixed date, so that the same version writes the same bytes.
        book.set_properties({"title": _("List of animals"), "created": datetime.datetime(2026, 3, 1)})
        head = book.add_format({"bold": True, "bottom": 2})
        as_text = book.add_format({"num_format": "@"})
        wrapped = book.add_format({"text_wrap": True, "valign": "top"})
        bold = book.add_format({"bold": True, "valign": "top"})
        sheet = book.add_worksheet(_("Animals"))
        sheet.freeze_panes(1, 1)
        for position, column in enumerate(TEMPLATE):
            # Numbers of tags and times stay what was typed, instead of losing zeros or turning into serial days.
            plain = as_text if column.kind in ("text", "time") else None
            sheet.set_column(position, position, max(11, len(column.name) + 2), plain)
            sheet.write_string(0, position, column.name, head)
            if column.words:
                sheet.data_validation(
                    1,
                    position,
                    PREPARED_ROWS,
                    position,
                    {
                        "validate": "list",
                        "source": list(column.words),
                        "error_type": "warning",
                        "error_title": column.name,
                        "error_message": _("Other words may not be understood."),
                    },
                )
        notes = book.add_worksheet(_("What stands where"))
        notes.set_column(0, 0, 22)
        notes.set_column(1, 1, 18)
        notes.set_column(2, 2, 70)
        notes.set_column(3, 3, 50)
        notes.set_column(4, 4, 20)
        for position, title in enumerate((_("Column"), _("Needed"), _("Meaning"), _("Words"), _("Example"))):
            notes.write_string(0, position, title, head)
        for line, column in enumerate(TEMPLATE, start=1):
            notes.write_string(line, 0, column.name, bold)
            notes.write_string(line, 1, _needed(column), wrapped)
            notes.write_string(line, 2, _(column.meaning), wrapped)
            notes.write_string(line, 3, ", ".join(column.words), wrapped)
            notes.write_string(line, 4, column.example, wrapped)
    return buffer.getvalue()


def _needed(column: Column) -> str:
    return {"yes": _("yes"), "length or mass": _("length or mass")}.get(column.required, "")


def write_template(path: str | Path) -> None:
    """
    Write an empty list; the ending of the name says which kind, .csv or .xlsx.

    Raises
    ------
    FindingsError
        If the ending is another one, if a file of that name is there already, or if it cannot be written.
    """
    target = Path(path)
    makers = {".csv": csv_template, ".xlsx": xlsx_template}
    make = makers.get(target.suffix.casefold())
    if make is None:
        raise FindingsError(
            [
                Finding(
                    _("a list ends in .csv or .xlsx"), _("Choose one of the two."), file=str(path), read=target.suffix
                )
            ]
        )
    if target.exists():
        raise FindingsError(
            [Finding(_("a file of this name is there already"), _("Choose another name."), file=str(path))]
        )
    write_file(target, make())
