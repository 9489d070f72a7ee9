"""Published data-quality tests over single terms: something is there, is a word of its list, lies within limits."""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from functools import cache
from importlib import resources

from keepfast.book.answers import Answer, failed, not_tested, passed
from keepfast.book.quality_base import Record, number, published, read
from keepfast.rules.checks import CheckRules
from keepfast.science.sea import at_sea
from keepfast.words import _

_LICENCE = re.compile(
    r"https?://creativecommons\.org/(licenses/(by|by-sa|by-nc|by-nd|by-nc-sa|by-nc-nd)/\d\.\d|"
    r"publicdomain/(zero|mark)/1\.0)(/([a-z]{2}/)?(legalcode|deed)(\.[a-z-]+)?)?/?",
    re.IGNORECASE,
)
_LOCATION = (
    "higherGeographyID higherGeography continent country countryCode stateProvince county municipality waterBody island"
    " islandGroup locality locationID verbatimLocality decimalLatitude decimalLongitude verbatimCoordinates"
    " verbatimLatitude verbatimLongitude footprintWKT"
)
_TAXON = (
    "taxonID scientificNameID acceptedNameUsageID parentNameUsageID originalNameUsageID taxonConceptID scientificName"
    " higherClassification kingdom phylum class order superfamily family subfamily tribe subtribe genus genericName"
    " subgenus infragenericEpithet specificEpithet infraspecificEpithet vernacularName cultivarEpithet"
)
_TIME = "eventDate year month day startDayOfYear endDayOfYear verbatimEventDate"


@cache
def countries() -> Mapping[str, str]:
    """ISO 3166-1 codes of two letters, with the English names of the time zone database's list (public domain)."""
    text = (resources.files("tzdata") / "zoneinfo" / "iso3166.tab").read_text(encoding="utf-8")
    rows = (line.split("\t") for line in text.splitlines() if line and not line.startswith("#"))
    return {code: name.strip() for code, name in rows}


@cache
def codes_by_name() -> Mapping[str, str]:
    """Codes by name in small letters; a name in brackets counts too, and one that two countries share does not."""
    found: dict[str, set[str]] = {}
    for code, name in countries().items():
        plain, _bracket, other = name.rstrip(")").partition(" (")
        for one in {name, plain, other} - {""}:
            found.setdefault(one.casefold(), set()).add(code)
    return {name: codes.pop() for name, codes in found.items() if len(codes) == 1}


# Something is there


