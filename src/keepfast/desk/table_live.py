"""What the live screens ask of a book: tonight's table, what was said at it, what is safe, what is open.

``LiveTable`` is made of an open book and, where there is one, a plan. It lays the evening out in the book (animals,
trays, what was planned), takes what the screens say, and answers them. An entry is named as stored only when the book
has it on the disk.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from keepfast.book.entries import Entry, new_id, now
from keepfast.book.kinds import findings_of
from keepfast.book.number_blocks import split_number, written
from keepfast.book.numbers import check_character
from keepfast.desk import table_drawing
from keepfast.desk.books import Book
from keepfast.desk.evening import plan_of, waiting
from keepfast.desk.table_entries import Evening, PenField, PenRules, Said, entry_of, read_pen, said_of
from keepfast.desk.table_plan import (
    FILLINGS_SHOWN_ONE_BY_ONE,
    Move,
    PlannedAnimal,
    PlannedTray,
    TonightsPlan,
    read_plan,
)
from keepfast.desk.table_state import Slim, TableState
from keepfast.findings import Finding, FindingsError
from keepfast.paper import svg
from keepfast.paper.figures import plain_ml
from keepfast.plan.objects import ROUNDS
from keepfast.science.mass import mass_line
from keepfast.terms import FORMS
from keepfast.words import _, current_language

CHUNK = 2000
STYLE = re.compile(r' style="[^"]*"')
# A pair of mass and length further from the published line than this is a slip, as the plan judges it too.
SLIP_SD = 3.0
GRID_POINTS = 24
FORM_WORDS = {
    "lizard": "lizard",
    "legless_lizard": "legless lizard",
    "snake": "snake",
    "amphisbaenian": "amphisbaenian",
    "turtle": "turtle",
    "crocodilian": "crocodilian",
    "frog": "frog",
    "salamander": "salamander",
    "caecilian": "caecilian",
    "larva": "larva",
    "egg_clutch": "egg clutch",
}


@dataclass(frozen=True)
class Outcome:
    """What became of one thing said: stored on the disk, or refused with the reason."""

    id: str
    stored: bool
    words: str = ""


@dataclass(frozen=True)
class Subject:
    """An animal or a tray of tonight, under the id the book knows it by."""

    id: str
    number: str
    form: str = ""
    taxon: str = ""
    plan: PlannedAnimal | None = None
    tray: PlannedTray | None = None
    added: bool = False

    @property
    def is_tray(self) -> bool:
        """Whether it is a tray."""
        return self.form == ""


class LiveTable:
    """Tonight's table in a book. Safe to share among threads.

    Parameters
    ----------
    book
        An open book that can be written.
    plan
        The evening's plan; without it the newest evening of the book is taken up, or a bare one begun.
    pen
        What the pen asks, and when it asks back.
    checked
        Whether the tags carry a check character.
    """

    def __init__(
        self, book: Book, plan: TonightsPlan | None = None, pen: PenRules | None = None, *, checked: bool = True
    ) -> None:
        self.book = book
        self.rules = pen or read_pen()
        self.checked = checked
        self.lock = threading.RLock()
        self.subjects: dict[str, Subject] = {}
        self.order: list[str] = []
        self.trays: list[str] = []
        self.evening = ""
        self.session = ""
        self.plan = plan or TonightsPlan()
        self._drawings: dict[tuple[str, str, str], str] = {}
        if plan is None and not self._take_up():
            self._lay_out(self.plan)
        elif plan is not None:
            self._lay_out(plan)
        self.state = TableState(self.rules)
        self.cursor = 0
        self.news()

    # Laying out

    def _take_up(self) -> bool:
        """Go on with the newest evening of the book that has a plan."""
        document = plan_of(self.book)
        if document is None or not document["animals"] or not isinstance(document["table"].get("order"), list):
            return False
        mark = str(document["origin"].get("plan") or "")
        self.plan = read_plan(document, self.book.path.name, mark)
        self._lay_out(self.plan, self.book.state("evening", document["evening"]))
        return True

    def _lay_out(self, plan: TonightsPlan, evening: Mapping[str, Any] | None = None) -> None:
        if evening is None and plan.sha256:
            same = [e for e in self.book.things("evening") if (e.get("origin") or {}).get("plan") == plan.sha256]
            evening = same[-1] if same else None
        if evening is None and not plan.sha256:
            open_ones = [e for e in self.book.things("evening") if not (e.get("origin") or {}).get("plan")]
            evening = open_ones[-1] if open_ones and self._session_of(open_ones[-1]["id"]) else None
        self.evening = evening["id"] if evening is not None else new_id()
        make: list[Entry] = []
        for animal in plan.animals:
            self._lay_out_animal(animal, make, fresh=evening is None)
        if not plan.animals:
            self._lay_out_unplanned()
        if evening is None:
            make.append(self._evening_entry(plan))
        known = {str(t.get("number")): t for t in self.book.things("tray") if t.get("evening") == self.evening}
        for tray in plan.trays:
            tray_id = known[tray.number]["id"] if tray.number in known else new_id()
            if tray.number not in known:
                content = {
                    "number": tray.number,
                    "evening": self.evening,
                    "width_mm": tray.width_mm,
                    "height_mm": tray.height_mm,
                }
                make.append(self.book.entry("tray", content, id=tray_id))
            self._add(Subject(tray_id, tray.number, tray=tray))
        for number, state in known.items():
            if state["id"] not in self.subjects:
                self._add(Subject(state["id"], number))
        self.session = self._session_of(self.evening)
        if not self.session:
            self.session = new_id()
            name = f"{now():%Y-%m-%d %H:%M}"
            make.append(self.book.entry("session", {"name": name, "evening": self.evening}, id=self.session))
        self.book.append(make)

    def _lay_out_animal(self, animal: PlannedAnimal, make: list[Entry], *, fresh: bool) -> None:
        same = [a for a in self.book.by_label("animal", animal.number) if a.get("field_number") == animal.number]
        animal_id = same[-1]["id"] if same else new_id()
        if not same:
            content: dict[str, Any] = {"field_number": animal.number, "form": animal.form}
            for name in ("sex", "stage", "condition", "gut", "reproductive_state", "died_at", "count"):
                if animal.raw.get(name):
                    content[name] = animal.raw[name]
            make.append(self.book.entry("animal", content, id=animal_id))
            if animal.taxon:
                make.append(self.book.entry("determination", {"animal": animal_id, "taxon": animal.taxon}))
            values = {n: v for n, v in animal.listed.items() if not isinstance(v, str)}
            if values:
                make.append(self.book.entry("measurement", {"animal": animal_id, "values": values, "how": "list"}))
        if fresh:
            planned: dict[str, Any] = {"animal": animal_id, "plan": dict(animal.raw), "evening": self.evening}
            planned["origin"] = {**(self.plan.raw.get("origin") or {}), "plan": self.plan.sha256}
            for name in ("total_ml", "total_low_ml", "total_high_ml"):
                if isinstance(animal.raw.get(name), int | float):
                    planned[name] = animal.raw[name]
            make.append(self.book.entry("preparation_planned", planned))
        self._add(Subject(animal_id, animal.number, animal.form, animal.taxon, plan=animal))

    def _lay_out_unplanned(self) -> None:
        """Without a plan: every animal of the book that has been neither fixed nor laid away."""
        for state in self.book.animal_states():
            if not waiting(state):
                continue
            form = state.get("form") or "lizard"
            self._add(Subject(state["id"], state.get("field_number") or "?", form, state.get("taxon") or ""))

    def _evening_entry(self, plan: TonightsPlan) -> Entry:
        day = (plan.start or now()).date().isoformat()
        content: dict[str, Any] = {
            "name": _("Evening of {day}").format(day=day),
            "day": day,
            "animals": list(self.order),
        }
        if plan.sha256:
            origin = {**(plan.raw.get("origin") or {}), "plan": plan.sha256}
            content.update(plan=dict(plan.raw["table"]), origin=origin)
            for name in ("protocol", "camp"):
                if isinstance(plan.raw.get(name), Mapping):
                    content[name] = dict(plan.raw[name])
        return self.book.entry("evening", content, id=self.evening)

    def _session_of(self, evening: str) -> str:
        for session in reversed(self.book.things("session")):
            ended = any(c.get("change") == "ended" for c in session.get("changes") or ())
            if session.get("evening") == evening and not ended:
                return str(session["id"])
        return ""

    def _add(self, subject: Subject) -> None:
        if subject.id not in self.subjects:
            (self.trays if subject.is_tray else self.order).append(subject.id)
        self.subjects[subject.id] = subject

    # Writing

    def append(self, said: Sequence[Said]) -> list[Outcome]:
        """Write what was said. Each is named as stored only when it is on the disk; sending twice does no harm.

        Raises
        ------
        FindingsError
            If the book cannot be written now (a full disk, a busy file); then nothing of it was stored.
        """
        outcomes: dict[str, Outcome] = {}
        make: list[Entry] = []
        unique = {one.id: one for one in said}
        with self.book.reading() as reads:
            known = {one.id: reads.fact(one.id) for one in unique.values()}
        for one in unique.values():
            before = known[one.id]
            if before is not None:
                table = (before.content.get("verbatim") or {}).get("table")
                same = table == one.table() and before.order_ms == one.order_ms
                words = "" if same else _("this id stands for another entry already")
                outcomes[one.id] = Outcome(one.id, same, words)
                continue
            try:
                entry = entry_of(one, self.rules, self._evening_of(one))
                found = findings_of(entry)
                if found:
                    raise FindingsError(found)
            except (FindingsError, ValueError) as problem:
                outcomes[one.id] = Outcome(one.id, False, _words_of(problem))
                continue
            make.append(entry)
        if make:
            self.book.append(make)
        outcomes.update({entry.id: Outcome(entry.id, True) for entry in make})
        return [outcomes[one.id] for one in said]

    def _evening_of(self, said: Said) -> Evening:
        if said.evening is None or said.evening == self.evening:
            return Evening(self.evening, self.session)
        if self.book.state("evening", said.evening) is None:
            # The same laptop may serve another book at the same address; what belongs there must not land here.
            raise FindingsError(
                [
                    Finding(
                        _("this was written for another book"),
                        _("Save it to a file here, and take it in where that book is open."),
                        field="evening",
                    )
                ]
            )
        return Evening(said.evening, None)  # a device that comes back with what it held of another night

    def news(self) -> list[Slim]:
        """What the screens must hear: all that came into the book since the last call, by whatever way."""
        told: list[Slim] = []
        with self.lock:
            while True:
                fresh = self.book.read_since(self.cursor, CHUNK)
                for one in fresh:
                    self.cursor = one.sequence
                    verbatim = one.entry.content.get("verbatim")
                    if not isinstance(verbatim, Mapping) or verbatim.get("evening") != self.evening:
                        continue
                    said = said_of(one.entry, one.sequence)
                    if said is not None:
                        self._welcome(said)
                        told.extend(self.state.take(said))
                if len(fresh) < CHUNK:
                    return told

    def news_to(self) -> tuple[list[Slim], int]:
        """The same, with the place in the book up to which it was read."""
        with self.lock:
            return self.news(), self.cursor

    def _welcome(self, said: Slim) -> None:
        subject = said["subject"]
        if subject in self.subjects:
            return
        if said["field"] == "animal" and said["value"] in FORMS:
            self._add(Subject(subject, said.get("number") or "?", said["value"], said["text"], added=True))
        elif said["field"] == "new_tray":
            self._add(Subject(subject, said.get("number") or "?", added=True))

    def bottles(self) -> dict[str, dict[str, str]]:
        """The bottles of fixative that the book knows: id to name and moment of mixing, as far as it is known."""
        return {
            one["id"]: {"name": str(one.get("name") or "?"), "mixed_at": str(one.get("mixed_at") or "")}
            for one in self.book.things("batch")
            if one.get("fluid", self.rules.bottle_fluid) == self.rules.bottle_fluid
        }

    def set_aside(self, device: str, count: int) -> list[dict[str, str]]:
        """Numbers of the book's series that this device alone may give out; none where the book has no series."""
        series = [s for s in self.book.things("series") if (s.get("use") or "animal") == "animal"]
        if not series:
            return []
        try:
            first, last = (split_number(n) for n in self.book.reserve(series[-1]["id"], count, device=device))
        except FindingsError:
            return []
        if first is None or last is None:
            return []
        numbers = [written(series[-1], n) for n in range(first[1], last[1] + 1)]
        return [{"number": number, "check": self.check_of(number)} for number in numbers]

    # Answering

    def check_of(self, number: str) -> str:
        """The check character of a number, empty where its series has none."""
        if not self.checked:
            return ""
        try:
            return check_character(number)
        except ValueError:
            return ""

    def fields_of(self, subject: Subject) -> list[PenField]:
        """What the pen asks of this animal or tray: what its form has, and what was planned for it."""
        if subject.is_tray:
            return [f for f in self.rules.fields if f.round == "cover"]
        fields = [f for f in self.rules.fields if f.round != "cover" and f.suits(subject.form)]
        plan = subject.plan
        if plan is None:
            return fields
        if not plan.fit_for_fluid:
            return [f for f in fields if f.round == "before"]
        if not plan.pricks:
            fields = [f for f in fields if f.round != "prick"]
        if not plan.injections:
            fields = [f for f in fields if f.round != "fill"]
        return fields

    def moves_of(self, subject: Subject) -> Sequence[Move]:
        """What the hands do to this animal or tray; one move for each round where nothing was planned."""
        if subject.is_tray:
            planned = subject.tray.moves if subject.tray is not None else ()
            return planned or (Move("cover/all", "cover", _(self.rules.rounds["cover"])),)
        if subject.plan is not None and subject.plan.moves:
            return subject.plan.moves
        return _bare_moves(self.rules, subject.form)

    def table(self, *, moves_told: bool = True) -> dict[str, Any]:
        """All that a screen needs to go on alone: rounds, fields, animals, moves, and what was said so far.

        Only the hands read what a move says; the other screens get its name and round, and are there sooner.
        """
        with self.lock:
            subjects = {one.id: self._subject(one, moves_told) for one in self.subjects.values()}
            return {
                "seq": self.cursor,
                "book": self.book.id,
                "evening": self.evening,
                "rounds": [
                    {"key": key, "words": _(self.rules.rounds[key]), "short": _(self.rules.short[key])}
                    for key in ROUNDS
                ],
                "fields": {spec.key: _field(spec) for spec in self.rules.fields},
                "forms": {form: self._form(form) for form in FORMS},
                "order": list(self.order),
                "trays": list(self.trays),
                "subjects": subjects,
                "known_numbers": self._known_numbers(),
                "bottles": self.bottles(),
                "current": self.state.snapshot(),
            }

    def _known_numbers(self) -> list[str]:
        with self.book.reading() as reads:
            if reads.count("animal") > 5000:
                return []
            return [_squeezed(str(a.get("field_number") or "")) for a in reads.all("animal")]

    def _subject(self, one: Subject, moves_told: bool) -> dict[str, Any]:
        said: dict[str, Any] = {
            "subject": one.id,
            "number": one.number,
            "form": one.form,
            "taxon": one.taxon,
            "check": "" if one.is_tray else self.check_of(one.number),
            "fields": [f.key for f in self.fields_of(one)],
            "planned": self._planned(one),
            "moves": [
                self._move(one, move) if moves_told else {"key": move.key, "round": move.round}
                for move in self.moves_of(one)
            ],
        }
        if one.is_tray:
            said["name"] = _("Tray {number}").format(number=one.number)
        return said

    def _planned(self, one: Subject) -> dict[str, Any]:
        planned: dict[str, Any] = {}
        if one.tray is not None and one.tray.sheets_ml > 0:
            planned["sheets_ml"] = {"value": round(one.tray.sheets_ml), "words": f"{one.tray.sheets_ml:.0f}"}
        if one.plan is None:
            return planned
        for name, value in one.plan.listed.items():
            words = _(value) if isinstance(value, str) else f"{value:g}"
            planned[name] = {"value": value, "words": words, "listed": True}
        for name, value in one.plan.planned.items():
            spoken = value if isinstance(value, str) else plain_ml(value)
            # What is confirmed is what is read on the screen, so the value is the one in the words.
            planned[name] = {"value": value if isinstance(value, str) else float(spoken), "words": spoken}
        if one.plan.died_at:
            planned["died_at"] = {"value": one.plan.died_at, "words": one.plan.died_at}
        return planned

    def _move(self, one: Subject, move: Move) -> dict[str, Any]:
        said = {"key": move.key, "round": move.round, "what": move.what}
        for name in ("amount", "unit", "at", "caution", "drawn"):
            if getattr(move, name):
                said[name] = getattr(move, name)
        if one.plan is not None and one.plan.body is not None:
            said["drawing"] = f"/drawings/{one.id}.svg?move={move.key}"
        return said

    def _form(self, form: str) -> dict[str, Any]:
        moves = [{"key": m.key, "round": m.round, "what": m.what} for m in _bare_moves(self.rules, form)]
        share = self.rules.tail_share.get(form)
        return {
            "words": _(FORM_WORDS[form]),
            "fields": [f.key for f in self.fields_of(Subject("", "", form))],
            "moves": moves,
            "fit": _fit(form),
            "tail_share": list(share) if share else None,
        }

    def drawing(self, subject_id: str, move_key: str) -> str | None:
        """The body with this move marked, as SVG; ``None`` where there is nothing to draw."""
        subject = self.subjects.get(subject_id)
        if subject is None or subject.plan is None or subject.plan.body is None:
            return None
        move = next((m for m in subject.plan.moves if m.key == move_key), None)
        if move is None:
            return None
        name = (subject_id, move_key, current_language())
        if name not in self._drawings:
            self._drawings[name] = _drawn(subject.plan, move)
        return self._drawings[name]


