"""How commands speak, fail and write.

Exit codes: 0 done; 1 for a checker that found something; 2 input that cannot be read, or wrong usage. One JSON
object goes to standard output, messages go to standard error, and a command that fails writes nothing.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from typing import Any, NoReturn

from keepfast.findings import Finding


def say(text: str) -> None:
    """A message for the person, beside the answer."""
    print(text, file=sys.stderr)


def show(text: str) -> None:
    """The answer itself."""
    print(text)


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
