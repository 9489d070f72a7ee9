"""Check characters by ISO/IEC 7064, MOD 37,36, and runs of numbers as people write them."""

import pytest

from keepfast.book import numbers
from keepfast.findings import FindingsError

# From memory of the standard's users, unverified: the number takes M.
KNOWN = ("A12425GABC1234002", "M")


def recursion(text: str) -> str:
    """The standard's hybrid system written another way round: the check character that makes the whole come to one.

    P(1) = 36; S = P + a; P(next) = 2 * (S mod 36, 36 for 0) mod 37; the last S must be 1 modulo 36. Every character
    is tried in turn instead of solved for.
    """
    alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    fitting = []
    for candidate in alphabet:
        product, total = 36, 0
        for character in text + candidate:
            total = product + alphabet.index(character)
            product = 2 * (total % 36 or 36) % 37
        if total % 36 == 1:
            fitting.append(candidate)
    (only,) = fitting
    return only


def test_the_known_number_takes_its_known_character() -> None:
    assert KNOWN[1] == numbers.check_character(KNOWN[0])
    assert numbers.is_valid("".join(KNOWN))


@pytest.mark.parametrize("text", ["ABC 12", "kv-001", "0", "Z", "B-12", "999999"])
def test_check_characters_agree_with_the_recursion_tried_character_by_character(text: str) -> None:
    assert recursion(numbers.compact(text)) == numbers.check_character(text)


def test_case_spaces_and_hyphens_do_not_matter() -> None:
    assert numbers.check_character("ABC12") == numbers.check_character("a-b c 1-2")


@pytest.mark.parametrize("text", ["", " - ", "Ž 1", "ABC_1", "AB\t1", "ß1", "ı1", "A.1", "１"])
def test_anything_else_is_refused(text: str) -> None:
    """The sharp s and the dotless i would turn into plain letters if they were upper-cased first."""
    with pytest.raises(ValueError, match="text must hold"):
        numbers.check_character(text)
    with pytest.raises(ValueError, match="text must hold"):
        numbers.is_valid(text)


def test_a_lone_character_has_nothing_to_check() -> None:
    assert not numbers.is_valid("1")


@pytest.mark.parametrize(
    ("text", "first", "last", "count"),
    [
        ("ABC 1-60", "ABC 1", "ABC 60", 60),
        ("ABC 1 - 60", "ABC 1", "ABC 60", 60),
        ("abc1-60", "ABC 1", "ABC 60", 60),
        ("ABC 1 to 60", "ABC 1", "ABC 60", 60),
        ("ABC 1..60", "ABC 1", "ABC 60", 60),
        ("ABC 1–60", "ABC 1", "ABC 60", 60),
        ("KV-001 to 060", "KV-001", "KV-060", 60),
        ("7-9", "7", "9", 3),
        ("KV 7", "KV 7", "KV 7", 1),
        ("2026-A 5-6", "2026-A 5", "2026-A 6", 2),
    ],
)
def test_runs_are_read_as_people_write_them(text: str, first: str, last: str, count: int) -> None:
    run = numbers.series(text).numbers()
    assert (first, last, count) == (run[0].text, run[-1].text, len(run))
    assert all(numbers.is_valid(number.printed) for number in run)


@pytest.mark.parametrize("text", ["", "ABC", "ABC 60-1", "ABC 1-99999", "Ž 1-3", "ABC -", "1-2-"])
def test_what_is_no_run_is_a_finding_that_says_what_to_write(text: str) -> None:
    with pytest.raises(FindingsError) as problem:
        numbers.series(text)
    finding = problem.value.findings[0]
    assert text == finding.read
    assert finding.remedy


def test_a_collectors_own_series_goes_without_check_characters_and_in_any_letters() -> None:
    run = numbers.series("Ž 1-3", checked=False).numbers()
    assert ["Ž 1", "Ž 2", "Ž 3"] == [number.printed for number in run]


def test_a_number_outside_its_run_is_refused() -> None:
    with pytest.raises(ValueError, match="1 to 60"):
        numbers.series("ABC 1-60").number(61)


def test_a_slip_in_a_series_with_check_characters_is_found() -> None:
    run = [number.printed for number in numbers.series("ABC 1-9").numbers()]
    run[4] = run[4].replace("5", "6")
    (finding,) = numbers.slips(run)
    assert (run[4], "doubt") == (finding.subject, finding.weight)


def test_a_series_without_says_once_that_nothing_can_be_caught() -> None:
    (finding,) = numbers.slips(f"B-{n:02d}" for n in range(1, 19))
    assert "note" == finding.weight
    assert "cannot be caught" in finding.what
    assert "B-01" in finding.what


def test_series_of_two_people_are_judged_each_by_itself() -> None:
    checked = [number.printed for number in numbers.series("ABC 1-5").numbers()]
    findings = numbers.slips([*checked, "R 1", "R 2", "R 3"])
    assert ["note"] == [finding.weight for finding in findings]
    assert "R 1" in findings[0].what


def test_no_numbers_no_findings() -> None:
    assert [] == numbers.slips([])
