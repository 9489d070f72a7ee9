"""Whatever animals a list holds, their papers can be printed, hold everything, and never overflow."""

import datetime

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from keepfast.book.animals import Animal, usual_length_kind
from keepfast.paper import cards, table_sheet
from keepfast.plan.camp import Camp
from keepfast.plan.evening import Rules, plan_evening
from keepfast.terms import FORMS

START = datetime.datetime(2026, 4, 18, 18, tzinfo=datetime.UTC)
RULES = Rules.load()
# Lengths from hatchlings to the largest that a camp table meets, and masses from slender to stout at that length.
LENGTHS = {
    "lizard": (15, 700),
    "legless_lizard": (60, 900),
    "snake": (120, 4500),
    "amphisbaenian": (60, 700),
    "turtle": (25, 700),
    "crocodilian": (100, 1500),
    "frog": (8, 300),
    "salamander": (15, 900),
    "caecilian": (70, 1400),
    "larva": (6, 200),
    "egg_clutch": (1.5, 60),
}
NAMES = st.sampled_from(
    [
        "",
        "Rana",
        "Psammodromus algirus",
        "Salamandra salamandra longirostris",
        "Psychrophrynella sp. nov. aff. chirihampatu",
    ]
)
NUMBERS = st.from_regex(r"[A-Z]{1,6}[- ]?[0-9]{1,6}(-[A-Z0-9])?", fullmatch=True)


@st.composite
def animals(draw: st.DrawFn) -> Animal:
    form = draw(st.sampled_from(FORMS))
    length = draw(st.floats(*LENGTHS[form]))
    # A cylinder of water's density, slender to stout for its form.
    long_bodied = form in ("snake", "legless_lizard", "amphisbaenian", "caecilian")
    across = draw(st.floats(0.012, 0.06) if long_bodied else st.floats(0.05, 0.33)) * length
    mass = max(0.05, 0.7 * length * across**2 * 0.785 / 1000)
    return Animal(
        field_number=draw(NUMBERS),
        form=form,
        taxon=draw(NAMES),
        sex=draw(st.sampled_from(["male", "female", "unknown"])),
        length_mm=round(length, 1),
        length_kind=usual_length_kind(form),
        tail_state=draw(st.sampled_from(["whole", "broken", "regrown"])),
        mass_g=round(mass, 3),
        reproductive_state=draw(st.sampled_from(["none", "follicles", "eggs"])),
        gut=draw(st.sampled_from(["", "empty", "full"])),
        condition=draw(st.sampled_from(["fresh", "rigor", "iced", "alive", "frozen", "bloated", "decaying"])),
        died_at=draw(st.sampled_from([None, START - datetime.timedelta(hours=3)])),
        count=draw(st.integers(1, 400)) if form == "egg_clutch" else 1,
    )


@settings(
    max_examples=20,
    deadline=None,
    phases=(Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(
    st.lists(animals(), min_size=1, max_size=4, unique_by=lambda a: a.field_number),
    st.sampled_from(["a4", "letter"]),
    st.booleans(),
)
def test_any_list_of_animals_becomes_papers(listed: list[Animal], paper: str, learner: bool) -> None:
    plan = plan_evening(listed, Camp(), RULES, start=START, size=20)
    pages = cards.draw(plan, paper, learner)
    assert {one.field_number for one in listed} == {page.card for page in pages}
    assert all(front.card == back.card for front, back in zip(pages[::2], pages[1::2], strict=True))
    for one in plan.animals:
        words = [w for page in pages if page.card == one.animal.field_number for w in page.words()]
        thinned = any("A dot is a filling too" in w for w in words)
        for filling in one.injections:
            assert f"{filling.number}" in words or thinned
    on_table = [w for page in table_sheet.draw(plan, paper) for w in page.words()]
    assert all(number in on_table for number in plan.table.order)
    text = table_sheet.text(plan) + cards.text(plan, learner)
    assert all(one.field_number in text for one in listed)
