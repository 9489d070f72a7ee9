"""The project speaks of its own matter only, and what it says can be said in another language."""

from __future__ import annotations

import ast
import gettext
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from keepfast.words import LOCALE_FOLDER, languages

ROOT = Path(__file__).parents[2]
TEXTS = {".py", ".md", ".toml", ".cfg", ".txt", ".lock", ".css", ".js", ".html", ".svg", ".csv", ".gpx", ".json", ""}
# Put together here so that this file does not hold what it looks for.
FOREIGN = {
    "a path of one machine": r"(?<![\w.])/(?:work|root)/|/tmp/" + "brief",
    "the host of a package registry": "|".join(("py" + r"pi\.org", "python" + "hosted", "npm" + r"js\.(?:com|org)")),
    "the number of a ticket": r"\b[Ii]" + r"ssues? #?\d+\b|\bGH-\d+\b",
    "a machine that writes text": r"\b(?:Chat"
    + r"GPT|Open"
    + r"AI|Anth"
    + r"ropic|Cl"
    + r"aude|L"
    + r"LM|lang"
    + r"uage model)\b",
}


def kept_files() -> list[Path]:
    """Files under version control, or all that are not ignored where there is none."""
    # A machine that got the project as a folder may have no version control at all.
    git = shutil.which("git")
    done = subprocess.run([git, "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True) if git else None
    if done is not None and done.returncode == 0 and done.stdout:
        return [ROOT / name for name in done.stdout.split("\0") if name]
    skipped = {".venv", ".git", "__pycache__", ".hypothesis", ".ruff_cache", ".mypy_cache", ".pytest_cache"}
    return [path for path in ROOT.rglob("*") if path.is_file() and not skipped & set(path.parts)]


@pytest.mark.parametrize("what", FOREIGN)
def test_no_file_holds(what: str) -> None:
    pattern = re.compile(FOREIGN[what])
    found = []
    for path in kept_files():
        if path.suffix not in TEXTS or not path.is_file():
            continue
        text = path.read_text(encoding="utf-8", errors="replace")
        for number, line in enumerate(text.splitlines(), start=1):
            if pattern.search(line):
                found.append(f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}")
    assert [] == found


def test_no_killing_agent_is_named_where_people_read() -> None:
    """An approved protocol was followed, and no more is said: no agent, no dose."""
    agents = re.compile(
        r"\b(?:MS-?222|tricaine|benzocaine|lidocaine|eugenol|clove oil|pentobarbit\w+|barbiturates?|chlore?tone|T-?61"
        r"|chloroform|diethyl ether|isoflurane|sevoflurane|halothane|chloral hydrate|potassium chloride|overdos\w+"
        r"|decapitat\w+|pith(?:ed|ing)|mg/kg)\b",
        re.IGNORECASE,
    )
    found = [
        str(path.relative_to(ROOT))
        for path in kept_files()
        if path.suffix in {".md", ".toml", ".py", ".html", ".js"}
        and "tests" not in path.parts
        and path.is_file()
        and agents.search(path.read_text(encoding="utf-8", errors="replace"))
    ]
    assert [] == found


def spoken_files() -> list[Path]:
    return sorted((ROOT / "src" / "keepfast").rglob("*.py"))


def test_no_message_is_put_together_before_it_is_looked_up() -> None:
    """``_(f"...")`` and ``_("..." + x)`` can never be found in a catalogue."""
    found = []
    for path in spoken_files():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("_", "ngettext", "_marked")
                and node.args
                and isinstance(node.args[0], ast.JoinedStr | ast.BinOp)
            ):
                found.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert [] == found


def test_every_catalogue_is_in_step_with_its_source() -> None:
    """A compiled catalogue holds what its text beside it says; English needs none."""
    assert "en" == languages()[0]
    for compiled in LOCALE_FOLDER.glob("*/LC_MESSAGES/keepfast.mo"):
        text = compiled.with_suffix(".po").read_text(encoding="utf-8")
        with compiled.open("rb") as file:
            catalogue = gettext.GNUTranslations(file)
        for message, translated in re.findall(r'^msgid "(.+)"\nmsgstr "(.+)"$', text, re.MULTILINE):
            assert translated == catalogue.gettext(message)


def test_british_spelling_for_people() -> None:
    american = re.compile(
        r"\b(?:color|colors|center|fiber|labeled|gray|millimeters?|milliliters?|sterilize|behavior)\b"
    )
    allowed = {"millimeter", "millimeters", "center"}
    found = []
    for path in [*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")]:
        text = re.sub(r"```.*?```|`[^`]*`", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        if path.parent.name == "reference":
            continue
        found += [f"{path.relative_to(ROOT)}: {m}" for m in american.findall(text) if m not in allowed]
    assert [] == found
