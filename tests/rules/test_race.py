"""The rules of the race can be replaced, and say all that is wrong with them at once."""

import pytest

from keepfast.findings import FindingsError
from keepfast.rules import race, sources


def shipped_text() -> str:
    return (sources.FOLDER / "race" / "field.toml").read_text(encoding="utf-8")


def test_the_shipped_rules_are_sound():
    rules = race.load()

    assert race.REGIONS == tuple(region.key for region in rules.regions)
    assert "field" == rules.identity["name"]
    assert rules.words[-1].at_least == 0


def test_a_share_of_draws_has_its_word():
    rules = race.load()

    assert ["holds", "likely", "doubtful", "at_risk", "losing"] == [
        rules.word_for(share).key for share in (1.0, 0.8, 0.5, 0.2, 0.0)
    ]


def test_wet_skins_hinder_little_and_shells_much():
    rules = race.load()

    assert rules.skin("frog")[1][1] < 0.1 < rules.skin("lizard")[1][1] < rules.skin("turtle")[1][1]


def test_a_museum_may_replace_them(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(shipped_text().replace("hours = 96", "hours = 48"), encoding="utf-8")

    assert 48.0 == race.load(own).number("horizon", "hours")


def test_everything_wrong_is_said_at_once(tmp_path):
    own = tmp_path / "own.toml"
    text = shipped_text().replace("hours = 96", 'hours = "long"').replace("low = 0.03", "low = 9.0")
    own.write_text(text.replace("[sheet]", "[sheets]"), encoding="utf-8")

    with pytest.raises(FindingsError) as told:
        race.load(own)
    fields = {f.field for f in told.value.findings}
    assert {"horizon.hours", "stop", "sheets"} <= fields


def test_a_missing_region_is_missed(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(shipped_text().replace('key = "limb"', 'key = "wing"'), encoding="utf-8")

    with pytest.raises(FindingsError, match="these regions are missing: limb"):
        race.load(own)
