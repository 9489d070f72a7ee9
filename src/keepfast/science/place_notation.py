"""Coordinates as people write them, read strictly.

Every way in which a text might be read is tried; it is accepted only when all that hold agree on one place. A text
that allows two places, or none, is refused with the reason. Grids are in ``place_grids``, datums in ``place_datum``,
direction words of other languages in ``place_words``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from keepfast.science import place_grids
from keepfast.science.place_datum import PlaceError, take_datum
from keepfast.science.place_standards import geo_uri, iso_6709, point
from keepfast.science.place_text import Coordinates, Reading, check_range, degrees, plain_text
from keepfast.science.place_words import (
    checked_language,
    direction,
    label_pattern,
    vocabularies,
    word_pattern,
)


class _One(NamedTuple):
    """One coordinate: value, step, whether it is a latitude or longitude (or unknown), and how it was written.

    ``letter`` tells where its direction stands: before its numbers, between them or behind them; empty without one.
    """

    value: float
    step: float
    axis: str | None
    signed: bool
    parts: int
    marked: bool
    letter: str


def parse(text: str, language: str | None = None) -> Coordinates:
    """
    Latitude and longitude from a text in any notation of the trade, or a refusal with its reason.

    Reads decimal degrees, degrees and decimal minutes, degrees minutes seconds with signs, letters or words of
    direction; UTM with zone and band or hemisphere; the military grid; quarter-degree squares; national grids by name
    or EPSG code; ISO 6709, ``geo:`` and ``POINT`` texts; each with or without a datum.

    Parameters
    ----------
    text : str
        At most 300 characters.
    language : str, optional
        Whose letters the directions are (``es``, ``de`` ...). Needed where languages disagree: O is west in Spanish
        and east in German.

    Returns
    -------
    Coordinates
        On the datum the text names. A square of a grid is answered with its centre.

    Raises
    ------
    ValueError
        Where the text cannot be read with certainty; the message is the reason.

    Notes
    -----
    Without letters, latitude comes first. ``step_degrees`` is the finer step of the two as written, trailing zeros
    dropped and a final .5 taken as a half [1]_; zero seconds and zero minutes are dropped in the same way, which goes
    beyond the guide and only ever widens the uncertainty.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, Georeferencing Best Practices v1.0, section 3.4.3, doi:10.15468/doc-gg7h-s853.
       (read)

    Examples
    --------
    >>> parse("10.27, -123.6").step_degrees
    0.01
    >>> parse("10.00000, -123.50000").step_degrees
    0.5
    """
    return read(text, language).coordinates


def read(text: str, language: str | None = None) -> Reading:
    """As ``parse``, with the notation's name and the text as written.

    Raises
    ------
    ValueError
        As ``parse``.
    """
    language = checked_language(language)
    plain = plain_text(text)
    if not plain:
        raise PlaceError("there is no text to read")
    for special in (iso_6709, geo_uri, point):
        found = special(plain)
        if found is not None:
            return Reading(found[0], found[1], text)
    rest, datum = take_datum(plain)
    compact = rest.strip(" \n;,")
    grid: place_grids.GridPoint | None = None
    if place_grids.looks_like_mgrs(re.sub(r"^MGRS\s*:?\s*", "", compact, flags=re.IGNORECASE)):
        grid = place_grids.read_mgrs(re.sub(r"^MGRS\s*:?\s*", "", compact, flags=re.IGNORECASE), datum)
    elif place_grids.looks_like_quarter_degree(compact):
        grid = place_grids.read_quarter_degree(compact, datum)
    elif place_grids.looks_like_national_grid(compact):
        grid = place_grids.read_national_grid(compact, datum)
    elif place_grids.looks_like_utm(compact):
        grid = place_grids.read_utm(compact, datum)
    if grid is not None:
        return Reading(Coordinates(grid.latitude, grid.longitude, None, grid.step_m, grid.datum), grid.notation, text)
    latitude, longitude = _pair(rest, language)
    return _reading(latitude, longitude, datum, text)


def read_pair(latitude_text: str, longitude_text: str, language: str | None = None) -> Reading:
    """
    As ``read``, from two texts of which the first is known to be the latitude.

    Raises
    ------
    ValueError
        As ``parse``, or where a letter says that the two are swapped.
    """
    language = checked_language(language)
    found, datums = [], []
    for axis, text in (("latitude", latitude_text), ("longitude", longitude_text)):
        rest, datum = take_datum(plain_text(text))
        if datum:
            datums.append(datum)
        readings: set[_One] = set()
        reasons: list[PlaceError] = []
        for vocabulary in vocabularies(language):
            try:
                readings.add(_as_axis(_attempt(rest, vocabulary), axis))
            except PlaceError as problem:
                reasons.append(problem)
        if len({one.value for one in readings}) > 1:
            raise PlaceError("{axis}: {text!r} can be read in more than one way", axis=axis, text=rest)
        if not readings:
            raise PlaceError("{axis}: {reason}", axis=axis, reason=str(reasons[0]))
        found.append(readings.pop())
    if len(set(datums)) > 1:
        raise PlaceError("two datums are named: {names}", names=", ".join(sorted(set(datums))))
    return _reading(found[0], found[1], datums[0] if datums else None, f"{latitude_text} {longitude_text}")


def _reading(latitude: _One, longitude: _One, datum: str | None, text: str) -> Reading:
    names = {1: "decimal degrees", 2: "degrees decimal minutes", 3: "degrees minutes seconds"}
    return Reading(
        Coordinates(latitude.value, longitude.value, min(latitude.step, longitude.step), None, datum),
        names[max(latitude.parts, longitude.parts)],
        text,
    )


@cache
def _token_pattern() -> re.Pattern[str]:
    unit_degrees = r"degrees|degree|degs?\.?|grados?|graus?|gradi|degrés?|Grad"
    unit_minutes = r"minutes|minute|mins?\.?|minutos?|minuti|Minuten"
    unit_seconds = r"seconds|second|secs?\.?|segundos?|secondi|secondes?|Sekunden"
    return re.compile(
        rf"""
        (?P<space>\s+)
        |(?P<number>\d+(?:[.,]\d+)?)
        |(?P<degree>°|(?:{unit_degrees})(?![^\W\d_]))
        |(?P<minute>'|(?:{unit_minutes})(?![^\W\d_]))
        |(?P<second>"|(?:{unit_seconds})(?![^\W\d_]))
        |(?P<word>(?:{word_pattern()})(?![^\W\d_]|[.](?=\w)))
        |(?P<prefix>(?:北[纬緯]|南[纬緯]|东经|東[經経]|西[经經経]))
        |(?P<latitude>(?:{label_pattern("latitude")})(?![^\W\d_])\.?)
        |(?P<longitude>(?:{label_pattern("longitude")})(?![^\W\d_])\.?)
        |(?P<unit>[dms](?=[NSEWO]?(?![^\W\d_])))
        |(?P<letter>[^\W\d_]+)
        |(?P<colon>:|=)
        |(?P<sign>[+-])
        |(?P<other>.)
        """,
        re.IGNORECASE | re.VERBOSE,
    )


class _Token(NamedTuple):
    kind: str
    text: str
    after_space: bool


def _tokens(text: str) -> list[_Token]:
    tokens, space = [], True
    for match in _token_pattern().finditer(text):
        kind = match.lastgroup or "other"
        if kind == "space":
            space = True
            continue
        kind = {"prefix": "word", "unit": "letter"}.get(kind, kind)
        tokens.append(_Token(kind, match[0], space))
        space = False
    return _lettered_units(tokens)


def _lettered_units(tokens: list[_Token]) -> list[_Token]:
    """Turn d, m, s that stand right behind numbers, in this order, into degree, minute and second marks."""
    out: list[_Token] = []
    for token in tokens:
        kind = token.kind
        if kind in ("word", "letter") and token.text in ("d", "m", "s") and not token.after_space and out:
            marks = [t.text for t in out if t.kind in ("degree", "minute", "second")]
            if out[-1].kind == "number" and (
                token.text == "d"
                or (token.text == "m" and marks and marks[-1].lower().startswith("d"))
                or (token.text == "s" and marks and marks[-1].lower().startswith("m"))
            ):
                kind = {"d": "degree", "m": "minute", "s": "second"}[token.text]
        out.append(_Token(kind, token.text, token.after_space))
    return out


def _attempt(text: str, vocabulary: dict[str, str]) -> _One:
    """A text as one coordinate; a comma between digits is its decimal comma."""
    commas = len(re.findall(r"\d,\d", text))
    if commas and "." in text:
        raise PlaceError("decimal comma and decimal point are mixed in {text!r}", text=text.strip())
    return _one(_tokens(text.replace(",", ".") if commas == 1 else text), vocabulary)


def _as_axis(one: _One, axis: str) -> _One:
    """A coordinate known to be a latitude or longitude, if it may be one."""
    if one.axis not in (None, axis):
        raise PlaceError("the direction belongs to a {found}", found=one.axis)
    if one.axis is None and one.parts > 1 and not one.signed:
        raise PlaceError("degrees and minutes need N, S, E or W, or a sign")
    check_range(*((one.value, 0.0) if axis == "latitude" else (0.0, one.value)))
    return one._replace(axis=axis)


def _one(tokens: list[_Token], vocabulary: dict[str, str]) -> _One:
    """One coordinate from its tokens; ValueError with the reason where they do not make one."""
    sides: list[str] = []
    axis: str | None = None
    sign = ""
    parts: list[str] = []
    marks: list[str] = []
    joined = 0
    after_hyphen = False
    hyphens = behind = 0
    for i, token in enumerate(tokens):
        kind, written = token.kind, token.text
        if kind == "number":
            if after_hyphen and parts:
                hyphens += 1
            parts.append(written.replace(",", "."))
            marks.append("")
            if len(parts) > 3:
                raise PlaceError("more numbers than degrees, minutes and seconds")
        elif kind in ("degree", "minute", "second"):
            expected = {"degree": 1, "minute": 2, "second": 3}[kind]
            if len(parts) != expected or marks[-1]:
                raise PlaceError("the mark {mark!r} does not follow its number", mark=written)
            marks[-1] = kind
        elif kind == "word" or (kind == "letter" and written.casefold() in vocabulary):
            side = direction(written, vocabulary)
            if parts and sides:
                raise PlaceError("two directions for one number: {word!r}", word=written)
            sides.append(side)
            behind = len(parts)
            if not parts and len(sides) > 1:
                raise PlaceError("two directions for one number: {word!r}", word=written)
        elif kind in ("latitude", "longitude"):
            if axis not in (None, kind):
                raise PlaceError("one number is called both latitude and longitude")
            axis = kind
        elif kind == "colon":
            if parts and i + 1 < len(tokens) and tokens[i + 1].kind == "number":
                joined += 1
                continue
            if parts:
                raise PlaceError("a colon stands where no number follows")
        elif kind == "sign":
            if parts:
                if written == "-" and not token.after_space and i + 1 < len(tokens):
                    after_hyphen = True
                    continue
                raise PlaceError("a sign stands inside a number: {text!r}", text=written)
            if sign:
                raise PlaceError("two signs stand before one number")
            if i + 1 >= len(tokens) or tokens[i + 1].kind != "number" or tokens[i + 1].after_space:
                raise PlaceError("a sign must stand right before its number")
            sign = written
        elif kind == "letter":
            raise PlaceError("{text!r} is not understood here", text=written)
        else:
            raise PlaceError("{text!r} is not understood here", text=written)
        after_hyphen = False
    if not parts:
        raise PlaceError("no number was found")
    if hyphens and (hyphens != 2 or not sides):
        raise PlaceError("numbers joined by a hyphen may be a range")
    if joined and joined != len(parts) - 1:
        raise PlaceError("colons stand between some parts only")
    if marks[0] == "" and any(marks[1:]) and len(parts) > 1:
        raise PlaceError("minutes are marked, but degrees are not")
    value, step = degrees(parts)
    if sides:
        if sign:
            raise PlaceError("a sign and a direction stand together: {sign}{number}", sign=sign, number=parts[0])
        side_axis = "latitude" if sides[0] in ("north", "south") else "longitude"
        if axis not in (None, side_axis):
            raise PlaceError("the direction {side} does not belong to a {axis}", side=sides[0], axis=axis)
        axis = side_axis
        if sides[0] in ("south", "west"):
            value = -value
    elif sign == "-":
        value = -value
    letter = "" if not sides else {0: "before", len(parts): "behind"}.get(behind, "between")
    return _One(value, step, axis, bool(sign), len(parts), bool(marks[0]), letter)


def _splits(text: str) -> Iterator[tuple[str, str, bool]]:
    """Each way to cut a text in two, and whether a mark of separation stood there."""
    outer = text.strip()
    if outer.startswith("(") and outer.endswith(")"):
        outer = outer[1:-1]
    explicit = [m for m in re.finditer(r"\s*[;\n|/]\s*|\s*,\s+|(?<=[^\d\s]),|,(?=[^\d\s])", outer)]
    explicit = [m for m in explicit if m.start() > 0 and m.end() < len(outer)]
    strong = [m for m in explicit if "," not in m[0]]
    decimal_comma = bool(re.search(r"\d,\d", outer)) and "." not in outer
    if len(strong) > 1 or (not strong and len(explicit) > 1):
        raise PlaceError("there are more than two parts, or one is empty")
    if strong:
        yield outer[: strong[0].start()], outer[strong[0].end() :], True
        return
    if explicit:
        if decimal_comma and outer[: explicit[0].start()].rstrip()[-1:].isdigit():
            raise PlaceError("with decimal commas, part the two by a semicolon: {text!r}", text=text.strip())
        yield outer[: explicit[0].start()], outer[explicit[0].end() :], True
        return
    if decimal_comma:
        commas = [m.start() for m in re.finditer(r"(?<=\d),(?=\d)", outer)]
        for comma in commas:
            left, right = outer[:comma], outer[comma + 1 :]
            yield left, right, True
    else:
        pointed = [m.start() for m in re.finditer(r"(?<=\d),(?=\d)", outer)]
        if (
            len(pointed) == 1
            and re.search(r"\.\d+$", outer[: pointed[0]])
            and re.match(r"\d+\.\d", outer[pointed[0] + 1 :])
        ):
            yield outer[: pointed[0]], outer[pointed[0] + 1 :], True
            return
        if pointed:
            raise PlaceError("decimal comma and decimal point are mixed in {text!r}", text=text.strip())
    places = {m.start() for m in re.finditer(r"\s+", outer)}
    places |= {m.end() for m in re.finditer(r"[^\W\d_]\.?(?=[\d+-])", outer)}
    places |= {m.start() for m in re.finditer(r"(?<=[\d\"'°])(?=[^\W\d_])", outer)}
    places |= {m.start() for m in re.finditer(r"(?<=[\"'°])(?=[+-])", outer)}
    for place in sorted(places):
        yield outer[:place], outer[place:], False


def _pair(text: str, language: str | None) -> tuple[_One, _One]:
    """The one place that a text in degrees can mean."""
    found: dict[tuple[float, float], tuple[_One, _One]] = {}
    reasons: list[PlaceError] = []  # why a text was not cut, or a part is not a coordinate
    firm: list[PlaceError] = []  # why two parts that are coordinates are not a place
    for vocabulary in vocabularies(language):
        try:
            cuts = list(_splits(text))
        except PlaceError as problem:
            reasons.append(problem)
            continue
        for left, right, explicit in cuts:
            if not left.strip() or not right.strip():
                continue
            try:
                first, second = _attempt(left, vocabulary), _attempt(right, vocabulary)
            except PlaceError as problem:
                reasons.append(problem)
                continue
            try:
                latitude, longitude = _as_pair(first, second, explicit)
            except PlaceError as problem:
                firm.append(problem)
                continue
            key = (latitude.value, longitude.value)
            kept = found.get(key)
            if kept is None or min(latitude.step, longitude.step) > min(k.step for k in kept):
                found[key] = (latitude, longitude)
        if found and _lone(text, vocabulary):
            raise PlaceError(
                "{text!r} may be one coordinate or two: part the two by a comma and a space, or give letters",
                text=text.strip(),
            )
    if len(found) > 1:
        # Nobody writes one letter behind its number and the other inside: 10 30 N 20 30 E has one sense.
        even = [pair for pair in found.values() if pair[0].letter == pair[1].letter in ("before", "behind")]
        if len(even) == 1:
            return even[0]
    if len(found) == 1:
        return next(iter(found.values()))
    if len(found) > 1:
        places = "; ".join(f"{a:g}, {b:g}" for a, b in found)
        raise PlaceError("{text!r} may mean more than one place: {places}", text=text.strip(), places=places)
    raise _most_telling(firm or reasons, text)


def _lone(text: str, vocabulary: dict[str, str]) -> bool:
    """Whether the whole text can be read as one coordinate."""
    try:
        _attempt(text, vocabulary)
    except PlaceError:
        return False
    return True


def _as_pair(first: _One, second: _One, explicit: bool) -> tuple[_One, _One]:
    """Latitude and longitude in this order, if it is certain which is which and on which side."""
    if first.axis is not None and first.axis == second.axis:
        raise PlaceError("both numbers are a {axis}", axis=first.axis)
    if first.axis == "longitude" or second.axis == "latitude":
        first, second = second, first
    named = first.axis is not None or second.axis is not None
    for one in (first, second):
        if one.axis is None and not one.signed and (one.parts > 1 or one.marked):
            other = second if one is first else first
            if not (other.signed or (one.parts == 1 and explicit and not named)):
                raise PlaceError("degrees need N, S, E or W, or a sign")
        if one.axis is None and not one.signed and named:
            raise PlaceError("one number has a direction and the other has none")
    if not (explicit or named or first.signed or second.signed or first.step < 1 or second.step < 1):
        raise PlaceError("two whole numbers are not enough: part them by a comma, or give letters")
    check_range(first.value, second.value, named)
    return first._replace(axis="latitude"), second._replace(axis="longitude")


_VAGUE = (
    "no number was found",
    "more numbers than",
    "there are more than two",
    "is not understood",
    "does not follow",
    "two directions",
)


def _most_telling(reasons: list[PlaceError], text: str) -> PlaceError:
    """The reason that helps most: one about what was written, before one about a way of cutting that never fitted."""
    if re.fullmatch(r"\s*[\d.,]{5,}\s*m?[EN]?\s*[,;\s]\s*[\d.,]{5,}\s*m?[EN]?\s*", text):
        large = [float(n) for n in re.findall(r"\d{5,}", text)]
        if large and max(large) > 1000:
            return PlaceError("{text!r} looks like metres on a grid: name the grid, or the UTM zone", text=text.strip())
    if re.fullmatch(r"\s*[A-Za-z]{1,2}\s*\d{1,5}\s*\d{1,5}\s*", text):
        return PlaceError("{text!r} looks like a lettered grid: put the grid's name before it", text=text.strip())
    if re.search(r"\d-\d", text):
        reasons = [*reasons, PlaceError("numbers joined by a hyphen may be a range: {text!r}", text=text.strip())]
    unknown = [r for r in reasons if "languages" in r.template]
    if unknown:
        return unknown[0]
    telling = [r for r in reasons if not any(v in r.template for v in _VAGUE)]
    if telling:
        counts: dict[str, int] = {}
        for reason in telling:
            counts[str(reason)] = counts.get(str(reason), 0) + 1
        return max(telling, key=lambda r: counts[str(r)])
    strange = [r for r in reasons if "not understood" in r.template]
    if strange:
        return strange[0]
    return PlaceError("two coordinates were not found in {text!r}", text=text.strip())
