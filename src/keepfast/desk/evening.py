"""Tonight's animals out of a book, and what was decided for them back into it.

``plan`` and the commands after it read ``read_animals`` in place of a list, and write with ``record_plan`` and
``record_decision``. What was done is never written over what was planned: both stay.
"""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from keepfast.book.animals import Animal
from keepfast.book.canonical import canonical
from keepfast.book.entries import Entry, new_id
from keepfast.book.state import animal_of
from keepfast.desk.books import Book
from keepfast.findings import Finding, FindingsError
from keepfast.plan import as_json
from keepfast.plan.objects import EveningPlan
from keepfast.words import _

# Once one of these was done, or it lies in a tray or jar, an animal is not waiting for the table any more.
_BEYOND_THE_TABLE = frozenset({"fill", "pose", "cover"})


@dataclass(frozen=True)
class AnimalsRead:
    """Animals of a book, as a list would give them, with the identity of what was read."""

    animals: tuple[Animal, ...]
    findings: tuple[Finding, ...]
    sha256: str  # of the last links of the book's chains, for a book's file changes without its record changing
    name: str
    ids: Mapping[str, str]  # field number to the id of the animal


def waiting(state: Mapping[str, Any]) -> bool:
    """Whether an animal still waits for the table: nothing was filled, laid or put away."""
    done = set(state.get("steps_done") or ())
    return not (done & _BEYOND_THE_TABLE or state.get("container") or state.get("catalogue_number"))


def read_animals(
    book: Book, *, trip: str = "", event: str = "", evening: str = "", numbers: Sequence[str] = (), all_: bool = False
) -> AnimalsRead:
    """Animals to plan for, by field number.

    Parameters
    ----------
    book : Book
        The open book.
    trip, event, evening : str
        Narrow them down, by id.
    numbers : sequence of str
        Only these field numbers.
    all_ : bool
        Also those that are beyond the table; numbers and an evening ask for theirs anyway.

    Raises
    ------
    FindingsError
        If a number asked for is not in the book, two animals carry one number, or an animal has no body form.
    """
    states = book.animal_states(trip=trip, event=event, evening=evening)
    found: list[Finding] = []
    if numbers:
        chosen = {}
        for number in numbers:
            matching = book.by_label("animal", number)
            if not matching:
                found.append(_unknown(number))
            chosen.update({state["id"]: state for state in matching})
        states = tuple(state for state in states if state["id"] in chosen)
    elif not (all_ or evening):
        states = tuple(state for state in states if waiting(state))
    ids: dict[str, str] = {}
    for state in states:
        number = state.get("field_number") or ""
        if number in ids:
            found.append(
                Finding(
                    _("two animals carry this number"),
                    _("Correct one of them with: keepfast book correct"),
                    file=book.path.name,
                    field="field_number",
                    subject=number,
                )
            )
        ids[number] = state["id"]
        if not state.get("form"):
            found.append(
                Finding(
                    _("nobody has said what form of body this is"),
                    _("Say lizard, snake, frog ... for it, then plan again."),
                    file=book.path.name,
                    field="form",
                    subject=number,
                )
            )
    if found:
        raise FindingsError(found)
    with book.reading() as reads:
        head = reads.head()
    return AnimalsRead(tuple(animal_of(state) for state in states), (), head, book.path.name, ids)


def measured_kin(book: Book, taxa: Iterable[str]) -> tuple[Animal, ...]:
    """All animals of these taxa in a book that were measured and weighed: their own trend tells slips of the pen."""
    wanted = set(taxa)
    states = [state for state in book.animal_states() if state.get("form") and state.get("taxon") in wanted]
    return tuple(one for one in map(animal_of, states) if one.length_mm and one.mass_g)


def ids_of(book: Book, numbers: Iterable[str]) -> dict[str, str]:
    """The ids of the animals that carry these field numbers.

    Raises
    ------
    FindingsError
        If a number is not in the book or two animals carry it; all of them at once.
    """
    ids: dict[str, str] = {}
    found: list[Finding] = []
    for number in numbers:
        matching = book.by_label("animal", number)
        same = [state for state in matching if state.get("field_number") == number] or list(matching)
        if not same:
            found.append(_unknown(number))
        elif len(same) > 1:
            found.append(Finding(_("two animals carry this number"), _("Correct one of them."), subject=number))
        else:
            ids[number] = same[0]["id"]
    if found:
        raise FindingsError(found)
    return ids


def _unknown(number: str) -> Finding:
    return Finding(_("the book has no animal of this number"), _("Look it up with: keepfast find"), subject=number)


def observed_entries(book: Book, animal: Animal, animal_id: str, *, how: str = "", who: str = "") -> list[Entry]:
    """The entries that say what was observed of an animal that the book does not have yet, under this id."""
    plain = Animal(field_number="", form="")
    content: dict[str, Any] = {"field_number": animal.field_number, "form": animal.form}
    for name in ("sex", "stage", "tail_state", "reproductive_state", "gut", "condition", "kept_at_c", "count", "group",
                 "remarks"):  # fmt: skip
        value = getattr(animal, name)
        if value is not None and value != getattr(plain, name):
            content[name] = value
    content["condition"] = animal.condition
    if animal.died_at is not None:
        content["died_at"] = animal.died_at.isoformat()
    made = [book.entry("animal", content, id=animal_id, who=who)]
    if animal.taxon:
        made.append(book.entry("determination", {"animal": animal_id, "taxon": animal.taxon}, who=who))
    measures = ("length_mm", "tail_mm", "mass_g", "diameter_mm", "head_width_mm")
    values = {name: value for name in measures if (value := getattr(animal, name)) is not None}
    if values:
        measured: dict[str, Any] = {"animal": animal_id, "values": values}
        if "length_mm" in values:
            measured["length_kind"] = animal.length_kind
        if how:
            measured["how"] = how
        made.append(book.entry("measurement", measured, who=who))
    return made


