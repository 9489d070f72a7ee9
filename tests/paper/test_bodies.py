"""Bodies and trays drawn to scale: measured in their print, and every mark accounted for."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from keepfast.paper import bodies, body_marks, pdf, shapes, svg, trays
from keepfast.paper import page as page_
from keepfast.paper.page import Page, Path, Ring, Text
from keepfast.plan.objects import Injection, Prick, TrayPlace
from keepfast.science.body import body_of

FORMS = {
    "lizard": (78.0, 13.5, 151.0),
    "snake": (480.0, 95.0, 118.0),
    "frog": (60.0, 25.0, None),
    "salamander": (92.0, 23.0, 98.0),
    "turtle": (148.0, 520.0, 38.0),
    "caecilian": (300.0, 20.0, 6.0),
    "larva": (40.0, 0.8, None),
    "egg_clutch": (8.0, 10.0, None),
}


def body(form: str, measured: frozenset[str] = frozenset({"length_mm", "mass_g"})):
    length, mass, tail = FORMS[form]
    return body_of(form, length, mass, tail_mm=tail, count=20 if form == "egg_clutch" else 1, measured=measured)


def ring(number: int, at: float, side: str = "middle", volume: float = 0.4, site: str = "cavity") -> Injection:
    return Injection(number, at, site, side, 3.0, 25, volume, volume * 0.7, volume * 1.4, "because")


@pytest.mark.parametrize("form", FORMS)
def test_a_body_measures_what_it_should_on_paper(seen, form: str) -> None:
    """Length and width in PDFium's picture at 600 dpi, within 0.2 mm; the outline's own 0.5 mm is taken off."""
    solid = body(form, frozenset({"length_mm", "mass_g", "diameter_mm", "tail_mm"}))
    sketch = bodies.draw(solid, scale=1.0 if shapes.total_mm(solid) < 170 else 1 / 5)
    sheet = Page(200, 297)
    sheet.items = [
        item for item in sketch.page.items if isinstance(item, Path) and item.width_mm == 0.5 and not item.dash
    ]
    grey = seen(pdf.render([sheet])).grey(0, 600)
    rows, columns = np.flatnonzero((grey < 128).any(axis=1)), np.flatnonzero((grey < 128).any(axis=0))
    scale = 600 / 25.4
    line = 0.5
    assert pytest.approx(shapes.total_mm(solid) * sketch.scale, abs=0.2) == (np.ptp(columns) + 1) / scale - line
    assert pytest.approx(2 * float(solid.radius_mm.max()) * sketch.scale, abs=0.2) == (np.ptp(rows) + 1) / scale - line


def test_a_body_is_drawn_life_size_where_it_fits() -> None:
    assert 1.0 == bodies.draw(body("lizard"), width_mm=190, height_mm=120).scale
    assert 1.0 == bodies.draw(body("frog"), width_mm=190, height_mm=160).scale


def test_a_long_body_is_cut_into_rows_that_hold_all_of_it() -> None:
    long = body("snake")
    sketch = bodies.draw(long, width_mm=190, height_mm=200)
    assert 1.0 == sketch.scale
    assert sketch.rows == math.ceil(shapes.total_mm(long) / 182)
    drawn = sum(
        max(x for x, _y in item.points) - min(x for x, _y in item.points)
        for item in sketch.page.items
        if isinstance(item, Path) and item.width_mm == 0 and item.fill == 0 and len(item.points) > 8
    )
    assert pytest.approx(shapes.total_mm(long), abs=0.01) == drawn
    assert any("rows" in note for note in sketch.notes)


def test_a_tiny_body_with_marks_is_enlarged_and_stands_there_in_life_size_too() -> None:
    tiny = body_of("salamander", 22, 0.4, tail_mm=16, measured=frozenset())
    sketch = bodies.draw(tiny, injections=[ring(1, 14)])
    assert sketch.scale > 1
    assert "life size" in list(sketch.page.words())
    widths = [
        max(x for x, _y in item.points) - min(x for x, _y in item.points)
        for item in sketch.page.items
        if isinstance(item, Path) and item.closed and item.width_mm == 0.3 and not item.dash
    ]
    assert any(width == pytest.approx(38.0, abs=0.01) for width in widths)
    assert any(sketch.scale_words in note for note in sketch.notes)


def test_a_body_too_long_for_its_room_is_an_error_that_names_the_card() -> None:
    with pytest.raises(bodies.PaperError) as problem:
        bodies.draw(body("snake"), width_mm=60, height_mm=15, card="B-01")
    assert "B-01" == problem.value.card


def test_every_filling_has_its_ring_its_number_and_its_amount() -> None:
    fillings = [ring(i + 1, 60 + 30 * i, "left" if i % 2 else "right", 0.1 * (i + 1)) for i in range(12)]
    sketch = bodies.draw(body("snake"), height_mm=200, injections=fillings)
    words = list(sketch.page.words())
    for filling in fillings:
        assert f"{filling.number}" in words
        assert bodies.figures.ml(filling.volume_ml) in words
    assert len(fillings) == sum(isinstance(i, Ring) and i.radius_mm == bodies.RING_MM for i in sketch.page.items)


def test_every_amount_has_the_number_of_its_ring_before_it() -> None:
    """A leader that crosses another is followed by its number: 7: 0.80 mL. A lone filling needs none."""
    fillings = [ring(1, 60, "left", 0.31), ring(2, 60, "right", 0.32), ring(3, 62, "left", 0.33)]
    texts = [i for i in bodies.draw(body("lizard"), injections=fillings).page.items if isinstance(i, Text)]
    for filling in fillings:
        amount = next(t for t in texts if t.words == bodies.figures.ml(filling.volume_ml))
        lead = next(t for t in texts if t.words == f"{filling.number}:")
        assert amount.y == lead.y
        gap = text_box(amount)[0] - text_box(lead)[2]
        assert 0 < gap < 1.2
    alone = bodies.draw(body("lizard"), injections=fillings[:1]).page
    assert "1:" not in list(alone.words())


@pytest.mark.parametrize("crowd", [2, 3, 4, 5])
def test_an_amount_stands_near_its_ring_even_in_a_crowd(crowd: int) -> None:
    """Further than a label is wide from its ring, an amount would be read with the neighbour's."""
    fillings = [ring(i + 1, 70 + 4 * i, "left" if i % 2 else "right", 0.31 + i / 100) for i in range(crowd)]
    page = bodies.draw(body("lizard"), width_mm=190, height_mm=160, injections=fillings).page
    texts = [i for i in page.items if isinstance(i, Text)]
    rings = {t.words: t.x for t in texts if t.words.isdigit() and t.face == "bold"}
    for filling in fillings:
        amount = next(t for t in texts if t.words == bodies.figures.ml(filling.volume_ml))
        assert abs(amount.x - rings[f"{filling.number}"]) < 16.0


