"""``template``, ``plan``, ``demo`` and ``protocol``: from a list of animals to an evening's plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.saying import say, show, show_json, wrong
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

if TYPE_CHECKING:
    import datetime

    from keepfast.plan.evening import Rules
    from keepfast.plan.objects import EveningPlan


# The evening of the invented trip; its animals died that afternoon.
_DEMO_START = "2026-04-18T18:00"


def register(app: typer.Typer) -> None:
    """Add the commands of planning."""
    app.command("template", help=_("Write an empty list of animals with its explanation."))(template)
    app.command("plan", help=_("Plan tonight's table from a list of animals."))(plan)
    app.command("demo", help=_("Plan the invented demo trip, to see what comes out."))(demo)
    group = typer.Typer(
        help=_("Show, copy or check protocols of practice."), no_args_is_help=True, rich_markup_mode=None
    )
    group.command("show", help=_("Print the protocol of one body form."))(protocol_show)
    group.command(
        "copy",
        help=_("Copy the shipped protocols, rules of an evening and cautions into a folder, to edit them there."),
    )(protocol_copy)
    group.command("check", help=_("Check a protocol file or a folder of them."))(protocol_check)
    app.add_typer(group, name="protocol")


def template(
    out: Path = typer.Argument(Path("animals.csv"), help=_("Where to write it; .csv or .xlsx.")),
    explain: bool = typer.Option(False, "--explain", help=_("Print what each column means instead of writing.")),
) -> None:
    """Write an empty list, or explain its columns."""
    from keepfast.exchange import template as template_

    if explain:
        show(template_.explanation())
        return
    if out.exists():
        wrong(
            "OUT",
            _("a file of this name is there already"),
            _("Choose another name, so that nothing is lost."),
            str(out),
        )
    template_.write_template(out)
    say(template_.explanation())
    show(str(out))


def plan(
    list_: Path = typer.Argument(..., metavar="LIST", help=_("The list of animals (CSV or XLSX), or a book.")),
    out: Path = typer.Option(..., "--out", help=_("Folder for plan.json and the drawings.")),
    camp: Path | None = typer.Option(None, "--camp", help=_("The camp file (TOML).")),
    start: str | None = typer.Option(
        None, "--start", help=_("When the table starts, such as 18:00 or 2026-04-18T18:00; now if left out.")
    ),
    people: int | None = typer.Option(None, "--people", help=_("How many work at the table.")),
    protocol: str | None = typer.Option(
        None, "--protocol", help=_("A protocol file of your own, or a folder of rules.")
    ),
    seed: int = typer.Option(1, "--seed", help=_("Seed of the draws behind every range.")),
    draws: int = typer.Option(1000, "--draws", help=_("How many draws stand behind every range.")),
    papers: bool = typer.Option(False, "--papers", help=_("Also write the table sheet and the cards as PDF and text.")),
    paper: str | None = typer.Option(None, "--paper", help=_("a4 or letter; the camp's if left out.")),
    learner: bool = typer.Option(False, "--learner", help=_("Cards get a second page for whoever learns.")),
    no_race: bool = typer.Option(False, "--no-race", help=_("Leave out the race between fixing and decay.")),
    into: Path | None = typer.Option(
        None, "--into", help=_("Record the plan in this book; a plan made from a book is recorded there anyway.")
    ),
    json: bool = typer.Option(False, "--json", help=_("Print the plan as JSON instead of the summary.")),
) -> None:
    """Plan tonight's table."""
    book = into or (list_ if _is_book(list_) else None)
    if book is not None:
        from keepfast.desk.books import open_book

        # A book that cannot be opened is said before anything is written.
        open_book(book).close()
    evening, files = prepare(
        list_,
        camp,
        start=start,
        people=people,
        protocol=protocol,
        seed=seed,
        draws=draws,
        papers=papers,
        paper=paper,
        learner=learner,
        race=not no_race,
        book=book,
    )
    _finish(evening, files, out, json)
    if book is not None:
        from keepfast.desk.evening import record_plan

        with open_book(book) as opened:
            record_plan(opened, evening)
        say(_("Recorded in {book}.").format(book=book.name))


