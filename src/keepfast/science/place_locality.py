"""Locality texts: "10.5 km NE of X" as a distance with its step, a heading with what it leaves open, and a feature."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from keepfast.science.place_datum import PlaceError
from keepfast.science.place_words import checked_language, fold, vocabularies
from keepfast.science.tables import load

LONGEST_TEXT = 2000


class Heading(NamedTuple):
    """A bearing clockwise from north [degree], what it leaves open to either side [degree], and which north."""

    bearing_degrees: float
    half_angle_degrees: float
    reference: str


@dataclass(frozen=True)
class Offset:
    """
    What a locality text says of an offset.

    ``bearing_degrees`` is None where the text has no heading. ``reference`` is ``true``, ``magnetic`` or
    ``not stated``; a heading in words counts as true. ``feature`` is what is left: the place that the offset starts
    from, as written. ``along_path`` tells that the text speaks of a road, river or trail.
    """

    distance_m: float
    distance_step_m: float
    unit: str
    bearing_degrees: float | None
    half_angle_degrees: float
    reference: str
    feature: str
    along_path: bool
    verbatim: str


def distance_step(number: str) -> float:
    """
    The step that a distance implies by how it is written, in its own unit.

    Parameters
    ----------
    number : str
        As written: ``10``, ``10.5``, ``10,75``, ``10 1/2``, ``140``.

    Returns
    -------
    float
        .5 a half, .25 and .75 a quarter, other decimals the last digit, a fraction its denominator; whole numbers
        10^(floor(log10 d) - 1) from 10 on, and 1 below.

    Raises
    ------
    ValueError
        If it is not a number above 0.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, table of uncertainty from offset precision, doi:10.15468/doc-gg7h-s853. (read;
       the rule for whole numbers is our reading of that table and fits its rows)
    """
    text = number.strip().replace(",", ".")
    fraction = re.fullmatch(r"(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)", text)
    if fraction:
        if int(fraction[3]) == 0 or int(fraction[2]) == 0:
            raise PlaceError("{number!r} is not a distance", number=number)
        return float(Fraction(1, int(fraction[3])))
    if not re.fullmatch(r"\d{1,9}(\.\d{1,9})?", text) or float(text) <= 0:
        raise PlaceError("{number!r} is not a distance", number=number)
    decimals = text.partition(".")[2]
    if decimals:
        return {"5": 0.5, "25": 0.25, "75": 0.25}.get(decimals, float(f"1e-{len(decimals)}"))
    whole = str(int(text))
    return 1.0 if len(whole) == 1 else 10.0 ** (len(whole) - 2)


def _distance(number: str) -> float:
    text = number.strip().replace(",", ".")
    mixed = re.fullmatch(r"(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)", text)
    if mixed:
        if int(mixed[3]) == 0:
            raise PlaceError("{number!r} is not a distance", number=number)
        return int(mixed[1] or 0) + int(mixed[2]) / int(mixed[3])
    return float(text)


_POINTS = ("N", "NbE", "NNE", "NEbN", "NE", "NEbE", "ENE", "EbN")
_BEARINGS = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}


@cache
def _compass() -> dict[str, tuple[float, int]]:
    """Every compass point in N, E, S, W letters: its bearing and how many points its family has."""
    points: dict[str, tuple[float, int]] = {}
    turn = {"N": "E", "E": "S", "S": "W", "W": "N"}
    for quarter in range(4):
        for i, name in enumerate(_POINTS):
            turned = name
            for _ in range(quarter):
                turned = "".join(turn.get(c, c) for c in turned)
            # North-east is north before east, so from the south-east on the letters change places.
            turned = _ordered(turned)
            family = {0: 4, 4: 8, 2: 16, 6: 16}.get(i, 32)
            points[turned.lower()] = (90.0 * quarter + 11.25 * i, family)
    return points


def _ordered(name: str) -> str:
    """A point's name with north or south before east or west in each pair, as sailors write it."""
    head, by, tail = name.partition("b")
    if len(head) >= 2 and head[-2:] in ("EN", "ES", "WN", "WS"):
        head = head[:-2] + head[-1] + head[-2]
    return head + by + tail


