"""Opening what a stranger may have made: which sort of file it is, XML without entities, pictures with a limit.

Nothing is believed that a file says of itself. Start with ``sort_of``.
"""

from __future__ import annotations

import io
import re
import unicodedata
import warnings
from collections.abc import Iterator
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import TYPE_CHECKING, Any, Literal
from xml.etree.ElementTree import Element, ParseError

from keepfast.findings import Finding, FindingsError
from keepfast.words import _

if TYPE_CHECKING:
    from PIL import Image

Sort = Literal["table", "waypoints", "photograph"]

LIMIT_BYTES = 200_000_000
LIMIT_XML_ELEMENTS = 5_000_000
LIMIT_XML_DEPTH = 50
LIMIT_PIXELS = 400_000_000  # the largest cameras make about half of that
PICTURES = {"JPEG": "image/jpeg", "MPO": "image/jpeg", "PNG": "image/png", "TIFF": "image/tiff", "WEBP": "image/webp",
            "HEIF": "image/heic", "AVIF": "image/avif"}  # fmt: skip

_HIDDEN = re.compile(r"[\x00-\x1f\x7f\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]")


def plain_name(path: str | Path) -> str:
    """A file's name without folders and without characters that do not show, so that it is safe to print and keep."""
    text = str(path).replace("\\", "/")
    name = unicodedata.normalize("NFC", _HIDDEN.sub("", PurePosixPath(text).name))
    return name.encode("utf-8", "replace").decode("utf-8")[:200] or "file"


def inside(folder: str | Path, name: str) -> Path:
    """
    The path of a file in a folder, by a name that came from outside.

    Raises
    ------
    FindingsError
        If the name leads out of the folder, by dots, a root, a drive or a link.
    """
    root = Path(folder).resolve()
    windows = PureWindowsPath(name)
    parts = name.replace("\\", "/").split("/")
    if windows.is_absolute() or windows.drive or name.startswith("/") or ".." in parts or "\x00" in name or not name:
        raise FindingsError(
            [Finding(_("this name leads out of its folder"), _("Give a plain file name."), file=plain_name(name))]
        )
    path = (root / name.replace("\\", "/")).resolve()
    if not path.is_relative_to(root):
        raise FindingsError(
            [Finding(_("this name leads out of its folder"), _("Give a plain file name."), file=plain_name(name))]
        )
    return path


def sort_of(raw: bytes, name: str) -> Sort:
    """
    Which sort of file this is, by its content and not by its name.

    Raises
    ------
    FindingsError
        If it is none that is read here.
    """
    head = raw[:4096]
    if (
        head[:3] == b"\xff\xd8\xff"
        or head[:8] == b"\x89PNG\r\n\x1a\n"
        or head[:4] in (b"II*\x00", b"MM\x00*")
        or (head[:4] == b"RIFF" and head[8:12] == b"WEBP")
        or (head[4:8] == b"ftyp" and head[8:12] in _HEIF_BRANDS)
    ):
        return "photograph"
    text = _start_as_text(head)
    if text.startswith("<"):
        if re.search(r"<(?:[\w.-]+:)?gpx[\s>/]", text, re.IGNORECASE):
            return "waypoints"
        raise FindingsError(
            [
                Finding(
                    _("this is XML or a web page, but no GPX"),
                    _("Read in CSV, XLSX, GPX or photographs."),
                    file=plain_name(name),
                )
            ]
        )
    if head[4:8] == b"ftyp" or head[:4] in (b"%PDF", b"\x1aE\xdf\xa3", b"Rar!", b"7z\xbc\xaf"):
        raise FindingsError(
            [
                Finding(
                    _("this sort of file is not read"),
                    _("Read in CSV, XLSX, GPX or photographs."),
                    file=plain_name(name),
                )
            ]
        )
    return "table"


_HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"hevm", b"hevs", b"mif1", b"msf1", b"avif")


def _start_as_text(head: bytes) -> str:
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return head.decode("utf-16", "replace").lstrip("\ufeff \t\r\n")
    return head.decode("utf-8", "replace").lstrip("\ufeff \t\r\n")


