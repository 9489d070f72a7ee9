"""Planning an evening: time of the whole, time per animal up to thousands, and the start of the command."""

from __future__ import annotations

import datetime
import subprocess
import sys
import tempfile
from importlib import resources
from pathlib import Path

import numpy as np

from benchmarks.rows import Row, seconds

START = datetime.datetime(2026, 4, 18, 18, 0, tzinfo=datetime.UTC)


def _herd(count: int):  # type: ignore[no-untyped-def]
    from keepfast.book.animals import Animal

    forms = ("lizard", "frog", "snake", "salamander", "turtle", "legless_lizard")
    return [
        Animal(f"A-{k}", forms[k % 6], length_mm=40.0 + (k * 37) % 300, died_at=START - datetime.timedelta(hours=k % 5))
        for k in range(count)
    ]


def _empty_interpreter() -> float:
    return seconds(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True), 5)


def run() -> list[Row]:
    """The goals of planning, each beside something measured in the same run."""
    from keepfast.cli.planning import prepare
    from keepfast.exchange.files import write_whole
    from keepfast.plan.camp import Camp
    from keepfast.plan.evening import Rules, plan_evening

    trip = Path(str(resources.files("keepfast.demo")))
    out = Path(tempfile.mkdtemp(prefix="keepfast-bench-")) / "tonight"

    def whole(race: bool) -> None:
        _evening, files = prepare(trip / "survey.csv", trip / "camp.toml", start="2026-04-18T18:00", race=race)
        write_whole(out, files)

    rng = np.random.default_rng(1)
    bare = seconds(lambda: [np.percentile(np.exp(rng.standard_normal((18, 1000))), [5, 95], axis=1) for _ in range(8)])
    plain = seconds(lambda: whole(False), 3)
    raced = seconds(lambda: whole(True), 3)
    rules, camp = Rules.load(), Camp()
    each = {}
    for count in (18, 500, 5000):
        herd = _herd(count)
        repeats = 5 if count < 1000 else 1
        each[count] = seconds(lambda herd=herd: plan_evening(herd, camp, rules, start=START), repeats) / count
    empty = _empty_interpreter()
    shown = seconds(
        lambda: subprocess.run([sys.executable, "-m", "keepfast", "--help"], check=True, capture_output=True), 5
    )
    return [
        Row("18 animals, 1,000 draws each, all files, without the race", plain, "under 1 s", plain < 1.0,
            "numpy alone for as many draws", bare),
        Row("the same with the race", raced, "under 4 s", raced < 4.0, "without it", plain),
        Row("one animal of 18", each[18], "", True),
        Row("one animal of 500", each[500], "flat", each[500] < 1.5 * each[18], "one of 18", each[18]),
        Row("one animal of 5,000", each[5000], "flat", each[5000] < 1.5 * each[18], "one of 18", each[18]),
        Row("--help", shown, "under 0.4 s", shown < 0.4, "an empty interpreter", empty),
    ]  # fmt: skip
