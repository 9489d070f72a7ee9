"""The plan of the evening as the screens need it: what is planned for each field, and the moves of the hands.

It is read from ``plan.json`` or from what the book holds of it. A move is one thing that hands do before they look up
again: one filling, one prick, one step; a step with many fillings along a long body is one move.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from keepfast.book.canonical import canonical
from keepfast.exchange.files import read_bytes
from keepfast.findings import Finding, FindingsError
from keepfast.paper.figures import NBSP, day_and_clock, plain_ml
from keepfast.plan.objects import ROUNDS, Injection, Prick
from keepfast.science.body import Body, body_of
from keepfast.terms import FORMS
from keepfast.words import _, current_language, ngettext, said_again

# A step with more fillings than this is one move: the hand runs along the body and does not look up in between.
FILLINGS_SHOWN_ONE_BY_ONE = 8


@dataclass(frozen=True)
class Move:
    """One thing for the hands to do."""

    key: str
    round: str
    what: str
    amount: str = ""
    unit: str = ""
    at: str = ""
    caution: str = ""
    drawn: str = ""  # the drawing in words; empty where there is none
    injections: tuple[int, ...] = ()
    pricks: tuple[int, ...] = ()


@dataclass(frozen=True)
class PlannedAnimal:
    """One animal of the evening, as planned."""

    number: str
    form: str
    taxon: str
    listed: Mapping[str, float | str]  # by field of the pen: what the list had
    planned: Mapping[str, float | str]  # by field of the pen: what is to be done
    cautions: Mapping[str, str]
    pricks: tuple[Prick, ...]
    injections: tuple[Injection, ...]
    body: Body | None
    tray_h: float
    tray: int | None
    place: int | None
    waits: str
    fit_for_fluid: bool
    died_at: str
    raw: Mapping[str, Any]
    _told: dict[str, tuple[Move, ...]] = field(default_factory=dict, repr=False, compare=False)

    @property
    def moves(self) -> tuple[Move, ...]:
        """What the hands do to it, in the language now spoken."""
        language = current_language()
        if language not in self._told:
            self._told[language] = tuple(_moves(self.raw, self.pricks, self.injections, self.cautions))
        return self._told[language]


@dataclass(frozen=True)
class PlannedTray:
    """One tray, as planned."""

    number: str
    width_mm: float
    height_mm: float
    sheets_ml: float
    numbers: tuple[str, ...]
    upper_sheet_ml: float | None = None
    steps: tuple[Mapping[str, Any], ...] = ()
    cautions: Mapping[str, str] = field(default_factory=dict)

    @property
    def moves(self) -> tuple[Move, ...]:
        """What the hands do to it, in the language now spoken."""
        return tuple(_covering(self.upper_sheet_ml, self.steps, self.cautions))


@dataclass(frozen=True)
class TonightsPlan:
    """The plan of the evening for the screens. Empty where nothing was planned."""

    animals: tuple[PlannedAnimal, ...] = ()
    trays: tuple[PlannedTray, ...] = ()
    waiting: tuple[tuple[str, str], ...] = ()  # number and why, with the moment it waits for
    not_for_fluid: tuple[str, ...] = ()
    start: datetime.datetime | None = None
    minutes: float = 0.0
    fixative_ml: float = 0.0
    clock: tuple[Mapping[str, Any], ...] = ()
    air: Mapping[str, Any] = field(default_factory=dict)
    raw: Mapping[str, Any] = field(default_factory=dict)
    sha256: str = ""

    def of(self, number: str) -> PlannedAnimal | None:
        """The plan of one animal."""
        return next((a for a in self.animals if a.number == number), None)


# What a plan that was cut short or changed by hand does to whoever reads it.
_TORN = (AttributeError, IndexError, KeyError, TypeError, ValueError)


def read_plan(document: Mapping[str, Any], file: str = "plan.json", mark: str = "") -> TonightsPlan:
    """The plan out of ``plan.json``; ``mark`` is the hash a book knows it by, made anew where none is given.

    Raises
    ------
    FindingsError
        If it is not a plan, or an animal in it lacks its number or form or cannot be read.
    """
    try:
        return _read(document, file, mark)
    except _TORN:
        what = _("this plan is not whole, or was changed by hand")
        raise FindingsError([Finding(what, _("Make it again with 'keepfast plan'."), file=file)]) from None


def _read(document: Mapping[str, Any], file: str, mark: str) -> TonightsPlan:
    found: list[Finding] = []
    items = document.get("animals")
    table = document.get("table")
    if not isinstance(items, list) or not isinstance(table, Mapping):
        raise FindingsError(
            [Finding(_("this is not a plan"), _("Give the plan.json that 'keepfast plan' wrote."), file=file)]
        )
    waits = {str(number): "" for number in table.get("waiting") or ()}
    cautions = _cautions(table, items)
    animals = []
    for place, item in enumerate(items, start=1):
        number, form = item.get("field_number"), item.get("form")
        if not number or form not in FORMS:
            found.append(Finding(_("this animal lacks its number or form"), file=file, row=place, subject=str(number)))
            continue
        try:
            animals.append(_animal(str(number), str(form), item, cautions.get(str(number), {})))
            animals[-1].moves  # noqa: B018  read once here, where what is wrong can still be said
        except _TORN:
            what = _("what was planned for this animal is not whole, or was changed by hand")
            remedy = _("Make it again with 'keepfast plan'.")
            found.append(Finding(what, remedy, file=file, row=place, subject=str(number)))
            continue
        if number in waits:
            until = _moment(item.get("wait_until"))
            words = animals[-1].waits
            waits[str(number)] = words if until is None else f"{words} ({day_and_clock(until)})"
    if found:
        raise FindingsError(found)
    by_number = {animal.number: animal for animal in animals}
    tonight = (*(table.get("order") or ()), *(table.get("not_for_fluid") or ()))
    order = [n for n in dict.fromkeys(tonight) if n in by_number]
    trays = tuple(
        PlannedTray(
            str(tray["number"]),
            float(tray["width_mm"]),
            float(tray["height_mm"]),
            float(tray.get("upper_sheet_ml", 0.0)) + float(tray.get("lower_sheet_ml", 0.0)),
            tuple(tray.get("field_numbers", ())),
            _number(tray.get("upper_sheet_ml")),
            tuple(_covering_steps(tray, items)),
            {str(c["key"]): str(c["text"]) for c in table.get("cautions") or ()} if place == 0 else {},
        )
        for place, tray in enumerate(table.get("trays") or ())
    )
    return TonightsPlan(
        animals=tuple(by_number[n] for n in order),
        trays=trays,
        waiting=tuple(waits.items()),
        not_for_fluid=tuple(str(n) for n in table.get("not_for_fluid") or ()),
        start=_moment(table.get("start")),
        minutes=float(table.get("minutes") or 0.0),
        fixative_ml=float(table.get("fixative_ml") or 0.0),
        clock=tuple(table.get("clock") or ()),
        air=(table.get("extra") or {}).get("air") or table.get("air") or {},
        raw=document,
        sha256=mark or hashlib.sha256(canonical(document).encode()).hexdigest(),
    )


def _moment(text: Any) -> datetime.datetime | None:
    return datetime.datetime.fromisoformat(text) if isinstance(text, str) else None


def _animal(number: str, form: str, item: Mapping[str, Any], cautions: Mapping[str, str]) -> PlannedAnimal:
    observed = item
    body: Mapping[str, Any] = item.get("body") or {}
    injections = tuple(_injection(i, raw) for i, raw in enumerate(item.get("injections") or (), start=1))
    pricks = tuple(_prick(i, raw) for i, raw in enumerate(item.get("pricks") or (), start=1))
    place = item.get("place") or {}
    listed: dict[str, float | str] = {}
    # Only what was measured stands ready; an estimate would invite somebody to confirm a number that nobody read.
    values = {**body, "mass_g": (item.get("mass_g") or {}).get("value")}
    for name in ("mass_g", "length_mm", "tail_mm", "diameter_mm", "head_width_mm"):
        value = _number(values.get(name))
        if value is not None and name in (body.get("measured") or ()):
            listed[name] = value
    for name in ("tail_state", "sex"):
        value = observed.get(name)
        if isinstance(value, str) and value and value not in ("unknown",):
            listed[name] = value
    planned: dict[str, float | str] = {}
    if item.get("total_ml"):
        planned["delivered_ml"] = float(item["total_ml"])
    retained = item.get("retained_ml")
    if isinstance(retained, Mapping):
        planned["retained_ml"] = float(retained["value"])
    elif isinstance(retained, int | float):
        planned["retained_ml"] = float(retained)
    if place:
        planned["place"] = f"{place['tray']} {place['place']}"
    return PlannedAnimal(
        number=number,
        form=form,
        taxon=str(observed.get("taxon") or item.get("taxon") or ""),
        listed=listed,
        planned=planned,
        cautions=cautions,
        pricks=pricks,
        injections=injections,
        body=_body(form, item),
        tray_h=float(item.get("tray_h") or 0.0),
        tray=place.get("tray"),
        place=place.get("place"),
        waits=str(item.get("waits") or ""),
        fit_for_fluid=bool(item.get("fit_for_fluid", True)),
        died_at=str(observed.get("died_at") or ""),
        raw=item,
    )


def _injection(number: int, raw: Mapping[str, Any]) -> Injection:
    return Injection(
        number=int(raw.get("number", number)),
        at_mm=float(raw["at_mm"]),
        site=str(raw["site"]),
        side=str(raw.get("side", "middle")),
        depth_mm=float(raw.get("depth_mm") or 0.0),
        gauge=int(raw.get("gauge") or 0),
        volume_ml=float(raw["volume_ml"]),
        low_ml=float(raw.get("low_ml", raw["volume_ml"])),
        high_ml=float(raw.get("high_ml", raw["volume_ml"])),
        reason=str(raw.get("reason", "")),
        source=str(raw.get("source", "")),
    )


def _prick(number: int, raw: Mapping[str, Any]) -> Prick:
    return Prick(
        number=int(raw.get("number", number)),
        at_mm=float(raw["at_mm"]),
        region=str(raw["region"]),
        side=str(raw.get("side", "below")),
        count=int(raw.get("count", 1)),
        reason=str(raw.get("reason", "")),
    )


def _body(form: str, item: Mapping[str, Any]) -> Body | None:
    """The outline again, from the figures the plan was made with."""
    shape: Mapping[str, Any] = item.get("body") or {}
    mass_g, length_mm = _number((item.get("mass_g") or {}).get("value")), _number(shape.get("length_mm"))
    if mass_g is None or length_mm is None:
        return None
    measured = frozenset(shape.get("measured") or ())
    try:
        return body_of(
            form,
            length_mm,
            mass_g,
            diameter_mm=_number(shape.get("diameter_mm")),
            tail_mm=_number(shape.get("tail_mm")),
            count=int(item.get("count") or 1),
            measured=measured,
        )
    except ValueError:
        return None


def _cautions(table: Mapping[str, Any], items: Sequence[Mapping[str, Any]]) -> dict[str, dict[str, str]]:
    """What is said to the hands at each animal, by its number: what is its own, and then what holds for everybody.

    The second is said once, at the first animal of the table whose steps call it up.
    """
    everything = {str(c["key"]): c for c in table.get("cautions") or ()}
    own = [key for key, c in everything.items() if _of_the_animal(str(c.get("called_up_by", "")))]
    unsaid = [key for key in everything if key not in own]
    by_number = {str(item.get("field_number")): item for item in items}
    answer: dict[str, dict[str, str]] = {}
    for number in dict.fromkeys((*map(str, table.get("order") or ()), *by_number)):
        steps = [s for s in by_number.get(number, {}).get("steps") or () if s.get("round") != "cover"]
        called = {str(key) for step in steps for key in step.get("cautions") or ()}
        said = [key for key in (*own, *unsaid) if key in called]
        unsaid = [key for key in unsaid if key not in called]
        answer[number] = {key: str(everything[key]["text"]) for key in said}
    return answer


def _of_the_animal(called_up_by: str) -> bool:
    """Whether a form or a state calls it up, and not the round or the day."""
    lines = dict(line.split(": ", 1) for line in called_up_by.split("; ") if ": " in line)
    return "rounds" not in lines and ("forms" in lines or lines.get("conditions", "hot") != "hot")


def _spread(steps: Sequence[Mapping[str, Any]], cautions: Mapping[str, str]) -> list[str]:
    """What to mind at each step: one warning at a time is read, the next ones follow with the next steps of the round.

    None is lost: what is left when a round ends is said at its last step.
    """
    told, unsaid, waiting = [], dict(cautions), []
    for place, step in enumerate(steps):
        called = set(map(str, step.get("cautions") or ()))
        waiting += [unsaid.pop(name) for name in [name for name in unsaid if name in called]]
        last = place + 1 == len(steps) or steps[place + 1].get("round") != step.get("round")
        now, waiting = (waiting, []) if last else (waiting[:1], waiting[1:])
        told.append(" ".join(said_again(words) for words in now))
    return told


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def _moves(
    item: Mapping[str, Any], pricks: Sequence[Prick], injections: Sequence[Injection], cautions: Mapping[str, str]
) -> Iterable[Move]:
    by_injection = {one.number: one for one in injections}
    by_prick = {one.number: one for one in pricks}
    steps = sorted(
        (step for step in item.get("steps") or () if step.get("round") in ROUNDS),
        key=lambda step: ROUNDS.index(step["round"]),
    )
    used: set[str] = set()
    steps = [step for step in steps if step["round"] != "cover"]  # a tray is covered, not an animal
    for step, caution in zip(steps, _spread(steps, cautions), strict=True):
        round_ = str(step["round"])
        key = f"{round_}/{step.get('key') or 'step'}"
        while key in used:
            key += "+"
        used.add(key)
        filling = [by_injection[n] for n in step.get("injections") or () if n in by_injection]
        pricking = [by_prick[n] for n in step.get("pricks") or () if n in by_prick]
        what = said_again(str(step.get("action", "")))
        if filling and len(filling) <= FILLINGS_SHOWN_ONE_BY_ONE:
            for place, one in enumerate(filling):
                yield _one_filling(f"{key}/{one.number}", round_, what, one, caution if place == 0 else "")
        elif filling:
            yield _many_fillings(key, round_, what, filling, caution)
        else:
            yield Move(
                key,
                round_,
                what,
                at=_where_pricked(pricking),
                caution=caution,
                drawn=_("Seen from below, head to the left.") if pricking else "",
                pricks=tuple(p.number for p in pricking),
            )


def _covering_steps(tray: Mapping[str, Any], items: Sequence[Mapping[str, Any]]) -> Iterable[Mapping[str, Any]]:
    """A tray is covered once for all that lie in it: each step once."""
    inside = set(tray.get("field_numbers") or ())
    steps: dict[str, Mapping[str, Any]] = {}
    for item in items:
        if item.get("field_number") in inside:
            for step in item.get("steps") or ():
                if step.get("round") == "cover":
                    steps.setdefault(str(step.get("key") or "step"), step)
    return steps.values()


def _covering(
    upper_sheet_ml: float | None, steps: Sequence[Mapping[str, Any]], cautions: Mapping[str, str]
) -> Iterable[Move]:
    """The first move says how much the sheet takes."""
    for place, (step, caution) in enumerate(zip(steps, _spread(steps, cautions), strict=True)):
        amount = upper_sheet_ml if place == 0 else None
        yield Move(
            f"cover/{step.get('key') or 'step'}",
            "cover",
            said_again(str(step.get("action", ""))),
            amount=plain_ml(amount) if amount else "",
            unit="mL" if amount else "",
            caution=caution,
        )


def _one_filling(key: str, round_: str, what: str, one: Injection, caution: str) -> Move:
    at = [
        _("{site}, {mm:.0f} mm from the snout").format(site=_(one.site), mm=one.at_mm),
        _(one.side) if one.side not in ("middle", "") else "",
        _("{depth:.0f} mm deep").format(depth=one.depth_mm) if one.depth_mm >= 1 else "",
        _("needle {gauge} G").format(gauge=one.gauge) if one.gauge else "",
    ]
    drawn = _("Seen from below, head to the left. Filling {number} at {mm:.0f} mm, {amount} mL.").format(
        number=one.number, mm=one.at_mm, amount=plain_ml(one.volume_ml)
    )
    return Move(key, round_, what, plain_ml(one.volume_ml), "mL", _unparted(at), caution, drawn, (one.number,))


def _unparted(parts: Iterable[str]) -> str:
    """Parts in a row, no number parted from its unit at a line's end."""
    return re.sub(r"(\d) (mm|mL|G)\b", rf"\1{NBSP}\2", ", ".join(filter(None, parts)))


