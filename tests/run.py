"""Runs the tests: all the quick ones, and with ``--long`` the slow ones too."""

from __future__ import annotations

import sys

import pytest


def main(arguments: list[str]) -> int:
    """Hand the arguments to pytest, on both cores unless told otherwise."""
    long = "--long" in arguments
    rest = [a for a in arguments if a != "--long"]
    chosen = ["--hypothesis-profile=long"] if long else ["-m", "not long"]
    workers = [] if any(a.startswith("-n") for a in rest) else ["-n", "auto", "--dist", "worksteal"]
    return int(pytest.main([*chosen, *workers, *rest]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
