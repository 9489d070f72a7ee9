"""A jarful's way from bath to jar, put on the clock: what to do when, in daylight."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from keepfast.plan.amounts import amount
from keepfast.plan.fixing import FixingPlan
from keepfast.plan.steps import Change, StepsPlan
from keepfast.words import _

DAY_FROM_H, DAY_TO_H = 7, 19


@dataclass(frozen=True)
class CalendarEntry:
    """One thing to do at a time."""

    at: datetime.datetime
    key: str
    what: str
    why: str
    minutes: int = 30


def calendar(plan: StepsPlan, start: datetime.datetime, series_key: str = "") -> tuple[CalendarEntry, ...]:
    """
    What to do when, in daylight: a change that would fall into the night waits for the morning.

    Parameters
    ----------
    plan : StepsPlan
        What is to be done.
    start : datetime
        When it begins, with an offset.
    series_key : str
        Which series; the plan's chosen one when empty.

    Raises
    ------
    ValueError
        If ``start`` has no offset.
    """
    if start.utcoffset() is None:
        raise ValueError("start must carry an offset, such as 2026-03-14T18:00+01:00")
    entries: list[CalendarEntry] = []
    at = start
    jarful = ", ".join(dict.fromkeys(b.name for b in plan.jarful.bodies))
    if plan.fixing is not None:
        at = _fixing_entries(plan.fixing, plan, jarful, at, entries)
    if plan.stays_in_formalin or not plan.series:
        return tuple(entries)
    series = plan.of(series_key or plan.chosen)
    for change in series.changes:
        entries.append(CalendarEntry(at, f"{change.kind}-{change.number}", _title(change, jarful), _reason(change)))
        if change.kind != "jar":
            at = _by_day(at + datetime.timedelta(hours=change.hours.value))
    entries.append(
        CalendarEntry(
            _by_day(at + datetime.timedelta(days=plan.check_days[0])),
            "check",
            _("Read the strength in the jar: {jarful}").format(jarful=jarful),
            _(
                "It should have come to {end:.1f} % ({low:.1f} to {high:.1f}). Below {target:g}: top up with"
                " stock and read again after as long."
            ).format(
                end=series.end_vol.value, low=series.end_vol.low, high=series.end_vol.high, target=plan.target_vol
            ),
        )
    )
    return tuple(entries)


def _fixing_entries(
    fixing: FixingPlan,
    plan: StepsPlan,
    jarful: str,
    at: datetime.datetime,
    entries: list[CalendarEntry],
) -> datetime.datetime:
    start = at
    entries.append(
        CalendarEntry(
            at,
            "fixing",
            _("Into the fixing bath: {jarful}").format(jarful=jarful)
            if not fixing.wrapped
            else _("Into wet cloth and sealed bags: {jarful}").format(jarful=jarful),
            _("{ml} of formalin with {percent:.1f} % formaldehyde.").format(
                ml=amount(fixing.fluid_ml), percent=fixing.start_percent_w_v
            ),
        )
    )
    if plan.stays_in_formalin:
        entries.append(
            CalendarEntry(
                _by_day(start + datetime.timedelta(hours=plan.stay_change_h[0])),
                "stay",
                _("Change the formalin: {jarful}").format(jarful=jarful),
                _(plan.stay_text),
            )
        )
        return start
    if fixing.change_after_h is not None:
        for n in range(1, fixing.fills):
            entries.append(
                CalendarEntry(
                    _by_day(start + datetime.timedelta(hours=n * fixing.change_after_h)),
                    f"bath-{n}",
                    _("Fresh formalin: {jarful}").format(jarful=jarful),
                    fixing.change_reason,
                )
            )
    end = _by_day(start + datetime.timedelta(days=fixing.days.value))
    entries.append(
        CalendarEntry(
            end,
            "fixed",
            _("Is it fixed? Go by the signs: {jarful}").format(jarful=jarful),
            _(fixing.signs[0].text)
            + " "
            + _(
                "Planned for {days:g} days; it may take from {low:.0f} to {high:.0f}. Not fixed: leave it, and"
                " shift what follows."
            ).format(days=fixing.days.value, low=fixing.days.low, high=fixing.days.high),
        )
    )
    return end


def _by_day(at: datetime.datetime) -> datetime.datetime:
    """The same moment, or the next morning's hour where it falls into the night."""
    if at.hour >= DAY_TO_H:
        at = (at + datetime.timedelta(days=1)).replace(hour=DAY_FROM_H, minute=0)
    elif at.hour < DAY_FROM_H:
        at = at.replace(hour=DAY_FROM_H, minute=0)
    at = at.replace(second=0, microsecond=0)
    # Half hours are as sharp as the times behind them deserve, and later is safer than sooner.
    return at + datetime.timedelta(minutes=-at.minute % 30)


def _title(change: Change, jarful: str) -> str:
    if change.kind == "rinse":
        return _("Rinse {n}, clean water: {jarful}").format(n=change.number, jarful=jarful)
    if change.kind == "jar":
        return _("Into the jar, {strength:g} %: {jarful}").format(strength=change.strength_vol, jarful=jarful)
    return _("Into {strength:g} % alcohol: {jarful}").format(strength=change.strength_vol, jarful=jarful)


def _reason(change: Change) -> str:
    if change.kind == "rinse":
        return _("{ml} of water, drain well. Leaves {free:.2g} % free formaldehyde.").format(
            ml=amount(change.fluid_ml), free=change.formaldehyde_percent_w_v
        )
    return _("{stock} of stock and {water} of water. Body and fluid end at {end:.0f} %.").format(
        stock=amount(change.stock_ml), water=amount(change.water_ml), end=change.ends_vol.value
    )
