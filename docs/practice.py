"""Print the figures of the table "Practice and model" in docs/why/race.md, so that they can be made again.

Animals dead for one hour at the table's warmth, guts empty, filled when the table starts; a share is that of 200 draws
in which fixative is first in the weakest region.
"""

from __future__ import annotations

import datetime
from dataclasses import replace

from keepfast.book.animals import Animal
from keepfast.plan.camp import Camp
from keepfast.plan.evening import Rules, plan_evening
from keepfast.plan.race import judge
from keepfast.plan.race_verdict import AnimalVerdict

START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=datetime.UTC)
WARMTHS_C = (15.0, 20.0, 30.0)
# Lizards' lengths are those that the relation of all lizards (Meiri 2010) gives for their masses.
ANIMALS = (
    ("lizard 2 g", "lizard", 2.0, 51.0, {}),
    ("lizard 5 g", "lizard", 5.0, 69.0, {}),
    ("lizard 10 g", "lizard", 10.0, 86.0, {}),
    ("lizard 30 g", "lizard", 30.0, 124.0, {}),
    ("lizard 30 g, follicles", "lizard", 30.0, 124.0, {"sex": "female", "reproductive_state": "follicles"}),
    ("lizard 150 g", "lizard", 150.0, 211.0, {}),
    ("lizard 150 g, follicles", "lizard", 150.0, 211.0, {"sex": "female", "reproductive_state": "follicles"}),
    ("lizard 520 g", "lizard", 520.0, 319.0, {}),
    ("slender snake 20 g", "snake", 20.0, 500.0, {}),
    ("stout snake 550 g", "snake", 550.0, 800.0, {}),
    ("frog 4 g", "frog", 4.0, 35.0, {}),
    ("toad 60 g", "frog", 60.0, 80.0, {}),
)


def raced(warm_c: float, filled: bool) -> tuple[AnimalVerdict, ...]:
    """All of them at one warmth, filled as the shipped protocols say or not at all."""
    died = START - datetime.timedelta(hours=1)
    animals = [
        Animal(name, form, length_mm=mm, mass_g=g, gut="empty", died_at=died, kept_at_c=warm_c, **more)
        for name, form, g, mm, more in ANIMALS
    ]
    camp = Camp(temperature_c=warm_c)
    plans = plan_evening(animals, camp, Rules.load(), start=START, size=50).animals
    if not filled:
        plans = tuple(replace(p, injections=(), pricks=()) for p in plans)
    return judge(plans, camp=camp, start=START, delays_h={}, advise=False)


def main() -> None:
    """Print it, one animal a line."""
    for warm in WARMTHS_C:
        for filled, bare in zip(raced(warm, True), raced(warm, False), strict=True):
            weak, lone = filled.weakest, bare.weakest
            half = filled.leave.model_h.median
            print(
                f"{warm:.0f} C  {filled.field_number:<24} filled {weak.wins:.2f} ({weak.name}), none {lone.wins:.2f}"
                f" ({lone.name}); half bound {'never' if half is None else f'{half:.0f} h'}"
                f"{', short of formaldehyde' if filled.leave.supply_short else ''}"
                f"; {'' if filled.between is None else filled.between.says}"
            )


if __name__ == "__main__":
    main()
