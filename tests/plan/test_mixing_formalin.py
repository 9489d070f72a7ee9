"""Mixing cards for formalin: both namings at once, the salt that is in the tin, the pH that proves it."""

from __future__ import annotations

import json

import pytest

from keepfast.plan import mixing, mixing_formalin
from keepfast.rules import fluids
from keepfast.rules.fluids import Vessel
from keepfast.science import formalin

RULES = fluids.load()
BOTTLE = formalin.stock(37.0, "w/w", 10.0)
PHOSPHATE = RULES.buffer("phosphate")


def card(
    buffer: mixing_formalin.Buffer | None = None, ml: float = 5000.0, t: float = 25.0, **more: object
) -> mixing.MixingCard:
    strength = {"formalin_percent": 10.0} if "formaldehyde_percent" not in more else {}
    made = buffer or mixing_formalin.buffer_for(PHOSPHATE)
    return mixing_formalin.formalin_card(BOTTLE, ml, t, made, RULES, RULES.vessels, **strength, **more)  # type: ignore[arg-type]


def grams(made: mixing.MixingCard) -> dict[str, float]:
    return {portion.what: portion.g for portion in made.portions}


def test_five_litres_of_the_usual_recipe() -> None:
    """100 mL stock, 900 mL water, 4.0 g NaH2PO4.H2O, 6.5 g Na2HPO4 a litre (read in three places): pH 7.03."""
    made = card()
    assert grams(made)["NaH2PO4.H2O"] == pytest.approx(20.0)
    assert grams(made)["Na2HPO4"] == pytest.approx(32.5)
    assert made.portions[0].poured_ml == 4500
    assert made.portions[-1].poured_ml == 500
    assert made.result["ph"] == pytest.approx(7.03, abs=0.006)


def test_the_tin_s_own_hydrate_is_weighed() -> None:
    """6.5 g anhydrous are 12.27 g of the heptahydrate and 16.40 g of the dodecahydrate; the pH stays."""
    for salt, per_litre in (("Na2HPO4.7H2O", 12.27), ("Na2HPO4.12H2O", 16.40)):
        made = card(mixing_formalin.buffer_for(PHOSPHATE, dibasic=salt))
        assert grams(made)[salt] == pytest.approx(5 * per_litre, abs=0.05)
        assert made.result["ph"] == pytest.approx(7.03, abs=0.006)


def test_a_wrong_tin_shows_in_the_ph() -> None:
    """The same 6.5 g of the dodecahydrate would give 6.69 (computed by the compilers): the card says so beforehand."""
    doubts = " ".join(card().doubts)
    assert "Na2HPO4.12H2O 6.69" in doubts
    assert "Na2HPO4.7H2O 6.80" in doubts


def test_both_names_of_the_strength_stand_together() -> None:
    made = card()
    assert "10 % formalin" in made.title
    assert "% formaldehyde" in made.title
    assert "10 % formalin = 4.03 % formaldehyde" in made.label
    low, high = made.extra["formaldehyde_percent_w_v"]["low"], made.extra["formaldehyde_percent_w_v"]["high"]
    assert low < 4.03 < high


def test_formaldehyde_can_be_asked_for_instead() -> None:
    """99.3 mL of 37 % w/w stock a litre for 4.0 % (computed by the compilers)."""
    made = card(formaldehyde_percent=4.0, ml=1000.0)
    assert made.extra["stock_ml"] == pytest.approx(99.3, abs=0.05)
    assert made.extra["formalin_percent"] == pytest.approx(9.93, abs=0.005)


def test_another_ph_by_another_split() -> None:
    for ph in (6.8, 7.4):
        buffer = mixing_formalin.buffer_for(PHOSPHATE, ph=ph, temperature_c=30.0)
        assert card(buffer, t=30.0).result["ph"] == pytest.approx(ph, abs=1e-6)


def test_dibasic_salt_lifts_a_sunken_ph_back() -> None:
    """What the card says to add is put into the buffer's own equation again."""
    made = card(ml=1000.0)
    mono, di = 4.0 / 137.99, 6.5 / 141.96
    for correction in made.corrections:
        low = float(correction.when.split()[-1])
        acid = float(formalin.acid_to_reach_ph(mono, di, 25.0, low))
        assert correction.g is not None
        lifted = formalin.buffer_ph(mono, di + correction.g / 141.96, 25.0, acid)
        assert lifted == pytest.approx(made.result["ph"], abs=0.002)


def test_old_stock_at_its_limit_of_acid_still_holds_near_seven() -> None:
    """0.05 mol/L in the bottle (USP 35 and Walker, read) is 5 mM at 1:9: 6.9."""
    made = card()
    assert made.result["acid_from_the_bottle_at_most_mol_l"] == pytest.approx(0.005)
    assert made.result["ph_at_the_acid_limit"] == pytest.approx(6.91, abs=0.02)


def test_makeshifts_are_called_makeshifts() -> None:
    for key in ("borax", "marble", "seawater", "none"):
        made = card(mixing_formalin.buffer_for(RULES.buffer(key)))
        assert any("makeshift" in doubt for doubt in made.doubts)
        assert made.result["ph"] is None
        assert made.readings[0].low is not None