def heading(text: str, language: str | None = None) -> Heading:
    """
    A heading: compass points in letters or words of any language here, or degrees.

    Parameters
    ----------
    text : str
        ``NE``, ``north-east``, ``nordeste``, ``SSO``, ``045``, ``N 30 E``, ``45 deg magnetic``.
    language : str, optional
        Whose letters; needed for O.

    Returns
    -------
    Heading
        Degrees have half their step as half-angle: a whole number 0.5, one decimal 0.05.

    Raises
    ------
    ValueError
        If it is not a heading, or its letters mean different things in different languages.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, table of heading uncertainty, doi:10.15468/doc-gg7h-s853. (read)
    """
    language = checked_language(language)
    bare = text.strip()
    reference = "not stated"
    for word, name in ((r"\b(?:mag(?:netic|\.)?|magn[ée]tico|magn[ée]tique)\b\.?", "magnetic"), (r"\btrue\b", "true")):
        if re.search(word, bare, re.IGNORECASE):
            reference = name
            bare = re.sub(word, " ", bare, flags=re.IGNORECASE).strip(" ()")
    degrees = re.fullmatch(r"(\d{1,3}(?:[.,]\d+)?)\s*(?:°|º|deg(?:rees)?)?\s*([MT])?", bare, re.IGNORECASE)
    if degrees:
        value = float(degrees[1].replace(",", "."))
        if value > 360:
            raise PlaceError("a bearing is 0 to 360 degrees; {value} was read", value=degrees[1])
        decimals = len(degrees[1].replace(",", ".").partition(".")[2])
        if degrees[2]:
            reference = "magnetic" if degrees[2].upper() == "M" else "true"
        return Heading(value % 360.0, 10.0**-decimals / 2, reference)
    found = {h for words in vocabularies(language) if (h := _in_words(bare, words)) is not None}
    if not found:
        raise PlaceError(
            "{text!r} is not a heading that is certain; say the language where O or another letter stands", text=text
        )
    if len(found) > 1:
        raise PlaceError("{text!r} may be more than one heading", text=text)
    bearing, half_angle = found.pop()
    return Heading(bearing, half_angle, reference if reference != "not stated" else "true")


def _in_words(text: str, vocabulary: dict[str, str]) -> tuple[float, float] | None:
    """Bearing and half-angle of a heading in letters or words; None where it is none."""
    quadrant = re.fullmatch(r"([^\W\d_])\s*(\d{1,2}(?:[.,]\d+)?)\s*°?\s*([^\W\d_])", text)
    if quadrant:
        side, towards = vocabulary.get(fold(quadrant[1])), vocabulary.get(fold(quadrant[3]))
        angle = float(quadrant[2].replace(",", "."))
        if side in ("north", "south") and towards in ("east", "west") and angle <= 90:
            decimals = len(quadrant[2].replace(",", ".").partition(".")[2])
            bearing = angle if side == "north" else 180.0 - angle
            return ((bearing if towards == "east" else -bearing) % 360.0, 10.0**-decimals / 2)
        return None
    directions = _directions(text, vocabulary)
    if directions is None:
        return None
    letters = "".join({"north": "n", "south": "s", "east": "e", "west": "w", "by": "b"}[d] for d in directions)
    point = _compass().get(letters)
    if point is None:
        return None
    row = load("chapman-wieczorek-2020-headings").row(points=point[1])
    return point[0], float(row["half_angle_degrees"])


def _directions(text: str, vocabulary: dict[str, str]) -> list[str] | None:
    """A heading's directions in order, whether in letters or words, joined or apart."""
    rest = re.sub(r"[\s\-.]+", "", text.casefold())
    # Two letters together are two directions in a heading, never an abbreviation of one.
    words = sorted((w for w in vocabulary if len(w) != 2), key=lambda w: -len(w))
    joined = {"nord", "nor", "sud", "su"}  # as in nordeste, noreste, sudoeste, sureste
    out: list[str] = []
    while rest:
        if rest.startswith("by") and out:
            out.append("by")
            rest = rest[2:]
            continue
        if rest.startswith("b") and out and "b" not in vocabulary:
            out.append("by")
            rest = rest[1:]
            continue
        word = next((w for w in words if rest.startswith(w)), None)
        prefix = next(
            (w for w in sorted(joined, key=len, reverse=True) if rest.startswith(w) and len(rest) > len(w)), None
        )
        if prefix and (word is None or len(word) < len(prefix)):
            out.append("north" if prefix.startswith("n") else "south")
            rest = rest[len(prefix) :]
            continue
        if word is None:
            return None
        out.append(vocabulary[word])
        rest = rest[len(word) :]
    return out if 1 <= len(out) <= 5 else None


@cache
def _unit_pattern() -> tuple[str, dict[str, tuple[str, float]]]:
    units = {
        name.casefold(): (str(row["unit"]), float(row["metres"]))
        for row in load("yard-agreement-1959-lengths").rows
        for name in row["names"]
    }
    pattern = "|".join(re.escape(n) for n in sorted(units, key=lambda n: -len(n)))
    return pattern, units


_NUMBER = r"\d+\s+\d+/\d+|\d+/\d+|\d{1,6}(?:[.,]\d{1,4})?"
_OF = r"(?:of|from|de|del|da|do|di|von|dal|d')"
_PATH = re.compile(
    r"\b(?:by (?:the )?(?:road|river|trail|track|path|boat)|along|upstream|downstream|upriver|downriver"
    r"|por (?:la )?(?:carretera|río|rio|trocha)|on (?:the )?(?:road|highway|trail)|via|hwy\.? \w+|highway \w+)\b",
    re.IGNORECASE,
)
_BETWEEN = re.compile(
    r"^\s*,?\s*(?:\(?by (?:the )?(?:air|road|river|trail|track|path|boat)\)?|por (?:la )?carretera|en línea recta)"
    r"\s*,?",
    re.IGNORECASE,
)


