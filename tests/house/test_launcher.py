"""``./keepfast`` is one small POSIX script that prepares itself and asks nothing."""

from __future__ import annotations

import os
import shutil
import stat
import subprocess
from pathlib import Path

import pytest

from keepfast import __version__

ROOT = Path(__file__).parents[2]
LAUNCHER = ROOT / "keepfast"


def test_the_launcher_is_small_executable_and_plain_shell() -> None:
    text = LAUNCHER.read_text(encoding="utf-8")
    assert text.startswith("#!/bin/sh\n")
    assert len(text.splitlines()) < 120
    assert LAUNCHER.stat().st_mode & stat.S_IXUSR
    for bashism in ("[[", "function ", "<<<", "${BASH", "pipefail"):
        assert bashism not in text
    shell = shutil.which("dash") or "sh"
    assert 0 == subprocess.run([shell, "-n", str(LAUNCHER)]).returncode


def test_the_continuous_check_runs_the_same_command() -> None:
    assert "exec ./keepfast test" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_it_hands_its_arguments_on_from_any_folder(tmp_path: Path) -> None:
    if not (ROOT / ".venv" / "prepared-for").exists():
        pytest.skip("the environment of this folder was not made by the launcher")
    done = subprocess.run([str(LAUNCHER), "--version"], capture_output=True, text=True, cwd=tmp_path)
    assert f"keepfast {__version__}" == done.stdout.strip()


def bare_copy(folder: Path, programs: dict[str, str]) -> dict[str, str]:
    """A copy of the launcher beside a PATH that holds the named programs and little else."""
    shutil.copy(LAUNCHER, folder / "keepfast")
    for name in ("requirements.lock", "requirements-test.lock"):
        (folder / name).write_text("")
    tools = folder / "tools"
    tools.mkdir()
    for name in ("dirname", "cat", "cmp", "cp", "rm"):
        os.symlink(shutil.which(name) or name, tools / name)
    for name, body in programs.items():
        (tools / name).write_text(f"#!/bin/sh\n{body}\n")
        (tools / name).chmod(0o755)
    return {"PATH": str(tools)}


def test_a_missing_system_package_is_named_in_one_sentence_when_it_cannot_be_installed(tmp_path: Path) -> None:
    environment = bare_copy(tmp_path, {"id": "echo 1000"})
    done = subprocess.run(
        ["/bin/sh", str(tmp_path / "keepfast"), "--help"], capture_output=True, text=True, env=environment
    )
    assert 2 == done.returncode
    assert "python3" in done.stderr
    assert 1 == len([line for line in done.stderr.splitlines() if "missing" in line])
    assert "" == done.stdout


def test_a_missing_system_package_is_installed_by_whoever_may(tmp_path: Path) -> None:
    """As root it calls the system's installer, and goes on only if that brought what was missing."""
    environment = bare_copy(tmp_path, {"id": "echo 0", "apt-get": f'echo "$@" >> {tmp_path}/asked'})
    subprocess.run(["/bin/sh", str(tmp_path / "keepfast"), "--help"], capture_output=True, env=environment, timeout=120)
    assert "install -y -qq --no-install-recommends python3" in (tmp_path / "asked").read_text()


def test_without_a_network_the_first_use_says_what_it_needs(tmp_path: Path) -> None:
    """Whatever the installer prints, the last line is a sentence, and nothing counts as prepared."""
    python = f"""case "$*" in
  *"-m venv"*) mkdir -p {tmp_path}/.venv/bin && cp "$0" {tmp_path}/.venv/bin/python ;;
  *"-m pip"*) echo "no route to host" >&2; exit 1 ;;
esac"""
    environment = bare_copy(tmp_path, {"python3.11": python})
    os.symlink(shutil.which("mkdir") or "mkdir", tmp_path / "tools" / "mkdir")
    done = subprocess.run(
        ["/bin/sh", str(tmp_path / "keepfast"), "demo"], capture_output=True, text=True, env=environment, timeout=120
    )
    assert 2 == done.returncode
    assert "the first use needs a network" in done.stderr.splitlines()[-1]
    assert not (tmp_path / ".venv" / "prepared-for").exists()
    assert "" == done.stdout
