"""Places against the georeferencing guides, geodesic test sets, grid test points and the magnetic model's values."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from keepfast.science import place, place_grids
from keepfast.science.magnetic import declination
from keepfast.science.tables import load

HERE = Path(__file__).parent
GUIDE = "Chapman and Wieczorek 2020, Georeferencing Best Practices v1.0, doi:10.15468/doc-gg7h-s853"


def rows(name: str) -> list[dict[str, str]]:
    """A table of published values; lines with # name its source."""
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


@pytest.mark.parametrize("cell", rows("chapman_wieczorek_2020_precision.csv"), ids=lambda c: "-".join(c.values()))
def test_the_guides_table_of_precision_is_reproduced(cell: dict[str, str]) -> None:
    """1 m: the guide rounds some cells up and some to the nearest."""
    step = float(cell["step"]) / {"degree": 1, "minute": 60, "second": 3600}[cell["unit"]]
    assert place.precision_uncertainty_m(float(cell["latitude"]), step) == pytest.approx(float(cell["metres"]), abs=1.0)


def test_the_guides_worked_example_of_precision() -> None:
    """GUIDE, section 3.4.3: 10.27, -123.6 at 0.01 degree is 1.5568 km; printed to four decimals of a kilometre."""
    read = place.parse("10.27, -123.6")
    assert read.step_degrees == 0.01
    assert place.precision_uncertainty_m(read.latitude, read.step_degrees) == pytest.approx(1556.8, abs=0.2)


@pytest.mark.parametrize(
    ("text", "half"),
    [("10.1", 0.05), ("10.5", 0.25), ("10.75", 0.125), ("10", 0.5), ("30", 0.5), ("100", 5), ("140", 5), ("1000", 50)],
)
def test_the_guides_table_of_offset_precision(text: str, half: float) -> None:
    """GUIDE, table of uncertainty from offset precision: half the step; exact but for the last bit."""
    assert place.distance_step(text) / 2 == pytest.approx(half, rel=1e-15)


def test_the_guides_half_angles() -> None:
    """GUIDE, table of heading uncertainty."""
    assert [place.heading(h).half_angle_degrees for h in ("N", "NE", "NNE")] == [45.0, 22.5, 11.25]


def test_ten_kilometres_north_east_leave_3_90_km_by_the_heading_alone() -> None:
    """GUIDE, section on headings; printed to 10 m."""
    assert place.heading_uncertainty_m(10_000, 22.5) == pytest.approx(3900, abs=5)


def test_orthogonal_offsets_of_a_kilometre_step_leave_0_707_km() -> None:
    """GUIDE, figure on orthogonal distances; printed to 1 m."""
    offsets = place.parse_orthogonal("8 km E and 6 km N of the mill")
    assert place.orthogonal_uncertainty_m(offsets.step_m) == pytest.approx(707, abs=1)


@pytest.mark.parametrize(
    ("scale", "method", "metres"),
    [
        (1_000, "half millimetre", 0.5),
        (10_000, "half millimetre", 5),
        (50_000, "half millimetre", 25),
        (1_000_000, "half millimetre", 500),
        (1_000, "nssda", 1),
        (25_000, "nssda", 14.5),
        (75_000, "nssda", 43.5),
        (100_000, "nssda", 58),
        (500_000, "nssda", 290),
    ],
)
def test_the_guides_table_of_map_accuracy(scale: float, method: str, metres: float) -> None:
    """GUIDE, table of horizontal accuracy by scale; its third column is rounded to half metres, then to 1 in 200."""
    assert place.map_accuracy_m(scale, method=method) == pytest.approx(metres, rel=0.002, abs=0.05)


@pytest.mark.parametrize(
    ("feature", "metres"),
    [("well", 3), ("two-lane street intersection", 10), ("highway intersection", 15), ("PLSS section", 1138)],
)
def test_default_radials_of_the_quick_guide(feature: str, metres: float) -> None:
    """Zermoglio et al. 2020, doi:10.35035/e09p-h128, table of default geographic radials."""
    assert place.default_radial_m(feature) == metres