def _squeezed(text: str) -> str:
    return "".join(text.upper().replace("-", " ").split())


def _words_of(problem: Exception) -> str:
    if isinstance(problem, FindingsError):
        return " ".join(finding.sentence() for finding in problem.findings)
    return str(problem)


def _bare_moves(rules: PenRules, form: str) -> tuple[Move, ...]:
    """One move for each round that this form has something to write in."""
    rounds = [r for r in ROUNDS if r != "cover" and any(f.round == r and f.suits(form) for f in rules.fields)]
    return tuple(Move(f"{r}/all", r, _(rules.rounds[r])) for r in rounds)


def _field(spec: PenField) -> dict[str, Any]:
    said: dict[str, Any] = {
        "key": spec.key,
        "round": spec.round,
        "words": _(spec.words),
        "ask": spec.ask,
        "unit": spec.unit,
        "low": spec.low,
        "high": spec.high,
    }
    if spec.apart is not None:
        said["apart"] = spec.apart
    if spec.choices:
        said["choices"] = [{"key": key, "words": _(words)} for key, words in spec.choices.items()]
    if spec.words_by_form:
        said["words_by_form"] = {form: _(words) for form, words in spec.words_by_form.items()}
    if spec.help:
        said["help"] = _(spec.help)
    said.update({name: True for name in ("again", "repeats", "bottle") if getattr(spec, name)})
    return said


