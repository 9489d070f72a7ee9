"""``race``, ``spacing``, ``watch`` and ``sun`` as a person uses them: on real and on bad input."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from keepfast import cli, demo

DEMO = Path(demo.__file__).parent
START = "2026-04-18T18:00"


@pytest.fixture
def keepfast(monkeypatch, capsys):
    def run(*words):
        monkeypatch.setattr("sys.argv", ["keepfast", *map(str, words)])
        try:
            cli.main()
            code = 0
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else int(bool(end.code))
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


@pytest.fixture
def short(tmp_path):
    """Three animals, so that a test costs little."""
    path = tmp_path / "short.csv"
    path.write_text(
        "field_number,form,length_mm,mass_g,died_at,kept_at_c\n"
        "A-1,lizard,60,5,2026-04-18 16:00,20\n"
        "A-2,snake,700,200,2026-04-18 16:00,20\n"
        "A-3,frog,40,6,2026-04-18 16:00,20\n",
        encoding="utf-8",
    )
    return path


def test_a_list_is_raced_in_words_and_in_one_json_object(keepfast, short):
    code, out, _err = keepfast("race", short, "--start", START, "--temperature", 25)
    assert 0 == code
    assert all(number in out for number in ("A-1", "A-2", "A-3"))

    code, out, _err = keepfast("race", short, "--start", START, "--temperature", 25, "--json", "--seed", 7)
    answer = json.loads(out)
    assert 0 == code
    assert ["A-1", "A-2", "A-3"] == [a["field_number"] for a in answer["animals"]]
    assert 7 == answer["seed"]
    assert re.fullmatch("[0-9a-f]{64}", answer["inputs"][0]["sha256"])
    assert 25 == answer["camp"]["temperature_c"]
    assert [] == answer["alarms"]


def test_the_fixative_of_the_camp_is_named_and_taken(keepfast, short, tmp_path):
    camp = tmp_path / "camp.toml"
    camp.write_text("[stocks]\nformalin_percent = 37\nworking_formalin_percent = 5\n", encoding="utf-8")
    common = ("race", short, "--start", START, "--only", "A-1", "--draws", 20)
    stated = json.loads(keepfast(*common, "--camp", camp, "--json")[1])
    assumed = json.loads(keepfast(*common, "--json")[1])

    assert (True, False) == (stated["fixative"]["stated"], assumed["fixative"]["stated"])
    assert 0.5 * assumed["fixative"]["formaldehyde_mol_l"] == pytest.approx(
        stated["fixative"]["formaldehyde_mol_l"], rel=0.001
    )
    assert "5 % formalin from a stock of 37 %" in keepfast(*common, "--camp", camp)[1]
    weak, usual = (json.loads(keepfast("spacing", 20, *more, "--json")[1]) for more in (("--camp", camp), ()))
    assert weak["fixative"] == stated["fixative"]
    assert (weak["widest_mm"] or 0) <= (usual["widest_mm"] or 0)


def test_hours_beyond_a_record_are_told(keepfast, short):
    words = ("race", short, "--start", "2026-04-20T12:00+02:00", "--record", DEMO / "logger.csv", "--only", "A-1")
    out = keepfast(*words, "--draws", 20)[1]

    assert "The record ends at 2026-04-20 18:00+02:00" in out
    assert "! " in keepfast("race", short, "--start", START, "--temperature", 41, "--only", "A-1", "--draws", 20)[1]


def test_pictures_and_figures_are_written_together(keepfast, short, tmp_path):
    code, _out, _err = keepfast("race", short, "--start", START, "--only", "A-1", "--out", tmp_path / "out")

    assert 0 == code
    assert {"race.json", "A-1-margins.svg", "A-1-section.svg", "A-1-fronts.svg"} == {
        p.name for p in (tmp_path / "out").iterdir()
    }


def test_a_choice_of_animals_changes_no_verdict(keepfast, short):
    """They share the sheets with those that are not shown."""
    whole = json.loads(keepfast("race", short, "--start", START, "--json")[1])["animals"]
    one = json.loads(keepfast("race", short, "--start", START, "--json", "--only", "A-2")[1])["animals"]

    assert [whole[1]] == one


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("race", "nowhere.csv"), "there is no such file"),
        (("race", "LIST", "--only", "Z-9", "--start", START), "the list has no such animal"),
        (("race", "LIST", "--draws", "2"), "10 to 10000"),
        (("race", "LIST", "--hours", "1"), "12 to 1000"),
        (("race", "LIST", "--temperature", "99"), "-30 to 60"),
        (("race", "LIST", "--start", "soon"), "no date and time"),
        (("race", "LIST", "--temperature", "20", "--record", "x.csv"), "a temperature and a record"),
        (("race", "LIST", "--rules", "none"), "no such rules file"),
        (("race", "LIST", "--seed", "-1", "--start", START), "a seed is 0 or more"),
        (("spacing", "900"), "from 4 to 200"),
        (("spacing", "20", "--camp", "nowhere.toml"), "there is no such file"),
        (("spacing", "20", "--form", "turtle"), "spacing is for long bodies"),
        (("watch", "LIST", "--since", "then"), "no date and time"),
        (("watch", "LIST", "--since", f"Q-1={START}"), "the list has no such animal"),
        (("watch", "LIST", "--since", START, "--reading", "hot"), "this is no reading"),
        (("watch", "LIST", "--since", START, "--shade", "75"), "from -5 to 50"),
        (("watch", "LIST", "--since", START, "--now", "2026-04-18T12:00"), "after the moment"),
        (("sun",), "no place is known"),
        (("sun", "--place", "95,0"), "this is no place"),
        (("sun", "--place", "37,-6", "--date", "spring"), "this is no date"),
        (("sun", "--place", "37,-6", "--date", "9999-12-31"), "1900 to 2100"),
        (("sun", "--place", "37,-6", "--zone", "Moon"), "no such time zone"),
        (("sun", "--place", "37,-6", "--height", "0"), "from 0.1 to 30"),
    ],
)
def test_a_slip_is_told_in_words_and_ends_with_2(keepfast, short, words, said):
    code, out, err = keepfast(*(short if w == "LIST" else w for w in words))

    assert 2 == code
    assert "" == out
    assert said in err
    assert "Traceback" not in err


def test_nothing_is_written_when_the_list_is_wrong(keepfast, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("field_number,form,length_mm\nA-1,dragon,60\n", encoding="utf-8")

    assert 2 == keepfast("race", bad, "--out", tmp_path / "out", "--start", START)[0]
    assert not (tmp_path / "out").exists()


def test_spacing_answers_for_a_girth(keepfast):
    code, out, _ = keepfast("spacing", 14, "--temperature", 22, "--json")
    answer = json.loads(out)

    assert 0 == code
    assert answer["widest_mm"] is None or answer["widest_mm"] in [s["spacing_mm"] for s in answer["tried"]]
    assert "15 mm" in keepfast("spacing", 14, "--temperature", 22)[1]


def test_trays_are_watched_with_a_logger_and_with_typed_readings(keepfast, short):
    common = ("watch", short, "--since", "2026-04-18T18:00+02:00", "--now", "2026-04-19T08:00+02:00")
    code, out, _ = keepfast(*common, "--record", DEMO / "logger.csv", "--json")
    answer = json.loads(out)

    assert 0 == code
    assert [14.0] * 3 == [a["hours"] for a in answer["animals"]]
    assert {"short.csv", "logger.csv"} == {i["name"] for i in answer["inputs"]}

    code, out, _ = keepfast(
        *common, "--since", "A-2=2026-04-18T20:00+02:00", "--reading", "2026-04-18T18:00+02:00=36,5"
    )
    assert 0 == code
    assert "! " in out
    assert "12.0 h" in out

    # 98.6 degrees F are 37 C, by definition of the scale.
    answer = json.loads(keepfast(*common, "--reading", "2026-04-18T18:00+02:00=98.6 °F", "--json")[1])
    assert 37.0 == answer["temperature_c"]
    code, out, _ = keepfast("watch", short, "--since", "2026-04-01T18:00", "--now", "2026-04-19T08:00")
    assert 0 == code
    assert "18 d" in out


def test_the_sun_of_a_camp_and_of_a_place(keepfast):
    camp = ("sun", "--camp", DEMO / "camp.toml", "--date", "2026-04-18")
    code, out, _ = keepfast(*camp)
    assert 0 == code
    assert "sunrise 07:48" in out

    answer = json.loads(keepfast(*camp, "--record", DEMO / "logger.csv", "--json")[1])
    assert answer["coolest"]["hours"] == 3.0
    assert answer["sunset"].startswith("2026-04-18T21:06")

    polar = json.loads(keepfast("sun", "--place", "70,20", "--zone", "UTC", "--date", "2026-06-21", "--json")[1])
    assert "up" == polar["always"]
