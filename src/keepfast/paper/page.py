"""A page of our own, in millimetres from the top left corner; the same drawing goes to SVG and to PDF.

How to draw::

    from keepfast.paper import page, pdf, svg

    sheet = page.Page(210, 297, card="table")            # a whole sheet; ``card`` is named when something is wrong
    sheet.text(15, 20, "B-12", size_pt=36, face="bold", field="field number", room_mm=80)
    y = sheet.paragraph(15, 30, 100, "Start at the hind end: decay does.", size_pt=11, field="steps")
    sheet.line([(15, 50), (195, 50)], width_mm=0.3)
    sheet.polygon([(20, 60), (40, 60), (30, 80)], dash=page.DASHED)
    sheet.hatch([(20, 60), (40, 60), (30, 80)])
    sheet.ring(60, 70, 2.5)
    sheet.place(drawing, 15, 90)                           # a drawing is a Page too, of its own size
    pdf.render([sheet]) -> bytes                           # the same pages always give the same bytes
    svg.render(sheet)   -> str                             # fonts inside; ``svg.render(sheet, fonts=False)`` inside a
                                                           # page that has the family already

Everything is a point, a run of text, a path, a ring or a set of filled boxes; ``items`` holds them in order. x grows to
the right, y downwards; a text stands on its baseline. Ink is black; ``fill`` is a share of black from 0 (white) to 1.
Nothing may leave the page, every character must exist in its face, and text must fit its room: otherwise
``type.PaperError`` (a ``FindingsError``) names card and field. Nothing is ever cut off.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from keepfast.paper import type as type_
from keepfast.paper.type import Face, PaperError
from keepfast.words import _

Point = tuple[float, float]
Anchor = Literal["start", "middle", "end"]

SOLID: tuple[float, ...] = ()
DASHED: tuple[float, ...] = (2.0, 1.2)
DOTTED: tuple[float, ...] = (0.5, 0.9)
LONG_DASHED: tuple[float, ...] = (5.0, 1.5)

THIN, FINE, FIRM, HEAVY = 0.18, 0.3, 0.5, 0.9  # line widths in mm; the thinnest still survives a photocopier


@dataclass(frozen=True, slots=True)
class Text:
    """One line of type on its baseline. ``turn`` in degrees, clockwise."""

    x: float
    y: float
    words: str
    size_pt: float
    face: Face = "regular"
    anchor: Anchor = "start"
    turn: float = 0.0

    @property
    def width_mm(self) -> float:
        """How far it runs."""
        return type_.width_mm(self.words, self.size_pt, self.face)


@dataclass(frozen=True, slots=True)
class Path:
    """Straight pieces through points. ``fill`` is a share of black or None; width 0 draws no line."""

    points: tuple[Point, ...]
    closed: bool = False
    width_mm: float = FINE
    dash: tuple[float, ...] = SOLID
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle."""

    x: float
    y: float
    radius_mm: float
    width_mm: float = FINE
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Boxes:
    """Black boxes that make one figure, such as a symbol: x, y, width, height of each."""

    boxes: tuple[tuple[float, float, float, float], ...]


Item = Text | Path | Ring | Boxes


