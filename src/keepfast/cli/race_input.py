"""What the commands of the race share: camp, record, start and list, read from options."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from keepfast.cli.saying import say, wrong
from keepfast.findings import Finding
from keepfast.words import _

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from keepfast.book.animals import Animal
    from keepfast.exchange.loggers import Record
    from keepfast.plan.camp import Camp, Reading
    from keepfast.plan.objects import EveningPlan


def evening_of(
    list_: Path,
    camp_file: Path | None,
    start: str | None,
    temperature: float | None,
    record: Path | None,
    protocol: str | None,
    seed: int,
) -> tuple[EveningPlan, Camp, datetime.datetime, dict[str, str]]:
    """The table's plan, the camp with the temperature that was asked for, the start, and what was read."""
    from keepfast.plan.evening import Rules, plan_evening

    here, findings, inputs = camp_of(camp_file, temperature, record)
    when = moment_of("--start", start, here.zone)
    animals, found, name, sha256 = animals_of(list_, here)
    inputs[name] = sha256
    tell([*found, *findings])
    rules = Rules.load(protocol or here.protocol)
    evening = plan_evening(animals, here, rules, start=when, seed=seed, size=200)
    return evening, here, when, inputs


def is_book(path: Path) -> bool:
    """Whether a file is a book: an SQLite file by its first bytes."""
    try:
        with path.open("rb") as file:
            return file.read(16) == b"SQLite format 3\x00"
    except OSError:
        return False


def animals_of(path: Path, here: Camp) -> tuple[tuple[Animal, ...], tuple[Finding, ...], str, str]:
    """Animals of a list, or those of a book that wait for the table; what reading them found, name and hash."""
    if not is_book(path):
        from keepfast.exchange.lists import read_list

        read = read_list(path, zone=here.time_zone)
        return tuple(read.animals), tuple(read.findings), read.name, read.sha256
    from keepfast.desk.books import open_book
    from keepfast.desk.evening import read_animals

    with open_book(path, read_only=True) as book:
        held = read_animals(book)
    if not held.animals:
        wrong("LIST", _("no animal in this book waits for the table"), _("Read a list into it first."), path.name)
    return held.animals, held.findings, held.name, held.sha256


def camp_of(
    camp_file: Path | None, temperature: float | None, record: Path | None
) -> tuple[Camp, list[Finding], dict[str, str]]:
    """The camp with one temperature or a record in its place, what reading it found, and the inputs' hashes."""
    from keepfast.exchange.camp import read_camp
    from keepfast.words import use_language

    read = read_camp(camp_file)
    here = read.camp
    use_language(here.language)
    findings = list(read.findings)
    inputs = {here.source_name: here.sha256} if here.source_name else {}
    if temperature is not None and record is not None:
        wrong("--temperature", _("a temperature and a record were given"), _("Give one of them."))
    if temperature is not None:
        if not -30 <= temperature <= 60:
            wrong("--temperature", _("it must be from -30 to 60 °C"), _("Mend the number."), str(temperature))
        here = here.stating(temperature_c=temperature, temperature_record=())
    if record is not None:
        logged = record_of(record, here)
        findings += logged.findings
        inputs[logged.name] = logged.sha256
        here = here.stating(temperature_record=readings_of(logged))
    return here, findings, inputs


def record_of(path: Path, here: Camp) -> Record:
    """A logger's record, times without a zone in the camp's."""
    from keepfast.exchange.loggers import read_logger

    return read_logger(path, zone=here.time_zone)


def readings_of(record: Record) -> tuple[Reading, ...]:
    """A record as the plan's readings."""
    from keepfast.plan.camp import Reading

    return tuple(Reading(at, float(warm)) for at, warm in zip(record.at, record.temperature_c, strict=True))


def tell(findings: Sequence[Finding]) -> None:
    """Doubts of reading, beside the answer; notes stay in the plan."""
    for finding in findings:
        if finding.weight == "doubt":
            say(finding.sentence())


def moment_of(option: str, text: str | None, zone: Any) -> datetime.datetime:
    """A time typed on the command line, in the camp's zone where it has none; the next quarter hour if left out."""
    import datetime

    if text is None:
        now = datetime.datetime.now(zone).replace(second=0, microsecond=0)
        when = now + datetime.timedelta(minutes=-now.minute % 15)
        say(_("No {option} was given: {when} is taken.").format(option=option, when=when.isoformat(" ", "minutes")))
    else:
        try:
            when = datetime.datetime.fromisoformat(text.strip())
        except ValueError:
            wrong(option, _("this is no date and time"), _("Write it like 2026-04-18T18:00."), text)
        if when.tzinfo is None:
            when = when.replace(tzinfo=zone)
    # A fixed offset, because times of one changing zone subtract by the clock on the wall.
    return when.astimezone(datetime.timezone(when.utcoffset() or datetime.timedelta()))


def seeded(seed: int) -> None:
    """Stop with a message where a seed is none."""
    if seed < 0:
        wrong("--seed", _("a seed is 0 or more"), _("Mend the number."), str(seed))


def ranged(option: str, value: float, low: float, high: float) -> None:
    """Stop with a message when a number is outside what the option takes."""
    if not low <= value <= high:
        wrong(
            option,
            _("it must be from {low:g} to {high:g}").format(low=low, high=high),
            _("Mend the number."),
            f"{value:g}",
        )