def _fit(form: str) -> list[list[float]] | None:
    """Limits of mass for a row of lengths, so that a screen can ask back without the laptop."""
    try:
        line = mass_line(form)
    except ValueError:
        return None
    low, high = 5.0, 3000.0
    grid = []
    for i in range(GRID_POINTS):
        length = low * (high / low) ** (i / (GRID_POINTS - 1))
        middle = 10**line.intercept * length**line.slope
        below, above = 10 ** (SLIP_SD * line.sd_below_log10), 10 ** (SLIP_SD * line.sd_above_log10)
        grid.append([float(f"{x:.4g}") for x in (length, middle / below, middle * above)])
    return grid


def _drawn(plan: PlannedAnimal, move: Move) -> str:
    """The body with a move marked. Of a long row of fillings only both ends are."""
    assert plan.body is not None
    injections = [i for i in plan.injections if i.number in move.injections]
    along = None
    label = ""
    if len(injections) > FILLINGS_SHOWN_ONE_BY_ONE:
        places = sorted(i.at_mm for i in injections)
        along, label = (places[0], places[-1]), move.amount
        injections = [injections[0], injections[-1]]
    later = {n for m in plan.moves if m.round == move.round for n in m.injections} if move.injections else set()
    page = table_drawing.draw(
        plan.body,
        pricks=[p for p in plan.pricks if p.number in move.pricks],
        injections=injections,
        to_come=[]
        if along
        else [i.at_mm for i in plan.injections if i.number in later and i.number > max(move.injections)],
        along=along,
        label=label,
    )
    drawn = svg.render(page, fonts=False, standalone=False)
    # A screen's own style sheet sets the type; a style inside the picture would need an exception in the page's policy.
    return STYLE.sub("", drawn)
