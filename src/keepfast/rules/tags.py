"""What tags and labels are made of and how they last: findings with their sources, least sizes, habits.

Start with ``load``; ``tags/field.toml`` ships. How each form is tagged stands in its protocol.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources

_HEAD = ("title", "date", "subject", "default", "test", "source", "known", "type", "symbol", "media", "habits")
_TYPE = ("tag_number_least_pt", "jar_body_least_pt", "floor_pt", "note", "source", "known")
_SYMBOL = ("least_module_mm", "phone_module_mm", "note", "source", "known")
_MEDIUM = ("medium", "finding", "holds", "source", "known")
_HABIT = ("text", "source", "known")


@dataclass(frozen=True)
class Medium:
    """One finding about one way of printing: whether it speaks for it, and who found it."""

    medium: str
    finding: str
    holds: bool
    source: str
    known: str


@dataclass(frozen=True)
class Habit:
    """How tags are handled."""

    text: str
    source: str
    known: str


@dataclass(frozen=True)
class TagRules:
    """All of it, with the identity that an output prints."""

    default: str
    test: str
    media: tuple[Medium, ...]
    habits: tuple[Habit, ...]
    tag_number_least_pt: float
    jar_body_least_pt: float
    floor_pt: float
    least_module_mm: float
    phone_module_mm: float
    symbol_note: str
    identity: dict[str, str]

    def disputed(self) -> tuple[str, ...]:
        """Media for which one source speaks for and another against."""
        both = {m.medium for m in self.media if m.holds} & {m.medium for m in self.media if not m.holds}
        return tuple(dict.fromkeys(m.medium for m in self.media if m.medium in both))


def load(name_or_path: str | Path = "field") -> TagRules:
    """Read the rules that ship, or a file of one's own.

    Raises
    ------
    FindingsError
        If the file cannot be used; the findings say all that is wrong with it at once.
    """
    file = sources.read("tags", name_or_path)
    label = f"{file.name}.toml"
    found = sources.unknown_keys(label, "", file.data, _HEAD)
    for key in ("default", "test"):
        if not isinstance(file.data.get(key), str):
            found.append(Finding(f"{key} is missing", f'Add a line: {key} = "..."', file=label, field=key))
    sizes: dict[str, float] = {}
    for table, keys in (("type", _TYPE), ("symbol", _SYMBOL)):
        raw = file.data.get(table)
        if not isinstance(raw, dict):
            found.append(Finding(f"[{table}] is missing", "Copy it from field.toml.", file=label, field=table))
            continue
        found += sources.unknown_keys(label, table, raw, keys)
        for key in keys[: keys.index("note")]:
            value = raw.get(key)
            if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= 72:
                found.append(
                    Finding(
                        "this must be a number above 0 and up to 72",
                        "Mend it.",
                        file=label,
                        field=f"{table}.{key}",
                        read=None if value is None else str(value),
                    )
                )
            else:
                sizes[key] = float(value)
    media = _rows(file.data.get("media"), _MEDIUM, label, "media", found)
    habits = _rows(file.data.get("habits"), _HABIT, label, "habits", found)
    if found:
        raise FindingsError(found)
    return TagRules(
        default=file.data["default"],
        test=file.data["test"],
        media=tuple(Medium(**row) for row in media),
        habits=tuple(Habit(**row) for row in habits),
        symbol_note=str(file.data["symbol"].get("note", "")),
        identity=file.identity,
        **sizes,
    )


def _rows(raw: Any, keys: tuple[str, ...], label: str, where: str, found: list[Finding]) -> list[dict[str, Any]]:
    if not isinstance(raw, list) or not raw:
        found.append(Finding(f"[[{where}]] is missing", "Copy it from field.toml.", file=label, field=where))
        return []
    good = []
    for i, row in enumerate(raw, start=1):
        place = f"{where} {i}"
        if not isinstance(row, dict):
            found.append(Finding("this must be a table", f"Write [[{where}]].", file=label, field=place))
            continue
        found += sources.unknown_keys(label, place, row, keys)
        wrong = [k for k in keys if not isinstance(row.get(k), bool if k == "holds" else str)]
        for key in wrong:
            found.append(Finding(f"{key} is missing", "Add it.", file=label, field=f"{place}.{key}"))
        if not wrong:
            good.append({k: row[k] for k in keys})
    return good
