"""A calendar file (iCalendar, RFC 5545) of what to do when."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Iterable
from typing import Protocol

from keepfast import __version__

REMIND_MINUTES = 30


class Entry(Protocol):
    """What a calendar needs of an entry."""

    @property
    def at(self) -> datetime.datetime: ...
    @property
    def key(self) -> str: ...
    @property
    def what(self) -> str: ...
    @property
    def why(self) -> str: ...
    @property
    def minutes(self) -> int: ...


def write(entries: Iterable[Entry], name: str, stamp: datetime.datetime, *, of: str = "") -> bytes:
    """
    Entries as one calendar.

    Parameters
    ----------
    entries : iterable
        Each with ``at`` (with an offset), ``key``, ``what``, ``why`` and ``minutes``.
    name : str
        Shown as the calendar's name.
    stamp : datetime
        When the plan was made, with an offset: of two files with the same entries the later one counts.
    of : str
        What the entries are about, their name where left out. The same plan written again replaces its entries instead
        of doubling them, and must not replace those of another.

    Returns
    -------
    bytes
        The file, lines ended and folded as the standard wants. Times in UTC; phones show them in their own zone.

    Raises
    ------
    ValueError
        If a time has no offset.
    """
    from icalendar import Alarm, Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", f"-//Keepfast//Keepfast {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    for entry in entries:
        event = Event()
        begin = _utc("at", entry.at)
        event.add("uid", f"{hashlib.sha256(f'{of or name}|{entry.key}'.encode()).hexdigest()[:24]}@keepfast")
        event.add("dtstamp", _utc("stamp", stamp))
        event.add("dtstart", begin)
        event.add("dtend", begin + datetime.timedelta(minutes=entry.minutes))
        event.add("summary", entry.what)
        event.add("description", entry.why)
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", entry.what)
        alarm.add("trigger", datetime.timedelta(minutes=-REMIND_MINUTES))
        event.add_component(alarm)
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _utc(name: str, at: datetime.datetime) -> datetime.datetime:
    if at.utcoffset() is None:
        raise ValueError(f"{name} must carry an offset; {at.isoformat()} was given")
    return at.astimezone(datetime.UTC)
