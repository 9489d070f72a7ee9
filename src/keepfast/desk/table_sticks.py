"""A copy of the book on a stick: which sticks are in the machine, and the copying, proved."""

from __future__ import annotations

import getpass
import os
from collections.abc import Mapping
from pathlib import Path

from keepfast.desk.books import Book
from keepfast.store.keeping import backup
from keepfast.words import _


class Sticks:
    """Places a copy may go to: sticks that are in the machine, and folders named when the screens were started.

    A screen can only choose among these by their key; no path comes from a screen.
    """

    def __init__(self, book: Book, folders: Mapping[str, Path] | None = None) -> None:
        self.book = book
        self.folders = dict(folders or {})

    def known(self) -> dict[str, Path]:
        """What may be chosen now, by key."""
        found = dict(self.folders)
        for place in _media():
            found.setdefault(place.name, place)
        return found

    def copy(self, key: str) -> str:
        """Copy the book to a place and prove the copy; a sentence that says what is there now.

        Raises
        ------
        KeyError
            If there is no such place any more.
        FindingsError
            If the copy cannot be written, or does not prove.
        """
        kept = backup(self.book.path, self.known()[key])
        return _("The copy {name} is on {place}, read back and proved. The stick may come out.").format(
            name=kept.path.name, place=key
        )


def _media() -> list[Path]:
    """Mounted sticks and cards, where the common systems put them."""
    try:
        user = getpass.getuser()
    except (OSError, KeyError):
        user = ""
    roots = [Path("/run/media") / user, Path("/media") / user, Path("/media"), Path("/Volumes")]
    found = []
    for root in roots:
        try:
            inside = sorted(root.iterdir())
        except OSError:
            continue
        found += [p for p in inside if p.is_dir() and os.path.ismount(p) and os.access(p, os.W_OK)]
    return found
