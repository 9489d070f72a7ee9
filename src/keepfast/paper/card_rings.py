"""The table of the rings on a card: where each filling goes, how deep, how much, and room for what was given."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from keepfast.paper import figures
from keepfast.paper import type as type_
from keepfast.paper.flow import Flow
from keepfast.paper.page import FINE, THIN
from keepfast.paper.wording import side_words, site_words
from keepfast.plan.objects import Injection
from keepfast.words import _

_PT = 9.5
_LEAST_PT = 9.0
_ROW_MM, _MORE_MM, _AFTER_MM = 5.6, 3.7, 2.0
# Shares of the width: ring, where, place, depth, needle, amount, range, given, stayed.
_SHARES = (0.08, 0.225, 0.135, 0.11, 0.07, 0.08, 0.15, 0.075, 0.075)
_BOLD = (0, 5)
_SINGLY_IN_A_LINE = 4


@dataclass(frozen=True)
class RingRow:
    """One line of the table: a ring, or a run of rings that are alike."""

    rings: str
    where: str
    place: str
    depth: str
    needle: str
    amount: str
    each: str
    singly: tuple[str, ...] = ()  # each ring of a run in plain words, as the drawing has it


def rows_of(injections: Sequence[Injection]) -> list[RingRow]:
    rows: list[RingRow] = []
    for (_site, _gauge), group in itertools.groupby(injections, key=lambda i: (i.site, i.gauge)):
        run = list(group)
        if len(run) > 3:
            rows.append(_run_row(run))
        else:
            rows.extend(_single_row(one) for one in run)
    return rows


def _single_row(one: Injection) -> RingRow:
    return RingRow(
        f"{one.number}",
        ", ".join(part for part in (site_words(one.site), side_words(one.side)) if part),
        figures.mm(one.at_mm),
        figures.mm(one.depth_mm),
        f"{one.gauge}{figures.NBSP}G",
        figures.ml(one.volume_ml),
        _("{low} to {high}").format(low=figures.plain_ml(one.low_ml), high=figures.plain_ml(one.high_ml)),
    )


def _run_row(run: Sequence[Injection]) -> RingRow:
    sides = {one.side for one in run}
    in_turn = {"left", "right"} <= sides or "alternate" in sides
    side = side_words("alternate" if in_turn else run[0].side)
    depths = [one.depth_mm for one in run]
    amounts = [one.volume_ml for one in run]
    least, most = figures.plain_ml(min(amounts)), figures.plain_ml(max(amounts))
    each = (
        _("{amount} each").format(amount=most)
        if least == most
        else _("{low} to {high} each").format(low=least, high=most)
    )
    return RingRow(
        _("{a} to {b}").format(a=run[0].number, b=run[-1].number),
        ", ".join(part for part in (site_words(run[0].site), side) if part),
        _("{a} to {b}").format(a=f"{run[0].at_mm:.0f}", b=figures.mm(run[-1].at_mm)),
        _("{a} to {b}").format(a=f"{min(depths):.0f}", b=figures.mm(max(depths))),
        f"{run[0].gauge}{figures.NBSP}G",
        figures.ml(sum(amounts)),
        each,
        tuple(
            "; ".join(
                _("{ring}: {amount} mL at {at} mm").format(
                    ring=one.number, amount=figures.plain_ml(one.volume_ml), at=f"{one.at_mm:.0f}"
                )
                for one in run[start : start + _SINGLY_IN_A_LINE]
            )
            for start in range(0, len(run), _SINGLY_IN_A_LINE)
        ),
    )


def _heads() -> tuple[str, ...]:
    return (
        _("ring"),
        _("where"),
        _("from snout"),
        _("depth"),
        _("needle"),
        _("amount"),
        _("range, mL"),
        _("given"),
        _("stayed"),
    )


def _cells(row: RingRow) -> tuple[str, ...]:
    return (row.rings, row.where, row.place, row.depth, row.needle, row.amount, row.each)


def _broken(flow: Flow, cells: Sequence[str], bold: Sequence[int]) -> list[tuple[float, list[str]]]:
    """Each cell at a size and in lines that fit: one line if it can be, more if not, never smaller than can be read."""
    answer = []
    for i, words in enumerate(cells):
        face: type_.Face = "bold" if i in bold else "regular"
        room = _SHARES[i] * flow.room_mm - 1.2
        size = type_.largest_pt(type_.check(words, face, flow.card, _heads()[i]), room, face, _PT, _LEAST_PT)
        if size is not None:
            answer.append((size, [words]))
        else:
            rows = flow.page.broken(room, words, size_pt=_LEAST_PT, face=face, field=_heads()[i])
            answer.append((_LEAST_PT, [row.words for row in rows]))
    return answer


def height_mm(flow: Flow, rows: Sequence[RingRow]) -> float:
    """How high the table stands, with its heads."""
    if not rows:
        return 0.0
    every = [_broken(flow, _heads(), ()), *(_broken(flow, _cells(row), _BOLD) for row in rows)]
    return sum(_ROW_MM + (max(len(lines) for _size, lines in cells) - 1) * _MORE_MM for cells in every) + _AFTER_MM


def write(flow: Flow, rows: Sequence[RingRow]) -> None:
    """Set the table."""
    _row(flow, _heads(), ())
    flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=FINE)
    for row in rows:
        _row(flow, _cells(row), _BOLD)
        flow.page.line([(flow.x, flow.y), (flow.x + flow.room_mm, flow.y)], width_mm=THIN)
    flow.y += _AFTER_MM


def _row(flow: Flow, cells: Sequence[str], bold: Sequence[int]) -> None:
    broken = _broken(flow, cells, bold)
    high = _ROW_MM + (max(len(lines) for _size, lines in broken) - 1) * _MORE_MM
    flow.need(high)
    x = flow.x
    for i, share in enumerate(_SHARES):
        if i < len(broken):
            size, lines = broken[i]
            for n, words in enumerate(lines):
                flow.page.text(
                    x,
                    flow.y + 4.2 + n * _MORE_MM,
                    words,
                    size_pt=size,
                    face="bold" if i in bold else "regular",
                    room_mm=share * flow.room_mm - 1.2,
                    field=_heads()[i],
                )
        else:
            flow.page.line([(x, flow.y + 4.6), (x + share * flow.room_mm - 2.0, flow.y + 4.6)], width_mm=FINE)
        x += share * flow.room_mm
    flow.y += high
