"""What the work does to the air its people breathe: a table of fixing, a table of decanting.

Plain arguments in, one frozen answer out (`Air`; `Air.as_dict` for JSON). Start with `table_air`. A spill is in
``air_spill``; the place is checked in ``air_place``, the scene drawn in ``air_scene``, limits held against it in
``air_limits``, and ``air_words`` speaks.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from keepfast.plan import air_words
from keepfast.plan.air_answer import Air, Band, Exposure, Help, Series, Substance, Where
from keepfast.plan.air_limits import body_named, duties_of, held_against, roles_of
from keepfast.plan.air_place import Place, finite, place_of, taken_temperature
from keepfast.plan.air_scene import (
    ORDERS,
    WET_ROUNDS,
    Course,
    Draws,
    Order,
    Scene,
    Table,
    course,
    draw,
    sheet_length_m,
)
from keepfast.rules import limits as limits_rules
from keepfast.rules import shelters as shelters_rules
from keepfast.rules.limits import SHORT_TERM_MIN, WORKING_DAY_MIN, Limits
from keepfast.rules.shelters import Shelters
from keepfast.science import air, alcohol, evaporation
from keepfast.science.ranges import within
from keepfast.science.tables import load as load_table
from keepfast.science.vapour import flash_point_c
from keepfast.words import _

Array = npt.NDArray[np.float64]
SEA_LEVEL_KPA = evaporation.ATMOSPHERE_KPA
SERIES_POINTS = 121


def table_air(
    minutes_by_round: Mapping[str, float],
    sheets_m2: Sequence[float],
    *,
    percent_w_v: float,
    temperature_c: float,
    shelter: str = "tent",
    air_speed_m_s: float | None = None,
    volume_m3: float | None = None,
    air_changes_per_h: float | None = None,
    opening_m2: float | None = None,
    pressure_kpa: float = SEA_LEVEL_KPA,
    lids: bool = False,
    order: Order = "by_round",
    bowl_m2: float | None = None,
    coolest_c: float | None = None,
    coolest_at: datetime.datetime | None = None,
    jurisdiction: str | None = None,
    sector: str = "",
    on: datetime.date | None = None,
    draws: int = 1000,
    seed: int = 1,
    limits: Limits | None = None,
    shelters: Shelters | None = None,
) -> Air:
    """
    The air of a table at which animals are fixed.

    Parameters
    ----------
    minutes_by_round : mapping
        Minutes of each round: before, prick, fill, pose, cover, and clean if it is known; what is missing counts as
        none, cleaning as the rules say. Before and while pricking the fixative is shut and nothing is given off.
    sheets_m2 : sequence of float
        Wet area of each tray's sheet. [m2]
    percent_w_v : float
        Formaldehyde in the working solution. [g per 100 mL]
    temperature_c : float
        At the table while it is worked. [degrees C]  Valid -30 to 60; taken as 0 below 0 and as 50 above 50, and said.
    shelter : str
        A key of the shelters' rules: open, tarpaulin, tent, tent_one_flap, tent_two_flaps, tent_closed, room, vehicle.
    air_speed_m_s, volume_m3, air_changes_per_h, opening_m2 : float, optional
        What is known of the place; without it the shelter's range is taken, from its worst case up.
    pressure_kpa : float, default 101.325
        [kPa]
    lids : bool, default False
        Whether trays and bowl are shut except while hands are in them. Without, the worst case: all open until covered.
    order : {"by_round", "tray_by_tray", "by_animal"}
        How the table is worked; by_animal opens the fixative before the pricking.
    bowl_m2 : float, optional
        Open surface of the bowl of fixative. [m2]
    coolest_c : float, optional
        The coolest temperature at which the work could be done, for what a change of hour would bring.
    coolest_at : datetime, optional
        When that is.
    jurisdiction : str, optional
        Whose limits to hold the air against; the strictest is always shown too.
    sector : str
        A trade with a row of its own.
    on : date, optional
        The day whose limits hold; today unless given.
    draws, seed : int
        Of the doubts.
    limits, shelters : optional
        Rules of one's own; those that ship unless given.

    Returns
    -------
    Air

    Raises
    ------
    FindingsError
        If the place, a figure of it, or the jurisdiction is not known.
    ValueError
        If a round is unknown, minutes or areas are negative, or the order is not one of the three.
    """
    finite(
        percent_w_v=percent_w_v,
        temperature_c=temperature_c,
        pressure_kpa=pressure_kpa,
        coolest_c=coolest_c,
    )
    rules = shelters or shelters_rules.load()
    held = limits or limits_rules.load()
    place = place_of(rules, shelter, air_speed_m_s, volume_m3, air_changes_per_h, opening_m2)
    unknown = set(minutes_by_round) - set(WET_ROUNDS)
    if unknown:
        raise ValueError(f"minutes_by_round must have rounds of {', '.join(WET_ROUNDS)}; {sorted(unknown)} were given")
    if order not in ORDERS:
        raise ValueError(f"order must be one of {', '.join(ORDERS)}; {order!r} was given")
    bowl = rules.number("bowl_m2") if bowl_m2 is None else bowl_m2
    for name, figures in (
        ("minutes_by_round", minutes_by_round.values()),
        ("sheets_m2", sheets_m2),
        ("bowl_m2", (bowl,)),
    ):
        if any(not 0 <= figure < 1e5 for figure in figures):
            raise ValueError(f"{name} must be from 0 to 100000; {list(figures)} was given")
    table = Table(
        {"clean": rules.number("clean_min"), **minutes_by_round},
        tuple(float(area) for area in sheets_m2),
        bowl,
        rules.number("wipes_m2"),
        lids,
        order,
        rules.number("lid_share_fill"),
        rules.number("lid_share_bowl"),
    )
    taken_c = taken_temperature(temperature_c, 0.0, 50.0)
    scene = replace(
        _scene("formaldehyde", percent_w_v, taken_c, pressure_kpa, place, rules, table.open_areas(), table.lengths_m),
        step_min=table.step_min,
    )
    taken = draw(draws, seed)
    told = [] if taken_c == temperature_c else [air_words.temperature_taken(temperature_c, taken_c)]
    changes = _changes(table, scene, place, rules, coolest_c, coolest_at)
    return _judged(
        scene,
        place,
        taken,
        seed,
        held,
        rules,
        jurisdiction,
        sector,
        on,
        changes,
        assumptions=(*told, *air_words.table_assumptions(table, place, rules)),
        marks=_marks(table.minutes),
    )


def decanting_air(
    minutes: float,
    open_m2: float,
    *,
    strength_vol: float,
    temperature_c: float,
    shelter: str = "tent",
    air_speed_m_s: float | None = None,
    volume_m3: float | None = None,
    air_changes_per_h: float | None = None,
    opening_m2: float | None = None,
    pressure_kpa: float = SEA_LEVEL_KPA,
    jurisdiction: str | None = None,
    on: datetime.date | None = None,
    draws: int = 1000,
    seed: int = 1,
    limits: Limits | None = None,
    shelters: Shelters | None = None,
) -> Air:
    """
    The air of a table at which alcohol is decanted: open jars, mouths of cans, a bowl.

    Parameters
    ----------
    minutes : float
        How long it stands open. [min]
    open_m2 : float
        Open surface. [m2]
    strength_vol : float
        Strength of the alcohol. [% vol]
    temperature_c : float
        [degrees C]  Valid -30 to 60; taken as 5 below 5 and as 40 above 40, and said.
    others
        As in `table_air`.

    Returns
    -------
    Air
        With ``flash``: the flash point with its span, and how near the vapour at the surface is to burning.

    Raises
    ------
    FindingsError
        If the place, a figure of it, or the jurisdiction is not known.
    ValueError
        If another argument is out of range.
    """
    finite(open_m2=open_m2, strength_vol=strength_vol, temperature_c=temperature_c, pressure_kpa=pressure_kpa)
    rules = shelters or shelters_rules.load()
    held = limits or limits_rules.load()
    place = place_of(rules, shelter, air_speed_m_s, volume_m3, air_changes_per_h, opening_m2)
    if not 0 < minutes <= 1440:
        raise ValueError(f"minutes must be above 0 and at most 1440; {minutes} was given")
    within("open_m2", open_m2, 1e-5, 100.0, "m2")
    taken_c = taken_temperature(temperature_c, 5.0, 40.0)
    areas = np.full((int(np.ceil(minutes)), 1), float(open_m2))
    areas[-1] *= minutes - (len(areas) - 1)
    scene = _scene("ethanol", strength_vol, taken_c, pressure_kpa, place, rules, areas, (sheet_length_m([open_m2]),))
    told = [] if taken_c == temperature_c else [air_words.temperature_taken(temperature_c, taken_c)]
    changes = {key: value for key, value in _changes(None, scene, place, rules).items() if key != "hour"}
    result = _judged(
        scene,
        place,
        draw(draws, seed),
        seed,
        held,
        rules,
        jurisdiction,
        "",
        on,
        changes,
        assumptions=(*told, *air_words.place_assumptions(place, rules), air_words.assumed(rules, "face_m")),
        marks=(),
    )
    flash = flash_of(strength_vol, taken_c, pressure_kpa)
    return replace(result, flash=flash, warnings=(*air_words.flash_warnings(flash, taken_c), *result.warnings))


def flash_of(strength_vol: float, temperature_c: float, pressure_kpa: float = SEA_LEVEL_KPA) -> dict[str, Any]:
    """Flash point with its span, and the vapour at the surface as a share of the lower flammable limit."""
    fraction = float(alcohol.mass_fraction(strength_vol))
    vapour_percent = float(evaporation.ethanol_vapour_pa(strength_vol, temperature_c)) / (pressure_kpa * 10.0)
    lower = load_table("ethanol-lower-flammable-limit").value("lower_limit_percent")
    flash: dict[str, Any] = {
        "vapour_at_surface_percent": vapour_percent,
        "lower_flammable_limit_percent": lower,
        "share_of_lower_limit": vapour_percent / lower,
        "flash_point_c": None,
    }
    if fraction >= 0.05:
        point = flash_point_c(fraction)
        flash["flash_point_c"] = {
            "value": float(point.value_c),
            "low": float(point.low_c),
            "high": float(point.high_c),
        }
    return flash


def _scene(
    substance: Substance,
    strength: float,
    temperature_c: float,
    pressure_kpa: float,
    place: Place,
    rules: Shelters,
    areas_m2: Array,
    lengths_m: tuple[float, ...],
) -> Scene:
    return Scene(
        substance,
        strength,
        temperature_c,
        pressure_kpa,
        place.shelter,
        place.speeds(rules.number("speed_factor")),
        place.room_m3,
        place.changes,
        place.opening_m2,
        rules.number("face_m"),
        areas_m2,
        lengths_m,
    )


def _marks(minutes: Mapping[str, float]) -> tuple[tuple[float, str], ...]:
    marks, at = [], 0.0
    for name in WET_ROUNDS:
        if minutes.get(name, 0.0) > 0:
            marks.append((at, name))
            at += minutes[name]
    return tuple(marks)


def _changes(
    table: Table | None,
    scene: Scene,
    place: Place,
    rules: Shelters,
    coolest_c: float | None = None,
    coolest_at: datetime.datetime | None = None,
) -> dict[str, tuple[str, Scene]]:
    """What could be changed: its words and the scene that it makes."""
    changes = {}
    open_air = rules.shelters.get("open")
    if table is not None and not table.lids:
        lidded = replace(table, lids=True)
        changes["lid"] = (air_words.help_lid(), replace(scene, areas_m2=lidded.open_areas()))
    arm = rules.number("arm_m")
    if scene.face_m < arm:
        changes["distance"] = (air_words.help_distance(arm), replace(scene, face_m=arm))
    if open_air is not None and scene.shelter.section_m2 is None:
        changes["outside"] = (
            air_words.help_outside(),
            replace(
                scene,
                shelter=open_air,
                air_speed_m_s=open_air.air_speed_m_s,
                volume_m3=open_air.volume_m3,
                air_changes_per_h=None,
                opening_m2=None,
            ),
        )
    cooler = scene.temperature_c - rules.number("cooler_c") if coolest_c is None else coolest_c
    if 0.0 <= cooler < scene.temperature_c - 0.5:
        changes["hour"] = (
            air_words.help_hour(cooler, coolest_c is not None, coolest_at),
            replace(scene, temperature_c=cooler),
        )
    if table is not None and not table.lids and table.order != "tray_by_tray" and len(table.sheets_m2) > 1:
        in_turn = replace(table, order="tray_by_tray")
        changes["order"] = (air_words.help_order(), replace(scene, areas_m2=in_turn.open_areas()))
    return changes


def _judged(
    scene: Scene,
    place: Place,
    taken: Draws,
    seed: int,
    held: Limits,
    rules: Shelters,
    jurisdiction: str | None,
    sector: str,
    on: datetime.date | None,
    changes: dict[str, tuple[str, Scene]],
    *,
    assumptions: tuple[str, ...],
    marks: tuple[tuple[float, str], ...],
) -> Air:
    jurisdiction = body_named(held, scene.substance, jurisdiction, on)
    run = course(scene, taken)
    ppm = scene.ppm_mg_m3
    exposures = []
    doses: tuple[tuple[Where, Array], ...] = (("near", run.near_dose), ("far", run.far_dose))
    for where, dose in doses:
        for window in (SHORT_TERM_MIN, WORKING_DAY_MIN):
            band = band_of(np.asarray(air.highest_mean(run.minutes, dose, window)))
            against = held_against(band, scene, roles_of(held, scene, window, jurisdiction, on, sector))
            exposures.append(Exposure(where, window, band, band.over(ppm), against))
    now = exposures[0].ppm
    peak = band_of(run.near.max(axis=0) / ppm)
    urgent = (
        *air_words.warnings_of_place(scene.substance, scene.shelter),
        *air_words.warnings_of_danger(held, scene.substance, peak),
    )
    helps = [_helped(key, words, changed, taken, now) for key, (words, changed) in changes.items()]
    helps.sort(key=lambda h: -h.times_less)
    together = _together(scene, changes, taken, now) if len(changes) > 1 else None
    answer = Air(
        substance=scene.substance,
        place=scene.shelter.key,
        place_words=_(scene.shelter.words),
        do_not_work=scene.shelter.do_not_work,
        temperature_c=scene.temperature_c,
        pressure_kpa=scene.pressure_kpa,
        mg_m3_per_ppm=ppm,
        minutes=float(run.minutes[-1]),
        emission_mg_min=band_of(run.emission_mg_min[np.argmax(run.emission_mg_min.mean(axis=1))]),
        exposures=tuple(exposures),
        duties=duties_of(held, scene, jurisdiction, exposures),
        helps=tuple(h for h in helps if h.times_less > 1.05),
        together=together,
        series=series_of(run, marks),
        line="",
        urgent=urgent,
        warnings=(
            *urgent,
            *air_words.warnings_of_level(scene.substance, now),
            *air_words.warnings(scene.substance, scene.temperature_c),
        ),
        assumptions=(
            *assumptions,
            air_words.only_exposure(),
            *(
                air_words.no_limit(held.bodies[jurisdiction], window)
                for window in (SHORT_TERM_MIN, WORKING_DAY_MIN)
                if jurisdiction is not None
                and not held.of(scene.substance, window, body=jurisdiction, on=on, sector=sector)
            ),
        ),
        questions=air_words.questions(place),
        rules=(held.file.identity, rules.file.identity),
        seed=seed,
        draws=len(taken.speed),
    )
    return replace(answer, line=air_words.line(answer))


def band_of(values: Array) -> Band:
    """Median and 5 and 95 % points of draws."""
    low, middle, high = np.percentile(values, [5.0, 50.0, 95.0])
    return Band(float(middle), float(low), float(high))


def _near_15_min_ppm(scene: Scene, taken: Draws) -> Band:
    run = course(scene, taken)
    return band_of(np.asarray(air.highest_mean(run.minutes, run.near_dose, SHORT_TERM_MIN))).over(scene.ppm_mg_m3)


def _helped(key: str, words: str, changed: Scene, taken: Draws, now: Band) -> Help:
    after = _near_15_min_ppm(changed, taken)
    return Help(key, words, after, now.value / after.value if after.value > 0 else 1.0)


def _together(scene: Scene, changes: dict[str, tuple[str, Scene]], taken: Draws, now: Band) -> Help:
    """All changes at once; lids already do what the order of trays would."""
    best = scene
    for key, (_words, changed) in changes.items():
        names = {
            "lid": ("areas_m2",),
            "distance": ("face_m",),
            "outside": ("shelter", "air_speed_m_s", "volume_m3", "air_changes_per_h", "opening_m2"),
            "hour": ("temperature_c",),
        }.get(key, ())
        best = replace(best, **{name: getattr(changed, name) for name in names})
    return _helped("together", air_words.help_together(), best, taken, now)


def series_of(run: Course, marks: tuple[tuple[float, str], ...]) -> Series:
    """The course thinned to what a small chart can show."""
    chosen = np.unique(np.linspace(0, len(run.minutes) - 1, min(SERIES_POINTS, len(run.minutes))).round().astype(int))
    near, high = np.percentile(run.near[chosen], [50.0, 95.0], axis=1)
    far = np.percentile(run.far[chosen], 50.0, axis=1)

    def figures(values: Array) -> tuple[float, ...]:
        return tuple(float(f"{value:.4g}") for value in values)

    return Series(figures(run.minutes[chosen]), figures(near), figures(high), figures(far), marks)
