"""Symbols hold what makers publish, and other readers than their writer read them back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pylibdmtx import pylibdmtx

from keepfast.paper import symbols
from keepfast.paper.page import Page
from keepfast.paper.type import PaperError
from tests.paper import qr_reader

# Side in modules: digits, alphanumeric characters, as a maker of printers publishes the capacities of ISO/IEC 16022
# (industrial printer manual, p. 480; read).
DATA_MATRIX = {10: (6, 3), 12: (10, 6), 14: (16, 10), 16: (24, 16), 20: (44, 31)}
# Version 1 and 3 of ISO/IEC 18004 at level M, alphanumeric (a maker's specification table; read).
QR_M = {21: 20, 29: 61}


@pytest.mark.parametrize(("side", "held"), DATA_MATRIX.items())
def test_a_data_matrix_holds_the_published_figures(side: int, held: tuple[int, int]) -> None:
    assert side == len(symbols.modules("1" * held[0]))
    assert side < len(symbols.modules("1" * (held[0] + 1)))


@pytest.mark.parametrize(("side", "held"), [(12, 6), (14, 10), (16, 16), (20, 31)])
def test_a_data_matrix_holds_the_published_letters_and_figures(side: int, held: int) -> None:
    """Capitals in C40, three in two codewords; the smallest symbol is left out, where the encoder stays in ASCII."""
    assert side >= len(symbols.modules(("ABCDEFGHIJKLMNOPQRSTUVWXYZ" * 2)[:held]))


@pytest.mark.parametrize(("side", "held"), QR_M.items())
def test_a_qr_symbol_holds_the_published_letters_and_figures(side: int, held: int) -> None:
    assert side == len(symbols.modules("A" * held, "qr"))
    assert side < len(symbols.modules("A" * (held + 1), "qr"))


def test_symbols_are_square_even_where_a_flat_one_would_be_smaller() -> None:
    """28 characters came as a rectangle of 8 x 64 when nobody asked for a square."""
    rows = symbols.modules("https://example.org/abcdefgh")
    assert len(rows) == len(rows[0])


def test_sides_with_their_quiet_zones() -> None:
    """A Data Matrix of 16 modules at 0.25 mm with one quiet module each side is 4.50 mm; QR 3 at 0.33 is 12.21 mm."""
    assert pytest.approx(4.50) == symbols.side("A" * 16) * 0.25
    assert pytest.approx(12.21) == symbols.side("A" * 61, "qr") * 0.33


def test_a_module_is_a_whole_number_of_dots() -> None:
    """Three dots at 300 dpi are 0.254 mm."""
    dot = 25.4 / 300
    size = symbols.module_mm("ABC 12-K", "data_matrix", 4.2, dot, 0.25, 0.6)
    assert pytest.approx(0.254, abs=5e-4) == size


def test_a_symbol_that_does_not_fit_is_refused_with_its_size() -> None:
    with pytest.raises(PaperError, match="needs"):
        symbols.fitted(
            Page(20, 20, card="B-12"), 0, 0, "B" * 60, "data_matrix",
            room_mm=5, dot_mm=0.04, least_mm=0.25, most_mm=0.5, field="symbol",
        )  # fmt: skip


def test_nothing_to_say_is_no_symbol() -> None:
    with pytest.raises(ValueError, match="at least one character"):
        symbols.modules("")


def raster(text: str, kind: str, pixels: int = 4) -> np.ndarray:
    """The boxes as drawn, painted dot by dot without any library of pictures."""
    page = Page(200, 200)
    symbols.draw(page, 0, 0, text, kind, 1.0)
    side = symbols.side(text, kind)
    grey = np.full((side * pixels, side * pixels), 255, dtype=np.uint8)
    for x, y, wide, high in page.items[0].boxes:
        grey[round(y) * pixels : round(y + high) * pixels, round(x) * pixels : round(x + wide) * pixels] = 0
    return grey


@settings(max_examples=40)
@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 -", min_size=1, max_size=20).filter(str.strip))
def test_a_drawn_data_matrix_is_read_by_another_decoder(text: str) -> None:
    grey = raster(text, "data_matrix", 6)
    found = pylibdmtx.decode(_picture(grey), max_count=1, timeout=60_000)
    assert [text] == [one.data.decode() for one in found]


def _picture(grey: np.ndarray):
    from PIL import Image

    return Image.fromarray(np.pad(grey, 12, constant_values=255))


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 -:/.abcxyz", min_size=1, max_size=50))
def test_a_drawn_qr_symbol_is_read_by_another_decoder(text: str) -> None:
    """The second reader is our own, from the standard's layout; it knows nothing of the library that writes."""
    assert (text, "M") == qr_reader.read(qr_reader.modules(raster(text, "qr")))
