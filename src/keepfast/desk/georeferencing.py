"""What notes say of a place, turned into a place of the book: coordinates on WGS84, a radius, an honest protocol."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.science import place as science
from keepfast.words import _

_NOT_SAID = re.compile(r"(?:not recorded|unknown|unk|none|n/?a|\?)\.?", re.IGNORECASE)
_RECEIVER = re.compile(r"\b(?:gps|gnss|glonass|galileo|receiver)\b", re.IGNORECASE)
_SCALE = re.compile(r"\b1\s*[:/]\s*(\d[\d.,' ]*)")

COPIED = ("country", "country_code", "state_province", "county", "municipality", "verbatim_locality", "sources")


@dataclass(frozen=True)
class Source:
    """Where coordinates came from: a receiver, or a map of a scale; neither where nobody said."""

    receiver: bool = False
    map_scale: float | None = None

    @classmethod
    def from_words(cls, text: str) -> Source:
        """Read "GPS", "map 1:50000" and the like."""
        scale = _SCALE.search(text)
        if scale:
            return cls(map_scale=float(re.sub(r"[., ']", "", scale[1])))
        return cls(receiver=bool(_RECEIVER.search(text)))

    @property
    def known(self) -> bool:
        """Whether anything is known of it."""
        return self.receiver or self.map_scale is not None


@dataclass(frozen=True)
class Slip:
    """Something wrong or doubtful in one of the written fields of a place."""

    field: str
    what: str
    remedy: str = ""
    weight: str = "error"


def in_words(problem: ValueError) -> str:
    """The reason of a refusal in the language now spoken."""
    if isinstance(problem, science.PlaceError):
        return _(problem.template).format(**problem.values)
    return str(problem)


def place_content(
    said: Mapping[str, Any],
    *,
    language: str = "",
    date: datetime.date | None = None,
    source: Source | None = None,
    unknown_datum: str = "by place",
) -> tuple[dict[str, Any], list[Slip]]:
    """
    The content of a place's entry from what was written of it.

    Parameters
    ----------
    said : mapping
        ``name``, ``verbatim_locality``, ``country`` ..., and as text ``coordinates`` or ``latitude`` and
        ``longitude``, ``datum``; as numbers ``uncertainty_m``, ``gps_accuracy_m``, ``elevation_m``.
    language : str
        Whose letters the coordinates use.
    date : date, optional
        When the coordinates were read off; an old receiver was less exact.
    source : Source, optional
        Where coordinates came from that say nothing of it themselves.
    unknown_datum : str
        As ``science.place.unknown_datum_uncertainty_m`` has it.

    Returns
    -------
    tuple
        The content, and what is wrong (then there are no coordinates in it) or doubtful.
    """
    slips: list[Slip] = []
    content: dict[str, Any] = {name: said[name] for name in COPIED if said.get(name)}
    if said.get("elevation_m") is not None:
        content["elevation_low_m"] = content["elevation_high_m"] = said["elevation_m"]
    reading = _reading(said, language, slips)
    if reading is not None:
        _with_coordinates(content, said, reading, slips, date, source, unknown_datum)
    name = said.get("name") or said.get("verbatim_locality") or content.get("verbatim_coordinates")
    regions = [said[part] for part in ("municipality", "county", "state_province", "country") if said.get(part)]
    name = name or ", ".join(regions)
    if name:
        content["name"] = str(name)[:500]
    return content, slips


def _reading(said: Mapping[str, Any], language: str, slips: list[Slip]) -> science.Reading | None:
    pair, latitude, longitude = said.get("coordinates"), said.get("latitude"), said.get("longitude")
    try:
        if pair:
            return science.read(str(pair), language or None)
        if latitude and longitude:
            return science.read_pair(str(latitude), str(longitude), language or None)
    except ValueError as problem:
        values = problem.values if isinstance(problem, science.PlaceError) else {}
        where = "coordinates" if pair else str(values.get("axis", "latitude"))
        remedy = _("Write it so that it can be read in one way only, or leave the cell empty.")
        if "language" in str(problem):
            remedy = _("Name it, such as --language es, or in the columns file.")
        slips.append(Slip(where, in_words(problem), remedy))
        return None
    if latitude or longitude:
        slips.append(
            Slip("latitude" if latitude else "longitude", _("one half of the coordinates is missing"), _("Write both."))
        )
    return None


def _with_coordinates(
    content: dict[str, Any],
    said: Mapping[str, Any],
    reading: science.Reading,
    slips: list[Slip],
    date: datetime.date | None,
    source: Source | None,
    unknown_datum: str,
) -> None:
    content["verbatim_coordinates"] = reading.verbatim.strip()
    content["verbatim_system"] = reading.notation
    coordinates = reading.coordinates
    written = str(said.get("datum") or "").strip()
    if written and not _NOT_SAID.fullmatch(written):
        content["verbatim_datum"] = written
        try:
            code = science.datum_code(written)
        except ValueError as problem:
            slips.append(
                Slip("datum", in_words(problem), _("The coordinates are taken as if no datum were written."), "doubt")
            )
        else:
            if coordinates.datum is not None and coordinates.datum != code:
                slips.append(Slip("datum", _("the coordinates name another datum"), _("Keep the right one.")))
                return
            if coordinates.datum is None and coordinates.step_m is not None and code != science.WGS84:
                # A grid is laid on its datum's ellipsoid, so it is read once more with the datum in its text.
                try:
                    reading = science.read(f"{said['coordinates']} {code}")
                except ValueError as problem:
                    slips.append(Slip("coordinates", in_words(problem)))
                    return
                coordinates = reading.coordinates
            coordinates = coordinates._replace(datum=code)
    stated = said.get("uncertainty_m")
    origin = _source_of(said, source)
    try:
        found = science.georeference(
            coordinates,
            notation=reading.notation,
            source_m=_source_m(said, origin, date),
            unknown_datum=unknown_datum,
        )
    except ValueError as problem:
        slips.append(Slip("datum" if written else "coordinates", in_words(problem)))
        return
    content["latitude"], content["longitude"] = found.latitude, found.longitude
    reckoning: dict[str, Any] = {"parts_m": found.parts, "remarks": list(found.remarks)}
    if stated is not None:
        content["uncertainty_m"] = float(stated)
        content["protocol"] = _("radius as stated in the notes")
        reckoning["radius_from"] = "notes"
    elif origin.known:
        content["uncertainty_m"] = float(found.radius_m)
        content["protocol"] = found.protocol
        reckoning["radius_from"] = "reckoned"
    else:
        content["protocol"] = found.protocol
        reckoning["remarks"].append("the source of the coordinates is not recorded, so no radius was reckoned")
        slips.append(
            Slip(
                "coordinates" if said.get("coordinates") else "latitude",
                _("where the coordinates came from is not said, so no radius was reckoned"),
                _("Say it for all of them, such as --coordinates-from GPS or --coordinates-from 'map 1:50000'."),
                "doubt",
            )
        )
    content["georeference"] = reckoning


def _source_of(said: Mapping[str, Any], otherwise: Source | None) -> Source:
    if said.get("gps_accuracy_m") is not None:
        return Source(receiver=True)
    words = Source.from_words(str(said.get("sources") or ""))
    return words if words.known else (otherwise or Source())


def _source_m(said: Mapping[str, Any], source: Source, date: datetime.date | None) -> float:
    if source.map_scale is not None:
        return float(science.map_uncertainty_m(source.map_scale))
    if source.receiver:
        return science.gnss_uncertainty_m(said.get("gps_accuracy_m"), date)
    return 0.0


def checked_source(text: str) -> Source | None:
    """
    What a person says of where coordinates came from.

    Raises
    ------
    FindingsError
        If it is neither a receiver nor a map with its scale.
    """
    if not text:
        return None
    found = Source.from_words(text)
    if not found.known or (found.map_scale is not None and not 100 <= found.map_scale <= 100_000_000):
        raise FindingsError(
            [
                Finding(
                    _("this says neither a receiver nor a map with its scale"),
                    _("Write GPS, or map 1:50000."),
                    field="--coordinates-from",
                    read=text,
                )
            ]
        )
    return found
