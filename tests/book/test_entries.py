import datetime
import re

import pytest

from keepfast.book import entries
from keepfast.book.entries import FIRST_LINK, Entry, link_hash, milliseconds, new_id
from keepfast.book.kinds import KINDS, THINGS, findings_of, subjects
from keepfast.findings import FindingsError

AT = datetime.datetime(2026, 3, 14, 21, 5, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))


def made(kind="animal", content=None, **more):
    return Entry(kind, {"field_number": "AB 12"} if content is None else content, "Ana", "laptop", AT, **more)


def said(entry):
    return " ".join(finding.sentence() for finding in findings_of(entry))


def test_an_id_is_a_version_7_uuid_that_holds_the_moment(monkeypatch):
    # RFC 9562, section 5.7: 48 bits of Unix milliseconds, version 7, variant 10.
    monkeypatch.setattr(entries, "_last_id", 0)
    before = milliseconds(datetime.datetime.now(datetime.UTC))
    text = new_id()
    after = milliseconds(datetime.datetime.now(datetime.UTC))

    assert re.fullmatch(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", text)
    assert before <= int(text.replace("-", "")[:12], 16) <= after


def test_ids_stand_in_the_order_they_were_made_within_a_millisecond_and_when_the_clock_jumps_back(monkeypatch):
    # RFC 9562, section 6.2: monotonic within one generator, also where the clock is set back.
    clock = iter([*[1_800_000_000_000_000_000] * 1000, *[1_700_000_000_000_000_000] * 1000])
    monkeypatch.setattr(entries, "_last_id", 0)
    monkeypatch.setattr(entries.time, "time_ns", lambda: next(clock))

    ids = [new_id() for _ in range(2000)]
    monkeypatch.undo()

    assert sorted(set(ids)) == ids


def test_the_millisecond_of_the_standards_example():
    # RFC 9562, appendix A.6: Tuesday 22 February 2022, 2:22:22.00 PM GMT-05:00 is 0x017F22E279B0.
    at = datetime.datetime(2022, 2, 22, 14, 22, 22, tzinfo=datetime.timezone(datetime.timedelta(hours=-5)))

    assert 0x017F22E279B0 == milliseconds(at)


def test_a_moment_without_an_offset_is_refused():
    with pytest.raises(ValueError, match="offset"):
        Entry("animal", {}, "Ana", "laptop", datetime.datetime(2026, 3, 14))


def test_one_print_whatever_the_order_of_the_names():
    one = made(content={"field_number": "AB 1", "form": "frog"}, id="0" * 8 + "-0000-4000-8000-" + "0" * 12)
    other = made(content={"form": "frog", "field_number": "AB 1"}, id=one.id)

    assert one.print == other.print


@pytest.mark.parametrize("change", ["who", "device", "at", "kind", "content", "id", "order_ms"])
def test_whatever_is_changed_changes_the_print(change):
    one = made()
    parts = {**one.as_dict(), "at": one.at}
    parts[change] = {
        "who": "Ben", "device": "phone", "at": AT + datetime.timedelta(milliseconds=1), "kind": "jar",
        "content": {"field_number": "AB 13"}, "id": new_id(), "order_ms": one.order_ms + 1,
    }[change]  # fmt: skip

    assert one.print != Entry(**parts).print


def test_a_link_depends_on_store_number_forerunner_and_entry():
    base = ("store", 1, FIRST_LINK, "print")
    links = {
        link_hash(*base),
        link_hash("other", *base[1:]),
        link_hash("store", 2, *base[2:]),
        link_hash("store", 1, "f" * 64, "print"),
        link_hash("store", 1, FIRST_LINK, "other"),
    }

    assert 5 == len(links)


def test_an_entry_goes_over_a_wire_and_back():
    one = made()

    assert one == Entry.from_dict(one.as_dict())


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"at": "2026-03-14T21:05:00"}, "offset"),
        ({"at": "yesterday"}, "moment"),
        ({"id": "AB-12"}, "UUID"),
        ({"who": 7}, "who"),
        ({"content": []}, "content"),
        ({"order_ms": -7}, "order_ms"),
        ({"sudo": 1}, "sudo"),
    ],
)
def test_a_bad_part_on_the_wire_is_said(change, word):
    with pytest.raises(FindingsError, match=word):
        Entry.from_dict({**made().as_dict(), **change})


