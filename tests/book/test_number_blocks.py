import pytest

from keepfast.book.number_blocks import (
    Block,
    Gap,
    gaps,
    next_block,
    next_in_blocks,
    number_key,
    overlaps,
    split_number,
    written,
)


def block(device, first, last):
    return {"device": device, "first": first, "last": last}


@pytest.mark.parametrize("text", ["AB 007", "ab-7", "AB7", "Ab. 7", " ab_0007 "])
def test_one_number_however_it_is_written(text):
    assert "ab7" == number_key(text)


def test_letters_of_other_scripts_and_accents_are_kept():
    assert "ño12" == number_key("ÑO-012")


@pytest.mark.parametrize(
    ("text", "expected"),
    [("AB-0123", ("ab", 123)), ("145732a", ("*a", 145732)), ("R 4313", ("r", 4313)), ("no number", None), ("", None),
     ("2008.1334", ("2008", 1334)), ("A" + "9" * 20, None)],
)  # fmt: skip
def test_a_number_is_taken_apart(text, expected):
    assert expected == split_number(text)


def test_a_number_is_written_with_its_width():
    assert "AB 0012" == written({"prefix": "AB ", "width": 4}, 12)
    assert "12345-k" == written({"suffix": "-k", "width": 4}, 12345)


def test_blocks_follow_one_another_and_what_was_used():
    series = {"first": 100, "blocks": [block("phone", 100, 149)]}

    assert (150, 199) == next_block(series, None, 50)
    assert (161, 210) == next_block(series, 160, 50)


def test_a_series_that_ends_gives_no_block_beyond_its_end():
    assert None is next_block({"first": 1, "last": 60, "blocks": [block("phone", 1, 50)]}, None, 11)


def test_a_device_gives_only_from_its_own_blocks_and_nothing_twice():
    series = {"blocks": [block("phone", 1, 3), block("laptop", 4, 6), block("phone", 7, 9)]}

    assert 3 == next_in_blocks(series, "phone", [1, 2, 4])
    assert 7 == next_in_blocks(series, "phone", [1, 2, 3])
    assert None is next_in_blocks(series, "phone", [3, 9])
    assert None is next_in_blocks(series, "tablet", [])


def test_blocks_of_two_devices_that_share_a_number_are_found():
    series = {"blocks": [block("phone", 1, 50), block("laptop", 50, 60), block("phone", 55, 58)]}

    assert ((Block("phone", 1, 50), Block("laptop", 50, 60)), (Block("laptop", 50, 60), Block("phone", 55, 58))) == (
        overlaps(series)
    )


def test_every_gap_has_its_reason_or_none():
    series = {
        "first": 1,
        "blocks": [block("phone", 1, 10), block("laptop", 11, 20)],
        "explained": [{"first": 2, "last": 2, "reason": "tag torn"}],
    }
    given = [{"number": 3, "device": "phone"}]

    assert (
        Gap(2, 2, "tag torn"),
        Gap(3, 3, "given out on phone, carried by nothing"),
        Gap(5, 10, "set aside for phone, not given out"),
        Gap(12, 12, ""),
    ) == gaps(series, [1, 4, 11, 13], given)


def test_one_stray_number_far_away_does_not_make_a_walk_of_millions():
    assert 10_000 == sum(g.last - g.first + 1 for g in gaps({"first": 1}, [1, 10**12]))
