"""The pages, rendered here: joining, Hands, Pen, Table, Evening, Devices, and what they fetch again."""

from __future__ import annotations

import datetime
import hashlib
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import FastAPI, Form, Query, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from jinja2 import Environment, PackageLoader, select_autoescape
from markupsafe import Markup

from keepfast.desk.table_live import FORM_WORDS
from keepfast.desk.table_report import evening_pdf
from keepfast.desk.table_symbols import address_symbol
from keepfast.desk.table_views import evening_check, table_now
from keepfast.live.guard import COOKIE, GROUND_COOKIE, LANGUAGE_COOKIE
from keepfast.live.pairing import Device
from keepfast.live.words import STATIC, for_scripts, inside_page
from keepfast.words import _, current_language, languages, ngettext

if TYPE_CHECKING:
    from keepfast.live.app import Live

GROUNDS = ("day", "dusk", "red")
LANGUAGE_NAMES = {"en": "English", "es": "español"}
YEAR_S = 31_536_000


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("keepfast.live"), autoescape=select_autoescape(default=True), trim_blocks=True
    )
    environment.globals.update(_=_, ngettext=ngettext)
    return environment


@cache
def _version() -> str:
    """Changes when any static file does, so that no screen runs with half of an older one."""
    summed = hashlib.sha256()
    for path in sorted(Path(STATIC).rglob("*")):
        if path.is_file():
            summed.update(path.read_bytes())
    return summed.hexdigest()[:10]


def screens() -> list[tuple[str, str]]:
    """Addresses and names of the screens."""
    return [
        ("/hands", _("Hands")),
        ("/pen", _("Pen")),
        ("/table", _("Table")),
        ("/evening", _("Evening")),
        ("/devices", _("Devices")),
    ]


def _what() -> dict[str, str]:
    return {
        "/hands": _("for whoever wears the gloves: one thing to do, large"),
        "/pen": _("for whoever writes: the numbers, animal by animal"),
        "/table": _("for everyone: order, trays, clock, fluid"),
        "/evening": _("pause, hand over, check, sign, copy"),
        "/devices": _("who has joined; shut one out"),
    }


