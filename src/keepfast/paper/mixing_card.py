"""A mixing card on paper: what to pour drawn as it stands in the vessel, the order of work, the proof, the mending."""

from __future__ import annotations

from keepfast import __version__
from keepfast.paper import type as type_
from keepfast.paper.figures import NBSP
from keepfast.paper.flow import MARGIN_MM, Flow
from keepfast.paper.page import DASHED, FINE, FIRM, HEAVY, Page
from keepfast.plan.amounts import amount, weight
from keepfast.plan.mixing import Correction, MixingCard, Portion, pours_in_words
from keepfast.words import _

VESSEL_WIDE_MM, VESSEL_HIGH_MM = 34.0, 54.0
THINNEST_MM = 5.0  # a layer is never drawn thinner than its words are high
TEXT_PT, SMALL_PT = 11.0, 9.0


def draw_vessel(card: MixingCard, *, wide_mm: float = VESSEL_WIDE_MM, high_mm: float = VESSEL_HIGH_MM) -> Page:
    """
    The vessel as it stands when all is in it: a layer for each liquid in the order of pouring, stock hatched.

    Parameters
    ----------
    card : MixingCard
        What is mixed.
    wide_mm, high_mm : float
        Size of the vessel itself; the amounts stand inside it.

    Returns
    -------
    Page

    Raises
    ------
    PaperError
        If the words do not fit.
    """
    page = Page(wide_mm + 2.0, high_mm + 2.0, card=card.title, title=_("vessel"))
    liquids = [p for p in card.portions if p.poured_ml]
    whole = sum(p.poured_ml or 0.0 for p in liquids)
    left, right, floor = 1.0, 1.0 + wide_mm, 1.0 + high_mm
    room = 0.86 * high_mm  # the rest stays empty, as it should in the drum
    heights = [max(THINNEST_MM, room * (p.poured_ml or 0.0) / whole) for p in liquids]
    heights = [h * room / sum(heights) for h in heights]
    level = floor
    for portion, height in zip(liquids, heights, strict=True):
        corners = [(left, level), (right, level), (right, level - height), (left, level - height)]
        page.line(corners[2:4], width_mm=FINE, dash=DASHED)
        words = amount(portion.poured_ml or 0.0)
        size = type_.largest_pt(words, wide_mm - 8.0, "bold", 15.0, 8.0) or 8.0
        middle = level - height / 2
        base = middle + type_.cap_mm(size, "bold") / 2
        if portion.kind == "stock":
            page.hatch(corners, spacing_mm=2.2)
            clear = type_.width_mm(words, size, "bold") / 2 + 1.4
            half = min(type_.cap_mm(size, "bold") / 2 + 1.4, height / 2 - 0.3)
            centre = (left + right) / 2
            page.box(centre - clear, middle - half, 2 * clear, 2 * half, width_mm=0, fill=0)
        page.text((left + right) / 2, base, words, size_pt=size, face="bold", anchor="middle", field=_("amount"))
        if height > type_.leading_mm(size) + 2 * type_.leading_mm(SMALL_PT):
            name = _("stock") if portion.kind == "stock" else _("water")
            below = base + type_.leading_mm(SMALL_PT) + 1.0
            if portion.kind == "stock":
                half_name = type_.width_mm(name, SMALL_PT) / 2 + 1.0
                page.box(wide_mm / 2 + 1.0 - half_name, below - 3.4, 2 * half_name, 4.4, width_mm=0, fill=0)
            page.text((left + right) / 2, below, name, size_pt=SMALL_PT, anchor="middle", field=_("amount"))
        level -= height
    page.line([(left, 1.0), (left, floor), (right, floor), (right, 1.0)], width_mm=HEAVY)
    return page


