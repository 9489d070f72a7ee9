"""``cautions``: short warnings, all of them or those that a circumstance calls up, and the disinfectants."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.saying import fail, show, show_json, wrapped
from keepfast.findings import Finding
from keepfast.terms import FORMS
from keepfast.words import _

if TYPE_CHECKING:
    from keepfast.rules.cautions import Caution


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("cautions", help=_("List cautions, all of them or those that a circumstance calls up."))(listed)


def listed(
    round_: list[str] = typer.Option([], "--round", help=_("before, prick, fill, pose or cover.")),
    step: list[str] = typer.Option([], "--step", help=_("A step, such as mix, spill, first_aid, disinfect, waste.")),
    form: list[str] = typer.Option([], "--form", help=_("A body form, such as snake.")),
    fluid: list[str] = typer.Option([], "--fluid", help=_("formalin, alcohol or bleach.")),
    place: list[str] = typer.Option(
        [],
        "--place",
        help=_("A place: open, tarpaulin, tent, tent_one_flap, tent_two_flaps, tent_closed, room or vehicle."),
    ),
    condition: list[str] = typer.Option(
        [], "--condition", help=_("Of the animal or the day: iced, bloated, hot, venomous (taken for any snake).")
    ),
    disinfectants: bool = typer.Option(False, "--disinfectants", help=_("List the disinfectants instead.")),
    file: str = typer.Option("field", "--file", help=_("A file of cautions of your own.")),
    json: bool = typer.Option(False, "--json", help=_("Print one JSON object instead of text.")),
) -> None:
    """List cautions. Without a circumstance: all of them."""
    from keepfast.rules import cautions as rules

    held = rules.load(file)
    found = []
    for option, given, allowed in (
        ("--round", round_, rules.ROUNDS),
        ("--form", form, FORMS),
        ("--fluid", fluid, rules.FLUIDS),
        ("--place", place, rules.PLACES),
        ("--step", step, _words_of(held, "steps")),
        ("--condition", condition, _words_of(held, "conditions")),
    ):
        found += [
            Finding(_("no caution knows this word"), ", ".join(allowed) + ".", field=option, read=word)
            for word in given
            if word not in allowed
        ]
    if found:
        fail(found)
    asked = any((round_, step, form, fluid, place, condition))
    if "snake" in form:
        condition = [*condition, "venomous"]  # which a snake that nobody has named counts as
    called = (
        rules.called_up(held, round=round_, step=step, form=form, fluid=fluid, place=place, condition=condition)
        if asked
        else held.cautions
    )
    if json:
        data: dict[str, Any] = {"rules": held.file.identity}
        if disinfectants:
            data["disinfectants"] = [d.as_dict() for d in held.disinfectants]
        else:
            data["cautions"] = [c.as_dict() for c in called]
        show_json(data)
        return
    if disinfectants:
        for agent in held.disinfectants:
            show(wrapped(_agent(agent)))
            show(wrapped(f"{agent.source} ({agent.known})", "    "))
        return
    if not called:
        show(_("No caution is called up by this alone: add the round, the fluid or the form."))
    for caution in called:
        show(wrapped(_(caution.text)))
        show(wrapped(_(caution.reason), "    "))
        show(wrapped(f"[{caution.called_up_by}] {caution.source} ({caution.known})", "    "))
        show("")


def _words_of(held: Any, line: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(word for caution in held for word in getattr(caution, line)))


def _agent(agent: Any) -> str:
    """One disinfectant: product and dilution are two numbers, and what is not known is said."""
    parts = []
    if agent.dilution_percent_v_v is not None:
        strength = (
            _("{p:g} % strong as bought").format(p=agent.product_strength_percent)
            if agent.product_strength_percent is not None
            else _("strength as bought not given: read the bottle")
        )
        parts.append(_("{d:g} mL of the product in 100 mL ({s})").format(d=agent.dilution_percent_v_v, s=strength))
    if agent.working_mg_ml is not None:
        parts.append(_("{w:g} mg of the agent in 1 mL of what is used").format(w=agent.working_mg_ml))
    if agent.minutes is not None:
        parts.append(
            _("{m:g} min").format(m=agent.minutes)
            if agent.minutes >= 1
            else _("{s:.0f} s").format(s=agent.minutes * 60)
        )
    verdict = _("reported to work") if agent.works else _("not reported to work")
    text = _("{agent} against {germ}: {verdict}").format(agent=agent.agent, germ=agent.against, verdict=verdict)
    return "; ".join([text, *parts, *([_(agent.note)] if agent.note else [])]) + "."


def called_for(steps: tuple[str, ...], fluid: str) -> tuple[Caution, ...]:
    """The cautions of these steps, and those of first aid that name this fluid."""
    from keepfast.rules import cautions as rules

    found = rules.called_up(rules.load(), step=steps, fluid=fluid)
    return tuple(c for c in found if "first_aid" not in c.steps or c.fluids)


def show_first_aid(called: tuple[Caution, ...]) -> None:
    """First aid apart, where it is looked for."""
    aid = [caution for caution in called if "first_aid" in caution.steps]
    if aid:
        show("")
        show(_("If it reaches somebody"))
        for caution in aid:
            show(wrapped(_(caution.text), "  "))
