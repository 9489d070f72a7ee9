"""Laws that hold whatever the body: formaldehyde is kept, nothing goes negative, more is never less."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from keepfast.science import decay
from keepfast.science import penetration_layers as layers
from keepfast.science import penetration_plane as plane
from keepfast.science import penetration_solver as solver
from keepfast.science.penetration import centre, fronts
from keepfast.science.warmth import Warmth

RADIUS = st.floats(0.3, 40.0)
HOURS = st.floats(0.05, 200.0)
WARM = st.floats(0.0, 40.0)
SHAPE = st.sampled_from(["slab", "cylinder", "sphere"])


@given(radius=RADIUS, hours=HOURS, warm=WARM, shape=SHAPE, release=st.floats(0, 0.1))
@settings(max_examples=25, deadline=None)
def test_shares_stay_between_nothing_and_all(radius, hours, warm, shape, release):
    found = centre(radius, [hours, 2 * hours], temperature_c=warm, shape=shape, release_per_h=release)

    # 1e-6: rounding and the last Newton iterate.
    assert ((found.free >= -1e-6) & (found.free <= 1 + 1e-6)).all()
    assert ((found.bound >= 0) & (found.bound <= 1)).all()
    assert found.free[1] >= found.free[0] - 1e-4
    assert found.bound[1] >= found.bound[0] - 1e-4


@given(radius=RADIUS, hours=HOURS, shape=SHAPE)
@settings(max_examples=10, deadline=None)
def test_warmer_thinner_and_longer_are_never_behind(radius, hours, shape):
    base = centre(radius, hours, shape=shape)

    # 0.003: each call has its own grid and steps.
    assert centre(radius, hours, temperature_c=30.0, shape=shape).bound >= base.bound - 0.003
    assert centre(0.7 * radius, hours, shape=shape).free >= base.free - 0.003
    assert centre(radius, hours, capacity_mol_l=0.5, shape=shape).free <= base.free + 0.003
    front = fronts(radius, hours, shape=shape)
    assert 0 <= front.bound_nine_tenths_mm <= front.bound_half_mm <= radius
    assert front.free_tenth_mm <= radius


@given(radius=RADIUS, warm=WARM)
@settings(max_examples=15, deadline=None)
def test_the_middle_of_a_slab_waits_for_that_of_a_cylinder_and_that_for_a_sphere(radius, warm):
    free = [centre(radius, radius**2 / 4, temperature_c=warm, shape=s).free for s in ("slab", "cylinder", "sphere")]

    assert sorted(free) == pytest.approx(free, abs=0.003)


bodies = st.builds(
    lambda r, core, fat, fluid, skin, sheet: (r, core, fat, fluid, skin, sheet),
    st.floats(1.0, 30.0),
    st.floats(0.1, 0.6),
    st.floats(0.0, 1.0),
    st.one_of(st.just(0.0), st.floats(0.02, 0.6)),  # none, or more than the grid's thinnest layer
    st.floats(0.0, 3.0),
    st.floats(0.05, 3.0),
)


@given(made=st.lists(bodies, min_size=1, max_size=6), warm=WARM, hours=st.floats(0.5, 150.0))
@settings(max_examples=20, deadline=None)
def test_in_a_closed_tray_formaldehyde_is_kept_to_rounding(made, warm, hours):
    """What sheet and filling brought is what is there later, free and bound, however coarse the steps."""
    columns = np.array(made).T
    some = layers.Sections(
        columns[0], columns[1] * columns[0], columns[2], columns[3] * columns[0] ** 2, 0.02 * columns[0], columns[4],
        columns[5], np.ones(len(made), dtype=int),
    )  # fmt: skip
    tissue = layers.Tissue.defaults()
    built, state = layers.build(some, tissue)
    before = solver.content(built, state).sum(axis=0)
    brought = 1.3 * (columns[3] * columns[0] ** 2 / (2 * np.pi) + columns[5] * built.radius_mm[-1])
    warmth = layers.factors_of_warmth(Warmth.constant(warm), tissue, 0.0)
    for iterations in (1, 8):
        end, _ = solver.run(built, state, [hours], lambda h, s: None, warmth=warmth, growth=1.4, iterations=iterations)

        # 1e-10: rounding of doubles through a layer a micrometre thin, whose rows are a million times stiffer.
        assert solver.content(built, end).sum(axis=0) == pytest.approx(before, rel=1e-10)
    # The grid makes and loses nothing.
    assert before == pytest.approx(brought, rel=1e-9)


@given(spacing=st.floats(5.0, 60.0), ml=st.floats(0.05, 3.0), hours=st.floats(0.5, 80.0))
@settings(max_examples=12, deadline=None)
def test_between_depots_formaldehyde_is_kept_to_rounding(spacing, ml, hours):
    depots = plane.Depots(*(np.array([v]) for v in (12.0, 6.0, spacing, ml, 0.35, 0.4, 1.2, 0.4)))
    made, state = plane.build(depots, layers.Tissue.defaults())
    before = plane.content(made, state).sum()
    end, _ = plane.follow(made, state, [hours], lambda h, s: None, growth=1.3)

    # 1e-12: a few thousand sums of doubles.
    assert plane.content(made, end).sum() == pytest.approx(before, rel=1e-12)
    share = min(ml * 1000 / (np.pi * 36 * spacing), 1.0)
    # All of the depot is laid, unless the cavity cannot hold it.
    put = plane.content(made, state)[:-1].sum() * 2 * np.pi * 2 / 1.3 / 1000
    assert put == pytest.approx(share * np.pi * 36 * spacing / 1000, rel=0.02)


@given(warm=st.floats(-5, 45), hours=st.floats(0, 100), clock=st.sampled_from(decay.CLOCKS))
@settings(max_examples=50, deadline=None)
def test_decay_never_runs_backwards(warm, hours, clock):
    assert decay.load(hours, warm, clock) >= 0
    assert decay.load(hours, warm + 1, clock) >= decay.load(hours, warm, clock)


@given(sheet=st.floats(0.05, 2.0), radius=st.floats(1.0, 25.0))
@settings(max_examples=15, deadline=None)
def test_a_wetter_sheet_is_never_later(sheet, radius):
    one = np.array([radius, radius])
    some = layers.Sections(
        one, 0.3 * one, 0 * one, 0 * one, 0.02 * one, 0 * one, np.array([sheet, 2 * sheet]), np.ones(2, dtype=int)
    )
    found = layers.first_passage(some, layers.Tissue.defaults(), "all", 0.08, 96.0, Warmth.constant(22.0))

    for when in (found.arrest_h, found.half_bound_h):
        assert when[1] <= when[0] * 1.001 or np.isinf(when[0])
