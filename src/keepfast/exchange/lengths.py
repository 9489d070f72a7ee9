"""Which length an animal has, out of the several that a list may hold: usual, snout-vent, carapace, total, tail."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from keepfast.book.animals import usual_length_kind
from keepfast.words import _

# A heading that names the one length of a form comes before SVL, which is often set over a whole mixed list.
LENGTH_COLUMNS = {
    "carapace_mm": "carapace_straight",
    "egg_diameter_mm": "egg_diameter",
    "snout_vent_mm": "snout_vent",
    "total_mm": "total",
}
# What can be measured on a form beside its usual length. Of a turtle or a clutch there is one length only.
KINDS_OF_FORM = {"turtle": ("carapace_straight",), "egg_clutch": ("egg_diameter",)}
# Frogs have no tail and caecilians next to none, so that total and snout-vent are one.
TAILLESS = ("frog", "caecilian")
# How far snout-vent, tail and total may miss each other before it is said: three readings of a rule, and rounding.
SUM_TOLERANCE = 0.03


@dataclass(frozen=True)
class Slip:
    """Something wrong or doubtful in one column of a row."""

    column: str
    what: str
    remedy: str
    weight: Literal["error", "doubt"] = "error"


@dataclass
class Lengths:
    """The length to work with, what kind it is, the tail, and what was found on the way."""

    length_mm: float | None
    kind: str
    tail_mm: float | None
    slips: list[Slip] = field(default_factory=list)


def settle(form: str, value: Mapping[str, Any]) -> Lengths:
    """
    One length out of a row's columns.

    Parameters
    ----------
    form : str
        Body form.
    value : mapping
        ``length_mm``, ``length_kind``, ``tail_mm`` and the columns of ``LENGTH_COLUMNS``, in mm, None where empty.

    Returns
    -------
    Lengths
        The usual kind of the form where it is given or follows (snout-vent is total less tail); else what there is.
    """
    usual = usual_length_kind(form)
    answer = Lengths(None, usual, value.get("tail_mm"))
    given = _given(form, usual, value, answer.slips)
    if usual == "snout_vent" and "total" in given:
        if form in TAILLESS:
            given.setdefault("snout_vent", given["total"])
        else:
            _from_total(given, answer)
    for kind in (usual, "snout_vent", "total"):
        if kind in given:
            answer.length_mm, answer.kind = given[kind][0], kind
            break
    return answer


def _given(form: str, usual: str, value: Mapping[str, Any], slips: list[Slip]) -> dict[str, tuple[float, str]]:
    """Each kind of length that a row gives, with the column it stands in."""
    allowed = KINDS_OF_FORM.get(form, (usual, "snout_vent", "total"))
    words = form.replace("_", " ")
    given: dict[str, tuple[float, str]] = {}
    bare = value.get("length_mm")
    if bare is not None:
        kind = value.get("length_kind") or usual
        if kind in allowed:
            given[kind] = (bare, "length_mm")
        else:
            slips.append(
                Slip(
                    "length_kind",
                    _("a {form} has no such length").format(form=words),
                    _("Its length is {kind}; leave the cell empty.").format(kind=usual),
                )
            )
    for name, kind in LENGTH_COLUMNS.items():
        measure = value.get(name)
        if measure is None:
            continue
        if kind not in allowed and name == "snout_vent_mm" and usual not in given:
            # Mixed lists are often headed SVL for every row; a turtle or a clutch has one length that can be meant.
            given[usual] = (measure, name)
            slips.append(
                Slip(
                    name,
                    _("a {form} has no such length; the cell was taken for {kind}").format(form=words, kind=usual),
                    _("Write its length under length_mm."),
                    "doubt",
                )
            )
        elif kind not in allowed:
            slips.append(
                Slip(
                    name,
                    _("a {form} has no such length; the cell was not used").format(form=words),
                    _("Write its length under length_mm."),
                    "doubt",
                )
            )
        elif kind in given and not math.isclose(given[kind][0], measure, rel_tol=1e-6):
            slips.append(Slip(name, _("two columns give different lengths of one kind"), _("Keep the right one.")))
        else:
            given[kind] = (measure, name)
    return given


def _from_total(given: dict[str, tuple[float, str]], answer: Lengths) -> None:
    """Snout-vent from total and tail, or the tail from total and snout-vent; or how far the three disagree."""
    total, name = given["total"]
    trunk = given["snout_vent"][0] if "snout_vent" in given else None
    tail = answer.tail_mm
    known = tail if trunk is None else trunk
    if tail == total or (known is not None and known > total):
        answer.slips.append(
            Slip(
                name,
                _("a part is longer than the total length"),
                _("Look at both cells, and whether they were swapped."),
            )
        )
    elif trunk is None and tail is not None:
        given["snout_vent"] = (round(total - tail, 6), name)
    elif trunk is not None and tail is None:
        answer.tail_mm = round(total - trunk, 6)
    elif trunk is not None and tail is not None:
        if abs(trunk + tail - total) > SUM_TOLERANCE * total:
            answer.slips.append(
                Slip(
                    name,
                    _("snout-vent and tail do not add up to the total length"),
                    _("Snout-vent and tail are used; measure once more."),
                    "doubt",
                )
            )
    else:
        answer.slips.append(
            Slip(
                name,
                _("the total length holds a tail that was not measured"),
                _("Measure the tail; until then a typical one is taken off."),
                "doubt",
            )
        )
