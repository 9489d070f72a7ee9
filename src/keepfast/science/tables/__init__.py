"""Published numbers, one TOML file per source, named author-year-what.

Each file keeps value, unit, conditions, source and how it is known together::

    title = "Mass from length in lizards"
    source = "Meiri 2010, Journal of Zoology 281:218"
    known = "read at second hand"     # read | read (abstract) | read at second hand | computed | memory
    conditions = "more than 900 species in 28 families"
    note = "..."                      # optional: traps, disagreements, where it stops being true

    [units]
    length_mm = "mm"

    [[rows]]                          # or [values] for a handful of named constants
    group = "Lacertidae"
    intercept = -4.543

A published number is written in exactly one such file; code asks for it by the file's name.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.terms import KNOWN

FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class Table:
    """One source's numbers with what must travel beside them."""

    name: str
    title: str
    source: str
    known: str
    conditions: str = ""
    note: str = ""
    units: dict[str, str] = field(default_factory=dict)
    values: dict[str, Any] = field(default_factory=dict)
    rows: tuple[dict[str, Any], ...] = ()

    def column(self, name: str) -> npt.NDArray[np.float64]:
        """One column of the rows as an array."""
        return np.array([row[name] for row in self.rows], dtype=float)

    def row(self, **where: Any) -> dict[str, Any]:
        """The one row that matches.

        Raises
        ------
        KeyError
            If none or several match.
        """
        found = [r for r in self.rows if all(r.get(k) == v for k, v in where.items())]
        if len(found) != 1:
            raise KeyError(f"{self.name}: {len(found)} rows match {where}")
        return found[0]

    def value(self, name: str) -> float:
        """One named constant."""
        return float(self.values[name])


def names() -> tuple[str, ...]:
    """All tables, sorted."""
    return tuple(sorted(p.stem for p in FOLDER.glob("*.toml")))


@cache
def load(name: str) -> Table:
    """The table with this file name (without its ending).

    Raises
    ------
    ValueError
        If the file lacks its title or source, or says in no agreed word how it is known.
    """
    with (FOLDER / f"{name}.toml").open("rb") as file:
        data = tomllib.load(file)
    for key in ("title", "source", "known"):
        if not data.get(key):
            raise ValueError(f"{name}.toml must have {key!r}")
    if data["known"] not in KNOWN:
        raise ValueError(f"{name}.toml: known must be one of {', '.join(KNOWN)}; {data['known']!r} was given")
    return Table(
        name=name,
        title=data["title"],
        source=data["source"],
        known=data["known"],
        conditions=data.get("conditions", ""),
        note=data.get("note", ""),
        units=data.get("units", {}),
        values=data.get("values", {}),
        rows=tuple(data.get("rows", ())),
    )
