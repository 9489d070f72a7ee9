"""``air`` and ``cautions`` as a person uses them: on real and on bad input."""

from __future__ import annotations

import json

import pytest

from keepfast import cli


def run(monkeypatch, capsys, *words):
    monkeypatch.setattr("sys.argv", ["keepfast", *map(str, words)])
    try:
        cli.main()
        code = 0
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(bool(end.code))
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture
def keepfast(monkeypatch, capsys):
    return lambda *words: run(monkeypatch, capsys, *words)


@pytest.mark.parametrize(
    "words",
    [
        ("air",),
        ("air", "decant"),
        ("air", "spill", "250"),
        ("air", "limits"),
        ("cautions",),
        ("cautions", "--disinfectants"),
    ],
)
def test_every_command_answers_in_words_and_in_one_json_object(keepfast, words):
    code, out, err = keepfast(*words)
    assert (0, "") == (code, err)
    assert out.strip()
    code, out, err = keepfast(*words, "--json")
    assert (0, "") == (code, err)
    assert isinstance(json.loads(out), dict)


def test_the_answer_carries_version_seed_and_the_dates_of_its_rules(keepfast):
    _code, out, _err = keepfast("air", "--json", "--seed", "5")
    data = json.loads(out)
    assert 5 == data["origin"]["seed"]
    assert data["origin"]["keepfast"]
    assert all(rule["date"] and rule["sha256"] for rule in data["rules"])


def test_a_camp_file_is_taken_and_options_go_before_it(keepfast, tmp_path):
    camp = tmp_path / "camp.toml"
    camp.write_text('shelter = "room"\ntemperature_c = 31.0\njurisdiction = "eu"\n', encoding="utf-8")
    _code, out, _err = keepfast("air", "--camp", camp, "--json")
    data = json.loads(out)
    assert ("room", 31.0) == (data["place"]["key"], data["temperature_c"])
    assert ["camp.toml"] == [entry["name"] for entry in data["origin"]["inputs"]]
    assert "European Union" in data["line"]
    _code, out, _err = keepfast("air", "--camp", camp, "--shelter", "open", "--temperature", "12", "--json")
    data = json.loads(out)
    assert ("open", 12.0) == (data["place"]["key"], data["temperature_c"])


def test_decanting_and_a_spill_take_the_camp_too(keepfast, tmp_path):
    camp = tmp_path / "camp.toml"
    camp.write_text(
        'shelter = "tent_two_flaps"\nopening_m2 = 1.2\nair_speed_m_s = 0.2\ntemperature_c = 31.0\n'
        'jurisdiction = "eu"\n[place]\nelevation_m = 3000\n[stocks]\nworking_formalin_percent = 5\n',
        encoding="utf-8",
    )
    spill = json.loads(keepfast("air", "spill", "250", "--camp", camp, "--json")[1])
    assert ("tent_two_flaps", 31.0, []) == (spill["place"]["key"], spill["temperature_c"], spill["questions"])
    assert ["camp.toml"] == [entry["name"] for entry in spill["origin"]["inputs"]]
    assert "eu" == spill["away"][0]["limit"]["body"]
    plain = json.loads(keepfast("air", "spill", "250", "--camp", camp, "--formalin", "10", "--json")[1])
    assert plain["emission_mg_min"]["value"] > 1.5 * spill["emission_mg_min"]["value"]
    decant = json.loads(keepfast("air", "decant", "--camp", camp, "--json")[1])
    assert ("tent_two_flaps", 31.0) == (decant["place"]["key"], decant["temperature_c"])
    assert 70.1 == pytest.approx(decant["pressure_kpa"], abs=0.1)
    assert {"decanting_alcohol", "alcohol_and_flames"} <= {c["key"] for c in decant["cautions"]}
    # Another place has other air: what the camp says of its tent does not go with the table into the open.
    moved = json.loads(keepfast("air", "--camp", camp, "--shelter", "room", "--json")[1])
    assert moved["questions"]


def test_trays_are_given_by_size_or_by_number(keepfast):
    def strongest(*words):
        return json.loads(keepfast("air", *words, "--json")[1])["emission_mg_min"]["value"]

    assert strongest("--trays", "4") > strongest("--trays", "1")
    assert strongest("--tray", "420x297", "--trays", "2") == strongest("--tray", "420x297", "--tray", "420×297")


