"""Coordinates as people write them: read where only one place can be meant, refused with the reason otherwise."""

from __future__ import annotations

import pytest

from keepfast.science.place import PlaceError, parse, read, read_pair

SECOND, MINUTE = 1 / 3600, 1 / 60


def dms(degrees: int, minutes: float = 0, seconds: float = 0) -> float:
    """Arithmetic of the notation itself."""
    return degrees + minutes / 60 + seconds / 3600


# Text, language, latitude, longitude, step in degrees: by the meaning of the notation, worked by hand.
READ = [
    ("10.27, -123.6", None, 10.27, -123.6, 0.01),
    ("10.00000, -123.50000", None, 10.0, -123.5, 0.5),
    ("10.27 -123.6", None, 10.27, -123.6, 0.01),
    ("10.27,-123.6", None, 10.27, -123.6, 0.01),
    ("10.27,123.6", None, 10.27, 123.6, 0.01),
    ("10.27; -123.6", None, 10.27, -123.6, 0.01),
    ("10.27\n-123.6", None, 10.27, -123.6, 0.01),
    ("(10.27, -123.6)", None, 10.27, -123.6, 0.01),
    ("10, -66", None, 10.0, -66.0, 1.0),
    ("10,-66", None, 10.0, -66.0, 1.0),
    ("0, 0", None, 0.0, 0.0, 1.0),
    # A letter inside one number and behind the other is no one's way of writing.
    ("10 30 N 20 30 E", None, dms(10, 30), dms(20, 30), MINUTE),
    ("10 30 15 N 20 30 E", None, dms(10, 30, 15), dms(20, 30), SECOND),
    ("42 30N 71 5W", None, dms(42, 30), -dms(71, 5), MINUTE),
    ("S 10 5 E 20 5", None, -dms(10, 5), dms(20, 5), MINUTE),
    ("N 12 W 45 30", None, 12.0, -dms(45, 30), MINUTE),
    ("\u221233.5 18.25", None, -33.5, 18.25, 0.01),
    ("10,27; -123,6", None, 10.27, -123.6, 0.01),
    ("10,27 -123,6", None, 10.27, -123.6, 0.01),
    ("10,27\n-123,6", None, 10.27, -123.6, 0.01),
    ("10,27 N 123,6 W", None, 10.27, -123.6, 0.01),
    ("10,27\u00b0 N, 123,6\u00b0 W", None, 10.27, -123.6, 0.01),
    ("10.27\u00b0 S 123.6\u00b0 E", None, -10.27, 123.6, 0.01),
    ("10\u00b030'S,123\u00b036'E", None, -10.5, 123.6, MINUTE),
    ("-10.27\u00b0 123.6\u00b0", None, -10.27, 123.6, 0.01),
    ("41 05 54S 121 05 34W", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("41\u00b005'54\"S 121\u00b005'34\"W", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("41\u00b0 5\u2032 54\u2033 S, 121\u00ba 5\u2019 34\u201d W", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("41\u00b0 5' 54'' S; 121\u00b0 5' 34'' W", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("S41 05 54 W121 05 34", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("W 121 05 34 S 41 05 54", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("41:05:54S 121:05:34W", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("-41:05:54 -121:05:34", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("41-05-54 S 121-05-34 W", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("41d05m54sS 121d05m34sW", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("41 deg 5 min 54 sec S, 121 deg 5 min 34 sec W", None, -dms(41, 5, 54), -dms(121, 5, 34), SECOND),
    ("36\u00b031'27.4\"N 114\u00b009'50.6\"W", None, dms(36, 31, 27.4), -dms(114, 9, 50.6), SECOND / 10),
    ("S 12 34.567 W 076 12.345", None, -dms(12, 34.567), -dms(76, 12.345), MINUTE / 1000),
    ("10\u00b030,5'N 66\u00b015,2'W", None, dms(10, 30.5), -dms(66, 15.2), MINUTE / 10),
    ("10\u00b030'N 66\u00b015'W", None, 10.5, -66.25, MINUTE),
    ("10\u00b030.5'N 66\u00b015.50'W", None, dms(10, 30.5), -dms(66, 15.5), MINUTE / 2),
    ("10\u00b000'N 66\u00b015'00\"W", None, 10.0, -66.25, MINUTE),
    ("N10.5W66.2", None, 10.5, -66.2, 0.1),
    ("10.5n 66.2w", None, 10.5, -66.2, 0.1),
    ("123.6W 10.27N", None, 10.27, -123.6, 0.01),
    ("lat: 10.27 long: -123.6", None, 10.27, -123.6, 0.01),
    ("Longitude -123.6, Latitude 10.27", None, 10.27, -123.6, 0.01),
    ("10\u00b030' latitud norte 66\u00b015' longitud oeste", None, 10.5, -66.25, MINUTE),
    ("5\u00b030' Nord 4\u00b0 Ost", None, 5.5, 4.0, MINUTE),
    ("2\u00b030'N 5\u00b030'O", "es", 2.5, -5.5, MINUTE),
    ("2\u00b030'N 5\u00b030'O", "fr-CA", 2.5, -5.5, MINUTE),
    ("2\u00b030'N 5\u00b030'O", "it", 2.5, -5.5, MINUTE),
    ("2\u00b030'N 5\u00b030'O", "pt_BR", 2.5, -5.5, MINUTE),
    ("2\u00b030'N 5\u00b030'O", "de", 2.5, 5.5, MINUTE),
    ("2\u00b030'N 5\u00b030'W", "es", 2.5, -5.5, MINUTE),
    ("2\u00b030'S 35\u00b030'L", "pt", -2.5, 35.5, MINUTE),
    ("48\u00b030'S 17\u00b015'V", "cs", 48.5, 17.25, MINUTE),
    ("48\u00b030'S 17\u00b015'E", "cs", -48.5, 17.25, MINUTE),
    ("5\u00b0 30' n. Br. 14\u00b0 3' \u00f6. L.", None, 5.5, 14.05, MINUTE),
    ("5\u00b030' LS, 110\u00b015' BT", None, -5.5, 110.25, MINUTE),
    ("10\u00b030\u2032 \u0441.\u0448. 45\u00b015\u2032 \u0432.\u0434.", None, 10.5, 45.25, MINUTE),
    ("\u5317\u7eac10\u00b030\u2032 \u4e1c\u7ecf105\u00b015\u2032", None, 10.5, 105.25, MINUTE),
    ("+40.20361-075.00417/", None, 40.20361, -75.00417, 1e-5),
    ("+401213.1-0750015.1+2.79/", None, dms(40, 12, 13.1), -dms(75, 0, 15.1), SECOND / 10),
    ("geo:10.27,-123.6;u=30", None, 10.27, -123.6, 0.01),
    ("POINT (-123.6 10.27)", None, 10.27, -123.6, 0.01),
]


@pytest.mark.parametrize(("text", "language", "latitude", "longitude", "step"), READ)
def test_what_can_mean_one_place_only_is_read(
    text: str, language: str | None, latitude: float, longitude: float, step: float
) -> None:
    """1e-12 degree: the last bits of dividing by 60."""
    found = parse(text, language)
    assert (latitude, longitude, step) == (
        pytest.approx(found.latitude, abs=1e-12),
        pytest.approx(found.longitude, abs=1e-12),
        pytest.approx(found.step_degrees, rel=1e-12),
    )
    assert found.step_m is None


# Text, language, and words that the reason must hold.
REFUSED = [
    ("10N30 20E30", None, "more than one place"),
    ("12 N 30 45 E 20", None, "more than one place"),
    ("N 10 20 30 40 50 E", None, "more than one place"),
    ("", None, "no text"),
    ("abc", None, "not found"),
    ("10.27", None, "not found"),
    ("10,27", None, "one coordinate or two"),
    ("10,27, -123,6", None, "semicolon"),
    ("10,27,-123,6", None, "semicolon"),
    ("10,27 -123.6", None, "mixed"),
    ("1.234,5 66", None, "mixed"),
    ("10 30", None, "whole numbers"),
    ("10 66", None, "whole numbers"),
    ("-10 30.5", None, "one coordinate or two"),
    ("10.27-123.6", None, "range"),
    ("10-30N 66-15W", None, "range"),
    ("N 10 30,66 15 W", None, "more than one place"),
    ("2\u00b030'N 5\u00b030'O", None, "say the language"),
    ("2\u00b030'S 35\u00b030'L", None, "say the language"),
    ("48\u00b0S 17\u00b0V", None, "say the language"),
    ("10\u00b060'N 66W", None, "minutes must be below 60"),
    ("10\u00b030'60\"N 66W", None, "seconds must be below 60"),
    ("10.5\u00b030.5'N 66W", None, "only the last part may have decimals"),
    ("10\u00b030.5'30\"N 66W", None, "only the last part may have decimals"),
    ("91N 66W", None, "latitude must be -90 to 90"),
    ("10N 181W", None, "longitude must be -180 to 180"),
    ("123.6, 10.27", None, "longitude may stand first"),
    ("-10.5 S 66 W", None, "sign and a direction"),
    ("10.5 N, 66.2", None, "other has none"),
    ("10.5 N 66.2 N", None, "both numbers are a latitude"),
    ("10 30 15, 66 15 20", None, "need N, S, E or W"),
    ("10.5 N 66.2 W 350 m", None, ""),
    ("ca. 10.5 N 66.2 W", None, "ca"),
    ("10.5 N to 11.5 N 66 W", None, "to"),
    ("630000 4833400", None, "zone"),
    ("TQ 299 805", None, "grid's name"),
    ("[-123.6, 10.27]", None, ""),
    ("10.27, -123.6 NAD27 WGS84", None, "two datums"),
    ("geo:10.27,-123.6;crs=nad27", None, "nad27"),
    ("\x0010.27, -123.6", None, "control character"),
    ("1" * 301, None, "longer"),
    ("nan, nan", None, ""),
    ("1e3, 2e3", None, ""),
    ("10.27 N, 123.6 W, 5", None, ""),
    ("lat 10.27, lat 123.6", None, "both numbers"),
    ("10.27 E latitude, 5 N", None, "does not belong"),
]


@pytest.mark.parametrize(("text", "language", "reason"), REFUSED)
def test_what_is_not_certain_is_refused_with_the_reason(text: str, language: str | None, reason: str) -> None:
    """A ValueError, whose message says why."""
    with pytest.raises(ValueError, match=r"\w") as caught:
        parse(text, language)
    assert reason in str(caught.value)


def test_a_general_readers_mistake_is_not_ours() -> None:
    """One general parser reads this pair as 5, -34; the notation means 41 degrees south, 121 west."""
    assert parse("41 05 54S 121 05 34W").latitude == pytest.approx(-41.098333, abs=1e-6)


def test_an_unknown_language_is_a_programmers_mistake() -> None:
    """It is told with what is known."""
    with pytest.raises(ValueError, match="language must be one of en, es"):
        parse("10 N 20 O", "xx")


def test_a_reason_can_be_said_in_another_language() -> None:
    """The message's parts are kept, so that a translation needs no taking apart."""
    with pytest.raises(PlaceError) as caught:
        parse("10\u00b060'N 66W")
    assert caught.value.template == "{name} must be below 60; {part} was read"
    assert caught.value.values == {"name": "minutes", "part": "60"}


@pytest.mark.parametrize(
    ("text", "datum"),
    [
        ("10.27, -123.6", None),
        ("10.27, -123.6 WGS84", "EPSG:4326"),
        ("10.27, -123.6 (WGS 84)", "EPSG:4326"),
        ("10.27, -123.6 [datum: NAD-27]", "EPSG:4267"),
        ("NAD83 10.27, -123.6", "EPSG:4269"),
        ("10.27, -123.6 EPSG:4618", "EPSG:4618"),
        ("10.27, -123.6 South American 1969", "EPSG:4618"),
        ("10.27, -123.6 Campo Inchauspe", "EPSG:4221"),
    ],
)
def test_the_datum_is_taken_from_the_text_and_never_assumed(text: str, datum: str | None) -> None:
    """None where the text names none. Codes of the EPSG registry."""
    assert parse(text).datum == datum


def test_the_words_are_kept_as_written() -> None:
    """Blanks and all."""
    assert read("  10.27 ,  -123.6 ").verbatim == "  10.27 ,  -123.6 "
    assert read("41 05 54S 121 05 34W").notation == "degrees minutes seconds"


@pytest.mark.parametrize(
    ("latitude", "longitude", "language", "expected"),
    [
        ("-33.5", "18.25", "", (-33.5, 18.25)),
        ("33,5 S", "18,25 E", "", (-33.5, 18.25)),
        ("10\u00b030'N", "66\u00b015'O", "es", (10.5, -66.25)),
        ("10.27", "123.6 WGS84", "", (10.27, 123.6)),
    ],
)
def test_two_columns_are_read_as_a_pair(
    latitude: str, longitude: str, language: str, expected: tuple[float, float]
) -> None:
    """The column says which is which, so a decimal comma needs no company."""
    found = read_pair(latitude, longitude, language or None).coordinates
    assert (found.latitude, found.longitude) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("latitude", "longitude", "reason"),
    [
        ("123.6", "10.27", "latitude must be"),
        ("10 E", "20 N", "latitude"),
        ("10\u00b030'", "66\u00b015'", "N, S, E or W"),
        ("10.27", "", "longitude"),
        ("10 O", "20", "language"),
        ("10.27 NAD27", "20 WGS84", "two datums"),
    ],
)
def test_two_columns_that_are_not_certain_are_refused(latitude: str, longitude: str, reason: str) -> None:
    """With the column named."""
    with pytest.raises(ValueError, match=reason):
        read_pair(latitude, longitude)
