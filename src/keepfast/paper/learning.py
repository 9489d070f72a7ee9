"""The learner's side of a card: why this animal gets what it gets, and what goes wrong, with pictures."""

from __future__ import annotations

from collections.abc import Iterable

from keepfast.paper import faults as pictures
from keepfast.paper import shapes
from keepfast.paper.flow import Flow
from keepfast.paper.wording import full_stop
from keepfast.plan.objects import AnimalPlan, EveningPlan
from keepfast.rules import faults as rules
from keepfast.words import _

_IN_A_ROW = 3


def reasons(plan: EveningPlan, animal: AnimalPlan) -> list[tuple[str, str]]:
    """Why it is done so, from this animal's own numbers: (question, answer)."""
    answers: list[tuple[str, str]] = []
    if not animal.fit_for_fluid:
        return [(_("Why not into fluid?"), animal.fitness_reason)]
    if animal.urgency_reason:
        answers.append((_("Why this turn?"), full_stop(animal.urgency_reason)))
    if animal.injections and animal.per_gram_ml is not None:
        words = [_("It comes to {amount} mL for each gram").format(amount=f"{animal.per_gram_ml:.2g}")]
        if animal.per_cm_ml is not None:
            words[0] += _(" and {amount} mL for each centimetre of trunk").format(amount=f"{animal.per_cm_ml:.2g}")
        words[0] += "."
        if animal.retained_ml is not None and animal.retained_ml.source:
            words.append(_("What stays inside is {source}.").format(source=animal.retained_ml.source))
        words.append(_("The order of the rings is the order of decay: begin with ring 1."))
        answers.append((_("Why this much?"), " ".join(words)))
    if animal.supply_ratio is not None:
        ratio = animal.supply_ratio
        answers.append(
            (
                _("Is there enough formaldehyde?"),
                _(
                    "Filling, sheets and tray bring {ratio:.1f} times ({low:.1f} to {high:.1f}) what this body can"
                    " bind. The bath of the coming weeks brings the rest."
                ).format(ratio=ratio.value, low=ratio.low, high=ratio.high)
                if ratio.low < 1
                else _(
                    "Filling, sheets and tray bring {ratio:.1f} times ({low:.1f} to {high:.1f}) what this body can"
                    " bind."
                ).format(ratio=ratio.value, low=ratio.low, high=ratio.high),
            )
        )
    race = animal.extra.get("race")
    if isinstance(race, dict) and race.get("regions"):
        parts = "; ".join(f"{_(r['name'])}: {_(r['says'])}" for r in race["regions"])
        answers.append(
            (
                _("Where does decay threaten?"),
                _("From the part most at risk to the one least at risk: {parts}. {doubt}").format(
                    parts=parts, doubt=" ".join(str(d) for d in race.get("doubts", ()))
                ),
            )
        )
    answers.append((_("Why this pose?"), full_stop(animal.pose.reason)))
    answers.append((_("Why so long in the tray?"), full_stop(animal.tray_reason)))
    return [(question, answer) for question, answer in answers if answer]


def disagreements(plan: EveningPlan, animal: AnimalPlan) -> list[tuple[str, str]]:
    """What other sources say for this form: (what, who)."""
    if not animal.fit_for_fluid:
        return []
    forms = plan.protocol.get("forms")
    form = forms.get(animal.animal.form) if isinstance(forms, dict) else None
    others = form.get("other_sources", ()) if isinstance(form, dict) else ()
    return [(_(str(o["text"])), f"{o['source']}; {_(str(o['known']))}") for o in others]


def faults_for(animal: AnimalPlan) -> list[rules.Fault]:
    """The faults that this animal can suffer."""
    has = {
        "": True,
        "injections": bool(animal.injections),
        "pricks": bool(animal.pricks),
        "limbs": shapes.has_limbs(animal.body.form),
        "tail": animal.body.tail_mm > 0.2 * animal.body.length_mm,
    }
    if not animal.fit_for_fluid:
        return []
    return [f for f in rules.load() if has[f.needs] and (not f.forms or animal.animal.form in f.forms)]


def sources(animal: AnimalPlan) -> list[str]:
    """Where the steps come from, each once."""
    return list(dict.fromkeys(step.source for step in animal.steps if step.source))


def write(flow: Flow, plan: EveningPlan, animal: AnimalPlan) -> None:
    """Set the learner's side."""
    name = animal.animal.field_number
    flow.columns(1)
    flow.heading(_("{name}: why").format(name=name), size_pt=13)
    blocks = reasons(plan, animal)
    blocks += [(_("Others say."), f"{what} ({who})") for what, who in disagreements(plan, animal)]
    blocks.append((_("Where the steps come from."), full_stop("; ".join(sources(animal)))))
    flow.balanced(2, blocks, size_pt=9.0)
    found = faults_for(animal)
    if found:
        flow.heading(_("{name}: what goes wrong").format(name=name), size_pt=13, keep_mm=pictures.HIGH_MM + 20)
        for start in range(0, len(found), _IN_A_ROW):
            _faults_row(flow, animal, found[start : start + _IN_A_ROW])


def _faults_row(flow: Flow, animal: AnimalPlan, row: list[rules.Fault]) -> None:
    """Pictures side by side, each with its words below."""
    gap = 5.0
    room = (flow.room_mm - gap * (_IN_A_ROW - 1)) / _IN_A_ROW
    words = [(f"{_(f.seen)} {_(f.why)}", f"{_(f.name)}.", _(f.instead)) for f in row]
    down = 3.75
    high = max(
        len(flow.page.broken(room, seen, size_pt=9.0, lead=name))
        + len(flow.page.broken(room, way, size_pt=9.0, lead=_("Instead.")))
        for seen, name, way in words
    )
    flow.need(pictures.HIGH_MM + high * down + 3.0)
    for i, (fault, (seen, name, way)) in enumerate(zip(row, words, strict=True)):
        x = flow.x + i * (room + gap)
        picture = pictures.draw(fault.drawing, animal.body, animal.animal.field_number)
        if picture is not None:
            flow.page.place(picture, x, flow.y)
        y = flow.page.paragraph(
            x, flow.y + pictures.HIGH_MM + 0.6, room, seen, size_pt=9.0, lead=name, leading_mm=down, field=_("faults")
        )
        flow.page.paragraph(x, y, room, way, size_pt=9.0, lead=_("Instead."), leading_mm=down, field=_("faults"))
    flow.y += pictures.HIGH_MM + high * down + 3.0


def lines(plan: EveningPlan, animal: AnimalPlan) -> Iterable[str]:
    """The learner's side in plain words."""
    yield _("Why")
    for question, answer in reasons(plan, animal):
        yield f"  {question} {answer}"
    for what, who in disagreements(plan, animal):
        yield f"  {_('Others say.')} {what} ({who})"
    yield f"  {_('Where the steps come from.')} {full_stop('; '.join(sources(animal)))}"
    found = faults_for(animal)
    if found:
        yield ""
        yield _("What goes wrong")
        for fault in found:
            yield f"  {_(fault.name)}. {_(fault.seen)} {_(fault.why)} {_('Instead.')} {_(fault.instead)}"
    yield ""
