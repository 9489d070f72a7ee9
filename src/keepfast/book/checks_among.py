"""The trade's own checks among many animals: twins and gaps of numbers, permits, travel, clocks."""

from __future__ import annotations

import dataclasses
import datetime
import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from keepfast.book.answers import Answer, failed, not_tested, passed
from keepfast.book.checks import State, with_acceptance
from keepfast.book.number_blocks import gaps, number_key, overlaps, split_number, written
from keepfast.book.numbers import judged
from keepfast.book.quality_base import days_of
from keepfast.rules.checks import CheckRules
from keepfast.words import _

EARTH_KM = 6371.0088  # mean radius, IUGG; Moritz 2000, Geodetic Reference System 1980, J. Geodesy 74:128


@dataclass(frozen=True)
class Brief:
    """What these checks need of an animal: small enough to hold for every animal of a book."""

    id: str
    number: str
    day: str  # the first day on which it can have been caught, empty where unknown
    catalogue: tuple[str, ...]
    tissues: tuple[str, ...]
    permits: tuple[str, ...]
    count: int
    accepted: tuple[Mapping[str, Any], ...] = ()


def brief_of(animal: State, event: State) -> Brief:
    """The brief of an animal."""
    when = animal.get("found_at") or event.get("when")
    days = days_of(when) if when else None
    return Brief(
        animal["id"],
        animal.get("field_number") or "",
        days[0].isoformat() if days else "",
        tuple(
            " ".join(filter(None, (n.get("institution_code"), n.get("collection_code"), n["number"])))
            for n in animal.get("catalogue_numbers") or ()
        ),
        tuple(t["number"] for t in animal.get("tissues") or () if t.get("number")),
        tuple(event.get("permits") or ()),
        animal.get("count") or 1,
        tuple(animal.get("accepted") or ()),
    )


def _of(answer: Answer, brief: Brief) -> Answer:
    named = dataclasses.replace(answer, kind="animal", thing=brief.id, subject=brief.number or "?")
    return with_acceptance([named], {"accepted": brief.accepted})[0]


def twins(briefs: Sequence[Brief]) -> Iterator[Answer]:
    """No two animals carry one number, and no catalogue or tissue number stands twice."""
    sorts = (
        ("number_is_one", lambda b: (b.number,) if b.number else (), _("Correct the one that is wrong; look at tags.")),
        ("catalogue_number_is_one", lambda b: b.catalogue, _("It is never given twice: ask the curator.")),
        ("tissue_number_is_one", lambda b: b.tissues, _("Correct the one that is wrong; look at the tubes.")),
    )  # fmt: skip
    for check, numbers_of, remedy in sorts:
        holders: dict[str, list[tuple[Brief, str]]] = {}
        for brief in briefs:
            for number in dict.fromkeys(numbers_of(brief)):
                holders.setdefault(number_key(number), []).append((brief, number))
        for held in holders.values():
            for brief, number in held:
                others = [other for other, _number in held if other.id != brief.id]
                if not others:
                    if check == "number_is_one":
                        yield _of(passed(check, number), brief)
                    continue
                why = _("{number} is carried by {n} animals").format(number=number, n=len(others) + 1)
                seen = f"{number} {len(others) + 1}"
                yield _of(failed(check, why, remedy, seen), brief)


def check_characters(briefs: Sequence[Brief]) -> Iterator[Answer]:
    """Numbers of a series with check characters end in the right one; of others nothing can be told."""
    check = "check_character_fits"
    found = judged(brief.number for brief in briefs if brief.number)
    for brief in briefs:
        if not brief.number:
            continue
        fits = found[brief.number]
        if fits is None:
            answer = not_tested(check, _("its series goes without check characters"))
        elif fits:
            answer = passed(check, brief.number)
        else:
            why = _("its check character does not fit: a slip of the pen, or a letter misread")
            answer = failed(check, why, _("Read the tag again."), brief.number)
        yield _of(answer, brief)


