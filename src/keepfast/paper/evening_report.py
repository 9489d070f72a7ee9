"""The evening on paper: what was really done beside what was planned, by whom, checked and signed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from keepfast.paper import pdf
from keepfast.paper import type as type_
from keepfast.paper.flow import MARGIN_MM, Flow
from keepfast.paper.page import FINE, HEAVY, THIN, Page
from keepfast.words import _

_SIZE_PT = 9.0
_COLUMNS = (0.26, 0.2, 0.24, 0.3)  # shares of the width: what, planned, done, by whom


@dataclass(frozen=True)
class Row:
    """One line of an animal or a tray."""

    what: str
    planned: str
    done: str
    by: str
    heavy: bool = False  # where done and planned differ by more than the pen lets pass


@dataclass(frozen=True)
class Section:
    """One animal or tray."""

    number: str
    words: str
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Report:
    """Everything that is printed."""

    title: str
    facts: tuple[tuple[str, str], ...]
    people: tuple[str, ...]
    animals: tuple[Section, ...]
    trays: tuple[Section, ...]
    check: tuple[tuple[str, str, tuple[str, ...]], ...]
    kept: tuple[str, ...]
    signed: tuple[str, ...]
    origin: str


def printable(text: str, room_mm: float = 160.0) -> str:
    """Text as it can be set: a sign that the typeface lacks by its code, a word wider than its room broken."""
    absent = set(type_.missing(text, "regular")) | set(type_.missing(text, "bold"))
    spelled = "".join(f"[U+{ord(c):04X}]" if c in absent else c for c in text)
    return " ".join(piece for word in spelled.split() for piece in _pieces(word, room_mm))


def _pieces(word: str, room_mm: float) -> list[str]:
    if type_.width_mm(word, _SIZE_PT, "bold") <= room_mm:
        return [word]
    pieces, piece = [], ""
    for sign in word:
        if type_.width_mm(piece + sign, _SIZE_PT, "bold") > room_mm:
            pieces.append(piece)
            piece = ""
        piece += sign
    return [*pieces, piece]


def draw(report: Report, paper: str = "a4") -> list[Page]:
    """The pages.

    Raises
    ------
    PaperError
        If something does not fit, which would be a mistake here.
    """
    title = printable(report.title)

    def head(page: Page, number: int) -> float:
        size = 16.0 if number == 1 else 10.0
        page.text(MARGIN_MM, MARGIN_MM + 5.5, title, size_pt=size, face="bold", field=_("title"))
        page.line([(MARGIN_MM, MARGIN_MM + 8.0), (page.width_mm - MARGIN_MM, MARGIN_MM + 8.0)], width_mm=HEAVY)
        return MARGIN_MM + 10.5

    flow = Flow(paper, _("evening report"), head, foot=printable(report.origin)[:90])
    for name, value in report.facts:
        flow.paragraph(printable(value), lead=printable(name) + ":", size_pt=10, field=_("facts"), after_mm=0.6)
    flow.heading(_("Who did it"))
    for line in report.people:
        flow.paragraph(printable(line), field=_("people"))
    flow.heading(_("The check of the evening"))
    for name, answer, lines in report.check:
        flow.paragraph(printable(answer), lead=printable(name) + ":", field=_("check"), after_mm=0.4)
        for line in lines:
            flow.paragraph(printable(line), indent_mm=5.0, field=_("check"), after_mm=0.4)
    if report.kept:
        flow.heading(_("Kept with a reason"))
        for line in report.kept:
            flow.paragraph(printable(line), field=_("kept"))
    _sections(flow, _("Animals: planned and done"), report.animals)
    _sections(flow, _("Trays"), report.trays)
    flow.heading(_("Signed off"), keep_mm=30.0)
    for line in report.signed:
        flow.paragraph(printable(line), field=_("signed"))
    flow.blanks([(_("Name"), 70.0), (_("Date"), 40.0), (_("Signature"), 0.0)], high_mm=12.0)
    flow.blanks([(_("Name"), 70.0), (_("Date"), 40.0), (_("Signature"), 0.0)], high_mm=12.0)
    return flow.finish()


def render(report: Report, paper: str = "a4", language: str = "en-GB") -> bytes:
    """The report as PDF; the same report gives the same bytes."""
    return pdf.render(draw(report, paper), title=printable(report.title), language=language)


def _sections(flow: Flow, title: str, sections: Sequence[Section]) -> None:
    if not sections:
        return
    flow.heading(title, keep_mm=40.0)
    for section in sections:
        _section(flow, section)


def _section(flow: Flow, section: Section) -> None:
    # An animal stays on one page: nobody should read half of it under another's number.
    flow.need(min(14.0 + 4.8 * (len(section.rows) + len(section.notes) + 1), 180.0))
    number = printable(section.number)
    flow.page.text(
        flow.x,
        flow.y + 5.5,
        number,
        size_pt=15,
        least_pt=8,
        face="bold",
        field=_("number"),
        room_mm=flow.room_mm * 0.45,
    )
    words = printable(section.words)
    if words:
        flow.page.text(
            flow.x + flow.room_mm, flow.y + 5.5, words, size_pt=10, least_pt=6, anchor="end", field=_("taxon"),
            room_mm=flow.room_mm * 0.52,
        )  # fmt: skip
    flow.y += 8.0
    _line(flow, (_("What"), _("Planned"), _("Done"), _("By whom, when")), bold=True)
    for row in section.rows:
        _line(flow, (row.what, row.planned, row.done, row.by), heavy=row.heavy)
    for note in section.notes:
        flow.paragraph(printable(note), indent_mm=3.0, size_pt=_SIZE_PT, field=_("note"), after_mm=0.4)
    flow.space(3.0)


def _line(flow: Flow, cells: Sequence[str], *, bold: bool = False, heavy: bool = False) -> None:
    widths = [share * flow.room_mm for share in _COLUMNS]
    cells = [printable(cell, width - 2.5) or "–" for cell, width in zip(cells, widths, strict=True)]
    face: type_.Face = "bold" if bold else "regular"
    faces: list[type_.Face] = [face, face, "bold" if heavy or bold else "regular", face]
    broken = [
        len(flow.page.broken(w - 2.0, c, size_pt=_SIZE_PT, face=f, field=_("line")))
        for c, w, f in zip(cells, widths, faces, strict=True)
    ]
    high = max(broken) * type_.leading_mm(_SIZE_PT)
    flow.need(high + 0.8)
    x, top = flow.x, flow.y
    for cell, width, one in zip(cells, widths, faces, strict=True):
        flow.page.paragraph(x, top, width - 2.0, cell, size_pt=_SIZE_PT, face=one, field=_("line"))
        x += width
    flow.y = top + high + 0.5
    flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=FINE if bold else THIN)
    flow.y += 0.4
