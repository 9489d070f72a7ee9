"""Mass from length by published relations, with an interval that spans the known doubt, and the slips that it finds."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.ranges import first
from keepfast.science.tables import load

Array = npt.NDArray[np.float64]

Z_90 = 1.6448536269514722  # 95 % point of the normal distribution
NATURAL_PER_DECADE = 2.302585092994046

# The relation that answers when no group is named; the first is preferred, the others are kept for comparison.
RELATIONS = {
    "lizard": ("meiri-2010-lizard-mass",),
    "frog": ("santini-2018-frog-mass", "pough-1980-mass"),
    "salamander": ("pough-1980-mass",),
    "snake": ("pough-1980-mass",),
    "turtle": ("pough-1980-mass",),
    "legless_lizard": ("feldman-2016-lizard-group-mass",),
    "amphisbaenian": ("feldman-2016-lizard-group-mass",),
}
_USUAL_GROUP = {"legless_lizard": "limbless lizards", "amphisbaenian": "Amphisbaenidae"}
# A body that grows in all directions has a slope near 3; lines far below rest on few data (their source says so).
LEAST_SLOPE = 2.0
_GROUPED_FORMS = ("lizard", "legless_lizard", "amphisbaenian")


class MassEstimate(NamedTuple):
    """Median with the 5 and 95 % points, in g."""

    median: float | Array
    low: float | Array
    high: float | Array


class MassLine(NamedTuple):
    """log10(mass_g) = intercept + slope * log10(length_mm), and how far real animals may lie to either side."""

    intercept: float
    slope: float
    sd_below_log10: float
    sd_above_log10: float
    source: str
    known: str


class Slip(NamedTuple):
    """The likeliest slip of the pen behind a mass and a length that do not fit."""

    factor: float  # mass over the median for this length
    kind: str  # mass_tenfold, mass_tenth, length_cm_for_mm, length_tenfold, swapped, unexplained


@cache
def groups() -> tuple[str, ...]:
    """The lizard groups with a relation of their own, spelled as in their source."""
    return tuple(row["group"] for row in load("feldman-2016-lizard-group-mass").rows)


def _groups_of(form: str) -> tuple[str, ...]:
    named = [row["group"] for name in RELATIONS.get(form, ()) for row in load(name).rows if row["form"] == form]
    return tuple(dict.fromkeys([*named, *(groups() if form in _GROUPED_FORMS else ())]))


@cache
def mass_line(form: str, group: str | None = None) -> MassLine:
    """The published relation for a form or a lizard group.

    Raises
    ------
    ValueError
        If no relation was published for this form or group (crocodilian, caecilian, larva, egg_clutch).
    """
    if group is not None and form in _GROUPED_FORMS and group in groups():
        table = load("feldman-2016-lizard-group-mass")
        row = table.row(group=group)
    elif group is not None:
        named = [
            (load(name), row)
            for name in RELATIONS.get(form, ())
            for row in load(name).rows
            if row["group"] == group and row["form"] == form
        ]
        if not named:
            raise ValueError(
                f"group has no published mass relation for form {form!r}; {group!r} was given,"
                f" one of: {', '.join(_groups_of(form)) or 'none'}"
            )
        table, row = named[0]
    elif form in _USUAL_GROUP:
        table = load("feldman-2016-lizard-group-mass")
        row = table.row(group=_USUAL_GROUP[form])
    elif form in RELATIONS:
        table = load(RELATIONS[form][0])
        row = table.row(form=form)
    else:
        raise ValueError(f"form has no published mass relation; {form!r} was given, one of: {', '.join(RELATIONS)}")
    doubt = load("keepfast-2026-mass-doubt")
    spread = doubt.value("residual_sd_log10" if row["slope"] >= LEAST_SLOPE else "few_data_sd_log10")
    bias = next((r for r in doubt.rows if r["form"] == form), {"lighter_factor": 1.0, "heavier_factor": 1.0})
    # The interval must reach past the bias that is known on that side, so the bias is added to its 5 % point.
    return MassLine(
        row["intercept"],
        row["slope"],
        spread + np.log10(bias["lighter_factor"]) / Z_90,
        spread + np.log10(bias["heavier_factor"]) / Z_90,
        table.source,
        table.known,
    )


def above_zero(name: str, value: npt.ArrayLike) -> Array:
    """The value as an array of floats, when every element is a finite number above 0; NaN passes through.

    Raises
    ------
    ValueError
        If it is not; the message has the name and the first such value.
    """
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise ValueError(f"{name} must be a finite number above 0; {value!r} was given") from None
    outside = (array <= 0) | np.isinf(array)
    if outside.any():
        raise ValueError(f"{name} must be a finite number above 0; {first(array, outside)!r} was given")
    return array


def _like(value: Array, scalar: bool) -> float | Array:
    return float(value) if scalar else value


def mass_from_length(form: str, length_mm: npt.ArrayLike, group: str | None = None) -> MassEstimate:
    """Mass from length with its 90 % interval.

    Parameters
    ----------
    form : str
        Body form, as in lists (``lizard``, ``snake``, ...).
    length_mm : float or array
        Snout to vent (turtle: straight carapace). [mm]
    group : str, optional
        A lizard group of Feldman and others 2016, spelled as there (``Lacertidae``, ``Legged Scincidae``, ...), or
        a line of the form by its name (``lizards, all``; ``terrestrial anurans`` or, for Pough's, ``frogs``).

    Returns
    -------
    MassEstimate
        ``median, low, high`` of the shape of ``length_mm``; low and high are the 5 and 95 % points. [g]

    Raises
    ------
    ValueError
        If ``length_mm`` is not above 0, or form or group has no published relation.

    Notes
    -----
    ``log10 median = intercept + slope log10 length_mm``. None of the relations came with its residual spread, so 0.2
    in log10 is taken (an assumption), and 0.4 for the two lizard groups whose slope lies under 2 because few animals
    stand behind them (Pygopodidae, Crotaphytidae). Snakes: real slender snakes are five to eight times lighter than the
    line, so the lower bound lies a further factor of eight below; salamanders: real ones may be twice as heavy, so the
    upper bound lies a further factor of 2.13 above. A weighed mass always wins.

    References
    ----------
    .. [1] Meiri 2010, J Zool 281:218 (lizards; read at second hand)
    .. [2] Santini and others 2018, Integr Zool 13:36 (frogs; read at second hand)
    .. [3] Pough 1980, Am Nat 115:92 (salamanders, snakes, turtles; read at second hand)
    .. [4] Feldman and others 2016, by way of Meiri 2018, GEB 27:1004 (lizard groups; read at second hand)

    Examples
    --------
    >>> round(mass_from_length("lizard", 70.0).median, 1)
    5.3
    """
    line = mass_line(form, group)
    length = above_zero("length_mm", length_mm)
    log_median = line.intercept + line.slope * np.log10(length)
    scalar = length.ndim == 0
    return MassEstimate(
        _like(10**log_median, scalar),
        _like(10 ** (log_median - Z_90 * line.sd_below_log10), scalar),
        _like(10 ** (log_median + Z_90 * line.sd_above_log10), scalar),
    )


def mass_score(form: str, length_mm: npt.ArrayLike, mass_g: npt.ArrayLike, group: str | None = None) -> float | Array:
    """How many standard deviations a mass lies above (+) or below (-) the median for its length."""
    line = mass_line(form, group)
    length = above_zero("length_mm", length_mm)
    mass = above_zero("mass_g", mass_g)
    residual = np.log10(mass) - line.intercept - line.slope * np.log10(length)
    score = np.where(residual < 0, residual / line.sd_below_log10, residual / line.sd_above_log10)
    return _like(score, score.ndim == 0)


def likely_slip(
    form: str, length_mm: float, mass_g: float, group: str | None = None, *, limit_sd: float = 3.0
) -> Slip | None:
    """The likeliest slip behind a mass and length that do not fit, or None where they fit.

    The corrections tried are those of the pen: the decimal place of the mass, centimetres written for millimetres, a
    nought too many, mass and length swapped. The one that brings the pair nearest to the published median is named.

    Raises
    ------
    ValueError
        As :func:`mass_from_length`.
    """
    score = float(mass_score(form, length_mm, mass_g, group))
    if not abs(score) > limit_sd:
        return None
    factor = mass_g / float(mass_from_length(form, length_mm, group).median)
    tried = {
        "mass_tenfold": (length_mm, mass_g / 10),
        "mass_tenth": (length_mm, mass_g * 10),
        "length_cm_for_mm": (length_mm * 10, mass_g),
        "length_tenfold": (length_mm / 10, mass_g),
        "swapped": (mass_g, length_mm),
    }
    scores = {kind: abs(float(mass_score(form, length, mass, group))) for kind, (length, mass) in tried.items()}
    best = min(scores, key=lambda kind: scores[kind])
    return Slip(factor, best if scores[best] <= limit_sd / 2 else "unexplained")


class Trend(NamedTuple):
    """A sample's own robust length-mass line: log10(mass_g) = intercept + slope log10(length_mm), scatter in log10."""

    intercept: float
    slope: float
    sd_log10: float
    n: int


def robust_trend(length_mm: npt.ArrayLike, mass_g: npt.ArrayLike) -> Trend:
    """The sample's own line, by reweighted least squares that gross slips cannot pull (Huber, then Tukey weights).

    Raises
    ------
    ValueError
        If fewer than ten pairs are given, or any is not above 0.

    References
    ----------
    .. [1] Huber 1964, Annals of Mathematical Statistics 35:73; Beaton and Tukey 1974, Technometrics 16:147 (tuning
       constants 1.345 and 4.685 for 95 % efficiency; from memory, unverified)
    """
    length = above_zero("length_mm", length_mm)
    mass = above_zero("mass_g", mass_g)
    known = ~(np.isnan(length) | np.isnan(mass))
    x, y = np.log10(length[known]), np.log10(mass[known])
    if x.size < 10:
        raise ValueError(f"length_mm and mass_g must hold at least 10 pairs; {x.size} were given")
    centre = float(np.median(x))
    design = np.column_stack([np.ones_like(x), x - centre])
    weight = np.ones_like(x)
    scale = 1.0
    for turn in range(50):
        root = np.sqrt(weight)[:, None]
        solution = np.linalg.lstsq(design * root, y * root[:, 0], rcond=None)[0]
        residual = y - design @ solution
        scale = max(float(np.median(np.abs(residual))) * 1.4826, 1e-6)  # 1.4826: MAD to SD of a normal distribution
        ratio = np.abs(residual) / scale
        if turn < 10:
            weight = np.minimum(1.0, 1.345 / np.maximum(ratio, 1e-12))
        else:
            weight = np.where(ratio < 4.685, (1 - (ratio / 4.685) ** 2) ** 2, 0.0)
    return Trend(float(solution[0] - solution[1] * centre), float(solution[1]), scale, int(x.size))


def off_trend(
    trend: Trend, length_mm: npt.ArrayLike, mass_g: npt.ArrayLike, *, least_factor: float = 3.0, limit_sd: float = 4.0
) -> Array:
    """Which pairs lie off a sample's own trend, by more than ``least_factor`` and ``limit_sd`` times its scatter."""
    length, mass = np.asarray(length_mm, dtype=float), np.asarray(mass_g, dtype=float)
    residual = np.abs(np.log10(mass) - trend.intercept - trend.slope * np.log10(length))
    return np.asarray(residual > max(np.log10(least_factor), limit_sd * trend.sd_log10))
