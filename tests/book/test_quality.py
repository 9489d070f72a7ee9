"""Published data-quality tests, with cases made from the published rules.

TDWG Biodiversity Data Quality tests, draft for review of 2026-06-03: each test's label, identifier, terms and default
limits (coordinate uncertainty 1 to 20,037,509 m; elevation -430 to 8,850 m; depth 0 to 11,000 m; event date from
1582-11-15; determination from 1753-01-01, overlapping or after the event).
"""

import datetime
import re

import pytest

from keepfast.book import quality
from keepfast.book.quality_dates import duration_s
from keepfast.rules.checks import load

RULES = load()
TODAY = datetime.date(2026, 11, 25)

PASSED, FAILED, NOT = "passed", "failed", "not tested"
CASES = [
    ("EVENTDATE_NOTEMPTY", {"eventDate": "2019-05"}, PASSED),
    ("EVENTDATE_NOTEMPTY", {"eventDate": "  "}, FAILED),
    ("EVENTDATE_STANDARD", {"eventDate": "2019-05-17T21:30+02:00"}, PASSED),
    ("EVENTDATE_STANDARD", {"eventDate": "2019-05-17/19"}, PASSED),
    ("EVENTDATE_STANDARD", {"eventDate": "17.5.2019"}, FAILED),
    ("EVENTDATE_STANDARD", {"eventDate": "2019-02-29"}, FAILED),
    ("EVENTDATE_STANDARD", {"eventDate": "2019-05-17T25:00"}, FAILED),
    ("EVENTDATE_STANDARD", {}, NOT),
    ("EVENTDATE_INRANGE", {"eventDate": "1582-11-15"}, PASSED),
    ("EVENTDATE_INRANGE", {"eventDate": "1582-11-14"}, FAILED),
    ("EVENTDATE_INRANGE", {"eventDate": "2026-11-25"}, PASSED),
    ("EVENTDATE_INRANGE", {"eventDate": "2026-11-26"}, FAILED),
    ("EVENTDATE_INRANGE", {"eventDate": "May 2019"}, NOT),
    ("YEAR_INRANGE", {"year": "1581"}, FAILED),
    ("YEAR_INRANGE", {"year": "2027"}, FAILED),
    ("YEAR_INRANGE", {"year": "1932"}, PASSED),
    ("YEAR_INRANGE", {"year": "about 1932"}, NOT),
    ("DATEIDENTIFIED_INRANGE", {"dateIdentified": "2019-05-16", "eventDate": "2019-05-17"}, FAILED),
    ("DATEIDENTIFIED_INRANGE", {"dateIdentified": "2019-05", "eventDate": "2019-05-17"}, PASSED),
    ("DATEIDENTIFIED_INRANGE", {"dateIdentified": "1752-12-31"}, FAILED),
    ("DATEIDENTIFIED_INRANGE", {"dateIdentified": "2027"}, FAILED),
    ("DATEIDENTIFIED_INRANGE", {"dateIdentified": "2020", "eventDate": "soon"}, NOT),
    ("EVENT_CONSISTENT", {"eventDate": "2020-03-01", "year": "2020", "month": "3", "day": "1"}, PASSED),
    ("EVENT_CONSISTENT", {"eventDate": "2020-03-01", "startDayOfYear": "61", "endDayOfYear": "61"}, PASSED),
    ("EVENT_CONSISTENT", {"eventDate": "2019-03-01", "startDayOfYear": "61"}, FAILED),
    ("EVENT_CONSISTENT", {"eventDate": "2020-03-01/04", "day": "1"}, FAILED),
    ("EVENT_CONSISTENT", {"eventDate": "2019-12-31/2020-01-02", "year": "2019"}, FAILED),
    ("EVENT_CONSISTENT", {"eventDate": "2020-03-01"}, NOT),
    ("MONTH_STANDARD", {"month": "12"}, PASSED),
    ("MONTH_STANDARD", {"month": "13"}, FAILED),
    ("DAY_STANDARD", {"day": "first"}, FAILED),
    ("DAY_INRANGE", {"day": "31", "month": "4"}, FAILED),
    ("DAY_INRANGE", {"day": "29", "month": "2", "year": "2000"}, PASSED),
    ("DAY_INRANGE", {"day": "29", "month": "2", "year": "2100"}, FAILED),
    ("DAY_INRANGE", {"day": "31"}, NOT),
    ("STARTDAYOFYEAR_INRANGE", {"startDayOfYear": "366", "eventDate": "2020"}, PASSED),
    ("STARTDAYOFYEAR_INRANGE", {"startDayOfYear": "366", "eventDate": "2019"}, FAILED),
    ("ENDDAYOFYEAR_INRANGE", {"endDayOfYear": "0"}, FAILED),
    ("DECIMALLATITUDE_INRANGE", {"decimalLatitude": "-90"}, PASSED),
    ("DECIMALLATITUDE_INRANGE", {"decimalLatitude": "90.001"}, FAILED),
    ("DECIMALLATITUDE_INRANGE", {"decimalLatitude": "12 N"}, NOT),
    ("DECIMALLONGITUDE_INRANGE", {"decimalLongitude": "180"}, PASSED),
    ("DECIMALLONGITUDE_INRANGE", {"decimalLongitude": "-180.5"}, FAILED),
    ("COORDINATES_NOTZERO", {"decimalLatitude": "0", "decimalLongitude": "0.0"}, FAILED),
    ("COORDINATES_NOTZERO", {"decimalLatitude": "0", "decimalLongitude": "9.5"}, PASSED),
    ("COORDINATEUNCERTAINTY_INRANGE", {"coordinateUncertaintyInMeters": "0"}, FAILED),
    ("COORDINATEUNCERTAINTY_INRANGE", {"coordinateUncertaintyInMeters": "20037509"}, PASSED),
    ("MINELEVATION_INRANGE", {"minimumElevationInMeters": "-430"}, PASSED),
    ("MAXELEVATION_INRANGE", {"maximumElevationInMeters": "8851"}, FAILED),
    ("MINELEVATION_LESSTHAN_MAXELEVATION", {"minimumElevationInMeters": "9", "maximumElevationInMeters": "8"}, FAILED),
    ("MINELEVATION_LESSTHAN_MAXELEVATION", {"minimumElevationInMeters": "9"}, NOT),
    ("MAXDEPTH_INRANGE", {"maximumDepthInMeters": "11001"}, FAILED),
    ("MINDEPTH_LESSTHAN_MAXDEPTH", {"minimumDepthInMeters": "1", "maximumDepthInMeters": "1"}, PASSED),
    ("COUNTRYCODE_STANDARD", {"countryCode": "PT"}, PASSED),
    ("COUNTRYCODE_STANDARD", {"countryCode": "pt"}, FAILED),
    ("COUNTRYCODE_STANDARD", {"countryCode": "XZ"}, PASSED),
    ("COUNTRY_NOTEMPTY", {"countryCode": "XZ"}, PASSED),
    ("COUNTRY_NOTEMPTY", {"countryCode": "PT"}, FAILED),
    ("COUNTRYCOUNTRYCODE_CONSISTENT", {"country": "Portugal", "countryCode": "ES"}, FAILED),
    ("COUNTRYCOUNTRYCODE_CONSISTENT", {"country": "Portugal", "countryCode": "PT"}, PASSED),
    ("COUNTRY_FOUND", {"country": "Portugal"}, PASSED),
    ("SEX_STANDARD", {"sex": "female"}, PASSED),
    ("SEX_STANDARD", {"sex": "f."}, FAILED),
    ("BASISOFRECORD_STANDARD", {"basisOfRecord": "PreservedSpecimen"}, PASSED),
    ("BASISOFRECORD_STANDARD", {"basisOfRecord": "jar"}, FAILED),
    ("OCCURRENCESTATUS_STANDARD", {"occurrenceStatus": "present"}, PASSED),
    ("LICENSE_STANDARD", {"dcterms:license": "http://creativecommons.org/publicdomain/zero/1.0/legalcode"}, PASSED),
    ("LICENSE_STANDARD", {"dcterms:license": "ask me"}, FAILED),
    ("GEODETICDATUM_STANDARD", {"geodeticDatum": "EPSG:4326"}, PASSED),
    ("GEODETICDATUM_STANDARD", {"geodeticDatum": "unknown"}, FAILED),
    ("POLYNOMIAL_CONSISTENT", {"scientificName": "Hyla molleri", "specificEpithet": "arborea"}, FAILED),
    ("POLYNOMIAL_CONSISTENT", {"scientificName": "Hyla molleri", "genericName": "Hyla"}, PASSED),
    ("LOCATION_NOTEMPTY", {"verbatimLocality": "by the well"}, PASSED),
    ("LOCATION_NOTEMPTY", {}, FAILED),
    ("TAXON_NOTEMPTY", {"family": "Hylidae"}, PASSED),
]  # fmt: skip


