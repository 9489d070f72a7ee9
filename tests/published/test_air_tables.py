"""The tables under the air: three cells of each copied by hand from the source or from what is remembered of it."""

from __future__ import annotations

import pytest

from keepfast.science.tables import load

CELLS = {
    "hummel-1996-penetration-evaporation": {"diffusion_cm2_s": 4.09e-5, "temperature_power": 1.9, "air_g_mol": 29.0},
    "usepa-1991-mass-transfer-evaporation": {"constant": 1.93e-7, "air_speed_power": 0.78, "temperature_power": 0.4},
    "mackay-matsugu-1973-pool-evaporation": {"constant": 0.0048, "air_speed_ninths": 7, "schmidt_thirds": -2},
    "mackay-vanwesenbeeck-2014-still-pool": {"constant": 1464.0},
    "us-standard-atmosphere-1976-air": {"viscosity_constant": 1.458e-6, "sutherland_k": 110.4},
    "keil-nicas-2003-small-spill": {"per_torr": 0.000524, "per_area_over_volume": 0.0108},
    "baldwin-maynard-1998-indoor-air-speed": {"mean_m_s": 0.3, "usual_m_s": 0.1, "still_m_s": 0.06},
    "arnold-2017-box-model-performance": {"near_field_low_percent": 67, "far_field_high_percent": 91, "near_factor": 2},
    "howard-reed-2002-house-air-changes": {"shut_per_h": 0.41, "shut_sd_per_h": 0.19, "highest_per_h": 0.85},
    "keil-2001-anatomy-laboratory": {"mean_mg_m3": 0.635, "emission_mg_min": 95.2, "air_changes_per_h": 9.8},
    "ethanol-lower-flammable-limit": {"lower_limit_percent": 3.3},
}
# The sum over all cells catches one that was changed without anyone meaning to.
SUMS = {
    "johnson-2004-house-air-changes": ("air_changes_per_h", 0.76 + 1.51 + 2.30 + 2.75),
    "formaldehyde-smell-and-sting": ("low_ppm", 0.5 + 0.05 + 0.83 + 0.3 + 2.0 + 10.0 + 50.0),
}


@pytest.mark.parametrize("name", CELLS)
def test_cells_are_as_they_were_read(name):
    table = load(name)
    assert CELLS[name] == {key: table.value(key) for key in CELLS[name]}


@pytest.mark.parametrize("name", SUMS)
def test_columns_add_up(name):
    column, total = SUMS[name]
    assert total == pytest.approx(load(name).column(column).sum())


def test_what_is_from_memory_says_so():
    for name in (
        "hummel-1996-penetration-evaporation",
        "usepa-1991-mass-transfer-evaporation",
        "keil-nicas-2003-small-spill",
        "us-standard-atmosphere-1976-air",
    ):
        assert "from memory, unverified" == load(name).known


def test_every_measured_room_lies_within_two_orders_of_magnitude():
    """C-31 to C-35 as they were read: 0.02 to 5.01 ppm, whatever was measured and how."""
    rows = [row for row in load("measured-formaldehyde-rooms").rows if "low_ppm" in row]
    assert 9 == len(rows)
    assert (0.02, 5.01) == (min(r["low_ppm"] for r in rows), max(r["high_ppm"] for r in rows))
    assert 0.43 * 0.75 == pytest.approx(max(r["high_ppm"] for r in rows if "first day" in r["setting"]))  # C-35
    assert 3.0 == next(r["high_ppm"] for r in rows if "5 h a day" in r["setting"])  # C-34: none above 3 ppm
