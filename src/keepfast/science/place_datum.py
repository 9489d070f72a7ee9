"""Datums: which one a name means, what lies between it and WGS84, and what is at stake when nobody wrote it down."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from keepfast.science.tables import load

if TYPE_CHECKING:
    import pyproj

WGS84 = "EPSG:4326"

Numbers: TypeAlias = "float | npt.NDArray[np.float64]"


class PlaceError(ValueError):
    """A text about a place that cannot be read with certainty; ``template`` and ``values`` let it be said elsewhere."""

    def __init__(self, template: str, **values: Any) -> None:
        self.template = template
        self.values = values
        super().__init__(template.format(**values))


class Shifted(NamedTuple):
    """Coordinates brought to WGS84, how far that step may be wrong, and which published operation did it."""

    latitude: Any
    longitude: Any
    accuracy_m: Any
    operation: Any
    best_available: Any


def _loose(name: str) -> str:
    """A pattern for a name in which a space may be a space, a hyphen or nothing."""
    return r"[ \-]?".join(re.escape(part) for part in name.split(" "))


@cache
def _names() -> tuple[tuple[re.Pattern[str], int], ...]:
    """Each spelling with its EPSG code, the longest first."""
    pairs = [(name, int(row["epsg"])) for row in load("epsg-datum-names").rows for name in row["names"]]
    pairs.sort(key=lambda pair: -len(pair[0]))
    return tuple((re.compile(rf"(?<!\w){_loose(name)}(?!\w)", re.IGNORECASE), code) for name, code in pairs)


_CODE = re.compile(r"(?<!\w)EPSG\s*:{1,2}\s*(\d{4,5})(?!\w)", re.IGNORECASE)
_WRAPPER = re.compile(r"[(\[]\s*[)\]]|\b(?:datum|dátum|SRS|CRS)\b\s*[:=]?", re.IGNORECASE)


def take_datum(text: str) -> tuple[str, str | None]:
    """
    Cut the datum's name out of a text.

    Returns
    -------
    tuple
        The rest of the text, and the datum as ``EPSG:`` and its code; None where the text names none. A code of a
        projected system stays in the text, because it is a grid.

    Raises
    ------
    ValueError
        If two different datums are named, or a code is not in the registry.
    """
    found: list[int] = []

    def take(match: re.Match[str], code: int) -> str:
        found.append(code)
        return " "

    def take_code(match: re.Match[str]) -> str:
        code = int(match[1])
        if crs(code).is_projected:
            return match[0]
        if not crs(code).is_geographic:
            raise PlaceError("EPSG:{code} is neither a geographic system nor a grid", code=code)
        return take(match, code)

    rest = _CODE.sub(take_code, text)
    for pattern, code in _names():
        rest = pattern.sub(lambda match, code=code: take(match, code), rest)  # type: ignore[misc]
    if not found:
        return text, None
    if len(set(found)) > 1:
        raise PlaceError(
            "two datums are named: {names}", names=", ".join(f"EPSG:{code}" for code in sorted(set(found)))
        )
    rest = _WRAPPER.sub(" ", _WRAPPER.sub(" ", rest))
    return rest.strip(" \t,;/"), f"EPSG:{found[0]}"


@cache
def crs(code: int | str) -> pyproj.CRS:
    """The coordinate system with this code.

    Raises
    ------
    ValueError
        If the registry has none.
    """
    import pyproj
    from pyproj.exceptions import CRSError

    try:
        return pyproj.CRS.from_user_input(f"EPSG:{code}" if isinstance(code, int) else code)
    except CRSError:
        raise PlaceError("there is no coordinate system {code} in the registry", code=code) from None


def datum_code(name: str) -> str:
    """
    The EPSG code of a datum by its name.

    Parameters
    ----------
    name : str
        As field notes write it: ``WGS84``, ``NAD 27``, ``SAD-69``, ``EPSG:4326``.

    Raises
    ------
    ValueError
        If the name is not known or stands among other words.
    """
    rest, code = take_datum(name.strip())
    if code is None or rest:
        raise PlaceError("the datum {name!r} is not known here; give its EPSG code", name=name)
    return code


def ellipsoid(datum: str | None) -> tuple[float, float]:
    """Semi-major axis [m] and inverse flattening of a datum's ellipsoid; those of WGS84 where none is named."""
    if datum is None or datum == WGS84:
        table = load("epsg-7030-wgs84-ellipsoid")
        return table.value("semi_major_axis_m"), table.value("inverse_flattening")
    shape = crs(datum).ellipsoid
    if shape is None:
        raise PlaceError("{datum} has no ellipsoid", datum=datum)
    return float(shape.semi_major_metre), float(shape.inverse_flattening)


