"""Finds the texts that people read, keeps the catalogues in step with them, and compiles what was translated.

``python -m keepfast.locale.gather`` adds new texts to every ``keepfast.po`` with an empty translation, marks none as
gone, and writes ``keepfast.mo`` beside each. Texts stand in Python (``_`` and ``ngettext``), in the pages'
templates, in their scripts, in the rules file of the pen, and in the steps and cautions that the hands read.
"""

from __future__ import annotations

import ast
import json
import re
import struct
import tomllib
from collections.abc import Iterable, Iterator
from pathlib import Path

PACKAGE = Path(__file__).parent.parent
FOLDER = Path(__file__).parent
Message = tuple[str, str]  # the text, and its plural where it has one

_TEMPLATE = re.compile(r"""_\(\s*(?:"((?:[^"\\]|\\.)*)"|'((?:[^'\\]|\\.)*)')\s*\)""")


def in_python(path: Path) -> Iterator[Message]:
    """Texts that a module passes through ``_`` or ``ngettext``."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        texts = [a.value for a in node.args if isinstance(a, ast.Constant) and isinstance(a.value, str)]
        if node.func.id == "_" and texts:
            yield texts[0], ""
        elif node.func.id == "ngettext" and len(texts) == 2:
            yield texts[0], texts[1]


def in_template(path: Path) -> Iterator[Message]:
    """Texts of a page."""
    for match in _TEMPLATE.finditer(path.read_text(encoding="utf-8")):
        yield ast.literal_eval(f'"{match[1]}"' if match[1] is not None else f"'{match[2]}'"), ""


def in_pen_rules(path: Path) -> Iterator[Message]:
    """Texts of the file that says what the pen asks."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    for part in ("rounds", "short"):
        yield from ((text, "") for text in data.get(part, {}).values())
    for field in data["field"]:
        yield field["words"], ""
        if field.get("help"):
            yield field["help"], ""
        for part in ("words_by_form", "choices"):
            yield from ((text, "") for text in field.get(part, {}).values())


def in_steps_and_cautions(rules: Path) -> Iterator[Message]:
    """What the hands read: the action of each step of every protocol, and the words of each caution."""
    for path in sorted((rules / "protocols").glob("*.toml")):
        for part in tomllib.loads(path.read_text(encoding="utf-8")).values():
            for rule in part if isinstance(part, list) else [part]:
                if isinstance(rule, dict) and isinstance(rule.get("action"), str):
                    yield rule["action"], ""
    for path in sorted((rules / "cautions").glob("*.toml")):
        for part in tomllib.loads(path.read_text(encoding="utf-8")).values():
            for rule in part if isinstance(part, list) else []:
                if isinstance(rule, dict) and isinstance(rule.get("text"), str):
                    yield rule["text"], ""


def of_the_screens() -> dict[Message, None]:
    """Every text of the live screens, in a steady order."""
    from keepfast.desk.table_live import FORM_WORDS
    from keepfast.live.words import in_scripts

    found: dict[Message, None] = {}
    modules = [*sorted((PACKAGE / "live").glob("*.py")), *sorted((PACKAGE / "desk").glob("table_*.py"))]
    modules += [PACKAGE / "cli" / "live.py", PACKAGE / "paper" / "evening_report.py", PACKAGE / "paper" / "figures.py"]
    for path in modules:
        found.update(dict.fromkeys(in_python(path)))
    for path in sorted((PACKAGE / "live" / "templates").glob("*.html")):
        found.update(dict.fromkeys(in_template(path)))
    found.update(dict.fromkeys((text, "") for text in in_scripts()))
    found.update(dict.fromkeys(in_pen_rules(PACKAGE / "rules" / "live" / "pen.toml")))
    found.update(dict.fromkeys((text, "") for text in FORM_WORDS.values()))
    found.update(dict.fromkeys((text, "") for text in _SITES))
    known = {text for text, many in found if many}
    return {message: None for message in found if message[1] or message[0] not in known}


