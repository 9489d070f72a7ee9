"""One measured speed with what it was measured against."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """What was timed, how long it took, what stood beside it, and the goal in words."""

    name: str
    seconds: float
    goal: str
    met: bool
    beside: str = ""
    beside_seconds: float | None = None
    note: str = ""

    @property
    def ratio(self) -> float | None:
        """How many times faster than what stands beside it."""
        return None if self.beside_seconds is None else self.beside_seconds / self.seconds


def seconds(work: Callable[[], object], repeats: int = 5) -> float:
    """Median wall time of a call, after one call to warm up."""
    work()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)
