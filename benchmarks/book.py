"""The book beside bare sqlite3: entries on disk, import, opening, proving, and finding among a million animals.

Bare sqlite3 stands beside with the least that does the same outward act: one INSERT with its commit on disk (WAL,
synchronous FULL), executemany of the same rows, a SELECT by an indexed number, a full-text MATCH, a LIKE over all rows
for a misspelt word (which it cannot forgive), reading every row once. It keeps no chain, no state and no history.
"""

from __future__ import annotations

import random
import sqlite3
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from benchmarks.rows import Row
from keepfast.book.entries import Entry
from keepfast.desk.books import Book, new_book, open_book

ANIMALS = 1_000_000
PROVEN = 1_000_000
IMPORTED = 100_000
BATCH = 5_000
SYLLABLES = "ka lo mi ran do ve tu pos nel gra fin sel bor que hi zan wer ti mo su".split()  # noqa: SIM905


def percentile(times: Sequence[float], share: float) -> float:
    """The value below which this share of the times lies."""
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


def times_of(work: Callable[[int], object], count: int) -> list[float]:
    """How long each of so many calls takes, after a few to warm up."""
    for i in range(3):
        work(-1 - i)
    times = []
    for i in range(count):
        start = time.perf_counter()
        work(i)
        times.append(time.perf_counter() - start)
    return times


class Words:
    """Invented words, names and places, drawn with a seed."""

    def __init__(self, seed: int = 1) -> None:
        self.luck = random.Random(seed)
        self.vocabulary = [self.word(2, 5) for _ in range(60_000)]
        self.genera = [self.word(3, 3).capitalize() for _ in range(400)]
        self.epithets = [self.word(3, 4) for _ in range(3000)]
        self.people = [f"{self.word(2, 2).capitalize()} {self.word(3, 3).capitalize()}" for _ in range(60)]

    def word(self, low: int, high: int) -> str:
        return "".join(self.luck.choice(SYLLABLES) for _ in range(self.luck.randint(low, high)))

    def taxon(self) -> str:
        return f"{self.luck.choice(self.genera)} {self.luck.choice(self.epithets)}"

    def sentence(self) -> str:
        return " ".join(self.luck.choice(self.vocabulary) for _ in range(4))


def _animals(book: Book, words: Words, count: int, events: Sequence[str], first: int = 0) -> None:
    """One entry an animal, with its words in it, as a first reading of a catalogue gives them."""
    for start in range(first, first + count, BATCH):
        book.append(
            Entry(
                "animal",
                {
                    "field_number": f"AB {i}",
                    "form": "frog",
                    "event": words.luck.choice(events),
                    "remarks": f"{words.taxon()} {words.sentence()}",
                },
                "bench",
                "bench",
            )
            for i in range(start, min(start + BATCH, first + count))
        )


def _events(book: Book, words: Words) -> list[str]:
    names = [f"{words.word(3, 3).capitalize()} {words.word(2, 2)}" for _ in range(200)]
    places = [book.entry("place", {"name": name, "latitude": 38.0, "longitude": -8.0}) for name in names]
    events = [
        book.entry(
            "event",
            {
                "number": f"E{i}",
                "place": words.luck.choice(places).id,
                "when": f"{words.luck.randint(1950, 2025)}-0{words.luck.randint(1, 9)}-{words.luck.randint(10, 28)}",
                "by": [words.luck.choice(words.people)],
            },
        )
        for i in range(2000)
    ]
    book.append([*places, *events])
    return [event.id for event in events]


def _bare(path: Path) -> sqlite3.Connection:
    bare = sqlite3.connect(path, isolation_level=None)
    bare.execute("PRAGMA journal_mode = WAL")
    bare.execute("PRAGMA synchronous = FULL")
    bare.execute("CREATE TABLE animal (id INTEGER PRIMARY KEY, number TEXT, text TEXT)")
    bare.execute("CREATE INDEX animal_number ON animal (number)")
    bare.execute("CREATE VIRTUAL TABLE words USING fts5(text, content='animal', content_rowid='id')")
    return bare


