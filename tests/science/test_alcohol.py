"""Ethanol and water against tables printed by others, and against the contracts of the room."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from keepfast.science import alcohol

# Density at 20 degrees C by strength: dilution-of-ethanol table (plantagea.hr, as reproduced in a public constants
# file), read; printed to 0.01 kg/m3. Mass strength and grams in 100 mL follow by definition.
DILUTION_TABLE = [
    (0.0, 998.20, 0.0, 0.0),
    (10.0, 984.71, 8.015, 7.892),
    (20.0, 973.56, 16.214, 15.785),
    (40.0, 948.05, 33.300, 31.570),
    (50.0, 930.14, 42.426, 39.462),
    (70.0, 885.56, 62.386, 55.247),
    (90.0, 829.18, 85.665, 71.032),
    (95.0, 811.38, 92.408, 74.978),
    (96.0, 807.42, 93.838, 75.767),
    (100.0, 789.24, 100.0, 78.924),
]


@pytest.mark.parametrize(("strength", "density", "mass_percent", "grams"), DILUTION_TABLE)
def test_the_dilution_table_is_reproduced(strength: float, density: float, mass_percent: float, grams: float) -> None:
    """Half of the last printed digit, doubled for the table's own rounding."""
    p = alcohol.mass_fraction(strength)
    assert alcohol.density(p, 20.0) == pytest.approx(density, abs=0.01)
    assert 100 * p == pytest.approx(mass_percent, abs=0.005)
    assert p * alcohol.density(p, 20.0) / 10 == pytest.approx(grams, abs=0.005)


@pytest.mark.parametrize(
    ("mass_percent", "temperature", "density"),
    [
        # Osborne, McKelvy & Bearce type table, Bureau of Standards, at chestofbooks.com (read): g/cm3, older scale.
        (50, 10, 921.62),
        (50, 20, 913.84),
        (50, 30, 905.80),
        (50, 40, 897.50),
        (70, 10, 876.02),
        (70, 20, 867.66),
        (70, 30, 859.08),
        (70, 40, 850.25),
        (45, 25, 920.85),
    ],
)
def test_old_measurements_agree(mass_percent: float, temperature: float, density: float) -> None:
    """0.15 kg/m3: the old table lies 0.05 higher on average and 0.12 at most."""
    assert alcohol.density(mass_percent / 100, temperature) == pytest.approx(density, abs=0.15)


def test_values_printed_in_the_tables_of_r22() -> None:
    """OIML R 22 tables as stated by a public package's own tests (read); printed digits."""
    assert alcohol.density(0.31, 13.0) == pytest.approx(956.42, abs=0.005)
    assert 100 * alcohol.mass_fraction_from_density(848.4, 20.0) == pytest.approx(77.96, abs=0.005)


@pytest.mark.parametrize(
    ("strength", "mass_percent", "at_25", "at_15"), [(10, 8.05, 0.9862, 0.9866), (20, 16.27, 0.9744, 0.9759)]
)
def test_the_us_pharmacopoeia_table_is_reproduced(
    strength: float, mass_percent: float, at_25: float, at_15: float
) -> None:
    """USP 29, Alcoholometric Table (read): % by volume at 15.56 degrees C, % by weight, specific gravity in air."""
    p = alcohol.mass_fraction(strength, reference_c=15.56)
    assert 100 * p == pytest.approx(mass_percent, abs=0.005)
    assert alcohol.specific_gravity_in_air(p, 25.0, 25.0) == pytest.approx(at_25, abs=0.0001)
    assert alcohol.specific_gravity_in_air(p, 15.56, 15.56) == pytest.approx(at_15, abs=0.0001)


def test_diluted_alcohol_of_the_us_pharmacopoeia_falls_inside_its_limits() -> None:
    """USP 29/38, Diluted Alcohol (read): 500 mL alcohol (94.9 to 96 %) and 500 mL water at 25 degrees C."""
    for stock in (94.9, 96.0):
        at_20 = float(alcohol.convert_reference(stock, 15.56, 20.0))
        made = alcohol.mix([at_20, 0.0], [500.0, 500.0], 25.0)
        p = alcohol.mass_fraction(made.strength_vol)
        assert 41.0 <= 100 * p <= 42.0
        assert 48.4 <= alcohol.strength_vol(p, reference_c=15.56) <= 49.5
        assert 0.935 <= alcohol.specific_gravity_in_air(p, 15.56, 15.56) <= 0.937


