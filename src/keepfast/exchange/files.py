"""Reading with a hash, and writing all or nothing."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from keepfast import __version__
from keepfast.findings import Finding, FindingsError


def read_bytes(path: str | Path, limit_bytes: int = 200_000_000) -> tuple[bytes, str]:
    """A file's bytes and their SHA-256.

    Raises
    ------
    FindingsError
        If the file is missing, is a folder, cannot be read, or is larger than the limit.
    """
    file = Path(path)
    try:
        if file.is_dir():
            raise FindingsError([Finding("this is a folder, not a file", "Name the file in it.", file=str(path))])
        if file.stat().st_size > limit_bytes:
            raise FindingsError(
                [Finding(f"the file is larger than {limit_bytes // 1_000_000} MB", "Split it.", file=str(path))]
            )
        raw = file.read_bytes()
    except FileNotFoundError:
        raise FindingsError([Finding("there is no such file", "Check its name and folder.", file=str(path))]) from None
    except OSError as problem:
        raise FindingsError(
            [Finding(f"the file cannot be read: {problem.strerror}", "Check its permissions.", file=str(path))]
        ) from None
    return raw, hashlib.sha256(raw).hexdigest()


def write_whole(folder: str | Path, files: Mapping[str, bytes]) -> None:
    """Write all files into the folder, or none: they are made beside it first and moved only when all are on disk.

    Raises
    ------
    FindingsError
        If the folder cannot be made or written.
    """
    target = Path(folder)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.exists() and not target.is_dir():
            raise FindingsError(
                [Finding("a file of this name is in the way", "Choose another folder.", file=str(folder))]
            )
        staging = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
    except OSError as problem:
        raise FindingsError(
            [Finding(f"the folder cannot be written: {problem.strerror}", "Choose another folder.", file=str(folder))]
        ) from None
    try:
        for name, content in files.items():
            path = staging / name
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("wb") as out:
                out.write(content)
                out.flush()
                os.fsync(out.fileno())
        if not target.exists():
            staging.chmod(0o755)
            staging.rename(target)
            return
        for name in files:
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            os.replace(staging / name, target / name)
    except OSError as problem:
        raise FindingsError(
            [
                Finding(
                    f"the files cannot be written: {problem.strerror}",
                    "Free some space or choose another folder.",
                    file=str(folder),
                )
            ]
        ) from None
    finally:
        shutil.rmtree(staging, ignore_errors=True)


def write_file(path: str | Path, content: bytes) -> None:
    """Write one file whole or not at all."""
    target = Path(path)
    if target.is_dir():
        raise FindingsError([Finding("this is a folder, not a file", "Name a file in it.", file=str(path))])
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
    except OSError as problem:
        raise FindingsError(
            [Finding(f"the file cannot be written: {problem.strerror}", "Choose another place.", file=str(path))]
        ) from None
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(name, 0o644)
        os.replace(name, target)
    except OSError as problem:
        Path(name).unlink(missing_ok=True)
        raise FindingsError(
            [Finding(f"the file cannot be written: {problem.strerror}", "Choose another place.", file=str(path))]
        ) from None


def origin(inputs: Mapping[str, str], seed: int | None = None) -> dict[str, object]:
    """What every output carries: version, hashes of what went in, and the seed where chance was drawn."""
    answer: dict[str, object] = {
        "keepfast": __version__,
        "inputs": [{"name": n, "sha256": h} for n, h in inputs.items()],
    }
    if seed is not None:
        answer["seed"] = seed
    return answer
