"""The wheel holds everything the program reads, and works where only the wheel and its libraries are."""

from __future__ import annotations

import importlib
import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build with the back end alone: no index is asked, nothing is downloaded."""
    folder = tmp_path_factory.mktemp("wheel")
    build = importlib.import_module("hatchling.build")
    before = Path.cwd()
    os.chdir(ROOT)
    try:
        return folder / build.build_wheel(str(folder))
    finally:
        os.chdir(before)


def test_the_wheel_holds_every_file_of_the_package(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as package:
        held = set(package.namelist())
    kept = {
        str(path.relative_to(SOURCE))
        for path in (SOURCE / "keepfast").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts and path.suffix != ".pyc"
    }
    assert set() == kept - held
    assert any(name.endswith(".dist-info/licenses/LICENSE") for name in held)
    assert any("OFL.txt" in name and ".dist-info/" in name for name in held)


def test_the_wheel_is_pure_python_for_every_system(wheel: Path) -> None:
    assert wheel.name.endswith("-py3-none-any.whl")


@pytest.mark.long
def test_the_wheel_plans_the_demo_from_a_bare_environment(wheel: Path, tmp_path: Path) -> None:
    home = tmp_path / "venv"
    subprocess.run([sys.executable, "-m", "venv", str(home)], check=True)
    python = home / ("Scripts" if os.name == "nt" else "bin") / "python"
    subprocess.run(
        [python, "-m", "pip", "install", "-q", "--disable-pip-version-check", "--no-index", "--no-deps", str(wheel)],
        check=True,
    )
    # Libraries come from the environment of the tests; keepfast itself is not on that path, only in the wheel.
    site = next((home / "lib").glob("python*/site-packages")) if os.name != "nt" else home / "Lib" / "site-packages"
    (site / "libraries.pth").write_text(sysconfig.get_path("purelib") + "\n")
    where = subprocess.run(
        [python, "-c", "import keepfast; print(keepfast.__file__)"], capture_output=True, text=True, cwd=tmp_path
    )
    assert str(site) in where.stdout, where.stdout + where.stderr
    script = python.parent / "keepfast"
    done = subprocess.run([script, "demo", "--out", "here"], capture_output=True, text=True, cwd=tmp_path)
    assert 0 == done.returncode, done.stderr
    assert list((tmp_path / "here").rglob("plan.json"))