def test_the_british_pharmacopoeia_dilutes_to_twenty_per_cent() -> None:
    """BP 1988 via collegeofpharmacy.com (read): 207 mL of 96.0 to 96.6 % made up to 1000 mL give 19.5 to 20.5 %."""
    for stock in (96.0, 96.3, 96.6):
        d = alcohol.dilute(stock, 20.0, 1000.0)
        assert d.stock_ml == pytest.approx(207.0, abs=1.5)


# Directive 76/766/EEC's formula at other temperatures, computed by the reference's compilers with an independent
# program from the coefficients as read; 0.01 kg/m3 is the printed digit.
GRID_C = (0, 10, 15, 20, 25, 30, 35, 40)
GRID = {
    0.0: (999.84, 999.70, 999.10, 998.20, 997.04, 995.65, 994.03, 992.21),
    50.0: (944.73, 937.56, 933.89, 930.14, 926.33, 922.47, 918.54, 914.57),
    70.0: (901.75, 893.76, 889.69, 885.56, 881.37, 877.13, 872.83, 868.46),
    75.0: (889.25, 881.13, 876.99, 872.79, 868.55, 864.25, 859.89, 855.48),
    96.0: (824.49, 816.02, 811.73, 807.42, 803.08, 798.72, 794.34, 789.93),
    100.0: (806.22, 797.76, 793.51, 789.24, 784.95, 780.65, 776.31, 771.93),
}


@pytest.mark.parametrize("strength", GRID)
def test_densities_over_the_field_s_temperatures(strength: float) -> None:
    expected = np.array(GRID[strength])
    assert alcohol.density(alcohol.mass_fraction(strength), np.array(GRID_C, dtype=float)) == pytest.approx(
        expected, abs=0.01
    )


def test_mass_to_volume_at_three_reference_temperatures() -> None:
    """Computed by the compilers (0.005); the three references are kept apart."""
    assert alcohol.strength_vol([0.1, 0.3, 0.5, 0.7, 0.9, 0.95]) == pytest.approx(
        [12.440, 36.255, 57.889, 76.951, 93.266, 96.794], abs=0.005
    )
    assert alcohol.strength_vol(0.7, reference_c=15.0) == pytest.approx(76.91, abs=0.005)
    assert alcohol.strength_vol(0.7, reference_c=15.56) == pytest.approx(76.91, abs=0.005)


@pytest.mark.parametrize(
    ("reading", "temperature", "true"),
    [
        (70, 10, 73.19),
        (70, 15, 71.61),
        (70, 25, 68.35),
        (70, 30, 66.67),
        (70, 35, 64.95),
        (75, 28, 72.45),
        (65, 12, 67.66),
        (95, 25, 93.88),
        (40, 5, 45.94),
    ],
)
def test_hydrometer_readings_are_corrected(reading: float, temperature: float, true: float) -> None:
    """Computed by the compilers from the convention as read; 0.02 covers the two forms of the glass term."""
    found = alcohol.strength_from_hydrometer(reading, temperature)
    assert found == pytest.approx(true, abs=0.02)
    assert alcohol.hydrometer_reading(found, temperature) == pytest.approx(reading, abs=1e-6)


def test_borosilicate_glass_matters_little_and_the_other_way() -> None:
    """Glass that grows less displaces less: the corrected strength differs by a few hundredths."""
    soda, boro = (alcohol.strength_from_hydrometer(70.0, 30.0, glass) for glass in alcohol.GLASSES)
    assert 0.0 < soda - boro < 0.1


def test_densitometer_readings_need_no_glass() -> None:
    """Computed by the compilers; printed digits."""
    assert alcohol.strength_from_density(
        [885.56, 877.0, 880.0, 870.0, 812.0], [20.0, 30.0, 25.0, 25.0, 20.0]
    ) == pytest.approx([70.00, 70.05, 70.55, 74.45, 94.84], abs=0.01)


