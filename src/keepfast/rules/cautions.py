"""Cautions as data: each tied to what calls it up, with its reason and its source.

A file of cautions (``cautions/field.toml`` ships) also holds the disinfectants, with the strength of the product and
its dilution kept apart. Start with `load` and `called_up`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.terms import FORMS, KNOWN

# Words that a caution may name; a test holds rounds and forms equal to those of the plan and the book.
ROUNDS = ("before", "prick", "fill", "pose", "cover")
FLUIDS = ("formalin", "alcohol", "bleach")
PLACES = ("open", "tarpaulin", "tent", "tent_two_flaps", "tent_one_flap", "tent_closed", "room", "vehicle")

_LINES = ("rounds", "steps", "forms", "fluids", "places", "conditions")
_WORDS = {"rounds": ROUNDS, "forms": FORMS, "fluids": FLUIDS, "places": PLACES}
_KEY = re.compile(r"[a-z][a-z0-9_]*")
_CAUTION_KEYS = ("key", "text", "reason", "source", "known", "called_up_by")
_AGENT_KEYS = {
    "agent": str,
    "against": str,
    "product_strength_percent": float,
    "dilution_percent_v_v": float,
    "working_mg_ml": float,
    "minutes": float,
    "works": bool,
    "note": str,
    "source": str,
    "known": str,
}


@dataclass(frozen=True)
class Caution:
    """A short warning, why it is given, where that comes from, and what calls it up.

    Every tuple that is not empty must be met by one of its words; see `called_up`.
    """

    key: str
    text: str
    reason: str
    source: str
    known: str
    rounds: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    forms: tuple[str, ...] = ()
    fluids: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()

    @property
    def called_up_by(self) -> str:
        """What calls it up, in one line: ``rounds: prick, fill; forms: snake``."""
        return "; ".join(f"{line}: {', '.join(getattr(self, line))}" for line in _LINES if getattr(self, line))

    def as_dict(self) -> dict[str, Any]:
        """For JSON: the words and, by line, what calls it up."""
        return {
            "key": self.key,
            "text": self.text,
            "reason": self.reason,
            "source": self.source,
            "known": self.known,
            "called_up_by": {line: list(getattr(self, line)) for line in _LINES if getattr(self, line)},
        }


@dataclass(frozen=True)
class Disinfectant:
    """What one source reports about one agent against one germ.

    ``product_strength_percent`` is what the bottle as bought holds, ``dilution_percent_v_v`` the share of that bottle
    in what is used, ``working_mg_ml`` the agent in what is used; ``None`` where the source seen does not say.
    """

    agent: str
    against: str
    works: bool
    source: str
    known: str
    product_strength_percent: float | None = None
    dilution_percent_v_v: float | None = None
    working_mg_ml: float | None = None
    minutes: float | None = None
    note: str = ""

    def as_dict(self) -> dict[str, Any]:
        """For JSON; ``null`` where the source seen does not say."""
        return {name: getattr(self, name) for name in _AGENT_KEYS}


@dataclass(frozen=True)
class Cautions:
    """One file of cautions, in its order; iterating gives the cautions."""

    file: sources.RulesFile
    cautions: tuple[Caution, ...]
    disinfectants: tuple[Disinfectant, ...] = field(default=())

    def __iter__(self) -> Iterator[Caution]:
        return iter(self.cautions)

    def __len__(self) -> int:
        return len(self.cautions)

    def of(self, key: str) -> Caution:
        """The caution with this key.

        Raises
        ------
        KeyError
            If there is none.
        """
        for caution in self.cautions:
            if caution.key == key:
                return caution
        raise KeyError(key)


def load(name_or_path: str | Path = "field") -> Cautions:
    """Read a file of cautions: one that ships, by name, or one of one's own, by path.

    Raises
    ------
    FindingsError
        If it cannot be read or any entry in it is wrong; all findings at once.
    """
    file = sources.read("cautions", name_or_path)
    label = str(name_or_path)
    found = sources.unknown_keys(label, "", file.data, ("title", "date", "subject", "cautions", "disinfectants"))
    cautions = [_caution(label, n, raw, found) for n, raw in enumerate(_tables(label, file.data, "cautions", found), 1)]
    seen: set[str] = set()
    for caution in cautions:
        if caution.key in seen:
            found.append(
                Finding("two cautions have this key", "Rename one.", file=label, field="key", read=caution.key)
            )
        seen.add(caution.key)
    agents = [
        _disinfectant(label, n, raw, found)
        for n, raw in enumerate(_tables(label, file.data, "disinfectants", found), 1)
    ]
    if not cautions:
        found.append(Finding("the file holds no caution", "Add one: [[cautions]].", file=label, field="cautions"))
    if found:
        raise FindingsError(found)
    return Cautions(file, tuple(cautions), tuple(agents))


def called_up(
    cautions: Iterable[Caution],
    *,
    round: str | Iterable[str] | None = None,
    step: str | Iterable[str] | None = None,
    form: str | Iterable[str] | None = None,
    fluid: str | Iterable[str] | None = None,
    place: str | Iterable[str] | None = None,
    condition: str | Iterable[str] | None = None,
) -> tuple[Caution, ...]:
    """The cautions that these circumstances call up, in the file's order.

    A caution is called up when each line that it names (rounds, steps, forms, fluids, places, conditions) holds at
    least one of the words given for that line. A line that it does not name does not matter; a line that it names and
    for which nothing is given is not met.

    Parameters
    ----------
    cautions : iterable of Caution
        As `load` gives them.
    round, step, form, fluid, place, condition : str, iterable of str or None
        What is the case. One word or several; ``condition`` takes what is noted of an animal (iced, bloated) and of
        the day (hot).

    Returns
    -------
    tuple of Caution
        Empty when nothing is given.
    """
    given = {
        "rounds": _words(round),
        "steps": _words(step),
        "forms": _words(form),
        "fluids": _words(fluid),
        "places": _words(place),
        "conditions": _words(condition),
    }
    return tuple(
        caution
        for caution in cautions
        if all(given[line].intersection(getattr(caution, line)) for line in _LINES if getattr(caution, line))
    )


def _words(given: str | Iterable[str] | None) -> frozenset[str]:
    if given is None:
        return frozenset()
    return frozenset((given,)) if isinstance(given, str) else frozenset(given)


def _tables(label: str, data: dict[str, Any], name: str, found: list[Finding]) -> list[dict[str, Any]]:
    entries = data.get(name, [])
    if isinstance(entries, list) and all(isinstance(entry, dict) for entry in entries):
        return entries
    found.append(Finding("this must be a list of tables", f"Begin each with [[{name}]].", file=label, field=name))
    return []


def _text(label: str, where: str, raw: dict[str, Any], name: str, found: list[Finding]) -> str:
    value = raw.get(name)
    if isinstance(value, str) and value.strip():
        return value
    found.append(
        Finding(
            f"{name} is missing or is not text",
            f'Add a line: {name} = "..."',
            file=label,
            field=where,
            read=None if value is None else str(value),
        )
    )
    return ""


def _known(label: str, where: str, value: str, found: list[Finding]) -> None:
    if value and value not in KNOWN:
        found.append(
            Finding(
                "how it is known is not one of the agreed words",
                f"Use one of: {'; '.join(KNOWN)}.",
                file=label,
                field=f"{where}.known",
                read=value,
            )
        )


def _caution(label: str, number: int, raw: dict[str, Any], found: list[Finding]) -> Caution:
    where = f"cautions {raw.get('key', number)}"
    found += sources.unknown_keys(label, where, raw, _CAUTION_KEYS)
    texts = {name: _text(label, where, raw, name, found) for name in _CAUTION_KEYS[:-1]}
    _known(label, where, texts["known"], found)
    if texts["key"] and not _KEY.fullmatch(texts["key"]):
        found.append(
            Finding(
                "a key is written in small letters, digits and underscores",
                file=label,
                field=where,
                read=texts["key"],
            )
        )
    lines = raw.get("called_up_by")
    if not isinstance(lines, dict) or not lines:
        found.append(
            Finding(
                "nothing calls this caution up",
                'Add a line such as: called_up_by = { rounds = ["fill"] }',
                file=label,
                field=where,
            )
        )
        lines = {}
    found += sources.unknown_keys(label, f"{where}.called_up_by", lines, _LINES)
    words = {line: _line(label, where, line, lines[line], found) for line in _LINES if line in lines}
    values: dict[str, Any] = {**texts, **words}
    return Caution(**values)


def _line(label: str, where: str, line: str, value: Any, found: list[Finding]) -> tuple[str, ...]:
    spot = f"{where}.{line}"
    if not isinstance(value, list) or not value or not all(isinstance(word, str) for word in value):
        found.append(Finding("this must be a list of words", f'For example: {line} = ["..."]', file=label, field=spot))
        return ()
    allowed = _WORDS.get(line)
    for word in value:
        if allowed is not None and word not in allowed:
            found.append(
                Finding(
                    "this word means nothing here",
                    f"Known here: {', '.join(allowed)}.",
                    file=label,
                    field=spot,
                    read=word,
                )
            )
    return tuple(value)


def _disinfectant(label: str, number: int, raw: dict[str, Any], found: list[Finding]) -> Disinfectant:
    where = f"disinfectants {number}"
    found += sources.unknown_keys(label, where, raw, _AGENT_KEYS)
    texts = {name: _text(label, where, raw, name, found) for name in ("agent", "against", "source", "known")}
    _known(label, where, texts["known"], found)
    works = raw.get("works")
    if not isinstance(works, bool):
        found.append(Finding("works is missing or is neither true nor false", file=label, field=where))
    numbers: dict[str, float] = {}
    for name, kind in _AGENT_KEYS.items():
        value = raw.get(name)
        if kind is not float or value is None:
            continue
        high = 100.0 if "percent" in name else math.inf
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= high:
            found.append(
                Finding(
                    f"{name} must be a number above 0" + (" and at most 100" if high == 100 else ""),
                    file=label,
                    field=where,
                    read=str(value),
                )
            )
            continue
        numbers[name] = float(value)
    values: dict[str, Any] = {**texts, **numbers}
    return Disinfectant(works=bool(works), note=str(raw.get("note", "")), **values)
