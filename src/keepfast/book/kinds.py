"""What kinds of entry mean: which things an entry is about, and whether it is valid.

A *thing* (trip, place, event, animal, tray, jar ...) comes to be with an entry of its own kind and takes that
entry's id. A later entry of that kind which names the thing in the field of the same name adds to it. Every other
kind names the things it is about. The kinds themselves stand in ``catalogue.py``.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from keepfast.book.catalogue import KINDS, MEASURES, STEPS_DONE, Kind
from keepfast.book.entries import ID, LARGEST_CONTENT, Entry
from keepfast.book.fields import Field, findings_of_fields
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

__all__ = [
    "KINDS",
    "LINKS",
    "MEASURES",
    "STEPS_DONE",
    "THINGS",
    "Kind",
    "Subject",
    "findings_of",
    "is_id",
    "load_content",
    "subjects",
    "unreadable",
]

THINGS: tuple[str, ...] = tuple(name for name, kind in KINDS.items() if kind.thing)

# Fields by which an entry tells which things it is about, and the kind of each; read for every entry.
_ABOUT: dict[str, tuple[tuple[str, str, bool], ...]] = {
    name: tuple((f, spec.to, spec.sort == "ids") for f, spec in kind.fields.items() if spec.about and spec.to != name)
    for name, kind in KINDS.items()
}
# Fields by which a thing names others without being part of their record.
LINKS: dict[str, tuple[tuple[str, str, bool], ...]] = {
    name: tuple((f, spec.to, spec.sort == "ids") for f, spec in kind.fields.items() if spec.to and spec.to != name)
    for name, kind in KINDS.items()
    if kind.thing
}

Subject = tuple[str, str]  # kind of thing, id


def subjects(kind: str, entry_id: str, content: Mapping[str, Any]) -> tuple[Subject, ...]:
    """The things an entry is about, none twice. A correction is about nothing of its own."""
    known = KINDS.get(kind)
    if known is None:
        return ()
    found: dict[Subject, None] = {}
    if known.thing:
        found[(kind, content.get(kind) or entry_id)] = None
    for name, to, many in _ABOUT[kind]:
        value = content.get(name)
        if value:
            if many:
                found.update(((to, part), None) for part in value)
            else:
                found[(to, value)] = None
    return tuple(found)


def findings_of(entry: Entry) -> list[Finding]:
    """All that keeps an entry from being valid; empty when it is."""
    where = f"{entry.kind} {entry.id[-12:]}"
    found: list[Finding] = []
    if not entry.who.strip():
        found.append(Finding(_("an entry says who wrote it"), field="who", subject=where))
    if not entry.device.strip():
        found.append(Finding(_("an entry says on which device it was written"), field="device", subject=where))
    for name, text in (("who", entry.who), ("device", entry.device)):
        if trouble := Field("text", "").trouble(text):
            found.append(Finding(trouble, field=name, subject=where))
    kind = KINDS.get(entry.kind)
    if kind is None:
        known = ", ".join(KINDS)
        found.append(
            Finding(_("there is no such kind of entry"), _("Known: {known}.").format(known=known), subject=where)
        )
        return found
    inside = list(findings_of_fields(kind.fields, entry.content, whole=True, subject=where))
    if not inside:
        try:
            if len(entry.text) > LARGEST_CONTENT:
                inside.append(Finding(_("this entry is too large"), _("Write it as several."), subject=where))
        except ValueError as problem:
            inside.append(Finding(str(problem), subject=where))
    if not inside:
        inside.extend(_of_the_whole(entry, where))
    return found + inside


def _of_the_whole(entry: Entry, where: str) -> Iterator[Finding]:
    content = entry.content
    kind = KINDS[entry.kind]
    if kind.thing and content.get(entry.kind) is None and kind.label and not content.get(kind.label):
        yield Finding(
            _("a new {kind} needs this").format(kind=entry.kind), kind.fields[kind.label].words, field=kind.label,
            subject=where,
        )  # fmt: skip
    if entry.kind == "correction":
        of = KINDS.get(content["of_kind"])
        if of is None:
            yield Finding(_("there is no such kind of entry"), field="of_kind", read=content["of_kind"], subject=where)
        elif content.get("set"):
            yield from findings_of_fields(of.fields, content["set"], whole=False, subject=where)
            if of.thing and of.name in content["set"]:
                yield Finding(_("an entry cannot be turned into another thing's"), field=of.name, subject=where)
        elif not content.get("withdraw"):
            yield Finding(_("a correction sets a value or withdraws the entry"), field="set", subject=where)
    elif entry.kind in ("number_block", "number_explained") and content["last"] < content["first"]:
        yield Finding(_("the last number comes before the first"), field="last", subject=where)
    elif entry.kind == "temperatures":
        values = content["temperature_c"].get("values")
        if not isinstance(values, list) or len(values) != len(content["at"]):
            yield Finding(_("there is not one temperature to each moment"), field="temperature_c", subject=where)
    elif not kind.alone and not kind.thing and not subjects(entry.kind, entry.id, content):
        names = ", ".join(name for name, _to, _many in _ABOUT[entry.kind])
        yield Finding(_("this entry is about nothing"), _("Name one of: {names}.").format(names=names), subject=where)


def unreadable() -> FindingsError:
    """What is said where an entry is not what any program of ours has written."""
    what = _("an entry of this book cannot be read: it was damaged or altered")
    remedy = _("See which with: keepfast book prove. Then take the last backup with: keepfast book restore")
    return FindingsError([Finding(what, remedy)])


def load_content(text: str) -> dict[str, Any]:
    """The content from its canonical text.

    Raises
    ------
    FindingsError
        If the text is not what an entry was written with: the file was damaged or altered.
    """
    try:
        content = json.loads(text)
    except (ValueError, RecursionError):
        raise unreadable() from None
    if not isinstance(content, dict):
        raise unreadable()
    return content


def is_id(text: str) -> bool:
    """Whether a text is an id."""
    return bool(ID.fullmatch(text))
