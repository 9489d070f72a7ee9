"""Outlines of bodies as points: a profile along its axis, limbs that show their place, and the poses of the trays.

Natural size in mm; head to the left, seen from below, so that the animal's left side is up.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from keepfast.paper.page import Point
from keepfast.science.body import Body

Array = npt.NDArray[np.float64]

# How a drawn limb is folded, part by part: degrees from straight out, towards the tail counted positive. Only the
# place of a limb is meant and the card says so; lengths and thickness come from the body.
# common practice, no published source
_FOLDS: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "lizard": ((50.0, -68.0), (-55.0, 68.0)),
    "salamander": ((35.0, -50.0), (-35.0, 50.0)),
    "crocodilian": ((40.0, -45.0), (-40.0, 50.0)),
    "frog": ((-30.0, -78.0), (-68.0, 62.0, -66.0)),
    "turtle": ((-35.0, -60.0), (35.0, 60.0)),
}
# Where limbs leave the trunk when nothing on the plan says it, as shares of snout to vent. same kind of source
_ROOTS: dict[str, tuple[float, float]] = {
    "lizard": (0.30, 0.93),
    "salamander": (0.28, 0.93),
    "crocodilian": (0.33, 0.93),
    "frog": (0.40, 0.90),
    "turtle": (0.22, 0.82),
}


def has_limbs(form: str) -> bool:
    """Whether limbs are drawn for this form."""
    return form in _FOLDS


def radius_at(body: Body, at_mm: float) -> float:
    """Half the body's width at a place along its axis. [mm]"""
    return float(np.interp(at_mm, body.axis_mm, body.radius_mm))


def profile(body: Body, start_mm: float, end_mm: float) -> tuple[Array, Array]:
    """Axis and radius from start to end, with both ends on it."""
    axis = np.asarray(body.axis_mm, dtype=float)
    inside = axis[(axis > start_mm + 1e-9) & (axis < end_mm - 1e-9)]
    at = np.concatenate([[start_mm], inside, [end_mm]])
    return at, np.interp(at, axis, body.radius_mm)


def total_mm(body: Body) -> float:
    """From the snout to the tip of the tail. [mm]"""
    return float(body.axis_mm[-1])


def ribbon(centre: Sequence[Point], radii: Sequence[float]) -> list[Point]:
    """A closed outline at a distance on both sides of a centre line."""
    points = np.asarray(centre, dtype=float)
    radius = np.asarray(radii, dtype=float)
    along = np.gradient(points, axis=0)
    length = np.hypot(along[:, 0], along[:, 1])
    length[length == 0] = 1.0
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
    left = points + normal * radius[:, None]
    right = points - normal * radius[:, None]
    return [(float(x), float(y)) for x, y in np.concatenate([left, right[::-1]])]


def limb(body: Body, which: str, side: str, at_mm: float | None = None) -> tuple[list[Point], Point, Point]:
    """
    A limb that shows its place: its outline, the middle of its upper part, and the middle of its lower part.

    Parameters
    ----------
    which : str
        forelimb or hindlimb.
    side : str
        left or right.
    at_mm : float, optional
        Where it leaves the trunk; the usual place of the form if not given.
    """
    number = 0 if which == "forelimb" else 1
    folds = _FOLDS[body.form][number]
    root = at_mm if at_mm is not None else _ROOTS[body.form][number] * body.length_mm
    up = -1.0 if side == "left" else 1.0
    part = body.limb_lengths_mm[number] / len(folds)
    joints = [(root, up * max(radius_at(body, root) - body.limb_radius_mm, 0.0))]
    for fold in folds:
        x, y = joints[-1]
        joints.append((x + part * math.sin(math.radians(fold)), y + up * part * math.cos(math.radians(fold))))
    centre = _rounded(joints)
    widths = body.limb_radius_mm * np.linspace(1.25, 0.6, len(centre))
    middles = [((x0 + x1) / 2, (y0 + y1) / 2) for (x0, y0), (x1, y1) in itertools.pairwise(joints)]
    return ribbon(centre, widths.tolist()), middles[0], middles[1]


def _rounded(corners: Sequence[Point], times: int = 3) -> list[Point]:
    """Corners cut again and again at a quarter of each piece (Chaikin 1974; from memory)."""
    points = list(corners)
    for _turn in range(times):
        cut: list[Point] = [points[0]]
        for (x0, y0), (x1, y1) in itertools.pairwise(points):
            cut.append((0.75 * x0 + 0.25 * x1, 0.75 * y0 + 0.25 * y1))
            cut.append((0.25 * x0 + 0.75 * x1, 0.25 * y0 + 0.75 * y1))
        points = [*cut, points[-1]]
    return points


def bounds(outlines: Sequence[Sequence[Point]]) -> tuple[float, float, float, float]:
    """Least and greatest x and y: left, top, right, bottom."""
    xs = [x for outline in outlines for x, _y in outline]
    ys = [y for outline in outlines for _x, y in outline]
    return min(xs), min(ys), max(xs), max(ys)


