"""What the tests of durability run in processes of their own: writers, readers, and a writer that is shot."""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import threading
import time

from keepfast.desk.books import open_book


def write(path: str, name: str, count: int, series: str) -> dict:
    """Append, and take numbers from one block that all writers share."""
    acknowledged, numbers = [], []
    with open_book(path, who=name, device="one block") as book:
        for i in range(count):
            acknowledged.append(book.write("animal", {"field_number": f"{name} {i}"}).id)
            numbers.append(book.give_number(series))
    return {"acknowledged": acknowledged, "numbers": numbers}


def read(path: str, seconds: float, threads: int) -> dict:
    """Read from several threads; every look must be whole: no entry without its state, no gap in the sequence."""
    troubles: list[str] = []
    looks = [0] * threads
    with open_book(path, read_only=True) as book:
        end = time.monotonic() + seconds

        def look(which: int) -> None:
            try:
                last = 0
                while not looks[which] or time.monotonic() < end:  # once at least, however slow the machine
                    for written in book.read_since(last):
                        if written.sequence != last + 1:
                            troubles.append(f"gap before {written.sequence}")
                        last = written.sequence
                    with book.reading() as reads:
                        animals = sum(1 for _ in reads.all("animal"))
                        if animals != reads.count("animal"):
                            troubles.append("two answers in one look")
                    looks[which] += 1
            except Exception as problem:
                troubles.append(repr(problem))

        workers = [threading.Thread(target=look, args=(i,)) for i in range(threads)]
        for worker in workers:
            worker.start()
        for worker in workers:
            worker.join()
    return {"troubles": troubles, "looks": min(looks)}


def shoot(path: str, times: int, seed: int) -> dict:
    """Start a writer, kill it in mid-write, look whether all it acknowledged is there; again and again."""
    luck = random.Random(seed)
    acknowledged: set[str] = set()
    lost: list[str] = []
    unsound: list[str] = []
    in_flight = 0
    for turn in range(times):
        out, into = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                os.close(out)
                with open_book(path, who="shot", device="laptop") as book:
                    for i in range(10_000):
                        entries = [book.entry("animal", {"field_number": f"{turn} {i} {k}"}) for k in range(1 + i % 3)]
                        os.write(into, b"-" + entries[0].id.encode() + b"\n")
                        done = book.append(entries)
                        os.write(into, b"".join(b"+" + one.id.encode() + b"\n" for one in done))
            finally:
                os._exit(0)
        os.close(into)
        said = b""
        while b"+" not in said:  # however slow the machine: it is shot in the midst of its work, not before
            piece = os.read(out, 65536)
            if not piece:
                raise RuntimeError(f"the writer of turn {turn} ended before it had acknowledged anything")
            said += piece
        time.sleep(luck.uniform(0.0, 0.04))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while piece := os.read(out, 65536):
            said += piece
        os.close(out)
        lines = said.decode().splitlines()
        fresh = {line[1:] for line in lines if line.startswith("+") and len(line) == 37}
        in_flight += bool(lines) and lines[-1].startswith("-")
        acknowledged |= fresh
        with open_book(path, who="after", device="laptop") as book:
            last, held = 0, set()
            while part := book.read_since(last, 10_000):
                held |= {written.entry.id for written in part}
                last = part[-1].sequence
            lost += sorted(acknowledged - held)
            if turn % 10 == 9 or turn == times - 1:
                proof = book.ledger.prove()
                unsound += proof.troubles + proof.derived_troubles
    return {"acknowledged": len(acknowledged), "lost": lost, "unsound": unsound, "in_flight": in_flight}


if __name__ == "__main__":
    task, path, *rest = sys.argv[1:]
    if task == "write":
        answer = write(path, rest[0], int(rest[1]), rest[2])
    elif task == "read":
        answer = read(path, float(rest[0]), int(rest[1]))
    else:
        answer = shoot(path, int(rest[0]), int(rest[1]))
    print(json.dumps(answer))
