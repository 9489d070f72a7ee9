"""The live screens: how soon an entry is safe, how light the first page is, and whether a long evening slows them."""

from __future__ import annotations

import dataclasses
import http.client
import json
import shutil
import sqlite3
import statistics
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import CDPSession, sync_playwright

from benchmarks.rows import Row
from tests.live_table import Nursery, Running, demo_plan_text, on_the_wire, said

DEVICES = 10
ENTRIES_A_SECOND = 50
SECONDS = 10
SESSION = 10_000
ENTRIES_AN_ANIMAL = 35
CPU_SLOWER = 6
VISITS = 5  # first visits of which the middle is told
FIRST_PAGE_KB = 100
MEMORY_MB = 250


def _share(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


class _Pen(threading.Thread):
    """A device that writes at an even pace, whatever the answers take."""

    def __init__(self, running: Running, subjects: list[str], cookie: str, number: int) -> None:
        super().__init__(daemon=True)
        self.running, self.subjects, self.cookie, self.number = running, subjects, cookie, number
        self.took: list[float] = []

    def run(self) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self.running.port, timeout=20)
        headers = {"Origin": self.running.address, "Cookie": self.cookie, "Content-Type": "application/json"}
        pace = DEVICES / ENTRIES_A_SECOND
        start = time.perf_counter() + self.number * pace / DEVICES
        for i in range(int(SECONDS / pace)):
            due = start + i * pace
            time.sleep(max(0.0, due - time.perf_counter()))
            one = said(self.subjects[i % len(self.subjects)], "remark", f"{self.number}.{i}", device=f"d{self.number}")
            body = json.dumps({"entries": [on_the_wire(one)]})
            sent = time.perf_counter()
            connection.request("POST", "/api/entries", body, headers)
            answer = json.loads(connection.getresponse().read())
            self.took.append(time.perf_counter() - sent)
            if answer["stored"] != [one.id]:
                raise AssertionError(answer)


def _ten_devices(running: Running, subjects: list[str]) -> list[float]:
    cookies = [running.pair(f"device {i}") for i in range(DEVICES)]
    pens = [_Pen(running, subjects, cookie, i) for i, cookie in enumerate(cookies)]
    for pen in pens:
        pen.start()
    for pen in pens:
        pen.join()
    return [one for pen in pens for one in pen.took]


def _disk_alone(folder: Path) -> float:
    """What the disk itself takes for one entry: bare sqlite3, synchronous FULL, the 99th percentile."""
    connection = sqlite3.connect(folder / "bare.db", isolation_level=None)
    connection.execute("pragma journal_mode = wal")
    connection.execute("pragma synchronous = full")
    connection.execute("create table entry (id text primary key, content text)")
    took = []
    for i in range(300):
        start = time.perf_counter()
        connection.execute("begin immediate")
        connection.execute("insert into entry values (?, ?)", (str(i), "x" * 600))
        connection.execute("commit")
        took.append(time.perf_counter() - start)
    connection.close()
    return _share(took, 0.99)


def _memory_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    raise AssertionError("no memory is told")


def _long_evening(running: Running) -> tuple[float, float, float]:
    """Median time of one entry in the first and in the last tenth of the session, and the memory at its end.

    The session is a season at one table: a new animal, then its entries, some of them corrected, then the next animal.
    """
    connection = http.client.HTTPConnection("127.0.0.1", running.port, timeout=20)
    headers = {"Origin": running.address, "Cookie": running.cookie, "Content-Type": "application/json"}
    took = []
    fields = ("remark", "tissue", "protocol_followed", "mass_g", "length_mm", "delivered_ml", "retained_ml")
    subject = ""
    last: dict[str, tuple[str, str]] = {}
    for i in range(SESSION):
        if i % ENTRIES_AN_ANIMAL == 0:
            one = said("", "animal", "frog", number=f"S-{i // ENTRIES_AN_ANIMAL}")
            one = dataclasses.replace(one, subject=one.id)
            subject, last = one.id, {}
        elif i % 3 == 0:
            one = said(subject, f"move:before/{i}", True)
        else:
            field = fields[i % len(fields)]
            before, root = last.get(field, ("", ""))
            more: dict[str, Any] = {"seen": before, "corrects": root} if before else {}
            one = said(subject, field, float(i + 1) if field.endswith(("_g", "_mm", "_ml")) else f"word {i}", **more)
            last[field] = (one.id, root or one.id)
        start = time.perf_counter()
        connection.request("POST", "/api/entries", json.dumps({"entries": [on_the_wire(one)]}), headers)
        answer = json.loads(connection.getresponse().read())
        took.append(time.perf_counter() - start)
        if answer["stored"] != [one.id]:
            raise AssertionError(answer)
    tenth = SESSION // 10
    return statistics.median(took[:tenth]), statistics.median(took[-tenth:]), _memory_mb(running.pid)


