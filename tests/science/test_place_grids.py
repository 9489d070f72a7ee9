"""Grids: UTM, the military grid, quarter degrees and national grids, and what each refuses."""

from __future__ import annotations

import pytest

from keepfast.science.place import distance_to_m, parse, read


@pytest.mark.parametrize(
    "text",
    [
        "17T 630000 4833400",
        "17N 630000 4833400",
        "17 N 630000 4833400",
        "17 north 630000 4833400",
        "UTM 17T 630000 4833400",
        "UTM 17T 630000mE 4833400mN",
        "17 T 0630000 UTM 4833400",
        "630000 4833400 17T",
        "Zone 17T, E 630000, N 4833400",
        "UTM Zone 17 N, 4833400 N, 630000 E",
        "17T 630000,4833400",
        "17T 630000E 4833400N",
        "zona 17 norte 630000 4833400",
    ],
)
def test_utm_is_read_however_it_is_put(text: str) -> None:
    """All the same point; the first is the reference's own example. 43.642, -79.388 by any map of that city's shore."""
    found = parse(text)
    assert (found.latitude, found.longitude) == (
        pytest.approx(43.6422, abs=1e-3),
        pytest.approx(-79.3882, abs=1e-3),
    )
    assert (found.step_degrees, found.step_m, found.datum) == (None, 1.0, None)


def test_utm_knows_south_by_word_or_band() -> None:
    """A word, or a band that is south; both the same."""
    assert parse("23 south 330000 7390000") == parse("23K 330000 7390000")
    assert parse("23K 330000 7390000").latitude == pytest.approx(-23.6, abs=0.1)


def test_utm_is_laid_on_the_datums_own_ellipsoid() -> None:
    """Clarke 1866 is shorter along the meridian than WGS84, so the same numbers lie some 200 m further north."""
    modern, old = parse("17T 630000 4833400 WGS84"), parse("17T 630000 4833400 NAD27")
    assert old.datum == "EPSG:4267"
    assert 150 < distance_to_m(modern.latitude, modern.longitude, old.latitude, old.longitude) < 250


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("17S 630000 4833400", "band S"),
        ("UTM 17 630000 4833400", "north or south"),
        ("UTM 630000 4833400", "zone"),
        ("61T 630000 4833400", "zones run from 1 to 60"),
        ("0T 630000 4833400", "zones run from 1 to 60"),
        ("17M 630000 4833400", "band M lies"),
        ("17I 630000 4833400", "no UTM band I"),
        ("17T 63000 4833400", ""),
        ("17T 930000 4833400", "easting"),
        ("17 north 630000 9999999", "ends at"),
        ("17T E 630000 E 4833400", "both numbers"),
        ("32X 500000 8300000", "no zone 32X"),
        ("17T 630 000 4 833 400", ""),
        ("17 upward 630000 4833400", "neither a band"),
        ("18SUJ233083084500", "digits"),
        ("18SUJ23308 3084", "equally many"),
        ("18SIJ2338308450", "no square"),
        ("18IUJ2338308450", "no band"),
        ("32XVG74", "no square"),
        ("18CUJ2338308450", "does not lie in"),
        ("3218CB", "hemispheres"),
        ("E180S18CB", "off the Earth"),
        ("OSGB SI 299 805", "not a square"),
        ("OSGB TQ 299 80", "equally many"),
        ("OSGB AA 299 805", "outside the area"),
        ("EPSG:2056 100000 200000", "outside the area"),
        ("EPSG:9999999 1 2", ""),
        ("EPSG:99999 100000 200000", "no coordinate system"),
        ("LV95 2600000 1200000 WGS84", "its own datum"),
        ("LV95 2600000", "two plain numbers"),
    ],
)
def test_a_grid_that_is_not_certain_is_refused(text: str, reason: str) -> None:
    """With its reason."""
    with pytest.raises(ValueError, match=r"\w") as caught:
        parse(text)
    assert reason in str(caught.value)


@pytest.mark.parametrize(
    ("text", "size"), [("18SUJ", 100_000), ("18SUJ20", 10_000), ("18S UJ 23 08", 1000), ("18s uj 233 084", 100)]
)
def test_a_military_square_has_its_own_step(text: str, size: float) -> None:
    """By the number of digits."""
    found = read(text)
    assert found.coordinates.step_m == size
    assert found.notation == "MGRS"


def test_smaller_military_squares_lie_in_the_larger() -> None:
    """Each centre within half a diagonal of the larger square's; 1 % for the scale and the bend of the grid."""
    texts = ["18SUJ", "18SUJ20", "18SUJ2308", "18SUJ233084", "18SUJ23380845", "18SUJ2338308450"]
    found = [parse(text) for text in texts]
    smallest = found[-1]
    for one in found:
        assert one.step_m is not None
        apart = distance_to_m(one.latitude, one.longitude, smallest.latitude, smallest.longitude)
        assert apart <= one.step_m / 2**0.5 * 1.01


def test_quarter_degrees_halve_with_each_letter() -> None:
    """A north-west, B north-east, C south-west, D south-east; degree cells count away from equator and Greenwich."""
    assert parse("E032S18")[:2] == (-18.5, 32.5)
    assert parse("E032S18A")[:2] == (-18.25, 32.25)
    assert parse("E032S18D")[:2] == (-18.75, 32.75)
    assert parse("W066N10B")[:2] == (10.75, -66.25)


@pytest.mark.parametrize(
    ("text", "latitude", "longitude", "datum"),
    [
        # Bern, the projection's own origin: EPSG 2056 and 21781, latitude and longitude of origin.
        ("LV95 2600000 1200000", 46.9524056, 7.4395833, "EPSG:4150"),
        ("LV03 600000 200000", 46.9524056, 7.4395833, "EPSG:4149"),
        ("EPSG:2056 E 2600000 N 1200000", 46.9524056, 7.4395833, "EPSG:4150"),
        ("EPSG:2056 N 1200000 E 2600000", 46.9524056, 7.4395833, "EPSG:4150"),
        # The central meridian is 173 E with a false easting of 1600000: EPSG 2193.
        ("NZTM 1600000 5428000", -41.29, 173.0, "EPSG:4167"),
    ],
)
def test_national_grids_by_name_or_code(text: str, latitude: float, longitude: float, datum: str) -> None:
    """Places that follow from the registry's own parameters; 0.01 degree where only the central meridian is exact."""
    found = parse(text)
    assert found.longitude == pytest.approx(longitude, abs=1e-6)
    assert found.latitude == pytest.approx(latitude, abs=1e-6 if latitude > 0 else 0.01)
    assert (found.datum, found.step_m) == (datum, 1.0)


def test_letters_of_the_british_grid_are_its_numbers() -> None:
    """TQ is the square with its corner at E 500000 N 100000; a square is answered with its centre."""
    assert parse("OSGB TQ 299 805")[:2] == pytest.approx(parse("BNG E 529950 N 180550")[:2], abs=1e-9)
    assert parse("OSGB NN 16 71").step_m == 1000.0
    assert parse("Irish Grid O 15904 34671")[:2] == pytest.approx(
        parse("EPSG:29903 E 315904.5 N 234671.5")[:2], abs=1e-9
    )
