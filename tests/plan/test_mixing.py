"""Mixing cards for alcohol: what is poured is what is proved."""

from __future__ import annotations

import json
import math

import pytest

from keepfast.plan import mixing
from keepfast.plan.amounts import amount, weight
from keepfast.rules import fluids
from keepfast.rules.fluids import Vessel
from keepfast.science import alcohol

RULES = fluids.load()


def card(
    stock: float = 96.0, target: float = 70.0, ml: float = 12_000.0, t: float = 31.0, **more: object
) -> mixing.MixingCard:
    return mixing.alcohol_card(stock, target, ml, t, RULES, RULES.vessels, **more)  # type: ignore[arg-type]


def test_twelve_litres_of_seventy_per_cent_at_thirty_one_degrees() -> None:
    """Per litre 729.2 mL and 297.4 mL at 20 degrees C (computed by the compilers); warm, both grow nearly alike."""
    made = card()
    stock, water = made.portions
    assert stock.ml == pytest.approx(12 * 729.2, rel=0.003)
    assert water.ml == pytest.approx(12 * 297.4, rel=0.012)
    assert stock.g / (stock.g + water.g) == pytest.approx(0.6648, abs=1e-4)  # 664.8 g a kilogram, by the compilers
    assert stock.poured_ml == 8760
    assert water.poured_ml == 3540


def test_what_is_poured_with_the_vessels_at_hand_has_the_strength_wanted() -> None:
    """Rounding costs less than 0.3 % of each amount, which is 0.1 % vol."""
    for ml in (300.0, 5_000.0, 60_000.0):
        made = card(ml=ml)
        assert made.result["strength_vol"] == pytest.approx(70.0, abs=0.1)
        assert made.result["volume_ml"] == pytest.approx(ml, rel=0.004)


def test_the_check_reading_is_warm_as_it_will_be() -> None:
    """A hydrometer at 31 degrees C shows more than 70; corrected, it shows 70 again."""
    reading = {r.instrument: r for r in card().readings}
    assert reading["hydrometer"].value is not None
    assert reading["hydrometer"].value > 73.0
    assert alcohol.strength_from_hydrometer(reading["hydrometer"].value, 31.0) == pytest.approx(70.0, abs=1e-6)
    assert alcohol.strength_from_density(reading["densitometer"].value, 31.0) == pytest.approx(70.0, abs=1e-6)
    assert reading["densitometer"].low is not None
    assert reading["densitometer"].low < reading["densitometer"].value < reading["densitometer"].high  # type: ignore[operator]


def test_corrections_bring_an_off_mix_back() -> None:
    for correction, off in zip(card().corrections, mixing.OFF_BY_VOL, strict=True):
        added = 96.0 if off < 0 else 0.0
        assert correction.ml is not None
        mended = alcohol.mix([70.0 + off, added], [12_000.0, correction.ml], 31.0)
        assert mended.strength_vol == pytest.approx(70.0, abs=1e-6)


def test_a_denatured_stock_gets_no_reading_and_is_told_why() -> None:
    made = card(denatured=True)
    assert made.readings == ()
    assert made.corrections == ()
    assert any("denatured" in doubt for doubt in made.doubts)


def test_a_stock_that_already_fits_is_used_as_it_is() -> None:
    made = card(stock=70.0)
    assert [portion.kind for portion in made.portions] == ["stock"]
    assert len(made.steps) == 1
    assert made.result["strength_vol"] == pytest.approx(70.0)


def test_masses_close_at_thirty_one_degrees() -> None:
    """Ethanol in = ethanol out and mass in = mass out, from the formula's densities alone, without ``dilute``.

    What is poured is rounded to tens of millilitres: 0.1 % of the water.
    """
    made = card()
    stock, water = made.portions
    p_stock, p_target = alcohol.mass_fraction(96.0), alcohol.mass_fraction(70.0)
    assert stock.g == pytest.approx(stock.ml * alcohol.density(p_stock, 31.0) / 1000)  # type: ignore[operator]
    assert water.g == pytest.approx(water.ml * alcohol.density(0.0, 31.0) / 1000)  # type: ignore[operator]
    assert stock.g * p_stock == pytest.approx((stock.g + water.g) * p_target)
    assert (stock.g + water.g) / alcohol.density(p_target, 31.0) * 1000 == pytest.approx(12_000.0)
    poured = stock.poured_ml * alcohol.density(p_stock, 31.0), water.poured_ml * alcohol.density(0.0, 31.0)  # type: ignore[operator]
    assert made.result["volume_ml"] == pytest.approx(sum(poured) / alcohol.density(p_target, 31.0), rel=1e-4)