def _import(folder: Path) -> Row:
    words = Words(2)
    path = folder / "import.keepfast"
    new_book(path)
    with open_book(path) as book:
        events = _events(book, words)
        start = time.perf_counter()
        for first in range(0, IMPORTED, BATCH):
            entries = []
            for i in range(first, first + BATCH):
                animal = Entry(
                    "animal",
                    {"field_number": f"CD {i}", "form": "frog", "event": words.luck.choice(events),
                     "remarks": words.sentence()},
                    "bench", "bench",
                )  # fmt: skip
                values = {"length_mm": words.luck.uniform(10, 90), "mass_g": words.luck.uniform(1, 9)}
                entries += [
                    animal,
                    Entry("measurement", {"animal": animal.id, "values": values}, "bench", "bench"),
                    Entry("determination", {"animal": animal.id, "taxon": words.taxon()}, "bench", "bench"),
                ]
            book.append(entries)
        ours = time.perf_counter() - start
    bare = _bare(folder / "import.db")
    rows = [(f"CD {i}", f"{words.taxon()} {words.sentence()}") for i in range(IMPORTED)]
    start = time.perf_counter()
    bare.execute("BEGIN")
    bare.executemany("INSERT INTO animal (number, text) VALUES (?, ?)", rows)
    bare.execute("INSERT INTO words (words) VALUES ('rebuild')")
    bare.execute("COMMIT")
    beside = time.perf_counter() - start
    bare.close()
    return Row(
        f"import of {IMPORTED:,} animals, measured and determined (3 entries each)", ours, "under 60 s", ours < 60,
        "bare sqlite3, one row each, no chain or state", beside,
    )  # fmt: skip


def _writing(book: Book, folder: Path, events: Sequence[str]) -> list[Row]:
    def write(i: int) -> None:
        book.write(
            "animal", {"field_number": f"ZZ {i}", "form": "frog", "event": events[i % len(events)], "sex": "male"}
        )

    bare = _bare(folder / "write.db")

    def insert(i: int) -> None:
        bare.execute("INSERT INTO animal (number, text) VALUES (?, ?)", (f"ZZ {i}", "frog male"))

    ours, beside = times_of(write, 1000), times_of(insert, 1000)
    bare.close()
    rows = []
    for name, share in (("median", 0.5), ("99th percentile", 0.99)):
        value = percentile(ours, share)
        rows.append(
            Row(f"an entry on disk and the state updated, {name}", value, "99th percentile under 10 ms", value < 0.010,
                "bare INSERT and commit", percentile(beside, share))
        )  # fmt: skip
    return rows


