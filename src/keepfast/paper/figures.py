"""How amounts, lengths and times are written on paper: as many figures as a hand can use."""

from __future__ import annotations

import datetime
import math

from keepfast.words import _

NBSP = "\u00a0"


def plain_ml(volume_ml: float) -> str:
    """Millilitres as a syringe is read: hundredths below 1, tenths below 10, whole ones, three figures from 1000 on."""
    if not math.isfinite(volume_ml):
        return _("not known")
    if 0 < volume_ml < 0.095:
        return f"{volume_ml:.2g}" if volume_ml >= 0.005 else f"{volume_ml:.1g}"
    if volume_ml >= 999.5:
        return f"{float(f'{volume_ml:.3g}'):.0f}"
    places = 2 if volume_ml < 0.995 else 1 if volume_ml < 9.95 else 0
    return f"{volume_ml:.{places}f}"


def ml(volume_ml: float) -> str:
    """Millilitres with their unit, never parted at a line's end."""
    return f"{plain_ml(volume_ml)}{NBSP}mL"


def ml_doubt(volume_ml: float, low_ml: float, high_ml: float) -> str:
    """An amount with its doubt: 2.1 mL (1.6 to 2.7)."""
    low, high = plain_ml(low_ml), plain_ml(high_ml)
    if low == high == plain_ml(volume_ml):
        return ml(volume_ml)
    return _("{amount} ({low} to {high})").format(amount=ml(volume_ml), low=low, high=high)


def grams(mass_g: float) -> str:
    """Grams in three figures, kilograms from ten of them on."""
    return f"{_grams_in(mass_g, mass_g)}{NBSP}{_unit_of(mass_g)}" if math.isfinite(mass_g) else _("not known")


def grams_doubt(mass_g: float, low_g: float, high_g: float) -> str:
    """A mass with its doubt, all in one unit: 12.0 kg (9.5 to 15.1)."""
    return _("{mass} ({low} to {high})").format(
        mass=grams(mass_g), low=_grams_in(low_g, mass_g), high=_grams_in(high_g, mass_g)
    )


def _unit_of(mass_g: float) -> str:
    return "kg" if mass_g >= 9995 else "g"


def _grams_in(mass_g: float, like_g: float) -> str:
    """Three figures in the unit that another mass is written in."""
    value = mass_g / 1000 if _unit_of(like_g) == "kg" else mass_g
    places = max(0, 2 - math.floor(math.log10(value))) if value > 0 else 0
    return f"{value:.{min(places, 3)}f}"


def mm(length_mm: float) -> str:
    """Millimetres: tenths below 10, whole ones above."""
    return f"{length_mm:.{1 if length_mm < 9.95 else 0}f}{NBSP}mm"


def hours(value_h: float) -> str:
    """A span: minutes below two hours, hours below two days, days above."""
    if not math.isfinite(value_h):
        return _("not known")
    if value_h < 2:
        return _("{n} min").format(n=round(value_h * 60)).replace(" ", NBSP)
    if value_h < 48:
        return f"{value_h:.{1 if value_h < 9.95 else 0}f}{NBSP}h"
    return _("{n} days").format(n=f"{value_h / 24:.{1 if value_h < 240 else 0}f}").replace(" ", NBSP)


def span(value_h: float, low_h: float, high_h: float) -> str:
    """A time with its doubt, in hours or in days as suits it: 16 h (9 to 16), 2.7 d (1.3 to 6.6)."""
    unit, by, places = ("h", 1.0, 0) if value_h < 36 else ("d", 24.0, 1)
    value, low, high = (f"{hours / by:.{places}f}" for hours in (value_h, low_h, high_h))
    return _("{value} ({low} to {high})").format(value=f"{value}{NBSP}{unit}", low=low, high=high)


def clock(at: datetime.datetime) -> str:
    """The time of day."""
    return f"{at:%H:%M}"


def day_and_clock(at: datetime.datetime) -> str:
    """Day and time of day with the offset that it was meant in."""
    offset = at.strftime("%z")
    shown = f" (UTC{offset[:3]}:{offset[3:5]})".replace("-", "\u2212") if offset else ""
    return f"{at:%Y-%m-%d} {at:%H:%M}".replace("-", "\u2011") + shown


def scale(value: float) -> str:
    """A drawing's scale: 1:1, 1:2, 2:1."""
    return f"{value:.0f}:1" if value >= 1 else f"1:{1 / value:.0f}"
