"""Labels for jars (with a QR symbol) and for tissue tubes (with a Data Matrix).

A jar label says what is needed to find and to judge what stands in the glass; its least type is that of the tag rules,
and what does not fit is an error that names label and field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from keepfast.paper import figures, symbols, tags
from keepfast.paper import type as type_
from keepfast.paper.page import Page
from keepfast.paper.type import Face, PaperError
from keepfast.rules.sheets import Sheet
from keepfast.rules.tags import TagRules
from keepfast.words import _

_EDGE = 1.6


@dataclass(frozen=True)
class JarLabel:
    """What stands on a jar. A catalogue or a field number is needed; ``address`` is what the symbol says instead."""

    catalogue_number: str = ""
    institution: str = ""
    taxon: str = ""
    family: str = ""
    type_status: str = ""
    locality: str = ""
    country: str = ""
    collected_on: str = ""
    collector: str = ""
    field_numbers: str = ""
    count: str = ""
    fluid: str = ""
    fixative: str = ""
    address: str = ""

    @property
    def number(self) -> str:
        """What the jar is called: the museum's number, or the collector's as long as there is none."""
        return self.catalogue_number or self.field_numbers


JAR_FIELDS: tuple[str, ...] = tuple(f.name for f in fields(JarLabel))


@dataclass(frozen=True)
class TissueLabel:
    """What stands on a tube: the animal's number, which tube, what is in it and in which fluid."""

    number: str
    tube: str = ""
    tissue: str = ""
    fluid: str = ""
    taken_on: str = ""


@dataclass(frozen=True)
class _Line:
    field: str
    words: str
    face: Face = "regular"
    grow: float = 1.0


def _jar_lines(label: JarLabel) -> list[_Line]:
    place = ", ".join(part for part in (label.locality, label.country) if part)
    field = label.field_numbers if label.catalogue_number else ""
    who = ", ".join(part for part in (label.collector, field) if part)
    keeping = ", ".join(
        part
        for part in (
            label.fluid,
            _("fixed in {fixative}").format(fixative=label.fixative) if label.fixative else "",
        )
        if part
    )
    lines = [
        _Line(_("taxon"), label.taxon, "italic", 1.25),
        _Line(_("type status"), label.type_status, "bold"),
        _Line(_("fluid"), keeping, "bold"),
        _Line(_("family"), label.family),
        _Line(_("locality"), place),
        _Line(_("date"), label.collected_on),
        _Line(_("collector"), who),
        _Line(_("count"), _("{n} in this jar").format(n=label.count).replace(" ", figures.NBSP) if label.count else ""),
    ]
    return [line for line in lines if line.words]


def _run_together(lines: list[_Line]) -> list[_Line]:
    """Neighbours of one face as one running text: less easy to scan, but much less paper."""
    answer: list[_Line] = []
    for line in lines:
        last = answer[-1] if answer else None
        if last is not None and last.face == line.face and last.grow == line.grow:
            stop = "" if last.words.endswith(".") else "."
            answer[-1] = _Line(f"{last.field}, {line.field}", f"{last.words}{stop} {line.words}", line.face, line.grow)
        else:
            answer.append(line)
    return answer


def jar(label: JarLabel, sheet: Sheet, rules: TagRules) -> Page:
    """
    One jar label.

    Raises
    ------
    PaperError
        If something does not fit at the least size; it names the label and the field that takes most room.
    """
    wide, high = sheet.label_width_mm, sheet.label_height_mm
    piece = Page(wide, high, card=label.number, title=label.number)
    content = label.address or label.number
    room = min(0.62 * high, 0.34 * wide)
    least = rules.phone_module_mm
    size = symbols.module_mm(content, "qr", room, sheet.dot_mm, least, 0.6) if content else None
    side = size * symbols.side(content, "qr") if size else room
    symbols.fitted(
        piece, wide - side - 0.2, 0.2, content, "qr",
        room_mm=room, dot_mm=sheet.dot_mm, least_mm=least, most_mm=0.6, field=_("symbol"),
    )  # fmt: skip
    column = wide - side - _EDGE
    top = _EDGE
    if label.institution:
        piece.text(
            _EDGE, top + type_.cap_mm(7.0), label.institution, size_pt=7.0, least_pt=rules.jar_body_least_pt,
            room_mm=column - _EDGE, field=_("institution"),
        )  # fmt: skip
        top += type_.leading_mm(7.0)
    number_pt = type_.largest_pt(label.number, column - _EDGE, "bold", min(17.0, 0.38 * high), 9.0) or 9.0
    piece.text(
        _EDGE, top + type_.cap_mm(number_pt) + 0.6, label.number, size_pt=number_pt, face="bold",
        room_mm=column - _EDGE, field=_("catalogue number"),
    )  # fmt: skip
    top += type_.cap_mm(number_pt) + 1.8
    _body(piece, label, top, side, rules)
    return piece


