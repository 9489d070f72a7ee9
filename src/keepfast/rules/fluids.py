"""What the trade does with fluids: vessels, buffers, baths, fixing times, rinses, steps; from ``fluids/field.toml``.

Every rule carries its source in words. A museum's own file is passed by path. Start with ``load``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.terms import FORMS

SUBJECT = "fluids"

# Section and key, with the range that makes sense.
_NUMBERS: dict[str, dict[str, tuple[float, float]]] = {
    "formalin": {
        "usual_percent": (1, 40),
        "methanol_percent": (0, 15),
        "rest_h": (0, 48),
        "rest_cold_h": (0, 96),
        "cold_below_c": (0, 25),
        "paraformaldehyde_low_c": (30, 70),
        "paraformaldehyde_high_c": (30, 70),
        "least_storage_c": (0, 25),
        "stock_months_low": (1, 120),
        "stock_months_high": (1, 120),
    },
    "bath": {
        "fixing_ml_per_g": (1, 100),
        "least_ml_per_g": (0.1, 100),
        "wrap_ml_per_g": (0.1, 10),
        "storage_ml_per_g": (0.5, 100),
        "least_storage_ml_per_g": (0.5, 100),
        "spent_share": (0.3, 1),
        "taken_up_share": (0.5, 0.99),
    },
    "fixed": {"safety_low": (1, 10), "safety_high": (1, 20), "least_days": (0, 30)},
    "rinse": {
        "water_ml_per_g": (0.5, 100),
        "residual_percent": (0.001, 4),
        "most_changes": (1, 20),
        "least_h": (0, 48),
        "most_h": (1, 500),
        "share": (0.3, 0.99),
    },
    "steps": {
        "grid_vol": (1, 25),
        "least_vol": (5, 60),
        "most_changes": (1, 6),
        "share": (0.3, 0.99),
        "jar_share": (0.3, 0.999),
        "round_vol": (0.1, 5),
        "check_days_low": (1, 365),
        "check_days_high": (1, 365),
    },
    "stay": {"change_h_low": (1, 240), "change_h_high": (1, 240)},
}
_EXTRA = {"steps": {"ratios_ml_per_g"}, "stay": {"forms", "text"}}
_OWN_SOURCES = 'Write: sources = { most_h = "usgs" }'


@dataclass(frozen=True)
class Source:
    """Where a rule comes from and how that is known."""

    text: str
    known: str

    @property
    def words(self) -> str:
        """Both in one line."""
        return self.text if self.text == self.known else f"{self.text} ({self.known})"


@dataclass(frozen=True)
class Vessel:
    """A measure at hand: what it holds and how finely it can be read."""

    name: str
    capacity_ml: float
    graduation_ml: float


@dataclass(frozen=True)
class BufferRecipe:
    """What keeps formalin from turning acid, or stands in for it."""

    key: str
    words: str
    ph_low: float
    ph_high: float
    makeshift: bool
    note: str
    source: str
    monobasic: str = ""
    monobasic_g_l: float = 0.0
    dibasic: str = ""
    dibasic_g_l: float = 0.0
    solid: str = ""
    solid_g_l: float = 0.0


@dataclass(frozen=True)
class FixingTime:
    """How long one source leaves whom in formalin; ``days_high`` None where it names no end."""

    whom: str
    days_low: float
    days_high: float | None
    source: str
    forms: tuple[str, ...] = ()
    from_g: float = 0.0
    below_g: float = float("inf")
    analogue: bool = False  # about other animals: shown beside, never counted

    def covers(self, form: str, mass_g: float) -> bool:
        """Whether it speaks of such an animal."""
        return (not self.forms or form in self.forms) and self.from_g <= mass_g < self.below_g


@dataclass(frozen=True)
class Jump:
    """How far a fresh fluid may stand above what is in the body. [% vol]"""

    key: str
    forms: tuple[str, ...]
    largest_vol: float
    gentle_vol: float
    reason: str
    source: str


@dataclass(frozen=True)
class Target:
    """A final strength for some forms, by one source."""

    forms: tuple[str, ...]
    strength_vol: float
    words: str
    source: str


@dataclass(frozen=True)
class Series:
    """Steps as one source takes them."""

    key: str
    strengths_vol: tuple[float, ...]
    days_low: float
    days_high: float
    source: str


@dataclass(frozen=True)
class Saying:
    """A sentence of practice with its source."""

    key: str
    text: str
    source: str


@dataclass(frozen=True)
class FluidRules:
    """Everything in one file of fluids."""

    identity: dict[str, str]
    numbers: dict[tuple[str, str], float]
    ratios_ml_per_g: tuple[float, ...]
    vessels: tuple[Vessel, ...]
    buffers: tuple[BufferRecipe, ...]
    fixing_times: tuple[FixingTime, ...]
    signs: tuple[Saying, ...]
    travel: tuple[Saying, ...]
    rinse_practice: tuple[Saying, ...]
    jumps: tuple[Jump, ...]
    targets: tuple[Target, ...]
    series: tuple[Series, ...]
    stay_forms: tuple[str, ...]
    stay_text: str
    stay_strengths: tuple[Saying, ...]
    sources: dict[tuple[str, str], str]  # of each number, in words

    def number(self, section: str, key: str) -> float:
        """One number.

        Raises
        ------
        KeyError
            If there is none of this name.
        """
        return self.numbers[section, key]

    def buffer(self, key: str) -> BufferRecipe:
        """The recipe of this key.

        Raises
        ------
        KeyError
            If there is none.
        """
        return {recipe.key: recipe for recipe in self.buffers}[key]

    def jump(self, form: str) -> Jump:
        """How far a fluid may stand above this form's own; the strictest where several forms share a jar."""
        return min((j for j in self.jumps if form in j.forms), key=lambda j: j.largest_vol)

    def target(self, form: str) -> Target:
        """The usual final strength for a form: the first that names it."""
        return next(t for t in self.targets if form in t.forms)


