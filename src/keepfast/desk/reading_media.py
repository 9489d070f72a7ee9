"""Waypoints, photographs and temperature loggers into entries: matched by name and by time to what is known."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping, Sequence
from typing import Any
from zoneinfo import ZoneInfo

from keepfast.book.number_blocks import number_key
from keepfast.desk.reading_draft import Draft, Known, Line
from keepfast.exchange.loggers import Record
from keepfast.exchange.photographs import Photograph
from keepfast.exchange.waypoints import Gpx, Position, position_at
from keepfast.findings import Finding
from keepfast.science import place as science
from keepfast.words import _

AT_TABLE_S = 300.0  # a photograph is of the animal in hand: common practice, no published source
SAME_PLACE_M = 0.5  # a receiver's file has six decimals; the same waypoint twice lies closer than this


def add_waypoints(draft: Draft, known: Known, gpx: Gpx) -> dict[str, str]:
    """
    Waypoints as places, and events and animals without a place matched by name or by time.

    Returns
    -------
    dict
        The places by the key of the waypoint's name.
    """
    places: dict[str, str] = {}
    for waypoint in gpx.waypoints:
        name = waypoint.name or _("waypoint {number} of {file}").format(number=waypoint.number, file=gpx.name)
        there = next(
            (
                state["id"]
                for state in known.called("place", name)
                if state.get("latitude") is not None
                and science.distance_to_m(state["latitude"], state["longitude"], waypoint.latitude, waypoint.longitude)
                < SAME_PLACE_M
            ),
            None,
        )
        if there is not None:
            draft.same += 1
        else:
            written = (
                f"{waypoint.latitude:.7f}".rstrip("0").rstrip(".")
                + ", "
                + (f"{waypoint.longitude:.7f}".rstrip("0").rstrip("."))
            )
            content = _fixed_place(
                name, waypoint.latitude, waypoint.longitude, waypoint.elevation_m, waypoint.at, gpx.name, written, 0.0
            )
            if waypoint.words:
                content["remarks"] = waypoint.words
            there = draft.add("place", content)
            draft.new.append(Line(gpx.name, waypoint.number, "place", name))
        places.setdefault(number_key(name), there)
    return places


def match_by_time(draft: Draft, known: Known, gpx: Gpx, places: Mapping[str, str], trip: str) -> None:
    """Give a place to events that have a moment and no place, and an event to animals that have no place otherwise."""
    placed: dict[str, str] = {}
    for event in list(known.all("event")):
        if event.get("place") or (trip and event.get("trip") != trip):
            continue
        moment = _moment(event.get("when"))
        position = position_at(gpx, moment) if moment else None
        if position is not None and moment is not None:
            label = str(event.get("number") or "")
            placed[event["id"]] = _position_place(draft, gpx, position, moment, label, places)
            draft.add("event", {"event": event["id"], "place": placed[event["id"]]})
            if not known.drafted("event", event["id"]):
                line = Line(gpx.name, None, "event", label, "place", None, _position_words(position))
                draft.changed.append(line)
    for animal in list(known.all("animal")):
        event = (known.state("event", animal["event"]) or {}) if animal.get("event") else {}
        if event.get("place") or event.get("id") in placed or (trip and event.get("trip") not in (None, trip)):
            continue
        _match_animal(draft, known, gpx, places, trip, animal, event)


def _match_animal(
    draft: Draft,
    known: Known,
    gpx: Gpx,
    places: Mapping[str, str],
    trip: str,
    animal: Mapping[str, Any],
    event: Mapping[str, Any],
) -> None:
    """An event with a place for one animal: the waypoint that bears its number, else where its time leads."""
    label = str(animal.get("field_number") or "")
    named = places.get(number_key(label)) if label else None
    moment = _moment(animal.get("found_at"))
    waypoint = next((w for w in gpx.waypoints if number_key(w.name) == number_key(label)), None) if named else None
    if named is not None:
        place, words = named, _("the waypoint of this name")
        moment = moment or (waypoint.at if waypoint else None)
    else:
        position = position_at(gpx, moment) if moment is not None else None
        if position is None or moment is None:
            return
        place, words = _position_place(draft, gpx, position, moment, label, places), _position_words(position)
    content: dict[str, Any] = {
        name: event[name] for name in ("by", "method", "effort", "permits", "weather") if event.get(name)
    }
    content |= {"number": _("where {animal} was found").format(animal=label), "place": place}
    if moment is not None:
        content["when"] = moment.isoformat(timespec="minutes")
    elif event.get("when"):
        content["when"] = event["when"]
    if trip or event.get("trip"):
        content["trip"] = trip or event["trip"]
    event_id = draft.add("event", content)
    draft.new.append(Line(gpx.name, waypoint.number if waypoint else None, "event", content["number"]))
    draft.add("animal", {"animal": animal["id"], "event": event_id})
    if not known.drafted("animal", animal["id"]):
        row = waypoint.number if waypoint else None
        draft.changed.append(Line(gpx.name, row, "animal", label, "event", event.get("number"), words))


def _moment(text: object) -> datetime.datetime | None:
    """A moment with an offset; None for a day, an interval or nothing."""
    if not isinstance(text, str) or "T" not in text or "/" in text:
        return None
    try:
        moment = datetime.datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment if moment.utcoffset() is not None else None


def _position_words(position: Position) -> str:
    if position.how == "waypoint":
        return _("waypoint {name}, {seconds:.0f} s apart").format(name=position.name, seconds=position.apart_s)
    return _("track, {seconds:.0f} s from a fix").format(seconds=position.apart_s)


def _position_place(
    draft: Draft,
    gpx: Gpx,
    position: Position,
    moment: datetime.datetime,
    label: str,
    places: Mapping[str, str],
) -> str:
    if position.how == "waypoint" and number_key(position.name) in places:
        return places[number_key(position.name)]
    name = _("by the track at {moment}").format(moment=moment.isoformat(timespec="minutes"))
    content = _fixed_place(
        name, position.latitude, position.longitude, position.elevation_m, moment, gpx.name, "", position.spread_m
    )
    content["georeference"] |= {"matched": _position_words(position), "for": label}
    draft.new.append(Line(gpx.name, None, "place", name))
    return draft.add("place", content)


def _fixed_place(
    name: str,
    latitude: float,
    longitude: float,
    elevation_m: float | None,
    at: datetime.datetime | None,
    file: str,
    written: str,
    spread_m: float,
    accuracy_m: float | None = None,
) -> dict[str, Any]:
    """A place by a receiver's fix. GPX and receivers count on WGS84 by their standards."""
    receiver = science.gnss_uncertainty_m(accuracy_m, at)
    found = science.georeference(
        science.Coordinates(latitude, longitude, None, None, science.WGS84), source_m=receiver, extent_m=spread_m
    )
    content: dict[str, Any] = {
        "name": name[:500],
        "latitude": latitude,
        "longitude": longitude,
        "uncertainty_m": float(found.radius_m),
        "protocol": found.protocol,
        "sources": _("receiver, file {file}").format(file=file),
        "georeference": {"parts_m": found.parts, "remarks": list(found.remarks)},
    }
    if written:
        content |= {"verbatim_coordinates": written, "verbatim_system": "decimal degrees", "verbatim_datum": "WGS84"}
    if elevation_m is not None and -500 <= elevation_m <= 9000:
        content["elevation_low_m"] = content["elevation_high_m"] = elevation_m
    return content


