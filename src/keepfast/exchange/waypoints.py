"""GPX: waypoints and tracks, and where the receiver was at a given time."""

from __future__ import annotations

import bisect
import datetime
import math
from dataclasses import dataclass
from pathlib import Path
from xml.etree.ElementTree import Element

from keepfast.exchange.files import read_bytes
from keepfast.exchange.safe_files import LIMIT_BYTES, elements, plain_name
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

MOST_FINDINGS = 200
LONGEST_GAP_S = 600.0  # between two track points; a receiver writes one every few seconds to minutes
NEAR_S = 300.0  # a waypoint further off in time does not say where somebody was


@dataclass(frozen=True)
class Waypoint:
    """A marked place: its name, coordinates on WGS84, time with offset where known, and where it stood in the file."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float | None
    at: datetime.datetime | None
    words: str  # comment and description
    number: int  # counted from 1 in the file


@dataclass(frozen=True)
class TrackPoint:
    """A point of a track; ``segment`` changes where the receiver was off."""

    latitude: float
    longitude: float
    elevation_m: float | None
    at: datetime.datetime
    segment: int


@dataclass(frozen=True)
class Gpx:
    """What a GPX file holds, track points in order of time, and what is doubtful in it."""

    waypoints: tuple[Waypoint, ...]
    track: tuple[TrackPoint, ...]
    findings: tuple[Finding, ...]
    sha256: str
    name: str


@dataclass(frozen=True)
class Position:
    """Where the receiver was: how that is known (``waypoint``, ``track``), and how far in time from a fix."""

    latitude: float
    longitude: float
    elevation_m: float | None
    how: str
    apart_s: float
    name: str = ""
    spread_m: float = 0.0  # half the way between the two track points


def read_gpx(path: str | Path) -> Gpx:
    """
    Waypoints and tracks of a GPX file, version 1.0 or 1.1.

    Raises
    ------
    FindingsError
        If the file is missing or no GPX, or if any waypoint has no place on the Earth: all of them at once.
    """
    raw, sha256 = read_bytes(path, LIMIT_BYTES)
    return read_raw_gpx(raw, plain_name(path), sha256)


def read_raw_gpx(raw: bytes, name: str, sha256: str) -> Gpx:
    """As ``read_gpx``, from bytes already at hand."""
    waypoints: list[Waypoint] = []
    points: list[TrackPoint] = []
    wrong: list[Finding] = []
    doubts: list[Finding] = []
    segment = number = bad_points = untimed = 0
    root = ""
    without_offset = 0
    for event, element in elements(raw, name):
        tag = _local(element)
        if event == "start":
            if not root:
                root = tag
                if root != "gpx":
                    raise FindingsError([Finding(_("this is not GPX"), _("Export it as GPX."), file=name)])
            if tag == "trkseg":
                segment += 1
            continue
        if tag == "wpt":
            number += 1
            place = _place(element)
            if place is None:
                wrong.append(
                    Finding(
                        _("this waypoint has no latitude and longitude on the Earth"),
                        _("Take it out of the file, or export it again."),
                        file=name,
                        row=number,
                        subject=_text(element, "name")[:80],
                        read=f"{element.get('lat', '')}, {element.get('lon', '')}"[:80],
                    )
                )
            else:
                at, stated = _time(element)
                without_offset += at is not None and not stated
                words = ", ".join(p for p in (_text(element, "cmt"), _text(element, "desc")) if p)
                waypoints.append(Waypoint(_text(element, "name"), *place, _elevation(element), at, words, number))
            element.clear()
        elif tag == "trkpt":
            place = _place(element)
            at, stated = _time(element)
            without_offset += at is not None and not stated
            if place is None:
                bad_points += 1
            elif at is None:
                untimed += 1
            else:
                points.append(TrackPoint(*place, _elevation(element), at, segment))
            element.clear()
        elif tag in ("trkseg", "rte", "extensions"):
            element.clear()
    if not root:
        raise FindingsError([Finding(_("this file is empty"), _("Export it again."), file=name)])
    if wrong:
        more = len(wrong) - MOST_FINDINGS
        wrong = wrong[:MOST_FINDINGS]
        if more > 0:
            wrong.append(Finding(_("{count} more waypoints like these").format(count=more), file=name))
        raise FindingsError(wrong)
    for count, words, weight in (
        (bad_points, _("{count} track points have no place on the Earth and were left out"), "doubt"),
        (untimed, _("{count} track points have no time and were left out"), "note"),
        (without_offset, _("{count} times have no offset; they were read as UTC, as GPX asks"), "note"),
    ):
        if count:
            doubts.append(Finding(words.format(count=count), weight=weight, file=name))  # type: ignore[arg-type]
    points.sort(key=lambda point: point.at)
    return Gpx(tuple(waypoints), tuple(points), tuple(doubts), sha256, name)


def _local(element: Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _text(element: Element, tag: str) -> str:
    for child in element:
        if _local(child) == tag:
            return " ".join((child.text or "").split())[:2000]
    return ""


def _place(element: Element) -> tuple[float, float] | None:
    try:
        latitude, longitude = float(element.get("lat", "")), float(element.get("lon", ""))
    except ValueError:
        return None
    if not (abs(latitude) <= 90 and abs(longitude) <= 180):  # NaN fails here too
        return None
    return latitude, longitude


def _elevation(element: Element) -> float | None:
    try:
        value = float(_text(element, "ele") or "nan")
    except ValueError:
        return None
    return value if math.isfinite(value) and -11_000 <= value <= 9_000 else None


def _time(element: Element) -> tuple[datetime.datetime | None, bool]:
    """The moment and whether it stated its offset; GPX times are UTC by the standard."""
    text = _text(element, "time")
    if not text:
        return None, True
    try:
        at = datetime.datetime.fromisoformat(text)
        if at.utcoffset() is None:
            return at.replace(tzinfo=datetime.UTC), False
        # A moment at the edge of the calendar cannot be moved to UTC and is none.
        at.astimezone(datetime.UTC)
        return at, True
    except (ValueError, OverflowError):
        return None, True


def position_at(
    gpx: Gpx, moment: datetime.datetime, *, longest_gap_s: float = LONGEST_GAP_S, near_s: float = NEAR_S
) -> Position | None:
    """
    Where the receiver was at a moment: on the way between two track points, else at the nearest waypoint in time.

    Parameters
    ----------
    gpx : Gpx
        From ``read_gpx``.
    moment : datetime
        With an offset.
    longest_gap_s : float
        Track points further apart than this, or in different segments, say nothing about the time between.
    near_s : float
        A waypoint or a track's end counts within this many seconds.

    Returns
    -------
    Position or None
        None where nothing is near enough in time.
    """
    here = bisect.bisect_left(gpx.track, moment, key=lambda point: point.at)
    if here < len(gpx.track) and gpx.track[here].at == moment:
        point = gpx.track[here]
        return Position(point.latitude, point.longitude, point.elevation_m, "track", 0.0)
    if 0 < here < len(gpx.track):
        a, b = gpx.track[here - 1], gpx.track[here]
        gap = (b.at - a.at).total_seconds()
        if a.segment == b.segment and gap <= longest_gap_s:
            return _between(a, b, moment, gap)
    candidates: list[Position] = [
        Position(w.latitude, w.longitude, w.elevation_m, "waypoint", abs((w.at - moment).total_seconds()), w.name)
        for w in gpx.waypoints
        if w.at is not None
    ]
    candidates += [
        Position(p.latitude, p.longitude, p.elevation_m, "track", abs((p.at - moment).total_seconds()))
        for p in gpx.track[max(0, here - 1) : here + 1]
    ]
    near = [c for c in candidates if c.apart_s <= near_s]
    return min(near, key=lambda c: c.apart_s) if near else None


def _between(a: TrackPoint, b: TrackPoint, moment: datetime.datetime, gap: float) -> Position:
    """The place at a share of the geodesic between two points."""
    from geographiclib.geodesic import Geodesic

    line = Geodesic.WGS84.InverseLine(a.latitude, a.longitude, b.latitude, b.longitude)
    share = (moment - a.at).total_seconds() / gap
    there = line.Position(share * line.s13)
    elevation = None
    if a.elevation_m is not None and b.elevation_m is not None:
        elevation = a.elevation_m + share * (b.elevation_m - a.elevation_m)
    apart = min(share, 1 - share) * gap
    return Position(there["lat2"], there["lon2"], elevation, "track", apart, "", line.s13 / 2)
