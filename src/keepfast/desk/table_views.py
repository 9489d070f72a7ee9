"""What the Table and the Evening show: clock, order, trays, fluid, air, what waits, open questions, the check.

Everything is made of ``LiveTable`` and comes out as words and figures; nothing here is drawn or kept.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from keepfast.book.entries import now as this_moment
from keepfast.desk import table_drawing
from keepfast.desk.table_entries import SESSION
from keepfast.desk.table_live import STYLE, LiveTable, Subject
from keepfast.desk.table_state import Key, Slim, moment
from keepfast.paper import svg
from keepfast.paper.figures import clock, day_and_clock, hours, ml, plain_ml
from keepfast.plan.objects import ROUNDS
from keepfast.words import _, ngettext

DEFAULT_TRAY_H = 24.0  # common practice, no published source: no tray is opened sooner unless a plan says so


def days() -> tuple[str, ...]:
    """The days of the week, Monday first, short."""
    return _("Mon"), _("Tue"), _("Wed"), _("Thu"), _("Fri"), _("Sat"), _("Sun")


@dataclass(frozen=True)
class Line:
    """One animal in the order of work."""

    number: str
    states: tuple[str, ...]
    place: str
    here: bool


@dataclass(frozen=True)
class TrayNow:
    """One tray as it stands."""

    number: str
    words: str
    lying: str
    map: str


@dataclass(frozen=True)
class TableNow:
    """Everything on the Table screen."""

    clock_words: str
    where_words: str
    rounds: tuple[str, ...]
    order: tuple[Line, ...]
    trays: tuple[TrayNow, ...]
    facts: tuple[tuple[str, str], ...]
    air: str
    waiting: tuple[str, ...]
    questions: tuple[str, ...]


@dataclass(frozen=True)
class CheckPart:
    """One thing the evening is checked for."""

    key: str
    name: str
    answer: str
    passed: bool
    lines: tuple[str, ...] = ()


@dataclass(frozen=True)
class EveningCheck:
    """The check of the evening."""

    words: str
    parts: tuple[CheckPart, ...]
    signed: str = ""
    ended: str = ""

    @property
    def open_parts(self) -> int:
        """How many things are open."""
        return sum(not part.passed for part in self.parts)

    @property
    def passed(self) -> bool:
        """Whether nothing is open."""
        return all(part.passed for part in self.parts)


def tonight(table: LiveTable) -> list[Subject]:
    """The animals of tonight, those left out not among them."""
    return [table.subjects[s] for s in table.order if table.state.value(s, "left_out") is not True]


def _round_state(table: LiveTable, one: Subject, round_: str) -> str:
    moves = [m for m in table.moves_of(one) if m.round == round_]
    fields = [f.key for f in table.fields_of(one) if f.round == round_]
    if not moves and not fields:
        return "–"
    if table.state.value(one.id, f"round:{round_}") is True:
        return _("done")
    done = sum(table.state.moved(one.id, m.key, round_) for m in moves)
    written = sum(table.state.has(one.id, f) for f in fields)
    if done == 0 and written == 0:
        return _("open")
    if moves and done == len(moves) and written >= len(fields):
        return _("done")
    return _("{done} of {all}").format(done=done + written, all=len(moves) + len(fields))


def current(table: LiveTable) -> tuple[str, Subject, str] | None:
    """What the hands do next: round, animal and move."""
    for round_ in ROUNDS:
        for subject in table.trays if round_ == "cover" else table.state.order(table.order, round_):
            one = table.subjects[subject]
            for move in table.moves_of(one):
                if move.round == round_ and not table.state.moved(subject, move.key, round_):
                    return round_, one, move.what
    return None


def _named(one: Subject) -> str:
    return _("Tray {number}").format(number=one.number) if one.is_tray else one.number


def _share_done(table: LiveTable, round_: str) -> float:
    moves = [(one.id, m.key) for one in tonight(table) for m in table.moves_of(one) if m.round == round_]
    return sum(table.state.moved(s, k, round_) for s, k in moves) / len(moves) if moves else 1.0


def ahead_minutes(table: LiveTable, at: datetime.datetime) -> float | None:
    """How many minutes the table is ahead of its plan (behind: below 0); ``None`` before it has begun or unplanned.

    What was planned to have passed by now is read off the plan's clock, round by round, with the share of moves done
    in the round that is under way; pauses do not count.
    """
    first = table.state.first
    lines = [m for m in table.plan.clock if m.get("round") in ROUNDS and m.get("field_numbers")]
    if first is None or not lines or table.plan.start is None:
        return None
    starts = {str(m["round"]): float(m["minutes"]) for m in lines}
    names = [r for r in ROUNDS if r in starts]
    total = float(next((m["minutes"] for m in table.plan.clock if not m.get("round")), table.plan.minutes))
    planned = 0.0
    for place, name in enumerate(names):
        end = starts[names[place + 1]] if place + 1 < len(names) else total
        if name == "cover":
            closed = [table.state.has(t, "covered") for t in table.trays]
            share = sum(closed) / len(closed) if closed else 0.0
        else:
            share = _share_done(table, name)
        planned += share * (end - starts[name])
    spent = (at - moment(first)).total_seconds() / 60 - table.state.paused_minutes(at)
    return planned - spent


def _clock_words(table: LiveTable, at: datetime.datetime) -> str:
    ended = table.state.ended()
    if ended is not None:
        return _("Ended at {time} by {name}").format(time=clock(moment(ended).astimezone()), name=ended["who"])
    paused = table.state.paused()
    if paused is not None:
        return _("Paused since {time}").format(time=clock(moment(paused).astimezone()))
    ahead = ahead_minutes(table, at)
    if table.state.first is None:
        return _("Not begun")
    if ahead is None:
        return _("Begun at {time}").format(time=clock(moment(table.state.first).astimezone()))
    minutes = round(abs(ahead))
    if minutes < 5:
        return _("On time")
    if ahead > 0:
        return ngettext("{n} minute ahead of the plan", "{n} minutes ahead of the plan", minutes).format(n=minutes)
    return ngettext("{n} minute behind the plan", "{n} minutes behind the plan", minutes).format(n=minutes)


def delivered_ml(table: LiveTable) -> float:
    """Fixative written as delivered into animals so far."""
    values = [table.state.value(s, "delivered_ml") for s in table.order]
    return float(sum(v for v in values if isinstance(v, int | float) and not isinstance(v, bool)))


def sheets_ml(table: LiveTable) -> float:
    """Fixative written as wetted into sheets so far."""
    values = [table.state.value(t, "sheets_ml") for t in table.trays]
    return float(sum(v for v in values if isinstance(v, int | float) and not isinstance(v, bool)))


def _facts(table: LiveTable, at: datetime.datetime) -> Iterable[tuple[str, str]]:
    into, onto = delivered_ml(table), sheets_ml(table)
    yield _("Fixative into animals"), ml(into) if into else _("none yet")
    yield _("Fixative onto sheets"), ml(onto) if onto else _("none yet")
    bottle = table.state.value(SESSION, "bottle")
    yield _("Bottle"), bottle_words(table, str(bottle)) if bottle else _("not named yet")
    if table.plan.fixative_ml:
        yield _("Planned for all"), ml(table.plan.fixative_ml)
    opened = [
        moment(said)
        for (_subject, field), said in table.state.latest.items()
        if field == "delivered_ml" and said["value"] not in (None, False)
    ]
    if opened:
        since = max((at - min(opened)).total_seconds() / 60 - table.state.paused_minutes(at), 0.0)
        yield _("Fixative open for"), hours(since / 60)
        yield from _air(table, since)


def bottle_words(table: LiveTable, bottle: str) -> str:
    """A bottle by its name and the moment it was mixed."""
    one = table.bottles().get(bottle)
    if one is None:
        return _("not known")
    if not one["mixed_at"]:
        return one["name"]
    mixed = day_and_clock(datetime.datetime.fromisoformat(one["mixed_at"]))
    return _("{name}, mixed {when}").format(name=one["name"], when=mixed)


def fillings(table: LiveTable) -> dict[str, list[str]]:
    """Who was filled out of which bottle: id of the bottle, empty where none was named, to numbers."""
    found: dict[str, list[str]] = {}
    for one in tonight(table):
        said = table.state.latest.get((one.id, "delivered_ml"))
        if said is not None and said["value"] not in (None, False):
            found.setdefault(str(said.get("batch") or ""), []).append(one.number)
    return found


def air_so_far_ppm(table: LiveTable, open_minutes: float) -> tuple[float, float, float] | None:
    """The air breathed so far as an average over 8 h at the face: middle, low, high; ``None`` where no plan says it.

    The plan reckons the average for its own time with open fixative; so far means that share of it by the minutes the
    fixative has really been open, more than all of it when the table runs late (an assumption: an even level).
    """
    tasks = (table.plan.raw.get("table") or {}).get("minutes_by_task") or {}
    planned = sum(float(tasks.get(task) or 0.0) for task in ("fill", "pose", "cover"))
    for one in table.plan.air.get("exposures") or ():
        if one.get("where") == "near" and one.get("minutes") == 480 and planned > 0:
            share = open_minutes / planned
            ppm = one["ppm"]
            return ppm["value"] * share, ppm["low"] * share, ppm["high"] * share
    return None


def _air(table: LiveTable, open_minutes: float) -> Iterable[tuple[str, str]]:
    far = air_so_far_ppm(table, open_minutes)
    if far is not None:
        middle, low, high = (f"{float(f'{value:.2g}'):g}" for value in far)
        name = _("Air at the face so far, reckoned over 8 h")
        yield name, _("{middle} ppm ({low} to {high})").format(middle=middle, low=low, high=high)


def lying(table: LiveTable, tray_id: str) -> list[tuple[int, Subject]]:
    """Who lies in a tray by what was written: place and animal, in the order of places."""
    found = []
    for subject in table.order:
        said = table.state.latest.get((subject, "place"))
        if said is not None and said["value"] and said.get("tray") == tray_id:
            found.append((int(str(said["value"]).split()[-1]), table.subjects[subject]))
    return sorted(found, key=lambda pair: pair[0])


def tray_hours(table: LiveTable, tray_id: str) -> float:
    """How long the animals of a tray need in it: the longest of them."""
    inside = [one for _place, one in lying(table, tray_id)]
    known = [one.plan.tray_h for one in inside if one.plan is not None and one.plan.tray_h > 0]
    planned = [a.tray_h for a in table.plan.animals if str(a.tray) == table.subjects[tray_id].number and a.tray_h > 0]
    return max([*known, *planned], default=DEFAULT_TRAY_H)


def _tray_now(table: LiveTable, tray_id: str, at: datetime.datetime) -> TrayNow:
    tray = table.subjects[tray_id]
    parts = []
    covered = table.state.latest.get((tray_id, "covered"))
    if covered is not None and covered["value"]:
        since = moment(covered)
        out = since + datetime.timedelta(hours=tray_hours(table, tray_id))
        passed = (at - since).total_seconds() / 3600
        parts.append(_("Closed at {time}, {passed} ago.").format(time=clock(since.astimezone()), passed=hours(passed)))
        if at < out:
            left = hours((out - at).total_seconds() / 3600)
            parts.append(_("Earliest out {day} {time}, in {left}.").format(
                day=days()[out.astimezone().weekday()], time=clock(out.astimezone()), left=left))  # fmt: skip
        else:
            parts.append(_("It may be opened now."))
    else:
        parts.append(_("Not closed yet."))
    readings = table.state.readings.get(tray_id, [])
    if readings:
        last = max(readings, key=lambda said: said["order_ms"])
        parts.append(
            _("{temperature} °C at {time}.").format(temperature=last["text"], time=clock(moment(last).astimezone()))
        )
    inside = lying(table, tray_id)
    words = ", ".join(f"{place} {one.number}" for place, one in inside)
    return TrayNow(
        tray.number, " ".join(parts), _("Lying in it: {who}.").format(who=words) if inside else "", _map(table, tray)
    )


def _map(table: LiveTable, tray: Subject) -> str:
    """The tray as planned, drawn as it lies: solid who lies there, dashed who is still to come."""
    if tray.tray is None:
        return ""
    laid = {one.number for _place, one in lying(table, tray.id)}
    inside = [one for number in tray.tray.numbers if (one := table.plan.of(number)) is not None]
    page = table_drawing.draw_tray(tray.tray, inside, laid)
    return STYLE.sub("", svg.render(page, fonts=False, standalone=False))


def question_words(table: LiveTable, key: Key, said: Slim, clash: Slim | None) -> str:
    """An open question in one line."""
    subject, name = key
    spec = table.rules.field(name)
    number = _named(table.subjects[subject]) if subject in table.subjects else subject
    what = _(spec.words) if spec is not None else name
    unit = f" {spec.unit}" if spec is not None and spec.unit else ""
    if clash is not None:
        return _("{number}, {what}: {one}{unit} by {who}, {other}{unit} by {whom}").format(
            number=number,
            what=what,
            one=said["text"],
            unit=unit,
            who=said["who"],
            other=clash["text"],
            whom=clash["who"],
        )
    return _("{number}, {what}: {value}{unit}. {question}").format(
        number=number,
        what=what,
        value=said["text"],
        unit=unit,
        question=said.get("asked_words") or said.get("asked") or "",
    )


def _waiting(table: LiveTable) -> Iterable[str]:
    for number, why in table.plan.waiting:
        yield f"{number}: {why}" if why else number
    for subject in table.order:
        if table.state.value(subject, "left_out") is True:
            why = table.state.latest[(subject, "left_out")]["text"]
            number = table.subjects[subject].number
            yield _("{number}: left out tonight. {why}").format(number=number, why=why).strip()


def table_now(table: LiveTable, at: datetime.datetime | None = None) -> TableNow:
    """Everything on the Table screen, as of one moment."""
    at = at or this_moment()
    with table.lock:
        here = current(table)
        order = tuple(
            Line(
                one.number,
                tuple(_round_state(table, one, r) for r in ROUNDS if r != "cover"),
                str(table.state.value(one.id, "place") or ""),
                here is not None and one.id == here[1].id,
            )
            for one in tonight(table)
        )
        where = (
            _("All rounds are done.")
            if here is None
            else _("{round}, {number}: {what}").format(
                round=_(table.rules.rounds[here[0]]), number=_named(here[1]), what=here[2]
            )
        )
        return TableNow(
            _clock_words(table, at),
            where if table.order else _("No animal yet."),
            tuple(_(table.rules.short[r]) for r in ROUNDS if r != "cover"),
            order,
            tuple(_tray_now(table, t, at) for t in table.trays),
            tuple(_facts(table, at)),
            " ".join(map(str, (*table.plan.air.get("urgent", ()), table.plan.air.get("line") or ""))),
            tuple(_waiting(table)),
            tuple(question_words(table, *one) for one in table.state.open_questions()),
        )


def _all_have(table: LiveTable, key: str, field: str, name: str, animals: Iterable[Subject]) -> CheckPart:
    missing = [one.number for one in animals if not table.state.has(one.id, field)]
    if not missing:
        return CheckPart(key, name, _("yes, all"), True)
    words = ngettext("{n} animal is open", "{n} animals are open", len(missing)).format(n=len(missing))
    return CheckPart(key, name, words, False, (", ".join(missing),))


def evening_check(table: LiveTable) -> EveningCheck:
    """The check of the evening: tags, tissue before fixative, photographs, tray places, trays, numbers, questions."""
    with table.lock:
        animals = tonight(table)
        asked = {one.id: {f.key for f in table.fields_of(one)} for one in animals}
        parts = [
            _all_have(table, "tagged", "tag", _("Every animal tagged"), animals),
            _all_have(
                table, "photographed", "photographed", _("Photographed"),
                [one for one in animals if "photographed" in asked[one.id]],
            ),
            _tissue(table, [one for one in animals if "tissue" in asked[one.id]]),
            _all_have(
                table, "placed", "place", _("A place in a tray"), [one for one in animals if "place" in asked[one.id]]
            ),
            _bottles(table),
            _trays_closed(table),
            _twins(table),
            _questions(table),
        ]  # fmt: skip
        open_ = sum(not part.passed for part in parts)
        words = (
            _("Nothing is open.")
            if open_ == 0
            else ngettext("{n} thing is open.", "{n} things are open.", open_).format(n=open_)
        )
        return EveningCheck(words, tuple(parts), _signed(table), ended_words(table))


def ended_words(table: LiveTable) -> str:
    """That the evening is over, by whom, and why with things open; empty while it goes on."""
    ended = table.state.ended()
    if ended is None:
        return ""
    words = _("Ended at {time} by {name}").format(time=clock(moment(ended).astimezone()), name=ended["who"])
    return f"{words}: {ended['text']}" if ended["text"] else words


def _bottles(table: LiveTable) -> CheckPart:
    name = _("Every filling with its bottle")
    filled = fillings(table)
    missing = filled.pop("", [])
    if missing:
        words = ngettext("{n} animal is open", "{n} animals are open", len(missing)).format(n=len(missing))
        return CheckPart("bottles", name, words, False, (", ".join(missing),))
    return CheckPart("bottles", name, _("yes, all") if filled else _("nothing was filled"), True)


def _tissue(table: LiveTable, animals: Iterable[Subject]) -> CheckPart:
    late, missing = [], []
    for one in animals:
        taken = table.state.latest.get((one.id, "tissue"))
        filled = table.state.latest.get((one.id, "delivered_ml"))
        if taken is None or taken["value"] in (None, False):
            missing.append(one.number)
        elif filled is not None and filled["value"] and _first_moment(table, one.id, "delivered_ml") < moment(taken):
            late.append(one.number)
    lines = []
    if late:
        lines.append(_("After the fixative: {who}").format(who=", ".join(late)))
    if missing:
        lines.append(_("No tissue: {who}").format(who=", ".join(missing)))
    answer = _("yes, all") if not lines else ngettext(
        "{n} animal is open", "{n} animals are open", len(late) + len(missing)
    ).format(n=len(late) + len(missing))  # fmt: skip
    return CheckPart("tissue", _("Tissue before fixative"), answer, not lines, tuple(lines))


def _first_moment(table: LiveTable, subject: str, field: str) -> datetime.datetime:
    said = table.state.latest[(subject, field)]
    root = said.get("root")
    first = table.state.roots.get(root) if root else None
    return moment(first or said)


def _trays_closed(table: LiveTable) -> CheckPart:
    name = _("Trays closed")
    used = [t for t in table.trays if lying(table, t) or table.subjects[t].tray is not None]
    missing = [table.subjects[t].number for t in used if not table.state.has(t, "covered")]
    if missing:
        return CheckPart("trays", name, _("open: {which}").format(which=", ".join(missing)), False)
    return CheckPart("trays", name, _("yes, all") if used else _("no tray was used"), True)


def _twins(table: LiveTable) -> CheckPart:
    name = _("One animal to each number")
    by_number: dict[str, int] = {}
    for one in tonight(table):
        by_number[one.number] = by_number.get(one.number, 0) + 1
    twins = [n for n, count in by_number.items() if count > 1]
    for one in tonight(table):
        if one.added and one.number not in twins and len(table.book.by_label("animal", one.number)) > 1:
            twins.append(one.number)
    if not twins:
        return CheckPart("twins", name, _("yes"), True)
    kept = all(_twin_kept(table, number) for number in twins)
    answer = _("kept with a reason: {which}") if kept else _("twice: {which}")
    return CheckPart("twins", name, answer.format(which=", ".join(twins)), kept)


def _twin_kept(table: LiveTable, number: str) -> bool:
    added = [one for one in tonight(table) if one.number == number and one.added]
    return any(said["id"] in table.state.answers for one in added if (said := table.state.added.get(one.id)))


def _questions(table: LiveTable) -> CheckPart:
    lines = tuple(question_words(table, *one) for one in table.state.open_questions())
    answer = _("none") if not lines else ngettext("{n} open", "{n} open", len(lines)).format(n=len(lines))
    return CheckPart("questions", _("Open questions"), answer, not lines, lines)


def _signed(table: LiveTable) -> str:
    if not table.state.signatures:
        return ""
    last = max(table.state.signatures.values(), key=lambda said: (said["order_ms"], said["id"]))
    return _("Signed by {name} at {time}: {words}").format(
        name=last["value"], time=clock(moment(last).astimezone()), words=last["text"]
    )


def done_words(table: LiveTable, one: Subject, field: str) -> str:
    """What stands for a field, with its unit; empty where nothing does."""
    said = table.state.latest.get((one.id, field))
    spec = table.rules.field(field)
    if said is None or spec is None or said["value"] in (None, False):
        return ""
    if spec.ask in ("done", "tag"):
        return clock(moment(said).astimezone())
    if spec.ask == "choice":
        return _(spec.choices[said["value"]])
    return f"{said['text']} {spec.unit}".strip()


def planned_words(one: Subject, field: str, unit: str) -> str:
    """What was planned or listed for a field, with its unit; empty where nothing was."""
    if one.plan is None:
        return ""
    value: Any = one.plan.planned.get(field, one.plan.listed.get(field))
    if value is None:
        return ""
    if isinstance(value, str):
        return _(value)
    return f"{plain_ml(value) if unit == 'mL' else f'{value:g}'} {unit}".strip()