# -- photographs -----------------------------------------------------------------------------------------------------

_PART = re.compile(r"[0-9]+|[^\W\d_]+")


def add_photographs(
    draft: Draft, known: Known, photographs: Sequence[Photograph], zone: ZoneInfo, track: Gpx | None
) -> None:
    """Photographs as things of the book, tied to the one animal whose number stands in the file's name."""
    had = {state["sha256"]: state for state in known.all("photograph") if state.get("sha256")}
    seen: dict[str, str] = {}
    table = _at_the_table(known)
    for photo in photographs:
        draft.findings.extend(photo.findings)
        if photo.sha256 in had:
            draft.same += 1
            continue
        if photo.sha256 in seen:
            draft.findings.append(
                Finding(
                    _("this is the same picture as {other}; it is taken once").format(other=seen[photo.sha256]),
                    weight="note",
                    file=photo.file,
                )
            )
            continue
        seen[photo.sha256] = photo.file
        draft.add("photograph", _photograph_content(draft, known, photo, track, table))
        draft.new.append(Line(photo.file, None, "photograph", photo.file))


def _at_the_table(known: Known) -> list[tuple[datetime.datetime, str, str]]:
    """When which animal was worked on, and at which step, in the order of time."""
    worked = []
    for animal in known.all("animal"):
        for item in animal.get("done") or ():
            moment = _moment(item.get("at") or item.get("written"))
            if moment is not None and animal.get("field_number"):
                worked.append((moment, str(animal["field_number"]), str(item.get("step") or "")))
    return sorted(worked)


def _shown_perhaps(table: Sequence[tuple[datetime.datetime, str, str]], taken_at: datetime.datetime | None) -> str:
    """In words, which one animal was at the table when a photograph was taken; empty where none, or not one, was."""
    if taken_at is None:
        return ""
    near = [(abs((at - taken_at).total_seconds()), number, step) for at, number, step in table]
    near = [one for one in near if one[0] <= AT_TABLE_S]
    if len({number for _apart, number, _step in near}) != 1:
        return ""
    apart, number, step = min(near)
    return _("{animal} was at the table then ({step}, {minutes:.0f} min apart)").format(
        animal=number, step=step, minutes=apart / 60
    )


