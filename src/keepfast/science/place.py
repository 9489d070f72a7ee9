"""Places: coordinates from what was written, how uncertain they are, and where an offset leads.

A place is a centre and a radius that encloses every spot the words could mean (the point-radius method). Start with
``parse``; ``georeference`` and ``georeference_offset`` put the sources of doubt together, which stand one by one in
``place_uncertainty``. Notations are read in ``place_notation`` and ``place_grids``, locality texts in
``place_locality``, datums in ``place_datum``; ``magnetic`` has declination, ``sea`` the land mask.
"""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, field

import numpy as np

from keepfast.science.place_datum import (
    WGS84,
    PlaceError,
    Shifted,
    datum_code,
    to_wgs84,
    unknown_datum_uncertainty_m,
    within,
)
from keepfast.science.place_locality import (
    Heading,
    Offset,
    Orthogonal,
    distance_step,
    heading,
    parse_offset,
    parse_orthogonal,
)
from keepfast.science.place_notation import parse, read, read_pair
from keepfast.science.place_text import Coordinates, Reading, written_step
from keepfast.science.place_uncertainty import (
    default_radial_m,
    distance_to_m,
    gnss_uncertainty_m,
    grid_uncertainty_m,
    heading_uncertainty_m,
    map_accuracy_m,
    map_uncertainty_m,
    offset_end,
    offset_uncertainty_m,
    orthogonal_end,
    orthogonal_uncertainty_m,
    precision_uncertainty_m,
)
from keepfast.science.sea import at_sea

__all__ = [
    "PROTOCOL",
    "WGS84",
    "Coordinates",
    "Heading",
    "Offset",
    "Orthogonal",
    "PlaceError",
    "PointRadius",
    "Reading",
    "Shifted",
    "at_sea",
    "datum_code",
    "default_radial_m",
    "distance_step",
    "distance_to_m",
    "georeference",
    "georeference_offset",
    "georeference_orthogonal",
    "gnss_uncertainty_m",
    "grid_uncertainty_m",
    "heading",
    "heading_uncertainty_m",
    "map_accuracy_m",
    "map_uncertainty_m",
    "offset_end",
    "offset_uncertainty_m",
    "orthogonal_end",
    "orthogonal_uncertainty_m",
    "parse",
    "parse_offset",
    "parse_orthogonal",
    "precision_uncertainty_m",
    "read",
    "read_pair",
    "to_wgs84",
    "unknown_datum_uncertainty_m",
    "written_step",
]

PROTOCOL = (
    "Keepfast point-radius 1, after Chapman & Wieczorek 2020 (doi:10.15468/doc-gg7h-s853) and Zermoglio et al. 2020"
    " (doi:10.35035/e09p-h128), altered: sources other than the offset's own distance and heading are added outside"
    " the sector"
)


@dataclass(frozen=True)
class PointRadius:
    """
    A place on WGS84 with the radius that holds every spot its words could mean.

    ``parts`` has each source of doubt in metres; ``radius_m`` is whole metres, rounded up, never 0. ``remarks`` says
    what was assumed. ``protocol`` and ``sources`` go into the record as they are.
    """

    latitude: float
    longitude: float
    radius_m: int
    parts: dict[str, float] = field(default_factory=dict)
    protocol: str = PROTOCOL
    remarks: tuple[str, ...] = ()


def _whole(radius_m: float) -> int:
    return max(1, math.ceil(radius_m - 1e-9))


