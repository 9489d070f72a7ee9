"""Grids: UTM, the military grid, quarter-degree squares and national grids, read into latitude and longitude.

A grid text that means a square is answered with the square's centre, as the guides ask, never with its corner.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any, NamedTuple

from keepfast.science.place_datum import PlaceError, crs, ellipsoid
from keepfast.science.place_words import hemisphere
from keepfast.science.tables import load

# Band letters from 80 S up, 8 degrees each, X 12 degrees. Universal Transverse Mercator and MGRS, NGA.STND.0037
# (from memory, unverified; the zone exceptions are checked against published points in the tests).
BANDS = "CDEFGHJKLMNPQRSTUVWX"
_COLUMNS = ("ABCDEFGH", "JKLMNPQR", "STUVWXYZ")
_ROWS = "ABCDEFGHJKLMNPQRSTUV"
_BAND_SLACK_DEGREES = 0.005  # an older datum moves a point by some hundred metres, so the band's edge is that soft


class GridPoint(NamedTuple):
    """Latitude and longitude [degree] of a point or a square's centre, its step [m], datum and notation."""

    latitude: float
    longitude: float
    step_m: float
    datum: str | None
    notation: str


def _band_limits(band: str) -> tuple[float, float]:
    south = -80.0 + 8.0 * BANDS.index(band)
    return south, 84.0 if band == "X" else south + 8.0


def zone_limits(zone: int, band: str) -> tuple[float, float]:
    """
    West and east edge of a UTM zone in a band, with the exceptions of Norway and Svalbard. [degree]

    Raises
    ------
    ValueError
        If there is no such zone in this band.
    """
    west, east = -186.0 + 6.0 * zone, -180.0 + 6.0 * zone
    if band == "V" and zone in (31, 32):
        return {31: (0.0, 3.0), 32: (3.0, 12.0)}[zone]
    if band == "X" and 31 <= zone <= 37:
        exceptions = {31: (0.0, 9.0), 33: (9.0, 21.0), 35: (21.0, 33.0), 37: (33.0, 42.0)}
        if zone not in exceptions:
            raise PlaceError("there is no zone {zone}X: around Svalbard the odd zones are widened", zone=zone)
        return exceptions[zone]
    return west, east


def _checked_zone(text: str) -> int:
    zone = int(text)
    if not 1 <= zone <= 60:
        raise PlaceError("UTM zones run from 1 to 60; {zone} was read", zone=zone)
    return zone


@cache
def _utm(zone: int, south: bool, datum: str | None) -> Any:
    from pyproj import Proj

    a, rf = ellipsoid(datum)
    return Proj(proj="utm", zone=zone, south=south, a=a, rf=rf)


def _from_utm(easting: float, northing: float, zone: int, south: bool, datum: str | None) -> tuple[float, float]:
    longitude, latitude = _utm(zone, south, datum)(easting, northing, inverse=True)
    return float(latitude), float(longitude)


_NUMBER = r"(\d{1,8}(?:[.,]\d{1,4})?)"
_EAST = r"(?:easting|este|mE|E|X)"
_NORTH = r"(?:northing|norte|mN|N|Y)"
_GAP = r"(?:\s*[,;/]\s*|\s+)"
_PAIRS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"^(?P<first>)(?P<a>{_NUMBER})\s*m?{_GAP}(?:UTM\s+)?(?P<second>)(?P<b>{_NUMBER})\s*m?$",
        rf"^(?P<first>{_EAST}|{_NORTH})\s*[:=.]?\s*(?P<a>{_NUMBER})\s*m?{_GAP}"
        rf"(?P<second>{_EAST}|{_NORTH})\s*[:=.]?\s*(?P<b>{_NUMBER})\s*m?$",
        rf"^(?P<a>{_NUMBER})\s*m?\s*(?P<first>{_EAST}|{_NORTH}){_GAP}"
        rf"(?P<b>{_NUMBER})\s*m?\s*(?P<second>{_EAST}|{_NORTH})$",
    )
)


