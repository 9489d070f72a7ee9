"""Existing notes: what the headings mean, the file that keeps it, and rows with every cell accounted for."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from keepfast.exchange.note_columns import KEPT, MEANINGS, meaning_of, propose, read_statement, written
from keepfast.exchange.notes import NotesRead, read_notes
from keepfast.exchange.tables import read_raw_rows
from keepfast.findings import FindingsError

MADRID = ZoneInfo("Europe/Madrid")


def read(text: str, **settings: str) -> NotesRead:
    """Notes from a text, by their proposed columns."""
    from dataclasses import replace

    rows = read_raw_rows(text.encode(), "n.csv", "")
    return read_notes(rows, replace(propose(rows), **settings), MADRID)


@pytest.mark.parametrize(
    ("heading", "meaning"),
    [
        ("Field No.", "animal.field_number"),
        ("recordNumber", "animal.field_number"),
        ("scientificName", "determination.taxon"),
        ("Species", "determination.taxon"),
        ("SVL (mm)", "measurement.snout_vent_mm"),
        ("Peso (g)", "measurement.mass_g"),
        ("eventDate", "event.when"),
        ("Fecha", "event.when"),
        ("Collector", "event.by"),
        ("recordedBy", "event.by"),
        ("Locality", "place.verbatim_locality"),
        ("decimalLatitude", "place.latitude"),
        ("decimalLongitude", "place.longitude"),
        ("geodeticDatum", "place.datum"),
        ("coordinateUncertaintyInMeters", "place.uncertainty_m"),
        ("minimumElevationInMeters", "place.elevation_m"),
        ("catalogNumber", "catalogue_number.number"),
        ("identifiedBy", "determination.by"),
        ("Jar", "jar.number"),
        ("Tissue no", "tissue.number"),
        ("event.when", "event.when"),
        ("Shoe size", KEPT),
    ],
)
def test_headings_of_the_trade_and_of_darwin_core_are_known(heading: str, meaning: str) -> None:
    """One by one."""
    assert meaning_of(heading)[0] == meaning


@pytest.mark.parametrize("heading", ["TL", "CL", "status", "Temp", "x", "Name", "No"])
def test_a_heading_that_means_several_things_is_kept_and_told(heading: str) -> None:
    """Never guessed."""
    assert meaning_of(heading) == (KEPT, "", True)


def test_darwin_cores_field_number_is_the_events() -> None:
    """Where recordNumber stands beside it; else the trade's own meaning."""
    rows = read_raw_rows(b"recordNumber,fieldNumber\nAB 1,S-3\n", "n.csv", "")
    assert {use.heading: use.meaning for use in propose(rows).uses} == {
        "recordNumber": "animal.field_number",
        "fieldNumber": "event.number",
    }
    rows = read_raw_rows(b"fieldNumber,species\nAB 1,Hyla\n", "n.csv", "")
    assert propose(rows).uses[0].meaning == "animal.field_number"


def test_longitud_alone_may_be_a_length() -> None:
    """With latitud beside it, it is a longitude."""
    alone = propose(read_raw_rows(b"campo,longitud\nA1,41\n", "n.csv", ""))
    assert (alone.uses[1].meaning, alone.uses[1].unclear) == (KEPT, True)
    both = propose(read_raw_rows(b"campo,latitud,longitud\nA1,41,2\n", "n.csv", ""))
    assert both.uses[2].meaning == "place.longitude"


def test_a_bare_number_column_is_the_field_number_if_nothing_else_is() -> None:
    """With a doubt."""
    statement = propose(read_raw_rows(b"No,Species\n1,Hyla\n", "n.csv", ""))
    assert statement.uses[0].meaning == "animal.field_number"
    assert statement.findings[0].weight == "doubt"


def test_notes_without_a_field_number_are_refused() -> None:
    """With the headings that were read."""
    with pytest.raises(FindingsError, match="Here are: Species, Mass"):
        propose(read_raw_rows(b"Species,Mass\nHyla,3\n", "n.csv", ""))
    with pytest.raises(FindingsError, match="no row of headings"):
        propose(read_raw_rows(b"q,w\n1,2\n", "n.csv", ""))


