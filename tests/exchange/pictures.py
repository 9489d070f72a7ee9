"""Pictures with EXIF, made for the tests."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image


def picture(
    kind: str = "JPEG",
    time: str | None = "2026:04:18 20:15:03",
    offset: str | None = None,
    gps: dict[int, Any] | None = None,
    camera: str = "Camera X1",
    extra: dict[int, Any] | None = None,
    colour: str = "white",
) -> bytes:
    """A small picture as a camera would write it."""
    image = Image.new("RGB", (40, 30), colour)
    exif = image.getexif()
    exif[0x0110] = camera
    exif.update(extra or {})
    inner = exif.get_ifd(0x8769)
    if time is not None:
        inner[0x9003] = time
    if offset is not None:
        inner[0x9011] = offset
    place = exif.get_ifd(0x8825)
    place.update(gps or {})
    out = io.BytesIO()
    if kind == "HEIF":
        import pillow_heif

        pillow_heif.register_heif_opener()
        image.save(out, "HEIF", exif=exif.tobytes())
    else:
        image.save(out, kind, exif=exif.tobytes())
    return out.getvalue()


GPS = {1: "N", 2: (37.0, 55.0, 48.36), 3: "W", 4: (6.0, 52.0, 48.0), 5: b"\x00", 6: 604.0, 7: (18.0, 15.0, 1.0),
       29: "2026:04:18", 31: 6.5}  # fmt: skip
