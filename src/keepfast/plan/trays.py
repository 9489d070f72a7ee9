"""Packing posed bodies into trays, in two dimensions, each with a gap round it; identity is also kept by place.

Places are tried at the corners of what already lies there, lowest first: a plain, repeatable rule that comes close to
the bound by area, and whose time does not grow with the number of full trays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from keepfast.plan.objects import TrayPlace

# Only the newest trays are tried again, so that a list of thousands takes no longer per animal.
_OPEN_TRAYS = 4


@dataclass(frozen=True)
class Footprint:
    """What lies down: its name and the room it takes as posed."""

    name: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Packing:
    """Where everything lies, each tray's size, the fewest trays any packing could need, and what fits in none."""

    places: dict[str, TrayPlace]
    tray_sizes: tuple[tuple[float, float], ...]
    bound: int
    too_large: tuple[str, ...]


@dataclass
class _Open:
    number: int
    width_mm: float
    height_mm: float
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)
    corners: list[tuple[float, float]] = field(default_factory=lambda: [(0.0, 0.0)])

    def spot(self, width_mm: float, height_mm: float) -> tuple[float, float] | None:
        """The lowest, then leftmost corner where a rectangle fits."""
        for x, y in sorted(self.corners, key=lambda c: (c[1], c[0])):
            if x + width_mm > self.width_mm + 1e-9 or y + height_mm > self.height_mm + 1e-9:
                continue
            if all(
                x >= tx + tw - 1e-9 or tx >= x + width_mm - 1e-9 or y >= ty + th - 1e-9 or ty >= y + height_mm - 1e-9
                for tx, ty, tw, th in self.taken
            ):
                return x, y
        return None

    def take(self, x: float, y: float, width_mm: float, height_mm: float) -> None:
        self.taken.append((x, y, width_mm, height_mm))
        # Next to it and above it, also slid down or left until something is met.
        right, top = x + width_mm, y + height_mm
        below = max(
            (ty + th for tx, ty, tw, th in self.taken[:-1] if ty + th <= y + 1e-9 and tx <= right < tx + tw),
            default=0.0,
        )
        left = max(
            (tx + tw for tx, ty, tw, th in self.taken[:-1] if tx + tw <= x + 1e-9 and ty <= top < ty + th), default=0.0
        )
        self.corners = [c for c in self.corners if c != (x, y)]
        self.corners += [(right, y), (right, below), (x, top), (left, top)]


def pack(items: Sequence[Footprint], tray_sizes: Sequence[tuple[float, float, int | None]], gap_mm: float) -> Packing:
    """Pack in the order given within each tray's worth, tallest first, so that neighbours on the table stay near.

    Parameters
    ----------
    items : sequence of Footprint
        In the order of work.
    tray_sizes : sequence of (width_mm, height_mm, count or None)
        Kinds of tray at hand; when the count is used up, further ones of the last kind are counted all the same.

    Raises
    ------
    ValueError
        If no tray kind is given or the gap is below 0.
    """
    if not tray_sizes:
        raise ValueError("tray_sizes must hold at least one kind of tray; none was given")
    if gap_mm < 0:
        raise ValueError(f"gap_mm must be 0 or more; {gap_mm} was given")
    stock = [[max(w, h), min(w, h), n] for w, h, n in tray_sizes]
    trays: list[_Open] = []
    places: dict[str, tuple[int, float, float, float, float, bool]] = {}
    too_large: list[str] = []
    largest = max(stock, key=lambda s: (s[0] or 0) * (s[1] or 0))
    for item in _by_height_within_batches(items):
        width, height = item.width_mm + gap_mm, item.height_mm + gap_mm
        ways = (
            [(width, height, False)] if math.isclose(width, height) else [(width, height, False), (height, width, True)]
        )
        if not any(w <= largest[0] + 1e-9 and h <= largest[1] + 1e-9 for w, h, _ in ways):  # type: ignore[operator]
            too_large.append(item.name)
            continue
        if not any(_put(tray, ways, item.name, places) for tray in trays[-_OPEN_TRAYS:]):
            kind = _next_kind(stock, ways)
            tray = _Open(len(trays) + 1, float(kind[0] or 0), float(kind[1] or 0))
            trays.append(tray)
            _put(tray, ways, item.name, places)
    running: dict[int, int] = {}
    numbered: dict[str, TrayPlace] = {}
    for name, (tray_number, x, y, width, height, turned) in sorted(
        places.items(), key=lambda entry: (entry[1][0], round(entry[1][2] / 40), entry[1][1])
    ):
        running[tray_number] = running.get(tray_number, 0) + 1
        numbered[name] = TrayPlace(
            tray_number, running[tray_number], x + gap_mm / 2, y + gap_mm / 2, width - gap_mm, height - gap_mm, turned
        )
    area = sum((i.width_mm + gap_mm) * (i.height_mm + gap_mm) for i in items if i.name not in set(too_large))
    biggest = float(largest[0] or 1) * float(largest[1] or 1)
    return Packing(
        numbered, tuple((t.width_mm, t.height_mm) for t in trays), math.ceil(area / biggest - 1e-9), tuple(too_large)
    )


def _by_height_within_batches(items: Sequence[Footprint], batch: int = 60) -> list[Footprint]:
    ordered: list[Footprint] = []
    for start in range(0, len(items), batch):
        part = items[start : start + batch]
        ordered += sorted(part, key=lambda i: (-min(i.width_mm, i.height_mm), -max(i.width_mm, i.height_mm), i.name))
    return ordered


def _put(
    tray: _Open,
    ways: Sequence[tuple[float, float, bool]],
    name: str,
    places: dict[str, tuple[int, float, float, float, float, bool]],
) -> bool:
    found = []
    for width, height, turned in ways:
        spot = tray.spot(width, height)
        if spot is not None:
            found.append((spot[1] + height, spot[1], spot[0], width, height, turned))
    if not found:
        return False
    _, y, x, width, height, turned = min(found)
    tray.take(x, y, width, height)
    places[name] = (tray.number, x, y, width, height, turned)
    return True


def _next_kind(
    stock: list[list[float | int | None]], ways: Sequence[tuple[float, float, bool]]
) -> list[float | int | None]:
    fitting = [
        kind for kind in stock if any(w <= (kind[0] or 0) + 1e-9 and h <= (kind[1] or 0) + 1e-9 for w, h, _ in ways)
    ]
    for kind in fitting:
        if kind[2] is None or kind[2] > 0:
            if kind[2] is not None:
                kind[2] -= 1
            return kind
    return fitting[-1]