def _is_book(path: Path) -> bool:
    """Whether the file is a book: an SQLite file by its first bytes."""
    try:
        with path.open("rb") as file:
            return file.read(16) == b"SQLite format 3\x00"
    except OSError:
        return False


def demo(
    out: Path = typer.Option(Path("keepfast-demo"), "--out", help=_("Folder for what comes out.")),
) -> None:
    """Plan the invented trip and print its papers."""
    from importlib import resources

    from keepfast.exchange.files import write_whole

    say(_("The demo trip is invented: a spring survey in south-western Iberia, eighteen animals."))
    source = resources.files("keepfast.demo")
    copies = {
        f"trip/{name.name}": name.read_bytes() for name in source.iterdir() if not name.name.startswith(("_", "."))
        and name.name.rpartition(".")[2] in ("csv", "toml", "gpx")
    }  # fmt: skip
    write_whole(out, copies)
    evening, files = prepare(
        out / "trip" / "survey.csv",
        out / "trip" / "camp.toml",
        start=_DEMO_START,
        papers=True,
        learner=True,
    )
    _finish(evening, files, out, False)
    say(
        _("To plan it yourself: ./keepfast plan {list} --camp {camp} --start {start} --out tonight").format(
            list=out / "trip" / "survey.csv", camp=out / "trip" / "camp.toml", start=_DEMO_START
        )
    )


def _finish(evening: EveningPlan, files: dict[str, bytes], out: Path, json: bool) -> None:
    from keepfast.cli.plan_words import screen, summary
    from keepfast.exchange.files import write_whole
    from keepfast.plan import as_json

    files = {"summary.txt": (summary(evening) + "\n").encode(), **files}
    write_whole(out, files)
    if json:
        show_json(as_json.evening(evening))
    else:
        show(screen(evening, _("Every reason, doubt and caution: {file}").format(file=out / "summary.txt")))
        say(_("Written to {folder}: {files}").format(folder=out, files=_listed(files)))


def _listed(files: dict[str, bytes]) -> str:
    top = sorted(name for name in files if "/" not in name)
    folders: dict[str, int] = {}
    for name in files:
        if "/" in name:
            folder = name.split("/")[0]
            folders[folder] = folders.get(folder, 0) + 1
    return ", ".join([*top, *(_("{folder}/ ({count} drawings)").format(folder=f, count=n) for f, n in folders.items())])


def prepare(
    list_: Path,
    camp_file: Path | None,
    *,
    start: str | None = None,
    people: int | None = None,
    protocol: str | None = None,
    seed: int = 1,
    draws: int = 1000,
    papers: bool = False,
    paper: str | None = None,
    learner: bool = False,
    race: bool = True,
    book: Path | None = None,
) -> tuple[EveningPlan, dict[str, bytes]]:
    """Everything that a plan writes, made before anything is written.

    Raises
    ------
    FindingsError
        If anything in the list, the camp file or the rules is wrong.
    """
    from dataclasses import replace

    from keepfast.book.numbers import slips
    from keepfast.exchange.camp import read_camp
    from keepfast.exchange.files import origin
    from keepfast.plan.chapters import with_air, with_race, with_sun
    from keepfast.plan.evening import Rules, plan_evening
    from keepfast.words import use_language

    read = read_camp(camp_file)
    camp = read.camp
    if people is not None:
        if not 1 <= people <= 12:
            wrong("--people", _("1 to 12 people can work at a table"), _("Mend the number."), str(people))
        camp = camp.with_people(people)
    if not 10 <= draws <= 100_000:
        wrong("--draws", _("10 to 100000 draws are possible"), _("Mend the number."), str(draws))
    if seed < 0:
        wrong("--seed", _("a seed is 0 or more"), _("Mend the number."), str(seed))
    if paper not in (None, "a4", "letter"):
        wrong("--paper", _("the papers are a4 or letter"), _("Choose one of these."), paper)
    use_language(camp.language)
    when = _moment(start, camp.zone)
    rules = Rules.load(protocol or camp.protocol)
    animals, findings, inputs = _animals(list_, camp.time_zone, rules)
    if camp.source_name:
        inputs[camp.source_name] = camp.sha256
    try:
        evening = plan_evening(
            animals,
            camp,
            rules,
            start=when,
            seed=seed,
            size=draws,
            origin=origin(inputs, seed),
            findings=(*findings, *read.findings, *slips(one.field_number for one in animals)),
            kin=_kin(book, animals),
        )
    except FindingsError as problem:
        # What an animal lacks is a fault of its list, so the list is named.
        raise FindingsError(replace(f, file=f.file or list_.name) for f in problem.findings) from None
    evening = with_sun(with_air(evening, camp, rules.evening, seed, draws), camp)
    if race:
        evening = with_race(evening, camp, rules.evening, seed)
    return evening, _files(evening, papers, paper or camp.paper, learner)


