"""Reading files into a book: first what would come of it, then all of it or nothing.

``look`` reads files and makes a ``Draft``; it writes nothing. ``apply`` writes a draft that holds no error, in one
transaction, if the book is still as it was looked at.
"""

from __future__ import annotations

import contextlib
import datetime
import gc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from keepfast.book.entries import Entry
from keepfast.book.numbers import slips
from keepfast.desk.books import Book
from keepfast.desk.georeferencing import checked_source
from keepfast.desk.reading_draft import Draft, Known, Line
from keepfast.desk.reading_media import add_photographs, add_temperatures, add_waypoints, match_by_time
from keepfast.desk.reading_notes import NotesIntoEntries
from keepfast.exchange.files import read_bytes
from keepfast.exchange.loggers import read_logger
from keepfast.exchange.note_columns import Statement, propose, read_statement
from keepfast.exchange.notes import read_notes
from keepfast.exchange.photographs import Photograph, clock_correction, read_raw_photograph, with_time
from keepfast.exchange.safe_files import LIMIT_BYTES, Sort, plain_name, sort_of
from keepfast.exchange.tables import Rows, read_raw_rows
from keepfast.exchange.waypoints import Gpx, read_raw_gpx
from keepfast.findings import Finding, FindingsError
from keepfast.store.queries import Reads
from keepfast.words import _

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Wishes:
    """
    How files are to be read.

    ``columns``: a kept statement of columns. ``zone``: of times without an offset; else the trip's, else that of the
    camp in which the book's evenings were planned, else UTC.
    ``language``: of letters in coordinates. ``trip``: name of the trip it all belongs to, made if it is new.
    ``sheet``: of XLSX. ``source``: where coordinates came from. ``clock_photo`` and ``clock_showed``: the photograph of
    a clock and what it shows. ``where``: what a logger hung in. ``form``: ``notes`` or ``logger`` for a table.
    """

    columns: Path | None = None
    zone: str = ""
    language: str = ""
    trip: str = ""
    sheet: str | None = None
    source: str = ""
    clock_photo: str = ""
    clock_showed: datetime.datetime | None = None
    where: str = ""
    form: str = ""


@dataclass(frozen=True)
class _File:
    name: str
    path: Path
    raw: bytes
    sha256: str
    sort: Sort


def look(
    book: Book, paths: Sequence[str | Path], wishes: Wishes | None = None, *, progress: Progress | None = None
) -> Draft:
    """
    What reading these files in would write.

    Parameters
    ----------
    book : Book
        Open; it is only read.
    paths : sequence of path
        Files, or folders whose photographs and GPX files are meant.
    wishes : Wishes, optional
        How to read them.
    progress : callable, optional
        Called now and then with the file's name, rows done and rows in all.

    Returns
    -------
    Draft
        With every finding; those of weight ``error`` are what is refused.

    Raises
    ------
    FindingsError
        If a file cannot be read at all, or a wish cannot be met.
    """
    with _without_collecting():
        return _look(book, paths, wishes or Wishes(), progress)