def of_the_rules() -> dict[Message, None]:
    """Every step and caution that the hands may be shown; one without a translation is shown as the plan has it."""
    return dict.fromkeys(in_steps_and_cautions(PACKAGE / "rules"))


# Places on a body as plans name them; the screens say them in words of the device's language.
_SITES = (
    "hindgut", "gonad", "cavity", "neck", "mouth", "forelimb", "hindlimb", "tail base", "tail", "head", "trunk muscle",
    "trunk", "left", "right", "both", "below", "alternate",
)  # fmt: skip


def read_po(path: Path) -> dict[Message, tuple[str, ...]]:
    """A catalogue's translations by text, the heading under the empty text; untranslated ones are empty."""
    found: dict[Message, tuple[str, ...]] = {}
    entry: dict[str, str] = {}
    name = ""

    def keep() -> None:
        if "msgid" in entry:
            forms = tuple(v for k, v in sorted(entry.items()) if k.startswith("msgstr"))
            found[entry["msgid"], entry.get("msgid_plural", "")] = forms

    for line in path.read_text(encoding="utf-8").splitlines():
        match = re.fullmatch(r'(msgid|msgid_plural|msgstr(?:\[\d\])?) ("(?:[^"\\]|\\.)*")', line)
        if match:
            if match[1] == "msgid":
                keep()
                entry = {}
            name = match[1]
            entry[name] = json.loads(match[2])
        elif line.startswith('"'):
            entry[name] += json.loads(line)
    keep()
    return found


def write_po(path: Path, catalogue: dict[Message, tuple[str, ...]]) -> None:
    """Write a catalogue, the heading first."""

    def quoted(text: str) -> str:
        return json.dumps(text, ensure_ascii=False)

    lines = []
    for (one, many), forms in catalogue.items():
        lines.append(f"msgid {quoted(one)}")
        if many:
            lines.append(f"msgid_plural {quoted(many)}")
            pair = (*forms, "", "")[:2]
            lines += [f"msgstr[{i}] {quoted(form)}" for i, form in enumerate(pair)]
        else:
            lines.append(f"msgstr {quoted(forms[0] if forms else '')}")
        lines.append("")
    path.write_text("\n".join(lines), encoding="utf-8")


def compiled(catalogue: dict[Message, tuple[str, ...]]) -> bytes:
    """The catalogue as GNU gettext's machine object (the format of its manual, "The Format of GNU MO Files")."""
    pairs = []
    for (one, many), forms in catalogue.items():
        if forms and all(forms):
            text = f"{one}\0{many}" if many else one
            pairs.append((text.encode(), "\0".join(forms).encode()))
    pairs.sort()
    key_bytes, value_bytes = b"", b""
    places = []
    for key, value in pairs:
        places.append((len(key), len(key_bytes), len(value), len(value_bytes)))
        key_bytes += key + b"\0"
        value_bytes += value + b"\0"
    start = 7 * 4 + 16 * len(pairs)
    first = [part for n, at, _vn, _vat in places for part in (n, start + at)]
    second = [part for _n, _at, n, at in places for part in (n, start + len(key_bytes) + at)]
    head = struct.pack("<7I", 0x950412DE, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, 0)
    return head + struct.pack(f"<{len(first) + len(second)}I", *first, *second) + key_bytes + value_bytes


def catalogues() -> list[Path]:
    """Every catalogue there is."""
    return sorted(FOLDER.glob("*/LC_MESSAGES/keepfast.po"))


def bring_up(path: Path, texts: Iterable[Message]) -> int:
    """Add the texts a catalogue does not have and compile it; how many are not translated."""
    catalogue = read_po(path)
    for message in texts:
        catalogue.setdefault(message, ())
    write_po(path, catalogue)
    path.with_suffix(".mo").write_bytes(compiled(catalogue))
    return sum(not (forms and all(forms)) for forms in catalogue.values())


def main() -> None:
    """Bring every catalogue up to the texts of today."""
    for path in catalogues():
        open_ = bring_up(path, [*of_the_screens(), *of_the_rules()])
        print(f"{path.parent.parent.name}: {open_} texts are not translated")


if __name__ == "__main__":
    main()
