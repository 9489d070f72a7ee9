"""Starts live servers quickly: everything is imported once, and each server is a process forked from here.

Run as ``python -m tests.live_nursery``; each line read is a JSON object that asks for a server, each line written says
its process and port. A server started here is the real one on a real book, and can be killed like one.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import sys
from typing import Any

from keepfast.desk.books import new_book, open_book
from keepfast.desk.table_live import LiveTable
from keepfast.desk.table_plan import plan_from_file
from keepfast.desk.table_sticks import Sticks
from keepfast.live import server


def serve(asked: dict[str, Any], listening: Any) -> None:
    """Be the server, in the forked process, until killed."""
    from pathlib import Path

    path = Path(asked["book"])
    if not path.exists():
        new_book(path)
    plan = plan_from_file(asked["plan"]) if asked.get("plan") else None
    with open_book(path, who="Ana", device="laptop") as book:
        if asked.get("series") and not book.things("series"):
            book.write("series", {"name": "B", "prefix": "B-", "width": 2, "first": 1, "use": "animal"})
        table = LiveTable(book, plan, checked=asked.get("checked", True))
        doors = server.doors_beside(path)
        if asked.get("code"):
            doors.code = asked["code"]
        port = listening.getsockname()[1]
        sticks = Sticks(book, {name: Path(folder) for name, folder in asked.get("sticks", {}).items()})
        app = server.build(table, doors, port, named=["camp.test"], host="127.0.0.1", sticks=sticks)
        server.run(app, listening)


def hold(held: dict[int, socket.socket]) -> int:
    """A port of our own for good: while a server is dead between a kill and a new start, nobody else may take it."""
    place = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    place.bind(("127.0.0.1", 0))
    port = int(place.getsockname()[1])
    held[port] = place
    return port


def main() -> None:
    """Answer one line after another."""
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    held: dict[int, socket.socket] = {}
    for line in sys.stdin:
        asked = json.loads(line)
        try:
            port = asked.get("port") or hold(held)
            listening = server.listening("127.0.0.1", port)
        except OSError as problem:
            print(json.dumps({"problem": str(problem)}), flush=True)
            continue
        pid = os.fork()
        if pid == 0:
            try:
                sys.stdin.close()
                serve(asked, listening)
            except BaseException:
                import traceback

                traceback.print_exc()
            os._exit(0)
        listening.close()
        print(json.dumps({"pid": pid, "port": port}), flush=True)


if __name__ == "__main__":
    main()