@cache
def _operations(source: str, target: str) -> Any:
    import warnings

    from pyproj.transformer import TransformerGroup

    with warnings.catch_warnings():
        # It warns of each grid file that is absent; ``best_available`` says so where it matters.
        warnings.simplefilter("ignore", UserWarning)
        return TransformerGroup(crs(source), crs(target), always_xy=True)


def _area_holds(area: Any, longitude: float, latitude: float) -> bool:
    if area is None or not area.south <= latitude <= area.north:
        return False
    if area.west <= area.east:
        return bool(area.west <= longitude <= area.east)
    return bool(longitude >= area.west or longitude <= area.east)


def _best(source: str, longitude: float, latitude: float) -> tuple[Any, bool]:
    """The most exact published operation whose area holds the point, and whether the registry knows a better one."""
    group = _operations(source, WGS84)
    holding = [
        t for t in group.transformers if t.accuracy >= 0 and _area_holds(t.area_of_use, longitude, latitude)
    ]  # "ballpark" operations state no accuracy and are left out
    if not holding:
        raise PlaceError(
            "no published operation leads from {source} to WGS84 at latitude {latitude:.2f}, longitude {longitude:.2f}",
            source=source,
            latitude=latitude,
            longitude=longitude,
        )
    best = min(holding, key=lambda t: t.accuracy)
    better = any(
        0 <= operation.accuracy < best.accuracy and _area_holds(operation.area_of_use, longitude, latitude)
        for operation in group.unavailable_operations
    )
    return best, not better


def to_wgs84(latitude: npt.ArrayLike, longitude: npt.ArrayLike, datum: str) -> Shifted:
    """
    Bring coordinates from another datum to WGS84 by the most exact published operation that is at hand.

    Parameters
    ----------
    latitude, longitude : array_like
        On ``datum``. [degree]
    datum : str
        Name or ``EPSG:`` code.

    Returns
    -------
    Shifted
        ``latitude`` and ``longitude`` on WGS84 [degree]; ``accuracy_m``, which belongs into the uncertainty [m];
        ``operation``, its published name; ``best_available``, False where a more exact one needs a grid file that is
        not on this computer.

    Raises
    ------
    ValueError
        If the datum is unknown, or no published operation covers the place.

    Notes
    -----
    PROJ lists operations with their areas and stated accuracies; those without a stated accuracy are not used.

    References
    ----------
    .. [1] EPSG registry, as carried by PROJ 9.5.1. (read)
    """
    code = datum_code(datum)
    lat, lon = np.broadcast_arrays(np.asarray(latitude, float), np.asarray(longitude, float))
    shape = lat.shape
    if code == WGS84:
        exact = np.zeros(shape) + np.where(np.isnan(lat + lon), np.nan, 0.0)
        return Shifted(
            _out(lat + 0.0),
            _out(lon + 0.0),
            _out(exact),
            _out(np.full(shape, "none needed")),
            _out(np.ones(shape, bool)),
        )
    out_lat, out_lon, accuracy = np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, np.nan)
    operation, best_available = np.full(shape, "", dtype=object), np.zeros(shape, bool)
    for index in np.ndindex(shape):
        x, y = float(lon[index]), float(lat[index])
        if np.isnan(x) or np.isnan(y):
            continue
        best, is_best = _best(code, x, y)
        out_lon[index], out_lat[index] = best.transform(x, y)
        accuracy[index] = best.accuracy
        operation[index] = best.description.replace("axis order change (2D) + ", "").replace(
            " + axis order change (2D)", ""
        )
        best_available[index] = is_best
    return Shifted(_out(out_lat), _out(out_lon), _out(accuracy), _out(operation), _out(best_available))


