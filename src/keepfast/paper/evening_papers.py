"""The papers of an evening as files: the table's sheet and the cards, each as PDF and in plain words."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from keepfast.findings import Finding, FindingsError
from keepfast.paper import cards, pdf, table_sheet
from keepfast.paper import type as type_
from keepfast.paper.page import Page
from keepfast.paper.type import Face, PaperError
from keepfast.paper.wording import camp_words, origin_words, remark_words
from keepfast.plan.objects import EveningPlan
from keepfast.words import _


def files(plan: EveningPlan, paper: str = "a4", learner: bool = False) -> dict[str, bytes]:
    """
    ``table.pdf``, ``table.txt``, ``cards.pdf`` and ``cards.txt``.

    Parameters
    ----------
    paper : str
        a4 or letter.
    learner : bool
        Whether cards have the side that says why, and lines to sign.

    Raises
    ------
    FindingsError
        If something cannot be printed: all such things of all papers at once, each with card and field.
    """
    findings = list(_unwritable(plan))
    if findings:
        raise FindingsError(findings)
    pages: dict[str, list[Page]] = {}
    ways: dict[str, Callable[[], list[Page]]] = {
        "cards": lambda: cards.draw(plan, paper, learner),
        "table": lambda: table_sheet.draw(plan, paper),
    }
    for name, draw in ways.items():
        try:
            pages[name] = draw()
        except FindingsError as problem:
            told = {(finding.subject, finding.read) for finding in findings}
            findings += [one for one in problem.findings if (one.subject, one.read) not in told]
    if findings:
        raise FindingsError(findings)
    made = origin_words(plan)
    return {
        "table.pdf": pdf.render(pages["table"], title=table_sheet.title(plan), subject=made),
        "table.txt": table_sheet.text(plan).encode(),
        "cards.pdf": pdf.render(pages["cards"], title=cards.title(plan), subject=made),
        "cards.txt": cards.text(plan, learner).encode(),
    }


def _unwritable(plan: EveningPlan) -> Iterator[Finding]:
    """What the camp and its animals are called or said to be in letters that the typeface lacks."""
    try:
        type_.check(camp_words(plan), "regular", _("camp"), _("place"))
    except PaperError as problem:
        yield from problem.findings
    for one in plan.animals:
        seen = one.animal
        written: tuple[tuple[str, Face, str], ...] = (
            (seen.field_number, "bold", _("field number")),
            (seen.taxon, "italic", _("taxon")),
            (remark_words(seen.remarks), "regular", _("remarks")),
        )
        for words, face, field in written:
            try:
                type_.check(words, face, seen.field_number, field)
            except PaperError as problem:
                yield from problem.findings