def order_of_numbers(briefs: Sequence[Brief]) -> Iterator[Answer]:
    """Within a series, a later number was not given on an earlier day."""
    series: dict[str, list[tuple[int, Brief]]] = {}
    for brief in briefs:
        split = split_number(brief.number)
        if split and brief.day:
            series.setdefault(split[0], []).append((split[1], brief))
    for held in series.values():
        held.sort(key=lambda one: one[0])
        # The longest run of days that do not go back is taken as right; what stands outside it is told.
        in_order = _longest_rising([brief.day for _number, brief in held])
        last: Brief | None = None
        for place, (_serial, brief) in enumerate(held):
            if place in in_order:
                last = brief
                yield _of(passed("numbers_in_order", brief.day), brief)
                continue
            near = last or next(b for p, (_n, b) in enumerate(held) if p in in_order)
            why = _("{number} is of {day}, its neighbour {other} of {other_day}").format(
                number=brief.number, day=brief.day, other=near.number, other_day=near.day
            )
            remedy = _("A wrong date or a wrong number; tags tied later than caught may be let stand.")
            yield _of(failed("numbers_in_order", why, remedy, f"{brief.number} {brief.day}"), brief)


def _longest_rising(values: Sequence[str]) -> set[int]:
    """Places of a longest run that never goes back (patience sorting)."""
    import bisect

    tails: list[str] = []
    at: list[int] = []
    before: list[int] = []
    for place, value in enumerate(values):
        i = bisect.bisect_right(tails, value)
        before.append(at[i - 1] if i else -1)
        if i == len(tails):
            tails.append(value)
            at.append(place)
        else:
            tails[i], at[i] = value, place
    chosen: set[int] = set()
    place = at[-1] if at else -1
    while place >= 0:
        chosen.add(place)
        place = before[place]
    return chosen


def accounts_of_series(
    series: State, carried: Sequence[int], given: Sequence[Mapping[str, Any]], rules: CheckRules
) -> Iterator[Answer]:
    """Every gap of a series has its reason, and no two devices hold one number."""

    def of(answer: Answer) -> Answer:
        named = dataclasses.replace(answer, kind="series", thing=series["id"], subject=str(series.get("name") or "?"))
        return with_acceptance([named], series)[0]

    open_gaps = [gap for gap in gaps(series, carried, given) if not gap.reason]
    if not open_gaps:
        yield of(passed("gaps_explained", f"{len(carried)}"))
    for gap in open_gaps[: int(rules.number("number", "most_gaps"))]:
        first, last = written(series, gap.first), written(series, gap.last)
        span = first if gap.first == gap.last else _("{first} to {last}").format(first=first, last=last)
        remedy = _("Say why with: keepfast book add BOOK number_explained")
        why = _("{span}: nothing carries it, and nobody has said why").format(span=span)
        yield of(failed("gaps_explained", why, remedy, f"{gap.first}-{gap.last}"))
    shared = overlaps(series)
    if not shared:
        yield of(passed("blocks_apart"))
    for one, other in shared:
        why = _("{a} and {b} both hold {first} to {last}").format(
            a=one.device, b=other.device,
            first=written(series, max(one.first, other.first)), last=written(series, min(one.last, other.last)),
        )  # fmt: skip
        seen = f"{one.device} {one.first}-{one.last} {other.device} {other.first}-{other.last}"
        yield of(failed("blocks_apart", why, _("Stop giving out these on one of the two."), seen))


