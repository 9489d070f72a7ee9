"""A list of animals is read whole, or refused with everything that is wrong in it."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keepfast import demo
from keepfast.book.animals import Animal
from keepfast.exchange.columns import COLUMNS, TEMPLATE, understand
from keepfast.exchange.lists import ListRead, read_list
from keepfast.exchange.template import csv_template, explanation, write_template, xlsx_template
from keepfast.findings import Finding, FindingsError
from keepfast.terms import FORMS


def listed(folder: Path, text: str, encoding: str = "utf-8", **options: object) -> ListRead:
    path = folder / "list.csv"
    path.write_bytes(text.encode(encoding))
    return read_list(path, **options)  # type: ignore[arg-type]


def refused(folder: Path, text: str) -> list[Finding]:
    with pytest.raises(FindingsError) as caught:
        listed(folder, text)
    return list(caught.value.findings)


def test_three_cells_are_enough(tmp_path: Path) -> None:
    (animal,) = listed(tmp_path, "field_number,form,mass_g\nB-1,frog,3.5\n").animals
    assert Animal("B-1", "frog", mass_g=3.5, row=2) == animal


def test_all_columns_arrive_where_they_belong(tmp_path: Path) -> None:
    read = read_list(demo.FOLDER / "survey.csv", zone="Europe/Madrid")
    assert 18 == len(read.animals)
    assert len({animal.form for animal in read.animals}) >= 6
    first = read.animals[0]
    assert ("B-01", "Malpolon monspessulanus", "snake", "male", "adult") == (
        first.field_number,
        first.taxon,
        first.form,
        first.sex,
        first.stage,
    )
    assert (1080.0, 270.0, 640.0, 33.0, 27.0) == (
        first.length_mm,
        first.tail_mm,
        first.mass_g,
        first.diameter_mm,
        first.head_width_mm,
    )
    madrid = datetime.timezone(datetime.timedelta(hours=2))
    assert datetime.datetime(2026, 4, 18, 15, 20, tzinfo=madrid) == first.died_at
    clutch = read.animals[-1]
    assert ("egg_clutch", "egg_diameter", 4.0, 320) == (clutch.form, clutch.length_kind, clutch.length_mm, clutch.count)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_a_list_of_another_land_reads_the_same(tmp_path: Path, encoding: str) -> None:
    """Semicolons, decimal commas, units in headings, Windows line ends, blank rows, other words."""
    text = (
        "Número;Especie;Form;Sexo;SVL [cm];Tail (mm);Weight (g);Notas;Dueño\r\n"
        ";;;;;;;;\r\n"
        "B-1;Timon lepidus;lagarto;♀;17,6;285;168,5;grávida;x\r\n"
    )
    if encoding == "cp1252":
        text = text.replace("♀", "hembra")
    read = listed(tmp_path, text, encoding)
    (animal,) = read.animals
    assert ("lizard", "female", 176.0, 285.0, 168.5, "grávida", 3) == (
        animal.form,
        animal.sex,
        animal.length_mm,
        animal.tail_mm,
        animal.mass_g,
        animal.remarks,
        animal.row,
    )
    assert any(finding.field == "Dueño" and finding.weight == "note" for finding in read.findings)


def test_a_spreadsheet_reads_as_its_csv_would(tmp_path: Path) -> None:
    path = tmp_path / "list.xlsx"
    with xlsxwriter.Workbook(str(path), {"default_date_format": "yyyy-mm-dd hh:mm"}) as book:
        sheet = book.add_worksheet("April")
        sheet.write_row(0, 0, ["field_number", "form", "mass (kg)", "died_at"])
        sheet.write_row(1, 0, ["007", "snake", 0.55])
        sheet.write_datetime(1, 3, datetime.datetime(2026, 4, 12, 14, 30))
    (animal,) = read_list(path, zone="Europe/Lisbon").animals
    assert ("007", 550.0, "2026-04-12T14:30:00+01:00") == (
        animal.field_number,
        animal.mass_g,
        animal.died_at and animal.died_at.isoformat(),
    )


def test_all_bad_cells_come_at_once_with_row_column_and_what_was_read(tmp_path: Path) -> None:
    findings = refused(
        tmp_path,
        "field_number,form,length_mm,mass_g,died_at,condition\n"
        "B-1,lizzard,50,3,2026-04-12 14:30,fresh\n"
        "\n"
        "B-2,lizard,-50,nan,soon,tired\n"
        "B-2,frog,0,1e99,,\n"
        ",frog,,,,\n",
    )
    expected = {
        (2, "form", "lizzard"),
        (4, "length_mm", "-50"),
        (4, "mass_g", "nan"),
        (4, "died_at", "soon"),
        (4, "condition", "tired"),
        (5, "field_number", "B-2"),
        (5, "length_mm", "0"),
        (5, "mass_g", "1e99"),
        (6, "field_number", ""),
        (6, "length_mm", ""),
    }
    assert expected == {(f.row, f.field, f.read) for f in findings}
    assert len(expected) == len(findings)
    assert {"list.csv"} == {f.file for f in findings}
    assert all(finding.remedy for finding in findings)


def test_more_cells_than_headings_is_a_shifted_row(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "field_number,form,length_mm,mass_g\nB-1,lizard,48,5,3,1\n")
    assert (2, "3") == (finding.row, finding.read)


def test_a_frog_of_four_metres_is_a_slip(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "field_number,form,length_mm\nB-1,frog,4000\n")
    assert ("length_mm", "4000") == (finding.field, finding.read)


def test_neither_length_nor_mass_is_one_error(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "field_number,form,length_mm,mass_g\nB-1,frog,,\n")
    assert "length and mass" in finding.what


@pytest.mark.parametrize("missing", ["field_number", "form", "mass_g"])
def test_a_missing_column_is_said_once_and_not_row_by_row(tmp_path: Path, missing: str) -> None:
    names = [name for name in ("field_number", "form", "mass_g") if name != missing]
    text = ",".join(names) + "\n" + ",".join(["x"] * len(names)) + "\n" + ",".join(["y"] * len(names)) + "\n"
    assert 1 == len(refused(tmp_path, text))


def test_two_columns_for_one_thing_are_refused(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "field_number,form,weight,mass_g\nB-1,frog,3,4\n")
    assert "mass_g" == finding.field


def test_a_unit_that_cannot_be_is_refused(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "field_number,form,mass (mm)\nB-1,frog,3\n")
    assert "mass (mm)" == finding.field


def test_an_empty_list_is_refused(tmp_path: Path) -> None:
    for text in ("", "\n\n", "field_number,form,mass_g\n"):
        assert 1 == len(refused(tmp_path, text))


@pytest.mark.parametrize(
    ("form", "kind"),
    [
        ("lizard", "snout_vent"),
        ("turtle", "carapace_straight"),
        ("larva", "total"),
        ("egg_clutch", "egg_diameter"),
    ],
)
def test_a_bare_length_means_what_is_usual_for_the_form(tmp_path: Path, form: str, kind: str) -> None:
    (animal,) = listed(tmp_path, f"field_number,form,length_mm,count\nB-1,{form},50,1\n").animals
    assert (kind, 50.0) == (animal.length_kind, animal.length_mm)


def test_a_total_length_with_its_tail_gives_the_length_to_the_vent(tmp_path: Path) -> None:
    (animal,) = listed(tmp_path, "field_number,form,length_mm,length_kind,tail_mm\nB-1,snake,600,total,110\n").animals
    assert ("snout_vent", 490.0, 110.0) == (animal.length_kind, animal.length_mm, animal.tail_mm)


def test_total_and_snout_vent_give_the_tail(tmp_path: Path) -> None:
    (animal,) = listed(tmp_path, "field_number,form,SVL mm,Total length mm\nB-1,lizard,60,150\n").animals
    assert (60.0, 90.0) == (animal.length_mm, animal.tail_mm)


def test_a_total_length_without_its_tail_stays_total_and_is_doubted(tmp_path: Path) -> None:
    read = listed(tmp_path, "field_number,form,length_mm,length_kind\nB-1,snake,600,total\n")
    assert "total" == read.animals[0].length_kind
    assert ["doubt"] == [finding.weight for finding in read.findings]


def test_the_total_length_of_a_frog_is_its_snout_vent(tmp_path: Path) -> None:
    (animal,) = listed(tmp_path, "field_number,form,length_mm,length_kind\nB-1,frog,60,total\n").animals
    assert ("snout_vent", 60.0) == (animal.length_kind, animal.length_mm)


def test_lengths_that_do_not_add_up_are_doubted(tmp_path: Path) -> None:
    read = listed(tmp_path, "field_number,form,SVL mm,tail_mm,Total length mm\nB-1,lizard,60,70,150\n")
    assert any("add up" in finding.what for finding in read.findings)


def test_a_tail_longer_than_the_whole_is_refused(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "field_number,form,length_mm,length_kind,tail_mm\nB-1,snake,600,total,610\n")
    assert "longer than the total" in finding.what


def test_a_turtle_under_svl_is_taken_for_its_carapace_with_a_doubt(tmp_path: Path) -> None:
    read = listed(tmp_path, "field_number,form,SVL mm\nB-1,turtle,150\n")
    assert ("carapace_straight", 150.0) == (read.animals[0].length_kind, read.animals[0].length_mm)
    assert ["doubt"] == [finding.weight for finding in read.findings]


def test_tl_is_never_taken_for_one_of_its_meanings(tmp_path: Path) -> None:
    read = listed(tmp_path, "field_number,form,mass_g,TL\nB-1,lizard,5,80\n")
    assert (None, None) == (read.animals[0].length_mm, read.animals[0].tail_mm)
    assert any(finding.field == "TL" and finding.weight == "doubt" for finding in read.findings)


def test_a_clutch_without_its_number_is_one_egg_and_doubted(tmp_path: Path) -> None:
    read = listed(tmp_path, "field_number,form,length_mm\nB-1,egg_clutch,12\n")
    assert 1 == read.animals[0].count
    assert ["count"] == [finding.field for finding in read.findings]


def test_one_row_is_one_animal(tmp_path: Path) -> None:
    (finding,) = refused(tmp_path, "field_number,form,mass_g,count\nB-1,frog,3,4\n")
    assert "count" == finding.field


def test_a_comma_with_three_figures_is_settled_by_the_rest_of_the_list(tmp_path: Path) -> None:
    head = "field_number;form;mass_g\n"
    (finding,) = refused(tmp_path, head + "B-1;frog;1,234\n")
    assert "two ways" in finding.what
    assert 1.234 == listed(tmp_path, head + "B-1;frog;1,234\nB-2;frog;4,8\n").animals[0].mass_g


def test_times_without_an_offset_are_read_in_the_zone_and_one_note_says_so(tmp_path: Path) -> None:
    read = listed(
        tmp_path,
        "field_number,form,mass_g,died_at\nB-1,frog,3,2026-04-12 14:30\nB-2,frog,3,2026-04-12 15:30\n",
        zone="Europe/Madrid",
    )
    assert "2026-04-12T14:30:00+02:00" == read.animals[0].died_at.isoformat()  # type: ignore[union-attr]
    (note,) = read.findings
    assert "note" == note.weight
    assert "Europe/Madrid" in note.what


def test_a_zone_in_the_heading_is_believed(tmp_path: Path) -> None:
    read = listed(tmp_path, "field_number,form,mass_g,died_at (UTC)\nB-1,frog,3,2026-04-12 14:30\n", zone="Asia/Tokyo")
    assert datetime.datetime(2026, 4, 12, 14, 30, tzinfo=datetime.UTC) == read.animals[0].died_at


@pytest.mark.parametrize(
    ("taxon", "form", "group"),
    [
        ("Timon lepidus", "lizard", "Lacertidae"),
        ("Hemidactylus cf. turcicus", "lizard", "Gekkonidae"),
        ("tarentola", "lizard", "Phyllodactylidae"),
        ("Chalcides striatus", "legless_lizard", "leg-reduced lizards"),
        ("Chalcides ocellatus", "lizard", "Legged Scincidae"),
        ("Malpolon monspessulanus", "snake", None),
        ("", "lizard", None),
    ],
)
def test_the_genus_tells_the_group_of_a_mass_relation(tmp_path: Path, taxon: str, form: str, group: str | None) -> None:
    (animal,) = listed(tmp_path, f"field_number,taxon,form,mass_g\nB-1,{taxon},{form},3\n").animals
    assert group == animal.group


def test_a_form_that_its_name_belies_is_doubted_and_gets_no_group(tmp_path: Path) -> None:
    read = listed(tmp_path, "field_number,taxon,form,mass_g\nB-1,Timon lepidus,snake,300\n")
    assert None is read.animals[0].group
    assert any(finding.field == "form" and finding.weight == "doubt" for finding in read.findings)


def test_rows_above_the_headings_are_left_out_and_said(tmp_path: Path) -> None:
    read = listed(tmp_path, "Spring survey\n\nfield_number,form,mass_g\nB-1,frog,3\n")
    assert 4 == read.animals[0].row
    assert any(finding.row == 3 for finding in read.findings)


def test_errors_of_a_further_check_come_together_with_bad_cells(tmp_path: Path) -> None:
    def check(animal: Animal) -> list[Finding]:
        return [Finding("no line for this form", "Weigh it.", field="mass_g")] if animal.form == "larva" else []

    with pytest.raises(FindingsError) as caught:
        listed(tmp_path, "field_number,form,length_mm\nB-1,larva,40\nB-2,frog,-1\n", check=check)
    assert [("list.csv", 2), ("list.csv", 3)] == [(f.file, f.row) for f in caught.value.findings]


def test_five_thousand_rows_are_read(tmp_path: Path) -> None:
    text = "field_number,taxon,form,length_mm,mass_g,died_at\n" + "".join(
        f"B-{n},Podarcis virescens,lizard,{50 + n % 9},4.{n % 9},2026-04-12 14:{n % 60:02d}\n" for n in range(5000)
    )
    read = listed(tmp_path, text)
    assert 5000 == len(read.animals)


def test_the_template_has_the_columns_in_their_order() -> None:
    expected = (
        "field_number,taxon,form,sex,stage,length_mm,length_kind,tail_mm,tail_state,mass_g,diameter_mm,head_width_mm,"
        "reproductive_state,gut,condition,died_at,kept_at_c,count,remarks"
    )
    assert expected == csv_template().decode().strip()


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_filled_template_is_a_list(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"t.{ending}"
    write_template(path)
    with pytest.raises(FindingsError, match="no animal"):
        read_list(path)
    with pytest.raises(FindingsError, match="there already"):
        write_template(path)


def test_the_spreadsheet_explains_every_column_and_is_the_same_each_time(tmp_path: Path) -> None:
    from openpyxl import load_workbook

    path = tmp_path / "t.xlsx"
    write_template(path)
    book = load_workbook(path)
    assert 2 == len(book.sheetnames)
    explained = [row[0].value for row in book.worksheets[1].iter_rows(min_row=2)]
    assert [column.name for column in TEMPLATE] == explained
    assert xlsx_template() == xlsx_template()


def test_the_explanation_names_every_column_and_word() -> None:
    text = explanation()
    for column in TEMPLATE:
        assert column.name in text
        assert all(word in text for word in column.words)


def test_no_heading_means_two_columns() -> None:
    seen: dict[str, str] = {}
    for column in COLUMNS:
        for name in column.also:
            assert seen.setdefault(name, column.name) == column.name


def test_every_own_name_is_understood_with_its_unit() -> None:
    headings = understand([column.name for column in COLUMNS], "a", 1)
    assert {column.name for column in COLUMNS} == set(headings.known)
    assert () == headings.findings


NAMES = [column.name for column in TEMPLATE]


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.fixed_dictionaries(
            {},
            optional={
                name: st.one_of(st.text(max_size=8), st.sampled_from(["12", "1,5", "~3", "2026-04-12", *FORMS]))
                for name in NAMES
            },
        ),
        min_size=1,
        max_size=4,
    ),
    st.sampled_from([",", ";"]),
)
def test_any_cells_give_animals_or_findings(tmp_path: Path, rows: list[dict[str, str]], separator: str) -> None:
    import csv
    import io

    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, NAMES, delimiter=separator)
    writer.writeheader()
    writer.writerows(rows)
    try:
        read = listed(tmp_path, buffer.getvalue().replace("\x00", ""), "utf-8")
    except (FindingsError, UnicodeEncodeError):
        return
    for animal in read.animals:
        assert animal.field_number
        assert animal.length_mm or animal.mass_g


@pytest.mark.parametrize(
    ("column", "word", "said"),
    [("reproductive_state", "gravid", "follicles, eggs or embryos"), ("condition", "dead", "fresh if it is limp")],
)
def test_a_word_that_says_too_little_is_asked_about(tmp_path: Path, column: str, word: str, said: str) -> None:
    """Never answered with its opposite: "gravid" is one letter off from words that mean none."""
    (found,) = refused(tmp_path, f"field_number,form,mass_g,{column}\nB-1,lizard,3.5,{word}\n")
    assert column == found.field
    assert said in found.remedy
    assert "meant" not in found.remedy


def test_an_animal_may_be_called_x(tmp_path: Path) -> None:
    """In a column of measures an x says that nothing was measured; as a field number it is one."""
    (animal,) = listed(tmp_path, "field_number,form,length_mm,mass_g\nX,frog,x,3.5\n").animals
    assert ("X", None) == (animal.field_number, animal.length_mm)
    (twin,) = refused(tmp_path, "field_number,form,mass_g\nX,frog,3.5\nX,frog,3.5\n")
    assert 3 == twin.row


def test_a_moment_whose_cell_is_not_formatted_as_one_is_read_and_said(tmp_path: Path) -> None:
    """Day 46130 of the 1900 date system is 18 April 2026 (ISO/IEC 29500-1, 18.17.4), and a half is noon."""
    path = tmp_path / "list.xlsx"
    book = xlsxwriter.Workbook(str(path))
    sheet = book.add_worksheet("Data")
    for column, (heading, cell) in enumerate((("No", "B-1"), ("Form", "frog"), ("mass_g", 3.5), ("died_at", 46130.5))):
        sheet.write(0, column, heading)
        sheet.write(1, column, cell)
    book.close()
    read = read_list(path, zone="UTC")
    assert datetime.datetime(2026, 4, 18, 12, tzinfo=datetime.UTC) == read.animals[0].died_at
    assert any("2026-04-18 12:00" in finding.what for finding in read.findings)


def test_a_sheet_of_notes_before_the_list_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "list.xlsx"
    book = xlsxwriter.Workbook(str(path))
    book.add_worksheet("Notes").write(0, 0, "Read me first")
    sheet = book.add_worksheet("Data")
    for column, (heading, cell) in enumerate((("No", "B-1"), ("Form", "frog"), ("mass_g", 3.5))):
        sheet.write(0, column, heading)
        sheet.write(1, column, cell)
    book.close()
    assert ["B-1"] == [animal.field_number for animal in read_list(path).animals]


def test_a_male_full_of_eggs_is_doubted(tmp_path: Path) -> None:
    """One of the two cells is a slip; the row stays."""
    read = listed(tmp_path, "field_number,form,sex,mass_g,reproductive_state\nB-1,frog,m,30,eggs\nB-2,frog,f,30,eggs\n")
    (doubt,) = [finding for finding in read.findings if finding.weight == "doubt"]
    assert (2, "sex", "m") == (doubt.row, doubt.field, doubt.read)


def test_a_field_number_longer_than_a_tag_is_refused(tmp_path: Path) -> None:
    """A whole remark in the cell of the number is a shifted row or a slip."""
    (finding,) = refused(tmp_path, "field_number,form,mass_g\n" + "A" * 41 + ",frog,3\n" + "B" * 40 + ",frog,3\n")
    assert (2, "field_number") == (finding.row, finding.field)
    assert "no tag holds it" in finding.what


def test_headings_that_say_nothing_are_told_in_a_few_words(tmp_path: Path) -> None:
    """Another file under the name of a list does not fill the screen."""
    for finding in refused(tmp_path, "0" * 5000 + "\n" + "1" * 5000 + "\n"):
        assert len(finding.sentence()) < 500
