"""``mix`` as a new user types it, on good input and on slips."""

from __future__ import annotations

import contextlib
import io
import json
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from keepfast.cli import main


class Done(NamedTuple):
    """What a command left behind."""

    returncode: int
    stdout: str
    stderr: str


def keepfast(*arguments: object) -> Done:
    """Run the command line in this process, as the launcher would."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    before = sys.argv
    sys.argv = ["keepfast", *map(str, arguments)]
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main()
    except SystemExit as end:
        code = int(end.code or 0)
    finally:
        sys.argv = before
    return Done(code, out.getvalue(), err.getvalue())


def refused(*arguments: object) -> str:
    """What is said on wrong input: exit code 2, nothing on standard output, no traceback."""
    done = keepfast(*arguments)
    assert done.returncode == 2, done.stdout + done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    return done.stderr


ALCOHOL = ("mix", "alcohol", "--stock", 96, "--target", 70, "--volume", "12L", "--temperature", 31)


def test_the_card_of_the_readme() -> None:
    done = keepfast(*ALCOHOL)
    assert done.returncode == 0, done.stderr
    for words in ("8.76 L", "3.54 L", "6991 g", "876.3 kg/m³", "73.6", "IF IT IS OFF", "TAKE CARE"):
        assert words in done.stdout


def test_json_is_one_object_with_everything_a_card_has() -> None:
    """Twelve times the compilers' litre at 20 degrees C; at 31 both liquids have grown alike to 0.4 %."""
    done = keepfast(*ALCOHOL, "--json")
    answer = json.loads(done.stdout)
    assert answer["stock_ml"] == pytest.approx(12 * 729.2, rel=0.004)
    assert answer["result"]["strength_vol"] == pytest.approx(70.0, abs=0.1)
    assert answer["readings"][0]["value"] == pytest.approx(73.6, abs=0.05)
    assert {"portions", "steps", "corrections", "cautions", "doubts", "origin", "title"} <= set(answer)
    assert done.stderr == ""


def test_a_stock_can_be_given_by_a_reading() -> None:
    """812.0 kg/m3 at 20 degrees C is 94.84 % (computed by the compilers)."""
    done = keepfast("mix", "alcohol", "--stock-density", "812.0", "--target", 70, "--volume", "1L", "--json")
    assert json.loads(done.stdout)["stock_vol"] == pytest.approx(94.84, abs=0.01)
    done = keepfast(
        "mix", "alcohol", "--stock-hydrometer", 95, "--temperature", 25, "--target", 70, "--volume", "1L", "--json"
    )
    assert json.loads(done.stdout)["stock_vol"] == pytest.approx(93.88, abs=0.02)


def test_all_of_a_stock_can_be_used_up() -> None:
    """729.2 mL of 96 % make a litre of 70 % (computed by the compilers)."""
    done = keepfast("mix", "alcohol", "--stock", 96, "--target", 70, "--use-up", "729.2mL", "--json")
    assert json.loads(done.stdout)["final_ml"] == pytest.approx(1000.0, abs=0.5)


def test_vessels_at_hand_are_used() -> None:
    done = keepfast(*ALCOHOL, "--vessel", "5L/100mL", "--vessel", "250mL/5mL", "--json")
    pours = json.loads(done.stdout)["portions"][0]["pours"]
    assert [(p["vessel"], p["ml"]) for p in pours] == [("5L", 5000.0), ("5L", 3700.0), ("250mL", 60.0)]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"--stock": "0.96"}, "fraction: write 96"),
        ({"--target": "0.7"}, "fraction: write 70"),
        ({"--stock": "60"}, "weaker"),
        ({"--stock": "192"}, "proof"),
        ({"--temperature": "88"}, "°F: 31 °C"),
        ({"--temperature": "45"}, "0 to 40 °C"),
        ({"--temperature": "-5"}, "Let it warm first"),
        ({"--volume": "12"}, "unit, L or mL"),
        ({"--stock": "strong"}, "a number is wanted"),
        ({"--target": "0"}, "1 to 100 % vol"),
    ],
)
def test_slips_are_refused_with_the_range_and_the_likely_reason(changes: dict[str, str], words: str) -> None:
    options = {"--stock": "96", "--target": "70", "--volume": "12L", "--temperature": "31"} | changes
    said = refused("mix", "alcohol", *(part for pair in options.items() for part in pair))
    assert words in said
    assert next(iter(changes)) in said or "--target" in said


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--stock-density", "0.812"), "specific gravity"),
        (("--stock-density", "1010"), "salted"),
        (("--stock-density", "760"), "lighter than ethanol"),
        (("--stock-hydrometer", "0", "--temperature", "30"), "denser than water"),
        (("--stock-density", "812", "--denatured"), "certificate"),
        (("--stock", "96", "--stock-density", "812"), "one of --stock"),
        ((), "one of --stock"),
        (("--stock", "96", "--use-up", "5L"), "(read: '1L, 5L')"),
        (("--stock", "96", "--glass", "plastic"), "soda-lime or borosilicate"),
    ],
)
def test_readings_that_no_mixture_gives(arguments: tuple[str, ...], words: str) -> None:
    assert words in refused("mix", "alcohol", *arguments, "--target", "70", "--volume", "1L")


