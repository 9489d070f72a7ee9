"""The places of a body that are raced for, as sections that ``science.penetration_layers`` can follow, and the draws.

A spot is one region of one animal with its own measures: how thick, what lies in its middle, what was put in, what
lies around it. Nothing is decided here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from keepfast.plan import draws
from keepfast.plan.objects import AnimalPlan, Tray
from keepfast.rules.evening import EveningRules
from keepfast.rules.race import RaceRules, Range, Region
from keepfast.science.penetration_layers import Passage, Sections, Tissue, first_passage
from keepfast.science.tables import load as load_table
from keepfast.science.warmth import Warmth

Array = npt.NDArray[np.float64]

IN_A_VIAL = ("larva", "egg_clutch")
TRUNK = ("hindgut", "gonad", "wall")
YOLKY = ("follicles", "eggs", "embryos")
FILM_MM = 10.0  # a millilitre on a square centimetre stands 10 mm high
BINDING_TABLE = "keepfast-2026-two-site-binding"


@dataclass(frozen=True)
class Spot:
    """One region of one animal. Millimetres, and square millimetres of fluid in its cross-section (all of it)."""

    field_number: str
    region: str
    word: str
    radius_mm: float
    core_share: float
    fat_share: float
    clock: str
    fluid_mm2: float
    skin_share: float
    skin_resistance_mm: Range
    skin_opened: float  # what is left of the skin's hindrance where it was pricked or slit; 1 where it was not
    sheet_mm: float
    exponent: int
    callipered: bool
    spread_mm: float  # length over which a filling of this region spreads

    @property
    def filled(self) -> bool:
        """Whether fixative was put in here."""
        return self.fluid_mm2 > 0


@dataclass(frozen=True)
class Chance:
    """Draws of all that is unsure, shared by every animal; (n,) each. ``Chance.medians`` has one draw: the medians."""

    tissue: Tissue
    stop_mol_l: Array
    limit: Array
    delay: Array
    killed: Array
    retained: Array
    sheet: Array
    girth: Array
    skin_z: Array
    stop_bound: float  # bound share that stops decay as well

    @property
    def size(self) -> int:
        """How many draws."""
        return int(self.stop_mol_l.size)

    def thinned(self, by: int) -> Chance:
        """Every ``by``-th draw."""
        tissue = Tissue(**{n: getattr(self.tissue, n)[::by] for n in Tissue.__dataclass_fields__})
        rest = {n: getattr(self, n)[::by] for n in self.__dataclass_fields__ if n not in ("tissue", "stop_bound")}
        return replace(self, tissue=tissue, **rest)

    @classmethod
    def drawn(cls, rules: RaceRules, seed: int, size: int, bath_mol_l: Range | None = None) -> Chance:
        """Seeded draws, each quantity from a stream of its own; the table's usual fixative unless another is given."""

        def one(name: str, limits: Range) -> Array:
            return draws.spread(draws.generator(seed, f"race {name}"), *limits, size)

        rows = {row["name"]: row for row in load_table(BINDING_TABLE).rows}
        known = {name: (row["low"], row["default"], row["high"]) for name, row in rows.items()}
        if bath_mol_l is not None:
            known["bath_mol_l"] = bath_mol_l
        tissue = Tissue(**{name: one(name, known[name]) for name in Tissue.__dataclass_fields__})
        made = {name: one(name, rules.ranges[name]) for name in rules.ranges}
        shares = {name: np.minimum(made[name], 1.0) for name in ("retained", "sheet")}
        return cls(
            # A share cannot pass 1, though its upper wing is drawn.
            tissue=replace(tissue, water_fraction=np.minimum(tissue.water_fraction, 0.95)),
            stop_mol_l=made["stop"],
            limit=made["limit"],
            delay=made["delay"],
            killed=made["killed"],
            retained=shares["retained"],
            sheet=shares["sheet"],
            girth=made["girth"],
            skin_z=draws.generator(seed, "race skin").standard_normal(size),
            stop_bound=rules.number("stop", "bound_share"),
        )

    @classmethod
    def medians(cls, rules: RaceRules, **tissue: float) -> Chance:
        """The medians; keywords replace a tissue parameter."""
        values = {**Tissue.defaults().__dict__, **tissue}

        def middle(name: str) -> Array:
            return np.array([rules.ranges[name][1]])

        return cls(
            tissue=Tissue(**{k: np.array([v]) for k, v in values.items()}),
            stop_mol_l=middle("stop"),
            limit=middle("limit"),
            delay=middle("delay"),
            killed=middle("killed"),
            retained=middle("retained"),
            sheet=middle("sheet"),
            girth=middle("girth"),
            skin_z=np.zeros(1),
            stop_bound=rules.number("stop", "bound_share"),
        )


