"""Checking a book: every answer about every animal, and the list for the evening."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from keepfast.book import checks_among as among
from keepfast.book.answers import Answer
from keepfast.book.checks import Case, answers_for
from keepfast.book.entries import Acknowledged
from keepfast.desk.books import Book, natural_key
from keepfast.findings import Finding, FindingsError
from keepfast.rules.checks import CheckRules, load
from keepfast.store.queries import Reads
from keepfast.store.search import States
from keepfast.words import _


@dataclass(frozen=True)
class Checked:
    """What checking a book found."""

    answers: tuple[Answer, ...]
    animals: int
    counts: Mapping[str, int]  # passed, failed, accepted, not tested
    rules: Mapping[str, str]

    @property
    def open(self) -> tuple[Answer, ...]:
        """Findings that somebody has to look at."""
        return tuple(answer for answer in self.answers if answer.open)

    def by_subject(self) -> dict[tuple[str, str], list[Answer]]:
        """The answers by what they are about, in the order of the answers."""
        sorted_out: dict[tuple[str, str], list[Answer]] = {}
        for answer in self.answers:
            sorted_out.setdefault((answer.kind, answer.subject), []).append(answer)
        return sorted_out


def check_book(
    book: Book,
    *,
    now: datetime.datetime | None = None,
    rules: CheckRules | None = None,
    trip: str = "",
    evening: str = "",
    keep_all: bool = False,
) -> Checked:
    """Run every check over a book, or over one trip's or evening's animals.

    Parameters
    ----------
    book : Book
        The open book.
    now : datetime, optional
        With an offset; what lies after it is in the future.
    rules : CheckRules, optional
        Limits and lists; the shipped ones if left out.
    trip, evening : str
        Ids, to narrow it down; numbers, permits and travel are looked at over the whole book all the same.
    keep_all : bool
        Keep *passed* and *not tested* too; else only what failed, for a book may hold a million animals.
    """
    when = now or datetime.datetime.now().astimezone()
    limits = rules or load()
    counts = {"passed": 0, "failed": 0, "accepted": 0, "not tested": 0}
    kept: list[Answer] = []
    animals = 0

    def take(answers: Iterator[Answer] | tuple[Answer, ...]) -> None:
        for answer in answers:
            counts["accepted" if answer.accepted else answer.outcome] += 1
            if keep_all or answer.outcome == "failed":
                kept.append(answer)

    chosen = {s["id"] for s in book.animal_states(trip=trip, evening=evening)} if trip or evening else None
    with book.reading() as reads:
        states = reads.states_held()
        briefs: list[among.Brief] = []
        for case in _cases(reads, states):
            briefs.append(among.brief_of(case.animal, case.event))
            if chosen is None or case.animal["id"] in chosen:
                animals += 1
                take(answers_for(case, limits, when))
        own = briefs if chosen is None else [b for b in briefs if b.id in chosen]
        mine = {b.id for b in own}
        take(tuple(a for a in among.twins(briefs) if a.thing in mine))
        take(tuple(a for a in among.check_characters(briefs) if a.thing in mine))
        take(tuple(a for a in among.order_of_numbers(briefs) if a.thing in mine))
        for series in reads.all("series"):
            take(among.accounts_of_series(series, reads.carried(series), reads.given(series["id"]), limits))
        take(among.permits_not_overdrawn(reads.all("permit"), briefs))
        take(among.travel(((e, states("place", e.get("place"))) for e in reads.all("event")), limits))
        take(among.clocks(reads.clock_jumps().items(), limits))
    kept.sort(key=lambda a: (a.kind != "animal", a.kind, natural_key(a.subject)))
    return Checked(tuple(kept), animals, counts, limits.identity)


def _cases(reads: Reads, states: States) -> Iterator[Case]:
    for animal in reads.all("animal"):
        event = states("event", animal.get("event"))
        yield Case(
            animal,
            event,
            states("place", event.get("place")),
            states("trip", event.get("trip")),
            tuple(permit for i in event.get("permits") or () if (permit := states("permit", i))),
        )


def accept(book: Book, check: str, kind: str, label: str, *, reason: str, who: str = "") -> Acknowledged:
    """Let a finding stand, with the reason; it comes back when the check reads another value.

    Raises
    ------
    FindingsError
        If no such finding is open for this thing, or no reason was given.
    """
    if not reason.strip():
        raise FindingsError(
            [Finding(_("a finding is let stand for a reason"), _("Say it with --reason."), field="reason")]
        )
    found = [
        answer
        for answer in check_book(book).answers
        if answer.check == check and answer.kind == kind and label in (answer.subject, answer.thing) and answer.open
    ]
    if not found:
        raise FindingsError(
            [Finding(_("no such finding is open for it"), _("See: keepfast check"), field=check, subject=label)]
        )
    entries = [
        book.entry(
            "finding_accepted",
            {kind: answer.thing, "check": check, "seen": answer.seen, "reason": reason},
            who=who,
        )
        for answer in found
    ]
    return book.append(entries)[0]


def as_dict(checked: Checked) -> dict[str, Any]:
    """For JSON."""
    return {
        "animals": checked.animals,
        "counts": dict(checked.counts),
        "open": len(checked.open),
        "rules": dict(checked.rules),
        "answers": [answer.as_dict() for answer in checked.answers],
    }
