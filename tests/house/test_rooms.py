"""The house keeps its rooms apart, its modules short and its start light."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "keepfast"
MODULES = sorted(SOURCE.rglob("*.py"))
ROOMS = ("science", "rules", "plan", "book", "store", "exchange", "paper", "desk", "live", "cli", "demo")
# About 600 lines is the rule of the house; a docstring or a table may carry a module a little over.
MOST_LINES = 630


def test_every_import_contract_is_kept() -> None:
    done = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-logo", "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert 0 == done.returncode, done.stdout + done.stderr


def test_a_broken_contract_would_be_noticed(tmp_path: Path) -> None:
    """The same contracts over a house in which science leans on the store must fail."""
    house = tmp_path / "keepfast"
    for room in ROOMS:
        (house / room).mkdir(parents=True)
        (house / room / "__init__.py").write_text("")
    for name in ("__init__", "words", "findings", "paper/pdf", "paper/symbols", "store/engine"):
        (house / f"{name}.py").write_text("")
    (house / "science" / "broken.py").write_text("import keepfast.store.engine\n")
    settings = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    (tmp_path / "pyproject.toml").write_text(settings[settings.index("[tool.importlinter]") :], encoding="utf-8")
    done = subprocess.run(
        [str(Path(sys.executable).parent / "lint-imports"), "--no-logo", "--no-cache"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env={"PYTHONPATH": str(tmp_path), "PATH": ""},
    )
    assert 0 != done.returncode
    assert "nature knows nothing of ours BROKEN" in done.stdout


@pytest.mark.parametrize("room", ROOMS)
def test_every_room_says_what_is_in_it_and_where_to_start(room: str) -> None:
    words = ast.get_docstring(ast.parse((SOURCE / room / "__init__.py").read_text(encoding="utf-8"))) or ""
    assert len(words) > 60
    if room not in ("demo",):
        assert "tart with" in words


def test_every_module_says_what_it_is_for() -> None:
    silent = [
        str(path.relative_to(ROOT))
        for path in MODULES
        if path.name != "__main__.py" and not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert [] == silent


def test_no_module_is_too_long() -> None:
    folders = (SOURCE, ROOT / "tests", ROOT / "benchmarks", ROOT / "docs")
    lengths = {
        str(path.relative_to(ROOT)): len(path.read_text(encoding="utf-8").splitlines())
        for folder in folders
        for path in folder.rglob("*.py")
    }
    limits = {path: MOST_LINES if path.startswith("src") else 2 * MOST_LINES for path in lengths}
    assert {} == {path: count for path, count in lengths.items() if count > limits[path]}


def test_no_module_is_a_drawer_for_odds_and_ends() -> None:
    drawers = {"util", "utils", "helpers", "helper", "misc", "common", "tools"}
    assert [] == [str(path) for path in MODULES if path.stem in drawers]


def test_public_functions_of_science_have_docstrings() -> None:
    bare = []
    for path in (SOURCE / "science").glob("*.py"):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                words = ast.get_docstring(node) or ""
                if not words:
                    bare.append(f"{path.stem}.{node.name}")
    assert [] == bare


HEAVY = (
    "numpy",
    "scipy",
    "sqlalchemy",
    "fastapi",
    "starlette",
    "uvicorn",
    "jinja2",
    "reportlab",
    "zxingcpp",
    "pydantic",
    "pyproj",
    "PIL",
    "python_calamine",
    "xlsxwriter",
    "astral",
    "rapidfuzz",
    "icalendar",
)


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import json, sys\n"
        "from keepfast.cli import build\n"
        "try:\n    build()(['--help'])\n"
        "except SystemExit:\n    pass\n"
        f"print(json.dumps([name for name in {HEAVY!r} if name in sys.modules]))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert [] == json.loads(done.stdout.splitlines()[-1])