@pytest.mark.parametrize(("label", "record", "expected"), CASES)
def test_a_record_gets_the_answer_of_the_published_rule(label, record, expected):
    answer = quality.run(f"VALIDATION_{label}", record, RULES, TODAY)

    assert expected == answer.outcome
    assert answer.why if expected != PASSED else not answer.why
    assert bool(answer.remedy) == (expected == FAILED)


def test_an_animal_of_the_land_at_sea_is_noticed_and_one_of_the_sea_is_not():
    # Mid-Atlantic, and the Alentejo: sea and land on any map.
    sea = {"decimalLatitude": "38.0", "decimalLongitude": "-30.9"}
    land = {"decimalLatitude": "38.0", "decimalLongitude": "-8.0"}
    label = "VALIDATION_COORDINATESTERRESTRIALMARINE_CONSISTENT"

    assert FAILED == quality.run(label, {**sea, "scientificName": "Hyla molleri"}, RULES, TODAY).outcome
    assert PASSED == quality.run(label, {**sea, "scientificName": "Caretta caretta"}, RULES, TODAY).outcome
    assert PASSED == quality.run(label, {**land, "scientificName": "Hyla molleri"}, RULES, TODAY).outcome
    assert NOT == quality.run(label, sea, RULES, TODAY).outcome


