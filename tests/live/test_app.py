"""What devices send and hear, asked of a running server."""

from __future__ import annotations

import http.client
import io
import json
import resource
import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from keepfast.book.entries import new_id
from keepfast.paper import pdf, symbols
from keepfast.paper.page import Page
from tests.live_table import Nursery, Running, on_the_wire, said


@pytest.fixture
def running(nursery: Nursery, tmp_path: Path, plan_file: Path) -> Iterator[Running]:
    stick = tmp_path / "stick"
    stick.mkdir()
    server = nursery.serve(tmp_path / "river.keepfast", plan_file, series=True, sticks={"blue stick": str(stick)})
    server.pair()
    yield server
    server.kill()


def table_of(running: Running) -> dict:
    return json.loads(running.ask("GET", "/api/table")[2])


def stored(book: Path) -> list[str]:
    with sqlite3.connect(f"file:{book}?mode=ro", uri=True) as connection:
        return [row[0] for row in connection.execute("select id from entry")]


def test_what_is_named_as_stored_is_in_the_file(running: Running) -> None:
    subject = table_of(running)["order"][0]
    ones = [said(subject, "mass_g", 600.0 + i) for i in range(20)]
    status, answer = running.post("/api/entries", {"entries": [on_the_wire(one) for one in ones]})
    assert 200 == status
    assert [one.id for one in ones] == answer["stored"]
    assert set(answer["stored"]) <= set(stored(Path(running.asked["book"])))


def test_a_refused_entry_is_named_with_the_reason(running: Running) -> None:
    subject = table_of(running)["order"][0]
    good, bad = said(subject, "mass_g", 640.0), said(subject, "sex", "perhaps")
    _status, answer = running.post("/api/entries", {"entries": [on_the_wire(bad), on_the_wire(good)]})
    assert [good.id] == answer["stored"]
    assert [bad.id] == [one["id"] for one in answer["refused"]]
    assert answer["refused"][0]["words"]


@pytest.mark.parametrize(
    "body",
    [
        b"", b"null", b"[]", b"{", b"\xff\xfe", b'{"entries": 3}', b'{"entries": [{}]}', b'{"entries": [null]}',
        b'{"entries": [], "more": 1}', b'{"entries": [{"id": "\\ud800"}]}', b"[" * 5000,
        b'{"entries": [{"value": 1e999}]}',
    ],
)  # fmt: skip
def test_what_has_not_the_right_shape_is_refused_in_words(running: Running, body: bytes) -> None:
    status, _headers, answer = running.ask("POST", "/api/entries", body, {"Content-Type": "application/json"})
    assert status in (400, 422)
    assert json.loads(answer)["words"]


class Stream:
    """Reads server-sent events as the standard describes them."""

    def __init__(self, running: Running, since: int, last: str = "") -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", running.port, timeout=120)
        headers = {"Cookie": running.cookie, **({"Last-Event-ID": last} if last else {})}
        self.connection.request("GET", f"/api/stream?since={since}", headers=headers)
        self.response = self.connection.getresponse()
        assert self.response.getheader("content-type", "").startswith("text/event-stream")

    def next(self) -> tuple[str, str, dict]:
        kind, number, data = "", "", ""
        while True:
            line = self.response.readline().decode().rstrip("\n")
            if line.startswith("event: "):
                kind = line[7:]
            elif line.startswith("id: "):
                number = line[4:]
            elif line.startswith("data: "):
                data = line[6:]
            elif not line and kind:
                return kind, number, json.loads(data)

    def close(self) -> None:
        self.connection.close()


def test_the_other_screen_hears_each_entry_once_and_goes_on_after_a_break(running: Running) -> None:
    table = table_of(running)
    subject = table["order"][0]
    stream = Stream(running, table["seq"])
    ones = [said(subject, "remark", f"word {i}") for i in range(3)]
    for one in ones[:2]:
        running.post("/api/entries", {"entries": [on_the_wire(one)]})
    heard = [stream.next() for _turn in range(2)]
    assert [one.id for one in ones[:2]] == [data["id"] for _kind, _number, data in heard]
    stream.close()
    running.post("/api/entries", {"entries": [on_the_wire(ones[2])]})
    again = Stream(running, 0, last=heard[-1][1])
    assert ones[2].id == again.next()[2]["id"]
    again.close()


def test_a_screen_that_was_away_too_long_is_told_to_begin_anew(running: Running) -> None:
    stream = Stream(running, 0)
    assert "plan" == stream.next()[0]
    stream.close()


def test_what_another_process_writes_is_heard_too(running: Running) -> None:
    from keepfast.desk.books import open_book
    from keepfast.desk.table_live import LiveTable

    table = table_of(running)
    stream = Stream(running, table["seq"])
    with open_book(running.asked["book"], who="Ben") as book:
        other = LiveTable(book)
        one = said(table["order"][0], "remark", "from the other laptop")
        assert other.append([one])[0].stored
    assert one.id == stream.next()[2]["id"]
    stream.close()


def test_two_pens_that_differ_are_told_so_at_once(running: Running) -> None:
    table = table_of(running)
    subject = table["order"][0]
    stream = Stream(running, table["seq"])
    ana, ben = (
        said(subject, "tail_mm", 83.0, device="a", who="Ana"),
        said(subject, "tail_mm", 38.0, device="b", who="Ben"),
    )
    for one in (ana, ben):
        running.post("/api/entries", {"entries": [on_the_wire(one)]})
    stream.next()
    _kind, _number, data = stream.next()
    assert {"id": ana.id, "who": "Ana", "text": "83.0"} == data["clash"]
    stream.close()


def test_numbers_are_set_aside_for_one_device_only(running: Running) -> None:
    got = [running.post("/api/numbers", {"device": d, "count": 5})[1]["numbers"] for d in ("phone", "tablet", "phone")]
    numbers = [n["number"] for block in got for n in block]
    assert 15 == len(set(numbers))


