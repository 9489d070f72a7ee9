"""What a search looks at and what a searcher means: the document of a thing, and the reading of a query.

A document has seven parts (number, name, place, day, person, jar, words). A query is words; a word may name its part
(``jar:12``, ``place:lagoon``, ``by:ana``). Days are read in the ways they are written without doubt.
"""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from keepfast.book.fields import earliest_of, latest_of
from keepfast.book.number_blocks import number_key

PARTS = ("number", "name", "place", "day", "person", "jar", "words")
SEARCHED = ("animal", "tissue", "jar", "tray", "place", "event", "trip", "permit", "batch", "series", "photograph")
# Which things must be looked at again when one changes: kind of thing, relation, kind of those that name it.
SPEAK_OF = {
    "place": (("place", "event"),),
    "event": (("event", "animal"),),
    "jar": (("jar", "animal"),),
    "tray": (("tray", "animal"),),
    "animal": (("animal", "tissue"), ("animal", "photograph")),
    "trip": (("trip", "event"),),
}
MOST_DAYS = 62  # of an interval, each as a word of its own; longer ones by month
MOST_FIGURES = 5  # of a tag's running number; a longer one is a day, or written out
_WORD = re.compile(r"[^\W_]+")

Known = Callable[[str, str | None], Mapping[str, Any]]  # kind, id -> state, empty where unknown


def plain(text: str) -> str:
    """Without case or accents, as words are compared."""
    if text.isascii():
        return text.lower()
    taken_apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in taken_apart if not unicodedata.combining(c))


def words_of(text: str) -> list[str]:
    """The words and numbers of a text, as they are compared."""
    return _WORD.findall(plain(text))


def _gather(values: Iterable[Any], into: dict[str, None]) -> dict[str, None]:
    """The texts in nested values, each once, in their order."""
    for value in values:
        if not value and value != 0:
            continue
        if isinstance(value, str):
            into[value] = None
        elif isinstance(value, Mapping):
            _gather(value.values(), into)
        elif isinstance(value, Iterable):
            _gather(value, into)
        else:
            into[str(value)] = None
    return into


def _join(*values: Any) -> str:
    return " ".join(_gather(values, {}))


def _numbers(*values: Any) -> str:
    found = _gather(values, {})
    return " ".join(dict.fromkeys([*found, *(number_key(one) for one in found)]))


@lru_cache(maxsize=4096)
def day_words(when: str | None) -> tuple[str, ...]:
    """The words a date or interval is found by: 20260314, 202603, 2026."""
    if not when:
        return ()
    try:
        first, last = earliest_of(when), latest_of(when)
    except ValueError:
        return ()
    words: dict[str, None] = {}
    if (last - first).days <= MOST_DAYS:
        for ordinal in range(first.toordinal(), last.toordinal() + 1):
            day = datetime.date.fromordinal(ordinal).isoformat().replace("-", "")
            words.update(dict.fromkeys((day, day[:6], day[:4])))
    else:
        words.update(dict.fromkeys(str(year) for year in range(first.year, min(last.year, first.year + 200) + 1)))
    return tuple(words)


_PLACE = (
    *("name", "locality", "verbatim_locality", "country", "country_code", "state_province", "county"),
    "municipality",
)


def _place_words(place: Mapping[str, Any]) -> str:
    return _join(*(place[name] for name in _PLACE if name in place))


def _of_list(state: Mapping[str, Any], listed: str, *names: str) -> Sequence[Any]:
    items = state.get(listed)
    return [item[name] for item in items for name in names if name in item] if items else ()


