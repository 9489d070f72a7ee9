"""Which names this laptop answers to, and that its answers do not wait."""

from __future__ import annotations

import socket

from keepfast.live import server


def test_its_own_names_and_no_other() -> None:
    hosts = server.own_hosts(8765, ["Camp.Test"])
    assert {"127.0.0.1:8765", "localhost:8765", "camp.test:8765"} <= hosts
    assert not {"evil.test:8765", "127.0.0.1", "127.0.0.1:80"} & hosts
    assert "127.0.0.1" in server.own_hosts(80)


def test_an_address_is_told_for_one_host_and_for_all() -> None:
    assert ["http://127.0.0.1:9"] == server.addresses_of("127.0.0.1", 9)
    assert all(a.startswith("http://") and a.endswith(":9") for a in server.addresses_of("0.0.0.0", 9))


def test_the_socket_names_its_protocol_so_that_answers_do_not_wait() -> None:
    """The event loop turns off the wait of small writes (Nagle) only where the protocol is named."""
    with server.listening("127.0.0.1", 0) as made:
        assert socket.IPPROTO_TCP == made.proto