def test_sea_water_takes_under_half_of_the_acid_that_may_come() -> None:
    """2.3 mM of alkalinity (from memory) in nine tenths against 5 mM."""
    made = card(mixing_formalin.buffer_for(RULES.buffer("seawater")))
    assert made.result["acid_budget_mol_l"] < 0.5 * made.result["acid_from_the_bottle_at_most_mol_l"]


def test_sea_water_is_heavier_and_the_check_reading_knows_it() -> None:
    """At salinity 35 and 25 degrees C 1023.34 against 997.05 kg/m3 (UNESCO 1983, check values): 26.3 in nine tenths."""
    sea = card(mixing_formalin.buffer_for(RULES.buffer("seawater")), t=25.0)
    fresh = card(mixing_formalin.buffer_for(RULES.buffer("none")), t=25.0)
    assert sea.result["density_kg_m3"] - fresh.result["density_kg_m3"] == pytest.approx(0.9 * 26.295, abs=0.01)
    assert sea.portions[0].g / fresh.portions[0].g == pytest.approx(1023.343 / 997.048, abs=1e-4)
    assert sea.readings[1].high - sea.readings[1].low > fresh.readings[1].high - fresh.readings[1].low  # type: ignore[operator]


def test_what_is_mostly_stock_is_no_working_solution() -> None:
    with pytest.raises(ValueError, match="formalin_percent must be at most 50 %; 100 was given"):
        mixing_formalin.formalin_card(
            BOTTLE, 1000.0, 20.0, mixing_formalin.buffer_for(PHOSPHATE), RULES, RULES.vessels, formalin_percent=100.0
        )


def test_stock_is_weighed_where_the_measures_are_too_coarse() -> None:
    made = mixing_formalin.formalin_card(
        BOTTLE,
        1300.0,
        20.0,
        mixing_formalin.buffer_for(PHOSPHATE),
        RULES,
        (Vessel("jug", 2000.0, 100.0),),
        formalin_percent=10.0,
    )
    assert made.portions[-1].pours == ()
    assert "too coarse" in made.doubts[0]
    assert any("weigh 141 g" in step for step in made.steps)


def test_borax_goes_by_the_gram() -> None:
    """3 g a litre of working solution (USGS OFR 93-104, read)."""
    made = card(mixing_formalin.buffer_for(RULES.buffer("borax")), ml=10_000.0)
    assert any(p.g == pytest.approx(30.0) and "borax" in p.what for p in made.portions)


def test_swapped_tins_are_caught() -> None:
    with pytest.raises(ValueError, match="dibasic must be one of"):
        mixing_formalin.buffer_for(PHOSPHATE, dibasic="NaH2PO4")
    with pytest.raises(ValueError, match="salt must be one of"):
        mixing_formalin.buffer_for(PHOSPHATE, dibasic="Na2HPO4.5H2O")


def test_one_strength_not_two_not_none() -> None:
    buffer = mixing_formalin.buffer_for(PHOSPHATE)
    for strengths in ({}, {"formalin_percent": 10.0, "formaldehyde_percent": 4.0}):
        with pytest.raises(ValueError, match="one of the two"):
            mixing_formalin.formalin_card(BOTTLE, 1000.0, 20.0, buffer, RULES, RULES.vessels, **strengths)


def test_powder_by_its_assay() -> None:
    """42.1 g at 95 % for a litre of 4 % (computed by the compilers); no methanol, no acid from a bottle."""
    made = mixing_formalin.paraformaldehyde_card(
        4.0, 1000.0, 95.0, 25.0, mixing_formalin.buffer_for(PHOSPHATE), RULES, RULES.vessels
    )
    assert made.extra["powder_g"] == pytest.approx(42.1, abs=0.01)
    assert made.result["methanol_percent_w_v"] == 0.0
    assert made.result["acid_from_the_bottle_at_most_mol_l"] == 0.0
    assert any("55 to 60" in step for step in made.steps)


def test_powder_goes_with_no_sea_water_and_no_phosphate_beside_lime() -> None:
    """Lye throws magnesium out of sea water; phosphate and lime make calcium phosphate (the recipes' own notes)."""
    with pytest.raises(ValueError, match="must not be seawater"):
        mixing_formalin.paraformaldehyde_card(
            4.0, 1000.0, 95.0, 25.0, mixing_formalin.buffer_for(RULES.buffer("seawater")), RULES, RULES.vessels
        )
    marble, phosphate, bare = (
        mixing_formalin.paraformaldehyde_card(
            4.0, 1000.0, 95.0, 25.0, mixing_formalin.buffer_for(RULES.buffer(key)), RULES, RULES.vessels
        )
        for key in ("marble", "phosphate", "none")
    )
    assert not any("phosphate" in step for step in marble.steps)
    assert any("acid phosphate" in step for step in phosphate.steps)
    assert any(step.startswith("Add 10.0 g marble") for step in marble.steps)
    # No bottle, so not its pH of 3 to 4.6: protocols set it to 6.9 to 7.4 (read).
    assert (bare.readings[0].low, bare.readings[0].high) == (6.9, 7.4)


def test_a_card_is_plain_json() -> None:
    assert "formalin" in json.dumps(card().as_dict(), allow_nan=False)
