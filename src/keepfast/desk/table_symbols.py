"""Symbols at the table: reading the one on a tag in a photograph, drawing the one that holds the address."""

from __future__ import annotations

import numpy as np
from PIL import Image

from keepfast.exchange.safe_files import open_picture
from keepfast.findings import FindingsError
from keepfast.paper import svg, symbols
from keepfast.paper.page import Page

MOST_PIXELS = 40_000_000
# A tag near the lens fills too much of a large picture; the reader finds it in one of these.
LONGEST_SIDES_PX = (1600, 3200, 800)


def read_symbols(photograph: bytes) -> tuple[str, ...] | None:
    """The texts of the symbols in a photograph; ``None`` where it is no photograph that can be opened safely."""
    try:
        picture = open_picture(photograph, "photograph")
        if picture.width * picture.height > MOST_PIXELS:
            return None
        grey = picture.convert("L")
    except (FindingsError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    for side in LONGEST_SIDES_PX:
        smaller = grey
        if max(grey.size) > side:
            smaller = grey.copy()
            smaller.thumbnail((side, side))
        found = symbols.read(np.ascontiguousarray(np.asarray(smaller, dtype=np.uint8)))
        if found:
            return found
    return ()


def address_symbol(address: str) -> str:
    """An address as a QR symbol, for phones to scan; black on white whatever the ground."""
    side = symbols.side(address, "qr")
    page = Page(side, side, title=address)
    symbols.draw(page, 0.0, 0.0, address, "qr", 1.0)
    return svg.render(page, fonts=False)


def address_blocks(address: str) -> str:
    """The same in half blocks for a terminal, light on dark or dark on light alike."""
    rows = symbols.modules(address, "qr")
    quiet = symbols.QUIET["qr"]
    wide = len(rows) + 2 * quiet
    grid = [[False] * wide for _row in range(quiet)]
    grid += [[False] * quiet + list(row) + [False] * quiet for row in rows]
    grid += [[False] * wide for _row in range(quiet + wide % 2)]
    signs = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}
    return "\n".join(
        "".join(signs[upper, lower] for upper, lower in zip(grid[i], grid[i + 1], strict=True))
        for i in range(0, len(grid) - 1, 2)
    )
