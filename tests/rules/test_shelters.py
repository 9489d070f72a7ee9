"""Places and what is taken of their air: the worst case first, and said to be an assumption."""

from __future__ import annotations

import pytest

from keepfast.findings import FindingsError
from keepfast.plan.camp import SHELTERS
from keepfast.rules import cautions, shelters

FIELD = shelters.load()
SHIPPED = (shelters.sources.FOLDER / "shelters" / "field.toml").read_text(encoding="utf-8")


def test_every_place_of_a_camp_and_of_a_caution_is_known():
    assert set(SHELTERS) <= set(FIELD.shelters)
    assert set(FIELD.shelters) == set(cautions.PLACES)


def test_no_work_with_open_fixative_in_a_closed_tent_or_a_vehicle():
    assert {"tent_closed", "vehicle"} == {key for key, place in FIELD.shelters.items() if place.do_not_work}


def test_nobody_has_measured_a_tent_and_the_file_says_so():
    for key, place in FIELD.shelters.items():
        if key.startswith("tent"):
            assert place.known == "assumption"
        if place.question:
            assert place.question.count("?") == 1
    for key in ("tent", "tent_one_flap", "tent_two_flaps"):
        assert "Nobody has published" in FIELD.shelters[key].question


def test_published_air_changes_of_houses_stand_in_for_tents():
    """Howard-Reed 2002: 0.41 an hour shut, 0.15 to 0.85 by weather; Johnson 2004: 1.51 with one opening (read)."""
    assert (0.41, 1.51) == FIELD.shelters["tent"].air_changes_per_h
    assert (0.15, 0.85) == FIELD.shelters["tent_closed"].air_changes_per_h
    assert 0.06 == FIELD.shelters["open"].air_speed_m_s[0]  # still air, the worst case


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("volume_m3 = 12.0", 'volume_m3 = "large"', "volume_m3 must be a number above 0"),
        ("air_changes_per_h = [0.41, 1.51]", "air_changes_per_h = [1.51, 0.41]", "the smaller first"),
        ("air_changes_per_h = [0.41, 1.51]", "", "swept by the breeze or is a room"),
        ("section_m2 = 4.0", "section_m2 = 4.0\nair_changes_per_h = [1.0, 2.0]", "swept by the breeze or is a room"),
        ("air_speed_m_s = [0.06, 0.3]", "", "air_speed_m_s is missing"),
        ('key = "face_m"', 'key = "nose_m"', "an assumption is missing"),
        ("value = 0.5", "value = 0", "value must be a number above 0"),
        ('words = "in the open"', "", "words is missing"),
        ('known = "assumption"', 'known = "guess"', "agreed words"),
        ("section_m2 = 4.0", "section = 4.0", "this key means nothing here"),
    ],
)
def test_a_slip_in_a_file_of_ones_own_is_found(tmp_path, old, new, says):
    own = tmp_path / "own.toml"
    assert old in SHIPPED
    own.write_text(SHIPPED.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(FindingsError) as problem:
        shelters.load(own)
    assert any(says in f.sentence() for f in problem.value.findings)


def test_an_empty_file_is_told_what_it_lacks(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text('title = "x"\ndate = 2026-01-01\nsubject = "shelters"\n', encoding="utf-8")
    with pytest.raises(FindingsError) as problem:
        shelters.load(own)
    assert any("holds no shelters" in f.sentence() for f in problem.value.findings)