def _finding(book: Book, folder: Path, words: Words) -> list[Row]:
    bare = _bare(folder / "find.db")
    with book.reading() as reads:
        states = reads.all("animal")
        rows = (
            (state["field_number"], state.get("remarks", ""))
            for state in states
            if state["field_number"].startswith("AB")
        )
        bare.execute("BEGIN")
        bare.executemany("INSERT INTO animal (number, text) VALUES (?, ?)", rows)
        bare.execute("INSERT INTO words (words) VALUES ('rebuild')")
        bare.execute("COMMIT")
    luck = random.Random(5)
    asked: list[tuple[str, str]] = []
    for i in range(200):
        asked.append(
            (
                (f"AB {luck.randrange(ANIMALS)}", "number"),
                (luck.choice(words.genera), "words"),
                (f"{luck.choice(words.genera)} {luck.choice(words.epithets)}", "words"),
                (f"{luck.choice(words.vocabulary)} {luck.choice(words.genera)}", "words"),
                (luck.choice(words.vocabulary), "words"),
            )[i % 5]
        )
    misspelt = [_slip(luck, luck.choice(words.genera + words.epithets)) for _ in range(100)]
    misspelt += [f"{_slip(luck, luck.choice(words.genera))} {luck.choice(words.epithets)}" for _ in range(60)]
    misspelt += [f"AB {ANIMALS + luck.randrange(ANIMALS)}"[:-1] for _ in range(40)]

    def ours(questions: Sequence[str]) -> list[float]:
        return times_of(lambda i: book.find(questions[i % len(questions)]), len(questions))

    def exact_bare(i: int) -> None:
        text, sort = asked[i % len(asked)]
        if sort == "number":
            bare.execute("SELECT * FROM animal WHERE number = ? LIMIT 50", (text,)).fetchall()
        else:
            bare.execute("SELECT rowid FROM words WHERE words MATCH ? LIMIT 50", (text,)).fetchall()

    def misspelt_bare(i: int) -> None:
        like = f"%{misspelt[i % len(misspelt)][:4]}%"
        bare.execute("SELECT * FROM animal WHERE text LIKE ? LIMIT 50", (like,)).fetchall()

    exact, near = ours([text for text, _sort in asked]), ours(misspelt)
    bare_exact, bare_near = times_of(exact_bare, len(asked)), times_of(misspelt_bare, 60)
    bare.close()
    found = sum(bool(book.find(text).hits) for text in misspelt[:100])
    a, b = percentile(exact, 0.95), percentile(near, 0.95)
    return [
        Row(f"exact search among {ANIMALS:,} animals, 95th percentile", a, "under 50 ms", a < 0.050,
            "bare index or FTS5, rowids only", percentile(bare_exact, 0.95)),
        Row(f"misspelt search among {ANIMALS:,} animals, 95th percentile", b, "under 300 ms", b < 0.300,
            "bare LIKE on the first four letters", percentile(bare_near, 0.95), f"{found} of 100 single words found"),
    ]  # fmt: skip


def _slip(luck: random.Random, word: str) -> str:
    """A word with one slip of the finger: a letter left out, doubled, wrong, or swapped with its neighbour."""
    i = luck.randrange(1, len(word) - 1)
    sort = luck.randrange(4)
    if sort == 0:
        return word[:i] + word[i + 1 :]
    if sort == 1:
        return word[:i] + word[i] + word[i:]
    if sort == 2:
        return word[:i] + "x" + word[i + 1 :]
    return word[: i - 1] + word[i] + word[i - 1] + word[i + 1 :]


def _proving(book: Book, path: Path) -> Row:
    entries = book.last_sequence()
    start = time.perf_counter()
    proof = book.ledger.prove()
    ours = time.perf_counter() - start
    if not proof.sound:
        raise RuntimeError(f"the book does not prove: {proof}")
    bare = sqlite3.connect(path)
    start = time.perf_counter()
    bare.execute("PRAGMA integrity_check").fetchall()
    for _row in bare.execute("SELECT * FROM entry ORDER BY sequence"):
        pass
    beside = time.perf_counter() - start
    bare.close()
    per_million = ours / entries * PROVEN
    return Row(f"proving {entries:,} entries (per {PROVEN:,})", per_million, "under 120 s", per_million < 120,
               "bare integrity_check and reading every entry", beside)  # fmt: skip


def run() -> list[Row]:
    """All rows; a few minutes and about 3 GB of passing files."""
    rows = []
    with tempfile.TemporaryDirectory(prefix="keepfast-bench-") as name:
        folder = Path(name)
        rows.append(_import(folder))
        path = folder / "museum.keepfast"
        words = Words()
        new_book(path)
        with open_book(path, who="bench", device="bench") as book:
            events = _events(book, words)
            _animals(book, words, ANIMALS, events)
            rows += _writing(book, folder, events)
        start = time.perf_counter()
        opened = open_book(path)
        ours = time.perf_counter() - start
        start = time.perf_counter()
        bare = sqlite3.connect(path)
        bare.execute("SELECT * FROM entry LIMIT 1").fetchall()
        beside = time.perf_counter() - start
        bare.close()
        rows.append(Row(f"opening a book of {ANIMALS:,} animals", ours, "under 0.5 s", ours < 0.5, "bare open", beside))
        with opened as book:
            rows += _finding(book, folder, words)
            rows.append(_proving(book, path))
    return rows
