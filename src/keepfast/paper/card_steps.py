"""The steps of a card with their reasons, in two columns, each with a box to tick."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from keepfast.paper import figures
from keepfast.paper import type as type_
from keepfast.paper.flow import MARGIN_MM, Flow
from keepfast.paper.page import FINE, FIRM
from keepfast.paper.wording import card_cautions, full_stop, round_words
from keepfast.plan.objects import AnimalPlan, EveningPlan, Step
from keepfast.words import _

STEP_PT = 9.0
# From line to line, and from step to step; closer only where that keeps a few lines from a side of their own.
_AIRY_MM, _CLOSE_MM = (3.8, 1.5), (3.6, 0.9)
_HEAD_PT = 11.0
_KEEP_MM = 16.0


@dataclass(frozen=True)
class _Block:
    """What stands in the columns: a heading, a step with its reason, or a caution to the step before it."""

    words: str = ""
    lead: str = ""
    heading: str = ""
    caution: bool = False


class Steps:
    """The steps with their reasons, in two columns."""

    def __init__(self, plan: EveningPlan, animal: AnimalPlan, learner: bool) -> None:
        self.plan = plan
        self.animal = animal
        self.learner = learner
        self._doubts_written = False
        self.down_mm, self.after_mm = _AIRY_MM
        self.cautions = card_cautions(plan, animal, learner)

    @property
    def indent_mm(self) -> float:
        """Room for the box to tick."""
        return 6.0

    @property
    def seen_mm(self) -> float:
        """Room for the initials of the one who teaches."""
        return 11.0 if self.learner else 0.0

    def groups(self) -> Iterable[tuple[str, list[Step]]]:
        """Steps by round, in the order of the rounds."""
        for name, group in itertools.groupby(self.animal.steps, key=lambda step: step.round):
            yield name, list(group)

    def height_mm(self, flow: Flow) -> float:
        """How high they will stand in two columns, with some allowance for uneven breaks."""
        room = (flow.width_mm - 2 * MARGIN_MM - flow.gap) / 2
        total = sum(self._block_mm(flow, block, room)[0] for block in self._blocks())
        return total / 2 + (24.0 if self.learner else 10.0) + (0.0 if self._doubts_written else self.doubts_mm(flow))

    def doubts_mm(self, flow: Flow) -> float:
        """How high the doubts stand across the page."""
        if not self.animal.doubts:
            return 0.0
        room = flow.width_mm - 2 * MARGIN_MM - 4
        rows = sum(len(flow.page.broken(room, full_stop(doubt), size_pt=9.5)) for doubt in self.animal.doubts)
        return flow.heading_mm(_HEAD_PT) + rows * type_.leading_mm(9.5) + 1.2 * len(self.animal.doubts)

    def write_doubts(self, flow: Flow) -> None:
        """What is not known, once."""
        if self.animal.doubts and not self._doubts_written:
            flow.heading(_("What is not known"), size_pt=11, keep_mm=8)
            for doubt in self.animal.doubts:
                flow.paragraph(full_stop(doubt), size_pt=9.5, indent_mm=4.0, bar=True, field=_("doubts"))
            flow.space(1.0)
        self._doubts_written = True

    def lead(self, number: int, step: Step) -> str:
        marks = []
        if step.prick_numbers:
            marks.append(span("P", step.prick_numbers))
        if step.injection_numbers:
            marks.append(span("", step.injection_numbers))
        where = f" ({', '.join(marks)})" if marks else ""
        return f"{step.action}{where}."

    def write(self, flow: Flow) -> None:
        """Set them."""
        self.write_doubts(flow)
        if self.learner:
            # Who signs stands with the first of what is signed.
            flow.need(40.0)
            flow.paragraph(
                _("Tick the box when it is done; the one who teaches signs the line."), size_pt=9, after_mm=0.0,
                field=_("steps"),
            )  # fmt: skip
            flow.blanks([(_("Learned by"), 0), (_("taught by"), 0), (_("date"), 0)])
        flow.columns(2)
        blocks = self._blocks()
        heights = self._heights(flow, blocks)
        if not flow.holds(heights):
            self.down_mm, self.after_mm = _CLOSE_MM
            if not flow.holds(self._heights(flow, blocks)):
                self.down_mm, self.after_mm = _AIRY_MM
            heights = self._heights(flow, blocks)
        for i, block in enumerate(blocks):
            if flow.left_mm < sum(heights[i]):
                flow.next_column()
            if flow.at_top:
                flow.level(heights[i:])
            if block.heading:
                flow.heading(block.heading, size_pt=_HEAD_PT, keep_mm=_KEEP_MM)
            elif block.caution:
                self._caution(flow, block)
            else:
                self._step(flow, block)
        flow.columns(1)

    def _blocks(self) -> list[_Block]:
        """Headings, steps and their cautions, one after the other."""
        blocks = []
        for name, steps in self.groups():
            blocks.append(_Block(heading=round_words(name)))
            for number, step in enumerate(steps, start=1):
                blocks.append(_Block(step.reason, self.lead(number, step)))
                blocks += [_Block(words, _("Mind."), caution=True) for words in self.cautions.get(step.key, ())]
        return blocks

    def _heights(self, flow: Flow, blocks: Sequence[_Block]) -> list[tuple[float, float]]:
        return [self._block_mm(flow, block, flow.room_mm) for block in blocks]

    def _block_mm(self, flow: Flow, block: _Block, column_mm: float) -> tuple[float, float]:
        """How high it stands, and how much of what follows it must have in its column."""
        if block.heading:
            return flow.heading_mm(_HEAD_PT), _KEEP_MM
        room = column_mm - self.indent_mm - self.seen_mm
        rows = flow.page.broken(room, block.words, size_pt=STEP_PT, lead=block.lead, field=_("steps"))
        return len(rows) * self.down_mm + self.after_mm, 0.0

    def _step(self, flow: Flow, block: _Block) -> None:
        top = self._words(flow, block, _("steps"))
        flow.page.box(flow.x + 0.3, top + 0.3, 3.4, 3.4, width_mm=FIRM)
        if self.learner:
            right = flow.x + flow.room_mm
            flow.page.line([(right - self.seen_mm + 2.0, top + 3.6), (right, top + 3.6)], width_mm=FINE)

    def _caution(self, flow: Flow, block: _Block) -> None:
        top = self._words(flow, block, _("cautions"))
        x = flow.x + self.indent_mm - 1.6
        flow.page.line([(x, top + 0.4), (x, flow.y - self.after_mm - 0.4)], width_mm=1.0)

    def _words(self, flow: Flow, block: _Block, field: str) -> float:
        """One paragraph of the steps, not parted; returns its top."""
        room = flow.room_mm - self.indent_mm - self.seen_mm
        rows = flow.page.broken(room, block.words, size_pt=STEP_PT, lead=block.lead, field=field)
        flow.need(len(rows) * self.down_mm)
        top = flow.y
        flow.y = flow.page.paragraph(
            flow.x + self.indent_mm, top, room, block.words, size_pt=STEP_PT, lead=block.lead,
            leading_mm=self.down_mm, field=field,
        )  # fmt: skip
        flow.y += self.after_mm
        return top


def span(prefix: str, numbers: Sequence[int]) -> str:
    """P1 to P14; 3, 5."""
    runs: list[tuple[int, int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    parts = [f"{prefix}{a}" if a == b else _("{a} to {b}").format(a=f"{prefix}{a}", b=f"{prefix}{b}") for a, b in runs]
    joined = ", ".join(parts)
    if prefix:
        return joined
    words = (_("ring {n}") if runs[0][0] == runs[-1][1] else _("rings {n}")).format(n=joined)
    return words.replace(" ", figures.NBSP) if len(runs) == 1 else words
