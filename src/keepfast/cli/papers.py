"""``tags`` and ``labels``: what is printed before the trip and at the jar, to true size."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.saying import say, show, show_json, wrong
from keepfast.words import _, ngettext

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from keepfast.book.numbers import FieldNumber
    from keepfast.findings import Finding
    from keepfast.paper.page import Page
    from keepfast.rules.sheets import Sheet

_OUT = _("The PDF to write; the same in plain words goes beside it as .txt.")
_SHEETS = _("A file of sheets of your own.")
_RULES = _("A file of papers, inks and sizes of your own.")
_JSON = _("Print one JSON object instead of text.")


def register(app: typer.Typer) -> None:
    """Add the commands of printing."""
    app.command("tags", help=_("Print field tags: number, check character and symbol, to true size."))(tags)
    group = typer.Typer(help=_("Print labels for jars and tubes; check a number."), rich_markup_mode=None,
                        no_args_is_help=True)  # fmt: skip
    group.command("jar", help=_("Print jar labels from a list (CSV or XLSX)."))(jar)
    group.command("tissue", help=_("Print tube labels from a series or a list (CSV or XLSX)."))(tissue)
    group.command("sheets", help=_("List the sheets and rolls that are known."))(sheets)
    group.command("check", help=_("Say whether numbers end in their right check character."))(check)
    app.add_typer(group, name="labels")


def tags(
    series: list[str] = typer.Option(..., "--series", help=_('A run of numbers, such as "ABC 1-60"; may be repeated.')),
    out: Path = typer.Option(..., "--out", help=_OUT),
    sheet: str = typer.Option("a4-tags", "--sheet", help=_("Which sheet or roll (labels sheets lists them).")),
    check: bool = typer.Option(True, "--check/--no-check", help=_("With or without check characters.")),
    note: str = typer.Option("", "--note", help=_("A few words under every number, such as the collector's name.")),
    dpi: int | None = typer.Option(None, "--dpi", help=_("Dots per inch of your printer, if not the sheet's.")),
    sheets_file: str = typer.Option("standard", "--sheets-file", help=_SHEETS),
    rules_file: str = typer.Option("field", "--rules-file", help=_RULES),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """Print field tags."""
    from keepfast.book import numbers
    from keepfast.paper import tags as drawing
    from keepfast.rules import sheets as sheets_
    from keepfast.rules import tags as rules_

    chosen = _with_dpi(sheets_.load(sheets_file).sheet(sheet, "tag"), dpi)
    rules = rules_.load(rules_file)
    run = [number for text in series for number in numbers.series(text, checked=check).numbers()]
    _no_twins(run)
    pages = drawing.draw(run, chosen, rules, note=note)
    words = drawing.text(run, rules, _ties())
    _write(out, pages, words, drawing.title_of(run))
    if not check:
        say(_("No check characters in this series: a slip of the pen cannot be caught."))
    _tell(out, chosen, [n.printed for n in run], pages, json, rules.identity)


def _no_twins(run: Iterable[FieldNumber]) -> None:
    """Two tags of one number are worse than none."""
    seen: set[str] = set()
    for number in run:
        if number.text in seen:
            wrong(
                "--series",
                _("this number would be printed twice"),
                _("Let every number stand in one series only."),
                number.text,
            )
        seen.add(number.text)


def _ties() -> list[tuple[str, str, str]]:
    """How each form is tagged, as the shipped protocols say."""
    from keepfast.paper.wording import form_words
    from keepfast.rules import protocols

    found = []
    for form, protocol in protocols.load().by_form.items():
        for rule in protocol.tags:
            found.append((form_words(form), _(rule.action), _(rule.reason)))
    return found


def jar(
    list_: Path = typer.Argument(..., metavar="LIST", help=_("The list of labels (CSV or XLSX), one row each.")),
    out: Path = typer.Option(..., "--out", help=_OUT),
    institution: str = typer.Option("", "--institution", help=_("Whose jars, where the list does not say.")),
    collector: str = typer.Option("", "--collector", help=_("Who collected, where the list does not say.")),
    fluid: str = typer.Option("", "--fluid", help=_("What is in the jars, where the list does not say.")),
    fixative: str = typer.Option("", "--fixative", help=_("What they were fixed in, where the list does not say.")),
    sheet: str = typer.Option("a4-jar", "--sheet", help=_("Which sheet or roll (labels sheets lists them).")),
    dpi: int | None = typer.Option(None, "--dpi", help=_("Dots per inch of your printer, if not the sheet's.")),
    sheets_file: str = typer.Option("standard", "--sheets-file", help=_SHEETS),
    rules_file: str = typer.Option("field", "--rules-file", help=_RULES),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """Print jar labels."""
    from keepfast.exchange.label_lists import JAR_COLUMNS, read_labels
    from keepfast.paper import labels
    from keepfast.rules import sheets as sheets_
    from keepfast.rules import tags as rules_

    chosen = _with_dpi(sheets_.load(sheets_file).sheet(sheet, "jar"), dpi)
    rules = rules_.load(rules_file)
    read = read_labels(list_, JAR_COLUMNS, ("catalogue_number", "field_numbers"))
    _notes(read.findings)
    for_all = {"institution": institution, "collector": collector, "fluid": fluid, "fixative": fixative}
    made = [
        labels.JarLabel(**{**for_all, **{field: words for field, words in row.items() if words}}) for row in read.rows
    ]
    pages = labels.draw_jars(made, chosen, rules)
    _write(out, pages, labels.jar_text(made, rules), _("Jar labels"))
    _tell(out, chosen, [label.number for label in made], pages, json, rules.identity, {read.name: read.sha256})


def tissue(
    list_: Path | None = typer.Argument(None, metavar="[LIST]", help=_("The list of tubes (CSV or XLSX).")),
    series: list[str] = typer.Option([], "--series", help=_("Instead of a list: a run of numbers.")),
    out: Path = typer.Option(..., "--out", help=_OUT),
    tubes: int = typer.Option(1, "--tubes", help=_("How many tubes for each number of a series.")),
    kind: str = typer.Option("", "--kind", help=_("What is in the tubes of a series, such as liver.")),
    fluid: str = typer.Option("", "--fluid", help=_("What it lies in, such as 96 % ethanol.")),
    check: bool = typer.Option(True, "--check/--no-check", help=_("With or without check characters.")),
    sheet: str = typer.Option("a4-tissue", "--sheet", help=_("Which sheet or roll (labels sheets lists them).")),
    dpi: int | None = typer.Option(None, "--dpi", help=_("Dots per inch of your printer, if not the sheet's.")),
    sheets_file: str = typer.Option("standard", "--sheets-file", help=_SHEETS),
    rules_file: str = typer.Option("field", "--rules-file", help=_RULES),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """Print tube labels."""
    from keepfast.book import numbers
    from keepfast.exchange.label_lists import TISSUE_COLUMNS, read_labels
    from keepfast.paper import labels
    from keepfast.rules import sheets as sheets_
    from keepfast.rules import tags as rules_

    chosen = _with_dpi(sheets_.load(sheets_file).sheet(sheet, "tissue"), dpi)
    rules = rules_.load(rules_file)
    inputs: dict[str, str] = {}
    if (list_ is None) == (not series):
        wrong("--series", _("give either a list or a series"), _("Name one of the two."))
    if not 1 <= tubes <= 20:
        wrong("--tubes", _("1 to 20 tubes are possible for a number"), _("Mend the number."), str(tubes))
    if list_ is not None:
        read = read_labels(list_, TISSUE_COLUMNS, ("number",))
        _notes(read.findings)
        inputs[read.name] = read.sha256
        made = [labels.TissueLabel(**row) for row in read.rows]
    else:
        run = [number for text in series for number in numbers.series(text, checked=check).numbers()]
        _no_twins(run)
        made = [
            labels.TissueLabel(number.printed, f"T{tube}" if tubes > 1 else "", kind, fluid)
            for number in run
            for tube in range(1, tubes + 1)
        ]
    pages = labels.draw_tissues(made, chosen, rules)
    _write(out, pages, labels.tissue_text(made, rules), _("Tissue labels"))
    _tell(out, chosen, [f"{x.number} {x.tube}".strip() for x in made], pages, json, rules.identity, inputs)


def sheets(
    sheets_file: str = typer.Option("standard", "--sheets-file", help=_SHEETS),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """List sheets and rolls."""
    from dataclasses import asdict

    from keepfast.rules import sheets as sheets_

    read = sheets_.load(sheets_file)
    if json:
        show_json({"sheets": [asdict(sheet) for sheet in read.sheets.values()], "rules": read.identity})
        return
    for sheet in read.sheets.values():
        show(f"{sheet.name:<20} {sheet.title}, {sheet.dpi} dpi")


def check(
    numbers: list[str] = typer.Argument(..., metavar="NUMBER...", help=_("Numbers with their check character.")),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """Check numbers; exit 1 if one is wrong."""
    from keepfast.book import numbers as numbers_

    answers: list[dict[str, Any]] = []
    for text in numbers:
        try:
            plain = numbers_.compact(text)
        except ValueError:
            wrong(
                "NUMBER",
                _("this holds characters that no check character covers"),
                _("Use letters A to Z, figures, spaces and hyphens."),
                text,
            )
        valid = numbers_.is_valid(text)
        answers.append({"number": text, "valid": valid, "for_this_as_it_stands": numbers_.check_character(plain)})
    if json:
        show_json({"numbers": answers})
    else:
        for answer in answers:
            if answer["valid"]:
                show(_("{number}: right").format(number=answer["number"]))
            else:
                show(
                    _("{number}: the check character does not fit. If it has none yet, add {character}.").format(
                        number=answer["number"], character=answer["for_this_as_it_stands"]
                    )
                )
    if not all(answer["valid"] for answer in answers):
        raise typer.Exit(1)


def _with_dpi(sheet: Sheet, dpi: int | None) -> Sheet:
    from dataclasses import replace

    if dpi is None:
        return sheet
    if not 72 <= dpi <= 4800:
        wrong("--dpi", _("a printer has 72 to 4800 dots per inch"), _("Look at its data sheet."), str(dpi))
    return replace(sheet, dpi=dpi)


def _notes(findings: Iterable[Finding]) -> None:
    for finding in findings:
        say(finding.sentence())


def _write(out: Path, pages: list[Page], words: str, title: str) -> None:
    """The PDF and its plain words, or neither."""
    from keepfast.exchange.files import write_whole
    from keepfast.paper import pdf

    if out.suffix.lower() != ".pdf":
        wrong("--out", _("the file must end in .pdf"), _("Name it, for instance, tags.pdf."), str(out))
    content = pdf.render(pages, title=title)
    write_whole(out.parent, {out.name: content, out.with_suffix(".txt").name: words.encode()})


def _tell(
    out: Path,
    sheet: Sheet,
    printed: list[str],
    pages: list[Page],
    json: bool,
    rules: dict[str, str],
    inputs: Mapping[str, str] | None = None,
) -> None:
    from keepfast.exchange.files import origin

    beside = out.with_suffix(".txt")
    if json:
        show_json(
            {
                "origin": origin(inputs or {}),
                "sheet": sheet.name,
                "pages": len(pages),
                "printed": printed,
                "files": [str(out), str(beside)],
                "rules": rules,
            }
        )
        return
    show(
        ngettext(
            "{n} printed on {pages} page ({sheet}): {out}; in plain words: {beside}",
            "{n} printed on {pages} pages ({sheet}): {out}; in plain words: {beside}",
            len(pages),
        ).format(n=len(printed), pages=len(pages), sheet=sheet.title, out=out, beside=beside)
    )
    if sheet.is_roll:
        words = _("Print at 100 %, and hold a ruler to a label: {w:g} by {h:g} mm.").format(
            w=sheet.label_width_mm, h=sheet.label_height_mm
        )
    else:
        words = _("Print at 100 %, and hold a ruler to the bar.")
    say(f"{words} {_('Soak and rub one before you trust paper and ink.')}")