@pytest.mark.parametrize(
    ("stock", "expected"),
    [
        (95.0, (6.40, 20.94, 29.47, 39.12, 50.15, 62.92, 95.76, 223.96)),
        (96.0, (7.72, 22.41, 31.03, 40.78, 51.93, 64.83, 98.02, 227.57)),
        (100.0, (13.23, 28.54, 37.52, 47.67, 59.28, 72.73, 107.30, 242.25)),
    ],
)
def test_water_to_add_to_a_hundred_millilitres(stock: float, expected: tuple[float, ...]) -> None:
    """Computed by the compilers; printed digits."""
    targets = np.array([90, 80, 75, 70, 65, 60, 50, 30], dtype=float)
    assert alcohol.water_to_add_ml(stock, targets, 100.0) == pytest.approx(np.array(expected), abs=0.01)


@pytest.mark.parametrize(
    ("stock", "target", "stock_ml", "water_ml", "stock_g", "water_g"),
    [
        (95, 70, 736.8, 288.2, 675.1, 324.9),
        (96, 70, 729.2, 297.4, 664.8, 335.2),
        (96, 80, 833.3, 186.8, 783.0, 217.0),
        (100, 70, 700.0, 333.7, 623.9, 376.1),
    ],
)
def test_a_litre_by_volume_and_a_kilogram_by_mass(
    stock: float, target: float, stock_ml: float, water_ml: float, stock_g: float, water_g: float
) -> None:
    """Computed by the compilers; printed digits."""
    d = alcohol.dilute(stock, target, 1000.0)
    assert d.stock_ml == pytest.approx(stock_ml, abs=0.06)
    assert d.water_ml == pytest.approx(water_ml, abs=0.06)
    per_kg = 1000.0 / (d.stock_g + d.water_g)
    assert d.stock_g * per_kg == pytest.approx(stock_g, abs=0.06)
    assert d.water_g * per_kg == pytest.approx(water_g, abs=0.06)


def test_adding_volumes_by_feel_ends_too_strong_and_too_short() -> None:
    """96 to 70 % for one litre by difference of volumes: 975.1 mL of 71.79 % (computed by the compilers)."""
    made = alcohol.mix([96.0, 0.0], [729.2, 270.8])
    assert made.volume_ml == pytest.approx(975.1, abs=0.1)
    assert made.strength_vol == pytest.approx(71.79, abs=0.01)


@pytest.mark.parametrize(
    ("strengths", "volumes", "strength", "volume"),
    [
        ((60, 70), (800, 200), 62.01, 999.8),
        ((60, 96), (800, 200), 67.43, 996.6),
        ((65, 75), (800, 200), 67.01, None),
        ((66, 96), (900, 100), 69.10, None),
    ],
)
def test_topping_up(
    strengths: tuple[float, ...], volumes: tuple[float, ...], strength: float, volume: float | None
) -> None:
    """Computed by the compilers; printed digits."""
    made = alcohol.mix(strengths, volumes)
    assert made.strength_vol == pytest.approx(strength, abs=0.01)
    if volume is not None:
        assert made.volume_ml == pytest.approx(volume, abs=0.06)


@pytest.mark.parametrize(
    ("ethanol", "volume", "strength"),
    [(50, 96.463, 51.834), (70, 96.832, 72.290), (30, 97.330, 30.823), (96, 99.184, 96.790)],
)
def test_ethanol_and_water_contract(ethanol: float, volume: float, strength: float) -> None:
    """Computed by the compilers; printed digits."""
    made = alcohol.mix([100.0, 0.0], [ethanol, 100.0 - ethanol])
    assert made.volume_ml == pytest.approx(volume, abs=0.001)
    assert made.strength_vol == pytest.approx(strength, abs=0.001)
    assert made.contraction_ml == pytest.approx(100.0 - volume, abs=0.001)


def test_the_largest_contraction_is_where_it_is_known_to_be() -> None:
    """3.546 % near 52.5 parts of ethanol (computed by the compilers)."""
    shares = np.linspace(0.0, 100.0, 2001)
    made = alcohol.mix(np.broadcast_to([100.0, 0.0], (2001, 2)), np.stack([shares, 100.0 - shares], axis=-1))
    at = int(np.argmax(made.contraction_ml))
    assert made.contraction_ml[at] == pytest.approx(3.546, abs=0.001)
    assert shares[at] == pytest.approx(52.5, abs=0.5)


def test_a_warm_litre_is_less_at_twenty() -> None:
    """1 L of 70 % read at 30 degrees C is 0.99048 L at 20 (computed by the compilers)."""
    p = alcohol.mass_fraction(70.0)
    assert alcohol.density(p, 30.0) / alcohol.density(p, 20.0) == pytest.approx(0.99048, abs=5e-6)


