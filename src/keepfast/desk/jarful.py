"""From a book to a jarful: what shares a bath or a jar, and what was decided about its steps."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from keepfast.book.state import animal_of
from keepfast.desk.books import Book
from keepfast.desk.evening import ids_of, read_animals, record_decision
from keepfast.exchange.files import origin
from keepfast.findings import Finding, FindingsError
from keepfast.plan.fixing import InJar, Jarful
from keepfast.plan.steps import StepsPlan
from keepfast.plan.weighing import weigh
from keepfast.rules import evening as evening_rules
from keepfast.words import _

_SEED, _DRAWS = 1, 16  # only the middle of an estimated mass is used here


@dataclass(frozen=True)
class JarfulRead:
    """A jarful out of a book: the bodies, what was estimated, and the state of the book that it was read from."""

    jarful: Jarful
    numbers: tuple[str, ...]
    jar: str
    tray: str
    doubts: tuple[str, ...]
    head: str
    book: str


def read_jarful(book: Book, *, numbers: Sequence[str] = (), jar: str = "", tray: str = "") -> JarfulRead:
    """
    What shares a bath or a jar: animals by their numbers, or all that lie in a jar or tray.

    Parameters
    ----------
    book : Book
        The open book.
    numbers : sequence of str
        Field numbers.
    jar, tray : str
        What is written on a jar or tray.

    Raises
    ------
    FindingsError
        If none or several of the three are given, a number or label is not in the book, nothing lies there, or an
        animal has neither length nor mass or no form; all of them at once.
    """
    if sum(map(bool, (numbers, jar, tray))) != 1:
        raise FindingsError(
            [Finding(_("say which animals: by numbers, by a jar or by a tray"), _("Give one of the three."))]
        )
    with book.reading() as reads:
        head = reads.head()
    if numbers:
        ids = ids_of(book, numbers)
        read_animals(book, numbers=list(ids), all_=True)  # for its checks: one animal to a number, each with a form
        states = tuple(state for state in book.animal_states() if state["id"] in ids.values())
    else:
        states = _lying_in(book, jar, tray)
    animals = tuple(animal_of(state) for state in states)
    rules = evening_rules.load()
    bodies, doubts, found = [], [], []
    for animal, state in zip(animals, states, strict=True):
        weighed = weigh(animal, rules, _SEED, _DRAWS)
        if isinstance(weighed, Finding):
            found.append(weighed)
            continue
        known = "measured" if animal.diameter_mm is not None else "estimated from length and mass"
        diameter = animal.diameter_mm if animal.diameter_mm is not None else weighed.body.diameter_mm
        bodies.append(
            InJar(
                animal.field_number,
                animal.form,
                weighed.mass_g.value,
                diameter,
                known,
                max(animal.count, 1),
                filled_ml(state),
            )
        )
        doubts += [f"{animal.field_number}: {doubt}" for doubt in weighed.doubts]
    if found:
        raise FindingsError(found)
    return JarfulRead(
        Jarful(tuple(bodies)),
        tuple(animal.field_number for animal in animals),
        jar,
        tray,
        tuple(doubts),
        head,
        book.path.name,
    )


def filled_ml(state: Mapping[str, Any]) -> float:
    """Fixative filled into an animal, as its entries say; what was seen to stay counts before what went in."""
    fills = [done for done in state.get("done") or () if done.get("step") == "fill"]
    return math.fsum(float(f.get("retained_ml") or f.get("delivered_ml") or 0.0) for f in fills)


def _lying_in(book: Book, jar: str, tray: str) -> tuple[dict[str, Any], ...]:
    kind, label = ("jar", jar) if jar else ("tray", tray)
    matching = book.by_label(kind, label)
    if not matching:
        raise FindingsError(
            [
                Finding(
                    _("the book has no jar of this name") if jar else _("the book has no tray of this name"),
                    _("Look it up with: keepfast find"),
                    field=kind,
                    read=label,
                )
            ]
        )
    here = matching[-1]["id"]
    states = book.animal_states(jar=here) if jar else book.animal_states(tray=here)
    if not states:
        raise FindingsError([Finding(_("nothing lies in it"), _("Name the animals instead."), field=kind, read=label)])
    unsaid = [s for s in states if not s.get("form")]
    if unsaid:
        raise FindingsError(
            [
                Finding(
                    _("nobody has said what form of body this is"),
                    _("Say lizard, snake, frog ... for it, then plan again."),
                    file=book.path.name,
                    field="form",
                    subject=state.get("field_number") or "",
                )
                for state in unsaid
            ]
        )
    return states


def decide(book: Book, read: JarfulRead, plan: StepsPlan, *, reason: str = "", who: str = "") -> str:
    """
    Write down which series was decided on, with the whole plan and what it was made from; the id of the entry.

    Parameters
    ----------
    book : Book
        The book that the jarful was read from.
    read : JarfulRead
        What was read.
    plan : StepsPlan
        Its chosen series is what was decided.
    reason : str
        Why, in a person's words.
    who : str
        Who decided.

    Raises
    ------
    FindingsError
        If the book cannot be written.
    """
    if plan.stays_in_formalin:
        choice = _("stays in formalin")
    else:
        series = plan.of(plan.chosen)
        fills = [f"{c.strength_vol:g} %" for c in series.changes if c.kind != "rinse"]
        rinses = sum(c.kind == "rinse" for c in series.changes)
        choice = _("{words}: {n} rinses, then {fills}, to end at {end:.1f} %").format(
            words=series.words, n=rinses, fills=", ".join(fills), end=series.end_vol.value
        )
    made_from = origin({read.book: read.head, plan.rules["name"]: plan.rules["sha256"]})
    return record_decision(
        book,
        "steps",
        choice,
        animals=read.numbers,
        jar=read.jar,
        tray=read.tray,
        reason=reason,
        result=plan.as_dict(),
        origin=made_from,
        who=who,
    )