def test_where_pricks_lie_close_some_are_numbered_and_the_rest_counted() -> None:
    caiman = body_of("crocodilian", 2000, 240_000, tail_mm=2000, measured=frozenset())
    pricks = [Prick(i + 1, 2050 + 18 * i, "tail", "below", 1, "") for i in range(100)]
    sketch = bodies.draw(caiman, width_mm=190, height_mm=160, pricks=pricks)
    ticks = [i for i in sketch.page.items if isinstance(i, Path) and len(i.points) == 2 and i.width_mm == 0.5]
    assert len(pricks) == sum(a[0] == b[0] for a, b in (tick.points for tick in ticks))
    words = [w for w in sketch.page.words() if w.startswith("P")]
    assert "P100" in words
    assert 5 <= len(words) < 60
    assert any("count on" in note for note in sketch.notes)


def test_on_the_longest_bodies_a_dot_stands_for_a_filling_between_two_numbers() -> None:
    python = body_of("snake", 4200, 60_000, tail_mm=500, measured=frozenset())
    fillings = [ring(i + 1, 4000 - 15 * i, "left" if i % 2 else "right", 0.4) for i in range(250)]
    sketch = bodies.draw(python, width_mm=190, height_mm=130, injections=fillings)
    rings = [item for item in sketch.page.items if isinstance(item, Ring) and item.radius_mm == bodies.RING_MM]
    dots = [item for item in sketch.page.items if isinstance(item, Ring) and item.radius_mm == 0.6]
    assert len(fillings) == len(rings) + len(dots)
    words = list(sketch.page.words())
    assert {"1", "250"} <= set(words)
    assert any("dot is a filling" in note for note in sketch.notes)


