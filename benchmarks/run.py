"""Runs every benchmark, or those named, and prints a table; ``--write`` also keeps it in RESULTS.md.

Each module in this folder that has ``run() -> list[Row]`` is a benchmark.
"""

from __future__ import annotations

import importlib
import platform
import sys
from datetime import date
from pathlib import Path

from benchmarks.rows import Row

FOLDER = Path(__file__).parent


def table(results: dict[str, list[Row]]) -> str:
    """The rows as a Markdown table."""
    lines = ["| benchmark | measured | beside it | ratio | goal | met |", "| --- | --- | --- | --- | --- | --- |"]
    for module, rows in results.items():
        for row in rows:
            beside = f"{row.beside}: {row.beside_seconds:.4g} s" if row.beside_seconds is not None else row.beside
            ratio = f"{row.ratio:.3g}" if row.ratio is not None else ""
            note = f" ({row.note})" if row.note else ""
            lines.append(
                f"| {module}: {row.name} | {row.seconds:.4g} s{note} | {beside} | {ratio} | {row.goal} |"
                f" {'yes' if row.met else 'no'} |"
            )
    return "\n".join(lines)


def main(arguments: list[str]) -> int:
    """Run, print, and keep when asked."""
    wanted = [a for a in arguments if not a.startswith("-")]
    found = sorted(p.stem for p in FOLDER.glob("*.py") if p.stem not in ("__init__", "rows", "run"))
    results = {}
    for name in wanted or found:
        print(f"benchmark {name} ...", file=sys.stderr)
        results[name] = importlib.import_module(f"benchmarks.{name}").run()
    text = table(results)
    print(text)
    if "--write" in arguments:
        head = (
            f"# Measured speed\n\nWritten by `./keepfast bench --write` on {date.today()}, Python"
            f" {platform.python_version()}, {platform.machine()}. Ratios are firmer than seconds.\n\n"
        )
        (FOLDER / "RESULTS.md").write_text(head + text + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