class Page:
    """A sheet, or a piece that is placed on one. Sizes in mm; ``card`` and ``title`` name it for people."""

    def __init__(self, width_mm: float, height_mm: float, *, card: str = "", title: str = "") -> None:
        if not (width_mm > 0 and height_mm > 0 and math.isfinite(width_mm) and math.isfinite(height_mm)):
            raise ValueError(f"width_mm and height_mm must be above 0; {width_mm} and {height_mm} were given")
        self.width_mm = float(width_mm)
        self.height_mm = float(height_mm)
        self.card = card
        self.title = title
        self.items: list[Item] = []
        self.headings: list[tuple[float, str]] = []  # y and words, for those who move through a file by its outline

    # Drawing

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size_pt: float = 10,
        face: Face = "regular",
        anchor: Anchor = "start",
        turn: float = 0.0,
        field: str = "",
        room_mm: float | None = None,
        least_pt: float | None = None,
    ) -> float:
        """
        One line of type. Returns its width in mm.

        Parameters
        ----------
        room_mm : float, optional
            How much room it has; more is an error. Without it only the page's edge counts.
        least_pt : float, optional
            If given, the size may shrink down to this before it is an error.

        Raises
        ------
        PaperError
            If a character is missing in the face, or the text does not fit.
        """
        words = type_.check(words, face, self.card, field)
        if room_mm is not None and least_pt is not None:
            size_pt = type_.largest_pt(words, room_mm, face, size_pt, least_pt) or size_pt
        item = Text(x, y, words, size_pt, face, anchor, turn)
        wide = item.width_mm
        if room_mm is not None and wide > room_mm + 0.01:
            raise self._too_long(field, words, wide, room_mm)
        for at_x, at_y in text_corners(item):
            if not self._inside(at_x, at_y):
                raise self._too_long(field, words, wide, self._room_at(item))
        self.items.append(item)
        return wide

    def name(
        self, x: float, y: float, words: str, *, size_pt: float, least_pt: float, room_mm: float, face: Face = "bold",
        field: str = "",
    ) -> bool:  # fmt: skip
        """A name that the file's own name says as well: left out, and False, where typeface or room lack it."""
        if type_.missing(words, face) or type_.largest_pt(words, room_mm, face, size_pt, least_pt) is None:
            return False
        self.text(x, y, words, size_pt=size_pt, least_pt=least_pt, room_mm=room_mm, face=face, field=field)
        return True

    def paragraph(
        self,
        x: float,
        y: float,
        room_mm: float,
        words: str,
        *,
        size_pt: float = 10,
        face: Face = "regular",
        lead: str = "",
        leading_mm: float | None = None,
        most_lines: int | None = None,
        field: str = "",
    ) -> float:
        """
        Text broken into lines. ``y`` is the top of the first line; returns the y below the last.

        ``lead`` stands in bold at the beginning of the first line.

        Raises
        ------
        PaperError
            If a character is missing, a word is wider than the room, there are more lines than ``most_lines``, or
            the page ends.
        """
        down = type_.leading_mm(size_pt) if leading_mm is None else leading_mm
        for run in self.broken(room_mm, words, size_pt=size_pt, face=face, lead=lead, field=field, most=most_lines):
            baseline = y + _baseline_in(down, size_pt)
            if run.lead:
                self.text(x, baseline, run.lead, size_pt=size_pt, face="bold", field=field)
            if run.words:
                self.text(x + run.indent_mm, baseline, run.words, size_pt=size_pt, face=face, field=field)
            y += down
        return y

    def broken(
        self,
        room_mm: float,
        words: str,
        *,
        size_pt: float,
        face: Face = "regular",
        lead: str = "",
        field: str = "",
        most: int | None = None,
    ) -> list[BrokenLine]:
        """The lines that ``paragraph`` would set, for measuring first; raises as it does."""
        words = type_.bound(type_.check(words, face, self.card, field))
        lead = type_.bound(type_.check(lead, "bold", self.card, field))
        answer: list[BrokenLine] = []
        try:
            if lead:
                heads = type_.lines(lead, room_mm, size_pt, "bold")
                answer.extend(BrokenLine(head, 0.0, "") for head in heads[:-1])
                indent = type_.width_mm(heads[-1] + " ", size_pt, "bold")
                first, rest = _first_line(words, room_mm - indent, size_pt, face)
                answer.append(BrokenLine(heads[-1], indent, first))
                if rest:
                    answer.extend(BrokenLine("", 0.0, line) for line in type_.lines(rest, room_mm, size_pt, face))
            else:
                answer.extend(BrokenLine("", 0.0, line) for line in type_.lines(words, room_mm, size_pt, face))
        except ValueError as problem:
            raise PaperError(
                self.card,
                field,
                _("a word does not fit its line: {problem}").format(problem=problem),
                _("Shorten it or put a space in it."),
                words,
            ) from None
        if most is not None and len(answer) > most:
            raise PaperError(
                self.card,
                field,
                _("this takes {n} lines; there is room for {most}").format(n=len(answer), most=most),
                _("Shorten it, or choose a larger sheet or label."),
                words,
            )
        return answer

    def line(
        self, points: Iterable[Point], *, width_mm: float = FINE, dash: tuple[float, ...] = SOLID, field: str = ""
    ) -> None:
        """Straight pieces through points, open."""
        self.add(Path(tuple(points), False, width_mm, dash), field)

    def polygon(
        self,
        points: Iterable[Point],
        *,
        width_mm: float = FINE,
        dash: tuple[float, ...] = SOLID,
        fill: float | None = None,
        field: str = "",
    ) -> None:
        """A closed outline."""
        self.add(Path(tuple(points), True, width_mm, dash, fill), field)

    def box(
        self,
        x: float,
        y: float,
        wide: float,
        high: float,
        *,
        width_mm: float = FINE,
        dash: tuple[float, ...] = SOLID,
        fill: float | None = None,
        field: str = "",
    ) -> None:
        """A rectangle from its upper left corner."""
        corners = ((x, y), (x + wide, y), (x + wide, y + high), (x, y + high))
        self.add(Path(corners, True, width_mm, dash, fill), field)

    def ring(
        self,
        x: float,
        y: float,
        radius_mm: float,
        *,
        width_mm: float = FINE,
        fill: float | None = None,
        field: str = "",
    ) -> None:
        """A circle."""
        self.add(Ring(x, y, radius_mm, width_mm, fill), field)

    def hatch(
        self, points: Sequence[Point], *, spacing_mm: float = 1.2, turn: float = 45.0, width_mm: float = THIN
    ) -> None:
        """Parallel lines inside an outline, without the outline itself."""
        for a, b in hatching(points, spacing_mm, turn):
            self.add(Path((a, b), False, width_mm))

    def boxes(self, boxes: Iterable[tuple[float, float, float, float]], field: str = "") -> None:
        """Black boxes that belong together."""
        self.add(Boxes(tuple(boxes)), field)

    def add(self, item: Item, field: str = "") -> None:
        """Any item.

        Raises
        ------
        PaperError
            If it leaves the page.
        """
        for x, y in corners_of(item):
            if not self._inside(x, y):
                raise PaperError(
                    self.card,
                    field,
                    _("a drawing reaches {x:.1f}, {y:.1f} mm on a page of {w:.1f} x {h:.1f} mm").format(
                        x=x, y=y, w=self.width_mm, h=self.height_mm
                    ),
                    _("Choose a larger sheet or label."),
                )
        self.items.append(item)

    def place(self, piece: Page, x: float, y: float, scale: float = 1.0) -> None:
        """Put another page's items here, its upper left corner at x, y; ``scale`` grows or shrinks all of it."""
        for item in piece.items:
            self.add(moved(item, x, y, scale), piece.title or piece.card)

    # Reading

    def words(self) -> Iterator[str]:
        """Every run of text in the order it was drawn."""
        return (item.words for item in self.items if isinstance(item, Text))

    def _inside(self, x: float, y: float) -> bool:
        return -0.05 <= x <= self.width_mm + 0.05 and -0.05 <= y <= self.height_mm + 0.05

    def _room_at(self, item: Text) -> float:
        if item.turn:
            return min(self.width_mm, self.height_mm)
        left, right = max(item.x, 0.0), max(self.width_mm - item.x, 0.0)
        return {"start": right, "end": left, "middle": 2 * min(left, right)}[item.anchor]

    def _too_long(self, field: str, words: str, wide: float, room_mm: float) -> PaperError:
        if wide <= room_mm:
            return PaperError(
                self.card,
                field,
                _("there is no room left for this on a page {high:.1f} mm high").format(high=self.height_mm),
                _("Shorten what stands above it, or choose a larger sheet or label."),
                words,
            )
        return PaperError(
            self.card,
            field,
            _("this is {wide:.1f} mm wide in print; there are {room:.1f} mm").format(wide=wide, room=room_mm),
            _("Shorten it, or choose a larger sheet or label."),
            words,
        )


