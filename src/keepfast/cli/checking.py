"""``check``: every check over a book, and letting a finding stand."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from keepfast.cli.saying import show, show_json, wrong
from keepfast.words import _

if TYPE_CHECKING:
    from keepfast.book.answers import Answer
    from keepfast.desk.checking import Checked


def register(app: typer.Typer) -> None:
    """Add the commands of checking."""
    app.command("check", help=_("Check a book: what is wrong or missing, animal by animal."))(check)


def check(
    book: Path = typer.Argument(..., metavar="BOOK", help=_("The book's file.")),
    trip: str = typer.Option("", "--trip", help=_("Only animals of this trip, by name or id.")),
    all_: bool = typer.Option(False, "--all", help=_("Also what passed and what was not tested.")),
    now: str | None = typer.Option(None, "--now", help=_("The moment after which is the future, with an offset.")),
    rules: str = typer.Option("field", "--rules", help=_("Limits and lists of your own (TOML).")),
    accept: str = typer.Option("", "--accept", help=_("Let a finding stand: the name of its check.")),
    of: str = typer.Option("", "--of", help=_("With --accept: the number of what it is about.")),
    kind: str = typer.Option("animal", "--kind", help=_("With --accept: the kind of that thing.")),
    reason: str = typer.Option("", "--reason", help=_("With --accept: why it stands.")),
    who: str = typer.Option("", "--who", help=_("With --accept: who lets it stand.")),
    json: bool = typer.Option(False, "--json", help=_("Print one JSON object instead.")),
) -> None:
    """Check a book; exit 1 where something is open."""
    import datetime

    from keepfast.desk import checking
    from keepfast.desk.books import open_book
    from keepfast.desk.writing import the_one
    from keepfast.rules.checks import load

    moment = None
    if now is not None:
        try:
            moment = datetime.datetime.fromisoformat(now)
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            wrong("--now", _("this is no moment with an offset"), _("Write it as 2026-03-14T21:05+02:00."), now)
    limits = load(rules)
    if accept:
        with open_book(book, who=who) as opened:
            done = checking.accept(opened, accept, kind, of, reason=reason)
        if json:
            show_json({"id": done.id, "sequence": done.sequence})
        else:
            show(_("It stands, with the reason, as entry {n}.").format(n=done.sequence))
        return
    with open_book(book, read_only=True) as opened:
        chosen = the_one(opened, "trip", trip)["id"] if trip else ""
        found = checking.check_book(opened, now=moment, rules=limits, trip=chosen, keep_all=all_ or json)
    if json:
        show_json(checking.as_dict(found))
    else:
        _show(found, all_)
    if found.open:
        raise typer.Exit(1)


def _show(found: Checked, all_: bool) -> None:
    subjects = {
        subject: _lines([answer for answer in answers if all_ or answer.outcome == "failed"], all_)
        for subject, answers in found.by_subject().items()
    }
    held = Counter(line for (kind, _number), lines in subjects.items() if kind == "animal" for line in lines)
    # What holds for most animals is one thing to do, and is said once.
    shared = {line: count for line, count in held.items() if not all_ and 3 <= count > found.animals / 2}
    for count in sorted(set(shared.values()), reverse=True):
        if count == found.animals:
            show(_("Every animal"))
        else:
            show(_("{count} of {animals} animals").format(count=count, animals=found.animals))
        for line, holds in shared.items():
            if holds == count:
                show(f"  {line}")
    for (kind, subject), lines in subjects.items():
        own = [line for line in lines if kind != "animal" or line not in shared]
        if own:
            show(subject if kind == "animal" else f"{subject} ({kind})")
            for line in own:
                show(f"  {line}")
    counts = found.counts
    show(
        _("{animals} animals: {failed} open, {accepted} let stand, {passed} passed, {not_tested} not tested").format(
            animals=found.animals,
            failed=counts["failed"],
            accepted=counts["accepted"],
            passed=counts["passed"],
            not_tested=counts["not tested"],
        )
    )


def _lines(answers: list[Answer], all_: bool) -> list[str]:
    """The trade's own findings one by one; those of the published tests in one line, unless all is asked for."""
    lines = [_plain(answer) for answer in answers if all_ or not answer.check.isupper()]
    published = [answer for answer in answers if answer.check.isupper()]
    if published and not all_:
        lines.append(_("published tests: {whys}").format(whys="; ".join(dict.fromkeys(a.why for a in published))))
    return lines


def _plain(answer: Answer) -> str:
    line = f"{answer.check}: {answer.sentence()}"
    return "".join(c if c.isprintable() else " " for c in line)
