"""What the pH of a buffered formalin says: how much acid has come, and when the buffer is spent."""

from __future__ import annotations

import json

import pytest

from keepfast.plan.acid import acid_reading
from keepfast.rules import fluids
from keepfast.science import formalin

RECIPE = fluids.load().buffer("phosphate")


@pytest.mark.parametrize(("ph", "acid", "share"), [(6.8, 9.9, 0.74), (6.5, 22.4, 1.7), (6.0, 36.6, 2.7)])
def test_the_acid_that_has_come(ph: float, acid: float, share: float) -> None:
    """9.9, 22.4 and 36.6 mmol/L from pH 7.03, 0.74, 1.7 and 2.7 % of the formaldehyde (computed by the compilers)."""
    answer = acid_reading(RECIPE, ph, 25.0, 1000.0)
    assert 1000 * answer.acid_mol_l == pytest.approx(acid, abs=0.06)
    assert 100 * answer.oxidised_share == pytest.approx(share, abs=0.05)
    assert answer.acid_low_mol_l < answer.acid_mol_l < answer.acid_high_mol_l


def test_the_pace_so_far_is_carried_on() -> None:
    """9.9 mmol/L in ten days: 22.4 in 22.6 and 36.6 in 37 (the same budget, by proportion)."""
    ahead = acid_reading(RECIPE, 6.8, 25.0, 1000.0, days=10.0).days_to
    assert ahead is not None
    assert ahead["6.5"].value == pytest.approx(10 * 22.4 / 9.9, rel=0.01)
    assert ahead["6.0"].value == pytest.approx(10 * 36.6 / 9.9, rel=0.01)
    assert all(span.high is not None and span.low < span.value < span.high for span in ahead.values())
    assert set(acid_reading(RECIPE, 6.3, 25.0, 1000.0, days=10.0).days_to or {}) == {"6.0"}


def test_a_reading_within_its_own_error_of_fresh_promises_no_end() -> None:
    ahead = acid_reading(RECIPE, 7.0, 25.0, 1000.0, days=10.0).days_to
    assert ahead is not None
    assert ahead["6.5"].high is None
    assert acid_reading(RECIPE, 7.2, 25.0, 1000.0, days=10.0).days_to is None


def test_what_the_bottle_brought_is_not_counted_as_drift() -> None:
    """A mix that read 6.9 on its first day had some 5 mmol/L from the bottle."""
    since = acid_reading(RECIPE, 6.5, 25.0, 1000.0, was_ph=6.9)
    whole = acid_reading(RECIPE, 6.5, 25.0, 1000.0)
    mono, di = 4.0 / 137.99, 6.5 / 141.96
    brought = float(formalin.acid_to_reach_ph(mono, di, 25.0, 6.9))
    assert whole.acid_mol_l - since.acid_mol_l == pytest.approx(brought, abs=1e-9)
    assert since.fresh_ph == 6.9


def test_a_mix_made_for_a_higher_ph_is_another_split() -> None:
    answer = acid_reading(RECIPE, 7.0, 25.0, 1000.0, was_ph=7.4)
    total = 4.0 / 137.99 + 6.5 / 141.96
    mono, di = formalin.split_for_ph(total, 7.4, 25.0)
    assert formalin.buffer_ph(mono, di, 25.0, answer.acid_mol_l) == pytest.approx(7.0, abs=1e-6)


def test_the_salt_to_add_brings_it_back() -> None:
    """Weighed for five litres in the tin's own hydrate, put into the buffer's equation again."""
    answer = acid_reading(RECIPE, 6.6, 25.0, 5000.0, dibasic="Na2HPO4.12H2O")
    added = answer.mend_g / 5.0 / 358.14
    lifted = formalin.buffer_ph(4.0 / 137.99, 6.5 / 141.96 + added, 25.0, answer.acid_mol_l)
    assert lifted == pytest.approx(7.03, abs=0.006)


def test_what_lies_outside_is_refused() -> None:
    with pytest.raises(ValueError, match=r"ph must be from 5\.6 to 8\.2; 5 was given"):
        acid_reading(RECIPE, 5.0, 25.0, 1000.0)


def test_it_is_plain_json() -> None:
    assert json.dumps(acid_reading(RECIPE, 6.8, 25.0, 1000.0, days=5.0).as_dict(), allow_nan=False)
