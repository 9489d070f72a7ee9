"""Telling every open screen what has come into the book, after it is on the disk."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections import deque
from collections.abc import AsyncIterator, Callable
from typing import Any

from fastapi.concurrency import run_in_threadpool

from keepfast.desk.table_live import LiveTable
from keepfast.findings import FindingsError

# Another process may write into the book too; this often we look.
LOOK_S = 1.0
BEAT_S = 10.0
# A screen that comes back after more than this is given everything anew instead.
REMEMBERED = 4000


class Feed:
    """Knows what was told last, and wakes whoever listens."""

    def __init__(self, table: LiveTable) -> None:
        self.table = table
        self.sequence = table.cursor
        self._told: deque[tuple[int, dict[str, Any]]] = deque(maxlen=REMEMBERED)
        self._forgotten = table.cursor  # up to here nothing can be told again one by one
        self._listeners: set[asyncio.Event] = set()
        self._look: asyncio.Task[None] | None = None
        self._written = asyncio.Event()

    async def start(self) -> None:
        """Begin to look for what other processes write."""
        self._look = asyncio.create_task(self._looking())

    async def stop(self) -> None:
        """Stop looking, and wake every stream so that it ends."""
        if self._look is not None:
            self._look.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._look
        self._wake()

    def soon(self) -> None:
        """Something was written here: look at once, but keep nobody waiting for it."""
        self._written.set()

    async def _looking(self) -> None:
        while True:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(LOOK_S):
                    await self._written.wait()
            self._written.clear()
            with contextlib.suppress(FindingsError):
                await self.refresh()

    async def refresh(self) -> None:
        """Read what is new in the book and tell it."""
        told, cursor = await run_in_threadpool(self.table.news_to)
        if cursor == self.sequence:
            return
        for said in told:
            if len(self._told) == self._told.maxlen:
                self._forgotten = self._told[0][0]
            self._told.append((cursor, said))
        self.sequence = cursor
        self._wake()

    def _wake(self) -> None:
        for listener in self._listeners:
            listener.set()

    async def events(self, since: int, welcome: Callable[[], bool]) -> AsyncIterator[str]:
        """The stream for one screen from a place in the book on, for as long as the device is welcome."""
        awake = asyncio.Event()
        self._listeners.add(awake)
        try:
            yield "retry: 1000\n\n"
            while welcome():
                awake.clear()
                if since < self._forgotten:
                    yield "event: plan\ndata: {}\n\n"
                    return
                # Both are taken before the first is sent: more may come in while a slow screen takes its time.
                news, upto = [one for one in self._told if one[0] > since], self.sequence
                for sequence, said in news:
                    yield f"event: entry\nid: {sequence}\ndata: {json.dumps(said, ensure_ascii=False)}\n\n"
                since = max(since, upto)
                if self.sequence > upto:
                    continue
                try:
                    async with asyncio.timeout(BEAT_S):
                        await awake.wait()
                except TimeoutError:
                    # An event and not a comment: a page can hear it, and notices when the Wi-Fi is half dead.
                    yield "event: beat\ndata: {}\n\n"
        finally:
            self._listeners.discard(awake)
