"""The catalogue: every kind of entry and what it may say.

To add a kind, add it here; nothing is migrated, the state is derived again. ``kinds.py`` reads it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from keepfast.book import animals as a
from keepfast.book.fields import Field
from keepfast.terms import FORMS

STEPS_DONE = ("before", "tissue", "photograph", "prick", "fill", "pose", "cover", "tag", "after")
MEASURES = (
    "length_mm",
    "tail_mm",
    "mass_g",
    "diameter_mm",
    "head_width_mm",
    "head_length_mm",
    "forelimb_mm",
    "hindlimb_mm",
    "clutch_count",
    "retained_ml",
    "temperature_c",
    "ph",
    "strength_percent",
    "shrinkage_fraction",
)


@dataclass(frozen=True)
class Kind:
    """One kind of entry. ``thing``: one of it makes a thing. ``listed``: under what name a thing lists it."""

    name: str
    words: str
    fields: Mapping[str, Field]
    thing: bool = False
    label: str = ""  # the field people know a thing of this kind by
    listed: str = ""
    alone: bool = False  # stands for itself, about nothing


KINDS: dict[str, Kind] = {}


def _kind(
    name: str,
    words: str,
    /,
    *,
    thing: bool = False,
    label: str = "",
    listed: str = "",
    alone: bool = False,
    of: str = "",
    **fields: Field,
) -> None:
    for one in of.split():
        if one == "animals":
            fields[one] = _refs("animal", "The animals this is about.", about=True)
        else:
            fields[one] = _ref(one, f"The {one} this is about.", about=True)
    if thing:
        fields = {name: Field("id", f"The {name} this adds to; left out for a new one.", to=name, about=True), **fields}
    fields["remarks"] = fields.get("remarks", Field("text", "Anything else."))
    fields["verbatim"] = Field("object", "What stood in the notes, exactly, by column or heading.", bulky=True)
    KINDS[name] = Kind(name, words, fields, thing, label, listed or f"{name}s", alone)


def _ref(to: str, words: str, needed: bool = False, about: bool = False) -> Field:
    return Field("id", words, needed, to=to, about=about)


def _refs(to: str, words: str, needed: bool = False, about: bool = False) -> Field:
    return Field("ids", words, needed, to=to, about=about)


_TEXT = Field("text", "")
_DONE_AT = Field("moment", "When it was done; left out, when it was written.")
_BY = Field("text", "Who did it; left out, who wrote it.")

_kind(
    "trip",
    "A trip or a collection that evenings and events belong to.",
    thing=True,
    label="name",
    name=Field("text", "What it is called."),
    start=Field("day", "First day."),
    end=Field("day", "Last day."),
    zone=Field("text", "Time zone by its IANA name; times without an offset are read in it."),
    country_code=Field("text", "ISO 3166-1, two letters."),
    people=Field("texts", "Who went."),
    institution_code=Field("text", "Who keeps the animals."),
    collection_code=Field("text", "In which collection."),
    purpose=Field("text", "What for."),
    settings=Field("object", "Choices for this trip, as plain JSON.", bulky=True),
)
_kind(
    "permit",
    "A permit and what it covers.",
    thing=True,
    label="number",
    number=Field("text", "Its number."),
    issuer=Field("text", "Who gave it."),
    holder=Field("text", "Who holds it."),
    permit_type=Field("text", "Collecting, export, access, ethics ..."),
    status=Field("text", "As the office words it."),
    starts=Field("day", "First day it is good for."),
    ends=Field("day", "Last day it is good for."),
    taxa=Field("texts", "Names it covers; empty for any."),
    most=Field("whole", "How many animals in all.", low=0),
    country_code=Field("text", "Where, ISO 3166-1."),
    states=Field("texts", "States or provinces it covers; empty for all."),
    trip=_ref("trip", "The trip it was got for."),
)
_kind(
    "place",
    "A place, in the words of the notes and in coordinates.",
    thing=True,
    label="name",
    name=Field("text", "What it is called."),
    locality=Field("text", "Specific locality."),
    verbatim_locality=Field("text", "Exactly as written down."),
    country=Field("text", "Country."),
    country_code=Field("text", "ISO 3166-1, two letters."),
    state_province=Field("text", "State or province."),
    county=Field("text", "County or district."),
    municipality=Field("text", "Municipality."),
    latitude=Field("number", "Decimal degrees, WGS84 (EPSG:4326).", low=-90, high=90),
    longitude=Field("number", "Decimal degrees, WGS84 (EPSG:4326).", low=-180, high=180),
    uncertainty_m=Field("number", "Radius that surely holds the place; never 0.", low=0.001, high=20_037_509),
    verbatim_coordinates=Field("text", "Exactly as written down."),
    verbatim_system=Field("text", "Decimal degrees, degrees minutes seconds, UTM ..."),
    verbatim_datum=Field("text", "Datum the written coordinates were in."),
    elevation_low_m=Field("number", "Lowest height above sea.", low=-500, high=9000),
    elevation_high_m=Field("number", "Greatest height above sea.", low=-500, high=9000),
    verbatim_elevation=Field("text", "Exactly as written down."),
    depth_low_m=Field("number", "Least depth under water.", low=0, high=11_000),
    depth_high_m=Field("number", "Greatest depth under water.", low=0, high=11_000),
    protocol=Field("text", "How the coordinates were got, named honestly."),
    sources=Field("text", "Map, receiver, gazetteer."),
    georeferenced_by=Field("text", "Who found the coordinates."),
    georeferenced_on=Field("day", "When."),
    georeference=Field("object", "The reckoning: offsets, bearings, parts of the uncertainty.", bulky=True),
)
_kind(
    "event",
    "A stop, a night, a transect: where and when animals were collected.",
    thing=True,
    label="number",
    number=Field("text", "Its station number (Darwin Core fieldNumber)."),
    trip=_ref("trip", "The trip it belongs to."),
    place=_ref("place", "Where."),
    permits=_refs("permit", "Under which permits."),
    when=Field("when", "Date, moment or interval."),
    verbatim_when=Field("text", "Date and time exactly as written down."),
    by=Field("texts", "Who collected."),
    method=Field("text", "How: by hand, pitfall, at night by lamp ..."),
    effort=Field("text", "How long, how far, how many traps."),
    habitat=Field("text", "Where it sat."),
    weather=Field("text", "Weather."),
    temperature_c=Field("number", "Air.", low=-60, high=60),
)
_kind(
    "animal",
    "An animal, or a lot counted as one, as it was found.",
    thing=True,
    label="field_number",
    field_number=Field("text", "The collector's number (Darwin Core recordNumber)."),
    bag_number=Field("text", "A number for the night only."),
    event=_ref("event", "Where and when it was collected."),
    by=Field("texts", "Who collected it, where not all of the event."),
    form=Field("text", "Body form.", choices=FORMS),
    sex=Field("text", "Sex.", choices=a.SEXES),
    stage=Field("text", "Stage of life.", choices=("", *a.STAGES)),
    tail_state=Field("text", "Tail.", choices=a.TAIL_STATES),
    reproductive_state=Field("text", "What it carries.", choices=a.REPRODUCTIVE_STATES),
    gut=Field("text", "Gut.", choices=("", *a.GUTS)),
    condition=Field("text", "State of the body when it came to the table.", choices=a.CONDITIONS),
    found_at=Field("when", "When it was caught, where the event does not tell."),
    found_dead=Field("flag", "It was dead when found."),
    died_at=Field("moment", "When it died."),
    protocol_followed=Field("text", "Name or number of the approved protocol that was followed."),
    kept_at_c=Field("number", "Temperature it was kept at since.", low=-80, high=60),
    count=Field("whole", "How many, for a lot.", low=1),
    group=Field("text", "Group for a published relation of mass to length."),
    habitat=Field("text", "Where this one sat."),
    behaviour=Field("text", "What it did."),
    parent=_ref("animal", "The animal it came from: clutch, embryo, prey."),
)
_kind(
    "measurement",
    "What was measured, how and by whom.",
    animal=_ref("animal", "Of which animal.", True, True),
    values=Field("numbers", "Names with their unit to numbers.", True, MEASURES, low=0),
    length_kind=Field("text", "What the length means.", choices=a.LENGTH_KINDS),
    state=Field("text", "State of the body.", choices=("alive", "fresh", "fixed", "in storage")),
    how=Field("text", "Instrument or method."),
    step=Field("number", "Smallest step of the instrument, in the unit measured.", low=0),
    by=_BY,
    at=_DONE_AT,
)
_kind(
    "determination",
    "Which species somebody took it for. Older ones are kept.",
    animal=_ref("animal", "Of which animal.", True, True),
    taxon=Field("text", "Name without cf., aff. or sp.", True),
    qualifier=Field("text", "cf., aff. and the like."),
    rank=Field("text", "Rank of the name."),
    authorship=Field("text", "Author and year of the name."),
    higher=Field("object", "Class, order, family, genus ... as the source gave them."),
    verbatim_name=Field("text", "Exactly as written down."),
    on=Field("when", "When it was determined."),
    basis=Field("text", "By what: key, call, sequence, comparison."),
    type_status=Field("text", "Holotype, paratype ..."),
    by=_BY,
)
_kind(
    "preparation_planned",
    "What is to be done to an animal, as it was reckoned.",
    listed="plans",
    animal=_ref("animal", "For which animal.", True, True),
    plan=Field("object", "The plan of this animal.", True, bulky=True),
    protocol=Field("object", "Rules it was made by, with their date."),
    origin=Field("object", "Version, hashes of what went in, seed."),
    evening=_ref("evening", "The evening it was made for."),
    total_ml=Field("number", "Fixative to inject.", low=0),
    total_low_ml=Field("number", "Its 5 % point.", low=0),
    total_high_ml=Field("number", "Its 95 % point.", low=0),
)
_kind(
    "preparation_done",
    "A step of the table that was done, or left out for a reason.",
    listed="done",
    animal=_ref("animal", "To which animal.", True, True),
    step=Field("text", "Which round or act.", True, STEPS_DONE),
    key=Field("text", "Name of the planned step."),
    number=Field("whole", "Number of the prick or injection in the plan.", low=1),
    site=Field("text", "Where on the body."),
    at_mm=Field("number", "From the snout.", low=0),
    gauge=Field("whole", "Needle.", low=10, high=40),
    delivered_ml=Field("number", "Amount that went in.", low=0),
    retained_ml=Field("number", "Amount that stayed in, weighed or read.", low=0),
    outcome=Field("text", "How it went.", choices=("done", "in part", "left out", "failed")),
    reason=Field("text", "Why it was left out or failed."),
    batch=_ref("batch", "Out of which bottle."),
    session=_ref("session", "In which session."),
    by=_BY,
    at=_DONE_AT,
)
_kind(
    "tissue",
    "A sample taken from an animal.",
    thing=True,
    label="number",
    animal=_ref("animal", "From which animal.", False, True),
    number=Field("text", "Its own number."),
    part=Field("text", "Liver, muscle, toe, tail tip, swab ..."),
    medium=Field("text", "What it lies in."),
    container=Field("text", "Tube, plate, box and place."),
    taken_at=_DONE_AT,
    by=_BY,
)
_kind(
    "photograph",
    "A photograph, known by the hash of its file.",
    thing=True,
    label="file",
    of="animal place event jar tray",
    file=Field("text", "Name of the file, without folders."),
    sha256=Field("text", "SHA-256 of the file."),
    taken_at=Field("moment", "When, camera clock corrected."),
    verbatim_taken_at=Field("text", "What the camera wrote."),
    clock_offset_s=Field("number", "Seconds added to the camera's clock."),
    latitude=Field("number", "Where, if the camera knew.", low=-90, high=90),
    longitude=Field("number", "Where, if the camera knew.", low=-180, high=180),
    by=Field("text", "Who took it."),
    living=Field("flag", "The animal was alive."),
    shows=Field("text", "Dorsal, ventral, lateral, head, habitat ..."),
    scale=Field("flag", "A scale is in the picture."),
    licence=Field("text", "Its licence, as an address."),
)
_kind(
    "evening",
    "One evening at the table, with its plan as it was reckoned.",
    thing=True,
    label="name",
    name=Field("text", "What it is called."),
    trip=_ref("trip", "Of which trip."),
    day=Field("day", "The day it began."),
    animals=_refs("animal", "Which animals."),
    plan=Field("object", "The table for the evening.", bulky=True),
    camp=Field("object", "Air, water, hands, needles: what the plan was told.", bulky=True),
    protocol=Field("object", "Rules it was made by, with their date."),
    origin=Field("object", "Version, hashes of what went in, seed."),
)
_kind(
    "session",
    "Work at the table: begun, paused, taken up, handed over, ended.",
    thing=True,
    label="name",
    name=Field("text", "What it is called."),
    evening=_ref("evening", "Of which evening."),
    trip=_ref("trip", "Of which trip."),
    people=Field("texts", "Who works."),
)
_kind(
    "session_change",
    "A session paused, resumed, handed over or ended.",
    listed="changes",
    session=_ref("session", "Which session.", True, True),
    change=Field("text", "What.", True, ("started", "paused", "resumed", "handed over", "ended")),
    to=Field("text", "To whom it was handed over."),
    reason=Field("text", "Why."),
    at=_DONE_AT,
)
_kind(
    "tray",
    "A hardening tray.",
    thing=True,
    label="number",
    number=Field("text", "Its number or name."),
    evening=_ref("evening", "Of which evening."),
    width_mm=Field("number", "Inside.", low=0),
    height_mm=Field("number", "Inside.", low=0),
    batch=_ref("batch", "Fixative in it."),
    fixative_ml=Field("number", "How much.", low=0),
    covered_at=Field("moment", "When the covering sheet was wetted and the lid closed."),
)
_kind(
    "tray_reading",
    "A reading at a tray.",
    listed="readings",
    tray=_ref("tray", "Which tray.", True, True),
    temperature_c=Field("number", "Temperature.", low=-40, high=70),
    ph=Field("number", "pH.", low=0, high=14),
    strength_percent=Field("number", "Formaldehyde, mass percent.", low=0, high=50),
    firm=Field("text", "What the finger found.", choices=("soft", "yielding", "firm", "hard")),
    how=Field("text", "Instrument."),
    by=_BY,
    at=_DONE_AT,
)
_kind(
    "temperatures",
    "What a logger wrote.",
    listed="logged",
    of="trip tray evening batch",
    where=Field("text", "What it hung in: air, tray, box ..."),
    logger=Field("text", "Which logger."),
    at=Field("texts", "Moments with an offset.", True, bulky=True),
    temperature_c=Field("object", "Values under 'values', in the order of the moments.", True, bulky=True),
    first=Field("moment", "First moment."),
    last=Field("moment", "Last moment."),
    low_c=Field("number", "Lowest."),
    high_c=Field("number", "Highest."),
    file=Field("text", "File it came from."),
    sha256=Field("text", "Its hash."),
)
_kind(
    "batch",
    "A bottle of fluid that was mixed or bought.",
    listed="batches",
    thing=True,
    label="name",
    name=Field("text", "Written on the bottle."),
    fluid=Field("text", "What it is.", choices=("formalin", "ethanol", "isopropanol", "water", "other")),
    strength_percent=Field("number", "Volume percent for alcohol, mass percent formaldehyde for formalin.", low=0),
    volume_ml=Field("number", "How much was made.", low=0),
    mixed_at=Field("moment", "When."),
    ph=Field("number", "pH after mixing.", low=0, high=14),
    buffer=Field("text", "Buffer and how much."),
    made_from=Field("object", "What went in, in millilitres and grams."),
    by=_BY,
)
_kind(
    "step",
    "A change of fluid: what moved from which bath to which.",
    of="animals tray jar",
    from_fluid=Field("text", "Out of what."),
    from_percent=Field("number", "Its strength.", low=0, high=100),
    to_fluid=Field("text", "Into what."),
    to_percent=Field("number", "Its strength.", low=0, high=100),
    measured_percent=Field("number", "Strength read off an instrument.", low=0, high=100),
    volume_ml=Field("number", "How much fluid.", low=0),
    batch=_ref("batch", "From which bottle."),
    rinsed_h=Field("number", "Rinsed in water for so long.", low=0),
    at=_DONE_AT,
    by=_BY,
)
_kind(
    "jar",
    "A jar on a shelf.",
    thing=True,
    label="number",
    number=Field("text", "What is written on it."),
    volume_ml=Field("number", "It holds.", low=0),
    lid=Field("text", "Lid and seal."),
    shelf=Field("text", "Room, cabinet, shelf."),
    fluid=Field("text", "What fluid."),
    strength_percent=Field("number", "Its strength.", low=0, high=100),
    batch=_ref("batch", "From which bottle."),
)
_kind(
    "moved",
    "Animals laid in a tray, put into a jar, or taken out.",
    listed="moves",
    animals=_refs("animal", "Which animals.", True, True),
    tray=_ref("tray", "Into which tray."),
    jar=_ref("jar", "Into which jar."),
    out_of=Field("text", "Taken out, to where: loan, other collection, lost, used up."),
    places=Field("objects", "Where each lies, in the order of the animals: x_mm, y_mm, width_mm, height_mm, turned."),
    at=_DONE_AT,
    by=_BY,
)
_kind(
    "catalogue_number",
    "The number a collection gave.",
    animal=_ref("animal", "To which animal.", about=True),
    tissue=_ref("tissue", "Or to which tissue.", about=True),
    number=Field("text", "The number, as text.", True),
    institution_code=Field("text", "Who keeps it."),
    collection_code=Field("text", "In which collection."),
    accession=Field("text", "Accession number."),
    on=Field("day", "When."),
    by=_BY,
)
_kind(
    "attachment",
    "A file that belongs to something, known by the hash of its content.",
    of="trip permit place event animal tissue tray jar batch",
    file=Field("text", "Name of the file, without folders.", True),
    sha256=Field("text", "SHA-256 of the file.", True),
    bytes=Field("whole", "Its size.", low=0),
    media_type=Field("text", "Its media type."),
)
_kind(
    "condition",
    "What was found when the tray, the bath or, years later, the jar was opened.",
    of="animal tray jar",
    at=_DONE_AT,
    after_h=Field("number", "Hours since the fixative went in, if known.", low=0),
    firmness=Field("text", "To the finger.", choices=("soft", "yielding", "firm", "hard")),
    soft_where=Field("texts", "Where it is soft: gut, trunk, tail base, limbs, head ..."),
    skin_slip=Field("text", "Skin.", choices=("none", "a little", "much")),
    brittle_tail=Field("flag", "The tail breaks."),
    colour=Field("text", "Colour kept or lost."),
    bloated=Field("flag", "Gas in the body."),
    smell=Field("text", "Smell."),
    fluid_colour=Field("text", "Fluid: clear, yellow, brown, cloudy."),
    fluid_level_percent=Field("number", "How full the jar stands.", low=0, high=100),
    strength_percent=Field("number", "Strength of the fluid.", low=0, high=100),
    ph=Field("number", "pH of the fluid.", low=0, high=14),
    by=_BY,
)
_kind(
    "correction",
    "Other values for an entry, or its withdrawal. The entry itself stays as it was written.",
    entry=Field("id", "Which entry.", True),
    of_kind=Field("text", "The kind of that entry.", True),
    set=Field("object", "Fields and their right values; null for one that should be empty."),
    withdraw=Field("flag", "The entry should not have been made."),
    reason=Field("text", "Why.", True),
)
_kind(
    "finding_accepted",
    "A finding of the checks that somebody looked at and lets stand, with the reason.",
    listed="accepted",
    of="animal event place jar tray tissue trip permit photograph series",
    check=Field("text", "Name of the check.", True),
    seen=Field("text", "What the check had read; another value brings the finding back."),
    reason=Field("text", "Why it stands.", True),
    by=_BY,
)
_kind(
    "series",
    "A series of numbers: a collector's own, or one set up for a trip.",
    listed="series",
    thing=True,
    label="name",
    name=Field("text", "What it is called."),
    prefix=Field("text", "What stands before the number, with its space or hyphen.", exact=True),
    suffix=Field("text", "What stands after it.", exact=True),
    width=Field("whole", "Digits, filled with zeros; 0 for none.", low=0, high=12),
    first=Field("whole", "First number.", low=0),
    last=Field("whole", "Last number, if it ends.", low=0),
    use=Field("text", "For what.", choices=("animal", "event", "tissue", "jar", "catalogue", "tray", "other")),
    holder=Field("text", "Whose series it is."),
    trip=_ref("trip", "For which trip."),
)
_kind(
    "number_block",
    "Numbers set aside for one device, so that two that are apart cannot give out the same.",
    listed="blocks",
    series=_ref("series", "Of which series.", True, True),
    device=Field("text", "For which device.", True),
    first=Field("whole", "First number.", True, low=0),
    last=Field("whole", "Last number.", True, low=0),
)
_kind(
    "number_given",
    "A number given out. It is never given again, whatever becomes of it.",
    alone=True,  # a series of ten thousand would else be derived anew for each
    series=_ref("series", "Of which series.", True),
    number=Field("whole", "The number.", True, low=0),
    device=Field("text", "By which device.", True),
    to=Field("text", "For what."),
)
_kind(
    "number_explained",
    "Why numbers of a series are not there.",
    listed="explained",
    series=_ref("series", "Of which series.", True, True),
    first=Field("whole", "First number.", True, low=0),
    last=Field("whole", "Last number.", True, low=0),
    reason=Field("text", "Why.", True),
)
_kind(
    "decision",
    "What was decided, and on what reckoning: tonight's race, a watch, the alcohol steps.",
    of="animals tray jar evening trip",
    reckoning=Field("text", "Which: plan, race, watch, steps, shelf ...", True),
    choice=Field("text", "What was decided.", True),
    reason=Field("text", "Why."),
    result=Field("object", "What the reckoning said.", bulky=True),
    origin=Field("object", "Version, hashes of what went in, seed."),
    at=_DONE_AT,
)
_kind(
    "sign_off",
    "Somebody looked it over and stands for it.",
    of="animals tray jar evening session trip",
    words=Field("text", "For what."),
    by=_BY,
    at=_DONE_AT,
)
_kind(
    "reading_in",
    "A file that was read in: its name, its hash, and how its columns were understood.",
    alone=True,
    file=Field("text", "Name of the file, without folders.", True),
    sha256=Field("text", "Its hash.", True),
    sort=Field("text", "List, waypoints, photographs, logger ..."),
    columns=Field("object", "Which column means what.", bulky=True),
    rows=Field("whole", "How many rows.", low=0),
    entries=Field("whole", "How many entries came of it.", low=0),
    trip=_ref("trip", "Into which trip."),
)
