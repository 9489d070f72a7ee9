"""Starting the server: which addresses this laptop has, which names it answers to, and the running itself."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
from collections.abc import Callable, Iterable
from pathlib import Path

import uvicorn
from fastapi import FastAPI

from keepfast.desk.table_live import LiveTable
from keepfast.desk.table_sticks import Sticks
from keepfast.live.app import make_app
from keepfast.live.pairing import Doors

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
# Streams stay open for ever; a server that is told to stop does not wait for them.
GRACE_S = 2


def own_addresses() -> list[str]:
    """This machine's IPv4 addresses on the networks it is in, the likeliest hotspot first."""
    found: dict[str, None] = {}
    # A datagram socket that is connected sends nothing, but tells which of our addresses would be used.
    for target in ("192.168.43.255", "192.168.1.255", "10.42.0.255", "172.20.10.15"):
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect((target, 9))
            found[probe.getsockname()[0]] = None
    with contextlib.suppress(OSError):
        for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET):
            found[str(info[4][0])] = None
    usable = [
        a for a in found if not ipaddress.ip_address(a).is_loopback and not ipaddress.ip_address(a).is_unspecified
    ]
    return sorted(usable, key=lambda a: not ipaddress.ip_address(a).is_private)


def own_hosts(port: int, named: Iterable[str] = ()) -> frozenset[str]:
    """The ``Host`` headers that mean this laptop and no other."""
    name = socket.gethostname().lower()
    names = {*LOOPBACK, *own_addresses(), *(n.lower() for n in named)}
    if name:
        names |= {name, f"{name}.local"}
    hosts = {f"{n}:{port}" for n in names}
    return frozenset(hosts | (names if port == 80 else set()))


def doors_beside(book: Path) -> Doors:
    """The paired devices of a book, kept in a file beside it that only its user may read."""
    return Doors(book.with_name(f"{book.name}-devices.json"))


def listening(host: str, port: int) -> socket.socket:
    """A socket that is open before anything is said about it.

    Raises
    ------
    OSError
        If the port is taken or the address is not this machine's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # The protocol is named because the event loop turns off Nagle's waiting (40 ms an answer) only where it is.
    made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((host, port))
        made.listen(128)
    except OSError:
        made.close()
        raise
    return made


def build(
    table: LiveTable,
    doors: Doors,
    port: int,
    *,
    named: Iterable[str] = (),
    host: str = "0.0.0.0",
    language: str = "en",
    sticks: Sticks | None = None,
) -> FastAPI:
    """The application for a port of this machine."""
    names = tuple(named)
    return make_app(
        table,
        doors,
        hosts=_remembered(lambda: own_hosts(port, names)),
        addresses=tuple(addresses_of(host, port)),
        language=language,
        sticks=sticks,
    )


def addresses_of(host: str, port: int) -> list[str]:
    """The addresses to scan or type, best first."""
    everywhere = host in ("0.0.0.0", "::")
    names = own_addresses() if everywhere else [f"[{host}]" if ":" in host else host]
    return [f"http://{name}:{port}" for name in names] or [f"http://127.0.0.1:{port}"]


def _remembered(look: Callable[[], frozenset[str]]) -> Callable[[], frozenset[str]]:
    """Looks again now and then: a hotspot may come up after the server did."""
    import time

    kept: list[tuple[float, frozenset[str]]] = []

    def hosts() -> frozenset[str]:
        now = time.monotonic()
        if not kept or now - kept[0][0] > 5.0:
            kept[:] = [(now, look())]
        return kept[0][1]

    return hosts


def run(app: FastAPI, made: socket.socket) -> None:
    """Serve until told to stop."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        timeout_graceful_shutdown=GRACE_S,
        timeout_keep_alive=75,
        server_header=False,
        date_header=True,
        h11_max_incomplete_event_size=32_768,
        lifespan="on",
    )
    uvicorn.Server(config).run(sockets=[made])
