"""The small chart of a table's air: the face over the tray, the rest of the place, and the limits.

It reads the plain values that ``keepfast.plan.air.Air.as_dict`` gives (and a plan keeps under ``table.extra["air"]``).
The axis is logarithmic, since limits and levels lie far apart; time begins with the round of pricking.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from typing import Any

from keepfast.paper import charts
from keepfast.paper.page import DASHED, DOTTED, SOLID, Page
from keepfast.words import _

SHORT_TERM_MIN = 15.0
_DECADES = 4  # as many powers of ten as a small chart can show


def draw(
    air: Mapping[str, Any],
    *,
    width_mm: float = 120.0,
    height_mm: float = 64.0,
    start: datetime.datetime | None = None,
    title: str | None = None,
    size_pt: float = 8.5,
    card: str = "",
) -> Page:
    """
    Draw the course of the air in ppm against time.

    Parameters
    ----------
    air : mapping
        ``Air.as_dict()`` of a table or of decanting, or ``Spill.as_dict()``.
    width_mm, height_mm : float
        Size of the drawing.
    start : datetime, optional
        When the table starts; the ticks then read as clock times.
    title : str, optional
        Instead of the usual one.

    Returns
    -------
    Page

    Raises
    ------
    PaperError
        If the words do not fit.
    ValueError
        If the size leaves nothing to draw in.
    """
    ppm, series = float(air["mg_m3_per_ppm"]), air["series"]
    in_minutes = start is None and series["minutes"][-1] <= 90.0
    unit = 1.0 if in_minutes else 60.0
    times = [minutes / unit for minutes in series["minutes"]]
    limits = _limits(air, ppm)
    levels = [level for level, _words in limits]
    highest = max([value / ppm for value in series["near_high_mg_m3"]] + levels + [1e-3])
    lowest = min([max(series["near_mg_m3"]) / ppm or highest, *levels]) / 3.0
    top = min(mark for mark in _marks_around(highest) if mark >= highest * (1 - 1e-9))
    bottom = max(max(mark for mark in _marks_around(lowest) if mark <= lowest * (1 + 1e-9)), top / 10.0**_DECADES)

    def course(name: str) -> list[float]:
        """In ppm, with gaps where it runs below the chart."""
        return [value / ppm if value / ppm >= bottom else math.nan for value in series[name]]

    words = _round_words()
    moments = [
        charts.Moment(mark["minutes"] / unit, words[mark["round"]])
        for mark in series["marks"]
        if mark["round"] in words
    ]
    substance = {"formaldehyde": _("formaldehyde"), "ethanol": _("alcohol vapour")}[air["substance"]]
    return charts.draw(
        width_mm=width_mm,
        height_mm=height_mm,
        title=_("Air at the table: {substance}").format(substance=substance) if title is None else title,
        x_label=_("time")
        if start is not None
        else _("minutes from the start")
        if in_minutes
        else _("hours from the start"),
        y_label=_("ppm in air"),
        lines=[
            charts.Line(times, course("near_mg_m3"), _("at the face"), SOLID),
            charts.Line(times, course("near_high_mg_m3"), _("at the face, upper estimate"), DASHED),
            charts.Line(times, course("far_mg_m3"), _("the rest of the place"), DOTTED),
        ],
        thresholds=[charts.Threshold(level, name) for level, name in limits],
        moments=moments,
        x_range=(min([m["minutes"] / unit for m in series["marks"] if m["round"] != "before"] or [0.0]), times[-1]),
        y_range=(bottom, top),
        start=start,
        hours=not in_minutes,
        log_y=True,
        size_pt=size_pt,
        card=card,
    )


def lines(air: Mapping[str, Any], start: datetime.datetime) -> list[str]:
    """The chart in plain words: the highest level of each round by the clock, then the limits. All in ppm."""
    ppm, series = float(air["mg_m3_per_ppm"]), air["series"]
    words = _round_words()
    marks = [mark for mark in series["marks"] if mark["round"] in words]
    ends = [mark["minutes"] for mark in marks[1:]] + [series["minutes"][-1]]
    told = []
    for mark, end in zip(marks, ends, strict=True):
        inside = [i for i, minute in enumerate(series["minutes"]) if mark["minutes"] <= minute <= end]
        if not inside:
            continue
        near, high, far = (
            f"{max(series[name][i] for i in inside) / ppm:.2g}"
            for name in ("near_mg_m3", "near_high_mg_m3", "far_mg_m3")
        )
        told.append(
            _("{clock} {round}: at the face up to {near} ppm (upper estimate {high}), elsewhere {far} ppm.")
            .format(
                clock=f"{start + datetime.timedelta(minutes=mark['minutes']):%H:%M}",
                round=words[mark["round"]], near=near, high=high, far=far,
            )
        )  # fmt: skip
    return [*told, *(f"{name}: {level:.2g} ppm." for level, name in _limits(air, ppm))]


def _marks_around(value: float) -> list[float]:
    """Ones, twos and fives of the powers of ten near a value: the frame ends at one of them."""
    power = 10.0 ** math.floor(math.log10(value))
    return [step * power for step in (0.5, 1.0, 2.0, 5.0, 10.0)]


def _round_words() -> dict[str, str]:
    return {"fill": _("filling"), "pose": _("posing"), "cover": _("covering"), "clean": _("cleaning")}


def _limits(air: Mapping[str, Any], ppm: float) -> list[tuple[float, str]]:
    """The short-term limits that the air was held against, each once, in ppm here and now."""
    if "away" in air:
        rows = [found["limit"] for found in air["away"]]
    else:
        worst = next(e for e in air["exposures"] if e["where"] == "near" and e["minutes"] == SHORT_TERM_MIN)
        rows = [found["limit"] for found in worst["against"]]
    told = []
    for row in rows:
        level = float(row["value"]) / (1.0 if row["unit"] == "ppm" else ppm)
        name = _(str(row["body_name"])).partition(" (")[0]
        told.append((level, _("15 min limit, {body}").format(body=name)))
    return told