def georeference(
    coordinates: Coordinates,
    *,
    notation: str = "",
    source_m: float = 0.0,
    extent_m: float = 0.0,
    unknown_datum: str = "worst",
) -> PointRadius:
    """
    The point and radius of coordinates alone: every source of doubt, added up.

    Parameters
    ----------
    coordinates : Coordinates
        From ``parse`` or ``read``.
    notation : str, optional
        The notation from ``read``; a UTM pair counts a whole diagonal of its step, a grid square half.
    source_m : float, default 0.0
        Where the coordinates came from: ``gnss_uncertainty_m``, ``map_uncertainty_m``. [m]
    extent_m : float, default 0.0
        Geographic radial of the feature. [m]
    unknown_datum : {"worst", "by place"}
        How a missing datum counts.

    Raises
    ------
    ValueError
        If no published operation leads from the datum to WGS84, or a number is out of range.

    References
    ----------
    .. [1] Chapman and Wieczorek 2020, doi:10.15468/doc-gg7h-s853. (sources of uncertainty read; that they are added
       is from memory, unverified)
    """
    parts, remarks = {"source": source_m, "extent": extent_m}, []
    latitude, longitude = coordinates.latitude, coordinates.longitude
    if coordinates.step_degrees is not None:
        parts["precision"] = float(precision_uncertainty_m(latitude, coordinates.step_degrees))
    elif coordinates.step_m is not None:
        plain = notation == "UTM" or " / " in notation
        parts["precision"] = float(grid_uncertainty_m(coordinates.step_m, centre=not plain))
    if coordinates.datum is None:
        parts["datum"] = float(unknown_datum_uncertainty_m(latitude, longitude, method=unknown_datum))
        remarks.append("datum not recorded; taken as WGS84 with the largest shift added")
    elif coordinates.datum != WGS84:
        shifted = to_wgs84(latitude, longitude, coordinates.datum)
        latitude, longitude = shifted.latitude, shifted.longitude
        parts["datum"] = shifted.accuracy_m
        remarks.append(f"brought from {coordinates.datum} to WGS84 by {shifted.operation}")
        if not shifted.best_available:
            remarks.append("a more exact published operation needs a grid file that is not here")
    for name, value in parts.items():
        within(f"{name}_m", np.asarray(value, float), 0.0, 20_004_000.0)
    parts = {name: value for name, value in parts.items() if value > 0}
    return PointRadius(latitude, longitude, _whole(sum(parts.values())), parts, PROTOCOL, tuple(remarks))


def georeference_offset(
    start: PointRadius,
    offset: Offset,
    *,
    date: datetime.date | None = None,
) -> PointRadius:
    """
    The point and radius of "distance at a heading" from a place that is itself a point and radius.

    Parameters
    ----------
    start : PointRadius
        The feature: its corrected centre, with its extent and everything else in its radius.
    offset : Offset
        From ``parse_offset``.
    date : datetime.date, optional
        When a magnetic bearing was taken; needed for one.

    Raises
    ------
    ValueError
        If the bearing is magnetic and there is no date, or no model for it.

    Notes
    -----
    A magnetic bearing is turned to true north first, and two standard deviations of the declination are added to the
    half-angle.
    """
    bearing, half_angle, remarks = offset.bearing_degrees, offset.half_angle_degrees, list(start.remarks)
    if bearing is None:
        raise PlaceError("the offset has a distance but no heading: extend the feature by the distance instead")
    if offset.reference == "magnetic":
        from keepfast.science.magnetic import declination

        if date is None:
            raise ValueError("date must be given for a magnetic bearing; None was given")
        turned = declination(start.latitude, start.longitude, date)
        bearing = (bearing + turned.degrees) % 360.0
        half_angle = min(180.0, half_angle + 2.0 * turned.uncertainty_degrees)
        remarks.append(f"magnetic bearing turned by {turned.degrees:+.1f} degrees ({turned.model})")
        if turned.weak_field:
            remarks.append("the horizontal field is weak here: a compass is not to be trusted")
    if offset.along_path:
        remarks.append("the text says along a road or river; the offset was laid by air")
    latitude, longitude = offset_end(start.latitude, start.longitude, bearing, offset.distance_m)
    own = float(offset_uncertainty_m(offset.distance_m, offset.distance_step_m, half_angle))
    parts = {**start.parts, "offset": own}
    return PointRadius(latitude, longitude, _whole(own + sum(start.parts.values())), parts, PROTOCOL, tuple(remarks))


def georeference_orthogonal(start: PointRadius, offsets: Orthogonal) -> PointRadius:
    """
    The point and radius of two offsets at right angles from a place that is itself a point and radius.

    Raises
    ------
    ValueError
        If a distance is out of range.
    """
    latitude, longitude = orthogonal_end(start.latitude, start.longitude, offsets.east_m, offsets.north_m)
    own = float(orthogonal_uncertainty_m(offsets.step_m))
    parts = {**start.parts, "offset": own}
    return PointRadius(latitude, longitude, _whole(own + sum(start.parts.values())), parts, PROTOCOL, start.remarks)