@pytest.mark.parametrize(("step", "metres"), [(10, 7), (1000, 707)])
def test_half_the_diagonal_of_a_grid_square_is_the_quick_guides_default(step: float, metres: float) -> None:
    """Zermoglio et al. 2020, the same table; printed to 1 m."""
    assert place.grid_uncertainty_m(step) == pytest.approx(metres, abs=0.5)


def test_the_worst_unknown_datum_and_the_receivers_defaults() -> None:
    """GUIDE: 5,359 m; twice the accuracy shown. Zermoglio et al. 2020: 30 m from 2000-05-01, 100 m before."""
    import datetime

    assert place.unknown_datum_uncertainty_m(10.0, 20.0) == 5359.0
    assert place.gnss_uncertainty_m(5.0, None) == 10.0
    assert place.gnss_uncertainty_m(None, datetime.date(2000, 5, 1)) == 30.0
    assert place.gnss_uncertainty_m(None, datetime.date(2000, 4, 30)) == 100.0


@pytest.mark.parametrize("case", rows("geographiclib_geodesics.csv"), ids=lambda c: c["s12"][:9])
def test_offsets_follow_the_published_geodesics(case: dict[str, str]) -> None:
    """GeographicLib's test set. 2e-7 degree: its end points are given to 5 decimals, azimuth and length to 1e-13."""
    v = {name: float(text) for name, text in case.items()}
    latitude, longitude = place.offset_end(v["lat1"], _wrapped(v["lon1"]), v["azi1"], v["s12"])
    assert latitude == pytest.approx(v["lat2"], abs=2e-7)
    assert (longitude - v["lon2"] + 180) % 360 - 180 == pytest.approx(0, abs=2e-7)
    # 1e-6 m: the published length is exact to 1e-8 m, the ends to 5 decimals are exact by definition.
    apart = place.distance_to_m(v["lat1"], _wrapped(v["lon1"]), v["lat2"], _wrapped(v["lon2"]))
    assert apart == pytest.approx(v["s12"], abs=1e-6)


def _wrapped(longitude: float) -> float:
    return (longitude + 180) % 360 - 180


@pytest.mark.parametrize(
    "case", rows("iogp_gigs_5101.csv"), ids=lambda c: f"{c['to']}-{c['longitude']}-{c['latitude']}"
)
def test_grids_follow_the_published_transverse_mercator(case: dict[str, str]) -> None:
    """IOGP GIGS 5101. 4e-7 degree is its 0.03 m; points outside the zone's own area are refused, not bent."""
    zone_west = {"EPSG:32631": 0.0, "EPSG:28354": 138.0}[case["to"]]
    longitude, latitude = float(case["longitude"]), float(case["latitude"])
    text = f"{case['to']} E {case['easting']} N {case['northing']}"
    inside = zone_west <= longitude <= zone_west + 6 and float(case["easting"]) > 0
    if case["to"] == "EPSG:28354":
        inside = inside and -60 < latitude < -8  # the registry's area of this zone is Australia
    if not inside:
        with pytest.raises(ValueError, match=r"area|two plain numbers"):
            place.parse(text)
        return
    read = place.parse(text)
    assert (read.latitude, read.longitude) == (
        pytest.approx(latitude, abs=4e-7),
        pytest.approx(longitude, abs=4e-7),
    )


def _utm_text(case: dict[str, str]) -> str | None:
    """A GIGS point as a field note would have it, where it lies within what UTM allows."""
    easting, northing, latitude = float(case["easting"]), float(case["northing"]), float(case["latitude"])
    zone, side, datum = {"EPSG:32631": ("31", "north", "WGS84"), "EPSG:28354": ("54", "south", "GDA94")}[case["to"]]
    fits = 100_000 <= easting < 900_000 and 0 <= northing <= 10_000_000 and -80 <= latitude <= 84
    return f"{zone} {side} {easting} {northing} {datum}" if fits else None


