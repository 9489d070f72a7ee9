"""What a plan is made of: frozen objects that papers, screens and JSON all read.

An amount is in millilitres, a place along a body in millimetres from the snout along the axis, a time in hours from
the moment the fixative goes in, unless the name says otherwise.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import Any

from keepfast.book.animals import Animal
from keepfast.science.body import Body

# The rounds in which the whole table is worked. The order is one of hazard: the fixative stays shut until every
# skin that needs it is pricked.
ROUNDS = ("before", "prick", "fill", "pose", "cover")


@dataclass(frozen=True)
class Amount:
    """A value with its 5 and 95 % points; ``measured`` says whether somebody read it off an instrument."""

    value: float
    low: float
    high: float
    measured: bool = False
    source: str = ""


@dataclass(frozen=True)
class Prick:
    """Where the skin is opened with a needle point, dry, before any fixative is open."""

    number: int
    at_mm: float  # along the axis from the snout; for a limb, where the limb leaves the trunk
    region: str  # trunk, forelimb, hindlimb, tail base, tail, head
    side: str  # left, right, both, below
    count: int
    reason: str


@dataclass(frozen=True)
class Injection:
    """One filling, numbered in the order of work."""

    number: int
    at_mm: float
    site: str  # hindgut, gonad, cavity, neck, mouth, forelimb, hindlimb, tail base, tail, head, trunk muscle
    side: str  # left, right, both, middle, alternate
    depth_mm: float
    gauge: int
    volume_ml: float
    low_ml: float
    high_ml: float
    reason: str
    source: str = ""


@dataclass(frozen=True)
class Step:
    """One thing to do, in the words a learner reads, with its reason."""

    round: str
    key: str  # stable name of the rule that asks for it
    action: str
    reason: str
    source: str = ""
    cautions: tuple[str, ...] = ()  # keys into the cautions of the plan
    prick_numbers: tuple[int, ...] = ()
    injection_numbers: tuple[int, ...] = ()


@dataclass(frozen=True)
class Pose:
    """How the body is laid for good, and the room it then takes on the sheet."""

    key: str  # straight, tail_along_trunk, coil, folded, spread, loose
    words: str
    reason: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class TrayPlace:
    """Where an animal lies: tray, running place in it, lower left corner and whether it was turned a quarter."""

    tray: int
    place: int
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    turned: bool


@dataclass(frozen=True)
class AnimalPlan:
    """All that is to be done to one animal, and what is not known."""

    animal: Animal
    body: Body
    mass_g: Amount
    fit_for_fluid: bool
    destiny: str  # fluid, skeleton, tissue_only
    fitness_reason: str
    steps: tuple[Step, ...]
    pricks: tuple[Prick, ...]
    injections: tuple[Injection, ...]
    total_ml: float
    total_low_ml: float
    total_high_ml: float
    retained_ml: Amount | None
    per_cm_ml: float | None  # mL per cm of trunk, for the long-bodied
    per_gram_ml: float | None
    supply_ratio: Amount | None  # formaldehyde supplied over what the tissue can bind
    pose: Pose
    tag: str  # how and where the tag is tied
    tray_h: float
    tray_reason: str
    urgency_h: float  # hours left at the start, at the warmth it is kept; infinite for what is alive
    urgency_reason: str
    fill_at_h: float | None = None  # hours from the start until it is filled, as the rounds go
    minutes_by_task: dict[str, float] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    doubt_kinds: tuple[str, ...] = ()  # of each doubt: own, begun, ice, supply, past; some are told once for the table
    place: TrayPlace | None = None
    waits: str = ""  # why it waits, empty when it is done tonight
    wait_until: datetime.datetime | None = None
    extra: dict[str, Any] = field(default_factory=dict)  # "race" and later chapters, as plain JSON values


@dataclass(frozen=True)
class Caution:
    """A short warning tied to what calls it up."""

    key: str
    text: str
    reason: str
    source: str
    called_up_by: str
    known: str = ""
    round: str = ""  # where its hazard first arises tonight; empty for what comes afterwards or when something happens


@dataclass(frozen=True)
class Tray:
    """One tray with its sheets and what lies in it."""

    number: int
    width_mm: float
    height_mm: float
    upper_sheet_ml: float
    lower_sheet_ml: float
    field_numbers: tuple[str, ...]


@dataclass(frozen=True)
class Moment:
    """One line of the clock."""

    at: datetime.datetime
    minutes: float  # since the start
    what: str
    round: str = ""
    field_numbers: tuple[str, ...] = ()


@dataclass(frozen=True)
class TablePlan:
    """The table for the evening."""

    order: tuple[str, ...]
    waiting: tuple[str, ...]
    not_for_fluid: tuple[str, ...]
    people: int
    minutes: float
    minutes_low: float
    minutes_high: float
    minutes_by_task: dict[str, float]
    start: datetime.datetime
    end: datetime.datetime
    clock: tuple[Moment, ...]
    trays: tuple[Tray, ...]
    tray_bound: int  # fewest trays that any packing could need
    fixative_ml: float
    fixative_low_ml: float
    fixative_high_ml: float
    fluid_by_use_ml: dict[str, float]
    syringes: dict[str, int]
    needles: dict[int, int]  # gauge: how many
    lay_ready: tuple[str, ...]
    earliest_out: datetime.datetime
    cautions: tuple[Caution, ...]
    doubts: tuple[str, ...]
    defaults_used: tuple[str, ...]
    extra: dict[str, Any] = field(default_factory=dict)  # "air", "sun"


@dataclass(frozen=True)
class EveningPlan:
    """Everything for tonight: the animals, the table, and what it was made from."""

    animals: tuple[AnimalPlan, ...]
    table: TablePlan
    protocol: dict[str, Any]
    origin: dict[str, Any]
    camp: dict[str, Any]
    findings: tuple[dict[str, Any], ...] = ()

    def of(self, field_number: str) -> AnimalPlan:
        """The plan of one animal.

        Raises
        ------
        KeyError
            If no animal has this number.
        """
        for plan in self.animals:
            if plan.animal.field_number == field_number:
                return plan
        raise KeyError(field_number)
