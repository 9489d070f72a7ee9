"""Published constants of penetration, binding and growth: cells copied by hand, and what the model makes of them."""

import numpy as np
import pytest
from scipy.special import erfcinv

from keepfast.science.penetration import centre, depth_by_constant, fronts, warmth_factor
from keepfast.science.tables import load

# Copied by hand: table, medium, K in mm/h^0.5, depth and hours where the source gives them.
CONSTANTS = [
    ("medawar-1941-penetration", "plasma clot", 5.5, 27.5, 25.0),
    ("baker-1958-penetration", "gelatin and albumen gel", 3.6, 18.0, 25.0),
    ("tellyesniczky-1926-penetration", "liver", 0.78, 3.9, 25.0),
]


@pytest.mark.parametrize(("table", "medium", "k", "depth", "hours"), CONSTANTS)
def test_published_constants_stand_in_their_tables_and_agree_with_their_depths(table, medium, k, depth, hours):
    row = load(table).row(medium=medium)

    assert (k, depth, hours) == (row["constant_mm_per_root_h"], row["depth_mm"], row["after_h"])
    assert depth_by_constant(hours, k) == pytest.approx(depth)


@pytest.mark.parametrize(("fluid", "k"), [("formalin", 1.994), ("methanol", 2.609), ("ethanol", 1.801)])
def test_steickes_constants_stand_in_their_table(fluid, k):
    assert k == load("steicke-2018-penetration").row(fluid=fluid)["constant_mm_per_root_h"]


def test_formalin_in_heart_lies_between_two_fronts_of_the_model():
    """Steicke 2018: K = 1.994 over 1 to 10 h; the mark watched is between first free and half bound."""
    found = fronts(60, 10.0, shape="slab", temperature_c=20, tau_reference_c=20)

    assert found.bound_half_mm / 10**0.5 < 1.994 < found.free_tenth_mm / 10**0.5


def test_formaldehyde_in_a_plasma_clot_runs_as_in_water():
    """Medawar 1941: K = 5.5. Water's own diffusivity at 25 degrees C, nothing bound, first trace at a tenth: 5.8."""
    water = load("wilke-chang-1955-methylene-glycol").row(temperature_c=25.0)["diffusivity_m2_s"]
    found = fronts(
        100, 25.0, shape="slab", diffusivity_m2_s=water, d_reference_c=25, temperature_c=25, water_fraction=1.0,
        binding=False,
    )  # fmt: skip

    # 10 %: what Wilke and Chang's equation itself is good for is 11 %.
    assert found.free_tenth_mm / 5 == pytest.approx(5.5, rel=0.1)


def test_a_gel_needs_less_than_half_of_waters_diffusivity():
    """Baker 1958: K = 3.6; 7.5e-10 m2/s (0.43 of water) comes near. Exact: K = 2 erfcinv(0.1) sqrt(D)."""
    found = fronts(100, 25.0, shape="slab", diffusivity_m2_s=7.5e-10, water_fraction=1.0, binding=False)

    # 0.2 %: the grid. 7 %: nobody knows which mark Baker's gel showed, and the diffusivity has two figures.
    assert found.free_tenth_mm / 5 == pytest.approx(2 * erfcinv(0.1) * np.sqrt(7.5e-10 * 3.6e9), rel=0.002)
    assert found.free_tenth_mm / 5 == pytest.approx(3.6, rel=0.07)


def test_the_default_does_not_reproduce_liver_and_only_the_slow_end_does():
    """Tellyesniczky 1926: K = 0.78, the mark hardened tissue: near 1e-10 m2/s with much to bind, half bound."""
    slow = fronts(
        60, 25.0, shape="slab", diffusivity_m2_s=1e-10, capacity_mol_l=0.6, temperature_c=20, tau_reference_c=20
    )
    usual = fronts(60, 25.0, shape="slab", temperature_c=20, tau_reference_c=20)

    # 20 %: the table's own range for that end is 0.71 to 0.89.
    assert slow.bound_half_mm / 5 == pytest.approx(0.78, rel=0.2)
    assert usual.bound_half_mm / 5 > 1.5


def test_diffusion_in_water_warms_as_the_carried_energy_says():
    """D at 4, 25, 30, 37 over D at 20 degrees C, Wilke & Chang 1955, against 18.5 kJ/mol."""
    table = load("wilke-chang-1955-methylene-glycol")
    at20 = table.row(temperature_c=20.0)["diffusivity_m2_s"]
    ratio = table.column("diffusivity_m2_s") / at20

    # 7 %: one energy for a viscosity that is not quite of that form; the equation itself is good for 11 %.
    assert warmth_factor(table.column("temperature_c"), 20.0, 18.5) == pytest.approx(ratio, rel=0.07)


@pytest.mark.parametrize(("warm", "factor"), [(4, 0.78), (10, 0.86), (25, 1.07), (30, 1.14), (37, 1.24), (40, 1.28)])
def test_the_constant_k_warms_with_the_root_of_diffusion(warm, factor):
    # 3 %: the factors come from a viscosity, ours from one energy.
    assert np.sqrt(warmth_factor(warm, 20.0, 18.5)) == pytest.approx(factor, rel=0.03)


def test_binding_is_little_faster_at_37_degrees():
    """Fox and others 1985: nine tenths in 24 h at 22 (some say 25) and 18 h at 37 degrees C."""
    rows = load("fox-1985-binding").rows
    assert [(22.0, 24.0), (37.0, 18.0)] == [(r["temperature_c"], r["nine_tenths_h"]) for r in rows]
    hours = np.arange(1.0, 40.0, 0.1)
    when = [hours[np.argmax(centre(0.05, hours, temperature_c=t).bound >= 0.9)] for t in (25.0, 37.0)]

    # 10 %: 20 kJ/mol is carried, 18 would fit this pair.
    assert when == pytest.approx([24.0, 18.0], rel=0.1)


def test_helanders_figures_stand_in_their_table():
    table = load("helander-1994-binding")
    assert (100, 24, 26, 10, 20) == tuple(
        table.values[k] for k in ("half_bound_min", "plateau_h", "rinse_days", "left_low_percent", "left_high_percent")
    )


@pytest.mark.parametrize(
    ("name", "checksum"),
    [
        ("rakip-growth-models", 269 + 283 + 1320),
        ("keepfast-2026-two-site-binding", 12),
    ],
)
def test_no_row_of_a_table_was_lost(name, checksum):
    rows = load(name).rows
    assert checksum == (sum(r["model"] for r in rows) if "model" in rows[0] else len(rows))


def test_ranges_hold_their_defaults():
    for row in load("keepfast-2026-two-site-binding").rows:
        assert row["low"] <= row["default"] <= row["high"], row["name"]
