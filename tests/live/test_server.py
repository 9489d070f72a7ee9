"""Which names this laptop answers to, and that its answers do not wait."""

from __future__ import annotations

import http.client
import json
import statistics
import time
from pathlib import Path

from keepfast.live import server
from tests.live_table import Nursery, on_the_wire, said


def test_its_own_names_and_no_other() -> None:
    hosts = server.own_hosts(8765, ["Camp.Test"])
    assert {"127.0.0.1:8765", "localhost:8765", "camp.test:8765"} <= hosts
    assert not {"evil.test:8765", "127.0.0.1", "127.0.0.1:80"} & hosts
    assert "127.0.0.1" in server.own_hosts(80)


def test_an_address_is_told_for_one_host_and_for_all() -> None:
    assert ["http://127.0.0.1:9"] == server.addresses_of("127.0.0.1", 9)
    assert all(a.startswith("http://") and a.endswith(":9") for a in server.addresses_of("0.0.0.0", 9))


def test_answers_on_one_connection_do_not_wait_for_one_another(
    nursery: Nursery, tmp_path: Path, plan_file: Path
) -> None:
    """Two small writes to a socket that waits for more (Nagle) and a peer that delays its nod cost 40 ms each time.

    Half of that is the limit, for the answer without any writing; on an idle machine it takes about 3 ms.
    """
    running = nursery.serve(tmp_path / "river.keepfast", plan_file)
    running.pair()
    connection = http.client.HTTPConnection("127.0.0.1", running.port, timeout=20)
    headers = {"Origin": running.address, "Cookie": running.cookie, "Content-Type": "application/json"}
    subject = json.loads(running.ask("GET", "/api/table")[2])["order"][0]
    one = json.dumps({"entries": [on_the_wire(said(subject, "remark", "once"))]})
    took = []
    for _turn in range(30):
        start = time.perf_counter()
        connection.request("POST", "/api/entries", one, headers)
        connection.getresponse().read()
        took.append(time.perf_counter() - start)
    connection.close()
    running.kill()
    assert statistics.quantiles(took, n=10)[1] < 0.02
