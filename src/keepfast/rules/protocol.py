"""What a protocol is: frozen rules for one body form, as ``protocols.load`` gives them."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from keepfast.rules.tables import Condition, Points

DESTINIES = ("fluid", "skeleton", "tissue_only")
REGIONS = ("trunk", "forelimb", "hindlimb", "tail base", "tail", "head")
SITES = (
    "hindgut",
    "gonad",
    "cavity",
    "neck",
    "mouth",
    "forelimb",
    "hindlimb",
    "tail base",
    "tail",
    "head",
    "trunk muscle",
)
SIDES = ("left", "right", "both", "below", "middle", "alternate")
POSES = ("straight", "tail_along_trunk", "coil", "folded", "spread", "loose")
TASKS = ("prick", "fill", "pose", "cover", "measure", "photograph", "tissue")
FILL_KINDS = ("point", "limbs", "row")


@dataclass(frozen=True)
class Saying:
    """A step in words: what to do, why, from where, and when it applies."""

    key: str
    action: str
    reason: str
    source: str
    when: Condition = ()


@dataclass(frozen=True)
class PrickRule:
    """Where the skin is opened, dry. Places are shares of the snout-vent length (of the tail for the tail)."""

    key: str
    region: str
    at: tuple[float, float]
    side: str
    count: int
    spacing_mm: float | None
    action: str
    reason: str
    source: str
    when: Condition = ()


@dataclass(frozen=True)
class FillRule:
    """One filling: at a point, in each limb of a pair, or in a row along the body (worked from the hind end)."""

    key: str
    kind: str
    site: str
    at: tuple[float, float]
    of_tail: bool
    side: str
    share: float | None  # of the total by mass
    on_top: bool  # this share comes on top of the total instead of being a part of it
    ml_by: str  # the measure the table is against: mass_g, diameter_mm, limb_diameter_mm, head_width_mm
    ml: Points  # mL at each site: each limb of a pair; a point on both sides shares it
    spacing_mm: float | None
    follows: str  # key of an earlier row that this one goes on from, at its own spacing; "" for none
    depth_share: float  # of the local radius
    action: str
    reason: str
    source: str
    when: Condition = ()


@dataclass(frozen=True)
class PoseRule:
    """How the body is laid, with the room it takes: factors on its own measures."""

    key: str
    pose: str
    action: str
    reason: str
    source: str
    width: tuple[float, float, float]  # factors on length, on diameter, and on the root of length times diameter
    height: tuple[float, float, float]
    when: Condition = ()


@dataclass(frozen=True)
class FitnessRule:
    """Whether an animal in this state belongs in fluid at all."""

    key: str
    destiny: str
    reason: str
    source: str
    when: Condition


@dataclass(frozen=True)
class TrayRule:
    """Shortest time in the closed tray, by mass, with the range that sources give."""

    key: str
    hours: Points
    low_h: float
    high_h: float
    reason: str
    source: str
    when: Condition = ()


@dataclass(frozen=True)
class Spread:
    """What another source says about the same thing, shown beside the rule taken."""

    topic: str
    text: str
    source: str
    known: str


@dataclass(frozen=True)
class Protocol:
    """Everything the rules say about one body form."""

    form: str
    title: str
    date: str
    sha256: str
    origin: str  # "shipped" or the path it was read from
    sources: Mapping[str, tuple[str, str]]  # key: words and how it is known
    fitness: tuple[FitnessRule, ...]
    before: tuple[Saying, ...]
    pricks: tuple[PrickRule, ...]
    no_needle: tuple[Saying, ...]  # when any holds, neither prick nor needle
    total_ml: Points
    total_low: float
    total_high: float
    total_source: str
    ceiling_ml_per_g: float | None
    ceiling_ml_per_cm: float | None  # of snout-vent length, for what is shared out by mass
    fills: tuple[FillRule, ...]
    filling: tuple[Saying, ...]
    retained_share: tuple[float, float, float]
    retained_source: str
    poses: tuple[PoseRule, ...]
    posing: tuple[Saying, ...]
    tags: tuple[Saying, ...]
    covering: tuple[Saying, ...]
    tray: tuple[TrayRule, ...]
    gauges: Points
    gauge_source: str
    minutes: Mapping[str, Points]
    minutes_per_injection: float
    minutes_source: str
    supply_threshold: float
    venomous_genera: tuple[str, ...]
    venomous_if_unknown: bool
    doubts: tuple[Saying, ...]
    spreads: tuple[Spread, ...] = field(default=())

    def source_words(self, key: str) -> str:
        """A source in words with how it is known."""
        words, known = self.sources[key]
        return words if words == known else f"{words} ({known})"


@dataclass(frozen=True)
class ProtocolSet:
    """The protocols of all forms, with the identity that every plan prints."""

    name: str
    by_form: Mapping[str, Protocol]

    @property
    def identity(self) -> dict[str, Any]:
        """Name, latest date and a hash over all files, and each form's own title and date."""
        whole = hashlib.sha256()
        for form in sorted(self.by_form):
            whole.update(self.by_form[form].sha256.encode())
        return {
            "name": self.name,
            "date": max(p.date for p in self.by_form.values()),
            "sha256": whole.hexdigest(),
            "forms": {
                form: {"title": p.title, "date": p.date, "sha256": p.sha256, "origin": p.origin}
                for form, p in sorted(self.by_form.items())
            },
        }