Rule = TypeVar("Rule")


class _Reader:
    """Reads the lists of one file and gathers what is wrong."""

    def __init__(self, label: str, data: Mapping[str, Any]) -> None:
        self.label = label
        self.data = data
        self.found: list[Finding] = []
        self.known: dict[str, Source] = {}
        for key, raw in self._table("sources").items():
            if (
                not isinstance(raw, dict)
                or not isinstance(raw.get("text"), str)
                or not isinstance(raw.get("known"), str)
            ):
                self.wrong(f"sources.{key}", "a source needs text and known", 'Write: { text = "...", known = "read" }')
            else:
                self.known[key] = Source(raw["text"], raw["known"])

    def wrong(self, where: str, what: str, remedy: str, read: Any = None) -> None:
        self.found.append(Finding(what, remedy, file=self.label, field=where, read=None if read is None else str(read)))

    def _table(self, name: str) -> dict[str, Any]:
        table = self.data.get(name, {})
        if not isinstance(table, dict):
            self.wrong(name, "a table is wanted here", f"Begin it with [{name}].", table)
            return {}
        return table

    def source(self, where: str, raw: Any) -> str:
        if isinstance(raw, str) and raw in self.known:
            return self.known[raw].words
        self.wrong(f"{where}.source", "every rule names its source", "Name one under [sources].", raw)
        return ""

    def number(self, where: str, raw: Any, low: float, high: float, default: float | None = None) -> float:
        if raw is None and default is not None:
            return default
        if isinstance(raw, bool) or not isinstance(raw, int | float) or not low <= raw <= high:
            self.wrong(where, f"a number from {low:g} to {high:g} is wanted here", "Mend this value.", raw)
            return low
        return float(raw)

    def text(self, where: str, raw: Any, default: str | None = None) -> str:
        if raw is None and default is not None:
            return default
        if not isinstance(raw, str) or not raw.strip():
            self.wrong(where, "words are wanted here", "Write a short text in quotes.", raw)
            return ""
        return raw

    def truth(self, where: str, raw: Any) -> bool:
        if not isinstance(raw, bool):
            self.wrong(where, "true or false is wanted here", "Write it without quotes.", raw)
        return bool(raw)

    def forms(self, where: str, raw: Any, needed: bool) -> tuple[str, ...]:
        if raw is None and not needed:
            return ()
        if not isinstance(raw, list) or not raw or not all(r in FORMS for r in raw):
            self.wrong(where, "a list of body forms is wanted here", f"Known forms: {', '.join(FORMS)}.", raw)
            return ()
        return tuple(raw)

    def sections(self) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str], str]]:
        numbers: dict[tuple[str, str], float] = {}
        words: dict[tuple[str, str], str] = {}
        for section, keys in _NUMBERS.items():
            table = self._table(section)
            extra = _EXTRA.get(section, set())
            self.found += sources.unknown_keys(self.label, section, table, {*keys, "source", "sources", *extra})
            usual = self.source(section, table.get("source"))
            own = table.get("sources", {})
            if not isinstance(own, dict):
                self.wrong(f"{section}.sources", "a source for each of some values is wanted here", _OWN_SOURCES, own)
                own = {}
            self.found += sources.unknown_keys(self.label, f"{section}.sources", own, {*keys, *extra})
            for key in {*keys, *extra}:
                where = f"{section}.sources.{key}"
                words[section, key] = self.source(where, own[key]) if key in own else usual
            for key, (low, high) in keys.items():
                numbers[section, key] = self.number(f"{section}.{key}", table.get(key), low, high)
        return numbers, words

    def rows(self, name: str, keys: Iterable[str], make: Callable[[str, dict[str, Any]], Rule]) -> tuple[Rule, ...]:
        raw = self.data.get(name, [])
        if not isinstance(raw, list) or not raw or not all(isinstance(r, dict) for r in raw):
            self.wrong(name, "at least one entry is wanted here", f"Begin each with [[{name}]].")
            return ()
        made = []
        for n, row in enumerate(raw, 1):
            where = f"{name}[{n}]"
            self.found += sources.unknown_keys(self.label, where, row, keys)
            made.append(make(where, row))
        return tuple(made)

    # One maker for each kind of row.

    def vessel(self, where: str, row: dict[str, Any]) -> Vessel:
        self.source(where, row.get("source"))
        capacity = self.number(f"{where}.capacity_ml", row.get("capacity_ml"), 0.1, 1e6)
        return Vessel(
            self.text(f"{where}.name", row.get("name")),
            capacity,
            self.number(f"{where}.graduation_ml", row.get("graduation_ml"), 0.001, capacity),
        )

    def buffer(self, where: str, row: dict[str, Any]) -> BufferRecipe:
        return BufferRecipe(
            self.text(f"{where}.key", row.get("key")),
            self.text(f"{where}.words", row.get("words")),
            self.number(f"{where}.ph_low", row.get("ph_low"), 1, 13),
            self.number(f"{where}.ph_high", row.get("ph_high"), 1, 13),
            self.truth(f"{where}.makeshift", row.get("makeshift")),
            self.text(f"{where}.note", row.get("note")),
            self.source(where, row.get("source")),
            self.text(f"{where}.monobasic", row.get("monobasic"), ""),
            self.number(f"{where}.monobasic_g_l", row.get("monobasic_g_l"), 0, 200, 0.0),
            self.text(f"{where}.dibasic", row.get("dibasic"), ""),
            self.number(f"{where}.dibasic_g_l", row.get("dibasic_g_l"), 0, 200, 0.0),
            self.text(f"{where}.solid", row.get("solid"), ""),
            self.number(f"{where}.solid_g_l", row.get("solid_g_l"), 0, 500, 0.0),
        )

    def fixing_time(self, where: str, row: dict[str, Any]) -> FixingTime:
        low = self.number(f"{where}.days_low", row.get("days_low"), 0, 3650)
        high = row.get("days_high")
        return FixingTime(
            self.text(f"{where}.whom", row.get("whom")),
            low,
            None if high is None else self.number(f"{where}.days_high", high, low, 3650),
            self.source(where, row.get("source")),
            self.forms(f"{where}.forms", row.get("forms"), needed=False),
            self.number(f"{where}.from_g", row.get("from_g"), 0, 1e6, 0.0),
            self.number(f"{where}.below_g", row.get("below_g"), 0, 1e6, float("inf")),
            self.truth(f"{where}.analogue", row.get("analogue", False)),
        )

    def jump(self, where: str, row: dict[str, Any]) -> Jump:
        return Jump(
            self.text(f"{where}.key", row.get("key")),
            self.forms(f"{where}.forms", row.get("forms"), needed=True),
            self.number(f"{where}.largest_vol", row.get("largest_vol"), 5, 100),
            self.number(f"{where}.gentle_vol", row.get("gentle_vol"), 5, 100),
            self.text(f"{where}.reason", row.get("reason")),
            self.source(where, row.get("source")),
        )

    def target(self, where: str, row: dict[str, Any]) -> Target:
        return Target(
            self.forms(f"{where}.forms", row.get("forms"), needed=True),
            self.number(f"{where}.strength_vol", row.get("strength_vol"), 30, 95),
            self.text(f"{where}.words", row.get("words")),
            self.source(where, row.get("source")),
        )

    def series(self, where: str, row: dict[str, Any]) -> Series:
        raw = row.get("strengths_vol")
        strengths = raw if isinstance(raw, list) and raw else []
        if not strengths:
            self.wrong(f"{where}.strengths_vol", "a list of strengths is wanted here", "Such as [30, 50, 70].", raw)
        return Series(
            self.text(f"{where}.key", row.get("key")),
            tuple(self.number(f"{where}.strengths_vol", s, 1, 100) for s in strengths),
            self.number(f"{where}.days_low", row.get("days_low"), 0, 365),
            self.number(f"{where}.days_high", row.get("days_high"), 0, 365),
            self.source(where, row.get("source")),
        )

    def saying(self, where: str, row: dict[str, Any]) -> Saying:
        words = row.get("text", row.get("words"))
        return Saying(
            self.text(f"{where}.key", row.get("key"), ""),
            self.text(f"{where}.text", words),
            self.source(where, row.get("source")),
        )


