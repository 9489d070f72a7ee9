"""The trade's own checks of one animal, and what they look at together.

Each check is a function of a ``Case`` that gives one ``Answer``; limits are rules (``rules.checks``). The published
tests stand in ``quality``, checks among many animals in ``checks_among``.
"""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from keepfast.book import quality
from keepfast.book.answers import Answer, failed, not_tested, passed
from keepfast.book.quality_base import days_of
from keepfast.rules.checks import CheckRules
from keepfast.rules.groups import belonging, limits
from keepfast.science.mass import likely_slip, mass_from_length
from keepfast.words import _

State = Mapping[str, Any]

# Acts that put fixative to a body.
FIXING = ("fill", "pose", "cover")


@dataclass(frozen=True)
class Case:
    """An animal with what belongs to it, as states; empty where nothing is known."""

    animal: State
    event: State = field(default_factory=dict)
    place: State = field(default_factory=dict)
    trip: State = field(default_factory=dict)
    permits: tuple[State, ...] = ()

    @property
    def caught(self) -> tuple[datetime.date, datetime.date] | None:
        """First and last day on which it can have been caught."""
        when = self.animal.get("found_at") or self.event.get("when")
        return days_of(when) if when else None

    @property
    def died_at(self) -> datetime.datetime | None:
        """When it died."""
        said = self.animal.get("died_at")
        return datetime.datetime.fromisoformat(said) if said else None

    def first(self, *steps: str) -> datetime.datetime | None:
        """When the first of these steps was done to it."""
        times = [
            done_at(item)
            for item in self.animal.get("done") or ()
            if item.get("step") in steps and item.get("outcome", "done") in ("done", "in part")
        ]
        return min(times, default=None)


Check = Callable[[Case, CheckRules, datetime.datetime], Answer]
CHECKS: dict[str, Check] = {}


def done_at(item: State) -> datetime.datetime:
    """When something listed was done: as it says, else when it was written."""
    return datetime.datetime.fromisoformat(item.get("at") or item.get("taken_at") or item["written"])


def _check(check: Check) -> Check:
    CHECKS[check.__name__] = check
    return check


