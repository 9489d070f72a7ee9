"""Limits are dated rows that stay as published; a slip in a file of one's own is found."""

from __future__ import annotations

import datetime

import pytest

from keepfast.findings import FindingsError
from keepfast.rules import limits
from keepfast.terms import KNOWN

AIR = limits.load()
TODAY = datetime.date(2026, 4, 18)

HEAD = 'title = "ours"\ndate = 2026-01-01\nsubject = "limits"\n[bodies]\nus = "Our museum"\n'
ONE = """
[[limits]]
substance = "formaldehyde"
body = "us"
binding = true
minutes = 15
value = 0.2
unit = "ppm"
source = "a decision of the museum"
known = "assumption"
"""


def value_of(body, minutes, on=TODAY, **more):
    (row,) = AIR.of("formaldehyde", minutes, body=body, on=on, **more)
    return row.value, row.unit


@pytest.mark.parametrize(
    ("expected", "body", "minutes"),
    [
        ((0.75, "ppm"), "us_osha", 480),  # 29 CFR 1910.1048(c), read
        ((2.0, "ppm"), "us_osha", 15),
        ((0.016, "ppm"), "us_niosh", 480),  # NIOSH Pocket Guide, read
        ((0.1, "ppm"), "us_niosh", 15),
        ((0.1, "ppm"), "acgih", 480),  # notice of intended change 2016, read
        ((0.37, "mg/m3"), "eu", 480),  # (EU) 2019/983, annex with the proposal, read
        ((0.74, "mg/m3"), "eu", 15),
        ((0.3, "ppm"), "germany", 480),  # read
        ((1.0, "ppm"), "australia", 480),  # NICNAS 2006, read
        ((0.5, "ppm"), "korea", 480),  # as quoted in 2016, read
    ],
)
def test_rows_are_as_published(expected, body, minutes):
    assert expected == value_of(body, minutes)


def test_what_has_ended_is_not_in_force():
    """ACGIH's ceiling of 0.3 ppm stood from 1992; the European 0.62 mg/m3 for some trades ended on 11 July 2024."""
    (ceiling,) = AIR.of("formaldehyde", 15, body="acgih", on=datetime.date(2000, 1, 1))
    assert "ceiling" in ceiling.note
    assert 0.3 == ceiling.value
    health = "health care, funeral and embalming"
    before = AIR.of("formaldehyde", 480, body="eu", on=datetime.date(2023, 1, 1), sector=health)
    assert [0.37, 0.62] == sorted(row.value for row in before)
    assert [0.37] == [row.value for row in AIR.of("formaldehyde", 480, body="eu", on=TODAY, sector=health)]
    assert [0.37] == [row.value for row in AIR.of("formaldehyde", 480, body="eu", on=datetime.date(2023, 1, 1))]


def test_advice_is_not_law():
    binding = {row.body: row.binding for row in AIR.limits}
    assert not binding["us_niosh"]
    assert not binding["acgih"]
    assert binding["us_osha"]
    assert binding["eu"]


def test_both_fluids_have_limits_and_every_row_its_source():
    assert "us_osha" in AIR.bodies_of("ethanol", TODAY)
    assert all(row.source and row.known in KNOWN for row in AIR.limits)


def test_a_museum_brings_its_own(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(HEAD + ONE, encoding="utf-8")
    (row,) = limits.load(own).of("formaldehyde", 15, on=TODAY)
    assert (0.2, "Our museum") == (row.value, row.body_name)
    assert row.as_dict()["in_force_from"] is None


DUTY = """
[[duties]]
substance = "formaldehyde"
body = "us"
trigger = "air"
minutes = 480
value = 0.1
unit = "ppm"
words = "open the window"
source = "a decision of the museum"
known = "assumption"
"""


def test_duties_hang_on_a_figure(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(HEAD + ONE + DUTY, encoding="utf-8")
    (duty,) = limits.load(own).duties
    assert ("open the window", 480.0) == (duty.words, duty.minutes)
    shipped = {(d.body, d.trigger, d.value) for d in AIR.duties}
    assert ("us_osha", "solution", 0.1) in shipped  # OSHA letter of 11 January 2024, read
    assert ("us_osha", "air", 0.5) in shipped  # 29 CFR 1910.1048(c), read


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (ONE.replace('"ppm"', '"ppb"'), "published in"),
        (ONE.replace('body = "us"', 'body = "them"'), "no name in [bodies]"),
        (ONE.replace("value = 0.2", "value = -0.2"), "value must be a number above 0"),
        (ONE.replace("minutes = 15", "minutes = true"), "minutes must be a number above 0"),
        (ONE.replace("binding = true", 'binding = "yes"'), "binding must say true"),
        (ONE.replace("value", "worth"), "this key means nothing here"),
        (ONE + 'in_force_from = "2020"\n', "must be a date"),
        (ONE + "in_force_from = 2024-01-01\nin_force_to = 2023-01-01\n", "cannot end before it begins"),
        (ONE.replace('"assumption"', '"hearsay"'), "agreed words"),
        ("", "holds no limit"),
        (ONE + DUTY.replace('"air"', '"smell"'), "this word means nothing here"),
        (ONE + DUTY.replace("minutes = 480\n", ""), "minutes must be a number above 0"),
        (ONE + DUTY.replace('words = "open the window"\n', ""), "words is missing"),
        (ONE + DUTY.replace("value", "worth"), "this key means nothing here"),
    ],
)
def test_a_slip_is_found(tmp_path, change, says):
    own = tmp_path / "own.toml"
    own.write_text(HEAD + change, encoding="utf-8")
    with pytest.raises(FindingsError) as problem:
        limits.load(own)
    assert any(says in f.sentence() for f in problem.value.findings)
