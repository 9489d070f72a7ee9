"""Amounts as people type them."""

from __future__ import annotations

import math

import pytest

from keepfast.cli.fluid_input import Reader
from keepfast.findings import FindingsError


@pytest.mark.parametrize(
    ("text", "ml"),
    [
        ("12L", 12_000),
        ("12 L", 12_000),
        ("12l", 12_000),
        ("0.5 l", 500),
        ("500mL", 500),
        ("1,5 L", 1500),
        ("25 cl", 250),
        ("3 litres", 3000),
        (".5L", 500),
        ("0,125 L", 125),
        ("1.500 L", 1500),
    ],
)
def test_volumes(text: str, ml: float) -> None:
    reader = Reader()
    assert reader.volume_ml("--volume", text) == pytest.approx(ml)
    reader.done()


@pytest.mark.parametrize("text", ["12", "L", "", "-3L", "0L", "12 gallons", "twelve L", "1e9L"])
def test_volumes_that_are_not(text: str) -> None:
    reader = Reader()
    assert math.isnan(reader.volume_ml("--volume", text))
    with pytest.raises(FindingsError, match="--volume"):
        reader.done()


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("1,500mL", "Write 1500 or 1.500"),
        ("12,000 L", "Write 12000 or 12.000"),
        ("3 gal", "11.4 L if it is American, 13.6 L if it is imperial"),
        ("8 fl oz", "0.237 L if it is American, 0.227 L if it is imperial"),
        ("2 pints", "0.946 L if it is American"),
    ],
)
def test_volumes_that_mean_two_things(text: str, remedy: str) -> None:
    """231 cubic inches to the American gallon and 4.54609 L to the imperial one, by definition."""
    reader = Reader()
    assert math.isnan(reader.volume_ml("--volume", text))
    assert remedy in reader.found[0].sentence()


@pytest.mark.parametrize(
    ("text", "value"), [("96", 96.0), ("96 %", 96.0), ("96%", 96.0), ("70.5 % vol", 70.5), ("70,5", 70.5)]
)
def test_strengths(text: str, value: float) -> None:
    reader = Reader()
    assert reader.strength("--stock", text) == value
    reader.done()


@pytest.mark.parametrize(
    ("kind", "text", "remedy"),
    [
        ("strength", "0.7", "fraction: write 70"),
        ("strength", "140", "proof: half of it, 70"),
        ("strength", "101%", "proof"),
        ("strength", "250", "label"),
        ("strength", "-5", "label"),
        ("strength", "70 g/L", "% vol"),
        ("density", "0.8856", "specific gravity or g/mL: write 885.6"),
        ("density", "88.56", "unit"),
        ("density", "885 lb", "kg/m³"),
    ],
)
def test_slips_are_named(kind: str, text: str, remedy: str) -> None:
    reader = Reader()
    assert math.isnan(getattr(reader, kind)("--x", text))
    assert remedy in reader.found[0].sentence()
    assert text in reader.found[0].sentence()


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("88", "°F: 31 °C"),
        ("88F", "In °C this is 31"),
        ("304", "kelvin: 31 °C"),
        ("45", "shade"),
        ("-30", "warm"),
        ("31 K", "°C"),
    ],
)
def test_temperatures_in_other_units(text: str, remedy: str) -> None:
    reader = Reader()
    assert math.isnan(reader.temperature_c("--temperature", text, -20.0, 40.0))
    assert remedy in reader.found[0].sentence()
    assert "-20 to 40 °C" in reader.found[0].sentence()


@pytest.mark.parametrize("text", ["31", "31C", "31 °C", "31 degC"])
def test_temperatures(text: str) -> None:
    reader = Reader()
    assert reader.temperature_c("--temperature", text, -20.0, 40.0) == 31.0
    reader.done()


def test_masses_and_lengths_with_and_without_units() -> None:
    reader = Reader()
    assert reader.mass_g("--mass", "40") == 40.0
    assert reader.mass_g("--mass", "1.2 kg") == 1200.0
    assert reader.length_mm("--diameter", "2.5cm") == 25.0
    reader.done()
    assert math.isnan(reader.mass_g("--mass", "40 mm"))
    assert math.isnan(reader.length_mm("--diameter", "25 g"))
    assert len(reader.found) == 2


def test_all_findings_come_together() -> None:
    reader = Reader()
    reader.strength("--stock", "0.96")
    reader.volume_ml("--volume", "12")
    reader.temperature_c("--temperature", "88", -20, 40)
    with pytest.raises(FindingsError) as refused:
        reader.done()
    assert [f.field for f in refused.value.findings] == ["--stock", "--volume", "--temperature"]
