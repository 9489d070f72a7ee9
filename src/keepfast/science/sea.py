"""Land or sea at a place, from a grid of about a kilometre that lies on this computer."""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from keepfast.science.place_datum import checked

SOURCE = (
    "GLOBE 1 km elevation model (NOAA, public domain), as a land mask in the package global-land-mask 1.0.0 (MIT);"
    " lakes count as land"
)
CELL_DEGREES = 1.0 / 120.0  # 30 seconds of arc, at most 930 m; the grid's own step
_ROWS, _COLUMNS = 21600, 43200


class _Mask(NamedTuple):
    """For each row, from the north, the columns at which land and sea change, and whether it begins at sea."""

    begins: npt.NDArray[np.intp]
    changes: npt.NDArray[np.uint16]
    begins_at_sea: npt.NDArray[np.bool_]


@cache
def _mask() -> _Mask:
    """The mask as runs: 2 MB instead of the 930 MB that the package's own import would take.

    The package's file is read row by row and never held whole.
    """
    import zipfile
    from importlib.util import find_spec
    from pathlib import Path

    spec = find_spec("global_land_mask")
    if spec is None or spec.origin is None:
        raise RuntimeError("the package global-land-mask is not installed")
    changes, counts, begins_at_sea = [], np.zeros(_ROWS + 1, np.intp), np.zeros(_ROWS, bool)
    with (
        zipfile.ZipFile(Path(spec.origin).parent / "globe_combined_mask_compressed.npz") as archive,
        archive.open("mask.npy") as file,
    ):
        np.lib.format.read_magic(file)
        shape, fortran, kind = np.lib.format.read_array_header_1_0(file)
        if shape != (_ROWS, _COLUMNS) or fortran or kind != np.dtype(bool):
            raise RuntimeError(f"the land mask has another form than expected: {shape}, {kind}")
        for row in range(_ROWS):
            cells = np.frombuffer(file.read(_COLUMNS), np.uint8)
            change = (np.flatnonzero(cells[1:] != cells[:-1]) + 1).astype(np.uint16)
            changes.append(change)
            counts[row + 1] = len(change)
            begins_at_sea[row] = bool(cells[0])
    return _Mask(np.cumsum(counts), np.concatenate(changes), begins_at_sea)


def at_sea(latitude: npt.ArrayLike, longitude: npt.ArrayLike) -> Any:
    """
    Whether a place lies in the sea on a grid of 30 seconds of arc.

    Parameters
    ----------
    latitude, longitude : array_like
        On WGS84. [degree]

    Returns
    -------
    ndarray or bool
        True for sea. NaN gives False: not knowing a place is not being at sea.

    Raises
    ------
    ValueError
        If latitude or longitude is out of range.

    Notes
    -----
    A shore is right to about a kilometre; small islands and reefs may be missing, so a place at sea is a doubt and
    not an error. Lakes count as land. The first call reads the grid (about a second); no call holds more than 2 MB.

    References
    ----------
    .. [1] GLOBE Task Team 1999, The Global Land One-kilometer Base Elevation Digital Elevation Model, NOAA. (not
       read: taken from the package's description)
    """
    lat, lon = checked(latitude, longitude)
    known = ~np.isnan(lat + lon)
    mask = _mask()
    # Row 0 begins at 90 N and rows go south; column 0 begins at 180 W.
    row = np.clip(np.nan_to_num((90.0 - lat) / CELL_DEGREES).astype(np.intp), 0, _ROWS - 1)
    column = np.clip(np.nan_to_num((lon + 180.0) / CELL_DEGREES).astype(np.intp), 0, _COLUMNS - 1)
    result = np.zeros(lat.shape, bool)
    for index in np.ndindex(lat.shape):
        r = int(row[index])
        run = mask.changes[mask.begins[r] : mask.begins[r + 1]]
        changed = int(np.searchsorted(run, column[index], side="right"))
        result[index] = bool(mask.begins_at_sea[r]) ^ bool(changed % 2)
    result &= known
    return bool(result) if result.ndim == 0 else result