def test_all_bad_parts_are_said_at_once():
    with pytest.raises(FindingsError) as problem:
        Entry.from_dict({"id": 1, "at": 2})

    assert {"id", "device", "who", "at", "kind", "content"} == {finding.field for finding in problem.value.findings}


ANIMAL = new_id()


@pytest.mark.parametrize(
    ("kind", "content", "word"),
    [
        ("animal", {}, "field_number"),
        ("animal", {"field_number": "A 1", "form": "dragon"}, "form"),
        ("animal", {"field_number": "A 1", "colour": "red"}, "colour"),
        ("animal", {"field_number": "A 1", "kept_at_c": "cold"}, "kept_at_c"),
        ("animal", {"field_number": "A 1", "kept_at_c": 400}, "kept_at_c"),
        ("animal", {"field_number": "A 1", "died_at": "2026-03-14T21:05"}, "offset"),
        ("animal", {"field_number": "A 1\x00"}, "control"),
        ("animal", {"field_number": "A" * 30_000}, "longer"),
        ("animal", {"field_number": "A 1", "count": 1.5}, "whole"),
        ("animal", {"field_number": "A 1", "count": True}, "whole"),
        ("animal", {"field_number": "A 1", "found_dead": "yes"}, "found_dead"),
        ("measurement", {"values": {"length_mm": 3}}, "animal"),
        ("measurement", {"animal": ANIMAL, "values": {"beauty": 3}}, "beauty"),
        ("measurement", {"animal": ANIMAL, "values": {"length_mm": float("nan")}}, "number"),
        ("measurement", {"animal": "AB 12", "values": {"length_mm": 3}}, "id"),
        ("condition", {"firmness": "firm"}, "about nothing"),
        ("event", {"number": "E1", "when": "2026-02-30"}, "no such day"),
        ("event", {"number": "E1", "when": "14/3/2026"}, "ISO"),
        ("event", {"number": "E1", "when": "2026-03-14/12"}, "no such day"),
        ("correction", {"entry": ANIMAL, "of_kind": "animal", "reason": "slip"}, "sets a value"),
        ("correction", {"entry": ANIMAL, "of_kind": "animal", "set": {"form": "x"}, "reason": "slip"}, "form"),
        ("correction", {"entry": ANIMAL, "of_kind": "animal", "set": {"animal": ANIMAL}, "reason": "a"}, "another"),
        ("correction", {"entry": ANIMAL, "of_kind": "measurement", "set": {"values": None}, "reason": "a"}, "empty"),
        ("number_block", {"series": ANIMAL, "device": "a", "first": 9, "last": 8}, "before"),
        ("temperatures", {"trip": ANIMAL, "at": ["2026-03-14T21:05Z"], "temperature_c": {"values": []}}, "one temper"),
        ("place", {"name": "x", "uncertainty_m": 0}, "uncertainty_m"),
        ("haunting", {}, "no such kind"),
    ],
)
def test_content_that_does_not_fit_is_said(kind, content, word):
    assert word in said(made(kind, content))


def test_a_writer_without_a_name_is_said():
    assert "who wrote it" in " ".join(f.sentence() for f in findings_of(Entry("jar", {"number": "1"}, " ", "x", AT)))


@pytest.mark.parametrize("when", ["2026", "2026-03", "2026-03-14", "2026-03-14T21:05+02:00", "2007-11-13/15",
                                  "2026-03-14/2026-04-02", "2026-03-14T21Z", "2026-12-30/2027-01-02"])  # fmt: skip
def test_dates_of_the_standard_are_taken(when):
    # Forms shown in the examples of Darwin Core's eventDate (list of 2026-05-26).
    assert "" == said(made("event", {"number": "E 1", "when": when}))


def test_every_field_that_names_a_thing_names_a_kind_there_is():
    assert {f.to for kind in KINDS.values() for f in kind.fields.values() if f.to} <= set(THINGS)


def test_an_entry_is_about_what_it_names_and_a_thing_about_itself():
    trip, jar = new_id(), new_id()
    entry = made("sign_off", {"animals": [ANIMAL, trip], "jar": jar})

    assert (("animal", ANIMAL), ("animal", trip), ("jar", jar)) == subjects("sign_off", entry.id, entry.content)
    assert (("animal", entry.id),) == subjects("animal", entry.id, {"field_number": "A"})
    assert (("animal", ANIMAL),) == subjects("animal", entry.id, {"animal": ANIMAL})
