"""The commands: one file per group, heavy imports inside functions.

``GROUPS`` names the files in the order of the work; each has ``register(app)``. Start with ``saying.py`` for how
commands speak, fail and write.
"""

from __future__ import annotations

import gc
import importlib
import sys

import typer

# Starting makes a hundred thousand objects that all stay; looking for rubbish among them costs a twelfth of the start.
_OBJECTS_BEFORE_TIDYING = 200_000

GROUPS = (
    "planning",
    "papers",
    "race",
    "watch",
    "air",
    "cautions",
    "fluids",
    "steps",
    "book",
    "checking",
    "read_in",
    "live",
)


def build() -> typer.Typer:
    """The whole command line."""
    import keepfast
    from keepfast.words import _

    app = typer.Typer(
        name="keepfast",
        help=_("From the camp table to the shelf: fluid-preserved reptiles and amphibians, planned, recorded, kept."),
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        context_settings={"help_option_names": ["-h", "--help"]},
    )

    def show_version(asked: bool) -> None:
        if asked:
            typer.echo(f"keepfast {keepfast.__version__}")
            raise typer.Exit

    @app.callback()
    def common(
        version: bool = typer.Option(
            False, "--version", callback=show_version, is_eager=True, help=_("Print the version and stop.")
        ),
    ) -> None:
        pass

    for group in GROUPS:
        importlib.import_module(f"keepfast.cli.{group}").register(app)
    return app


def main() -> None:
    """Run the command line; a person's mistake ends in a message, never in a traceback."""
    gc.set_threshold(_OBJECTS_BEFORE_TIDYING, 20, 100)
    from keepfast.cli.saying import fail
    from keepfast.findings import FindingsError

    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            # A terminal without UTF-8 shows a replacement character instead of failing.
            reconfigure(errors="replace")
    try:
        build()(prog_name="keepfast")
    except FindingsError as problem:
        fail(problem.findings)
