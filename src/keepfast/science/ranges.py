"""Limits of what a formula may be asked, refused in one line with the name, the limits and the value."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]


def within(name: str, value: npt.ArrayLike, low: float, high: float, unit: str = "", slip: str = "") -> Array:
    """The value as an array of floats, when every element lies from low to high; NaN passes through.

    Parameters
    ----------
    name : str
        The argument's name, for the message.
    value : array_like
        What was given.
    low, high : float
        Limits, both allowed.
    unit : str
        Shown behind the limits.
    slip : str
        What a value outside probably means; ends the message.

    Raises
    ------
    ValueError
        If an element lies outside; the message has the name, the limits and the first such value.
    """
    array = np.asarray(value, dtype=float)
    outside = (array < low) | (array > high)
    if outside.any():
        raise ValueError(refusal(name, first(array, outside), low, high, unit, slip))
    return array


def first(array: npt.ArrayLike, chosen: npt.ArrayLike) -> float:
    """The first element where ``chosen`` is true."""
    wide, where = np.broadcast_arrays(np.asarray(array, dtype=float), np.asarray(chosen))
    return float(wide.ravel()[int(np.argmax(where.ravel()))])


def refusal(name: str, value: float, low: float, high: float, unit: str = "", slip: str = "") -> str:
    """The one line that every function of this room uses to refuse a number."""
    tail = f": {slip}" if slip else ""
    return f"{name} must be from {low:.6g} to {high:.6g}{' ' + unit if unit else ''}; {value:.6g} was given{tail}"


def given(result: Array) -> Any:
    """A float for a single value, else the array: what came in as floats leaves as a float."""
    return result[()] if isinstance(result, np.ndarray) else result
