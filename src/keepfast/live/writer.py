"""One writer for all devices: what comes in at the same moment goes to the disk together.

Each request waits until its own entries are on the disk; a request that finds the writer busy joins the next turn.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from fastapi.concurrency import run_in_threadpool

from keepfast.desk.table_entries import Said
from keepfast.desk.table_live import LiveTable, Outcome


class Writer:
    """Gathers what several devices send and writes it in turns."""

    def __init__(self, table: LiveTable) -> None:
        self.table = table
        self._waiting: list[tuple[Sequence[Said], asyncio.Future[list[Outcome]]]] = []
        self._work: asyncio.Task[None] | None = None

    async def write(self, said: Sequence[Said]) -> list[Outcome]:
        """What became of each, once it is on the disk.

        Raises
        ------
        FindingsError
            If the book cannot be written now.
        """
        answer: asyncio.Future[list[Outcome]] = asyncio.get_running_loop().create_future()
        self._waiting.append((said, answer))
        if self._work is None or self._work.done():
            # A task of its own: a device that hangs up must not stop the writing for the others.
            self._work = asyncio.create_task(self._turns())
        return await answer

    async def _turns(self) -> None:
        while self._waiting:
            turn, self._waiting = self._waiting, []
            together = [one for said, _answer in turn for one in said]
            try:
                outcomes = await run_in_threadpool(self.table.append, together)
            except Exception as problem:
                for _said, answer in turn:
                    if not answer.done():
                        answer.set_exception(problem)
                continue
            start = 0
            for said, answer in turn:
                if not answer.done():
                    answer.set_result(outcomes[start : start + len(said)])
                start += len(said)
