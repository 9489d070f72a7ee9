"""The door: a short code, few guesses, a token, and shut again."""

from __future__ import annotations

import json
import stat
from pathlib import Path

from keepfast.live.pairing import ADDRESS_REST_S, GUESSES_AN_ADDRESS, GUESSES_IN_ALL, Doors


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def wrong(doors: Doors) -> str:
    return f"{(int(doors.code) + 1) % 1_000_000:06d}"


def test_the_right_code_lets_a_device_in_and_spaces_do_not_matter() -> None:
    doors = Doors()
    answer = doors.guess("10.0.0.2", f" {doors.code[:3]} {doors.code[3:]} ", "Ana")
    assert answer.device is not None
    assert answer.device == doors.device_of(answer.token)
    assert doors.device_of("x" * 32) is None
    assert doors.device_of("") is None


def test_five_wrong_codes_make_an_address_wait_even_with_the_right_one() -> None:
    clock = Clock()
    doors = Doors(clock=clock)
    for _turn in range(GUESSES_AN_ADDRESS):
        assert "wrong" == doors.guess("10.0.0.9", wrong(doors), "x").refusal
    assert "rest" == doors.guess("10.0.0.9", doors.code, "x").refusal
    assert doors.guess("10.0.0.2", doors.code, "Ana").device is not None
    clock.now += ADDRESS_REST_S + 1
    assert doors.guess("10.0.0.9", doors.code, "x").device is not None


def test_many_addresses_cannot_guess_more_than_twenty_times_in_all() -> None:
    doors = Doors()
    tried = sum(doors.guess(f"10.0.1.{i}", wrong(doors), "x").refusal == "wrong" for i in range(200))
    assert tried < GUESSES_IN_ALL
    assert doors.closed
    assert "closed" == doors.guess("10.0.0.2", doors.code, "Ana").refusal
    before = doors.code
    doors.open_again()
    assert before != doors.code or not doors.closed
    assert doors.guess("10.0.0.2", doors.code, "Ana").device is not None


def test_a_device_that_was_shut_out_stays_out_and_its_token_is_worth_nothing(tmp_path: Path) -> None:
    file = tmp_path / "devices.json"
    doors = Doors(file)
    ana, ben = (doors.guess("10.0.0.2", doors.code, name) for name in ("Ana", "Ben"))
    assert ana.device is not None
    assert ben.device is not None
    assert doors.shut_out(ben.device.id)
    assert not doors.shut_out(ben.device.id)
    assert doors.device_of(ben.token) is None
    assert not doors.let_in(ben.device.id)
    again = Doors(file)
    assert again.device_of(ben.token) is None
    assert again.device_of(ana.token) is not None


def test_tokens_are_not_in_the_file_and_no_other_user_reads_it(tmp_path: Path) -> None:
    file = tmp_path / "devices.json"
    doors = Doors(file)
    answer = doors.guess("10.0.0.2", doors.code, "Ana")
    assert answer.token not in file.read_text(encoding="utf-8")
    assert doors.code not in file.read_text(encoding="utf-8")
    assert 0o600 == stat.S_IMODE(file.stat().st_mode)
    assert 1 == len(json.loads(file.read_text(encoding="utf-8"))["devices"])


def test_a_torn_file_costs_a_pairing_and_nothing_else(tmp_path: Path) -> None:
    file = tmp_path / "devices.json"
    file.write_text('{"devices": [{"id"', encoding="utf-8")
    doors = Doors(file)
    assert [] == doors.devices()
    assert doors.guess("10.0.0.2", doors.code, "Ana").device is not None
