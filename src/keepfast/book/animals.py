"""An animal as observed: one frozen object, whether it came from a list or from a store."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

LENGTH_KINDS = ("snout_vent", "total", "carapace_straight", "egg_diameter")
TAIL_STATES = ("whole", "broken", "regrown")
SEXES = ("male", "female", "unknown")
STAGES = ("adult", "subadult", "juvenile", "hatchling", "larva", "metamorph", "egg")
REPRODUCTIVE_STATES = ("none", "follicles", "eggs", "embryos")
GUTS = ("empty", "full")
CONDITIONS = ("alive", "fresh", "rigor", "iced", "frozen", "bloated", "damaged", "decaying")

# Length kind that a bare length means, by form.
USUAL_LENGTH_KIND = {"turtle": "carapace_straight", "larva": "total", "egg_clutch": "egg_diameter"}


def usual_length_kind(form: str) -> str:
    """What a length means for this form when nothing else was said."""
    return USUAL_LENGTH_KIND.get(form, "snout_vent")


@dataclass(frozen=True)
class Animal:
    """What was seen and measured. ``None`` means that nobody wrote it down, never zero."""

    field_number: str
    form: str
    taxon: str = ""
    sex: str = "unknown"
    stage: str = ""
    length_mm: float | None = None
    length_kind: str = "snout_vent"
    tail_mm: float | None = None
    tail_state: str = "whole"
    mass_g: float | None = None
    diameter_mm: float | None = None  # trunk at its thickest, callipered
    head_width_mm: float | None = None
    reproductive_state: str = "none"
    gut: str = ""  # "", empty or full
    condition: str = "fresh"
    died_at: datetime.datetime | None = None  # with an offset
    kept_at_c: float | None = None
    count: int = 1
    remarks: str = ""
    group: str | None = None  # group of a published mass relation, where the taxon tells it
    row: int | None = None  # where it stood in a list
