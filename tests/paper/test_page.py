"""The page in millimetres, and both of its outputs."""

import math
import re
import subprocess
import sys

import numpy as np
import pytest
from defusedxml.ElementTree import fromstring
from hypothesis import given
from hypothesis import strategies as st

from keepfast.paper import page, pdf, svg
from keepfast.paper import type as type_

ISO_216_A4 = (210.0, 297.0)


def drawn() -> page.Page:
    sheet = page.Page(*ISO_216_A4, card="test card", title="A test")
    sheet.text(20, 30, "B-12", size_pt=40, face="bold", field="number", room_mm=80)
    sheet.paragraph(20, 40, 100, "Start at the hind end: decay does. < & > 'quoted'", size_pt=11, lead="First.")
    sheet.polygon([(20, 80), (60, 80), (40, 110)], dash=page.DASHED)
    sheet.hatch([(20, 80), (60, 80), (40, 110)])
    sheet.ring(100, 100, 3, fill=0)
    sheet.text(150, 150, "turned", turn=90)
    sheet.text(190, 60, "right", anchor="end")
    sheet.boxes([(30, 200, 50, 10)])
    return sheet


def test_a_page_is_as_large_in_pdf_as_it_says(seen) -> None:
    """ISO 216: A4 is 210 x 297 mm. PDF counts points of 1/72 inch; a thousandth of a point is far below a hair."""
    assert pytest.approx(ISO_216_A4, abs=0.01) == seen(pdf.render([drawn()])).size_mm(0)


def test_a_box_is_where_and_as_large_as_it_should_be(seen) -> None:
    """Measured in PDFium's picture at 600 dpi: one dot is 0.042 mm, so two dots is all that may be lost."""
    grey = seen(pdf.render([drawn()])).grey(0, 600)
    scale = 600 / 25.4
    part = grey[round(195 * scale) : round(215 * scale), round(25 * scale) : round(85 * scale)] < 128
    rows, columns = np.flatnonzero(part.any(axis=1)), np.flatnonzero(part.any(axis=0))
    assert pytest.approx((50, 10), abs=0.09) == (np.ptp(columns) / scale, np.ptp(rows) / scale)
    assert pytest.approx((30, 200), abs=0.09) == (25 + columns[0] / scale, 195 + rows[0] / scale)


def test_the_same_page_gives_the_same_bytes() -> None:
    """In this process, and in another one with another seed of hashing."""
    here = pdf.render([drawn()])
    assert here == pdf.render([drawn()])
    code = (
        "import sys, hashlib; sys.path.insert(0, 'tests/paper'); from test_page import drawn\n"
        "from keepfast.paper import pdf, svg\n"
        "print(hashlib.sha256(pdf.render([drawn()]) + svg.render(drawn()).encode()).hexdigest())"
    )
    answers = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": "src", "PATH": ""},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert 1 == len(answers)


def test_only_our_own_fonts_are_in_the_file() -> None:
    raw = pdf.render([drawn()])
    names = set(re.findall(rb"/BaseFont\s*/([^\s/]+)", raw))
    assert names
    assert all(b"+AtkinsonHyperlegible" in name for name in names)
    assert raw.count(b"/FontFile2") >= len(names)


def test_viewers_are_asked_not_to_scale() -> None:
    assert b"/PrintScaling /None" in pdf.render([drawn()])


def test_text_in_the_pdf_is_the_text_meant(seen, same_letters) -> None:
    sheet = drawn()
    read = same_letters(seen(pdf.render([sheet])).words(0))
    assert all(same_letters(words) in read for words in sheet.words())


def test_the_svg_holds_the_same_words_and_no_outside_address() -> None:
    sheet = drawn()
    text = svg.render(sheet)
    tree = fromstring(text)
    found = [element.text for element in tree.iter("{http://www.w3.org/2000/svg}text")]
    assert list(sheet.words()) == found
    assert ("210mm", "297mm") == (tree.get("width"), tree.get("height"))
    addresses = set(re.findall(r"https?://[^\s\"')]+", text))
    assert {"http://www.w3.org/2000/svg"} == addresses
    assert text.count("@font-face") == 2  # regular and bold, no more than are used


def test_an_svg_for_a_page_that_has_the_fonts_is_small_and_takes_its_ink() -> None:
    text = svg.render(drawn(), fonts=False, standalone=False)
    assert "@font-face" not in text
    assert "background" not in text
    assert "currentColor" in text


def test_text_that_does_not_fit_names_card_and_field() -> None:
    sheet = page.Page(50, 20, card="B-12")
    with pytest.raises(type_.PaperError) as problem:
        sheet.text(2, 10, "Malpolon monspessulanus", size_pt=14, field="taxon", room_mm=40)
    assert ("B-12", "taxon") == (problem.value.card, problem.value.field)
    assert "40.0 mm" in problem.value.findings[0].sentence()


def test_text_at_the_edge_is_refused_whichever_way_it_runs() -> None:
    for x, y, how in ((45, 10, {}), (2, 1, {}), (5, 10, {"anchor": "end"}), (25, 19, {"turn": 90})):
        with pytest.raises(type_.PaperError):
            page.Page(50, 20).text(x, y, "overhanging", **how)


def test_a_drawing_that_leaves_the_page_is_refused() -> None:
    with pytest.raises(type_.PaperError, match="reaches"):
        page.Page(50, 20, card="x").line([(0, 0), (60, 10)], field="rule")


def test_a_paragraph_with_too_many_lines_is_refused() -> None:
    with pytest.raises(type_.PaperError, match="lines"):
        page.Page(60, 100, card="x").paragraph(2, 2, 30, "one two three four five six seven eight", most_lines=1)


def test_a_page_needs_a_size() -> None:
    with pytest.raises(ValueError, match="above 0"):
        page.Page(0, 10)
    with pytest.raises(ValueError, match="at least one page"):
        pdf.render([])


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)), min_size=3, max_size=3),
    st.floats(0.5, 10),
    st.floats(0, 180),
)
def test_hatching_stays_inside_a_triangle_and_is_evenly_spaced(corners, spacing: float, turn: float) -> None:
    """Every piece's ends lie on the outline, so that area by area the hatch covers just the triangle."""
    (ax, ay), (bx, by), (cx, cy) = corners
    area = abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2
    total = sum(math.dist(a, b) for a, b in page.hatching(corners, spacing, turn))
    edge = math.dist(corners[0], corners[1]) + math.dist(corners[1], corners[2]) + math.dist(corners[2], corners[0])
    # Each row stands for a strip one spacing wide; what the strips at the ends lose is at most the outline's length.
    assert abs(total * spacing - area) <= spacing * edge + 1e-6


@given(st.floats(0.1, 3), st.floats(0, 50), st.floats(0, 50))
def test_a_placed_piece_is_moved_and_scaled_as_a_whole(scale: float, x: float, y: float) -> None:
    piece = page.Page(20, 20)
    piece.box(2, 3, 10, 5)
    piece.ring(10, 10, 4)
    sheet = page.Page(200, 200)
    sheet.place(piece, x, y, scale)
    box, ring = sheet.items
    assert pytest.approx((x + 2 * scale, y + 3 * scale)) == box.points[0]
    assert pytest.approx(4 * scale) == ring.radius_mm
