"""One text for one value: JSON in the canonical form of RFC 8785, so that a hash of it means something.

Keys in the order of their UTF-16 code units, no white space, numbers as ECMAScript writes them, UTF-8.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

# RFC 8785 section 3.2.2.3: a number is an IEEE 754 double; a whole number beyond this would not come back the same.
LARGEST_WHOLE = 2**53 - 1
DEEPEST = 40

_quote = json.encoder.encode_basestring


def number_text(value: float) -> str:
    """A double as ECMAScript's Number::toString writes it (ECMA-262, 6.1.6.1.20).

    Raises
    ------
    ValueError
        If it is not a finite number.
    """
    if not math.isfinite(value):
        raise ValueError(f"a number in an entry must be finite; {value!r} was given")
    if value == 0:
        return "0"
    plain = repr(value)
    if "e" not in plain:
        return plain[:-2] if plain.endswith(".0") else plain
    sign, digits_tuple, exponent = Decimal(plain).as_tuple()
    assert isinstance(exponent, int)
    digits = "".join(map(str, digits_tuple)).rstrip("0")
    point = len(digits_tuple) + exponent
    minus = "-" if sign else ""
    if len(digits) <= point <= 21:
        return minus + digits + "0" * (point - len(digits))
    if 0 < point <= 21:
        return minus + digits[:point] + "." + digits[point:]
    if -6 < point <= 0:
        return minus + "0." + "0" * -point + digits
    power = point - 1
    head = digits[0] + ("." + digits[1:] if len(digits) > 1 else "")
    return f"{minus}{head}e{'+' if power > 0 else '-'}{abs(power)}"


def _write(value: Any, depth: int) -> str:
    if isinstance(value, str):
        return _quote(value)
    if value is None:
        return "null"
    if value is True:
        return "true"
    if value is False:
        return "false"
    if isinstance(value, int):
        if abs(value) > LARGEST_WHOLE:
            raise ValueError(f"a whole number in an entry must lie within {LARGEST_WHOLE}; {value} was given")
        return str(int(value))
    if isinstance(value, float):
        return number_text(value)
    if depth > DEEPEST:
        raise ValueError(f"an entry may be nested {DEEPEST} deep at most")
    if isinstance(value, Mapping):
        keys = list(value)
        if not all(isinstance(key, str) for key in keys):
            raise ValueError("the names in an entry must be texts")
        ordered = sorted(keys) if all(map(str.isascii, keys)) else sorted(keys, key=lambda k: k.encode("utf-16-be"))
        return "{" + ",".join([f"{_quote(key)}:{_write(value[key], depth + 1)}" for key in ordered]) + "}"
    if isinstance(value, Sequence) and not isinstance(value, bytes | bytearray):
        return "[" + ",".join([_write(part, depth + 1) for part in value]) + "]"
    raise ValueError(f"an entry holds texts, numbers, lists and named values; {type(value).__name__} was given")


def canonical(value: Any) -> str:
    """The canonical JSON text of a value.

    Raises
    ------
    ValueError
        If it holds something JSON cannot carry unchanged: NaN, a lone surrogate, a whole number beyond 2**53, a
        nesting deeper than 40.
    """
    text = _write(value, 0)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise ValueError("an entry may not hold half a character (a lone surrogate)") from None
    return text