def _metres(text: str) -> tuple[float, float]:
    """A grid number and the step it is written to: a metre, or the last decimal."""
    whole = text.replace(",", ".")
    decimals = len(whole.partition(".")[2])
    return float(whole), 10.0**-decimals


def _east_north(text: str) -> tuple[float, float, float, bool]:
    """Easting, northing, step, and whether letters said which is which.

    Raises
    ------
    ValueError
        If the text is not two numbers, or its letters contradict each other.
    """
    bare = text.strip(" \t\n,;:")
    match = next((m for m in (pattern.match(bare) for pattern in _PAIRS) if m), None)
    if match is None:
        raise PlaceError("easting and northing are not two plain numbers of metres: {text!r}", text=text)
    a, step_a = _metres(match["a"])
    b, step_b = _metres(match["b"])
    step = min(step_a, step_b)
    if not match["first"]:
        return a, b, step, False
    axes = ["north" if re.fullmatch(_NORTH, match[k], re.IGNORECASE) else "east" for k in ("first", "second")]
    if axes[0] == axes[1]:
        raise PlaceError("both numbers are called {axis}ing", axis=axes[0])
    return (b, a, step, True) if axes[0] == "north" else (a, b, step, True)


_ZONE_FIRST = re.compile(
    r"^(?:zone|zona|huso|fuso)?\s*(?P<zone>\d{1,2})\s*(?P<letters>[^\W\d_][^\d,;:]*?)?\s*[,;:]?\s+"
    r"(?P<rest>(?:(?:easting|este|northing|norte|mE|mN|E|N|X|Y)\s*[:=]?\s*)?\d{4,8}(?!\d).*)$",
    re.IGNORECASE | re.DOTALL,
)
_ZONE_LAST = re.compile(
    r"^(?P<rest>.*\d\s*m?\s*[EN]?)[\s,;]+(?:zone|zona|huso|fuso)?\s*(?P<zone>\d{1,2})\s*(?P<letters>[^\W\d_][^\d,;:]*?)?$",
    re.IGNORECASE | re.DOTALL,
)


def looks_like_utm(text: str) -> bool:
    """Whether a text calls itself UTM, or is a zone and two numbers of metres."""
    if re.search(r"\bUTM\b", text, re.IGNORECASE):
        return True
    return bool(
        re.search(r"(?<![\d.,])\d{6,8}(?:[.,]\d+)?\s*m?[NE]?(?:\s*[,;/]\s*|\s+)", text, re.IGNORECASE)
    ) and bool(_ZONE_FIRST.match(text) or _ZONE_LAST.match(text))


def read_utm(text: str, datum: str | None) -> GridPoint:
    """
    A UTM text: zone, band letter or hemisphere, easting, northing.

    Raises
    ------
    ValueError
        With the reason, where zone, hemisphere, easting or northing are missing, impossible, or contradict each other.
    """
    bare = re.sub(r"^[\s,;:/]*UTM\b[\s,;:/]*|\bWGS\b", " ", text, flags=re.IGNORECASE).strip(" \t\n,;:/")
    match = _ZONE_FIRST.match(bare) or _ZONE_LAST.match(bare)
    if match is None:
        raise PlaceError(
            "a UTM place needs its zone, easting and northing, as in 17T 630000 4833400: {text!r}", text=text
        )
    zone = _checked_zone(match["zone"])
    easting, northing, step, _ = _east_north(match["rest"])
    letters = (match["letters"] or "").strip(" \t()[]")
    band, south = _band_or_hemisphere(letters, zone)
    if not 100_000 <= easting < 900_000:
        raise PlaceError("a UTM easting lies from 100000 to 900000 m; {easting:.0f} was read", easting=easting)
    if not 0 <= northing <= 10_000_000:
        raise PlaceError("a UTM northing lies from 0 to 10000000 m; {northing:.0f} was read", northing=northing)
    latitude, longitude = _from_utm(easting, northing, zone, south, datum)
    if not -80.0 - _BAND_SLACK_DEGREES <= latitude <= 84.0 + _BAND_SLACK_DEGREES:
        raise PlaceError("UTM ends at 80 S and 84 N; these numbers lead to latitude {latitude:.2f}", latitude=latitude)
    if band:
        low, high = _band_limits(band)
        if not low - _BAND_SLACK_DEGREES <= latitude <= high + _BAND_SLACK_DEGREES:
            raise PlaceError(
                "band {band} lies from latitude {low:g} to {high:g}, but the northing leads to {latitude:.3f}",
                band=band,
                low=low,
                high=high,
                latitude=latitude,
            )
        zone_limits(zone, band)
    return GridPoint(latitude, longitude, step, datum, "UTM")


