"""What is installed is pinned, hashed, and comes from wherever the user's own index is."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LOCKS = ("requirements.lock", "requirements-test.lock", "requirements-bench.lock")


def pins(name: str) -> dict[str, str]:
    """Package names with their versions."""
    text = (ROOT / name).read_text(encoding="utf-8")
    return dict(re.findall(r"^([A-Za-z0-9._-]+)==([^ ;\\]+)", text, re.MULTILINE))


@pytest.mark.parametrize("name", LOCKS)
def test_every_package_is_pinned_and_hashed(name: str) -> None:
    entries = (ROOT / name).read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    packages = [line for line in entries if line.strip() and not line.startswith("#")]
    assert len(packages) > 20
    for line in packages:
        assert re.match(r"^[A-Za-z0-9._-]+==\S+", line), line[:80]
        assert "--hash=sha256:" in line, line[:80]


@pytest.mark.parametrize("name", LOCKS)
def test_no_lock_holds_an_address(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert "://" not in text
    assert "--index-url" not in text
    assert "--find-links" not in text


def test_the_locks_agree_with_each_other() -> None:
    runtime, test, bench = (pins(name) for name in LOCKS)
    assert runtime.items() <= test.items()
    assert test.items() <= bench.items()


def test_every_dependency_that_is_asked_for_is_locked() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))

    def names(entries: list[str]) -> set[str]:
        return {re.split(r"[<>=!\[; ]", entry)[0].lower() for entry in entries}

    assert names(project["project"]["dependencies"]) <= {name.lower() for name in pins(LOCKS[0])}
    assert names(project["dependency-groups"]["test"]) <= {name.lower() for name in pins(LOCKS[1])}
    assert names(project["dependency-groups"]["bench"]) <= {name.lower() for name in pins(LOCKS[2])}


def test_the_licences_are_there() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for name in project["license-files"]:
        assert (ROOT / name).is_file()
    assert "Apache License" in (ROOT / "LICENSE").read_text(encoding="utf-8")
    fonts = {path.parent for path in (ROOT / "src").rglob("*") if path.suffix in (".ttf", ".otf", ".woff2")}
    for folder in fonts:
        assert (folder / "OFL.txt").is_file(), folder
