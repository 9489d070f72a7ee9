"""Coordinates in the texts of other standards: ISO 6709, geo: addresses and well-known text."""

from __future__ import annotations

import re

from keepfast.science.place_datum import WGS84, PlaceError
from keepfast.science.place_text import Coordinates, check_range, degrees, written_step


def iso_6709(text: str) -> tuple[Coordinates, str] | None:
    """ISO 6709:2008, annex H (from memory, unverified): +DD.DD+DDD.DD/, +DDMM.M..., +DDMMSS.S..., height dropped."""
    match = re.fullmatch(
        r"([+-])(\d{2}|\d{4}|\d{6})(\.\d+)?([+-])(\d{3}|\d{5}|\d{7})(\.\d+)?([+-]\d+(?:\.\d+)?)?(CRS\w*)?/", text
    )
    if match is None:
        return None
    if len(match[5]) != len(match[2]) + 1:
        raise PlaceError("latitude and longitude are written to different parts: {text!r}", text=text)

    def one(sign: str, whole: str, decimals: str | None, lead: int) -> tuple[float, float]:
        parts = [whole[:lead], *(whole[i : i + 2] for i in range(lead, len(whole), 2))]
        parts[-1] += decimals or ""
        value, step = degrees(parts)
        return (-value if sign == "-" else value), step

    latitude, step_a = one(match[1], match[2], match[3], 2)
    longitude, step_b = one(match[4], match[5], match[6], 3)
    check_range(latitude, longitude)
    crs_name = match[8] or ""
    datum = WGS84 if crs_name.upper().replace("_", "") in ("CRSWGS84",) else None
    return Coordinates(latitude, longitude, min(step_a, step_b), None, datum), "ISO 6709"


def geo_uri(text: str) -> tuple[Coordinates, str] | None:
    """RFC 5870 (from memory, unverified): latitude, longitude on WGS84."""
    match = re.fullmatch(
        r"geo:(-?\d+(?:\.\d+)?),(-?\d+(?:\.\d+)?)(?:,-?\d+(?:\.\d+)?)?((?:;[\w-]+(?:=[^;]*)?)*)", text, re.IGNORECASE
    )
    if match is None:
        return None
    named = re.search(r";crs=([^;]*)", match[3], re.IGNORECASE)
    if named and named[1].lower() != "wgs84":
        raise PlaceError("the geo text names the system {crs!r}, which is not read here", crs=named[1])
    latitude, longitude = float(match[1]), float(match[2])
    check_range(latitude, longitude)
    return (
        Coordinates(latitude, longitude, min(written_step(match[1]), written_step(match[2])), None, WGS84),
        "geo URI",
    )


def point(text: str) -> tuple[Coordinates, str] | None:
    """Well-known text of ISO 19125 (from memory, unverified): longitude first."""
    match = re.fullmatch(r"POINT\s*\(\s*(-?\d+(?:\.\d+)?)\s+(-?\d+(?:\.\d+)?)\s*\)", text, re.IGNORECASE)
    if match is None:
        return None
    longitude, latitude = float(match[1]), float(match[2])
    check_range(latitude, longitude)
    return (
        Coordinates(latitude, longitude, min(written_step(match[1]), written_step(match[2])), None, None),
        "well-known text",
    )
