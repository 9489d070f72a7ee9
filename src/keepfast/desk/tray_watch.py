"""Which animals of a book lie in trays, since when, in how much fluid, and the temperatures that were read there."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from keepfast.book.animals import Animal
from keepfast.book.state import animal_of
from keepfast.desk.books import Book
from keepfast.desk.evening import plan_of
from keepfast.findings import Finding, FindingsError
from keepfast.plan.camp import Reading
from keepfast.plan.objects import AnimalPlan, Tray, TrayPlace
from keepfast.words import _

_WORKED = ("pose", "fill")  # the last of these that was done, where nobody covered it
# How the live table writes that the hands are done with covering a tray, or that the pen closed that round.
_COVERING = re.compile(r"(?:move|round) cover(?:/.*)? done")


@dataclass(frozen=True)
class HeldTray:
    """A tray of the book with what lies in it; what nobody wrote is None."""

    name: str
    field_numbers: tuple[str, ...]
    covered_at: datetime.datetime | None
    fixative_ml: float | None  # on both sheets
    width_mm: float | None
    height_mm: float | None


@dataclass(frozen=True)
class InTrays:
    """Animals in trays with the moment they went in, and all temperatures of the book in order of time."""

    animals: tuple[Animal, ...]
    since: Mapping[str, datetime.datetime]
    trays: tuple[HeldTray, ...]
    filled_ml: Mapping[str, float]  # what was really filled in, where it was written
    readings: tuple[Reading, ...]
    camp: Mapping[str, Any]  # that the last evening was planned in, as its plan has it; empty where there is none
    sha256: str  # of the last links of the book's chains
    name: str

    def as_they_lie(
        self, plans: Sequence[AnimalPlan], planned: Sequence[Tray]
    ) -> tuple[tuple[AnimalPlan, ...], tuple[Tray, ...]]:
        """
        Plans and trays with places, wetting and fillings as the book has them, in the place of those planned.

        Where nobody wrote how much a tray's sheets took, they hold what is usual for its size.
        """
        if not planned or not self.trays:
            return tuple(self._as_filled(p) for p in plans), tuple(planned)
        usual = planned[0]
        per_mm2 = (usual.upper_sheet_ml + usual.lower_sheet_ml) / (usual.width_mm * usual.height_mm)
        made, where = [], {}
        for number, tray in enumerate(self.trays, 1):
            width, height = tray.width_mm or usual.width_mm, tray.height_mm or usual.height_mm
            ml = per_mm2 * width * height if tray.fixative_ml is None else tray.fixative_ml
            made.append(Tray(number, width, height, 0.5 * ml, 0.5 * ml, tray.field_numbers))
            where.update({name: (number, k) for k, name in enumerate(tray.field_numbers, 1)})
        laid = []
        for plan in map(self._as_filled, plans):
            tray_, place = where.get(plan.animal.field_number, (0, 0))
            pose = plan.pose
            lies = TrayPlace(tray_, place, 0.0, 0.0, pose.width_mm, pose.height_mm, False) if tray_ else None
            laid.append(replace(plan, place=lies))
        return tuple(laid), tuple(made)

    def _as_filled(self, plan: AnimalPlan) -> AnimalPlan:
        ml = self.filled_ml.get(plan.animal.field_number)
        if ml is None or plan.total_ml <= 0:
            return plan
        share = ml / plan.total_ml
        injections = tuple(replace(i, volume_ml=share * i.volume_ml) for i in plan.injections)
        return replace(plan, injections=injections, total_ml=ml)


def in_trays(book: Book) -> InTrays:
    """
    Every animal that was filled, laid or covered and has not been moved into a jar or taken away.

    Parameters
    ----------
    book : Book
        The open book.

    Raises
    ------
    FindingsError
        If no animal lies in a tray.
    """
    with book.reading() as reads:
        head = reads.head()
        tray_states: dict[str, Mapping[str, Any]] = {state["id"]: state for state in reads.all("tray")}
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
    for tray in tray_states.values():
        readings |= dict(_typed(tray))
    animals: list[Animal] = []
    since: dict[str, datetime.datetime] = {}
    filled: dict[str, float] = {}
    inside: dict[str, list[str]] = {}
    planned = _planned(book, tray_states.values())
    for state in book.animal_states():
        container = state.get("container") or {}
        if container or _left_out(state):
            tray = tray_states.get(container.get("tray") or "", {})
        else:
            # Nobody wrote where it was laid: it lies where it was planned, unless it was left out.
            tray = planned.get(state.get("field_number") or "", {})
        when = _went_in(state, _covered(tray))
        if when is None or not state.get("form") or (container and not container.get("tray")):
            continue
        animal = animal_of(state)
        animals.append(animal)
        since[animal.field_number] = when
        ml = _filled(state)
        if ml is not None:
            filled[animal.field_number] = ml
        if tray:
            inside.setdefault(tray["id"], []).append(animal.field_number)
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
    return InTrays(
        tuple(animals),
        since,
        tuple(_held(tray_states[one], names) for one, names in inside.items()),
        filled,
        tuple(Reading(at, readings[at]) for at in sorted(readings)),
        (plan_of(book) or {}).get("camp") or {},
        head,
        book.path.name,
    )


def _planned(book: Book, trays: Iterable[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
    """The tray that an evening's plan gave each animal, by field number; a later evening's plan stands."""
    by_evening: dict[str, dict[str, Mapping[str, Any]]] = {}
    for tray in trays:
        if tray.get("evening"):
            by_evening.setdefault(tray["evening"], {})[str(tray.get("number") or "")] = tray
    answer: dict[str, Mapping[str, Any]] = {}
    for evening in sorted(by_evening):
        plan = plan_of(book, evening)
        for tray in (plan or {}).get("table", {}).get("trays", ()):
            held = by_evening[evening].get(str(tray.get("number")))
            if held is not None:
                answer |= dict.fromkeys(map(str, tray.get("field_numbers") or ()), held)
    return answer


def _left_out(state: Mapping[str, Any]) -> bool:
    """Whether the last word about an animal at the table is that it stays out tonight."""
    words = [d for d in state.get("decisions") or () if d.get("reckoning") == "table"]
    return bool(words) and max(words, key=_moment).get("choice") == "left out tonight"


def _moment(item: Mapping[str, Any]) -> datetime.datetime:
    return datetime.datetime.fromisoformat(item.get("at") or item["written"])


def _typed(tray: Mapping[str, Any]) -> Iterator[tuple[datetime.datetime, float]]:
    """Temperatures that were read at a tray and written by hand."""
    for item in tray.get("readings") or ():
        if item.get("temperature_c") is not None:
            yield _moment(item), float(item["temperature_c"])


def _covered(tray: Mapping[str, Any]) -> datetime.datetime | None:
    """When a tray was covered for all that lie in it: as the pen wrote it, or else as the hands did."""
    if tray.get("covered_at"):
        return datetime.datetime.fromisoformat(tray["covered_at"])
    done = [
        _moment(item)
        for item in tray.get("decisions") or ()
        if item.get("reckoning") == "table" and _COVERING.fullmatch(str(item.get("choice", "")))
    ]
    return max(done, default=None)


def _held(tray: Mapping[str, Any], names: Sequence[str]) -> HeldTray:
    def number(field: str) -> float | None:
        value = tray.get(field)
        return float(value) if value else None

    return HeldTray(
        str(tray.get("number") or ""),
        tuple(names),
        _covered(tray),
        number("fixative_ml"),
        number("width_mm"),
        number("height_mm"),
    )


def _went_in(state: Mapping[str, Any], tray_covered: datetime.datetime | None) -> datetime.datetime | None:
    """Since when fixative has worked on an animal undisturbed: its own cover, its tray's, or its last handling."""
    done = [item for item in state.get("done") or () if item.get("outcome", "done") in ("done", "in part")]
    moments: dict[str, datetime.datetime] = {}
    for item in done:
        step, at = str(item.get("step")), _moment(item)
        moments[step] = max(at, moments.get(step, at))
    worked = next((moments[step] for step in _WORKED if step in moments), None)
    if worked is None and (state.get("container") or {}).get("tray"):
        worked = datetime.datetime.fromisoformat(state["container"]["since"])
    covers = [at for at in (moments.get("cover"), tray_covered) if at is not None]
    if not covers:
        return worked
    # A cover closed before it was laid in was another one's.
    return max(covers) if worked is None else max(worked, *covers)


def _filled(state: Mapping[str, Any]) -> float | None:
    """What was filled into an animal altogether, where somebody wrote the whole of it; the last word counts."""
    whole = [
        item
        for item in state.get("done") or ()
        if item.get("step") == "fill" and item.get("number") is None and item.get("delivered_ml") is not None
        if item.get("outcome", "done") in ("done", "in part")
    ]
    return float(max(whole, key=_moment)["delivered_ml"]) if whole else None
