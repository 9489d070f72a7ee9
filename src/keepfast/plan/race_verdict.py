"""What is said of the race of one animal: the frozen objects, and the words for hours, margins and bands.

Nothing is reckoned here; ``race`` fills these and the papers and commands read them.
"""

from __future__ import annotations

import datetime
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.words import _

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Band:
    """Median with 5 and 95 % points; None where it lies beyond the horizon. ``beyond`` is the share that does."""

    median: float | None
    low: float | None
    high: float | None
    beyond: float = 0.0


@dataclass(frozen=True)
class RegionVerdict:
    """
    One region: margin in hours (spoilage minus arrest; negative is lost), its word and its reason.

    ``arrest_h`` and the margin are with a bath after practice's time in the tray; both bound marks are for as long as
    the animal stays in the tray. A margin is None where fixative had not come by the horizon.
    """

    region: str
    name: str
    clock: str
    margin_h: Band
    arrest_h: Band
    spoil_h: Band
    half_bound_h: Band
    nine_tenths_h: Band
    wins: float  # share of draws in which fixative is first
    verdict: str  # key of the word
    says: str
    reason: str
    radius_mm: float
    filled: bool
    past_saving: bool  # its hours were spent before the table began


@dataclass(frozen=True)
class Leave:
    """When the tray may be left: practice's minimum, the model's time, the later of the two, or why not."""

    practice_h: float
    model_h: Band
    may_leave_h: float | None
    held_by: str  # region that takes longest
    supply_short: bool
    missing_ml: float | None  # of working solution, on the sheet; None when none is missing or none would do
    says: str


@dataclass(frozen=True)
class BetweenDepots:
    """Half-way between two fillings of a row, at the medians, in two dimensions."""

    spacing_mm: float
    depot_ml: float
    arrest_h: float | None
    half_bound_h: float | None
    margin_h: float | None
    says: str


@dataclass(frozen=True)
class Suggestion:
    """One thing that would help, or one that could be left out, with what it is worth."""

    key: str  # past, first, ice, inject, slit, cooler, wet, closer, fewer
    region: str
    gain_h: float | None  # None where fixative would otherwise not come at all
    margin_h: float  # what would be in hand then, at the medians
    amount_ml: float | None
    says: str


@dataclass(frozen=True)
class AnimalVerdict:
    """The race of one animal, weakest region first."""

    field_number: str
    regions: tuple[RegionVerdict, ...]
    leave: Leave
    between: BetweenDepots | None
    advice: tuple[Suggestion, ...]
    practice: tuple[str, ...]  # rules of practice that stand beside it
    doubts: tuple[str, ...]
    sentence: str
    temperature_c: float  # when it is filled
    filled_after_h: float  # from the start of the table
    bath_mol_l: float  # formaldehyde in the camp's fixative
    spent_h: dict[str, float] = field(default_factory=dict)  # before the filling, hours at 20 degrees C, by clock

    @property
    def weakest(self) -> RegionVerdict:
        """The region that leads the risk."""
        return self.regions[0]

    def as_dict(self) -> dict[str, Any]:
        """For JSON and for ``AnimalPlan.extra["race"]``."""
        answer = plain(asdict(self))
        assert isinstance(answer, dict)
        answer["weakest"] = self.weakest.region
        return answer


def plain(value: Any) -> Any:
    """Tuples as lists, times as text, and figures with no more digits than they deserve."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, float | np.floating):
        return float(f"{float(value):.4g}")
    if isinstance(value, datetime.datetime):
        return value.isoformat()
    return value


def band(values: Array) -> Band:
    """Median, 5 and 95 % points of draws in which infinite means beyond the horizon."""
    ordered = np.sort(values)

    def point(share: float) -> float | None:
        value = float(ordered[min(int(share * ordered.size), ordered.size - 1)])
        return value if np.isfinite(value) else None

    return Band(point(0.5), point(0.05), point(0.95), float(np.mean(~np.isfinite(values))))


def finite(value: float) -> float | None:
    """The value, or None where it is beyond the horizon."""
    return float(value) if np.isfinite(value) else None


def margin_words(found: Band) -> str:
    """A margin with its interval, in words: what is None was lost altogether."""
    if found.median is None:
        return _("fixative does not stop decay there in the time followed")
    low = _("lost") if found.low is None else hours_words(found.low)
    high = _("lost") if found.high is None else hours_words(found.high)
    if hours_words(found.median) == "0":
        return _("fixative and decay arrive together ({low} to {high} h in hand)").format(low=low, high=high)
    if found.median < 0:
        return _("fixative {hours} h too late ({low} to {high} h in hand)").format(
            hours=hours_words(-found.median), low=low, high=high
        )
    return _("{hours} h in hand ({low} to {high})").format(hours=hours_words(found.median), low=low, high=high)


def hours_words(hours: float) -> str:
    """Hours with no more digits than the model deserves; a true minus sign."""
    text = f"{hours:.0f}" if abs(hours) >= 9.5 else f"{hours:.1f}"
    text = "0" if text in ("-0", "0.0", "-0.0") else text
    return text.replace("-", "\N{MINUS SIGN}")


def span_words(found: Band) -> str:
    """A time with its band, whole hours."""
    if found.median is None:
        return _("more than it was followed")
    low = f"{found.low:.0f}" if found.low is not None else "?"
    if found.high is None:
        return _("{median:.0f} h ({low} h to beyond the end)").format(median=found.median, low=low)
    return _("{median:.0f} h ({low} to {high:.0f})").format(median=found.median, low=low, high=found.high)
