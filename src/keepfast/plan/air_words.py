"""The words of the air: short, calm, below / near / above a limit, and never that the air is good."""

from __future__ import annotations

import datetime
import math
from typing import TYPE_CHECKING, Any

from keepfast.rules.limits import SHORT_TERM_MIN, Duty, Limit, Limits
from keepfast.rules.shelters import Shelter, Shelters
from keepfast.science.tables import load
from keepfast.words import _

if TYPE_CHECKING:
    from keepfast.plan.air_answer import Air, Band
    from keepfast.plan.air_place import Place
    from keepfast.plan.air_scene import Table
    from keepfast.plan.air_spill import Away


def figure(value: float) -> str:
    """Two figures that carry something, without powers of ten: 0.031, 0.31, 3.1, 31, 310."""
    if value >= 100:
        return f"{float(f'{value:.2g}'):.0f}"
    if value >= 10:
        return f"{value:.0f}"
    return f"{value:.2g}" if value >= 0.0001 or value == 0 else _("under 0.0001")


def band(ppm: Band) -> str:
    """A value with its doubt: 0.31 ppm (0.1 to 1.2)."""
    return _("{value} ppm ({low} to {high})").format(
        value=figure(ppm.value), low=figure(ppm.low), high=figure(ppm.high)
    )


def span_words(minutes: float) -> str:
    """An averaging time: 15 min, 8 h."""
    return _("{minutes:g} min").format(minutes=minutes) if minutes < 60 else _("{h:g} h").format(h=minutes / 60)


def limit_words(limit: Limit) -> str:
    """Whose limit, and how much: the limit of European Union, 0.37 mg/m3 over 8 h."""
    span = span_words(limit.minutes)
    return _("the limit of {body}, {value:g} {unit} over {span}").format(
        body=_(limit.body_name), value=limit.value, unit=limit.unit, span=span
    )


def against(word: str, limit: Limit) -> str:
    """Below, near or above the limit of X."""
    words = {
        "below": _("below {limit}"),
        "near": _("near {limit}"),
        "above": _("above {limit}"),
    }
    return words[word].format(limit=limit_words(limit))


def duty(found: Duty) -> str:
    """What a body asks for, from which figure on."""
    from_value = {
        "solution": _("from {value:g} % in the fluid"),
        "air": _("from {value:g} {unit} over {span}"),
        "peak": _("from {value:g} {unit} at any moment"),
    }[found.trigger].format(value=found.value, unit=found.unit, span=span_words(found.minutes or 0.0))
    return _("{body}, {from_value}: {words} ({source}; {known}).").format(
        body=_(found.body_name),
        from_value=from_value,
        words=_(found.words),
        source=found.source,
        known=_(found.known),
    )


def line(answer: Air) -> str:
    """One sentence for the plan: the worst quarter of an hour at the face, against whom, and what helps most."""
    worst = answer.of("near", SHORT_TERM_MIN)
    roles = {role: a for a in worst.against for role in a.roles}
    chosen = roles.get("chosen") or roles.get("strictest_law") or roles.get("strictest")
    strictest = roles.get("strictest")
    vapour = {"formaldehyde": _("formaldehyde"), "ethanol": _("alcohol vapour")}[answer.substance]
    place = answer.place_words
    if answer.questions:
        place += " " + _("(its air not stated, so taken at its worst)")
    text = _("Air at the face, worst 15 min {place}: about {band} of {vapour}").format(
        place=place, band=band(worst.ppm), vapour=vapour
    )
    if chosen is not None:
        text += ", " + against(chosen.word, chosen.limit)
    if strictest is not None and strictest is not chosen:
        text += "; " + against(strictest.word, strictest.limit)
    text += "."
    if answer.helps and (worst.against and any(a.word != "below" for a in worst.against)):
        best = answer.helps[0]
        text += " " + _("What helps most: {words} ({times} times less).").format(
            words=best.words, times=figure(best.times_less)
        )
    return text


# What helps


def help_lid() -> str:
    """Lids."""
    return _("lids on trays and bowl except while hands are in them")


def help_distance(arm_m: float) -> str:
    """Distance."""
    return _("work at arm's length, {arm:g} m from face to tray").format(arm=arm_m)


def help_outside() -> str:
    """Out of the shelter."""
    return _("move the table into the open, in shade, the breeze over one shoulder")


def help_hour(cooler_c: float, known: bool, at: datetime.datetime | None = None) -> str:
    """Another hour."""
    if at is not None:
        return _("work in the coolest hour, about {clock}, {t:.0f} degrees C").format(clock=f"{at:%H:%M}", t=cooler_c)
    if known:
        return _("work in the coolest hour, {t:.0f} degrees C").format(t=cooler_c)
    return _("work in a cooler hour, {t:.0f} degrees C").format(t=cooler_c)