def _animals(path: Path, zone: str, rules: Rules) -> tuple[Any, tuple[Finding, ...], dict[str, str]]:
    if _is_book(path):
        return _animals_of_book(path)
    from keepfast.exchange.lists import read_list
    from keepfast.plan.weighing import weigh

    def cannot_be_weighed(animal: Any) -> list[Finding]:
        # Asked while the list is read, so that it comes together with the bad cells, with file and row.
        found = weigh(animal, rules.evening, 1, 1) if animal.mass_g is None else None
        return [found] if isinstance(found, Finding) else []

    read = read_list(path, zone=zone, check=cannot_be_weighed)
    return read.animals, read.findings, {read.name: read.sha256}


def _animals_of_book(path: Path) -> tuple[Any, tuple[Finding, ...], dict[str, str]]:
    from keepfast.desk.books import open_book
    from keepfast.desk.evening import read_animals

    with open_book(path) as book:
        held = read_animals(book)
    if not held.animals:
        raise FindingsError(
            [
                Finding(
                    _("no animal in this book waits for the table"),
                    _("Read a list into it first, with: keepfast read-in"),
                    file=path.name,
                )
            ]
        )
    return held.animals, held.findings, {held.name: held.sha256}


def _kin(book: Path | None, animals: Any) -> tuple[Any, ...]:
    """What a book holds of the same species, whatever has become of it."""
    if book is None:
        return ()
    from keepfast.desk.books import open_book
    from keepfast.desk.evening import measured_kin

    with open_book(book) as opened:
        return measured_kin(opened, {one.taxon for one in animals if one.taxon})


def _moment(text: str | None, zone: Any) -> datetime.datetime:
    """``--start`` with the camp's zone where it has none; the next quarter of an hour if nothing was said."""
    import datetime

    if text is None:
        now = datetime.datetime.now(zone).replace(second=0, microsecond=0)
        when = now + datetime.timedelta(minutes=-now.minute % 15)
        say(
            _("No --start was given: the table is planned to start at {when}.").format(
                when=when.isoformat(" ", "minutes")
            )
        )
        return when
    written = text.strip()
    remedy = _("Write it like 18:00, 2026-04-18T18:00 or 2026-04-18T18:00+02:00.")
    try:
        # A bare clock time is today's.
        clock = datetime.time.fromisoformat(written) if len(written) <= 5 else None
        if clock is not None:
            return datetime.datetime.combine(datetime.datetime.now(zone).date(), clock, zone)
        moment = datetime.datetime.fromisoformat(written)
    except ValueError:
        wrong("--start", _("this is no date and time"), remedy, text)
    if ":" not in written and "T" not in written.upper():
        wrong("--start", _("the hour is missing"), remedy, text)
    if not 1900 <= moment.year <= 2200:
        wrong("--start", _("this year cannot be right"), remedy, text)
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)