def _photograph_content(
    draft: Draft,
    known: Known,
    photo: Photograph,
    track: Gpx | None,
    table: Sequence[tuple[datetime.datetime, str, str]],
) -> dict[str, Any]:
    content: dict[str, Any] = {"file": photo.file, "sha256": photo.sha256}
    if photo.taken_at is not None:
        content["taken_at"] = photo.taken_at.isoformat(timespec="seconds")
    if photo.verbatim_time:
        content["verbatim_taken_at"] = photo.verbatim_time
    if photo.clock_offset_s is not None:
        content["clock_offset_s"] = photo.clock_offset_s
    if photo.author:
        content["by"] = photo.author
    place = _photograph_place(draft, photo, track)
    if place is not None:
        content["latitude"], content["longitude"] = place
    animal = animal_in_name(known, photo.file)
    if animal is None:
        what = _("no animal of the book, or more than one, has its number in this file's name")
        perhaps = _shown_perhaps(table, photo.taken_at)
        draft.findings.append(
            Finding(
                f"{what}; {perhaps}" if perhaps else what,
                _("Name the file with the field number, or tie it to the animal later."),
                "note",
                photo.file,
            )
        )
    else:
        content["animal"] = animal["id"]
    content["verbatim"] = {
        name: value
        for name, value in {
            "camera": photo.camera,
            "media_type": photo.media_type,
            "pixels": f"{photo.width} x {photo.height}",
            "bytes": photo.size_bytes,
            "datum": photo.datum,
            "satellite_time": photo.gps_at.isoformat(timespec="seconds") if photo.gps_at else "",
            "accuracy_m": photo.accuracy_m,
        }.items()
        if value not in ("", None)
    }
    return content


def _photograph_place(draft: Draft, photo: Photograph, track: Gpx | None) -> tuple[float, float] | None:
    if photo.latitude is not None and photo.longitude is not None:
        if not photo.datum:
            return photo.latitude, photo.longitude  # EXIF asks for WGS84 where no datum is named
        try:
            shifted = science.to_wgs84(photo.latitude, photo.longitude, photo.datum)
        except ValueError:
            draft.findings.append(
                Finding(
                    _("the datum in this photograph is not known; its place was not taken"),
                    weight="doubt",
                    file=photo.file,
                    read=photo.datum,
                )
            )
            return None
        return float(shifted.latitude), float(shifted.longitude)
    if track is not None and photo.taken_at is not None:
        position = position_at(track, photo.taken_at)
        if position is not None:
            return position.latitude, position.longitude
    return None


def animal_in_name(known: Known, file: str) -> dict[str, Any] | None:
    """The one animal whose whole field number stands in a file's name, as "AB 12" in ``ab-012_dorsal.jpg``."""
    stem = file.rpartition(".")[0] or file
    parts = _PART.findall(stem)
    found: dict[str, dict[str, Any]] = {}
    for start in range(len(parts)):
        for end in range(start + 1, min(len(parts), start + 5) + 1):
            if not any(part.isdigit() for part in parts[start:end]) or not any(p.isalpha() for p in parts[start:end]):
                continue  # a bare running number is the camera's own as often as an animal's
            for state in known.called("animal", " ".join(parts[start:end])):
                found[state["id"]] = state
    return next(iter(found.values())) if len(found) == 1 else None


# -- loggers ---------------------------------------------------------------------------------------------------------


def add_temperatures(draft: Draft, known: Known, record: Record, trip: str, where: str) -> None:
    """A logger's record, once: by the hash of its file. It hangs from the trip."""
    draft.findings.extend(record.findings)
    if not trip:
        draft.findings.append(
            Finding(
                _("a temperature record belongs to a trip"),
                _("Name it, such as --trip 'Spring survey'."),
                file=record.name,
            )
        )
        return
    state = known.state("trip", trip) or {}
    if any(item.get("sha256") == record.sha256 for item in state.get("logged") or ()):
        draft.same += 1
        return
    content: dict[str, Any] = {
        "trip": trip,
        "at": [at.isoformat(timespec="seconds") for at in record.at],
        "temperature_c": {"values": [round(value, 3) for value in record.temperature_c]},
        "first": record.at[0].isoformat(timespec="seconds"),
        "last": record.at[-1].isoformat(timespec="seconds"),
        "low_c": round(min(record.temperature_c), 3),
        "high_c": round(max(record.temperature_c), 3),
        "file": record.name,
        "sha256": record.sha256,
        "logger": record.column,
    }
    if where:
        content["where"] = where
    draft.add("temperatures", content)
    draft.new.append(Line(record.name, None, "temperatures", record.name))
