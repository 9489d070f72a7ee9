"""Canonical JSON against the samples of RFC 8785 (Rundgren, Jordan, Erdtman 2020)."""

import json
import math
import struct

import pytest

from keepfast.book.canonical import canonical, number_text

# RFC 8785, appendix B, "Number Serialization Samples": IEEE 754 bits and their text.
APPENDIX_B = {
    "0000000000000000": "0",
    "8000000000000000": "0",
    "0000000000000001": "5e-324",
    "8000000000000001": "-5e-324",
    "7fefffffffffffff": "1.7976931348623157e+308",
    "ffefffffffffffff": "-1.7976931348623157e+308",
    "4340000000000000": "9007199254740992",
    "c340000000000000": "-9007199254740992",
    "4430000000000000": "295147905179352830000",
    "44b52d02c7e14af5": "9.999999999999997e+22",
    "44b52d02c7e14af6": "1e+23",
    "44b52d02c7e14af7": "1.0000000000000001e+23",
    "444b1ae4d6e2ef4e": "999999999999999700000",
    "444b1ae4d6e2ef4f": "999999999999999900000",
    "444b1ae4d6e2ef50": "1e+21",
    "3eb0c6f7a0b5ed8c": "9.999999999999997e-7",
    "3eb0c6f7a0b5ed8d": "0.000001",
    "41b3de4355555553": "333333333.3333332",
    "41b3de4355555554": "333333333.33333325",
    "41b3de4355555555": "333333333.3333333",
    "41b3de4355555556": "333333333.3333334",
    "41b3de4355555557": "333333333.33333343",
    "becbf647612f3696": "-0.0000033333333333333333",
    "43143ff3c1cb0959": "1424953923781206.2",
}


@pytest.mark.parametrize(("bits", "expected"), APPENDIX_B.items())
def test_numbers_are_written_as_the_standard_writes_them(bits, expected):
    (value,) = struct.unpack(">d", bytes.fromhex(bits))

    assert expected == number_text(value)


def test_names_are_sorted_by_their_utf16_code_units():
    # RFC 8785, section 3.2.3: the example of sorting, and the order it gives.
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]

    ordered = list(json.loads(canonical(dict.fromkeys(names, 0))))

    assert ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"] == ordered


def test_the_sample_object_of_the_standard_gives_its_text():
    # RFC 8785, section 3.2.2 (input) and 3.2.3 (result).
    sample = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }
    expected = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )

    assert expected == canonical(sample)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 2**53, "\ud800", {1: 2}, {"a": b"x"}, {"a": {1}}])
def test_what_json_cannot_carry_unchanged_is_refused(value):
    with pytest.raises(ValueError, match=r"entry"):
        canonical({"value": value})


def test_a_bottomless_nesting_is_refused():
    value: list = []
    for _ in range(60):
        value = [value]

    with pytest.raises(ValueError, match="nested"):
        canonical(value)