@dataclass(frozen=True, slots=True)
class BrokenLine:
    """One line of a paragraph: a bold lead, then the words at their indent."""

    lead: str
    indent_mm: float
    words: str


def _first_line(words: str, room_mm: float, size_pt: float, face: Face) -> tuple[str, str]:
    head, _gap, rest_of_text = words.partition("\n")
    taken: list[str] = []
    waiting = head.split(" ")
    while waiting:
        if type_.width_mm(" ".join([*taken, waiting[0]]), size_pt, face) > room_mm:
            break
        taken.append(waiting.pop(0))
    rest = " ".join(waiting)
    if rest_of_text:
        rest = f"{rest}\n{rest_of_text}" if rest else rest_of_text
    return " ".join(taken), rest


def _baseline_in(leading: float, size_pt: float) -> float:
    """Where the baseline stands in a line of this height, so that capitals sit in its middle."""
    cap = type_.cap_mm(size_pt)
    return (leading + cap) / 2


def text_corners(item: Text) -> tuple[Point, ...]:
    """The four corners of the box that a line of type fills, from cap height to the line."""
    wide = item.width_mm
    left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[item.anchor]
    top, bottom = -type_.cap_mm(item.size_pt, item.face), 0.0
    angle = math.radians(item.turn)
    cos, sin = math.cos(angle), math.sin(angle)
    return tuple(
        (item.x + dx * cos - dy * sin, item.y + dx * sin + dy * cos)
        for dx, dy in ((left, top), (left + wide, top), (left + wide, bottom), (left, bottom))
    )


