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


# They stand before a name that is doubtful; the genus still tells the body.
_DOUBTFUL = ("cf", "aff", "gr")


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


def _names(taxon: str) -> list[str]:
    """Genus, species and so on, without what marks a doubt."""
    bare = (word.strip("()?,") for word in taxon.replace("_", " ").split())
    return [word for word in bare if word and word.casefold().strip(".") not in _DOUBTFUL]


def genus_of(taxon: str) -> tuple[str, bool]:
    """The genus in a taxon's name, with a capital ("" where there is none), and whether nothing casts doubt on it."""
    names = _names(taxon)
    if not names:
        return "", False
    first = taxon.replace("_", " ").split()[0]
    return names[0].capitalize(), "?" not in first and first.strip("()?,").casefold().strip(".") not in _DOUBTFUL


def belonging(taxon: str) -> Belonging | None:
    """What the name of a taxon tells by its genus (and species, where a genus is mixed); None for one not listed."""
    names = _names(taxon)
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