def film_mm(
    plan: AnimalPlan, evening: EveningRules, trays: Sequence[Tray] = (), laid_mm2: Mapping[int, float] | None = None
) -> float:
    """
    Fluid of the sheets that falls to this animal, as a film over its skin. [mm]

    A soaked sheet is one body of water: what lies in a tray shares it by the room it takes. ``laid_mm2`` is the room
    taken in each tray, by its number. Without trays the usual wetting of the animal's own room counts.
    """
    body = plan.body
    if plan.animal.form in IN_A_VIAL:
        # Vials hold so many volumes of fluid to one of body.
        radius = body.diameter_mm / 2
        return evening.number("fluid", "vial_per_volume") * radius / (3 if plan.animal.form == "egg_clutch" else 2)
    own = plan.pose.width_mm * plan.pose.height_mm
    place = plan.place
    if place is not None:
        for tray in trays:
            if tray.number == place.tray:
                taken = max((laid_mm2 or {}).get(place.tray, 0.0), place.width_mm * place.height_mm)
                share = place.width_mm * place.height_mm / taken
                return FILM_MM * (tray.upper_sheet_ml + tray.lower_sheet_ml) * share / body.surface_cm2
    per_m2 = evening.number("sheets", "upper_ml_per_m2") * (1 + evening.number("sheets", "lower_share"))
    return FILM_MM * per_m2 * own * 1e-6 / body.surface_cm2


def room_taken(plans: Sequence[AnimalPlan]) -> dict[int, float]:
    """Room that animals take in each tray, by its number. [mm2]"""
    taken: dict[int, float] = {}
    for plan in plans:
        if plan.place is not None:
            taken[plan.place.tray] = taken.get(plan.place.tray, 0.0) + plan.place.width_mm * plan.place.height_mm
    return taken


def spots_of(plan: AnimalPlan, rules: RaceRules, sheet_mm: float) -> list[Spot]:
    """The regions of one animal in this much fluid (``film_mm``); those its form does not have are left out."""
    animal, body = plan.animal, plan.body
    film = sheet_mm
    thickness, resistance = rules.skin(animal.form)
    by_site: dict[str, float] = {}
    for injection in plan.injections:
        by_site[injection.site] = by_site.get(injection.site, 0.0) + injection.volume_ml
    pricked = {prick.region for prick in plan.pricks}
    if animal.form == "egg_clutch":
        region = next(r for r in rules.regions if r.key == "wall")
        return [
            Spot(
                animal.field_number,
                "wall",
                "eggs",
                body.diameter_mm / 2,
                0.6,
                0.8,
                "gut",
                0.0,
                thickness,
                resistance,
                1.0,
                film,
                2,
                animal.length_mm is not None,
                body.diameter_mm,
            )
        ]
    found = []
    for region in rules.regions:
        radius = _radius(plan, region)
        if radius is None or radius <= 0:
            continue
        ml = sum(by_site.get(site, 0.0) for site in region.sites)
        length = _spread(plan, region)
        opened = pricked & _skin_of(region.key)
        yolky = region.key == "gonad" and animal.reproductive_state in YOLKY
        found.append(
            Spot(
                field_number=animal.field_number,
                region=region.key,
                word=region.word,
                radius_mm=radius,
                core_share=_share(region.core, animal.gut if region.key == "hindgut" else animal.reproductive_state),
                fat_share=_share(region.fat, animal.reproductive_state),
                clock=region.clock_with_yolk if yolky else region.clock,
                fluid_mm2=1000.0 * ml / length if length > 0 else 0.0,
                skin_share=thickness,
                skin_resistance_mm=resistance,
                skin_opened=rules.number("skin", "pricked_share") if opened else 1.0,
                sheet_mm=film,
                exponent=1,
                callipered="diameter_mm" in body.measured,
                spread_mm=length,
            )
        )
    return found


def _share(table: Mapping[str, float], state: str) -> float:
    for key in (state or "unknown", "none" if state in ("", "unknown") else "default", "default"):
        if key in table:
            return table[key]
    return next(iter(table.values()))