def _there(label: str, identifier: str, terms: str, remedy: str, empty: str = "") -> None:
    names = terms.split()

    @published(label, identifier)
    def check(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
        del rules, today
        seen = next((text for name in names if (text := read(record, name))), "")
        if seen:
            return passed(label, seen)
        return failed(label, _(empty) if empty else _("{term} is empty").format(term=names[0]), _(remedy))


_there("VALIDATION_EVENTDATE_NOTEMPTY", "f51e15a6-a67d-4729-9c28-3766299d2985", "eventDate", "Say when it was caught.")
_there("VALIDATION_YEAR_NOTEMPTY", "c09ecbf9-34e3-4f3e-b74a-8796af15e59f", "year", "Say at least the year.")
_there(
    "VALIDATION_COUNTRYCODE_NOTEMPTY", "853b79a2-b314-44a2-ae46-34a1e7ed85e4", "countryCode", "Say the country's code."
)
_there(
    "VALIDATION_DECIMALLATITUDE_NOTEMPTY", "7d2485d5-1ba7-4f25-90cb-f4480ff1a275", "decimalLatitude",
    "Give the place coordinates.",
)  # fmt: skip
_there(
    "VALIDATION_DECIMALLONGITUDE_NOTEMPTY", "9beb9442-d942-4f42-8b6a-fcea01ee086a", "decimalLongitude",
    "Give the place coordinates.",
)  # fmt: skip
_there(
    "VALIDATION_GEODETICDATUM_NOTEMPTY", "239ec40e-a729-4a8e-ba69-e0bf03ac1c44", "geodeticDatum",
    "Say the datum, such as EPSG:4326.",
)  # fmt: skip
_there("VALIDATION_LICENSE_NOTEMPTY", "15f78619-811a-4c6f-997a-a4c7888ad849", "license", "Choose a licence.")
_there("VALIDATION_BASISOFRECORD_NOTEMPTY", "ac2b7648-d5f9-48ca-9b07-8ad5879a2536", "basisOfRecord", "Say what it is.")
_there("VALIDATION_OCCURRENCEID_NOTEMPTY", "c486546c-e6e5-48a7-b286-eba7f5ca56c4", "occurrenceID", "Give it an id.")
_there(
    "VALIDATION_OCCURRENCESTATUS_NOTEMPTY", "eb4a17f6-6bea-4cdd-93dd-d5a7e9d1eccf", "occurrenceStatus",
    "Say present for a preserved animal.",
)  # fmt: skip
_there(
    "VALIDATION_SCIENTIFICNAME_NOTEMPTY", "7c4b9498-a8d9-4ebb-85f1-9f200c788595", "scientificName",
    "Write the determination, if only to the family.",
)  # fmt: skip
_there("VALIDATION_TAXONRANK_NOTEMPTY", "14da5b87-8304-4b2b-911d-117e3c29e890", "taxonRank", "Say the name's rank.")
_there("VALIDATION_KINGDOM_NOTEMPTY", "36ed36c9-b1a7-40b2-b5e2-0d012e772098", "kingdom", "Write Animalia.")
_there(
    "VALIDATION_SCIENTIFICNAMEAUTHORSHIP_NOTEMPTY", "49f1d386-5bed-43ae-bd43-deabf7df64fc", "scientificNameAuthorship",
    "Write author and year of the name.",
)  # fmt: skip
_there(
    "VALIDATION_NAMEPUBLISHEDINYEAR_NOTEMPTY", "ff59f77d-71e9-4eb1-aac9-8bd05c50ff70", "namePublishedInYear",
    "Write the year in which the name was published.",
)  # fmt: skip
_there("VALIDATION_DCTYPE_NOTEMPTY", "374b091a-fc90-4791-91e5-c1557c649169", "type", "Write PhysicalObject.")
_there(
    "VALIDATION_LOCATION_NOTEMPTY",
    "58486cb6-1114-4a8a-ba1e-bd89cfe887e9",
    _LOCATION,
    "Say where it was collected.",
    "no word says where",
)
_there(
    "VALIDATION_EVENTTEMPORAL_NOTEMPTY",
    "41267642-60ff-4116-90eb-499fee2cd83f",
    _TIME,
    "Say when it was caught.",
    "no word says when",
)
_there(
    "VALIDATION_TAXON_NOTEMPTY",
    "06851339-843f-4a43-8422-4e61b9a00e75",
    _TAXON,
    "Write a determination.",
    "no word says what it is",
)


@published("VALIDATION_COUNTRY_NOTEMPTY", "6ce2b2b4-6afe-4d13-82a0-390d31ade01c")
def _country_there(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label = "VALIDATION_COUNTRY_NOTEMPTY"
    # XZ is the high seas, which have no country.
    if read(record, "country") or read(record, "countryCode") == "XZ":
        return passed(label, read(record, "country"))
    return failed(label, _("the country is empty"), _("Say the country."))


def _noted(label: str, identifier: str, term: str) -> None:
    @published(label, identifier)
    def check(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
        text = read(record, term)
        if not text:
            return passed(label)
        return failed(label, _("{term} says something").format(term=term), _("Read it before using the record."), text)


_noted("ISSUE_DATAGENERALIZATIONS_NOTEMPTY", "13d5a10e-188e-40fd-a22c-dbaa87b91df2", "dataGeneralizations")
_noted("ISSUE_ESTABLISHMENTMEANS_NOTEMPTY", "acc8dff2-d8d1-483a-946d-65a02a452700", "establishmentMeans")


# It is one of the words of a list


def _listed(label: str, identifier: str, term: str, vocabulary: str, *, also: tuple[str, ...] = ()) -> None:
    @published(label, identifier)
    def check(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
        text = read(record, term)
        if not text:
            return not_tested(label, _("{term} is empty").format(term=term))
        known = {word.lower() for word in rules.words("vocabularies", vocabulary)} | set(also)
        if text.lower() in known:
            return passed(label, text)
        shown = ", ".join(sorted(rules.words("vocabularies", vocabulary))[:12])
        return failed(
            label, _("{term} is no word of its list").format(term=term), _("One of: {shown}.").format(shown=shown), text
        )


_listed("VALIDATION_BASISOFRECORD_STANDARD", "42408a00-bf71-4892-a399-4325e2bc1fb8", "basisOfRecord", "basis_of_record")
_listed("VALIDATION_SEX_STANDARD", "88d8598b-3318-483d-9475-a5acf9887404", "sex", "sex")
_listed(
    "VALIDATION_OCCURRENCESTATUS_STANDARD", "7af25f1e-a4e2-4ff4-b161-d1f25a5c3e47", "occurrenceStatus",
    "occurrence_status", also=("detected", "notdetected"),
)  # fmt: skip
_listed("VALIDATION_DCTYPE_STANDARD", "cdaabb0d-a863-49d0-bc0f-738d771acba5", "type", "dc_type")
_listed("VALIDATION_TAXONRANK_STANDARD", "7bdb13a4-8a51-4ee5-be7f-20693fdb183e", "taxonRank", "rank")
_listed(
    "VALIDATION_ESTABLISHMENTMEANS_STANDARD", "4eb48fdf-7299-4d63-9d08-246902e2857f", "establishmentMeans",
    "establishment_means",
)  # fmt: skip
_listed(
    "VALIDATION_DEGREEOFESTABLISHMENT_STANDARD", "060e7734-607d-4737-8b2c-bfa17788bf1a", "degreeOfEstablishment",
    "degree_of_establishment",
)  # fmt: skip
_listed("VALIDATION_PATHWAY_STANDARD", "5424e933-bee7-4125-839e-d8743ea69f93", "pathway", "pathway")
_listed("VALIDATION_TYPESTATUS_STANDARD", "4833a522-12eb-4fe0-b4cf-7f7a337a6048", "typeStatus", "type_status")


@published("VALIDATION_COUNTRYCODE_STANDARD", "0493bcfb-652e-4d17-815b-b0cce0742fbe")
def _country_code(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_COUNTRYCODE_STANDARD", read(record, "countryCode")
    if not text:
        return not_tested(label, _("countryCode is empty"))
    if text in countries() or text in ("XZ", "ZZ"):
        return passed(label, text)
    return failed(label, _("this is no code of ISO 3166-1"), _("Two capital letters, such as ES."), text)


@published("VALIDATION_COUNTRY_FOUND", "69b2efdc-6269-45a4-aecb-4cb99c2ae134")
def _country_known(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_COUNTRY_FOUND", read(record, "country")
    if not text:
        return not_tested(label, _("country is empty"))
    if text.casefold() in codes_by_name():
        return passed(label, text)
    return not_tested(label, _("the list of countries here has only short English names, and not this one"))


@published("VALIDATION_COUNTRYCOUNTRYCODE_CONSISTENT", "b23110e7-1be7-444a-a677-cdee0cf4330c")
def _country_and_code(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label = "VALIDATION_COUNTRYCOUNTRYCODE_CONSISTENT"
    country, code = read(record, "country"), read(record, "countryCode")
    if not country or not code:
        return not_tested(label, _("country or countryCode is empty"))
    known = codes_by_name().get(country.casefold())
    if known is None:
        return not_tested(label, _("the list of countries here has only short English names, and not this one"))
    if known == code:
        return passed(label, f"{country} {code}")
    why = _("{country} has the code {known}").format(country=country, known=known)
    return failed(label, why, _("Correct the one that is wrong."), code)


@published("VALIDATION_LICENSE_STANDARD", "3136236e-04b6-49ea-8b34-a65f25e3aba1")
def _licence(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_LICENSE_STANDARD", read(record, "license")
    if not text:
        return not_tested(label, _("license is empty"))
    if _LICENCE.fullmatch(text.strip()):
        return passed(label, text)
    remedy = _("Write its address, such as http://creativecommons.org/publicdomain/zero/1.0/legalcode")
    return failed(label, _("this is no address of an open licence"), remedy, text)


@published("VALIDATION_GEODETICDATUM_STANDARD", "7e0c0418-fe16-4a39-98bd-80e19d95b9d1")
def _datum(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, text = "VALIDATION_GEODETICDATUM_STANDARD", read(record, "geodeticDatum")
    if not text:
        return not_tested(label, _("geodeticDatum is empty"))
    if re.fullmatch(r"EPSG:\d{4,5}", text, re.IGNORECASE) or text == "not recorded":
        return passed(label, text)
    return failed(label, _("the datum is no EPSG code"), _("Write EPSG:4326 for WGS84, or: not recorded"), text)


# It lies within limits


def _within(label: str, identifier: str, term: str, low: str | float, high: str | float) -> None:
    @published(label, identifier)
    def check(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
        text = read(record, term)
        value = number(text)
        if value is None:
            return not_tested(label, _("{term} holds no number").format(term=term))
        ends = [rules.number("published", end) if isinstance(end, str) else end for end in (low, high)]
        if ends[0] <= value <= ends[1]:
            return passed(label, text)
        why = _("{term} does not lie between {low:g} and {high:g}").format(term=term, low=ends[0], high=ends[1])
        return failed(label, why, _("Look at the notes again."), text)


_within("VALIDATION_DECIMALLATITUDE_INRANGE", "b6ecda2a-ce36-437a-b515-3ae94948fe83", "decimalLatitude", -90.0, 90.0)
_within(
    "VALIDATION_DECIMALLONGITUDE_INRANGE", "0949110d-c06b-450e-9649-7c1374d940d1", "decimalLongitude", -180.0, 180.0
)
_within(
    "VALIDATION_MINELEVATION_INRANGE", "0bb8297d-8f8a-42d2-80c1-558f29efe798", "minimumElevationInMeters",
    "elevation_low_m", "elevation_high_m",
)  # fmt: skip
_within(
    "VALIDATION_MAXELEVATION_INRANGE", "c971fe3f-84c1-4636-9f44-b1ec31fd63c7", "maximumElevationInMeters",
    "elevation_low_m", "elevation_high_m",
)  # fmt: skip
_within(
    "VALIDATION_MINDEPTH_INRANGE", "04b2c8f3-c71b-4e95-8e43-f70374c5fb92", "minimumDepthInMeters", "depth_low_m",
    "depth_high_m",
)  # fmt: skip
_within(
    "VALIDATION_MAXDEPTH_INRANGE", "3f1db29a-bfa5-40db-9fd1-fde020d81939", "maximumDepthInMeters", "depth_low_m",
    "depth_high_m",
)  # fmt: skip
_within(
    "VALIDATION_COORDINATEUNCERTAINTY_INRANGE", "c6adf2ea-3051-4498-97f4-4b2f8a105f57",
    "coordinateUncertaintyInMeters", "uncertainty_low_m", "uncertainty_high_m",
)  # fmt: skip


def _ordered(label: str, identifier: str, low: str, high: str) -> None:
    @published(label, identifier)
    def check(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
        least, most = number(read(record, low)), number(read(record, high))
        if least is None or most is None:
            return not_tested(label, _("{low} or {high} holds no number").format(low=low, high=high))
        if least <= most:
            return passed(label, f"{least:g} {most:g}")
        why = _("{low} is greater than {high}").format(low=low, high=high)
        return failed(label, why, _("Swap them."), f"{least:g} {most:g}")


_ordered(
    "VALIDATION_MINELEVATION_LESSTHAN_MAXELEVATION", "d708526b-6561-438e-aa1a-82cd80b06396",
    "minimumElevationInMeters", "maximumElevationInMeters",
)  # fmt: skip
_ordered(
    "VALIDATION_MINDEPTH_LESSTHAN_MAXDEPTH", "8f1e6e58-544b-4365-a569-fb781341644e", "minimumDepthInMeters",
    "maximumDepthInMeters",
)  # fmt: skip


@published("VALIDATION_COORDINATES_NOTZERO", "1bf0e210-6792-4128-b8cc-ab6828aa4871")
def _not_zero(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label = "VALIDATION_COORDINATES_NOTZERO"
    texts = read(record, "decimalLatitude"), read(record, "decimalLongitude")
    latitude, longitude = map(number, texts)
    if latitude is None or longitude is None:
        return not_tested(label, _("latitude or longitude holds no number"))
    if latitude == 0 and longitude == 0:
        return failed(
            label, _("both coordinates are zero"), _("Somebody left them empty; look them up."), " ".join(texts)
        )
    return passed(label, " ".join(texts))


@published("VALIDATION_COORDINATESTERRESTRIALMARINE_CONSISTENT", "b9c184ce-a859-410c-9d12-71a338200380")
def _on_its_ground(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label = "VALIDATION_COORDINATESTERRESTRIALMARINE_CONSISTENT"
    latitude, longitude = (number(read(record, term)) for term in ("decimalLatitude", "decimalLongitude"))
    name = read(record, "scientificName")
    if latitude is None or longitude is None or abs(latitude) > 90 or abs(longitude) > 180:
        return not_tested(label, _("the place has no coordinates"))
    if not name or name == "null":
        return not_tested(label, _("the animal has no name"))
    seen = f"{latitude:g} {longitude:g}"
    if name.split()[0] in rules.words("marine", "genera") or not bool(at_sea(latitude, longitude)):
        return passed(label, seen)
    why = _("the place lies at sea, and this is no animal of the sea")
    return failed(label, why, _slip_of_coordinates(latitude, longitude), seen)


def _slip_of_coordinates(latitude: float, longitude: float) -> str:
    """What to do about a place at sea: the slips of the pen under which it would lie on land (the idea of
    AMENDMENT_COORDINATES_TRANSPOSED, f2b4a50a-6b2f-4930-b9df-da87b6a21082, with the shore in place of a border)."""
    slips = (
        (-latitude, longitude, _("the sign of the latitude turned")),
        (latitude, -longitude, _("the sign of the longitude turned")),
        (longitude, latitude, _("latitude and longitude swapped")),
    )
    on_land = [words for a, b, words in slips if abs(a) <= 90 and abs(b) <= 180 and not bool(at_sea(a, b))]
    if not on_land:
        return _("Look at the notes again; the shore is known to about a kilometre.")
    return _("It would lie on land with: {slips}. Look at the notes again.").format(slips=_(" or ").join(on_land))


@published("VALIDATION_COORDINATESCOUNTRYCODE_CONSISTENT", "adb27d29-9f0d-4d52-b760-a77ba57a69c9")
def _in_its_country(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    return not_tested("VALIDATION_COORDINATESCOUNTRYCODE_CONSISTENT", _("no outlines of countries are kept here"))


@published("ISSUE_COORDINATES_CENTEROFCOUNTRY", "256e51b3-1e08-4349-bb7e-5186631c3f8e")
def _centre(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    return not_tested("ISSUE_COORDINATES_CENTEROFCOUNTRY", _("no list of the centres of countries is kept here"))


@published("VALIDATION_POLYNOMIAL_CONSISTENT", "17f03f1f-f74d-40c0-8071-2927cfc9487b")
def _parts_of_name(record: Record, rules: CheckRules, today: datetime.date) -> Answer:
    label, name = "VALIDATION_POLYNOMIAL_CONSISTENT", read(record, "scientificName")
    parts = [read(record, term) for term in ("genericName", "specificEpithet", "infraspecificEpithet")]
    if not name or not any(parts):
        return not_tested(label, _("the name or its parts are empty"))
    words = name.split()
    wrong = [part for place, part in enumerate(parts[:2]) if part and (len(words) <= place or words[place] != part)]
    if parts[2] and parts[2] not in words[2:]:
        wrong.append(parts[2])
    if wrong:
        why = _("{parts} does not stand in the name").format(parts=", ".join(wrong))
        return failed(label, why, _("Correct the part or the name."), name)
    return passed(label, name)
