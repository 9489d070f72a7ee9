"""How commands speak, fail and write.

Exit codes: 0 done; 1 for a checker that found something; 2 input that cannot be read, or wrong usage. One JSON
object goes to standard output, messages go to standard error, and a command that fails writes nothing.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterable
from typing import Any, NoReturn

from keepfast.findings import Finding

# What a terminal would obey, or what turns the order of letters: text out of somebody's file may hold either.
_OBEYED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]")


def harmless(text: str) -> str:
    """The text with a mark in place of each character that a terminal would obey."""
    return _OBEYED.sub("\ufffd", text)


def say(text: str) -> None:
    """A message for the person, beside the answer."""
    print(harmless(text), file=sys.stderr)


def show(text: str) -> None:
    """The answer itself."""
    print(harmless(text))


def show_json(answer: dict[str, Any]) -> None:
    """The answer as one JSON object. NaN has no place in JSON, so it is an error here rather than there."""
    print(json.dumps(answer, ensure_ascii=False, indent=2, allow_nan=False))


def fail(findings: Iterable[Finding]) -> NoReturn:
    """Say all that is wrong and stop with 2."""
    for finding in findings:
        say(finding.sentence())
    sys.exit(2)


def wrong(field: str, what: str, remedy: str = "", read: str | None = None) -> NoReturn:
    """One wrong option or argument: say it and stop with 2."""
    fail([Finding(what, remedy, field=field, read=read)])


def wrapped(text: str, indent: str = "") -> str:
    """Text in lines that a terminal shows whole."""
    import textwrap

    return textwrap.fill(text, 100, initial_indent=indent, subsequent_indent=indent)
