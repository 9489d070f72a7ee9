"""The columns of a list of animals: names, meaning, vocabulary, and the other names the trade gives them.

One table serves the reader, the template and the documentation. Start with ``COLUMNS`` and ``understand``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from keepfast.book import animals
from keepfast.exchange.cells import CANONICAL, UNITS, folded
from keepfast.findings import Finding
from keepfast.terms import FORMS
from keepfast.words import _


@dataclass(frozen=True)
class Column:
    """One column: what stands in it and how else it may be headed.

    ``kind`` is text, length, mass, temperature, count, word or time; ``headings`` are other names the trade gives it.
    """

    name: str
    kind: str
    meaning: str
    example: str = ""
    required: str = ""  # "", "yes", or in words
    words: tuple[str, ...] = ()
    headings: tuple[str, ...] = ()
    in_template: bool = True

    @property
    def also(self) -> frozenset[str]:
        """The other headings as they are compared."""
        return frozenset(folded(heading) for heading in self.headings)

    @property
    def unit(self) -> str:
        """The unit that the name promises, as people write it."""
        return {"length": "mm", "mass": "g", "temperature": "°C"}.get(self.kind, "")


def _also(text: str) -> tuple[str, ...]:
    return tuple(text.split(","))


def _marked(text: str) -> str:
    """Marks a text for the catalogue; it is translated where it is shown."""
    return text


COLUMNS: tuple[Column, ...] = (
    Column(
        "field_number",
        "text",
        _marked("The number on the animal's tag. Each one once; the same number never comes twice in a list."),
        "IB-07",
        required="yes",
        headings=_also(
            "field no,field nr,field num,field id,number,no,nr,id,specimen,specimen number,specimen no,specimen id,"
            "collector number,collectors number,collection number,voucher,voucher number,tag,tag number,field tag,"
            "record number,catalog number,catalogue number,numero,numero de campo,campo"
        ),
    ),
    Column(
        "taxon",
        "text",
        _marked("Genus and species as determined in the field; a genus alone or nothing will do."),
        "Timon lepidus",
        headings=_also(
            "species,sp,spp,scientific name,latin name,taxon name,name,determination,identification,especie,"
            "identified as"
        ),
    ),
    Column(
        "form",
        "word",
        _marked("The kind of body, which decides how it is treated."),
        "lizard",
        required="yes",
        words=FORMS,
        headings=_also("body form,body type,kind of animal,type of animal,animal,forma"),
    ),
    Column(
        "sex",
        "word",
        _marked("male, female or unknown; m and f will do."),
        "female",
        words=animals.SEXES,
        headings=_also("sexo,gender"),
    ),
    Column(
        "stage",
        "word",
        _marked("How far it has grown."),
        "adult",
        words=animals.STAGES,
        headings=_also("age,age class,life stage,ontogenetic stage,stage of life,edad"),
    ),
    Column(
        "length_mm",
        "length",
        _marked(
            "Snout to vent, unless length_kind says otherwise. Of a turtle the straight carapace, of a larva the total"
            " length, of an egg clutch the diameter of one egg."
        ),
        "182",
        required="length or mass",
        headings=_also("length,body length,longitud"),
    ),
    Column(
        "length_kind",
        "word",
        _marked("What was measured, where it is not the usual length of the form."),
        "snout_vent",
        words=animals.LENGTH_KINDS,
        headings=_also("kind of length,length type,type of length,length measured,measure"),
    ),
    Column(
        "tail_mm",
        "length",
        _marked("Vent to tip of tail, as much of it as is there."),
        "240",
        headings=_also("tail,tail length,tail len,tal,cola,longitud cola,tail l"),
    ),
    Column(
        "tail_state",
        "word",
        _marked("Whole, broken or regrown."),
        "whole",
        words=animals.TAIL_STATES,
        headings=_also("tail condition,tail status,state of tail,estado cola"),
    ),
    Column(
        "mass_g",
        "mass",
        _marked(
            "As weighed; of an egg clutch or a lot of larvae all together. Missing: it is estimated, with a range."
        ),
        "148",
        required="length or mass",
        headings=_also("mass,weight,body mass,body weight,bm,wt,peso,masa"),
    ),
    Column(
        "diameter_mm",
        "length",
        _marked("Trunk at its thickest, read off callipers. The best measure there is of how much fluid it takes."),
        "38",
        headings=_also("diameter,trunk diameter,body diameter,trunk width,body width,callipers,thickest,diametro"),
    ),
    Column(
        "head_width_mm",
        "length",
        _marked("Head at its widest."),
        "31",
        headings=_also("head width,head breadth,hw,head,ancho cabeza"),
    ),
    Column(
        "reproductive_state",
        "word",
        _marked("What a hand feels or an eye sees in the belly: none, follicles, eggs or embryos."),
        "follicles",
        words=animals.REPRODUCTIVE_STATES,
        headings=_also("reproductive,reproduction,repro,repro state,reproductive condition,gravid,estado reproductor"),
    ),
    Column(
        "gut",
        "word",
        _marked("Whether it has eaten: empty or full. Decay starts in a full gut."),
        "full",
        words=animals.GUTS,
        headings=_also("gut content,gut contents,stomach,stomach content,gut state,fed"),
    ),
    Column(
        "condition",
        "word",
        _marked("How it is now: alive, fresh, rigor, iced, frozen, bloated, damaged or decaying."),
        "fresh",
        words=animals.CONDITIONS,
        headings=_also("state,specimen condition,status,estado"),
    ),
    Column(
        "died_at",
        "time",
        _marked("When it died, as 2026-04-12 14:30. Without an offset it is read in the camp's time zone."),
        "2026-04-12 14:30",
        headings=_also(
            "died,time of death,death,death time,date of death,dead since,dead at,time died,muerte,hora muerte"
        ),
    ),
    Column(
        "kept_at_c",
        "temperature",
        _marked("The temperature it has lain in since."),
        "18",
        headings=_also("kept at,keeping temperature,storage temperature,stored at,temperature,temp,temperatura"),
    ),
    Column(
        "count",
        "count",
        _marked("How many eggs of a clutch, or larvae in a lot. Of all others there is one a row."),
        "1",
        headings=_also(
            "n,number of eggs,eggs,egg count,clutch size,quantity,individual count,how many,number of individuals"
        ),
    ),
    Column(
        "remarks",
        "text",
        _marked("Anything else."),
        "",
        headings=_also("remark,notes,note,comments,comment,organism remarks,observaciones,notas"),
    ),
    # Lengths under names that say their kind. They are read where they are met, and are not in the template.
    Column(
        "snout_vent_mm",
        "length",
        _marked("Snout to vent, under its own name."),
        in_template=False,
        headings=_also(
            "svl,snout vent,snout vent length,snout to vent,snout to vent length,sv length,lcc,lhc,length svl"
        ),
    ),
    Column(
        "carapace_mm",
        "length",
        _marked("Straight carapace length, under its own name."),
        in_template=False,
        headings=_also("carapace,carapace length,straight carapace length,straight carapace,scl"),
    ),
    Column(
        "total_mm",
        "length",
        _marked("Snout to tip of tail. With the tail known it gives the length to the vent."),
        in_template=False,
        headings=_also("total length,total,overall length,length total,longitud total"),
    ),
    Column(
        "egg_diameter_mm",
        "length",
        _marked("Diameter of one egg, under its own name."),
        in_template=False,
        headings=_also("egg diameter,diameter of eggs,diameter of egg,egg size"),
    ),
    Column(
        "circumference_mm",
        "length",
        _marked("A tape around the trunk; divided by pi it stands for the diameter."),
        in_template=False,
        headings=_also("circumference,trunk circumference,body circumference"),
    ),
)
BY_NAME = {column.name: column for column in COLUMNS}
TEMPLATE = tuple(column for column in COLUMNS if column.in_template)

# Headings that mean different things to different people: never taken for one of them.
UNCLEAR = {
    "tl": _marked("TL may be the tail or the total length; head the column tail_mm or total_mm."),
    "cl": _marked("CL may be the carapace or the clutch; head the column carapace_mm or count."),
    "girth": _marked("Girth may be a diameter or the way around; head the column diameter_mm or circumference_mm."),
    "ccl": _marked("A curved carapace is not a straight one; measure it with callipers as length_mm."),
    "date": _marked("If this is when the animals died, head the column died_at and write day and time."),
    "time": _marked("If this is when the animals died, head the column died_at and write day and time."),
}

# Other words of the trade for words of the vocabularies, folded. English, Spanish and Portuguese are met in the field.
WORDS_ALSO: dict[str, dict[str, str]] = {
    "form": {
        **dict.fromkeys(
            ("gecko", "agama", "chameleon", "lacertid", "iguana", "lagarto", "lagartija", "lagartixa"), "lizard"
        ),
        **dict.fromkeys(("slowworm", "legless", "glasslizard", "leglesslizard", "legreducedlizard"), "legless_lizard"),
        **dict.fromkeys(
            ("viper", "colubrid", "serpent", "serpiente", "culebra", "vibora", "cobra", "serpente"), "snake"
        ),
        **dict.fromkeys(("wormlizard", "amphisbaena", "culebrillaciega"), "amphisbaenian"),
        **dict.fromkeys(("tortoise", "terrapin", "chelonian", "tortuga", "galapago", "tartaruga", "cagado"), "turtle"),
        **dict.fromkeys(("crocodile", "alligator", "caiman", "cocodrilo", "crocodilo"), "crocodilian"),
        **dict.fromkeys(("toad", "treefrog", "anuran", "rana", "sapo", "ra", "frogortoad"), "frog"),
        **dict.fromkeys(("newt", "salamandra", "triton", "tritao", "gallipato", "urodele", "caudate"), "salamander"),
        **dict.fromkeys(("tadpole", "renacuajo", "girino", "tadpoles", "larvae"), "larva"),
        **dict.fromkeys(("eggs", "clutch", "egg", "spawn", "eggmass", "puesta", "huevos", "ovos"), "egg_clutch"),
    },
    "sex": {
        **dict.fromkeys(("m", "♂", "macho", "males", "mal"), "male"),
        **dict.fromkeys(("f", "♀", "hembra", "femea", "h", "fem", "females"), "female"),
        **dict.fromkeys(("u", "unk", "unsexed", "indet", "undetermined", "desconocido", "notsexed"), "unknown"),
    },
    "stage": {
        **dict.fromkeys(("a", "ad", "adulto", "adulta", "adults", "mature"), "adult"),
        **dict.fromkeys(("sa", "sub", "subad", "subadulto", "immature"), "subadult"),
        **dict.fromkeys(("j", "juv", "juvenil", "young", "juveniles"), "juvenile"),
        **dict.fromkeys(("hatch", "neonate", "newborn", "hatchlings"), "hatchling"),
        **dict.fromkeys(("tadpole", "larvae", "larval"), "larva"),
        **dict.fromkeys(("metamorphosing", "metamorphosed", "froglet", "toadlet"), "metamorph"),
        **dict.fromkeys(("eggs", "clutch"), "egg"),
    },
    "length_kind": {
        **dict.fromkeys(("svl", "snouttovent", "snoutventlength", "sv"), "snout_vent"),
        **dict.fromkeys(("totallength", "tl", "snouttotail"), "total"),
        **dict.fromkeys(
            ("carapace", "scl", "straightcarapace", "straightcarapacelength", "carapacelength"), "carapace_straight"
        ),
        **dict.fromkeys(("egg", "diameter", "diameterofegg"), "egg_diameter"),
    },
    "tail_state": {
        **dict.fromkeys(("complete", "intact", "original", "w", "entire", "full", "entera"), "whole"),
        **dict.fromkeys(
            ("cut", "missing", "autotomised", "autotomized", "b", "lost", "stub", "brokentip", "rota"), "broken"
        ),
        **dict.fromkeys(("regenerated", "regenerating", "r", "regen", "regrowing", "regenerada"), "regrown"),
    },
    "reproductive_state": {
        **dict.fromkeys(("no", "nongravid", "notgravid", "nonreproductive"), "none"),
        **dict.fromkeys(("yolk", "yolky", "yolked", "vitellogenic", "follicle", "yolkedfollicles"), "follicles"),
        **dict.fromkeys(("egg", "oviducaleggs", "oviductaleggs", "shelledeggs", "oviductal"), "eggs"),
        **dict.fromkeys(("embryo", "foetuses", "fetuses"), "embryos"),
    },
    "gut": {
        **dict.fromkeys(("no", "e", "nothing", "fasted"), "empty"),
        **dict.fromkeys(("yes", "f", "fed", "food", "prey"), "full"),
    },
    "condition": {
        **dict.fromkeys(("live", "living", "vivo", "viva"), "alive"),
        **dict.fromkeys(("good", "freshlydead", "justdead", "fresca", "fresco"), "fresh"),
        **dict.fromkeys(("stiff", "rigormortis", "inrigor"), "rigor"),
        **dict.fromkeys(("onice", "chilled", "cooled", "ice"), "iced"),
        **dict.fromkeys(("deepfrozen", "thawed", "congelado"), "frozen"),
        **dict.fromkeys(("swollen", "bloat"), "bloated"),
        **dict.fromkeys(("injured", "crushed", "roadkill", "torn"), "damaged"),
        **dict.fromkeys(("decayed", "rotten", "rotting", "putrid", "decomposing", "decomposed"), "decaying"),
    },
}

# Words that are met and say too little to act on: what to write instead.
TOO_LITTLE: dict[str, dict[str, str]] = {
    "reproductive_state": dict.fromkeys(
        ("gravid", "pregnant", "ripe", "reproductive", "yes", "y", "gravida", "prenada", "gravido"),
        _marked("Write what is in the belly: follicles, eggs or embryos."),
    ),
    "condition": dict.fromkeys(
        ("dead", "muerto", "muerta", "morto", "morta"),
        _marked("Write how it is now: fresh if it is limp, rigor if stiff, decaying if the belly is soft."),
    ),
}


@dataclass(frozen=True)
class Heading:
    """A column of a file that was understood: where it stands, what it is, and in which unit."""

    position: int
    written: str
    column: Column
    unit: str = ""  # of a time its zone; "" where the heading does not say and the cell's own or the usual one counts


@dataclass(frozen=True)
class Headings:
    """What the headings of a file were taken for."""

    known: dict[str, Heading] = field(default_factory=dict)  # by column name
    width: int = 0  # cells up to the last heading that says something
    findings: tuple[Finding, ...] = ()


def _variants() -> dict[str, Column]:
    table: dict[str, Column] = {}
    for column in COLUMNS:
        for name in {folded(column.name), *column.also}:
            table[name] = column
        bare = folded(column.name.removesuffix(f"_{CANONICAL.get(column.kind, '')}"))
        table.setdefault(bare, column)
    return table


_VARIANTS = _variants()
_UNIT_NAMES = sorted(
    {(unit + ending, unit, kind) for kind, units in UNITS.items() for unit in units for ending in ("", "s")},
    key=lambda item: -len(item[0]),
)


def understand_heading(text: str) -> tuple[Column, str, str] | None:
    """The column a heading means, the unit it states ("" for none), and what that unit measures; None for unknown."""
    key = folded(text)
    for column in COLUMNS:
        if key == folded(column.name):
            return column, CANONICAL.get(column.kind, ""), column.kind
    if key in _VARIANTS:
        return _VARIANTS[key], "", ""
    for ending, unit, kind in _UNIT_NAMES:
        if not key.endswith(ending):
            continue
        base = key[: -len(ending)]
        for stem in (base, base.removesuffix("in"), base.removesuffix("deg"), base.removesuffix("degrees")):
            found = _VARIANTS.get(stem)
            if found is not None and found.kind in CANONICAL and found.kind != "count":
                return found, unit, kind
    # What stands in brackets may be anything: "Sex (m/f)", "Remarks (free)".
    outside = folded(text.split("(")[0].split("[")[0])
    found = _VARIANTS.get(outside)
    if found is None:
        return None
    if found.kind == "time":
        return found, text[len(text.split("(")[0].split("[")[0]) :].strip(" ()[]"), "time"
    return (found, "", "") if found.kind not in CANONICAL else (found, "", "?")


def understand(cells: Sequence[str], file: str, row: int) -> Headings:
    """
    What each heading of a row means.

    An unknown column is a note and is not read; an unclear one is a doubt; two columns for one thing, and a unit that
    cannot be, are errors.
    """
    known: dict[str, Heading] = {}
    findings: list[Finding] = []
    width = 0
    for position, written in enumerate(cells):
        if not written:
            continue
        width = position + 1
        unclear = _unclear(written)
        if unclear:
            findings.append(
                Finding(
                    _("this heading is not clear, so the column was not read"), unclear, "doubt", file, row, written
                )
            )
            continue
        understood = understand_heading(written)
        if understood is None:
            findings.append(
                Finding(
                    _("this column is not known and was not read"),
                    _("Rename it if the plan needs it."),
                    "note",
                    file,
                    row,
                    written,
                )
            )
            continue
        column, unit, measures = understood
        if measures and measures != column.kind:
            findings.append(
                Finding(
                    _("the unit in this heading is not known here"),
                    _("Write a unit of the right kind, such as {name}.").format(name=column.name),
                    file=file,
                    row=row,
                    field=written,
                    read=written,
                )
            )
        elif column.name in known:
            findings.append(
                Finding(
                    _("two columns stand for {name}").format(name=column.name),
                    _("Keep one of them; the other is {other}.").format(other=known[column.name].written),
                    file=file,
                    row=row,
                    field=written,
                    read=written,
                )
            )
        else:
            known[column.name] = Heading(position, written, column, unit)
            if not unit and column.kind in ("length", "mass", "temperature"):
                findings.append(
                    Finding(
                        _("this heading names no unit; {unit} was taken").format(unit=column.unit),
                        _("Write it into the heading, such as {name}.").format(name=column.name),
                        "note",
                        file,
                        row,
                        written,
                    )
                )
    return Headings(known, width, tuple(findings))


def _unclear(written: str) -> str:
    key = folded(written)
    for name, words in UNCLEAR.items():
        if key == name or (key.startswith(name) and key.removeprefix(name).removeprefix("in") in UNITS["length"]):
            return _(words)
    return ""
