"""Sentences that several papers share: who it is, where it lies, when its turn is, what to do to it."""

from __future__ import annotations

from keepfast import __version__
from keepfast.paper import figures
from keepfast.paper import type as type_
from keepfast.plan.objects import AnimalPlan, Caution, EveningPlan
from keepfast.terms import FORMS
from keepfast.words import _

_FORMS = {
    "lizard": "lizard",
    "legless_lizard": "legless lizard",
    "snake": "snake",
    "amphisbaenian": "worm lizard",
    "turtle": "turtle",
    "crocodilian": "crocodilian",
    "frog": "frog or toad",
    "salamander": "salamander or newt",
    "caecilian": "caecilian",
    "larva": "larva",
    "egg_clutch": "eggs",
}
_SITES = {
    "forelimb": "fore limb",
    "hindlimb": "hind limb",
    "trunk muscle": "trunk muscle",
    "hindgut": "hind gut",
}
_SIDES = {
    "left": "left",
    "right": "right",
    "both": "both sides",
    "middle": "",
    "below": "from below",
    "alternate": "sides in turn",
}
_ROUNDS = {
    "before": "Before: no fixative near",
    "prick": "Prick: the fixative stays shut",
    "fill": "Fill: eye protection on",
    "pose": "Pose: for good",
    "cover": "Cover",
}
_OF_THE_DAY = {"hot"}  # conditions that are everybody's, not one animal's
_CONDITIONS = {"alive": "still alive", "rigor": "in rigor", "iced": "on ice"}


def form_words(form: str) -> str:
    """A form in words."""
    return _(_FORMS.get(form, form.replace("_", " ")))


def site_words(site: str) -> str:
    """A site or region in words."""
    return _(_SITES.get(site, site))


def side_words(side: str) -> str:
    """A side in words; empty for the middle."""
    return _(_SIDES.get(side, side))


def round_words(name: str) -> str:
    """The heading of a round."""
    return _(_ROUNDS.get(name, name))


def all_numbers(plan: EveningPlan) -> tuple[str, ...]:
    """Field numbers in the order of the work: tonight, waiting, not for fluid, each once."""
    table = plan.table
    rest = [a.animal.field_number for a in plan.animals]
    return tuple(dict.fromkeys((*table.order, *table.waiting, *table.not_for_fluid, *rest)))


def body_words(animal: AnimalPlan) -> str:
    """Form, sex, stage, state."""
    seen = animal.animal
    parts = [form_words(seen.form)]
    if seen.count > 1:
        parts.append(_("{n} of them").format(n=seen.count))
    if seen.sex != "unknown":
        parts.append(_(seen.sex))
    if seen.stage and seen.stage not in (seen.form, "egg", "larva"):
        parts.append(_(seen.stage))
    if seen.reproductive_state != "none":
        parts.append(_("with {state}").format(state=_(seen.reproductive_state)))
    if seen.condition != "fresh":
        parts.append(_(_CONDITIONS.get(seen.condition, seen.condition)))
    return ", ".join(parts)


def camp_place(plan: EveningPlan) -> str:
    """Where the camp is, as the camp file says it: its name, its coordinates, or both."""
    place = plan.camp.get("place")
    if not isinstance(place, dict):
        return ""
    parts = [str(place.get("name") or "")]
    if place.get("latitude") is not None and place.get("longitude") is not None:
        parts.append(f"{place['latitude']:g}, {place['longitude']:g}".replace("-", "\u2212").replace(" ", figures.NBSP))
    return ", ".join(part for part in parts if part)


def camp_words(plan: EveningPlan) -> str:
    """Where, and under which approval: what the paper alone must still say after forty years."""
    approved = str(plan.camp.get("approved_protocol") or "")
    parts = [camp_place(plan)]
    if approved:
        parts.append(_("approved protocol {number}").format(number=approved))
    words = "; ".join(part for part in parts if part)
    return f"{words}." if words else ""


def seen_words(plan: EveningPlan, animal: AnimalPlan) -> str:
    """The evening and its place, when it died, how warm it has lain, and what its finder wrote."""
    seen = animal.animal
    day = f"{plan.table.start:%d %b %Y}".replace(" ", figures.NBSP)
    parts = [f"{', '.join(part for part in (day, camp_place(plan)) if part)}."]
    if seen.died_at is not None:
        parts.append(_("Died {when}.").format(when=figures.day_and_clock(seen.died_at)))
    if seen.kept_at_c is not None:
        parts.append(_("Kept at {t} °C.").format(t=f"{seen.kept_at_c:g}").replace(" °C", f"{figures.NBSP}°C"))
    if seen.remarks.strip():
        remark = remark_words(seen.remarks)
        parts.append(remark if remark.endswith((".", "?", "!")) else f"{remark}.")
    return " ".join(parts)


def remark_words(remarks: str) -> str:
    """A remark as it was written, with no capital, which could make pH something else; the signs of sex in words."""
    words = remarks.replace("\u2640", f" {_('female')} ").replace("\u2642", f" {_('male')} ")
    return " ".join(words.split())


def mass_words(animal: AnimalPlan) -> str:
    """Mass; one that was not weighed says so and has its doubt."""
    mass = animal.mass_g
    if mass.measured:
        return figures.grams(mass.value)
    return _("about {mass}, not weighed").format(mass=figures.grams_doubt(mass.value, mass.low, mass.high))