def _band_or_hemisphere(letters: str, zone: int) -> tuple[str, bool]:
    """The band ("" for a bare hemisphere) and whether it is south."""
    if not letters:
        raise PlaceError("zone {zone} is not enough: say north or south, or give the band letter", zone=zone)
    letter = letters.upper()
    if letter == "S":
        raise PlaceError(
            "{zone}S may be band S, which is in the north, or the southern half: write 'south' or the band letter",
            zone=zone,
        )
    if letter == "N":
        return "", False  # band N and the northern hemisphere give the same place
    if len(letter) == 1:
        if letter not in BANDS:
            raise PlaceError("there is no UTM band {band}; bands run from C to X without I and O", band=letter)
        return letter, letter < "N"
    side = hemisphere(letters)
    if side is None:
        raise PlaceError("{letters!r} is neither a band letter nor north or south", letters=letters)
    return "", side == "south"


_MGRS = re.compile(r"^(\d{1,2})\s?([A-Z])\s?([A-Z]{2})\s*(\d*)\s*(\d*)$", re.IGNORECASE)


def looks_like_mgrs(text: str) -> bool:
    """Whether a text has the form of a military grid reference."""
    return bool(_MGRS.match(text.strip()))


def read_mgrs(text: str, datum: str | None) -> GridPoint:
    """
    The centre of a military grid square, of the part of it inside its zone and band where these cut it.

    Raises
    ------
    ValueError
        With the reason, where zone, band, square or digits are impossible.

    References
    ----------
    .. [1] NGA.STND.0037, lettering of the WGS84 scheme. (from memory, unverified; checked against published points)
    """
    match = _MGRS.match(text.strip())
    if match is None:
        raise PlaceError("this is not a military grid reference: {text!r}", text=text)
    zone, band, square = _checked_zone(match[1]), match[2].upper(), match[3].upper()
    if band not in BANDS:
        raise PlaceError("there is no band {band}; bands run from C to X without I and O", band=band)
    digits = match[4] + match[5]
    if match[5] and len(match[4]) != len(match[5]):
        raise PlaceError("east and north must have equally many digits; {a} and {b} were read", a=match[4], b=match[5])
    if len(digits) % 2 or len(digits) > 10:
        raise PlaceError("a grid reference has 0 to 5 digits each way; {n} in all were read", n=len(digits))
    half = len(digits) // 2
    size = 10.0 ** (5 - half)
    columns = _COLUMNS[(zone - 1) % 3]
    if square[0] not in columns or square[1] not in _ROWS:
        raise PlaceError("zone {zone} has no square {square}", zone=zone, square=square)
    west, east = zone_limits(zone, band)
    low, high = _band_limits(band)
    easting = 100_000.0 * (columns.index(square[0]) + 1) + size * int(digits[:half] or 0)
    row = (_ROWS.index(square[1]) - (5 if zone % 2 == 0 else 0)) % 20
    within_cycle = 100_000.0 * row + size * int(digits[half:] or 0)
    south = band < "N"
    for cycle in range(5):
        northing = within_cycle + 2_000_000.0 * cycle
        centre = _square_centre(easting, northing, size, zone, south, datum, (west, east, low, high))
        if centre is not None:
            return GridPoint(*centre, size, datum, "MGRS")
    raise PlaceError("square {square} does not lie in {zone}{band}", square=square, zone=zone, band=band)


