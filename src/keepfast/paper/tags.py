"""Field tags: a number large enough for tired eyes, its check character, and a Data Matrix that says the same.

``draw`` lays a run of numbers on sheets or on a roll; ``text`` is the same in plain words, with what is known about
papers and inks. A tag is the one record that outlives everything else, so nothing on it depends on anything else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from keepfast.book.numbers import FieldNumber
from keepfast.paper import page as page_
from keepfast.paper import symbols
from keepfast.paper import type as type_
from keepfast.paper.page import DOTTED, FINE, THIN, Page
from keepfast.paper.type import PaperError
from keepfast.rules.sheets import Sheet
from keepfast.rules.tags import TagRules
from keepfast.words import _

_EDGE = 1.2
_CLEAR = 1.2  # between number and symbol, beside the symbol's own quiet zone
_MOST_MODULE_MM = 0.51
_MOST_NUMBER_PT = 22.0
_MOST_NAMED = 3  # series that the head of a sheet names


def draw(
    numbers: Sequence[FieldNumber], sheet: Sheet, rules: TagRules, *, title: str = "", note: str = ""
) -> list[Page]:
    """
    Tags for these numbers.

    Parameters
    ----------
    title : str
        Names the run at the head of each sheet.
    note : str
        A few words under every number, such as the collector's name.

    Returns
    -------
    list of Page
        One for each sheet, or one for each tag on a roll.

    Raises
    ------
    PaperError
        If a number does not fit its tag at the least size, or a character cannot be printed; it names the tag.
    """
    shape = _shape(numbers, sheet, rules, note)
    pieces = [_tag(number, sheet, rules, note, shape) for number in numbers]
    if sheet.is_roll:
        return pieces
    plain = any(not number.check for number in numbers)
    return lay(pieces, sheet, title or title_of(numbers), _tag_lines(rules, plain))


def title_of(numbers: Sequence[FieldNumber]) -> str:
    """What a sheet of these tags is called: each series by its first and last number, the first few of many."""
    if not numbers:
        return _("Field tags")
    series: dict[str, list[str]] = {}
    for number in numbers:
        series.setdefault(number.text.rstrip("0123456789"), []).append(number.text)
    runs = [
        _("{first} to {last}").format(first=run[0], last=run[-1]) if len(run) > 1 else run[0] for run in series.values()
    ]
    if len(runs) > _MOST_NAMED:
        runs = [*runs[:_MOST_NAMED], _("and others")]
    return _("Field tags {runs}").format(runs=", ".join(runs))


def _tag_lines(rules: TagRules, plain: bool) -> tuple[str, str]:
    without = _("No check characters in this series: a slip of the pen cannot be caught.") if plain else ""
    with_ = "" if plain else _("The last character checks the others: write it with the number, always.")
    trust = _("Sources disagree about {media}: soak and rub a tag of this print before you trust it.").format(
        media=_(" and ").join(_(medium) for medium in rules.disputed())
    )
    return with_ or without, trust if rules.disputed() else _(rules.test)


@dataclass(frozen=True)
class _Shape:
    """What all tags of a run share, so that a sheet is calm and no number looks more important than another."""

    left: float
    room: float
    symbol_room: float
    size_pt: float
    on_two_lines: bool


def _shape(numbers: Sequence[FieldNumber], sheet: Sheet, rules: TagRules, note: str) -> _Shape:
    """One line, or, when that would make the numbers too small, two: prefix above, number below.

    Raises
    ------
    PaperError
        If a number does not fit at the least size; it names the longest.
    """
    wide = sheet.label_width_mm
    left = _EDGE + (1.0 + sheet.hole_mm + 1.2 if sheet.hole_mm else 0.0)
    symbol_room = min(sheet.label_height_mm - 1.0, 0.42 * wide)
    widest_symbol = max((_symbol_side(number, sheet, rules, symbol_room) for number in numbers), default=symbol_room)
    room = wide - 0.6 - widest_symbol - _CLEAR - left
    high = sheet.label_height_mm - (type_.leading_mm(rules.jar_body_least_pt) if note else 0.0)
    # A row is a capital with as much air as half of it above and below.
    capital = type_.cap_mm(1.0, "mono_bold")
    most_one, most_two = min(_MOST_NUMBER_PT, high / 2 / capital), min(_MOST_NUMBER_PT, high / 3 / capital)
    longest = max(numbers, key=lambda n: type_.width_mm(n.printed, 1.0, "mono_bold"))
    one = type_.largest_pt(longest.printed, room, "mono_bold", most_one, rules.tag_number_least_pt)
    two = None
    if all(" " in number.printed for number in numbers):
        parts = [part for number in numbers for part in number.printed.rsplit(" ", 1)]
        widest = max(parts, key=lambda part: type_.width_mm(part, 1.0, "mono_bold"))
        two = type_.largest_pt(widest, room, "mono_bold", most_two, rules.tag_number_least_pt)
    if one is None and two is None:
        raise PaperError(
            longest.printed,
            _("number"),
            _("the number does not fit its tag at {least:g} point").format(least=rules.tag_number_least_pt),
            _("Shorten the prefix, or choose a larger tag."),
            longest.printed,
        )
    if one is not None and (two is None or one >= 0.85 * two):
        return _Shape(left, room, symbol_room, one, False)
    assert two is not None
    return _Shape(left, room, symbol_room, two, True)


def _symbol_side(number: FieldNumber, sheet: Sheet, rules: TagRules, room: float) -> float:
    size = symbols.module_mm(number.printed, "data_matrix", room, sheet.dot_mm, rules.least_module_mm, _MOST_MODULE_MM)
    return size * symbols.side(number.printed, "data_matrix") if size else room


def _tag(number: FieldNumber, sheet: Sheet, rules: TagRules, note: str, shape: _Shape) -> Page:
    wide, high = sheet.label_width_mm, sheet.label_height_mm
    piece = Page(wide, high, card=number.printed, title=number.printed)
    if sheet.hole_mm:
        radius = sheet.hole_mm / 2
        centre = _EDGE + 1.0 + radius
        piece.ring(centre, high / 2, radius, width_mm=THIN)
        piece.line([(centre - 0.5, high / 2), (centre + 0.5, high / 2)], width_mm=THIN)
        piece.line([(centre, high / 2 - 0.5), (centre, high / 2 + 0.5)], width_mm=THIN)
    side = _symbol_side(number, sheet, rules, shape.symbol_room)
    symbols.fitted(
        piece,
        wide - 0.6 - side,
        (high - side) / 2,
        number.printed,
        "data_matrix",
        room_mm=shape.symbol_room,
        dot_mm=sheet.dot_mm,
        least_mm=rules.least_module_mm,
        most_mm=_MOST_MODULE_MM,
        field=_("symbol"),
    )
    free = high - (type_.leading_mm(rules.jar_body_least_pt) if note else 0.0)
    parts = number.printed.rsplit(" ", 1) if shape.on_two_lines else [number.printed]
    cap = type_.cap_mm(shape.size_pt, "mono_bold")
    gap = (free - len(parts) * cap) / (len(parts) + 1)
    for i, part in enumerate(parts):
        piece.text(
            shape.left,
            gap + i * (cap + gap) + cap,
            part,
            size_pt=shape.size_pt,
            face="mono_bold",
            field=_("number"),
            room_mm=shape.room,
        )
    if note:
        piece.text(
            shape.left,
            high - 1.2,
            note,
            size_pt=8.0,
            least_pt=rules.jar_body_least_pt,
            room_mm=shape.room,
            field=_("note"),
        )
    return piece


def lay(pieces: Sequence[Page], sheet: Sheet, title: str, lines: tuple[str, str]) -> list[Page]:
    """Labels on sheets, with cutting lines, a check bar, and room to note paper, ink and date."""
    places = sheet.places()
    count = -(-len(pieces) // len(places))
    answer = []
    for number in range(count):
        chosen = pieces[number * len(places) : (number + 1) * len(places)]
        page = Page(sheet.width_mm, sheet.height_mm, card=title, title=title)
        _cutting_lines(page, sheet, len(chosen))
        for (x, y), piece in zip(places, chosen, strict=False):
            page.place(piece, x, y)
        _margins(page, sheet, title, lines, number + 1, count)
        answer.append(page)
    return answer


def _cutting_lines(page: Page, sheet: Sheet, used: int) -> None:
    """Around every label that is used; where two touch, one line."""
    seen: set[tuple[float, float, float, float]] = set()
    for x, y in sheet.places()[:used]:
        right, bottom = x + sheet.label_width_mm, y + sheet.label_height_mm
        for line in ((x, y, right, y), (x, bottom, right, bottom), (x, y, x, bottom), (right, y, right, bottom)):
            rounded = tuple(round(v, 3) for v in line)
            if rounded not in seen:
                seen.add(rounded)  # type: ignore[arg-type]
                page.line([(line[0], line[1]), (line[2], line[3])], width_mm=THIN, dash=DOTTED)


def _margins(page: Page, sheet: Sheet, title: str, lines: tuple[str, str], number: int, count: int) -> None:
    left = max(sheet.left_mm, 8.0)
    room = sheet.width_mm - 2 * left
    if sheet.top_mm >= 16:
        page.text(left, 9.5, title, size_pt=11, face="bold", field=_("title"), room_mm=room - 30)
        if count > 1:
            page.text(
                left + room, 9.5, _("sheet {n} of {count}").format(n=number, count=count), size_pt=9, anchor="end"
            )
        page.text(left, 15.0, lines[0], size_pt=9, field=_("title"), room_mm=room)
    bottom = sheet.top_mm + sheet.rows * sheet.label_height_mm + (sheet.rows - 1) * sheet.gap_y_mm
    if sheet.height_mm - bottom >= 20:
        y = bottom + 6.5
        page.text(left, y, lines[1], size_pt=9, least_pt=7.5, field=_("media"), room_mm=room)
        x = left
        for words, length in ((_("Paper"), 38.0), (_("Ink or printer"), 38.0), (_("Printed on"), 26.0)):
            x += page.text(x, y + 6.5, words, size_pt=9, field=_("blanks")) + 1.5
            page.line([(x, y + 6.8), (x + length, y + 6.8)], width_mm=FINE)
            x += length + 4
        page_.check_bar(page, left, y + 9.5)
    elif sheet.height_mm - bottom >= 5:
        page_.check_bar(page, left, bottom + 2.5)


def text(numbers: Sequence[FieldNumber], rules: TagRules, ties: Sequence[tuple[str, str, str]], title: str = "") -> str:
    """
    The tags in plain words: every number, how each form is tagged, what is known about papers and inks.

    Parameters
    ----------
    ties : sequence of (form, what to do, why)
        From the protocols.
    """
    lines = [title or title_of(numbers), ""]
    lines += [number.printed for number in numbers]
    lines += ["", _tag_lines(rules, any(not n.check for n in numbers))[0], ""]
    if ties:
        lines += [_("How each form is tagged"), ""]
        lines += [f"{form}: {action}. {reason}" for form, action, reason in ties]
        lines += [""]
    lines += [f"- {_(habit.text)} ({habit.source}; {_(habit.known)})" for habit in rules.habits]
    lines += ["", *media_text(rules)]
    return "\n".join(lines) + "\n"


def media_text(rules: TagRules) -> list[str]:
    """What is known about papers and inks, for and against, each with its source."""
    lines = [_("Papers and inks: what is known"), "", _(rules.default), _(rules.test), ""]
    for medium in rules.media:
        way = _("for") if medium.holds else _("against")
        lines.append(f"- {_(medium.medium)}, {way}: {_(medium.finding)} ({medium.source}; {_(medium.known)})")
    if rules.disputed():
        lines += ["", _("Sources disagree about: {media}.").format(media=", ".join(_(m) for m in rules.disputed()))]
    return lines