# Contracts of the room.


def test_floats_give_floats_and_arrays_give_arrays() -> None:
    assert isinstance(alcohol.density(0.5, 20.0), float)
    assert isinstance(alcohol.mass_fraction(70), float)
    assert isinstance(alcohol.strength_vol(0.5), float)
    assert isinstance(alcohol.strength_from_density(900, 20), float)
    assert isinstance(alcohol.strength_from_hydrometer(70, 25), float)
    assert isinstance(alcohol.water_to_add_ml(96, 70, 100), float)
    assert all(isinstance(v, float) for v in alcohol.mix([96, 0], [1, 1]))
    assert alcohol.density([0.4, 0.5, 0.6], [[10.0], [20.0]]).shape == (2, 3)
    assert alcohol.strength_from_density(np.array([[900.0]]), 20.0).shape == (1, 1)
    assert alcohol.water_to_add_ml([95, 96], 70, [[100], [200], [300]]).shape == (3, 2)
    assert alcohol.density(np.empty(0), 20.0).shape == (0,)


def test_nan_in_gives_nan_out_and_nothing_else_is_lost() -> None:
    nan = float("nan")
    assert math.isnan(alcohol.density(nan, 20.0))
    assert math.isnan(alcohol.density(0.5, nan))
    for result in (
        alcohol.strength_from_density([900.0, nan, 900.0], [20.0, 20.0, nan]),
        alcohol.strength_from_hydrometer([70.0, nan, 70.0], [20.0, 20.0, nan]),
        alcohol.mass_fraction([70.0, nan, nan]),
        alcohol.strength_vol([0.5, nan, nan]),
        alcohol.water_to_add_ml([96.0, nan, 96.0], [70.0, 70.0, nan], 100.0),
    ):
        assert np.isnan(result).tolist() == [False, True, True]
    assert math.isnan(alcohol.mix([96.0, nan], [1.0, 1.0]).strength_vol)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: alcohol.density(0.5, 40.5), "temperature_c must be from -20 to 40 degrees C; 40.5 was given"),
        (lambda: alcohol.density(0.5, -20.5), "temperature_c must be from -20 to 40"),
        (lambda: alcohol.density(1.01, 20), "mass_fraction must be from 0 to 1; 1.01 was given"),
        (lambda: alcohol.density(-0.01, 20), "mass_fraction must be from 0 to 1"),
        (lambda: alcohol.density(0.0, -5.0), "part ice"),
        (lambda: alcohol.density(0.5, math.inf), "temperature_c"),
        (lambda: alcohol.mass_fraction(100.5), "strength_vol must be from 0 to 100 % vol; 100.5 was given"),
        (lambda: alcohol.mass_fraction(70, reference_c=25), "reference_c must be one of 20, 15.56, 15"),
        (lambda: alcohol.strength_from_density(0.8856, 20), "specific gravity"),
        (lambda: alcohol.strength_from_density(998.30, 20), "denser than water"),
        (lambda: alcohol.strength_from_density(789.15, 20), "lighter than ethanol"),
        (lambda: alcohol.strength_from_density(885, 88), "degrees F"),
        (lambda: alcohol.strength_from_hydrometer(0, 30), "reading_vol"),
        (lambda: alcohol.strength_from_hydrometer(70, 20, "pyrex"), "glass must be one of soda-lime, borosilicate"),
        (lambda: alcohol.water_to_add_ml(60, 70, 100), "weaker than the target"),
        (lambda: alcohol.water_to_add_ml(60, 0, 100), "target_strength_vol must be above 0"),
        (lambda: alcohol.water_to_add_ml(60, 50, -1), "stock_ml must be from 0"),
        (lambda: alcohol.mix([96, 0], [0, 0]), "volumes_ml must not all be 0"),
        (lambda: alcohol.dilute(70, 96, 1000), "weaker than the target"),
        (lambda: alcohol.dilute(96, 70, 1000, -1.0), "below 0 the water is ice"),
    ],
)
def test_out_of_range_is_refused_in_one_line_with_name_limits_and_value(call, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(ValueError, match=re.escape(words)) as refused:
        call()
    assert "\n" not in str(refused.value)


def test_a_reading_a_breath_beyond_the_ends_counts_as_the_end() -> None:
    """0.05 kg/m3 is the noise of an instrument; more is another fluid."""
    for t in (0.0, 15.0, 20.0, 31.0, 40.0):
        assert alcohol.strength_from_density(alcohol.density(0.0, t) + 0.05, t) == 0.0
        assert alcohol.strength_from_density(alcohol.density(1.0, t) - 0.05, t) == 100.0
    assert alcohol.strength_from_density(998.2012 + 0.049, 20.0) == 0.0
    assert alcohol.strength_from_density(789.2400 - 0.049, 20.0) == 100.0
    with pytest.raises(ValueError, match="density_kg_m3"):
        alcohol.strength_from_density(998.2012 + 0.051, 20.0)


def test_below_zero_only_what_is_all_liquid_has_a_density() -> None:
    """20 % by mass freezes at -10.9 degrees C (CRC handbook, from memory, checked against a library elsewhere)."""
    assert alcohol.density(0.21, -10.9) > 960.0
    with pytest.raises(ValueError, match="part ice"):
        alcohol.density(0.19, -10.9)
    assert alcohol.strength_from_density(alcohol.density(0.30, -15.0), -15.0) == pytest.approx(
        alcohol.strength_vol(0.30), abs=1e-9
    )


def test_an_instrument_off_its_scale_shows_nothing() -> None:
    """Ethanol at 35 degrees C is lighter than any mark of the scale."""
    assert math.isnan(alcohol.hydrometer_reading(99.5, 35.0))
    assert math.isnan(alcohol.hydrometer_reading(0.0, 5.0))


@pytest.mark.parametrize(("reading", "temperature_c"), [(0.0, 25.0), (100.0, 10.0), (0.0, -10.0), (100.0, -5.0)])
def test_a_refused_hydrometer_reading_comes_with_the_readings_that_are_possible(
    reading: float, temperature_c: float
) -> None:
    """The limits in the message are what the inverse gives for the two ends, and 0.05 kg/m3 more.

    A point of strength is worth at least 1 kg/m3, so that is at most 0.05 % vol.
    """
    with pytest.raises(ValueError, match="reading_vol must be from") as refused:
        alcohol.strength_from_hydrometer(reading, temperature_c)
    said = str(refused.value).split()
    low, high = float(said[said.index("from") + 1]), float(said[said.index("to") + 1])
    weakest = float(alcohol.strength_vol(max(float(alcohol.freezing_mass_fraction(temperature_c)), 0.0)))
    ends = alcohol.hydrometer_reading([weakest, 100.0], temperature_c)
    for expected, found in zip(ends, (low, high), strict=True):
        # NaN: that end lies off the instrument's own scale. Six digits are printed.
        assert found in (0.0, 100.0) if np.isnan(expected) else found == pytest.approx(expected, abs=0.05)
    assert [low, high] == pytest.approx(alcohol.reading_limits(temperature_c), rel=1e-5)
    for inside in alcohol.reading_limits(temperature_c):
        assert not np.isnan(alcohol.strength_from_hydrometer(inside, temperature_c))


def test_the_densities_that_are_possible() -> None:
    """Ethanol and water at 20 degrees C, 789.24 and 998.20 (dilution table, read); 0.05 beyond still counts."""
    low, high = alcohol.density_limits([20.0, np.nan])
    assert low[0] == pytest.approx(789.24 - 0.05, abs=0.006)
    assert high[0] == pytest.approx(998.20 + 0.05, abs=0.006)
    assert np.isnan(low[1])
    assert np.isnan(high[1])
    cold = alcohol.density_limits(-15.0)
    assert cold[1] < alcohol.density_limits(0.0)[1]
    assert alcohol.strength_from_density(cold[1], -15.0) > 0
    with pytest.raises(ValueError, match="temperature_c must be from -20 to 40"):
        alcohol.density_limits(41.0)


@pytest.mark.parametrize("missing", range(4))
def test_nothing_of_a_dilution_is_known_when_one_figure_is_missing(missing: int) -> None:
    given = [96.0, 70.0, 1000.0, 25.0]
    given[missing] = math.nan
    assert all(np.isnan(part) for part in alcohol.dilute(*given))


def test_freezing_of_one_temperature_is_one_number() -> None:
    assert isinstance(alcohol.freezing_mass_fraction(-5.0), float)
