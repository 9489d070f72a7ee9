"""Reading one protocol file: everything wrong in it is collected and said at once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from keepfast.findings import Finding, FindingsError
from keepfast.rules import sources
from keepfast.rules.protocol import (
    DESTINIES,
    FILL_KINDS,
    POSES,
    REGIONS,
    SIDES,
    SITES,
    TASKS,
    FillRule,
    FitnessRule,
    PoseRule,
    PrickRule,
    Protocol,
    Saying,
    Spread,
    TrayRule,
)
from keepfast.rules.tables import Condition, Points, read_condition, read_points
from keepfast.terms import KNOWN

SUBJECT = "protocols"
# Room that a posed body takes: factors on its length, its girth, and the root of both (a coil has the body's area).
ROOM_FACTORS = ("length", "diameter", "root_of_length_by_diameter")
FOLDER = sources.FOLDER / SUBJECT

_TOP = {
    "title", "date", "subject", "form", "takes", "sources", "fitness", "before", "prick", "no_needle", "total", "fill",
    "filling", "retained", "pose", "posing", "tag", "cover", "tray", "needle", "minutes", "supply", "venomous", "doubt",
    "spread",
}  # fmt: skip
_LISTS = (
    "fitness",
    "before",
    "prick",
    "no_needle",
    "fill",
    "filling",
    "pose",
    "posing",
    "tag",
    "cover",
    "tray",
    "doubt",
    "spread",
)
_FIRST_HOLDS = ("fitness", "no_needle", "pose", "tag", "tray")
_TABLES = ("total", "retained", "needle", "minutes", "supply", "venomous")


def read(path: Path, common_path: Path) -> Protocol:
    shipped = path.parent == FOLDER
    file = sources.read(SUBJECT, path)
    label = path.name if shipped else str(path)
    data: dict[str, Any] = dict(file.data)
    digest = file.sha256
    found = [*sources.unknown_keys(label, "", data, _TOP), *_shaped(label, data)]
    if data.get("takes") not in (None, ["common"]):
        found.append(
            Finding("takes can only name the shared rules", 'Write: takes = ["common"]', file=label, field="takes")
        )
    if data.get("takes"):
        common = sources.read(SUBJECT, common_path)
        common_label = common_path.name if common_path.parent == FOLDER else str(common_path)
        digest = hashlib.sha256((digest + common.sha256).encode()).hexdigest()
        shared_data: dict[str, Any] = dict(common.data)
        found += [
            *sources.unknown_keys(common_label, "", shared_data, _TOP - {"form", "takes"}),
            *_shaped(common_label, shared_data),
        ]
        data["sources"] = {**shared_data.get("sources", {}), **data.get("sources", {})}
        for part in _LISTS:
            mine = data.get(part, [])
            # What has no key, such as what another source says, replaces nothing.
            keys = [rule["key"] for rule in mine if "key" in rule]
            shared = [rule for rule in shared_data.get(part, []) if rule.get("key") not in keys]
            # Where the first rule that holds decides, a form's own come before the shared; else they follow them.
            data[part] = [*mine, *shared] if part in _FIRST_HOLDS else [*shared, *mine]
        for part in _TABLES:
            if part in shared_data:
                data[part] = {**shared_data[part], **data.get(part, {})}
    reader = _Reader(label, data.get("sources"), found)
    protocol = reader.protocol(data, file, digest, "shipped" if shipped else str(path))
    if reader.found:
        raise FindingsError(reader.found)
    assert protocol is not None
    return protocol


def _shaped(label: str, data: dict[str, Any]) -> list[Finding]:
    """What is no table or no list of rules where one is wanted; it is taken out, so that the rest can be read."""
    found = []
    for part in ("sources", *_TABLES):
        if not isinstance(data.get(part, {}), dict):
            found.append(Finding("this is a table", f"Begin it with [{part}].", file=label, field=part))
            data[part] = {}
    for part in _LISTS:
        rules = data.get(part, [])
        if not isinstance(rules, list) or not all(isinstance(rule, dict) for rule in rules):
            found.append(Finding("this is a list of rules", f"Begin each with [[{part}]].", file=label, field=part))
            data[part] = []
    return found


class _Reader:
    """Reads one file's rules, collecting all that is wrong instead of stopping at the first."""

    def __init__(self, label: str, raw_sources: Any, found: list[Finding]) -> None:
        self.label = label
        self.found = found
        self.sources: dict[str, tuple[str, str]] = {}
        for key, entry in (raw_sources or {}).items():
            words, known = (entry.get("text"), entry.get("known")) if isinstance(entry, dict) else (None, None)
            if not isinstance(words, str) or known not in KNOWN:
                self.wrong(
                    f"sources.{key}", "a source has a text and says how it is known", f"known: {', '.join(KNOWN)}."
                )
            else:
                self.sources[key] = (words, known)

    def wrong(self, where: str, what: str, remedy: str, read: Any = None) -> None:
        self.found.append(Finding(what, remedy, file=self.label, field=where, read=None if read is None else str(read)))

    def rules(self, data: Mapping[str, Any], part: str) -> Iterable[tuple[str, dict[str, Any]]]:
        for number, rule in enumerate(data.get(part, []), 1):
            yield f"{part} {rule.get('key', number)}", rule

    def text(self, where: str, rule: Mapping[str, Any], key: str) -> str:
        value = rule.get(key)
        if not isinstance(value, str) or not value.strip():
            self.wrong(f"{where}.{key}", "some words are missing here", f'Write: {key} = "..."', value)
            return ""
        return value

    def number(
        self, where: str, rule: Mapping[str, Any], key: str, default: float | None, low: float, high: float
    ) -> float:
        value = rule.get(key, default)
        if not isinstance(value, int | float) or isinstance(value, bool) or not low <= value <= high:
            self.wrong(f"{where}.{key}", f"a number from {low:g} to {high:g} is wanted here", "Mend this value.", value)
            return low
        return float(value)

    def rising(
        self, where: str, rule: Mapping[str, Any], keys: tuple[str, str, str], low: float, high: float
    ) -> tuple[float, float, float]:
        """Three numbers of which none is below the one before it: a range and its middle."""
        first, middle, last = (self.number(where, rule, key, None, low, high) for key in keys)
        if not first <= middle <= last:
            self.wrong(
                where, f"{', '.join(keys)} must not fall", "Mend their order.", f"{first:g}, {middle:g}, {last:g}"
            )
        return first, middle, last

    def ceiling(self, total: Mapping[str, Any], key: str) -> float | None:
        return self.number("total", total, key, None, 0.001, 5) if key in total else None

    def word(
        self, where: str, rule: Mapping[str, Any], key: str, allowed: tuple[str, ...], default: str | None = None
    ) -> str:
        value = rule.get(key, default)
        if value not in allowed:
            self.wrong(f"{where}.{key}", "this word is not known here", f"Known: {', '.join(allowed)}.", value)
            return allowed[0]
        return str(value)

    def source(self, where: str, rule: Mapping[str, Any]) -> str:
        key = rule.get("source")
        if not isinstance(key, str) or key not in self.sources:
            self.wrong(
                f"{where}.source",
                "every rule names its source",
                f"Name one of those under [sources]: {', '.join(self.sources)}.",
                key,
            )
            return ""
        return str(key)

    def span(self, where: str, rule: Mapping[str, Any], key: str = "at") -> tuple[float, float]:
        value = rule.get(key, 0.5)
        pair = value if isinstance(value, list) else [value, value]
        if len(pair) != 2 or not all(isinstance(v, int | float) and 0 <= v <= 1 for v in pair) or pair[0] > pair[1]:
            self.wrong(
                f"{where}.{key}", "a place is a share from 0 (front) to 1 (hind end), or [from, to]", "Mend it.", value
            )
            return (0.0, 1.0)
        return float(pair[0]), float(pair[1])

    def points(self, where: str, raw: Any, rising: bool = False) -> Points:
        points, found = read_points(self.label, where, raw, rising=rising)
        self.found.extend(found)
        return points if not found else ((1.0, 0.0),)

    def when(self, where: str, rule: Mapping[str, Any]) -> Condition:
        condition, found = read_condition(self.label, f"{where}.when", rule.get("when"))
        self.found.extend(found)
        return condition

    def keys(self, where: str, rule: Mapping[str, Any], *allowed: str) -> None:
        self.found.extend(sources.unknown_keys(self.label, where, rule, {"key", "when", "source", *allowed}))

    def saying(self, where: str, rule: dict[str, Any]) -> Saying:
        self.keys(where, rule, "action", "reason")
        return Saying(
            self.text(where, rule, "key"),
            self.text(where, rule, "action"),
            self.text(where, rule, "reason"),
            self.source(where, rule),
            self.when(where, rule),
        )

    def sayings(self, data: Mapping[str, Any], part: str) -> tuple[Saying, ...]:
        return tuple(self.saying(where, rule) for where, rule in self.rules(data, part))

    def prick(self, where: str, rule: dict[str, Any]) -> PrickRule:
        self.keys(where, rule, "region", "at", "side", "count", "spacing_mm", "action", "reason")
        spacing = self.number(where, rule, "spacing_mm", None, 1, 500) if "spacing_mm" in rule else None
        return PrickRule(
            self.text(where, rule, "key"),
            self.word(where, rule, "region", REGIONS),
            self.span(where, rule),
            self.word(where, rule, "side", SIDES, "below"),
            int(self.number(where, rule, "count", 1, 1, 50)),
            spacing,
            self.text(where, rule, "action"),
            self.text(where, rule, "reason"),
            self.source(where, rule),
            self.when(where, rule),
        )

    def fill(self, where: str, rule: dict[str, Any]) -> FillRule:
        self.keys(
            where, rule, "kind", "site", "at", "of_tail", "side", "share", "on_top", "ml_by", "ml", "spacing_mm",
            "follows", "depth_share", "action", "reason",
        )  # fmt: skip
        kind = self.word(where, rule, "kind", FILL_KINDS, "point")
        share = self.number(where, rule, "share", None, 0, 1) if "share" in rule else None
        if (share is None) == ("ml" not in rule):
            self.wrong(where, "an amount is either a share of the total or a table of its own", "Give share or ml.")
        if kind == "row" and "spacing_mm" not in rule:
            self.wrong(f"{where}.spacing_mm", "a row needs its spacing", "Write: spacing_mm = 15")
        return FillRule(
            self.text(where, rule, "key"),
            kind,
            self.word(where, rule, "site", SITES),
            self.span(where, rule),
            bool(rule.get("of_tail", False)),
            self.word(where, rule, "side", SIDES, "middle"),
            share,
            bool(rule.get("on_top", False)),
            self.word(where, rule, "ml_by", ("mass_g", "diameter_mm", "limb_diameter_mm", "head_width_mm"), "mass_g"),
            self.points(f"{where}.ml", rule["ml"], rising=True) if "ml" in rule else (),
            self.number(where, rule, "spacing_mm", None, 2, 200) if "spacing_mm" in rule else None,
            self.text(where, rule, "follows") if "follows" in rule else "",
            self.number(where, rule, "depth_share", 0.7, 0, 1.5),
            self.text(where, rule, "action"),
            self.text(where, rule, "reason"),
            self.source(where, rule),
            self.when(where, rule),
        )

    def pose(self, where: str, rule: dict[str, Any]) -> PoseRule:
        self.keys(where, rule, "pose", "action", "reason", "width", "height")
        room = {}
        for side in ("width", "height"):
            raw = rule.get(side, {})
            if not isinstance(raw, dict) or not set(raw) <= set(ROOM_FACTORS) or not raw:
                self.wrong(
                    f"{where}.{side}",
                    f"the room taken is factors on {', '.join(ROOM_FACTORS)}",
                    f"Write: {side} = {{ length = 1.0, diameter = 0.5 }}",
                    raw,
                )
                raw = {"length": 1.0}
            room[side] = tuple(self.number(f"{where}.{side}", raw, of, 0.0, 0, 20) for of in ROOM_FACTORS)
            if not sum(room[side]) > 0:
                self.wrong(f"{where}.{side}", "a body takes some room", "Write a factor above 0.", raw)
        return PoseRule(
            self.text(where, rule, "key"),
            self.word(where, rule, "pose", POSES),
            self.text(where, rule, "action"),
            self.text(where, rule, "reason"),
            self.source(where, rule),
            (room["width"][0], room["width"][1], room["width"][2]),
            (room["height"][0], room["height"][1], room["height"][2]),
            self.when(where, rule),
        )

    def fitness(self, where: str, rule: dict[str, Any]) -> FitnessRule:
        self.keys(where, rule, "destiny", "reason")
        return FitnessRule(
            self.text(where, rule, "key"),
            self.word(where, rule, "destiny", DESTINIES),
            self.text(where, rule, "reason"),
            self.source(where, rule),
            self.when(where, rule),
        )

    def tray(self, where: str, rule: dict[str, Any]) -> TrayRule:
        self.keys(where, rule, "hours", "low_h", "high_h", "reason")
        return TrayRule(
            self.text(where, rule, "key"),
            self.points(f"{where}.hours", rule.get("hours")),
            self.number(where, rule, "low_h", 24, 0, 2000),
            self.number(where, rule, "high_h", 48, 0, 2000),
            self.text(where, rule, "reason"),
            self.source(where, rule),
            self.when(where, rule),
        )

    def spread(self, where: str, rule: dict[str, Any]) -> Spread:
        self.keys(where, rule, "topic", "text")
        key = self.source(where, rule)
        words, known = self.sources.get(key, ("", KNOWN[0]))
        return Spread(self.text(where, rule, "topic"), self.text(where, rule, "text"), words, known)

    def protocol(self, data: dict[str, Any], file: sources.RulesFile, digest: str, origin: str) -> Protocol | None:
        form = self.text("form", data, "form")
        total = data.get("total", {})
        minutes = data.get("minutes", {})
        retained = data.get("retained", {})
        needle = data.get("needle", {})
        venomous = data.get("venomous", {})
        self.found.extend(
            sources.unknown_keys(
                self.label, "total", total, {"ml", "low", "high", "ceiling_ml_per_g", "ceiling_ml_per_cm", "source"}
            )
        )
        self.found.extend(sources.unknown_keys(self.label, "minutes", minutes, {*TASKS, "per_injection", "source"}))
        supply = data.get("supply", {})
        self.source("supply", supply)
        if venomous:
            self.source("venomous", venomous)
            self.found.extend(
                sources.unknown_keys(self.label, "venomous", venomous, {"genera", "if_unknown", "source"})
            )
        genera = venomous.get("genera", [])
        if not isinstance(genera, list) or not all(isinstance(genus, str) for genus in genera):
            self.wrong("venomous.genera", "a list of names is wanted here", 'Write: genera = ["Vipera"]', genera)
            genera = []
        no_needle = self.sayings(data, "no_needle")
        fills = tuple(self.fill(where, rule) for where, rule in self.rules(data, "fill"))
        for number, one in enumerate(fills):
            rows_before = [earlier.key for earlier in fills[:number] if earlier.kind == "row" and not earlier.of_tail]
            if one.follows and (one.kind != "row" or one.of_tail or one.follows not in rows_before):
                self.wrong(
                    f"fill {one.key}.follows",
                    "a row along the trunk can only follow such a row that stands before it",
                    f"Rows before it: {', '.join(rows_before) or 'none'}.",
                    one.follows,
                )
        for part in ("fitness", "pose", "tag", "tray"):
            if not data.get(part):
                self.wrong(part, "no rule of this kind was found", f"Add at least one [[{part}]].")
        protocol = Protocol(
            form=form,
            title=file.title,
            date=file.date.isoformat(),
            sha256=digest,
            origin=origin,
            sources=self.sources,
            fitness=tuple(self.fitness(where, rule) for where, rule in self.rules(data, "fitness")),
            before=self.sayings(data, "before"),
            pricks=tuple(self.prick(where, rule) for where, rule in self.rules(data, "prick")),
            no_needle=no_needle,
            total_ml=self.points("total.ml", total.get("ml"), rising=True),
            total_low=self.number("total", total, "low", 0.7, 0.01, 1),
            total_high=self.number("total", total, "high", 1.4, 1, 5),
            total_source=self.source("total", total),
            ceiling_ml_per_g=self.ceiling(total, "ceiling_ml_per_g"),
            ceiling_ml_per_cm=self.ceiling(total, "ceiling_ml_per_cm"),
            fills=fills,
            filling=self.sayings(data, "filling"),
            retained_share=self.rising("retained", retained, ("low", "middle", "high"), 0.01, 1),
            retained_source=self.source("retained", retained),
            poses=tuple(self.pose(where, rule) for where, rule in self.rules(data, "pose")),
            posing=self.sayings(data, "posing"),
            tags=self.sayings(data, "tag"),
            covering=self.sayings(data, "cover"),
            tray=tuple(self.tray(where, rule) for where, rule in self.rules(data, "tray")),
            gauges=self.points("needle.gauge", needle.get("gauge")),
            gauge_source=self.source("needle", needle),
            minutes={task: self.points(f"minutes.{task}", minutes.get(task)) for task in TASKS},
            minutes_per_injection=self.number("minutes", minutes, "per_injection", 0.0, 0, 10),
            minutes_source=self.source("minutes", minutes),
            supply_threshold=self.number("supply", supply, "threshold", None, 0, 10),
            venomous_genera=tuple(genera),
            venomous_if_unknown=bool(venomous.get("if_unknown", False)),
            doubts=self.sayings(data, "doubt"),
            spreads=tuple(self.spread(where, rule) for where, rule in self.rules(data, "spread")),
        )
        return None if self.found else protocol
