"""A camp file states what it states; the rest is a default that is named."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path

import pytest

from keepfast import demo
from keepfast.exchange.camp import KEYS, read_camp
from keepfast.findings import FindingsError
from keepfast.plan.camp import Camp, Person, Reading, TrayKind


def camp(folder: Path, text: str) -> Camp:
    path = folder / "camp.toml"
    path.write_text(text, encoding="utf-8")
    return read_camp(path).camp


def refused(folder: Path, text: str) -> list[str]:
    with pytest.raises(FindingsError) as caught:
        camp(folder, text)
    assert all(finding.remedy for finding in caught.value.findings)
    return sorted(finding.field for finding in caught.value.findings)


def test_no_file_is_all_defaults_and_every_one_is_named() -> None:
    read = read_camp(None)
    assert Camp() == read.camp
    assert len(read.camp.defaults_used) >= 15


def test_an_empty_file_is_a_camp_too(tmp_path: Path) -> None:
    assert Camp().defaults_used == camp(tmp_path, "").defaults_used


def test_the_demo_camp_states_nearly_everything() -> None:
    read = read_camp(demo.FOLDER / "camp.toml")
    stated = tomllib.loads((demo.FOLDER / "camp.toml").read_text(encoding="utf-8"))
    assert (stated["time_zone"], stated["temperature_c"], stated["shelter"]) == (
        read.camp.time_zone,
        read.camp.temperature_c,
        read.camp.shelter,
    )
    assert (Person("handling", "practised"), Person("recording", "learning")) == read.camp.people
    assert TrayKind(420.0, 297.0, 4) == read.camp.trays[0]
    assert {1.0: 3, 5.0: 2, 20.0: 2} == read.camp.syringes
    assert len(read.camp.defaults_used) <= 3


def test_every_key_is_read_into_its_field(tmp_path: Path) -> None:
    given = {
        "place.name": '"Here"',
        "place.latitude": "1.5",
        "place.longitude": "-2.5",
        "place.elevation_m": "2800",
        "time_zone": '"Asia/Tokyo"',
        "temperature_c": "30",
        "temperature_record": "[{at = 2026-04-18T18:00:00+02:00, temperature_c = 20}]",
        "shelter": '"room"',
        "air_speed_m_s": "0",
        "volume_m3": "14",
        "air_changes_per_h": "3",
        "opening_m2": "1.2",
        "lids": "true",
        "people": '[{role = "handling", skill = "learning"}]',
        "trays": "[{width_mm = 300, height_mm = 200}]",
        "sheets": "3",
        "syringes": "{1 = 2}",
        "needles": "{25 = 2}",
        "stocks.formalin_percent": "40",
        "stocks.formalin_ml": "500",
        "stocks.working_formalin_percent": "8",
        "stocks.working_ml": "900",
        "protocol": '"own.toml"',
        "language": '"en"',
        "jurisdiction": '"germany"',
        "paper": '"letter"',
        "approved_protocol": '"A-1"',
    }
    assert {key.name for key in KEYS} == set(given)
    read = camp(tmp_path, "\n".join(f"{name} = {value}" for name, value in given.items()))
    assert {key.states for key in KEYS} == read.given
    assert () == read.defaults_used
    plain = Camp()
    for key in KEYS:
        # "en" is the default too: the only catalogue that is sure to exist.
        assert key.name == "language" or getattr(read, key.states) != getattr(plain, key.states)
    assert str(tmp_path / "own.toml") == read.protocol


def test_all_that_is_wrong_comes_at_once(tmp_path: Path) -> None:
    assert [
        "air_speed_m_s",
        "lids",
        "needles.5",
        "people[1].skill",
        "place",
        "sheets",
        "shelter",
        "temprature_c",
        "time_zone",
        "trays[1].width_mm",
    ] == refused(
        tmp_path,
        """
        temprature_c = 20
        time_zone = "Europe/Nowhere"
        shelter = "cave"
        air_speed_m_s = "fast"
        sheets = 2.5
        lids = "yes"
        people = [{skill = "tired"}]
        trays = [{width_mm = 5, height_mm = 300}]
        needles = {5 = 1}
        [place]
        latitude = 3
        """,
    )


def test_a_file_that_is_not_toml_says_where(tmp_path: Path) -> None:
    path = tmp_path / "camp.toml"
    path.write_text("temperature_c = \n")
    with pytest.raises(FindingsError, match="line 1"):
        read_camp(path)


def test_a_record_is_put_in_order_and_read_between_its_readings(tmp_path: Path) -> None:
    read = camp(
        tmp_path,
        'time_zone = "Europe/Madrid"\ntemperature_record = [\n'
        " {at = 2026-04-18T20:00:00, temperature_c = 20},\n {at = 2026-04-18T18:00:00, temperature_c = 26}]\n",
    )
    utc = datetime.UTC
    assert [26.0, 20.0] == [reading.temperature_c for reading in read.temperature_record]
    # Halfway between two readings lies their mean, by the straight line that is promised.
    assert 23.0 == read.temperature_at(datetime.datetime(2026, 4, 18, 17, 0, tzinfo=utc))
    assert 26.0 == read.temperature_at(datetime.datetime(2026, 4, 18, 1, 0, tzinfo=utc))
    assert 20.0 == read.temperature_at(datetime.datetime(2026, 4, 19, 1, 0, tzinfo=utc))
    assert not any("temperature" in words for words in read.defaults_used)


def test_a_time_without_an_offset_is_refused() -> None:
    record = (Reading(datetime.datetime(2026, 4, 18, tzinfo=datetime.UTC), 20.0),)
    with pytest.raises(ValueError, match="offset"):
        Camp(temperature_record=record).temperature_at(datetime.datetime(2026, 4, 18))


def test_people_asked_for_on_the_command_line_join_those_stated() -> None:
    learning = Person("handling", "learning")
    assert (learning,) == Camp(people=(learning, learning)).with_people(1).people
    assert 3 == len(Camp().with_people(3).people)
    assert not any("people" in words for words in Camp().with_people(1).defaults_used)
    with pytest.raises(ValueError, match="0 was given"):
        Camp().with_people(0)