def posed(body: Body, pose: str, width_mm: float, height_mm: float) -> list[list[Point]]:
    """
    The body as it lies in its tray, inside a box of this size; the first outline is the trunk.

    Parameters
    ----------
    pose : str
        straight, tail_along_trunk, coil, folded, spread or loose.
    """
    if pose == "coil":
        shapes = [_coil(body, width_mm, height_mm)]
    elif pose == "tail_along_trunk" and body.tail_mm > 0:
        shapes = [_doubled(body)]
    elif pose == "folded" and not has_limbs(body.form):
        shapes = [_loops(body, width_mm, height_mm)]
    elif pose == "loose" and body.form == "egg_clutch":
        shapes = [_circle(body.diameter_mm / 2)]
    else:
        at, radius = profile(body, float(body.axis_mm[0]), total_mm(body))
        shapes = [ribbon([(float(x), 0.0) for x in at], radius.tolist())]
    if has_limbs(body.form) and pose != "coil":
        shapes += [limb(body, which, side)[0] for which in ("forelimb", "hindlimb") for side in ("left", "right")]
    left, top, right, bottom = bounds(shapes)
    grow = min(1.0, width_mm / max(right - left, 1e-9), height_mm / max(bottom - top, 1e-9))
    off_x = (width_mm - grow * (right - left)) / 2 - grow * left
    off_y = (height_mm - grow * (bottom - top)) / 2 - grow * top
    return [[(x * grow + off_x, y * grow + off_y) for x, y in shape] for shape in shapes]


def _circle(radius: float) -> list[Point]:
    return [(radius * math.cos(a), radius * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 37)[:-1]]


def _along(centre: Array, body: Body, thickest: float) -> list[Point]:
    """The body's widths along a line as long as the line is; nowhere thicker than its loops leave room for."""
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(centre, axis=0).T))])
    at = run / run[-1] * total_mm(body)
    radius = np.minimum(np.interp(at, body.axis_mm, body.radius_mm), thickest)
    return ribbon([(float(x), float(y)) for x, y in centre], radius.tolist())


def _coil(body: Body, width_mm: float, height_mm: float) -> list[Point]:
    """A flat spiral whose line is as long as the animal: the tail in the middle, the head outside, as it is laid."""
    thick = float(np.max(body.radius_mm))
    outer = min(width_mm, height_mm) / 2 - thick
    length = total_mm(body)
    if outer <= thick or length < 2 * outer:
        return _loops(body, width_mm, height_mm)
    inner = min(outer / 2, 1.2 * thick)
    turns = length / (math.pi * (outer + inner))
    angle = np.linspace(0.0, 2 * math.pi * turns, max(80, int(60 * turns)))
    radius = outer + (inner - outer) * angle / angle[-1]
    centre = np.stack([-radius * np.cos(angle), -radius * np.sin(angle)], axis=1)
    pitch = (outer - inner) / turns
    return _along(centre, body, max(0.46 * pitch, 0.1) if turns > 1 else thick)


def _doubled(body: Body) -> list[Point]:
    """The trunk straight, the tail turned back along its side."""
    trunk = [(float(x), 0.0) for x in np.linspace(0.0, body.length_mm, 60)]
    turn = float(np.max(body.radius_mm)) * 0.75 + radius_at(body, body.length_mm) * 0.5
    bend = min(math.pi * turn, body.tail_mm)
    arc = [(body.length_mm + turn * math.sin(a), turn - turn * math.cos(a)) for a in np.linspace(0.05, bend / turn, 24)]
    rest = body.tail_mm - bend
    back = [(body.length_mm - x, 2 * turn) for x in np.linspace(rest / 40, rest, 40)] if rest > 1e-6 else []
    return _along(np.array(trunk + arc + back), body, math.inf)


def _loops(body: Body, width_mm: float, height_mm: float) -> list[Point]:
    """Level runs joined by half circles."""
    thick = float(np.max(body.radius_mm))
    length = total_mm(body)
    pitch = 2.3 * thick
    runs = max(1, min(int((height_mm - 2 * thick) / pitch) + 1, math.ceil(length / max(width_mm - 2 * thick, 1.0))))
    straight = max(length / runs - math.pi * pitch / 2, thick)
    points: list[Point] = []
    for i in range(runs):
        xs = np.linspace(0.0, straight, 20)
        xs = xs if i % 2 == 0 else xs[::-1]
        points += [(float(x), i * pitch) for x in xs]
        if i < runs - 1:
            end, way = (straight, 1.0) if i % 2 == 0 else (0.0, -1.0)
            for a in np.linspace(0.15, math.pi - 0.15, 12):
                points.append((end + way * pitch / 2 * math.sin(a), i * pitch + pitch / 2 * (1 - math.cos(a))))
    return _along(np.array(points), body, 0.46 * pitch)