def _many_fillings(key: str, round_: str, what: str, filling: Sequence[Injection], caution: str) -> Move:
    total = sum(one.volume_ml for one in filling)
    first, last = min(one.at_mm for one in filling), max(one.at_mm for one in filling)
    each = sorted({plain_ml(one.volume_ml) for one in filling}, key=float)
    per = f"{each[0]}{NBSP}mL" if len(each) == 1 else _("{low} to {high} mL").format(low=each[0], high=each[-1])
    gauges = sorted({one.gauge for one in filling if one.gauge})
    at = [
        ngettext("{n} place", "{n} places", len(filling)).format(n=len(filling)),
        _("{per} each").format(per=per),
        _("from {first:.0f} to {last:.0f} mm").format(first=first, last=last),
        _("needle {gauge} G").format(gauge="/".join(map(str, gauges))) if gauges else "",
    ]
    drawn = _("Seen from below, head to the left. {n} fillings from {first:.0f} to {last:.0f} mm.").format(
        n=len(filling), first=first, last=last
    )
    numbers = tuple(one.number for one in filling)
    return Move(key, round_, what, plain_ml(total), "mL", _unparted(at), caution, drawn, numbers)


def _where_pricked(pricking: Sequence[Prick]) -> str:
    counts: dict[str, int] = {}
    for one in pricking:
        counts[one.region] = counts.get(one.region, 0) + one.count
    return "; ".join(
        ngettext("{region}, {n} prick", "{region}, {n} pricks", n).format(region=_(region), n=n)
        for region, n in counts.items()
    )


def plan_from_file(path: str | Path) -> TonightsPlan:
    """Read ``plan.json``.

    Raises
    ------
    FindingsError
        If it cannot be read or is no plan.
    """
    raw, _sha256 = read_bytes(path, limit_bytes=50_000_000)
    try:
        document = json.loads(raw)
    except ValueError:
        document = None
    if not isinstance(document, dict):
        raise FindingsError(
            [Finding(_("this is not a plan"), _("Give the plan.json that 'keepfast plan' wrote."), file=str(path))]
        )
    return read_plan(document, str(path))