def test_a_filling_of_both_limbs_has_two_rings_and_one_amount() -> None:
    sketch = bodies.draw(body("lizard"), injections=[ring(1, 72, "both", 0.33, "hindlimb")])
    rings = [item for item in sketch.page.items if isinstance(item, Ring) and item.radius_mm == bodies.RING_MM]
    assert 2 == len(rings)
    assert pytest.approx(rings[0].x, abs=0.01) == rings[1].x
    assert 1 == list(sketch.page.words()).count(bodies.figures.ml(0.33))


@given(
    st.lists(
        st.tuples(st.floats(5, 470), st.sampled_from(["left", "right", "middle"])), min_size=1, max_size=40, unique=True
    )
)
@settings(max_examples=30, deadline=None)
def test_amounts_and_rings_never_lie_on_each_other(places) -> None:
    """However the sites fall, labels stay apart, so that each amount can be read with its ring."""
    fillings = [ring(i + 1, at, side) for i, (at, side) in enumerate(places)]
    page = bodies.draw(body("snake"), width_mm=190, height_mm=400, injections=fillings).page
    boxes = []
    for item in page.items:
        if isinstance(item, Text) and item.face == "bold" and item.size_pt == body_marks.LABEL_PT and "." in item.words:
            half = item.width_mm / 2
            boxes.append((item.x - half, item.x + half, item.y))
    for i, (left, right, y) in enumerate(boxes):
        for other_left, other_right, other_y in boxes[:i]:
            assert abs(y - other_y) > 2 or right <= other_left + 0.01 or other_right <= left + 0.01


def test_pricks_are_ticks_with_numbers_and_how_many() -> None:
    pricks = [
        Prick(1, 22, "forelimb", "below", 2, ""),
        Prick(2, 60, "trunk", "both", 1, ""),
        Prick(3, 120, "tail", "below", 1, ""),
    ]
    words = list(bodies.draw(body("lizard"), pricks=pricks).page.words())
    assert "P1×2" in words
    assert "P2" in words
    assert "P3" in words
    assert "vent" in words


def test_what_was_measured_is_solid_and_what_was_not_is_dashed() -> None:
    known = bodies.draw(body("lizard", frozenset({"length_mm", "diameter_mm", "tail_mm"})))
    guessed = bodies.draw(body("lizard", frozenset({"length_mm"})))
    assert not any("Dashed" in note for note in known.notes)
    assert any("Dashed" in note for note in guessed.notes)
    outline = [item for item in guessed.page.items if isinstance(item, Path) and item.width_mm == 0.5 and item.dash]
    assert outline


def test_the_leading_region_is_hatched_and_named() -> None:
    sketch = bodies.draw(body("lizard"), regions=[bodies.Region(55, 75, "hind gut, the part most at risk")])
    assert any("hind gut" in note for note in sketch.notes)
    left, right = 4.0 + 55, 4.0 + 75
    hatch = [
        item
        for item in sketch.page.items
        if isinstance(item, Path)
        and len(item.points) == 2
        and item.width_mm == 0.18
        and all(left - 0.05 <= x <= right + 0.05 for x, _y in item.points)
        and abs(item.points[0][0] - item.points[1][0]) > 0.1
    ]
    assert len(hatch) > 10


@pytest.mark.parametrize("form", FORMS)
def test_the_drawing_goes_to_svg_as_well(form: str) -> None:
    assert svg.render(bodies.draw(body(form)).page, fonts=False).startswith("<svg")


@given(
    st.sampled_from(["straight", "tail_along_trunk", "coil", "folded", "spread", "loose"]),
    st.sampled_from(sorted(FORMS)),
    st.floats(20, 400),
    st.floats(20, 400),
)
@settings(max_examples=60, deadline=None)
def test_a_posed_body_stays_in_its_place_on_the_tray(pose: str, form: str, width: float, height: float) -> None:
    outlines = shapes.posed(body(form), pose, width, height)
    left, top, right, bottom = shapes.bounds(outlines)
    assert left >= -1e-6
    assert top >= -1e-6
    assert right <= width + 1e-6
    assert bottom <= height + 1e-6


