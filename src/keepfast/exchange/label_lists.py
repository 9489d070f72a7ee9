"""Lists of labels, one row each, from CSV or XLSX into plain values by field.

Headings are our own field names or the Darwin Core terms of the same meaning, in any case and with any separators.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from keepfast.exchange.cells import folded
from keepfast.exchange.tables import read_rows
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

# Our field: other headings that mean it (Darwin Core terms, and what people write).
JAR_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "catalogue_number": ("catalogNumber", "catalogue no", "catalog no", "cat no"),
    "institution": ("institutionCode", "museum", "institutionID"),
    "taxon": ("scientificName", "species", "name"),
    "family": (),
    "type_status": ("typeStatus", "type"),
    "locality": ("verbatimLocality", "place"),
    "country": (),
    "collected_on": ("eventDate", "date", "collection date"),
    "collector": ("recordedBy", "collected by", "leg"),
    "field_numbers": ("recordNumber", "field number", "field no"),
    "count": ("individualCount", "number of specimens"),
    "fluid": ("preservative", "storage fluid"),
    "fixative": ("fixed in", "original fixative"),
    "address": ("materialEntityID", "occurrenceID", "uri", "url"),
}
TISSUE_COLUMNS: Mapping[str, tuple[str, ...]] = {
    "number": ("field_number", "recordNumber", "catalogNumber"),
    "tube": ("materialSampleID", "tissue number"),
    "tissue": ("preparations", "kind", "part"),
    "fluid": ("preservative",),
    "taken_on": ("eventDate", "date"),
}


@dataclass(frozen=True)
class LabelRows:
    """The rows with what was found on the way."""

    name: str
    sha256: str
    rows: tuple[Mapping[str, str], ...]
    findings: tuple[Finding, ...]


def read_labels(path: str | Path, columns: Mapping[str, tuple[str, ...]], needed: tuple[str, ...]) -> LabelRows:
    """
    Read a list of labels.

    Parameters
    ----------
    columns : mapping of str to tuple of str
        Fields and the other headings that mean them.
    needed : tuple of str
        Fields of which every row must have one at least.

    Raises
    ------
    FindingsError
        If the list cannot be read, has no such column or no rows, or a row has none of them; all such rows at once.
    """
    table = read_rows(path)
    known = {folded(heading): field for field, others in columns.items() for heading in (field, *others)}
    rows = list(table)
    if not rows:
        raise FindingsError(
            [Finding(_("the list is empty"), _("Write a heading and one row a label."), file=table.label)]
        )
    head, *body = rows
    fields: dict[int, str] = {}
    findings = list(table.findings)
    unknown = []
    for position, heading in enumerate(head.cells):
        field = known.get(folded(heading))
        if field is None and heading:
            unknown.append(heading)
        elif field is not None and field not in fields.values():
            fields[position] = field
    if unknown:
        findings.append(
            Finding(
                _("these columns are not printed"),
                _("Printed are: {list}.").format(list=", ".join(columns)),
                weight="note",
                file=table.label,
                row=head.number,
                read=", ".join(unknown),
            )
        )
    wrong = []
    either = _(" or ").join(needed)
    if not set(needed) & set(fields.values()):
        wrong.append(
            Finding(
                _("there is no column of this name"), _("Add it to the heading."), file=table.label, row=head.number,
                field=either,
            )
        )  # fmt: skip
    elif not body:
        wrong.append(Finding(_("the list has a heading and no rows"), _("Write one row a label."), file=table.label))
    answer = []
    for row in body if not wrong else ():
        values = {field: row[position] for position, field in fields.items()}
        if not any(values.get(field) for field in needed):
            wrong.append(
                Finding(
                    _("this row has none"), _("Every label needs it."), file=table.label, row=row.number, field=either
                )
            )
        answer.append(values)
    if wrong:
        raise FindingsError(wrong)
    return LabelRows(table.name, table.sha256, tuple(answer), tuple(findings))
