"""What a screen says becomes one entry of the book, and reads back as it was said."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest

from keepfast.book.entries import new_id
from keepfast.book.kinds import findings_of
from keepfast.desk.table_entries import SESSION, Evening, PenRules, entry_of, read_pen, said_of
from keepfast.findings import FindingsError
from tests.live_table import said

EVENING = Evening(new_id(), new_id())
ANIMAL = "01a21233-0515-72b9-aff5-a626833ffff9"  # fixed, so that every process of a test run collects the same tests
TRAY = "01a21233-0515-7e92-8ac3-24c15bf3fcbe"
BOTTLE = "01a21233-0515-7aa1-8ac3-24c15bf3fcbf"


@pytest.fixture(scope="module")
def rules() -> PenRules:
    return read_pen()


VALUES = {"number": 12.5, "choice": None, "done": True, "tag": True, "words": "T 101", "place": "1 4"}


def every_field() -> list[str]:
    return [spec.key for spec in read_pen().fields]


@pytest.mark.parametrize("key", every_field())
def test_every_field_of_the_pen_becomes_a_valid_entry(rules: PenRules, key: str) -> None:
    spec = rules.field(key)
    assert spec is not None
    value = next(iter(spec.choices)) if spec.ask == "choice" else VALUES[spec.ask]
    subject = TRAY if spec.round == "cover" else ANIMAL
    one = said(subject, key, value, tray=TRAY if spec.ask == "place" else None)
    entry = entry_of(one, rules, EVENING)
    assert [] == findings_of(entry)
    back = said_of(entry, 7)
    assert back is not None
    assert (subject, key, value, 7) == (back["subject"], back["field"], back["value"], back["seq"])
    if not spec.repeats:
        again = said(subject, key, value, corrects=one.id, tray=one.tray)
        corrected = entry_of(again, rules, EVENING)
        assert "correction" == corrected.kind
        assert spec.kind == corrected.content["of_kind"]
        assert [] == findings_of(corrected)
        gone = entry_of(said(subject, key, None, corrects=one.id), rules, EVENING)
        assert gone.content["withdraw"] is True
        assert [] == findings_of(gone)


@pytest.mark.parametrize(
    ("subject", "field", "value", "more"),
    [
        (ANIMAL, "move:fill/cavity_hind/1", True, {}),
        (ANIMAL, "round:prick", True, {}),
        (TRAY, "round:cover", True, {}),
        (ANIMAL, "later:fill", True, {}),
        (ANIMAL, "left_out", True, {"text": "no time"}),
        (SESSION, "pause", True, {}),
        (SESSION, "pause", False, {}),
        (SESSION, "handed_over", "Ben", {"under": "Ana"}),
        (SESSION, "signed", "Ana", {"text": "all of it"}),
        (SESSION, "ended", True, {"text": "two tubes are missing"}),
        (SESSION, "ended", False, {}),
        (SESSION, "bottle", BOTTLE, {"text": "F-1"}),
        (SESSION, "bottle", None, {}),
        (ANIMAL, "animal", "frog", {"number": "B-77", "id": ANIMAL}),
        (TRAY, "new_tray", "4", {"number": "4", "id": TRAY}),
        (BOTTLE, "new_batch", "F-1", {"number": "F-1", "id": BOTTLE, "mixed_at": "2026-04-17T18:00:00+01:00"}),
        (BOTTLE, "new_batch", "F-1", {"number": "F-1", "id": BOTTLE}),
        (ANIMAL, "mass_g", 12.0, {"answers": new_id(), "text": "a fat one", "asked": "mass_against_length"}),
    ],
)
def test_steps_and_sessions_become_valid_entries(
    rules: PenRules, subject: str, field: str, value: object, more: dict[str, str]
) -> None:
    entry = entry_of(said(subject, field, value, **more), rules, EVENING)
    assert [] == findings_of(entry)
    assert said_of(entry, 1) is not None


@pytest.mark.parametrize(
    ("field", "value", "subject"), [("delivered_ml", 2.1, ANIMAL), ("sheets_ml", 190.0, TRAY), ("mass_g", 12.0, ANIMAL)]
)
def test_an_amount_of_fixative_carries_its_bottle_and_nothing_else_does(
    rules: PenRules, field: str, value: float, subject: str
) -> None:
    first = said(subject, field, value, batch=BOTTLE)
    entry = entry_of(first, rules, EVENING)
    assert (BOTTLE if field.endswith("_ml") else None) == entry.content.get("batch")
    assert [] == findings_of(entry)
    corrected = entry_of(said(subject, field, value + 1, batch=BOTTLE, corrects=first.id), rules, EVENING)
    assert (BOTTLE if field.endswith("_ml") else None) == corrected.content["set"].get("batch")
    assert [] == findings_of(corrected)


def test_a_bottle_says_when_it_was_mixed_and_what_is_in_it(rules: PenRules) -> None:
    mixed = "2026-04-17T18:00:00+01:00"
    content = entry_of(said(BOTTLE, "new_batch", "F-1", id=BOTTLE, mixed_at=mixed), rules, EVENING).content
    assert ("F-1", "formalin", mixed) == (content["name"], content["fluid"], content["mixed_at"])


def test_the_end_and_its_reason_stand_in_the_session_and_so_does_taking_it_up_again(rules: PenRules) -> None:
    ended = entry_of(said(SESSION, "ended", True, text="two tubes are missing"), rules, EVENING).content
    assert ("ended", "two tubes are missing") == (ended["change"], ended["reason"])
    assert "resumed" == entry_of(said(SESSION, "ended", False), rules, EVENING).content["change"]


def test_a_step_that_was_taken_back_can_be_done_again(rules: PenRules) -> None:
    first = said(ANIMAL, "move:fill/a", True)
    back = entry_of(said(ANIMAL, "move:fill/a", False, corrects=first.id), rules, EVENING)
    again = entry_of(said(ANIMAL, "move:fill/a", True, corrects=first.id), rules, EVENING)
    assert back.content["withdraw"] is True
    assert again.content["withdraw"] is False
    assert [] == findings_of(back) + findings_of(again)


@pytest.mark.parametrize(
    ("subject", "field", "value", "more"),
    [
        (ANIMAL, "no_such_field", 1, {}),
        (ANIMAL, "mass_g", "heavy", {}),
        (ANIMAL, "mass_g", True, {}),
        (ANIMAL, "mass_g", None, {}),
        (ANIMAL, "mass_g", float("nan"), {}),
        (ANIMAL, "sex", "perhaps", {}),
        (ANIMAL, "place", "somewhere", {}),
        (ANIMAL, "place", "1 4", {}),
        (ANIMAL, "move:dance/1", True, {}),
        (ANIMAL, "remark", "tab\tand\x07bell", {}),
        (ANIMAL, "mass_g", 12.0, {"answers": new_id(), "text": "  "}),
        ("not an id", "mass_g", 12.0, {}),
        (ANIMAL, "animal", "frog", {"number": "B-77"}),
        (TRAY, "new_tray", "4", {"number": "4"}),
        (BOTTLE, "new_batch", "F-1", {"number": "F-1"}),
        (BOTTLE, "new_batch", "F-1", {"id": BOTTLE, "mixed_at": "yesterday"}),
        (ANIMAL, "delivered_ml", 2.1, {"batch": "F-1"}),
        (SESSION, "mass_g", 12.0, {}),
        (ANIMAL, "mass_g", 12.0, {"who": " "}),
        (ANIMAL, "mass_g", 12.0, {"corrects": "x"}),
        (ANIMAL, "mass_g", 12.0, {"at": datetime.datetime(2026, 4, 18)}),
        (ANIMAL, "mass_g", 12.0, {"at": datetime.datetime(1, 1, 1, tzinfo=datetime.UTC), "clock_ms": -(10**11)}),
    ],
)
def test_what_does_not_fit_is_refused_in_words(
    rules: PenRules, subject: str, field: str, value: object, more: dict[str, object]
) -> None:
    with pytest.raises((FindingsError, ValueError)) as refused:  # noqa: PT012
        entry = entry_of(said(subject, field, value, **more), rules, EVENING)
        entry.text  # noqa: B018
        found = findings_of(entry)
        if found:
            raise FindingsError(found)
    assert str(refused.value)


def test_the_same_words_give_the_same_entry(rules: PenRules) -> None:
    one = said(ANIMAL, "mass_g", 12.5)
    assert entry_of(one, rules, EVENING).print == entry_of(one, rules, EVENING).print


def test_a_devices_wrong_clock_is_put_right_by_what_it_knew_of_the_laptops(rules: PenRules) -> None:
    one = said(ANIMAL, "mass_g", 12.5, clock_ms=-3_600_000)
    assert one.at - datetime.timedelta(hours=1) == entry_of(one, rules, EVENING).at


def test_a_file_of_ones_own_is_read_and_its_mistakes_are_all_named(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        'title = "own"\ndate = 2026-01-01\nsubject = "live"\n'
        '[[field]]\nkey = "a"\nround = "dance"\nwords = "A"\nask = "shout"\nkind = "measurement"\nforms = ["dragon"]\n'
        '[[field]]\nkey = "b"\ncolour = "red"\n',
        encoding="utf-8",
    )
    with pytest.raises(FindingsError) as refused:
        read_pen(own)
    text = str(refused.value)
    for part in ("dance", "shout", "dragon", "colour", "words"):
        assert part in text