def help_order() -> str:
    """Another order of steps."""
    return _("fill, pose and cover one tray before opening the next")


def help_together() -> str:
    """Everything at once."""
    return _("all of these together")


# What is taken, asked and warned of


def assumed(rules: Shelters, key: str) -> str:
    """An assumption in words."""
    words = _(rules.assumptions[key].words)
    return f"{words[:1].upper()}{words[1:]}."


def only_exposure() -> str:
    """What an 8 h average stands on."""
    return _("Over 8 h this table is taken as all that its people breathe of it that day.")


def no_limit(body_name: str, minutes: float) -> str:
    """The chosen body has no row for this time."""
    return _("No limit of {body} over {span} is held; the strictest law stands in its place.").format(
        body=_(body_name), span=span_words(minutes)
    )


def temperature_taken(given_c: float, taken_c: float) -> str:
    """The models end before this temperature."""
    return _("{given:g} degrees C lies beyond what the vapour models cover: {taken:g} is taken.").format(
        given=given_c, taken=taken_c
    )


def place_assumptions(place: Place, rules: Shelters) -> tuple[str, ...]:
    """What is taken of the place because nobody said."""
    told = []
    shelter = place.shelter
    if place.air_speed_m_s is None:
        low, high = shelter.air_speed_m_s
        told.append(
            _("Air speed not stated: {low:g} to {high:g} m/s is taken, the worst case for this place first.").format(
                low=low, high=high
            )
            if high > low
            else _("Air speed not stated: {low:g} m/s is taken, the worst case for this place.").format(low=low)
        )
    else:
        told.append(assumed(rules, "speed_factor"))
    if shelter.air_changes_per_h is not None and place.air_changes_per_h is None and place.opening_m2 is None:
        told.append(
            _("Air changes not stated: {low:g} to {high:g} an hour in {volume:g} m3 is taken ({source}).").format(
                low=shelter.air_changes_per_h[0],
                high=shelter.air_changes_per_h[1],
                volume=place.room_m3,
                source=_(shelter.source),
            )
        )
    elif shelter.section_m2 is not None and place.air_changes_per_h is None and place.opening_m2 is None:
        told.append(_("Of the place: {source}.").format(source=_(shelter.source)))
    if place.opening_m2 is not None and shelter.opening_share is None:
        told.append(_("The size of the opening is not used: it makes no difference in such a place."))
    return tuple(told)


def table_assumptions(table: Table, place: Place, rules: Shelters) -> tuple[str, ...]:
    """What is taken of the table because nobody said."""
    told = [assumed(rules, "face_m"), assumed(rules, "bowl_m2"), assumed(rules, "wipes_m2")]
    if table.minutes.get("clean") == rules.number("clean_min"):
        told.append(assumed(rules, "clean_min"))
    if table.lids:
        told += [assumed(rules, "lid_share_fill"), assumed(rules, "lid_share_bowl")]
    else:
        told.append(_("Worst case taken: every tray stands open from its first animal until it is covered."))
    told.append(_("While pricking, the fixative is shut and gives off nothing.") if table.order != "by_animal" else "")
    told.append(_("A wet sheet is taken to give off as much as open fluid; one that dries gives off less."))
    return (*place_assumptions(place, rules), *(words for words in told if words))


def questions(place: Place) -> tuple[str, ...]:
    """What would make the answer firmer."""
    known = (place.air_changes_per_h, place.opening_m2)
    needed = place.shelter.question and all(value is None for value in known)
    if place.shelter.section_m2 is not None:
        needed = bool(place.shelter.question) and place.air_speed_m_s is None
    return (_(place.shelter.question),) if needed else ()


def smell() -> str:
    """Why the nose is no instrument."""
    rows = [row for row in load("formaldehyde-smell-and-sting").rows if row["what"] == "smell"]
    low, high = min(row["low_ppm"] for row in rows), max(row["high_ppm"] for row in rows)
    return _(
        "Smell is no alarm: it begins anywhere from {low:g} to {high:g} ppm, and the nose tires. These figures are"
        " estimates within a factor of two or more; a measured sample of air beats them."
    ).format(low=low, high=high)


def warnings_of_place(substance: str, shelter: Shelter) -> tuple[str, ...]:
    """Places in which nobody works with open fluid."""
    if not shelter.do_not_work:
        return ()
    fluid = {"formaldehyde": _("formalin"), "ethanol": _("alcohol")}[substance]
    return (_("Do not work with open {fluid} {place}.").format(fluid=fluid, place=_(shelter.words)),)


