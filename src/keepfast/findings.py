"""A person's mistake is a finding: where, what was read, what is wrong, what to do. Never an exception of its own.

Findings are collected and shown together; ``FindingsError`` carries them past a function that cannot go on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any, Literal

Weight = Literal["error", "doubt", "note"]


@dataclass(frozen=True)
class Finding:
    """One thing noticed. ``error`` stops the work, ``doubt`` goes into the answer, ``note`` only informs."""

    what: str
    remedy: str = ""
    weight: Weight = "error"
    file: str = ""
    row: int | None = None
    field: str = ""
    read: str | None = None
    subject: str = ""  # a field number or another name that people know

    def sentence(self) -> str:
        """One line: file, row, field, what was read, what is wrong, what to do."""
        place = ", ".join(
            part
            for part in (
                self.file,
                f"row {self.row}" if self.row is not None else "",
                self.field,
                self.subject,
            )
            if part
        )
        read = f" (read: {self.read!r})" if self.read is not None else ""
        head = f"{place}: " if place else ""
        tail = f" {self.remedy}" if self.remedy else ""
        return f"{head}{self.what}{read}.{tail}" if not self.what.endswith(".") else f"{head}{self.what}{read}{tail}"

    def as_dict(self) -> dict[str, Any]:
        """For JSON: only what is known."""
        return {key: value for key, value in asdict(self).items() if value not in (None, "")}


class FindingsError(Exception):
    """The input cannot be used; ``findings`` says all that is wrong with it at once."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(f.sentence() for f in self.findings))