def test_an_interval_lasts_to_the_end_of_its_last_day():
    # The draft counts 1880-05-08/10 as three whole days: 259,200 s.
    assert 259_200 == duration_s("1880-05-08/10")
    assert 86_400 * 366 == duration_s("2020")
    assert None is duration_s("spring")


def test_every_published_test_has_its_own_identifier():
    identifiers = list(quality.PUBLISHED.values())

    assert len(identifiers) == len(set(identifiers))
    assert all(re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", one) for one in identifiers)


STRANGE = ["", " ", "null", "\u202e", "é" * 500, "-", "1e400", "٣", "2026-13", "/", "0000-00-00", "9999-12-31/0001"]
DATES = ("eventDate", "year", "month", "day", "startDayOfYear", "endDayOfYear", "dateIdentified")
OTHERS = ("decimalLatitude", "decimalLongitude", "countryCode", "country", "sex", "license", "geodeticDatum")


@pytest.mark.parametrize("text", STRANGE)
def test_no_text_is_too_strange_for_any_test(text):
    record = dict.fromkeys([*DATES, *OTHERS, "scientificName", "minimumElevationInMeters"], text)

    answers = quality.run_all(record, RULES, TODAY)

    assert {answer.outcome for answer in answers} <= {PASSED, FAILED, NOT}
    assert len(quality.PUBLISHED) == len(answers)
