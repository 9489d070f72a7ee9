"""What has been said at the table so far: the newest word for each field, differing pens, open questions, progress.

It is built one entry at a time and is the same whatever the order in which the entries came.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from keepfast.desk.table_entries import SESSION, PenRules
from keepfast.plan.objects import ROUNDS

Slim = dict[str, Any]
Key = tuple[str, str]


def _place(said: Slim) -> tuple[int, str]:
    return int(said["order_ms"]), str(said["id"])


def moment(said: Slim) -> datetime.datetime:
    """When it was said."""
    return datetime.datetime.fromisoformat(said["at"])


class TableState:
    """The evening as the entries tell it."""

    def __init__(self, rules: PenRules) -> None:
        self.rules = rules
        self.latest: dict[Key, Slim] = {}
        self.answers: dict[str, Slim] = {}
        self.added: dict[str, Slim] = {}  # animals that came to the table tonight, by id
        self.new_trays: dict[str, Slim] = {}
        self.readings: dict[str, list[Slim]] = {}  # of repeated fields, by subject
        self.pauses: dict[str, Slim] = {}
        self.handed_over: dict[str, Slim] = {}
        self.signatures: dict[str, Slim] = {}
        self.roots: dict[str, Slim] = {}  # the first word of a field that was corrected later
        self.count = 0
        self.first: Slim | None = None
        self.by_person: dict[tuple[str, str], int] = {}  # who and under whose eyes: how many entries
        self._heads: dict[Key, dict[str, Slim]] = {}
        self._superseded: set[str] = set()

    def take(self, said: Slim) -> list[Slim]:
        """Add one entry; what the screens must hear because of it."""
        self.count += 1
        person = (said["who"], str(said.get("under", "")))
        self.by_person[person] = self.by_person.get(person, 0) + 1
        if said.get("answers"):
            before = self.answers.get(said["answers"])
            if before is None or _place(said) > _place(before):
                self.answers[said["answers"]] = said
            return [said]
        key = (said["subject"], said["field"])
        spec = self.rules.field(said["field"])
        self._collect(said, repeats=spec is not None and spec.repeats)
        before = self.latest.get(key)
        if before is None or _place(said) > _place(before):
            self.latest[key] = said
        if spec is None or spec.repeats:
            return [said]
        if not said.get("root"):
            self.roots[said["id"]] = said
        self._note_heads(key, said)
        newest = self.latest[key]
        clash = self.clash(key)
        told = {**newest, "clash": {n: clash[n] for n in ("id", "who", "text")} if clash else None}
        return [told] if newest is said else [said, told]

    def _collect(self, said: Slim, repeats: bool) -> None:
        field, subject = said["field"], said["subject"]
        if field == "animal":
            self.added[subject] = said
        elif field == "new_tray":
            self.new_trays[subject] = said
        elif repeats:
            self.readings.setdefault(subject, []).append(said)
        elif subject == SESSION:
            kept = {"pause": self.pauses, "handed_over": self.handed_over, "signed": self.signatures}.get(field)
            if kept is not None:
                kept[said["id"]] = said
        if subject != SESSION and field != "new_batch" and (self.first is None or moment(said) < moment(self.first)):
            self.first = said

    def _note_heads(self, key: Key, said: Slim) -> None:
        heads = self._heads.setdefault(key, {})
        for seen in (said.get("seen"), said.get("also_seen")):
            if seen:
                self._superseded.add(seen)
                heads.pop(seen, None)
        if said["id"] not in self._superseded:
            heads[said["id"]] = said

    def clash(self, key: Key) -> Slim | None:
        """What another pen wrote for the same field without having seen this one, where the two differ."""
        newest = self.latest.get(key)
        if newest is None or newest["id"] in self.answers:
            return None
        for other in self._heads.get(key, {}).values():
            if other["id"] != newest["id"] and other["value"] != newest["value"]:
                return other
        return None

    def snapshot(self) -> list[Slim]:
        """The newest entry for each field, and the answers, for a screen that is opened now."""
        current = []
        for key, said in self.latest.items():
            clash = self.clash(key)
            current.append({**said, "clash": {n: clash[n] for n in ("id", "who", "text")}} if clash else said)
        return [*current, *self.answers.values()]

    # Looking

    def value(self, subject: str, field: str) -> Any:
        """The value that stands, ``None`` where there is none."""
        said = self.latest.get((subject, field))
        return None if said is None else said["value"]

    def has(self, subject: str, field: str) -> bool:
        """Whether something stands there."""
        return self.value(subject, field) not in (None, False)

    def moved(self, subject: str, move: str, round_: str) -> bool:
        """Whether the hands are done with a move, by their own word or because the pen closed the round."""
        return self.value(subject, f"move:{move}") is True or self.value(subject, f"round:{round_}") is True

    def order(self, order: Sequence[str], round_: str) -> list[str]:
        """Animals of a round in the order of work; those put off come last, those left out do not come."""
        place = {subject: i for i, subject in enumerate(order)}

        def late(subject: str) -> int:
            said = self.latest.get((subject, f"later:{round_}"))
            return int(said["order_ms"]) if said else 0

        staying = [subject for subject in order if self.value(subject, "left_out") is not True]
        return sorted(staying, key=lambda subject: (late(subject), place[subject]))

    def open_questions(self) -> Iterator[tuple[Key, Slim, Slim | None]]:
        """What was asked back and not answered: the entry, and the differing one where two pens differ."""
        for key, said in self.latest.items():
            clash = self.clash(key)
            asked = said.get("asked") and said["id"] not in self.answers and said["value"] not in (None, False)
            if clash or asked:
                yield key, said, clash

    def paused(self) -> Slim | None:
        """The pause that is on, if one is."""
        said = self.latest.get((SESSION, "pause"))
        return said if said is not None and said["value"] is True else None

    def ended(self) -> Slim | None:
        """The word that ended the evening, if it stands."""
        said = self.latest.get((SESSION, "ended"))
        return said if said is not None and said["value"] is True else None

    def paused_minutes(self, until: datetime.datetime) -> float:
        """How long the table has rested so far."""
        rested, since = 0.0, None
        for said in sorted(self.pauses.values(), key=_place):
            if said["value"] is True and since is None:
                since = moment(said)
            elif said["value"] is not True and since is not None:
                rested += max(0.0, (moment(said) - since).total_seconds() / 60)
                since = None
        if since is not None:
            rested += max(0.0, (until - since).total_seconds() / 60)
        return rested


def rounds_of(rules: PenRules, form: str) -> Iterable[str]:
    """Rounds in which an animal of this form has something to write."""
    return [r for r in ROUNDS if any(f.round == r and f.suits(form) for f in rules.fields)]