def record_plan(book: Book, evening: EveningPlan, *, name: str = "", trip: str = "", who: str = "") -> str:
    """Write a plan into a book: the evening, each animal's plan, and animals the book did not have; all or nothing.

    The same plan recorded again is not written twice.

    Returns
    -------
    str
        The id of the evening.

    Raises
    ------
    FindingsError
        If two animals of the book carry one of its numbers, or the book cannot be written.
    """
    document = as_json.evening(evening)
    mark = hashlib.sha256(canonical(document).encode()).hexdigest()
    for known in book.things("evening"):
        if (known.get("origin") or {}).get("plan") == mark:
            return str(known["id"])
    made: list[Entry] = []
    ids: dict[str, str] = {}
    for planned in evening.animals:
        number = planned.animal.field_number
        if book.by_label("animal", number):
            ids |= ids_of(book, [number])
        else:
            ids[number] = new_id()
            made.extend(observed_entries(book, planned.animal, ids[number], how=_("list"), who=who))
    evening_id = new_id()
    day = evening.table.start.date().isoformat()
    origin = {**document["origin"], "plan": mark}
    content: dict[str, Any] = {
        "name": name or _("Evening of {day}").format(day=day),
        "day": day,
        "animals": [ids[p.animal.field_number] for p in evening.animals],
        "plan": document["table"],
        "camp": document["camp"],
        "protocol": document["protocol"],
        "origin": origin,
    }
    if trip:
        content["trip"] = trip
    made.append(book.entry("evening", content, id=evening_id, who=who))
    for planned, said in zip(evening.animals, document["animals"], strict=True):
        amounts = {k: said[k] for k in ("total_ml", "total_low_ml", "total_high_ml") if said.get(k) is not None}
        made.append(
            book.entry(
                "preparation_planned",
                {
                    "animal": ids[planned.animal.field_number],
                    "evening": evening_id,
                    "plan": said,
                    "protocol": document["protocol"],
                    "origin": origin,
                    **amounts,
                },
                who=who,
            )
        )
    # One moment and one order for all of it, so that it is read as the one act it was.
    book.append(dataclasses.replace(one, order_ms=made[0].order_ms + i) for i, one in enumerate(made))
    return evening_id


def plan_of(book: Book, evening: str = "") -> dict[str, Any] | None:
    """The plan of an evening as ``plan.json`` has it; of the last evening that has one where none is named."""
    with book.reading() as reads:
        evenings = [e for e in reads.all("evening") if (e.get("held") or {}).get("plan")]
        chosen = [e for e in evenings if e["id"] == evening] if evening else evenings
        if not chosen:
            return None
        state = max(chosen, key=lambda e: (e.get("day") or "", e["id"]))
        held = reads.fact(state["held"]["plan"])
        animals = []
        for animal_id in state.get("animals") or ():
            plans = (reads.state("animal", animal_id) or {}).get("plans") or ()
            mine = [p["entry"] for p in plans if p.get("evening") == state["id"]]
            fact = reads.fact(mine[-1]) if mine else None
            if fact is not None:
                animals.append(fact.content["plan"])
        camp = reads.fact(state["held"]["camp"]) if "camp" in state["held"] else None
        return {
            "evening": state["id"],
            "origin": state.get("origin") or {},
            "protocol": state.get("protocol") or {},
            "camp": camp.content["camp"] if camp else {},
            "animals": animals,
            "table": held.content["plan"] if held else {},
        }


def record_decision(
    book: Book,
    reckoning: str,
    choice: str,
    *,
    animals: Sequence[str] = (),
    jar: str = "",
    tray: str = "",
    evening: str = "",
    trip: str = "",
    reason: str = "",
    result: Mapping[str, Any] | None = None,
    origin: Mapping[str, Any] | None = None,
    who: str = "",
) -> str:
    """Write what was decided, and on what reckoning (race, watch, steps ...); the id of the entry.

    Parameters
    ----------
    book : Book
        The open book.
    reckoning, choice : str
        Which reckoning, and what was decided, in words.
    animals : sequence of str
        Field numbers it holds for.
    jar, tray : str
        What is written on the jar or tray it holds for.
    evening, trip : str
        Ids.
    reason : str
        Why, in words.
    result, origin : mapping, optional
        What the reckoning said, and what it was made from, as plain JSON.

    Raises
    ------
    FindingsError
        If a number or label is not in the book, or nothing was named that it holds for.
    """
    content: dict[str, Any] = {"reckoning": reckoning, "choice": choice}
    if animals:
        content["animals"] = list(ids_of(book, animals).values())
    for kind, label in (("jar", jar), ("tray", tray)):
        if label:
            matching = book.by_label(kind, label)
            if not matching:
                raise FindingsError(
                    [Finding(_("the book has no {kind} of this name").format(kind=kind), subject=label)]
                )
            content[kind] = matching[-1]["id"]
    more = {"evening": evening, "trip": trip, "reason": reason, "result": dict(result or {}), "origin": origin}
    content |= {name: value for name, value in more.items() if value}
    return book.write("decision", content, who=who).id
