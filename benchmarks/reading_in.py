"""Reading 100,000 rows of notes into a book, beside bare sqlite3 that only puts the same cells into one table."""

from __future__ import annotations

import csv
import random
import sqlite3
import tempfile
import time
from pathlib import Path

from benchmarks.rows import Row
from keepfast.desk.books import new_book, open_book
from keepfast.desk.reading_in import Wishes, apply, look

ROWS = 100_000
GOAL_SECONDS = 60.0
HEADINGS = (
    "Field No.", "Species", "Form", "Sex", "SVL (mm)", "Tail (mm)", "Mass (g)", "Date", "Collector", "Locality", "Lat",
    "Lon", "Datum", "Jar", "Notes",
)  # fmt: skip
TAXA = (("Hyla molleri", "frog"), ("Pelobates cultripes", "frog"), ("Podarcis virescens", "lizard"),
        ("Timon lepidus", "lizard"), ("Natrix maura", "snake"))  # fmt: skip


def write_notes(path: Path, rows: int, seed: int = 7) -> None:
    """Invented notes of a thousand stops."""
    draw = random.Random(seed)
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(HEADINGS)
        for n in range(rows):
            taxon, form = TAXA[n % len(TAXA)]
            stop = n // 100
            length = round(draw.uniform(30, 90), 1)
            day = f"2026-{1 + stop % 12:02d}-{1 + stop % 28:02d}"
            where = (f"{36 + stop % 400 / 100:.4f}", f"{-6 - stop // 400 / 100:.4f}", "WGS84")
            measured = (length, "", round(length**2 / 400, 2))
            last = (f"J{n // 20}", "under a stone by the path")
            first = (f"KB {n + 1}", taxon, form, "mf"[n % 2])
            out.writerow((*first, *measured, day, "Ina Berg | Tom Vale", f"Stop {stop}", *where, *last))


def bare(path: Path, folder: Path) -> None:
    """The same cells into one table, on the disk."""
    with sqlite3.connect(folder / "bare.db") as connection:
        connection.execute("pragma journal_mode=wal")
        connection.execute("pragma synchronous=full")
        connection.execute(f"create table notes ({', '.join(f'c{i} text' for i in range(len(HEADINGS)))})")
        with path.open(encoding="utf-8", newline="") as file:
            reader = csv.reader(file)
            next(reader)
            marks = ", ".join("?" * len(HEADINGS))
            connection.executemany(f"insert into notes values ({marks})", reader)
    connection.close()


def run() -> list[Row]:
    """One dry run and one writing of all, as a person would wait for them."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        notes = folder / "notes.csv"
        write_notes(notes, ROWS)
        new_book(folder / "notes.keepfast", name="bench")
        with open_book(folder / "notes.keepfast", who="bench", device="bench") as book:
            start = time.perf_counter()
            draft = look(book, [notes], Wishes(zone="UTC", source="GPS"))
            looked = time.perf_counter() - start
            written = apply(draft)
            whole = time.perf_counter() - start
        start = time.perf_counter()
        bare(notes, folder)
        beside = time.perf_counter() - start
    note = f"{written:,} entries; the look alone {looked:.1f} s"
    goal = f"under {GOAL_SECONDS:g} s"
    return [Row(f"{ROWS:,} rows of notes", whole, goal, whole < GOAL_SECONDS, "bare sqlite3, one table", beside, note)]
