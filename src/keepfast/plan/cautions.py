"""Which cautions tonight calls up: at each step of each animal, and for the table as a whole.

The words are data (``rules.cautions``); here stands only what is the case tonight. Start with `Warner` and `tonight`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from keepfast.plan.objects import ROUNDS, AnimalPlan, Caution
from keepfast.rules import cautions as rules
from keepfast.rules.cautions import Cautions
from keepfast.words import _

HOT_C = 30.0  # an assumption: from here on a table is called hot
BEFORE, AFTERWARDS = "before", ""

# What a step that is not a round's own brings to the table: tissue goes into strong alcohol.
_FLUIDS_OF_STEPS = {"tissue": ("alcohol",)}
# What may happen or remains to be done, whatever the animals are.
_OF_THE_TABLE = ("first_aid", "spill", "waste", "clean")
# A camp's bare tent may have one flap open, or two.
_PLACES = {"tent": ("tent", "tent_two_flaps", "tent_one_flap")}


@dataclass(frozen=True)
class Day:
    """What holds for everybody tonight: the place and the warmth."""

    shelter: str
    temperature_c: float

    @property
    def places(self) -> tuple[str, ...]:
        """Words that a caution may use for this place."""
        return _PLACES.get(self.shelter, (self.shelter,))

    @property
    def conditions(self) -> tuple[str, ...]:
        """Words that a caution may use for this day."""
        return ("hot",) if self.temperature_c >= HOT_C else ()


def conditions_of(facts: Mapping[str, Any]) -> tuple[str, ...]:
    """Words that a caution may use for this animal: its condition, and venomous, as the protocol has it."""
    noted = (str(facts["condition"]),) if facts["condition"] else ()
    return (*noted, "venomous") if facts["venomous"] else noted


class Warner:
    """Which cautions a step calls up; asked once for each kind of step, however many animals there are."""

    def __init__(self, cautions: Cautions, day: Day) -> None:
        self._cautions = cautions
        self._day = day
        self._known: dict[tuple[Any, ...], tuple[str, ...]] = {}

    def called_up(
        self, round_name: str, step: str, form: str, in_fluid: bool, conditions: tuple[str, ...]
    ) -> tuple[str, ...]:
        """Keys of the cautions, in their file's order."""
        asked = (round_name, step, form, in_fluid, conditions)
        if asked not in self._known:
            found = rules.called_up(
                self._cautions,
                round=round_name,
                step=step,
                form=form,
                fluid=(*(("formalin",) if in_fluid else ()), *_FLUIDS_OF_STEPS.get(step, ())),
                place=self._day.places,
                condition=(*conditions, *self._day.conditions),
            )
            self._known[asked] = tuple(caution.key for caution in found)
        return self._known[asked]


def tonight(
    cautions: Cautions, plans: Iterable[AnimalPlan], kinds: Iterable[tuple[str, tuple[str, ...]]], day: Day
) -> tuple[Caution, ...]:
    """
    The cautions of the whole table, in their file's order: all that a step calls up, and what may happen.

    Parameters
    ----------
    cautions : Cautions
        The rules.
    plans : iterable of AnimalPlan
        All animals, those that wait or do not go into fluid too.
    kinds : iterable of (form, conditions)
        What the animals are, as `conditions_of` has it.
    day : Day

    Returns
    -------
    tuple of Caution
        Each with the round in which its hazard first arises; empty for what comes afterwards or when something happens.
    """
    first: dict[str, str] = {}
    in_fluid = False
    for plan in plans:
        in_fluid = in_fluid or plan.fit_for_fluid
        for step in plan.steps:
            for key in step.cautions:
                if key not in first or ROUNDS.index(step.round) < ROUNDS.index(first[key]):
                    first[key] = step.round
    fluids = ("formalin", "alcohol") if in_fluid else ("alcohol",)
    for form, conditions in dict.fromkeys(kinds):
        for caution in rules.called_up(
            cautions,
            step=_OF_THE_TABLE,
            form=form,
            fluid=fluids,
            place=day.places,
            condition=(*conditions, *day.conditions),
        ):
            first.setdefault(caution.key, AFTERWARDS if caution.steps else BEFORE)
    return tuple(
        Caution(c.key, _(c.text), _(c.reason), c.source, c.called_up_by, c.known, first[c.key])
        for c in cautions
        if c.key in first
    )


def by_round(cautions: Sequence[Caution]) -> list[tuple[str, list[Caution]]]:
    """Cautions under the round in which their hazard first arises, in the order of the rounds; the rest at the end."""
    groups = [(name, [c for c in cautions if c.round == name]) for name in (*ROUNDS, AFTERWARDS)]
    return [(name, found) for name, found in groups if found]
