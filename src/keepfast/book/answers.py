"""What a check answers: passed; failed, with why and what to do; or not tested, with what is missing."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

from keepfast.words import _

Outcome = Literal["passed", "failed", "not tested"]


@dataclass(frozen=True)
class Answer:
    """One answer of one check about one thing.

    ``check`` is its name (a published test's label, or a word of ours); ``why`` says what is wrong or what is
    missing; ``seen`` what it had read, by which a finding that somebody let stand is known again.
    """

    check: str
    outcome: Outcome
    why: str = ""
    remedy: str = ""
    seen: str = ""
    kind: str = ""
    thing: str = ""
    subject: str = ""  # what people call the thing
    accepted: str = ""  # the reason for which somebody lets it stand

    @property
    def open(self) -> bool:
        """Whether somebody has to look at it."""
        return self.outcome == "failed" and not self.accepted

    def as_dict(self) -> dict[str, Any]:
        """For JSON: only what is known."""
        return {key: value for key, value in asdict(self).items() if value != ""}

    def sentence(self) -> str:
        """One line for people."""
        if self.outcome == "passed":
            return _("passed")
        if self.outcome == "not tested":
            return _("not tested: {why}").format(why=self.why)
        line = f"{self.why}. {self.remedy}".strip()
        return _("{line} (let stand: {reason})").format(line=line, reason=self.accepted) if self.accepted else line


def passed(check: str, seen: str = "") -> Answer:
    """Nothing is wrong."""
    return Answer(check, "passed", seen=seen)


def failed(check: str, why: str, remedy: str, seen: object = "") -> Answer:
    """Something is wrong: why, and what to do."""
    return Answer(check, "failed", why, remedy, str(seen))


def not_tested(check: str, missing: str) -> Answer:
    """It cannot be told, because something is missing."""
    return Answer(check, "not tested", missing)
