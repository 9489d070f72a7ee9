"""Symbols that a reader scans: Data Matrix for tags, QR for jars. The only file that knows the symbol library.

Data Matrix (ISO/IEC 16022) needs about half the side of a QR symbol for the length of a field number; QR (ISO/IEC
18004) is what every phone reads. Both are drawn as boxes, never as a picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt
import zxingcpp

from keepfast.paper.page import Page
from keepfast.paper.type import PaperError
from keepfast.words import _

Kind = Literal["data_matrix", "qr"]
# Clear modules around: 1 by ISO/IEC 16022, 4 by ISO/IEC 18004.
QUIET = {"data_matrix": 1, "qr": 4}
Rows = tuple[tuple[bool, ...], ...]


@lru_cache(maxsize=4096)
def modules(text: str, kind: Kind = "data_matrix") -> Rows:
    """
    The symbol's modules, dark ones True, without its quiet zone. Always square.

    QR carries recovery level M (about 15 % of the codewords may be lost); a Data Matrix has one level only.

    Raises
    ------
    ValueError
        If the text is empty or longer than the symbol can hold.
    """
    if not text:
        raise ValueError("text must hold at least one character for a symbol; '' was given")
    if kind == "data_matrix":
        code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.DataMatrix, force_square=True)
    else:
        code = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.QRCode, ec_level="M")
    picture = np.array(code.to_image(scale=1, add_quiet_zones=False))
    if picture.ndim != 2 or picture.shape[0] != picture.shape[1]:
        raise ValueError(f"text must give a square symbol; {text!r} gave {picture.shape}")
    return tuple(tuple(bool(v) for v in row) for row in picture < 128)


def side(text: str, kind: Kind = "data_matrix") -> int:
    """Modules along one side, quiet zone on both ends included."""
    return len(modules(text, kind)) + 2 * QUIET[kind]


def module_mm(text: str, kind: Kind, room_mm: float, dot_mm: float, least_mm: float, most_mm: float) -> float | None:
    """The largest module in whole printer dots with which symbol and quiet zone fit the room; None if below least."""
    dots = int(min(room_mm / side(text, kind), most_mm) / dot_mm + 1e-6)
    size = dots * dot_mm
    return size if size >= least_mm - 1e-9 else None


def _boxes(rows: Rows, x: float, y: float, module: float) -> Iterator[tuple[float, float, float, float]]:
    """Dark runs of each row, joined with the row above where they are the same."""
    open_runs: dict[tuple[int, int], int] = {}
    for number, row in enumerate((*rows, tuple(False for _row in rows))):
        runs: set[tuple[int, int]] = set()
        start: int | None = None
        for column, dark in enumerate((*row, False)):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                runs.add((start, column))
                start = None
        for run in sorted(set(open_runs) - runs):
            first = open_runs.pop(run)
            yield (x + run[0] * module, y + first * module, (run[1] - run[0]) * module, (number - first) * module)
        for run in sorted(runs - set(open_runs)):
            open_runs[run] = number


def draw(page: Page, x: float, y: float, text: str, kind: Kind, module: float, field: str = "") -> float:
    """Draw a symbol with its quiet zone, upper left corner at x, y; returns the side in mm."""
    quiet = QUIET[kind] * module
    page.boxes(_boxes(modules(text, kind), x + quiet, y + quiet, module), field)
    return side(text, kind) * module


def fitted(
    page: Page,
    x: float,
    y: float,
    text: str,
    kind: Kind,
    *,
    room_mm: float,
    dot_mm: float,
    least_mm: float,
    most_mm: float,
    field: str,
) -> float:
    """Draw a symbol as large as its room and the printer's dots allow; returns the side in mm.

    Raises
    ------
    PaperError
        If even the least module does not fit.
    """
    try:
        size = module_mm(text, kind, room_mm, dot_mm, least_mm, most_mm)
        needed = side(text, kind) * least_mm
    except ValueError:
        size, needed = None, 0.0
    if size is None:
        raise PaperError(
            page.card,
            field,
            _(
                "the symbol of this text needs {needed:.1f} mm with modules of {least} mm; there are {room:.1f} mm"
            ).format(needed=needed, least=least_mm, room=room_mm)
            if needed
            else _("no symbol can hold this text"),
            _("Shorten the number, or choose a larger label."),
            text,
        )
    return draw(page, x, y, text, kind, size, field)


def read(grey: npt.NDArray[np.uint8]) -> tuple[str, ...]:
    """
    The texts of the symbols in a picture, the largest symbol first.

    Parameters
    ----------
    grey : ndarray of uint8, shape (height, width)
        The picture in grey, black 0.
    """
    found = zxingcpp.read_barcodes(grey, try_rotate=True, try_downscale=True, try_invert=True)

    def size(one: zxingcpp.Barcode) -> float:
        corner, across = one.position.top_left, one.position.bottom_right
        return float(abs(corner.x - across.x) + abs(corner.y - across.y))

    return tuple(dict.fromkeys(one.text for one in sorted(found, key=size, reverse=True) if one.valid and one.text))
