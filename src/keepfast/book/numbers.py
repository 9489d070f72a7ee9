"""Field numbers and their check characters.

A number may end in a check character by ISO/IEC 7064, MOD 37,36 (letters and figures): then every single slip of the
pen, and nearly every swap of neighbours, is caught when it is read again. A collector's own running series and boxes
of tags that are already stamped may go without; a slip cannot then be caught.

Start with ``check_character`` and ``is_valid``; ``series`` reads "ABC 1-60", ``slips`` judges the numbers of a list.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from keepfast.findings import Finding, FindingsError
from keepfast.words import _

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_VALUE = {character: value for value, character in enumerate(ALPHABET)}
_MODULUS = len(ALPHABET)
_TAKEN = frozenset(ALPHABET + ALPHABET.lower() + " -")
MOST_IN_A_SERIES = 10_000
_LEAST_FOR_A_SERIES = 3


def compact(text: str) -> str:
    """Letters upper-cased, spaces and hyphens dropped.

    Raises
    ------
    ValueError
        If anything but letters A to Z, figures, spaces and hyphens is in it, or nothing is left.
    """
    wrong = sorted({c for c in text if c not in _TAKEN})
    if wrong:
        shown = ", ".join(repr(c) for c in wrong)
        raise ValueError(f"text must hold only letters A to Z, figures, spaces and hyphens; {shown} in {text!r}")
    answer = text.upper().replace(" ", "").replace("-", "")
    if not answer:
        raise ValueError(f"text must hold at least one letter or figure; {text!r} was given")
    return answer


def _carried(characters: str) -> int:
    """The running product after these characters, by the standard's hybrid system with moduli 37 and 36."""
    product = _MODULUS
    for character in characters:
        total = (product + _VALUE[character]) % _MODULUS or _MODULUS
        product = total * 2 % (_MODULUS + 1)
    return product


def check_character(text: str) -> str:
    """
    The check character that belongs at the end of a number.

    Parameters
    ----------
    text : str
        The number without its check character. Letters are upper-cased, spaces and hyphens dropped.

    Returns
    -------
    str
        One of 0-9, A-Z.

    Raises
    ------
    ValueError
        If anything else is in the text, or nothing.

    Notes
    -----
    ISO/IEC 7064, MOD 37,36: P = 36; for each character P = ((P + value) mod 36, or 36 if that is 0) times 2 mod 37; the
    check character c completes (P + c) mod 36 = 1. Every single substitution is caught; of swaps of neighbours nearly
    all are. From memory of the standard, unverified; checked by its published property and one known example.

    Examples
    --------
    >>> check_character("A12425GABC1234002")
    'M'
    """
    return ALPHABET[(_MODULUS + 1 - _carried(compact(text))) % _MODULUS]


def is_valid(text: str) -> bool:
    """
    Whether a number ends in its right check character.

    Raises
    ------
    ValueError
        As :func:`check_character`.
    """
    characters = compact(text)
    if len(characters) < 2:
        return False
    return (_carried(characters[:-1]) + _VALUE[characters[-1]]) % _MODULUS == 1


@dataclass(frozen=True)
class FieldNumber:
    """A number as printed: what people say, and what the check character adds."""

    text: str  # "ABC 12", without its check character
    check: str = ""  # empty in a series without

    @property
    def printed(self) -> str:
        """As it stands on a tag: ABC 12-K; without a check character just ABC 12."""
        return f"{self.text}-{self.check}" if self.check else self.text


@dataclass(frozen=True)
class Series:
    """A run of numbers: prefix, first and last, how many figures at least, and whether they carry a check character."""

    prefix: str
    first: int
    last: int
    figures: int = 0
    checked: bool = True

    def __len__(self) -> int:
        return self.last - self.first + 1

    def number(self, n: int) -> FieldNumber:
        """One number of the run.

        Raises
        ------
        ValueError
            If it is not in the run.
        """
        if not self.first <= n <= self.last:
            raise ValueError(f"n must be {self.first} to {self.last}; {n} was given")
        text = f"{self.prefix}{n:0{max(self.figures, 1)}d}"
        return FieldNumber(text, check_character(text) if self.checked else "")

    def numbers(self) -> tuple[FieldNumber, ...]:
        """All of them, in order."""
        return tuple(self.number(n) for n in range(self.first, self.last + 1))


