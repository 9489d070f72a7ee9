"""How far formaldehyde has come in a bare body that lies in an unlimited bath, and how much of it is bound.

Start with ``centre`` and ``fronts``. Bodies of several layers, a wet sheet that runs out and filled cavities are in
``penetration_layers``; depots along a body, in two dimensions, are in ``penetration_plane``; the engine under all of
them is ``penetration_solver``. The rule of thumb d = K sqrt(t) is here too, for comparison.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science import penetration_solver as solver
from keepfast.science.ranges import within
from keepfast.science.tables import load

Array = npt.NDArray[np.float64]
ArrayLike = npt.ArrayLike

GAS_CONSTANT = 8.314462618e-3  # kJ/(mol K), CODATA 2018, exact in the SI
ZERO_C = 273.15
REFERENCE_MOL_L = 1.3  # at which the time constants of binding are stated
MM2_H_PER_M2_S = 3.6e9
FREE_LEVEL = 0.1
HALF_LEVEL = 0.5
NINE_TENTHS_LEVEL = 0.9

LIMITS: dict[str, tuple[float, float]] = {
    "radius_mm": (0.01, 2000.0),
    "hours": (0.0, 100_000.0),
    "temperature_c": (-5.0, 70.0),
    "diffusivity_m2_s": (1e-13, 1e-8),
    "d_reference_c": (-5.0, 70.0),
    "capacity_mol_l": (0.0, 20.0),
    "bath_mol_l": (1e-3, 15.0),
    "fast_fraction": (0.0, 1.0),
    "tau_fast_h": (1e-7, 1e6),
    "tau_slow_h": (1e-7, 1e6),
    "tau_reference_c": (-5.0, 70.0),
    "water_fraction": (0.01, 1.0),
    "release_per_h": (0.0, 100.0),
}

NODES = 181
CROWDING = 2.6
GROWTH = 1.04
BLOCK = 500  # cases solved together: more would leave the processor's cache


class Centre(NamedTuple):
    """State in the middle of a body: free as a fraction of bath strength, bound as a share of binding places."""

    free: Any
    bound: Any


class Fronts(NamedTuple):
    """Depths below the surface that three marks have reached. [mm]"""

    free_tenth_mm: Any
    bound_half_mm: Any
    bound_nine_tenths_mm: Any


def default(name: str) -> float:
    """A default parameter of the two-site model, from its table."""
    return float(load("keepfast-2026-two-site-binding").row(name=name)["default"])


def warmth_factor(temperature_c: ArrayLike, reference_c: ArrayLike, energy_kj_mol: ArrayLike) -> Any:
    """
    Factor by which a rate at ``reference_c`` changes at ``temperature_c`` (Arrhenius).

    Parameters
    ----------
    temperature_c, reference_c : array_like
        [degrees C] They broadcast with the energy.
    energy_kj_mol : array_like
        Activation energy. [kJ/mol]

    Returns
    -------
    ndarray or float
        exp(-E/R (1/T - 1/T_ref)). [-]

    Raises
    ------
    ValueError
        If a temperature is not from -90 to 200 degrees C.
    """
    warm = within("temperature_c", temperature_c, -90.0, 200.0, "degrees C") + ZERO_C
    base = within("reference_c", reference_c, -90.0, 200.0, "degrees C") + ZERO_C
    answer = np.exp(-np.asarray(energy_kj_mol, dtype=float) / GAS_CONSTANT * (1.0 / warm - 1.0 / base))
    return float(answer) if answer.ndim == 0 else answer


def checked(name: str, value: ArrayLike) -> Array:
    """The argument as an array of floats within its limits; NaN passes.

    Raises
    ------
    ValueError
        If any value lies outside the limits.
    """
    return within(name, value, *LIMITS[name])


def _solve(
    look: Any,
    width: int,
    radius_mm: ArrayLike,
    hours: ArrayLike,
    shape: str,
    binding: bool,
    parameters: dict[str, ArrayLike],
) -> list[Any]:
    """Broadcast, solve the finite cases in one batch, and put the answers back in their places."""
    if not isinstance(shape, str) or shape not in solver.SHAPES:
        raise ValueError(f"shape must be one of {', '.join(solver.SHAPES)}; {shape!r} was given")
    arrays = [checked("radius_mm", radius_mm), *(checked(n, v) for n, v in parameters.items())]
    times = checked("hours", hours)
    if times.ndim > 1:
        raise ValueError(f"hours must be a number or one-dimensional; {times.ndim} dimensions were given")
    together = np.broadcast_arrays(*arrays)
    form = together[0].shape
    columns = [a.ravel() for a in together]
    fit = np.all([np.isfinite(c) for c in columns], axis=0) if columns[0].size else np.zeros(0, dtype=bool)
    marks = np.unique(times[np.isfinite(times)])
    results = np.full((width, fit.size, times.size), np.nan)
    if fit.any() and marks.size:
        parts = []
        for begin in range(0, int(fit.sum()), BLOCK):
            radius, *rest = (c[fit][begin : begin + BLOCK] for c in columns)
            given = dict(zip(parameters, rest, strict=True))
            seen = _run(look, radius, marks, shape, binding, given)
            parts.append(np.stack([np.stack(answer) for answer in seen], axis=-1))  # (width, cases, marks)
        by_mark = np.concatenate(parts, axis=1)
        flat = times.ravel()
        good = np.isfinite(flat)
        block = np.full((width, int(fit.sum()), flat.size), np.nan)
        block[..., good] = by_mark[..., np.searchsorted(marks, flat[good])]
        results[:, fit] = block
    shaped = results.reshape((width, *form, *times.shape))
    return [float(a) if a.ndim == 0 else a for a in shaped]


def _run(
    look: Any, radius: Array, marks: Array, shape: str, binding: bool, given: dict[str, Array]
) -> list[tuple[Array, ...]]:
    """One batch of finite cases at the wanted times."""
    energy_d, energy_k = default("energy_diffusion_kj_mol"), default("energy_binding_kj_mol")
    warm_d = warmth_factor(given["temperature_c"], given["d_reference_c"], energy_d)
    warm_k = warmth_factor(given["temperature_c"], given["tau_reference_c"], energy_k)
    diffusivity = given["diffusivity_m2_s"] * warm_d * MM2_H_PER_M2_S
    capacity = given["capacity_mol_l"] if binding else np.zeros_like(radius)
    bodies = solver.assemble(
        solver.graded(NODES, CROWDING)[:, None] * radius,
        solver.SHAPES[shape],
        diffusivity_mm2_h=diffusivity,
        water_fraction=given["water_fraction"],
        capacity_mol_l=capacity,
        fast_fraction=given["fast_fraction"],
        rate_fast=warm_k / (given["tau_fast_h"] * REFERENCE_MOL_L),
        rate_slow=warm_k / (given["tau_slow_h"] * REFERENCE_MOL_L),
        release=given["release_per_h"],
    )
    bath = given["bath_mol_l"]
    fast = given["fast_fraction"]

    def seen(hours: float, state: solver.State) -> tuple[Array, ...]:
        bound = fast * state.fast + (1.0 - fast) * state.slow if binding else np.zeros_like(state.fast)
        # At the start nothing has come in, though the surface node is in the bath already.
        found = look(bodies, np.clip(state.free / bath, 0.0, 1.0), np.clip(bound, 0.0, 1.0))
        return tuple(found) if hours > 0 else tuple(np.zeros_like(one) for one in found)

    spread = radius**2 * given["water_fraction"] / diffusivity
    positive = marks[marks > 0]
    earliest = float(positive.min()) if positive.size else 1.0
    # Early enough that the jump at the surface has been forgotten by the first time asked for.
    first = max(min(earliest / 50.0, 1e-3 * float(spread.min()), 0.02), float(marks.max()) * 1e-7)
    _, answers = solver.run(
        bodies,
        solver.blank(bodies, bath),
        marks,
        seen,
        first_h=first,
        growth=GROWTH,
        tolerance=1e-5 * bath,
        iterations=12,
    )
    return answers


def centre(
    radius_mm: ArrayLike,
    hours: ArrayLike,
    *,
    temperature_c: ArrayLike = 20.0,
    shape: str = "cylinder",
    diffusivity_m2_s: ArrayLike = 4e-10,
    d_reference_c: ArrayLike = 20.0,
    capacity_mol_l: ArrayLike = 0.25,
    bath_mol_l: ArrayLike = 1.3,
    fast_fraction: ArrayLike = 0.67,
    tau_fast_h: ArrayLike = 1.35,
    tau_slow_h: ArrayLike = 20.0,
    tau_reference_c: ArrayLike = 25.0,
    water_fraction: ArrayLike = 0.75,
    release_per_h: ArrayLike = 0.0,
    binding: bool = True,
) -> Centre:
    """
    Formaldehyde in the middle of a bare body that lies in an unlimited bath.

    Parameters
    ----------
    radius_mm : array_like
        Radius; of a slab half its thickness, bathed on both faces. [mm]  Valid 0.01 to 2000.
    hours : array_like
        Time since the bath, a number or one-dimensional. [h]  Valid 0 to 100 000.
    temperature_c : array_like, default 20.0
        Of body and bath. [degrees C]  Valid -5 to 70.
    shape : {'cylinder', 'slab', 'sphere'}
        Of all the bodies.
    diffusivity_m2_s : array_like, default 4e-10
        At ``d_reference_c``, per tissue area and gradient in tissue water. [m2/s]  Valid 1e-13 to 1e-8.
    d_reference_c : array_like, default 20.0
        Where the diffusivity is stated; carried to ``temperature_c`` with 18.5 kJ/mol. [degrees C]
    capacity_mol_l : array_like, default 0.25
        Binding places per litre of tissue. [mol/L]  Valid 0 to 20.
    bath_mol_l : array_like, default 1.3
        Strength of the bath. [mol/L]  Valid 0.001 to 15.
    fast_fraction : array_like, default 0.67
        Share of the places that bind fast. [-]
    tau_fast_h, tau_slow_h : array_like, default 1.35 and 20.0
        Time constants of both kinds at ``tau_reference_c`` and 1.3 mol/L. [h]
    tau_reference_c : array_like, default 25.0
        Where they are stated; carried to ``temperature_c`` with 20 kJ/mol. [degrees C]
    water_fraction : array_like, default 0.75
        Share of tissue volume that holds free formaldehyde. [-]  Valid 0.01 to 1.
    release_per_h : array_like, default 0.0
        Rate at which the slow site lets go, at ``temperature_c``. [1/h]  Valid 0 to 100.
    binding : bool, default True
        Without it nothing binds and the effective diffusivity is D / water_fraction.

    Returns
    -------
    Centre
        ``free`` (fraction of bath strength) and ``bound`` (0 to 1). All arguments but ``hours`` broadcast to a shape
        S; the result has shape S for a number of hours and S + (n,) for n of them. NaN in, NaN out.

    Raises
    ------
    ValueError
        If an argument is outside its limits, ``shape`` is unknown, or ``hours`` has two or more dimensions.

    Notes
    -----
    phi dc/dt = div(D grad c) - B [f db1/dt + (1 - f) db2/dt], with db1/dt = k1 c (1 - b1),
    db2/dt = k2 c (1 - b2) - k_release b2, k_i = 1/(tau_i x 1.3 mol/L), c at the surface the bath's.

    Solved on 181 nodes by TR-BDF2. Against Crank's series and a stiff integrator it is within 0.1 % of bath strength.
    It stops being true where skin resists (reptiles' scales), where the bath runs out, and in fat: see
    ``penetration_layers``. Parameters come from mammals; double the penetration constant and a time is a quarter.

    References
    ----------
    .. [1] Helander 1994, Biotechnic & Histochemistry 69:177: half bound after about 100 min. (abstract read)
    .. [2] Fox et al. 1985, Journal of Histochemistry and Cytochemistry 33:845: nine tenths after about 24 h.
       (taken from others who quote it)
    .. [3] Crank 1975, The Mathematics of Diffusion, chapters 4 to 6. (from memory, unverified)
    """
    free, bound = _solve(
        lambda bodies, c, b: (c[0], b[0]),
        2,
        radius_mm,
        hours,
        shape,
        binding,
        {
            "temperature_c": temperature_c,
            "diffusivity_m2_s": diffusivity_m2_s,
            "d_reference_c": d_reference_c,
            "capacity_mol_l": capacity_mol_l,
            "bath_mol_l": bath_mol_l,
            "fast_fraction": fast_fraction,
            "tau_fast_h": tau_fast_h,
            "tau_slow_h": tau_slow_h,
            "tau_reference_c": tau_reference_c,
            "water_fraction": water_fraction,
            "release_per_h": release_per_h,
        },
    )
    return Centre(free, bound)


def fronts(
    radius_mm: ArrayLike,
    hours: ArrayLike,
    *,
    temperature_c: ArrayLike = 20.0,
    shape: str = "cylinder",
    diffusivity_m2_s: ArrayLike = 4e-10,
    d_reference_c: ArrayLike = 20.0,
    capacity_mol_l: ArrayLike = 0.25,
    bath_mol_l: ArrayLike = 1.3,
    fast_fraction: ArrayLike = 0.67,
    tau_fast_h: ArrayLike = 1.35,
    tau_slow_h: ArrayLike = 20.0,
    tau_reference_c: ArrayLike = 25.0,
    water_fraction: ArrayLike = 0.75,
    release_per_h: ArrayLike = 0.0,
    binding: bool = True,
) -> Fronts:
    """
    Depth that three marks have reached: free at a tenth of bath strength, bound one half, bound nine tenths.

    Parameters
    ----------
    radius_mm, hours, temperature_c, shape, diffusivity_m2_s, d_reference_c, capacity_mol_l, bath_mol_l, fast_fraction,
    tau_fast_h, tau_slow_h, tau_reference_c, water_fraction, release_per_h, binding
        As in ``centre``.

    Returns
    -------
    Fronts
        ``free_tenth_mm``, ``bound_half_mm``, ``bound_nine_tenths_mm``: depth below the surface, 0 until the surface
        itself reaches the level, the radius once the centre has. [mm]  Shapes as in ``centre``.

    Raises
    ------
    ValueError
        As ``centre``.

    Notes
    -----
    One constant K in d = K sqrt(t) cannot stand for all three: published values from 0.78 to 5.5 differ by medium and
    by which mark was watched. Bound fronts start slower than sqrt(t), because the reaction limits them first.
    """
    answers = _solve(
        lambda bodies, c, b: (
            solver.depth_of(FREE_LEVEL, c, bodies.radius_mm),
            solver.depth_of(HALF_LEVEL, b, bodies.radius_mm),
            solver.depth_of(NINE_TENTHS_LEVEL, b, bodies.radius_mm),
        ),
        3,
        radius_mm,
        hours,
        shape,
        binding,
        {
            "temperature_c": temperature_c,
            "diffusivity_m2_s": diffusivity_m2_s,
            "d_reference_c": d_reference_c,
            "capacity_mol_l": capacity_mol_l,
            "bath_mol_l": bath_mol_l,
            "fast_fraction": fast_fraction,
            "tau_fast_h": tau_fast_h,
            "tau_slow_h": tau_slow_h,
            "tau_reference_c": tau_reference_c,
            "water_fraction": water_fraction,
            "release_per_h": release_per_h,
        },
    )
    return Fronts(*answers)


def depth_by_constant(hours: ArrayLike, constant_mm_per_root_h: ArrayLike) -> Any:
    """
    The rule of thumb: depth = K sqrt(hours).

    Parameters
    ----------
    hours : array_like
        [h]  Valid 0 to 100 000.
    constant_mm_per_root_h : array_like
        K, from one of the tables ``medawar-1941-penetration``, ``baker-1958-penetration``,
        ``tellyesniczky-1926-penetration``, ``steicke-2018-penetration``. [mm/h^0.5]  Valid 0.01 to 10.

    Returns
    -------
    ndarray or float
        Depth of whatever mark that source watched. [mm]

    Raises
    ------
    ValueError
        If an argument is outside its limits.
    """
    answer = within("constant_mm_per_root_h", constant_mm_per_root_h, 0.01, 10.0) * np.sqrt(checked("hours", hours))
    return float(answer) if answer.ndim == 0 else answer
