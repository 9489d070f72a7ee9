"""How acid a buffered formalin has become, from its pH: what it has taken, when it is spent, what lifts it back."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

from keepfast.plan.fixing import FULL_BATH_PERCENT_W_V
from keepfast.rules.fluids import BufferRecipe
from keepfast.science import formalin, tables

LEAST_PH, MOST_PH = 5.6, 8.2
READ_WITHIN_PH = 0.1  # what a good strip or a meter in the field leaves open
SPENT_PH = (6.5, 6.0)  # old museum jars are found from 5 to 7; below 6 the buffer is nearly gone


@dataclass(frozen=True)
class Days:
    """Days with the ends of what the reading leaves open; ``high`` None where it may be no drift at all."""

    value: float
    low: float
    high: float | None


@dataclass(frozen=True)
class AcidReading:
    """What a pH says. Amounts in mol for each litre, of acid that has come since it was mixed."""

    ph: float
    temperature_c: float
    fresh_ph: float
    acid_mol_l: float
    acid_low_mol_l: float
    acid_high_mol_l: float
    oxidised_share: float  # of the formaldehyde in a full bath, one acid for each
    days: float | None
    days_to: dict[str, Days] | None  # from mixing to each pH still ahead, at the same pace
    batch_ml: float
    dibasic: str
    mend_g: float  # dibasic salt for the batch

    def as_dict(self) -> dict[str, Any]:
        """For JSON: plain values."""
        return asdict(self)


def acid_reading(
    recipe: BufferRecipe,
    ph: float,
    temperature_c: float,
    batch_ml: float,
    *,
    was_ph: float | None = None,
    days: float | None = None,
    dibasic: str = "",
) -> AcidReading:
    """
    What the pH of a buffered formalin says.

    Parameters
    ----------
    recipe : BufferRecipe
        What went in, a phosphate buffer.
    ph : float
        As read. [-]  5.6 to 8.2.
    temperature_c : float
        Of the fluid. [degrees C]
    batch_ml : float
        How much of it there is. [mL]
    was_ph : float, optional
        What it read when it was mixed; the recipe's own where nobody looked. Lower than the recipe's is acid that the
        bottle brought; higher is another split of the same phosphate.
    days : float, optional
        Since it was mixed; then the pace so far is carried on. [d]
    dibasic : str
        The salt to mend with; the recipe's own when empty.

    Raises
    ------
    ValueError
        If a number lies outside, or a salt is unknown.
    """
    if not LEAST_PH <= ph <= MOST_PH:
        raise ValueError(f"ph must be from {LEAST_PH:g} to {MOST_PH:g}; {ph:g} was given")
    mono = recipe.monobasic_g_l / formalin.salt_g_mol(recipe.monobasic)
    di = recipe.dibasic_g_l / formalin.salt_g_mol(recipe.dibasic)
    fresh = float(formalin.buffer_ph(mono, di, temperature_c))
    brought = 0.0
    if was_ph is not None and was_ph > fresh:
        mono, di = (float(part) for part in formalin.split_for_ph(mono + di, was_ph, temperature_c))
        fresh = was_ph
    elif was_ph is not None:
        brought = float(formalin.acid_to_reach_ph(mono, di, temperature_c, was_ph))
        fresh = was_ph

    def come(at: float) -> float:
        return max(0.0, float(formalin.acid_to_reach_ph(mono, di, temperature_c, at)) - brought)

    value, low, high = come(ph), come(ph + READ_WITHIN_PH), come(ph - READ_WITHIN_PH)
    ahead = None
    if days is not None and value > 0:
        ahead = {
            f"{at:.1f}": Days(
                days * come(at) / value, days * come(at) / high, days * come(at) / low if low > 0 else None
            )
            for at in SPENT_PH
            if at < ph
        }
    salt = dibasic or recipe.dibasic
    lift = float(formalin.dibasic_to_lift_ph(mono, di, temperature_c, value + brought, fresh)) if value > 0 else 0.0
    formaldehyde = 10.0 * FULL_BATH_PERCENT_W_V / tables.load("molar-masses").value("formaldehyde")
    return AcidReading(
        ph=ph,
        temperature_c=temperature_c,
        fresh_ph=fresh,
        acid_mol_l=value,
        acid_low_mol_l=low,
        acid_high_mol_l=high,
        oxidised_share=value / formaldehyde,
        days=days,
        days_to=ahead,
        batch_ml=batch_ml,
        dibasic=salt,
        mend_g=0.0 if math.isnan(lift) else lift * formalin.salt_g_mol(salt) * batch_ml / 1000.0,
    )
