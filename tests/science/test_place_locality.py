"""Locality texts: distances, headings and what they leave open."""

from __future__ import annotations

import pytest

from keepfast.science.place import distance_step, heading, parse_offset, parse_orthogonal


@pytest.mark.parametrize(
    ("text", "language", "bearing", "half"),
    [
        ("N", None, 0.0, 45.0),
        ("east", None, 90.0, 45.0),
        ("SW", None, 225.0, 22.5),
        ("south-east", None, 135.0, 22.5),
        ("ssw", None, 202.5, 11.25),
        ("NbE", None, 11.25, 5.625),
        ("NWbN", None, 326.25, 5.625),
        ("SSO", "es", 202.5, 11.25),
        ("noreste", "es", 45.0, 22.5),
        ("sudoeste", "es", 225.0, 22.5),
        ("nordeste", "pt", 45.0, 22.5),
        ("O", "fr", 270.0, 45.0),
        ("O", "de", 90.0, 45.0),
        ("S\u00fcdost", "de", 135.0, 22.5),
        ("045", None, 45.0, 0.5),
        ("45.5\u00b0", None, 45.5, 0.05),
        ("N 30 E", None, 30.0, 0.5),
        ("S30W", None, 210.0, 0.5),
        ("360", None, 0.0, 0.5),
    ],
)
def test_headings_in_letters_words_and_degrees(text: str, language: str | None, bearing: float, half: float) -> None:
    """A compass rose of 32 points; half-angles as the guide's table has them, degrees half their step."""
    found = heading(text, language)
    assert (found.bearing_degrees, found.half_angle_degrees) == (bearing, pytest.approx(half))


@pytest.mark.parametrize(
    ("text", "reference"),
    [("NE", "true"), ("045", "not stated"), ("45 magnetic", "magnetic"), ("120\u00b0 M", "magnetic"), ("45 T", "true")],
)
def test_which_north_is_meant(text: str, reference: str) -> None:
    """Words count as true; bare degrees do not say."""
    assert heading(text).reference == reference


@pytest.mark.parametrize("text", ["O", "SSO", "x", "400", "", "NS", "NNN", "up"])
def test_what_is_no_certain_heading_is_refused(text: str) -> None:
    """With a reason."""
    with pytest.raises(ValueError, match=r"\w"):
        heading(text)


@pytest.mark.parametrize(
    ("text", "language", "metres", "step", "bearing", "feature"),
    [
        ("10.5 km NE of Rio Claro", None, 10_500, 500, 45.0, "Rio Claro"),
        ("ca. 10 mi. by road N of Town", None, 16_093.44, 1609.344, 0.0, "Town"),
        ("10 km al NE de Barinas", "es", 10_000, 1000, 45.0, "Barinas"),
        ("10 km O de Barinas", "es", 10_000, 1000, 270.0, "Barinas"),
        ("Barinas, 10 1/2 km SW", None, 10_500, 500, 225.0, "Barinas"),
        ("200 m south of the bridge", None, 200, 10, 180.0, "the bridge"),
        ("0.25 mi W of camp", None, 402.336, 402.336, 270.0, "camp"),
        ("3 km from the mill", None, 3000, 1000, None, "the mill"),
        ("500 ft NNW of the well", None, 152.4, 3.048, 337.5, "the well"),
    ],
)
def test_offsets_are_taken_apart(
    text: str, language: str | None, metres: float, step: float, bearing: float | None, feature: str
) -> None:
    """Metres and steps by the units' definitions and the guide's rule."""
    found = parse_offset(text, language)
    assert (found.distance_m, found.distance_step_m) == (pytest.approx(metres), pytest.approx(step))
    assert (found.bearing_degrees, found.feature, found.verbatim) == (bearing, feature, text)


def test_a_way_by_road_is_noticed_and_a_river_in_a_name_is_not() -> None:
    """Rio Claro is a town."""
    assert parse_offset("10 km by road N of Town").along_path
    assert parse_offset("2 km upstream from the bridge").along_path
    assert not parse_offset("10.5 km NE of Rio Claro").along_path
    assert not parse_offset("10 km by air N of Town").along_path


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("N of Town", "no distance"),
        ("5/0 km N of Town", "not a distance"),
        ("5-10 km N of Town", "range"),
        ("8 km E and 6 km N of Town", "more than one"),
        ("10 km O de Barinas", "language"),
    ],
)
def test_offsets_that_are_not_certain_are_refused(text: str, reason: str) -> None:
    """With a reason."""
    with pytest.raises(ValueError, match=reason):
        parse_offset(text)


def test_two_offsets_must_stand_at_right_angles() -> None:
    """One north or south, one east or west."""
    found = parse_orthogonal("8 km W and 6.5 km S of the mill")
    assert (found.east_m, found.north_m, found.step_m, found.feature) == (-8000, -6500, 1000, "the mill")
    with pytest.raises(ValueError, match="east or west"):
        parse_orthogonal("8 km N and 6 km S of the mill")
    with pytest.raises(ValueError, match="right angles"):
        parse_orthogonal("8 km N of the mill")


@pytest.mark.parametrize(
    ("text", "step"),
    [("7", 1), ("10", 1), ("140", 10), ("1000", 100), ("10.0", 0.1), ("3/4", 0.25), ("10 1/3", 1 / 3), ("10,75", 0.25)],
)
def test_steps_of_distances(text: str, step: float) -> None:
    """The guide's rule: last digit, halves, quarters, fractions by their denominator, whole numbers by their size."""
    assert distance_step(text) == pytest.approx(step)


@pytest.mark.parametrize("text", ["", "0", "-3", "1/0", "ten", "1e3", "0/4"])
def test_what_is_no_distance_is_refused(text: str) -> None:
    """With a reason."""
    with pytest.raises(ValueError, match="not a distance"):
        distance_step(text)