def elements(raw: bytes, name: str) -> Iterator[tuple[str, Element]]:
    """
    The events of an XML file (``start`` and ``end``), without document types, entities or anything fetched.

    Raises
    ------
    FindingsError
        If it is not XML, holds a document type, or is nested or long beyond reason.
    """
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import iterparse

    depth = count = 0
    try:
        for event, element in iterparse(io.BytesIO(raw), events=("start", "end"), forbid_dtd=True):
            depth += 1 if event == "start" else -1
            count += 1
            if depth > LIMIT_XML_DEPTH or count > 2 * LIMIT_XML_ELEMENTS:
                raise _not_read(name, _("this file is nested or long beyond reason"))
            yield event, element
    except DefusedXmlException:
        raise _not_read(name, _("this file brings a document type or entities of its own")) from None
    except (ParseError, UnicodeError, ValueError, LookupError) as problem:
        at = getattr(problem, "position", None)
        where = _("this file is not whole XML (line {line})").format(line=at[0]) if at else _("this is not XML")
        raise _not_read(name, where) from None


def _not_read(name: str, what: str) -> FindingsError:
    return FindingsError([Finding(what, _("Export it again from the receiver."), file=plain_name(name))])


def open_picture(raw: bytes, name: str) -> Image.Image:
    """
    A picture with its size known and its pixels not yet unpacked.

    Raises
    ------
    FindingsError
        If it is no picture of a known kind, is damaged, or is larger than any camera makes.
    """
    from PIL import Image, UnidentifiedImageError

    _with_heif()
    damaged = FindingsError(
        [Finding(_("this picture cannot be read"), _("Copy it from the camera again."), file=plain_name(name))]
    )
    try:
        with warnings.catch_warnings():
            # Pillow's own limit is a warning at 89 million pixels, which today's cameras pass; ours stands below.
            warnings.simplefilter("ignore")
            picture = Image.open(io.BytesIO(raw), formats=tuple(k for k in PICTURES if k != "MPO"))
    except Image.DecompressionBombError:
        raise FindingsError([_too_many_pixels(name)]) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, KeyError, IndexError, TypeError) as problem:
        raise damaged from problem
    except Exception as problem:
        # The decoders raise errors of their own kinds for damaged files; each means that this one cannot be read.
        raise damaged from problem
    width, height = picture.size
    if width * height > LIMIT_PIXELS:
        raise FindingsError([_too_many_pixels(name)])
    return picture


def _too_many_pixels(name: str) -> Finding:
    return Finding(
        _("this picture says it has more pixels than any camera makes"),
        _("Open it in a picture program and save it again, if it is yours."),
        file=plain_name(name),
    )


def _with_heif() -> None:
    import logging

    from PIL import Image

    # What the library tells its log of a damaged file is said here in words; nothing else goes to the screen.
    if not logging.getLogger("PIL").handlers:
        logging.getLogger("PIL").addHandler(logging.NullHandler())

    if "HEIF" not in Image.OPEN:
        import pillow_heif

        pillow_heif.register_heif_opener()


def exif_of(picture: Image.Image) -> dict[str, Any]:
    """The EXIF values of a picture by name, ``GPS`` a dictionary of its own; empty where there are none, or damaged."""
    from PIL import ExifTags

    found: dict[str, Any] = {}
    place: dict[str, Any] = {}
    try:
        with warnings.catch_warnings():
            # What the library warns of in damaged blocks shows in what is missing afterwards.
            warnings.simplefilter("ignore")
            exif = picture.getexif()
            parts = [
                (dict(exif), ExifTags.TAGS, found),
                (dict(exif.get_ifd(ExifTags.IFD.Exif)), ExifTags.TAGS, found),
                (dict(exif.get_ifd(ExifTags.IFD.GPSInfo)), ExifTags.GPSTAGS, place),
            ]
    except Exception:
        # A damaged EXIF block raises almost anything; the picture is kept and its EXIF counts as absent.
        return {}
    for values, names, into in parts:
        for tag, value in values.items():
            label = names.get(tag)
            if label is not None:
                into[label] = value
    if place:
        found["GPS"] = place
    return found
