"""Papers of an evening, a sheet of tags, a thousand jar labels."""

from __future__ import annotations

import datetime
from importlib import resources
from pathlib import Path

from benchmarks.rows import Row, seconds
from keepfast.book import numbers
from keepfast.exchange.camp import read_camp
from keepfast.exchange.lists import read_list
from keepfast.paper import evening_papers, labels, pdf, tags
from keepfast.plan.evening import Rules, plan_evening
from keepfast.rules import sheets
from keepfast.rules import tags as tag_rules

START = datetime.datetime(2026, 4, 18, 18, tzinfo=datetime.timezone(datetime.timedelta(hours=2)))


def run() -> list[Row]:
    """Time the three, each from its objects to the bytes of its PDF."""
    demo = Path(str(resources.files("keepfast.demo")))
    animals = read_list(demo / "survey.csv", zone="Europe/Madrid").animals
    evening = plan_evening(animals, read_camp(demo / "camp.toml").camp, Rules.load(), start=START, size=50)
    known, rules = sheets.load(), tag_rules.load()
    numbered = numbers.series("ABC 1-60").numbers()
    jars = [
        labels.JarLabel(
            f"MZX {100000 + i}", "Museum of the Lower River", "Psammodromus algirus", "Lacertidae", "",
            "Serra de Serpa, 4 km NE of Vila Verde", "Portugal", "2026-04-14", "R. Rivera", f"ABC {i}", "2",
            "70 % ethanol", "10 % formalin",
        )
        for i in range(1000)
    ]  # fmt: skip

    def papers() -> None:
        evening_papers.files(evening, learner=True)

    def sheet() -> None:
        pdf.render(tags.draw(numbered, known.sheet("a4-tags", "tag"), rules))

    def shelf() -> None:
        pdf.render(labels.draw_jars(jars, known.sheet("a4-jar", "jar"), rules))

    rows = []
    for name, work, limit, repeats in (
        (f"all papers of {len(animals)} animals, learner's cards, with plain words", papers, 2.0, 3),
        ("a sheet of 60 tags", sheet, 0.3, 5),
        ("1,000 jar labels", shelf, 5.0, 3),
    ):
        taken = seconds(work, repeats)
        rows.append(Row(name, taken, f"under {limit:g} s", taken < limit))
    return rows