def _files(evening: EveningPlan, papers: bool, paper: str, learner: bool) -> dict[str, bytes]:
    import json

    from keepfast.paper import body_sheet, svg
    from keepfast.paper import trays as tray_drawings
    from keepfast.plan import as_json

    about = "; ".join(
        (
            f"keepfast {evening.origin['keepfast']}",
            *(f"{i['name']} sha256 {i['sha256']}" for i in evening.origin["inputs"]),
            f"protocol {evening.protocol['name']} of {evening.protocol['date']}",
            f"seed {evening.origin['seed']}",
        )
    )
    files = {"plan.json": json.dumps(as_json.evening(evening), ensure_ascii=False, indent=1, allow_nan=False).encode()}
    names = _file_names([p.animal.field_number for p in evening.animals])
    for one in evening.animals:
        files[f"bodies/{names[one.animal.field_number]}.svg"] = svg.render(body_sheet.draw(one), about=about).encode()
    for one in evening.animals:
        if "race" in one.extra:
            from keepfast.paper import race_pictures

            picture = race_pictures.margins(one.extra["race"])
            files[f"race/{names[one.animal.field_number]}.svg"] = svg.render(picture, about=about).encode()
    by_number = {p.animal.field_number: p for p in evening.animals}
    for tray in evening.table.trays:
        drawing = tray_drawings.draw(tray, by_number, width_mm=180.0, height_mm=130.0)
        files[f"trays/tray-{tray.number}.svg"] = svg.render(drawing, about=about).encode()
    air = evening.table.extra.get("air")
    if air:
        from keepfast.paper import air_chart

        chart = air_chart.draw(air, start=evening.table.start)
        files["air.svg"] = svg.render(chart, about=about).encode()
    if papers:
        from keepfast.paper import evening_papers

        files.update(evening_papers.files(evening, paper, learner))
    return files


def _file_names(field_numbers: list[str]) -> dict[str, str]:
    """A file name for each field number: only letters, digits, dot and hyphen, not too long, and no two alike."""
    names: dict[str, str] = {}
    # Names of devices, which Windows gives to no file whatever its ending.
    taken = {"con", "prn", "aux", "nul", *(f"{port}{k}" for port in ("com", "lpt") for k in range(10))}
    for number in field_numbers:
        plain = "".join(c if c.isascii() and (c.isalnum() or c in ".-") else "_" for c in number)[:80].strip(".") or "_"
        name, k = plain, 2
        while name.lower() in taken:
            name, k = f"{plain}-{k}", k + 1
        taken.add(name.lower())
        names[number] = name
    return names


def protocol_show(form: str = typer.Argument(..., help=_("A body form, such as lizard."))) -> None:
    """Print one protocol file as it stands."""
    from keepfast.rules import protocols

    if form not in (*protocols.shipped_forms(), "common"):
        wrong(
            "FORM",
            _("there is no protocol of this form"),
            ", ".join((*protocols.shipped_forms(), "common")) + ".",
            form,
        )
    show((protocols.FOLDER / f"{form}.toml").read_text(encoding="utf-8").rstrip())


def protocol_copy(folder: Path = typer.Argument(..., help=_("A folder for the copies."))) -> None:
    """Copy all shipped protocols, and the rules of an evening and the cautions that go with them."""
    from keepfast.exchange.files import write_whole
    from keepfast.rules import protocols, sources

    if folder.exists() and any(folder.glob("*.toml")):
        wrong("FOLDER", _("there are protocols in this folder already"), _("Choose an empty one."), str(folder))
    copies = {p.name: p.read_bytes() for p in sorted(protocols.FOLDER.glob("*.toml"))}
    for subject in protocols.BESIDE:
        copies[f"{subject}.toml"] = (sources.FOLDER / subject / "field.toml").read_bytes()
    write_whole(folder, copies)
    show(str(folder))
    say(_("Edit them, change their dates, and plan with --protocol {folder}").format(folder=folder))


def protocol_check(path: Path = typer.Argument(..., help=_("A protocol file, or a folder of them."))) -> None:
    """Say whether protocols can be used, and all that is wrong if not."""
    from keepfast.plan.evening import Rules
    from keepfast.rules import sources

    if not path.exists():
        wrong("PATH", _("there is no such file or folder"), _("Check its name."), str(path))
    try:
        read = Rules.load(str(path))
    except FindingsError as problem:
        # To find what is wrong is this command's answer.
        for finding in problem.findings:
            say(finding.sentence())
        raise typer.Exit(1) from None
    usable = [
        (form, one.title, one.date) for form, one in sorted(read.protocols.by_form.items()) if one.origin != "shipped"
    ]
    there = sources.by_subject(path)
    for subject, identity in (("evening", read.evening.identity), ("cautions", read.cautions.file.identity)):
        if subject in there:
            usable.append((subject, identity["title"], identity["date"]))
    for name, title, date in usable:
        show(_("{form}: {title}, {date}: can be used").format(form=name, title=title, date=date))