def test_trays_are_drawn_as_they_lie(evening) -> None:
    by_number = {one.animal.field_number: one for one in evening.animals}
    for tray in evening.table.trays:
        drawing = trays.draw(tray, by_number, width_mm=180, height_mm=130)
        scale = trays.fitting_scale(tray, 180, 130)
        words = list(drawing.words())
        for number in tray.field_numbers:
            place = by_number[number].place
            assert f"{place.place}:\u00a0{number}" in words
        edge = next(item for item in drawing.items if isinstance(item, Path) and item.width_mm == 0.9)
        xs, ys = [x for x, _y in edge.points], [y for _x, y in edge.points]
        assert pytest.approx((tray.width_mm * scale, tray.height_mm * scale)) == (np.ptp(xs), np.ptp(ys))
        for item in drawing.items:
            if isinstance(item, Path) and item.width_mm == 0.5:
                assert all(min(xs) - 0.01 <= x <= max(xs) + 0.01 for x, _y in item.points)
                assert all(min(ys) - 0.01 <= y <= max(ys) + 0.01 for _x, y in item.points)


def test_no_number_hides_an_animal_or_another_number(evening) -> None:
    """What has no room on an animal stands beside it, so that most of every outline is seen."""
    by_number = {one.animal.field_number: one for one in evening.animals}
    for tray in evening.table.trays:
        drawing = trays.draw(tray, by_number, width_mm=130, height_mm=86)
        scale = trays.fitting_scale(tray, 130, 86)
        names = [text_box(i) for i in drawing.items if isinstance(i, Text) and ":\u00a0" in i.words]
        assert len(tray.field_numbers) == len(names)
        assert not any(meet(one, other) for n, one in enumerate(names) for other in names[:n])
        drawn = [p for i in drawing.items if isinstance(i, Path) and i.closed and i.width_mm == 0.5 for p in i.points]
        for number in tray.field_numbers:
            place = by_number[number].place
            left, low = 0.75 + place.x_mm * scale, 6.0 + (tray.height_mm - place.y_mm) * scale
            right, high = left + place.width_mm * scale, low - place.height_mm * scale
            own = [(x, y) for x, y in drawn if left <= x <= right and high <= y <= low]
            hidden = [p for p in own if any(meet((*p, *p), box) for box in names)]
            assert len(hidden) <= 0.5 * len(own)


def text_box(item: Text) -> tuple[float, float, float, float]:
    corners = page_.text_corners(item)
    xs, ys = [x for x, _y in corners], [y for _x, y in corners]
    return min(xs), min(ys), max(xs), max(ys)


def meet(one, other) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def test_places_are_counted_from_the_lower_left_corner(evening) -> None:
    """A body whose place begins at 0, 0 is drawn in the lower left corner of its tray."""
    tray = replace(evening.table.trays[0], field_numbers=("B-04",))
    moved = replace(evening.of("B-04"), place=TrayPlace(1, 1, 0.0, 0.0, 84.2, 52.3, False))
    drawing = trays.draw(tray, {"B-04": moved}, width_mm=180, height_mm=130)
    edge = next(item for item in drawing.items if isinstance(item, Path) and item.width_mm == 0.9)
    left, bottom = min(x for x, _y in edge.points), max(y for _x, y in edge.points)
    scale = trays.fitting_scale(tray, 180, 130)
    for item in drawing.items:
        if isinstance(item, Path) and item.width_mm == 0.5:
            assert all(x <= left + 84.3 * scale and y >= bottom - 52.4 * scale for x, y in item.points)


@pytest.mark.parametrize("number", ["Ж-4", "VERY-LONG-COLLECTOR-2026-000123"])
def test_a_number_that_no_map_can_hold_is_left_to_its_place(evening, number: str) -> None:
    tray = replace(evening.table.trays[0], field_numbers=(number,), width_mm=200.0)
    one = evening.of("B-05")
    named = replace(one, animal=replace(one.animal, field_number=number), place=TrayPlace(1, 7, 20, 20, 100, 30, False))
    words = list(trays.draw(tray, {number: named}, width_mm=70, height_mm=80).words())
    assert "7" in words
    assert not any(number in w for w in words)