def parse_offset(text: str, language: str | None = None) -> Offset:
    """
    Distance, heading and feature of a locality such as "ca. 10.5 km NE of Rio Claro, by road".

    Parameters
    ----------
    text : str
        One clause. Words such as "about" change nothing [1]_.
    language : str, optional
        Whose letters the heading is in.

    Returns
    -------
    Offset

    Raises
    ------
    ValueError
        If there is no distance, more than one, or its number, unit or heading is not certain.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, doi:10.15468/doc-gg7h-s853. (read)
    """
    if len(text) > LONGEST_TEXT:
        raise PlaceError("the text is longer than {limit} characters", limit=LONGEST_TEXT)
    pattern, units = _unit_pattern()
    finder = re.compile(rf"(?<![\w.,/])({_NUMBER})\s*({pattern})\.?(?!\w)", re.IGNORECASE)
    found = list(finder.finditer(text))
    if not found:
        raise PlaceError("no distance with a unit was found in {text!r}", text=text)
    if len(found) > 1:
        raise PlaceError("more than one distance was found in {text!r}: give each on its own", text=text)
    match = found[0]
    if re.search(r"\d\s*(?:-|–|to)\s*$", text[: match.start()]):
        raise PlaceError("the distance is a range in {text!r}", text=text)
    unit, metres = units[match[2].casefold()]
    number = match[1]
    distance, step = _distance(number) * metres, distance_step(number) * metres
    before, after = text[: match.start()], _BETWEEN.sub("", text[match.end() :])
    bearing, half_angle, reference = None, 180.0, "not stated"
    said = _leading_heading(after, language)
    if said is None and re.search(r"\b(?:bearing|heading|at)\s+\d", after, re.IGNORECASE):
        raise PlaceError("the heading in {text!r} is not certain", text=text)
    if said is not None:
        (bearing, half_angle, reference), after = said
    elif re.match(rf"\s*(?:al\s+|to\s+the\s+)?[A-Z]{{1,4}}\s+{_OF}\b", after):
        raise PlaceError("the heading in {text!r} is not certain; say the language", text=text)
    feature = re.sub(rf"^\s*{_OF}\s+", "", after, flags=re.IGNORECASE).strip(" ,.;:")
    lead = re.sub(r"\b(?:ca|c|circa|approx|about|approximately|aprox)\b\.?", " ", before, flags=re.IGNORECASE)
    feature = ", ".join(part for part in (lead.strip(" ,.;:"), feature) if part)
    return Offset(
        distance, step, unit, bearing, half_angle, reference, feature, bool(_PATH.search(text)), text
    )  # fmt: skip


def _leading_heading(text: str, language: str | None) -> tuple[Heading, str] | None:
    """The heading that a text begins with, the longest that can be read, and the rest."""
    match = re.match(
        r"\s*[,]?\s*(?:(?:on a |at a |at )?(?:bearing|heading)(?: of)?\s+|to the\s+|due\s+|al\s+|a l'|à l'|au\s+|at\s+"
        r"|hacia el\s+)?",
        text,
        re.IGNORECASE,
    )
    start = match.end() if match else 0
    stops = [m.start() + start for m in re.finditer(rf"\s+{_OF}\b|[,;]|$", text[start:], re.IGNORECASE)]
    words = [m.end() + start for m in re.finditer(r"\S+", text[start:])][:5]
    for end in sorted({*stops, *words}, reverse=True):
        piece = text[start:end].strip(" ,.;")
        if not piece or len(piece) > 40:
            continue
        try:
            return heading(piece, language), text[end:]
        except PlaceError:
            continue
    return None


@dataclass(frozen=True)
class Orthogonal:
    """Two offsets at right angles: metres east and north, the coarser step of the two, and the feature."""

    east_m: float
    north_m: float
    step_m: float
    feature: str
    verbatim: str


def parse_orthogonal(text: str, language: str | None = None) -> Orthogonal:
    """
    Two offsets at right angles, such as "8 km E and 6 km N of X".

    Raises
    ------
    ValueError
        If the text is not one distance north or south and one east or west.
    """
    match = re.fullmatch(
        r"(?P<first>.+?)\s*(?:\band\b|\by\b|\bet\b|\be\b|\bund\b|&|,|;)\s*(?P<second>\d.+)", text.strip()
    )
    if match is None:
        raise PlaceError("two distances at right angles were not found in {text!r}", text=text)
    first, second = parse_offset(match["first"], language), parse_offset(match["second"], language)
    east = north = None
    for offset in (first, second):
        if offset.bearing_degrees in (90.0, 270.0):
            east = offset.distance_m if offset.bearing_degrees == 90.0 else -offset.distance_m
        elif offset.bearing_degrees in (0.0, 180.0):
            north = offset.distance_m if offset.bearing_degrees == 0.0 else -offset.distance_m
    if east is None or north is None:
        raise PlaceError("one distance must be north or south and the other east or west: {text!r}", text=text)
    feature = ", ".join(part for part in (first.feature, second.feature) if part)
    return Orthogonal(east, north, max(first.distance_step_m, second.distance_step_m), feature, text)