def warnings_of_danger(held: Limits, substance: str, peak: Band) -> tuple[str, ...]:
    """Whether the face may meet what somebody calls dangerous at once."""
    return tuple(
        _("At the face it may reach {value:g} ppm, which {body} calls {words} ({known}): do not begin so.").format(
            value=duty.value, body=_(duty.body_name), words=_(duty.words), known=_(duty.known)
        )
        for duty in held.duties
        if duty.trigger == "peak" and duty.substance == substance and duty.unit == "ppm" and peak.high >= duty.value
    )


def warnings_of_level(substance: str, worst: Band) -> tuple[str, ...]:
    """What such a level does to people."""
    if substance != "formaldehyde":
        return ()
    felt = [
        row
        for row in load("formaldehyde-smell-and-sting").rows
        if row["what"] != "smell" and row["low_ppm"] <= worst.value
    ]
    if not felt:
        return ()
    row = max(felt, key=lambda row: float(row["low_ppm"]))
    return (
        _("At such a level people report: {what} (from {low:g} to {high:g} ppm).").format(
            what=_(row["what"]), low=row["low_ppm"], high=row["high_ppm"]
        ),
    )


def warnings(substance: str, temperature_c: float) -> tuple[str, ...]:
    """What goes with every answer."""
    if substance != "formaldehyde":
        return (_("These figures are estimates within a factor of two or more; a measured sample of air beats them."),)
    told = [smell()]
    if temperature_c >= 30.0:
        told.append(_("Ten degrees of warmth about double the vapour over formalin."))
    return tuple(told)


def flash_warnings(flash: dict[str, Any], temperature_c: float) -> tuple[str, ...]:
    """How near the alcohol is to catching fire."""
    told = []
    point = flash["flash_point_c"]
    if point is not None:
        text = _("Flash point about {value:.0f} degrees C ({low:.0f} to {high:.0f}, sources differ)").format(**point)
        if temperature_c >= point["low"]:
            text += _(": at {t:.0f} degrees C its vapour can be lit").format(t=temperature_c)
        told.append(text + ".")
    share, limit = flash["share_of_lower_limit"], flash["lower_flammable_limit_percent"]
    richness = (
        _("{times} times the lower flammable limit of {limit:g} %").format(times=figure(share), limit=limit)
        if share >= 1
        else _("{share:.0%} of the lower flammable limit of {limit:g} %").format(share=share, limit=limit)
    )
    told.append(
        _("Right over the fluid the vapour is {richness}: no flame, spark or running engine near.").format(
            richness=richness
        )
    )
    return tuple(told)


# Spills


def time_away(minutes: float) -> str:
    """A time that nobody has to work out: minutes up to an hour and a half, then hours to the next half."""
    if minutes <= 90:
        return _("{minutes:.0f} min").format(minutes=minutes)
    return _("{h:g} h").format(h=math.ceil(minutes / 30.0) / 2.0)


def away(found: Away) -> str:
    """How long and how far, for one limit."""
    limit = limit_words(found.limit)
    near = found.distance_m is not None
    if found.minutes_high is None:
        far = _("the air may stay above {limit} for more than twelve hours").format(limit=limit)
    elif found.minutes_high == 0:
        far = _("further off it stays below {limit}") if near else _("away from the puddle the air stays below {limit}")
        far = far.format(limit=limit)
    elif found.minutes == found.minutes_high:
        far = _("stay away {time} ({limit})").format(time=time_away(found.minutes_high), limit=limit)
    else:
        middle = _("more than twelve hours") if found.minutes is None else time_away(found.minutes)
        far = _("stay away {time} (middle estimate {middle}; {limit})").format(
            time=time_away(found.minutes_high), middle=middle, limit=limit
        )
    if found.distance_m is None:
        return far
    wet = _("while it is wet, stay upwind or at least {d} m from its edge").format(d=figure(found.distance_m))
    return f"{wet}; {far}"


def spill_line(
    fluid: str, place: str, volume_ml: float, area_m2: float, taken_up_min: float | None, found: tuple[Away, ...]
) -> str:
    """One sentence for the plan."""
    name = {"formalin": _("formalin"), "alcohol": _("alcohol")}[fluid]
    if taken_up_min is None:
        text = _("{volume:g} mL of {fluid} spilt {place}, a puddle of {area} m2 that nobody takes up")
    else:
        text = _("{volume:g} mL of {fluid} spilt {place}, a puddle of {area} m2 taken up after {minutes:g} min")
    text = text.format(volume=volume_ml, fluid=name, place=place, area=figure(area_m2), minutes=taken_up_min or 0.0)
    roles = {role: one for one in found for role in one.roles}
    first = roles.get("chosen") or roles.get("strictest_law") or roles.get("strictest")
    return f"{text}: {away(first)}." if first is not None else f"{text}."