@pytest.mark.parametrize(
    "case", [c for c in rows("iogp_gigs_5101.csv") if _utm_text(c)], ids=lambda c: f"{c['to']}-{c['longitude']}"
)
def test_utm_texts_follow_the_published_transverse_mercator(case: dict[str, str]) -> None:
    """IOGP GIGS 5101: within its 0.03 m."""
    read = place.parse(_utm_text(case) or "")
    apart = place.distance_to_m(read.latitude, read.longitude, float(case["latitude"]), float(case["longitude"]))
    assert apart < 0.03
    assert read.datum == {"EPSG:32631": "EPSG:4326", "EPSG:28354": "EPSG:4283"}[case["to"]]


def test_the_guides_utm_example() -> None:
    """GUIDE, section on UTM: 30N 699582 5709431 is 51.500721, -0.124430; its numbers are 3 m off its own degrees."""
    read = place.parse("30N 699582 5709431")
    assert place.distance_to_m(read.latitude, read.longitude, 51.500721, -0.124430) < 3.5


def test_the_british_projection_of_the_registry() -> None:
    """EPSG guidance note 7-2: 50 30 N, 0 30 E is E 577274.99 N 69740.50; 1e-7 degree is its 0.01 m."""
    read = place.parse("EPSG:27700 E 577274.99 N 69740.50")
    assert (read.latitude, read.longitude) == (pytest.approx(50.5, abs=1.5e-7), pytest.approx(0.5, abs=1.5e-7))
    assert read.datum == "EPSG:4277"


@pytest.mark.parametrize(
    ("text", "latitude", "longitude"),
    [
        ("35VPL0115697387", 63.98863, 29.06757),
        ("4QFJ1234056781", 21.309444, -157.916861),
        ("04QFJ1234056781", 21.309444, -157.916861),
        ("15TWG0000049776", 42.0, -93.0),
        ("18SUJ2338308450", 38.9072, -77.0369),
    ],
)
def test_military_grid_squares_hold_the_published_points(text: str, latitude: float, longitude: float) -> None:
    """NGA mgrs-java MGRSTest and hobuinc/mgrs test.txt (MIT): the point lies in the metre square, so within 0.8 m."""
    read = place.parse(text)
    assert read.step_m == 1.0
    # 1 m more where the published degrees have only 4 or 5 decimals.
    assert place.distance_to_m(read.latitude, read.longitude, latitude, longitude) < 0.8 + 1.0


def test_a_military_square_is_answered_with_its_centre() -> None:
    """GeographicLib, man page of GeoConvert: 38SMB4488 is centred on 33.33424, 44.40363 (five decimals: 1e-5)."""
    read = place.parse("38SMB4488")
    assert (read.latitude, read.longitude) == (pytest.approx(33.33424, abs=1e-5), pytest.approx(44.40363, abs=1e-5))


@pytest.mark.parametrize(
    ("text", "latitude", "longitude", "size"),
    [("33XVG74", 77.8324735, 13.7248758, 10_000)],
)
def test_the_south_west_corner_lies_half_a_diagonal_from_the_centre(
    text: str, latitude: float, longitude: float, size: float
) -> None:
    """NGA mgrs-java gives the corner; 0.1 %: the grid's scale factor."""
    read = place.parse(text)
    apart = place.distance_to_m(read.latitude, read.longitude, latitude, longitude)
    assert apart == pytest.approx(size / np.sqrt(2), rel=1e-3)


