"""Writes docs/reference from the code (commands, tables, rules, columns of a list, keys of a camp file) and the index.

Run with ``.venv/bin/python docs/generate.py`` after a command, a table or a rule has changed; a test compares what is
there with what this would write.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "reference"
# The index follows the work, from the list to the shelf; what is not named here comes last.
ORDER_OF_WORK = (
    *("house", "write_a_list", "describe_the_camp", "plan", "papers", "tags", "race", "watch", "air", "cautions"),
    *("fluids", "bath_to_jar", "live", "book", "reading_in", "places"),
)
SOURCE = Path(__file__).parents[1] / "src" / "keepfast"
NOTE = "<!-- Written by docs/generate.py from the code. Change the code, not this page. -->\n"


def cell(text: object) -> str:
    """Text that is safe in one cell of a Markdown table."""
    return " ".join(str(text).split()).replace("|", "\\|").replace("<", "&lt;")


def table(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    """A Markdown table."""
    names = list(head)
    lines = ["| " + " | ".join(names) + " |", "| " + " | ".join("---" for _ in names) + " |"]
    lines += ["| " + " | ".join(cell(value) for value in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


# --- commands -----------------------------------------------------------------------------------------------------


def commands() -> list[tuple[str, Any]]:
    """Every command with its full name, groups first."""
    import typer.main

    from keepfast.cli import build

    found: list[tuple[str, Any]] = []

    def walk(name: str, command: Any) -> None:
        found.append((name, command))
        for inner, child in sorted(getattr(command, "commands", {}).items()):
            walk(f"{name} {inner}".strip(), child)

    walk("", typer.main.get_command(build()))
    return found


def options(command: Any) -> list[tuple[str, str, str]]:
    """Arguments and options of a command: how they are written, what they mean, what holds without them."""
    answer = []
    for parameter in command.params:
        is_option = parameter.param_type_name == "option"
        if is_option:
            written = ", ".join([*parameter.opts, *parameter.secondary_opts])
            if not parameter.is_flag and not getattr(parameter, "count", False):
                written += f" {value_name(parameter)}"
        else:
            written = value_name(parameter) + (" ..." if parameter.nargs == -1 else "")
        default = parameter.default
        shown = ""
        if parameter.required:
            shown = "needed"
        elif default not in (None, False, "", (), []) and not callable(default) and str(default) != "Sentinel.UNSET":
            shown = str(default)
        answer.append((f"`{written}`", getattr(parameter, "help", "") or "", shown))
    return answer


def value_name(parameter: Any) -> str:
    """The word that stands for the value."""
    if parameter.metavar:
        return str(parameter.metavar)
    if parameter.param_type_name == "argument":
        return str(parameter.name).upper()
    annotation = parameter.type_descriptor.annotation
    return {"str": "TEXT", "int": "N", "float": "NUMBER"}.get(getattr(annotation, "__name__", ""), "PATH")


def commands_page() -> str:
    """Every command, argument and option with its own help."""
    lines = [
        "# Commands\n",
        NOTE,
        "All are given to `./keepfast`, which prepares its own environment on first use. Exit codes: 0 done; 1"
        " a checker"
        " found something; 2 input that cannot be read, or wrong usage. With `--json` the answer is one JSON"
        " object on"
        " standard output and messages go to standard error. A command that fails writes nothing.\n",
        "Beside these, two words are handled before the program starts: `./keepfast test` sets everything up"
        " and passes"
        " the tests (`--long` runs the slow ones too), and `./keepfast bench` measures speed beside something"
        " outside the"
        " project.\n",
    ]
    for name, command in commands():
        if getattr(command, "commands", None) is not None and name:
            lines.append(f"## `{name}`\n\n{command.help or ''}\n")
            continue
        if not name:
            lines.append("## For all commands\n")
        else:
            lines.append(f"{'###' if ' ' in name else '##'} `{name}`\n\n{command.help or ''}\n")
        rows = options(command)
        if rows:
            lines.append(table(("argument or option", "meaning", "without it"), rows))
    return "\n".join(lines)


# --- tables and rules ---------------------------------------------------------------------------------------------


def tables_page() -> str:
    """Every table of published numbers: what it gives, on what conditions, from where, and how that is known."""
    from keepfast.science import tables

    rows = []
    for name in tables.names():
        one = tables.load(name)
        size = f"{len(one.rows)} rows" if one.rows else f"{len(one.values)} values"
        rows.append((f"`{name}`", one.title, size, one.source, one.known, one.conditions, one.note))
    return "\n".join(
        [
            "# Published numbers\n",
            NOTE,
            "Each file of `src/keepfast/science/tables/` holds the numbers of one source and is named for it."
            " *known* says"
            " how the project came by them: only what was read in the source itself is called read.\n",
            table(("file", "what", "size", "source", "known", "conditions", "note"), rows),
        ]
    )


def rules_page() -> str:
    """Every file of rules: its date, its sources, and what it decides."""
    from keepfast.rules import sources

    lines = [
        "# Rules\n",
        NOTE,
        "What people decided, as data in `src/keepfast/rules/`. Copy a file, change it, give it a new title and"
        " date, and"
        " pass it by its path where a command takes one.\n",
    ]
    for folder in sorted(path for path in sources.FOLDER.iterdir() if any(path.glob("*.toml"))):
        lines.append(f"## {folder.name}\n")
        rows = []
        for path in sorted(folder.glob("*.toml")):
            data = tomllib.loads(path.read_text(encoding="utf-8"))
            holds = ", ".join(
                key for key in data if key not in ("title", "date", "subject", "source", "known", "sources")
            )
            rows.append((f"`{path.stem}`", data.get("title", ""), data.get("date", ""), holds, cited(data)))
        lines.append(table(("file", "what", "date", "holds", "sources"), rows))
    return "\n".join(lines)


def cited(data: dict[str, Any]) -> str:
    """The sources a rules file names, each once, with how they are known."""
    found: dict[str, None] = {}
    if isinstance(data.get("source"), str):
        found[data["source"]] = None
    for entry in data.get("sources", {}).values():
        text = entry if isinstance(entry, str) else entry.get("text", "")
        known = "" if isinstance(entry, str) else entry.get("known", "")
        found[text if text == known or not known else f"{text} ({known})"] = None

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            source = value.get("source")
            if isinstance(source, str) and source not in data.get("sources", {}):
                found[source] = None
            for inner in value.values():
                walk(inner)
        elif isinstance(value, list):
            for inner in value:
                walk(inner)

    walk({key: value for key, value in data.items() if key not in ("sources", "source")})
    return "; ".join(found)


# --- inputs -------------------------------------------------------------------------------------------------------


def columns_page() -> str:
    """The columns of a list of animals."""
    from keepfast.exchange.cells import UNITS
    from keepfast.exchange.columns import COLUMNS, TEMPLATE, UNCLEAR

    rows = [
        (
            f"`{column.name}`",
            column.required,
            column.meaning,
            ", ".join(f"`{word}`" for word in column.words),
            column.example,
            ", ".join(sorted(column.headings)),
        )
        for column in TEMPLATE
    ]
    others = [
        (f"`{column.name}`", column.meaning, ", ".join(sorted(column.headings)))
        for column in COLUMNS
        if not column.in_template
    ]
    units = "; ".join(f"{kind}: {', '.join(names)}" for kind, names in UNITS.items() if names)
    return "\n".join(
        [
            "# Columns of a list of animals\n",
            NOTE,
            "`./keepfast template list.xlsx` writes an empty list. CSV and XLSX are read alike: with"
            " semicolons, tabs"
            " or commas, decimal points or decimal commas, in UTF-8, UTF-16, Windows-1252 or Latin-1. Headings"
            " are compared"
            " without case, blanks and accents; a unit in a heading or in a cell is converted"
            f" ({units}). A column that is not known is noted and left out.\n",
            table(("column", "needed", "meaning", "words", "example", "other headings"), rows),
            "## Lengths under their own names\n",
            table(("column", "meaning", "other headings"), others),
            "## Headings that are not taken for anything\n",
            table(("heading", "why"), [(f"`{name}`", text) for name, text in UNCLEAR.items()]),
        ]
    )


def camp_page() -> str:
    """The keys of a camp file."""
    from keepfast import demo
    from keepfast.exchange.camp import KEYS
    from keepfast.plan.camp import Camp

    plain = Camp().as_dict()
    defaults = {
        "place.name": "",
        "place.latitude": "",
        "place.longitude": "",
        "lids": "false",
        "air_speed_m_s": "the worst case for the shelter",
        "volume_m3": "the shelter's usual one",
        "air_changes_per_h": "the worst case for the shelter",
        "opening_m2": "the worst case for the shelter",
        "place.elevation_m": "the sea",
        "stocks.formalin_percent": plain["formalin_stock_percent"],
        "stocks.formalin_ml": plain["formalin_stock_ml"],
        "stocks.working_formalin_percent": plain["working_formalin_percent"],
        "stocks.working_ml": plain["working_solution_ml"],
        "people": "two, practised: one handling, one recording",
        "trays": "A3, 420 by 297 mm, as many as it takes",
    }
    rows = []
    for key in KEYS:
        span = "" if key.low == -float("inf") else f"{key.low:,.6g} to {key.high:,.0f}"
        words = ", ".join(f"`{word}`" for word in key.words)
        default = defaults.get(key.name, plain.get(key.name, ""))
        rows.append((f"`{key.name}`", key.meaning, words or span, "" if default is None else default))
    return "\n".join(
        [
            "# Keys of a camp file\n",
            NOTE,
            "A camp file (TOML) says what does not change from animal to animal; pass it with `--camp`. Every"
            " key may be left"
            " out: the plan then takes the value of the last column and says so.\n",
            table(("key", "meaning", "values", "without it"), rows),
            "## The demo camp\n",
            "```toml\n" + (demo.FOLDER / "camp.toml").read_text(encoding="utf-8") + "```\n",
        ]
    )


def entries_page() -> str:
    """The kinds of entry a book holds, and the checks it is put through."""
    from keepfast.book.checks import CHECKS
    from keepfast.book.kinds import KINDS
    from keepfast.book.quality import PUBLISHED

    lines = [
        "# What a book holds\n",
        NOTE,
        "An entry has an `id` (a UUID in lower case, made where it is written), `device`, `who`, `at` (a moment with an"
        " offset), `order_ms`, `kind` and `content`. A thing takes the id of the entry that made it; a later entry of"
        " that kind that names it adds to it. Every kind may also have `remarks` and `verbatim`."
        " `./keepfast book kinds` prints the same.\n",
    ]
    for kind in KINDS.values():
        rows = [
            (
                f"`{name}`" + (" (needed)" if field.needed or name == kind.label else ""),
                field.sort,
                field.words,
                ", ".join(f"`{choice}`" for choice in field.choices if choice),
            )
            for name, field in kind.fields.items()
            if name not in ("remarks", "verbatim")
        ]
        lines += [f"## {kind.name}\n", f"{kind.words}\n", table(("field", "sort", "meaning", "one of"), rows)]
    lines += [
        "## Checks\n",
        "The trade's own: " + ", ".join(f"`{name}`" for name in CHECKS) + "; among animals: `number_is_one`,"
        " `catalogue_number_is_one`, `tissue_number_is_one`, `check_character_fits`, `numbers_in_order`,"
        " `gaps_explained`, `blocks_apart`, `permit_not_overdrawn`, `travel_can_be`, `clock_goes_forward`.\n",
        table(("published test", "identifier"), [(f"`{name}`", f"`{one}`") for name, one in PUBLISHED.items()]),
    ]
    return "\n".join(lines)


def plan_page() -> str:
    """The fields of plan.json, from its schema."""
    schema = json.loads((SOURCE / "plan" / "plan.schema.json").read_text(encoding="utf-8"))

    def kind(field: dict[str, Any]) -> str:
        if "$ref" in field:
            name = field["$ref"].rsplit("/", 1)[-1]
            return f"[{name}](#{name})"
        if "enum" in field:
            return ", ".join(f"`{word}`" for word in field["enum"])
        if "anyOf" in field:
            return " or ".join(kind(one) for one in field["anyOf"])
        types = field.get("type", "anything")
        words = " or ".join(types) if isinstance(types, list) else str(types)
        return f"list of {kind(field['items'])}" if "items" in field and "array" in words else words

    def fields(part: dict[str, Any]) -> str:
        needed = set(part.get("required", ()))
        return table(
            ("field", "holds", "always there", "meaning"),
            (
                (f"`{name}`", kind(field), "yes" if name in needed else "", field.get("description", ""))
                for name, field in part.get("properties", {}).items()
            ),
        )

    lines = [
        "# What stands in plan.json\n",
        NOTE,
        f"{schema['description']}\n",
        "The schema itself (JSON Schema 2020-12) is `src/keepfast/plan/plan.schema.json`.\n",
        fields(schema),
    ]
    for name, part in schema["$defs"].items():
        lines += [f"## {name}\n", fields(part)]
    return "\n".join(lines)


def index_page() -> str:
    """All pages, each under its own heading."""
    docs = FOLDER.parent
    turn = {name: number for number, name in enumerate(ORDER_OF_WORK)}

    def listed(folder: str) -> str:
        lines = []
        for path in sorted((docs / folder).glob("*.md"), key=lambda path: (turn.get(path.stem, len(turn)), path.stem)):
            title = path.read_text(encoding="utf-8").splitlines()[0].lstrip("# ").strip()
            lines.append(f"- [{title}]({folder}/{path.name})")
        return "\n".join(lines) + "\n"

    return "\n".join(
        [
            "# Documentation\n",
            NOTE,
            "## Begin\n",
            "- [A first evening](first_evening.md), step by step, with an invented trip\n",
            "## How to do one thing\n",
            listed("how_to"),
            "## Reference, written from the code\n",
            "- [Commands](reference/commands.md)",
            "- [Columns of a list of animals](reference/columns.md)",
            "- [Keys of a camp file](reference/camp.md)",
            "- [What stands in plan.json](reference/plan_json.md)",
            "- [What a book holds](reference/entries.md)",
            "- [Rules](reference/rules.md)",
            "- [Published numbers](reference/tables.md)\n",
            "## Why it works so\n",
            listed("why"),
        ]
    )


def pages() -> dict[str, str]:
    """Every page that is written from the code, by its place below the folder of the reference."""
    return {
        "../index.md": index_page(),
        "commands.md": commands_page(),
        "tables.md": tables_page(),
        "rules.md": rules_page(),
        "columns.md": columns_page(),
        "camp.md": camp_page(),
        "plan_json.md": plan_page(),
        "entries.md": entries_page(),
    }


def main() -> int:
    """Write the pages."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, text in pages().items():
        (FOLDER / name).write_text(text.rstrip() + "\n", encoding="utf-8", newline="\n")
        print((FOLDER / name).resolve().relative_to(FOLDER.parent.parent))
    return 0


if __name__ == "__main__":
    sys.exit(main())
