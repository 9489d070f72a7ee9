"""Who goes first, who can wait, how long the table takes, and the clock of the evening."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass

from keepfast.book.animals import Animal
from keepfast.plan.camp import Camp
from keepfast.rules.evening import EveningRules
from keepfast.rules.protocol import Protocol
from keepfast.rules.tables import value_at
from keepfast.science import decay
from keepfast.words import _

FIXING = ("prick", "fill", "pose", "cover")
OTHER = ("measure", "photograph", "tissue")
PAST = ("red", "lost")  # stages in which an animal should be past saving, by hours and warmth


@dataclass(frozen=True)
class Urgency:
    """What an animal has spent of its time and what is left, in hours at 20 degrees C and in real hours."""

    spent_gut_h: float
    spent_autolysis_h: float
    left_h: float  # real hours at the temperature it is kept, after its own risk is taken off
    left_on_ice_h: float
    stage: str  # green, amber, red, lost by the limits of the rules, in words for people elsewhere
    assumed: bool  # nobody wrote when it died
    reason: str


def kept_c(animal: Animal, camp: Camp, rules: EveningRules, start: datetime.datetime) -> float:
    """The temperature an animal lies in until its turn: as written, on ice, or the camp's at the start."""
    if animal.kept_at_c is not None:
        return animal.kept_at_c
    return rules.number("ice", "temperature_c") if animal.condition == "iced" else camp.temperature_at(start)


def urgency(animal: Animal, diameter_mm: float, camp: Camp, rules: EveningRules, start: datetime.datetime) -> Urgency:
    """How urgent one animal is when the table starts."""
    number = rules.number
    alive = animal.condition == "alive"
    lain_c = kept_c(animal, camp, rules, start)
    assumed = animal.died_at is None and not alive
    hours = 0.0
    if animal.died_at is not None and not alive:
        hours = max((start - animal.died_at).total_seconds() / 3600, 0.0)
    elif assumed:
        hours = number("death_unknown", "hours")
    if (
        animal.kept_at_c is None
        and animal.condition != "iced"
        and animal.died_at is not None
        and camp.temperature_record
    ):
        gut, enzymes = _along_record(camp, animal.died_at, start)
    else:
        gut, enzymes = (float(decay.load(min(hours, 99_999.0), lain_c, clock)) for clock in ("gut", "autolysis"))
    factor = value_at(rules.points["urgency", "by_diameter"], diameter_mm)
    causes = []
    if animal.gut == "full":
        factor *= number("urgency", "gut_full")
        causes.append(_("full gut"))
    elif animal.gut == "":
        factor *= number("urgency", "gut_unknown")
    if animal.reproductive_state in ("follicles", "eggs", "embryos"):
        factor *= number("urgency", "yolk")
        causes.append(_("yolk"))
    if diameter_mm >= 20:
        causes.append(_("thick body"))

    def left(temperature_c: float, limit: str) -> float:
        found = []
        for clock, spent in (("gut", gut), ("autolysis", enzymes)):
            rate = float(decay.relative_rate(temperature_c, clock))
            if rate > 0:
                found.append((number("load", f"{clock}_{limit}_h") - spent) / rate)
        return max(min(found, default=math.inf), 0.0) / factor

    stage = "green"
    if gut > number("load", "gut_red_h") and enzymes > number("load", "autolysis_red_h"):
        stage = "lost"  # whatever is asked, gut or flesh
    elif gut > number("load", "gut_red_h") or enzymes > number("load", "autolysis_red_h"):
        stage = "red"
    elif gut > number("load", "gut_green_h") or enzymes > number("load", "autolysis_green_h"):
        stage = "amber"
    if alive:
        reason = _("alive: it loses nothing by waiting")
        return Urgency(0.0, 0.0, math.inf, math.inf, "green", False, reason)
    parts = [
        _("dead {hours:.1f} h at {temperature:.0f} degrees C").format(hours=hours, temperature=lain_c)
        if not assumed
        else _("nobody wrote when it died, so {hours:g} h are assumed").format(hours=hours),
        *causes,
    ]
    return Urgency(
        gut,
        enzymes,
        left(lain_c, "red"),
        left(number("ice", "temperature_c"), "green"),
        stage,
        assumed,
        "; ".join(parts),
    )


