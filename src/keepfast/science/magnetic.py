"""Magnetic declination: how far a compass points from true north, and how sure that is."""

from __future__ import annotations

import calendar
import datetime
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.place_datum import checked, within
from keepfast.science.tables import load


class Declination(NamedTuple):
    """Degrees that magnetic north lies east of true north, one standard deviation, and the model that said so."""

    degrees: Any
    uncertainty_degrees: Any
    model: str
    weak_field: Any


def decimal_year(date: datetime.date) -> float:
    """A date as a year with its fraction, a moment's hour included where it has one."""
    days = 366 if calendar.isleap(date.year) else 365
    hours = (date.hour + date.minute / 60) if isinstance(date, datetime.datetime) else 0.0
    return date.year + (date.timetuple().tm_yday - 1 + hours / 24) / days


def years() -> tuple[int, int]:
    """The first year covered, and the year at whose beginning the newest model here ends."""
    rows = load("noaa-bgs-wmm-models").rows
    return min(int(r["base_year"]) for r in rows), max(int(r["until"]) for r in rows)


@cache
def _model(base_year: int) -> Any:
    from pygeomag import GeoMag

    return GeoMag(base_year=base_year)


def declination(
    latitude: npt.ArrayLike,
    longitude: npt.ArrayLike,
    date: datetime.date | float,
    height_m: npt.ArrayLike = 0.0,
) -> Declination:
    """
    Magnetic declination by the World Magnetic Model of the date.

    Parameters
    ----------
    latitude, longitude : array_like
        On WGS84. [degree]
    date : datetime.date or float
        When the bearing was taken, or a year with its fraction. Valid from 2010 until the newest model here ends.
    height_m : array_like, default 0.0
        Above the ellipsoid. [m]  Valid -1000 to 850000. Broadcasts with latitude.

    Returns
    -------
    Declination
        ``degrees``, east positive: add them to a magnetic bearing to get the true one; ``uncertainty_degrees``, one
        standard deviation of the model against the Earth as it is; ``model``; ``weak_field``, True where the
        horizontal field is so weak that a compass is not to be trusted.

    Raises
    ------
    ValueError
        If the date lies outside all models, or a place is out of range.

    Notes
    -----
    The model knows the core of the Earth, not the rock or the knife nearby: iron-rich rock may add many degrees.
    Each model is valid for five years and is replaced by the next; dates are served by the model of their own years.

    References
    ----------
    .. [1] NOAA and British Geological Survey, World Magnetic Model 2010, 2015v2, 2020, 2025; coefficients as carried
       by pygeomag 1.1.0. (read at second hand)
    """
    lat, lon = checked(latitude, longitude)
    height = np.asarray(height_m, float)
    within("height_m", height, -1000.0, 850_000.0)
    year = decimal_year(date) if isinstance(date, datetime.date) else float(date)
    first, last = years()
    if not first <= year < last:
        raise ValueError(
            f"date must be from {first} to the end of {last - 1}, the years of the models; {date} was given"
        )
    table = load("noaa-bgs-wmm-models")
    row = next(r for r in table.rows if r["base_year"] <= year < r["until"])
    model = _model(int(row["base_year"]))
    lat, lon, height = np.broadcast_arrays(lat, lon, height)
    degrees, doubt, weak = np.full(lat.shape, np.nan), np.full(lat.shape, np.nan), np.zeros(lat.shape, bool)
    for index in np.ndindex(lat.shape):
        if np.isnan(lat[index] + lon[index] + height[index]):
            continue
        field = model.calculate(
            glat=float(lat[index]), glon=float(lon[index]), alt=float(height[index]) / 1000.0, time=year
        )
        degrees[index] = field.d
        doubt[index] = np.hypot(row["floor_degrees"], row["slope_nt_degrees"] / field.h)
        weak[index] = field.h < table.value("weak_field_nt")
    if lat.ndim == 0:
        return Declination(float(degrees), float(doubt), str(row["model"]), bool(weak))
    return Declination(degrees, doubt, str(row["model"]), weak)