@pytest.mark.parametrize(("text", "latitude", "longitude"), [("32VJN", 60.3007719, 3.0), ("32VPH", 56.0, 10.6034691)])
def test_a_square_cut_by_its_zone_keeps_its_corner_and_its_centre_inside(
    text: str, latitude: float, longitude: float
) -> None:
    """NGA mgrs-java: south-west corners of clipped cells. The centre lies inside the zone, near enough."""
    read = place.parse(text)
    assert 3.0 <= read.longitude <= 12.0
    assert 56.0 <= read.latitude <= 64.0
    assert place.distance_to_m(read.latitude, read.longitude, latitude, longitude) < 100_000 / np.sqrt(2) * 1.001


def test_zones_round_svalbard() -> None:
    """NGA mgrs-java MGRSTest: 31X is a zone, 32X and 36X are not."""
    assert place_grids.zone_limits(31, "X") == (0.0, 9.0)
    for zone in (32, 34, 36):
        with pytest.raises(ValueError, match=f"no zone {zone}X"):
            place_grids.zone_limits(zone, "X")


def test_the_quarter_degree_square_of_the_guide() -> None:
    """GUIDE, grid section: E032S18CB is 15 minutes wide within 32 E, 18 S, quarter C and in it B."""
    read = place.parse("E032S18CB")
    assert (read.latitude, read.longitude) == (-18.625, 32.375)
    assert read.step_m == pytest.approx(0.25 * 110_690, rel=1e-3)  # a quarter of a degree along the meridian there


# NOAA and BGS, World Magnetic Model test values: year, height km, latitude, longitude, declination (2 decimals).
# 2020 and 2025 at second hand, from the test suites of two open programs that carry the published sheets.
WMM = (
    (2020.0, 0, 80, 0, -1.28), (2020.0, 0, 0, 120, 0.16), (2020.0, 0, -80, -120, 69.36),
    (2020.0, 100, 80, 0, -1.70), (2020.0, 100, 0, 120, 0.16), (2020.0, 100, -80, -120, 68.78),
    (2022.5, 0, 80, 0, 0.01), (2022.5, 0, 0, 120, -0.06), (2022.5, 0, -80, -120, 69.13),
    (2022.5, 100, 80, 0, -0.41), (2022.5, 100, 0, 120, -0.05), (2022.5, 100, -80, -120, 68.55),
    (2025.0, 0, 80, 0, 1.28), (2025.0, 0, 0, 120, -0.16), (2025.0, 0, -80, -120, 68.78),
    (2025.0, 100, 80, 0, 0.85), (2025.0, 100, 0, 120, -0.15), (2025.0, 100, -80, -120, 68.21),
    (2027.5, 0, 80, 0, 2.59), (2027.5, 0, 0, 120, -0.24), (2027.5, 0, -80, -120, 68.49),
    (2027.5, 100, 80, 0, 2.16), (2027.5, 100, 0, 120, -0.23), (2027.5, 100, -80, -120, 67.93),
)  # fmt: skip


@pytest.mark.parametrize(("year", "height_km", "latitude", "longitude", "degrees"), WMM)
def test_declination_reproduces_the_models_own_test_values(
    year: float, height_km: float, latitude: float, longitude: float, degrees: float
) -> None:
    """Half of the last printed digit, and a little for rounding at its edge."""
    found = declination(latitude, longitude, year, height_km * 1000.0)
    assert found.degrees == pytest.approx(degrees, abs=0.006)


def test_the_errors_found_in_the_guides_are_not_followed() -> None:
    """GUIDE, example of half a degree at 10, -123.5: its total of 77.87 km is right, its latitude part is not."""
    read = place.parse("10.00000, -123.50000")
    assert read.step_degrees == 0.5
    assert place.precision_uncertainty_m(read.latitude, read.step_degrees) == pytest.approx(77_870, abs=10)


def test_names_of_datums_are_the_registrys_codes() -> None:
    """Each code of the table bears, in the EPSG registry as PROJ carries it, the name that the table gives."""
    import pyproj

    for table in ("epsg-datum-names", "epsg-national-grids"):
        for row in load(table).rows:
            assert pyproj.CRS.from_epsg(row["epsg"]).name == row["epsg_name"]
