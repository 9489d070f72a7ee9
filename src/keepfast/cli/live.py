"""The live screens: start the server for a book."""

from __future__ import annotations

from pathlib import Path

import typer

from keepfast.words import _


def register(app: typer.Typer) -> None:
    """Add the commands of this file."""

    @app.command(
        "live", help=_("Start the screens for the table: Hands, Pen and Table, for phones on the camp's hotspot.")
    )
    def live(
        book: Path = typer.Argument(..., help=_("The book; a new one is made where there is none.")),
        plan: Path | None = typer.Option(
            None, "--plan", help=_("The evening's plan.json; without it the newest evening of the book is taken up.")
        ),
        port: int = typer.Option(8765, min=0, max=65535, help=_("Port to listen on; 0 takes any free one.")),
        host: str = typer.Option("0.0.0.0", help=_("Address to listen on; 127.0.0.1 for this machine alone.")),
        name: list[str] = typer.Option([], "--name", help=_("Another name that devices know this machine by.")),
        language: str = typer.Option("en", help=_("Language of a device until it chooses: en or es.")),
        pen: Path | None = typer.Option(None, "--pen", help=_("A file of one's own that says what the pen asks.")),
        no_check: bool = typer.Option(False, "--no-check", help=_("The tags carry no check character.")),
        stick: list[Path] = typer.Option([], "--stick", help=_("A folder the book may be copied to in one action.")),
        who: str = typer.Option("", help=_("Who starts it; stands by what is laid out.")),
    ) -> None:
        from keepfast.cli.saying import say, wrong
        from keepfast.desk.books import new_book, open_book
        from keepfast.desk.table_entries import read_pen
        from keepfast.desk.table_live import LiveTable
        from keepfast.desk.table_plan import plan_from_file
        from keepfast.desk.table_sticks import Sticks
        from keepfast.desk.table_symbols import address_blocks
        from keepfast.live import server
        from keepfast.words import languages, use_language

        if language not in languages():
            wrong("--language", _("there is no catalogue for it"), ", ".join(languages()), language)
        for folder in stick:
            if not folder.is_dir():
                wrong("--stick", _("there is no such folder"), _("Make it first, or put the stick in."), str(folder))
        use_language(language)
        planned = plan_from_file(plan) if plan is not None else None
        rules = read_pen(pen if pen is not None else "pen")
        try:
            listening = server.listening(host, port)
        except OSError as problem:
            reason = _("this address cannot be listened on: {why}").format(why=problem.strerror)
            wrong("--port", reason, _("Choose another with --port, or stop what uses it."), f"{host}:{port}")
        with listening:
            if not book.exists():
                new_book(book)
                say(_("A new book was made: {book}").format(book=book))
            with open_book(book, who=who) as opened:
                if opened.read_only:
                    wrong(
                        "BOOK",
                        _("the book can only be read here"),
                        _("Copy it to this machine's own drive."),
                        str(book),
                    )
                table = LiveTable(opened, planned, rules, checked=not no_check)
                doors = server.doors_beside(opened.path)
                real_port = int(listening.getsockname()[1])
                addresses = server.addresses_of(host, real_port)
                say(address_blocks(addresses[0]))
                for address in addresses:
                    say(_("Address: {address}").format(address=address))
                say(_("On this machine: http://127.0.0.1:{port}").format(port=real_port))
                say(_("Code: {code}").format(code=f"{doors.code[:3]} {doors.code[3:]}"))
                say(
                    _(
                        "Everything goes unscrambled over the hotspot: its password is the real lock. "
                        "Stop with Ctrl+C; nothing is lost."
                    )
                )
                sticks = Sticks(opened, {folder.name or str(folder): folder for folder in stick})
                app_ = server.build(table, doors, real_port, named=name, host=host, language=language, sticks=sticks)
                server.run(app_, listening)
