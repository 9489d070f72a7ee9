"""Phosphate buffer in formalin: pH by activities, the acid it can take, and the salt that is really in the tin."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.science import tables
from keepfast.science.ranges import Array, first, given, within

LOWEST_C, HIGHEST_C = 0.0, 60.0
MOST_SALT_MOL_L = 0.25  # more would make another fluid of it, and passes what Davies' equation holds for
HIGHEST_IONIC_STRENGTH = 1.0  # Davies' equation is good to about 0.5 mol/L and useless past 1


def salts(role: str = "") -> tuple[str, ...]:
    """Formulas of the salts known, as written on tins; only those of a role ("monobasic", "dibasic") when named."""
    return tuple(row["salt"] for row in tables.load("molar-masses").rows if role in ("", row["role"]))


def salt_role(salt: str) -> str:
    """Which half of the buffer a salt is: "monobasic" or "dibasic".

    Raises
    ------
    ValueError
        If the formula is not known.
    """
    return str(_salt(salt)["role"])


def salt_g_mol(salt: str) -> float:
    """Molar mass of a salt with the water in its crystals. [g/mol]

    Raises
    ------
    ValueError
        If the formula is not known.
    """
    return float(_salt(salt)["g_mol"])


def anhydrous_g_mol(salt: str) -> float:
    """Molar mass of a salt without the water in its crystals. [g/mol]"""
    row = _salt(salt)
    return float(row["g_mol"]) - float(row["waters"]) * tables.load("molar-masses").value("water")


def _salt(salt: str) -> dict[str, Any]:
    for row in tables.load("molar-masses").rows:
        if row["salt"] == salt:
            return row
    raise ValueError(f"salt must be one of {', '.join(salts())}; {salt!r} was given")


def _pka2(t: Array) -> Array:
    table = tables.load("partanen-1996-phosphate")
    a, b, c = table.values["slope"]

    def form(kelvin: Array) -> Array:
        return np.asarray(a / kelvin + b + c * kelvin)

    return np.asarray(-np.log10(table.value("ka2")) + form(t + 273.15) - form(np.asarray(298.15)))


def _log_gamma(ionic: Array) -> Array:
    table = tables.load("partanen-1996-phosphate")
    root = np.sqrt(ionic)
    return np.asarray(-table.value("davies_a") * (root / (1.0 + root) - table.value("davies_linear") * ionic))


def buffer_ph(
    monobasic_mol_l: npt.ArrayLike,
    dibasic_mol_l: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    acid_mol_l: npt.ArrayLike = 0.0,
) -> Array:
    """
    pH of a phosphate buffer, corrected for the activity of its ions.

    Parameters
    ----------
    monobasic_mol_l, dibasic_mol_l : array_like
        Dihydrogen and hydrogen phosphate as weighed in. [mol/L]  0 to 1.
    temperature_c : array_like
        Temperature. [degrees C]  0 to 60.
    acid_mol_l : array_like
        Strong or nearly strong acid added since, such as the formic acid of old formalin. [mol/L]  Each mole turns one
        of dibasic into one of monobasic. All four broadcast together.

    Returns
    -------
    ndarray or float
        pH. [-]  The model's own error is about 0.01 to 0.02.

    Raises
    ------
    ValueError
        If the acid uses up the dibasic salt, no monobasic is there, the ionic strength passes 1 mol/L, or an argument
        lies outside.

    Notes
    -----
    pH = pKa2(T) + log10(dibasic/monobasic) + 3 log10 gamma1, the charges 1 and 2 making the factor 4 - 1;
    Davies: log10 gamma1 = -0.509 [sqrt(I)/(1 + sqrt(I)) - 0.3 I], I = monobasic + 3 dibasic - acid (the acid's own ion
    counted). Without the activity term the usual recipe would be said to have pH 7.4; it has 7.03.
    Formic acid counts as fully dissociated, which holds above pH 5.5. Below pH 6 the buffer is nearly spent.

    References
    ----------
    .. [1] Partanen & Minkkinen 1996, Acta Chem. Scand. 50:1081. (abstract read)

    Examples
    --------
    4.0 g NaH2PO4.H2O and 6.5 g Na2HPO4 per litre, 25 degrees C:

    >>> round(float(buffer_ph(4.0 / 137.99, 6.5 / 141.96, 25.0)), 2)
    7.03
    """
    mono = within("monobasic_mol_l", monobasic_mol_l, 0.0, 1.0, "mol/L")
    di = within("dibasic_mol_l", dibasic_mol_l, 0.0, 1.0, "mol/L")
    t = within("temperature_c", temperature_c, LOWEST_C, HIGHEST_C, "degrees C")
    acid = within("acid_mol_l", acid_mol_l, 0.0, 1.0, "mol/L")
    mono, di, t, acid = np.broadcast_arrays(mono, di, t, acid)
    spent = acid >= di
    if spent.any():
        raise ValueError(
            f"acid_mol_l must be below the dibasic salt's {first(di, spent):g} mol/L; {first(acid, spent):g} was given:"
            " the acid uses up the buffer"
        )
    none = mono + acid <= 0
    if none.any():
        raise ValueError("monobasic_mol_l must be above 0 when no acid is there; 0 was given")
    ionic = np.asarray(mono + 3.0 * di - acid)
    strong = ionic > HIGHEST_IONIC_STRENGTH
    if strong.any():
        raise ValueError(
            f"monobasic_mol_l and dibasic_mol_l must keep the ionic strength below {HIGHEST_IONIC_STRENGTH:g} mol/L;"
            f" {first(ionic, strong):.3g} was given"
        )
    return given(_pka2(t) + np.log10((di - acid) / (mono + acid)) + 3.0 * _log_gamma(ionic))  # type: ignore[no-any-return]


def acid_to_reach_ph(
    monobasic_mol_l: npt.ArrayLike, dibasic_mol_l: npt.ArrayLike, temperature_c: npt.ArrayLike, ph: npt.ArrayLike
) -> Array:
    """
    Acid that a buffer takes before it has fallen to a pH.

    Parameters
    ----------
    monobasic_mol_l, dibasic_mol_l : array_like
        As for ``buffer_ph``. [mol/L]
    temperature_c : array_like
        Temperature. [degrees C]
    ph : array_like
        The pH to which it may fall. [-]  5.5 to 9. All four broadcast together.

    Returns
    -------
    ndarray or float
        Acid. [mol/L]  0 where the fresh buffer is no higher than ``ph``.

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    floor = within("ph", ph, 5.5, 9.0, "", "below 5.5 the acid is no longer all dissociated")
    mono, di, t, floor = np.broadcast_arrays(
        np.asarray(monobasic_mol_l, dtype=float),
        np.asarray(dibasic_mol_l, dtype=float),
        np.asarray(temperature_c, dtype=float),
        floor,
    )
    fresh = np.asarray(buffer_ph(mono, di, t))
    low, high = np.zeros(mono.shape), np.asarray(di * (1.0 - 1e-9))
    for _ in range(60):
        middle = (low + high) / 2.0
        above = np.asarray(buffer_ph(mono, di, t, middle)) > floor
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    taken = np.where(fresh <= floor, 0.0, (low + high) / 2.0)
    return given(np.where(np.isnan(fresh) | np.isnan(floor), np.nan, taken))  # type: ignore[no-any-return]


