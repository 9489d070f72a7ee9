"""One body as a picture of its own: whose it is, how it is drawn, the sites to be filled, and the part most at risk."""

from __future__ import annotations

from keepfast.paper import bodies
from keepfast.paper.cards import leading_region
from keepfast.paper.page import Page
from keepfast.paper.wording import body_words, doing_words, mass_words
from keepfast.plan.objects import AnimalPlan
from keepfast.words import _

_NUMBER_PT, _LEAST_PT, _WORDS_PT = 24.0, 10.0, 10.0


def draw(animal: AnimalPlan, *, width_mm: float = 180.0, height_mm: float = 250.0) -> Page:
    """
    The picture, as high as it needs.

    Parameters
    ----------
    width_mm, height_mm : float
        The picture's width, and the most that the drawing may take. [mm]

    Raises
    ------
    PaperError
        If the body fits at no scale, or a word fits no line.
    """
    number = animal.animal.field_number
    sketch = bodies.draw(
        animal.body,
        width_mm=width_mm,
        height_mm=height_mm,
        pricks=animal.pricks,
        injections=animal.injections,
        regions=leading_region(animal),
        card=number,
    )
    # Drawn on a long page first: how many lines the words take is only known then.
    page = Page(width_mm, sketch.page.height_mm + 120.0, card=number, title=_("drawing of the body"))
    # Where it cannot be written, the file's name says it: a plan is made for the animal all the same.
    page.name(0, 8.0, number, size_pt=_NUMBER_PT, least_pt=_LEAST_PT, room_mm=width_mm, field=_("field number"))
    said = f"{body_words(animal)}; {mass_words(animal)}. {doing_words(animal)}"
    y = page.paragraph(0, 10.5, width_mm, said, size_pt=_WORDS_PT, field=_("drawing of the body")) + 2.0
    page.place(sketch.page, 0, y)
    y += sketch.page.height_mm + 2.0
    y = page.paragraph(0, y, width_mm, " ".join(sketch.notes), size_pt=_WORDS_PT, field=_("drawing of the body"))
    page.height_mm = y + 2.0
    return page