_LISTS = (
    "vessels",
    "buffers",
    "fixing_times",
    "signs",
    "travel",
    "rinse_practice",
    "jumps",
    "targets",
    "series",
    "stay_strengths",
)


def load(name_or_path: str | Path = "field") -> FluidRules:
    """Read and check a file of fluids: one that ships, by name, or one of one's own, by path.

    Raises
    ------
    FindingsError
        With everything that is wrong in the file.
    """
    file = sources.read(SUBJECT, name_or_path)
    reader = _Reader(str(name_or_path), file.data)
    reader.found += sources.unknown_keys(
        reader.label, "", file.data, {"title", "date", "subject", "sources", *_NUMBERS, *_LISTS}
    )
    numbers, words = reader.sections()
    steps, stay = file.data.get("steps", {}), file.data.get("stay", {})
    raw = steps.get("ratios_ml_per_g") if isinstance(steps, dict) else None
    ratios = raw if isinstance(raw, list) and raw else []
    if not ratios:
        reader.wrong("steps.ratios_ml_per_g", "a list of fluid to body ratios is wanted here", "Such as [2, 5].", raw)
    saying_keys = ("key", "text", "words", "source")
    times_keys = ("whom", "forms", "from_g", "below_g", "days_low", "days_high", "analogue", "source")
    rules = FluidRules(
        identity=file.identity,
        numbers=numbers,
        ratios_ml_per_g=tuple(reader.number("steps.ratios_ml_per_g", r, 0.1, 100) for r in ratios),
        vessels=reader.rows("vessels", ("name", "capacity_ml", "graduation_ml", "source"), reader.vessel),
        buffers=reader.rows("buffers", (*BufferRecipe.__dataclass_fields__,), reader.buffer),
        fixing_times=reader.rows("fixing_times", times_keys, reader.fixing_time),
        signs=reader.rows("signs", saying_keys, reader.saying),
        travel=reader.rows("travel", saying_keys, reader.saying),
        rinse_practice=reader.rows("rinse_practice", saying_keys, reader.saying),
        jumps=reader.rows("jumps", (*Jump.__dataclass_fields__,), reader.jump),
        targets=reader.rows("targets", (*Target.__dataclass_fields__,), reader.target),
        series=reader.rows("series", (*Series.__dataclass_fields__,), reader.series),
        stay_forms=reader.forms("stay.forms", stay.get("forms") if isinstance(stay, dict) else None, needed=True),
        stay_text=reader.text("stay.text", stay.get("text") if isinstance(stay, dict) else None),
        stay_strengths=reader.rows("stay_strengths", saying_keys, reader.saying),
        sources=words,
    )
    if not any(
        not t.analogue and not t.forms and t.from_g == 0 and t.below_g == float("inf") for t in rules.fixing_times
    ):
        reader.wrong("fixing_times", "no entry speaks of every body", "Add one without forms and limits of mass.")
    for form in FORMS:
        if not any(form in j.forms for j in rules.jumps):
            reader.wrong("jumps", f"no entry names {form}", "Name every form in one of them.")
        if not any(form in t.forms for t in rules.targets):
            reader.wrong("targets", f"no entry names {form}", "Name every form in one of them.")
    if reader.found:
        raise FindingsError(reader.found)
    return rules
