"""What must hold for any fluid: mass is conserved, order does not matter, what goes in comes out again."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from keepfast.science import alcohol, bath, buffers, formalin, vapour

WARM = st.floats(0.0, 40.0)
ANY = st.floats(-20.0, 40.0)
FRACTION = st.floats(0.0, 1.0)
STRENGTH = st.floats(0.0, 100.0)
quick = settings(max_examples=60, deadline=None)


@quick
@given(STRENGTH)
def test_strength_and_mass_fraction_are_each_other_s_inverse(strength: float) -> None:
    """Newton on a smooth curve: 1e-9 % vol is rounding."""
    assert abs(alcohol.strength_vol(alcohol.mass_fraction(strength)) - strength) < 1e-9


@quick
@given(FRACTION, st.sampled_from(alcohol.REFERENCE_TEMPERATURES_C))
def test_every_reference_temperature_turns_back(p: float, reference: float) -> None:
    assert abs(alcohol.mass_fraction(alcohol.strength_vol(p, reference_c=reference), reference_c=reference) - p) < 1e-9


@quick
@given(FRACTION, ANY)
def test_density_and_strength_are_each_other_s_inverse(p: float, t: float) -> None:
    """Over the whole range that is liquid."""
    assume(p >= float(alcohol.freezing_mass_fraction(t)))
    rho = alcohol.density(p, t)
    assert abs(alcohol.mass_fraction_from_density(rho, t) - p) < 1e-9
    assert abs(alcohol.strength_from_density(rho, t) - alcohol.strength_vol(p)) < 1e-6


@quick
@given(FRACTION, FRACTION, ANY)
def test_density_falls_strictly_with_strength(p: float, q: float, t: float) -> None:
    low, high = sorted((p, q))
    assume(high - low > 1e-6 and low >= float(alcohol.freezing_mass_fraction(t)))
    assert alcohol.density(low, t) > alcohol.density(high, t)


@quick
@given(st.floats(0.3, 1.0), ANY, ANY)
def test_strong_mixtures_shrink_as_they_cool(p: float, t: float, u: float) -> None:
    """Water's own maximum at 4 degrees C is the only exception, and it is gone at 30 % by mass."""
    cold, warm = sorted((t, u))
    assume(warm - cold > 1e-3)
    assert alcohol.density(p, cold) > alcohol.density(p, warm)


@quick
@given(FRACTION, WARM)
def test_mixing_ethanol_and_water_never_swells(p: float, t: float) -> None:
    assert alcohol.contraction(p, t) >= 0.0


@quick
@given(st.lists(st.tuples(STRENGTH, st.floats(0.1, 5000.0), WARM), min_size=1, max_size=6), st.randoms())
def test_mixing_conserves_mass_and_ethanol_in_any_order(liquids: list[tuple[float, float, float]], chance) -> None:  # type: ignore[no-untyped-def]
    """All at once, shuffled, and one after the other: the same to rounding."""
    q, v, t = (np.array(column) for column in zip(*liquids, strict=True))
    made = alcohol.mix(q, v, t)
    grams = v * alcohol.density(alcohol.mass_fraction(q), t) / 1000
    assert np.isclose(made.mass_g, grams.sum())
    assert np.isclose(made.mass_g * alcohol.mass_fraction(made.strength_vol), (grams * alcohol.mass_fraction(q)).sum())
    order = list(range(len(liquids)))
    chance.shuffle(order)
    again = alcohol.mix(q[order], v[order], t[order])
    assert np.isclose(made.strength_vol, again.strength_vol, atol=1e-9)
    assert np.isclose(made.volume_ml, again.volume_ml)
    strength, volume = (
        float(alcohol.mix([q[0]], [v[0]], t[0]).strength_vol),
        float(alcohol.mix([q[0]], [v[0]], t[0])[1]),
    )
    for n in range(1, len(liquids)):
        step = alcohol.mix([strength, q[n]], [volume, v[n]], [20.0, t[n]])
        strength, volume = float(step.strength_vol), float(step.volume_ml)
    assert np.isclose(strength, made.strength_vol, atol=1e-7)
    assert np.isclose(volume, made.volume_ml)


@quick
@given(st.floats(5.0, 100.0), st.floats(0.01, 1.0), st.floats(1.0, 1e5), WARM)
def test_diluting_and_mixing_agree(stock: float, share: float, wanted: float, t: float) -> None:
    """What a dilution asks for, poured together, is what was wanted."""
    target = stock * share
    d = alcohol.dilute(stock, target, wanted, t)
    made = alcohol.mix([stock, 0.0], [d.stock_ml, d.water_ml], t)
    assert abs(made.strength_vol - target) < 1e-6
    assert np.isclose(made.mass_g, d.stock_g + d.water_g)
    assert d.water_ml >= 0.0


@quick
@given(st.floats(5.0, 100.0), st.floats(0.01, 1.0), st.floats(1.0, 1e5))
def test_water_to_add_is_what_mixing_needs(stock: float, share: float, volume: float) -> None:
    water = alcohol.water_to_add_ml(stock, stock * share, volume)
    assert abs(alcohol.mix([stock, 0.0], [volume, water]).strength_vol - stock * share) < 1e-6


@quick
@given(st.floats(20.0, 90.0), st.floats(5.0, 35.0), st.sampled_from(alcohol.GLASSES))
def test_a_hydrometer_turns_back(strength: float, t: float, glass: str) -> None:
    reading = alcohol.hydrometer_reading(strength, t, glass)
    assume(not np.isnan(reading))
    assert abs(alcohol.strength_from_hydrometer(reading, t, glass) - strength) < 1e-6


