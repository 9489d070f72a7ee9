"""Photographs: time, place, and the clock put right; damaged ones are a sentence."""

from __future__ import annotations

import datetime
import importlib.util
import io
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from PIL.TiffImagePlugin import IFDRational

from keepfast.exchange.photographs import clock_correction, read_photograph, read_raw_photograph, with_time
from keepfast.findings import FindingsError

_spec = importlib.util.spec_from_file_location("pictures", Path(__file__).parent / "pictures.py")
assert _spec is not None
pictures = importlib.util.module_from_spec(_spec)
assert _spec.loader is not None
_spec.loader.exec_module(pictures)
picture, GPS = pictures.picture, pictures.GPS

MADRID = ZoneInfo("Europe/Madrid")


@pytest.mark.parametrize(
    ("kind", "media"),
    [
        ("JPEG", "image/jpeg"),
        ("PNG", "image/png"),
        ("TIFF", "image/tiff"),
        ("WEBP", "image/webp"),
        ("HEIF", "image/heic"),
    ],
)
def test_every_kind_that_cameras_and_phones_write(kind: str, media: str) -> None:
    """Time and place come out of each alike. 37 55 48.36 N is 37.93010; 6 52 48 W is -6.88."""
    found = read_raw_photograph(picture(kind, gps=GPS), "x", "hash")
    assert found.media_type == media
    assert found.camera_time == datetime.datetime(2026, 4, 18, 20, 15, 3)
    assert (found.latitude, found.longitude) == (pytest.approx(37.9301, abs=1e-6), pytest.approx(-6.88, abs=1e-9))
    assert (found.elevation_m, found.accuracy_m) == (604.0, 6.5)
    assert found.gps_at == datetime.datetime(2026, 4, 18, 18, 15, 1, tzinfo=datetime.UTC)
    assert (found.width, found.height) == (40, 30)


def test_an_independent_reader_sees_the_same(tmp_path: Path) -> None:
    """ExifRead, another program, on the same file."""
    import exifread

    raw = picture(gps=GPS, offset="+02:00")
    tags = exifread.process_file(io.BytesIO(raw), details=False)
    found = read_raw_photograph(raw, "x", "")
    assert str(tags["EXIF DateTimeOriginal"]) == found.verbatim_time
    degrees = [float(v) for v in tags["GPS GPSLatitude"].values]
    assert found.latitude == pytest.approx(degrees[0] + degrees[1] / 60 + degrees[2] / 3600, abs=1e-9)


def test_an_offset_that_the_camera_wrote_is_believed() -> None:
    """And the trip's zone only fills in where there is none."""
    zoned = with_time(read_raw_photograph(picture(offset="-05:00"), "x", ""), MADRID)
    bare = with_time(read_raw_photograph(picture(), "x", ""), MADRID)
    assert zoned.taken_at is not None
    assert zoned.taken_at.isoformat() == "2026-04-18T20:15:03-05:00"
    assert bare.taken_at is not None
    assert bare.taken_at.isoformat() == "2026-04-18T20:15:03+02:00"


def test_one_photographed_clock_puts_all_right() -> None:
    """The clock showed 20:10:00+02:00 where the camera wrote 20:15:03 the day before: both slips at once."""
    clock = read_raw_photograph(picture(time="2026:04:17 20:15:03"), "clock.jpg", "")
    shown = datetime.datetime.fromisoformat("2026-04-18T20:10:00+02:00")
    correction = clock_correction(clock, shown)
    assert correction == datetime.timedelta(days=1, minutes=-5, seconds=-3)
    other = read_raw_photograph(picture(time="2026:04:17 21:15:03", offset="-07:00"), "other.jpg", "")
    found = with_time(other, ZoneInfo("Asia/Tokyo"), correction, datetime.timezone(datetime.timedelta(hours=2)))
    assert found.taken_at is not None
    assert found.taken_at.isoformat() == "2026-04-18T21:10:00+02:00"
    assert found.clock_offset_s == 86_400 - 303
    assert found.verbatim_time == "2026:04:17 21:15:03"


def test_a_clock_photograph_without_time_cannot_put_anything_right() -> None:
    """It is said with what to do."""
    with pytest.raises(FindingsError, match="carries no time"):
        clock_correction(read_raw_photograph(picture(time=None), "x", ""), datetime.datetime.now(datetime.UTC))
    with pytest.raises(ValueError, match="offset"):
        clock_correction(read_raw_photograph(picture(), "x", ""), datetime.datetime(2026, 1, 1))


def test_a_camera_clock_far_from_satellite_time_is_told() -> None:
    """Two hours and a second off."""
    found = with_time(read_raw_photograph(picture(gps=GPS), "x", ""), ZoneInfo("UTC"))
    assert any("120 minutes apart" in finding.what for finding in found.findings)


@pytest.mark.parametrize(
    "gps",
    [
        {},
        {1: "N", 2: (37.0, 55.0, 48.0)},
        {**GPS, 1: "X"},
        {**GPS, 2: (97.0, 0.0, 0.0)},
        {**GPS, 2: (37.0, 75.0, 0.0)},
        {**GPS, 2: (IFDRational(0, 0), 0.0, 0.0)},
        {**GPS, 2: (0.0, 0.0, 0.0), 4: (0.0, 0.0, 0.0)},
        {**GPS, 9: "V"},
    ],
)
def test_a_place_that_is_not_whole_is_not_taken(gps: dict[int, object]) -> None:
    """Half a pair, no such side, beyond the pole, nought by nought, or called void by the receiver itself."""
    found = read_raw_photograph(picture(gps=gps), "x", "")
    assert (found.latitude, found.longitude) == (None, None)


@pytest.mark.parametrize("time", [None, "", "0000:00:00 00:00:00", "2026:13:01 00:00:00", "yesterday"])
def test_a_time_that_is_none_is_told_and_the_picture_kept(time: str | None) -> None:
    """A doubt, not an error."""
    found = with_time(read_raw_photograph(picture(time=time), "x", ""), MADRID)
    assert found.taken_at is None
    assert [finding.weight for finding in found.findings] == ["doubt"]


def test_words_with_control_characters_lose_them() -> None:
    """A camera's name goes onto screens."""
    assert read_raw_photograph(picture(camera="Bad\x1b[31m\x07name"), "x", "").camera == "Bad [31m name"


def test_a_file_is_read_with_its_hash(tmp_path: Path) -> None:
    """By path; the hash is of the bytes."""
    import hashlib

    raw = picture()
    (tmp_path / "AB 12.jpg").write_bytes(raw)
    found = read_photograph(tmp_path / "AB 12.jpg")
    assert (found.file, found.sha256, found.size_bytes) == ("AB 12.jpg", hashlib.sha256(raw).hexdigest(), len(raw))


@pytest.mark.parametrize("keep", [0.1, 0.5, 0.9, 0.99])
def test_a_torn_picture_is_a_sentence_or_a_picture(keep: float) -> None:
    """Never more than that."""
    raw = picture(gps=GPS)
    try:
        found = read_raw_photograph(raw[: int(len(raw) * keep)], "x.jpg", "")
    except FindingsError as problem:
        said = problem.findings[0].what
    else:
        said = found.media_type
    assert said in ("this picture cannot be read", "image/jpeg")