def _along_record(camp: Camp, died_at: datetime.datetime, start: datetime.datetime) -> tuple[float, float]:
    hours = max((start - died_at).total_seconds() / 3600, 0.0)
    steps = max(1, min(200, round(hours * 4)))
    each = hours / steps
    middle = [camp.temperature_at(died_at + datetime.timedelta(hours=(k + 0.5) * each)) for k in range(steps)]
    return (
        float(sum(decay.load([each] * steps, middle, "gut"))),
        float(sum(decay.load([each] * steps, middle, "autolysis"))),
    )


def minutes_of(protocol: Protocol, mass_g: float, injections: int, pace: float) -> dict[str, float]:
    """Minutes at the table for one animal by task, for these people."""
    found = {}
    for task in (*FIXING, *OTHER):
        minutes = value_at(protocol.minutes[task], mass_g)
        if task == "fill":
            minutes += protocol.minutes_per_injection * injections
        found[task] = round(minutes * pace, 3)
    return found


def pace_of(camp: Camp, rules: EveningRules) -> float:
    """Factor on a practised pair's minutes for the people at this table."""
    pace = value_at(rules.points["pace", "by_people"], len(camp.people))
    if any(person.skill == "learning" for person in camp.people):
        pace *= rules.number("pace", "learning")
    return pace


@dataclass(frozen=True)
class Sitting:
    """Who is done tonight, in order, and who waits."""

    tonight: tuple[str, ...]
    waiting: Mapping[str, tuple[str, datetime.datetime | None]]  # field number: why, until when at the latest


def sit(
    urgencies: Mapping[str, Urgency],
    minutes: Mapping[str, float],
    animals: Mapping[str, Animal],
    start: datetime.datetime,
    longest_h: float,
    next_h: float,
) -> Sitting:
    """Order by the time left, shortest first; when the evening is full, who loses least by waiting waits.

    Whoever is so far beyond saving that haste saves nothing comes after all that can still lose something, and before
    those alive, which lose nothing at all. Who waits is whoever lasts on ice until the next sitting in ``next_h``
    hours, the longest-lasting first; then whoever is past saving by the rules, the longest past first; and only then an
    animal that has a little time left.
    """

    def turn(name: str) -> tuple[int, float, float, str]:
        one = urgencies[name]
        group = 2 if math.isinf(one.left_h) else 1 if one.stage == "lost" else 0
        return group, one.left_h, -one.spent_gut_h, name

    order = sorted(urgencies, key=turn)
    standing = {name: place for place, name in enumerate(order)}

    def loses(name: str) -> tuple[int, float, int]:
        one = urgencies[name]
        if one.left_on_ice_h >= next_h:
            return 0, 0.0, -standing[name]
        if one.stage in PAST:
            return 1, -(one.spent_gut_h + one.spent_autolysis_h), -standing[name]
        return 2, 0.0, -standing[name]

    limit = longest_h * 60
    whole = sum(minutes[n] for n in order)
    waiting: dict[str, tuple[str, datetime.datetime | None]] = {}
    for name in sorted(order, key=loses):
        if whole <= limit or len(order) - len(waiting) <= 1:
            break
        whole -= minutes[name]
        animal = animals[name]
        if animal.condition == "alive":
            waiting[name] = (_("keep it alive, cool and quiet; it loses nothing by waiting"), None)
        else:
            left_h = min(urgencies[name].left_on_ice_h, 24 * 14)
            if left_h > 0:
                until = start + datetime.timedelta(hours=left_h)
                waiting[name] = (_("keep it on ice, dry in its bag; it loses less by waiting than the others"), until)
            else:
                words = _("keep it on ice, dry in its bag, and press its belly next time; its hours are spent already")
                waiting[name] = (words, None)
    return Sitting(tuple(n for n in order if n not in waiting), waiting)


def rounded_up(moment: datetime.datetime, minutes: int = 5) -> datetime.datetime:
    """The next full five minutes, as people set a clock."""
    extra = moment.minute % minutes + moment.second / 60 + moment.microsecond / 60e6
    return moment if extra == 0 else moment + datetime.timedelta(minutes=minutes - extra)


def fixing_minutes(minutes: Mapping[str, float]) -> float:
    """Pricking, filling, posing and covering, without what comes before."""
    return float(sum(minutes[task] for task in FIXING))