@quick
@given(FRACTION, st.floats(5.0, 40.0), st.sampled_from(vapour.PARTIAL_PRESSURE_METHODS))
def test_partial_pressures_lie_between_nothing_and_the_pure_liquid(p: float, t: float, method: str) -> None:
    ethanol, water = vapour.partial_pressures(p, t, method=method)
    assert 0.0 <= ethanol <= vapour.ethanol_vapour_pressure(t) * (1 + 1e-12)
    assert 0.0 <= water <= vapour.water_vapour_pressure(t) * (1 + 1e-12)


@quick
@given(st.floats(0.02, 0.98), st.floats(5.0, 40.0))
def test_the_two_activities_obey_gibbs_and_duhem(x: float, t: float) -> None:
    """x1 dln(g1) + x2 dln(g2) = 0 along composition; the central difference is good to 1e-6."""
    step = 1e-4

    def logs(mole: float) -> np.ndarray:
        p = mole * 46.06844 / (mole * 46.06844 + (1 - mole) * 18.01528)
        return np.log(np.array(vapour.activity_coefficients(p, t)))

    change = (logs(x + step) - logs(x - step)) / (2 * step)
    assert abs(x * change[0] + (1 - x) * change[1]) < 1e-5


@quick
@given(st.floats(0.0, 45.0), st.floats(0.0, 45.0), st.floats(0.0, 50.0))
def test_more_formaldehyde_gives_more_vapour_and_polymers_hold_some_back(a: float, b: float, t: float) -> None:
    low, high = sorted((a, b))
    assert formalin.vapour_pressure_pa(low, t) <= formalin.vapour_pressure_pa(high, t)
    assert formalin.vapour_pressure_pa(high, t) <= formalin.vapour_pressure_pa(high, t, False)


@quick
@given(st.floats(0.1, 40.0), st.floats(0.0, 15.0))
def test_weight_and_volume_strength_turn_back(percent: float, methanol: float) -> None:
    in_volume = formalin.percent_w_v(percent, methanol)
    assert abs(formalin.percent_w_w(in_volume, methanol) - percent) < 1e-9


@quick
@given(st.floats(0.005, 0.1), st.floats(0.005, 0.1), st.floats(0.0, 60.0), st.floats(0.0, 0.99))
def test_acid_only_ever_lowers_the_ph_and_the_budget_turns_back(mono: float, di: float, t: float, share: float) -> None:
    fresh, later = buffers.buffer_ph(mono, di, t), buffers.buffer_ph(mono, di, t, di * share)
    assert later <= fresh + 1e-12
    if later > 5.6:
        assert abs(buffers.acid_to_reach_ph(mono, di, t, later) - di * share) < 1e-6 or later > 9.0


@quick
@given(st.floats(0.01, 0.05), st.floats(0.01, 0.06), st.floats(0.0, 40.0), st.floats(0.0, 0.9), st.floats(5.5, 7.5))
def test_salt_lifts_a_sunken_ph_to_where_it_was_wanted(
    mono: float, di: float, t: float, share: float, wanted: float
) -> None:
    added = buffers.dibasic_to_lift_ph(mono, di, t, di * share, wanted)
    if not np.isnan(added):
        reached = buffers.buffer_ph(mono, di + added, t, di * share)
        assert reached >= wanted - 1e-9
        assert added == 0.0 or abs(reached - wanted) < 1e-6


@quick
@given(st.lists(st.floats(0.0, 96.0), min_size=1, max_size=6), st.floats(0.1, 50.0), st.floats(0.01, 0.95))
def test_a_bath_ends_between_what_was_inside_and_what_was_poured(
    strengths: list[float], ratio: float, water: float
) -> None:
    inside = 0.0
    for poured, end in zip(strengths, bath.strength_after(strengths, ratio, water), strict=True):
        assert min(inside, poured) - 1e-9 <= end <= max(inside, poured) + 1e-9
        inside = float(end)


@quick
@given(st.floats(1.0, 96.0), st.integers(1, 8), st.floats(0.1, 50.0), st.floats(0.01, 0.95))
def test_equal_fills_follow_the_closed_form(strength: float, n: int, ratio: float, water: float) -> None:
    """p_n = p_f [1 - (W/(W + F))^n], by mass."""
    p = float(alcohol.mass_fraction(strength))
    fluid = ratio * float(alcohol.density(p, 20.0)) / 1000
    expected = alcohol.strength_vol(p * (1 - (water / (water + fluid)) ** n))
    assert abs(bath.strength_after([strength] * n, ratio, water)[-1] - expected) < 1e-8


@quick
@given(st.floats(30.0, 80.0), st.floats(3.0, 50.0), st.floats(0.3, 0.9), st.floats(0.0, 30.0))
def test_the_fill_that_was_computed_ends_where_it_was_wanted(
    target: float, ratio: float, water: float, start: float
) -> None:
    fill = bath.fill_strength_or_nan(target, ratio, water, start)
    assume(not np.isnan(fill))
    assert abs(bath.strength_after(float(fill), ratio, water, start_vol=start) - target) < 1e-6


@quick
@given(st.floats(1.0, 60.0), st.floats(0.0, 2000.0), st.floats(0.0, 45.0), st.floats(0.2, 50.0))
def test_equalising_only_goes_forward(radius: float, hours: float, t: float, ratio: float) -> None:
    now, later = bath.share_equalised(radius, [hours, hours * 1.1 + 0.1], t, fluid_ml_per_g=ratio)
    assert -1e-12 <= now <= later + 1e-6
    assert later <= 1.0 + 1e-9