def test_the_statement_of_columns_is_kept_and_read_again(tmp_path: Path) -> None:
    """Every heading, also one with quotation marks and a backslash, and with a unit."""
    raw = b'Field No,"Say ""a\\b""",SVL (cm),TL\nA1,x,4.1,9\n'
    rows = read_raw_rows(raw, "n.csv", "")
    kept = tmp_path / "columns.toml"
    kept.write_text(written(propose(rows), "n.csv"), encoding="utf-8")
    again = read_statement(kept, rows)
    assert again.as_dict() == propose(rows).as_dict()
    assert again.uses[2].unit == "cm"
    kept.write_text(kept.read_text().replace('"TL" = "kept"', '"TL" = "measurement.tail_mm, cm"'))
    assert read_notes(rows, read_statement(kept, rows), MADRID).rows[0].values["measurement"]["values"] == {
        "tail_mm": 90.0,
        "length_mm": 41.0,
    }


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ('"Mass" = "measurement.mass"', "no such meaning"),
        ('"Mass" = "measurement.mass_g, mm"', "unit does not fit"),
        ('"Weight" = "measurement.mass_g"', "no such column"),
        ('"Mass" = "animal.field_number"', "two columns mean"),
        ('"Mass" = 3', "should be a text"),
        ('"Field No" = "kept"', "no column holds"),
    ],
)
def test_a_wrong_statement_is_told_with_file_and_column(tmp_path: Path, change: str, reason: str) -> None:
    """All that is wrong at once, before a row is read."""
    kept = tmp_path / "columns.toml"
    lines = {'"Field No"': '"Field No" = "animal.field_number"', '"Mass"': '"Mass" = "measurement.mass_g"'}
    lines[change.split(" = ")[0]] = change
    kept.write_text("[columns]\n" + "\n".join(lines.values()))
    with pytest.raises(FindingsError, match=reason):
        read_statement(kept, read_raw_rows(b"Field No,Mass\nA1,3\n", "n.csv", ""))


@pytest.mark.parametrize(
    "text", ["[columns", "columns = 3", "\udcff", 'day_order = "left"\n[columns]\n"Field No"="kept"']
)
def test_a_statement_that_is_no_statement_is_a_sentence(tmp_path: Path, text: str) -> None:
    """TOML faults, wrong kinds, other bytes."""
    kept = tmp_path / "columns.toml"
    kept.write_bytes(text.encode("utf-8", "surrogateescape"))
    with pytest.raises(FindingsError):
        read_statement(kept, read_raw_rows(b"Field No,Mass\nA1,3\n", "n.csv", ""))


NOTES = """Field No.;Species;Sex;SVL (mm);Mass (g);Date;Time;Collector;Locality;Coordinates;Datum;Notes;Odd
AB 1;Hyla cf. molleri;m;41,2;3,1;18/04/2026;21:15;Ana Ruiz | Tom Bell;Mill pond;37\u00b055'46"N 6\u00b052'51"W;WGS84;;1
AB 2;Lacerta sp.;f;82,5;15;19.04.2026;;Ana Ruiz;North bank;;;basking;2
"""


def test_a_row_is_read_into_what_the_book_holds() -> None:
    """Worked by hand from the cells."""
    found = read(NOTES)
    first, second = found.rows
    assert first.values["animal"]["field_number"] == "AB 1"
    assert first.values["animal"]["found_at"] == "2026-04-18T21:15+02:00"
    assert first.values["animal"]["form"] == "frog"
    assert first.values["measurement"] == {"length_kind": "snout_vent", "values": {"length_mm": 41.2, "mass_g": 3.1}}
    assert first.values["determination"] == {
        "taxon": "Hyla molleri",
        "qualifier": "cf. molleri",
        "verbatim_name": "Hyla cf. molleri",
        "rank": "species",
    }
    assert first.values["event"] == {
        "when": "2026-04-18",
        "verbatim_when": "18/04/2026",
        "by": ["Ana Ruiz", "Tom Bell"],
    }
    assert second.values["determination"]["taxon"] == "Lacerta"
    assert second.values["determination"]["qualifier"] == "sp."
    assert second.values["event"]["when"] == "2026-04-19"


def test_every_filled_cell_is_kept_word_for_word() -> None:
    """Also of columns that mean nothing here."""
    first = read(NOTES).rows[0]
    assert first.verbatim["Odd"] == "1"
    assert first.verbatim["SVL (mm)"] == "41,2"
    assert first.verbatim["Coordinates"] == "37\u00b055'46\"N 6\u00b052'51\"W"
    assert "Notes" not in first.verbatim


@pytest.mark.parametrize(
    ("cell", "when"),
    [
        ("2026-04-18", "2026-04-18"),
        ("18/V/1981", "1981-05-18"),
        ("15.10.1932", "1932-10-15"),
        ("18 April 2026", "2026-04-18"),
        ("2026-04", "2026-04"),
        ("1998", "1998"),
        ("2026-04-18/2026-04-19", "2026-04-18/2026-04-19"),
        ("2026-04-18 00:00:00", "2026-04-18"),
    ],
)
def test_dates_that_mean_one_day_are_read(cell: str, when: str) -> None:
    """Roman months are safe, a spreadsheet's midnight is no time."""
    assert read(f"field number,date\nA1,{cell}\n").rows[0].values["event"]["when"] == when


