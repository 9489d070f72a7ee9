"""An average held against limits: like against like, in the words below, near and above."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence

from keepfast.findings import Finding, FindingsError
from keepfast.plan.air_answer import Against, Band, Exposure
from keepfast.plan.air_scene import Scene
from keepfast.rules.limits import Duty, Limit, Limits
from keepfast.words import _


def body_named(held: Limits, substance: str, name: str | None, on: datetime.date | None) -> str | None:
    """The key of the body that is meant, by its key or its name; a finding if no limits of that name are held."""
    if name is None:
        return None
    wanted = name.strip().casefold()
    for key, words in held.bodies.items():
        if wanted in (key.casefold(), words.casefold(), words.casefold().removeprefix("the ")):
            return key
    raise FindingsError(
        [
            Finding(
                _("no limits of this name are held"),
                _("Known: {bodies}.").format(bodies=", ".join(held.bodies_of(substance, on))),
                field="jurisdiction",
                read=name,
            )
        ]
    )


def limit_mg_m3(limit: Limit, mg_m3_per_ppm: float) -> float:
    """A limit in the air of this place: ppm follow its warmth and height, milligrams stay."""
    return limit.value * (mg_m3_per_ppm if limit.unit == "ppm" else 1.0)


def roles_of(
    held: Limits,
    scene: Scene,
    window: float,
    jurisdiction: str | None,
    on: datetime.date | None,
    sector: str = "",
) -> dict[Limit, tuple[str, ...]]:
    """The rows to hold an average against, each once: the chosen one, the strictest law, the strictest of all.

    Where the chosen body has a row for the trade itself, that row binds it and not the one for everybody.
    """
    rows = held.of(scene.substance, window, on=on, sector=sector)
    roles: dict[Limit, list[str]] = {}
    of_body = [row for row in rows if row.body == jurisdiction]
    for role, candidates in (
        ("chosen", [row for row in of_body if row.sector] or of_body),
        ("strictest_law", [row for row in rows if row.binding]),
        ("strictest", list(rows)),
    ):
        if candidates:
            roles.setdefault(min(candidates, key=lambda row: limit_mg_m3(row, scene.ppm_mg_m3)), []).append(role)
    return {row: tuple(names) for row, names in roles.items()}


def held_against(band: Band, scene: Scene, roles: Mapping[Limit, tuple[str, ...]]) -> tuple[Against, ...]:
    """An average, in mg/m3, against each of these rows."""
    found = []
    for row, names in roles.items():
        limit = limit_mg_m3(row, scene.ppm_mg_m3)
        found.append(Against(names, row, limit, band.value / limit, word_for(band, limit)))
    return tuple(found)


def word_for(band: Band, limit_mg_m3: float) -> str:
    """``above`` when the middle value is, ``near`` when the upper end of the band reaches it, ``below`` otherwise."""
    if band.value >= limit_mg_m3:
        return "above"
    return "near" if band.high >= limit_mg_m3 else "below"


def duties_of(held: Limits, scene: Scene, jurisdiction: str | None, exposures: Sequence[Exposure]) -> tuple[Duty, ...]:
    """What the chosen body asks for at this strength, and at the middle figures of the face."""
    near = {e.minutes: e for e in exposures if e.where == "near"}
    asked = []
    for duty in held.duties:
        if duty.body != jurisdiction or duty.substance != scene.substance:
            continue
        if duty.trigger == "solution":
            reached = scene.strength >= duty.value
        elif duty.minutes in near:
            found = near[duty.minutes]
            reached = (found.ppm if duty.unit == "ppm" else found.mg_m3).value >= duty.value
        else:
            reached = False
        if reached:
            asked.append(duty)
    return tuple(asked)
