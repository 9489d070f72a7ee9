"""Reading lists of animals: the time per row stays the same as a list grows."""

from __future__ import annotations

import csv
import tempfile
from pathlib import Path

from benchmarks.rows import Row, seconds

HEAD = "field_number,taxon,form,length_mm,tail_mm,mass_g,condition,died_at\n"


def _text(count: int) -> str:
    return HEAD + "".join(
        f"B-{n},Podarcis virescens,lizard,{50 + n % 9},{60 + n % 9},4.{n % 9},fresh,2026-04-12 14:{n % 60:02d}\n"
        for n in range(count)
    )


def run() -> list[Row]:
    """Lists of 500 and 50,000 animals, beside the bare CSV reader of Python on the larger one."""
    from keepfast.exchange.lists import read_list

    with tempfile.TemporaryDirectory() as folder:
        taken = {}
        for count in (500, 50_000):
            path = Path(folder) / f"{count}.csv"
            path.write_text(_text(count), encoding="utf-8")
            taken[count] = seconds(lambda path=path: read_list(path, zone="Europe/Madrid"), 3)  # type: ignore[misc]

        def bare() -> int:
            with path.open(newline="", encoding="utf-8") as file:
                return sum(len(row) for row in csv.reader(file))

        plain = seconds(bare, 3)
    growth = (taken[50_000] / 50_000) / (taken[500] / 500)
    return [
        Row(
            "list of 50,000 animals read and checked",
            taken[50_000],
            "time per row flat (less than twice that of 500 rows)",
            growth < 2,
            "Python's csv reader alone",
            plain,
            f"{1e6 * taken[50_000] / 50_000:.0f} us a row, {growth:.2f} times that of 500 rows",
        )
    ]
