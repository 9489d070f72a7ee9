"""Formalin against Walker's tables, pharmacopoeias and published pressures."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from keepfast.science import formalin

# Walker, Formaldehyde, Tables 7 and 8 (read as machine-recognised text): % w/w, g/mL at 18 degrees C, % w/v.
METHANOL_FREE = [
    (2.23, 1.0054, 2.24),
    (4.60, 1.0126, 4.66),
    (10.74, 1.0311, 11.08),
    (13.59, 1.0410, 14.15),
    (18.82, 1.0568, 19.89),
    (34.11, 1.1057, 37.72),
]


@pytest.mark.parametrize(("by_weight", "density", "in_volume"), METHANOL_FREE)
def test_methanol_free_solutions(by_weight: float, density: float, in_volume: float) -> None:
    """0.0011 g/mL is the residual of the parabola."""
    assert formalin.density_18c_g_ml(by_weight) == pytest.approx(density, abs=0.0011)
    assert formalin.percent_w_v(by_weight) == pytest.approx(in_volume, rel=0.002)


def test_water_and_five_per_cent() -> None:
    """Walker (read): 0 % 0.9986, 5 % 1.0141."""
    assert formalin.density_18c_g_ml(0.0) == pytest.approx(0.9986, abs=0.0001)
    assert formalin.density_18c_g_ml(5.0) == pytest.approx(1.0141, abs=0.0011)


@pytest.mark.parametrize(("methanol", "density"), [(0, 1.1128), (5, 1.1009), (10, 1.0890), (15, 1.0764), (20, 1.0639)])
def test_stock_by_its_methanol(methanol: float, density: float) -> None:
    """Walker, Table 4 (read): 37 % by weight; the parabola's residual is 0.00013 g/mL."""
    assert formalin.density_18c_g_ml(37.0, methanol) == pytest.approx(density, abs=0.00015)


@pytest.mark.parametrize(("by_weight", "methanol"), [(30, 10), (20, 8), (10, 5), (34.5, 12), (25, 15)])
def test_methanol_at_other_strengths_goes_by_the_rule(by_weight: float, methanol: float) -> None:
    """1.00 + 3 F/1000 - 2 M/1000 (Walker p. 40; its second factor is inferred), good to 0.005 g/mL."""
    expected = 1.0 + 0.003 * by_weight - 0.002 * methanol
    assert formalin.density_18c_g_ml(by_weight, methanol) == pytest.approx(expected, abs=0.001)


def test_the_density_has_no_steps() -> None:
    """Where table, parabola and rule meet nothing jumps by more than the strength's own change explains."""
    strength = np.linspace(0.0, 40.0, 8001)
    for methanol in (0.0, 0.5, 2.0, 5.0, 10.0, 15.0):
        rise = np.diff(formalin.density_18c_g_ml(strength, methanol))
        assert rise.min() > 0.0
        assert rise.max() < 0.005 * 0.01
    by_methanol = np.diff(formalin.density_18c_g_ml(37.0, np.linspace(0.0, 20.0, 401)))
    assert by_methanol.max() < 0.0


@pytest.mark.parametrize(
    ("label", "basis", "methanol", "density", "in_volume", "ml_for_4"),
    [
        (37.0, "w/w", 10.0, None, 40.29, 99.3),
        (37.0, "w/w", 10.0, 1.083, 40.07, 99.8),
        (34.5, "w/w", 10.0, 1.08, 37.26, 107.4),
        (34.0, "w/v", 10.0, None, 34.0, 117.6),
        (37.0, "w/v", 10.0, None, 37.0, 108.1),
    ],
)
def test_what_a_label_promises(
    label: float, basis: str, methanol: float, density: float | None, in_volume: float, ml_for_4: float
) -> None:
    """From specifications as read (USP 35: 34.5 % w/w at least; BP: 34 to 37 % w/v); printed digits."""
    bottle = formalin.stock(label, basis, methanol, density_g_ml=density)
    assert bottle.percent_w_v == pytest.approx(in_volume, abs=0.01)
    assert formalin.stock_ml(4.0, 1000.0, bottle.percent_w_v) == pytest.approx(ml_for_4, abs=0.06)
    assert bottle.low_w_v <= bottle.percent_w_v <= bottle.high_w_v


