"""The words that people read pass through here, so that another language can replace them.

Wrap every such text in ``_`` (or ``ngettext`` for a count). Texts that live in rules files go through ``_`` when
they are shown. Catalogues lie in ``locale/<language>/LC_MESSAGES/keepfast.mo``.
"""

from __future__ import annotations

import gettext as _gettext
from contextvars import ContextVar
from functools import cache
from pathlib import Path

LOCALE_FOLDER = Path(__file__).parent / "locale"
_language: ContextVar[str] = ContextVar("language", default="en")


@cache
def _catalogue(language: str) -> _gettext.NullTranslations:
    return _gettext.translation("keepfast", LOCALE_FOLDER, [language], fallback=True)


def languages() -> tuple[str, ...]:
    """Languages that have a catalogue, English first."""
    found = sorted(p.parent.parent.name for p in LOCALE_FOLDER.glob("*/LC_MESSAGES/keepfast.mo"))
    return ("en", *(name for name in found if name != "en"))


def use_language(language: str) -> None:
    """Speak this language from here on, in this thread or task.

    Raises
    ------
    ValueError
        If there is no catalogue for it.
    """
    if language not in languages():
        raise ValueError(f"language must be one of {', '.join(languages())}; {language!r} was given")
    _language.set(language)


def current_language() -> str:
    """The language now spoken."""
    return _language.get()


@cache
def _sources() -> dict[str, str]:
    """Every translation of every catalogue, with the text it was made of."""
    found: dict[str, str] = {}
    for language in languages()[1:]:
        told: dict[object, str] = getattr(_catalogue(language), "_catalog", {})
        found.update({text: source for source, text in told.items() if isinstance(source, str) and source})
    return found


def said_again(text: str) -> str:
    """A text that was written down in any of the languages, in the one now spoken; itself where none has it."""
    return _(_sources().get(text, text))


def _(message: str) -> str:
    """The message in the language now spoken."""
    return _catalogue(_language.get()).gettext(message) if message else ""


def ngettext(one: str, many: str, count: int) -> str:
    """The message for this count in the language now spoken."""
    return _catalogue(_language.get()).ngettext(one, many, count)
