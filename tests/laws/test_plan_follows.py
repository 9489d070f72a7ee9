"""The plan follows what it is given: these are laws over the whole range, not points."""

from __future__ import annotations

import datetime
import math

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from keepfast.book.animals import Animal
from keepfast.plan import filling
from keepfast.plan.camp import Camp, TrayKind
from keepfast.plan.evening import Rules, plan_evening
from keepfast.plan.objects import AnimalPlan
from keepfast.plan.trays import Footprint, pack

START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=datetime.UTC)
RULES = Rules.load()
LINED = ("lizard", "legless_lizard", "snake", "amphisbaenian", "turtle", "frog", "salamander")
GIRTHED = (*LINED, "crocodilian", "caecilian")

few = settings(max_examples=40, deadline=None)


def alone(camp: Camp | None = None, **measures: object) -> AnimalPlan:
    animal = Animal("A-1", **measures)  # type: ignore[arg-type]
    return plan_evening([animal], camp or Camp(), RULES, start=START, size=20).animals[0]


@few
@given(st.sampled_from(LINED), st.floats(30, 1500), st.floats(1.0, 2.0))
def test_a_longer_animal_never_has_fewer_sites_nor_less_fluid(form: str, length_mm: float, factor: float) -> None:
    """Its mass is estimated from its length, as for every animal that nobody weighed."""
    short, long = (alone(form=form, length_mm=length) for length in (length_mm, length_mm * factor))
    assert len(long.injections) >= len(short.injections)
    assert long.total_ml >= short.total_ml


@few
@given(st.sampled_from(GIRTHED), st.floats(60, 1500), st.floats(0.02, 0.2), st.floats(1.0, 2.0))
def test_more_girth_is_never_less_fluid(form: str, length_mm: float, slenderness: float, factor: float) -> None:
    """Girth callipered, mass unknown."""
    thin, thick = (
        alone(form=form, length_mm=length_mm, diameter_mm=length_mm * slenderness * f) for f in (1.0, factor)
    )
    assert thick.total_ml >= thin.total_ml


@few
@given(st.sampled_from(GIRTHED), st.floats(100, 1500), st.floats(0.02, 0.1), st.floats(1.0, 1.5))
def test_more_girth_at_one_mass_is_never_less_fluid(
    form: str, length_mm: float, slenderness: float, factor: float
) -> None:
    """Girth callipered and mass weighed: a thicker reading takes nothing away."""
    mass_g = length_mm**3 * slenderness**2 * 0.6 / 1000
    thin, thick = (
        alone(form=form, length_mm=length_mm, mass_g=mass_g, diameter_mm=length_mm * slenderness * f)
        for f in (1.0, factor)
    )
    assert thick.total_ml >= thin.total_ml


@few
@given(st.sampled_from(GIRTHED), st.floats(1, 3000), st.floats(1.0, 4.0))
def test_a_heavier_animal_is_never_given_less(form: str, mass_g: float, factor: float) -> None:
    """Nothing but the mass is known."""
    light, heavy = (alone(form=form, mass_g=mass) for mass in (mass_g, mass_g * factor))
    assert heavy.total_ml >= light.total_ml


@few
@given(st.sampled_from(GIRTHED), st.floats(0.5, 3000), st.booleans())
def test_every_plan_adds_up(form: str, mass_g: float, yolk: bool) -> None:
    """The total is the sum, every site lies on the body and inside it, and the sum respects the ceiling."""
    plan = alone(form=form, mass_g=mass_g, sex="female", reproductive_state="eggs" if yolk else "none")
    body = plan.body
    assert math.isclose(plan.total_ml, sum(i.volume_ml for i in plan.injections), abs_tol=1e-3)
    assert [i.number for i in plan.injections] == list(range(1, len(plan.injections) + 1))
    for injection in plan.injections:
        assert 0 <= injection.at_mm <= body.length_mm + body.tail_mm
        assert 0 <= injection.depth_mm <= body.diameter_mm
        assert injection.low_ml <= injection.volume_ml <= injection.high_ml
    ceiling = RULES.protocols.by_form[form].ceiling_ml_per_g
    if ceiling is not None:
        # The sum is rounded to a syringe's marks, and no site goes below one mark.
        assert plan.total_ml <= ceiling * mass_g + 0.5 * max(1, len(plan.injections)) * 0.1 + 0.05 * plan.total_ml
    assert plan.total_low_ml <= plan.total_ml <= plan.total_high_ml
    named = {n for step in plan.steps for n in step.injection_numbers}
    assert named == {i.number for i in plan.injections}
    assert {n for step in plan.steps for n in step.prick_numbers} == {p.number for p in plan.pricks}


