"""Where a genus belongs, and which measures no animal of a form has. Data in ``genera.toml`` and ``limits.toml``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from keepfast.rules import sources


@dataclass(frozen=True)
class Belonging:
    """What a taxon's name tells: body form, family, and group of a published mass relation (None: no group fits)."""

    form: str
    family: str
    group: str | None


@dataclass(frozen=True)
class _Genus:
    usual: Belonging
    apart: frozenset[str] = frozenset()
    otherwise: Belonging | None = None


@cache
def _genera() -> dict[str, _Genus]:
    data = sources.read("groups", "genera").data
    known: dict[str, _Genus] = {}
    for family in data["families"]:
        belonging = Belonging(family["form"], family["family"], family.get("group"))
        for genus in family["genera"]:
            known[genus.casefold()] = _Genus(belonging)
    for entry in data["species"]:
        known[entry["genus"].casefold()] = _Genus(
            Belonging(entry["form"], entry["family"], entry.get("group")),
            frozenset(entry["apart"]),
            Belonging(entry["apart_form"], entry["apart_family"], entry.get("apart_group")),
        )
    return known


def belonging(taxon: str) -> Belonging | None:
    """What the name of a taxon tells by its genus (and species, where a genus is mixed); None for one not listed."""
    words = taxon.replace("_", " ").split()
    # "cf." and "aff." stand before a doubtful name; the genus still tells the body.
    names = [w.strip("()?,") for w in words if w.casefold().strip(".") not in ("cf", "aff", "gr")]
    genus = _genera().get(names[0].casefold()) if names else None
    if genus is None:
        return None
    if genus.otherwise is not None and len(names) > 1 and names[1].casefold() in genus.apart:
        return genus.otherwise
    return genus.usual


@cache
def limits(form: str) -> dict[str, tuple[float, float]]:
    """Lowest and highest value of each measure for a form; beyond them a cell is a slip."""
    data = sources.read("groups", "limits").data
    answer = {name: (float(low), float(high)) for name, (low, high) in data["any"].items()}
    for name, high in data["forms"].get(form, {}).items():
        answer[name] = (answer[name][0], float(high))
    return answer
