"""The calendar of a jarful: in order, in daylight, nothing forgotten."""

from __future__ import annotations

import datetime

import pytest

from keepfast.plan.step_calendar import DAY_FROM_H, DAY_TO_H, calendar
from keepfast.plan.steps import InJar, Jarful, plan_steps
from keepfast.rules import fluids

RULES = fluids.load()
START = datetime.datetime.fromisoformat("2026-03-14T18:40+01:00")
FROG = Jarful((InJar("B-12", "frog", 40.0, 25.0, "measured"),))


@pytest.mark.parametrize("stage", ["fixing", "rinse", "alcohol"])
def test_everything_comes_in_order_and_by_day(stage: str) -> None:
    plan = plan_steps(FROG, RULES, stage=stage)
    entries = calendar(plan, START)
    assert [e.at for e in entries] == sorted(e.at for e in entries)
    assert entries[0].at == START
    for entry in entries[1:]:
        assert DAY_FROM_H <= entry.at.hour <= DAY_TO_H
        assert entry.at.utcoffset() == START.utcoffset()
        assert entry.at.minute in (0, 30) or entry.at == START
    assert len({e.key for e in entries}) == len(entries)
    assert sum(e.key.startswith(("rinse", "step", "jar")) for e in entries) == len(plan.of(plan.chosen).changes)
    assert entries[-1].key == "check"


def test_no_change_comes_before_its_time() -> None:
    """The night may add hours, never take them."""
    plan = plan_steps(FROG, RULES)
    entries = calendar(plan, START)
    for change, now, after in zip(plan.of(plan.chosen).changes, entries, entries[1:], strict=False):
        if change.kind != "jar":
            assert (after.at - now.at).total_seconds() / 3600 >= change.hours.value - 1e-6


def test_the_jar_is_read_after_two_weeks() -> None:
    """Field Museum practice (read): 2 to 3 weeks."""
    entries = calendar(plan_steps(FROG, RULES, stage="alcohol"), START)
    assert 13.9 <= (entries[-1].at - entries[-2].at).days + 1 <= 22


def test_another_series_can_be_put_on_the_clock() -> None:
    plan = plan_steps(FROG, RULES)
    assert calendar(plan, START, "fewest_changes") != calendar(plan, START, "gentlest")


def test_a_spent_bath_is_changed_and_signs_are_looked_for() -> None:
    plan = plan_steps(FROG, RULES, stage="fixing", wrapped=True)
    keys = [e.key for e in calendar(plan, START)]
    assert "bath-1" in keys
    assert "fixed" in keys
    assert keys.index("fixed") < keys.index("rinse-1")


def test_larvae_get_their_one_change() -> None:
    plan = plan_steps(Jarful((InJar("T-1", "larva", 1.0, 5.0, "measured"),)), RULES, stage="fixing")
    entries = calendar(plan, START)
    assert [e.key for e in entries] == ["fixing", "stay"]
    assert 24 <= (entries[1].at - entries[0].at).total_seconds() / 3600 <= 48


def test_a_time_without_an_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        calendar(plan_steps(FROG, RULES), datetime.datetime(2026, 3, 14, 18, 0))
