"""Files that a stranger may have made: what they are, and what they may not do."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from keepfast.exchange import safe_files
from keepfast.exchange.safe_files import elements, inside, open_picture, plain_name, sort_of
from keepfast.findings import FindingsError


@pytest.mark.parametrize(
    ("written", "plain"),
    [
        ("a/b/notes.csv", "notes.csv"),
        ("..\\..\\notes.csv", "notes.csv"),
        ("no\x00tes\u202e.csv", "notes.csv"),
        ("", "file"),
        ("x" * 500, "x" * 200),
    ],
)
def test_names_lose_their_folders_and_what_does_not_show(written: str, plain: str) -> None:
    """What is printed and kept is only the name."""
    assert plain_name(written) == plain


@pytest.mark.parametrize("name", ["../x", "/etc/passwd", "C:\\x", "a/../../x", "\\\\host\\x", "a\x00b", ""])
def test_no_name_leads_out_of_its_folder(tmp_path: Path, name: str) -> None:
    """By dots, roots, drives, or a zero in the middle."""
    with pytest.raises(FindingsError, match="leads out of its folder"):
        inside(tmp_path, name)


def test_no_link_leads_out_of_its_folder_either(tmp_path: Path) -> None:
    """A link is followed before it is believed."""
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "away").symlink_to(tmp_path)
    assert inside(tmp_path, "in/x.csv") == tmp_path.resolve() / "in" / "x.csv"
    with pytest.raises(FindingsError):
        inside(tmp_path / "in", "away/x.csv")


@pytest.mark.parametrize(
    ("raw", "sort"),
    [
        (b"\xff\xd8\xff\xe1....", "photograph"),
        (b"\x89PNG\r\n\x1a\n", "photograph"),
        (b"\x00\x00\x00\x18ftypheic", "photograph"),
        (b"\xef\xbb\xbf <?xml version='1.0'?>\n<gpx version='1.1'>", "waypoints"),
        ("<?xml version='1.0' encoding='utf-16'?><gpx>".encode("utf-16"), "waypoints"),
        (b"PK\x03\x04", "table"),
        (b"a;b\n1;2\n", "table"),
    ],
)
def test_a_file_is_what_its_content_says(raw: bytes, sort: str) -> None:
    """Whatever its name."""
    assert sort_of(raw, "some.name") == sort


@pytest.mark.parametrize("raw", [b"<html><body>", b"%PDF-1.7", b"\x00\x00\x00\x18ftypmp42", b"7z\xbc\xaf'"])
def test_other_files_are_refused_in_words(raw: bytes) -> None:
    """With what can be read instead."""
    with pytest.raises(FindingsError, match="Read in CSV, XLSX, GPX or photographs"):
        sort_of(raw, "x")


BILLION = (
    b"""<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;">]><gpx>&b;</gpx>"""
)
OUTSIDE = b"""<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx>&x;</gpx>"""
FETCHED = b"""<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "http://localhost:9/x.dtd"><gpx/>"""


@pytest.mark.parametrize("raw", [BILLION, OUTSIDE, FETCHED])
def test_xml_brings_no_entities_and_fetches_nothing(raw: bytes) -> None:
    """Refused before anything is resolved."""
    with pytest.raises(FindingsError, match="document type or entities"):
        list(elements(raw, "x.gpx"))


@pytest.mark.parametrize(
    "raw", [b"<gpx><wpt></gpx>", b"<gpx", b"\x00\x01", b"<?xml version='1.0' encoding='nix'?><gpx/>"]
)
def test_broken_xml_is_a_sentence(raw: bytes) -> None:
    """With the line where one is known."""
    with pytest.raises(FindingsError, match="XML"):
        list(elements(raw, "x.gpx"))


def test_deep_xml_is_refused() -> None:
    """Before it is built."""
    with pytest.raises(FindingsError, match="nested or long"):
        list(elements(b"<gpx>" + b"<a>" * 200 + b"</a>" * 200 + b"</gpx>", "x.gpx"))


def test_a_picture_that_claims_too_many_pixels_is_refused() -> None:
    """A PNG head of 30,000 by 30,000 in a hundred bytes: no pixel is unpacked."""
    import struct
    import zlib

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    raw = (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\x00" * 10)) + chunk(b"IEND", b"")
    )
    with pytest.raises(FindingsError, match="more pixels than any camera"):
        open_picture(raw, "bomb.png")


def test_a_large_but_honest_picture_is_opened() -> None:
    """A hundred million pixels, past the reading library's own warning."""
    out = io.BytesIO()
    Image.new("1", (12_000, 9_000)).save(out, "PNG")
    assert open_picture(out.getvalue(), "large.png").size == (12_000, 9_000)


@pytest.mark.parametrize(
    "raw", [b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\x00\x08\x00\x00\x00", b"GIF89a" + b"\x00" * 20]
)
def test_a_picture_that_is_none_is_a_sentence(raw: bytes) -> None:
    """Torn off, or of a sort no camera makes."""
    with pytest.raises(FindingsError, match="cannot be read"):
        open_picture(raw, "x.jpg")


def test_limits_are_stated() -> None:
    """Far above any real file, far below the memory."""
    assert safe_files.LIMIT_BYTES <= 500_000_000
    assert 100_000_000 < safe_files.LIMIT_PIXELS < 1_000_000_000
