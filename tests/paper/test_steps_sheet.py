"""The sheet of a jarful: every change drawn and written with its amounts, its day, and lines for what was done."""

import datetime

import pytest

from keepfast.paper import pdf, steps_sheet
from keepfast.paper.page import Path, Text
from keepfast.plan import step_calendar
from keepfast.plan.mixing import amount
from keepfast.plan.steps import InJar, Jarful, plan_steps
from keepfast.rules import cautions, fluids

START = datetime.datetime(2026, 4, 18, 18, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))
RULES = fluids.load()
KNOWN = cautions.load()


def jarful(*bodies: InJar) -> Jarful:
    return Jarful(bodies or (InJar("B-12", "frog", 40.0, 25.0, "measured"),))


def plan(stage: str = "fixing", **wishes):
    return plan_steps(
        jarful(*wishes.pop("bodies", ())), RULES, stage=stage, stock_vol=96.0, temperature_c=20.0, **wishes
    )


@pytest.fixture(scope="module")
def whole():
    return plan()


@pytest.fixture(scope="module")
def entries(whole):
    return step_calendar.calendar(whole, START)


def words_of(pages) -> list[str]:
    return [words.replace("\u00a0", " ") for page in pages for words in page.words()]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_amounts_stand_twice_as_figures_and_in_the_drawing(whole, entries, paper: str) -> None:
    words = words_of(steps_sheet.draw(whole, entries, paper))
    for change in whole.of(whole.chosen).changes:
        if change.stock_ml > 0:
            both = f"{amount(change.stock_ml)} + {amount(change.water_ml)}"
            assert both in words
            assert amount(change.stock_ml) in words
            assert f"+ {amount(change.water_ml)}" in words
        else:
            assert words.count(amount(change.water_ml)) >= 2


def test_stock_fills_its_share_of_each_vessel(whole, entries) -> None:
    """The line between stock and water, as a share of the height up to the dashed line."""
    items = [item for page in steps_sheet.draw(whole, entries) for item in page.items if isinstance(item, Path)]
    vessels = [i.points for i in items if len(i.points) == 4 and not i.closed and i.width_mm == 0.5]
    changes = whole.of(whole.chosen).changes
    assert len(changes) == len(vessels)
    for change, points in zip(changes, vessels, strict=True):
        left, right, floor = points[0][0], points[2][0], points[1][1]
        level = next(i.points[0][1] for i in items if i.dash and i.points[0][0] == left and i.points[1][0] == right)
        borders = [
            i.points[0][1]
            for i in items
            if not i.dash and len(i.points) == 2 and i.points[0][0] == left and i.points[1] == (right, i.points[0][1])
        ]
        share = change.stock_ml / (change.stock_ml + change.water_ml)
        shown = [(floor - border) / (floor - level) for border in borders]
        assert shown == ([pytest.approx(share)] if 0 < share < 1 else [])


def test_every_change_has_a_box_its_day_and_lines_to_write_on(whole, entries) -> None:
    pages = steps_sheet.draw(whole, entries)
    words = words_of(pages)
    changes = whole.of(whole.chosen).changes
    boxes = [i for p in pages for i in p.items if isinstance(i, Path) and i.closed and i.fill is None]
    assert len(changes) == len(boxes)
    for entry in entries:
        if entry.key.split("-")[0] in ("rinse", "step", "jar"):
            assert f"{entry.at:%d %b %H:%M}" in words
    for asked in ("done on", "read, %", "by", "Read on", "topped up, mL"):
        assert asked in words


def test_without_a_beginning_the_days_stay_open(whole) -> None:
    def lines(pages) -> int:
        """Lines to write on below the word when."""
        column = next(i.x for i in pages[0].items if isinstance(i, Text) and i.words == "when")
        return sum(
            isinstance(i, Path) and len(i.points) == 2 and i.width_mm == 0.3 and i.points[0][0] == column
            for page in pages
            for i in page.items
        )

    assert 0 == lines(steps_sheet.draw(whole, step_calendar.calendar(whole, START)))
    assert len(whole.of(whole.chosen).changes) == lines(steps_sheet.draw(whole))


def test_cautions_stand_where_their_hazard_arises(whole, entries) -> None:
    bath = cautions.called_up(KNOWN, round="cover", fluid="formalin")
    pouring = cautions.called_up(KNOWN, step="decant", fluid="alcohol")
    pages = steps_sheet.draw(whole, entries, bath_cautions=bath, step_cautions=pouring)
    words = " ".join(words_of(pages))
    assert words.index(bath[0].text[:30]) < words.index("The steps") < words.index(pouring[0].text[:30])
    plain = steps_sheet.rest_in_words(whole, bath, pouring)
    assert all(caution.text in plain for caution in (*bath, *pouring))


def test_what_stays_in_formalin_has_no_steps_and_no_alcohol() -> None:
    larvae = InJar("L-1", "larva", 60.0, 8.0, "measured")
    words = words_of(steps_sheet.draw(plan(bodies=(larvae,))))
    assert "Stays in formalin" in words
    assert not any("The steps" in w or "done on" in w for w in words)


def test_the_text_in_the_file_is_the_text_meant(whole, entries, seen, same_letters) -> None:
    pages = steps_sheet.draw(whole, entries)
    document = seen(pdf.render(pages, title=steps_sheet.title(whole)))
    for number, page in enumerate(pages):
        assert sorted(same_letters(" ".join(page.words()))) == sorted(same_letters(document.words(number)))


def test_nothing_is_smaller_than_can_be_read(whole, entries) -> None:
    sizes = [i.size_pt for p in steps_sheet.draw(whole, entries) for i in p.items if isinstance(i, Text)]
    assert min(sizes) >= 6.5  # the foot, which says only what the sheet was made from
    assert sorted(set(sizes))[1] >= 9.0


def test_a_long_series_of_ones_own_runs_over_rows_and_sides() -> None:
    many = plan("alcohol", own_strengths_vol=[5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75])
    pages = steps_sheet.draw(many)
    words = words_of(pages)
    assert {f"{n}" for n in range(1, 16)} <= set(words)
    assert words.count("done on") == len([p for p in pages if "done on" in list(p.words())])


def test_a_name_that_cannot_be_printed_is_named(seen) -> None:
    with pytest.raises(steps_sheet.type_.PaperError) as problem:
        steps_sheet.draw(plan(bodies=(InJar("Ж-4", "frog", 40.0, 25.0, "measured"),)))
    assert "Ж-4" == problem.value.card


def test_many_in_one_jar_are_told_by_the_first() -> None:
    bodies = tuple(InJar(f"B-{n}", "frog", 20.0, 20.0, "measured") for n in range(1, 31))
    pages = steps_sheet.draw(plan(bodies=bodies))
    assert "B-1 and 29 more" in words_of(pages)
    assert all(any(f"B-{n}:" in w for w in words_of(pages)) for n in range(1, 31))
