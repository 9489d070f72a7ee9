"""Reading a rules file: the one loader under all of them.

Every rules file begins with ``title``, ``date`` (a TOML date: when it was decided) and ``subject``; every rule in it
that states a value carries ``source``. A file of one's own is passed by path; the ones that ship are named.
"""

from __future__ import annotations

import datetime
import hashlib
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError

FOLDER = Path(__file__).parent


@dataclass(frozen=True)
class RulesFile:
    """What was read, with the identity that an output prints."""

    name: str
    title: str
    date: datetime.date
    subject: str
    sha256: str
    data: dict[str, Any]

    @property
    def identity(self) -> dict[str, str]:
        """Name, title, date and hash, for outputs."""
        return {"name": self.name, "title": self.title, "date": self.date.isoformat(), "sha256": self.sha256}


def shipped(subject: str) -> tuple[str, ...]:
    """Names of the files that ship for a subject."""
    return tuple(sorted(p.stem for p in (FOLDER / subject).glob("*.toml")))


def read(subject: str, name_or_path: str | Path) -> RulesFile:
    """Read a shipped file by name, or one of one's own by path.

    Raises
    ------
    FindingsError
        If it is not there, is not TOML, or lacks its title or date; the finding says where and what to do.
    """
    inside = FOLDER / subject / f"{name_or_path}.toml"
    own = Path(name_or_path)
    path = inside if not own.suffix and inside.is_file() else own
    label = str(name_or_path)
    if not path.is_file():
        known = ", ".join(shipped(subject))
        raise FindingsError(
            [Finding("there is no such rules file", f"Give a path, or one of: {known}.", file=label, field=subject)]
        )
    raw = path.read_bytes()
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise FindingsError([Finding("the file is not UTF-8 text", "Save it as UTF-8.", file=label)]) from None
    except tomllib.TOMLDecodeError as problem:
        raise FindingsError(
            [Finding(f"the file is not TOML: {problem}", "Mend that line and try again.", file=label)]
        ) from None
    found = []
    if not isinstance(data.get("title"), str):
        found.append(Finding("a rules file needs a title", 'Add a line: title = "..."', file=label, field="title"))
    date = data.get("date")
    if not isinstance(date, datetime.date):
        found.append(
            Finding(
                "a rules file needs the date it was decided",
                "Add a line: date = 2026-03-01",
                file=label,
                field="date",
                read=None if date is None else str(date),
            )
        )
    if data.get("subject") != subject:
        found.append(
            Finding(
                f"this is not a file of {subject}",
                f'Its head should say: subject = "{subject}"',
                file=label,
                field="subject",
                read=None if data.get("subject") is None else str(data.get("subject")),
            )
        )
    if found:
        raise FindingsError(found)
    assert isinstance(date, datetime.date)
    return RulesFile(path.stem, data["title"], date, subject, hashlib.sha256(raw).hexdigest(), data)


def by_subject(path: Path) -> dict[str, list[Path]]:
    """The rules files of a folder, or one file, by the subject that each names, in the order of their names.

    A file that cannot be read or names none stands under ``""``: whoever reads it says what is wrong with it.
    """
    found: dict[str, list[Path]] = {}
    for file in sorted(path.glob("*.toml")) if path.is_dir() else [path]:
        try:
            subject = tomllib.loads(file.read_bytes().decode("utf-8-sig")).get("subject")
        except (OSError, ValueError):  # a fault of TOML or of UTF-8 is a ValueError
            subject = None
        found.setdefault(subject if isinstance(subject, str) else "", []).append(file)
    return found


def unknown_keys(label: str, where: str, given: Iterable[str], allowed: Iterable[str]) -> list[Finding]:
    """A finding for each key that means nothing here, so that a slip in a key does not pass in silence."""
    known = set(allowed)
    return [
        Finding(
            "this key means nothing here",
            f"Known here: {', '.join(sorted(known))}.",
            file=label,
            field=f"{where}.{key}" if where else key,
        )
        for key in given
        if key not in known
    ]
