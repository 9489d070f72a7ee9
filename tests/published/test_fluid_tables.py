"""Tables of fluids: a sum over the cells, which a changed digit breaks, and cells copied by hand from the source."""

from __future__ import annotations

import math
from typing import Any

import pytest

from keepfast.science import tables

# Sum over every number in rows and values, taken when the table was checked against its source.
SUMS: dict[str, float] = {
    "oiml-1975-ethanol-water-density": 788.3836466435665,
    "crc-ethanol-freezing": 104.06,
    "mcgarry-1983-ethanol-vapour": 6639.202225999999,
    "iapws-1992-water-vapour": 22722.31400928,
    "gmehling-onken-ethanol-water-nrtl": -336.944,
    "pemberton-mash-1978-redlich-kister": 0.8528299999999999,
    "engineering-ethanol-flash-point": 887.0,
    "alcoholometer-glass": 3.5000000000000004e-05,
    "molar-masses": 2097.80672,
    "walker-1964-formaldehyde-density": 181.09367572000002,
    "walker-1964-formalin-methanol": 57.55945565,
    "sander-2015-formaldehyde-henry": 39895.0,
    "ledbury-blair-1925-formaldehyde-vapour": 187.535,
    "partanen-1996-phosphate": 1974.9747400636,
    "formic-acid": 3.8023,
    "body-water": 24.87,
    "keepfast-2026-alcohol-in-tissue": 67.50000000068,
}

CELLS: list[tuple[str, str, float]] = [
    # Council Directive 76/766/EEC, annex (read): first A and B.
    ("oiml-1975-ethanol-water-density", "A[0]", 998.2012300),
    ("oiml-1975-ethanol-water-density", "A[1]", -192.9769495),
    ("oiml-1975-ethanol-water-density", "B[0]", -0.20618513),
    # Its last coefficient, in six copies.
    ("oiml-1975-ethanol-water-density", "C5[1]", 1.345612883493354e-8),
    # Two cells in which one copy each is known to be wrong (1.69343*3*..., -2.17057570053*6933*).
    ("oiml-1975-ethanol-water-density", "C1[0]", 0.1693443461530087),
    ("oiml-1975-ethanol-water-density", "C2[2]", -2.170575700536993),
    # Walker, Formaldehyde.
    ("walker-1964-formaldehyde-density", "rows[0].density_g_ml", 1.0054),
    ("walker-1964-formaldehyde-density", "rows[5].percent_w_v", 37.72),
    ("walker-1964-formalin-methanol", "rows[2].density_g_ml", 1.0890),
    ("walker-1964-formalin-methanol", "rows[4].density_g_ml", 1.0639),
    # Sander's compilation, CAS 50-00-0.
    ("sander-2015-formaldehyde-henry", "rows[0].h0_mol_m3_pa", 32.0),
    ("sander-2015-formaldehyde-henry", "rows[0].slope_k", 6800.0),
    ("sander-2015-formaldehyde-henry", "rows[5].slope_k", 5700.0),
    # Ledbury & Blair.
    ("ledbury-blair-1925-formaldehyde-vapour", "rows[2].pressure_mmhg", 1.025),
    # Partanen & Minkkinen 1996, abstract.
    ("partanen-1996-phosphate", "ka2", 6.360e-8),
    # Gmehling & Onken.
    ("gmehling-onken-ethanol-water-nrtl", "a12", -0.8009),
    ("gmehling-onken-ethanol-water-nrtl", "b21_k", -586.0809),
    # engineeringtoolbox.com d_989.
    ("engineering-ethanol-flash-point", "rows[0].flash_c", 62.0),
    ("engineering-ethanol-flash-point", "rows[7].flash_c", 21.0),
    # IUPAC atomic weights: Na 22.990, H 1.008, P 30.974, O 15.999.
    ("molar-masses", "rows[0].g_mol", 22.990 + 2 * 1.008 + 30.974 + 4 * 15.999),
    ("molar-masses", "rows[4].g_mol", 2 * 22.990 + 1.008 + 30.974 + 4 * 15.999),
]


def numbers(value: Any) -> list[float]:
    """Every number inside."""
    if isinstance(value, bool):
        return []
    if isinstance(value, int | float):
        return [float(value)]
    if isinstance(value, dict):
        return [n for inner in value.values() for n in numbers(inner)]
    if isinstance(value, list | tuple):
        return [n for inner in value for n in numbers(inner)]
    return []


def cell(name: str, place: str) -> float:
    """One number by its place: ``A[0]``, ``rows[2].density_g_ml`` or a plain name."""
    table = tables.load(name)
    if place.startswith("rows["):
        row, key = place[5:].split("].")
        return float(table.rows[int(row)][key])
    if "[" in place:
        key, index = place[:-1].split("[")
        return float(table.values[key][int(index)])
    return table.value(place)


@pytest.mark.parametrize("name", SUMS)
def test_no_digit_of_a_table_has_changed(name: str) -> None:
    table = tables.load(name)
    found = math.fsum(numbers(table.values)) + math.fsum(numbers(table.rows))
    assert SUMS[name] == pytest.approx(found, rel=1e-12)


@pytest.mark.parametrize(("name", "place", "printed"), CELLS)
def test_cells_copied_by_hand(name: str, place: str, printed: float) -> None:
    """Equal to the printed digits; molar masses to the 0.01 g/mol that they are rounded to."""
    allowed = 0.011 if name == "molar-masses" else 0.0
    assert cell(name, place) == pytest.approx(printed, rel=1e-12, abs=allowed)
