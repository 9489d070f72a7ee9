"""What the Table and the Evening show, and the evening on paper."""

from __future__ import annotations

import datetime
import io
import re

import pypdfium2
import pytest

from keepfast.book.entries import new_id
from keepfast.desk.table_live import LiveTable
from keepfast.desk.table_plan import read_plan
from keepfast.desk.table_report import evening_pdf
from keepfast.desk.table_state import moment
from keepfast.desk.table_views import ahead_minutes, air_so_far_ppm, evening_check, table_now, tray_hours
from keepfast.words import _, current_language, use_language
from tests.live_table import said, small_plan


def write(table: LiveTable, *words: object) -> None:
    assert all(o.stored for o in table.append(words))  # type: ignore[arg-type]
    table.news()


def printed(table: LiveTable) -> str:
    document = pypdfium2.PdfDocument(io.BytesIO(evening_pdf(table)))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())


def close_round(table: LiveTable, round_: str) -> None:
    write(table, *(said(s, f"round:{round_}", True) for s in table.order))


def test_nothing_is_claimed_before_the_first_entry(table: LiveTable) -> None:
    now = table_now(table)
    assert "Not begun" == now.clock_words
    assert 3 == len(now.order)
    assert now.order[0].here
    assert ahead_minutes(table, datetime.datetime.now().astimezone()) is None


def test_the_clock_counts_rounds_that_are_done_against_the_time_that_passed(table: LiveTable) -> None:
    """By hand: the plan's clock says when each round begins; with one round done, that much was due."""
    close_round(table, "before")
    first = table.state.first
    assert first is not None
    start = moment(first)
    lines = {m["round"]: m["minutes"] for m in small_plan()["table"]["clock"] if m["field_numbers"]}
    due = lines["prick"] - lines["before"]
    at = start + datetime.timedelta(minutes=due + 30)
    assert pytest.approx(-30.0, abs=0.1) == ahead_minutes(table, at)
    assert pytest.approx(due) == ahead_minutes(table, start)
    assert "30 minutes behind the plan" == table_now(table, at).clock_words


def test_a_pause_stops_the_clock(table: LiveTable) -> None:
    start = datetime.datetime(2026, 4, 18, 21, 0, tzinfo=datetime.UTC)

    def at(minutes: float) -> datetime.datetime:
        return start + datetime.timedelta(minutes=minutes)

    write(
        table,
        said(table.order[0], "mass_g", 640.0, at=at(0)),
        said("session", "pause", True, at=at(10)),
        said("session", "pause", False, at=at(40)),
    )
    assert pytest.approx(30.0) == table.state.paused_minutes(at(60))
    assert pytest.approx(-30.0) == ahead_minutes(table, at(60))
    write(table, said("session", "pause", True, at=at(70)))
    assert table_now(table, at(80)).clock_words.startswith("Paused since")


def test_a_tray_tells_when_it_may_be_opened(table: LiveTable) -> None:
    tray = table.trays[0]
    closed = datetime.datetime(2026, 4, 18, 23, 0, tzinfo=datetime.UTC)
    write(table, said(tray, "covered", True, at=closed), said(tray, "temperature_c", 23.5, at=closed))
    needed = max(a["tray_h"] for a in small_plan()["animals"] if a["place"] and a["place"]["tray"] == 1)
    assert needed == tray_hours(table, tray)
    early = table_now(table, closed + datetime.timedelta(hours=1)).trays[0]
    assert "Earliest out" in early.words
    assert "23.5" in early.words
    late = table_now(table, closed + datetime.timedelta(hours=needed + 1)).trays[0]
    assert "It may be opened now." in late.words


def test_fluid_is_what_was_written_and_corrections_count_once(table: LiveTable) -> None:
    one, other = table.order[:2]
    wrong = said(one, "delivered_ml", 310.0)
    write(
        table, wrong, said(one, "delivered_ml", 31.0, corrects=wrong.id, seen=wrong.id),
        said(other, "delivered_ml", 40.0), said(table.trays[0], "sheets_ml", 190.0),
    )  # fmt: skip
    facts = dict(table_now(table).facts)
    assert "71\u00a0mL" == facts["Fixative into animals"]
    assert "190\u00a0mL" == facts["Fixative onto sheets"]


def test_the_air_so_far_is_the_share_of_the_plans_own_average(table: LiveTable) -> None:
    """By hand: half of the planned minutes with open fixative are half of the plan's average over 8 h."""
    plan = small_plan()["table"]
    average = next(e for e in plan["air"]["exposures"] if (e["where"], e["minutes"]) == ("near", 480.0))["ppm"]
    planned = sum(plan["minutes_by_task"][task] for task in ("fill", "pose", "cover"))
    half = air_so_far_ppm(table, planned / 2)
    assert half is not None
    assert pytest.approx(average["value"] / 2) == half[0]
    start = datetime.datetime(2026, 4, 18, 22, 0, tzinfo=datetime.UTC)
    write(table, said(table.order[0], "delivered_ml", 5.0, at=start))
    now = table_now(table, start + datetime.timedelta(minutes=planned / 2))
    assert plan["air"]["line"] == now.air
    assert any("ppm" in value for _name, value in now.facts)


def test_the_check_of_the_evening_passes_only_when_nothing_is_open(table: LiveTable) -> None:
    assert not evening_check(table).passed
    bottle = new_id()
    write(table, said(bottle, "new_batch", "F-1", id=bottle, number="F-1"), said("session", "bottle", bottle))
    for place, animal in enumerate(table.order, start=1):
        asked = {f.key for f in table.fields_of(table.subjects[animal])}
        write(table, said(animal, "tag", True), said(animal, "photographed", True))
        if "tissue" in asked:
            write(table, said(animal, "tissue", f"T {place}"))
        write(table, said(animal, "delivered_ml", 5.0, batch=bottle))
        write(table, said(animal, "place", f"1 {place}", tray=table.trays[0]))
    write(table, *(said(t, "covered", True) for t in table.trays))
    check = evening_check(table)
    assert check.passed, [p for p in check.parts if not p.passed]


