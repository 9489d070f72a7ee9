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
    from keepfast.exchange.lists import read_list
    from keepfast.plan.evening import Rules, plan_evening

    here, findings, inputs = camp_of(camp_file, temperature, record)
    when = moment_of("--start", start, here.zone)
    read = read_list(list_, zone=here.time_zone)
    inputs[read.name] = read.sha256
    tell([*read.findings, *findings])
    rules = Rules.load(protocol or here.protocol)
    evening = plan_evening(read.animals, here, rules, start=when, seed=seed, size=200)
    return evening, here, when, inputs


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


def ranged(option: str, value: float, low: float, high: float) -> None:
    """Stop with a message when a number is outside what the option takes."""
    if not low <= value <= high:
        wrong(
            option,
            _("it must be from {low:g} to {high:g}").format(low=low, high=high),
            _("Mend the number."),
            f"{value:g}",
        )
