"""Sheets as data: papers, and how tags and labels lie on them.

Start with ``load``; a file of one's own has the same form as ``sheets/standard.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources

KINDS = ("tag", "tissue", "jar")
_HEAD = ("title", "date", "subject", "papers", "sheets")
_PAPER_KEYS = ("title", "width_mm", "height_mm", "source")
_SHEET_KEYS = (
    "name",
    "title",
    "kind",
    "paper",
    "label_mm",
    "columns",
    "rows",
    "first_mm",
    "gap_mm",
    "hole_mm",
    "dpi",
    "source",
)
LEAST_MM, MOST_MM = 5.0, 2000.0


@dataclass(frozen=True)
class Paper:
    """A sheet of paper. [mm]"""

    name: str
    title: str
    width_mm: float
    height_mm: float
    source: str


@dataclass(frozen=True)
class Sheet:
    """How labels lie on a sheet. A roll has one label, as large as the sheet. [mm]"""

    name: str
    title: str
    kind: str  # tag, tissue or jar
    width_mm: float
    height_mm: float
    label_width_mm: float
    label_height_mm: float
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    gap_x_mm: float = 0.0
    gap_y_mm: float = 0.0
    hole_mm: float = 0.0
    dpi: int = 600
    source: str = ""

    @property
    def is_roll(self) -> bool:
        """Whether one label is all there is."""
        return self.columns * self.rows == 1

    @property
    def dot_mm(self) -> float:
        """One dot of the printer."""
        return 25.4 / self.dpi

    def places(self) -> tuple[tuple[float, float], ...]:
        """Upper left corners of the labels, row by row."""
        return tuple(
            (
                self.left_mm + column * (self.label_width_mm + self.gap_x_mm),
                self.top_mm + row * (self.label_height_mm + self.gap_y_mm),
            )
            for row in range(self.rows)
            for column in range(self.columns)
        )


@dataclass(frozen=True)
class Sheets:
    """All papers and sheets of a file, with the identity that an output prints."""

    papers: dict[str, Paper]
    sheets: dict[str, Sheet]
    identity: dict[str, str]

    def sheet(self, name: str, kind: str) -> Sheet:
        """The sheet of this name, for this kind of label.

        Raises
        ------
        FindingsError
            If there is none; the finding names those there are.
        """
        known = [s.name for s in self.sheets.values() if s.kind == kind]
        found = self.sheets.get(name)
        if found is None or found.kind != kind:
            what = f"there is no sheet of this name for {kind} labels"
            raise FindingsError([Finding(what, f"Choose one of: {', '.join(known)}.", field="sheet", read=name)])
        return found

    def paper(self, name: str) -> Paper:
        """The paper of this name.

        Raises
        ------
        FindingsError
            If there is none.
        """
        if name not in self.papers:
            raise FindingsError(
                [
                    Finding(
                        "there is no paper of this name",
                        f"Choose one of: {', '.join(self.papers)}.",
                        field="paper",
                        read=name,
                    )
                ]
            )
        return self.papers[name]


def load(name_or_path: str | Path = "standard") -> Sheets:
    """Read the sheets that ship, or a file of one's own.

    Raises
    ------
    FindingsError
        If the file cannot be used; the findings say all that is wrong with it at once.
    """
    file = sources.read("sheets", name_or_path)
    label = f"{file.name}.toml"
    found = sources.unknown_keys(label, "", file.data, _HEAD)
    papers: dict[str, Paper] = {}
    raw_papers = file.data.get("papers", {})
    for name, raw in raw_papers.items() if isinstance(raw_papers, dict) else ():
        where = f"papers.{name}"
        if not isinstance(raw, dict):
            found.append(Finding("a paper is a table", f"Write [{where}].", file=label, field=where))
            continue
        found += sources.unknown_keys(label, where, raw, _PAPER_KEYS)
        wide, high = (_length(raw.get(key), label, f"{where}.{key}", found) for key in ("width_mm", "height_mm"))
        papers[name] = Paper(name, str(raw.get("title", name)), wide, high, _text(raw, "source", label, where, found))
    sheets: dict[str, Sheet] = {}
    raw_sheets = file.data.get("sheets", [])
    for i, raw in enumerate(raw_sheets if isinstance(raw_sheets, list) else [], start=1):
        if not isinstance(raw, dict):
            found.append(Finding("a sheet is a table", "Write [[sheets]].", file=label, field=f"sheets {i}"))
            continue
        sheet = _sheet(raw, papers, label, f"sheets {i}", found)
        if sheet is not None:
            if sheet.name in sheets:
                found.append(Finding("two sheets have this name", "Rename one.", file=label, field=sheet.name))
            sheets[sheet.name] = sheet
    if not sheets and not found:
        found.append(Finding("the file holds no sheet", "Add one under [[sheets]].", file=label, field="sheets"))
    if found:
        raise FindingsError(found)
    return Sheets(papers, sheets, file.identity)


def _text(raw: dict[str, Any], key: str, label: str, where: str, found: list[Finding]) -> str:
    value = raw.get(key)
    if not isinstance(value, str) or not value.strip():
        found.append(Finding(f"{key} is missing", f'Add a line: {key} = "..."', file=label, field=f"{where}.{key}"))
        return ""
    return value


def _length(value: Any, label: str, where: str, found: list[Finding], least: float = LEAST_MM) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= MOST_MM:
        found.append(
            Finding(
                f"this must be a length from {least:g} to {MOST_MM:g} mm",
                "Write it as a number: 46.0",
                file=label,
                field=where,
                read=None if value is None else str(value),
            )
        )
        return 10.0
    return float(value)


def _pair(raw: Any, label: str, where: str, found: list[Finding], least: float) -> tuple[float, float]:
    if not isinstance(raw, list) or len(raw) != 2:
        found.append(
            Finding(
                "this must be two lengths: across and down",
                "Write them as [46.0, 16.0].",
                file=label,
                field=where,
                read=None if raw is None else str(raw),
            )
        )
        return 10.0, 10.0
    return _length(raw[0], label, where, found, least), _length(raw[1], label, where, found, least)


def _count(raw: Any, label: str, where: str, found: list[Finding], most: int, default: int) -> int:
    if raw is None:
        return default
    if isinstance(raw, bool) or not isinstance(raw, int) or not 1 <= raw <= most:
        found.append(
            Finding(f"this must be a whole number from 1 to {most}", "Mend it.", file=label, field=where, read=str(raw))
        )
        return default
    return raw


def _sheet(raw: dict[str, Any], papers: dict[str, Paper], label: str, where: str, found: list[Finding]) -> Sheet | None:
    before = len(found)
    found += sources.unknown_keys(label, where, raw, _SHEET_KEYS)
    name = _text(raw, "name", label, where, found)
    where = name or where
    kind = raw.get("kind")
    if kind not in KINDS:
        found.append(
            Finding(
                f"kind must be one of {', '.join(KINDS)}",
                "Mend it.",
                file=label,
                field=f"{where}.kind",
                read=None if kind is None else str(kind),
            )
        )
    wide, high = _pair(raw.get("label_mm"), label, f"{where}.label_mm", found, LEAST_MM)
    columns = _count(raw.get("columns"), label, f"{where}.columns", found, 100, 1)
    rows = _count(raw.get("rows"), label, f"{where}.rows", found, 200, 1)
    left, top = _pair(raw.get("first_mm", [0.0, 0.0]), label, f"{where}.first_mm", found, 0.0)
    gap_x, gap_y = _pair(raw.get("gap_mm", [0.0, 0.0]), label, f"{where}.gap_mm", found, 0.0)
    hole = _length(raw.get("hole_mm", 0.0), label, f"{where}.hole_mm", found, 0.0)
    dpi = _count(raw.get("dpi"), label, f"{where}.dpi", found, 4800, 600)
    source = _text(raw, "source", label, where, found)
    paper = raw.get("paper")
    if paper is None:
        if columns * rows != 1:
            found.append(
                Finding(
                    "several labels need a paper to lie on", 'Add: paper = "a4"', file=label, field=f"{where}.paper"
                )
            )
        sheet_wide, sheet_high, left, top = wide, high, 0.0, 0.0
    elif paper in papers:
        sheet_wide, sheet_high = papers[paper].width_mm, papers[paper].height_mm
        right = left + columns * wide + (columns - 1) * gap_x
        bottom = top + rows * high + (rows - 1) * gap_y
        if right > sheet_wide + 0.01 or bottom > sheet_high + 0.01:
            found.append(
                Finding(
                    f"the labels reach {right:g} x {bottom:g} mm on a sheet of {sheet_wide:g} x {sheet_high:g} mm",
                    "Take fewer, smaller, or a smaller margin.",
                    file=label,
                    field=where,
                )
            )
    else:
        sheet_wide, sheet_high = wide, high
        found.append(
            Finding(
                "there is no paper of this name",
                f"Known here: {', '.join(papers)}.",
                file=label,
                field=f"{where}.paper",
                read=str(paper),
            )
        )
    if len(found) > before:
        return None
    return Sheet(
        name=name,
        title=str(raw.get("title", name)),
        kind=str(kind),
        width_mm=sheet_wide,
        height_mm=sheet_high,
        label_width_mm=wide,
        label_height_mm=high,
        columns=columns,
        rows=rows,
        left_mm=left,
        top_mm=top,
        gap_x_mm=gap_x,
        gap_y_mm=gap_y,
        hole_mm=hole,
        dpi=dpi,
        source=source,
    )
