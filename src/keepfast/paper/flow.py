"""Text that runs over as many pages as it needs, in one or more columns, each page with its own head and foot."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from keepfast.paper import type as type_
from keepfast.paper.page import FINE, FIRM, Page
from keepfast.rules import sheets as sheets_
from keepfast.words import _

MARGIN_MM = 10.0
FOOT_MM = 9.0


class Flow:
    """
    Pages filled from top to bottom.

    Parameters
    ----------
    paper : str
        Name of a paper in the rules of sheets: a4 or letter.
    card : str
        What these pages are, for errors and feet.
    head : callable
        Draws the head of a page (page, number of the page) and returns the y below it.
    foot : str
        Words at the left of every foot.
    """

    def __init__(
        self, paper: str, card: str, head: Callable[[Page, int], float], *, foot: str = "", columns: int = 1
    ) -> None:
        size = sheets_.load().paper(paper)
        self.width_mm, self.height_mm = size.width_mm, size.height_mm
        self.card = card
        self.pages: list[Page] = []
        self._head = head
        self._foot = foot
        self._columns = columns
        self._column = 0
        self.reserved_mm = 0.0  # kept free above the foot, for what is set there later
        self._level_mm = 0.0  # kept free as well, so that columns end level
        self._top = 0.0
        self._lowest = 0.0  # how far down any column of this page has come
        self.y = 0.0
        self.new_page()

    @property
    def page(self) -> Page:
        """The page now filled."""
        return self.pages[-1]

    @property
    def gap(self) -> float:
        """Between columns."""
        return 6.0

    @property
    def room_mm(self) -> float:
        """Width of a column."""
        whole = self.width_mm - 2 * MARGIN_MM
        return (whole - (self._columns - 1) * self.gap) / self._columns

    @property
    def x(self) -> float:
        """Left edge of the column now filled."""
        return MARGIN_MM + self._column * (self.room_mm + self.gap)

    @property
    def bottom(self) -> float:
        """Where the foot begins."""
        return self.height_mm - MARGIN_MM - FOOT_MM - self.reserved_mm - self._level_mm

    @property
    def left_mm(self) -> float:
        """Height still free in this column."""
        return self.bottom - self.y

    def new_page(self) -> None:
        """Begin a page."""
        self.pages.append(Page(self.width_mm, self.height_mm, card=self.card, title=self.card))
        self._column = 0
        self._level_mm = 0.0
        self._top = self.y = self._lowest = self._head(self.page, len(self.pages))

    def columns(self, count: int) -> None:
        """From here on the page has this many columns."""
        self._lowest = max(self._lowest, self.y)
        self.y = self._top = self._lowest
        self._columns = count
        self._column = 0
        self._level_mm = 0.0

    def next_column(self) -> None:
        """On to the next column, or the next page."""
        self._lowest = max(self._lowest, self.y)
        if self._column + 1 < self._columns:
            self._column += 1
            self.y = self._top
        else:
            self.new_page()

    @property
    def at_top(self) -> bool:
        """Whether nothing stands yet below the head or the last change of columns."""
        return self._column == 0 and self.y <= self._top

    def level(self, blocks: Sequence[tuple[float, float]]) -> None:
        """
        Let the columns end level from here on, if all of these blocks fit this page.

        Parameters
        ----------
        blocks : sequence of (height, keep)
            Heights of what will be set, and how much of what follows must stand in the same column. [mm]
        """
        whole = self.bottom - self.y
        limit = sum(high for high, _keep in blocks) / self._columns
        while limit < whole:
            if self._packed(blocks, limit):
                self._level_mm = max(whole - limit - 0.5, 0.0)
                return
            limit += 1.0

    def holds(self, blocks: Sequence[tuple[float, float]]) -> bool:
        """Whether all of these blocks (height, keep) fit this page from here on."""
        return self._packed(blocks, self.bottom - self.y)

    def _packed(self, blocks: Sequence[tuple[float, float]], limit: float) -> bool:
        """Whether the blocks fit columns of this height."""
        column, y = 1, 0.0
        for high, keep in blocks:
            if y + high + keep > limit:
                column, y = column + 1, 0.0
            if column > self._columns or high + keep > limit:
                return False
            y += high
        return True

    def need(self, height_mm: float) -> None:
        """Make sure that this much is free, if a whole column can hold it at all."""
        if self.left_mm < height_mm:
            self.next_column()

    def space(self, height_mm: float) -> None:
        """Leave some air, but not at the top of a column."""
        if self.y > self._top:
            self.y += height_mm

    def heading_mm(self, size_pt: float = 12.0) -> float:
        """How high a heading with its rule stands in the midst of a column."""
        return 3.0 + 1.2 + type_.leading_mm(size_pt) + 0.8

    def heading(self, words: str, *, size_pt: float = 12.0, keep_mm: float = 12.0, rule: bool = True) -> None:
        """A heading that stays with what follows."""
        self.space(3.0)
        high = type_.leading_mm(size_pt)
        self.need(high + keep_mm)
        if rule:
            self.page.line([(self.x, self.y), (self.x + self.room_mm, self.y)], width_mm=FIRM)
            self.y += 1.2
        self.page.headings.append((self.y, words))
        self.y = self.page.paragraph(
            self.x, self.y, self.room_mm, words, size_pt=size_pt, face="bold", field=_("heading")
        )
        self.y += 0.8

    def paragraph(
        self,
        words: str,
        *,
        lead: str = "",
        size_pt: float = 9.5,
        indent_mm: float = 0.0,
        after_mm: float = 1.2,
        field: str = "",
        bar: bool = False,
    ) -> None:
        """A paragraph that is not parted; ``bar`` draws a heavy line beside it, for what must not be missed."""
        room = self.room_mm - indent_mm
        rows = self.page.broken(room, words, size_pt=size_pt, lead=lead, field=field)
        high = len(rows) * type_.leading_mm(size_pt)
        self.need(high)
        top = self.y
        self.y = self.page.paragraph(self.x + indent_mm, self.y, room, words, size_pt=size_pt, lead=lead, field=field)
        if bar:
            self.page.line(
                [(self.x + indent_mm - 2.0, top + 0.3), (self.x + indent_mm - 2.0, self.y - 0.3)], width_mm=1.0
            )
        self.y += after_mm

    def balanced_mm(
        self, columns: int, blocks: Sequence[tuple[str, str]], *, size_pt: float, after_mm: float = 1.6
    ) -> float:
        """How high ``balanced`` will stand, with some allowance for columns that do not end level."""
        room = (self.width_mm - 2 * MARGIN_MM - (columns - 1) * self.gap) / columns
        highs = [
            len(self.page.broken(room, words, size_pt=size_pt, lead=lead)) * type_.leading_mm(size_pt) + after_mm
            for lead, words in blocks
        ]
        return sum(highs) / columns + max(highs, default=0.0) / 2

    def balanced(
        self, columns: int, blocks: Sequence[tuple[str, str]], *, size_pt: float, after_mm: float = 1.6
    ) -> None:
        """Paragraphs (lead, words) spread over columns of nearly the same height."""
        self.columns(columns)
        heights = [
            len(self.page.broken(self.room_mm, words, size_pt=size_pt, lead=lead)) * type_.leading_mm(size_pt)
            + after_mm
            for lead, words in blocks
        ]
        share, done, column = sum(heights) / columns, 0.0, 0
        for (lead, words), high in zip(blocks, heights, strict=True):
            if done + high / 2 > (column + 1) * share and column + 1 < columns:
                column += 1
                self.next_column()
            self.paragraph(words, lead=lead, size_pt=size_pt, after_mm=after_mm)
            done += high
        self.columns(1)

    def blanks(self, names: Sequence[tuple[str, float]], *, high_mm: float = 8.0, size_pt: float = 9.5) -> None:
        """A row of lines to write on, each with its name before it; widths in mm, 0 takes what is left."""
        self.need(high_mm)
        base = self.y + high_mm - 1.5
        free = self.room_mm - sum(
            type_.width_mm(words, size_pt) + 1.5 + width + (3.0 if i else 0.0) for i, (words, width) in enumerate(names)
        )
        open_ended = sum(1 for _words, width in names if width == 0)
        x = self.x
        for words, width in names:
            x += self.page.text(x, base, words, size_pt=size_pt, field=_("blanks")) + 1.5
            length = width or max(free / max(open_ended, 1), 5.0)
            self.page.line([(x, base + 0.6), (x + length, base + 0.6)], width_mm=FINE)
            x += length + 3.0
        self.y += high_mm

    def ruled(self, name: str, height_mm: float, *, line_mm: float = 8.0) -> None:
        """Lines to write on, under their name."""
        self.need(min(height_mm, line_mm * 2))
        self.y = self.page.paragraph(self.x, self.y, self.room_mm, name, size_pt=9.5, face="bold", field=_("blanks"))
        end = min(self.y + height_mm, self.bottom)
        while self.y + line_mm <= end + 0.01:
            self.y += line_mm
            self.page.line([(self.x, self.y), (self.x + self.room_mm, self.y)], width_mm=FINE)

    def finish(self) -> list[Page]:
        """Write the feet, now that the number of pages is known."""
        count = len(self.pages)
        for number, page in enumerate(self.pages, start=1):
            y = self.height_mm - MARGIN_MM
            page.line([(MARGIN_MM, y - 4.4), (self.width_mm - MARGIN_MM, y - 4.4)], width_mm=FINE)
            right = _("{card}: page {n} of {count}").format(card=self.card, n=number, count=count)
            taken = page.text(
                self.width_mm - MARGIN_MM, y, right, size_pt=9, face="bold", anchor="end", field=_("foot")
            )
            if self._foot:
                page.text(
                    MARGIN_MM,
                    y,
                    self._foot,
                    size_pt=8,
                    least_pt=6.5,
                    room_mm=self.width_mm - 2 * MARGIN_MM - taken - 4,
                    field=_("foot"),
                )
        return self.pages
