"""Tonight's cautions: each where its hazard arises, none without its words, none for what is not there."""

from __future__ import annotations

import datetime

import pytest

from keepfast.book.animals import Animal
from keepfast.plan.camp import Camp
from keepfast.plan.cautions import AFTERWARDS, by_round
from keepfast.plan.evening import Rules, plan_evening
from keepfast.plan.objects import ROUNDS, EveningPlan
from keepfast.rules import cautions as rules

RULES = Rules.load()
START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=datetime.UTC)
OWN = """
title = "ours"
date = 2026-01-01
subject = "cautions"

[[cautions]]
key = "fume_hood"
text = "The sash at the mark."
reason = "Above it the hood no longer pulls."
source = "us"
known = "assumption"
called_up_by = { rounds = ["fill", "pose", "cover"], places = ["room"] }
"""


def planned(*animals: Animal, **camp: object) -> EveningPlan:
    return plan_evening(list(animals), Camp().stating(**{"temperature_c": 20.0, **camp}), RULES, start=START, size=50)


def snake(number: str = "A-1", taxon: str = "Vipera latastei", **given: object) -> Animal:
    return Animal(
        number, "snake", **{"taxon": taxon, "length_mm": 500.0, "mass_g": 90.0, "condition": "fresh", **given}
    )


def lizard(number: str = "A-2", **given: object) -> Animal:
    return Animal(number, "lizard", **{"length_mm": 90.0, "mass_g": 20.0, "condition": "fresh", **given})


def keys(plan: EveningPlan) -> dict[str, str]:
    return {caution.key: caution.round for caution in plan.table.cautions}


def test_no_step_names_a_caution_whose_words_the_table_does_not_hold() -> None:
    """A card takes the words from the table: those of beaded lizards, and of bodies not for fluid, are among them."""
    plan = planned(
        lizard("A-1", taxon="Heloderma horridum", mass_g=700.0, length_mm=300.0),
        snake("A-2", taxon="Natrix maura", condition="decaying"),
        Animal("A-3", "frog", length_mm=40.0, mass_g=8.0, condition="alive"),
        temperature_c=34.0,
    )
    called = {key for one in plan.animals for step in one.steps for key in step.cautions}
    assert {"beaded_lizards", "gas_under_pressure", "fresh_gloves_per_amphibian", "heat_and_vapour"} <= called
    assert called <= set(keys(plan))
    assert not plan.of("A-2").fit_for_fluid


@pytest.mark.parametrize(
    ("taxon", "warned"), [("Vipera latastei", True), ("", True), ("Serpentes", True), ("Natrix maura", False)]
)
def test_fangs_are_spoken_of_where_there_may_be_venom(taxon: str, warned: bool) -> None:
    """Venomous, or not named with certainty: a caution that does not fit teaches people to pass over cautions."""
    plan = planned(snake(taxon=taxon))
    for key in ("fangs_after_death", "bite_plan", "bites_first_aid"):
        assert warned == (key in keys(plan)), key
    if warned:
        assert "before" == keys(plan)["fangs_after_death"]
        assert AFTERWARDS == keys(plan)["bites_first_aid"]


def test_the_kinds_of_different_animals_are_not_mixed() -> None:
    """A living lizard beside a dead frog does not call up what a living frog would."""
    plan = planned(lizard(condition="alive"), Animal("A-3", "frog", length_mm=40.0, mass_g=8.0, condition="fresh"))
    assert "fresh_gloves_per_amphibian" not in keys(plan)
    assert "skin_secretions" in keys(plan)
    assert "jaws_of_turtles" not in keys(plan)


def test_each_stands_in_the_round_where_its_hazard_arises() -> None:
    plan = planned(snake(), lizard())
    found = keys(plan)
    for key, name in {
        "eye_rinse_ready": "before",
        "salmonella": "before",
        "tissue_and_germs": "before",
        "alcohol_and_flames": "before",  # the tissue's
        "needles": "prick",
        "back_spray": "fill",
        "smell_is_no_alarm": "fill",
        "waste_at_covering": "cover",
        "formalin_in_eyes": AFTERWARDS,
        "formalin_spill": AFTERWARDS,
        "waste": AFTERWARDS,
    }.items():
        assert name == found[key], key
    assert "heat_and_vapour" not in found
    groups = by_round(plan.table.cautions)
    assert [name for name, _found in groups] == [n for n in (*ROUNDS, AFTERWARDS) if n in set(found.values())]
    assert len(found) == sum(len(cautions) for _name, cautions in groups)


@pytest.mark.parametrize(("temperature_c", "hot"), [(29.9, False), (30.0, True)])
def test_heat_is_spoken_of_before_the_bottle_is_opened(temperature_c: float, hot: bool) -> None:
    found = keys(planned(lizard(), temperature_c=temperature_c))
    assert hot == ("heat_and_vapour" in found)
    if hot:
        assert "before" == found["heat_and_vapour"]


def test_a_closed_tent_is_warned_of_before_anything_else_is_done() -> None:
    assert "before" == keys(planned(lizard(), shelter="tent_closed"))["closed_places"]
    assert "closed_places" not in keys(planned(lizard(), shelter="tent"))


def test_no_fixative_no_caution_about_it() -> None:
    """A body for the skeleton meets no formalin tonight, but its tissue meets alcohol."""
    found = keys(planned(snake(taxon="Natrix maura", condition="decaying")))
    assert "formalin_in_eyes" not in found
    assert "lids_on" not in found
    assert {"alcohol_and_flames", "alcohol_spill", "needle_stick", "tissue_and_germs"} <= set(found)


def test_a_caution_of_ones_own_is_called_by_round_and_place(tmp_path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(OWN, encoding="utf-8")
    ours = Rules(RULES.protocols, RULES.evening, rules.load(own))
    for shelter, there in (("room", True), ("open", False)):
        plan = plan_evening([lizard()], Camp().stating(shelter=shelter), ours, start=START, size=50)
        assert there == ("fume_hood" in keys(plan))
        if there:
            assert "fill" == keys(plan)["fume_hood"]
            assert any("fume_hood" in step.cautions for step in plan.animals[0].steps if step.round == "fill")


def test_each_says_how_it_is_known() -> None:
    assert all(caution.known and caution.source for caution in planned(snake()).table.cautions)