def length_words(animal: AnimalPlan) -> str:
    """Lengths as measured."""
    seen = animal.animal
    kinds = {"total": _("in all"), "carapace_straight": _("shell"), "egg_diameter": _("across")}
    words = []
    if seen.length_mm is not None:
        words.append(f"{figures.mm(seen.length_mm)} {kinds.get(seen.length_kind, _('snout to vent'))}")
    else:
        words.append(_("length not measured"))
    if seen.tail_mm:
        state = {"broken": _("broken tail"), "regrown": _("regrown tail")}.get(seen.tail_state, _("tail"))
        words.append(f"{figures.mm(seen.tail_mm)} {state}")
    return ", ".join(words)


def turn_words(plan: EveningPlan, animal: AnimalPlan) -> str:
    """Whose turn it is."""
    name = animal.animal.field_number
    if not animal.fit_for_fluid:
        return _("not for fluid")
    if animal.waits:
        return _("waits")
    order = plan.table.order
    return _("{n} of {count}").format(n=order.index(name) + 1, count=len(order)) if name in order else _("waits")


def place_words(animal: AnimalPlan) -> str:
    """Tray and place."""
    if animal.place is None:
        return _("no tray")
    return _("tray {t}, place {p}").format(t=animal.place.tray, p=animal.place.place).replace(" ", figures.NBSP)


def fill_words(animal: AnimalPlan) -> str:
    """How much goes in, where, and what stays."""
    if not animal.injections:
        return _("No filling.") if not animal.pricks else _("Pricks only, no filling.")
    count = len({i.number for i in animal.injections})
    words = _("Fill {amount} in {n} places.") if count > 1 else _("Fill {amount} in one place.")
    text = words.format(amount=figures.ml_doubt(animal.total_ml, animal.total_low_ml, animal.total_high_ml), n=count)
    if animal.retained_ml is not None:
        kept = animal.retained_ml
        text += " " + _("About {amount} of it stays inside.").format(
            amount=figures.ml_doubt(kept.value, kept.low, kept.high)
        )
    return text


def doing_words(animal: AnimalPlan) -> str:
    """What is to be done, in a line or two."""
    if not animal.fit_for_fluid:
        destiny = {"skeleton": _("prepare it as a skeleton"), "tissue_only": _("take tissue only")}
        what = destiny.get(animal.destiny, animal.destiny)
        return _("Not into fluid: {what}. {why}").format(what=what, why=animal.fitness_reason)
    if animal.waits:
        until = f" {figures.day_and_clock(animal.wait_until)}" if animal.wait_until else ""
        when = _("Waits until{until}: {why}").format(until=until, why=animal.waits) if until else animal.waits
        return f"{full_stop(when)} {fill_words(animal)}"
    return fill_words(animal)


def card_cautions(plan: EveningPlan, animal: AnimalPlan, learner: bool) -> dict[str, tuple[str, ...]]:
    """
    Cautions to print on one card, by the key of their step.

    Those that hold for every animal stand on the table's sheet; a card has the ones of its own kind of animal, and for
    a learner those of needle and syringe too, where the hazard arises.
    """
    known = {caution.key: caution for caution in plan.table.cautions}
    answer = {}
    for step in animal.steps:
        found = [known[key] for key in step.cautions if key in known]
        told = [c for c in found if _of_a_kind(c) or (learner and step.round in ("prick", "fill"))]
        if told:
            answer[step.key] = tuple(_(caution.text) for caution in told)
    return answer


def _of_a_kind(caution: Caution) -> bool:
    """Whether a form or a condition of the animal calls it up; one that names most forms holds for everything."""
    for line in caution.called_up_by.split("; "):
        name, _colon, listed = line.partition(": ")
        words = set(listed.split(", ")) - _OF_THE_DAY
        if (name == "forms" and len(words) <= len(FORMS) / 2) or (name == "conditions" and words):
            return True
    return False


def full_stop(words: str) -> str:
    """A sentence: a capital first and a stop last; a file's name at its beginning keeps its own spelling."""
    named = "." in words.split(" ", 1)[0].rstrip(".:,;")
    text = words if named else words[:1].upper() + words[1:]
    return text if not text or text.endswith((".", "?", "!", ":")) else f"{text}."


def protocol_words(plan: EveningPlan) -> str:
    """Which protocol and date the plan stands on."""
    return _("Protocol {name} of {date}. Ranges are 5 to 95 %.").format(
        name=plan.protocol.get("name", ""), date=plan.protocol.get("date", "")
    )


def _written(name: str) -> str:
    """A file's name with a question mark for what the typeface lacks: its hash tells which file it is."""
    absent = set(type_.missing(name, "regular"))
    return "".join("?" if c in absent else c for c in type_.spelled(name))


def origin_words(plan: EveningPlan) -> str:
    """Version, inputs, seed and protocol, for the foot of every page."""
    origin = plan.origin
    inputs = ", ".join(f"{_written(i['name'])} {str(i['sha256'])[:12]}" for i in origin.get("inputs", ()))
    protocol = plan.protocol
    name = str(protocol.get("title") or protocol.get("name") or "")
    date = str(protocol.get("date") or "")
    parts = [f"Keepfast {origin.get('keepfast', __version__)}"]
    if inputs:
        parts.append(inputs)
    if name or date:
        parts.append(_("protocol {name} {date}").format(name=name, date=date).strip())
    if "seed" in origin:
        parts.append(_("seed {seed}").format(seed=origin["seed"]))
    return "; ".join(parts)