def _first_page(running: Running) -> tuple[float, float, float]:
    """Kilobytes over the wire, seconds until the pen takes a key, slowed six times, and the same unslowed.

    The middle of several first visits, each of a browser that has kept nothing: one alone swings by a quarter.
    """
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"],
        )
        results: dict[int, list[float]] = {CPU_SLOWER: [], 1: []}
        received = 0.0
        for slower in (CPU_SLOWER, 1) * VISITS:
            context = browser.new_context(viewport={"width": 360, "height": 740})
            name, _equals, value = running.cookie.partition("=")
            context.add_cookies([{"name": name, "value": value, "url": running.address}])
            page = context.new_page()
            # The browser is up and at the laptop's address, with nothing of the page kept yet.
            page.goto(running.address + "/static/mark.svg")
            session: CDPSession = context.new_cdp_session(page)
            session.send("Network.enable")
            session.send("Emulation.setCPUThrottlingRate", {"rate": slower})
            sizes: list[float] = []
            session.on("Network.loadingFinished", lambda e, into=sizes: into.append(e["encodedDataLength"]))
            start = time.perf_counter()
            page.goto(running.address + "/pen", wait_until="commit")
            page.wait_for_selector("html[data-ready]", state="attached")
            results[slower].append(time.perf_counter() - start)
            received = sum(sizes) / 1000 if slower == CPU_SLOWER else received
            context.close()
        browser.close()
    return received, statistics.median(results[CPU_SLOWER]), statistics.median(results[1])


def run() -> list[Row]:
    """All of it, on a server of its own."""
    nursery = Nursery()
    try:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            plan = folder / "plan.json"
            plan.write_text(demo_plan_text(), encoding="utf-8")
            running = nursery.serve(folder / "river.keepfast", plan)
            running.pair()
            subjects = json.loads(running.ask("GET", "/api/table")[2])["order"]
            took = _ten_devices(running, subjects)
            disk = _disk_alone(folder)
            p99 = _share(took, 0.99)
            kilobytes, slowed, unslowed = _first_page(running)
            early, late, memory = _long_evening(running)
            running.kill()
        return [
            Row(
                f"an entry named as safe, {DEVICES} devices, {ENTRIES_A_SECOND} entries/s, 99th percentile",
                p99,
                "< 0.05 s",
                p99 < 0.05,
                "bare sqlite3, one commit with synchronous FULL, 99th percentile",
                disk,
                f"{len(took)} entries, median {statistics.median(took):.4g} s",
            ),
            Row(
                f"first page (pen, 18 animals) usable, processor slowed {CPU_SLOWER} times, middle of {VISITS}",
                slowed,
                f"< 1 s and < {FIRST_PAGE_KB} kB",
                slowed < 1.0 and kilobytes < FIRST_PAGE_KB,
                "the same page, processor not slowed",
                unslowed,
                f"{kilobytes:.0f} kB over the wire",
            ),
            Row(
                f"an entry at the end of a session of {SESSION:,}, median",
                late,
                f"no growth (within a fifth) and < {MEMORY_MB} MB",
                late < 1.2 * early and memory < MEMORY_MB,
                "the same at its beginning",
                early,
                f"{memory:.0f} MB at the end",
            ),
        ]
    finally:
        nursery.close()