def test_ten_per_cent_formalin_is_3_7_to_4_per_cent_formaldehyde() -> None:
    """The span that suppliers print (Sigma-Aldrich HT5011, read: 3.7 to about 4.0 %)."""
    weakest = formalin.stock(34.5, "w/w", 10.0, minimum=True, density_g_ml=1.08)
    strongest = formalin.stock(37.0, "w/w", 10.0)
    assert formalin.formaldehyde_percent_w_v(10.0, weakest.percent_w_v) == pytest.approx(3.73, abs=0.005)
    assert formalin.formaldehyde_percent_w_v(10.0, strongest.percent_w_v) == pytest.approx(4.03, abs=0.005)


@pytest.mark.parametrize(("parts_water", "percent"), [(14, 2.67), (15, 2.50), (19, 2.00), (20, 1.90)])
def test_older_dilutions(parts_water: int, percent: float) -> None:
    """From 40 % w/v stock; 1:15 was the Chicago Academy's (leaflet 15, 1940, read)."""
    assert formalin.formaldehyde_percent_w_v(100.0 / (1 + parts_water), 40.0) == pytest.approx(percent, abs=0.006)


def test_working_solution_density() -> None:
    """4 % w/w with 1.1 % methanol is about 1.008 (computed by the compilers); the rule's own error is 0.002."""
    assert formalin.density_18c_g_ml(4.0, 1.1) == pytest.approx(1.008, abs=0.002)


def test_powder_by_its_assay() -> None:
    """40 g/L pure; 42.1 g at 95 %, 44.0 g at 91 % (computed by the compilers)."""
    assert formalin.paraformaldehyde_g(4.0, 1000.0, [100.0, 95.0, 91.0]) == pytest.approx([40.0, 42.1, 44.0], abs=0.05)


@pytest.mark.parametrize(("temperature", "pascal"), [(10, 12.4), (20, 28.2), (25, 41.6), (30, 60.6), (35, 87.3)])
def test_dilute_law_over_four_per_cent(temperature: float, pascal: float) -> None:
    """Computed by the compilers from Sander's constants as read; printed digits."""
    assert formalin.vapour_pressure_pa(4.0, temperature, False) == pytest.approx(pascal, abs=0.06)


def test_dilute_law_over_1_245_mol_per_litre() -> None:
    """An independent computation from the same constants: 17.63, 26.37, 38.91, 81.56 Pa at 15, 20, 25, 35 degrees C."""
    in_volume = 1.245 * 30.026 / 10
    assert formalin.vapour_pressure_pa(in_volume, [15.0, 20.0, 25.0, 35.0], polymer_correction=False) == pytest.approx(
        [17.63, 26.37, 38.91, 81.56], abs=0.01
    )


@pytest.mark.parametrize(("in_volume", "mmhg"), [(9.52, 0.340), (19.7, 0.575), (40.2, 1.025)])
def test_measured_pressures_over_strong_solutions(in_volume: float, mmhg: float) -> None:
    """Ledbury & Blair via Walker, Table 9, 20 degrees C (read, rows re-paired); the correction is good to 10 %."""
    assert formalin.vapour_pressure_pa(in_volume, 20.0) == pytest.approx(mmhg * 133.322, rel=0.10)


def test_very_dilute_pressures_at_25_and_35_degrees() -> None:
    """A 2011 paper's abstract (read): 0.1 % gives 0.0074 mmHg at 25 and 0.016 at 35 degrees C; 6 % by the compilers."""
    assert formalin.vapour_pressure_pa(0.1, [25.0, 35.0], False) / 133.322 == pytest.approx([0.0074, 0.016], rel=0.06)