def _radius(plan: AnimalPlan, region: Region) -> float | None:
    """The thickest place of the region, where fixative has furthest to go."""
    body = plan.body
    if region.key == "limb":
        return body.limb_radius_mm or None
    if region.key == "tail":
        if plan.animal.form == "larva" or body.tail_mm <= 0:
            return None
        return float(body.radius_at(body.length_mm + 0.03 * body.tail_mm))
    if region.key == "head":
        return region.width_share * body.head_width_mm / 2
    assert region.at is not None
    low, high = (share * body.length_mm for share in region.at)
    inside = (body.axis_mm >= low) & (body.axis_mm <= high)
    return float(body.radius_mm[inside].max()) if inside.any() else float(body.radius_at((low + high) / 2))


def _spread(plan: AnimalPlan, region: Region) -> float:
    body = plan.body
    if region.key in TRUNK:
        return body.cavity_end_mm - body.cavity_start_mm
    if region.key == "limb":
        return 2 * sum(body.limb_lengths_mm)
    if region.key == "tail":
        return 0.6 * body.tail_mm
    assert region.at is not None
    return (region.at[1] - region.at[0]) * body.length_mm


def _skin_of(region: str) -> set[str]:
    """Names of pricks that open the skin of a region."""
    return {
        "limb": {"forelimb", "hindlimb"},
        "tail": {"tail", "tail base"},
        "head": {"head"},
    }.get(region, {"trunk"})


def sections(spots: Sequence[Spot], chance: Chance) -> tuple[Sections, Tissue]:
    """All spots under all draws: spots by draws, flattened with the draws running fastest."""
    n = chance.size

    def own(values: Sequence[float]) -> Array:
        return np.repeat(np.asarray(values, dtype=float), n)

    def shared(values: npt.ArrayLike) -> Array:
        return np.tile(np.broadcast_to(np.asarray(values, dtype=float), (n,)), len(spots))

    girth = np.where(own([s.callipered for s in spots]) > 0, 1.0, shared(chance.girth))
    radius = own([s.radius_mm for s in spots]) * girth
    z = shared(chance.skin_z)
    low, middle, high = (own([math.log(s.skin_resistance_mm[i]) for s in spots]) for i in range(3))
    resistance = np.exp(middle + z * np.where(z < 0, middle - low, high - middle) / draws.Z_90)
    # The sheet's share is of a film that touches the body; a vial's fluid is all there.
    film = own([s.sheet_mm for s in spots]) * np.where(
        own([s.sheet_mm > s.radius_mm for s in spots]) > 0, 1.0, shared(chance.sheet)
    )
    made = Sections(
        radius_mm=radius,
        core_radius_mm=own([s.core_share for s in spots]) * radius,
        core_fat_share=own([s.fat_share for s in spots]),
        fluid_area_mm2=own([s.fluid_mm2 for s in spots]) * shared(chance.retained),
        skin_mm=np.minimum(own([s.skin_share for s in spots]) * radius, 1.0),
        skin_resistance_mm=resistance * own([s.skin_opened for s in spots]),
        sheet_mm=film,
        exponent=np.repeat(np.array([s.exponent for s in spots], dtype=int), n),
    )
    return made, Tissue(**{name: shared(getattr(chance.tissue, name)) for name in Tissue.__dataclass_fields__})


def passages(
    spots: Sequence[Spot],
    chance: Chance,
    warmth: Warmth,
    until_h: float,
    *,
    start_h: Sequence[float] | float = 0.0,
    bath_after_h: Sequence[float] | None = None,
) -> Passage:
    """
    When each spot is arrested and bound, under each draw: arrays of (spots, draws).

    ``start_h`` is when fixative went into each, in hours of the record; all times count from there.
    ``bath_after_h`` is when each spot's animal is moved from the sheets into a bath, for ``bath_arrest_h``.
    """
    bodies, tissue = sections(spots, chance)
    # Gut and gonad are the middle of their section, the wall is what lies around; elsewhere all of it counts.
    part = {"hindgut": "core", "gonad": "core", "wall": "wall"}
    place = [part.get(s.region, "all") if s.exponent == 1 else "all" for s in spots]
    found = first_passage(
        bodies,
        tissue,
        np.repeat(place, chance.size),
        np.tile(chance.stop_mol_l, len(spots)) / tissue.bath_mol_l,
        until_h,
        warmth,
        stop_bound=chance.stop_bound,
        bath_after_h=np.inf if bath_after_h is None else np.repeat(bath_after_h, chance.size),
        start_h=np.repeat(np.broadcast_to(np.asarray(start_h, dtype=float), (len(spots),)), chance.size),
    )
    shape = (len(spots), chance.size)
    return Passage(*(getattr(found, name).reshape(shape) for name in Passage.__dataclass_fields__))