def _square_centre(
    easting: float,
    northing: float,
    size: float,
    zone: int,
    south: bool,
    datum: str | None,
    limits: tuple[float, float, float, float],
) -> tuple[float, float] | None:
    """Centre of the part of a square that lies inside its zone and band; None where no part does."""
    west, east, low, high = limits
    # Edges of a square are nearly straight: in one cut up to a kilometre, in 24 cuts to a few metres at 100 km.
    steps = 1 if size <= 1000 else (4 if size <= 10_000 else 24)
    outline = [
        (easting + size * u, northing + size * v)
        for u, v in (
            *((i / steps, 0.0) for i in range(steps)),
            *((1.0, i / steps) for i in range(steps)),
            *((1.0 - i / steps, 1.0) for i in range(steps)),
            *((0.0, 1.0 - i / steps) for i in range(steps)),
        )
    ]
    if not 0 <= northing < 10_000_000:
        return None
    corners = [_from_utm(x, y, zone, south, datum) for x, y in outline]
    middle = 6.0 * zone - 183.0
    # Beyond 180 degrees the projection answers from the other side; a square must not be torn there.
    polygon = [(middle + (lon - middle + 180.0) % 360.0 - 180.0, lat) for lat, lon in corners]
    if all(west <= lon <= east and low <= lat <= high for lon, lat in polygon):
        return _from_utm(easting + size / 2, northing + size / 2, zone, south, datum)
    for axis, limit, keep_above in ((0, west, True), (0, east, False), (1, low, True), (1, high, False)):
        polygon = _cut(polygon, axis, limit, keep_above)
    if len(polygon) < 3:
        return None
    plane = [_utm(zone, south, datum)(lon, lat) for lon, lat in polygon]
    x, y = _circle_centre(_corners(plane, size))
    return _from_utm(x, y, zone, south, datum)


def _cut(polygon: list[tuple[float, float]], axis: int, limit: float, keep_above: bool) -> list[tuple[float, float]]:
    """What a straight cut leaves of a polygon (Sutherland and Hodgman 1974)."""
    kept: list[tuple[float, float]] = []
    for i, point in enumerate(polygon):
        before = polygon[i - 1]
        inside = (point[axis] >= limit) if keep_above else (point[axis] <= limit)
        was_inside = (before[axis] >= limit) if keep_above else (before[axis] <= limit)
        if inside != was_inside:
            share = (limit - before[axis]) / (point[axis] - before[axis])
            crossing = [b + share * (p - b) for b, p in zip(before, point, strict=True)]
            crossing[axis] = limit
            kept.append((crossing[0], crossing[1]))
        if inside:
            kept.append(point)
    return kept


def _corners(points: list[tuple[float, float]], size: float) -> list[tuple[float, float]]:
    """An outline without the points that lie within a millionth of its size on a straight line of it."""
    kept = list(points)
    i = 0
    while i < len(kept) and len(kept) > 3:
        (ax, ay), (bx, by), (cx, cy) = kept[i - 1], kept[i], kept[(i + 1) % len(kept)]
        if abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) < 1e-6 * size * size:
            del kept[i]
            i = max(0, i - 1)
        else:
            i += 1
    return kept


def _circle_centre(points: list[tuple[float, float]]) -> tuple[float, float]:
    """Centre of the smallest circle round some points: the guides' corrected centre (Welzl 1991, point by point)."""
    # Relative to the first point: the squares of grid numbers of ten million metres would lose centimetres.
    x0, y0 = points[0]
    near = [(x - x0, y - y0) for x, y in points]
    (x, y), r2 = near[0], 0.0

    def outside(p: tuple[float, float]) -> bool:
        return (p[0] - x) ** 2 + (p[1] - y) ** 2 > r2 * (1 + 1e-12) + 1e-12

    for i, p in enumerate(near):
        if not outside(p):
            continue
        (x, y), r2 = p, 0.0
        for j, q in enumerate(near[:i]):
            if not outside(q):
                continue
            x, y = (p[0] + q[0]) / 2, (p[1] + q[1]) / 2
            r2 = (p[0] - x) ** 2 + (p[1] - y) ** 2
            for s in near[:j]:
                if outside(s):
                    x, y = _through(p, q, s)
                    r2 = (p[0] - x) ** 2 + (p[1] - y) ** 2
    return x0 + x, y0 + y