def corners_of(item: Item) -> Iterator[Point]:
    """Points that span an item."""
    if isinstance(item, Text):
        yield from text_corners(item)
    elif isinstance(item, Path):
        yield from item.points
    elif isinstance(item, Ring):
        yield item.x - item.radius_mm, item.y - item.radius_mm
        yield item.x + item.radius_mm, item.y + item.radius_mm
    else:
        for x, y, wide, high in item.boxes:
            yield x, y
            yield x + wide, y + high


def moved(item: Item, x: float, y: float, scale: float = 1.0) -> Item:
    """The item at another place and size."""
    if isinstance(item, Text):
        return replace(item, x=item.x * scale + x, y=item.y * scale + y, size_pt=item.size_pt * scale)
    if isinstance(item, Path):
        return replace(
            item,
            points=tuple((a * scale + x, b * scale + y) for a, b in item.points),
            width_mm=item.width_mm * scale,
            dash=tuple(d * scale for d in item.dash),
        )
    if isinstance(item, Ring):
        return replace(
            item,
            x=item.x * scale + x,
            y=item.y * scale + y,
            radius_mm=item.radius_mm * scale,
            width_mm=item.width_mm * scale,
        )
    return Boxes(tuple((a * scale + x, b * scale + y, w * scale, h * scale) for a, b, w, h in item.boxes))


def hatching(points: Sequence[Point], spacing_mm: float = 1.2, turn: float = 45.0) -> list[tuple[Point, Point]]:
    """Pieces of parallel lines that lie inside an outline (even-odd rule).

    Raises
    ------
    ValueError
        If ``spacing_mm`` is not above 0.
    """
    if not spacing_mm > 0:
        raise ValueError(f"spacing_mm must be above 0; {spacing_mm} was given")
    angle = math.radians(turn)
    cos, sin = math.cos(angle), math.sin(angle)
    # Turned so that the lines of the hatch lie level.
    level = [(x * cos - y * sin, x * sin + y * cos) for x, y in points]
    lowest, highest = min(y for _x, y in level), max(y for _x, y in level)
    pieces: list[tuple[Point, Point]] = []
    row = math.ceil(lowest / spacing_mm)
    while row * spacing_mm < highest:
        y = row * spacing_mm
        cuts = sorted(
            x1 + (y - y1) * (x2 - x1) / (y2 - y1)
            for (x1, y1), (x2, y2) in zip(level, [*level[1:], level[0]], strict=True)
            if (y1 <= y < y2) or (y2 <= y < y1)
        )
        for start, end in zip(cuts[::2], cuts[1::2], strict=False):
            if end - start > 0.05:
                pieces.append(
                    ((start * cos + y * sin, -start * sin + y * cos), (end * cos + y * sin, -end * sin + y * cos))
                )
        row += 1
    return pieces


def check_bar(
    sheet: Page, x: float, y: float, length_mm: float = 50.0, *, size_pt: float = 8.0, words: bool = True
) -> None:
    """A bar to hold a ruler to, with what to do when it is not true. It is drawn as filled boxes: no line end adds."""
    high = 1.2
    tens = int(length_mm // 10)
    sheet.boxes([(x + 10 * i, y, 10.0, high) for i in range(0, tens, 2)], "check bar")
    sheet.boxes(
        [(x, y, length_mm, 0.2), (x, y + high - 0.2, length_mm, 0.2), (x + length_mm - 0.2, y, 0.2, high)], "check bar"
    )
    if words:
        sheet.text(
            x + length_mm + 2,
            y + high,
            _("{length:.0f} mm. If a ruler says otherwise, print again at 100 %.").format(length=length_mm),
            size_pt=size_pt,
            field="check bar",
        )
