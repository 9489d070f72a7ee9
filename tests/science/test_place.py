"""Uncertainty of places: contracts of arrays, parts that add up, offsets, datums, land and sea."""

from __future__ import annotations

import datetime
import math

import numpy as np
import pytest

from keepfast.science import place
from keepfast.science.magnetic import decimal_year, declination, years


def test_floats_give_floats_and_arrays_give_arrays() -> None:
    """The contract of the room; NaN passes through."""
    assert isinstance(place.precision_uncertainty_m(10.0, 0.01), float)
    found = place.precision_uncertainty_m(np.array([0.0, np.nan, 60.0]), 0.01)
    assert isinstance(found, np.ndarray)
    assert np.isnan(found).tolist() == [False, True, False]
    assert place.offset_uncertainty_m(np.zeros((2, 1)), np.ones(3), 10.0).shape == (2, 3)
    assert isinstance(place.at_sea(0.0, 0.0), bool)
    assert place.distance_to_m(0.0, 0.0, [0.0, np.nan], 1.0).shape == (2,)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: place.precision_uncertainty_m(91.0, 0.1), "latitude must be -90 to 90; 91 was given"),
        (lambda: place.precision_uncertainty_m(9.0, -0.1), "step_degrees must be 0 to 180; -0.1 was given"),
        (lambda: place.offset_uncertainty_m(-1.0, 1.0, 1.0), "distance_m must be 0 to"),
        (lambda: place.offset_uncertainty_m(1.0, 1.0, 181.0), "half_angle_degrees must be 0 to 180; 181 was given"),
        (lambda: place.offset_uncertainty_m(1.0, 1.0, 1.0, -3.0), "other_m must be 0 to"),
        (lambda: place.grid_uncertainty_m(-1.0), "step_m must be 0 to"),
        (lambda: place.map_accuracy_m(1.0), "scale_denominator must be 100 to"),
        (lambda: place.map_accuracy_m(5000.0, method="x"), "method must be one of"),
        (lambda: place.default_radial_m("volcano"), "feature must be one of"),
        (lambda: place.gnss_uncertainty_m(0.0, None), "shown_m must be above 0"),
        (lambda: place.offset_end(91.0, 0.0, 0.0, 1.0), "latitude must be"),
        (lambda: place.at_sea(0.0, 181.0), "longitude must be -180 to 180; 181 was given"),
        (lambda: place.unknown_datum_uncertainty_m(0.0, 0.0, method="x"), "method must be"),
        (lambda: declination(0.0, 0.0, 1999.0), "date must be from 2010"),
        (lambda: declination(0.0, 0.0, 2025.0, 1e9), "height_m must be"),
    ],
)
def test_what_is_out_of_range_is_named_with_its_limits(call: object, message: str) -> None:
    """One line: the argument, the value, the limits."""
    with pytest.raises(ValueError, match=message.replace("(", r"\(")) as caught:
        call()  # type: ignore[operator]
    assert "\n" not in str(caught.value)


def test_the_farthest_corner_of_the_sector_is_the_uncertainty() -> None:
    """The reference's own figure: D 10 km, step 1 km, others 3 km, half-angle 22.5: 7.03 km (printed to 10 m)."""
    assert place.offset_uncertainty_m(10_000.0, 1_000.0, 22.5, 3_000.0) == pytest.approx(7030, abs=5)


def test_a_heading_that_leaves_nothing_open_leaves_half_the_step() -> None:
    """With an angle of 0 the sector is a line; exact but for the last bit."""
    assert place.offset_uncertainty_m(10_000.0, 1_000.0, 0.0) == pytest.approx(500.0, rel=1e-12)


def test_a_heading_that_is_not_known_leaves_both_sides() -> None:
    """With 180 degrees the farthest point lies behind the start: D + D + u."""
    assert place.offset_uncertainty_m(10_000.0, 1_000.0, 180.0) == pytest.approx(20_500.0, rel=1e-12)


def test_the_parts_of_a_radius_add_up_and_are_rounded_up() -> None:
    """Whole metres, never less than the sum, never 0."""
    found = place.georeference(place.parse("37.9312, -6.8814 WGS84"), source_m=10.0, extent_m=3.0)
    assert set(found.parts) == {"source", "extent", "precision"}
    assert found.radius_m == math.ceil(sum(found.parts.values()))
    assert place.georeference(place.parse("37.93121234, -6.88141234 WGS84")).radius_m == 1


def test_the_protocol_does_not_call_itself_unaltered() -> None:
    """Only an unaltered protocol may bear the guide's name alone."""
    assert "altered" in place.georeference(place.parse("10.5, 20.5 WGS84")).protocol


def test_a_missing_datum_is_counted_and_said() -> None:
    """The guide's 5,359 m, or less by place; never silence."""
    coordinates = place.parse("37.9312, -6.8814")
    worst = place.georeference(coordinates)
    by_place = place.georeference(coordinates, unknown_datum="by place")
    assert worst.parts["datum"] == 5359.0
    assert 100.0 < by_place.parts["datum"] < 5359.0
    assert any("datum not recorded" in remark for remark in worst.remarks)


def test_an_old_datum_is_brought_to_wgs84_with_its_accuracy() -> None:
    """SAD69 in Brazil: some 60 m, by any atlas of datum shifts; the registry's operation says 5 m."""
    found = place.georeference(place.parse("-23.0000, -47.0000 SAD69"))
    apart = place.distance_to_m(-23.0, -47.0, found.latitude, found.longitude)
    assert 40 < apart < 90
    assert 0 < found.parts["datum"] <= 20
    assert any("EPSG:4618" in remark for remark in found.remarks)


