"""However a list is saved, the animals that come out are those that went in."""

from __future__ import annotations

import csv
import datetime
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keepfast.book.animals import CONDITIONS, GUTS, REPRODUCTIVE_STATES, SEXES, TAIL_STATES, Animal
from keepfast.book.animals import usual_length_kind as usual
from keepfast.exchange.lists import read_list
from keepfast.terms import FORMS

ZONE = datetime.timezone(datetime.timedelta(hours=2))


def tenths(low: int, high: int) -> st.SearchStrategy[float]:
    return st.integers(low * 10, high * 10).map(lambda n: n / 10)


@st.composite
def animals(draw: st.DrawFn) -> list[Animal]:
    found = []
    for number in range(draw(st.integers(1, 6))):
        form = draw(st.sampled_from(FORMS))
        length = draw(st.none() | tenths(20, 190))
        mass = draw(tenths(1, 800)) if length is None else draw(st.none() | tenths(1, 800))
        found.append(
            Animal(
                f"B-{number:02d}",
                form,
                sex=draw(st.sampled_from(SEXES)),
                length_mm=length,
                length_kind=usual(form),
                tail_mm=draw(st.none() | tenths(0, 400)),
                tail_state=draw(st.sampled_from(TAIL_STATES)),
                mass_g=mass,
                diameter_mm=draw(st.none() | tenths(1, 15)),
                reproductive_state=draw(st.sampled_from(REPRODUCTIVE_STATES)),
                gut=draw(st.sampled_from(("", *GUTS))),
                condition=draw(st.sampled_from([c for c in CONDITIONS if c != "alive"])),
                died_at=draw(
                    st.none()
                    | st.integers(0, 10_000).map(
                        lambda n: datetime.datetime(2026, 4, 1, tzinfo=ZONE) + datetime.timedelta(minutes=n)
                    )
                ),
                kept_at_c=draw(st.none() | tenths(-5, 40)),
                count=draw(st.integers(1, 400)) if form in ("larva", "egg_clutch") else 1,
                remarks=draw(st.sampled_from(("", "piel húmeda; ¿macho?", 'he said "big", twice', "a, b; c"))),
            )
        )
    return found


COLUMNS = [
    "field_number",
    "form",
    "sex",
    "length_mm",
    "tail_mm",
    "tail_state",
    "mass_g",
    "diameter_mm",
    "reproductive_state",
    "gut",
    "condition",
    "died_at",
    "kept_at_c",
    "count",
    "remarks",
]
HEADINGS = {
    "plain": {},
    "trade": {"field_number": "Field no.", "length_mm": "Length [cm]", "mass_g": "Weight (kg)", "tail_mm": "Tail, mm"},
}


def written(animal: Animal, headings: dict[str, str], decimal: str) -> list[str]:
    cells = []
    for name in COLUMNS:
        value = getattr(animal, name)
        if isinstance(value, datetime.datetime):
            text = value.isoformat(sep=" ", timespec="minutes")
        elif isinstance(value, float):
            factor = {"Length [cm]": 10, "Weight (kg)": 1000}.get(headings.get(name, ""), 1)
            # Enough figures that no digit is lost, and never exactly three behind the mark.
            text = f"{value / factor:.7f}".replace(".", decimal)
        else:
            text = "" if value is None else str(value)
        cells.append(text)
    return cells


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    animals(),
    st.sampled_from([";", "\t", ","]),
    st.sampled_from([".", ","]),
    st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
    st.sampled_from(["\n", "\r\n"]),
    st.sampled_from(sorted(HEADINGS)),
    st.integers(0, 3),
)
def test_what_is_written_is_what_is_read(
    tmp_path: Path,
    herd: list[Animal],
    separator: str,
    decimal: str,
    encoding: str,
    line_end: str,
    style: str,
    blanks: int,
) -> None:
    headings = HEADINGS[style]
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=separator, lineterminator=line_end)
    writer.writerow([headings.get(name, name) for name in COLUMNS])
    for animal in herd:
        for _ in range(blanks):
            writer.writerow([""] * len(COLUMNS))
        writer.writerow(written(animal, headings, decimal))
    path = tmp_path / "list.csv"
    path.write_bytes(buffer.getvalue().encode(encoding))
    read = read_list(path)
    assert len(herd) == len(read.animals)
    for expected, got in zip(herd, read.animals, strict=True):
        for name in (*COLUMNS, "length_kind"):
            value = getattr(expected, name)
            if isinstance(value, float):
                # Seven decimals of a centimetre or a kilogram were written.
                assert value == pytest.approx(getattr(got, name), abs=1e-3)
            else:
                assert value == getattr(got, name), name
