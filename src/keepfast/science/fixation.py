"""How long until the middle of a body is fixed, from a table of ``penetration``'s own answers: at once, for cards.

``penetration`` and ``penetration_layers`` solve the equations; this is for one bare cylinder from outside.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from keepfast.science import tables
from keepfast.science.penetration import default, warmth_factor
from keepfast.science.ranges import Array, given, within

_M2_S_TO_MM2_H = 3.6e9


def hours_to_bind_centre(
    radius_mm: npt.ArrayLike, temperature_c: npt.ArrayLike = 20.0, *, which: str = "default"
) -> Array:
    """
    Time until nine tenths of the binding places in the middle of a bare body are taken, from the bath alone.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the trunk at its thickest, a long cylinder. [mm]  0.1 to 105.
    temperature_c : array_like
        Of the bath. [degrees C]  0 to 45. Broadcasts with radius_mm.
    which : str
        "default", "low" or "high" diffusivity of the tissue. "low" is the slow end.

    Returns
    -------
    ndarray or float
        Time. [h]  A factor of two in the penetration constant is a factor of four in time.

    Raises
    ------
    ValueError
        If an argument lies outside or the word is unknown.

    Notes
    -----
    At 20 degrees C the answer depends on r^2/D alone (the binding times being what they are), which the table holds;
    warmth shortens the way and the binding nearly alike (18.5 and 20 kJ/mol), so the whole time is carried with their
    mean: within 3 % of the solver from 5 to 40 degrees C (see the tests).
    """
    if which not in ("default", "low", "high"):
        raise ValueError(f"which must be one of default, low, high; {which!r} was given")
    r = within("radius_mm", radius_mm, 0.1, 105.0, "mm")
    t = within("temperature_c", temperature_c, 0.0, 45.0, "degrees C")
    diffusivity = float(tables.load("keepfast-2026-two-site-binding").row(name="diffusivity_m2_s")[which])
    table = tables.load("keepfast-2026-centre-bound")
    way = np.log(np.asarray(r**2 / (diffusivity * _M2_S_TO_MM2_H)))
    at_20 = np.exp(np.interp(way, np.log(table.column("way_h")), np.log(table.column("bound_nine_tenths_h"))))
    energy = (default("energy_diffusion_kj_mol") + default("energy_binding_kj_mol")) / 2.0
    return given(np.asarray(at_20 / warmth_factor(t, 20.0, energy)))  # type: ignore[no-any-return]
