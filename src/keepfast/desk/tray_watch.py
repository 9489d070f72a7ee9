"""Which animals of a book lie in trays, since when, and the temperatures that were logged there."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from keepfast.book.animals import Animal
from keepfast.book.state import animal_of
from keepfast.desk.books import Book
from keepfast.findings import Finding, FindingsError
from keepfast.plan.camp import Reading
from keepfast.words import _

# The last of these that was done says since when fixative has worked undisturbed.
_INTO_THE_TRAY = ("cover", "pose", "fill")


@dataclass(frozen=True)
class InTrays:
    """Animals in trays with the moment they went in, and all temperatures of the book in order of time."""

    animals: tuple[Animal, ...]
    since: Mapping[str, datetime.datetime]
    readings: tuple[Reading, ...]
    sha256: str  # of the last links of the book's chains
    name: str


def in_trays(book: Book) -> InTrays:
    """
    Every animal that was filled, laid or covered and has not been moved into a jar.

    Parameters
    ----------
    book : Book
        The open book.

    Raises
    ------
    FindingsError
        If no animal lies in a tray.
    """
    animals: list[Animal] = []
    since: dict[str, datetime.datetime] = {}
    for state in book.animal_states():
        when = _went_in(state)
        if when is None or (state.get("container") or {}).get("jar") or not state.get("form"):
            continue
        animal = animal_of(state)
        animals.append(animal)
        since[animal.field_number] = when
    if not animals:
        raise FindingsError(
            [
                Finding(
                    _("no animal of this book lies in a tray"),
                    _("Write at the table that they were covered, or watch a list with --since."),
                    file=book.path.name,
                )
            ]
        )
    with book.reading() as reads:
        head = reads.head()
        readings: dict[datetime.datetime, float] = {}
        for kind in ("trip", "evening", "tray"):
            for state in reads.all(kind):
                for item in state.get("logged") or ():
                    fact = reads.fact(item["entry"])
                    if fact is None:
                        continue
                    values = fact.content["temperature_c"]["values"]
                    for at, warm in zip(fact.content["at"], values, strict=True):
                        readings[datetime.datetime.fromisoformat(at)] = float(warm)
    record = tuple(Reading(at, readings[at]) for at in sorted(readings))
    return InTrays(tuple(animals), since, record, head, book.path.name)


def _went_in(state: Mapping[str, Any]) -> datetime.datetime | None:
    done = [item for item in state.get("done") or () if item.get("outcome", "done") in ("done", "in part")]
    for step in _INTO_THE_TRAY:
        moments = [
            datetime.datetime.fromisoformat(item.get("at") or item["written"])
            for item in done
            if item.get("step") == step
        ]
        if moments:
            return max(moments)
    return None
