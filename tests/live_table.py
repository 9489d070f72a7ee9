"""What the tests of the live screens share: the demo evening as a plan, words to say, and servers to kill."""

from __future__ import annotations

import datetime
import functools
import http.client
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from keepfast.book.entries import new_id
from keepfast.desk.table_entries import Said

ROOT = Path(__file__).parent.parent
CODE = "314159"
START = datetime.datetime(2026, 4, 18, 21, 0, tzinfo=ZoneInfo("Europe/Lisbon"))


@functools.cache
def demo_plan_text() -> str:
    """The demo evening's ``plan.json``, made by the planner itself."""
    from keepfast.exchange.camp import read_camp
    from keepfast.exchange.lists import read_list
    from keepfast.plan import as_json
    from keepfast.plan.chapters import with_air
    from keepfast.plan.evening import Rules, plan_evening

    demo = ROOT / "src" / "keepfast" / "demo"
    camp = read_camp(demo / "camp.toml").camp
    animals = read_list(demo / "survey.csv", zone=camp.time_zone).animals
    rules = Rules.load()
    plan = plan_evening(animals, camp, rules, start=START, size=50, origin={"keepfast": "test", "inputs": []})
    plan = with_air(plan, camp, rules.evening, 1, 50)
    return json.dumps(as_json.evening(plan))


def demo_plan() -> dict[str, Any]:
    """A fresh copy of it."""
    answer: dict[str, Any] = json.loads(demo_plan_text())
    return answer


def small_plan(animals: int = 3) -> dict[str, Any]:
    """The demo evening with its first animals only."""
    plan = demo_plan()
    keep = plan["table"]["order"][:animals]
    plan["animals"] = [a for a in plan["animals"] if a["field_number"] in keep]
    plan["table"]["order"] = keep
    plan["table"]["not_for_fluid"] = []
    for tray in plan["table"]["trays"]:
        tray["field_numbers"] = [n for n in tray["field_numbers"] if n in keep]
    for moment in plan["table"]["clock"]:
        moment["field_numbers"] = [n for n in moment["field_numbers"] if n in keep]
    return plan


_order = 0


def said(subject: str, field: str, value: Any, **more: Any) -> Said:
    """Something said at the table now; each call stands after the one before."""
    global _order
    _order = max(_order + 1, int(time.time() * 1000) + 1)
    text = "" if value is None or isinstance(value, bool) else str(value)
    parts = {
        "id": new_id(),
        "at": datetime.datetime.now().astimezone(),
        "order_ms": _order,
        "device": "tablet",
        "who": "Ana",
        "text": text,
    }
    return Said(subject=subject, field=field, value=value, **{**parts, **more})


def on_the_wire(one: Said) -> dict[str, Any]:
    """The same as a device sends it."""
    from dataclasses import asdict

    return {**asdict(one), "at": one.at.isoformat()}


class Running:
    """One running server."""

    def __init__(self, nursery: Nursery, asked: dict[str, Any]) -> None:
        self.nursery = nursery
        self.asked = asked
        self.pid, self.port = nursery.start(asked)
        self.cookie = ""

    @property
    def address(self) -> str:
        """Its address."""
        return f"http://127.0.0.1:{self.port}"

    def kill(self) -> None:
        """SIGKILL, and wait until the process is gone; one that is gone already stays so."""
        for turn in range(5000):
            try:
                os.kill(self.pid, 0 if turn else signal.SIGKILL)
            except ProcessLookupError:
                return
            time.sleep(0.002)
        raise AssertionError("the server would not die")

    def start_again(self) -> None:
        """The same book on the same port."""
        for _turn in range(200):
            try:
                self.pid, self.port = self.nursery.start({**self.asked, "port": self.port})
                return
            except OSError:
                time.sleep(0.05)
        raise AssertionError("the port did not come free")

    def ask(
        self,
        method: str,
        path: str,
        body: bytes | None = None,
        headers: dict[str, str] | None = None,
        timeout: float = 120,
    ) -> tuple[int, dict[str, str], bytes]:
        """One request, paired if ``pair`` was called."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            given = {"Origin": self.address, **({"Cookie": self.cookie} if self.cookie else {}), **(headers or {})}
            connection.request(method, path, body, given)
            response = connection.getresponse()
            return response.status, {k.lower(): v for k, v in response.getheaders()}, response.read()
        finally:
            connection.close()

    def pair(self, name: str = "Ana") -> str:
        """Let a device in; its cookie."""
        form = f"code={CODE}&name={name}".encode()
        status, headers, _body = self.ask("POST", "/pair", form, {"Content-Type": "application/x-www-form-urlencoded"})
        assert status == 303, status
        self.cookie = headers["set-cookie"].split(";")[0]
        return self.cookie

    def post(self, path: str, value: Any) -> tuple[int, Any]:
        """One JSON request."""
        status, _headers, body = self.ask(
            "POST", path, json.dumps(value).encode(), {"Content-Type": "application/json"}
        )
        return status, json.loads(body)


class Nursery:
    """The process that forks servers."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.live_nursery"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )
        self.pids: list[int] = []

    def start(self, asked: dict[str, Any]) -> tuple[int, int]:
        """A server; its process and port."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(json.dumps(asked) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        if not line:
            raise AssertionError("the nursery is gone")
        answer = json.loads(line)
        if "problem" in answer:
            raise OSError(answer["problem"])
        self.pids.append(answer["pid"])
        return answer["pid"], answer["port"]

    def serve(self, book: Path, plan: Path | None = None, **more: Any) -> Running:
        """A server for a book, its code known to the tests."""
        return Running(self, {"book": str(book), "plan": str(plan) if plan else None, "code": CODE, **more})

    def close(self) -> None:
        """End every server that was started here, and the nursery."""
        for pid in self.pids:
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue
        self.process.kill()
        self.process.wait()
