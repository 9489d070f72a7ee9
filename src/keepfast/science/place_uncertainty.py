"""Each source of a place's uncertainty on its own, and geodesics on the ellipsoid; arrays in, arrays out."""

from __future__ import annotations

import datetime
import math
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.science.place_datum import Numbers, checked, within
from keepfast.science.tables import load


def _result(values: npt.NDArray[Any]) -> Any:
    return float(values) if np.ndim(values) == 0 else values


def precision_uncertainty_m(latitude: npt.ArrayLike, step_degrees: npt.ArrayLike) -> Numbers:
    """
    How far a place may lie from coordinates that were written to a step of degrees.

    Parameters
    ----------
    latitude : array_like
        [degree]  Valid -90 to 90.
    step_degrees : array_like
        The step as written, whole and not half. [degree]  Valid 0 to 180. Broadcasts with latitude.

    Returns
    -------
    ndarray or float
        [m]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    sqrt((p M)^2 + (p N cos f)^2), p the step in radians, f the latitude, M and N the radii of curvature of WGS84 along
    the meridian and across it. It reproduces the guide's table of 52 cells to 1 m; the guide calls its cells rounded
    up, but several are not.

    References
    ----------
    .. [1] Wieczorek, Guo and Hijmans 2004, IJGIS 18:745-767, doi:10.1080/13658810412331280211. (the formula from
       memory, unverified)
    .. [2] Chapman and Wieczorek 2020, section 3.4.3, doi:10.15468/doc-gg7h-s853. (the table; read)

    Examples
    --------
    The guide's own: latitude 10.27 at 0.01 degree gives 1.5568 km.

    >>> round(precision_uncertainty_m(10.27, 0.01), 1)
    1556.8
    """
    lat, step = np.asarray(latitude, float), np.asarray(step_degrees, float)
    within("latitude", lat, -90.0, 90.0)
    within("step_degrees", step, 0.0, 180.0)
    meridian_m, across_m = _radii_m(lat)
    p = np.radians(step)
    return _result(np.hypot(p * meridian_m, p * across_m * np.cos(np.radians(lat))))  # type: ignore[no-any-return]


