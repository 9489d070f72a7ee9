"""``steps``: from the fixing bath through rinses and steps into the jar, with a calendar."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from keepfast.cli.fluid_input import Reader, refusing
from keepfast.cli.saying import fail, say, show, show_json, wrong
from keepfast.findings import Finding
from keepfast.words import _

if TYPE_CHECKING:
    import datetime

    from keepfast.plan.steps import InJar, StepsPlan
    from keepfast.rules.cautions import Caution
    from keepfast.rules.fluids import FluidRules


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("steps", help=_("From the fixing bath through rinses and steps into the jar, with a calendar."))(steps)


def steps(
    body: list[str] = typer.Option(
        [], "--body", help=_("A body as NAME:FORM:MASS:THICKNESS, such as B-12:frog:40g:25mm; repeat it for a jarful.")
    ),
    form: str | None = typer.Option(None, "--form", help=_("Or one body: its form, such as frog or snake.")),
    mass: str | None = typer.Option(None, "--mass", help=_("Its mass, such as 40g.")),
    diameter: str | None = typer.Option(None, "--diameter", help=_("Its trunk at the thickest, such as 25mm.")),
    book: Path | None = typer.Option(
        None, "--book", help=_("Or a book: its animals; what is decided is written there.")
    ),
    animal: list[str] = typer.Option([], "--animal", help=_("With a book: a field number; repeat it for a jarful.")),
    of_jar: str = typer.Option("", "--of-jar", help=_("With a book: all that lie in this jar.")),
    of_tray: str = typer.Option("", "--of-tray", help=_("With a book: all that lie in this tray.")),
    look_only: bool = typer.Option(False, "--look-only", help=_("With a book: write nothing in it.")),
    reason: str = typer.Option("", "--reason", help=_("With a book: why it was decided so, in your words.")),
    who: str = typer.Option("", "--who", help=_("With a book: who decides; else as for every entry.")),
    length: str | None = typer.Option(None, "--length", help=_("Or its length from snout to vent, to estimate that.")),
    injected: str | None = typer.Option(
        None, "--injected", help=_("Fixative that was filled into it, such as 4mL; it counts as body liquid.")
    ),
    stage: str = typer.Option("fixing", "--from", help=_("Where it begins: fixing, rinse or alcohol.")),
    stock: str = typer.Option("96", "--stock", help=_("Strength of the alcohol at hand, % vol.")),
    target: str | None = typer.Option(
        None, "--target", help=_("Strength wanted in the jar, % vol; the rules' own if left out.")
    ),
    temperature: str = typer.Option("20", "--temperature", help=_("Temperature of everything, in °C.")),
    ratio: str | None = typer.Option(None, "--ratio", help=_("Fluid in the jar, mL for each gram of body.")),
    jar: str | None = typer.Option(None, "--jar", help=_("Or what the jar holds, such as 500mL, bodies and all.")),
    carried: str = typer.Option("0", "--carried", help=_("Old fluid that stays with the bodies, mL for each gram.")),
    formaldehyde: str = typer.Option("4", "--formaldehyde", help=_("Formaldehyde in the bath, grams in 100 mL.")),
    bath: str | None = typer.Option(None, "--bath", help=_("Fluid in the fixing bath, mL for each gram of body.")),
    wrap: bool = typer.Option(False, "--wrap", help=_("Fix in wet cloth in sealed bags instead of a bath.")),
    strengths: str | None = typer.Option(None, "--strengths", help=_("A series of your own, such as 30,50,70.")),
    prefer: str = typer.Option("", "--prefer", help=_("least_alcohol, fewest_changes or gentlest.")),
    stay: bool = typer.Option(False, "--stay", help=_("Larvae and eggs: plan their formalin, nothing more.")),
    anyway: bool = typer.Option(False, "--into-alcohol-anyway", help=_("Send larvae and eggs on into alcohol.")),
    start: str | None = typer.Option(None, "--start", help=_("When it begins, such as 2026-04-18T18:00+02:00.")),
    calendar: Path | None = typer.Option(
        None, "--calendar", help=_("Write what to do when as a calendar file (.ics).")
    ),
    pdf: Path | None = typer.Option(
        None, "--pdf", help=_("Also write it as a sheet to print; the same in plain words goes beside it as .txt.")
    ),
    paper: str = typer.Option("a4", "--paper", help=_("a4 or letter.")),
    rules: str = typer.Option("field", "--rules", help=_("A fluids file of your own.")),
    json: bool = typer.Option(False, "--json", help=_("Print the answer as JSON.")),
) -> None:
    """From the fixing bath into the jar."""
    from keepfast.plan import steps as planning
    from keepfast.rules import fluids
    from keepfast.science import alcohol

    reader = Reader()
    practice = fluids.load(rules)
    t = reader.temperature_c("--temperature", temperature, 0.0, alcohol.HIGHEST_C)
    if book is None:
        jarful = planning.Jarful(tuple(_bodies(reader, body, form, mass, diameter, length, injected)))
        if animal or of_jar or of_tray or look_only or reason or who:
            reader.wrong(
                "--book", _("these options ask a book"), _("Name its file with --book, or leave them out."), "nothing"
            )
    elif body or form is not None:
        reader.wrong("--book", _("the bodies come from the book"), _("Leave --body and --form out."), str(book))
    if stage not in planning.STAGES:
        reader.wrong("--from", _("it begins with fixing, rinse or alcohol"), _("Give one of the three."), stage)
    if prefer and prefer not in planning.GOALS:
        reader.wrong(
            "--prefer",
            _("known goals are {list}").format(list=", ".join(planning.GOALS)),
            _("Give one of them."),
            prefer,
        )
    strong = reader.strength("--stock", stock, low=30.0)
    aim = reader.strength("--target", target, low=20.0) if target is not None else None
    # Whoever writes a decimal comma parts the strengths by semicolons.
    parted = strengths.split(";" if ";" in strengths else ",") if strengths is not None else None
    own = [reader.strength("--strengths", s) for s in parted] if parted is not None else None
    leftover = reader.plain("--carried", carried, 0.0, 5.0, _("old fluid goes from 0 to 5 mL per g"))
    free = reader.percent("--formaldehyde", formaldehyde, 0.5, 15.0, _("formaldehyde in a bath"))
    in_bath = (
        reader.plain("--bath", bath, 0.2, 200.0, _("a bath holds 0.2 to 200 mL per g")) if bath is not None else None
    )
    in_jar = (
        reader.plain("--ratio", ratio, 0.2, 200.0, _("a jar holds 0.2 to 200 mL per g")) if ratio is not None else None
    )
    holds = reader.volume_ml("--jar", jar) if jar is not None else None
    for first, second, both in (
        ("--ratio", "--jar", ratio is not None and jar is not None),
        ("--bath", "--wrap", bath is not None and wrap),
        ("--stay", "--into-alcohol-anyway", stay and anyway),
    ):
        if both:
            reader.wrong(first, _("one of two is wanted, not both"), _("Leave one of them out."), f"{first}, {second}")
    begins = _moment(reader, start)
    if calendar is not None and start is None:
        reader.wrong(
            "--start", _("a calendar needs its beginning"), _("Such as --start 2026-04-18T18:00+02:00."), "nothing"
        )
    if not reader.found and aim is not None and aim > strong:
        reader.wrong(
            "--target",
            _("the stock ({stock:g} %) is weaker than what is wanted").format(stock=strong),
            _("Take a stronger stock."),
            target,
        )
    if not reader.found and own is not None and max(own) > strong:
        reader.wrong(
            "--strengths",
            _("the stock ({stock:g} %) is weaker than the strongest step").format(stock=strong),
            _("Take a stronger stock."),
            strengths,
        )
    if paper not in ("a4", "letter"):
        reader.wrong("--paper", _("the papers are a4 or letter"), _("Choose one of these."), paper)
    if pdf is not None and pdf.suffix.lower() != ".pdf":
        reader.wrong("--pdf", _("the file must end in .pdf"), _("Name it, for instance, steps.pdf."), str(pdf))
    reader.done()
    read = None
    if book is not None:
        from keepfast.desk.books import open_book
        from keepfast.desk.jarful import read_jarful

        with open_book(book, read_only=True) as opened:
            read = read_jarful(opened, numbers=animal, jar=of_jar, tray=of_tray)
        jarful = read.jarful
        for doubt in read.doubts:
            say(doubt)
    bodies = jarful.bodies
    usual = min(practice.target(b.form).strength_vol for b in bodies)
    if aim is None and usual > strong:
        wrong(
            "--stock",
            _("the stock is weaker than the {target:g} % that is wanted in the jar").format(target=usual),
            _("Take a stronger stock, or name a lower --target."),
            stock,
        )
    if holds is not None:
        # A body takes about as much room as it weighs.
        in_jar = (holds - jarful.mass_g) / jarful.mass_g
        if in_jar < 0.2:
            wrong("--jar", _("the bodies leave no room for fluid in this jar"), _("Take a larger one."), jar)
    staying = [b for b in bodies if b.form in practice.stay_forms]
    if stay and not staying:
        wrong(
            "--stay",
            _("none of these stays in formalin; --stay is for larvae and eggs"),
            _("Leave it out."),
            ", ".join(dict.fromkeys(b.form for b in bodies)),
        )
    if staying and not (stay or anyway):
        fail(
            [
                Finding(
                    _("larvae and eggs normally stay in formalin, so they are not sent on"),
                    _(practice.stay_text)
                    + " "
                    + _("--stay plans that; --into-alcohol-anyway sends them on all the same."),
                    field="--form",
                    read=staying[0].form,
                )
            ]
        )
    plan = refusing(
        lambda: planning.plan_steps(
            jarful,
            practice,
            stage="fixing" if stay and staying else stage,
            stock_vol=strong,
            target_vol=aim,
            temperature_c=t,
            jar_ml_per_g=in_jar,
            carried_ml_per_g=leftover,
            formaldehyde_percent_w_v=free,
            own_strengths_vol=own,
            prefer=prefer,
            wrapped=wrap,
            bath_ml_per_g=in_bath,
            into_alcohol_anyway=anyway,
        ),
    )
    # The sheet is drawn before anything is written: what cannot be printed stops all of it.
    sheet = _sheet(plan, begins, pdf, paper)
    # The book last: a file that cannot be written stops the command before what cannot be taken back.
    if calendar is not None and begins is not None:
        _write_calendar(plan, begins, calendar)
    if pdf is not None:
        from keepfast.exchange.files import write_whole

        write_whole(pdf.parent, sheet)
        say(_("Sheet written: {files}").format(files=", ".join(str(pdf.parent / name) for name in sheet)))
    decision = ""
    if book is not None and read is not None and not look_only:
        from keepfast.desk.jarful import decide

        with open_book(book, who=who) as opened:
            decision = decide(opened, read, plan, reason=reason)
        say(_("Written into the book as a decision."))
    made_from = {read.book: read.head} if read is not None else {}
    _show_steps(plan, practice, begins, json, made_from, decision)


def _write_calendar(plan: StepsPlan, begins: datetime.datetime, file: Path) -> None:
    import datetime

    from keepfast.exchange import calendar as calendar_
    from keepfast.exchange.files import write_file
    from keepfast.plan import step_calendar

    bodies = plan.jarful.bodies
    name = _("Keepfast: {who}").format(who=", ".join(dict.fromkeys(b.name for b in bodies)))
    # Two frogs without a number are told apart by what they weigh and measure.
    of = "; ".join(f"{b.name} {b.form} {b.mass_g:.6g} g {b.diameter_mm:.6g} mm" for b in bodies)
    now = datetime.datetime.now(datetime.UTC)
    write_file(file, calendar_.write(step_calendar.calendar(plan, begins), name, now, of=of))
    say(_("Calendar written: {file}").format(file=file))


def _sheet(plan: StepsPlan, begins: datetime.datetime | None, file: Path | None, paper: str) -> dict[str, bytes]:
    """The sheet to print and its plain words, by file name; nothing where none is wanted."""
    if file is None:
        return {}
    from keepfast.cli import fluid_words
    from keepfast.paper import pdf, steps_sheet
    from keepfast.plan import step_calendar

    entries = step_calendar.calendar(plan, begins) if begins is not None else ()
    bath, pouring = _cautions(plan)
    pages = steps_sheet.draw(plan, entries, paper, bath_cautions=bath, step_cautions=pouring)
    words = fluid_words.steps_text(plan, entries) + steps_sheet.rest_in_words(plan, bath, pouring)
    return {
        file.name: pdf.render(pages, title=steps_sheet.title(plan)),
        file.with_suffix(".txt").name: words.encode(),
    }


def _cautions(plan: StepsPlan) -> tuple[tuple[Caution, ...], tuple[Caution, ...]]:
    """What to mind at the fixing bath, and at the rinses and the alcohol."""
    from keepfast.rules import cautions

    known = cautions.load()
    formalin = plan.fixing is not None or plan.stays_in_formalin
    bath = cautions.called_up(known, round="cover", step="waste", fluid="formalin") if formalin else ()
    if plan.stays_in_formalin:
        return bath, ()
    return bath, cautions.called_up(known, step=("rinse", "mix", "decant"), fluid="alcohol")


def _show_steps(
    plan: StepsPlan,
    practice: FluidRules,
    begins: datetime.datetime | None,
    json: bool,
    made_from: dict[str, str],
    decision: str,
) -> None:
    from keepfast.cli import fluid_words
    from keepfast.exchange.files import origin
    from keepfast.plan import step_calendar

    entries = step_calendar.calendar(plan, begins) if begins is not None else ()
    if json:
        answer = plan.as_dict()
        answer["calendar"] = [
            {"at": e.at.isoformat(), "key": e.key, "what": e.what, "why": e.why, "minutes": e.minutes} for e in entries
        ]
        answer["origin"] = origin(made_from | {practice.identity["name"]: practice.identity["sha256"]})
        answer["decision"] = decision or None
        bath, pouring = _cautions(plan)
        answer["cautions"] = [caution.as_dict() for caution in (*bath, *pouring)]
        show_json(answer)
        return
    show(fluid_words.steps_text(plan, entries).rstrip())
    show("\n" + fluid_words.care_text([caution for part in _cautions(plan) for caution in part]))


def _bodies(
    reader: Reader,
    body: list[str],
    form: str | None,
    mass: str | None,
    diameter: str | None,
    length: str | None,
    injected: str | None,
) -> list[InJar]:
    import dataclasses

    made: list[InJar] = []
    for name, value in (("--mass", mass), ("--diameter", diameter), ("--length", length), ("--injected", injected)):
        if form is None and value is not None:
            reader.wrong(name, _("this belongs to --form"), _("Name the form too, or use --body alone."), value)
    if bool(body) == (form is not None):
        reader.wrong(
            "--body",
            _("say what lies in the jar"),
            _("Such as --form frog --mass 40g --diameter 25mm, or --body B-12:frog:40g:25mm."),
            "nothing" if not body else "both",
        )
        return made
    for text in body:
        parts = text.split(":")
        if len(parts) not in (3, 4):
            reader.wrong("--body", _("a body is NAME:FORM:MASS:THICKNESS"), _("Such as B-12:frog:40g:25mm."), text)
            continue
        if not parts[0].strip():
            reader.wrong("--body", _("a body needs its name"), _("Such as B-12:frog:40g:25mm."), text)
            continue
        one = _one_body(reader, "--body", parts[0], parts[1], parts[2], parts[3] if len(parts) == 4 else None, None)
        if one is not None:
            made.append(one)
    if form is not None:
        if mass is None:
            reader.wrong("--mass", _("the mass is wanted"), _("Such as --mass 40g."), "nothing")
            return made
        one = _one_body(reader, "--form", form.replace("_", " "), form, mass, diameter, length)
        filled = reader.volume_ml("--injected", injected) if injected is not None else 0.0
        if one is not None and filled > 0.5 * one.mass_g:
            reader.wrong("--injected", _("no body takes half its own mass of fluid"), _("Check the unit."), injected)
        if one is not None:
            made.append(dataclasses.replace(one, injected_ml=filled))
    return made


def _one_body(
    reader: Reader, name: str, called: str, form: str, mass: str, diameter: str | None, length: str | None
) -> InJar | None:
    from keepfast.plan.steps import InJar
    from keepfast.terms import FORMS

    if form not in FORMS:
        reader.wrong(name, _("there is no such body form"), _("Known: {list}.").format(list=", ".join(FORMS)), form)
        return None
    grams = reader.mass_g("--mass" if name == "--form" else name, mass)
    if diameter is not None:
        thick, known = reader.length_mm("--diameter" if name == "--form" else name, diameter), "measured"
        if thick > 200.0:
            reader.wrong("--diameter", _("a trunk is 0.5 to 200 mm thick here"), _("Check the unit."), diameter)
    else:
        from keepfast.science import body as bodies

        long = reader.length_mm("--length", length) if length is not None else float("nan")
        if reader.found:
            return None
        known = "estimated from mass and length" if length is not None else "estimated from mass"
        try:
            if length is None:
                long = float(bodies.length_from_mass_mm(form, grams))
            thick = float(bodies.body_of(form, long, grams).diameter_mm)
        except ValueError as problem:
            reader.wrong("--diameter", str(problem), _("Give the thickness as measured: --diameter."), form)
            return None
    return None if reader.found else InJar(called, form, grams, thick, known)


def _moment(reader: Reader, text: str | None) -> datetime.datetime | None:
    import datetime

    if text is None:
        return None
    try:
        at = datetime.datetime.fromisoformat(text)
    except ValueError:
        reader.wrong("--start", _("this is not a date and time"), _("Write it like 2026-04-18T18:00+02:00."), text)
        return None
    if at.utcoffset() is None:
        reader.wrong("--start", _("a time needs its offset from UTC"), _("Write it like 2026-04-18T18:00+02:00."), text)
        return None
    return at
