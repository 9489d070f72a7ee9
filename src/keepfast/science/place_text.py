"""What all notations share: coordinates as read, one spelling of the marks, degrees in parts, the step as written."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from keepfast.science.place_datum import PlaceError

LONGEST_TEXT = 300


class Coordinates(NamedTuple):
    """A place as read.

    ``latitude`` and ``longitude`` in degrees, north and east positive, on ``datum`` (``EPSG:`` and a code; None where
    the text does not say). ``step_degrees`` is the step that a pair in degrees was written to; grids have ``step_m``
    instead, and the other is None.
    """

    latitude: float
    longitude: float
    step_degrees: float | None
    step_m: float | None
    datum: str | None


@dataclass(frozen=True)
class Reading:
    """Coordinates with the words they were read from, kept as written, and the kind of notation."""

    coordinates: Coordinates
    notation: str
    verbatim: str


_MINUS = dict.fromkeys(map(ord, "−–—‒﹣－‐‑"), "-")
_SAME = {
    **_MINUS,
    **dict.fromkeys(map(ord, "º˚ᵒ⁰∘"), "°"),
    **dict.fromkeys(map(ord, "′’‘´`ʹʼ＇‛"), "'"),
    **dict.fromkeys(map(ord, "″”“˝ʺ＂„‟"), '"'),
    **dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f\u3000\u2002\u2003\u2008\t"), " "),
    **dict.fromkeys(map(ord, "\u200b\u200e\u200f\ufeff\u2060"), None),
    ord("，"): ",",
    ord("；"): ";",
    ord("："): ":",
    ord("度"): "°",
    ord("分"): "'",
    ord("秒"): '"',
    ord("＋"): "+",
}


def plain_text(text: str) -> str:
    """One spelling for each mark, nothing else changed."""
    if not isinstance(text, str):
        raise PlaceError("coordinates must be a text; {kind} was given", kind=type(text).__name__)
    if len(text) > LONGEST_TEXT:
        raise PlaceError("the text is longer than {limit} characters", limit=LONGEST_TEXT)
    same = text.translate(_SAME).replace("\r\n", "\n").replace("\r", "\n")
    same = re.sub(r"''", '"', same)
    bad = re.search(r"[\x00-\x09\x0b-\x1f\x7f]", same)
    if bad:
        raise PlaceError("the text holds a control character, number {code}", code=ord(bad[0]))
    return same.strip(" \n")


def written_step(number: str) -> float:
    """The step of a number as written: trailing zeros dropped, a final .5 a half, whole numbers 1.

    Chapman and Wieczorek 2020, section 3.4.3. (read)
    """
    decimals = number.replace(",", ".").partition(".")[2].rstrip("0")
    if not decimals:
        return 1.0
    return 0.5 if decimals == "5" else float(f"1e-{len(decimals)}")


def degrees(parts: list[str]) -> tuple[float, float]:
    """Value and step of degrees, minutes and seconds; ValueError where they are not in range."""
    for part in parts[:-1]:
        if "." in part:
            raise PlaceError("only the last part may have decimals: {text!r}", text=" ".join(parts))
    numbers = [float(part) for part in parts]
    for name, part, number in zip(("minutes", "seconds"), parts[1:], numbers[1:], strict=False):
        if number >= 60:
            raise PlaceError("{name} must be below 60; {part} was read", name=name, part=part)
        if len(part.partition(".")[0]) > 2:
            raise PlaceError("{name} have at most two digits; {part} was read", name=name, part=part)
    if len(parts[0].partition(".")[0]) > 3:
        raise PlaceError("degrees have at most three digits; {part} was read", part=parts[0])
    value = sum(number / 60.0**i for i, number in enumerate(numbers))
    last = len(parts) - 1
    while last > 0 and numbers[last] == 0:
        last -= 1
    return value, written_step(parts[last]) / 60.0**last


def check_range(latitude: float, longitude: float, named: bool = True) -> None:
    """Refuse a pair that is not on the globe; without names beside them, a swapped pair is hinted at."""
    if abs(latitude) > 90:
        hint = "" if named or abs(longitude) > 90 else "; longitude may stand first"
        raise PlaceError("latitude must be -90 to 90; {value:g} was read{hint}", value=latitude, hint=hint)
    if abs(longitude) > 180:
        raise PlaceError("longitude must be -180 to 180; {value:g} was read", value=longitude)
