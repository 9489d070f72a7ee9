"""A small chart of something against time: lines, the band of their doubt, limits, and moments, all named in words.

A band is hatched and edged with dashes, a line is told from another by its dashes and by the words at its end, a limit
is a long-dashed level line: nothing depends on a shade or a colour. Use::

    charts.draw(
        width_mm=120, height_mm=60, title="Air at the table", x_label="hours", y_label="ppm in air",
        lines=[charts.Line(hours, ppm, "likely")], bands=[charts.Band(hours, low, high, "5 to 95 %")],
        thresholds=[charts.Threshold(0.75, "8 h limit 0.75")], moments=[charts.Moment(1.5, "tray covered")],
    ) -> Page
"""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from keepfast.paper import type as type_
from keepfast.paper.page import DASHED, DOTTED, FINE, FIRM, HEAVY, LONG_DASHED, SOLID, THIN, Page, Point

Numbers = Sequence[float] | npt.NDArray[np.float64]

_DASHES = (SOLID, DASHED, DOTTED, LONG_DASHED)


@dataclass(frozen=True)
class Line:
    """One course; NaN leaves a gap. Lines that follow one another get different dashes unless one is given."""

    x: Numbers
    y: Numbers
    words: str
    dash: tuple[float, ...] | None = None


@dataclass(frozen=True)
class Band:
    """The doubt around a course."""

    x: Numbers
    low: Numbers
    high: Numbers
    words: str = ""


@dataclass(frozen=True)
class Threshold:
    """A level that matters."""

    value: float
    words: str


@dataclass(frozen=True)
class Moment:
    """Something that happens at one x."""

    x: float
    words: str


