"""Common faults as data: how one is seen, why it matters, what to do instead, and which picture shows it.

Start with ``load``; ``faults/field.toml`` ships.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources

NEEDS = ("", "injections", "pricks", "limbs", "tail")
_WORDS = ("key", "drawing", "name", "seen", "why", "instead", "source")


@dataclass(frozen=True)
class Fault:
    """One fault. ``forms`` empty means every form."""

    key: str
    drawing: str
    name: str
    seen: str
    why: str
    instead: str
    source: str
    needs: str = ""
    forms: tuple[str, ...] = ()


def load(name_or_path: str | Path = "field") -> tuple[Fault, ...]:
    """Read the faults that ship, or a file of one's own.

    Raises
    ------
    FindingsError
        If the file cannot be used; the findings say all that is wrong with it at once.
    """
    file = sources.read("faults", name_or_path)
    label = f"{file.name}.toml"
    found = sources.unknown_keys(label, "", file.data, ("title", "date", "subject", "faults"))
    answer: list[Fault] = []
    raw = file.data.get("faults")
    for i, row in enumerate(raw if isinstance(raw, list) else [], start=1):
        place = f"faults {i}"
        if not isinstance(row, dict):
            found.append(Finding("this must be a table", "Write [[faults]].", file=label, field=place))
            continue
        found += sources.unknown_keys(label, place, row, (*_WORDS, "needs", "forms"))
        for key in _WORDS:
            if not isinstance(row.get(key), str) or not row[key]:
                found.append(Finding(f"{key} is missing", "Add it.", file=label, field=f"{place}.{key}"))
        if row.get("needs", "") not in NEEDS:
            found.append(
                Finding(
                    f"needs must be one of {', '.join(NEEDS[1:])}, or left out",
                    "Mend it.",
                    file=label,
                    field=f"{place}.needs",
                    read=str(row.get("needs")),
                )
            )
        forms = row.get("forms", [])
        if not isinstance(forms, list) or not all(isinstance(form, str) for form in forms):
            found.append(
                Finding("forms must be a list of words", 'Write ["snake"].', file=label, field=f"{place}.forms")
            )
            continue
        if not found:
            words = {key: row[key] for key in _WORDS}
            answer.append(Fault(**words, needs=row.get("needs", ""), forms=tuple(forms)))
    if not answer and not found:
        found.append(Finding("the file holds no fault", "Add one under [[faults]].", file=label, field="faults"))
    if found:
        raise FindingsError(found)
    return tuple(answer)
