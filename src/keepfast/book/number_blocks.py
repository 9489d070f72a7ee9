"""Numbers of a series: which come next, which are set aside for which device, which are missing and why.

A series belongs to a person for life or to a trip; a block of it is set aside for one device, so that two that are
apart cannot give out the same number. A number once given or written is never given again, and a gap is either
explained or found by the checks.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

_NUMBER = re.compile(r"^(.*?)(\d+)(\D*)$", re.DOTALL)
_SEPARATORS = re.compile(r"[^0-9a-z]+")
_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")
LARGEST_SERIAL = 10**15


def number_key(text: str) -> str:
    """A number as it is compared: without case, separators or leading zeros. ``AB 007``, ``ab-7`` are ``ab7``."""
    folded = text.casefold()
    if not folded.isascii():
        return "".join(_ZEROS.sub("", part) for part in re.split(r"[\W_]+", folded))
    return "".join([_ZEROS.sub("", part) for part in _SEPARATORS.split(folded)])


def split_number(text: str) -> tuple[str, int] | None:
    """The prefix as compared and the running number; ``None`` where there is no running number.

    Examples
    --------
    >>> split_number("AB-0123")
    ('ab', 123)
    """
    found = _NUMBER.match(text.strip())
    if found is None or len(found[2]) > 15:
        return None
    return number_key(found[1]) + ("" if not found[3].strip() else f"*{number_key(found[3])}"), int(found[2])


def written(series: Mapping[str, Any], serial: int) -> str:
    """The number as it is written: prefix, digits filled to the series' width, suffix."""
    return f"{series.get('prefix') or ''}{serial:0{series.get('width') or 1}d}{series.get('suffix') or ''}"


def series_prefix(series: Mapping[str, Any]) -> str:
    """The prefix under which this series' numbers are found in the record of used ones."""
    found = split_number(written(series, 1))
    assert found is not None
    return found[0]


@dataclass(frozen=True)
class Block:
    """Numbers set aside for one device, both ends included."""

    device: str
    first: int
    last: int


@dataclass(frozen=True)
class Gap:
    """Numbers of a series that nothing carries, both ends included, and why, where somebody or the record says."""

    first: int
    last: int
    reason: str  # empty: nobody knows


def blocks_of(series: Mapping[str, Any]) -> tuple[Block, ...]:
    """The blocks of a series in the order of their numbers."""
    given = series.get("blocks") or ()
    return tuple(sorted((Block(b["device"], b["first"], b["last"]) for b in given), key=lambda b: (b.first, b.last)))


def next_block(series: Mapping[str, Any], highest_used: int | None, count: int) -> tuple[int, int] | None:
    """First and last number of a new block: after all that is set aside or used; ``None`` where the series is full.

    Raises
    ------
    ValueError
        If count is not 1 to 100,000.
    """
    if not 1 <= count <= 100_000:
        raise ValueError(f"count must lie between 1 and 100000; {count} was given")
    first = series.get("first")
    start = 1 if first is None else first
    start = max([start, *(block.last + 1 for block in blocks_of(series))])
    if highest_used is not None:
        start = max(start, highest_used + 1)
    end = start + count - 1
    last = series.get("last")
    return None if (last is not None and end > last) else (start, end)


def next_in_blocks(series: Mapping[str, Any], device: str, used: Iterable[int]) -> int | None:
    """The next number this device may give out: above every used one in its first block that has room."""
    taken = set(used)
    for block in blocks_of(series):
        if block.device != device:
            continue
        inside = [n for n in taken if block.first <= n <= block.last]
        candidate = max(inside) + 1 if inside else block.first
        if candidate <= block.last:
            return candidate
    return None


def overlaps(series: Mapping[str, Any]) -> tuple[tuple[Block, Block], ...]:
    """Pairs of blocks of different devices that share a number."""
    blocks = blocks_of(series)
    return tuple(
        (one, other)
        for i, one in enumerate(blocks)
        for other in blocks[i + 1 :]
        if other.first <= one.last and one.first <= other.last and one.device != other.device
    )


def gaps(series: Mapping[str, Any], carried: Iterable[int], given: Sequence[Mapping[str, Any]] = ()) -> tuple[Gap, ...]:
    """Numbers from the series' first to the highest carried or given that nothing carries, with the reason if known.

    A reason is what somebody wrote (``number_explained``), else what the record tells: given out on a device but
    carried by nothing.
    """
    have = set(carried)
    given_by = {g["number"]: g.get("device", "") for g in given}
    spoken_for = have | set(given_by)
    if not spoken_for:
        return ()
    first = series.get("first")
    low = min(spoken_for) if first is None else min(first, min(spoken_for))
    explained = series.get("explained") or ()
    found: list[Gap] = []
    for number in _missing(low, max(spoken_for), have):
        reason = next((e["reason"] for e in explained if e["first"] <= number <= e["last"]), "")
        if not reason and number in given_by:
            reason = f"given out on {given_by[number]}, carried by nothing"
        if not reason:
            block = next((b for b in blocks_of(series) if b.first <= number <= b.last), None)
            beyond = block is not None and not any(number < n <= block.last for n in spoken_for)
            if block is not None and beyond:
                reason = f"set aside for {block.device}, not given out"
        if found and found[-1].last == number - 1 and found[-1].reason == reason:
            found[-1] = Gap(found[-1].first, number, reason)
        else:
            found.append(Gap(number, number, reason))
    return tuple(found)


def _missing(low: int, high: int, have: set[int]) -> Iterable[int]:
    # Between neighbours only, so that one stray number far away does not make a walk of millions.
    inside = sorted(n for n in have if low <= n <= high)
    before = low - 1
    for number in [*inside, high + 1]:
        room = number - before - 1
        yield from range(before + 1, before + 1 + min(room, 10_000))
        before = number
