"""The server of the live screens: pages, the stream, and what the devices send.

``make_app`` joins a ``LiveTable`` and the ``Doors``. Everything a device may do is here or in ``pages.py``; who may do
it at all is decided before, in ``guard.py``.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import AsyncIterator, Callable
from typing import Annotated, Any

from fastapi import Body, FastAPI, Query, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.exceptions import RequestValidationError
from fastapi.middleware.gzip import GZipMiddleware
from fastapi.responses import JSONResponse, StreamingResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from keepfast import __version__
from keepfast.desk.table_live import LiveTable
from keepfast.desk.table_sticks import Sticks
from keepfast.desk.table_symbols import read_symbols
from keepfast.findings import FindingsError
from keepfast.live import shapes
from keepfast.live.feed import Feed
from keepfast.live.guard import Guard
from keepfast.live.pages import add_pages
from keepfast.live.pairing import Doors
from keepfast.live.words import STATIC
from keepfast.live.writer import Writer
from keepfast.words import _

Responses = dict[int | str, dict[str, Any]]
_PROBLEM: dict[str, Any] = {"model": shapes.Problem}
REFUSED: Responses = {
    400: {**_PROBLEM, "description": "What was sent cannot be read."},
    401: {**_PROBLEM, "description": "The device is not paired."},
    403: {**_PROBLEM, "description": "Another site asked for it."},
    408: {**_PROBLEM, "description": "The sending took too long."},
    413: {**_PROBLEM, "description": "More than can be taken at once."},
    421: {**_PROBLEM, "description": "This laptop is not called that."},
    422: {**_PROBLEM, "description": "It does not have the shape described here."},
    507: {**_PROBLEM, "description": "The book cannot be written now; what was sent is not stored."},
}


class Live:
    """All that one running server holds together."""

    def __init__(self, table: LiveTable, doors: Doors, addresses: tuple[str, ...], sticks: Sticks) -> None:
        self.table = table
        self.doors = doors
        self.addresses = addresses
        self.sticks = sticks
        self.feed = Feed(table)
        self.writer = Writer(table)


def make_app(
    table: LiveTable,
    doors: Doors,
    *,
    hosts: Callable[[], frozenset[str]],
    addresses: tuple[str, ...] = (),
    language: str = "en",
    sticks: Sticks | None = None,
) -> FastAPI:
    """The application.

    Parameters
    ----------
    table
        Tonight's table in its book.
    doors
        Who is paired.
    hosts
        The ``Host`` headers that are this laptop's own, with the port.
    addresses
        Where other devices reach this laptop, best first.
    language
        What a device is spoken to in until it chooses.
    sticks
        Where the book may be copied to.
    """
    live = Live(table, doors, addresses, sticks or Sticks(table.book))

    @contextlib.asynccontextmanager
    async def running(_app: FastAPI) -> AsyncIterator[None]:
        await live.feed.start()
        try:
            yield
        finally:
            await live.feed.stop()

    app = FastAPI(
        title="Keepfast live",
        version=__version__,
        lifespan=running,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        redirect_slashes=False,
    )
    app.mount("/static", _Static(directory=STATIC), name="static")
    add_pages(app, live)
    _add_interface(app, live)
    _add_troubles(app)
    app.add_middleware(GZipMiddleware, minimum_size=800, compresslevel=5)
    app.add_middleware(Guard, doors=doors, hosts=hosts, language=language)
    return app


class _Static(StaticFiles):
    """Files that carry their version in the address may be kept for good; fonts and modules are asked for again."""

    async def get_response(self, path: str, scope: Any) -> Any:
        response = await super().get_response(path, scope)
        kept = path.endswith(".woff2") or b"v=" in scope.get("query_string", b"")
        response.headers["cache-control"] = "max-age=604800" if kept else "no-cache"
        return response


def _add_troubles(app: FastAPI) -> None:
    async def shape(_request: Request, problem: Exception) -> JSONResponse:
        assert isinstance(problem, RequestValidationError)
        # What was sent is not sent back: it may hold signs that JSON cannot carry.
        places = sorted({".".join(str(p) for p in e["loc"])[:80] for e in problem.errors()})[:5]
        places = [p.encode("ascii", "replace").decode() for p in places]
        words = _("What was sent does not have the right shape: {places}").format(places=", ".join(places))
        return JSONResponse({"problem": "shape", "words": words}, 422)

    async def trouble(_request: Request, problem: Exception) -> JSONResponse:
        assert isinstance(problem, FindingsError)
        words = " ".join(finding.sentence() for finding in problem.findings)
        return JSONResponse({"problem": "book", "words": words}, 507)

    async def plain(_request: Request, problem: Exception) -> JSONResponse:
        assert isinstance(problem, HTTPException)
        words = {404: _("There is nothing at this address."), 405: _("This cannot be done at this address.")}
        told = words.get(problem.status_code, _("What was sent cannot be read."))
        return JSONResponse({"problem": "request", "words": told}, problem.status_code, headers=problem.headers)

    app.add_exception_handler(HTTPException, plain)
    app.add_exception_handler(RequestValidationError, shape)
    app.add_exception_handler(FindingsError, trouble)


def _now_ms() -> int:
    return int(time.time() * 1000)


def _add_interface(app: FastAPI, live: Live) -> None:
    async def take(entries: list[shapes.SaidIn]) -> shapes.EntriesOut:
        outcomes = await live.writer.write([one.said() for one in entries])
        live.feed.soon()
        return shapes.EntriesOut(
            stored=[o.id for o in outcomes if o.stored],
            refused=[shapes.Refused(id=o.id, words=o.words) for o in outcomes if not o.stored],
            now_ms=_now_ms(),
        )

    @app.post("/api/entries", responses=REFUSED)
    async def entries(sent: shapes.EntriesIn) -> shapes.EntriesOut:
        """Write entries. Those named as stored are on the disk; sending one again does no harm."""
        return await take(sent.entries)

    @app.post("/api/take-in", responses=REFUSED)
    async def take_in(sent: shapes.FileIn) -> shapes.FileOut:
        """Take in the entries that a device saved to a file."""
        stored: list[str] = []
        refused: list[shapes.Refused] = []
        for start in range(0, len(sent.entries), 200):
            answer = await take(sent.entries[start : start + 200])
            stored += answer.stored
            refused += answer.refused
        words = _("{n} entries are in the book, {m} were not taken.").format(n=len(stored), m=len(refused))
        if refused:
            words += " " + refused[0].words
        return shapes.FileOut(stored=stored, refused=refused, now_ms=_now_ms(), words=words)

    @app.get("/api/table", responses={k: v for k, v in REFUSED.items() if k in (401, 403, 421, 507)})
    async def whole_table() -> dict[str, Any]:
        """All that a screen needs to go on alone."""
        return await run_in_threadpool(live.table.table)

    @app.get(
        "/api/stream",
        response_class=StreamingResponse,
        responses={
            200: {
                "content": {"text/event-stream": {"schema": {"type": "string"}}},
                "description": "Entries as they come.",
            },
            **{k: v for k, v in REFUSED.items() if k in (401, 403, 421, 422)},
        },
    )
    async def stream(request: Request, since: Annotated[int, Query(ge=0, lt=2**53)] = 0) -> StreamingResponse:
        """Entries from a place on, as they come to be on the disk."""
        last = request.headers.get("last-event-id", "")
        start = int(last) if last.isascii() and last.isdigit() and len(last) < 16 else since
        device = request.state.device.id
        events = live.feed.events(start, lambda: live.doors.let_in(device))
        return StreamingResponse(events, media_type="text/event-stream", headers={"x-accel-buffering": "no"})

    @app.post("/api/numbers", responses=REFUSED)
    async def numbers(sent: shapes.NumbersIn) -> shapes.NumbersOut:
        """Set numbers of the book's series aside for one device."""
        aside = await run_in_threadpool(live.table.set_aside, sent.device, sent.count)
        return shapes.NumbersOut(numbers=[shapes.Number(**one) for one in aside])

    @app.post("/api/symbol", responses={**REFUSED, 415: {**_PROBLEM, "description": "Not a photograph."}})
    async def symbol(
        photograph: Annotated[bytes, Body(media_type="application/octet-stream")],
    ) -> Any:
        """Read the symbols in a photograph of a tag."""
        texts = await run_in_threadpool(read_symbols, photograph)
        if texts is None:
            words = _("This is not a photograph that can be read here. Take it as JPEG, or type the tag.")
            return JSONResponse({"problem": "photograph", "words": words}, 415)
        return shapes.SymbolOut(texts=list(texts))

    @app.post("/api/stick", responses={**REFUSED, 404: {**_PROBLEM, "description": "No such stick."}})
    async def stick(sent: shapes.StickIn) -> Any:
        """Copy the whole book to a stick and compare the copy."""
        try:
            words = await run_in_threadpool(live.sticks.copy, sent.stick)
        except KeyError:
            return JSONResponse({"problem": "stick", "words": _("That stick is not in the laptop any more.")}, 404)
        return shapes.Words(words=words)