def _day(moment: datetime.datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M")


@_check
def number_there(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    number = case.animal.get("field_number")
    if number:
        return passed("number_there", number)
    return failed("number_there", _("it carries no number"), _("Tie a tag and write its number."))


@_check
def form_fits_name(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check, form, taxon = "form_fits_name", case.animal.get("form"), case.animal.get("taxon")
    if not form or not taxon:
        return not_tested(check, _("its form or its name is not known"))
    known = belonging(taxon)
    if known is None:
        return not_tested(check, _("the genus is not in the list of genera"))
    # A larva or a clutch has the form of its stage, whatever its name.
    if form in ("larva", "egg_clutch") or known.form == form:
        return passed(check, f"{taxon} {form}")
    why = _("{taxon} is a {known}, and {form} was written").format(taxon=taxon, known=known.form, form=form)
    return failed(check, why, _("Correct the name or the form: the filling hangs on it."), f"{taxon} {form}")


@_check
def measures_can_be(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check, form, measured = "measures_can_be", case.animal.get("form"), case.animal.get("measured") or {}
    known = limits(form) if form else {}
    tested = {name: measured[name] for name in known if measured.get(name) is not None}
    if not tested:
        return not_tested(check, _("its form is not known, or nothing was measured"))
    wrong = [name for name, value in tested.items() if not known[name][0] <= value <= known[name][1]]
    seen = " ".join(f"{name} {value:g}" for name, value in tested.items())
    if not wrong:
        return passed(check, seen)
    why = _("no {form} measures that: {names}").format(form=form, names=", ".join(wrong))
    return failed(check, why, _("Look for a forgotten decimal mark or another unit."), seen)


_SLIPS = {
    "mass_tenfold": "the mass looks ten times too great",
    "mass_tenth": "the mass looks ten times too small",
    "length_cm_for_mm": "the length looks written in centimetres",
    "length_tenfold": "the length looks ten times too great",
    "swapped": "mass and length look swapped",
    "unexplained": "mass and length do not fit each other",
}


@_check
def mass_fits_length(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check, measured, form = "mass_fits_length", case.animal.get("measured") or {}, case.animal.get("form")
    length, mass = measured.get("length_mm"), measured.get("mass_g")
    if not form or not length or not mass:
        return not_tested(check, _("its form, length or mass is not known"))
    if (case.animal.get("count") or 1) > 1:
        return not_tested(check, _("it is a lot of several"))
    taxon = case.animal.get("taxon") or ""
    known = belonging(taxon) if taxon else None
    group = case.animal.get("group") or (known.group if known and known.form == form else None)
    sd = rules.number("mass", "spread_sd")
    seen = f"{length:g} mm {mass:g} g"
    try:
        slip = likely_slip(form, length, mass, group, limit_sd=sd)
        usual = mass_from_length(form, length, group)
    except ValueError:
        return not_tested(check, _("no relation of mass to length was published for this form"))
    if slip is None:
        return passed(check, seen)
    why = _("{slip}: {mass:g} g at {length:g} mm, where {low:.3g} to {high:.3g} g is usual").format(
        slip=_(_SLIPS[slip.kind]), mass=mass, length=length, low=float(usual.low), high=float(usual.high)
    )
    return failed(check, why, _("Weigh and measure it again while it is here."), seen)


@_check
def tail_fits_body(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check, measured, form = "tail_fits_body", case.animal.get("measured") or {}, case.animal.get("form")
    length, tail = measured.get("length_mm"), measured.get("tail_mm")
    if length is None or tail is None or not length or measured.get("length_kind") == "total":
        return not_tested(check, _("length from snout to vent or tail is not known"))
    if (case.animal.get("tail_state") or "whole") != "whole":
        return not_tested(check, _("the tail is not whole"))
    if not form or form not in rules.tails:
        return not_tested(check, _("no usual tail is known for this form"))
    low, high = rules.tails[form]
    seen = f"{tail:g} / {length:g} mm"
    if low <= tail / length <= high:
        return passed(check, seen)
    why = _("a tail of {tail:g} mm to a body of {length:g} mm is unusual for a {form}").format(
        tail=tail, length=length, form=form
    )
    return failed(check, why, _("Measure it again, or say that the tail is broken or regrown."), seen)


@_check
def young_without_eggs(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "young_without_eggs"
    stage, carries = case.animal.get("stage"), case.animal.get("reproductive_state")
    if not stage or not carries:
        return not_tested(check, _("its stage, or what it carries, is not known"))
    if stage in rules.words("young", "stages") and carries in rules.words("young", "carries"):
        why = _("a {stage} with {carries}").format(stage=stage, carries=carries)
        return failed(check, why, _("Correct the stage or what it carries."), f"{stage} {carries}")
    if case.animal.get("sex") == "male" and carries in rules.words("young", "carries"):
        return failed(check, _("a male with {carries}").format(carries=carries), _("Correct one of the two."), carries)
    return passed(check, f"{stage} {carries}")


def _before(check: str, one: Any, other: Any, missing: str, why: str, remedy: str) -> Answer:
    """Passed where the first is not later than the second; both moments or both days."""
    if one is None or other is None:
        return not_tested(check, missing)
    if one <= other:
        return passed(check, f"{one} {other}")
    return failed(check, why, remedy, f"{one} {other}")


@_check
def caught_before_death(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "caught_before_death"
    if case.animal.get("found_dead"):
        return not_tested(check, _("it was found dead"))
    died = case.died_at
    return _before(
        check, case.caught[0] if case.caught else None, died.date() if died else None,
        _("when it was caught or died is not known"), _("it died before it was caught"),
        _("One of the two dates is wrong, or it was found dead: then say so."),
    )  # fmt: skip


@_check
def death_before_fixation(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    return _before(
        "death_before_fixation", case.died_at, case.first("prick", *FIXING),
        _("when it died or was prepared is not written"), _("it was prepared before it died"),
        _("One of the two times is wrong; nothing is opened or filled before death is certain."),
    )  # fmt: skip


@_check
def tissue_before_fixative(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    taken = [done_at(item) for item in case.animal.get("tissues") or ()]
    return _before(
        "tissue_before_fixative", max(taken, default=None), case.first(*FIXING),
        _("no tissue was taken, or it was not filled yet"), _("tissue was taken after the fixative went in"),
        _("Mark the tissue: formaldehyde damages its DNA. If only the time is wrong, correct it."),
    )  # fmt: skip


@_check
def caught_before_preparation(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    first = case.first("tissue", "prick", *FIXING)
    return _before(
        "caught_before_preparation", case.caught[0] if case.caught else None, first.date() if first else None,
        _("when it was caught or prepared is not known"), _("it was prepared before it was caught"),
        _("One of the two dates is wrong."),
    )  # fmt: skip


@_check
def live_photographs_before_death(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "live_photographs_before_death"
    living = [p for p in case.animal.get("photographs") or () if p.get("living") and p.get("taken_at")]
    last = max((datetime.datetime.fromisoformat(p["taken_at"]) for p in living), default=None)
    return _before(
        check, last, case.died_at, _("no photograph of the living animal, or no time of death, is known"),
        _("a photograph said to show it alive was taken after it died"),
        _("Correct the camera's clock, or what the photograph shows."),
    )  # fmt: skip


@_check
def nothing_in_the_future(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "nothing_in_the_future"
    latest = now + datetime.timedelta(minutes=rules.number("clock", "ahead_minutes"))
    moments = [case.died_at, *(done_at(item) for item in case.animal.get("done") or ())]
    late = [m for m in moments if m is not None and m > latest]
    # A day is over last in the zone that is furthest behind; where the event has an offset, its own counts.
    if case.caught and case.caught[0] > (now + datetime.timedelta(hours=14)).date():
        return failed(check, _("it was caught in the future"), _("Correct the date."), str(case.caught[0]))
    if late:
        return failed(check, _("something was done to it in the future"), _("Set the clock."), _day(max(late)))
    if case.caught is None and not any(moments):
        return not_tested(check, _("no date is known"))
    return passed(check, str(case.caught[0]) if case.caught else "")


@_check
def zone_fits_longitude(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check, longitude = "zone_fits_longitude", case.place.get("longitude")
    died = case.died_at
    if longitude is None or died is None:
        return not_tested(check, _("the place's longitude, or a time with its offset, is not known"))
    offset = died.utcoffset()
    assert offset is not None
    hours = offset.total_seconds() / 3600
    apart = abs((hours - longitude / 15 + 12) % 24 - 12)
    seen = f"{hours:+g} h"
    if apart <= rules.number("clock", "zone_h"):
        return passed(check, seen)
    why = _("its times have an offset of {hours:+g} h, {apart:.0f} h from the sun at that place").format(
        hours=hours, apart=apart
    )
    return failed(check, why, _("Set the zone of the trip, or look for a wrong sign of the longitude."), seen)


@_check
def place_with_its_doubt(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check, place = "place_with_its_doubt", case.place
    if not place:
        return failed(check, _("nobody has said where it was caught"), _("Give its event a place."))
    if place.get("latitude") is None or place.get("longitude") is None:
        return failed(check, _("the place has no coordinates"), _("Find them, with their uncertainty."), "")
    if place.get("uncertainty_m") is None:
        return failed(check, _("nobody has said how certain the coordinates are"), _("Add uncertainty_m."), "")
    return passed(check, f"{place['uncertainty_m']:g} m")


@_check
def protocol_of_death_named(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "protocol_of_death_named"
    if case.animal.get("found_dead") or case.animal.get("condition") == "alive":
        return not_tested(check, _("it lives, or was found dead"))
    named = case.animal.get("protocol_followed")
    if named:
        return passed(check, named)
    if case.died_at is None:
        return not_tested(check, _("its death is not written down"))
    return failed(check, _("the approved protocol that was followed is not named"), _("Write its name or number."))


@_check
def permit_covers(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "permit_covers"
    if not case.event:
        return not_tested(check, _("its event is not known"))
    if not case.permits:
        return failed(check, _("no permit is named for its event"), _("Name the permit it was collected under."))
    troubles = []
    for permit in case.permits:
        trouble = _outside(case, permit)
        if not trouble:
            return passed(check, str(permit.get("number") or ""))
        troubles.append(f"{permit.get('number')}: {trouble}")
    return failed(check, "; ".join(troubles), _("Name the permit that covers it, or ask the office."), troubles[0])


def _outside(case: Case, permit: State) -> str:
    if case.caught:
        if permit.get("starts") and case.caught[0].isoformat() < permit["starts"]:
            return _("it was caught before the permit began")
        if permit.get("ends") and case.caught[1].isoformat() > permit["ends"]:
            return _("it was caught after the permit ended")
    code = case.place.get("country_code")
    if permit.get("country_code") and code and permit["country_code"] != code:
        return _("the permit is for another country")
    state = case.place.get("state_province")
    if permit.get("states") and state and state.casefold() not in {s.casefold() for s in permit["states"]}:
        return _("the permit is for other states or provinces")
    taxon = case.animal.get("taxon") or ""
    if permit.get("taxa") and taxon:
        known = belonging(taxon)
        names = {taxon.casefold(), taxon.split()[0].casefold(), (known.family.casefold() if known else "")}
        if not names & {name.casefold() for name in permit["taxa"]}:
            return _("the permit does not name {taxon}").format(taxon=taxon)
    return ""


@_check
def retained_within_delivered(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "retained_within_delivered"
    fillings = [i for i in case.animal.get("done") or () if i.get("delivered_ml") and i.get("retained_ml") is not None]
    if not fillings:
        return not_tested(check, _("no filling with what stayed in is written"))
    most = rules.number("preparation", "retained_over_delivered")
    for item in fillings:
        if item["retained_ml"] > item["delivered_ml"] * most:
            why = _("more stayed in than went in at filling {n}").format(n=item.get("number", "?"))
            seen = f"{item['retained_ml']:g} > {item['delivered_ml']:g} mL"
            return failed(check, why, _("Correct one of the two amounts."), seen)
    return passed(check)


@_check
def filled_as_planned(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "filled_as_planned"
    went_in = sum(i.get("delivered_ml") or 0 for i in case.animal.get("done") or () if i.get("step") == "fill")
    plan = next((p for p in reversed(case.animal.get("plans") or ()) if p.get("total_low_ml") is not None), None)
    if not went_in or plan is None or plan.get("total_high_ml") is None:
        return not_tested(check, _("no plan, or no filling, is written"))
    beyond = rules.number("preparation", "beyond_range")
    low, high = plan["total_low_ml"] / beyond, plan["total_high_ml"] * beyond
    seen = f"{went_in:g} mL"
    if low <= went_in <= high:
        return passed(check, seen)
    why = _("{went_in:g} mL went in, and {low:.2g} to {high:.2g} mL was planned").format(
        went_in=went_in, low=plan["total_low_ml"], high=plan["total_high_ml"]
    )
    return failed(
        check, why, _("Too little: look for soft places in the tray. Or a slip of the pen: correct it."), seen
    )


@_check
def steps_not_left_open(case: Case, rules: CheckRules, now: datetime.datetime) -> Answer:
    check = "steps_not_left_open"
    plans = case.animal.get("plans") or ()
    if not plans:
        return not_tested(check, _("no plan is written"))
    answered = {item.get("step") for item in case.animal.get("done") or ()}
    begun = case.first("prick", *FIXING)
    if begun is None:
        planned = datetime.datetime.fromisoformat(plans[-1]["written"])
        if now - planned < datetime.timedelta(hours=rules.number("preparation", "open_after_h")):
            return not_tested(check, _("its evening is not over"))
        return failed(check, _("it was planned and never begun"), _("Do it, or say why not."), plans[-1]["entry"])
    missing = [step for step in FIXING if step not in answered]
    if not missing:
        return passed(check)
    if now - begun < datetime.timedelta(hours=rules.number("preparation", "open_after_h")):
        return not_tested(check, _("its evening is not over"))
    why = _("begun, and not answered: {steps}").format(steps=", ".join(missing))
    return failed(check, why, _("Say that it was done, or why it was left out."), " ".join(missing))


def darwin_core(case: Case) -> dict[str, str]:
    """The flat Darwin Core record that the published tests read."""
    animal, event, place, trip = case.animal, case.event, case.place, case.trip
    named = [d for d in animal.get("determinations") or () if d["taxon"] == animal.get("taxon")]
    last: State = named[-1] if named else {}
    days = case.caught
    one_day = days is not None and days[0] == days[1]
    sex = animal.get("sex")
    said: dict[str, Any] = {
        "occurrenceID": animal.get("id"),
        "basisOfRecord": "PreservedSpecimen",
        "type": "PhysicalObject",
        "occurrenceStatus": "present",
        "recordNumber": animal.get("field_number"),
        "kingdom": "Animalia",
        "sex": "undetermined" if sex == "unknown" else sex,
        "scientificName": animal.get("taxon"),
        "scientificNameAuthorship": last.get("authorship"),
        "taxonRank": last.get("rank") or _rank_of(animal.get("taxon") or ""),
        "dateIdentified": last.get("on"),
        "typeStatus": (last.get("type_status") or "").split(" ")[0] or None,
        "eventDate": animal.get("found_at") or event.get("when"),
        "verbatimEventDate": event.get("verbatim_when"),
        "year": days[0].year if days and days[0].year == days[1].year else None,
        "month": days[0].month if one_day and days else None,
        "day": days[0].day if one_day and days else None,
        "country": place.get("country"),
        "countryCode": place.get("country_code") or trip.get("country_code"),
        "stateProvince": place.get("state_province"),
        "county": place.get("county"),
        "municipality": place.get("municipality"),
        "locality": place.get("locality") or place.get("name"),
        "verbatimLocality": place.get("verbatim_locality"),
        "decimalLatitude": place.get("latitude"),
        "decimalLongitude": place.get("longitude"),
        "geodeticDatum": "EPSG:4326" if place.get("latitude") is not None else None,
        "coordinateUncertaintyInMeters": place.get("uncertainty_m"),
        "verbatimCoordinates": place.get("verbatim_coordinates"),
        "minimumElevationInMeters": place.get("elevation_low_m"),
        "maximumElevationInMeters": place.get("elevation_high_m"),
        "minimumDepthInMeters": place.get("depth_low_m"),
        "maximumDepthInMeters": place.get("depth_high_m"),
    }
    return {term: str(value) for term, value in said.items() if value not in (None, "")}


def _rank_of(taxon: str) -> str:
    words = [word for word in taxon.split() if word[:1].isalpha() and word.isalpha()]
    return {2: "species", 3: "subspecies"}.get(len(words), "") if words and taxon[:1].isupper() else ""


# Published tests that say nothing about an animal in a book before it is published.
_AT_PUBLICATION = frozenset(
    {
        "VALIDATION_LICENSE_NOTEMPTY",
        "VALIDATION_LICENSE_STANDARD",
        "VALIDATION_NAMEPUBLISHEDINYEAR_NOTEMPTY",
        "VALIDATION_SCIENTIFICNAMEAUTHORSHIP_NOTEMPTY",
        "VALIDATION_COUNTRY_NOTEMPTY",
    }
)


def answers_for(case: Case, rules: CheckRules, now: datetime.datetime) -> tuple[Answer, ...]:
    """Every answer about one animal: the trade's own checks, then the published tests."""
    own = [check(case, rules, now) for check in CHECKS.values()]
    test = [a for a in quality.run_all(darwin_core(case), rules, now.date()) if a.check not in _AT_PUBLICATION]
    return with_acceptance(
        (
            dataclasses.replace(
                answer, kind="animal", thing=case.animal["id"], subject=case.animal.get("field_number") or "?"
            )
            for answer in (*own, *test)
        ),
        case.animal,
    )


def with_acceptance(answers: Iterable[Answer], state: State) -> tuple[Answer, ...]:
    """The answers, with the reason where somebody lets a finding stand; it comes back when another value is read."""
    stands = {(a["check"], a.get("seen") or ""): a["reason"] for a in state.get("accepted") or ()}
    return tuple(
        dataclasses.replace(answer, accepted=reason)
        if answer.outcome == "failed" and (reason := stands.get((answer.check, answer.seen)))
        else answer
        for answer in answers
    )
