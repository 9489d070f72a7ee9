"""Words that every room spells alike: the forms of bodies, and how well a number is known. Nothing else lives here."""

from __future__ import annotations

from typing import Literal, get_args

Form = Literal[
    "lizard",
    "legless_lizard",
    "snake",
    "amphisbaenian",
    "turtle",
    "crocodilian",
    "frog",
    "salamander",
    "caecilian",
    "larva",
    "egg_clutch",
]
FORMS: tuple[str, ...] = get_args(Form)

KNOWN = (
    "read",
    "read (abstract)",
    "read at second hand",
    "computed",
    "from memory, unverified",
    "common practice, no published source",
    "assumption",
)