def test_measures_that_are_too_coarse_are_not_used() -> None:
    """Five litres are the finest mark: 8.75 and 3.57 L would become 10 and 5, which make 66 %, not 70."""
    made = mixing.alcohol_card(96.0, 70.0, 12_000.0, 20.0, RULES, (Vessel("drum", 20_000.0, 5000.0),))
    assert made.result["strength_vol"] == pytest.approx(70.0)
    assert "65.8 %" in made.doubts[0]
    assert all(not portion.pours for portion in made.portions)
    assert "weigh 7065 g" in made.steps[1]


def test_a_rounding_that_shows_is_said() -> None:
    """Half litres: 70.3 %, which is within what is accepted and still more than a hand's own error."""
    made = mixing.alcohol_card(96.0, 70.0, 12_000.0, 20.0, RULES, (Vessel("drum", 20_000.0, 250.0),))
    off = abs(made.result["strength_vol"] - 70.0)
    assert 0.1 < off <= 0.5
    assert f"{made.result['strength_vol']:.1f} %" in made.doubts[0]
    assert all(portion.pours for portion in made.portions)


def test_what_cannot_be_measured_is_weighed() -> None:
    made = card(ml=0.1)
    assert "cannot measure so little" in made.doubts[0]
    assert "weigh 0.06 g" in made.steps[1]


def test_a_batch_below_freezing_is_mended_with_water_that_is_not_ice() -> None:
    mended = mixing.to_target(60.0, 96.0, 50.0, 5000.0, -5.0)
    assert mended is not None
    assert mended.ml is not None
    mass = 5.0 * alcohol.density(alcohol.mass_fraction(60.0), -5.0)
    assert mended.g == pytest.approx(mass * (alcohol.mass_fraction(60.0) / alcohol.mass_fraction(50.0) - 1))


def test_off_the_scale_is_said_instead_of_shown() -> None:
    """98 % at 35 degrees C is lighter than the last mark."""
    made = card(stock=99.0, target=98.0, t=35.0)
    hydrometer = made.readings[0]
    assert hydrometer.high is None
    assert "off the end" in hydrometer.words


def test_what_cannot_be_mixed_is_refused() -> None:
    with pytest.raises(ValueError, match="weaker than the target"):
        card(stock=60.0)
    with pytest.raises(ValueError, match="temperature_c"):
        card(t=41.0)


def test_a_card_is_plain_json() -> None:
    text = json.dumps(card().as_dict(), allow_nan=False)
    assert "70 % alcohol" in text


@pytest.mark.parametrize(
    ("ml", "done", "pours"),
    [
        (8762.0, 8760.0, [(1000.0, 8), (760.0, 1)]),
        (62.0, 62.0, [(62.0, 1)]),
        (288.0, 288.0, [(280.0, 1), (8.0, 1)]),
        (3.3, 3.2, [(3.2, 1)]),
        (1000.0, 1000.0, [(1000.0, 1)]),
        (0.0, 0.0, []),
    ],
)
def test_vessels_are_filled_as_a_hand_would(ml: float, done: float, pours: list[tuple[float, int]]) -> None:
    measured, how = mixing.into_vessels(ml, RULES.vessels)
    assert measured == pytest.approx(done)
    assert [(pytest.approx(p.ml), p.times) for p in how] == pours


def test_rounding_is_never_worse_than_half_the_finest_mark() -> None:
    vessels = (Vessel("drum", 20_000.0, 500.0), Vessel("jug", 1000.0, 50.0), Vessel("cup", 100.0, 5.0))
    for n in range(1, 400):
        ml = 137.3 * n
        measured, _ = mixing.into_vessels(ml, vessels)
        assert abs(measured - ml) <= max(2.5, mixing.ROUNDING_SHARE * ml) + 1e-9


def test_amounts_are_written_as_they_are_read() -> None:
    assert amount(3.24) == "3.2 mL"
    assert amount(62.4) == "62 mL"
    assert amount(12_000.0) == "12 L"
    assert amount(8_762.0) == "8.76 L"
    assert weight(4.0) == "4.00 g"
    assert weight(81.99) == "82.0 g"
    assert weight(12_345.0) == "12.35 kg"
    assert not math.isnan(float(amount(0.0).split()[0]))
