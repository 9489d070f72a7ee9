"""Which column of existing notes means what: the meanings, a proposal from the headings, and the file that keeps it.

A meaning is ``kind.field`` of the book's catalogue, or one of the written forms that are read into several fields.
A column can also be ``kept`` (word for word, in the animal's verbatim record), which is what an unknown one is, or
``left out``. Start with ``propose``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from keepfast.book import animals
from keepfast.exchange.cells import UNITS, folded
from keepfast.exchange.columns import COLUMNS, understand_heading
from keepfast.exchange.files import read_bytes
from keepfast.exchange.safe_files import plain_name
from keepfast.exchange.tables import Row, Rows
from keepfast.findings import Finding, FindingsError
from keepfast.words import _

KEPT = "kept"
LEFT_OUT = "left out"


@dataclass(frozen=True)
class Meaning:
    """What a column can mean: how its cells are read, and other headings for it, folded.

    ``kind``: text, people, length, mass, temperature, count, number, word, moment, when, clock, coordinates.
    """

    name: str
    kind: str
    words: tuple[str, ...] = ()
    also: frozenset[str] = frozenset()

    @property
    def thing(self) -> str:
        """The kind of entry it goes into."""
        return self.name.partition(".")[0]

    @property
    def field(self) -> str:
        """The field of that kind."""
        return self.name.partition(".")[2]


def _also(text: str) -> frozenset[str]:
    return frozenset(folded(part) for part in text.split(",") if part.strip())


# Columns of the list of animals, by where they go in a book. Headings they share with the list are taken from there.
_FROM_LIST = {
    "field_number": "animal.field_number",
    "taxon": "determination.taxon",
    "length_mm": "measurement.length_mm",
    "length_kind": "measurement.length_kind",
    "tail_mm": "measurement.tail_mm",
    "mass_g": "measurement.mass_g",
    "diameter_mm": "measurement.diameter_mm",
    "head_width_mm": "measurement.head_width_mm",
    "snout_vent_mm": "measurement.snout_vent_mm",
    "carapace_mm": "measurement.carapace_mm",
    "total_mm": "measurement.total_mm",
    "egg_diameter_mm": "measurement.egg_diameter_mm",
    "circumference_mm": "measurement.circumference_mm",
}
_LIST_KINDS = {"time": "moment"}

# Darwin Core's own names stand among the other headings; the English, Spanish, French, Portuguese and German ones are
# those that field notes use. (common practice, no published source)
_OWN: tuple[Meaning, ...] = (
    Meaning("animal.bag_number", "text", also=_also("bag,bag number,bag no,bolsa,temporary number")),
    Meaning("animal.by", "people", also=_also("animal collected by")),
    Meaning("animal.found_at", "moment", also=_also("found at,caught at,capture time,time caught,time of capture")),
    Meaning("animal.habitat", "text", also=_also("habitat,microhabitat,substrate,perch,hábitat,sustrato")),
    Meaning("animal.behaviour", "text", also=_also("behaviour,behavior,activity,comportamiento")),
    Meaning("animal.protocol_followed", "text", also=_also("ethics protocol,protocol followed,approved protocol")),
    Meaning("measurement.head_length_mm", "length", also=_also("head length,hl,largo cabeza")),
    Meaning("measurement.forelimb_mm", "length", also=_also("forelimb,forelimb length,fll")),
    Meaning("measurement.hindlimb_mm", "length", also=_also("hindlimb,hind limb,hindlimb length,hll,leg length")),
    Meaning("measurement.how", "text", also=_also("measurement method,measured with,instrument")),
    Meaning("measurement.by", "text", also=_also("measured by,medido por")),
    Meaning("determination.genus", "text", also=_also("genus,género,genre,gattung")),
    Meaning("determination.epithet", "text", also=_also("specific epithet,epithet,epíteto")),
    Meaning("determination.authorship", "text", also=_also("scientific name authorship,authorship,author of name")),
    Meaning("determination.qualifier", "text", also=_also("identification qualifier,qualifier")),
    Meaning(
        "determination.by",
        "text",
        also=_also("identified by,determined by,determiner,det,det by,determinado por,det par,bestimmt von"),
    ),
    Meaning("determination.on", "when", also=_also("date identified,date determined,determination date,det date")),
    Meaning("determination.type_status", "text", also=_also("type status,type")),
    Meaning(
        "event.number",
        "text",
        also=_also("event,event id,event number,station,station number,station no,stop,field event"),
    ),
    Meaning(
        "event.when",
        "when",
        also=_also(
            "date,event date,date collected,collection date,collecting date,date of collection,day,fecha,fecha colecta,"
            "fecha de colecta,data,datum,funddatum,verbatim event date"
        ),
    ),
    Meaning("event.time", "clock", also=_also("time,event time,hour,hora,heure,uhrzeit,time collected")),
    Meaning(
        "event.by",
        "people",
        also=_also(
            "recorded by,collector,collectors,collected by,coll,leg,legit,colector,colectores,collecteur,coletor,"
            "coletores,sammler"
        ),
    ),
    Meaning("event.method", "text", also=_also("method,sampling protocol,collecting method,método")),
    Meaning("event.effort", "text", also=_also("effort,sampling effort,esfuerzo")),
    Meaning("event.weather", "text", also=_also("weather,clima,wetter")),
    Meaning("event.temperature_c", "temperature", also=_also("air temperature,air temp,ambient temperature,temp aire")),
    Meaning("permit.number", "text", also=_also("permit,permit number,permit no,permiso,license,licence")),
    Meaning("place.name", "text", also=_also("place,place name,site,site name,sitio")),
    Meaning(
        "place.verbatim_locality",
        "text",
        also=_also(
            "locality,location,verbatim locality,localidad,localité,localidade,fundort,specific locality,paraje"
        ),
    ),
    Meaning("place.country", "text", also=_also("country,país,pays,land,pais")),
    Meaning("place.country_code", "text", also=_also("country code")),
    Meaning(
        "place.state_province",
        "text",
        also=_also("state province,province,state or province,provincia,departamento,región,region,estado provincia"),
    ),
    Meaning("place.county", "text", also=_also("county,district,distrito,landkreis,comarca")),
    Meaning("place.municipality", "text", also=_also("municipality,municipio,commune,gemeinde")),
    Meaning(
        "place.coordinates",
        "coordinates",
        also=_also(
            "coordinates,verbatim coordinates,coords,lat long,lat lon,latlong,gps,gps coordinates,coordenadas,utm,mgrs,"
            "grid reference,grid ref,koordinaten,coordonnées"
        ),
    ),
    Meaning(
        "place.latitude",
        "coordinates",
        also=_also("latitude,lat,decimal latitude,verbatim latitude,latitud,breite,dec lat,declat"),
    ),
    Meaning(
        "place.longitude",
        "coordinates",
        also=_also("longitude,long,lon,lng,decimal longitude,verbatim longitude,longitud,länge,dec long,declong"),
    ),
    Meaning("place.datum", "text", also=_also("datum,geodetic datum,verbatim srs,dátum,map datum")),
    Meaning(
        "place.uncertainty_m",
        "number",
        also=_also("coordinate uncertainty in meters,coordinate uncertainty,uncertainty m,max error m,radius m"),
    ),
    Meaning(
        "place.gps_accuracy_m", "number", also=_also("gps accuracy,accuracy m,gps accuracy m,gps error,epe,accuracy")
    ),
    Meaning("place.sources", "text", also=_also("coordinate source,georeference sources,source of coordinates")),
    Meaning(
        "place.elevation_m",
        "number",
        also=_also(
            "elevation,altitude,elevation m,altitude m,alt,alt m,elev,elev m,minimum elevation in meters,altitud,höhe,"
            "verbatim elevation,masl,msnm"
        ),
    ),
    Meaning(
        "tissue.number", "text", also=_also("tissue,tissue number,tissue no,tissue id,tejido,sample,sample number")
    ),
    Meaning("tissue.part", "text", also=_also("tissue type,tissue part,tissue kind")),
    Meaning("tissue.medium", "text", also=_also("tissue medium,tissue preservative,buffer")),
    Meaning("jar.number", "text", also=_also("jar,jar number,jar no,container,frasco,glas")),
    Meaning("jar.shelf", "text", also=_also("shelf,cabinet,shelf location")),
    Meaning(
        "catalogue_number.number",
        "text",
        also=_also("catalogue number,catalog number,catalogue no,catalog no,cat no,museum number,museum no"),
    ),
    Meaning("catalogue_number.institution_code", "text", also=_also("institution code,institution,museum")),
    Meaning("catalogue_number.collection_code", "text", also=_also("collection code")),
    Meaning("catalogue_number.accession", "text", also=_also("accession,accession number,accession no")),
)

# Headings that mean different things in different notes: kept word for word until somebody says which.
UNCLEAR = frozenset(
    folded(word)
    for word in ("id", "no", "nr", "number", "status", "state", "estado", "temperature", "temp", "temperatura", "tl",
                 "cl", "girth", "ccl", "x", "y", "easting", "northing", "count", "n", "name", "measure", "head")
)  # fmt: skip


def _all() -> dict[str, Meaning]:
    found = {
        _FROM_LIST.get(c.name, f"animal.{c.name}"): Meaning(
            _FROM_LIST.get(c.name, f"animal.{c.name}"), _LIST_KINDS.get(c.kind, c.kind), c.words, c.also
        )
        for c in COLUMNS
    }
    found.update({meaning.name: meaning for meaning in _OWN})
    found["animal.condition"] = Meaning("animal.condition", "word", animals.CONDITIONS, _also("specimen condition"))
    return found


MEANINGS: Mapping[str, Meaning] = _all()
_OWN_HEADINGS = {
    heading: meaning for meaning in _OWN for heading in {folded(meaning.name), folded(meaning.field), *meaning.also}
    if not (heading == folded(meaning.field) and heading in ("number", "by", "how", "on", "part", "medium", "when"))
}  # fmt: skip
_BY_LIST_NAME = {c.name: _FROM_LIST.get(c.name, f"animal.{c.name}") for c in COLUMNS}


@dataclass(frozen=True)
class Use:
    """What one column of a file is taken for: a meaning, ``kept`` or ``left out``, and its unit where it has one."""

    position: int
    heading: str
    meaning: str
    unit: str = ""
    unclear: bool = False


@dataclass(frozen=True)
class Statement:
    """Which column means what, in one file, and how its times, dates, numbers and letters are to be read."""

    uses: tuple[Use, ...]
    heading_row: int
    zone: str = ""
    language: str = ""
    day_order: str = ""
    decimal: str = ""
    findings: tuple[Finding, ...] = field(default=())

    def meant(self, meaning: str) -> Use | None:
        """The column that means this."""
        return next((use for use in self.uses if use.meaning == meaning), None)

    def as_dict(self) -> dict[str, object]:
        """For the book and for JSON."""
        columns = {use.heading: f"{use.meaning}, {use.unit}" if use.unit else use.meaning for use in self.uses}
        settings = {"zone": self.zone, "language": self.language, "day_order": self.day_order, "decimal": self.decimal}
        return {"heading_row": self.heading_row, "columns": columns, **{k: v for k, v in settings.items() if v}}


def meaning_of(heading: str) -> tuple[str, str, bool]:
    """The meaning proposed for a heading, its unit, and whether the heading is too unclear to say."""
    key = folded(heading)
    if key in MEANINGS_BY_NAME:
        return MEANINGS_BY_NAME[key].name, "", False
    if heading in _BY_LIST_NAME:
        return _BY_LIST_NAME[heading], "", False
    if key in UNCLEAR:
        return KEPT, "", True
    if key in _OWN_HEADINGS:
        return _OWN_HEADINGS[key].name, "", False
    outside = folded(heading.split("(")[0].split("[")[0])
    understood = understand_heading(heading)
    if understood is not None and understood[2] not in ("?",):
        column, unit, measures = understood
        if not measures or measures == column.kind:
            return _BY_LIST_NAME[column.name], unit, outside in UNCLEAR and not unit
    if outside in _OWN_HEADINGS and outside not in UNCLEAR:
        return _OWN_HEADINGS[outside].name, "", False
    return KEPT, "", outside in UNCLEAR


def _settled(headings: Sequence[str]) -> dict[str, tuple[str, str, bool]]:
    """The meaning of each heading in the company of the others."""
    found = {heading: meaning_of(heading) for heading in headings}
    meanings = {meaning for meaning, _unit, _unclear in found.values()}
    for heading in headings:
        # In Darwin Core fieldNumber is the number of the event, and recordNumber that of the animal.
        if heading == "fieldNumber" and "recordNumber" in headings:
            found[heading] = ("event.number", "", False)
        # In Spanish and Portuguese longitud is a length as well as a longitude.
        if found[heading][0] == "place.longitude" and "place.latitude" not in meanings:
            found[heading] = (KEPT, "", True)
    if "animal.field_number" not in meanings:
        bare = [h for h in headings if folded(h) in _BARE_NUMBERS]
        if len(bare) == 1:
            found[bare[0]] = ("animal.field_number", "", True)
    return found


_BARE_NUMBERS = ("id", "no", "nr", "number", "ncampo", "nocampo", "nrcampo")

MEANINGS_BY_NAME = {folded(name): meaning for name, meaning in MEANINGS.items()}


def heading_row(rows: Rows) -> Row | None:
    """The row, among the first thirty, with most headings that mean something; None where no row has any."""
    best, most = None, 0
    for row in rows.rows[:30]:
        count = len({m for cell in row.cells if cell and (m := meaning_of(cell)[0]) != KEPT})
        if count > most:
            best, most = row, count
    return best


def propose(rows: Rows) -> Statement:
    """
    What each column of a file seems to mean.

    Raises
    ------
    FindingsError
        If no row of headings can be found, or no column holds the animals' field numbers.
    """
    head = heading_row(rows)
    if head is None:
        raise FindingsError(
            [
                Finding(
                    _("no row of headings was found"),
                    _("Write what each column holds into its first row."),
                    file=rows.label,
                )
            ]
        )
    uses: list[Use] = []
    findings: list[Finding] = []
    taken: dict[str, Use] = {}
    seen: set[str] = set()
    settled = _settled([cell for cell in head.cells if cell])
    for position, heading in enumerate(head.cells):
        if not heading:
            continue
        meaning, unit, unclear = settled[heading]
        if heading in seen:
            meaning, unit = KEPT, ""
            findings.append(
                Finding(
                    _("two columns have this heading; the second is kept word for word"),
                    _("Give each column a heading of its own."),
                    "doubt",
                    rows.label,
                    head.number,
                    heading,
                )
            )
        elif meaning in taken:
            findings.append(
                Finding(
                    _("this column seems to mean what {other} means; it is kept word for word").format(
                        other=taken[meaning].heading
                    ),
                    _("Say in the columns file which is which."),
                    "doubt",
                    rows.label,
                    head.number,
                    heading,
                )
            )
            meaning, unit = KEPT, ""
        elif unclear:
            findings.append(
                Finding(
                    _("this heading can mean several things; here it is taken as: {meaning}").format(meaning=meaning),
                    _("Say in the columns file what it means."),
                    "doubt",
                    rows.label,
                    head.number,
                    heading,
                )
            )
        use = Use(position, heading, meaning, unit, unclear)
        seen.add(heading)
        uses.append(use)
        if meaning not in (KEPT, LEFT_OUT):
            taken[meaning] = use
    return _checked(Statement(tuple(uses), head.number, findings=tuple(findings)), rows.label)


def _checked(statement: Statement, label: str) -> Statement:
    if statement.meant("animal.field_number") is None:
        raise FindingsError(
            [
                Finding(
                    _("no column holds the animals' field numbers"),
                    _(
                        "Head it field_number, or say in the columns file which column it is. Here are: {headings}."
                    ).format(headings=", ".join(use.heading for use in statement.uses)),
                    file=label,
                    row=statement.heading_row,
                )
            ]
        )
    return statement


# -- the file that keeps it ------------------------------------------------------------------------------------------

_SETTINGS = ("zone", "language", "day_order", "decimal")


def written(statement: Statement, file: str) -> str:
    """The statement as a TOML text to check, change and use again."""
    lines = [
        "# " + _("Which column means what. Check each line, change what is wrong, and read in with --columns."),
        "# "
        + _("A column may also be {kept} (word for word) or {left_out}.").format(
            kept=f'"{KEPT}"', left_out=f'"{LEFT_OUT}"'
        ),
        "# " + _('A unit stands behind a comma, as in "measurement.length_mm, cm".'),
        "# " + _("Meanings: {meanings}").format(meanings=", ".join(sorted(MEANINGS))),
        'subject = "columns"',
        f"file = {_quoted(file)}",
        f"heading_row = {statement.heading_row}",
        f"zone = {_quoted(statement.zone)}  # " + _("of times without an offset, such as Europe/Madrid"),
        f"language = {_quoted(statement.language)}  # " + _("of letters in coordinates, such as es; O is west or east"),
        f"day_order = {_quoted(statement.day_order)}  # " + _("day or month: which comes first in 04/05/2026"),
        f"decimal = {_quoted(statement.decimal)}  # " + _(". or , where the file itself does not tell"),
        "",
        "[columns]",
    ]
    for use in statement.uses:
        value = f"{use.meaning}, {use.unit}" if use.unit else use.meaning
        note = "  # " + _("not clear: say what it means") if use.unclear else ""
        lines.append(f"{_quoted(use.heading)} = {_quoted(value)}{note}")
    seen: set[str] = set()
    kept = []
    for line in lines:
        key = line.partition(" = ")[0]
        if line.startswith('"'):
            if key in seen:
                continue
            seen.add(key)
        kept.append(line)
    return "\n".join(kept) + "\n"


def _quoted(text: str) -> str:
    """A text as a basic string of TOML."""
    out = []
    for character in text:
        if character in '"\\':
            out.append("\\" + character)
        elif character < " " or character == "\x7f":
            out.append(f"\\u{ord(character):04x}")
        else:
            out.append(character)
    return '"' + "".join(out) + '"'


def read_statement(path: str | Path, rows: Rows) -> Statement:
    """
    The statement kept in a file, fitted to this file's headings.

    Raises
    ------
    FindingsError
        If the file is not TOML, names meanings or units that do not exist, or columns that this file has not: all of
        it at once.
    """
    label = plain_name(path)
    raw, _sha = read_bytes(path, 1_000_000)
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise FindingsError([Finding(_("the file is not UTF-8 text"), _("Save it as UTF-8."), file=label)]) from None
    except tomllib.TOMLDecodeError as problem:
        raise FindingsError(
            [
                Finding(
                    _("the file is not TOML: {problem}").format(problem=problem),
                    _("Mend that line and try again."),
                    file=label,
                )
            ]
        ) from None
    found: list[Finding] = []
    columns = data.get("columns")
    if not isinstance(columns, dict):
        raise FindingsError(
            [Finding(_("the columns are missing"), _("It needs a table [columns]."), file=label, field="columns")]
        )
    for key in data:
        if key not in ("subject", "file", "heading_row", "columns", *_SETTINGS):
            found.append(Finding(_("this key means nothing here"), file=label, field=str(key)))
    settings: dict[str, str] = {}
    for key in _SETTINGS:
        value = data.get(key, "")
        allowed = {"day_order": ("", "day", "month"), "decimal": ("", ".", ",")}.get(key)
        if not isinstance(value, str) or (allowed is not None and value not in allowed):
            known = _("Known here: {known}.").format(known=", ".join(a for a in allowed if a)) if allowed else ""
            found.append(
                Finding(_("this value means nothing here"), known, file=label, field=key, read=str(value)[:80])
            )
        else:
            settings[key] = value
    number = data.get("heading_row")
    head = next((row for row in rows.rows if row.number == number), None) if number else heading_row(rows)
    if head is None:
        raise FindingsError(
            [
                *found,
                Finding(_("there is no such row of headings"), file=label, field="heading_row", read=str(number)[:80]),
            ]
        )
    uses, problems = _fitted(columns, head, label)
    found += problems
    if found:
        raise FindingsError(found)
    zone, language, day_order, decimal = (settings.get(key, "") for key in _SETTINGS)
    return _checked(Statement(tuple(uses), head.number, zone, language, day_order, decimal), rows.label)


def _fitted(columns: Mapping[str, object], head: Row, label: str) -> tuple[list[Use], list[Finding]]:
    found: list[Finding] = []
    uses: list[Use] = []
    taken: dict[str, str] = {}
    places: dict[str, int] = {}
    for position, heading in enumerate(head.cells):
        if heading:
            places.setdefault(heading, position)
    for heading, value in columns.items():
        if heading not in places:
            found.append(
                Finding(
                    _("the file that is read has no such column"),
                    _("It has: {headings}.").format(headings=", ".join(places)),
                    file=label,
                    field=str(heading)[:80],
                )
            )
            continue
        if not isinstance(value, str):
            found.append(Finding(_("this should be a text"), file=label, field=heading))
            continue
        meaning, _comma, unit = (part.strip() for part in value.partition(","))
        known = MEANINGS.get(meaning)
        if known is None and meaning not in (KEPT, LEFT_OUT):
            found.append(
                Finding(
                    _("there is no such meaning"),
                    _("Known: {known}.").format(known=", ".join([*sorted(MEANINGS), KEPT, LEFT_OUT])),
                    file=label,
                    field=heading,
                    read=meaning[:80],
                )
            )
            continue
        if unit and (known is None or unit.casefold() not in UNITS.get(known.kind, {})):
            found.append(Finding(_("this unit does not fit the meaning"), file=label, field=heading, read=unit[:80]))
            continue
        if known is not None and meaning in taken:
            found.append(
                Finding(
                    _("two columns mean {meaning}").format(meaning=meaning),
                    _("The other is {other}.").format(other=taken[meaning]),
                    file=label,
                    field=heading,
                )
            )
            continue
        if known is not None:
            taken[meaning] = heading
        uses.append(Use(places[heading], heading, meaning, unit.casefold()))
    named = {use.heading for use in uses} | set(columns)
    uses += [Use(p, h, KEPT) for h, p in places.items() if h not in named]
    return sorted(uses, key=lambda use: use.position), found


def table_of(statement: Statement) -> Sequence[tuple[str, str]]:
    """Heading and meaning of each column, for a person to check."""
    shown = []
    for use in statement.uses:
        words = use.meaning + (f" ({use.unit})" if use.unit else "")
        shown.append((use.heading, words + ("  ?" if use.unclear else "")))
    return shown
