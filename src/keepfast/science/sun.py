"""The sun over a place and a day: where it stands, when it rises and sets, and where a tent's shade lies.

Events are looked for from local midnight to local midnight. Sought within a UTC day they belong to the evening before
or the morning after at many longitudes, and nobody notices a minute's error.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.ranges import within

Array = npt.NDArray[np.float64]

HORIZON_DEG = -0.8333  # centre of the sun at rise and set: half a disc and refraction (Reda & Andreas 2003)
SCAN_MINUTES = 10
YEARS = (1900, 2100)  # for which the equations hold
LOWEST_FOR_SHADE_DEG = 3.0  # below this a shadow runs further than any camp


class Position(NamedTuple):
    """Azimuth from north through east, and elevation above the horizon with refraction. [degrees]"""

    azimuth_deg: Any
    elevation_deg: Any


class Shade(NamedTuple):
    """
    Shadow of a straight ridge. Lengths in metres, nan while the sun is too low or down.

    ``reach_m``: how far the shade's outer edge lies from the line beneath the ridge, measured square to it;
    ``toward_deg``: the side it lies on, as a bearing square to the ridge; ``length_m``: of the shadow of a single pole
    of that height; ``azimuth_deg``: where that shadow points.
    """

    reach_m: Any
    toward_deg: Any
    length_m: Any
    azimuth_deg: Any


@dataclass(frozen=True)
class Day:
    """One local day of the sun; what does not happen is None. ``always`` is "up", "down" or "" when it does both."""

    date: datetime.date
    sunrise: datetime.datetime | None
    noon: datetime.datetime
    sunset: datetime.datetime | None
    noon_elevation_deg: float
    always: str


def _aware(when: datetime.datetime) -> datetime.datetime:
    if when.tzinfo is None:
        raise ValueError(f"when must carry an offset; {when.isoformat()} was given")
    return when


def position(when: datetime.datetime, latitude_deg: float, longitude_deg: float) -> Position:
    """
    Where the sun stands.

    Parameters
    ----------
    when : datetime
        With an offset.
    latitude_deg, longitude_deg : float
        WGS 84, north and east positive. [degrees]

    Returns
    -------
    Position
        Azimuth and elevation as seen, refraction included. [degrees]

    Raises
    ------
    ValueError
        If ``when`` has no offset or the place is not on Earth.

    Notes
    -----
    From the astral library (equations of J. Meeus as used by NOAA). Within 0.005 degree of the reference case of the
    solar position algorithm of Reda & Andreas. Good for 1900 to 2100; refraction is that of a standard atmosphere.
    """
    from astral import Observer
    from astral.sun import azimuth, elevation

    within("latitude_deg", latitude_deg, -90.0, 90.0)
    within("longitude_deg", longitude_deg, -180.0, 180.0)
    here = Observer(latitude_deg, longitude_deg, 0.0)
    return Position(float(azimuth(here, _aware(when))), float(elevation(here, when, with_refraction=True)))


def _true_elevation(when: datetime.datetime, latitude_deg: float, longitude_deg: float) -> float:
    """Without refraction, which the horizon's own angle already holds."""
    from astral import Observer
    from astral.sun import elevation

    return float(elevation(Observer(latitude_deg, longitude_deg, 0.0), when, with_refraction=False))


