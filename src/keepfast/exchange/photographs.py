"""Photographs: when and where by their EXIF, with the camera's clock put right by one photographed clock.

The pixels are never unpacked. What the camera wrote is kept beside what it means.
"""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from keepfast.exchange.files import read_bytes
from keepfast.exchange.safe_files import LIMIT_BYTES, PICTURES, exif_of, open_picture, plain_name
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

GPS_APART_S = 120.0  # a camera clock further from satellite time than this is worth a word


@dataclass(frozen=True)
class Photograph:
    """
    A photograph as its file tells it.

    ``camera_time`` is what the camera's clock showed, without offset; ``camera_offset`` the offset it believed in,
    where it wrote one. ``gps_at`` is satellite time. ``latitude`` and ``longitude`` are in ``datum`` as the camera
    named it, empty where it did not. ``taken_at`` is None until ``with_time`` has been asked.
    """

    file: str
    sha256: str
    size_bytes: int
    media_type: str
    width: int
    height: int
    camera: str
    verbatim_time: str
    camera_time: datetime.datetime | None
    camera_offset: datetime.timezone | None
    gps_at: datetime.datetime | None
    latitude: float | None
    longitude: float | None
    elevation_m: float | None
    accuracy_m: float | None
    datum: str
    author: str
    taken_at: datetime.datetime | None = None
    clock_offset_s: float | None = None
    findings: tuple[Finding, ...] = ()


def read_photograph(path: str | Path) -> Photograph:
    """
    Time, place and identity of a photograph.

    Raises
    ------
    FindingsError
        If the file is missing, is no picture that is known here, is damaged, or unpacks beyond reason.
    """
    raw, sha256 = read_bytes(path, LIMIT_BYTES)
    return read_raw_photograph(raw, plain_name(path), sha256)


def read_raw_photograph(raw: bytes, name: str, sha256: str) -> Photograph:
    """As ``read_photograph``, from bytes already at hand."""
    with open_picture(raw, name) as picture:
        kind = PICTURES.get(picture.format or "")
        if kind is None:
            raise FindingsError([Finding(_("this sort of picture is not read"), _("Save it as JPEG."), file=name)])
        width, height = picture.size
        exif = exif_of(picture)
    findings: list[Finding] = []
    verbatim = _words(exif.get("DateTimeOriginal")) or _words(exif.get("DateTimeDigitized"))
    camera_time = _camera_time(verbatim)
    if verbatim and camera_time is None:
        findings.append(Finding(_("the camera's time cannot be read"), weight="doubt", file=name, read=verbatim[:80]))
    if not verbatim:
        findings.append(Finding(_("this photograph carries no time"), weight="doubt", file=name))
    offset = _offset(_words(exif.get("OffsetTimeOriginal")) or _words(exif.get("OffsetTime")))
    gps = exif.get("GPS") or {}
    latitude, longitude = _degrees(gps, "Latitude", 90.0), _degrees(gps, "Longitude", 180.0)
    if _words(gps.get("GPSStatus")).upper().startswith("V"):
        latitude = longitude = None  # the receiver itself called this fix void
    if (latitude is None) != (longitude is None) or (latitude == 0 and longitude == 0):
        findings.append(
            Finding(_("the place in this photograph is not whole and was not taken"), weight="doubt", file=name)
        )
        latitude = longitude = None
    elevation = _number(gps.get("GPSAltitude"))
    if elevation is not None:
        elevation = -elevation if _is_one(gps.get("GPSAltitudeRef")) else elevation
        elevation = elevation if -11_000 <= elevation <= 9_000 else None
    accuracy = _number(gps.get("GPSHPositioningError"))
    return Photograph(
        file=name,
        sha256=sha256,
        size_bytes=len(raw),
        media_type=kind,
        width=width,
        height=height,
        camera=" ".join(p for p in (_words(exif.get("Make")), _words(exif.get("Model"))) if p)[:120],
        verbatim_time=verbatim[:80],
        camera_time=camera_time,
        camera_offset=offset,
        gps_at=_gps_time(gps),
        latitude=latitude,
        longitude=longitude,
        elevation_m=elevation,
        accuracy_m=accuracy if accuracy is not None and 0 < accuracy < 100_000 else None,
        datum=_words(gps.get("GPSMapDatum"))[:40],
        author=_words(exif.get("Artist"))[:200],
        findings=tuple(findings),
    )


def clock_correction(photograph: Photograph, clock_showed: datetime.datetime) -> datetime.timedelta:
    """
    What must be added to the camera's clock, from a photograph of a clock that was right.

    Parameters
    ----------
    photograph : Photograph
        The photograph of the clock.
    clock_showed : datetime
        What the clock in it shows, with its offset.

    Raises
    ------
    FindingsError
        If the photograph carries no time.
    ValueError
        If ``clock_showed`` has no offset.
    """
    if clock_showed.utcoffset() is None:
        raise ValueError(f"clock_showed must carry an offset; {clock_showed.isoformat()} was given")
    if photograph.camera_time is None:
        raise FindingsError(
            [
                Finding(
                    _("the photograph of the clock carries no time"),
                    _("Choose another in which the clock can be read."),
                    file=photograph.file,
                )
            ]
        )
    return clock_showed.replace(tzinfo=None) - photograph.camera_time


