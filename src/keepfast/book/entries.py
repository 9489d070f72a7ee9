"""The ink: one entry says what was seen or done, by whom, when, written where. It is never changed afterwards.

An entry's id is made where it is written, so that sending it twice does no harm. Each writing store links its own
entries in a chain by hash (``Written``), so that a lost or altered one shows. What may stand in an entry is the
catalogue in ``kinds.py``; what entries add up to is ``state.py``.
"""

from __future__ import annotations

import datetime
import hashlib
import json
import re
import secrets
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from keepfast.book.canonical import canonical
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
FIRST_LINK = "0" * 64  # what the first entry of a chain names as its forerunner
LARGEST_CONTENT = 4_000_000  # characters; a plan of 200 animals is about a quarter of it


_ids = threading.Lock()
_last_id = 0  # of this process: 48 bits of time and 74 of chance, as one number


def new_id() -> str:
    """
    A UUID of version 7 (RFC 9562, section 5.7): made anywhere without asking, sorted by time in an index.

    Each one is above the last of this process (section 6.2, method 2), also within a millisecond and where the clock
    jumps back: entries with one place in the order then stand as they were made, an amendment behind what it amends.
    """
    global _last_id
    with _ids:
        _last_id = max(
            (time.time_ns() // 1_000_000 & (2**48 - 1)) << 74 | secrets.randbits(74),
            _last_id + 1 + secrets.randbits(56),
        )
        made = _last_id
    stamp, high, low = made >> 74, made >> 62 & 0xFFF, made & (2**62 - 1)
    text = f"{stamp << 80 | 7 << 76 | high << 64 | 2 << 62 | low:032x}"
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


def now() -> datetime.datetime:
    """This moment with this machine's offset, to the millisecond."""
    moment = datetime.datetime.now().astimezone()
    return moment.replace(microsecond=moment.microsecond // 1000 * 1000)


@dataclass(frozen=True)
class Entry:
    """One entry as its writer made it.

    Parameters
    ----------
    kind : str
        One of ``kinds.KINDS``; a kind this program does not know is kept and passed on, never read.
    content : mapping
        What is said, as plain JSON values. Treat it as frozen.
    who : str
        The person who wrote it.
    device : str
        The device it was written on.
    at : datetime
        When it was written, with an offset.
    id : str
        Made where it is written; a UUID in lower case.
    order_ms : int
        Where it stands among others, in milliseconds since 1970: the clock's own reading, or one more than the last
        the writer knew of where its clock has jumped back.

    Raises
    ------
    ValueError
        If ``at`` has no offset or the id is no UUID in lower case.
    """

    kind: str
    content: Mapping[str, Any]
    who: str
    device: str
    at: datetime.datetime = field(default_factory=now)
    id: str = field(default_factory=new_id)
    order_ms: int = -1

    def __post_init__(self) -> None:
        if self.at.utcoffset() is None:
            raise ValueError(f"at must carry an offset; {self.at.isoformat()} was given")
        if not ID.fullmatch(self.id):
            raise ValueError(f"id must be a UUID in lower case; {self.id!r} was given")
        if self.order_ms < 0:
            object.__setattr__(self, "order_ms", milliseconds(self.at))

    @cached_property
    def text(self) -> str:
        """The content as canonical JSON."""
        return canonical(self.content)

    @cached_property
    def at_text(self) -> str:
        """The moment as it is hashed and kept."""
        return self.at.isoformat(timespec="milliseconds")

    @cached_property
    def print(self) -> str:
        """SHA-256 over all the writer said: two entries with one id must have one print."""
        said = [self.id, self.device, self.who, self.at_text, str(self.order_ms), self.kind, self.text]
        return print_of(said)

    def as_dict(self) -> dict[str, Any]:
        """For JSON on a wire."""
        return {
            "id": self.id,
            "device": self.device,
            "who": self.who,
            "at": self.at_text,
            "order_ms": self.order_ms,
            "kind": self.kind,
            "content": dict(self.content),
        }

    @classmethod
    def from_dict(cls, said: Mapping[str, Any]) -> Entry:
        """Read what came over a wire or from a file.

        Raises
        ------
        FindingsError
            If a part is missing or of the wrong sort; all of it is said at once.
        """
        found = []
        for name in ("id", "device", "who", "at", "kind"):
            if not isinstance(said.get(name), str) or not said[name]:
                found.append(Finding(_("this part of an entry is missing or no text"), field=name))
        if not isinstance(said.get("content"), Mapping):
            found.append(Finding(_("the content of an entry is a set of named values"), field="content"))
        order_ms = said.get("order_ms", -1)
        if not isinstance(order_ms, int) or isinstance(order_ms, bool) or not -1 <= order_ms < 2**53:
            found.append(Finding(_("the place in order is a whole number of milliseconds"), field="order_ms"))
        for extra in sorted(set(said) - {"id", "device", "who", "at", "kind", "content", "order_ms"}, key=str):
            found.append(Finding(_("an entry has no such part"), field=str(extra)))
        at = None
        if isinstance(said.get("at"), str):
            try:
                at = datetime.datetime.fromisoformat(said["at"])
            except ValueError:
                found.append(Finding(_("this is no moment"), _("Write it as 2026-03-14T21:05:00+02:00."), field="at"))
            else:
                if at.utcoffset() is None:
                    found.append(
                        Finding(_("this moment has no offset"), _("Add it, as in +02:00."), field="at", read=said["at"])
                    )
        if isinstance(said.get("id"), str) and said["id"] and not ID.fullmatch(said["id"]):
            found.append(Finding(_("the id is no UUID in lower case"), field="id", read=said["id"][:80]))
        if found:
            raise FindingsError(found)
        assert at is not None
        return cls(said["kind"], said["content"], said["who"], said["device"], at, said["id"], order_ms)


_quote = json.encoder.encode_basestring


def print_of(said: Sequence[str]) -> str:
    """SHA-256 of id, device, who, moment, place in order, kind and content, as a JSON list of texts."""
    return hashlib.sha256(f"[{','.join(map(_quote, said))}]".encode()).hexdigest()


def milliseconds(moment: datetime.datetime) -> int:
    """Milliseconds since 1970 in UTC, cut, not rounded."""
    since = moment - datetime.datetime(1970, 1, 1, tzinfo=datetime.UTC)
    return max(0, (since.days * 86_400 + since.seconds) * 1000 + since.microseconds // 1000)


@dataclass(frozen=True)
class Written:
    """An entry as a book holds it: its place in this book, and its link in the chain of the store that wrote it."""

    entry: Entry
    sequence: int  # this book's own running number, which readers ask "since" by
    store: str
    number: int  # running number in the chain of that store, from 1
    previous: str
    hash: str

    def as_dict(self) -> dict[str, Any]:
        """For JSON on a wire."""
        return {
            "sequence": self.sequence,
            "store": self.store,
            "number": self.number,
            "previous": self.previous,
            "hash": self.hash,
            "entry": self.entry.as_dict(),
        }


@dataclass(frozen=True)
class Acknowledged:
    """What a writer may rely on once it has it: the entry is on the disk."""

    id: str
    sequence: int
    new: bool  # False where the book had it already


def link_hash(store: str, number: int, previous: str, entry_print: str) -> str:
    """The hash that ties an entry to the one written before it in the same store."""
    return hashlib.sha256(f"{store}\n{number}\n{previous}\n{entry_print}".encode()).hexdigest()