def test_several_slips_are_said_at_once() -> None:
    said = refused("mix", "alcohol", "--stock", "0.96", "--target", "0.7", "--volume", "12", "--temperature", "88")
    assert len(said.strip().splitlines()) == 4


FORMALIN = ("mix", "formalin", "--volume", "5L", "--label", 37, "--basis", "w/w", "--methanol", 10)


def test_five_litres_from_this_bottle_and_these_tins() -> None:
    """16.40 g of the dodecahydrate a litre stand for 6.5 g anhydrous (molar masses)."""
    done = keepfast(
        *FORMALIN, "--monobasic", "NaH2PO4.2H2O", "--dibasic", "Na2HPO4·12H2O", "--temperature", 28, "--json"
    )
    answer = json.loads(done.stdout)
    assert answer["salts_g"]["Na2HPO4.12H2O"] == pytest.approx(82.0, abs=0.05)
    assert answer["salts_g"]["NaH2PO4.2H2O"] == pytest.approx(5 * 4.0 / 137.99 * 156.01, abs=0.01)
    assert answer["formaldehyde_percent_w_v"]["value"] == pytest.approx(4.03, abs=0.005)
    assert answer["result"]["ph"] == pytest.approx(7.02, abs=0.01)


def test_both_namings_are_on_every_formalin_card() -> None:
    text = keepfast(*FORMALIN).stdout
    assert "10 % formalin = 4.03 % formaldehyde" in text


@pytest.mark.parametrize(
    "spelling", ["Na2HPO4.7H2O", "Na2HPO4·7H2O", "na2hpo4*7h2o", "Na2HPO4 7H2O", "Na2HPO4 x 7 H2O"]
)
def test_hydrates_are_read_as_tins_spell_them(spelling: str) -> None:
    done = keepfast(*FORMALIN, "--dibasic", spelling, "--json")
    assert done.returncode == 0, done.stderr
    assert "Na2HPO4.7H2O" in json.loads(done.stdout)["salts_g"]


def test_without_a_label_the_assumption_is_said() -> None:
    done = keepfast("mix", "formalin", "--volume", "1L")
    assert "No label was given" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--label", "37"), "w/w) or in volume (w/v)"),
        (("--label", "0.37", "--basis", "w/w"), "fraction: write 37"),
        (("--label", "37", "--basis", "v/v"), "the basis is w/w or w/v"),
        (("--label", "37", "--basis", "w/w", "--stock-density", "1083"), "kg/m³ divided by 1000"),
        (("--dibasic", "Na2HPO4.5H2O"), "no such salt or hydrate"),
        (("--dibasic", "NaH2PO4"), "swapped"),
        (("--formaldehyde", "42", "--label", "37", "--basis", "w/w"), "weaker than what is wanted"),
        (("--formalin", "0.1"), "fraction: write 10"),
        (("--formalin", "10", "--formaldehyde", "4"), "two names of one strength"),
        (("--buffer", "lime"), "phosphate, borax, marble, seawater, none"),
        (("--buffer", "borax", "--dibasic", "Na2HPO4"), "belong to a phosphate buffer"),
        (("--temperature", "77"), "°F: 25 °C"),
        (("--ph", "9.5"), "5.8 to 8.2"),
        (("--paraformaldehyde", "--assay", "40"), "80 to 100 %"),
        (("--paraformaldehyde", "--buffer", "seawater"), "fresh water"),
        (("--paraformaldehyde", "--label", "37", "--basis", "w/w"), "(read: '--label, --basis')"),
    ],
)
def test_formalin_slips(arguments: tuple[str, ...], words: str) -> None:
    assert words in refused("mix", "formalin", "--volume", "5L", *arguments)


def test_powder_and_makeshifts_are_cards_too() -> None:
    assert "42.1 g" in keepfast("mix", "formalin", "--volume", "1L", "--formaldehyde", 4, "--paraformaldehyde").stdout
    for key in ("borax", "marble", "seawater", "none"):
        done = keepfast("mix", "formalin", "--volume", "1L", "--buffer", key)
        assert done.returncode == 0
        assert "makeshift" in done.stdout


def test_a_reading_is_turned_into_what_to_add() -> None:
    """70 on the scale at 30 degrees C is 66.67 % (computed by the compilers)."""
    done = keepfast(
        "mix", "check", "--hydrometer", 70, "--temperature", 30, "--target", 70, "--volume", "12L", "--json"
    )
    answer = json.loads(done.stdout)
    assert answer["strength_vol"] == pytest.approx(66.67, abs=0.02)
    assert answer["add"]["ml"] > 1000
    done = keepfast("mix", "check", "--density", "877.0", "--temperature", 30, "--target", 70, "--volume", "12L")
    assert "70.05 % vol" in done.stdout
    assert "leave it" in done.stdout


