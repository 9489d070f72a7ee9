"""Where the table stands and what is known of its air; figures that are refused before a model sees them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from keepfast.findings import Finding, FindingsError
from keepfast.rules.shelters import Pair, Shelter, Shelters
from keepfast.science.ranges import within
from keepfast.words import _


@dataclass(frozen=True)
class Place:
    """Where the table stands and what is known of its air; ``None`` is what nobody said."""

    shelter: Shelter
    air_speed_m_s: float | None = None
    volume_m3: float | None = None
    air_changes_per_h: float | None = None
    opening_m2: float | None = None

    def speeds(self, guess_factor: float) -> Pair:
        """The air speed as a pair from the worst case up."""
        if self.air_speed_m_s is None:
            return self.shelter.air_speed_m_s
        # A camp may say that nothing stirs, or tell of a storm: the models begin and end a little inside of that.
        stated = min(max(self.air_speed_m_s, 0.02), 13.0)
        return (stated / guess_factor, stated * guess_factor)

    @property
    def changes(self) -> Pair | None:
        """Air changes that somebody stated."""
        return None if self.air_changes_per_h is None else (self.air_changes_per_h, self.air_changes_per_h)

    @property
    def room_m3(self) -> float:
        """Volume stated, or the shelter's usual one."""
        return self.shelter.volume_m3 if self.volume_m3 is None else self.volume_m3


def place_of(
    shelters: Shelters,
    shelter: str,
    air_speed_m_s: float | None = None,
    volume_m3: float | None = None,
    air_changes_per_h: float | None = None,
    opening_m2: float | None = None,
) -> Place:
    """The place, checked.

    Raises
    ------
    FindingsError
        If the shelter has no entry in the rules, or a figure lies outside what the models can take; all at once.
    """
    found = []
    if shelter not in shelters.shelters:
        found.append(
            Finding(
                _("this place is not among the rules"),
                _("Known: {places}.").format(places=", ".join(shelters.shelters)),
                field="shelter",
                read=shelter,
            )
        )
    for name, value, low, high, unit in (
        ("air_speed_m_s", air_speed_m_s, 0.0, 30.0, "m/s"),
        ("volume_m3", volume_m3, 3.0, 100_000.0, "m3"),
        ("air_changes_per_h", air_changes_per_h, 0.01, 600.0, _("an hour")),
        ("opening_m2", opening_m2, 0.01, 100.0, "m2"),
    ):
        if value is not None and not low <= value <= high:
            found.append(
                Finding(
                    _("this must be from {low:g} to {high:g} {unit}").format(low=low, high=high, unit=unit),
                    _("Leave it out to have the worst case taken."),
                    field=name,
                    read=f"{value:g}",
                )
            )
    if found:
        raise FindingsError(found)
    return Place(shelters.shelters[shelter], air_speed_m_s, volume_m3, air_changes_per_h, opening_m2)


def taken_temperature(temperature_c: float, lowest_c: float, highest_c: float) -> float:
    """The temperature, or the end of what the vapour models cover; ValueError for one that no camp has."""
    within("temperature_c", temperature_c, -30.0, 60.0, "degrees C", "perhaps in Fahrenheit")
    return float(np.clip(temperature_c, lowest_c, highest_c))


def finite(**figures: float | None) -> None:
    """Refuse figures that are no numbers; a model would pass them on in silence."""
    for name, figure in figures.items():
        if figure is not None and not math.isfinite(figure):
            raise ValueError(f"{name} must be a finite number; {figure} was given")
