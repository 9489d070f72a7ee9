"""Notes into entries: each row's place, event, animal, measures, name, tissue, jar, number, against what is known."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from typing import Any

from keepfast.book.animals import Animal
from keepfast.desk.georeferencing import Source, place_content
from keepfast.desk.reading_draft import Draft, Known, Line
from keepfast.exchange.note_columns import Statement
from keepfast.exchange.notes import NoteRow
from keepfast.findings import Finding
from keepfast.words import _

# Fields of a place that tell two places apart; what is reckoned from them does not.
_PLACE_IDENTITY = (
    "name", "verbatim_locality", "country", "country_code", "state_province", "county", "municipality",
    "verbatim_coordinates", "verbatim_datum", "elevation_low_m", "sources",
)  # fmt: skip
_EVENT_FIELDS = ("when", "verbatim_when", "by", "method", "effort", "weather", "temperature_c")
_UNSAID = Animal(field_number="", form="")
_MANY_PLACES = 500  # beyond this a missing datum is not looked up place by place


class NotesIntoEntries:
    """Turns rows into entries of a draft; rows of one file share places, events, jars and permits."""

    def __init__(
        self,
        draft: Draft,
        known: Known,
        file: str,
        statement: Statement,
        *,
        trip: str = "",
        source: Source | None = None,
    ) -> None:
        self.draft = draft
        self.known = known
        self.file = file
        self.statement = statement
        self.trip = trip
        self.source = source
        self._places: dict[tuple[Any, ...], str] = {}
        self._known_places: dict[tuple[Any, ...], str] | None = None
        self._events: dict[tuple[Any, ...], str] = {}
        self._numbered: dict[str, tuple[int, dict[str, Any], str]] = {}
        self._jars: dict[str, str] = {}
        self._jar_animals: dict[str, list[str]] = {}
        self._permits: dict[str, str] = {}
        self._numbers: dict[tuple[str, str], int] = {}
        self._doubted: dict[str, int] = {}
        self._wrong = self._changed_now = False

    def add(self, row: NoteRow) -> None:
        """One row. What is wrong with it goes into the draft's findings."""
        self._wrong = self._changed_now = False
        place = self._place(row)
        event = self._event(row, place)
        if self._wrong:
            return
        number = row.field_number
        found = self.known.called("animal", number)
        if len(found) > 1 and found[0].get("field_number") != number:
            self._say(
                row,
                "animal.field_number",
                _("several animals of the book are called so"),
                _("Write the number exactly as one of them has it."),
                number,
            )
            return
        content = {name: value for name, value in row.values["animal"].items() if value is not None}
        if event:
            content["event"] = event
        if found:
            animal = self._changed_animal(row, found[0], content)
            state = found[0]
        else:
            animal = self.draft.add("animal", {**content, "verbatim": row.verbatim})
            self.known.also("animal", animal, content)
            self.draft.new.append(Line(self.file, row.number, "animal", number))
            state = {}
        touched = self._measures(row, animal, state)
        touched |= self._name(row, animal, state)
        touched |= self._catalogue(row, animal, state)
        touched |= self._tissue(row, animal)
        touched |= self._jar(row, animal, state)
        if found and not touched and not self._changed_now:
            self.draft.same += 1

    def finish(self) -> None:
        """What is written once for many rows."""
        for jar, animals in self._jar_animals.items():
            self.draft.add("moved", {"animals": animals, "jar": jar})

    # --- places and events ---

    def _place(self, row: NoteRow) -> str:
        said = row.values.get("place")
        if not said:
            return ""
        date = _day_of(row)
        key = tuple(sorted((name, str(value)) for name, value in said.items()))
        if key in self._places:
            return self._places[key]
        unknown = "by place" if len(self._places) < _MANY_PLACES else "worst"
        content, slips = place_content(
            said, language=self.statement.language, date=date, source=self.source, unknown_datum=unknown
        )
        wrong = False
        for slip in slips:
            read = str(said.get(slip.field) or "")
            if slip.weight == "error":
                wrong = True
                self._say(row, f"place.{slip.field}", slip.what, slip.remedy, read)
            else:
                self._doubt_once(row, f"place.{slip.field}", slip.what, slip.remedy, read)
        if wrong or not content.get("name"):
            return ""
        identity = _identity(content)
        if self._known_places is None:
            self._known_places = {_identity(state): state["id"] for state in self.known.all("place")}
        place = self._known_places.get(identity)
        if place is None:
            place = self.draft.add("place", content)
            self._known_places[identity] = place
            self.draft.new.append(Line(self.file, row.number, "place", content["name"]))
        self._places[key] = place
        return place

    def _event(self, row: NoteRow, place: str) -> str:
        said = dict(row.values.get("event", {}))
        permit = row.values.get("permit", {}).get("number", "")
        if not said and not place and not permit:
            return ""
        content: dict[str, Any] = {name: said[name] for name in _EVENT_FIELDS if name in said}
        if place:
            content["place"] = place
        if self.trip:
            content["trip"] = self.trip
        if permit:
            content["permits"] = [self._permit(row, permit)]
        number = said.get("number", "")
        if number:
            return self._numbered_event(row, number, content)
        key = (place, content.get("when"), tuple(content.get("by") or ()), content.get("method"), content.get("effort"))
        found = self._events.get(key)
        if found is None:
            label = self._event_label(row, content)
            for state in self.known.called("event", label):
                if all(state.get(name) == value for name, value in content.items() if name != "verbatim_when"):
                    found = state["id"]
                    break
            else:
                found = self.draft.add("event", {"number": label, **content})
                self.known.also("event", found, {"number": label, **content})
                self.draft.new.append(Line(self.file, row.number, "event", label))
            self._events[key] = found
        return found

    def _event_label(self, row: NoteRow, content: Mapping[str, Any]) -> str:
        said = row.values.get("place", {})
        where = said.get("name") or said.get("verbatim_locality") or said.get("coordinates") or ""
        parts = [str(content.get("when") or _("undated")), str(where), " & ".join(content.get("by") or ())]
        return ", ".join(part for part in parts if part)[:300]

    def _numbered_event(self, row: NoteRow, number: str, content: dict[str, Any]) -> str:
        if number in self._numbered:
            first, had, event = self._numbered[number]
            for name, value in content.items():
                if name in had and had[name] != value and name != "verbatim_when":
                    self._say(
                        row,
                        "event.number" if name == "place" else f"event.{name}",
                        _("event {number} was told otherwise in row {row}").format(number=number, row=first),
                        _("One event is one stop: mend one of the rows, or give two numbers."),
                        str(row.values.get("event", {}).get(name, number)),
                    )
                    return ""
            more = {name: value for name, value in content.items() if name not in had}
            if more:
                self.draft.add("event", {"event": event, **more})
                had.update(more)
            return event
        found = self.known.called("event", number)
        if found:
            event = found[0]["id"]
            changes = {n: v for n, v in content.items() if n != "verbatim_when" and found[0].get(n) != v}
            for name, value in changes.items():
                self.draft.changed.append(Line(self.file, row.number, "event", number, name, found[0].get(name), value))
            if changes:
                self.draft.add("event", {"event": event, **changes})
        else:
            event = self.draft.add("event", {"number": number, **content})
            self.known.also("event", event, {"number": number, **content})
            self.draft.new.append(Line(self.file, row.number, "event", number))
        self._numbered[number] = (row.number, dict(content), event)
        return event

    def _permit(self, row: NoteRow, number: str) -> str:
        if number not in self._permits:
            found = self.known.called("permit", number)
            if found:
                self._permits[number] = found[0]["id"]
            else:
                content = {"number": number} | ({"trip": self.trip} if self.trip else {})
                self._permits[number] = self.draft.add("permit", content)
                self.draft.new.append(Line(self.file, row.number, "permit", number))
        return self._permits[number]

    # --- the animal and what hangs from it ---

    def _changed_animal(self, row: NoteRow, state: Mapping[str, Any], content: Mapping[str, Any]) -> str:
        """An entry that adds what the book does not say yet, or says otherwise. An empty cell says nothing."""
        animal = str(state["id"])
        changes = {
            name: value
            for name, value in content.items()
            if not _alike(name, state.get(name), value) and name != "field_number"
        }
        self._changed_now = bool(changes)
        if changes:
            self.draft.add("animal", {"animal": animal, **changes, "verbatim": row.verbatim})
            for name, value in changes.items():
                was, now = state.get(name), value
                if name == "event":  # as people call it
                    was, now = (self._event_called(one) for one in (was, now))
                self.draft.changed.append(Line(self.file, row.number, "animal", row.field_number, name, was, now))
        return animal

    def _event_called(self, event: str | None) -> str:
        known = self.known.state("event", event) if event else None
        return str((known or {}).get("number") or event or "")

    def _measures(self, row: NoteRow, animal: str, state: Mapping[str, Any]) -> bool:
        said = row.values.get("measurement")
        if not said or not said.get("values"):
            return False
        had = state.get("measured") or {}
        values = {name: value for name, value in said["values"].items() if had.get(name) != value}
        if not values:
            return False
        content: dict[str, Any] = {"animal": animal, "values": values}
        content |= {name: said[name] for name in ("how", "by") if said.get(name)}
        if "length_mm" in values and said.get("length_kind"):
            content["length_kind"] = said["length_kind"]
        self.draft.add("measurement", content)
        self._tell(row, state, {f"measured.{name}": (had.get(name), value) for name, value in values.items()})
        return True

    def _name(self, row: NoteRow, animal: str, state: Mapping[str, Any]) -> bool:
        said = row.values.get("determination")
        if not said or not said.get("taxon"):
            return False
        # How the name was spelt, and the rank that was read off it, make no other name; a doubt does.
        told = {**said, "qualifier": said.get("qualifier")}
        for had in state.get("determinations") or ():
            if all(had.get(name) == value for name, value in told.items() if name not in ("verbatim_name", "rank")):
                return False
        self.draft.add("determination", {"animal": animal, **{n: v for n, v in said.items() if v}})
        was, is_now = state.get("taxon"), said["taxon"]
        if was == is_now:  # only the doubt about it is another
            last = state["determinations"][-1]
            was, is_now = (_with_doubt(was, one.get("qualifier")) for one in (last, said))
        self._tell(row, state, {"taxon": (was, is_now)})
        return True

    def _catalogue(self, row: NoteRow, animal: str, state: Mapping[str, Any]) -> bool:
        said = row.values.get("catalogue_number")
        if not said or not said.get("number") or state.get("catalogue_number") == said["number"]:
            return False
        if self._twice(row, "catalogue_number.number", said["number"]):
            return False
        self.draft.add("catalogue_number", {"animal": animal, **said})
        self._tell(row, state, {"catalogue_number": (state.get("catalogue_number"), said["number"])})
        return True

    def _tissue(self, row: NoteRow, animal: str) -> bool:
        said = row.values.get("tissue")
        if not said:
            return False
        number = said.get("number", "")
        if not number:
            self._doubt_once(
                row,
                "tissue.part",
                _("a tissue without its own number is kept word for word only"),
                _("Add a column with the tubes' numbers."),
                str(said.get("part") or said.get("medium") or ""),
            )
            return False
        for had in self.known.called("tissue", number):
            if had.get("animal") == animal:
                return False
            if had.get("number") == number:
                self._say(
                    row,
                    "tissue.number",
                    _("this tissue belongs to another animal in the book"),
                    _("Look at the tube."),
                    number,
                )
                return False
        if self._twice(row, "tissue.number", number):
            return False
        self.draft.add("tissue", {"animal": animal, **said})
        self.draft.new.append(Line(self.file, row.number, "tissue", number))
        return True

    def _jar(self, row: NoteRow, animal: str, state: Mapping[str, Any]) -> bool:
        said = row.values.get("jar")
        if not said or not said.get("number"):
            return False
        number = said["number"]
        if number not in self._jars:
            found = self.known.called("jar", number)
            if found:
                self._jars[number] = found[0]["id"]
            else:
                self._jars[number] = self.draft.add("jar", said)
                self.draft.new.append(Line(self.file, row.number, "jar", number))
        jar = self._jars[number]
        had = (state.get("container") or {}).get("jar")
        if had == jar:
            return False
        self._jar_animals.setdefault(jar, []).append(animal)
        if state:
            was = (self.known.state("jar", had) or {}).get("number") if had else None
            self._tell(row, state, {"jar": (was, number)})
        return True

    # --- saying ---

    def _tell(self, row: NoteRow, state: Mapping[str, Any], changes: Mapping[str, tuple[Any, Any]]) -> None:
        """A change of an animal that the book had; a new animal's fields are not changes."""
        if state:
            for name, (was, is_now) in changes.items():
                self.draft.changed.append(Line(self.file, row.number, "animal", row.field_number, name, was, is_now))

    def _twice(self, row: NoteRow, meaning: str, number: str) -> bool:
        first = self._numbers.setdefault((meaning, number), row.number)
        if first == row.number:
            return False
        self._say(
            row,
            meaning,
            _("this number stands in row {row} already").format(row=first),
            _("A number belongs to one thing."),
            number,
        )
        return True

    def _heading(self, meaning: str) -> str:
        use = self.statement.meant(meaning)
        return use.heading if use else meaning

    def _say(self, row: NoteRow, meaning: str, what: str, remedy: str, read: str) -> None:
        self._wrong = True
        self.draft.findings.append(
            Finding(what, remedy, "error", self.file, row.number, self._heading(meaning), read[:200], row.field_number)
        )

    def _doubt_once(self, row: NoteRow, meaning: str, what: str, remedy: str, read: str) -> None:
        if self._doubted.setdefault(f"{meaning} {what}", row.number) == row.number:
            self.draft.findings.append(
                Finding(
                    what, remedy, "doubt", self.file, row.number, self._heading(meaning), read[:200], row.field_number
                )
            )


def _identity(content: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(content.get(name) for name in _PLACE_IDENTITY)


def _with_doubt(taxon: str, qualifier: str | None) -> str:
    return f"{taxon} ({qualifier})" if qualifier else taxon


def _alike(name: str, had: Any, value: Any) -> bool:
    """Whether the book says so already; a moment may be written with another offset.

    What is taken for an animal of which nobody said otherwise (a whole tail, an unknown sex) is no news either.
    """
    if had == value or (had is None and value == getattr(_UNSAID, name, None)):
        return True
    if name in ("died_at", "found_at") and isinstance(had, str) and isinstance(value, str):
        try:
            return datetime.datetime.fromisoformat(had) == datetime.datetime.fromisoformat(value)
        except (ValueError, TypeError):
            return False
    return False


def _day_of(row: NoteRow) -> datetime.date | None:
    when = row.values.get("event", {}).get("when")
    try:
        return datetime.date.fromisoformat(str(when)[:10]) if when else None
    except ValueError:
        return None
