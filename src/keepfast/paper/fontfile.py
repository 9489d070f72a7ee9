"""Reading a TrueType file far enough to measure and check text: advances, heights, the character map, even figures.

Field layouts: ISO/IEC 14496-22 (Open Font Format), tables head, hhea, hmtx, OS/2, cmap (formats 4 and 12) and GSUB
(single substitution).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class FontFile:
    """What a line of type needs to know. Advances in thousandths of the type size; glyphs by number."""

    path: Path
    glyph_of: dict[int, int]  # character code: glyph, figures already even in width
    advance_of: dict[int, float]  # character code: advance
    ascent: float
    descent: float  # negative
    cap_height: float
    x_height: float


def _tables(raw: bytes) -> dict[bytes, int]:
    count = struct.unpack_from(">H", raw, 4)[0]
    return {raw[12 + 16 * i : 16 + 16 * i]: struct.unpack_from(">I", raw, 20 + 16 * i)[0] for i in range(count)}


def _format_4(raw: bytes, at: int) -> dict[int, int]:
    segments = struct.unpack_from(">H", raw, at + 6)[0] // 2
    ends = struct.unpack_from(f">{segments}H", raw, at + 14)
    starts = struct.unpack_from(f">{segments}H", raw, at + 16 + 2 * segments)
    deltas = struct.unpack_from(f">{segments}h", raw, at + 16 + 4 * segments)
    offsets_at = at + 16 + 6 * segments
    offsets = struct.unpack_from(f">{segments}H", raw, offsets_at)
    found = {}
    for i in range(segments):
        for code in range(starts[i], ends[i] + 1):
            if code == 0xFFFF:
                continue
            if offsets[i] == 0:
                glyph = (code + deltas[i]) & 0xFFFF
            else:
                glyph = struct.unpack_from(">H", raw, offsets_at + 2 * i + offsets[i] + 2 * (code - starts[i]))[0]
                glyph = (glyph + deltas[i]) & 0xFFFF if glyph else 0
            if glyph:
                found[code] = glyph
    return found


def _format_12(raw: bytes, at: int) -> dict[int, int]:
    groups = struct.unpack_from(">I", raw, at + 12)[0]
    found = {}
    for i in range(groups):
        start, end, glyph = struct.unpack_from(">III", raw, at + 16 + 12 * i)
        found.update({code: glyph + code - start for code in range(start, end + 1)})
    return found


def _characters(raw: bytes, at: int) -> dict[int, int]:
    found: dict[int, int] = {}
    for i in range(struct.unpack_from(">H", raw, at + 2)[0]):
        sub = at + struct.unpack_from(">I", raw, at + 8 + 8 * i)[0]
        kind = struct.unpack_from(">H", raw, sub)[0]
        if kind == 4:
            found.update(_format_4(raw, sub))
        elif kind == 12:
            found.update(_format_12(raw, sub))
    return found


def _coverage(raw: bytes, at: int) -> list[int]:
    kind, count = struct.unpack_from(">HH", raw, at)
    if kind == 1:
        return list(struct.unpack_from(f">{count}H", raw, at + 4))
    glyphs: list[int] = []
    for i in range(count):
        start, end, _ = struct.unpack_from(">HHH", raw, at + 4 + 6 * i)
        glyphs.extend(range(start, end + 1))
    return glyphs


def _single_substitutions(raw: bytes, at: int, feature: bytes) -> dict[int, int]:
    """Glyph to glyph, for every single substitution that this feature asks for."""
    features = at + struct.unpack_from(">H", raw, at + 6)[0]
    lookups = at + struct.unpack_from(">H", raw, at + 8)[0]
    wanted: set[int] = set()
    for i in range(struct.unpack_from(">H", raw, features)[0]):
        record = features + 2 + 6 * i
        if raw[record : record + 4] == feature:
            table = features + struct.unpack_from(">H", raw, record + 4)[0]
            count = struct.unpack_from(">H", raw, table + 2)[0]
            wanted.update(struct.unpack_from(f">{count}H", raw, table + 4))
    swaps: dict[int, int] = {}
    for index in sorted(wanted):
        lookup = lookups + struct.unpack_from(">H", raw, lookups + 2 + 2 * index)[0]
        kind, _, count = struct.unpack_from(">HHH", raw, lookup)
        for offset in struct.unpack_from(f">{count}H", raw, lookup + 6):
            sub, sub_kind = lookup + offset, kind
            if sub_kind == 7:  # an extension only points further on
                sub_kind, far = struct.unpack_from(">HI", raw, sub + 2)
                sub += far
            if sub_kind != 1:
                continue
            form, cover, value = struct.unpack_from(">HHh", raw, sub)
            glyphs = _coverage(raw, sub + cover)
            if form == 1:
                swaps.update({g: (g + value) & 0xFFFF for g in glyphs})
            else:
                others = struct.unpack_from(f">{len(glyphs)}H", raw, sub + 6)
                swaps.update(dict(zip(glyphs, others, strict=True)))
    return swaps


def read(path: Path) -> FontFile:
    """Read one font. Figures are taken in their tabular form where the font has one (feature ``tnum``).

    Raises
    ------
    ValueError
        If the file is not a TrueType font.
    """
    raw = path.read_bytes()
    if raw[:4] not in (b"\x00\x01\x00\x00", b"true"):
        raise ValueError(f"path must be a TrueType font; {path.name} is not")
    at = _tables(raw)
    per_em = struct.unpack_from(">H", raw, at[b"head"] + 18)[0]
    ascent, descent = struct.unpack_from(">hh", raw, at[b"hhea"] + 4)
    long_metrics = struct.unpack_from(">H", raw, at[b"hhea"] + 34)[0]
    x_height, cap_height = struct.unpack_from(">hh", raw, at[b"OS/2"] + 86)
    glyph_of = _characters(raw, at[b"cmap"])
    if b"GSUB" in at:
        even = _single_substitutions(raw, at[b"GSUB"], b"tnum")
        glyph_of.update({ord(c): even[glyph_of[ord(c)]] for c in "0123456789" if glyph_of.get(ord(c)) in even})
    unit = 1000.0 / per_em

    def advance(glyph: int) -> float:
        return float(struct.unpack_from(">H", raw, at[b"hmtx"] + 4 * min(glyph, long_metrics - 1))[0] * unit)

    return FontFile(
        path=path,
        glyph_of=glyph_of,
        advance_of={code: advance(glyph) for code, glyph in glyph_of.items()},
        ascent=ascent * unit,
        descent=descent * unit,
        cap_height=cap_height * unit,
        x_height=x_height * unit,
    )