def _body(piece: Page, label: JarLabel, top: float, side: float, rules: TagRules) -> None:
    """The lines below the number at the largest size that lets all of them stand; wide again below the symbol."""
    narrow, full = piece.width_mm - side - 2 * _EDGE, piece.width_mm - 2 * _EDGE
    bottom = piece.height_mm - 0.8
    wanted = _jar_lines(label)
    for line in wanted:
        type_.check(line.words, line.face, piece.card, line.field)
    steps = range(23, round(2 * rules.jar_body_least_pt) - 1, -1)
    for lines in (wanted, _run_together(wanted)):
        for size in (step / 2 for step in steps):
            rows = _set(lines, top, side, narrow, full, size)
            if rows is not None and (not rows or rows[-1][1] <= bottom):
                for line, y, words in rows:
                    piece.text(_EDGE, y, words, size_pt=size * line.grow, face=line.face, field=line.field)
                return
    longest = max(wanted, key=lambda line: type_.width_mm(line.words, line.grow, line.face))
    raise PaperError(
        piece.card,
        longest.field,
        _("the words of this label do not fit at {least:g} point").format(least=rules.jar_body_least_pt),
        _("Shorten this, the longest of them, or choose a larger label."),
        longest.words,
    )


def _set(
    wanted: list[_Line], top: float, side: float, narrow: float, full: float, size: float
) -> list[tuple[_Line, float, str]] | None:
    """Each row with its baseline; None if a word is wider than its room."""
    rows: list[tuple[_Line, float, str]] = []
    y = top
    for line in wanted:
        points = size * line.grow
        rest = line.words
        while rest:
            room = narrow if y < side + 0.4 else full
            try:
                first, *_others = type_.lines(rest, room, points, line.face)
            except ValueError:
                return None
            rows.append((line, y + type_.cap_mm(points) + 0.5, first))
            rest = rest[len(first) :].lstrip(" \n")
            y += type_.leading_mm(points) * 0.96
    return rows


def tissue(label: TissueLabel, sheet: Sheet, rules: TagRules) -> Page:
    """
    One tube label.

    Raises
    ------
    PaperError
        If something does not fit; it names label and field.
    """
    wide, high = sheet.label_width_mm, sheet.label_height_mm
    whole = f"{label.number} {label.tube}".strip()
    piece = Page(wide, high, card=whole, title=whole)
    room = min(high - 1.0, 0.4 * wide)
    size = symbols.module_mm(whole, "data_matrix", room, sheet.dot_mm, rules.least_module_mm, 0.51)
    side = size * symbols.side(whole, "data_matrix") if size else room
    symbols.fitted(
        piece, wide - side - 0.4, (high - side) / 2, whole, "data_matrix",
        room_mm=room, dot_mm=sheet.dot_mm, least_mm=rules.least_module_mm, most_mm=0.51, field=_("symbol"),
    )  # fmt: skip
    column = wide - side - 0.8 - _EDGE
    points = type_.largest_pt(label.number, column, "mono_bold", 11.0, rules.tag_number_least_pt)
    if points is None:
        raise PaperError(
            whole, _("number"), _("the number does not fit its label"), _("Choose a larger label."), label.number
        )
    rest = [
        (_("tissue"), " ".join(part for part in (label.tube, label.tissue) if part)),
        (_("fluid"), label.fluid),
        (_("date"), label.taken_on),
    ]
    rest = [(field, words) for field, words in rest if words]
    # As high in its label as low, so that a crooked cut takes nothing.
    cap, down = type_.cap_mm(points, "mono_bold"), type_.leading_mm(7.0)
    y = max((high - cap - len(rest) * down) / 2, 1.0) + cap
    piece.text(_EDGE, y, label.number, size_pt=points, face="mono_bold", field=_("number"), room_mm=column)
    for field, words in rest:
        y += down
        piece.text(_EDGE, y, words, size_pt=7.0, least_pt=rules.jar_body_least_pt, room_mm=column, field=field)
    return piece


def draw_jars(labels: Sequence[JarLabel], sheet: Sheet, rules: TagRules) -> list[Page]:
    """Jar labels on their sheets, or one a page on a roll."""
    return _laid([jar(label, sheet, rules) for label in labels], sheet, rules, _("Jar labels"))


def draw_tissues(labels: Sequence[TissueLabel], sheet: Sheet, rules: TagRules) -> list[Page]:
    """Tube labels on their sheets, or one a page on a roll."""
    return _laid([tissue(label, sheet, rules) for label in labels], sheet, rules, _("Tissue labels"))


def _laid(pieces: list[Page], sheet: Sheet, rules: TagRules, title: str) -> list[Page]:
    if sheet.is_roll:
        return pieces
    trust = _("Sources disagree about {media}: soak and rub a label of this print before you trust it.").format(
        media=_(" and ").join(_(medium) for medium in rules.disputed())
    )
    first = _("Inside the jar, against the glass.") if sheet.kind == "jar" else _("Never on or near formalin.")
    return tags.lay(pieces, sheet, title, (first, trust if rules.disputed() else _(rules.test)))


def jar_text(labels: Sequence[JarLabel], rules: TagRules) -> str:
    """Jar labels in plain words, then what is known about papers and inks."""
    lines = []
    for label in labels:
        lines += [label.number, *(f"  {line.words}" for line in _jar_lines(label)), ""]
    return "\n".join([*lines, *tags.media_text(rules)]) + "\n"


def tissue_text(labels: Sequence[TissueLabel], rules: TagRules) -> str:
    """Tube labels in plain words, then what is known about papers and inks."""
    lines = [
        ", ".join(part for part in (f"{x.number} {x.tube}".strip(), x.tissue, x.fluid, x.taken_on) if part)
        for x in labels
    ]
    return "\n".join([*lines, "", *tags.media_text(rules)]) + "\n"
