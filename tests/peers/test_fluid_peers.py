"""Independent witnesses: a thermophysical library, a root finder, Bessel functions, a finite-volume cylinder."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from keepfast.science import alcohol, bath, formalin, vapour
from keepfast.science.tables import load


@pytest.mark.parametrize("temperature", [1.0, 5.0, 15.0, 20.0, 25.0, 30.0, 40.0])
def test_water_is_as_dense_as_the_library_says(temperature: float) -> None:
    """IAPWS-95 by CoolProp: 0.03 kg/m3 covers both scales of temperature and R 22's own fit."""
    expected = PropsSI("D", "T", temperature + 273.15, "P", 101325.0, "Water")
    assert alcohol.density(0.0, temperature) == pytest.approx(expected, abs=0.03)


@pytest.mark.parametrize("temperature", [-20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0])
def test_ethanol_is_lighter_than_newer_equations_by_a_known_little(temperature: float) -> None:
    """The library's pure ethanol lies 0.18 kg/m3 above R 22 at 20 degrees C, a difference of definition."""
    expected = PropsSI("D", "T", temperature + 273.15, "P", 101325.0, "Ethanol")
    assert -0.1 < expected - alcohol.density(1.0, temperature) < 0.6


@pytest.mark.parametrize("mass_fraction", [0.12, 0.2, 0.3, 0.4, 0.5, 0.59])
def test_mixtures_are_as_dense_as_an_incompressible_brine(mass_fraction: float) -> None:
    """CoolProp's INCOMP::MEA2 (Melinder 2010), good to about 1 kg/m3, from 0 to 20 degrees C."""
    for temperature in (0.0, 5.0, 10.0, 15.0, 20.0):
        expected = PropsSI("D", "T", temperature + 273.15, "P", 101325.0, f"INCOMP::MEA2[{mass_fraction}]")
        assert alcohol.density(mass_fraction, temperature) == pytest.approx(expected, abs=1.2)


@pytest.mark.parametrize("mass_fraction", [0.11, 0.15, 0.2, 0.25, 0.3])
def test_mixtures_freeze_where_the_library_says(mass_fraction: float) -> None:
    """Melinder's fit and the handbook differ by up to 0.7 K; the bound of the density formula needs no more."""
    freezing = PropsSI("T_FREEZE", "T", 290.0, "P", 101325.0, f"INCOMP::MEA2[{mass_fraction}]") - 273.15
    table = load("crc-ethanol-freezing")
    expected = np.interp(100 * mass_fraction, table.column("mass_percent"), table.column("freezing_c"))
    assert freezing == pytest.approx(expected, abs=0.7)


@pytest.mark.parametrize("temperature", [5.0, 10.0, 20.0, 25.0, 30.0, 40.0])
def test_pure_vapour_pressures(temperature: float) -> None:
    """Schroeder et al. 2014 and IAPWS-95 by CoolProp: 0.25 % and 0.05 %, the equations' own differences."""
    kelvin = temperature + 273.15
    ethanol = PropsSI("P", "T", kelvin, "Q", 0, "Ethanol") / 1000
    water = PropsSI("P", "T", kelvin, "Q", 0, "Water") / 1000
    assert vapour.ethanol_vapour_pressure(temperature) == pytest.approx(ethanol, rel=0.0025)
    assert vapour.water_vapour_pressure(temperature) == pytest.approx(water, rel=0.0005)


@pytest.mark.parametrize(("x", "kpa"), [(0.1, 7.217), (0.3, 8.960), (0.5, 9.626), (0.9, 10.448)])
def test_bubble_pressures_of_mixtures(x: float, kpa: float) -> None:
    """CoolProp's multi-fluid mixture at 30 degrees C, as run by the compilers: it is good to 1 %, the model to 2 %."""
    p = x * 46.06844 / (x * 46.06844 + (1 - x) * 18.01528)
    assert sum(vapour.partial_pressures(p, 30.0)) == pytest.approx(kpa, rel=0.03)


