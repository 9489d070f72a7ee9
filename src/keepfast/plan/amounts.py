"""Volumes and masses in words, as one says them at a table."""

from __future__ import annotations


def amount(ml: float) -> str:
    """A volume in words: millilitres below one litre, litres above, three or four figures."""
    if ml < 9.95:
        return f"{ml:.1f} mL"
    if ml < 999.5:
        return f"{ml:.0f} mL"
    litres = f"{ml / 1000:.{2 if ml < 99_995 else 1}f}"
    return f"{litres.rstrip('0').rstrip('.')} L"


def weight(g: float) -> str:
    """A mass in words: grams in three figures, kilograms from ten on."""
    if g >= 9_999.5:
        return f"{g / 1000:.2f} kg"
    return f"{g:.{2 if g < 9.995 else 1 if g < 99.95 else 0}f} g"