@few
@given(st.floats(100, 800), st.floats(100, 800), st.floats(1.05, 2.0))
def test_twice_the_tray_twice_the_wetting(width: float, height: float, factor: float) -> None:
    """The sheets' fluid goes with the tray's area, exactly."""
    assume(min(width, height) > 130)
    lizard = Animal("A-1", "lizard", length_mm=50.0)

    def sheet_ml(stretch: float) -> float:
        camp = Camp(trays=(TrayKind(width * stretch, height),))
        return plan_evening([lizard], camp, RULES, start=START, size=20).table.trays[0].upper_sheet_ml

    assert math.isclose(sheet_ml(factor), factor * sheet_ml(1.0), rel_tol=1e-9)


@few
@given(st.integers(1, 12), st.integers(1, 25))
def test_more_people_are_never_slower_and_more_animals_never_quicker(people: int, count: int) -> None:
    """Minutes follow people and number."""
    herd = [Animal(f"A-{k}", "lizard", length_mm=60.0 + k) for k in range(count + 1)]

    def minutes(n_people: int, n_animals: int) -> float:
        camp = Camp().with_people(n_people)
        return plan_evening(herd[:n_animals], camp, RULES, start=START, size=20).table.minutes

    assert minutes(people, count + 1) > minutes(people, count)
    if people < 12:
        assert minutes(people + 1, count) <= minutes(people, count)


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(st.floats(10, 400), st.floats(10, 290)), min_size=1, max_size=60),
    st.floats(0, 12),
)
def test_packed_bodies_lie_apart_inside_their_tray(sizes: list[tuple[float, float]], gap: float) -> None:
    """No two overlap, none hangs over, none is lost, and never fewer trays than the area needs."""
    items = [Footprint(f"A-{k}", w, h) for k, (w, h) in enumerate(sizes)]
    packing = pack(items, [(420.0, 297.0, None)], gap)
    assert set(packing.places) | set(packing.too_large) == {i.name for i in items}
    assert len(packing.tray_sizes) >= packing.bound
    places = list(packing.places.values())
    for place in places:
        assert place.x_mm >= -1e-6
        assert place.y_mm >= -1e-6
        assert place.x_mm + place.width_mm <= 420.0 + 1e-6
        assert place.y_mm + place.height_mm <= 297.0 + 1e-6
    for k, a in enumerate(places):
        for b in places[k + 1 :]:
            if a.tray == b.tray:
                assert (
                    a.x_mm + a.width_mm + gap <= b.x_mm + 1e-6
                    or b.x_mm + b.width_mm + gap <= a.x_mm + 1e-6
                    or a.y_mm + a.height_mm + gap <= b.y_mm + 1e-6
                    or b.y_mm + b.height_mm + gap <= a.y_mm + 1e-6
                )
    numbers = sorted((p.tray, p.place) for p in places)
    assert len(set(numbers)) == len(numbers)


@given(st.floats(0.001, 500), st.floats(1.0, 3.0))
def test_an_amount_on_the_syringe_never_falls_when_the_need_rises(volume_ml: float, factor: float) -> None:
    """Rounding to marks keeps order, and is never off by more than half a mark or a tenth."""
    read = filling.readable_ml(volume_ml)
    assert filling.readable_ml(volume_ml * factor) >= read
    assert read > 0
    assert abs(read - volume_ml) <= max(0.5 * 1.0, 0.0) if volume_ml > 20 else abs(read - volume_ml) <= 0.26


@given(st.lists(st.floats(0.003, 60), min_size=1, max_size=40))
def test_amounts_on_syringes_add_up_to_the_rounded_sum(volumes: list[float]) -> None:
    """Each on a mark of its own, none gone, and together what the sum rounds to, unless every site is at one mark."""
    amounts = filling.readable_amounts(volumes)
    assert all(a > 0 for a in amounts)
    wanted = filling.readable_ml(sum(volumes))
    least = all(math.isclose(a, 0.01) for a, v in zip(amounts, volumes, strict=True) if v <= 0.1)
    if sum(amounts) > wanted + 1e-6:
        assert least
    else:
        assert math.isclose(sum(amounts), wanted, rel_tol=1e-9, abs_tol=1e-6)


@few
@given(
    st.sampled_from(("lizard", "legless_lizard", "snake", "turtle", "frog", "salamander")),
    st.floats(40, 900),
    st.sampled_from(("follicles", "eggs", "embryos")),
)
def test_at_equal_size_yolk_is_never_given_less(form: str, length_mm: float, state: str) -> None:
    """She is the worst case of her size (common practice, no published source)."""
    plain, laden = (
        alone(form=form, length_mm=length_mm, sex="female", reproductive_state=yolk) for yolk in ("none", state)
    )
    assert laden.total_ml >= plain.total_ml
    assert len(laden.injections) >= len(plain.injections)
