"""``read-in`` and ``place``: existing notes into a book, and what a written place means."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.saying import fail, say, show, show_json, wrong
from keepfast.findings import Finding
from keepfast.words import _, ngettext

if TYPE_CHECKING:
    import datetime

    from keepfast.desk.reading_draft import Draft

LINES_SHOWN = 12


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command(
        "read-in",
        help=_("Read notes, waypoints, photographs or a logger into a book: first look, then --apply."),
    )(read_in)
    # A latitude south of the equator begins with a minus, which is no option.
    app.command(
        "place",
        help=_("Read written coordinates or an offset, and say how far they may be wrong."),
        context_settings={"ignore_unknown_options": True},
    )(place)


def read_in(
    files: list[Path] = typer.Argument(
        ..., metavar="FILE...", help=_("CSV, XLSX, GPX, photographs, or a folder of photographs.")
    ),
    into: Path | None = typer.Option(None, "--into", help=_("The book.")),
    apply: bool = typer.Option(False, "--apply", help=_("Write it into the book; without this nothing is written.")),
    columns: Path | None = typer.Option(None, "--columns", help=_("A kept file that says which column means what.")),
    keep_columns: Path | None = typer.Option(
        None, "--keep-columns", help=_("Write what the columns are taken for into this file, to check and change.")
    ),
    trip: str = typer.Option("", "--trip", help=_("The trip it belongs to; made if the book has none of this name.")),
    zone: str = typer.Option(
        "", "--zone", help=_("Zone of times without an offset; else the trip's or its camp's, else UTC.")
    ),
    language: str = typer.Option("", "--language", help=_("Of letters in coordinates, such as es or de.")),
    sheet: str | None = typer.Option(None, "--sheet", help=_("Sheet of an XLSX file.")),
    coordinates_from: str = typer.Option(
        "", "--coordinates-from", help=_("Where coordinates came from: GPS, or 'map 1:50000'.")
    ),
    clock_photo: str = typer.Option("", "--clock-photo", help=_("The photograph of a clock that is right.")),
    clock_shows: str = typer.Option("", "--clock-shows", help=_("What that clock shows, such as 2026-04-18T20:15.")),
    where: str = typer.Option("", "--where", help=_("What a logger hung in: air, tray, box.")),
    table_is: str = typer.Option("", "--table-is", help=_("notes or logger, where a table could be either.")),
    who: str = typer.Option("", "--who", help=_("Who reads it in; else KEEPFAST_WHO or the user's name.")),
    json: bool = typer.Option(False, "--json", help=_("Print one JSON object.")),
) -> None:
    """Look first, then write all or nothing."""
    from keepfast.desk.books import open_book
    from keepfast.desk.reading_in import Wishes, as_dict, look
    from keepfast.desk.reading_in import apply as write_all

    if table_is not in ("", "notes", "logger"):
        wrong("--table-is", _("this is neither notes nor logger"), _("Write one of the two."), table_is)
    wishes = Wishes(
        columns=columns,
        zone=zone,
        language=language,
        trip=trip,
        sheet=sheet,
        source=coordinates_from,
        clock_photo=clock_photo,
        clock_showed=_moment(clock_shows),
        where=where,
        form=table_is,
    )
    if keep_columns is not None:
        _keep(files, wishes, keep_columns)
        if into is None:
            return
    if into is None:
        wrong("--into", _("the book is missing"), _("Name it, such as --into spring.keepfast."))
    with open_book(into, who=who, read_only=not apply) as book:
        draft = look(book, files, wishes, progress=_progress())
        if apply and draft.refused:
            if json:
                show_json(as_dict(draft, None))
            for finding in draft.findings:
                if finding.weight != "error" and not json:
                    say(finding.sentence())
            fail(
                [
                    *draft.refused[:200],
                    Finding(
                        _("nothing was written"),
                        _("Mend those rows or leave them out, and read it in again."),
                    ),
                ]
            )
        written = write_all(draft) if apply else None
        if json:
            show_json(as_dict(draft, written))
        else:
            _tell(draft, written)
    if draft.refused:
        sys.exit(1)


def _moment(text: str) -> datetime.datetime | None:
    import datetime

    if not text:
        return None
    try:
        return datetime.datetime.fromisoformat(text)
    except ValueError:
        wrong("--clock-shows", _("this is no moment"), _("Write it as 2026-04-18T20:15:00+02:00."), text)


def _keep(files: list[Path], wishes: Any, path: Path) -> None:
    from keepfast.desk.reading_in import columns_of
    from keepfast.exchange.files import write_file
    from keepfast.exchange.note_columns import table_of, written

    if len(files) != 1:
        wrong("--keep-columns", _("one file at a time has its columns kept"), _("Name one table."))
    if path.exists() and wishes.columns != path:
        wrong("--keep-columns", _("a file of this name is there already"), _("Choose another name."), str(path))
    statement, rows = columns_of(files[0], wishes)
    for finding in statement.findings:
        say(finding.sentence())
    width = max(len(heading) for heading, _meaning in table_of(statement))
    for heading, meaning in table_of(statement):
        say(f"  {heading:<{width}}  {meaning}")
    write_file(path, written(statement, rows.name).encode())
    say(_("Kept in {path}. Check each line, then read in with --columns {path}.").format(path=path))


def _progress() -> Any:
    """Rows done, on a terminal as one line, elsewhere a line each tenth."""
    shown = {"tenth": -1}

    def progress(name: str, done: int, total: int) -> None:
        if total < 4000:
            return
        words = _("{name}: {share:.0f} %").format(name=name, share=100 * done / total)
        if sys.stderr.isatty():
            end = "\n" if done >= total else ""
            print(f"\r{words}", end=end, file=sys.stderr, flush=True)
        elif done * 10 // total != shown["tenth"]:
            shown["tenth"] = done * 10 // total
            say(words)

    return progress


def _tell(draft: Draft, written: int | None) -> None:
    """The same for a person: columns, what is new, changed, refused, doubtful, and what to do next."""
    for file in draft.files:
        rows = ngettext("{n} row", "{n} rows", file["rows"]).format(n=f"{file['rows']:,}")
        show(f"{file['name']}  ({_(file['sort'])}, {rows})")
        statement = file.get("statement")
        if statement:
            width = max(len(heading) for heading in statement["columns"])
            for heading, meaning in statement["columns"].items():
                show(f"  {heading:<{width}}  {meaning}")
            show("  " + _("times without an offset are read in {zone}").format(zone=file["zone"]))
    show("")
    counts = draft.counts()
    new = ", ".join(_counted(kind, number) for kind, number in counts.items()) or _("nothing")
    show(_("New:       {what}").format(what=new))
    changed = {(line.kind, line.subject) for line in draft.changed}
    show(_("Changed:   {n}").format(n=f"{len(changed):,}"))
    for line in draft.changed[:LINES_SHOWN]:
        was = _("nothing") if line.was in (None, "") else line.was
        row = _("row {row}, ").format(row=line.row) if line.row else ""
        show(f"  {row}{line.subject}: {line.field}: {was} -> {line.now}")
    _more(len(draft.changed))
    show(_("Unchanged: {n}").format(n=f"{draft.same:,}"))
    show(_("Refused:   {n}").format(n=f"{len(draft.refused):,}"))
    for finding in draft.refused[:LINES_SHOWN]:
        show("  " + finding.sentence())
    _more(len(draft.refused))
    rest = [finding for finding in draft.findings if finding.weight != "error"]
    if rest:
        show(_("To look at:"))
        for finding in sorted(rest, key=lambda f: f.weight != "doubt")[:LINES_SHOWN]:
            show("  " + finding.sentence())
        _more(len(rest))
    show("")
    if written is not None:
        show(_("{n} entries were written.").format(n=f"{written:,}"))
    elif draft.refused:
        show(_("Nothing can be written before the refused rows are mended or left out of the file."))
    elif draft.entries:
        show(_("Nothing is written yet. The same command with --apply writes all of it."))
    else:
        show(_("The book says all this already."))


def _counted(kind: str, n: int) -> str:
    """So many things of a kind, in words."""
    words = {
        "animal": ngettext("{n} animal", "{n} animals", n),
        "place": ngettext("{n} place", "{n} places", n),
        "event": ngettext("{n} event", "{n} events", n),
        "tissue": ngettext("{n} tissue", "{n} tissues", n),
        "jar": ngettext("{n} jar", "{n} jars", n),
        "permit": ngettext("{n} permit", "{n} permits", n),
        "photograph": ngettext("{n} photograph", "{n} photographs", n),
        "trip": ngettext("{n} trip", "{n} trips", n),
        "temperatures": ngettext("{n} temperature record", "{n} temperature records", n),
    }
    return words[kind].format(n=f"{n:,}")


def _more(count: int) -> None:
    if count > LINES_SHOWN:
        show(_("  ... and {n} more; --json lists them all").format(n=f"{count - LINES_SHOWN:,}"))


# -- place -----------------------------------------------------------------------------------------------------------


def place(
    text: str = typer.Argument(
        ..., help=_("Coordinates as written; or an offset such as '5 km NE of camp' together with --from.")
    ),
    language: str = typer.Option("", "--language", help=_("Of letters in it, such as es or de.")),
    datum: str = typer.Option("", "--datum", help=_("Where the text names none: WGS84, NAD27, EPSG:4326.")),
    start: str = typer.Option("", "--from", help=_("Coordinates that an offset starts from.")),
    gps: float | None = typer.Option(None, "--gps", help=_("Accuracy the receiver showed, in metres.")),
    map_scale: float | None = typer.Option(None, "--map", help=_("Scale of the map, such as 50000.")),
    extent: float = typer.Option(0.0, "--extent", help=_("From a feature's centre to its farthest point, in metres.")),
    date: str = typer.Option("", "--date", help=_("When; a magnetic bearing needs it.")),
    json: bool = typer.Option(False, "--json", help=_("Print one JSON object.")),
) -> None:
    """Read a place and say its uncertainty, part by part."""
    import datetime

    from keepfast.desk.georeferencing import in_words
    from keepfast.science import place as science

    day = None
    if date:
        try:
            day = datetime.date.fromisoformat(date)
        except ValueError:
            wrong("--date", _("this is no day"), _("Write it as 2026-04-18."), date)
    written = start or text
    try:
        reading = science.read(written, language or None)
        coordinates = reading.coordinates
        if datum:
            code = science.datum_code(datum)
            if coordinates.datum is None:
                if coordinates.step_m is not None:
                    coordinates = science.read(f"{written} {code}", language or None).coordinates
                coordinates = coordinates._replace(datum=code)
            elif coordinates.datum != code:
                wrong("--datum", _("the text names another datum"), _("Leave the option out."), datum)
        source_m = 0.0
        if map_scale is not None:
            source_m = float(science.map_uncertainty_m(map_scale))
        elif gps is not None:
            source_m = science.gnss_uncertainty_m(gps, day)
        found = science.georeference(
            coordinates, notation=reading.notation, source_m=source_m, extent_m=extent, unknown_datum="by place"
        )
        offset = None
        if start:
            offset = science.parse_offset(text, language or None)
            found = science.georeference_offset(found, offset, date=day)
        sea = science.at_sea(found.latitude, found.longitude)
    except ValueError as problem:
        if not start and _is_offset(text):
            wrong("--from", _("this is a distance from somewhere"), _("Say from where: --from '37.93, -6.88'."), text)
        fail([Finding(in_words(problem), read=text)])
    answer: dict[str, Any] = {
        "verbatim": text,
        "notation": reading.notation,
        "read": {
            "latitude": coordinates.latitude,
            "longitude": coordinates.longitude,
            "step_degrees": coordinates.step_degrees,
            "step_m": coordinates.step_m,
            "datum": coordinates.datum,
        },
        "latitude": found.latitude,
        "longitude": found.longitude,
        "datum": science.WGS84,
        "radius_m": found.radius_m,
        "parts_m": found.parts,
        "protocol": found.protocol,
        "remarks": list(found.remarks),
        "source_known": gps is not None or map_scale is not None,
        "at_sea": bool(sea),
    }
    if offset is not None:
        answer["from"] = start
        answer["offset"] = {
            "distance_m": offset.distance_m,
            "distance_step_m": offset.distance_step_m,
            "bearing_degrees": offset.bearing_degrees,
            "half_angle_degrees": offset.half_angle_degrees,
            "reference": offset.reference,
            "feature": offset.feature,
        }
    if json:
        show_json(answer)
        return
    decimals = 6 if found.radius_m < 1000 else 5
    show(f"{found.latitude:.{decimals}f}, {found.longitude:.{decimals}f}  WGS84")
    show(_("within {radius:,} m").format(radius=found.radius_m))
    names = {
        "source": _("where the coordinates came from"), "extent": _("extent of the feature"),
        "precision": _("how finely they are written"), "datum": _("the datum"), "offset": _("distance and heading"),
    }  # fmt: skip
    for name, metres in found.parts.items():
        show(f"  {metres:>10,.1f} m  {names[name]}")
    show(_("read as {notation}").format(notation=reading.notation))
    for remark in found.remarks:
        show(f"  {remark}")
    if not answer["source_known"]:
        show(_("  where the coordinates came from is not counted: give --gps or --map"))
    if sea:
        show(_("  this lies in the sea on a grid of about a kilometre"))
    show(found.protocol)


def _is_offset(text: str) -> bool:
    """Whether a text that is no place has a distance with a unit in it."""
    from keepfast.science import place as science

    try:
        science.parse_offset(text)
    except ValueError as problem:
        return "no distance" not in str(problem)
    return True