def dibasic_to_lift_ph(
    monobasic_mol_l: npt.ArrayLike,
    dibasic_mol_l: npt.ArrayLike,
    temperature_c: npt.ArrayLike,
    acid_mol_l: npt.ArrayLike,
    ph: npt.ArrayLike,
) -> Array:
    """
    Dibasic salt that brings a buffer which has taken acid back to a pH.

    Parameters
    ----------
    monobasic_mol_l, dibasic_mol_l, temperature_c, acid_mol_l : array_like
        As for ``buffer_ph``.
    ph : array_like
        The pH wanted. [-]  5.5 to 9. All five broadcast together.

    Returns
    -------
    ndarray or float
        Salt to add. [mol/L]  0 where the pH is no lower already; NaN where 0.25 mol/L would not do.

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    wanted = within("ph", ph, 5.5, 9.0)
    mono, di, t, acid, wanted = np.broadcast_arrays(
        np.asarray(monobasic_mol_l, dtype=float),
        np.asarray(dibasic_mol_l, dtype=float),
        np.asarray(temperature_c, dtype=float),
        np.asarray(acid_mol_l, dtype=float),
        wanted,
    )
    now = np.asarray(buffer_ph(mono, di, t, acid))
    low, high = np.zeros(mono.shape), np.full(mono.shape, MOST_SALT_MOL_L)
    possible = np.asarray(buffer_ph(mono, di + high, t, acid)) >= wanted
    for _ in range(60):
        middle = (low + high) / 2.0
        below = np.asarray(buffer_ph(mono, di + middle, t, acid)) < wanted
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    added = np.where(now >= wanted, 0.0, (low + high) / 2.0)
    return given(np.where(possible & ~np.isnan(now), added, np.nan))  # type: ignore[no-any-return]


def split_for_ph(total_mol_l: npt.ArrayLike, ph: npt.ArrayLike, temperature_c: npt.ArrayLike) -> tuple[Array, Array]:
    """
    How a total of phosphate is shared between the two salts for a wanted pH.

    Parameters
    ----------
    total_mol_l : array_like
        Both salts together. [mol/L]  0.001 to 0.3.
    ph : array_like
        Wanted pH. [-]  5.8 to 8.2; a phosphate buffer holds little beyond.
    temperature_c : array_like
        Temperature at which it is wanted. [degrees C]  All three broadcast together.

    Returns
    -------
    pair of ndarray or float
        Monobasic and dibasic. [mol/L]

    Raises
    ------
    ValueError
        If an argument lies outside.
    """
    total = within("total_mol_l", total_mol_l, 0.001, 0.3, "mol/L")
    wanted = within("ph", ph, 5.8, 8.2, "", "a phosphate buffer holds little beyond")
    t = within("temperature_c", temperature_c, LOWEST_C, HIGHEST_C, "degrees C")
    total, wanted, t = np.broadcast_arrays(total, wanted, t)
    low, high = np.full(total.shape, 1e-6), np.full(total.shape, 1.0 - 1e-6)
    for _ in range(60):
        share = (low + high) / 2.0
        below = np.asarray(buffer_ph(total * (1.0 - share), total * share, t)) < wanted
        low, high = np.where(below, share, low), np.where(below, high, share)
    share = np.where(np.isnan(total + wanted + t), np.nan, (low + high) / 2.0)
    return given(np.asarray(total * (1.0 - share))), given(np.asarray(total * share))


def unbuffered_ph(formic_acid_mol_l: npt.ArrayLike) -> Array:
    """
    pH of formalin whose only acid is formic acid, with nothing to hold it.

    Parameters
    ----------
    formic_acid_mol_l : array_like
        Formic acid. [mol/L]  1e-6 to 1.

    Returns
    -------
    ndarray or float
        pH at 25 degrees C, activities left aside. [-]  Bottles read 2.5 to 4, their 1:9 dilutions 3.0 to 4.6.

    Raises
    ------
    ValueError
        If the amount lies outside.
    """
    acid = within("formic_acid_mol_l", formic_acid_mol_l, 1e-6, 1.0, "mol/L")
    ka = 10.0 ** -tables.load("formic-acid").value("pka")
    return given(-np.log10((-ka + np.sqrt(ka**2 + 4.0 * ka * acid)) / 2.0))  # type: ignore[no-any-return]