def permits_not_overdrawn(permits: Iterable[State], briefs: Sequence[Brief]) -> Iterator[Answer]:
    """No more animals are named under a permit than it allows."""
    taken: dict[str, int] = {}
    for brief in briefs:
        # Under several permits an animal is counted under the first, so that none is counted twice.
        if brief.permits:
            taken[brief.permits[0]] = taken.get(brief.permits[0], 0) + brief.count
    for permit in permits:
        most = permit.get("most")
        if most is None:
            continue
        count = taken.get(permit["id"], 0)
        seen = f"{count} / {most}"
        if count <= most:
            answer = passed("permit_not_overdrawn", seen)
        else:
            why = _("{count} animals are named under it, and it allows {most}").format(count=count, most=most)
            answer = failed("permit_not_overdrawn", why, _("Stop collecting under it, and ask the office."), seen)
        named = dataclasses.replace(answer, kind="permit", thing=permit["id"], subject=str(permit.get("number") or "?"))
        yield with_acceptance([named], permit)[0]


def distance_km(a: State, b: State) -> float:
    """Great-circle distance of two places; the sphere is right to half a percent, enough to judge a day's travel."""
    one, other = math.radians(a["latitude"]), math.radians(b["latitude"])
    turn = math.radians(b["longitude"] - a["longitude"])
    chord = math.sin((other - one) / 2) ** 2 + math.cos(one) * math.cos(other) * math.sin(turn / 2) ** 2
    return 2 * EARTH_KM * math.asin(min(1.0, math.sqrt(chord)))


def travel(stops: Iterable[tuple[State, State]], rules: CheckRules) -> Iterator[Answer]:
    """No collector was at two places faster than the road allows. ``stops``: events with their places."""
    by_person: dict[str, list[tuple[datetime.datetime, bool, State, State]]] = {}
    for event, place in stops:
        days = days_of(event.get("when") or "")
        if days is None or days[0] != days[1] or place.get("latitude") is None or place.get("longitude") is None:
            continue
        text = (event.get("when") or "").partition("/")[0]
        timed = "T" in text
        moment = datetime.datetime.fromisoformat(text)
        # Local times without an offset are compared as they stand: the stops of one collector share their zone.
        plain = moment.replace(tzinfo=None) - (moment.utcoffset() or datetime.timedelta())
        for person in event.get("by") or ():
            by_person.setdefault(person, []).append((plain, timed, event, place))
    told: set[tuple[str, str]] = set()
    for person, visits in by_person.items():
        visits.sort(key=lambda visit: visit[0])
        for one, other in itertools.pairwise(visits):
            pair = (one[2]["id"], other[2]["id"])
            if pair in told:
                continue
            told.add(pair)
            km = distance_km(one[3], other[3])
            doubt = ((one[3].get("uncertainty_m") or 0) + (other[3].get("uncertainty_m") or 0)) / 1000
            hours = (other[0] - one[0]).total_seconds() / 3600
            timed = one[1] and other[1]
            farthest = (
                rules.number("travel", "fastest_km_h") * hours
                if timed
                else rules.number("travel", "day_km") * (1 + hours / 24)
            )
            number = str(other[2].get("number") or "?")
            seen = f"{one[2].get('number')} {number} {km:.0f} km {hours:.1f} h"
            if km - doubt <= farthest:
                answer = passed("travel_can_be", seen)
            else:
                why = _("{person} was {km:.0f} km away at {other} {hours:.1f} h before").format(
                    person=person, km=km, other=one[2].get("number") or "?", hours=hours
                )
                answer = failed("travel_can_be", why, _("A wrong time, or wrong coordinates of one place."), seen)
            named = dataclasses.replace(answer, kind="event", thing=other[2]["id"], subject=number)
            yield with_acceptance([named], other[2])[0]


def clocks(jumps: Iterable[tuple[str, float]], rules: CheckRules) -> Iterator[Answer]:
    """No device's clock jumped back. ``jumps``: device, and by how many minutes its entries stand out of order."""
    for device, minutes in jumps:
        if minutes <= rules.number("clock", "back_minutes"):
            continue
        why = _("the clock of {device} jumped back by {minutes:.0f} minutes").format(device=device, minutes=minutes)
        remedy = _("Set it. The order of its entries was kept; the times they show may be wrong.")
        yield dataclasses.replace(
            failed("clock_goes_forward", why, remedy, f"{device} {minutes:.0f}"), kind="device", subject=device
        )
