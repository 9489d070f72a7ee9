"""What ISO/IEC 7064 promises of MOD 37,36: every single slip of the pen is caught."""

from hypothesis import assume, given
from hypothesis import strategies as st

from keepfast.book import numbers

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
NUMBERS = st.text(ALPHABET, min_size=1, max_size=20)


@given(NUMBERS)
def test_a_number_with_its_check_character_is_right(text: str) -> None:
    assert numbers.is_valid(text + numbers.check_character(text))


@given(NUMBERS, st.data())
def test_every_single_slip_is_caught(text: str, data: st.DataObject) -> None:
    whole = text + numbers.check_character(text)
    place = data.draw(st.integers(0, len(whole) - 1))
    other = data.draw(st.sampled_from(ALPHABET))
    assume(other != whole[place])
    assert not numbers.is_valid(whole[:place] + other + whole[place + 1 :])


def test_every_single_slip_is_caught_without_exception_for_one_series() -> None:
    """All 35 wrong characters at all places of sixty numbers."""
    for number in numbers.series("ABC 1-60").numbers():
        whole = numbers.compact(number.printed)
        for place, right in enumerate(whole):
            for other in ALPHABET:
                if other != right:
                    assert not numbers.is_valid(whole[:place] + other + whole[place + 1 :])


def test_nearly_every_swap_of_neighbours_is_caught() -> None:
    """The hybrid system lets a few pass (those that the doubling modulo 37 maps alike); under one in a hundred."""
    tried = passed = 0
    for first in ALPHABET:
        for second in ALPHABET:
            if first == second:
                continue
            for before in ("", "A", "7", "ABC1", "KV00", "2026Z"):
                whole = f"{before}{first}{second}"
                whole += numbers.check_character(whole)
                n = len(before)
                swapped = whole[:n] + second + first + whole[n + 2 :]
                tried += 1
                passed += numbers.is_valid(swapped)
    assert passed / tried < 1 / 100


@given(NUMBERS, st.text(" -", max_size=3), st.integers(0, 20))
def test_separators_and_case_never_change_the_verdict(text: str, separators: str, place: int) -> None:
    whole = text + numbers.check_character(text)
    place = min(place, len(whole))
    assert numbers.is_valid((whole[:place] + separators + whole[place:]).lower())


@given(st.integers(0, 5000), st.integers(0, 60), st.integers(0, 4))
def test_a_run_written_and_read_again_is_the_same_run(first: int, more: int, figures: int) -> None:
    shown = f"{first:0{figures + 1}d}"
    run = numbers.series(f"KV {shown}-{first + more}")
    assert (first, first + more) == (run.first, run.last)
    assert f"KV {shown}" == run.numbers()[0].text
    assert more + 1 == len(set(run.numbers()))
