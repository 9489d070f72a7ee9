"""The limits of the checks are data: the shipped file, one of one's own, and what is wrong in one."""

from importlib import resources

import pytest

from keepfast.findings import FindingsError
from keepfast.rules import checks
from keepfast.terms import FORMS

SHIPPED = resources.files("keepfast.rules") / "checks" / "field.toml"


def test_the_shipped_limits_are_those_of_the_published_draft():
    # TDWG Biodiversity Data Quality tests, draft of 2026-06-03, default parameters.
    rules = checks.load()

    assert (1, 20_037_509) == tuple(rules.number("published", f"uncertainty_{end}_m") for end in ("low", "high"))
    assert (-430, 8850) == tuple(rules.number("published", f"elevation_{end}_m") for end in ("low", "high"))
    assert (0, 11_000) == tuple(rules.number("published", f"depth_{end}_m") for end in ("low", "high"))
    assert ("1582-11-15", "1753-01-01") == tuple(
        rules.date("published", name).isoformat() for name in ("event_earliest", "identified_earliest")
    )


def test_the_words_are_those_of_the_published_lists():
    # GBIF thesauri of sex (4 values), basisOfRecord (9) and degreeOfEstablishment (11), TDWG pathway (53).
    rules = checks.load()

    assert {"male", "female", "hermaphrodite", "undetermined"} == rules.words("vocabularies", "sex")
    assert 9 + 2 == len(rules.words("vocabularies", "basis_of_record"))
    assert 11 == len(rules.words("vocabularies", "degree_of_establishment"))
    assert 53 == len(rules.words("vocabularies", "pathway"))


def test_tails_are_known_for_forms_there_are():
    rules = checks.load()

    assert set(rules.tails) <= set(FORMS)
    assert all(0 <= low < high for low, high in rules.tails.values())


def test_a_file_of_ones_own_is_taken(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(SHIPPED.read_text(encoding="utf-8").replace("fastest_km_h = 120.0", "fastest_km_h = 60"))

    assert 60 == checks.load(own).number("travel", "fastest_km_h")
    assert "own" == checks.load(own).identity["name"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("fastest_km_h = 120.0", 'fastest_km_h = "fast"'), "travel.fastest_km_h"),
        (("fastest_km_h = 120.0", "fastest = 120.0"), "means nothing here"),
        (("event_earliest = 1582-11-15", "event_earliest = 1582"), "a date"),
        (('stages = ["juvenile"', 'stages = [7, "juvenile"'), "a list of words"),
        (("[travel]\n", "[voyage]\n"), "Write [travel]"),
        (('form = "snake"\nlow = 0.01', 'form = "snake"'), "needs form, low and high"),
        (("spread_sd = 3.0", "spread_sd = true"), "mass.spread_sd"),
    ],
)
def test_what_is_wrong_in_a_file_is_said(tmp_path, change, words):
    own = tmp_path / "own.toml"
    text = SHIPPED.read_text(encoding="utf-8")
    assert change[0] in text
    own.write_text(text.replace(*change))

    with pytest.raises(FindingsError) as problem:
        checks.load(own)
    assert words in str(problem.value)
