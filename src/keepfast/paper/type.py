"""Type: the faces, how wide a text runs, which characters a face has, and how a text breaks into lines.

The family is Atkinson Hyperlegible Next and Mono (SIL Open Font License 1.1, ``fonts/OFL.txt``), drawn for readers
with low vision: 0 and O, 1, l and I differ. Figures stand in their tabular form, so that columns line up. No kerning is
applied anywhere, so that a text is exactly as wide in every output.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from pathlib import Path
from typing import Literal, get_args

from keepfast.findings import Finding, FindingsError
from keepfast.paper.fontfile import FontFile, read
from keepfast.words import _

Face = Literal["regular", "bold", "italic", "mono", "mono_bold"]
FACES: tuple[str, ...] = get_args(Face)
MM_PER_POINT = 25.4 / 72  # the PostScript and CSS point, 1/72 inch

FONT_FOLDER = Path(__file__).parent / "fonts"
FILES: dict[str, str] = {
    "regular": "AtkinsonHyperlegibleNext-Regular.ttf",
    "bold": "AtkinsonHyperlegibleNext-Bold.ttf",
    "italic": "AtkinsonHyperlegibleNext-Italic.ttf",
    "mono": "AtkinsonHyperlegibleMono-Regular.ttf",
    "mono_bold": "AtkinsonHyperlegibleMono-Bold.ttf",
}

# Characters that people type and the family lacks, but for which it has the same sign under another code.
_SAME_SIGN = str.maketrans({"\u00b5": "\u03bc", "\u2011": "-", "\u2010": "-", "\u202f": "\u00a0", "\t": " "})


class PaperError(FindingsError):
    """Something cannot be printed as it stands. ``card`` and ``field`` say where."""

    def __init__(self, card: str, field: str, what: str, remedy: str, read: str | None = None) -> None:
        self.card = card
        self.field = field
        super().__init__([Finding(what, remedy, field=field, read=read, subject=card)])


_NUMBER_AND_UNIT = re.compile(
    r"(?<=\d) (?=(?:mL|L|mm|cm|m2|m3|m|g|kg|mg|min|h|days?|G|°C|degrees|%|ppm|dpi|point|V)\b|%)"
)


@cache
def font(face: Face) -> FontFile:
    """The font behind a face.

    Raises
    ------
    ValueError
        If there is no such face.
    """
    if face not in FILES:
        raise ValueError(f"face must be one of {', '.join(FACES)}; {face!r} was given")
    return read(FONT_FOLDER / FILES[face])


@lru_cache(maxsize=65536)
def spelled(text: str) -> str:
    """The text as it is printed: composed characters, and one code for signs that look the same."""
    if text.isascii() and "\t" not in text:
        return text
    return unicodedata.normalize("NFC", text).translate(_SAME_SIGN)


@lru_cache(maxsize=65536)
def bound(text: str) -> str:
    """The text with every number held to its unit, so that no line ends between the two."""
    return _NUMBER_AND_UNIT.sub("\u00a0", text)


def missing(text: str, face: Face) -> tuple[str, ...]:
    """Characters of the text that the face does not have, each once, in their order."""
    known = font(face).glyph_of
    return tuple(dict.fromkeys(c for c in spelled(text) if ord(c) not in known))


def check(text: str, face: Face, card: str = "", field: str = "") -> str:
    """The text as it is printed, once it is sure that every character can be.

    Raises
    ------
    PaperError
        If a character is not in the face; the finding names card, field and character.
    """
    absent = missing(text, face)
    if absent:
        names = ", ".join(f"{c} (U+{ord(c):04X} {unicodedata.name(c, _('without a name'))})" for c in absent)
        raise PaperError(
            card,
            field,
            _("the typeface has no sign for {names}").format(names=names),
            _("Write it in Latin letters here, or leave it out and add it by hand on the print."),
            text,
        )
    return spelled(text)


@lru_cache(maxsize=65536)
def _run(text: str, face: Face) -> float:
    """How far a text runs at one point. [mm]"""
    advance = font(face).advance_of
    return sum(advance.get(ord(c), 0.0) for c in spelled(text)) / 1000 * MM_PER_POINT


def width_mm(text: str, size_pt: float, face: Face = "regular") -> float:
    """How far a text runs. [mm]"""
    return _run(text, face) * size_pt


def cap_mm(size_pt: float, face: Face = "regular") -> float:
    """Height of a capital letter. [mm]"""
    return font(face).cap_height / 1000 * size_pt * MM_PER_POINT


def x_mm(size_pt: float, face: Face = "regular") -> float:
    """Height of a small letter. [mm]"""
    return font(face).x_height / 1000 * size_pt * MM_PER_POINT


def depth_mm(size_pt: float, face: Face = "regular") -> float:
    """How far a letter hangs below the line at most. [mm]"""
    return -font(face).descent / 1000 * size_pt * MM_PER_POINT


def leading_mm(size_pt: float) -> float:
    """Distance from line to line: 1.25 times the size (common practice, no published source). [mm]"""
    return 1.25 * size_pt * MM_PER_POINT


def largest_pt(text: str, room_mm: float, face: Face, most_pt: float, least_pt: float) -> float | None:
    """The largest size in steps of half a point at which the text fits the room, or None if not even the least."""
    at_one = width_mm(text, 1.0, face)
    size = most_pt if at_one == 0 else min(most_pt, room_mm / at_one)
    size = int(size * 2 + 1e-9) / 2
    return size if size >= least_pt else None


def lines(text: str, room_mm: float, size_pt: float, face: Face = "regular") -> list[str]:
    """Break a text into lines at spaces and where it says so; hyphens inside a word hold, so that numbers stay whole.

    Raises
    ------
    ValueError
        If one word alone is wider than the room.
    """
    answer: list[str] = []
    space = width_mm(" ", size_pt, face)
    for paragraph in spelled(text).split("\n"):
        line, used = "", 0.0
        for word in paragraph.split(" "):
            run = width_mm(word, size_pt, face)
            if run > room_mm + 1e-9:
                raise ValueError(f"{word!r} is {run:.1f} mm wide; there are {room_mm:.1f} mm")
            if line and used + space + run > room_mm + 1e-9:
                answer.append(line)
                line, used = word, run
            else:
                used = used + space + run if line else run
                line = f"{line} {word}" if line else word
        answer.append(line)
    return answer
