"""How fast a dead body spoils: growth of gut bacteria and the clock of its own enzymes.

Nothing here was measured on reptiles or amphibians: growth comes from food, the clocks from a proposal that says so.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.science.ranges import within
from keepfast.science.tables import load as load_table

Array = npt.NDArray[np.float64]
ArrayLike = npt.ArrayLike

GROWTH_TABLE = "rakip-growth-models"
CLOCK_TABLE = "keepfast-2026-decay-clocks"
CLOCKS = ("gut", "autolysis")
TEMPERATURE_LIMITS_C = (-30.0, 70.0)
HOURS_LIMITS = (0.0, 100_000.0)


def organisms() -> tuple[str, ...]:
    """Names that ``growth_rate`` knows."""
    return tuple(str(row["organism"]) for row in load_table(GROWTH_TABLE).rows)


def _out(array: Array) -> Any:
    return float(array) if array.ndim == 0 else array


def growth_rate(organism: str, temperature_c: ArrayLike) -> Any:
    """
    Specific growth rate of a bacterium, by its published square-root model.

    Parameters
    ----------
    organism : {'clostridium_perfringens', 'escherichia_coli', 'pseudomonas_chicken'}
        Which model: cooked cured pork, broth, chicken breast.
    temperature_c : array_like
        [degrees C]  Valid -30 to 70.

    Returns
    -------
    ndarray or float
        mu; 0 outside the model's own Tmin to Tmax. [1/h]

    Raises
    ------
    ValueError
        If the organism is unknown or the temperature outside its limits.

    Notes
    -----
    C. perfringens: mu = 0.00243 (T - 13.5)^2 (1 - exp(0.41 (T - 50.6))).
    E. coli: mu = [0.0501 (T - 7.75) (1 - exp(0.435 (T - 47.4)))]^2.
    Pseudomonas: mu = [0.024 (T + 6.2)]^2, fitted at 4 to 15 degrees C, without an upper end: elsewhere extrapolated.
    Growth without lag, in rich media: an upper limit for a gut. Natural logarithm and hours are assumed.

    References
    ----------
    .. [1] Ratkowsky et al. 1983, Journal of Bacteriology 154:1222 (form). (not read: taken from [2])
    .. [2] RakipInitiative/ModelRepository, models 269, 283, 1320 (parameters). (read)
    """
    if organism not in organisms():
        raise ValueError(f"organism must be one of {', '.join(organisms())}; {organism!r} was given")
    row = load_table(GROWTH_TABLE).row(organism=organism)
    warm = within("temperature_c", temperature_c, *TEMPERATURE_LIMITS_C)
    above = warm - row["t_min_c"]
    inside = above > 0
    top = np.ones_like(warm)
    if "t_max_c" in row:
        top = -np.expm1(np.minimum(row["c"] * (warm - row["t_max_c"]), 0.0))
        inside &= warm < row["t_max_c"]
    once = row["form"] == "last factor once"
    rate = row["b_squared"] * above**2 * top if once else (row["b"] * above * top) ** 2
    return _out(np.asarray(np.where(np.isnan(warm), np.nan, np.where(inside, rate, 0.0))))


def is_extrapolated(organism: str, temperature_c: ArrayLike) -> Any:
    """
    Whether a growth rate is asked for outside the temperatures that its model states it was fitted at.

    Returns
    -------
    ndarray or bool
        True outside; False where the model states no range.

    Raises
    ------
    ValueError
        As ``growth_rate``.
    """
    if organism not in organisms():
        raise ValueError(f"organism must be one of {', '.join(organisms())}; {organism!r} was given")
    row = load_table(GROWTH_TABLE).row(organism=organism)
    warm = within("temperature_c", temperature_c, *TEMPERATURE_LIMITS_C)
    outside = np.zeros(warm.shape, dtype=bool)
    if "fitted_from_c" in row:
        outside = (warm < row["fitted_from_c"]) | (warm > row["fitted_to_c"])
    return bool(outside) if outside.ndim == 0 else outside


def doubling_time_h(organism: str, temperature_c: ArrayLike) -> Any:
    """
    Hours in which the number of bacteria doubles, ln 2 over ``growth_rate``; infinite where nothing grows.

    Raises
    ------
    ValueError
        As ``growth_rate``.
    """
    rate = np.asarray(growth_rate(organism, temperature_c), dtype=float)
    with np.errstate(divide="ignore"):
        return _out(np.asarray(np.log(2.0) / rate))


def relative_rate(temperature_c: ArrayLike, clock: str) -> Any:
    """
    How fast a clock of decay runs, as a multiple of its rate at 20 degrees C.

    Parameters
    ----------
    temperature_c : array_like
        [degrees C]  Valid -30 to 70.
    clock : {'gut', 'autolysis'}
        Gut bacteria, ((T - 8) / 12)^2 above 8 degrees C and 0 below; or the body's own enzymes, 2^((T - 20) / 10).

    Returns
    -------
    ndarray or float
        [-]

    Raises
    ------
    ValueError
        If the clock is unknown or the temperature outside its limits.

    Notes
    -----
    Both are assumptions (table ``keepfast-2026-decay-clocks``). The gut clock has no upper end: above 45 degrees C
    it is too fast, and nothing should be kept there anyway.
    """
    if clock not in CLOCKS:
        raise ValueError(f"clock must be one of {', '.join(CLOCKS)}; {clock!r} was given")
    table = load_table(CLOCK_TABLE)
    warm = within("temperature_c", temperature_c, *TEMPERATURE_LIMITS_C)
    base = table.value("reference_c")
    if clock == "gut":
        floor = table.value("gut_t_min_c")
        return _out(np.asarray((np.maximum(warm - floor, 0.0) / (base - floor)) ** 2))
    return _out(np.asarray(table.value("autolysis_q10") ** ((warm - base) / 10.0)))


def load(hours: ArrayLike, temperature_c: ArrayLike, clock: str) -> Any:
    """
    Decay that has run, as the hours at 20 degrees C that would have done the same.

    Parameters
    ----------
    hours : array_like
        Spent at each temperature; broadcasts with it, elementwise. [h]  Valid 0 to 100 000.
    temperature_c : array_like
        [degrees C]  Valid -30 to 70.
    clock : {'gut', 'autolysis'}
        As in ``relative_rate``.

    Returns
    -------
    ndarray or float
        hours times relative rate; the pieces of a varying day add up. [h at 20 degrees C]

    Raises
    ------
    ValueError
        If an argument is outside its limits or the clock unknown.
    """
    return _out(np.asarray(within("hours", hours, *HOURS_LIMITS) * relative_rate(temperature_c, clock)))