def _look(book: Book, paths: Sequence[str | Path], wishes: Wishes, progress: Progress | None) -> Draft:
    draft = Draft(book, book.who)
    files = [_opened(path) for path in _files(paths)]
    source = checked_source(wishes.source)
    with book.reading() as reads:
        known = Known(reads, sum(len(f.raw) // 100 for f in files if f.sort == "table"))
        trip, zone = _trip(draft, known, reads, wishes)
        gpx = [read_raw_gpx(f.raw, f.name, f.sha256) for f in files if f.sort == "waypoints"]
        for file in files:
            if file.sort == "table":
                _table(draft, known, file, wishes, trip, zone, source, progress)
        for one in gpx:
            draft.findings.extend(one.findings)
            places = add_waypoints(draft, known, one)
            match_by_time(draft, known, one, places, trip)
            draft.files.append(
                {"name": one.name, "sha256": one.sha256, "sort": "waypoints", "rows": len(one.waypoints)}
            )
        numbers = [line.subject for line in draft.new if line.kind == "animal"]
        # That a series goes without check characters is said by a plan, when tags can still be chosen.
        draft.findings += [slip for slip in slips(numbers) if slip.weight == "doubt"]
        photographs = [file for file in files if file.sort == "photograph"]
        if photographs:
            read = _photographs(photographs, wishes, zone)
            add_photographs(draft, known, read, zone, _joined(gpx))
            draft.files += [
                {"name": photo.file, "sha256": photo.sha256, "sort": "photograph", "rows": 1} for photo in read
            ]
    if draft.entries and not draft.refused:
        for said in draft.files:
            if said["sort"] != "photograph":
                draft.add("reading_in", _reading_in(said, trip, len(draft.entries)))
    return draft


def apply(draft: Draft) -> int:
    """
    Write a draft, all of it in one transaction.

    Returns
    -------
    int
        How many entries were written; 0 where there was nothing new.

    Raises
    ------
    FindingsError
        If the draft holds an error, the book was written in since it was looked at, or it cannot be written; the book
        is then as it was.
    """
    if draft.refused:
        raise FindingsError(draft.refused)
    if draft.entries:
        with _without_collecting():
            draft.book.ledger.append_made(lambda _reads: _still_true(draft))
    return len(draft.entries)


def _still_true(draft: Draft) -> Sequence[Entry]:
    """The entries, if nobody wrote in the book since it was looked at; asked with the writer's lock held."""
    if draft.book.last_sequence() != draft.sequence:
        raise FindingsError(
            [
                Finding(
                    _("the book was written in while the files were read"),
                    _("Read them in once more."),
                    file=str(draft.book.path),
                )
            ]
        )
    return draft.entries


def columns_of(path: str | Path, wishes: Wishes | None = None) -> tuple[Statement, Rows]:
    """
    Which column means what in a table: as kept, else as proposed.

    Raises
    ------
    FindingsError
        If the file is no table, or its columns cannot be understood.
    """
    wishes = wishes or Wishes()
    raw, sha256 = read_bytes(path, LIMIT_BYTES)
    rows = read_raw_rows(raw, plain_name(path), sha256, wishes.sheet)
    return (read_statement(wishes.columns, rows) if wishes.columns else propose(rows)), rows


def as_dict(draft: Draft, written: int | None) -> dict[str, Any]:
    """For JSON: what would be, or was, written."""
    return {
        "book": str(draft.book.path),
        "files": draft.files,
        "new": draft.counts(),
        "changed": [line.as_dict() for line in draft.changed],
        "unchanged": draft.same,
        "refused": [finding.as_dict() for finding in draft.refused],
        "doubts": [f.as_dict() for f in draft.findings if f.weight != "error"],
        "new_things": [line.as_dict() for line in draft.new],
        "entries": len(draft.entries),
        "applied": written is not None,
        "entries_written": written or 0,
    }


# -- parts -----------------------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _without_collecting() -> Iterator[None]:
    """Hold the search for cycles of objects: a hundred thousand rows make none, and it would walk them all again and
    again, a quarter of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def _files(paths: Sequence[str | Path]) -> list[Path]:
    """The files meant: a folder stands for the photographs and GPX files in it, in the order of their names."""
    endings = (".jpg", ".jpeg", ".heic", ".heif", ".png", ".tif", ".tiff", ".webp", ".avif", ".gpx")
    found: list[Path] = []
    for given in map(Path, paths):
        if given.is_dir():
            inside = sorted(p for p in given.iterdir() if p.is_file() and p.suffix.lower() in endings)
            if not inside:
                raise FindingsError(
                    [
                        Finding(
                            _("there is no photograph and no GPX file in this folder"),
                            _("Name a file, or another folder."),
                            file=str(given),
                        )
                    ]
                )
            found += inside
        else:
            found.append(given)
    return found


def _opened(path: Path) -> _File:
    raw, sha256 = read_bytes(path, LIMIT_BYTES)
    name = plain_name(path)
    if not raw:
        raise FindingsError([Finding(_("this file is empty"), _("Copy it again."), file=name)])
    return _File(name, path, raw, sha256, sort_of(raw, name))


def _zone(name: str, where: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise FindingsError(
            [Finding(_("there is no such time zone"), _("Write one such as Europe/Madrid."), field=where, read=name)]
        ) from None


def _trip(draft: Draft, known: Known, reads: Reads, wishes: Wishes) -> tuple[str, ZoneInfo]:
    """The trip's id, empty for none, and the zone of times without an offset."""
    trip, zone_name = "", wishes.zone
    if wishes.trip:
        found = known.called("trip", wishes.trip)
        if found:
            trip = found[0]["id"]
            zone_name = zone_name or str(found[0].get("zone") or "")
        else:
            content = {"name": wishes.trip} | ({"zone": wishes.zone} if wishes.zone else {})
            trip = draft.add("trip", content)
            draft.new.append(Line("", None, "trip", wishes.trip))
    elif not zone_name:
        zones = {str(state["zone"]) for state in known.all("trip") if state.get("zone")}
        zone_name = zones.pop() if len(zones) == 1 else ""
    return trip, _zone(zone_name or _zone_of_camps(reads, trip) or "UTC", "zone")


def _zone_of_camps(reads: Reads, trip: str) -> str:
    """The zone of the camps in which the book's evenings were planned; empty where there is none, or several."""
    zones = set()
    for evening in reads.all("evening"):
        held = (evening.get("held") or {}).get("camp")
        if held and evening.get("trip") in (None, trip or evening.get("trip")):
            fact = reads.fact(held)
            zones.add(str((fact.content["camp"] if fact else {}).get("time_zone") or ""))
    return zones.pop() if len(zones) == 1 else ""


def _table(
    draft: Draft,
    known: Known,
    file: _File,
    wishes: Wishes,
    trip: str,
    zone: ZoneInfo,
    source: Any,
    progress: Progress | None,
) -> None:
    if wishes.form != "notes" and wishes.columns is None:
        record = _as_logger(file, wishes, zone)
        if record is not None:
            add_temperatures(draft, known, record, trip, wishes.where)
            draft.files.append({"name": file.name, "sha256": file.sha256, "sort": "logger", "rows": len(record.at)})
            return
    rows = read_raw_rows(file.raw, file.name, file.sha256, wishes.sheet)
    statement = read_statement(wishes.columns, rows) if wishes.columns else propose(rows)
    if wishes.language:
        statement = replace(statement, language=wishes.language)
    if statement.zone and not wishes.zone:
        zone = _zone(statement.zone, "zone")
    _checked_language(statement.language)
    draft.findings.extend(rows.findings)
    draft.findings.extend(statement.findings)
    told = (lambda done, total: progress(file.name, done, 2 * total)) if progress else None
    read = read_notes(rows, statement, zone, progress=told)
    draft.findings.extend(read.findings)
    maker = NotesIntoEntries(draft, known, rows.label, statement, trip=trip, source=source)
    total = len(read.rows)
    del rows
    read.rows.reverse()
    for done in range(total):
        maker.add(read.rows.pop())  # let go of each row once it is drafted: a hundred thousand weigh half a gigabyte
        if progress and done % 2000 == 0:
            progress(file.name, read.total + done, 2 * read.total)
    maker.finish()
    if progress:
        progress(file.name, 2 * read.total, 2 * read.total)
    draft.files.append(
        {
            "name": file.name,
            "sha256": file.sha256,
            "sort": "notes",
            "rows": read.total,
            "statement": statement.as_dict(),
            "zone": zone.key,
        }
    )


def _as_logger(file: _File, wishes: Wishes, zone: ZoneInfo) -> Any:
    """A logger's record, if the table is one and was not said to be notes; None where it is notes."""
    if wishes.form != "logger":
        rows = read_raw_rows(file.raw, file.name, file.sha256, wishes.sheet)
        try:
            propose(rows)
            return None
        except FindingsError as notes_problem:
            try:
                return read_logger(file.path, zone=wishes.zone or zone.key)
            except FindingsError:
                raise notes_problem from None
    return read_logger(file.path, zone=wishes.zone or zone.key)


def _checked_language(language: str) -> None:
    from keepfast.science.place_words import checked_language

    try:
        checked_language(language or None)
    except ValueError as problem:
        raise FindingsError([Finding(str(problem), field="language", read=language)]) from None


def _photographs(files: Sequence[_File], wishes: Wishes, zone: ZoneInfo) -> list[Photograph]:
    read = [read_raw_photograph(file.raw, file.name, file.sha256) for file in files]
    correction = offset = None
    camera = ""
    if wishes.clock_photo or wishes.clock_showed is not None:
        if not wishes.clock_photo or wishes.clock_showed is None:
            raise FindingsError(
                [
                    Finding(
                        _("a photographed clock needs the photograph and what the clock shows"),
                        _("Give both --clock-photo and --clock-shows."),
                    )
                ]
            )
        clock_photo = next((p for p in read if p.file == plain_name(wishes.clock_photo)), None)
        if clock_photo is None:
            raw, sha256 = read_bytes(wishes.clock_photo, LIMIT_BYTES)
            clock_photo = read_raw_photograph(raw, plain_name(wishes.clock_photo), sha256)
        shown = wishes.clock_showed
        if shown.utcoffset() is None:
            shown = shown.replace(tzinfo=zone)
        correction, camera = clock_correction(clock_photo, shown), clock_photo.camera
        offset = datetime.timezone(shown.utcoffset() or datetime.timedelta())
    out = []
    for photo in read:
        if correction is not None and photo.camera != camera:
            timed = with_time(photo, zone)
            other = Finding(
                _("this is another camera than the one that photographed the clock; its clock was not corrected"),
                weight="doubt",
                file=photo.file,
                read=photo.camera or None,
            )
            timed = replace(timed, findings=(*timed.findings, other))
        else:
            timed = with_time(photo, zone, correction, offset)
        out.append(timed)
    return out


def _joined(gpx: Sequence[Gpx]) -> Gpx | None:
    """All GPX files as one, for looking up times; segments stay apart."""
    if not gpx:
        return None
    points = []
    for number, one in enumerate(gpx):
        points += [replace(point, segment=point.segment + 100_000 * number) for point in one.track]
    points.sort(key=lambda point: point.at)
    waypoints = tuple(w for one in gpx for w in one.waypoints)
    return replace(gpx[0], waypoints=waypoints, track=tuple(points))


def _reading_in(file: dict[str, Any], trip: str, entries: int) -> dict[str, Any]:
    content: dict[str, Any] = {
        "file": file["name"],
        "sha256": file["sha256"],
        "sort": file["sort"],
        "rows": file["rows"],
        "entries": entries,
    }
    if "statement" in file:
        content["columns"] = {**file["statement"], "zone": file["zone"]}
    if trip:
        content["trip"] = trip
    return content
