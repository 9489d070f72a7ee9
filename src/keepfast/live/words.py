"""The words that the pages' scripts speak, gathered from the scripts themselves and laid into each page."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

from keepfast.words import _

STATIC = Path(__file__).parent / "static"

_CALL = re.compile(r'(?<![\w.])_\(\s*"((?:[^"\\]|\\.)*)"')
_MANY = re.compile(r'(?<![\w.])many\(\s*"((?:[^"\\]|\\.)*)",\s*"((?:[^"\\]|\\.)*)"')


@cache
def in_scripts() -> tuple[str, ...]:
    """Every message that a script asks for."""
    found: dict[str, None] = {}
    for path in sorted(STATIC.glob("*.js")):
        text = path.read_text(encoding="utf-8")
        for match in _CALL.finditer(text):
            found[json.loads(f'"{match[1]}"')] = None
        for match in _MANY.finditer(text):
            found[json.loads(f'"{match[1]}"')] = None
            found[json.loads(f'"{match[2]}"')] = None
    return tuple(found)


def for_scripts() -> dict[str, str]:
    """The scripts' messages in the language now spoken; those that stay as they are are left out."""
    return {message: told for message in in_scripts() if (told := _(message)) != message}


def inside_page(value: Any) -> str:
    """JSON that may stand inside a script element: no sign in it can end the element."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign, code in (
        ("<", "\\u003c"),
        (">", "\\u003e"),
        ("&", "\\u0026"),
        ("\u2028", "\\u2028"),
        ("\u2029", "\\u2029"),
    ):
        text = text.replace(sign, code)
    return text