def _radii_m(latitude: npt.NDArray[np.float64]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    table = load("epsg-7030-wgs84-ellipsoid")
    a, f = table.value("semi_major_axis_m"), 1.0 / table.value("inverse_flattening")
    e2 = f * (2.0 - f)
    root = 1.0 - e2 * np.sin(np.radians(latitude)) ** 2
    return a * (1.0 - e2) / root**1.5, a / np.sqrt(root)


def grid_uncertainty_m(step_m: npt.ArrayLike, *, centre: bool = True) -> Numbers:
    """
    How far a place may lie from a grid square's centre, or from a grid point that was rounded or cut off.

    Parameters
    ----------
    step_m : array_like
        Side of the square, or step of easting and northing. [m]  Valid 0 to 1,000,000.
    centre : bool, default True
        True: the coordinates are the square's centre, so half its diagonal. False: nobody knows whether the numbers
        were rounded or cut off, so a whole diagonal.

    Returns
    -------
    ndarray or float
        [m]

    Raises
    ------
    ValueError
        If the step is out of range.

    Notes
    -----
    Half the diagonal agrees with the default radials of 10 m and 1 km grids in Zermoglio et al. 2020 (read); for 1 m
    that guide has 1 m in its table and 0.707 m in its text.
    """
    step = np.asarray(step_m, float)
    within("step_m", step, 0.0, 1_000_000.0)
    return _result(step * math.sqrt(2.0) * (0.5 if centre else 1.0))  # type: ignore[no-any-return]


def offset_uncertainty_m(
    distance_m: npt.ArrayLike,
    distance_step_m: npt.ArrayLike,
    half_angle_degrees: npt.ArrayLike,
    other_m: npt.ArrayLike = 0.0,
) -> Numbers:
    """
    How far a place may lie from the end of "distance at a heading".

    Parameters
    ----------
    distance_m : array_like
        The offset as written. [m]  Valid 0 to 20,004,000.
    distance_step_m : array_like
        Step that the number implies (``distance_step``); half of it counts along the line. [m]
    half_angle_degrees : array_like
        What the heading leaves open to either side (``heading``). [degree]  Valid 0 to 180.
    other_m : array_like, default 0.0
        All other sources: extent of the feature, its coordinates, datum, map. [m]

    Returns
    -------
    ndarray or float
        [m]

    Raises
    ------
    ValueError
        If an argument is out of range.

    Notes
    -----
    With D the distance, u half its step and a the half-angle, the farthest corner of the ring sector lies at
    sqrt(D^2 + (D+u)^2 - 2 D (D+u) cos a); ``other_m`` is added outside. That is a strict bound. The method's first
    paper may put the other sources into u, which gives less (5.73 instead of 7.03 km for D 10 km, u 0.5 km, a 22.5
    degrees, others 3 km); it was not read, so the bound is kept and the protocol is named as altered.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, doi:10.15468/doc-gg7h-s853. (heading and distance; read)
    .. [2] Wieczorek, Guo and Hijmans 2004, doi:10.1080/13658810412331280211. (abstract read)
    """
    distance, step = np.asarray(distance_m, float), np.asarray(distance_step_m, float)
    angle, other = np.asarray(half_angle_degrees, float), np.asarray(other_m, float)
    half_meridian = 20_004_000.0  # no two places are farther apart
    within("distance_m", distance, 0.0, half_meridian)
    within("distance_step_m", step, 0.0, half_meridian)
    within("half_angle_degrees", angle, 0.0, 180.0)
    within("other_m", other, 0.0, half_meridian)
    outer = distance + step / 2.0
    # (D - outer)^2 + 4 D outer sin^2(a/2) is the same, without the loss of digits at small angles.
    square = (outer - distance) ** 2 + 4.0 * distance * outer * np.sin(np.radians(angle) / 2.0) ** 2
    return _result(np.sqrt(square) + other)  # type: ignore[no-any-return]


def heading_uncertainty_m(distance_m: npt.ArrayLike, half_angle_degrees: npt.ArrayLike) -> Numbers:
    """
    The part of an offset's uncertainty that its heading alone makes: 2 D sin(a/2). [m]

    Parameters
    ----------
    distance_m : array_like
        [m]
    half_angle_degrees : array_like
        [degree]  Valid 0 to 180.

    Returns
    -------
    ndarray or float
        [m]

    Raises
    ------
    ValueError
        If an argument is out of range.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020: 10 km north-east gives 3.90 km. (read)
    """
    return offset_uncertainty_m(distance_m, 0.0, half_angle_degrees)


def orthogonal_uncertainty_m(distance_step_m: npt.ArrayLike, other_m: npt.ArrayLike = 0.0) -> Numbers:
    """
    How far a place may lie from the end of two offsets at right angles, as "8 km E and 6 km N".

    Parameters
    ----------
    distance_step_m : array_like
        The coarser step of the two distances. [m]
    other_m : array_like, default 0.0
        All other sources. [m]

    Returns
    -------
    ndarray or float
        [m]

    Raises
    ------
    ValueError
        If an argument is negative.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020: headings count as exact; 1 km gives 0.707 km. (read; that the other sources are
       added is from memory, unverified)
    """
    step, other = np.asarray(distance_step_m, float), np.asarray(other_m, float)
    within("distance_step_m", step, 0.0, 20_004_000.0)
    within("other_m", other, 0.0, 20_004_000.0)
    return _result(math.sqrt(2.0) * step / 2.0 + other)  # type: ignore[no-any-return]


def offset_end(
    latitude: npt.ArrayLike, longitude: npt.ArrayLike, bearing_degrees: npt.ArrayLike, distance_m: npt.ArrayLike
) -> tuple[Any, Any]:
    """
    Where a distance along a true bearing leads, on the ellipsoid.

    Parameters
    ----------
    latitude, longitude : array_like
        Where it begins, on WGS84. [degree]
    bearing_degrees : array_like
        Clockwise from true north; a magnetic bearing plus ``magnetic.declination``. [degree]  Valid -360 to 360.
    distance_m : array_like
        [m]  Valid 0 to 20,004,000.

    Returns
    -------
    tuple
        Latitude and longitude of the end. [degree]

    Raises
    ------
    ValueError
        If an argument is out of range.

    References
    ----------
    .. [1] Karney 2013, Algorithms for geodesics, J. Geodesy 87:43-55, as in geographiclib 2.1. (checked against the
       published test set)
    """
    from geographiclib.geodesic import Geodesic

    lat, lon = checked(latitude, longitude)
    bearing, distance = np.asarray(bearing_degrees, float), np.asarray(distance_m, float)
    within("bearing_degrees", bearing, -360.0, 360.0)
    within("distance_m", distance, 0.0, 20_004_000.0)
    arrays = np.broadcast_arrays(lat, lon, bearing, distance)
    end_lat, end_lon = np.full(arrays[0].shape, np.nan), np.full(arrays[0].shape, np.nan)
    for index in np.ndindex(arrays[0].shape):
        here = [float(values[index]) for values in arrays]
        if not any(math.isnan(v) for v in here):
            there = Geodesic.WGS84.Direct(*here, Geodesic.LATITUDE | Geodesic.LONGITUDE)
            end_lat[index], end_lon[index] = there["lat2"], there["lon2"]
    return _result(end_lat), _result(end_lon)


def orthogonal_end(
    latitude: npt.ArrayLike, longitude: npt.ArrayLike, east_m: npt.ArrayLike, north_m: npt.ArrayLike
) -> tuple[Any, Any]:
    """
    Where two offsets at right angles lead: one geodesic along the resultant, east and north positive. [degree]

    Raises
    ------
    ValueError
        If an argument is out of range.
    """
    east, north = np.asarray(east_m, float), np.asarray(north_m, float)
    return offset_end(latitude, longitude, np.degrees(np.arctan2(east, north)), np.hypot(east, north))


def distance_to_m(
    latitude: npt.ArrayLike, longitude: npt.ArrayLike, latitude_2: npt.ArrayLike, longitude_2: npt.ArrayLike
) -> Numbers:
    """
    Shortest way between two places on the ellipsoid. [m]

    Raises
    ------
    ValueError
        If a latitude or longitude is out of range.

    References
    ----------
    .. [1] Karney 2013, as in geographiclib 2.1.
    """
    from geographiclib.geodesic import Geodesic

    arrays = np.broadcast_arrays(*checked(latitude, longitude), *checked(latitude_2, longitude_2))
    apart = np.full(arrays[0].shape, np.nan)
    for index in np.ndindex(arrays[0].shape):
        here = [float(values[index]) for values in arrays]
        if not any(math.isnan(v) for v in here):
            apart[index] = Geodesic.WGS84.Inverse(*here, Geodesic.DISTANCE)["s12"]
    return _result(apart)  # type: ignore[no-any-return]


def gnss_uncertainty_m(shown_m: float | None, date: datetime.date | None) -> float:
    """
    Uncertainty of a satellite receiver's coordinates.

    Parameters
    ----------
    shown_m : float or None
        Accuracy that the receiver showed; twice it counts. None if nobody noted it. [m]
    date : datetime.date or None
        When it was read; a missing date counts as before May 2000.

    Raises
    ------
    ValueError
        If the accuracy is not above 0.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020 (twice the accuracy shown) and Zermoglio et al. 2020 (30 and 100 m). (read)
    """
    if shown_m is not None:
        if not shown_m > 0:
            raise ValueError(f"shown_m must be above 0; {shown_m!r} was given")
        return float(shown_m) * load("chapman-wieczorek-2020-point-radius").value("gnss_factor")
    day = date.date() if isinstance(date, datetime.datetime) else date
    rows = load("zermoglio-2020-gnss-defaults").rows
    if day is None:
        return max(float(row["accuracy_m"]) for row in rows)
    return float(next(row["accuracy_m"] for row in rows if day >= row["from"]))


MAP_RULES = ("half millimetre", "1947", "nssda")


def map_accuracy_m(scale_denominator: npt.ArrayLike, *, method: str = "half millimetre") -> Numbers:
    """
    How far a point printed on a map may lie from its place, by the map's scale.

    Parameters
    ----------
    scale_denominator : array_like
        50000 for 1:50,000.  Valid 100 to 100,000,000.
    method : {"half millimetre", "1947", "nssda"}
        Half a millimetre on the paper; the United States standard of 1947 (1/30 inch above 1:20,000, else 1/50); or
        1.14 times that.

    Returns
    -------
    ndarray or float
        [m]

    Raises
    ------
    ValueError
        If the scale is out of range or the method another.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, table of horizontal accuracy by scale. (read)
    """
    scale = np.asarray(scale_denominator, float)
    within("scale_denominator", scale, 100.0, 100_000_000.0)
    table = load("chapman-wieczorek-2020-map-accuracy")
    if method == "half millimetre":
        return _result(scale * table.value("half_millimetre_mm") / 1000.0)  # type: ignore[no-any-return]
    if method not in MAP_RULES:
        raise ValueError(f"method must be one of {', '.join(MAP_RULES)}; {method!r} was given")
    inch_m = 0.0254
    large = scale < table.value("large_scale_until")
    inches = 1.0 / np.where(large, table.value("large_scale_parts"), table.value("small_scale_parts"))
    factor = table.value("nssda_factor") if method == "nssda" else 1.0
    return _result(scale * inches * inch_m * factor)  # type: ignore[no-any-return]


def map_uncertainty_m(scale_denominator: npt.ArrayLike, *, method: str = "half millimetre") -> Numbers:
    """
    Uncertainty of a place measured on a paper map: a millimetre of ruler, and the map's own accuracy. [m]

    Raises
    ------
    ValueError
        As ``map_accuracy_m``.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020. (read)
    """
    ruler = load("chapman-wieczorek-2020-point-radius").value("map_reading_mm") / 1000.0
    own = map_accuracy_m(scale_denominator, method=method)
    return _result(np.asarray(scale_denominator, float) * ruler + np.asarray(own))  # type: ignore[no-any-return]


def default_radial_m(feature: str) -> float:
    """
    Geographic radial of a kind of feature whose extent cannot be measured. [m]

    Raises
    ------
    ValueError
        If the guide has no default for it.

    References
    ----------
    .. [1] Zermoglio et al. 2020, table of default geographic radials. (read in part)
    """
    rows = load("zermoglio-2020-default-radials").rows
    for row in rows:
        if feature.strip().lower() in (name.lower() for name in row["names"]):
            return float(row["radial_m"])
    known = ", ".join(name for row in rows for name in row["names"])
    raise ValueError(f"feature must be one of {known}; {feature!r} was given")