def picture_of(text: str) -> Image.Image:
    """A tag's symbol as paper prints it, rendered by another library, on a photograph's worth of table."""
    import pypdfium2

    page = Page(60, 40)
    symbols.draw(page, 20, 10, text, "data_matrix", 0.6)
    rendered = pypdfium2.PdfDocument(pdf.render([page]))[0].render(scale=6).to_pil().convert("RGB")
    return rendered.rotate(12, expand=True, fillcolor="white")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photograph_of_a_tags_symbol_is_read(running: Running, kind: str) -> None:
    raw = io.BytesIO()
    picture_of("B01K").save(raw, kind)
    status, _headers, body = running.ask(
        "POST", "/api/symbol", raw.getvalue(), {"Content-Type": "application/octet-stream"}
    )
    assert (200, ["B01K"]) == (status, json.loads(body)["texts"])


def test_a_photograph_without_a_symbol_has_none_and_no_photograph_is_said_to_be_none(running: Running) -> None:
    raw = io.BytesIO()
    Image.new("L", (600, 400), 200).save(raw, "PNG")
    kind = {"Content-Type": "application/octet-stream"}
    status, _headers, body = running.ask("POST", "/api/symbol", raw.getvalue(), kind)
    assert (200, []) == (status, json.loads(body)["texts"])
    for wrong in (b"GIF89a, perhaps", b"\x89PNG\r\n\x1a\n" + b"\0" * 50, raw.getvalue()[:60], b"<svg/>"):
        assert 415 == running.ask("POST", "/api/symbol", wrong, kind)[0]


def test_a_picture_that_would_fill_the_memory_is_not_opened(running: Running) -> None:
    """Sixty thousand pixels square, a few kilobytes when packed."""
    raw = io.BytesIO()
    Image.new("1", (30_000, 30_000)).save(raw, "PNG")
    assert len(raw.getvalue()) < 200_000
    assert 415 == running.ask("POST", "/api/symbol", raw.getvalue(), {"Content-Type": "application/octet-stream"})[0]


def test_the_book_is_copied_to_a_stick_whole_and_only_to_a_known_one(running: Running, tmp_path: Path) -> None:
    subject = table_of(running)["order"][0]
    one = said(subject, "remark", "on the stick")
    running.post("/api/entries", {"entries": [on_the_wire(one)]})
    status, answer = running.post("/api/stick", {"stick": "blue stick"})
    assert 200 == status, answer
    (copy,) = (tmp_path / "stick").iterdir()
    assert one.id in stored(copy)
    for unknown in ("red stick", "../..", "/etc", ""):
        assert 404 == running.post("/api/stick", {"stick": unknown})[0]


def test_a_file_from_a_dead_tablet_is_taken_in_and_nothing_is_doubled(running: Running) -> None:
    subject = table_of(running)["order"][0]
    ones = [on_the_wire(said(subject, "remark", f"saved {i}")) for i in range(450)]
    running.post("/api/entries", {"entries": ones[:100]})
    before = len(stored(Path(running.asked["book"])))
    status, answer = running.post("/api/take-in", {"keepfast": "waiting entries", "entries": ones})
    assert (200, 450) == (status, len(answer["stored"]))
    assert before + 350 == len(stored(Path(running.asked["book"])))


def test_on_a_full_disk_nothing_is_called_stored_and_afterwards_all_is(running: Running) -> None:
    """The process may write no file beyond its present size: what a full disk looks like to it."""
    subject = table_of(running)["order"][0]
    ones = [on_the_wire(said(subject, "remark", "x" * 1500)) for _i in range(100)]
    book = Path(running.asked["book"])
    before = set(stored(book))
    hard = resource.prlimit(running.pid, resource.RLIMIT_FSIZE)[1]
    resource.prlimit(running.pid, resource.RLIMIT_FSIZE, (40_000, hard))
    status, answer = running.post("/api/entries", {"entries": ones})
    assert (507, "book") == (status, answer["problem"])
    assert answer["words"]
    assert before == set(stored(book))
    resource.prlimit(running.pid, resource.RLIMIT_FSIZE, (hard, hard))
    status, answer = running.post("/api/entries", {"entries": ones})
    assert (200, 100) == (status, len(answer["stored"]))
    assert 100 == len(set(stored(book)) - before)


def test_hostile_words_come_back_as_words(running: Running) -> None:
    subject = table_of(running)["order"][0]
    for text in (
        "</script><script>alert(1)</script>",
        "=1+1",
        "\u202egnp.exe",
        "{{ 7*7 }}",
        "' or 1=1 --",
        "one\u2028two\u2029",
    ):
        status, answer = running.post("/api/entries", {"entries": [on_the_wire(said(subject, "remark", text))]})
        assert 200 == status
        assert answer["stored"], answer
        deadline = time.monotonic() + 120
        while True:
            page = running.ask("GET", "/pen")[2].decode()
            assert "<script>alert" not in page
            block = page.split('id="table-data">')[1].split("</script>")[0]
            if text in [c["value"] for c in json.loads(block)["current"] if c["field"] == "remark"]:
                break
            assert time.monotonic() < deadline


def test_an_address_that_is_not_there_is_not_there(running: Running) -> None:
    for path in ("/nothing", "/static/../app.py", "/static/%2e%2e/app.py", f"/drawings/{new_id()}.svg?move=x"):
        assert 404 == running.ask("GET", path)[0]


def test_the_evening_as_pdf(running: Running) -> None:
    status, headers, body = running.ask("GET", "/evening/report.pdf")
    assert 200 == status
    assert body.startswith(b"%PDF")
    assert "attachment" in headers["content-disposition"]