def test_strength_from_density_is_the_root_that_a_bracketing_search_finds() -> None:
    """Brent's method to 1e-14 on the density itself; 1e-6 % vol is asked, 1e-9 is held."""
    rng = np.random.default_rng(20)
    for temperature in rng.uniform(0.0, 40.0, 60):
        low, high = alcohol.density(1.0, temperature), alcohol.density(0.0, temperature)
        rho = rng.uniform(low, high)
        root = brentq(lambda p, r=rho, t=temperature: alcohol.density(p, t) - r, 0.0, 1.0, xtol=1e-14, rtol=1e-14)
        assert alcohol.strength_from_density(rho, temperature) == pytest.approx(alcohol.strength_vol(root), abs=1e-9)


@pytest.mark.parametrize("alpha", [0.3, 2.0, 15.0, 1e6, float("inf")])
def test_the_roots_of_the_series_are_those_of_the_special_functions(alpha: float) -> None:
    """Sixty roots, none missed: each between a zero of J0 and the next of J1, and a root to rounding."""
    roots = bath._roots(alpha)
    if np.isinf(alpha):
        assert roots == pytest.approx(jn_zeros(0, 60), abs=1e-10)
        return
    assert (roots > jn_zeros(0, 60) - 1e-9).all()
    assert (roots < jn_zeros(1, 60)).all()
    assert np.abs(alpha * roots * j0(roots) + 2 * j1(roots)).max() / alpha < 1e-9


@pytest.mark.parametrize("ratio", [0.5, 2.0, 10.0, 2000.0])
def test_a_cylinder_in_a_small_bath_goes_as_finite_volumes_do(ratio: float) -> None:
    """150 rings and a stiff integrator against the series: 0.003 of the way is the rings' error."""
    rings, radius_mm, water = 150, 10.0, 0.75
    edges = np.linspace(0.0, radius_mm, rings + 1)
    volume = np.pi * np.diff(edges**2)
    middle = (edges[1:] + edges[:-1]) / 2
    d = float(bath.diffusivity_m2_s("ethanol", 20.0)) * 3.6e9
    outside = volume.sum() * ratio / water  # in the body's own liquid

    def flow(_t: float, c: np.ndarray) -> np.ndarray:
        inner = -2 * np.pi * edges[1:-1] * d * np.diff(c[:-1]) / np.diff(middle)
        surface = -2 * np.pi * radius_mm * d * (c[-1] - c[-2]) / (radius_mm - middle[-1])
        through = np.concatenate([[0.0], inner, [surface]])
        return np.append(-np.diff(through) / volume, through[-1] / outside)

    start = np.append(np.zeros(rings), 1.0)
    end = outside / (outside + volume.sum())
    times = np.array([0.2, 1.0, 5.0, 20.0, 60.0])
    seen = solve_ivp(flow, (0.0, 60.0), start, method="BDF", t_eval=times, rtol=1e-7, atol=1e-9)
    inside = (seen.y[:-1] * volume[:, None]).sum(axis=0) / volume.sum() / end
    found = bath.share_equalised(radius_mm, times, 20.0, fluid_ml_per_g=ratio, water_fraction=water)
    assert found == pytest.approx(inside, abs=0.003)


@pytest.mark.parametrize("temperature_c", [0.5, 5.0, 15.0, 25.0, 30.0])
def test_sea_water_against_a_library_s_table(temperature_c: float) -> None:
    """MITSW at salinity 35 (Sharqawy 2010) over pure water: ours is straight between two check values, 0.4 kg/m3."""
    kelvin = temperature_c + 273.15
    sea = PropsSI("D", "T", kelvin, "P", 101_325.0, "INCOMP::MITSW[0.035]")
    fresh = PropsSI("D", "T", kelvin, "P", 101_325.0, "Water")
    assert formalin.sea_water_lift_kg_m3(temperature_c) == pytest.approx(sea - fresh, abs=0.4)
