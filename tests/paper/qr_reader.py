"""A second reader of QR symbols, for tests only: from the modules straight to the text, by ISO/IEC 18004.

Written from the standard's layout (from memory), for versions 1 to 6 without error correction: a symbol that was drawn
right needs none. It shares nothing with the library that writes our symbols.
"""

from __future__ import annotations

import numpy as np

_ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
_MASKS = (
    lambda r, c: (r + c) % 2 == 0,
    lambda r, c: r % 2 == 0,
    lambda r, c: c % 3 == 0,
    lambda r, c: (r + c) % 3 == 0,
    lambda r, c: (r // 2 + c // 3) % 2 == 0,
    lambda r, c: (r * c) % 2 + (r * c) % 3 == 0,
    lambda r, c: ((r * c) % 2 + (r * c) % 3) % 2 == 0,
    lambda r, c: ((r + c) % 2 + (r * c) % 3) % 2 == 0,
)
_FORMAT_MASK = 0b101010000010010
_LEVELS = {1: "L", 0: "M", 3: "Q", 2: "H"}
# Data codewords of each block, level M, versions 1 to 6.
_BLOCKS_M = {1: [16], 2: [28], 3: [44], 4: [32, 32], 5: [43, 43], 6: [27, 27, 27, 27]}


def modules(grey: np.ndarray) -> np.ndarray:
    """Dark modules of the one symbol in a picture; the finder's first row is seven modules long."""
    dark = grey < 128
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    cut = dark[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    first = cut[max(1, cut.shape[0] // 200)]
    run = int(np.argmin(first)) if not first.all() else first.size
    count = round(cut.shape[1] / (run / 7))
    count = 21 + 4 * round((count - 21) / 4)
    at = ((np.arange(count) + 0.5) * cut.shape[0] / count).astype(int)
    across = ((np.arange(count) + 0.5) * cut.shape[1] / count).astype(int)
    return cut[np.ix_(at, across)]


def _reserved(count: int) -> np.ndarray:
    taken = np.zeros((count, count), dtype=bool)
    taken[:9, :9] = taken[:9, -8:] = taken[-8:, :9] = True
    taken[6, :] = taken[:, 6] = True
    if count > 21:
        centre = count - 7
        taken[centre - 2 : centre + 3, centre - 2 : centre + 3] = True
    return taken


def read(symbol: np.ndarray) -> tuple[str, str]:
    """The text, and the level of recovery."""
    count = symbol.shape[0]
    bits = [symbol[8, c] for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [symbol[r, 8] for r in (7, 5, 4, 3, 2, 1, 0)]
    said = int("".join("1" if b else "0" for b in bits), 2) ^ _FORMAT_MASK
    level, mask = _LEVELS[said >> 13], _MASKS[(said >> 10) & 7]
    taken = _reserved(count)
    stream = []
    column, upward = count - 1, True
    while column > 0:
        if column == 6:
            column -= 1
        for row in range(count - 1, -1, -1) if upward else range(count):
            for c in (column, column - 1):
                if not taken[row, c]:
                    stream.append(bool(symbol[row, c]) ^ mask(row, c))
        column -= 2
        upward = not upward
    words = [
        int("".join("1" if b else "0" for b in stream[i : i + 8]), 2)
        for i in range(0, len(stream) - len(stream) % 8, 8)
    ]
    assert level == "M"
    sizes = _BLOCKS_M[(count - 17) // 4]
    blocks: list[list[int]] = [[] for _ in sizes]
    source = iter(words)
    for i in range(max(sizes)):
        for block, size in zip(blocks, sizes, strict=True):
            if i < size:
                block.append(next(source))
    data = "".join(f"{word:08b}" for block in blocks for word in block)
    return _segments(data), level


def _segments(data: str) -> str:
    text, at = b"", 0

    def take(n: int) -> int:
        nonlocal at
        at += n
        return int(data[at - n : at] or "0", 2)

    while at + 4 <= len(data):
        mode = take(4)
        if mode == 0:
            break
        if mode == 7:  # the character set, one byte here
            take(8)
        elif mode == 1:
            left = take(10)
            while left:
                step = min(left, 3)
                text += f"{take({3: 10, 2: 7, 1: 4}[step]):0{step}d}".encode()
                left -= step
        elif mode == 2:
            left = take(9)
            while left > 1:
                pair = take(11)
                text += (_ALPHANUMERIC[pair // 45] + _ALPHANUMERIC[pair % 45]).encode()
                left -= 2
            if left:
                text += _ALPHANUMERIC[take(6)].encode()
        elif mode == 4:
            text += bytes(take(8) for _ in range(take(8)))
        else:
            raise ValueError(f"mode {mode} is not known here")
    return text.decode()