def render(request: Request, name: str, here: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page in the language and on the ground that this device has chosen."""
    ground = getattr(request.state, "ground", "day")
    language = current_language()
    text = (
        _environment()
        .get_template(name)
        .render(
            language=language,
            languages=[(code, LANGUAGE_NAMES.get(code, code)) for code in languages()],
            ground=ground if ground in GROUNDS else "day",
            grounds=[("day", _("Day")), ("dusk", _("Dusk")), ("red", _("Red"))],
            screens=screens(),
            here=here,
            version=_version(),
            device=getattr(request.state, "device", None),
            **values,
        )
    )
    return HTMLResponse(text, status)


def _json_blocks(live: Live, device: Device, *, moves_told: bool = False) -> dict[str, Any]:
    table = {**live.table.table(moves_told=moves_told), "device": {"id": device.id, "name": device.name}}
    return {
        "table_json": Markup(inside_page(table)),
        "words_json": Markup(inside_page(for_scripts())),
    }


def _local(path: str) -> str:
    """A path on this laptop, whatever was asked for."""
    known = {"/", "/pair", *(address for address, _words in screens())}
    return path if path in known else "/"


def add_pages(app: FastAPI, live: Live) -> None:
    """Put the pages on the application."""

    @app.get("/", include_in_schema=False)
    def home(request: Request) -> Response:
        return render(request, "home.html", "/", title=_("Which screen"), what=_what())

    @app.get("/pair", include_in_schema=False)
    def pair(request: Request) -> Response:
        if request.state.device is not None:
            return RedirectResponse("/", 303)
        return render(request, "pair.html", "/pair", title=_("Join"), problem="")

    @app.post("/pair", include_in_schema=False)
    def join(
        request: Request,
        code: Annotated[str, Form(max_length=40)] = "",
        name: Annotated[str, Form(max_length=120)] = "",
    ) -> Response:
        name = " ".join("".join(c if c.isprintable() else " " for c in name).split())[:60]
        if not name:
            return render(
                request, "pair.html", "/pair", 400, title=_("Join"), problem=_("Write who holds this device.")
            )
        address = request.client.host if request.client else ""
        answer = live.doors.guess(address, code, name)
        if answer.device is None:
            status, words = _refusal(answer.refusal, answer.wait_s)
            return render(request, "pair.html", "/pair", status, title=_("Join"), problem=words)
        response = RedirectResponse("/", 303)
        response.set_cookie(COOKIE, answer.token, max_age=30 * 86_400, httponly=True, samesite="strict", path="/")
        return response

    @app.post("/settings", include_in_schema=False)
    def settings(
        ground: Annotated[str, Form(max_length=20)] = "",
        language: Annotated[str, Form(max_length=20)] = "",
        back: Annotated[str, Form(max_length=100)] = "/",
    ) -> Response:
        response = RedirectResponse(_local(back), 303)
        if ground in GROUNDS:
            response.set_cookie(GROUND_COOKIE, ground, max_age=YEAR_S, samesite="strict", path="/")
        if language in languages():
            response.set_cookie(LANGUAGE_COOKIE, language, max_age=YEAR_S, samesite="strict", path="/")
        return response

    _add_screens(app, live)
    _add_devices(app, live)

    @app.get("/drawings/{subject}.svg", include_in_schema=False)
    def drawing(subject: str, move: Annotated[str, Query(max_length=200)] = "") -> Response:
        drawn = live.table.drawing(subject, move)
        if drawn is None:
            return JSONResponse({"problem": "drawing", "words": _("There is no such drawing.")}, 404)
        return Response(drawn, media_type="image/svg+xml", headers={"cache-control": "max-age=3600"})


def _refusal(refusal: str, wait_s: float) -> tuple[int, str]:
    if refusal == "rest":
        minutes = max(1, round(wait_s / 60))
        return 429, ngettext(
            "That was not the code, five times. Try again in {n} minute.",
            "That was not the code, five times. Try again in {n} minutes.",
            minutes,
        ).format(n=minutes)
    if refusal == "closed":
        return 429, _("Too many wrong codes were tried. Somebody at the laptop makes a new one.")
    return 403, _("That is not the code. Look at the laptop's screen again.")


def _add_screens(app: FastAPI, live: Live) -> None:
    @app.get("/hands", include_in_schema=False)
    def hands(request: Request) -> Response:
        blocks = _json_blocks(live, request.state.device, moves_told=True)
        return render(request, "hands.html", "/hands", title=_("Hands"), **blocks)

    @app.get("/pen", include_in_schema=False)
    def pen(request: Request) -> Response:
        blocks = _json_blocks(live, request.state.device)
        forms = [(key, _(words)) for key, words in FORM_WORDS.items()]
        return render(request, "pen.html", "/pen", title=_("Pen"), forms=forms, **blocks)

    @app.get("/table", include_in_schema=False)
    def table(request: Request) -> Response:
        blocks = _json_blocks(live, request.state.device)
        trays = [(t, live.table.subjects[t].number) for t in live.table.trays]
        now = _now(live)
        return render(request, "table.html", "/table", title=_("Table"), trays=trays, now=now, **blocks)

    @app.get("/table/now", include_in_schema=False)
    def again(request: Request) -> Response:
        return render(request, "table_now.html", "/table", now=_now(live))

    @app.get("/evening", include_in_schema=False)
    def evening(request: Request) -> Response:
        blocks = _json_blocks(live, request.state.device)
        sticks = [(key, str(path)) for key, path in live.sticks.known().items()]
        check = evening_check(live.table)
        return render(request, "evening.html", "/evening", title=_("Evening"), check=check, sticks=sticks, **blocks)

    @app.get("/evening/now", include_in_schema=False)
    def check_again(request: Request) -> Response:
        return render(request, "evening_now.html", "/evening", check=evening_check(live.table))

    @app.get("/evening/report.pdf", include_in_schema=False)
    async def report() -> Response:
        made = await run_in_threadpool(evening_pdf, live.table)
        day = datetime.datetime.now().astimezone().date().isoformat()
        heading = f'attachment; filename="keepfast-evening-{day}.pdf"'
        return Response(made, media_type="application/pdf", headers={"content-disposition": heading})


def _now(live: Live) -> Any:
    now = table_now(live.table)
    # The maps are drawn by our own server from numbers and checked words.
    return _WithMaps(now)


class _WithMaps:
    """The Table as it is now, its maps marked as drawings."""

    def __init__(self, now: Any) -> None:
        self._now = now
        self.trays = [
            {"number": t.number, "words": t.words, "lying": t.lying, "map": Markup(t.map) if t.map else ""}
            for t in now.trays
        ]

    def __getattr__(self, name: str) -> Any:
        return getattr(self._now, name)


def _add_devices(app: FastAPI, live: Live) -> None:
    def page(request: Request) -> Response:
        paired = [
            {
                "id": device.id,
                "name": device.name,
                "words": _standing(device, seen),
                "open": not device.shut_out_at,
                "this": device.id == request.state.device.id,
            }
            for device, seen in live.doors.devices()
        ]
        return render(
            request, "devices.html", "/devices", title=_("Devices"), addresses=live.addresses, code=live.doors.code,
            closed=live.doors.closed, paired=paired,
        )  # fmt: skip

    app.get("/devices", include_in_schema=False)(page)

    @app.get("/devices/address.svg", include_in_schema=False)
    def symbol() -> Response:
        address = live.addresses[0] if live.addresses else "http://127.0.0.1/"
        return Response(address_symbol(address), media_type="image/svg+xml")

    @app.post("/devices/new-code", include_in_schema=False)
    def new_code() -> Response:
        live.doors.open_again()
        return RedirectResponse("/devices", 303)

    @app.post("/devices/shut-out", include_in_schema=False)
    def shut_out(device: Annotated[str, Form(max_length=40)] = "") -> Response:
        live.doors.shut_out(device)
        return RedirectResponse("/devices", 303)


def _standing(device: Device, seen: float | None) -> str:
    if device.shut_out_at:
        return _("shut out")
    if seen is None:
        return _("paired, not heard since the start")
    if seen < 90:
        return _("here now")
    minutes = round(seen / 60)
    return ngettext("last heard {n} minute ago", "last heard {n} minutes ago", minutes).format(n=minutes)
