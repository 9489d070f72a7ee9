"""The one layer in front of every page: who is asking, from where, how much, and what the answer may do.

It refuses hosts that are not this laptop, requests that another site caused, bodies that are too large and devices
that are not paired, and it puts the same strict headers on every answer.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from keepfast.live.pairing import Doors
from keepfast.words import _, languages, use_language

COOKIE = "keepfast_device"
LANGUAGE_COOKIE = "keepfast_language"
GROUND_COOKIE = "keepfast_ground"
OPEN_PATHS = ("/pair", "/settings")
OPEN_FOLDERS = ("/static/",)

BODY_LIMIT = 512_000
PHOTO_LIMIT = 6_000_000
PHOTO_PATHS = ("/api/symbol", "/api/take-in")
# A phone that sends ten megabytes reads the refusal only if we let it finish; beyond this we hang up.
DRAIN_LIMIT = 64_000_000
BODY_SECONDS = 60.0

HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self';"
        b" connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"geolocation=(), microphone=(), payment=(), usb=()"),
)


class _TooMuchError(Exception):
    pass


class Guard:
    """ASGI middleware. ``hosts`` says which ``Host`` headers are this laptop's own."""

    def __init__(self, app: ASGIApp, doors: Doors, hosts: Callable[[], frozenset[str]], language: str) -> None:
        self.app = app
        self.doors = doors
        self.hosts = hosts
        self.language = language

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the request through, or answer it here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = _headers(scope)
        cookies = _cookies(headers.get("cookie", ""))
        chosen = cookies.get(LANGUAGE_COOKIE, self.language)
        use_language(chosen if chosen in languages() else self.language)
        state = scope.setdefault("state", {})
        state["ground"] = cookies.get(GROUND_COOKIE, "day")
        path: str = scope["path"]

        host = headers.get("host", "").lower()
        if host not in self.hosts():
            await _refuse(scope, receive, send, 421, "host", _("This laptop is not called that. Scan its code again."))
            return
        origin = headers.get("origin")
        foreign = origin is not None and origin.lower() != f"http://{host}"
        reads = scope["method"] in ("GET", "HEAD")
        if foreign or (headers.get("sec-fetch-site", "same-origin") == "cross-site" and not reads):
            await _refuse(scope, receive, send, 403, "origin", _("Another site asked for this. It was not done."))
            return
        if not reads and origin is None:
            await _refuse(scope, receive, send, 403, "origin", _("The request does not say where it comes from."))
            return

        device = self.doors.device_of(cookies[COOKIE]) if COOKIE in cookies else None
        state["device"] = device
        if device is None and path not in OPEN_PATHS and not path.startswith(OPEN_FOLDERS):
            if reads and not path.startswith("/api/"):
                await _answer(send, 303, b"", [(b"location", b"/pair")])
            else:
                words = _("This device is not paired. Its entries stay on it until it is.")
                await _refuse(scope, receive, send, 401, "unpaired", words)
            return

        limit = PHOTO_LIMIT if path in PHOTO_PATHS else BODY_LIMIT
        try:
            body = await _body(receive, limit)
        except _TooMuchError:
            words = _("That is more than can be taken at once: {n} kB at most.").format(n=limit // 1000)
            await _answer(send, 413, *_json("too_large", words))
            return
        except TimeoutError:
            await _answer(send, 408, *_json("slow", _("The sending took too long. Try again nearer to the laptop.")))
            return

        sent = False

        async def replay() -> Message:
            nonlocal sent
            if not sent:
                sent = True
                return {"type": "http.request", "body": body, "more_body": False}
            return await receive()

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                message["headers"] = _with_headers(message.get("headers", []), path)
            await send(message)

        await self.app(scope, replay, send_safely)


def _headers(scope: Scope) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, value in scope["headers"]:
        key = name.decode("latin-1").lower()
        # Two Host or Origin headers are a trick; joined, they match nothing.
        joiner = "; " if key == "cookie" else ", "
        found[key] = f"{found[key]}{joiner}{value.decode('latin-1')}" if key in found else value.decode("latin-1")
    return found


def _cookies(text: str) -> dict[str, str]:
    try:
        return {name: morsel.value for name, morsel in SimpleCookie(text).items()}
    except CookieError:
        return {}


async def _body(receive: Receive, limit: int) -> bytes:
    parts: list[bytes] = []
    size = 0
    async with asyncio.timeout(BODY_SECONDS):
        while True:
            message = await receive()
            if message["type"] == "http.disconnect":
                return b""
            piece = message.get("body", b"")
            size += len(piece)
            if size <= limit:
                parts.append(piece)
            if not message.get("more_body", False) or size > DRAIN_LIMIT:
                break
    if size > limit:
        raise _TooMuchError
    return b"".join(parts)


def _with_headers(given: list[tuple[bytes, bytes]], path: str) -> list[tuple[bytes, bytes]]:
    names = {name.lower() for name, _value in given}
    extra = list(HEADERS)
    if b"cache-control" not in names and not path.startswith(OPEN_FOLDERS):
        extra.append((b"cache-control", b"no-store"))
    return [*given, *extra]


def _json(code: str, words: str) -> tuple[bytes, list[tuple[bytes, bytes]]]:
    body = json.dumps({"problem": code, "words": words}, ensure_ascii=False).encode()
    return body, [(b"content-type", b"application/json")]


async def _refuse(scope: Scope, receive: Receive, send: Send, status: int, code: str, words: str) -> None:
    if scope["method"] not in ("GET", "HEAD"):
        with contextlib.suppress(TimeoutError, _TooMuchError):
            await _body(receive, DRAIN_LIMIT)
    await _answer(send, status, *_json(code, words))


async def _answer(send: Send, status: int, body: bytes, headers: list[tuple[bytes, bytes]]) -> None:
    length = (b"content-length", str(len(body)).encode())
    start: MutableMapping[str, Any] = {
        "type": "http.response.start",
        "status": status,
        "headers": _with_headers([*headers, length], "/"),
    }
    await send(start)
    await send({"type": "http.response.body", "body": body})
