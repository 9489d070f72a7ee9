"""Places beside other libraries: geodesics, grids, datum shifts, the land mask."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

from keepfast.science import place


def spots(count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Places spread over the Earth."""
    draw = np.random.default_rng(seed)
    return np.degrees(np.arcsin(draw.uniform(-0.999, 0.999, count))), draw.uniform(-180, 180, count)


def test_offsets_agree_with_pyproj() -> None:
    """pyproj.Geod, a C program of the same theory: 1e-9 degree, a tenth of a millimetre."""
    from pyproj import Geod

    latitude, longitude = spots(300, 1)
    draw = np.random.default_rng(2)
    bearing, distance = draw.uniform(0, 360, 300), draw.uniform(0, 19e6, 300)
    expected_longitude, expected_latitude, _back = Geod(ellps="WGS84").fwd(longitude, latitude, bearing, distance)
    found_latitude, found_longitude = place.offset_end(latitude, longitude, bearing, distance)
    assert found_latitude == pytest.approx(expected_latitude, abs=1e-9)
    assert (found_longitude - expected_longitude + 180) % 360 - 180 == pytest.approx(np.zeros(300), abs=1e-8)


def test_distances_agree_with_pyproj() -> None:
    """1e-6 m, the rounding of metres over half the Earth."""
    from pyproj import Geod

    a, b = spots(300, 3), spots(300, 4)
    _there, _back, expected = Geod(ellps="WGS84").inv(a[1], a[0], b[1], b[0])
    assert place.distance_to_m(*a, *b) == pytest.approx(expected, abs=1e-6)


def test_the_step_of_a_degree_is_the_geodesic_of_a_degree() -> None:
    """For a small step the rule's parts are arcs: north and east by geodesics of the peer, 1e-6 of their length."""
    from pyproj import Geod

    geod, step = Geod(ellps="WGS84"), 1e-4
    for latitude in (-70.0, -10.0, 0.0, 33.3, 60.0):
        _a, _b, north = geod.inv(20.0, latitude - step / 2, 20.0, latitude + step / 2)
        _a, _b, east = geod.inv(20.0 - step / 2, latitude, 20.0 + step / 2, latitude)
        assert place.precision_uncertainty_m(latitude, step) == pytest.approx(np.hypot(north, east), rel=1e-6)


def test_squares_centres_agree_with_mgrs() -> None:
    """The mgrs package answers with the centre of the last digit's square; 2e-6 degree, its own rounding."""
    import mgrs

    other = mgrs.MGRS()
    latitude, longitude = spots(200, 5)
    for lat, lon in zip(latitude, longitude, strict=True):
        if not -79 < lat < 83:
            continue
        text = other.toMGRS(float(lat), float(lon), MGRSPrecision=3)
        expected = other.toLatLon(text)
        found = place.parse(text)
        # A square cut by its zone has another centre here, and there not: only whole ones are compared.
        if place.distance_to_m(*expected, *found[:2]) > 0.5:
            west = np.floor(found.longitude / 3) * 3
            assert (
                min(abs(found.longitude - west), abs(found.longitude - west - 3)) < 0.01
                or lat > 55
                or (abs(found.latitude / 8 - round(found.latitude / 8)) < 0.001)
            )


def test_datum_shifts_agree_with_a_direct_transformation() -> None:
    """The operation that is named is the one that was applied: pyproj, asked for it by its code. 1e-9 degree."""
    import pyproj

    # EPSG 1864 to 1880 and 5882 ... lead from SAD69; the best for Brazil, by its accuracy of 5 m, is one of them.
    found = place.to_wgs84(-23.0, -47.0, "SAD69")
    group = pyproj.transformer.TransformerGroup("EPSG:4618", "EPSG:4326", always_xy=True)
    same = [t for t in group.transformers if found.operation in t.description]
    assert same
    assert (found.longitude, found.latitude) == pytest.approx(same[0].transform(-47.0, -23.0), abs=1e-9)


def test_the_unknown_datum_by_place_holds_known_shifts() -> None:
    """Each of these datums is in use at its place, so the bound there is at least its own shift."""
    for datum, lat, lon in (
        ("NAD27", 40.0, -100.0),
        ("ED50", 48.0, 7.0),
        ("Tokyo", 35.6, 139.7),
        ("SAD69", -23.0, -47.0),
    ):
        shifted = place.to_wgs84(lat, lon, datum)
        apart = place.distance_to_m(lat, lon, shifted.latitude, shifted.longitude)
        assert place.unknown_datum_uncertainty_m(lat, lon, method="by place") >= apart


PEER = """
import numpy as np, sys
from global_land_mask import globe
draw = np.random.default_rng(6)
lat, lon = np.degrees(np.arcsin(draw.uniform(-0.999, 0.999, 5000))), draw.uniform(-180, 180, 5000)
print("".join("1" if x else "0" for x in globe.is_ocean(lat, lon)))
"""


@pytest.mark.long
def test_the_land_mask_answers_as_its_package_does() -> None:
    """The package, in a process of its own because it takes a gigabyte; every one of 5,000 places."""
    done = subprocess.run([sys.executable, "-c", PEER], capture_output=True, text=True, check=True)
    expected = [character == "1" for character in done.stdout.strip()]
    assert place.at_sea(*spots(5000, 6)).tolist() == expected
