"""Cautions come when what they name is the case, and a slip in a file of one's own is found."""

from __future__ import annotations

import re

import pytest

from keepfast.book.animals import CONDITIONS
from keepfast.findings import FindingsError
from keepfast.plan.objects import ROUNDS
from keepfast.rules import cautions
from keepfast.terms import FORMS

FIELD = cautions.load()

HEAD = 'title = "ours"\ndate = 2026-01-01\nsubject = "cautions"\n'
ONE = """
[[cautions]]
key = "one"
text = "Mind it."
reason = "It matters."
source = "us"
known = "assumption"
called_up_by = { rounds = ["fill"] }
"""


def keys(**circumstances: object) -> set[str]:
    return {c.key for c in cautions.called_up(FIELD, **circumstances)}  # type: ignore[arg-type]


def test_the_words_of_the_house_are_the_words_of_plan_and_book():
    assert ROUNDS == cautions.ROUNDS


def test_every_round_has_cautions_of_its_own():
    for name in ROUNDS:
        assert keys(round=name, fluid="formalin", form="frog"), name


def test_nothing_given_calls_up_nothing():
    assert cautions.called_up(FIELD) == ()


def test_a_line_that_is_named_but_not_given_is_not_met():
    assert "eye_rinse_ready" not in keys(round="before")
    assert "eye_rinse_ready" in keys(round="before", fluid="formalin")
    assert "eye_rinse_ready" not in keys(round="before", fluid="alcohol")


def test_several_words_may_be_given_at_once():
    found = keys(form=["snake", "turtle"], condition={"bloated", "venomous"})
    assert {"fangs_after_death", "jaws_of_turtles", "gas_under_pressure"} <= found
    assert "fangs_after_death" not in keys(form="snake", condition="bloated")
    assert "skin_secretions" not in found


def test_the_hazards_that_the_work_has_are_all_there():
    """Needles, back-spray, skin and eyes, flames, zoonoses, fangs, disinfection, spills, first aid, waste."""
    everything = cautions.called_up(
        FIELD,
        round=ROUNDS,
        form=FORMS,
        fluid=cautions.FLUIDS,
        place=cautions.PLACES,
        condition=[*CONDITIONS, "hot", "venomous"],
        step=["first_aid", "spill", "disinfect", "waste", "clean", "mix", "decant", "rinse", "tissue"],
    )
    assert everything == FIELD.cautions  # nothing in the file is beyond reach
    assert {
        "needles",
        "back_spray",
        "formalin_in_eyes",
        "formalin_on_skin",
        "alcohol_and_flames",
        "salmonella",
        "fangs_after_death",
        "disinfect_between_sites",
        "formalin_spill",
        "needle_stick",
        "waste",
        "smell_is_no_alarm",
    } <= {c.key for c in everything}


def test_no_caution_promises_safety_or_names_a_killing_dose():
    """The words are below, near, above; an agent or a dose for killing never appears."""
    banned = re.compile(r"\bsafe(ly)?\b|mg/kg|overdose|inject\w* to kill", re.IGNORECASE)
    for caution in FIELD:
        assert banned.search(caution.text) is None, caution.key
        assert banned.search(caution.reason) is None, caution.key
        assert "!" not in caution.text + caution.reason, caution.key


def test_a_caution_is_short_enough_to_be_read_by_headlamp():
    for caution in FIELD:
        assert len(caution.text) <= 220, (caution.key, len(caution.text))


def test_bleach_keeps_product_and_dilution_apart():
    """A bare '3 %' must not pass: the share of the product is one number, the product's own strength another."""
    rows = [d for d in FIELD.disinfectants if "bleach" in d.agent and d.against == "ranavirus"]
    assert [(3.0, True), (1.0, False)] == [(d.dilution_percent_v_v, d.works) for d in rows]  # Bryan et al. 2009
    assert all(d.product_strength_percent is None for d in rows)  # not seen, so not invented
    ethanol = next(d for d in FIELD.disinfectants if d.agent == "ethanol")
    assert (70.0, 100.0) == (ethanol.product_strength_percent, ethanol.dilution_percent_v_v)


def test_a_file_of_ones_own_is_read(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(HEAD + ONE, encoding="utf-8")
    loaded = cautions.load(own)
    assert ["one"] == [c.key for c in loaded]
    assert "rounds: fill" == loaded.of("one").called_up_by
    with pytest.raises(KeyError):
        loaded.of("two")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (ONE.replace('"fill"', '"fil"'), "this word means nothing here"),
        (ONE.replace("rounds", "round"), "this key means nothing here"),
        (ONE.replace('"assumption"', '"guess"'), "agreed words"),
        (ONE.replace('source = "us"\n', ""), "source is missing"),
        (ONE.replace('{ rounds = ["fill"] }', "{}"), "nothing calls this caution up"),
        (ONE.replace('["fill"]', '"fill"'), "list of words"),
        (ONE.replace('"one"', '"One !"'), "small letters"),
        (ONE + ONE, "two cautions have this key"),
        ("", "holds no caution"),
        ('cautions = "none"\n', "list of tables"),
        (ONE + '[[disinfectants]]\nagent = "x"\nagainst = "y"\nsource = "z"\nknown = "read"\n', "works is missing"),
        (
            ONE + '[[disinfectants]]\nagent = "x"\nagainst = "y"\nworks = true\nsource = "z"\nknown = "read"\n'
            "dilution_percent_v_v = 300\n",
            "at most 100",
        ),
    ],
)
def test_a_slip_in_a_file_of_ones_own_is_found(tmp_path, change, says):
    own = tmp_path / "own.toml"
    own.write_text(HEAD + change, encoding="utf-8")
    with pytest.raises(FindingsError) as problem:
        cautions.load(own)
    assert any(says in f.sentence() for f in problem.value.findings)


def test_all_slips_are_told_at_once(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(HEAD + ONE.replace('"fill"', '"fil"').replace('source = "us"\n', ""), encoding="utf-8")
    with pytest.raises(FindingsError) as problem:
        cautions.load(own)
    assert 2 == len(problem.value.findings)