def _out(values: npt.NDArray[Any]) -> Any:
    """A scalar for a scalar, an array for an array."""
    return values.item() if values.ndim == 0 else values


# Frames of satellite geodesy agree with WGS84 to 3 m (an assumption; most to decimetres). Field notes do not tell their
# versions apart, and there are so many that looking them all up took seconds; NAD83, ETRS89 and PZ-90 stand for them.
_MODERN = re.compile(r"ITRF|IGS|IGb|ETRF|WGS 84 \(|PZ-90\.|NAD83\(")
_MODERN_M = 3.0


@cache
def _candidates() -> tuple[tuple[str, Any], ...]:
    """Geographic systems of the Earth with Greenwich as their meridian, and their areas."""
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    return tuple(
        (f"EPSG:{info.code}", info.area_of_use)
        for info in query_crs_info(auth_name="EPSG", pj_types=PJType.GEOGRAPHIC_2D_CRS)
        if info.area_of_use is not None and not _MODERN.match(info.name)
    )


def unknown_datum_uncertainty_m(latitude: npt.ArrayLike, longitude: npt.ArrayLike, *, method: str = "worst") -> Numbers:
    """
    How far coordinates without a datum may lie from the same numbers on WGS84.

    Parameters
    ----------
    latitude, longitude : array_like
        [degree]
    method : {"worst", "by place"}
        ``worst``: the guide's largest shift anywhere. ``by place``: the largest shift, with its own accuracy, among
        all systems in the EPSG registry in use at this place that count from Greenwich.

    Returns
    -------
    ndarray or float
        [m]

    Raises
    ------
    ValueError
        If the method is another, or latitude or longitude is out of range.

    Notes
    -----
    ``by place`` is smaller nearly everywhere. It leaves out old systems that count from another meridian, because notes
    that use one say so, and the versions of satellite frames, for which 3 m is the least that is answered. Systems
    whose operations need grid files that are absent count with the coarser one at hand.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, Georeferencing Best Practices v1.0, doi:10.15468/doc-gg7h-s853. (read)
    """
    lat, lon = checked(latitude, longitude)
    if method == "worst":
        worst = load("chapman-wieczorek-2020-point-radius").value("unknown_datum_worst_m")
        return _out(np.where(np.isnan(lat + lon), np.nan, worst))  # type: ignore[no-any-return]
    if method != "by place":
        raise ValueError(f"method must be 'worst' or 'by place'; {method!r} was given")
    result = np.full(lat.shape, np.nan)
    for index in np.ndindex(lat.shape):
        if not np.isnan(lat[index] + lon[index]):
            result[index] = _largest_shift_m(round(float(lat[index]), 1), round(float(lon[index]), 1))
    return _out(result)  # type: ignore[no-any-return]


@cache
def _largest_shift_m(latitude: float, longitude: float) -> float:
    from geographiclib.geodesic import Geodesic

    largest = _MODERN_M
    for code, area in _candidates():
        if code == WGS84 or not _area_holds(area, longitude, latitude):
            continue
        meridian = crs(code).prime_meridian
        if meridian is not None and meridian.longitude != 0:
            continue
        try:
            best, _ = _best(code, longitude, latitude)
        except PlaceError:
            continue
        x, y = best.transform(longitude, latitude)
        apart = Geodesic.WGS84.Inverse(latitude, longitude, y, x, Geodesic.DISTANCE)["s12"]
        largest = max(largest, float(apart) + best.accuracy)
    return largest


def checked(
    latitude: npt.ArrayLike, longitude: npt.ArrayLike
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Latitude and longitude as arrays of one shape.

    Raises
    ------
    ValueError
        If one is out of range.
    """
    lat, lon = np.broadcast_arrays(np.asarray(latitude, float), np.asarray(longitude, float))
    within("latitude", lat, -90.0, 90.0)
    within("longitude", lon, -180.0, 180.0)
    return lat, lon


def within(name: str, values: npt.NDArray[np.float64], low: float, high: float) -> None:
    """Raise ValueError with name, value and limits where a value is out of range; NaN passes."""
    bad = (values < low) | (values > high)
    if np.any(bad):
        raise ValueError(f"{name} must be {low:g} to {high:g}; {np.asarray(values)[bad].flat[0]:g} was given")
