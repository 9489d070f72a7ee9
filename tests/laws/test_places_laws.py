"""Laws of places: what is written out is read back, and no text whatever brings more than a reasoned refusal."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from keepfast.science import place
from keepfast.science.place_datum import PlaceError

LATITUDES = st.floats(-89.9, 89.9, allow_nan=False)
LONGITUDES = st.floats(-179.9, 179.9, allow_nan=False)
QUIET = settings(max_examples=150, deadline=None)


def dms_text(value: float, letters: str, marks: tuple[str, str, str], decimals: int) -> str:
    """A coordinate in degrees, minutes and seconds with a letter."""
    total = round(abs(value) * 3600, decimals)
    degrees, rest = divmod(total, 3600)
    minutes, seconds = divmod(rest, 60)
    # Floor division of a rounded number can leave 60 seconds by its last bit.
    seconds = min(round(seconds, decimals), 60 - 10.0**-decimals)
    side = letters[0] if value >= 0 else letters[1]
    return f"{int(degrees)}{marks[0]}{int(minutes)}{marks[1]}{seconds:.{decimals}f}{marks[2]}{side}"


@QUIET
@given(
    LATITUDES, LONGITUDES, st.integers(0, 4), st.sampled_from([("\u00b0", "'", '"'), (" ", " ", " "), (":", ":", " ")])
)
def test_degrees_minutes_seconds_come_back(
    latitude: float, longitude: float, decimals: int, marks: tuple[str, str, str]
) -> None:
    """Within the step they were written to."""
    text = dms_text(latitude, "NS", marks, decimals) + "  " + dms_text(longitude, "EW", marks, decimals)
    read = place.parse(text)
    step = 10.0**-decimals / 3600
    assert read.latitude == pytest.approx(latitude, abs=step * 1.01)
    assert read.longitude == pytest.approx(longitude, abs=step * 1.01)
    assert read.step_degrees is not None
    assert read.step_degrees >= step * 0.999


@QUIET
@given(LATITUDES, LONGITUDES, st.integers(1, 8), st.sampled_from([", ", "; ", "\n", " ; "]))
def test_decimal_degrees_come_back_exactly_as_written(
    latitude: float, longitude: float, decimals: int, between: str
) -> None:
    """The text's own number, with point or comma."""
    a, b = f"{latitude:.{decimals}f}", f"{longitude:.{decimals}f}"
    assert place.parse(f"{a}{between}{b}")[:2] == (float(a), float(b))
    if "," not in between:
        assert place.parse(f"{a}{between}{b}".replace(".", ","))[:2] == (float(a), float(b))


@QUIET
@given(st.floats(-79.9, 83.9), st.floats(-179.99, 179.99))
def test_a_military_square_holds_the_point_it_was_made_from(latitude: float, longitude: float) -> None:
    """The grid reference comes from another library; its metre square's centre lies within 0.71 m, and the scale."""
    import mgrs

    # Within a metre of a band's edge the other library rounds the number over it and keeps the letter.
    assume(abs(latitude / 8 - round(latitude / 8)) > 1e-5)
    text = mgrs.MGRS().toMGRS(latitude, longitude, MGRSPrecision=5)
    read = place.parse(text)
    assert place.distance_to_m(latitude, longitude, read.latitude, read.longitude) < 0.75


@QUIET
@given(st.floats(-79.9, 83.9), st.floats(-179.99, 179.99), st.integers(0, 4))
def test_a_larger_military_square_holds_it_too(latitude: float, longitude: float, digits: int) -> None:
    """Within half a diagonal of its centre, or of what the zone leaves of it."""
    import mgrs

    assume(abs(latitude / 8 - round(latitude / 8)) > 1e-5)
    text = mgrs.MGRS().toMGRS(latitude, longitude, MGRSPrecision=digits)
    read = place.parse(text)
    assert read.step_m == 10.0 ** (5 - digits)
    # 2 %: the scale of the grid far from its meridian, and edges that are straight here and not on the ground.
    reach = place.grid_uncertainty_m(read.step_m) * 1.02
    assert place.distance_to_m(latitude, longitude, read.latitude, read.longitude) <= reach


@settings(max_examples=400, deadline=None)
@given(st.text(max_size=60))
def test_no_text_brings_more_than_a_reason(text: str) -> None:
    """Any characters at all; the reason is one line."""
    try:
        read = place.parse(text)
    except PlaceError as problem:
        reason = problem.template
    else:
        reason = "read"
        assert -90 <= read.latitude <= 90
        assert -180 <= read.longitude <= 180
    assert reason
    assert "\n" not in reason


SIGNS = (
    "10|66|5|30.5|12,5|00|\u00b0|'|\"| | |, |;|N|S|E|W|O|-|+|:|17T|630000|4833400|UTM|WGS84|NAD27|lat|lon|EPSG:2056|d|m"
    "|s|\n|/|x"
)
PIECES = st.lists(st.sampled_from([*SIGNS.split("|"), "."]), max_size=14)


@settings(max_examples=800, deadline=None)
@given(PIECES, st.sampled_from([None, "es", "de", "cs"]))
def test_no_shuffle_of_the_trades_own_signs_does_either(pieces: list[str], language: str | None) -> None:
    """Texts that are nearly coordinates, and what is read of them lies on the Earth and has a step."""
    text = "".join(pieces)
    try:
        read = place.parse(text, language)
    except PlaceError:
        return
    assert -90 <= read.latitude <= 90
    assert -180 <= read.longitude <= 180
    assert (read.step_degrees is None) != (read.step_m is None)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=80))
def test_no_locality_brings_more_than_a_reason(text: str) -> None:
    """Offsets and headings too."""
    for call in (place.parse_offset, place.parse_orthogonal, place.heading, place.distance_step):
        try:
            call(text)  # type: ignore[operator]
        except PlaceError:
            continue


@QUIET
@given(LATITUDES, st.floats(1e-6, 1.0), st.floats(1.0, 2.0))
def test_a_coarser_step_is_never_more_certain(latitude: float, step: float, more: float) -> None:
    """Uncertainty grows with the step."""
    assert place.precision_uncertainty_m(latitude, step * more) >= place.precision_uncertainty_m(latitude, step)


@QUIET
@given(st.floats(0, 1e6), st.floats(0, 1e5), st.floats(0, 90), st.floats(0, 1e5), st.floats(0, 1), st.floats(-1, 1))
def test_the_bound_of_an_offset_holds_every_point_of_its_sector(
    distance: float, step: float, angle: float, other: float, share: float, turn: float
) -> None:
    """Any point between the arcs and within the angle, moved by anything up to the other sources: plane geometry."""
    radius = distance - step / 2 + share * step
    radius = max(radius, 0.0)
    around = math.radians(angle * turn)
    apart = math.hypot(radius * math.cos(around) - distance, radius * math.sin(around)) + other
    bound = place.offset_uncertainty_m(distance, step, angle, other)
    assert apart <= bound * (1 + 1e-9) + 1e-6


@QUIET
@given(LATITUDES, LONGITUDES, st.floats(0, 360), st.floats(1, 500_000))
def test_an_offset_there_and_its_distance_agree(
    latitude: float, longitude: float, bearing: float, distance: float
) -> None:
    """The geodesic's end lies its own length away; 1e-6 m, the rounding of metres over half the Earth."""
    end = place.offset_end(latitude, longitude, bearing, distance)
    assert place.distance_to_m(latitude, longitude, *end) == pytest.approx(distance, abs=1e-6)
