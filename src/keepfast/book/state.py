"""What the entries add up to: the state of one thing, derived from the entries about it and from nothing else.

The entries are first put in one order (``order_ms``, then id), so that the order in which they came does not matter:
any order of the same valid entries gives the same state. A later value of a field replaces an earlier one; what is
kept as a history (measurements, determinations, steps) is listed. Corrections are applied to the entry they name
before anything is added up, and may be corrected themselves.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from keepfast.book.animals import Animal, usual_length_kind
from keepfast.book.entries import Entry
from keepfast.book.fields import latest_of
from keepfast.book.kinds import KINDS, load_content, subjects
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

# A body in fluid shrinks; what was measured then does not replace what was measured when it was fresh.
_AFTER_FIXING = ("fixed", "in storage")


class Fact(NamedTuple):
    """An entry as the state reads it; sorts into the one order."""

    order_ms: int
    id: str
    kind: str
    content: Mapping[str, Any]
    who: str
    device: str
    at: str


def fact_of(entry: Entry) -> Fact:
    """The fact an entry states, with its content as it will be read again: 40.0 is 40 there."""
    return Fact(entry.order_ms, entry.id, entry.kind, load_content(entry.text), entry.who, entry.device, entry.at_text)


@dataclass(frozen=True)
class Resolved:
    """A fact with its corrections applied."""

    fact: Fact
    withdrawn: str | None  # the reason, where it was withdrawn
    corrections: tuple[Fact, ...]


def resolve(fact: Fact, corrections: Sequence[Fact]) -> Resolved:
    """Apply to a fact the corrections that name it, and to those the ones that name them.

    ``corrections`` may hold others too; one whose ``of_kind`` is not the kind of what it names is passed over.
    """
    if not corrections:
        return Resolved(fact, None, ())
    by_target: dict[str, list[Fact]] = {}
    for correction in sorted(corrections):
        by_target.setdefault(correction.content["entry"], []).append(correction)
    applied: list[Fact] = []
    content, withdrawn = _corrected(fact.kind, fact.id, fact.content, by_target, applied)
    return Resolved(fact._replace(content=content), withdrawn, tuple(applied))


def _corrected(
    kind: str, target: str, content: Mapping[str, Any], by_target: dict[str, list[Fact]], applied: list[Fact]
) -> tuple[Mapping[str, Any], str | None]:
    withdrawn: str | None = None
    merged: dict[str, Any] | None = None
    # Taken out while it is followed, so that corrections naming one another in a ring come to an end.
    for correction in by_target.pop(target, ()):
        said, void = _corrected("correction", correction.id, correction.content, by_target, [])
        if void is not None or said["of_kind"] != kind:
            continue
        applied.append(correction._replace(content=said))
        if said.get("set"):
            fitting = {name: value for name, value in said["set"].items() if _fits(kind, name, value)}
            merged = {**(merged if merged is not None else content), **fitting}
        if said.get("withdraw") is not None:
            withdrawn = said["reason"] if said["withdraw"] else None
    return (merged if merged is not None else content), withdrawn


def _fits(kind: str, name: str, value: Any) -> bool:
    """Whether a corrected value is one: what a correction of a correction sets is not known when it is written."""
    known = KINDS.get(kind)
    field = known.fields.get(name) if known else None
    if known is None or field is None or (known.thing and name == kind):
        return False
    return not field.needed if value is None else not field.trouble(value)


def derive(kind: str, thing_id: str, resolved: Iterable[Resolved]) -> dict[str, Any]:
    """The state of one thing from all resolved entries about it.

    Parameters
    ----------
    kind, thing_id : str
        Which thing.
    resolved : iterable of Resolved
        Its entries in any order; one that, once corrected, is about another thing is passed over.

    Returns
    -------
    dict
        Plain JSON values. ``id``; ``entered`` (who, at, device of the entry that made it; absent where that has not
        come yet); ``withdrawn`` (reason) where it was withdrawn; the fields of its kind; ``held`` (bulky field to the
        id of the entry that has it); one list per other kind of entry about it, under ``Kind.listed``;
        ``corrections``. An animal also has what is now true of it: ``measured``, ``taxon``, ``container``,
        ``catalogue_number``, ``steps_done``.
    """
    state: dict[str, Any] = {"id": thing_id}
    corrections: list[Fact] = []
    for one in sorted(resolved, key=lambda r: (r.fact.order_ms, r.fact.id)):
        fact = one.fact
        corrections.extend(one.corrections)
        if fact.kind == kind:
            if (fact.content.get(kind) or fact.id) != thing_id:
                continue
            if fact.id == thing_id:
                state["entered"] = {"who": fact.who, "at": fact.at, "device": fact.device}
                if one.withdrawn is not None:
                    state["withdrawn"] = one.withdrawn
            elif one.withdrawn is not None:
                continue
            spec = KINDS[kind].fields
            for name, value in fact.content.items():
                if name in spec and spec[name].bulky:
                    state.setdefault("held", {})[name] = fact.id
                elif name != kind:
                    state[name] = value
        elif one.withdrawn is None and (kind, thing_id) in subjects(fact.kind, fact.id, fact.content):
            state.setdefault(KINDS[fact.kind].listed, []).append(_summary(kind, fact))
    if corrections:
        state["corrections"] = [
            {
                "entry": c.id,
                "of": c.content["entry"],
                "fields": sorted(c.content.get("set") or ()),
                "who": c.who,
                "at": c.at,
                "reason": c.content["reason"],
            }
            for c in sorted(corrections)
        ]
    if kind == "animal":
        _now_true_of_animal(state)
    return state


def _summary(kind: str, fact: Fact) -> dict[str, Any]:
    fields = KINDS[fact.kind].fields
    summary: dict[str, Any] = {"entry": fact.id, "who": fact.who, "written": fact.at}
    for name, value in fact.content.items():
        field = fields.get(name)
        if field is None or field.bulky or (field.to == kind and field.sort == "id"):
            continue
        if field.to == kind and field.sort == "ids":
            summary["together_with"] = len(value) - 1
            continue
        summary[name] = value
    return summary


def _when_done(item: Mapping[str, Any]) -> datetime.datetime:
    return datetime.datetime.fromisoformat(item.get("at") or item["written"])


def _when_determined(item: Mapping[str, Any]) -> datetime.date:
    on = item.get("on")
    if on:
        return latest_of(on)
    return datetime.datetime.fromisoformat(item["written"]).date()


def _now_true_of_animal(state: dict[str, Any]) -> None:
    measured: dict[str, Any] = {}
    later: dict[str, Any] = {}
    for item in state.get("measurements", ()):
        into = later if item.get("state") in _AFTER_FIXING else measured
        into.update(item["values"])
        if "length_mm" in item["values"]:
            into["length_kind"] = item.get("length_kind") or usual_length_kind(state.get("form") or "")
    if measured or later:
        state["measured"] = {**later, **measured}
    determinations = state.get("determinations")
    if determinations:
        # max keeps the first of equals, so the list is read backwards: of one day the last written counts.
        state["taxon"] = max(reversed(determinations), key=_when_determined)["taxon"]
    moves = state.get("moves")
    if moves:
        last = max(reversed(moves), key=_when_done)
        state["container"] = {
            name: last[name] for name in ("tray", "jar", "out_of") if last.get(name)
        } | {"since": last.get("at") or last["written"]}  # fmt: skip
    if state.get("catalogue_numbers"):
        state["catalogue_number"] = state["catalogue_numbers"][-1]["number"]
    done = {item["step"] for item in state.get("done", ()) if item.get("outcome", "done") in ("done", "in part")}
    if done:
        state["steps_done"] = sorted(done)


def load_state(text: str) -> dict[str, Any]:
    """The state of a thing from the text it is kept as.

    Raises
    ------
    FindingsError
        If it cannot be read: the file was damaged. The entries may be whole all the same.
    """
    try:
        state = json.loads(text)
    except (ValueError, TypeError, RecursionError):
        state = None
    if not isinstance(state, dict):
        raise FindingsError(
            [
                Finding(
                    _("what the book keeps beside its entries cannot be read"),
                    _("Prove it with: keepfast book prove. If its entries are whole: keepfast book rebuild"),
                )
            ]
        )
    return state


def label_of(kind: str, state: Mapping[str, Any]) -> str:
    """What people call the thing; empty where nobody has said."""
    return str(state.get(KINDS[kind].label) or "") if KINDS[kind].label else ""


def animal_of(state: Mapping[str, Any]) -> Animal:
    """The animal as observed, from its state; ``None`` and the usual defaults where nobody wrote it down."""
    measured = state.get("measured") or {}
    form = state.get("form") or ""
    died_at = state.get("died_at")
    return Animal(
        field_number=state.get("field_number") or "",
        form=form,
        taxon=state.get("taxon") or "",
        sex=state.get("sex") or "unknown",
        stage=state.get("stage") or "",
        length_mm=_float(measured.get("length_mm")),
        length_kind=measured.get("length_kind") or usual_length_kind(form),
        tail_mm=_float(measured.get("tail_mm")),
        tail_state=state.get("tail_state") or "whole",
        mass_g=_float(measured.get("mass_g")),
        diameter_mm=_float(measured.get("diameter_mm")),
        head_width_mm=_float(measured.get("head_width_mm")),
        reproductive_state=state.get("reproductive_state") or "none",
        gut=state.get("gut") or "",
        condition=state.get("condition") or "fresh",
        died_at=datetime.datetime.fromisoformat(died_at) if died_at else None,
        kept_at_c=_float(state.get("kept_at_c")),
        count=state.get("count") or 1,
        remarks=state.get("remarks") or "",
        group=state.get("group"),
    )


def _float(value: float | None) -> float | None:
    return None if value is None else float(value)