def log_ticks(low: float, high: float) -> list[float]:
    """Powers of ten from low to high, both above 0; below two decades their doubles and fives too."""
    steps = (1.0,) if high / low > 100.0 * (1 + 1e-9) else (1.0, 2.0, 5.0)
    powers = range(math.floor(math.log10(low) - 1e-9), math.ceil(math.log10(high) + 1e-9) + 1)
    marks = [step * 10.0**p for p in powers for step in steps]
    return [mark for mark in marks if low * (1 - 1e-9) <= mark <= high * (1 + 1e-9)]


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round values from low to high, at most about ``most``: steps of 1, 2 or 5 times a power of ten."""
    span = high - low
    if not (span > 0 and math.isfinite(span)):
        return [low]
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(s * power for s in (1, 2, 5, 10, 20) if span / (s * power) <= most)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [i * step for i in range(first, last + 1)]


def hour_ticks(low: float, high: float, most: int = 7) -> list[float]:
    """Hours at steps that a clock knows, from a minute to a week."""
    steps = (1 / 60, 1 / 12, 1 / 6, 0.25, 0.5, 1, 2, 3, 6, 12, 24, 48, 168)
    step = next((s for s in steps if (high - low) / s <= most), 336 * math.ceil((high - low) / most / 336))
    return [i * step for i in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)]


def number(value: float) -> str:
    """A tick in as few figures as it needs, with a true minus sign."""
    text = f"{value:.6g}"
    if "e" in text:
        text = f"{value:.6f}".rstrip("0").rstrip(".")
    return text.replace("-", "\u2212")


def clock_ticks(start: datetime.datetime, low: float, high: float, most: int = 7) -> list[float]:
    """Hours since the start at which a clock shows a round time."""
    past = start.hour + start.minute / 60 + start.second / 3600
    return [value - past for value in hour_ticks(low + past, high + past, most)]


def _clock(start: datetime.datetime, hours: float) -> str:
    return f"{start + datetime.timedelta(seconds=round(hours * 3600)):%H:%M}"


def _finite(values: Numbers) -> npt.NDArray[np.float64]:
    array = np.asarray(values, dtype=float)
    finite: npt.NDArray[np.float64] = array[np.isfinite(array)]
    return finite


@dataclass(frozen=True)
class _Frame:
    """From values to places."""

    left: float
    top: float
    wide: float
    high: float
    x_low: float
    x_high: float
    y_low: float
    y_high: float
    log: bool

    def x(self, value: float) -> float:
        return self.left + self.wide * (value - self.x_low) / (self.x_high - self.x_low)

    def y(self, value: float) -> float:
        if self.log:
            share = math.log(value / self.y_low) / math.log(self.y_high / self.y_low) if value > 0 else 0.0
        else:
            share = (value - self.y_low) / (self.y_high - self.y_low)
        return self.top + self.high * (1 - min(max(share, 0.0), 1.0))

    def pieces(self, xs: Numbers, ys: Numbers) -> list[list[Point]]:
        """Runs of points without gaps, inside the frame from left to right."""
        runs: list[list[Point]] = [[]]
        for x, y in zip(np.asarray(xs, float), np.asarray(ys, float), strict=True):
            if math.isfinite(x) and math.isfinite(y) and self.x_low - 1e-9 <= x <= self.x_high + 1e-9:
                runs[-1].append((self.x(x), self.y(y)))
            elif runs[-1]:
                runs.append([])
        return [run for run in runs if len(run) > 1]


def spread(wanted: Sequence[float], room: Sequence[float] | float, low: float, high: float) -> list[float]:
    """
    Places as near as can be to those wanted, in the same order, each with its own room around it.

    The squares of the shifts are least (pool adjacent violators; Barlow and others 1972, from memory).

    Parameters
    ----------
    room : float or sequence of float
        How much each takes; neighbours stand half of both rooms apart.
    low, high : float
        Limits for the middles. Where not all fit, they run past high.
    """
    count = len(wanted)
    if not count:
        return []
    rooms = [float(room)] * count if isinstance(room, int | float) else list(room)
    order = sorted(range(count), key=lambda i: wanted[i])
    offset = [0.0]
    for before, after in itertools.pairwise(order):
        offset.append(offset[-1] + (rooms[before] + rooms[after]) / 2)
    pools: list[tuple[float, int]] = []
    for i, shift in zip(order, offset, strict=True):
        pools.append((wanted[i] - shift, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (b, m), (a, n) = pools.pop(), pools.pop()
            pools.append(((a * n + b * m) / (n + m), n + m))
    level = [value for value, n in pools for _repeat in range(n)]
    placed = [0.0] * count
    for i, value, shift in zip(order, level, offset, strict=True):
        placed[i] = max(min(value, high - offset[-1]), low) + shift
    return placed


def draw(
    *,
    width_mm: float = 120.0,
    height_mm: float = 60.0,
    title: str = "",
    x_label: str,
    y_label: str,
    lines: Sequence[Line] = (),
    bands: Sequence[Band] = (),
    thresholds: Sequence[Threshold] = (),
    moments: Sequence[Moment] = (),
    x_range: tuple[float, float] | None = None,
    y_range: tuple[float, float] | None = None,
    start: datetime.datetime | None = None,
    hours: bool = True,
    log_y: bool = False,
    size_pt: float = 8.5,
    card: str = "",
) -> Page:
    """
    Draw a chart.

    Parameters
    ----------
    start : datetime, optional
        When x = 0 h was; the ticks then read as clock times.
    hours : bool, default True
        x is in hours and gets ticks that a clock knows.
    log_y : bool, default False
        Logarithmic y; values must be above 0.

    Raises
    ------
    ValueError
        If there is nothing finite to draw, or a logarithmic axis is asked for values that are not above 0.
    PaperError
        If the words do not fit.
    """
    places = [_finite(line.x) for line in lines] + [_finite(band.x) for band in bands]
    xs = np.concatenate(places or [np.array([])])
    values = [_finite(line.y) for line in lines] + [_finite(v) for band in bands for v in (band.low, band.high)]
    ys = np.concatenate([*values, np.array([t.value for t in thresholds], dtype=float)])
    if not xs.size or not ys.size:
        raise ValueError("lines and bands must hold at least one finite value; none was given")
    x_low, x_high = x_range or (float(xs.min()), float(xs.max()))
    if x_high <= x_low:
        x_high = x_low + 1.0
    if log_y:
        above = ys[ys > 0]
        if not above.size:
            raise ValueError("log_y needs values above 0; none was given")
        y_low, y_high = y_range or (
            10.0 ** math.floor(math.log10(above.min())),
            10.0 ** math.ceil(math.log10(above.max()) + 1e-9),
        )
        if y_high <= y_low:
            y_high = 10 * y_low
        y_ticks = log_ticks(y_low, y_high)
    else:
        low, high = y_range or (min(0.0, float(ys.min())), float(ys.max()))
        if high <= low:
            high = low + 1.0
        y_ticks = ticks(low, high, 5)
        if y_range is None and high > y_ticks[-1] + 1e-12:
            y_ticks.append(y_ticks[-1] + (y_ticks[1] - y_ticks[0] if len(y_ticks) > 1 else high - low))
        y_low, y_high = (low, high) if y_range else (min(low, y_ticks[0]), max(high, y_ticks[-1]))

    page = Page(width_mm, height_mm, card=card, title=title)
    cap = type_.cap_mm(size_pt)
    row = type_.leading_mm(size_pt)
    top = row + 1.5  # room for the name of the y axis
    if title:
        page.text(0, cap + 0.5, title, size_pt=size_pt + 1.5, face="bold", field="title", room_mm=width_mm)
        top += row + 1.5
    # Each moment's words get a row of their own above the frame, so that they never run into one another.
    moment_rows = len(moments)
    names = [line.words for line in lines] + [band.words for band in bands] + [t.words for t in thresholds]
    gutter = max((type_.width_mm(n, size_pt) for n in names if n), default=0.0)
    gutter = gutter + 4.0 if gutter else 2.0
    tick_words = [number(v) for v in y_ticks]
    left = max(type_.width_mm(w, size_pt) for w in tick_words) + 2.2
    bottom = cap + row + 3.4
    frame = _Frame(
        left,
        top + row * moment_rows,
        width_mm - left - gutter,
        height_mm - top - row * moment_rows - bottom,
        x_low,
        x_high,
        y_low,
        y_high,
        log_y,
    )
    if frame.wide < 15 or frame.high < 10:
        raise ValueError(
            f"width_mm and height_mm leave {frame.wide:.0f} x {frame.high:.0f} mm to draw in; "
            f"at least 15 x 10 are needed ({width_mm} x {height_mm} were given)"
        )
    page.text(0, frame.top - row * moment_rows - 1.8, y_label, size_pt=size_pt, field="y axis", room_mm=width_mm)

    for band in bands:
        upper, lower = frame.pieces(band.x, band.high), frame.pieces(band.x, band.low)
        for over, under in zip(upper, lower, strict=False):
            page.hatch([*over, *reversed(under)], spacing_mm=1.4)
            page.line(over, width_mm=FINE, dash=DASHED)
            page.line(under, width_mm=FINE, dash=DASHED)
    base = frame.top + frame.high
    page.line([(left, frame.top), (left, base), (left + frame.wide, base)], width_mm=FINE)
    for value, words in zip(y_ticks, tick_words, strict=True):
        if y_low - 1e-12 <= value <= y_high + 1e-12:
            page.line([(left - 1.0, frame.y(value)), (left, frame.y(value))], width_mm=FINE)
            page.text(left - 1.5, frame.y(value) + cap / 2, words, size_pt=size_pt, anchor="end", field="y axis")
    if not hours:
        x_ticks = ticks(x_low, x_high)
    else:
        x_ticks = hour_ticks(x_low, x_high) if start is None else clock_ticks(start, x_low, x_high)
    for value in x_ticks:
        x = frame.x(value)
        page.line([(x, base), (x, base + 1.0)], width_mm=FINE)
        words = _clock(start, value) if start is not None and hours else number(round(value, 6))
        half = type_.width_mm(words, size_pt) / 2
        page.text(min(x, width_mm - half), base + 1.8 + cap, words, size_pt=size_pt, anchor="middle", field="x axis")
    page.text(
        left + frame.wide / 2, height_mm - 0.8, x_label, size_pt=size_pt, anchor="middle", field="x axis",
        room_mm=width_mm,
    )  # fmt: skip
    for limit in thresholds:
        page.line(
            [(left, frame.y(limit.value)), (left + frame.wide, frame.y(limit.value))], width_mm=FIRM, dash=LONG_DASHED
        )
    for i, line in enumerate(lines):
        dash = line.dash if line.dash is not None else _DASHES[i % len(_DASHES)]
        for run in frame.pieces(line.x, line.y):
            page.line(run, width_mm=HEAVY if i == 0 else FIRM, dash=dash)
    _moments(page, frame, moments, size_pt)
    _names(page, frame, lines, bands, thresholds, size_pt, width_mm)
    return page


def _moments(page: Page, frame: _Frame, moments: Sequence[Moment], size_pt: float) -> None:
    row = type_.leading_mm(size_pt)
    for i, moment in enumerate(sorted(moments, key=lambda m: m.x)):
        if not frame.x_low <= moment.x <= frame.x_high:
            continue
        x = frame.x(moment.x)
        y = frame.top - row * (len(moments) - i) + row * 0.75
        page.line([(x, y + 0.4), (x, frame.top + frame.high)], width_mm=THIN, dash=DOTTED)
        wide = type_.width_mm(moment.words, size_pt)
        if x + wide <= page.width_mm:
            page.text(x, y - 0.3, moment.words, size_pt=size_pt, field="moment")
        else:
            page.text(x, y - 0.3, moment.words, size_pt=size_pt, field="moment", anchor="end")


def _names(
    page: Page,
    frame: _Frame,
    lines: Sequence[Line],
    bands: Sequence[Band],
    thresholds: Sequence[Threshold],
    size_pt: float,
    width_mm: float,
) -> None:
    """The words of every line, band and limit at its right end, pushed apart where they would touch."""
    wanted: list[tuple[str, float]] = []
    for line in lines:
        runs = frame.pieces(line.x, line.y)
        if line.words and runs:
            wanted.append((line.words, runs[-1][-1][1]))
    for band in bands:
        upper, lower = frame.pieces(band.x, band.high), frame.pieces(band.x, band.low)
        if band.words and upper and lower:
            wanted.append((band.words, (upper[-1][-1][1] + lower[-1][-1][1]) / 2))
    wanted += [(t.words, frame.y(t.value)) for t in thresholds if t.words]
    row = type_.leading_mm(size_pt)
    cap = type_.cap_mm(size_pt)
    right = frame.left + frame.wide
    places = spread([y for _words, y in wanted], row, frame.top, frame.top + frame.high)
    for (words, y), place in zip(wanted, places, strict=True):
        page.line([(right + 0.4, y), (right + 2.4, place)], width_mm=THIN)
        page.text(right + 3.0, place + cap / 2, words, size_pt=size_pt, field="chart", room_mm=width_mm - right - 3.0)