def test_a_better_operation_that_needs_a_grid_file_is_told() -> None:
    """NAD27 in the United States: the exact one needs a file that no wheel carries."""
    found = place.to_wgs84(40.0, -100.0, "NAD27")
    assert found.best_available is False
    assert 5 <= found.accuracy_m <= 20
    assert "NAD27" in found.operation


def test_a_datum_far_from_its_area_is_refused() -> None:
    """No published operation leads from a Swiss datum to a place in Brazil."""
    with pytest.raises(ValueError, match="no published operation"):
        place.to_wgs84(-23.0, -47.0, "CH1903")


def test_datums_that_nobody_knows_are_refused() -> None:
    """By name, with the way out."""
    with pytest.raises(ValueError, match="not known here; give its EPSG code"):
        place.datum_code("the old one")
    assert place.datum_code("NAD-27") == place.datum_code("nad 1927") == "EPSG:4267"


def test_arrays_of_places_change_datum_together() -> None:
    """Each by the operation of its own place, NaN left alone."""
    found = place.to_wgs84([-23.0, np.nan, -30.0], -50.0, "SAD69")
    assert np.isnan(found.latitude).tolist() == [False, True, False]
    same = place.to_wgs84([1.0, 2.0], 3.0, "WGS84")
    assert same.accuracy_m.tolist() == [0.0, 0.0]


def test_a_magnetic_bearing_is_turned_to_true_first() -> None:
    """5 km at 45 magnetic where the needle points west of north: the end lies north of the true 45's end."""
    start = place.georeference(place.parse("10.2745, -70.6123 WGS84"))
    day = datetime.date(2026, 5, 1)
    magnetic = place.georeference_offset(start, place.parse_offset("5 km bearing 045 magnetic from camp"), date=day)
    true = place.georeference_offset(start, place.parse_offset("5 km bearing 045 true from camp"))
    turned = declination(start.latitude, start.longitude, day)
    expected = place.offset_end(start.latitude, start.longitude, 45.0 + turned.degrees, 5000.0)
    assert (magnetic.latitude, magnetic.longitude) == pytest.approx(expected, abs=1e-9)
    assert magnetic.latitude > true.latitude
    assert magnetic.radius_m > true.radius_m
    with pytest.raises(ValueError, match="date must be given"):
        place.georeference_offset(start, place.parse_offset("5 km bearing 045 magnetic from camp"))


def test_an_offset_without_heading_is_not_laid() -> None:
    """The guide: extend the feature instead."""
    start = place.georeference(place.parse("10.2745, -70.6123 WGS84"))
    with pytest.raises(ValueError, match="no heading"):
        place.georeference_offset(start, place.parse_offset("3 km from camp"))


def test_orthogonal_offsets_follow_the_resultant() -> None:
    """6-8-10: 10 km from the start, at the angle of 8 east and 6 north."""
    start = place.georeference(place.parse("10.2745, -70.6123 WGS84"))
    found = place.georeference_orthogonal(start, place.parse_orthogonal("8 km E and 6 km N of camp"))
    apart = place.distance_to_m(start.latitude, start.longitude, found.latitude, found.longitude)
    assert apart == pytest.approx(10_000.0, abs=1e-3)
    assert found.latitude > start.latitude
    assert found.longitude > start.longitude


def test_the_doubt_of_declination_grows_towards_the_pole() -> None:
    """A weak horizontal field holds a needle badly; near the magnetic pole it is said."""
    far, near = declination(0.0, 20.0, 2026.0), declination(82.0, -120.0, 2026.0)
    assert near.uncertainty_degrees > far.uncertainty_degrees
    assert (far.weak_field, near.weak_field) == (False, True)


def test_years_of_the_magnetic_models_are_known_and_kept() -> None:
    """Each day within them is served by the model of its own years."""
    assert years() == (2010, 2030)
    assert declination(10.0, 20.0, datetime.date(2014, 12, 31)).model == "WMM-2010"
    assert declination(10.0, 20.0, datetime.date(2015, 1, 1)).model == "WMM-2015v2"
    assert declination(10.0, 20.0, datetime.date(2029, 12, 31)).model == "WMM-2025"
    assert decimal_year(datetime.date(2024, 7, 2)) == pytest.approx(2024.5, abs=0.002)  # the 184th of 366 days


# Open sea and inland places by any atlas, far from a shore.
SEA = [(0.0, 0.0), (30.0, -40.0), (-50.0, 100.0), (40.0, 5.0), (15.0, 65.0)]
LAND = [(48.0, 15.0), (-23.5, -50.0), (0.0, 25.0), (64.0, -20.0), (-25.0, 135.0), (0.5, 33.0)]


@pytest.mark.parametrize("spot", SEA)
def test_the_open_sea_is_sea(spot: tuple[float, float]) -> None:
    """Hundreds of kilometres from any shore."""
    assert place.at_sea(*spot) is True


@pytest.mark.parametrize("spot", LAND)
def test_the_inland_is_land(spot: tuple[float, float]) -> None:
    """And so is a great lake, the last of them."""
    assert place.at_sea(*spot) is False


def test_poles_edges_and_unknown_places() -> None:
    """The north pole is sea and the south pole land; 180 east and west are one; unknown is not at sea."""
    assert place.at_sea([90.0, -90.0, np.nan], [0.0, 0.0, 0.0]).tolist() == [True, False, False]
    assert place.at_sea(70.0, 180.0) in (True, False)


def test_nothing_heavy_is_imported_before_it_is_needed() -> None:
    """Importing the room must not bring the geodesy libraries nor the land mask."""
    import subprocess
    import sys

    code = (
        "import sys, keepfast.science.place as p; p.parse('10.27, -123.6');"
        "print([m for m in ('pyproj', 'global_land_mask', 'pygeomag', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
