"""The body of a reptile or amphibian as a solid of revolution along its axis, from the snout to the tip of the tail.

``body_of`` builds it from what was measured; ``mass_from_length`` and ``mass_from_girth`` stand in for a missing mass.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.science.mass import (
    Z_90,
    MassEstimate,
    above_zero,
    mass_from_length,
    mass_line,
)
from keepfast.science.ranges import within
from keepfast.science.tables import load

__all__ = [
    "Body",
    "MassEstimate",
    "body_of",
    "clutch_mass_g",
    "default_tail_mm",
    "girth_from_mass",
    "length_from_mass_mm",
    "mass_from_girth",
    "mass_from_length",
    "profile_surface_cm2",
    "profile_volume_ml",
    "surface_from_mass_cm2",
    "volume_from_length_ml",
]

Array = npt.NDArray[np.float64]

TRUNK_POINTS = 121
TAIL_POINTS = 41


@dataclass(frozen=True)
class Body:
    """A body's outline. Trunk from the snout to the vent, tail from the vent to its tip.

    ``axis_mm`` and ``radius_mm`` have the same length n and run from the snout to the tip of the tail;
    ``cavity_radius_mm`` (n) is zero outside the body cavity, which lies between ``cavity_start_mm`` and
    ``cavity_end_mm``. Volumes in mL, surface in cm2. Of an egg clutch or a lot of larvae the outline is that of one;
    volumes, surface and mass are of all ``count`` of them.
    """

    form: str
    length_mm: float
    tail_mm: float
    diameter_mm: float
    axis_mm: Array
    radius_mm: Array
    cavity_radius_mm: Array
    cavity_start_mm: float
    cavity_end_mm: float
    volume_ml: float
    wall_volume_ml: float
    cavity_volume_ml: float
    surface_cm2: float
    mass_g: float
    limb_lengths_mm: tuple[float, ...]  # fore and hind; empty for the limbless
    limb_radius_mm: float  # of a limb as a cylinder; 0 for the limbless
    head_width_mm: float
    count: int
    measured: frozenset[str]  # which of length_mm, mass_g, diameter_mm, tail_mm, head_width_mm were measured

    def radius_at(self, at_mm: npt.ArrayLike) -> float | Array:
        """Radius at a place along the axis. [mm]"""
        value = np.interp(np.asarray(at_mm, dtype=float), self.axis_mm, self.radius_mm)
        return float(value) if np.ndim(at_mm) == 0 else value


@cache
def shape(form: str) -> dict[str, Any]:
    """The assumed outline of a form.

    Raises
    ------
    ValueError
        If the form is not known.
    """
    table = load("keepfast-2026-body-shapes")
    found = [row for row in table.rows if row["form"] == form]
    if not found:
        raise ValueError(f"form must be one of {', '.join(r['form'] for r in table.rows)}; {form!r} was given")
    return found[0]


@cache
def _outline(form: str) -> tuple[Array, Array, float]:
    """Places and radii of the trunk as shares, and the integral of radius squared (1 for a cylinder)."""
    if form == "egg_clutch":
        place = 0.5 - 0.5 * np.cos(np.linspace(0, np.pi, TRUNK_POINTS))
        return place, 2 * np.sqrt(np.maximum(place * (1 - place), 0.0)), 2.0 / 3.0
    steps = np.array(shape(form)["outline"])
    # A set and not np.unique, which draws in masked arrays: 20 ms of every command that looks at a body.
    place = np.array(sorted({*np.linspace(0, 1, TRUNK_POINTS).tolist(), *steps[:, 0].tolist()}))
    # A monotone cubic keeps the steps and draws a calm line between them.
    radius = _monotone(steps[:, 0], steps[:, 1], place)
    left, right = radius[:-1], radius[1:]
    return place, radius, float(np.sum(np.diff(place) * (left**2 + left * right + right**2) / 3))


def _monotone(x: Array, y: Array, at: Array) -> Array:
    """Monotone cubic interpolation (Fritsch and Carlson 1980, SIAM J Numer Anal 17:238); from memory, unverified.

    Written out because the library that has it takes longer to load than the whole plan to make.
    """
    step, rise = np.diff(x), np.diff(y)
    secant = rise / step
    slope = np.zeros_like(y)
    same = secant[:-1] * secant[1:] > 0
    weight_left, weight_right = 2 * step[1:] + step[:-1], step[1:] + 2 * step[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        harmonic = (weight_left + weight_right) / (weight_left / secant[:-1] + weight_right / secant[1:])
    slope[1:-1] = np.where(same, harmonic, 0.0)
    slope[0], slope[-1] = secant[0], secant[-1]
    cell = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(step) - 1)
    h = step[cell]
    t = (at - x[cell]) / h
    return np.asarray(
        y[cell] * (1 + 2 * t) * (1 - t) ** 2
        + h * slope[cell] * t * (1 - t) ** 2
        + y[cell + 1] * t**2 * (3 - 2 * t)
        + h * slope[cell + 1] * t**2 * (t - 1)
    )


def profile_volume_ml(axis_mm: npt.ArrayLike, radius_mm: npt.ArrayLike) -> float:
    """Volume of a solid of revolution as a chain of frustums (exact for cylinder and cone).

    Raises
    ------
    ValueError
        If the arrays differ in length, a radius is negative, or the axis does not run forward.
    """
    axis, radius = _profile(axis_mm, radius_mm)
    left, right = radius[:-1], radius[1:]
    return float(np.pi / 3 * np.sum(np.diff(axis) * (left**2 + left * right + right**2)) / 1000)


def profile_surface_cm2(axis_mm: npt.ArrayLike, radius_mm: npt.ArrayLike, *, ends: bool = True) -> float:
    """Surface of a solid of revolution as a chain of frustums, with its flat ends unless told otherwise.

    Raises
    ------
    ValueError
        As :func:`profile_volume_ml`.
    """
    axis, radius = _profile(axis_mm, radius_mm)
    slant = np.hypot(np.diff(axis), np.diff(radius))
    side = np.pi * np.sum((radius[:-1] + radius[1:]) * slant)
    caps = np.pi * (radius[0] ** 2 + radius[-1] ** 2) if ends else 0.0
    return float((side + caps) / 100)


def _profile(axis_mm: npt.ArrayLike, radius_mm: npt.ArrayLike) -> tuple[Array, Array]:
    axis, radius = np.asarray(axis_mm, dtype=float), np.asarray(radius_mm, dtype=float)
    if axis.ndim != 1 or axis.shape != radius.shape or axis.size < 2:
        raise ValueError(
            f"axis_mm and radius_mm must be lists of one length, 2 or more; {axis.shape} and {radius.shape} were given"
        )
    if np.any(np.diff(axis) < 0):
        raise ValueError("axis_mm must run forward from the snout")
    if np.any(radius < 0):
        raise ValueError(f"radius_mm must be 0 or more; {float(radius.min())} was given")
    return axis, radius


def _volume_per_radius(form: str, length_mm: npt.ArrayLike, tail_mm: npt.ArrayLike) -> Array:
    """Volume of trunk and tail over the square of the largest radius. [mm]"""
    outline = _outline(form)[2]
    tail_base = shape(form)["tail_base"]
    return np.asarray(np.pi * (np.asarray(length_mm) * outline + np.asarray(tail_mm) * tail_base**2 / 3))


def default_tail_mm(form: str, length_mm: npt.ArrayLike) -> float | Array:
    """The tail of a typical animal of this form, where nobody measured it (an assumption of the table). [mm]

    Raises
    ------
    ValueError
        If the length is not above 0, or the form is not known.
    """
    value = above_zero("length_mm", length_mm) * shape(form)["tail_default"]
    return float(value) if value.ndim == 0 else value


def _tail(form: str, length_mm: Array, tail_mm: npt.ArrayLike | None) -> Array:
    """The tail as measured, 0 for none, or the typical one where it was not."""
    if tail_mm is None:
        return np.asarray(default_tail_mm(form, length_mm), dtype=float)
    return within("tail_mm", tail_mm, 0.0, 1e5, "mm")


def girth_from_mass(
    form: str, length_mm: npt.ArrayLike, mass_g: npt.ArrayLike, tail_mm: npt.ArrayLike | None = None
) -> float | Array:
    """Largest trunk diameter of an animal of this length and mass. [mm]

    Trunk, tail and limbs together have the volume mass / density; the outline is the form's.

    Raises
    ------
    ValueError
        If length or mass is not above 0, the tail is below 0, or the form is not known.
    """
    length, mass = above_zero("length_mm", length_mm), above_zero("mass_g", mass_g)
    tail = _tail(form, length, tail_mm)
    row = shape(form)
    volume = mass / row["density_g_ml"] * 1000 * (1 - row["limb_share"])
    diameter = 2 * np.sqrt(volume / _volume_per_radius(form, length, tail))
    return float(diameter) if diameter.ndim == 0 else diameter


def mass_from_girth(
    form: str, length_mm: npt.ArrayLike, diameter_mm: npt.ArrayLike, tail_mm: npt.ArrayLike | None = None
) -> MassEstimate:
    """Mass from length and a callipered trunk diameter, by the form's outline, with its 90 % interval. [g]

    The interval is an assumption (0.1 in log10): the outline differs between species and with the animal's state.

    Raises
    ------
    ValueError
        As :func:`girth_from_mass`.
    """
    length, diameter = above_zero("length_mm", length_mm), above_zero("diameter_mm", diameter_mm)
    tail = _tail(form, length, tail_mm)
    row = shape(form)
    volume = _volume_per_radius(form, length, tail) * (diameter / 2) ** 2
    median = volume / 1000 * row["density_g_ml"] / (1 - row["limb_share"])
    factor = 10 ** (Z_90 * load("keepfast-2026-mass-doubt").value("girth_residual_sd_log10"))
    if median.ndim == 0:
        return MassEstimate(float(median), float(median / factor), float(median * factor))
    return MassEstimate(median, median / factor, median * factor)


def body_of(
    form: str,
    length_mm: float,
    mass_g: float,
    *,
    diameter_mm: float | None = None,
    tail_mm: float | None = None,
    head_width_mm: float | None = None,
    count: int = 1,
    measured: frozenset[str] = frozenset(),
) -> Body:
    """The outline of one animal.

    Parameters
    ----------
    form : str
        Body form, as in lists.
    length_mm : float
        Snout to vent; turtle: straight carapace; larva: total; egg clutch: egg diameter. [mm]
    mass_g : float
        Mass of the whole animal (of the whole clutch or lot). [g]
    diameter_mm, tail_mm, head_width_mm : float, optional
        What the callipers read; otherwise taken from mass and from the form's outline. A tail may be 0. [mm]
    count : int
        Eggs in a clutch, larvae in a lot.
    measured : frozenset of str
        Which of the above were measured, for drawing the rest dashed.

    Raises
    ------
    ValueError
        If a measure is not one finite number above 0, a tail below 0, count below 1, or the form is not known.
    """
    row = shape(form)
    for name, value in (
        ("length_mm", length_mm),
        ("mass_g", mass_g),
        ("diameter_mm", diameter_mm),
        ("head_width_mm", head_width_mm),
        ("count", count),
    ):
        if value is not None and (np.ndim(value) or not np.isfinite(above_zero(name, value))):
            raise ValueError(f"{name} must be one finite number above 0; {value!r} was given")
    if form == "egg_clutch":
        diameter = float(length_mm)
        tail = 0.0
    else:
        tail = float(_tail(form, np.asarray(length_mm, dtype=float), tail_mm))
        one_g = mass_g / count
        diameter = float(girth_from_mass(form, length_mm, one_g, tail)) if diameter_mm is None else float(diameter_mm)
    place, share, _ = _outline(form)
    axis, radius = place * length_mm, share * diameter / 2
    head_end = row["head"]
    if head_width_mm is not None and head_end > 0:
        widest = float(radius[place <= head_end].max())
        # Only the head is stretched; the neck blends back into the trunk over half a head's length.
        blend = np.clip((1.5 * head_end - place) / (0.5 * head_end), 0.0, 1.0)
        radius = radius * (1 + blend * (head_width_mm / 2 / widest - 1))
    trunk_end = axis.size
    if tail > 0 and row["tail_base"] > 0:
        tail_axis = np.linspace(length_mm, length_mm + tail, TAIL_POINTS)
        base = row["tail_base"] * diameter / 2
        axis = np.concatenate([axis, tail_axis])
        radius = np.concatenate([radius, base * (1 - np.linspace(0, 1, TAIL_POINTS))])
    start, end = (share * length_mm for share in row["cavity"])
    inside = (axis >= start) & (axis <= end) & (np.arange(axis.size) < trunk_end)
    cavity_share = load("keepfast-2026-body-shapes").value("cavity_radius_share")
    cavity = np.where(inside, radius * cavity_share, 0.0)
    volume = mass_g / row["density_g_ml"]
    limbs = tuple(share * length_mm for share in row["limb_lengths"])
    surface = profile_surface_cm2(axis, radius, ends=False)
    limb_radius = 0.0
    if limbs:
        # From the mass, not from what trunk and tail leave over: callipers and scales need not agree.
        limb_volume_mm3 = row["limb_share"] * volume * 1000
        limb_radius = float(np.sqrt(limb_volume_mm3 / (np.pi * 2 * sum(limbs))))
        surface += 2 * np.pi * limb_radius * 2 * sum(limbs) / 100
    cavity_volume = count * profile_volume_ml(axis[inside], cavity[inside]) if inside.sum() > 1 else 0.0
    surface *= count
    head_part = axis <= max(head_end, 0.0) * length_mm
    return Body(
        form=form,
        length_mm=float(length_mm),
        tail_mm=tail if row["tail_base"] > 0 else 0.0,
        diameter_mm=diameter,
        axis_mm=axis,
        radius_mm=radius,
        cavity_radius_mm=cavity,
        cavity_start_mm=start,
        cavity_end_mm=end,
        volume_ml=volume,
        wall_volume_ml=max(volume - cavity_volume, 0.0),
        cavity_volume_ml=cavity_volume,
        surface_cm2=surface,
        mass_g=float(mass_g),
        limb_lengths_mm=limbs,
        limb_radius_mm=limb_radius,
        head_width_mm=head_width_mm if head_width_mm is not None else 2 * float(radius[head_part].max()),
        count=count,
        measured=measured,
    )


def clutch_mass_g(egg_diameter_mm: npt.ArrayLike, count: npt.ArrayLike) -> float | Array:
    """Mass of a clutch as spheres of density 1. [g]

    Raises
    ------
    ValueError
        If diameter or count is not above 0.
    """
    diameter, number = above_zero("egg_diameter_mm", egg_diameter_mm), above_zero("count", count)
    value = np.pi / 6 * diameter**3 / 1000 * number * shape("egg_clutch")["density_g_ml"]
    return float(value) if np.ndim(value) == 0 else value


def length_from_mass_mm(form: str, mass_g: npt.ArrayLike, group: str | None = None, count: int = 1) -> float | Array:
    """The typical length of an animal of this mass, where nobody measured it. [mm]

    The published mass relation turned round; where there is none, the form's assumed slenderness.

    Raises
    ------
    ValueError
        If mass or count is not above 0, or group has no published relation.
    """
    mass = above_zero("mass_g", mass_g) / above_zero("count", count)
    if form == "egg_clutch":
        value = (mass * 1000 * 6 / np.pi) ** (1 / 3)
    elif "slenderness" in shape(form):
        row = shape(form)
        per_cube = _volume_per_radius(form, 1.0, row["tail_default"]) * (row["slenderness"] / 2) ** 2
        value = (mass / row["density_g_ml"] * 1000 * (1 - row["limb_share"]) / per_cube) ** (1 / 3)
    else:
        line = mass_line(form, group)
        value = 10 ** ((np.log10(mass) - line.intercept) / line.slope)
    return float(value) if np.ndim(value) == 0 else np.asarray(value)


def volume_from_length_ml(form: str, length_mm: npt.ArrayLike) -> float | Array:
    """Volume from length as published for lizards and frogs (Norris 1965, Tracy 1972; stout animals). [mL]

    Raises
    ------
    ValueError
        If the length is not above 0, or no relation was published for the form.
    """
    row = _norris_tracy(form, "length_divisor")
    value = (above_zero("length_mm", length_mm) / 10 / row["length_divisor"]) ** 3
    return float(value) if value.ndim == 0 else value


def surface_from_mass_cm2(form: str, mass_g: npt.ArrayLike) -> float | Array:
    """Surface from mass as published for lizards, frogs and salamanders (Norris 1965, Tracy 1972). [cm2]

    Raises
    ------
    ValueError
        If the mass is not above 0, or no relation was published for the form.
    """
    row = _norris_tracy(form, "surface_coefficient")
    value = row["surface_coefficient"] * above_zero("mass_g", mass_g) ** row["surface_exponent"] * 1e4
    return float(value) if value.ndim == 0 else value


def _norris_tracy(form: str, needed: str) -> dict[str, Any]:
    rows = [r for r in load("norris-1965-tracy-1972-volume-surface").rows if needed in r]
    found = [r for r in rows if r["form"] == form]
    if not found:
        raise ValueError(f"form must be one of {', '.join(r['form'] for r in rows)}; {form!r} was given")
    return found[0]
