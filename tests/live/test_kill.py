"""The server is killed again and again while entries flow: what was called stored is there, once each."""

from __future__ import annotations

import http.client
import json
import random
import sqlite3
import threading
import time
from pathlib import Path

import pytest

from keepfast.desk.books import open_book
from keepfast.store.keeping import backup
from tests.live_table import Nursery, Running, on_the_wire, said

PENS = 3


class Pen(threading.Thread):
    """A device: writes down, sends, and sends again until the server has named it."""

    def __init__(self, running: Running, subjects: list[str], number: int) -> None:
        super().__init__(daemon=True)
        self.running = running
        self.subjects = subjects
        self.random = random.Random(number)
        self.number = number
        self.sent: list[str] = []
        self.called_stored: list[str] = []
        self.again = 0
        self.stop = threading.Event()

    def run(self) -> None:
        while not self.stop.is_set():
            batch = [
                on_the_wire(said(self.random.choice(self.subjects), "remark", f"{self.number}.{len(self.sent) + i}"))
                for i in range(self.random.randint(1, 5))
            ]
            self.sent += [one["id"] for one in batch]
            while True:
                try:
                    status, answer = self.running.post("/api/entries", {"entries": batch})
                except (OSError, http.client.HTTPException, ValueError):
                    self.again += 1
                    time.sleep(0.01)
                    continue
                assert 200 == status, answer
                assert [] == answer["refused"]
                self.called_stored += answer["stored"]
                break


def kill_while_writing(nursery: Nursery, book: Path, plan: Path, rounds: int, seed: int) -> None:
    running = nursery.serve(book, plan)
    running.pair()
    subjects = json.loads(running.ask("GET", "/api/table")[2])["order"]
    pens = [Pen(running, subjects, number) for number in range(PENS)]
    for pen in pens:
        pen.start()
    chance = random.Random(seed)
    lost_early: set[str] = set()
    for _round in range(rounds):
        before = sum(len(pen.called_stored) for pen in pens)
        deadline = time.monotonic() + 120
        # At least one entry a round, so that no round is an idle one; then the blow falls at any moment.
        while sum(len(pen.called_stored) for pen in pens) == before and time.monotonic() < deadline:
            time.sleep(0.005)
        time.sleep(chance.uniform(0.0, 0.08))
        called = {one for pen in pens for one in list(pen.called_stored)}
        running.kill()
        with sqlite3.connect(book) as connection:
            there = {row[0] for row in connection.execute("select id from entry")}
        lost_early |= called - there
        running.start_again()
    assert set() == lost_early
    for pen in pens:
        pen.stop.set()
    for pen in pens:
        pen.join(120)
        assert not pen.is_alive()
    running.kill()
    with sqlite3.connect(book) as connection:
        rows = [row[0] for row in connection.execute("select id from entry where device = 'tablet'")]
    sent = [one for pen in pens for one in pen.sent]
    called = [one for pen in pens for one in pen.called_stored]
    assert len(rows) == len(set(rows))
    assert set(sent) == set(called) == set(rows)
    assert rounds <= len(sent)
    assert sum(pen.again for pen in pens) > 0
    with open_book(book) as opened:
        remarks = [
            w for w in opened.read_since(0, 1_000_000) if w.entry.kind == "animal" and "remarks" in w.entry.content
        ]
    assert len(sent) == len(remarks)
    # A backup proves what it copied: every entry, every link, every derived table.
    assert () == tuple(backup(book, book.with_suffix(".copy")).proof.troubles)


def test_killed_fifty_times_nothing_called_stored_is_lost_or_doubled(
    nursery: Nursery, tmp_path: Path, plan_file: Path
) -> None:
    kill_while_writing(nursery, tmp_path / "river.keepfast", plan_file, rounds=50, seed=50)


@pytest.mark.long
def test_killed_five_hundred_times_nothing_called_stored_is_lost_or_doubled(
    nursery: Nursery, tmp_path: Path, plan_file: Path
) -> None:
    kill_while_writing(nursery, tmp_path / "river.keepfast", plan_file, rounds=500, seed=500)