def document(kind: str, state: Mapping[str, Any], known: Known) -> dict[str, str]:
    """What a thing is found by, part by part; ``known`` looks up the things it names."""
    part = dict.fromkeys(PARTS, "")
    entered = state.get("entered") or {}
    people: list[Any] = [state.get("by"), entered.get("who"), state.get("people"), state.get("holder")]
    words: list[Any] = [state.get("remarks"), state.get("habitat")]
    place: Mapping[str, Any] = {}
    when: tuple[str, ...] = ()
    if kind == "animal":
        event = known("event", state.get("event"))
        place = known("place", event.get("place"))
        container = state.get("container") or {}
        jar, tray = known("jar", container.get("jar")), known("tray", container.get("tray"))
        part["number"] = _numbers(
            state.get("field_number"), state.get("bag_number"), _of_list(state, "catalogue_numbers", "number"),
            _of_list(state, "tissues", "number"),
        )  # fmt: skip
        part["name"] = _join(
            _of_list(state, "determinations", "taxon", "qualifier", "verbatim_name"), state.get("form")
        )
        part["jar"] = _numbers(jar.get("number"), tray.get("number"), jar.get("shelf"))
        people += [event.get("by"), _of_list(state, "determinations", "by")]
        when = day_words(state.get("found_at") or event.get("when"))
        words += [
            state.get("sex"), state.get("stage"), state.get("condition"), state.get("behaviour"), event.get("method"),
            event.get("habitat"), _of_list(state, "measurements", "remarks"), _of_list(state, "tissues", "part"),
            _of_list(state, "conditions", "remarks", "colour", "firmness"), _of_list(state, "done", "remarks"),
            _of_list(state, "photographs", "file"), _of_list(state, "determinations", "remarks"),
            container.get("out_of"),
        ]  # fmt: skip
    elif kind in ("tissue", "photograph"):
        animal = known("animal", state.get("animal"))
        part["number"] = _numbers(state.get("number"), animal.get("field_number"))
        part["name"] = _join(animal.get("taxon"))
        when = day_words((state.get("taken_at") or "")[:10])
        words += [state.get("part"), state.get("medium"), state.get("container"), state.get("file"), state.get("shows")]
    elif kind == "event":
        place = known("place", state.get("place"))
        part["number"] = _numbers(state.get("number"))
        part["name"] = _join(known("trip", state.get("trip")).get("name"))
        when = day_words(state.get("when"))
        words += [state.get("method"), state.get("weather"), state.get("verbatim_when")]
    elif kind == "place":
        place = state
        words += [state.get("verbatim_coordinates"), state.get("sources")]
    elif kind in ("jar", "tray"):
        part["jar"] = _numbers(state.get("number"), state.get("shelf"))
        words += [state.get("lid"), state.get("fluid"), _of_list(state, "conditions", "remarks", "colour", "firmness")]
    else:
        part["number"] = _numbers(state.get("number")) if kind == "permit" else ""
        part["name"] = _join(state.get("name"))
        when = day_words(state.get("start") or (state.get("mixed_at") or "")[:10])
        words += [state.get("purpose"), state.get("issuer"), state.get("fluid"), state.get("taxa"), state.get("prefix")]
    part["place"] = _place_words(place) if place else ""
    part["day"] = " ".join(when)
    part["person"] = _join(people)
    part["words"] = _join(words)
    return part


# Reading a query

_MONTHS = {
    name: month
    for month, names in enumerate(
        (
            "jan january i", "feb february ii", "mar march iii", "apr april iv", "may v", "jun june vi", "jul july vii",
            "aug august viii", "sep sept september ix", "oct october x", "nov november xi", "dec december xii",
        ),
        1,
    )
    for name in names.split()
}  # fmt: skip
_DAYS = (
    re.compile(r"\b(?P<y>\d{4})-(?P<m>\d{1,2})(?:-(?P<d>\d{1,2}))?\b"),
    re.compile(r"\b(?P<d>\d{1,2})\.(?P<m>\d{1,2})\.(?P<y>\d{4})\b"),
    re.compile(r"\b(?:(?P<d>\d{1,2})[ ./-])?(?P<m>[A-Za-z]{1,9})\.?[ ./-](?P<y>\d{4})\b"),
)
_PARTS_ASKED = {"by": "person", "date": "day", "species": "name", "taxon": "name", "text": "words"} | {
    part: part for part in PARTS
}
_ASKED = re.compile(r"\b([A-Za-z]+):\s*(?=\S)")


@dataclass(frozen=True)
class Asked:
    """One word of a query, and the part it must stand in, if that was said."""

    word: str
    part: str = ""

    @property
    def is_number(self) -> bool:
        """Whether it holds a figure, so that only numbers one slip away can be meant."""
        return any(c.isdigit() for c in self.word)


@dataclass(frozen=True)
class Query:
    """A query as read: its words, and the whole of it as it would be compared with a number on a tag."""

    words: tuple[Asked, ...]
    key: str


