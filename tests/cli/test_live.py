"""The command that starts the screens: what it says, what it refuses, and that it serves."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.live_table import ROOT, small_plan


def keepfast(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "keepfast", "live", *arguments], cwd=folder, capture_output=True, text=True, timeout=60
    )


def test_it_serves_says_where_and_its_code_and_ends_when_told(tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text(json.dumps(small_plan()), encoding="utf-8")
    arguments = ["river.keepfast", "--plan", "plan.json", "--port", "0", "--host", "127.0.0.1"]
    process = subprocess.Popen(
        [sys.executable, "-m", "keepfast", "live", *arguments],
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
    )
    try:
        assert process.stderr is not None
        told = ""
        while "Ctrl+C" not in told:
            line = process.stderr.readline()
            assert line, told
            told += line
        port = int(re.search(r"http://127\.0\.0\.1:(\d+)", told)[1])  # type: ignore[index]
        assert re.search(r"Code: \d{3} \d{3}\n", told)
        assert "password is the real lock" in told
        deadline = time.monotonic() + 20
        while True:
            try:
                connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
                connection.request("GET", "/hands")
                answer = connection.getresponse()
                break
            except OSError:
                assert time.monotonic() < deadline
                time.sleep(0.05)
        assert (303, "/pair") == (answer.status, answer.getheader("location"))
        assert 0o600 == (tmp_path / "river.keepfast").stat().st_mode & 0o777
        process.send_signal(signal.SIGINT)
        assert process.wait(20) in (0, 130, -signal.SIGINT)
        rest = process.stderr.read()
        assert "Traceback" not in rest, rest
    finally:
        process.kill()
        process.wait()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["b.keepfast", "--plan", "nothing.json"], "no such file"),
        (["b.keepfast", "--plan", "wrong.json"], "this is not a plan"),
        (["b.keepfast", "--language", "xx"], "no catalogue"),
        (["b.keepfast", "--stick", "nowhere"], "no such folder"),
        (["b.keepfast", "--pen", "nothing.toml"], "no such rules file"),
        (["wrong.json", "--port", "0"], ""),
        (["b.keepfast", "--host", "203.0.113.7"], "cannot be listened on"),
    ],
)
def test_what_cannot_be_used_is_told_and_nothing_is_made(tmp_path: Path, arguments: list[str], words: str) -> None:
    (tmp_path / "wrong.json").write_text('{"animals": 3}', encoding="utf-8")
    done = keepfast(*arguments, folder=tmp_path)
    assert 2 == done.returncode
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert ["wrong.json"] == sorted(p.name for p in tmp_path.iterdir())


def test_a_port_that_is_taken_is_told(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        done = keepfast("b.keepfast", "--host", "127.0.0.1", "--port", port, folder=tmp_path)
    assert 2 == done.returncode
    assert "cannot be listened on" in done.stderr
    assert not (tmp_path / "b.keepfast").exists()
