"""Letters and words for the four directions, by language: what one of them may mean, and where languages disagree."""

from __future__ import annotations

import re
from functools import cache

from keepfast.science.place_datum import PlaceError
from keepfast.science.tables import load

DIRECTIONS = ("north", "south", "east", "west")
_INTERNATIONAL = {"N": "north", "S": "south", "E": "east", "W": "west"}


def languages() -> tuple[str, ...]:
    """Languages whose letters are known."""
    return tuple(str(row["language"]) for row in load("common-practice-direction-words").rows)


def checked_language(language: str | None) -> str | None:
    """
    The language without its region.

    Raises
    ------
    ValueError
        If its letters are not known.
    """
    if language is None:
        return None
    short = re.split(r"[-_]", language.strip().lower())[0]
    if short not in languages():
        raise ValueError(f"language must be one of {', '.join(languages())}; {language!r} was given")
    return short


@cache
def meanings() -> dict[str, dict[str, str]]:
    """For each word, folded to lower case, its direction in each language that has it."""
    answer: dict[str, dict[str, str]] = {}
    for row in load("common-practice-direction-words").rows:
        for direction in DIRECTIONS:
            for word in row[direction]:
                answer.setdefault(fold(word), {})[str(row["language"])] = direction
    return answer


def fold(word: str) -> str:
    """A word as it is compared: lower case, without spaces and dots."""
    return re.sub(r"[\s.]", "", word.casefold())


def vocabularies(language: str | None) -> tuple[dict[str, str], ...]:
    """
    The ways to read direction words: the international letters, and the named language's own.

    Without a language, words count only if every language that has them agrees, and single letters other than
    N, S, E and W do not count at all.
    """
    agreed = {
        word: next(iter(by.values())) for word, by in meanings().items() if len(word) > 1 and len(set(by.values())) == 1
    }
    letters = {fold(letter): direction for letter, direction in _INTERNATIONAL.items()}
    international = {**agreed, **letters}
    if language is None:
        return (international,)
    own = {word: by[language] for word, by in meanings().items() if language in by}
    return ({**agreed, **own}, international)


def disagreement(word: str) -> str:
    """What a word means in which languages, in one sentence; empty where it means nothing anywhere."""
    by = meanings().get(fold(word), {})
    groups: dict[str, list[str]] = {}
    for language, direction in by.items():
        groups.setdefault(direction, []).append(language)
    return "; ".join(f"{direction}: {', '.join(names)}" for direction, names in groups.items())


@cache
def word_pattern() -> str:
    """A pattern for every direction word of any language, the longest first; a dot may be followed by a space."""
    words = {word for row in load("common-practice-direction-words").rows for d in DIRECTIONS for word in row[d]}

    def loose(word: str) -> str:
        return re.escape(word).replace(r"\.", r"\.?\s?").replace(r"\ ", r"\s")

    return "|".join(loose(word) for word in sorted(words, key=lambda w: (-len(w), w)))


@cache
def label_pattern(axis: str) -> str:
    """A pattern for every word that means latitude or longitude."""
    words = {word for row in load("common-practice-direction-words").rows for word in row[axis]}
    return "|".join(re.escape(word).replace(r"\.", r"\.?") for word in sorted(words, key=lambda w: (-len(w), w)))


def hemisphere(text: str) -> str | None:
    """North or south, where a text says that in words."""
    bare = re.sub(r"\b(hemisphere|hemisferio|hémisphère|hemisfério|halbkugel)\b", " ", text, flags=re.IGNORECASE)
    words = vocabularies(None)[0]
    found = {words.get(fold(word)) for word in bare.split()}
    if len(found) == 1:
        side = found.pop()
        if side in ("north", "south"):
            return side
    return None


def direction(word: str, vocabulary: dict[str, str]) -> str:
    """
    The direction that a word means in a vocabulary.

    Raises
    ------
    ValueError
        If it means none there; the message tells what it means elsewhere.
    """
    found = vocabulary.get(fold(word))
    if found is None:
        raise PlaceError(
            "the letter or word {word!r} means different things in different languages ({meanings}): say the language",
            word=word,
            meanings=disagreement(word) or "none known here",
        )
    return found