def test_a_date_that_can_be_two_days_is_refused_unless_told() -> None:
    """04/05/2026; the columns file may say which comes first, and so may the other rows."""
    text = "field number,date\nA1,04/05/2026\n"
    found = read(text)
    assert found.refused == {2}
    assert "two ways" in found.findings[0].what
    assert read(text, day_order="day").rows[0].values["event"]["when"] == "2026-05-04"
    assert read(text, day_order="month").rows[0].values["event"]["when"] == "2026-04-05"
    assert read(text + "A2,14/05/2026\n").rows[0].values["event"]["when"] == "2026-05-04"


@pytest.mark.parametrize(
    ("name", "taxon", "qualifier", "authorship"),
    [
        ("Hyla molleri", "Hyla molleri", None, None),
        ("Hyla aff. molleri", "Hyla molleri", "aff. molleri", None),
        ("Hyla sp. 2", "Hyla", "sp. 2", None),
        ("Hyla molleri?", "Hyla molleri", "?", None),
        ("Hyla molleri Bedriaga, 1889", "Hyla molleri", None, "Bedriaga, 1889"),
        ("Timon lepidus (Daudin, 1802)", "Timon lepidus", None, "(Daudin, 1802)"),
    ],
)
def test_doubt_and_author_leave_the_name(name: str, taxon: str, qualifier: str | None, authorship: str | None) -> None:
    """The name without cf., aff. or sp.; what was written is kept."""
    said = read(f'field number,species\nA1,"{name}"\n').rows[0].values["determination"]
    assert (said["taxon"], said.get("qualifier"), said.get("authorship")) == (taxon, qualifier, authorship)
    assert said["verbatim_name"] == name


@pytest.mark.parametrize(
    ("name", "rank"),
    [
        ("Hylidae", "family"),
        ("Hyla", "genus"),
        ("Hyla sp.", "genus"),
        ("Hyla molleri", "species"),
        ("Natrix natrix helvetica", "subspecies"),
        ("a green frog", None),
        ("Frog 3", None),
    ],
)
def test_the_form_of_a_name_tells_its_rank(name: str, rank: str | None) -> None:
    """By the code of zoological names; a name in plain words has none."""
    assert read(f"field number,species\nA1,{name}\n").rows[0].values["determination"].get("rank") == rank


def test_genus_and_epithet_in_two_columns_make_a_name() -> None:
    """As collections keep them."""
    said = read("field number,genus,specific epithet\nA1,Hyla,molleri\n").rows[0].values["determination"]
    assert said["taxon"] == "Hyla molleri"


@pytest.mark.parametrize(
    ("row", "column", "reason"),
    [
        (",Hyla,41,3", "field number", "missing"),
        ("A1,Hyla,4l,3", "SVL", "more in this cell than a number"),
        ("A1,Hyla,41,3-4", "mass", "range"),
        ("A1,Hyla,0,3", "SVL", "more than zero"),
        ("A1,Hyla,4100,3", "SVL", "beyond any frog"),
        ("A1,Hyla,41,3,x", "", "more cells than"),
    ],
)
def test_a_bad_cell_refuses_its_row_with_row_and_column(row: str, column: str, reason: str) -> None:
    """Every other row is still read."""
    found = read(f"field number,species,SVL,mass\nA0,Hyla,41,3\n{row}\n")
    assert (found.refused, len(found.rows)) == ({3}, 1)
    errors = [f for f in found.findings if f.weight == "error"]
    assert [(f.row, f.field) for f in errors] == [(3, column)]
    assert reason in errors[0].what


def test_one_number_twice_in_a_file_is_refused() -> None:
    """With the row where it stood first."""
    for twin in ("A1", "a1", "A-1", "A 01"):
        found = read(f"field number,species\nA1,Hyla\n{twin},Hyla\n")
        assert "row 2 already" in found.findings[0].what


def test_doubts_of_one_sort_are_shown_twenty_times_and_then_counted() -> None:
    """A thousand rows with ~ must not bury the one that matters."""
    lines = "\n".join(f"A{n},~{n + 10}" for n in range(100))
    found = read(f"field number,mass\n{lines}\n")
    assert len([f for f in found.findings if f.weight == "doubt"]) == 20
    assert any("80 more rows" in f.what for f in found.findings)


def test_the_meanings_fit_the_books_catalogue() -> None:
    """Each names a kind of the book, and a field of it or a written form that is turned into one."""
    from keepfast.book.kinds import KINDS

    forms = {"measurement", "place.coordinates", "place.datum", "place.gps_accuracy_m", "place.elevation_m",
             "determination.genus", "determination.epithet", "event.time"}  # fmt: skip
    for meaning in MEANINGS.values():
        assert meaning.thing in KINDS
        assert meaning.field in KINDS[meaning.thing].fields or {meaning.name, meaning.thing} & forms
