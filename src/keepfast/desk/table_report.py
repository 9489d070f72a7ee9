"""The evening on paper, out of the table as it stands: what was planned, what was done, who did it."""

from __future__ import annotations

from collections.abc import Iterable

from keepfast import __version__
from keepfast.desk.table_live import LiveTable, Subject
from keepfast.desk.table_state import Slim, moment
from keepfast.desk.table_views import (
    bottle_words,
    delivered_ml,
    done_words,
    ended_words,
    evening_check,
    fillings,
    planned_words,
    question_words,
    sheets_ml,
    tonight,
    tray_hours,
)
from keepfast.paper.evening_report import Report, Row, Section, render
from keepfast.paper.figures import clock, day_and_clock, hours, ml
from keepfast.words import _, current_language, ngettext


def evening_report(table: LiveTable) -> Report:
    """All that is printed."""
    with table.lock:
        check = evening_check(table)
        return Report(
            title=_("What was done this evening"),
            facts=tuple(_facts(table)),
            people=tuple(_people(table)),
            animals=tuple(_animal(table, one) for one in tonight(table)),
            trays=tuple(_tray(table, table.subjects[t]) for t in table.trays),
            check=tuple((part.name, part.answer, part.lines) for part in check.parts),
            kept=tuple(_kept(table)),
            signed=tuple(_signatures(table)),
            origin=_("Keepfast {version}, book {book}, evening {evening}, {n} entries").format(
                version=__version__, book=table.book.id[:8], evening=table.evening[:8], n=table.state.count
            ),
        )


def evening_pdf(table: LiveTable, paper: str = "a4") -> bytes:
    """The report as PDF."""
    return render(evening_report(table), paper, {"en": "en-GB"}.get(current_language(), current_language()))


def _facts(table: LiveTable) -> Iterable[tuple[str, str]]:
    first = table.state.first
    if table.plan.start is not None:
        yield _("Planned start"), day_and_clock(table.plan.start)
    if first is not None:
        last = max((said for said in table.state.latest.values()), key=moment)
        yield _("First entry"), day_and_clock(moment(first))
        yield _("Last entry"), day_and_clock(moment(last))
        rested = table.state.paused_minutes(moment(last))
        if rested >= 1:
            yield _("Rested"), hours(rested / 60)
    planned = table.plan.fixative_ml
    used = delivered_ml(table) + sheets_ml(table)
    words = _("{used}, of {planned} planned").format(used=ml(used), planned=ml(planned)) if planned else ml(used)
    yield _("Fixative used"), words
    for bottle, numbers in fillings(table).items():
        told = bottle_words(table, bottle) if bottle else _("no bottle was named")
        yield _("Filled from"), f"{told}: {', '.join(numbers)}"
    if table.state.ended() is not None:
        yield _("Evening"), ended_words(table)


def _people(table: LiveTable) -> Iterable[str]:
    for (who, under), count in sorted(table.state.by_person.items()):
        entries = ngettext("{n} entry", "{n} entries", count).format(n=count)
        if under:
            yield _("{who}, learning under the eyes of {under}: {entries}").format(
                who=who, under=under, entries=entries
            )
        else:
            yield f"{who}: {entries}"
    for said in sorted(table.state.handed_over.values(), key=lambda s: (s["order_ms"], s["id"])):
        words = _("{time}: handed over to {who}").format(time=clock(moment(said)), who=said["value"])
        if said.get("under"):
            words += ", " + _("under the eyes of {under}").format(under=said["under"])
        yield words


def _by(said: Slim) -> str:
    words = f"{said['who']}, {clock(moment(said))}"
    if said.get("under"):
        words += ", " + _("under {under}").format(under=said["under"])
    if said.get("root"):
        words += ", " + _("corrected")
    return words


def _rows(table: LiveTable, one: Subject) -> Iterable[Row]:
    for spec in table.fields_of(one):
        said = table.state.latest.get((one.id, spec.key))
        words = _(spec.words_by_form.get(one.form, spec.words))
        done = done_words(table, one, spec.key)
        planned = planned_words(one, spec.key, spec.unit)
        if one.tray is not None and spec.key == "sheets_ml":
            planned = ml(one.tray.sheets_ml)
        if said is None and not planned and spec.key == "remark":
            continue  # nobody has to remark on anything
        if said is None and not planned:
            yield Row(words, "", _("open"), "")
            continue
        yield Row(words, planned, done or _("open"), _by(said) if said is not None and done else "", bool(
            said is not None and said.get("asked") == "far_from_plan"))  # fmt: skip


def _notes(table: LiveTable, one: Subject) -> Iterable[str]:
    moves = [m for m in table.moves_of(one)] if not one.is_tray else []
    left = [m.what for m in moves if not table.state.moved(one.id, m.key, m.round)]
    if moves and left:
        yield _("Steps done: {done} of {all}. Open: {left}").format(
            done=len(moves) - len(left), all=len(moves), left="; ".join(left[:6]) + ("; …" if len(left) > 6 else "")
        )
    elif moves:
        yield _("Steps done: all {all}.").format(all=len(moves))
    if one.plan is not None and not one.plan.fit_for_fluid:
        yield _("Not for fluid by the plan.")
    if one.added:
        yield _("Came to the table without a plan.")


def _animal(table: LiveTable, one: Subject) -> Section:
    return Section(one.number, one.taxon, tuple(_rows(table, one)), tuple(_notes(table, one)))


def _tray(table: LiveTable, one: Subject) -> Section:
    notes = []
    readings = sorted(table.state.readings.get(one.id, []), key=lambda s: (s["order_ms"], s["id"]))
    if readings:
        series = ", ".join(f"{said['text']} °C {clock(moment(said))}" for said in readings)
        notes.append(_("Readings: {series}").format(series=series))
    notes.append(_("Time in the tray: {time} at least").format(time=hours(tray_hours(table, one.id))))
    rows = tuple(row for row, spec in zip(_rows(table, one), table.fields_of(one), strict=True) if not spec.repeats)
    return Section(_("Tray {number}").format(number=one.number), "", rows, tuple(notes))


def _kept(table: LiveTable) -> Iterable[str]:
    for key, said in table.state.latest.items():
        answer = table.state.answers.get(said["id"])
        if answer is not None:
            question = question_words(table, key, said, None)
            yield _("{question} Kept by {who}: {reason}").format(
                question=question, who=answer["who"], reason=answer["text"]
            )


def _signatures(table: LiveTable) -> Iterable[str]:
    for said in sorted(table.state.signatures.values(), key=lambda s: (s["order_ms"], s["id"])):
        yield _("{name}, {time}: {words}").format(
            name=said["value"], time=day_and_clock(moment(said)), words=said["text"] or _("what was done this evening")
        )
