"""What a screen at the table says, and the entry of the book that it becomes.

A screen says: this subject, this field, this value. ``entry_of`` turns that into one entry of a kind in the book's
catalogue, under the id that the device gave it; ``said_of`` reads it back for the screens. What only the table needs
(what was typed, which question was asked back) lies in the entry's ``verbatim``, under ``table``.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from keepfast.book.entries import ID, Entry
from keepfast.book.fields import LONGEST_TEXT
from keepfast.findings import Finding, FindingsError
from keepfast.plan.objects import ROUNDS
from keepfast.rules import sources
from keepfast.terms import FORMS
from keepfast.words import _

Value = float | bool | str | None
Ask = Literal["tag", "number", "choice", "done", "words", "time", "place"]
ASKS = ("tag", "number", "choice", "done", "words", "time", "place")
SESSION = "session"  # the subject of a pause, a handing over, a signature

# A correction must say why; at the table it is nearly always this.
PUT_RIGHT = "slip of the pen, put right at the table"
TAKEN_BACK = "taken back at the table"

_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
_FIELD = re.compile(r"[a-z_]{1,40}(:[A-Za-z0-9_./-]{1,120})?")
_PLACE = re.compile(r"(\d{1,3}) (\d{1,3})")


@dataclass(frozen=True)
class PenField:
    """One thing the pen asks for; the file ``rules/live/pen.toml`` says what each part means."""

    key: str
    round: str
    words: str
    ask: str
    kind: str
    into: str = ""
    unit: str = ""
    set: Mapping[str, Any] = field(default_factory=dict)
    choices: Mapping[str, str] = field(default_factory=dict)
    words_by_form: Mapping[str, str] = field(default_factory=dict)
    forms: tuple[str, ...] = ()
    forms_not: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    apart: float | None = None
    again: bool = False
    repeats: bool = False
    bottle: bool = False
    help: str = ""
    source: str = ""

    def suits(self, form: str) -> bool:
        """Whether an animal of this form is asked for it."""
        return (not self.forms or form in self.forms) and form not in self.forms_not


@dataclass(frozen=True)
class PenRules:
    """The whole file, checked."""

    fields: tuple[PenField, ...]
    rounds: Mapping[str, str]
    short: Mapping[str, str]
    tail_share: Mapping[str, tuple[float, float]]
    bottle_fluid: str
    identity: Mapping[str, str]

    def field(self, key: str) -> PenField | None:
        """The field of this name."""
        return next((f for f in self.fields if f.key == key), None)


def read_pen(name_or_path: str | Path = "pen") -> PenRules:
    """Read the file that says what the pen asks.

    Raises
    ------
    FindingsError
        If it is not there or says something that cannot be; all of it at once.
    """
    file = sources.read("live", name_or_path)
    found: list[Finding] = []
    fields: list[PenField] = []
    known = set(PenField.__dataclass_fields__)
    for number, raw in enumerate(file.data.get("field", ()), start=1):
        where = str(raw.get("key", f"field {number}"))
        for name in sorted(set(raw) - known):
            found.append(Finding(_("a field has no such part"), file=file.name, field=name, subject=where))
        missing = [name for name in ("key", "round", "words", "ask", "kind") if not isinstance(raw.get(name), str)]
        for name in missing:
            found.append(Finding(_("this part is missing"), file=file.name, field=name, subject=where))
        if missing:
            continue
        if raw["round"] not in ROUNDS:
            known_rounds = _("One of: {known}.").format(known=", ".join(ROUNDS))
            found.append(
                Finding(
                    _("no such round"), known_rounds, file=file.name, field="round", read=raw["round"], subject=where
                )
            )
        if raw["ask"] not in ASKS:
            known_asks = _("One of: {known}.").format(known=", ".join(ASKS))
            found.append(
                Finding(
                    _("no such way to ask"), known_asks, file=file.name, field="ask", read=raw["ask"], subject=where
                )
            )
        for form in (*raw.get("forms", ()), *raw.get("forms_not", ())):
            if form not in FORMS:
                found.append(Finding(_("no such body form"), file=file.name, field="forms", read=form, subject=where))
        parts: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in raw.items() if k in known}
        fields.append(PenField(**parts))
    if found:
        raise FindingsError(found)
    rounds = {key: str(file.data.get("rounds", {}).get(key, key)) for key in ROUNDS}
    short = {key: str(file.data.get("short", {}).get(key, rounds[key])) for key in ROUNDS}
    shares = {form: (float(a), float(b)) for form, (a, b) in file.data.get("tail_share", {}).items()}
    fluid = str(file.data.get("bottle", {}).get("fluid", "formalin"))
    return PenRules(tuple(fields), rounds, short, shares, fluid, file.identity)


@dataclass(frozen=True)
class Said:
    """One thing said at the table, as the device wrote it."""

    id: str
    at: datetime.datetime
    order_ms: int
    device: str
    who: str
    subject: str  # id of an animal or a tray, or SESSION
    field: str
    value: Value = None
    text: str = ""
    under: str = ""  # under whose eyes a learner worked
    clock_ms: int = 0  # what the device knew its clock to be behind the laptop's
    seen: str | None = None  # the entry that stood there when this was written
    also_seen: str | None = None  # and the one of another pen that differed from it, where the screen showed it
    corrects: str | None = None  # the first entry of this field by this pen, where this is a correction
    as_planned: bool = False
    asked: str | None = None  # the question that it called up
    asked_words: str | None = None
    answers: str | None = None  # the entry whose question this answers
    evening: str | None = None  # the evening the screen showed
    how: str = ""
    number: str = ""  # of a new animal or tray
    check: str | None = None
    tray: str | None = None
    batch: str | None = None  # the bottle that stood open
    mixed_at: str = ""  # of a new bottle

    def table(self) -> dict[str, Any]:
        """What only the table needs, for ``verbatim``; nothing that is empty."""
        said = {
            "subject": self.subject,
            "field": self.field,
            "value": self.value,
            "text": self.text,
            "under": self.under,
            "clock_ms": self.clock_ms,
            "seen": self.seen,
            "also_seen": self.also_seen,
            "root": self.corrects,
            "as_planned": self.as_planned,
            "asked": self.asked,
            "asked_words": self.asked_words,
            "answers": self.answers,
            "how": self.how,
            "number": self.number,
            "check": self.check,
            "tray": self.tray,
            "batch": self.batch,
            "mixed_at": self.mixed_at,
        }
        kept = ("subject", "field", "value")
        return {name: part for name, part in said.items() if name in kept or part not in (None, "", False, 0)}


@dataclass(frozen=True)
class Evening:
    """What an entry refers to: the evening, and the session where it is still open."""

    evening: str
    session: str | None


def _refuse(what: str, name: str, read: object = None) -> FindingsError:
    return FindingsError([Finding(what, field=name, read=None if read is None else str(read)[:80])])


def _check(said: Said) -> None:
    for name in ("id", "seen", "also_seen", "corrects", "answers", "tray", "batch"):
        value = getattr(said, name)
        if value is not None and not ID.fullmatch(value):
            raise _refuse(_("this should be the id of something entered"), name, value)
    if said.subject != SESSION and not ID.fullmatch(said.subject):
        raise _refuse(_("this should be the id of an animal or a tray"), "subject", said.subject)
    if not _FIELD.fullmatch(said.field):
        raise _refuse(_("this is not a field of the table"), "field", said.field)
    texts = {
        n: getattr(said, n) or ""
        for n in ("who", "device", "text", "under", "how", "number", "asked_words", "mixed_at")
    }
    texts["value"] = said.value if isinstance(said.value, str) else ""
    for name, text in texts.items():
        if _CONTROL.search(text):
            raise _refuse(_("this text holds a control character"), name)
        if len(text) > LONGEST_TEXT:
            raise _refuse(_("this text is too long"), name)
    if not said.who.strip():
        raise _refuse(_("an entry says who wrote it"), "who")
    if said.field in ("animal", "new_tray", "new_batch") and said.subject != (said.answers or said.id):
        raise _refuse(_("what is new is known by the id of its entry"), "subject", said.subject)
    if said.at.utcoffset() is None:
        raise _refuse(_("this moment needs an offset, such as +02:00"), "at")


def entry_of(said: Said, rules: PenRules, evening: Evening) -> Entry:
    """The entry for what was said; the same for the same words, so that sending twice does no harm.

    Raises
    ------
    FindingsError
        If it is about no field of the table or its value does not fit the field.
    """
    _check(said)
    try:
        # The device's own clock, moved by what it knew of the laptop's: fixed once it is written, so a repeat is equal.
        at = said.at + datetime.timedelta(milliseconds=said.clock_ms)
    except OverflowError:
        raise _refuse(_("there is no such moment"), "at", said.at) from None
    kind, content = _content(said, rules, evening, at)
    if said.corrects is not None and kind != "finding_accepted":
        gone = said.value is None or said.value is False
        about = "tray" if kind == "tray" else "animal"
        content = {name: value for name, value in content.items() if name != about}
        content = {
            "entry": said.corrects,
            "of_kind": kind,
            "reason": TAKEN_BACK if gone else PUT_RIGHT,
            "withdraw": gone,
            **({} if gone else {"set": content}),
        }
        kind = "correction"
    content["verbatim"] = {"table": said.table(), "evening": evening.evening}
    return Entry(kind, content, said.who.strip(), said.device, at, said.id, said.order_ms)


def _content(said: Said, rules: PenRules, evening: Evening, at: datetime.datetime) -> tuple[str, dict[str, Any]]:
    name, _colon, rest = said.field.partition(":")
    spec = rules.field(said.field)
    is_tray = rest.partition("/")[0] == "cover" or (spec is not None and spec.round == "cover")
    if said.subject == SESSION:
        return _of_session(said, evening)
    if said.answers is not None:
        about = {"tray" if is_tray else "animal": said.subject}
        if not said.text.strip():
            raise _refuse(_("a number that is kept needs a reason"), "text")
        return "finding_accepted", {
            **about,
            "check": f"table: {said.asked or 'asked'}",
            "seen": "" if said.value is None else str(said.value),
            "reason": said.text,
        }
    if name == "animal":
        return "animal", {"field_number": said.number, "form": _choice(said, FORMS)}
    if name == "new_batch":
        mixed = {"mixed_at": said.mixed_at} if said.mixed_at else {}
        return "batch", {"name": _text(said), "fluid": rules.bottle_fluid, **mixed}
    if name == "new_tray":
        return "tray", {"number": said.number or str(said.value), "evening": evening.evening}
    if name in ("later", "left_out"):
        choice = "later in the round" if name == "later" else "left out tonight"
        return "decision", {"animals": [said.subject], "reckoning": "table", "choice": choice, "reason": said.text}
    if name in ("move", "round"):
        step = rest.partition("/")[0]
        if step not in ROUNDS:
            raise _refuse(_("no such round"), "field", said.field)
        if is_tray:
            return "decision", {"tray": said.subject, "reckoning": "table", "choice": f"{name} {rest} done"}
        return "preparation_done", {
            "animal": said.subject,
            "step": step,
            "key": f"{name}:{rest}"[:200],
            "outcome": "done",
            **({"session": evening.session} if evening.session else {}),
        }
    if spec is None:
        raise _refuse(_("this is not a field of the table"), "field", said.field)
    return spec.kind, _of_field(said, spec, evening, at)


def _of_session(said: Said, evening: Evening) -> tuple[str, dict[str, Any]]:
    if said.field == "bottle":
        named = isinstance(said.value, str) and ID.fullmatch(said.value)
        choice = f"fixative from bottle {said.text}" if named else "no bottle named"
        result = {"result": {"batch": said.value}} if named else {}
        return "decision", {"evening": evening.evening, "reckoning": "table", "choice": choice, **result}
    if evening.session is None:
        raise _refuse(_("the session this belongs to is over"), "subject", said.subject)
    if said.field == "pause":
        change = "paused" if said.value is True else "resumed"
        return "session_change", {"session": evening.session, "change": change}
    if said.field == "handed_over":
        return "session_change", {"session": evening.session, "change": "handed over", "to": _text(said)}
    if said.field == "ended":
        why = {"reason": said.text} if said.text else {}
        change = "ended" if said.value is True else "resumed"
        return "session_change", {"session": evening.session, "change": change, **why}
    if said.field == "signed":
        return "sign_off", {
            "session": evening.session,
            "evening": evening.evening,
            "words": said.text,
            "by": _text(said),
        }
    raise _refuse(_("this is not a field of the table"), "field", said.field)


def _of_field(said: Said, spec: PenField, evening: Evening, at: datetime.datetime) -> dict[str, Any]:
    about = "tray" if spec.round == "cover" else "animal"
    content: dict[str, Any] = {} if spec.kind == "moved" else {about: said.subject}
    content.update(spec.set)
    if spec.kind == "preparation_done" and evening.session is not None:
        content["session"] = evening.session
    if spec.bottle and said.batch is not None:
        content["batch"] = said.batch
    if said.value is None or said.value is False:
        if said.corrects is None:
            raise _refuse(_("there is nothing to take back"), "value")
        return content
    value: Any
    if spec.ask == "number":
        if isinstance(said.value, bool) or not isinstance(said.value, int | float):
            raise _refuse(_("this should be a number"), "value", said.value)
        value = float(said.value)
    elif spec.ask == "choice":
        value = _choice(said, tuple(spec.choices))
    elif spec.ask in ("done", "tag"):
        value = at.isoformat(timespec="milliseconds")
    elif spec.ask == "place":
        found = _PLACE.fullmatch(_text(said))
        if found is None or said.tray is None:
            raise _refuse(_("a place is a tray and a number in it"), "value", said.value)
        return {"animals": [said.subject], "tray": said.tray, "places": [{"place": int(found[2])}]}
    else:
        value = _text(said)
    head, _dot, tail = spec.into.partition(".")
    if tail:
        content[head] = {tail: value}
    elif head:
        content[head] = value
    return content


def _text(said: Said) -> str:
    if not isinstance(said.value, str) or not said.value.strip():
        raise _refuse(_("this should be a text"), "value", said.value)
    return said.value


def _choice(said: Said, choices: tuple[str, ...]) -> str:
    if said.value not in choices:
        raise _refuse(_("this is none of: {known}").format(known=", ".join(choices)), "value", said.value)
    return str(said.value)


def said_of(entry: Entry, sequence: int) -> dict[str, Any] | None:
    """What the screens read of an entry that a screen wrote; ``None`` for any other entry."""
    verbatim = entry.content.get("verbatim")
    table = verbatim.get("table") if isinstance(verbatim, Mapping) else None
    if not isinstance(table, Mapping) or not {"subject", "field", "value"} <= set(table):
        return None
    return {
        **table,
        "seq": sequence,
        "id": entry.id,
        "at": entry.at_text,
        "order_ms": entry.order_ms,
        "who": entry.who,
        "device": entry.device,
        "text": table.get("text", ""),
    }