def with_time(
    photograph: Photograph,
    zone: ZoneInfo,
    correction: datetime.timedelta | None = None,
    clock_offset: datetime.timezone | None = None,
) -> Photograph:
    """
    The photograph with the moment it was taken.

    Parameters
    ----------
    photograph : Photograph
        As read.
    zone : ZoneInfo
        Zone of a camera clock that states no offset and was not put right by a photographed clock.
    correction : timedelta, optional
        From ``clock_correction``; added to the camera's clock as it stands, whatever offset it believed in.
    clock_offset : timezone, optional
        Offset of the clock that was photographed; corrected times are in it.
    """
    if photograph.camera_time is None:
        return replace(photograph, taken_at=photograph.gps_at)
    findings = list(photograph.findings)
    seconds: float | None = None
    try:
        if correction is not None:
            taken = (photograph.camera_time + correction).replace(tzinfo=clock_offset or zone)
            seconds = correction.total_seconds()
        elif photograph.camera_offset is not None:
            taken = photograph.camera_time.replace(tzinfo=photograph.camera_offset)
        else:
            taken = photograph.camera_time.replace(tzinfo=zone)
        apart = (photograph.gps_at - taken).total_seconds() if photograph.gps_at is not None else 0.0
        taken = taken.astimezone(datetime.timezone(taken.utcoffset() or datetime.timedelta()))
    except OverflowError:
        findings.append(Finding(_("the camera's time cannot be read"), weight="doubt", file=photograph.file))
        return replace(photograph, findings=tuple(findings))
    if abs(apart) > GPS_APART_S:
        findings.append(
            Finding(
                _("the camera's clock and its satellite time are {minutes:.0f} minutes apart").format(
                    minutes=abs(apart) / 60
                ),
                _("Photograph a clock that is right, and name that photograph with --clock-photo.")
                if correction is None
                else _("Look again at what the photographed clock shows."),
                "doubt",
                photograph.file,
            )
        )
    return replace(photograph, taken_at=taken, clock_offset_s=seconds, findings=tuple(findings))


# -- values as cameras write them ------------------------------------------------------------------------------------


def _words(value: Any) -> str:
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    if not isinstance(value, str):
        return ""
    return " ".join(re.sub(r"[\x00-\x1f\x7f]", " ", value).split())


def _camera_time(text: str) -> datetime.datetime | None:
    match = re.fullmatch(r"(\d{4})[:\-/](\d{2})[:\-/](\d{2})[ T](\d{2}):(\d{2}):(\d{2})(?:\.\d+)?.*", text)
    if match is None:
        return None
    try:
        return datetime.datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]
    except ValueError:
        return None


def _offset(text: str) -> datetime.timezone | None:
    if text in ("Z", "UTC"):
        return datetime.UTC
    match = re.fullmatch(r"([+-])(\d{2}):?(\d{2})", text)
    if match is None:
        return None
    minutes = int(match[2]) * 60 + int(match[3])
    if minutes > 15 * 60:
        return None
    return datetime.timezone(datetime.timedelta(minutes=minutes if match[1] == "+" else -minutes))


def _number(value: Any) -> float | None:
    try:
        number = float(value)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return number if math.isfinite(number) else None


def _is_one(value: Any) -> bool:
    return value in (1, b"\x01", "1")


def _degrees(gps: dict[str, Any], name: str, limit: float) -> float | None:
    parts = gps.get(f"GPS{name}")
    side = _words(gps.get(f"GPS{name}Ref")).upper()[:1]
    if not isinstance(parts, tuple | list) or not 1 <= len(parts) <= 3 or side not in ("N", "S", "E", "W"):
        return None
    numbers = [_number(part) for part in parts]
    if any(n is None or n < 0 for n in numbers) or any((n or 0) >= 60.0 for n in numbers[1:]):
        return None
    if (name == "Latitude") != (side in "NS"):
        return None
    value = sum((n or 0.0) / 60.0**i for i, n in enumerate(numbers))
    if value > limit:
        return None
    return -value if side in "SW" else value


def _gps_time(gps: dict[str, Any]) -> datetime.datetime | None:
    day = re.fullmatch(r"(\d{4})[:\-](\d{2})[:\-](\d{2})", _words(gps.get("GPSDateStamp")))
    clock = gps.get("GPSTimeStamp")
    if day is None or not isinstance(clock, tuple | list) or len(clock) != 3:
        return None
    parts = [_number(part) for part in clock]
    if any(part is None for part in parts):
        return None
    hour, minute, second = (part or 0.0 for part in parts)
    try:
        start = datetime.datetime(int(day[1]), int(day[2]), int(day[3]), tzinfo=datetime.UTC)
        if not (0 <= hour < 24 and 0 <= minute < 60 and 0 <= second < 61):
            return None
        return start + datetime.timedelta(hours=hour, minutes=minute, seconds=second)
    except (ValueError, OverflowError):
        return None