def test_headspace_over_stock() -> None:
    """37 % stock at 20 degrees C: 1350 ppm (from the measured 1.025 mmHg, read); 10 % is the correction's error."""
    assert formalin.parts_per_million(formalin.vapour_pressure_pa(40.2, 20.0)) == pytest.approx(1350, rel=0.10)


def test_the_polymer_factor_is_carried_straight_from_ten_to_forty_per_cent() -> None:
    assert formalin.polymer_factor([0.0, 4.0, 10.0, 25.0, 40.0]) == pytest.approx([1.0, 1.22, 1.55, 1.81, 2.07])


def test_every_henry_constant_kept_is_within_its_stated_spread() -> None:
    """10 % at 25 degrees C is the spread among those kept."""
    middle = formalin.vapour_pressure_pa(4.0, 25.0, False)
    for source in formalin.henry_sources():
        assert formalin.vapour_pressure_pa(4.0, 25.0, False, source=source) == pytest.approx(middle, rel=0.10)


def test_contracts() -> None:
    nan = float("nan")
    assert isinstance(formalin.density_18c_g_ml(37.0, 10.0), float)
    assert isinstance(formalin.vapour_pressure_pa(4.0, 20.0), float)
    assert formalin.density_18c_g_ml([10.0, 37.0], [[0.0], [5.0]]).shape == (2, 2)
    assert formalin.vapour_pressure_pa([1.0, 4.0], [[10.0], [20.0], [30.0]]).shape == (3, 2)
    for value in (
        formalin.density_18c_g_ml(nan),
        formalin.density_18c_g_ml(10.0, nan),
        formalin.vapour_pressure_pa(nan, 20.0),
        formalin.vapour_pressure_pa(4.0, nan),
        formalin.percent_w_w(nan),
        formalin.stock_ml(nan, 1.0, 40.0),
    ):
        assert math.isnan(value)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: formalin.density_18c_g_ml(41.0), "percent_w_w must be from 0 to 40"),
        (lambda: formalin.density_18c_g_ml(-1.0), "percent_w_w must be from 0 to 40"),
        (lambda: formalin.density_18c_g_ml(37.0, 21.0), "methanol_percent_w_w must be from 0 to 20"),
        (lambda: formalin.density_18c_g_ml(20.0, 16.0), "methanol_percent_w_w must be from 0 to 15"),
        (lambda: formalin.vapour_pressure_pa(50.0, 20.0), "percent_w_v must be from 0 to 45"),
        (lambda: formalin.vapour_pressure_pa(4.0, 60.0), "temperature_c must be from 0 to 50"),
        (lambda: formalin.vapour_pressure_pa(4.0, 20.0, source="nobody"), "source must be one of"),
        (lambda: formalin.stock(0.37, "w/w"), "fraction"),
        (lambda: formalin.stock(37.0, "v/v"), "basis must be one of w/w, w/v"),
        (lambda: formalin.stock(37.0, "w/w", density_g_ml=1083.0), "thousand times"),
        (lambda: formalin.stock_ml(41.0, 1000.0, 40.0), "weaker than the target"),
        (lambda: formalin.paraformaldehyde_g(4.0, 1000.0, 50.0), "assay_percent must be from 80 to 100"),
    ],
)
def test_out_of_range_is_refused(call, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=re.escape(words)) as refused:
        call()
    assert "\n" not in str(refused.value)


def test_weight_strength_takes_missing_and_no_methanol_at_all() -> None:
    assert np.isnan(formalin.percent_w_w(40.0, math.nan))
    assert formalin.percent_w_w(40.0, []).shape == (0,)
    found = formalin.percent_w_w(40.0, [10.0, math.nan])
    assert found[0] == formalin.percent_w_w(40.0, 10.0)
    assert np.isnan(found[1])