_SERIES = re.compile(r"(?P<prefix>.*?)(?P<first>\d+)\s*(?:-|\u2013|\u2212|\.\.|to)\s*(?P<last>\d+)\s*", re.IGNORECASE)
_ONE = re.compile(r"(?P<prefix>.*?)(?P<first>\d+)\s*")


def series(text: str, *, checked: bool = True) -> Series:
    """
    Read a run of numbers as people write it: "ABC 1-60", "ABC-001 to 060", "KV 7".

    Leading zeros of the first number say how many figures every number has.

    Raises
    ------
    FindingsError
        If it cannot be read, runs backwards, is longer than 10,000, or holds characters that a check character does
        not cover; the finding says what to write.
    """
    found = _SERIES.fullmatch(text.strip()) or _ONE.fullmatch(text.strip())
    problem = remedy = ""
    if found is None:
        problem = _("this is not a series of numbers")
        remedy = _("Write it as a prefix and two numbers: ABC 1-60.")
    else:
        prefix = found["prefix"]
        first = int(found["first"])
        last = int(found.groupdict().get("last") or found["first"])
        figures = len(found["first"]) if found["first"].startswith("0") else 0
        if last < first:
            problem, remedy = _("the series runs backwards"), _("Put the smaller number first.")
        elif last - first + 1 > MOST_IN_A_SERIES:
            problem = _("the series holds more than {most} numbers").format(most=MOST_IN_A_SERIES)
            remedy = _("Print it in parts.")
        else:
            if prefix and prefix[-1].isalpha():
                prefix += " "
            try:
                compact(prefix + str(first))
            except ValueError:
                if checked or any(ord(c) < 32 for c in prefix):
                    problem = _("the prefix holds characters that no check character covers")
                    remedy = _("Use letters A to Z, figures, spaces and hyphens, or ask for a series without.")
            if not problem:
                return Series(prefix.upper() if checked else prefix, first, last, figures, checked)
    raise FindingsError([Finding(problem, remedy, field=_("series"), read=text)])


def _family(text: str) -> str:
    """The prefix that numbers of one series share."""
    found = _ONE.match(text.strip())
    return found["prefix"].strip(" -").upper() if found else ""


def _holds(text: str) -> bool:
    try:
        return is_valid(text)
    except ValueError:
        return False


def judged(texts: Iterable[str]) -> dict[str, bool | None]:
    """
    Whether each number ends in its right check character; ``None`` where its series goes without.

    A series whose numbers mostly end in their right check character is one with check characters: the others of it are
    slips of the pen.

    Notes
    -----
    By chance one number in 36 ends right, so half of three or more is no chance.
    """
    series_of: dict[str, dict[str, bool]] = {}
    for text in texts:
        series_of.setdefault(_family(text), {})[text] = _holds(text)
    found: dict[str, bool | None] = {}
    for members in series_of.values():
        checked = len(members) >= _LEAST_FOR_A_SERIES and 2 * sum(members.values()) > len(members)
        found.update(members if checked else dict.fromkeys(members))
    return found


def slips(texts: Iterable[str]) -> list[Finding]:
    """What check characters say about the field numbers of a list; see ``judged``.

    For series without them, that nothing can be caught is said once.
    """
    found = judged(texts)
    findings = [
        Finding(
            _("its check character does not fit: a slip of the pen, or a letter misread"),
            _("Read the tag again."),
            weight="doubt",
            field="field_number",
            subject=text,
            read=text,
        )
        for text, fits in found.items()
        if fits is False
    ]
    without = [text for text, fits in found.items() if fits is None]
    if without:
        shown = ", ".join(without[:3]) + (", ..." if len(without) > 3 else "")
        findings.append(
            Finding(
                _("no check characters in {numbers}: a slip of the pen cannot be caught").format(numbers=shown),
                _("Let one read the number aloud while the other writes it."),
                weight="note",
                field="field_number",
            )
        )
    return findings
