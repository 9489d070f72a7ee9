"""Entries out of what a person types: names of fields with values, and numbers on tags in place of ids."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from keepfast.book.entries import Acknowledged
from keepfast.book.fields import Field
from keepfast.book.kinds import KINDS, MEASURES, is_id
from keepfast.desk.books import Book
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

_YES, _NO = ("true", "yes", "1"), ("false", "no", "0")


def read_pairs(pairs: Sequence[str]) -> dict[str, str]:
    """``field=value`` texts as names and values.

    Raises
    ------
    FindingsError
        If one has no equals sign or a field stands twice.
    """
    read: dict[str, str] = {}
    found = []
    for pair in pairs:
        name, equals, value = pair.partition("=")
        if not equals or not name.strip():
            found.append(Finding(_("this is no field=value"), _("Write it as in: sex=female"), read=pair))
        elif name.strip() in read:
            found.append(Finding(_("this field stands twice"), field=name.strip(), read=value))
        else:
            read[name.strip()] = value
    if found:
        raise FindingsError(found)
    return read


def content_of(book: Book, kind: str, typed: Mapping[str, str]) -> dict[str, Any]:
    """The content of an entry from typed values. An empty value says that nobody knows.

    A thing may be named by its id or by what people call it (``animal=AB 12``); several, with a comma between. A
    measure may stand by itself (``mass_g=6.2``).

    Raises
    ------
    FindingsError
        If the kind or a field is unknown, a value is not of its sort, or a name fits no thing or several.
    """
    known = KINDS.get(kind)
    if known is None:
        raise FindingsError(
            [
                Finding(
                    _("there is no such kind of entry"), _("Known: {known}.").format(known=", ".join(KINDS)), read=kind
                )
            ]
        )
    content: dict[str, Any] = {}
    found: list[Finding] = []
    for name, value in typed.items():
        try:
            if name in known.fields:
                field = known.fields[name]
                said = value if field.exact else value.strip()
                content[name] = None if said == "" else _value(book, field, name, said)
            elif "values" in known.fields and name in MEASURES:
                content.setdefault("values", {})[name] = _number(name, value)
            else:
                fields = [f for f in known.fields if f != "values"] + (
                    list(MEASURES) if "values" in known.fields else []
                )
                found.append(
                    Finding(
                        _("this has no place in such an entry"),
                        _("Known here: {known}.").format(known=", ".join(fields)),
                        field=name,
                    )
                )
        except FindingsError as problem:
            found.extend(problem.findings)
    if found:
        raise FindingsError(found)
    return content


def _number(name: str, value: str) -> float:
    try:
        return float(value.strip().replace(",", "."))
    except ValueError:
        raise FindingsError([Finding(_("this should be a number"), field=name, read=value)]) from None


def _value(book: Book, field: Field, name: str, value: str) -> Any:
    if field.sort == "whole":
        try:
            return int(value)
        except ValueError:
            raise FindingsError([Finding(_("this should be a whole number"), field=name, read=value)]) from None
    if field.sort == "number":
        return _number(name, value)
    if field.sort == "flag":
        if value.lower() not in (*_YES, *_NO):
            raise FindingsError([Finding(_("this should be yes or no"), field=name, read=value)])
        return value.lower() in _YES
    if field.sort == "id":
        return _id(book, field, name, value)
    if field.sort == "ids":
        return [_id(book, field, name, one.strip()) for one in value.split(",") if one.strip()]
    if field.sort == "texts":
        return [one.strip() for one in value.split(",") if one.strip()]
    if field.sort in ("object", "objects", "numbers"):
        try:
            return json.loads(value)
        except ValueError:
            raise FindingsError([Finding(_("this should be JSON"), field=name, read=value[:80])]) from None
    return value


def _id(book: Book, field: Field, name: str, value: str) -> str:
    if is_id(value) or not field.to:
        return value
    return str(the_one(book, field.to, value, name)["id"])


def named(book: Book, kind: str, content: Mapping[str, Any]) -> dict[str, Any]:
    """The values with what people call the things in place of their ids, where they have a name."""
    fields = KINDS[kind].fields if kind in KINDS else {}
    shown = dict(content)
    with book.reading() as reads:
        for name, value in content.items():
            field = fields.get(name)
            if field is None or not field.to or not value:
                continue
            ids = [value] if field.sort == "id" else list(value)
            states = reads.states(field.to, ids)
            labels = [str(states.get(one, {}).get(KINDS[field.to].label) or one) for one in ids]
            shown[name] = labels[0] if field.sort == "id" else labels
    return shown


def the_one(book: Book, kind: str, label: str, field: str = "") -> dict[str, Any]:
    """The one thing of a kind that people call so, or that has this id.

    Raises
    ------
    FindingsError
        If there is none, or several.
    """
    if is_id(label):
        state = book.state(kind, label)
        matching: tuple[dict[str, Any], ...] = () if state is None else (state,)
    else:
        matching = book.by_label(kind, label)
        exact = tuple(state for state in matching if str(state.get(KINDS[kind].label)) == label)
        matching = exact or matching
    if len(matching) == 1:
        return matching[0]
    if not matching:
        what, remedy = _("the book has no {kind} of this name").format(kind=kind), _("Look it up with: keepfast find")
    else:
        what = _("{n} things of this kind have this name").format(n=len(matching))
        remedy = _("Use the id of the one you mean: {ids}.").format(ids=", ".join(s["id"] for s in matching[:5]))
    raise FindingsError([Finding(what, remedy, field=field, read=label)])


def add(book: Book, kind: str, typed: Mapping[str, str], *, who: str = "") -> Acknowledged:
    """Write an entry from typed values; see ``content_of``. Raises FindingsError where they do not fit."""
    return book.write(kind, content_of(book, kind, typed), who=who)


def correct(
    book: Book, entry_id: str, typed: Mapping[str, str], *, reason: str, withdraw: bool = False, who: str = ""
) -> Acknowledged:
    """Write a correction from typed values.

    Raises
    ------
    FindingsError
        If there is no such entry, nothing is to be corrected, or a value does not fit.
    """
    if not reason.strip():
        raise FindingsError(
            [Finding(_("a correction says why"), _("Say it with --reason."), field="reason")]
        )  # fmt: skip
    with book.reading() as reads:
        fact = reads.fact(entry_id)
    if fact is None:
        return book.correct(entry_id, reason=reason)  # says that there is none
    values = content_of(book, fact.kind, typed)
    if "values" in values and fact.kind == "measurement":
        # One measure is mended and the others of the same act stay.
        values["values"] = {**fact.content["values"], **values["values"]}
    return book.correct(entry_id, values, reason=reason, withdraw=withdraw, who=who)


def entry_of(book: Book, name: str, kind: str, of: str) -> str:
    """The id of the entry a person means: an id as it is, or the last entry of a kind about a thing they name.

    Parameters
    ----------
    book : Book
        The open book.
    name : str
        An entry's id, or what people call the thing.
    kind : str
        Kind of that thing.
    of : str
        Kind of entry; the thing's own kind where it is empty.

    Raises
    ------
    FindingsError
        If there is no such thing, or nothing of that kind was written about it.
    """
    if is_id(name):
        return name
    thing = the_one(book, kind, name)
    wanted = of or kind
    lines = [line for line in history_of(book, kind, thing["id"]) if line["kind"] == wanted and "withdrawn" not in line]
    if not lines:
        raise FindingsError(
            [Finding(_("nothing of this kind was written about it"), _("See: keepfast book show"), field=wanted)]
        )
    return str(lines[-1]["entry"])


def history_of(book: Book, kind: str, thing_id: str) -> list[dict[str, Any]]:
    """Every entry about a thing in its order, as it was written, with the corrections that name it."""
    lines: list[dict[str, Any]] = []
    with book.reading() as reads:
        for one in reads.history(kind, thing_id):
            fact = reads.fact(one.fact.id)
            assert fact is not None
            line: dict[str, Any] = {
                "entry": fact.id,
                "kind": fact.kind,
                "who": fact.who,
                "at": fact.at,
                "device": fact.device,
                "content": dict(fact.content),
            }
            if one.corrections:
                line["corrections"] = [
                    {
                        "entry": c.id,
                        "who": c.who,
                        "at": c.at,
                        "reason": c.content["reason"],
                        "set": c.content.get("set"),
                    }
                    for c in one.corrections
                ]
                line["now"] = dict(one.fact.content)
            if one.withdrawn is not None:
                line["withdrawn"] = one.withdrawn
            lines.append(line)
    return lines
