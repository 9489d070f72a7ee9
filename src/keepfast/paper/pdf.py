"""Pages to PDF. The only file that knows the PDF library.

Fonts are embedded as subsets, nothing else is listed; the same pages give the same bytes; viewers that honour it print
at true size instead of fitting the sheet.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from functools import cache

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from keepfast import __version__
from keepfast.paper import type as type_
from keepfast.paper.page import Boxes, Page, Path, Point, Ring, Text
from keepfast.words import current_language

POINTS_PER_MM = 72 / 25.4

# Streams as they are instead of wrapped into ASCII: smaller, and much faster to write.
rl_config.useA85 = 0


@cache
def _registered(face: str) -> str:
    """Make a face known to the library, with figures in the same (tabular) form that was measured."""
    ours = type_.font(face)
    name = f"keepfast-{face}"
    theirs = TTFont(name, str(ours.path), asciiReadable=False)
    theirs.face.charToGlyph.update({ord(c): ours.glyph_of[ord(c)] for c in "0123456789"})
    theirs.face.charWidths.update(ours.advance_of)
    pdfmetrics.registerFont(theirs)
    return name


class _Code:
    """A path in the file's own words; the library's path object takes most of its time in formatting each figure."""

    def __init__(self) -> None:
        self.words: list[str] = []

    def through(self, points: tuple[Point, ...], high: float, closed: bool) -> None:
        """Straight pieces through points in millimetres from the top left."""
        for i, (x, y) in enumerate(points):
            self.words.append(f"{x * POINTS_PER_MM:.3f} {high - y * POINTS_PER_MM:.3f} {'l' if i else 'm'}")
        if closed:
            self.words.append("h")

    def box(self, x: float, y: float, wide: float, tall: float, high: float) -> None:
        """A rectangle from its upper left corner in millimetres."""
        self.words.append(
            f"{x * POINTS_PER_MM:.4f} {high - (y + tall) * POINTS_PER_MM:.4f} "
            f"{wide * POINTS_PER_MM:.4f} {tall * POINTS_PER_MM:.4f} re"
        )

    def getCode(self) -> str:  # noqa: N802 - the name that the library calls
        """What the library puts into the page."""
        return " ".join(self.words)


def _path(canvas: Canvas, item: Path, high: float) -> None:
    code = _Code()
    code.through(item.points, high, item.closed)
    if item.fill is not None:
        canvas.setFillGray(1 - item.fill)
    if item.width_mm > 0:
        canvas.setLineWidth(item.width_mm * POINTS_PER_MM)
        canvas.setDash([d * POINTS_PER_MM for d in item.dash])
    canvas.drawPath(code, stroke=int(item.width_mm > 0), fill=int(item.fill is not None))
    if item.fill is not None:
        canvas.setFillGray(0)


def _text(canvas: Canvas, item: Text, high: float) -> None:
    canvas.setFont(_registered(item.face), item.size_pt)
    left = {"start": 0.0, "middle": -item.width_mm / 2, "end": -item.width_mm}[item.anchor] * POINTS_PER_MM
    x, y = item.x * POINTS_PER_MM, high - item.y * POINTS_PER_MM
    if not item.turn:
        canvas.drawString(x + left, y, item.words)
        return
    canvas.saveState()
    canvas.translate(x, y)
    canvas.rotate(-item.turn)
    canvas.drawString(left, 0, item.words)
    canvas.restoreState()


def render(pages: Iterable[Page], *, title: str = "", subject: str = "", language: str = "") -> bytes:
    """
    A PDF of these pages, each in its own size, with an outline of their titles and headings.

    Parameters
    ----------
    title : str, optional
        What a viewer or a screen reader calls the file; otherwise the title of the first page.
    subject : str, optional
        What it was made from.
    language : str, optional
        The one now spoken unless another is named.

    Raises
    ------
    ValueError
        If there are no pages.
    """
    sheets = list(pages)
    if not sheets:
        raise ValueError("pages must hold at least one page; none was given")
    out = io.BytesIO()
    canvas = Canvas(
        out,
        pagesize=(sheets[0].width_mm * POINTS_PER_MM, sheets[0].height_mm * POINTS_PER_MM),
        pageCompression=1,
        invariant=1,
        initialFontName=_registered("regular"),
        initialFontSize=10,
        lang=language or {"en": "en-GB"}.get(current_language(), current_language()),
    )
    canvas.setTitle(title or sheets[0].title or sheets[0].card or "Keepfast")
    canvas.setSubject(subject)
    canvas.setAuthor("")
    canvas.setCreator(f"Keepfast {__version__}")
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    before = ""
    for number, sheet in enumerate(sheets, start=1):
        high = sheet.height_mm * POINTS_PER_MM
        _outline(canvas, sheet, number, before)
        before = sheet.title
        canvas.setPageSize((sheet.width_mm * POINTS_PER_MM, high))
        canvas.setLineCap(0)
        canvas.setLineJoin(1)
        canvas.setStrokeGray(0)
        canvas.setFillGray(0)
        for item in sheet.items:
            if isinstance(item, Text):
                if item.words.strip():
                    _text(canvas, item, high)
            elif isinstance(item, Path):
                _path(canvas, item, high)
            elif isinstance(item, Ring):
                if item.fill is not None:
                    canvas.setFillGray(1 - item.fill)
                canvas.setLineWidth(item.width_mm * POINTS_PER_MM)
                canvas.setDash([])
                canvas.circle(
                    item.x * POINTS_PER_MM,
                    high - item.y * POINTS_PER_MM,
                    item.radius_mm * POINTS_PER_MM,
                    stroke=int(item.width_mm > 0),
                    fill=int(item.fill is not None),
                )
                canvas.setFillGray(0)
            else:
                _boxes(canvas, item, high)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _outline(canvas: Canvas, sheet: Page, number: int, before: str) -> None:
    """The page's title, unless it goes on from the page before, and its headings below that."""
    if not sheet.title:
        return
    high = sheet.height_mm * POINTS_PER_MM
    if sheet.title != before:
        canvas.bookmarkHorizontal(f"p{number}", 0, high)
        canvas.addOutlineEntry(sheet.title, f"p{number}", 0, closed=1)
    for i, (y, words) in enumerate(sheet.headings):
        canvas.bookmarkHorizontal(f"p{number}.{i}", 0, high - y * POINTS_PER_MM)
        canvas.addOutlineEntry(words, f"p{number}.{i}", 1)


def _boxes(canvas: Canvas, item: Boxes, high: float) -> None:
    code = _Code()
    for x, y, wide, tall in item.boxes:
        code.box(x, y, wide, tall, high)
    canvas.drawPath(code, stroke=0, fill=1)
