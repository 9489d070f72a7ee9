"""Amounts as people type them (``12L``, ``70 %``, ``31``), read with the slips that are usually behind wrong ones."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from keepfast.findings import Finding, FindingsError
from keepfast.words import _

Answer = TypeVar("Answer")

_NUMBER = re.compile(r"^\s*([+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+))\s*(.*?)\s*$")
# 1,500 is one and a half to some and fifteen hundred to others; 0,125 and 1,5 are only one thing.
_TWO_WAYS = re.compile(r"^[+-]?[1-9]\d{0,2},\d{3}$")
_LITRES = {"l": 1000.0, "litre": 1000.0, "litres": 1000.0, "liter": 1000.0, "liters": 1000.0}
_MILLILITRES = {"ml": 1.0, "cl": 10.0, "dl": 100.0, "cm3": 1.0, "cc": 1.0}
_VOLUMES = _LITRES | _MILLILITRES
# As they are defined: 231 cubic inches and 4.54609 L; the rest of each system follows from its gallon.
_OTHER_VOLUMES_L = {
    "gal": (3.785, 4.546),
    "gallon": (3.785, 4.546),
    "gallons": (3.785, 4.546),
    "qt": (0.946, 1.137),
    "quart": (0.946, 1.137),
    "quarts": (0.946, 1.137),
    "pt": (0.473, 0.568),
    "pint": (0.473, 0.568),
    "pints": (0.473, 0.568),
    "oz": (0.0296, 0.0284),
    "fl oz": (0.0296, 0.0284),
    "floz": (0.0296, 0.0284),
}
_MASSES = {"": 1.0, "g": 1.0, "kg": 1000.0}
_LENGTHS = {"": 1.0, "mm": 1.0, "cm": 10.0}


@dataclass
class Reader:
    """Reads options one by one and keeps every finding, so that all are shown together."""

    found: list[Finding] = field(default_factory=list)

    def wrong(self, name: str, what: str, remedy: str, read: object) -> float:
        """Keep a finding; the value returned only carries the work past it."""
        self.found.append(Finding(what, remedy, field=name, read=str(read)))
        return float("nan")

    def done(self) -> None:
        """Stop here if anything was wrong.

        Raises
        ------
        FindingsError
            With all of it.
        """
        if self.found:
            raise FindingsError(self.found)

    def _parts(self, name: str, text: str, example: str) -> tuple[float, str] | None:
        match = _NUMBER.match(text)
        if match is None:
            self.wrong(name, _("a number is wanted here"), _("Write it like {example}.").format(example=example), text)
            return None
        if _TWO_WAYS.match(match[1]):
            whole, point = match[1].replace(",", ""), match[1].replace(",", ".")
            self.wrong(
                name,
                _("this number can be read in two ways"),
                _("Write {whole} or {point}.").format(whole=whole, point=point),
                text,
            )
            return None
        return float(match[1].replace(",", ".")), match[2]

    def strength(self, name: str, text: str, low: float = 1.0, high: float = 100.0) -> float:
        """A strength in % vol; ``70`` or ``70 %``."""
        parts = self._parts(name, text, "70")
        if parts is None:
            return float("nan")
        value, unit = parts
        rule = _("a strength goes from {low:g} to {high:g} % vol").format(low=low, high=high)
        if unit.lower() not in ("", "%", "%vol", "% vol", "vol%", "%abv", "% abv"):
            return self.wrong(name, rule, _("Give it in % vol at 20 °C, without another unit."), text)
        if 0.0 < value < 1.0:
            return self.wrong(
                name, rule, _("This looks like a fraction: write {percent:g}.").format(percent=100 * value), text
            )
        if 100.0 < value <= 200.0 and high == 100.0:
            return self.wrong(
                name, rule, _("This may be US proof: half of it, {half:g}, is % vol.").format(half=value / 2), text
            )
        if not low <= value <= high:
            return self.wrong(name, rule, _("Read the label again."), text)
        return value

    def percent(self, name: str, text: str, low: float, high: float, of: str) -> float:
        """A percentage of something else than alcohol; ``10`` or ``10 %``."""
        parts = self._parts(name, text, "10")
        if parts is None:
            return float("nan")
        value, unit = parts
        rule = _("{of} goes from {low:g} to {high:g} %").format(of=of, low=low, high=high)
        if unit not in ("", "%"):
            return self.wrong(name, rule, _("Give it as a plain percentage."), text)
        if not low <= value <= high:
            if 0.0 < value < min(1.0, low):
                remedy = _("This looks like a fraction: write {percent:g}.").format(percent=100 * value)
            else:
                remedy = _("Read the label again.")
            return self.wrong(name, rule, remedy, text)
        return value

    def volume_ml(self, name: str, text: str) -> float:
        """A volume with its unit, in mL."""
        parts = self._parts(name, text, "12L")
        if parts is None:
            return float("nan")
        value, unit = parts
        factor = _VOLUMES.get(unit.lower())
        if factor is None and unit.lower() in _OTHER_VOLUMES_L:
            american, imperial = (value * litres for litres in _OTHER_VOLUMES_L[unit.lower()])
            remedy = _("Give it in L: {american:.3g} L if it is American, {imperial:.3g} L if it is imperial.")
            return self.wrong(
                name,
                _("a volume needs its unit, L or mL"),
                remedy.format(american=american, imperial=imperial),
                text,
            )
        if factor is None:
            return self.wrong(name, _("a volume needs its unit, L or mL"), _("Write it like 12L or 500mL."), text)
        ml = value * factor
        if not 0.05 <= ml <= 1e7:
            return self.wrong(name, _("a volume goes from 0.05 mL to 10 000 L here"), _("Check the unit."), text)
        return ml

    def temperature_c(self, name: str, text: str, low: float, high: float) -> float:
        """A temperature in degrees C; ``31``, ``31C`` or ``31 °C``."""
        parts = self._parts(name, text, "31")
        if parts is None:
            return float("nan")
        value, unit = parts
        rule = _("the formulas hold from {low:g} to {high:g} °C").format(low=low, high=high)
        if unit.lower() in ("f", "°f", "degf"):
            celsius = (value - 32.0) / 1.8
            return self.wrong(name, rule, _("In °C this is {c:.0f}.").format(c=celsius), text)
        if unit.lower() not in ("", "c", "°c", "degc"):
            return self.wrong(name, rule, _("Give it in °C."), text)
        if not low <= value <= high:
            if 50.0 <= value <= 125.0:
                remedy = _("This looks like °F: {c:.0f} °C.").format(c=(value - 32.0) / 1.8)
            elif 250.0 <= value <= 330.0:
                remedy = _("This looks like kelvin: {c:.0f} °C.").format(c=value - 273.15)
            elif value > high:
                remedy = _("Let it cool in the shade first.")
            else:
                remedy = _("Let it warm first.")
            return self.wrong(name, rule, remedy, text)
        return value

    def density(self, name: str, text: str) -> float:
        """A density in kg/m3; what no mixture has is for the formula to say, what is in other units for here."""
        parts = self._parts(name, text, "812.0")
        if parts is None:
            return float("nan")
        value, unit = parts
        rule = _("a density of alcohol and water goes from 770 to 1000 kg/m³")
        if unit.lower() not in ("", "kg/m3", "kg/m³", "g/l"):
            return self.wrong(name, rule, _("Give it in kg/m³; g/mL times 1000."), text)
        if 0.5 < value < 1.5:
            return self.wrong(
                name,
                rule,
                _("This looks like a specific gravity or g/mL: write {kg:g}.").format(kg=1000 * value),
                text,
            )
        if not 700.0 <= value <= 1300.0:
            return self.wrong(name, rule, _("Read the instrument and its unit again."), text)
        return value

    def mass_g(self, name: str, text: str) -> float:
        """A mass; grams without a unit."""
        return self._measure(name, text, _MASSES, "40g", 0.01, 1e6, _("a mass goes from 0.01 g to 1000 kg here"))

    def length_mm(self, name: str, text: str) -> float:
        """A length; millimetres without a unit."""
        return self._measure(name, text, _LENGTHS, "25mm", 0.5, 2e4, _("a length goes from 0.5 mm to 20 m here"))

    def plain(self, name: str, text: str, low: float, high: float, rule: str) -> float:
        """A bare number."""
        parts = self._parts(name, text, f"{low:g}")
        if parts is None:
            return float("nan")
        if parts[1] or not low <= parts[0] <= high:
            remedy = _("Give a bare number.") if parts[1] else _("Look at it again.")
            return self.wrong(name, rule, remedy, text)
        return parts[0]

    def salt(self, name: str, text: str, role: str) -> str:
        """A phosphate by the formula on its tin, as tins spell it; empty stays empty."""
        from keepfast.science import formalin

        if not text:
            return ""
        # Tins write the water behind a dot, a star, a cross or a space.
        wanted = re.sub(r"[·•.*x×\s]+", ".", text.strip().lower())
        wanted = re.sub(r"\.(\d+)\.h2o$", r".\1h2o", wanted).replace(".1h2o", ".h2o")
        for salt in formalin.salts():
            if salt.lower() == wanted:
                if formalin.salt_role(salt) != role:
                    self.wrong(
                        name,
                        _("{salt} is the {other} salt").format(salt=salt, other=formalin.salt_role(salt)),
                        _("The two tins seem to be swapped."),
                        text,
                    )
                return salt
        self.wrong(
            name,
            _("no such salt or hydrate is known"),
            _("Known: {list}. The hydrate stands on the tin.").format(list=", ".join(formalin.salts(role))),
            text,
        )
        return ""

    def _measure(
        self, name: str, text: str, units: dict[str, float], example: str, low: float, high: float, rule: str
    ) -> float:
        parts = self._parts(name, text, example)
        if parts is None:
            return float("nan")
        factor = units.get(parts[1].lower())
        if factor is None or not low <= parts[0] * factor <= high:
            return self.wrong(name, rule, _("Write it like {example}.").format(example=example), text)
        return parts[0] * factor


def refusing(work: Callable[[], Answer]) -> Answer:
    """Do it; what the formulas refuse is a person's slip here."""
    try:
        return work()
    except FindingsError:
        raise
    except ValueError as problem:
        raise FindingsError([Finding(str(problem), _("Change it and try again."))]) from None
