"""The documentation is held to the truth: generated pages are in step, examples run, links lead somewhere."""

from __future__ import annotations

import contextlib
import importlib.util
import io
import os
import re
import shlex
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import pytest

from keepfast import demo
from keepfast.exchange.camp import read_camp

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *sorted((ROOT / "docs").rglob("*.md"))]
WRITTEN = [page for page in PAGES if page.exists() and page.parent.name != "reference"]
FENCE = re.compile(r"^```(\w+)[^\n]*\n(.*?)^```", re.MULTILINE | re.DOTALL)


def generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("docs_generate", ROOT / "docs" / "generate.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def made() -> ModuleType:
    return generator()


@pytest.mark.parametrize(
    "name",
    ["../index.md", "commands.md", "tables.md", "rules.md", "columns.md", "camp.md", "plan_json.md", "entries.md"],
)
def test_the_reference_says_what_the_code_does(made: ModuleType, name: str) -> None:
    """If this fails: .venv/bin/python docs/generate.py"""
    written = (ROOT / "docs" / "reference" / name).read_text(encoding="utf-8")
    assert made.pages()[name].rstrip() + "\n" == written


def test_every_command_argument_and_option_says_what_it_is_for(made: ModuleType) -> None:
    silent = []
    for name, command in made.commands():
        if name and not (command.help or "").strip():
            silent.append(name)
        silent += [f"{name} {written}" for written, meaning, _ in made.options(command) if not meaning.strip()]
    assert [] == silent


def test_every_command_is_shown_at_work_somewhere(made: ModuleType) -> None:
    """A command that no page uses is a command that nobody finds."""
    shown = {" ".join(words) for page in WRITTEN for words, _ in commands_of(page)}
    missing = [
        name
        for name, command in made.commands()
        if name
        and getattr(command, "commands", None) is None
        and not any(line == name or line.startswith(name + " ") for line in shown)
    ]
    assert [] == missing


def commands_of(page: Path) -> Iterator[tuple[list[str], int]]:
    """The words after ``./keepfast`` of each example, and the exit code it is said to end with."""
    for language, body in FENCE.findall(page.read_text(encoding="utf-8")):
        if language != "console":
            continue
        for line in re.sub(r"\\\n\s*", "", body).splitlines():
            if line.startswith("$ "):
                said = re.search(r"#\s*exits (\d)\s*$", line)
                words = shlex.split(line[2:], comments=True)
                assert "./keepfast" == words[0], f"{page.name}: examples are of ./keepfast alone: {line}"
                yield words[1:], int(said.group(1)) if said else 0


def run(words: list[str]) -> tuple[int, str]:
    """Run a command in this process, in the folder it is called from."""
    from keepfast import cli
    from keepfast import words as spoken

    heard = io.StringIO()
    before = sys.argv
    sys.argv = ["keepfast", *words]
    try:
        with contextlib.redirect_stdout(heard), contextlib.redirect_stderr(heard):
            try:
                cli.main()
                code = 0
            except SystemExit as end:
                code = end.code if isinstance(end.code, int) else int(bool(end.code))
    finally:
        sys.argv = before
        spoken.use_language("en")
    return code, heard.getvalue()


def starts_and_stops(words: list[str], heard_at: Path) -> tuple[int, str]:
    """A command that serves until it is stopped: it must give its address, and end when asked."""
    with heard_at.open("w") as out:
        process = subprocess.Popen(
            [sys.executable, "-u", "-m", "keepfast", *words],
            stdout=out,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        )
    try:
        last = time.monotonic() + 90  # far beyond what it takes; only a command that hangs gets here
        while process.poll() is None and "http://" not in heard_at.read_text() and time.monotonic() < last:
            time.sleep(0.1)
        ended = process.poll()
        if ended is not None:
            return ended, heard_at.read_text()
        process.send_signal(signal.SIGINT)
        try:
            process.wait(timeout=90)
        except subprocess.TimeoutExpired:
            return 1, f"did not stop when asked: {heard_at.read_text()}"
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()
    heard = heard_at.read_text()
    return (0, heard) if "http://" in heard else (1, f"gave no address: {heard}")


# These set up or measure the project itself and would run these tests again.
OUTSIDE = {"test", "bench"}


@pytest.mark.parametrize("page", WRITTEN, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_command_example_runs(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    examples = [(words, code) for words, code in commands_of(page) if words and words[0] not in OUTSIDE]
    for name, content in demo.contents().items():
        (tmp_path / name).write_bytes(content)
    monkeypatch.chdir(tmp_path)
    for words, expected in examples:
        serve = words[0] == "live" and "--help" not in words
        code, heard = starts_and_stops(words, tmp_path / "heard.txt") if serve else run(words)
        assert expected == code, f"./keepfast {' '.join(words)}\n{heard[-3000:]}"
        assert "Traceback" not in heard, heard[-3000:]


@pytest.mark.parametrize("page", WRITTEN, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_python_example_runs(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name, content in demo.contents().items():
        (tmp_path / name).write_bytes(content)
    monkeypatch.chdir(tmp_path)
    space: dict[str, object] = {}
    with contextlib.redirect_stdout(io.StringIO()):
        for language, body in FENCE.findall(page.read_text(encoding="utf-8")):
            if language == "python":
                exec(compile(body, str(page), "exec"), space)


def test_every_settings_example_is_sound() -> None:
    for page in PAGES:
        for language, body in FENCE.findall(page.read_text(encoding="utf-8")):
            if language == "toml":
                tomllib.loads(body)


def test_the_camp_examples_are_camp_files(tmp_path: Path) -> None:
    page = (ROOT / "docs" / "how_to" / "describe_the_camp.md").read_text(encoding="utf-8")
    for name, content in demo.contents().items():
        (tmp_path / name).write_bytes(content)
    examples = [body for language, body in FENCE.findall(page) if language == "toml"]
    assert examples
    for body in examples:
        (tmp_path / "own.toml").write_text(body, encoding="utf-8")
        assert read_camp(tmp_path / "own.toml").camp.temperature_record


@pytest.mark.parametrize(
    "page", [page for page in PAGES if page.exists()], ids=lambda page: str(page.relative_to(ROOT))
)
def test_every_link_inside_the_project_leads_somewhere(page: Path) -> None:
    text = FENCE.sub("", page.read_text(encoding="utf-8"))
    dead = []
    for target in re.findall(r"!?\[[^\]]*\]\(([^)\s]+)\)", text):
        if "://" in target or target.startswith(("#", "mailto:")):
            continue
        if not (page.parent / target.split("#")[0]).resolve().exists():
            dead.append(target)
    assert [] == dead


def test_every_page_can_be_reached_from_the_index() -> None:
    seen: set[Path] = set()
    waiting = [ROOT / "README.md"]
    while waiting:
        page = waiting.pop()
        if page in seen or not page.exists():
            continue
        seen.add(page)
        for target in re.findall(r"\[[^\]]*\]\(([^)\s]+\.md)(?:#[^)]*)?\)", page.read_text(encoding="utf-8")):
            if "://" not in target:
                waiting.append((page.parent / target).resolve())
    assert [] == [str(page.relative_to(ROOT)) for page in PAGES if page.exists() and page.resolve() not in seen]


def test_the_readme_begins_with_the_job_and_the_two_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    first = text.split("\n\n")[1]
    for word in ("reptiles", "amphibians", "Keepfast", "helper"):
        assert word in first
    assert "./keepfast demo" in text
    assert "./keepfast test" in text
    assert re.search(r"!\[[^\]]+\]\(docs/pictures/", text)
