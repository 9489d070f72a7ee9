"""Phosphate buffers against the pH standard and against worked values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from keepfast.science import buffers

MONO, DI = 4.0 / 137.99, 6.5 / 141.96  # the usual recipe per litre: NaH2PO4.H2O and Na2HPO4 (read in three places)


@pytest.mark.parametrize(
    ("temperature", "standard"),
    [(5, 6.951), (10, 6.923), (15, 6.900), (20, 6.881), (25, 6.865), (30, 6.853), (35, 6.844), (40, 6.838)],
)
def test_the_equimolal_phosphate_standard(temperature: float, standard: float) -> None:
    """IUPAC/NIST 0.025 + 0.025 mol/kg: 6.865 at 25 degrees C read, the rest from memory; the model's error is 0.02."""
    assert buffers.buffer_ph(0.025, 0.025, temperature) == pytest.approx(standard, abs=0.02)


@pytest.mark.parametrize(("temperature", "ph"), [(5, 7.11), (20, 7.04), (25, 7.03), (30, 7.02), (35, 7.01)])
def test_neutral_buffered_formalin_by_temperature(temperature: float, ph: float) -> None:
    """Computed by the compilers from pKa2 as read; printed digits."""
    assert buffers.buffer_ph(MONO, DI, temperature) == pytest.approx(ph, abs=0.006)


def test_without_activities_the_recipe_would_be_said_to_be_7_40() -> None:
    """Henderson and Hasselbalch with 7.20, as is often printed; the model must not give that."""
    assert 7.20 + math.log10(DI / MONO) == pytest.approx(7.40, abs=0.005)
    assert buffers.buffer_ph(MONO, DI, 25.0) < 7.1


@pytest.mark.parametrize(("salt", "ph"), [("Na2HPO4.2H2O", 6.95), ("Na2HPO4.7H2O", 6.80), ("Na2HPO4.12H2O", 6.69)])
def test_the_wrong_hydrate_weighed_by_the_same_figure(salt: str, ph: float) -> None:
    """Computed by the compilers; printed digits."""
    assert buffers.buffer_ph(MONO, 6.5 / buffers.salt_g_mol(salt), 25.0) == pytest.approx(ph, abs=0.006)


def test_other_recipes() -> None:
    """Computed by the compilers: 6.0 g of the dibasic salt 7.00; anhydrous monobasic 6.97."""
    assert buffers.buffer_ph(MONO, 6.0 / 141.96, 25.0) == pytest.approx(7.00, abs=0.006)
    assert buffers.buffer_ph(4.0 / 119.98, DI, 25.0) == pytest.approx(6.97, abs=0.006)


@pytest.mark.parametrize(("acid_mmol", "ph"), [(1, 7.005), (2, 6.98), (10, 6.80), (20, 6.56), (30, 6.28)])
def test_acid_drift(acid_mmol: float, ph: float) -> None:
    """Computed by the compilers; 0.01 covers whether the acid's own ion counts in the ionic strength."""
    assert buffers.buffer_ph(MONO, DI, 25.0, acid_mmol / 1000) == pytest.approx(ph, abs=0.01)


@pytest.mark.parametrize(("ph", "acid_mmol"), [(6.8, 9.9), (6.5, 22.4), (6.0, 36.6)])
def test_acid_budget(ph: float, acid_mmol: float) -> None:
    """Computed by the compilers; printed digits."""
    assert 1000 * buffers.acid_to_reach_ph(MONO, DI, 25.0, ph) == pytest.approx(acid_mmol, abs=0.1)


@pytest.mark.parametrize(("formic_mmol", "ph"), [(50, 2.54), (5, 3.07), (1, 3.47)])
def test_unbuffered(formic_mmol: float, ph: float) -> None:
    """Formic acid alone, pKa 3.75 (computed by the compilers)."""
    assert buffers.unbuffered_ph(formic_mmol / 1000) == pytest.approx(ph, abs=0.006)


def test_hydrates_of_6_5_grams() -> None:
    """6.5 g Na2HPO4 = 8.15 g dihydrate = 12.27 g heptahydrate = 16.40 g dodecahydrate (molar masses)."""
    for salt, grams in (("Na2HPO4.2H2O", 8.15), ("Na2HPO4.7H2O", 12.27), ("Na2HPO4.12H2O", 16.40)):
        assert DI * buffers.salt_g_mol(salt) == pytest.approx(grams, abs=0.006)


def test_every_hydrate_is_its_dry_salt_and_water() -> None:
    """Sums of atomic weights: 0.05 g/mol is their rounding."""
    for salt in buffers.salts():
        dry = salt.split(".")[0]
        assert buffers.anhydrous_g_mol(salt) == pytest.approx(buffers.salt_g_mol(dry), abs=0.06)


def test_a_wanted_ph_is_split_into_two_salts() -> None:
    total = MONO + DI
    for ph in (6.5, 7.0, 7.4):
        mono, di = buffers.split_for_ph(total, ph, 25.0)
        assert mono + di == pytest.approx(total)
        assert buffers.buffer_ph(mono, di, 25.0) == pytest.approx(ph, abs=1e-6)


def test_contracts() -> None:
    nan = float("nan")
    assert isinstance(buffers.buffer_ph(MONO, DI, 25.0), float)
    assert buffers.buffer_ph([MONO, DI], DI, [[5.0], [25.0]]).shape == (2, 2)
    assert math.isnan(buffers.buffer_ph(nan, DI, 25.0))
    assert np.isnan(buffers.buffer_ph(MONO, DI, 25.0, [0.0, nan])).tolist() == [False, True]
    for call, words in (
        (lambda: buffers.buffer_ph(MONO, DI, 25.0, DI), "uses up the buffer"),
        (lambda: buffers.buffer_ph(MONO, DI, 25.0, 0.1), "acid_mol_l"),
        (lambda: buffers.buffer_ph(0.0, DI, 25.0), "monobasic_mol_l must be above 0"),
        (lambda: buffers.buffer_ph(-0.1, DI, 25.0), "monobasic_mol_l must be from 0"),
        (lambda: buffers.buffer_ph(MONO, DI, 61.0), "temperature_c must be from 0 to 60"),
        (lambda: buffers.buffer_ph(0.9, 0.9, 25.0), "ionic strength"),
        (lambda: buffers.salt_g_mol("Na2HPO4.5H2O"), "salt must be one of"),
        (lambda: buffers.split_for_ph(0.07, 9.0, 25.0), "ph must be from 5.8 to 8.2"),
    ):
        with pytest.raises(ValueError, match=words):
            call()
