"""The commands of planning, used as a new user would, on good lists and on wrong ones."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from importlib import resources
from pathlib import Path

import jsonschema
import pytest

from keepfast.plan import as_json

TRIP = Path(str(resources.files("keepfast.demo")))
START = "2026-04-18T18:00"


def keepfast(*arguments: object, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the command line in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "keepfast", *map(str, arguments)],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
        encoding="utf-8",
    )


def write(path: Path, *rows: str) -> Path:
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def demo_plan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    done = keepfast(
        "plan", TRIP / "survey.csv", "--camp", TRIP / "camp.toml", "--start", START, "--out", "tonight", folder=folder
    )
    assert done.returncode == 0, done.stderr
    (folder / "screen.txt").write_text(done.stdout, encoding="utf-8")
    return folder / "tonight"


def test_the_demo_plan_keeps_to_its_published_schema(demo_plan: Path) -> None:
    """An independent validator reads plan.json by the schema that ships."""
    schema = as_json.schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(json.loads((demo_plan / "plan.json").read_text(encoding="utf-8")), schema)


def test_the_demo_plan_says_what_outside_readers_look_for(demo_plan: Path) -> None:
    """Names and shapes that others rely on."""
    plan = json.loads((demo_plan / "plan.json").read_text(encoding="utf-8"))
    assert len(plan["animals"]) == 18
    for animal in plan["animals"]:
        assert set(animal["mass_g"]) >= {"value", "low", "high", "measured"}
        assert animal["total_ml"] == pytest.approx(sum(i["volume_ml"] for i in animal["injections"]), abs=1e-3)
        for injection in animal["injections"]:
            assert set(injection) >= {"at_mm", "volume_ml", "site", "reason"}
    lost = [a["field_number"] for a in plan["animals"] if not a["fit_for_fluid"]]
    assert lost == ["B-12"]
    table = plan["table"]
    assert set(table["order"]) == {a["field_number"] for a in plan["animals"]} - set(lost)
    assert table["minutes"] > 0
    assert table["fixative_ml"] > sum(a["total_ml"] for a in plan["animals"])
    assert table["trays"]
    assert plan["origin"]["seed"] == 1
    assert len(plan["origin"]["inputs"]) == 2
    assert plan["protocol"]["date"]


def test_the_summary_holds_the_air_what_is_asked_and_every_caution_at_its_round(tmp_path: Path) -> None:
    """A text may be all that a camp has: what a printed sheet holds stands in it too."""
    (tmp_path / "camp.toml").write_text('shelter = "tent"\n', encoding="utf-8")
    done = keepfast(
        "plan", TRIP / "survey.csv", "--camp", "camp.toml", "--start", START, "--out", "t", "--no-race", folder=tmp_path
    )
    assert done.returncode == 0, done.stderr
    said = " ".join((tmp_path / "t" / "summary.txt").read_text(encoding="utf-8").split())
    table = json.loads((tmp_path / "t" / "plan.json").read_text(encoding="utf-8"))["table"]
    for words in (table["air"]["line"], *table["air"]["questions"], table["air"]["spill"]["line"]):
        assert words in said
    assert table["air"]["questions"]
    screen = " ".join(done.stdout.split())
    # The worst case of a tent holds what forbids the work: nobody should have to open a file to read it.
    assert table["air"]["urgent"]
    for words in (table["air"]["line"], *table["air"]["urgent"], *table["air"]["questions"]):
        assert words in screen
    rounds = [
        "Before: no fixative near",
        "Prick: the fixative stays shut",
        "Fill: eye",
        "Cover",
        "If something happens",
    ]
    places = [said.index(f"{title}", said.index("Cautions, where")) for title in rounds]
    assert places == sorted(places)
    for caution in table["cautions"]:
        assert f"- {caution['text']}" in said
        assert caution["round"] in ("before", "prick", "fill", "pose", "cover", "")


def test_the_screen_is_short_and_points_to_the_rest(demo_plan: Path) -> None:
    """Eighteen animals, the clock and what to mind come before a tired reader gives up; nothing is lost by it."""
    shown = (demo_plan.parent / "screen.txt").read_text(encoding="utf-8").splitlines()
    whole = (demo_plan / "summary.txt").read_text(encoding="utf-8").splitlines()
    # A sheet of A4 at 10 points holds about eighty lines.
    assert len(shown) < 80 < len(whole)
    assert all(len(line) <= 105 for line in shown)
    table = [line for line in shown if line.strip().split(" ")[0].isdigit() and " B-" in line]
    assert len(table) == 17
    assert len({line.index("B-") for line in table}) == 1
    assert str(Path("tonight") / "summary.txt") in shown[-1]
    plan = json.loads((demo_plan / "plan.json").read_text(encoding="utf-8"))
    for number in plan["table"]["order"]:
        assert any(number in line for line in shown)
    # What is cut short on the screen stands in full in the file.
    assert any("Estimated by: " in line for line in whole)
    said = " ".join(" ".join(whole).split())
    for form in plan["protocol"]["forms"].values():
        for other in form.get("other_sources", ()):
            assert f"{other['text']} ({other['source']}" in said
    assert not any("Estimated by: " in line for line in shown)


def test_every_body_and_tray_is_drawn(demo_plan: Path) -> None:
    """SVG that an XML reader accepts, one for each animal and tray."""
    from defusedxml import ElementTree

    plan = json.loads((demo_plan / "plan.json").read_text(encoding="utf-8"))
    drawings = list((demo_plan / "bodies").glob("*.svg")) + list((demo_plan / "trays").glob("*.svg"))
    assert len(drawings) == len(plan["animals"]) + len(plan["table"]["trays"])
    for drawing in drawings:
        root = ElementTree.parse(drawing).getroot()
        assert root.tag.endswith("svg")
        told = "".join(e.text or "" for e in root.iter() if e.tag.endswith("desc"))
        assert f"seed {plan['origin']['seed']}" in told
        assert plan["origin"]["inputs"][0]["sha256"] in told


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    """Plan and drawings, twice."""
    for name in ("one", "two"):
        done = keepfast(
            "plan", TRIP / "survey.csv", "--start", START, "--out", name, "--draws", 50, "--no-race", folder=tmp_path
        )
        assert done.returncode == 0, done.stderr
    one = sorted(p.relative_to(tmp_path / "one") for p in (tmp_path / "one").rglob("*") if p.is_file())
    assert one == sorted(p.relative_to(tmp_path / "two") for p in (tmp_path / "two").rglob("*") if p.is_file())
    for name in one:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_all_bad_cells_are_said_at_once_and_nothing_is_written(tmp_path: Path) -> None:
    """File, row, column, what was read; exit 2; the folder stays untouched."""
    bad = write(
        tmp_path / "list.csv",
        "field_number,form,length_mm,mass_g",
        "A-1,lizard,seventy,5",
        "A-2,unicorn,70,5",
        "A-1,frog,40,-3",
    )
    (tmp_path / "tonight").mkdir()
    write(tmp_path / "tonight" / "kept.txt", "mine")
    done = keepfast("plan", bad, "--out", "tonight", folder=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    for words in ("row 2", "length_mm", "seventy", "row 3", "unicorn", "row 4", "mass_g", "-3"):
        assert words in done.stderr
    assert "list.csv" in done.stderr
    assert [p.name for p in (tmp_path / "tonight").iterdir()] == ["kept.txt"]


def test_an_animal_without_a_way_to_a_mass_is_a_fault_of_the_list(tmp_path: Path) -> None:
    """It names the row and asks for a mass or a girth."""
    bad = write(tmp_path / "list.csv", "field_number,form,length_mm", "C-1,caecilian,310", "C-2,lizard,60")
    done = keepfast("plan", bad, "--out", "tonight", folder=tmp_path)
    assert done.returncode == 2
    assert "row 2" in done.stderr
    assert all(words in done.stderr for words in ("mass", "girth", "diameter_mm"))
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "tonight").exists()


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("--start", "tonight", "no date and time"),
        ("--start", "2026-04-18", "the hour is missing"),
        ("--start", "9999-12-31T23:59", "this year cannot be right"),
        ("--start", "0001-01-01T00:00", "this year cannot be right"),
        ("--people", "40", "1 to 12"),
        ("--draws", "3", "10 to 100000"),
        ("--paper", "a9", "a4 or letter"),
        ("--protocol", "nowhere.toml", "no such protocol"),
        ("--camp", "nowhere.toml", "no such file"),
    ],
)
def test_wrong_options_are_said_in_plain_words(tmp_path: Path, option: str, value: str, said: str) -> None:
    """Exit 2, what is wrong and what is possible."""
    done = keepfast("plan", TRIP / "survey.csv", "--out", "tonight", option, value, folder=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "tonight").exists()


def test_the_filled_template_can_be_planned(tmp_path: Path) -> None:
    """The template's own columns are those that plan reads, as CSV."""
    done = keepfast("template", "mine.csv", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    with (tmp_path / "mine.csv").open(encoding="utf-8-sig", newline="") as file:
        columns = next(csv.reader(file))
    values = {"field_number": "A-1", "form": "lizard", "length_mm": "70"}
    with (tmp_path / "mine.csv").open("a", encoding="utf-8", newline="") as file:
        csv.writer(file).writerow([values.get(c, "") for c in columns])
    done = keepfast("plan", "mine.csv", "--start", START, "--out", "tonight", "--no-race", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    again = keepfast("template", "mine.csv", folder=tmp_path)
    assert again.returncode == 2
    assert "already" in again.stderr


def test_people_and_protocol_change_the_plan(tmp_path: Path) -> None:
    """--people and a museum's own protocol are taken and named."""
    done = keepfast("protocol", "copy", "ours", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    lizard = tmp_path / "ours" / "lizard.toml"
    text = lizard.read_text(encoding="utf-8").replace("date = 2026-03-01", "date = 2026-06-01")
    lizard.write_text(text.replace("[20, 1.7]", "[20, 1.9]"), encoding="utf-8")
    assert keepfast("protocol", "check", "ours", folder=tmp_path).returncode == 0
    plans = {}
    for name, extra in (("plain", []), ("ours", ["--protocol", "ours", "--people", "1"])):
        done = keepfast(
            "plan", TRIP / "survey.csv", "--start", START, "--out", f"out-{name}", "--json", "--no-race", *extra,
            folder=tmp_path,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        plans[name] = json.loads(done.stdout)
    assert plans["ours"]["protocol"]["date"] == "2026-06-01"
    assert plans["ours"]["table"]["people"] == 1
    assert plans["ours"]["table"]["minutes"] > plans["plain"]["table"]["minutes"]


def test_a_museum_keeps_all_its_rules_in_one_folder(tmp_path: Path) -> None:
    """Protocols, the rules of an evening and the cautions: copied, edited, checked, and taken together."""
    assert keepfast("protocol", "copy", "ours", folder=tmp_path).returncode == 0
    table = tmp_path / "ours" / "evening.toml"
    shipped = table.read_text(encoding="utf-8")
    table.write_text(shipped.replace("upper_ml_per_m2 = 401", "upper_ml_per_m2 = 802"), encoding="utf-8")
    checked = keepfast("protocol", "check", "ours", folder=tmp_path)
    assert checked.returncode == 0, checked.stderr
    assert all(f"{name}: " in checked.stdout for name in ("snake", "evening", "cautions"))
    few = write(tmp_path / "list.csv", "field_number,form,length_mm", "A-1,lizard,60", "A-2,snake,700")
    common = ("plan", few, "--start", START, "--no-race", "--draws", 50, "--json", "--out")
    one = json.loads(keepfast(*common, "a", folder=tmp_path).stdout)
    two = json.loads(keepfast(*common, "b", "--protocol", "ours", folder=tmp_path).stdout)
    for tray, wetter in zip(one["table"]["trays"], two["table"]["trays"], strict=True):
        assert wetter["upper_sheet_ml"] == pytest.approx(2 * tray["upper_sheet_ml"], rel=1e-5)
    assert one["protocol"]["evening"]["sha256"] != two["protocol"]["evening"]["sha256"]
    table.write_text(shipped.replace("[pace]", "[paces]"), encoding="utf-8")
    wrong = keepfast("protocol", "check", "ours", folder=tmp_path)
    assert wrong.returncode == 1
    assert "paces" in wrong.stderr
    (tmp_path / "ours" / "evening-2.toml").write_text(shipped, encoding="utf-8")
    twice = keepfast("plan", few, "--protocol", "ours", "--out", "c", folder=tmp_path)
    assert twice.returncode == 2
    assert "several files of the subject evening" in twice.stderr
    assert not (tmp_path / "c").exists()


def test_field_numbers_of_any_kind_become_safe_file_names(tmp_path: Path) -> None:
    """No path leaves the folder, and two numbers never share a file."""
    rows = ["../../up", "A/1", "A_1", "con", "Ω-7", "A" * 30 + "1", "A" * 30 + "2"]
    odd = write(tmp_path / "list.csv", "field_number,form,length_mm", *(f"{n},lizard,60" for n in rows))
    done = keepfast("plan", odd, "--start", START, "--out", "deep/tonight", "--no-race", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["deep", "list.csv"]
    drawings = [p.name for p in (tmp_path / "deep" / "tonight" / "bodies").iterdir()]
    assert len(drawings) == len(rows)
    assert "con.svg" not in drawings  # a device on Windows, whatever the ending


def test_a_book_gives_the_same_plan_as_the_list_it_was_made_from(tmp_path: Path) -> None:
    """Recorded with --into, planned again from the book: the same animals and the same table."""
    from keepfast.desk.books import new_book

    new_book(tmp_path / "river.keepfast", name="Invented trip")
    common = ("--camp", TRIP / "camp.toml", "--start", START, "--no-race", "--json")
    first = keepfast("plan", TRIP / "survey.csv", *common, "--out", "a", "--into", "river.keepfast", folder=tmp_path)
    assert first.returncode == 0, first.stderr
    again = keepfast("plan", "river.keepfast", *common, "--out", "b", folder=tmp_path)
    assert again.returncode == 0, again.stderr
    one, two = json.loads(first.stdout), json.loads(again.stdout)
    assert one["animals"] == two["animals"]
    assert one["table"] == two["table"]
    assert "Recorded in river.keepfast" in again.stderr


def test_a_plan_into_no_book_writes_nothing(tmp_path: Path) -> None:
    """The book is looked at before anything is written."""
    done = keepfast(
        "plan",
        TRIP / "survey.csv",
        "--start",
        START,
        "--no-race",
        "--out",
        "a",
        "--into",
        "none.keepfast",
        folder=tmp_path,
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "a").exists()
