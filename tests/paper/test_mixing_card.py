"""The printed mixing card: everything on one sheet, the amounts twice, nothing cut off."""

from __future__ import annotations

import pypdfium2
import pytest

from keepfast.paper import mixing_card, pdf
from keepfast.plan import mixing, mixing_formalin
from keepfast.rules import cautions, fluids
from keepfast.science import formalin

RULES = fluids.load()


def alcohol_card(**more: object) -> mixing.MixingCard:
    called = cautions.called_up(cautions.load(), step=("mix", "decant"), fluid="alcohol")
    return mixing.alcohol_card(96.0, 70.0, 12_000.0, 31.0, RULES, RULES.vessels, called, **more)  # type: ignore[arg-type]


def formalin_card(key: str = "phosphate") -> mixing.MixingCard:
    called = cautions.called_up(cautions.load(), step="mix", fluid="formalin")
    return mixing_formalin.formalin_card(
        formalin.stock(37.0, "w/w", 10.0),
        5000.0,
        28.0,
        mixing_formalin.buffer_for(RULES.buffer(key)),
        RULES,
        RULES.vessels,
        called,
        formalin_percent=10.0,
        bottle="37 % w/w",
    )


def powder_card() -> mixing.MixingCard:
    buffer = mixing_formalin.buffer_for(RULES.buffer("phosphate"))
    return mixing_formalin.paraformaldehyde_card(4.0, 1000.0, 95.0, 20.0, buffer, RULES, RULES.vessels)


CARDS = {
    "alcohol": alcohol_card(),
    "denatured": alcohol_card(denatured=True),
    "powder": powder_card(),
    "weighed": mixing.alcohol_card(96.0, 70.0, 12_000.0, 31.0, RULES, (fluids.Vessel("20 L", 20_000.0, 5000.0),)),
    **{key: formalin_card(key) for key in ("phosphate", "borax", "marble", "seawater", "none")},
}


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", CARDS)
def test_every_card_is_one_sheet(name: str, paper: str) -> None:
    assert len(mixing_card.pages(CARDS[name], paper)) == 1


@pytest.mark.parametrize("name", CARDS)
def test_everything_on_the_card_is_on_the_paper(name: str) -> None:
    card = CARDS[name]
    (page,) = mixing_card.pages(card)
    words = " ".join(" ".join(page.words()).replace("\u00a0", " ").split())
    for text in (
        card.title,
        card.label,
        *card.doubts,
        *(r.words for r in card.readings),
        *(c.when for c in card.corrections),
        *(c.text for c in card.cautions),
        *(p.what for p in card.portions),
        *card.steps,
    ):
        assert " ".join(text.split()) in words


def test_amounts_stand_twice_as_figure_and_in_the_drawing() -> None:
    (page,) = mixing_card.pages(CARDS["alcohol"])
    words = list(page.words())
    assert words.count("8.76 L") >= 2
    assert words.count("3.54 L") >= 2


def test_the_vessel_stands_as_it_is_poured() -> None:
    """Stock first and lowest for alcohol, water first and lowest for formalin; a thin layer still holds its figure."""
    for name, lowest in (("alcohol", "8.76 L"), ("phosphate", "4.5 L")):
        vessel = mixing_card.draw_vessel(CARDS[name])
        heights = {item.words: item.y for item in vessel.items if hasattr(item, "words")}
        amounts = {w: y for w, y in heights.items() if w[0].isdigit()}
        assert max(amounts, key=lambda w: amounts[w]) == lowest


def test_the_printed_file_says_what_the_card_says() -> None:
    document = pypdfium2.PdfDocument(pdf.render(mixing_card.pages(CARDS["phosphate"])))
    text = document[0].get_textpage().get_text_bounded()
    assert "NaH2PO4.H2O" in text
    assert "500 mL" in text