@pytest.mark.parametrize("ending", ["svg", "pdf"])
def test_the_chart_is_written_where_it_was_asked_for(keepfast, tmp_path, ending):
    chart = tmp_path / f"air.{ending}"
    code, out, err = keepfast("air", "--chart", chart, "--json")
    assert 0 == code
    assert json.loads(out)
    assert str(chart) in err
    assert chart.read_bytes()[:4] in (b"%PDF", b"<svg", b"<?xm")


def test_limits_follow_the_day(keepfast):
    def bodies(day):
        data = json.loads(keepfast("air", "limits", "--substance", "formaldehyde", "--on", day, "--json")[1])
        return {(row["body"], row["value"], row["minutes"]) for row in data["limits"]}

    assert ("acgih", 0.1, 480.0) in bodies("2026-04-18")
    assert ("acgih", 0.1, 480.0) not in bodies("2000-01-01")
    assert ("eu", 0.62, 480.0) not in bodies("2026-04-18")


def test_cautions_come_by_circumstance(keepfast):
    _code, out, _err = keepfast("cautions", "--form", "snake", "--round", "prick", "--json")
    keys = {c["key"] for c in json.loads(out)["cautions"]}
    assert {"fangs_after_death", "needles", "dry_pricks_first"} <= keys
    assert "skin_secretions" not in keys
    _code, out, _err = keepfast("cautions", "--form", "lizard", "--condition", "venomous", "--json")
    assert "beaded_lizards" in {c["key"] for c in json.loads(out)["cautions"]}
    _code, out, _err = keepfast("cautions", "--place", "room")
    assert "No caution is called up by this alone" in out


def test_a_spill_says_what_to_do_first(keepfast):
    _code, out, _err = keepfast("air", "spill", "500", "--taken-up", "10", "--shelter", "open")
    assert "upwind" in out
    assert out.index("Formalin spilt: people away") < out.index("Never bring formalin together")
    assert out.index("If it reaches somebody") < out.index("Formalin in an eye")
    data = json.loads(keepfast("air", "spill", "500", "--fluid", "alcohol", "--json")[1])
    assert {"alcohol_spill", "alcohol_and_flames"} & {c["key"] for c in data["cautions"]}


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("air", "--shelter", "yurt"), "this place is not among the rules"),
        (("air", "--limit", "mars"), "no limits of this name are held"),
        (("air", "--tray", "large"), "width x height in mm"),
        (("air", "--tray", "42x30"), "from 50 to 3000 mm"),
        (("air", "--trays", "0"), "1 to 100 trays"),
        (("air", "--order", "backwards"), "order: must be one of"),
        (("air", "--fill", "-3"), "minutes_by_round: must be from 0"),
        (("air", "--temperature", "99"), "perhaps in Fahrenheit"),
        (("air", "--formalin", "0.1"), "fraction: write 10"),
        (("air", "--formalin", "110"), "from 0.5 to 100 %"),
        (("air", "--stock", "0.37"), "fraction: write 37"),
        (("air", "--stock", "3.7"), "figure on the bottle"),
        (("air", "spill", "500", "--formalin", "0.1"), "fraction: write 10"),
        (("air", "--on", "tomorrow"), "this is no date"),
        (("air", "--draws", "2"), "10 to 100000 draws"),
        (("air", "--seed", "-1"), "a seed is 0 or more"),
        (("air", "--chart", "air.png"), "drawn as SVG or PDF"),
        (("air", "--limits-file", "nowhere.toml"), "no such rules file"),
        (("air", "decant", "--strength", "170"), "a strength goes from 1 to 100 % vol"),
        (("air", "decant", "--strength", "0"), "a strength goes from 1 to 100 % vol"),
        (("air", "decant", "--strength", "0.7"), "fraction: write 70"),
        (("air", "spill", "500", "--fluid", "alcohol", "--strength", "0.7"), "fraction: write 70"),
        (("air", "decant", "--area", "-1"), "open_m2: must be from"),
        (("air", "spill", "0"), "volume_ml: must be above 0"),
        (("air", "spill", "10", "--fluid", "petrol"), "fluid: must be one of"),
        (("air", "limits", "--substance", "gold"), "no limits are held for this"),
        (("cautions", "--form", "snek"), "no caution knows this word"),
        (("cautions", "--file", "nowhere.toml"), "no such rules file"),
    ],
)
def test_a_slip_is_told_in_a_line_and_nothing_is_answered(keepfast, words, says):
    code, out, err = keepfast(*words)
    assert (2, "") == (code, out)
    assert says in err
    assert "Traceback" not in err