def _through(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> tuple[float, float]:
    """Centre of the circle through three points; of three in a line, the middle of the first two."""
    d = 2 * (a[0] * (b[1] - c[1]) + b[0] * (c[1] - a[1]) + c[0] * (a[1] - b[1]))
    if d == 0:
        return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    a2, b2, c2 = a[0] ** 2 + a[1] ** 2, b[0] ** 2 + b[1] ** 2, c[0] ** 2 + c[1] ** 2
    return (
        (a2 * (b[1] - c[1]) + b2 * (c[1] - a[1]) + c2 * (a[1] - b[1])) / d,
        (a2 * (c[0] - b[0]) + b2 * (a[0] - c[0]) + c2 * (b[0] - a[0])) / d,
    )


_QUARTER = re.compile(r"^([EW])(\d{3})([NS])(\d{2})([A-D]{0,5})$", re.IGNORECASE)
_OLD_QUARTER = re.compile(r"^\d{4}\s?[A-D]{1,2}$", re.IGNORECASE)


def looks_like_quarter_degree(text: str) -> bool:
    """Whether a text has the form of a quarter-degree square."""
    return bool(_QUARTER.match(text.strip()) or _OLD_QUARTER.match(text.strip()))


def read_quarter_degree(text: str, datum: str | None) -> GridPoint:
    """
    The centre of a quarter-degree square, halved as often as it has letters.

    A is the north-west quarter, B the north-east, C the south-west, D the south-east. The square is in degrees, so
    ``step_m`` is the longer of its sides.

    Raises
    ------
    ValueError
        If it is written in the old form without hemispheres, or lies off the Earth.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, Georeferencing Best Practices v1.0, grid section. (read; the order of the
       letters is from memory, unverified)
    """
    match = _QUARTER.match(text.strip())
    if match is None:
        raise PlaceError(
            "{text!r} does not say its hemispheres, and countries disagree which half is the latitude: write it as in"
            " E032S18CB",
            text=text,
        )
    lon, lat, side = float(match[2]), float(match[4]), 1.0
    if lon >= 180 or lat >= 90:
        raise PlaceError("{text!r} lies off the Earth", text=text)
    # Numbers name the degree cell that begins there and goes away from equator and Greenwich.
    west = lon if match[1].upper() == "E" else -lon - 1
    south = lat if match[3].upper() == "N" else -lat - 1
    for letter in match[5].upper():
        side /= 2
        west += side if letter in "BD" else 0.0
        south += side if letter in "AB" else 0.0
    latitude, longitude = south + side / 2, west + side / 2
    from geographiclib.geodesic import Geodesic

    tall = Geodesic.WGS84.Inverse(south, longitude, south + side, longitude, Geodesic.DISTANCE)["s12"]
    near_equator = min(abs(south), abs(south + side)) if south * (south + side) > 0 else 0.0
    wide = Geodesic.WGS84.Inverse(near_equator, west, near_equator, west + side, Geodesic.DISTANCE)["s12"]
    return GridPoint(latitude, longitude, float(max(tall, wide)), datum, "quarter degree square")


@cache
def _grids() -> tuple[tuple[re.Pattern[str], int], ...]:
    pairs = [(name, int(row["epsg"])) for row in load("epsg-national-grids").rows for name in row["names"]]
    pairs.sort(key=lambda pair: -len(pair[0]))
    return tuple(
        (re.compile(r"(?<!\w)" + r"[ \-]?".join(map(re.escape, name.split(" "))) + r"(?!\w)", re.IGNORECASE), code)
        for name, code in pairs
    )


_CODE = re.compile(r"(?<!\w)EPSG\s*:{1,2}\s*(\d{4,5})(?!\w)", re.IGNORECASE)
_LETTERED = re.compile(r"^([A-Z]{1,2})\s*(\d*)\s*(\d*)$", re.IGNORECASE)


def looks_like_national_grid(text: str) -> bool:
    """Whether a text names a national grid or a projected EPSG code."""
    return bool(_CODE.search(text)) or any(pattern.search(text) for pattern, _ in _grids())


def read_national_grid(text: str, datum: str | None = None) -> GridPoint:
    """
    A place on a grid that the text names, in metres or in the letters of the British and Irish grids.

    Raises
    ------
    ValueError
        With the reason, where the numbers lie outside the grid's area, either order of them would fit, or a datum is
        named that is not the grid's own.
    """
    code_match = _CODE.search(text)
    if code_match is not None:
        code, rest = int(code_match[1]), _CODE.sub(" ", text, count=1)
    else:
        pattern, code = next((p, c) for p, c in _grids() if p.search(text))
        rest = pattern.sub(" ", text, count=1)
    rest = rest.strip(" \t\n,;:()/")
    system = crs(code)
    if not system.is_projected or system.geodetic_crs is None:
        raise PlaceError("EPSG:{code} is not a grid of metres", code=code)
    lettered = _LETTERED.match(rest)
    if lettered is not None and code in (27700, 29903):
        easting, northing, step = _lettered(lettered, code)
        orders = [(easting + step / 2, northing + step / 2)]
    else:
        easting, northing, step, said = _east_north(rest)
        orders = [(easting, northing)] if said else [(easting, northing), (northing, easting)]
    places = [place for place in (_inside(system, x, y) for x, y in orders) if place is not None]
    if not places:
        raise PlaceError("these numbers lie outside the area of {name}", name=system.name)
    if len(places) > 1 and places[0] != places[1]:
        raise PlaceError("either number may be the easting: mark them E and N")
    if datum is not None and crs(datum).name not in system.name:
        raise PlaceError("{grid} has its own datum, but {datum} is named", grid=system.name, datum=datum)
    authority = system.geodetic_crs.to_authority()
    return GridPoint(*places[0], step, ":".join(authority) if authority else None, system.name)


def _inside(system: Any, x: float, y: float) -> tuple[float, float] | None:
    """Latitude and longitude on the grid's own datum, where the point lies in the grid's area."""
    longitude, latitude = _own_transformer(system.to_wkt()).transform(x, y)
    area = system.area_of_use
    inside = area.south <= latitude <= area.north and area.west <= longitude <= area.east
    return (float(latitude), float(longitude)) if inside else None


@cache
def _own_transformer(wkt: str) -> Any:
    import pyproj

    system = pyproj.CRS.from_wkt(wkt)
    return pyproj.Transformer.from_crs(system, system.geodetic_crs, always_xy=True)


_SQUARES = "ABCDEFGHJKLMNOPQRSTUVWXYZ"  # a five by five of letters without I, from the north-west


def _lettered(match: re.Match[str], code: int) -> tuple[float, float, float]:
    """South-west corner and size of a lettered square of the British or Irish grid.

    Ordnance Survey, A guide to coordinate systems in Great Britain (from memory, unverified; checked by the area).
    """
    letters, digits = match[1].upper(), match[2] + match[3]
    if "I" in letters or len(letters) != (2 if code == 27700 else 1):
        raise PlaceError("{letters} is not a square of this grid", letters=letters)
    if (match[3] and len(match[2]) != len(match[3])) or len(digits) % 2 or len(digits) > 10:
        raise PlaceError("east and north must have equally many digits, 0 to 5 each: {digits}", digits=digits)
    half = len(digits) // 2
    size = 10.0 ** (5 - half)

    def column_row(letter: str) -> tuple[int, int]:
        place = _SQUARES.index(letter)
        return place % 5, 4 - place // 5

    column, row = column_row(letters[-1])
    easting, northing = 100_000.0 * column, 100_000.0 * row
    if code == 27700:
        big_column, big_row = column_row(letters[0])
        # The false origin is the south-west corner of square S.
        easting += 500_000.0 * (big_column - 2)
        northing += 500_000.0 * (big_row - 1)
    return easting + size * int(digits[:half] or 0), northing + size * int(digits[half:] or 0), size