def read_query(text: str) -> Query:
    """Read what somebody typed. An empty query has no words."""
    found: list[Asked] = []
    text = unicodedata.normalize("NFC", text)[:400]
    key = number_key(text)

    def take_day(match: re.Match[str]) -> str:
        bits = match.groupdict()
        month = int(bits["m"]) if bits["m"].isdigit() else _MONTHS.get(bits["m"].lower(), 0)
        if not 1 <= month <= 12 or (bits["d"] and not 1 <= int(bits["d"]) <= 31):
            return match[0]
        day = f"{int(bits['d']):02d}" if bits["d"] else ""
        found.append(Asked(f"{bits['y']}{month:02d}{day}", "day"))
        return " "

    text = re.sub(r"\b(?:day|date):\s*", " ", text, flags=re.IGNORECASE)
    for pattern in _DAYS:
        text = pattern.sub(take_day, text)
    part = ""
    last = 0
    pieces: list[tuple[str, str]] = []
    for match in _ASKED.finditer(text):
        asked = _PARTS_ASKED.get(match[1].lower())
        if asked is None:
            continue
        pieces.append((part, text[last : match.start()]))
        part, last = asked, match.end()
    pieces.append((part, text[last:]))
    for asked_part, piece in pieces:
        words = words_of(piece)
        for place, word in enumerate(words):
            # A part holds for the word behind it, and for all behind it where it is a number in pieces (jar: A 12).
            holds = asked_part if place == 0 or asked_part in ("jar", "number") else ""
            found.append(Asked(word, holds))
    return Query(tuple(found[:12]), key)


def spellings_of_number(word: str) -> list[str]:
    """A number as it may stand on a tag: with and without its leading zeros."""
    found = {word: None, number_key(word): None}
    if word.isdigit() and len(word) <= MOST_FIGURES:
        bare = word.lstrip("0") or "0"
        found.update(dict.fromkeys(bare.zfill(width) for width in range(1, MOST_FIGURES + 1)))
    return list(found)


def slips_of_number(word: str) -> list[str]:
    """Numbers one slip away: two figures swapped, one wrong, one missing, one too many, or a letter for a figure."""
    looks_like = str.maketrans("oilsb", "01158")
    found: dict[str, None] = {}
    if word.translate(looks_like) != word:
        found[word.translate(looks_like)] = None
    for i, c in enumerate(word):
        if i + 1 < len(word) and word[i + 1] != c:
            found[word[:i] + word[i + 1] + c + word[i + 2 :]] = None
    for i, c in enumerate(word):
        if c.isdigit():
            found.update(dict.fromkeys(word[:i] + d + word[i + 1 :] for d in "0123456789" if d != c))
            if len(word) > 2:
                found[word[:i] + word[i + 1 :]] = None
    for i in range(len(word) + 1):
        found.update(dict.fromkeys(word[:i] + d + word[i:] for d in "0123456789"))
    found.pop(word, None)
    return list(found)


def slips_allowed(word: str) -> int:
    """How many slips of the finger a word of letters may hold: none under 4 letters, one to 6, two beyond."""
    return 0 if len(word) < 4 else 1 if len(word) < 7 else 2


def line_of(kind: str, state: Mapping[str, Any], known: Known) -> str:
    """One line that tells people which thing this is."""
    bits: list[str] = []
    if kind == "animal":
        event = known("event", state.get("event"))
        place = known("place", event.get("place"))
        container = state.get("container") or {}
        jar = known("jar", container.get("jar")).get("number")
        bits = [
            state.get("taxon") or state.get("form") or "",
            state.get("found_at") or event.get("when") or "",
            place.get("name") or "",
            f"jar {jar}" if jar else "",
            state.get("catalogue_number") or "",
        ]
    elif kind in ("tissue", "photograph"):
        animal = known("animal", state.get("animal"))
        bits = [
            state.get("part") or state.get("shows") or "",
            animal.get("field_number") or "",
            animal.get("taxon") or "",
        ]
    elif kind == "event":
        bits = [state.get("when") or "", known("place", state.get("place")).get("name") or "", _join(state.get("by"))]
    elif kind == "place":
        bits = [state.get("locality") or "", state.get("state_province") or "", state.get("country") or ""]
    elif kind == "jar":
        bits = [state.get("shelf") or "", state.get("fluid") or ""]
    else:
        bits = [state.get("start") or "", state.get("issuer") or "", state.get("fluid") or ""]
    line = ", ".join(bit for bit in bits if bit)
    return f"{line} (withdrawn)" if "withdrawn" in state else line
