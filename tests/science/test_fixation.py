"""The quick table of fixing times against the solver it was made with, and against practice."""

from __future__ import annotations

import numpy as np
import pytest

from keepfast.science import fixation, penetration, tables


def solved(radius_mm: float, temperature_c: float, diffusivity_m2_s: float) -> float:
    """Nine tenths bound in the middle, straight from the solver."""
    marks = np.geomspace(3.0, 200.0 + 8.0 * radius_mm**2, 200)
    bound = penetration.centre(radius_mm, marks, temperature_c=temperature_c, diffusivity_m2_s=diffusivity_m2_s).bound
    return float(np.interp(0.9, bound, marks))


@pytest.mark.parametrize(("which", "diffusivity"), [("default", 4e-10), ("low", 1e-10), ("high", 8e-10)])
@pytest.mark.parametrize(("radius", "temperature"), [(3.0, 5.0), (9.0, 20.0), (17.0, 33.0), (40.0, 40.0)])
def test_the_table_is_the_solver_s_own_answer(
    which: str, diffusivity: float, radius: float, temperature: float
) -> None:
    """3 %: two activation energies are carried as their mean."""
    expected = solved(radius, temperature, diffusivity)
    assert fixation.hours_to_bind_centre(radius, temperature, which=which) == pytest.approx(expected, rel=0.03)


def test_the_rows_are_what_the_solver_gives() -> None:
    """Every sixth row computed again; 0.5 % is the grid of marks."""
    table = tables.load("keepfast-2026-centre-bound")
    for row in table.rows[2::6]:
        radius = float(np.sqrt(row["way_h"] * 4e-10 * 3.6e9))
        assert solved(radius, 20.0, 4e-10) == pytest.approx(row["bound_nine_tenths_h"], rel=0.005)


@pytest.mark.parametrize(("diameter", "hours"), [(4, 25), (8, 27), (14, 32), (24, 46), (36, 70), (60, 134)])
def test_centre_times_of_the_worked_table(diameter: float, hours: float) -> None:
    """The compilers' own finite volumes, diffusion at 20 and binding at 25 degrees C: within 15 % of all at 20."""
    assert fixation.hours_to_bind_centre(diameter / 2, 20.0) == pytest.approx(hours, rel=0.15)


def test_contracts() -> None:
    assert isinstance(fixation.hours_to_bind_centre(10.0), float)
    assert fixation.hours_to_bind_centre([5.0, 10.0], [[10.0], [30.0]]).shape == (2, 2)
    assert np.isnan(fixation.hours_to_bind_centre(float("nan")))
    with pytest.raises(ValueError, match="radius_mm must be from"):
        fixation.hours_to_bind_centre(0.0)
    with pytest.raises(ValueError, match="which must be one of"):
        fixation.hours_to_bind_centre(10.0, which="middle")