def test_check_refuses_what_cannot_be() -> None:
    assert "one reading is wanted" in refused("mix", "check", "--temperature", 20)
    assert "(read: '70, 880')" in refused("mix", "check", "--hydrometer", 70, "--density", 880, "--temperature", 25)
    assert "specific gravity" in refused("mix", "check", "--density", "0.8856", "--temperature", 20)


def test_a_reading_without_a_volume_is_mended_by_the_litre() -> None:
    done = keepfast("mix", "check", "--hydrometer", 70, "--temperature", 30, "--target", 70)
    assert "to 1 L" in done.stdout


def test_a_batch_in_the_cold_is_mended_too() -> None:
    """Water is part of the mending, and below zero there is none at the batch's own temperature."""
    done = keepfast("mix", "check", "--density", 900, "--temperature", -5, "--target", 50, "--volume", "5L", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["add"]["what"] == "water"


def test_a_ph_says_how_much_acid_has_come() -> None:
    """9.9 mmol/L from 7.03 to 6.8 (computed by the compilers)."""
    done = keepfast(
        "mix",
        "check",
        "--ph",
        "6.8",
        "--temperature",
        25,
        "--days",
        21,
        "--volume",
        "20L",
        "--dibasic",
        "Na2HPO4 x 12 H2O",
        "--json",
    )
    answer = json.loads(done.stdout)
    assert 1000 * answer["acid_mol_l"] == pytest.approx(9.9, abs=0.06)
    assert answer["dibasic"] == "Na2HPO4.12H2O"
    text = keepfast("mix", "check", "--ph", "6.8", "--temperature", 25, "--days", 21).stdout
    assert "10 mmol/L" in text
    assert "pH 6.5 is reached 47 days" in text
    assert "leave it" in keepfast("mix", "check", "--ph", "7.0", "--temperature", 25).stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--ph", "5"), "the buffer is spent: mix it new"),
        (("--ph", "6.8", "--target", "70"), "belongs to a strength"),
        (("--density", "880", "--days", "10"), "belongs to --ph"),
        (("--density", "880", "--ph", "7"), "one reading is wanted"),
        (("--density", "1001"), "from 784.9 to 997.1 kg/m³"),
        (("--hydrometer", "0", "--dibasic", "Na2HPO4"), "belongs to --ph"),
    ],
)
def test_checks_that_do_not_fit(arguments: tuple[str, ...], words: str) -> None:
    assert words in refused("mix", "check", *arguments, "--temperature", 25)


def test_several_liquids_together() -> None:
    """800 mL of 60 % and 200 mL of 96 % are 996.6 mL of 67.43 % (computed by the compilers)."""
    done = keepfast("mix", "together", "--part", "800mL:60", "--part", "0,2 L:96", "--json")
    answer = json.loads(done.stdout)
    assert answer["strength_vol"] == pytest.approx(67.43, abs=0.006)
    assert answer["volume_20c_ml"] == pytest.approx(996.6, abs=0.06)
    assert answer["shrinks_ml"] == pytest.approx(3.4, abs=0.06)
    text = keepfast("mix", "together", "--part", "800mL:60", "--part", "200mL:96", "--target", 70).stdout
    assert "67.43 % vol" in text
    assert "of stock, 96 % to 997 mL" in text


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--part", "800mL"), "VOLUME:STRENGTH"),
        (("--part", "1L:60"), "two liquids at least"),
        ((), "two liquids at least"),
        (("--part", "1L:0.6", "--part", "1L:96"), "fraction: write 60"),
        (("--part", "1:60", "--part", "1L:96"), "unit, L or mL"),
    ],
)
def test_liquids_that_are_not(arguments: tuple[str, ...], words: str) -> None:
    assert words in refused("mix", "together", *arguments)


def test_stock_is_not_asked_for_as_a_working_solution() -> None:
    for strength in (("--formalin", 100), ("--formaldehyde", 30)):
        said = refused(*FORMALIN, *strength)
        assert "10 % formalin" in said
    assert "30 to 40 %" in refused("mix", "formalin", "--volume", "1L", "--label", 45, "--basis", "w/w")


def test_measures_that_spoil_the_mix_are_told() -> None:
    done = keepfast("mix", "alcohol", "--stock", 96, "--target", 70, "--volume", "12L", "--vessel", "20L/5L")
    assert "too coarse" in done.stdout
    assert "weigh 7065 g" in done.stdout


def test_no_line_of_a_card_is_wider_than_a_screen() -> None:
    for command in (ALCOHOL, FORMALIN):
        assert max(len(line) for line in keepfast(*command).stdout.splitlines()) <= 98


def test_a_printed_card_has_its_plain_words_beside_it(tmp_path: Path) -> None:
    done = keepfast(*ALCOHOL, "--pdf", tmp_path / "card.pdf")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF-")
    assert done.stdout.strip() == (tmp_path / "card.txt").read_text(encoding="utf-8").strip()


def test_a_card_goes_to_no_other_kind_of_file(tmp_path: Path) -> None:
    assert "must end in .pdf" in refused(*ALCOHOL, "--pdf", tmp_path / "card.svg")
    assert not list(tmp_path.iterdir())
