"""GPX: waypoints, tracks, and where the receiver was at a time."""

from __future__ import annotations

import datetime

import pytest

from keepfast.demo import FOLDER
from keepfast.exchange.waypoints import position_at, read_gpx, read_raw_gpx
from keepfast.findings import FindingsError

DEMO = FOLDER / "walk.gpx"
UTC = datetime.UTC


def gpx(body: str, version: str = "1.1") -> bytes:
    """A file around its body."""
    space = "http://www.topografix.com/GPX/" + version.replace(".", "/")
    return f'<gpx version="{version}" xmlns="{space}">{body}</gpx>'.encode()


def point(minute: int, latitude: float, longitude: float, ele: str = "") -> str:
    """A track point at 08:MM UTC."""
    return (
        f'<trkpt lat="{latitude}" lon="{longitude}">{f"<ele>{ele}</ele>" if ele else ""}'
        f"<time>2026-04-18T08:{minute:02d}:00Z</time></trkpt>"
    )


def test_the_demo_walk_is_read() -> None:
    """Five waypoints, fifty track points, in order of time, each with its offset."""
    found = read_gpx(DEMO)
    assert [w.name for w in found.waypoints] == ["B-01", "B-02", "POND", "MILL", "CAMP"]
    assert len(found.track) == 50
    assert [p.at for p in found.track] == sorted(p.at for p in found.track)
    assert all(p.at.utcoffset() is not None for p in found.track)
    assert found.findings == ()


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_both_versions_and_no_namespace_are_read(version: str) -> None:
    """The tags count, not their namespace."""
    body = '<wpt lat="1.5" lon="-2.5"><name>A 1</name><cmt>under a log</cmt><ele>12.5</ele></wpt>'
    for raw in (gpx(body, version), f"<gpx>{body}</gpx>".encode()):
        only = read_raw_gpx(raw, "x.gpx", "")
        (waypoint,) = only.waypoints
        assert (waypoint.name, waypoint.latitude, waypoint.longitude) == ("A 1", 1.5, -2.5)
        assert (waypoint.elevation_m, waypoint.words, waypoint.at) == (12.5, "under a log", None)


def test_waypoints_off_the_earth_are_refused_all_at_once() -> None:
    """Each with its number in the file."""
    body = '<wpt lat="1" lon="2"/><wpt lat="91" lon="0"/><wpt lat="nan" lon="0"/><wpt lon="0"/><wpt lat="x" lon="181"/>'
    with pytest.raises(FindingsError) as caught:
        read_raw_gpx(gpx(body), "x.gpx", "")
    assert [finding.row for finding in caught.value.findings] == [2, 3, 4, 5]


def test_track_points_without_time_or_place_are_left_out_and_counted() -> None:
    """A track of thousands has some; they are told once."""
    body = f'<trk><trkseg>{point(1, 1, 2)}<trkpt lat="1" lon="2"/><trkpt lat="95" lon="2"/></trkseg></trk>'
    found = read_raw_gpx(gpx(body), "x.gpx", "")
    assert len(found.track) == 1
    assert sorted(f.weight for f in found.findings) == ["doubt", "note"]


def test_a_time_without_offset_is_utc_as_gpx_asks_and_that_is_said() -> None:
    """GPX 1.1: times are Universal Coordinated Time."""
    found = read_raw_gpx(gpx('<wpt lat="1" lon="2"><time>2026-04-18T08:00:00</time></wpt>'), "x.gpx", "")
    assert found.waypoints[0].at == datetime.datetime(2026, 4, 18, 8, tzinfo=UTC)
    assert "UTC" in found.findings[0].what


@pytest.mark.parametrize("text", ["yesterday", "2026-13-01T00:00:00Z", "0001-01-01T00:00:00+14:00", "9" * 400])
def test_a_time_that_is_none_leaves_the_waypoint_without(text: str) -> None:
    """Its place is still good."""
    found = read_raw_gpx(gpx(f'<wpt lat="1" lon="2"><time>{text}</time></wpt>'), "x.gpx", "")
    assert found.waypoints[0].at is None


def test_between_two_track_points_the_place_is_on_the_way() -> None:
    """A quarter of the time is a quarter of the way along a meridian: latitude 1 to 2 in 8 minutes, at 2 minutes.

    3e-3 degree: a degree of latitude is not the same length at its ends.
    """
    track = read_raw_gpx(gpx(f"<trk><trkseg>{point(0, 1, 5, '100')}{point(8, 2, 5, '180')}</trkseg></trk>"), "x", "")
    found = position_at(track, datetime.datetime(2026, 4, 18, 8, 2, tzinfo=UTC))
    assert found is not None
    assert (found.latitude, found.longitude) == (pytest.approx(1.25, abs=3e-3), pytest.approx(5.0, abs=1e-9))
    assert (found.elevation_m, found.how, found.apart_s) == (120.0, "track", 120.0)


def test_a_long_gap_or_another_segment_says_nothing() -> None:
    """Eleven minutes without a fix, or a receiver that was off between."""
    moment = datetime.datetime(2026, 4, 18, 8, 6, tzinfo=UTC)
    gap = read_raw_gpx(gpx(f"<trk><trkseg>{point(0, 1, 5)}{point(12, 2, 5)}</trkseg></trk>"), "x", "")
    assert position_at(gap, moment) is None
    parts = f"<trk><trkseg>{point(0, 1, 5)}</trkseg><trkseg>{point(8, 2, 5)}</trkseg></trk>"
    apart = position_at(read_raw_gpx(gpx(parts), "x", ""), moment)
    assert apart is not None
    assert apart.apart_s == 120.0  # the nearer end, two minutes off, and not a place between
    assert apart.latitude == 2.0


def test_the_nearest_waypoint_in_time_counts_within_five_minutes() -> None:
    """And is named."""
    walk = read_gpx(DEMO)
    found = position_at(
        read_raw_gpx(gpx('<wpt lat="1" lon="2"><name>A</name><time>2026-04-18T08:00:00Z</time></wpt>'), "x", ""),
        datetime.datetime(2026, 4, 18, 10, 4, tzinfo=datetime.timezone(datetime.timedelta(hours=2))),
    )
    assert found is not None
    assert (found.how, found.name, found.apart_s) == ("waypoint", "A", 240.0)
    assert position_at(walk, datetime.datetime(2026, 4, 19, tzinfo=UTC)) is None


def test_what_is_no_gpx_is_a_sentence() -> None:
    """Other XML, an empty file."""
    with pytest.raises(FindingsError, match="not GPX"):
        read_raw_gpx(b"<kml/>", "x", "")