def day(date: datetime.date, latitude_deg: float, longitude_deg: float, zone: datetime.tzinfo) -> Day:
    """
    Sunrise, noon and sunset of one local day, from local midnight to local midnight.

    Parameters
    ----------
    date : date
        The day as the people there call it.
    latitude_deg, longitude_deg : float
        WGS 84. [degrees]
    zone : tzinfo
        The zone of the clocks there.

    Returns
    -------
    Day
        Times in that zone. With a free horizon at the observer's own height: hills hide the sun earlier.

    Raises
    ------
    ValueError
        If the place is not on Earth or the year not from 1900 to 2100.

    Notes
    -----
    Rise and set are where the centre of the sun is 0.8333 degree below the horizon. Found by scanning the day and
    halving the interval to a second, so polar days and nights, and days of 23 or 25 hours, need no special case.
    """
    within("latitude_deg", latitude_deg, -90.0, 90.0)
    within("longitude_deg", longitude_deg, -180.0, 180.0)
    within("date", date.year, *YEARS)
    utc = datetime.UTC
    first = datetime.datetime.combine(date, datetime.time(), zone).astimezone(utc)
    last = datetime.datetime.combine(date + datetime.timedelta(days=1), datetime.time(), zone).astimezone(utc)
    count = int((last - first).total_seconds() // (60 * SCAN_MINUTES)) + 1
    times = [first + datetime.timedelta(minutes=SCAN_MINUTES * i) for i in range(count)]
    if times[-1] < last:
        times.append(last)
    above = np.array([_true_elevation(t, latitude_deg, longitude_deg) for t in times]) - HORIZON_DEG

    def crossing(i: int) -> datetime.datetime:
        low, high = times[i], times[i + 1]
        rising = above[i] < 0
        while (high - low).total_seconds() > 0.5:
            middle = low + (high - low) / 2
            up = _true_elevation(middle, latitude_deg, longitude_deg) > HORIZON_DEG
            low, high = (low, middle) if up == rising else (middle, high)
        return high.astimezone(zone)

    ups = np.flatnonzero((above[:-1] < 0) & (above[1:] >= 0))
    downs = np.flatnonzero((above[:-1] >= 0) & (above[1:] < 0))
    top = int(np.argmax(above))
    low, high = times[max(top - 1, 0)], times[min(top + 1, len(times) - 1)]
    while (high - low).total_seconds() > 1.0:
        a, b = low + (high - low) / 3, high - (high - low) / 3
        if _true_elevation(a, latitude_deg, longitude_deg) < _true_elevation(b, latitude_deg, longitude_deg):
            low = a
        else:
            high = b
    always = "" if ups.size or downs.size else ("up" if above[0] > 0 else "down")
    return Day(
        date=date,
        sunrise=crossing(int(ups[0])) if ups.size else None,
        noon=low.astimezone(zone),
        sunset=crossing(int(downs[-1])) if downs.size else None,
        noon_elevation_deg=position(low, latitude_deg, longitude_deg).elevation_deg,
        always=always,
    )


def shade(
    azimuth_deg: npt.ArrayLike, elevation_deg: npt.ArrayLike, height_m: npt.ArrayLike, bearing_deg: npt.ArrayLike
) -> Shade:
    """
    Where the shade of a tent's ridge (or of a wall or a line with a tarpaulin) falls.

    Parameters
    ----------
    azimuth_deg, elevation_deg : array_like
        Of the sun. [degrees]  They broadcast with the rest.
    height_m : array_like
        Of the ridge above the ground. [m]  Valid 0.1 to 30.
    bearing_deg : array_like
        Along which the ridge runs (either way). [degrees]  Valid 0 to 360.

    Returns
    -------
    Shade
        The edge of the shade: how far from the ridge's foot, and on which side.

    Raises
    ------
    ValueError
        If height or bearing are outside their limits.

    Notes
    -----
    A pole of height h throws a shadow h / tan(elevation) long, away from the sun. Square to a ridge that shadow is
    worth the sine of the angle between them: a ridge that points at the sun has no shady side. Flat ground.
    Below 3 degrees of elevation nothing is given.
    """
    height = within("height_m", height_m, 0.1, 30.0)
    bearing = within("bearing_deg", bearing_deg, 0.0, 360.0)
    azimuth, elevation, height, bearing = np.broadcast_arrays(
        np.asarray(azimuth_deg, dtype=float), np.asarray(elevation_deg, dtype=float), height, bearing
    )
    usable = (elevation >= LOWEST_FOR_SHADE_DEG) & np.isfinite(azimuth) & np.isfinite(height) & np.isfinite(bearing)
    safe = np.where(usable, elevation, 45.0)
    length = np.where(usable, height / np.tan(np.radians(safe)), np.nan)
    away = (azimuth + 180.0) % 360.0
    across = np.sin(np.radians(away - bearing))
    toward = np.where(usable, (bearing + np.where(across >= 0, 90.0, 270.0)) % 360.0, np.nan)
    answers = (length * np.abs(across), toward, length, np.where(usable, away, np.nan))
    return Shade(*(float(a) if np.ndim(a) == 0 else np.asarray(a) for a in answers))


def coolest_window(hours: npt.ArrayLike, temperature_c: npt.ArrayLike, length_h: float) -> tuple[float, float]:
    """
    The start of the coolest stretch of a record, and its mean temperature.

    Parameters
    ----------
    hours : array_like
        Rising, one-dimensional; straight lines run between readings. [h]
    temperature_c : array_like
        At those hours. [degrees C]
    length_h : float
        How long a stretch. [h]  It must fit into the record.

    Returns
    -------
    tuple
        Hour at which it starts, and mean temperature over it. [h], [degrees C]

    Raises
    ------
    ValueError
        If the record is shorter than the stretch or has fewer than two readings.
    """
    times, warm = np.asarray(hours, dtype=float), np.asarray(temperature_c, dtype=float)
    if times.ndim != 1 or times.size < 2 or times.shape != warm.shape:
        raise ValueError("hours and temperature_c must be lists of one length, 2 or more")
    span = float(times[-1] - times[0])
    if not 0 < length_h <= span:
        raise ValueError(f"length_h must be above 0 and at most {span:g}; {length_h:g} was given")
    total = np.concatenate([[0.0], np.cumsum(0.5 * (warm[1:] + warm[:-1]) * np.diff(times))])
    fine = np.linspace(times[0], times[-1], max(int(span * 12), 2) + 1)
    # The running integral of straight lines, exact at readings and close between them.
    running = np.interp(fine, times, total)
    starts = fine[fine <= times[-1] - length_h + 1e-9]
    mean = (np.interp(starts + length_h, fine, running) - np.interp(starts, fine, running)) / length_h
    best = int(np.argmin(mean))
    return float(starts[best]), float(mean[best])
