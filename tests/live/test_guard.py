"""Who is refused, and what every answer carries: asked of a running server over a real socket."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.live_table import CODE, Nursery, Running, on_the_wire, said


@pytest.fixture(scope="module")
def running(nursery: Nursery, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    folder = tmp_path_factory.mktemp("guard")
    from tests.live_table import small_plan

    (folder / "plan.json").write_text(json.dumps(small_plan()), encoding="utf-8")
    server = nursery.serve(folder / "river.keepfast", folder / "plan.json")
    server.pair()
    yield server
    server.kill()


EVERY_ADDRESS = (
    "/", "/hands", "/pen", "/table", "/table/now", "/evening", "/evening/now", "/evening/report.pdf", "/devices",
    "/devices/address.svg", "/drawings/x.svg", "/api/table", "/api/stream", "/api/openapi.json",
)  # fmt: skip
EVERY_POST = (
    "/api/entries",
    "/api/take-in",
    "/api/numbers",
    "/api/symbol",
    "/api/stick",
    "/devices/new-code",
    "/devices/shut-out",
)


@pytest.mark.parametrize("path", EVERY_ADDRESS)
def test_without_pairing_nobody_reads(running: Running, path: str) -> None:
    status, headers, body = running.ask("GET", path, headers={"Cookie": ""})
    assert status in (303, 401)
    assert b"B-0" not in body
    if status == 303:
        assert "/pair" == headers["location"]


@pytest.mark.parametrize("path", EVERY_POST)
def test_without_pairing_nobody_writes(running: Running, path: str) -> None:
    for cookie in ("", "keepfast_device=guessed", "keepfast_device=" + "a" * 32):
        status, _headers, _body = running.ask(
            "POST", path, b"{}", {"Cookie": cookie, "Content-Type": "application/json"}
        )
        assert 401 == status


@pytest.mark.parametrize("host", ["evil.test", "evil.test:80", "127.0.0.1.evil.test", "", "127.0.0.1:1", "127.0.0.1"])
@pytest.mark.parametrize("path", ["/", "/pair", "/api/table", "/static/face.css"])
def test_a_name_that_is_not_this_laptops_is_refused(running: Running, host: str, path: str) -> None:
    """A site whose name was made to point here (DNS rebinding) sends its own name as Host."""
    status, _headers, body = running.ask("GET", path, headers={"Host": host})
    assert 421 == status
    assert b"B-0" not in body


@pytest.mark.parametrize("origin", ["http://evil.test", "null", "https://127.0.0.1", "http://127.0.0.1:1"])
def test_what_another_site_asks_for_is_not_done(running: Running, origin: str) -> None:
    for method, path in (
        ("POST", "/api/entries"),
        ("POST", "/pair"),
        ("GET", "/api/table"),
        ("POST", "/devices/new-code"),
    ):
        status, _headers, body = running.ask(method, path, b"{}" if method == "POST" else None, {"Origin": origin})
        assert 403 == status
        assert b"B-0" not in body


def test_a_request_that_writes_must_say_where_it_comes_from(running: Running) -> None:
    import http.client

    connection = http.client.HTTPConnection("127.0.0.1", running.port)
    connection.request("POST", "/api/entries", b"{}", {"Cookie": running.cookie, "Content-Type": "application/json"})
    assert 403 == connection.getresponse().status
    connection.close()


def test_ten_megabytes_are_refused_in_words_and_the_server_goes_on(running: Running) -> None:
    ten = b"x" * 10_000_000
    for path in EVERY_POST:
        status, _headers, body = running.ask("POST", path, ten, {"Content-Type": "application/json"}, timeout=120)
        assert 413 == status
        assert json.loads(body)["words"]
    assert 200 == running.ask("GET", "/hands")[0]


def test_ten_megabytes_without_a_length_are_refused_too(running: Running) -> None:
    import http.client

    connection = http.client.HTTPConnection("127.0.0.1", running.port, timeout=120)
    headers = {"Cookie": running.cookie, "Origin": running.address, "Content-Type": "application/json"}
    connection.request("POST", "/api/entries", (b"x" * 100_000 for _i in range(100)), headers, encode_chunked=True)
    assert 413 == connection.getresponse().status
    connection.close()


def test_every_answer_carries_the_strict_headers(running: Running) -> None:
    for method, path, body in (
        ("GET", "/", None), ("GET", "/pen", None), ("GET", "/static/pen.js", None), ("GET", "/nothing", None),
        ("POST", "/api/entries", b"not json"), ("GET", "/api/table", None), ("GET", "/devices/address.svg", None),
    ):  # fmt: skip
        _status, headers, _body = running.ask(method, path, body)
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        for exception in (
            "unsafe-inline",
            "unsafe-eval",
            "unsafe-hashes",
            "*",
            "http:",
            "https:",
            "data:",
            "blob:",
            "nonce",
        ):
            assert exception not in policy
        assert "nosniff" == headers["x-content-type-options"]
        assert "server" not in headers
        if not path.startswith("/static/"):
            assert "no-store" in headers["cache-control"]


@pytest.mark.parametrize("path", ["/", "/pair", "/hands", "/pen", "/table", "/evening", "/devices"])
def test_no_page_needs_an_exception_to_the_policy(running: Running, path: str) -> None:
    status, _headers, body = running.ask("GET", path, headers={"Cookie": "" if path == "/pair" else running.cookie})
    assert 200 == status
    page = body.decode()
    assert not re.search(r"\son\w+\s*=", re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL))
    assert not re.search(r"\sstyle\s*=", re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL))
    assert "<style" not in page
    for script in re.findall(r"<script([^>]*)>", page):
        assert "src=" in script or "application/json" in script


def test_a_device_that_is_shut_out_hears_and_writes_no_more(running: Running) -> None:
    import http.client

    before = running.cookie
    other = running.pair("Ben")
    running.cookie = before
    stream = http.client.HTTPConnection("127.0.0.1", running.port, timeout=120)
    stream.request("GET", "/api/stream?since=0", headers={"Cookie": other})
    response = stream.getresponse()
    assert 200 == response.status
    page = running.ask("GET", "/devices")[2].decode()
    ben = re.search(r"Ben.*?name=\"device\" value=\"(\w+)\"", page, re.DOTALL)
    assert ben is not None
    form = f"device={ben[1]}".encode()
    assert (
        303 == running.ask("POST", "/devices/shut-out", form, {"Content-Type": "application/x-www-form-urlencoded"})[0]
    )
    assert 401 == running.ask("GET", "/api/table", headers={"Cookie": other})[0]
    # Something happens; the stream of the device that was shut out ends without telling it.
    table = running.post  # the one that is still in
    subject = json.loads(running.ask("GET", "/api/table")[2])["order"][0]
    assert 200 == table("/api/entries", {"entries": [on_the_wire(said(subject, "remark", "after the door"))]})[0]
    assert b"after the door" not in response.read()
    stream.close()


def test_wrong_codes_are_answered_in_words_and_then_not_at_all(nursery: Nursery, tmp_path: Path) -> None:
    server = nursery.serve(tmp_path / "river.keepfast")
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    answers = [server.ask("POST", "/pair", b"code=000000&name=x", kind) for _turn in range(6)]
    assert [403] * 5 + [429] == [a[0] for a in answers]
    assert b"not the code" in answers[0][2]
    assert 429 == server.ask("POST", "/pair", f"code={CODE}&name=x".encode(), kind)[0]
    server.kill()


def test_settings_lead_nowhere_else(running: Running) -> None:
    kind = {"Content-Type": "application/x-www-form-urlencoded"}
    for back in ("http://evil.test/", "//evil.test", "/\\evil.test", "javascript:alert(1)"):
        _status, headers, _body = running.ask("POST", "/settings", f"ground=red&back={back}".encode(), kind)
        assert "/" == headers["location"]