def test_a_filling_without_a_named_bottle_is_open_in_the_check(table: LiveTable) -> None:
    one, other = table.order[:2]
    bottle = new_id()
    mixed = "2026-04-17T18:00:00+01:00"
    write(
        table,
        said(one, "delivered_ml", 5.0),
        said(bottle, "new_batch", "F-1", id=bottle, number="F-1", mixed_at=mixed),
        said("session", "bottle", bottle, text="F-1"),
        said(other, "delivered_ml", 6.0, batch=bottle),
    )
    part = next(p for p in evening_check(table).parts if p.key == "bottles")
    assert (False, (table.subjects[one].number,)) == (part.passed, part.lines)
    done = (table.book.state("animal", other) or {})["done"][-1]
    entries = {w.entry.id: w.entry for w in table.book.read_since(0, 1000)}
    assert bottle == entries[done["entry"]].content["batch"]
    # The bottle is told with the moment it was mixed, on the Table and on paper.
    assert dict(table_now(table).facts)["Bottle"].startswith("F-1, mixed 2026\u201104\u201117 18:00")
    text = printed(table)
    assert f"F-1, mixed 2026-04-17 18:00 (UTC+01:00): {table.subjects[other].number}" in text
    assert f"no bottle was named: {table.subjects[one].number}" in text


def test_an_ended_evening_says_by_whom_and_why_and_goes_on_when_it_is_taken_up_again(table: LiveTable) -> None:
    write(table, said(table.order[0], "mass_g", 640.0), said("session", "ended", True, text="rain", who="Ben"))
    assert re.fullmatch(r"Ended at \d\d:\d\d by Ben", table_now(table).clock_words)
    assert evening_check(table).ended.endswith("by Ben: rain")
    assert "by Ben: rain" in printed(table)
    write(table, said("session", "ended", False))
    assert "" == evening_check(table).ended
    assert "Ended" not in table_now(table).clock_words


def test_what_the_hands_are_told_is_in_the_language_of_the_device_whatever_the_plan_was_made_in(
    table: LiveTable,
) -> None:
    before = current_language()

    def told(one: LiveTable, language: str) -> list[tuple[str, str, str]]:
        use_language(language)
        subjects = [*one.order, *one.trays]
        return [(m.what, m.at, m.caution) for s in subjects for m in one.moves_of(one.subjects[s])]

    try:
        english, spanish = told(table, "en"), told(table, "es")
        assert len(english) == len(spanish) > 20
        assert all(e[0] != s[0] and bool(e[1]) == bool(s[1]) for e, s in zip(english, spanish, strict=True))
        # The same plan as a Spanish planner would have written it down, read by both.
        document = small_plan()
        for step in (s for a in document["animals"] for s in a["steps"]):
            step["action"] = _(step["action"])
        for caution in document["table"]["cautions"]:
            caution["text"] = _(caution["text"])
        made_in_spanish = LiveTable(table.book, read_plan(document))
        assert english == told(made_in_spanish, "en")
        assert spanish == told(made_in_spanish, "es")
    finally:
        use_language(before)


def test_tissue_after_the_fixative_is_found_even_when_the_amount_was_corrected_later(table: LiveTable) -> None:
    start = datetime.datetime(2026, 4, 18, 21, 0, tzinfo=datetime.UTC)
    animal = table.order[0]
    first = said(animal, "delivered_ml", 5.0, at=start)
    write(
        table,
        first,
        said(animal, "tissue", "T 1", at=start + datetime.timedelta(minutes=5)),
        said(animal, "delivered_ml", 6.0, at=start + datetime.timedelta(minutes=9), corrects=first.id, seen=first.id),
    )
    part = next(p for p in evening_check(table).parts if p.key == "tissue")
    assert any(table.subjects[animal].number in line and "After the fixative" in line for line in part.lines)


def test_the_evening_on_paper_says_planned_done_who_and_under_whose_eyes(table: LiveTable) -> None:
    animal = table.order[0]
    number = table.subjects[animal].number
    odd = said(animal, "mass_g", 64.0, asked="far_from_plan", asked_words="The list has 640 g.")
    write(
        table,
        odd,
        said(animal, "mass_g", 64.0, answers=odd.id, text="weighed twice", asked="far_from_plan"),
        said(animal, "delivered_ml", 29.5, who="Ben", under="Ana"),
        said(animal, "remark", '=HYPERLINK("x") <b>\u202e\U0001f98e' + "w" * 90),
        said("session", "signed", "Ana", text="all of it"),
    )
    made = evening_pdf(table)
    document = pypdfium2.PdfDocument(io.BytesIO(made))
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    text = " ".join(text.split())
    for part in (number, "64.0 g", "29.5 mL", "learning under the eyes of Ana", "weighed twice", "all of it", "U+202E"):
        assert part in text, part
    assert made == evening_pdf(table)


def test_a_map_shows_who_lies_there_solid_and_who_is_to_come_dashed(table: LiveTable) -> None:
    before = table_now(table).trays[0].map
    animal = next(s for s in table.order if (p := table.subjects[s].plan) is not None and p.tray == 1)
    write(table, said(animal, "place", "1 1", tray=table.trays[0]))
    after = table_now(table).trays[0].map
    assert before.count("stroke-dasharray") > after.count("stroke-dasharray") >= 0
