"""Laws of reading in: whatever a file holds, an answer or a sentence, never a traceback, never half an import."""

from __future__ import annotations

import importlib.util
import io
import random
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from keepfast.demo import FOLDER
from keepfast.desk.books import Book, new_book, open_book
from keepfast.desk.reading_in import Wishes, apply, as_dict, look
from keepfast.exchange.note_columns import MEANINGS
from keepfast.findings import FindingsError

HERE = Path(__file__).parent
QUIET = settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A book with a few animals in it."""
    new_book(tmp_path / "b.keepfast", name="b")
    with open_book(tmp_path / "b.keepfast", who="Ana", device="test") as opened:
        apply(look(opened, [FOLDER / "survey.csv"], Wishes(zone="Europe/Madrid", trip="T")))
        yield opened


def whole_or_nothing(book: Book, path: Path, wishes: Wishes) -> None:
    """Read a file in; afterwards the book has all of it or is as it was, and what was read is read again as known."""
    before = book.last_sequence()
    try:
        draft = look(book, [path], wishes)
        assert book.last_sequence() == before
        as_dict(draft, None)
        written = apply(draft)
    except FindingsError as problem:
        said = [finding.sentence() for finding in problem.findings]
        written = 0
    else:
        said = ["written"]
    assert all(said)
    assert book.last_sequence() == before + written
    if written:
        again = look(book, [path], wishes)
        assert (again.counts(), again.changed, again.refused, again.entries) == ({}, [], (), [])


@cache
def _sound() -> dict[str, bytes]:
    """One sound file of each sort."""
    spec = importlib.util.spec_from_file_location("pictures", HERE.parent / "exchange" / "pictures.py")
    assert spec is not None
    assert spec.loader is not None
    pictures = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(pictures)
    import openpyxl

    sheet = openpyxl.Workbook()
    for line in (FOLDER / "survey.csv").read_text(encoding="utf-8").splitlines():
        sheet.active.append(line.split(","))
    packed = io.BytesIO()
    sheet.save(packed)
    return {
        "notes.csv": (FOLDER / "survey.csv").read_bytes(),
        "notes.xlsx": packed.getvalue(),
        "walk.gpx": (FOLDER / "walk.gpx").read_bytes(),
        "one.jpg": pictures.picture(gps=pictures.GPS),
        "one.png": pictures.picture("PNG", gps=pictures.GPS),
        "one.heic": pictures.picture("HEIF", gps=pictures.GPS),
        "one.tif": pictures.picture("TIFF", gps=pictures.GPS),
    }


def damaged(raw: bytes, draw: random.Random) -> bytes:
    """A file as bad sticks and bad cables leave it: bytes changed, cut out, doubled, torn off."""
    data = bytearray(raw)
    for _ in range(draw.randint(1, 12)):
        if not data:
            break
        at = draw.randrange(len(data))
        match draw.randrange(5):
            case 0:
                data[at] = draw.randrange(256)
            case 1:
                del data[at : at + draw.randint(1, 50)]
            case 2:
                data[at:at] = data[at : at + draw.randint(1, 50)]
            case 3:
                data[at : at + 2] = draw.choice([b"\xff\xff", b"\x00\x00", b'"', b"\n", b";;", b"<", b"\xc3\x28"])
            case _:
                if draw.random() < 0.3:
                    del data[at:]
    return bytes(data)


@pytest.mark.parametrize("name", ["notes.csv", "notes.xlsx", "walk.gpx", "one.jpg", "one.png", "one.heic", "one.tif"])
def test_a_damaged_file_is_an_answer_or_a_sentence(book: Book, tmp_path: Path, name: str) -> None:
    """Forty ways to damage each sort of file; 4,000 in the long run below."""
    _damage(book, tmp_path, name, 40)


@pytest.mark.long
@pytest.mark.parametrize("name", ["notes.csv", "notes.xlsx", "walk.gpx", "one.jpg", "one.png", "one.heic", "one.tif"])
def test_a_file_damaged_in_four_thousand_ways(book: Book, tmp_path: Path, name: str) -> None:
    """The same, longer."""
    _damage(book, tmp_path, name, 4000)


def _damage(book: Book, tmp_path: Path, name: str, times: int) -> None:
    draw = random.Random(name)
    for n in range(times):
        path = tmp_path / name
        path.write_bytes(damaged(_sound()[name], draw))
        try:
            whole_or_nothing(book, path, Wishes(trip="T"))
        except BaseException:
            (tmp_path / f"failed-{n}-{name}").write_bytes(path.read_bytes())
            raise


ODD_HEADINGS = ("TL", "x", "", "SVL (cm)", "Fecha", "Latitude", "Longitude", "=cmd|' /C calc'!A0")
HEADINGS = st.sampled_from([*sorted(MEANINGS), *ODD_HEADINGS])
FIGURES = ["41", "41,5", "4e9", "1e999", "-3", "nan", "inf", "~12", "12?", "10-12", "0", "?"]
TIMES = ("2026-04-18", "04/05/2026", "18/V/1981", "99:99", "21:15", "2026-04-18T21:15+02:00")
WORDS = ("AB 1", "B-01", "b 1", "frog", "m", "male", "Hyla cf. molleri", "sp.", "")
PLACES = ("10.27, -123.6", "17S 630000 4833400", "29 north 687000 4200000", "WGS84", "NAD27")
HOSTILE = ("=1+1", "'; drop table entry; --", "<script>", "\u202e", "\x00", "\ud800", "{0.__class__}", "{read}")
CELLS = st.one_of(st.sampled_from([*FIGURES, *TIMES, *WORDS, *PLACES, *HOSTILE]), st.text(max_size=30))


@QUIET
@given(st.lists(HEADINGS, min_size=1, max_size=10), st.lists(st.lists(CELLS, max_size=11), max_size=8))
def test_any_table_at_all_is_an_answer_or_a_sentence(
    book: Book, tmp_path: Path, headings: list[str], rows: list[list[str]]
) -> None:
    """Any headings over any cells, hostile ones among them."""
    import csv

    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerows([["field_number", *headings], *rows])
    path = tmp_path / "any.csv"
    path.write_bytes(out.getvalue().encode("utf-8", "surrogatepass"))
    whole_or_nothing(book, path, Wishes(trip="T", form="notes"))


SOUND: dict[str, tuple[str, ...]] = {
    "species": (
        "",
        "Hyla molleri",
        "Hyla cf. molleri",
        "Natrix sp.",
        "Timon lepidus (Daudin, 1802)",
        "something green",
    ),
    "sex": ("", "m", "F", "?"),
    "SVL (mm)": ("", "41", "40.5", "~40"),
    "mass (g)": ("", "3.1", "12"),
    "date": ("", "2026-04-18", "18/V/2026", "2026-04", "2026-04-18/2026-04-19", "2026-04-18 21:15"),
    "time": ("", "21:15", "7.05"),
    "collector": ("", "Ana Ruiz", "Ana Ruiz | Tom Bell"),
    "locality": ("", "Pond", "Mill, 2 km N"),
    "coordinates": ("", "37.9300, -6.8800", "29 north 687000 4200000", "S 12 34.567 W 076 12.345"),
    "datum": ("", "WGS84", "not recorded", "the old one"),
    "coordinate uncertainty": ("", "30"),
    "elevation": ("", "604", "604 m"),
    "jar": ("", "J 1", "J 2"),
    "permit": ("", "P/7"),
    "determined by": ("", "Tom Bell"),
    "habitat": ("", "reeds"),
    "odd one": ("", "x", "=1+1"),
}


@QUIET
@given(st.data())
def test_a_sound_table_is_written_once_and_known_ever_after(book: Book, tmp_path: Path, data: st.DataObject) -> None:
    """Any choice of columns and of cells that can be read; a row may say next to nothing."""
    import csv

    headings = data.draw(st.lists(st.sampled_from(sorted(SOUND)), min_size=1, unique=True))
    numbers = data.draw(st.lists(st.integers(1, 60), min_size=1, max_size=6, unique=True))
    rows = [[f"S {n}", *(data.draw(st.sampled_from(SOUND[heading])) for heading in headings)] for n in numbers]
    path = tmp_path / "sound.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["field_number", *headings], *rows])
    wishes = Wishes(trip="T", form="notes")
    draft = look(book, [path], wishes)
    assert draft.refused == ()
    apply(draft)
    for number in numbers:
        assert len(book.by_label("animal", f"S {number}")) == 1
    again = look(book, [path], wishes)
    assert (again.counts(), again.changed, again.refused, again.entries) == ({}, [], (), [])


@QUIET
@given(st.binary(max_size=400))
def test_any_bytes_at_all_are_an_answer_or_a_sentence(book: Book, tmp_path: Path, raw: bytes) -> None:
    """Noise."""
    path = tmp_path / "noise"
    path.write_bytes(raw)
    whole_or_nothing(book, path, Wishes(trip="T"))


GPX_PIECES = st.lists(
    st.sampled_from(
        [
            "<wpt lat='1' lon='2'>",
            "<wpt lat='95' lon='x'>",
            "</wpt>",
            "<trk><trkseg>",
            "</trkseg></trk>",
            "<trkpt lat='1' lon='2'>",
            "</trkpt>",
            "<time>2026-04-18T08:00:00Z</time>",
            "<time>9999-12-31T23:59:59-14:00</time>",
            "<name>B-01</name>",
            "<name>\u202e</name>",
            "<ele>1e400</ele>",
            "&amp;",
            "&x;",
            "<!-- -->",
            "<![CDATA[x]]>",
            "<extensions><a/></extensions>",
        ]
    ),
    max_size=14,
)


@QUIET
@given(GPX_PIECES)
def test_any_gpx_at_all_is_an_answer_or_a_sentence(book: Book, tmp_path: Path, pieces: list[str]) -> None:
    """Pieces in any order, closed or not."""
    path = tmp_path / "any.gpx"
    path.write_text("<gpx>" + "".join(pieces) + "</gpx>", encoding="utf-8")
    whole_or_nothing(book, path, Wishes(trip="T"))