def pages(card: MixingCard, paper: str = "a4") -> list[Page]:
    """
    The card on as many sheets as it needs, usually one.

    Parameters
    ----------
    card : MixingCard
        What is mixed.
    paper : str
        a4 or letter.

    Raises
    ------
    PaperError
        If a word does not fit.
    """

    def head(page: Page, number: int) -> float:
        room = page.width_mm - 2 * MARGIN_MM
        title = card.title.replace(" °C", f"{NBSP}°C")
        size = (type_.largest_pt(title, room, "bold", 19.0, 15.0) or 15.0) if number == 1 else 12.0
        y = page.paragraph(MARGIN_MM, MARGIN_MM, room, title, size_pt=size, face="bold", field=_("title"))
        page.line([(MARGIN_MM, y + 1.0), (page.width_mm - MARGIN_MM, y + 1.0)], width_mm=FIRM)
        return y + 4.0

    flow = Flow(paper, _("Mixing card"), head, foot=f"Keepfast {__version__}")
    _take(flow, card)
    flow.heading(_("Do"))
    for n, step in enumerate(card.steps, start=1):
        flow.paragraph(step, lead=f"{n}", size_pt=TEXT_PT, indent_mm=2.0, after_mm=0.8)
    if card.readings:
        flow.heading(_("Prove it"))
        for reading in card.readings:
            flow.paragraph(reading.words, size_pt=TEXT_PT, indent_mm=4.0, bar=True)
    if card.corrections:
        flow.heading(_("If it is off"))
        for correction in card.corrections:
            flow.paragraph(
                mending_words(correction), lead=correction.when, size_pt=TEXT_PT, indent_mm=2.0, after_mm=0.6
            )
    flow.heading(_("Write on it"))
    flow.paragraph(card.label, size_pt=12.0, indent_mm=2.0, after_mm=1.0)
    flow.blanks([(_("Mixed on"), 42.0), (_("by"), 42.0), (_("reading"), 24.0), (_("at °C"), 0.0)])
    if card.doubts or card.cautions:
        flow.heading(_("Doubts and care"))
        for words in (*card.doubts, *(_(caution.text) for caution in card.cautions)):
            flow.paragraph(words, size_pt=SMALL_PT, indent_mm=2.0, after_mm=0.5)
    flow.paragraph("; ".join(card.sources), lead=_("Sources"), size_pt=7.5, indent_mm=2.0)
    return flow.finish()


def mending_words(correction: Correction) -> str:
    """What to add, in words."""
    much = amount(correction.ml) if correction.ml is not None else weight(correction.g or 0.0)
    also = f" ({weight(correction.g)})" if correction.ml is not None and correction.g is not None else ""
    return _("add {much} {what}{also}").format(much=much, what=correction.add, also=also)


def _take(flow: Flow, card: MixingCard) -> None:
    """The vessel at the left, beside it each portion in large figures, the first to pour lowest as in the vessel."""
    vessel = draw_vessel(card)
    top = flow.y
    flow.need(vessel.height_mm + 4.0)
    flow.page.place(vessel, flow.x, flow.y)
    x = flow.x + vessel.width_mm + 8.0
    room = flow.room_mm - vessel.width_mm - 8.0
    y = flow.y
    for portion in card.portions:
        y = _portion(flow.page, portion, x, y, room)
    flow.y = max(top + vessel.height_mm, y) + 2.0


def _portion(page: Page, portion: Portion, x: float, y: float, room: float) -> float:
    # What no measure at hand can measure is weighed, so its weight is the large figure.
    much = amount(portion.poured_ml) if portion.poured_ml is not None and portion.pours else weight(portion.g)
    high = type_.leading_mm(20.0)
    taken = page.text(x, y + high * 0.78, much, size_pt=20.0, face="bold", field=_("amount"))
    y = page.paragraph(
        x + taken + 3.0, y + high * 0.78 - type_.leading_mm(12.0) * 0.78, room - taken - 3.0, portion.what, size_pt=12.0
    )
    how = pours_in_words(portion.pours)
    if portion.poured_ml is not None:
        words = (
            _("{how}; or by weight {g}").format(how=how, g=weight(portion.g))
            if how
            else _("weighed; about {ml}").format(ml=amount(portion.poured_ml))
        )
        y = page.paragraph(x, y + 0.4, room, words, size_pt=TEXT_PT)
    return y + 3.0
