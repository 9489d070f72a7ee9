"""Protocols: for each body form, what the trade does, as data that a museum copies, edits and passes on.

One TOML file per form; ``takes = ["common"]`` brings in rules that several forms share, and a rule of the same key in
the form's own file replaces the shared one. ``load`` reads a shipped set, a folder (its files replace those of the
same form), or a single file (which replaces its form). The folder ``protocols/`` shows the whole language in use.
"""

from __future__ import annotations

from pathlib import Path

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.rules.protocol import Protocol, ProtocolSet
from keepfast.rules.protocol_reader import FOLDER, SUBJECT, read

# What a museum may keep in the folder of its protocols; whoever plans an evening reads them.
BESIDE = ("evening", "cautions")

__all__ = ["BESIDE", "FOLDER", "SUBJECT", "Protocol", "ProtocolSet", "load", "shipped_forms"]


def shipped_forms() -> tuple[str, ...]:
    """Forms that have a protocol of their own here."""
    return tuple(name for name in sources.shipped(SUBJECT) if name != "common")


def load(name_or_path: str | Path | None = None) -> ProtocolSet:
    """The shipped set, with what a museum's own file or folder replaces in it.

    Raises
    ------
    FindingsError
        With everything that is wrong in the files, each with file, key and remedy.
    """
    own: dict[str, Path] = {}
    commons = FOLDER / "common.toml"
    name = "shipped"
    found: list[Finding] = []
    if name_or_path is not None and str(name_or_path) != "shipped":
        path = Path(name_or_path)
        if not path.exists():
            raise FindingsError(
                [
                    Finding(
                        "there is no such protocol",
                        "Give a protocol file, a folder of them, or nothing for the one that ships.",
                        file=str(path),
                    )
                ]
            )
        there = sources.by_subject(path)
        files = [file for subject in there if subject not in BESIDE for file in there[subject]]
        if not there:
            raise FindingsError(
                [Finding("no protocol file (.toml) is in this folder", "Copy one there.", file=str(path))]
            )
        name = path.name if files else name
        for file in files:
            if file.name == "common.toml":
                commons = file
                continue
            try:
                form = _form_of(file)
            except FindingsError as problem:
                found.extend(problem.findings)
                continue
            if form in own:
                found.append(
                    Finding(
                        f"{own[form].name} is of this form already",
                        "Keep one of the two in this folder.",
                        file=str(file),
                        field="form",
                        read=form,
                    )
                )
            own[form] = file
    by_form: dict[str, Protocol] = {}
    for form in shipped_forms():
        path = own.pop(form, FOLDER / f"{form}.toml")
        try:
            by_form[form] = read(path, commons)
        except FindingsError as problem:
            found.extend(problem.findings)
    for form, path in own.items():
        found.append(
            Finding(
                "no such form",
                f"form is one of: {', '.join(shipped_forms())}.",
                file=str(path),
                field="form",
                read=form,
            )
        )
    if found:
        raise FindingsError(dict.fromkeys(found))
    return ProtocolSet(name, by_form)


def _form_of(path: Path) -> str:
    return str(sources.read(SUBJECT, path).data.get("form", ""))
