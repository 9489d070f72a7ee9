"""A real browser on a plain-HTTP name, as a phone on the camp's hotspot sees the laptop."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests.live_table import Nursery, Running, demo_plan_text, small_plan

# How long a page may take on a machine that does much else; a page that is ready does not wait for it.
PATIENCE_MS = 45_000
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP camp.test 127.0.0.1",
)  # fmt: skip


@pytest.fixture(scope="session")
def nursery() -> Iterator[Nursery]:
    """Where servers are forked."""
    made = Nursery()
    yield made
    made.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium."""
    path = shutil.which("chromium")
    assert path is not None, "the tests use the live screens in a real browser: install chromium"
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=path, args=list(FLAGS), timeout=4 * PATIENCE_MS)
        yield made
        made.close()


@pytest.fixture
def plan_file(tmp_path: Path) -> Path:
    """Three animals of the demo evening."""
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(small_plan()), encoding="utf-8")
    return path


@pytest.fixture
def whole_plan_file(tmp_path: Path) -> Path:
    """The whole demo evening."""
    path = tmp_path / "whole-plan.json"
    path.write_text(demo_plan_text(), encoding="utf-8")
    return path


@pytest.fixture
def server(nursery: Nursery, tmp_path: Path, plan_file: Path) -> Iterator[Running]:
    """A server for three animals."""
    made = nursery.serve(tmp_path / "river.keepfast", plan_file, series=True)
    yield made
    made.kill()


class Device:
    """One phone or laptop: a browser of its own, already paired."""

    def __init__(self, browser: Browser, server: Running, name: str, width: int, height: int) -> None:
        self.server = server
        self.name = name
        self.base = f"http://camp.test:{server.port}"
        self.context: BrowserContext = browser.new_context(viewport={"width": width, "height": height})
        self.context.set_default_timeout(PATIENCE_MS)
        self.troubles: list[str] = []
        self.asked: set[str] = set()
        key, _equals, value = server.pair(name).partition("=")
        self.context.add_cookies(
            [{"name": key, "value": value, "url": self.base, "httpOnly": True, "sameSite": "Strict"}]
        )

    def page(self, path: str = "") -> Page:
        """A new page, ready to be used."""
        page = self.context.new_page()
        page.on("pageerror", lambda problem: self.troubles.append(str(problem)))
        page.on("console", lambda said: self.troubles.append(said.text) if "Refused to" in said.text else None)
        page.on("dialog", lambda dialog: self.troubles.append(f"dialog {dialog.message}") or dialog.dismiss())
        page.on("request", lambda request: self.asked.add(request.url.split("/")[2]))
        if path:
            self.go(page, path)
        return page

    def go(self, page: Page, path: str) -> None:
        """Open a screen and wait until it can be used."""
        page.goto(self.base + path)
        page.wait_for_selector("html[data-ready]", state="attached")


@pytest.fixture
def device(browser: Browser, server: Running) -> Iterator[Callable[..., Device]]:
    """Makes devices; at the end none of them has seen a mistake or asked anybody else for anything."""
    made: list[Device] = []

    def make(name: str = "Ana", width: int = 360, height: int = 740, at: Running | None = None) -> Device:
        made.append(Device(browser, at or server, name, width, height))
        return made[-1]

    yield make
    for one in made:
        one.context.close()
        assert [] == one.troubles
        assert {f"camp.test:{one.server.port}"} >= one.asked


def safe(page: Page, count: int | None = None) -> None:
    """Wait until the screen says that nothing waits here (and that so many are safe)."""
    page.wait_for_function(
        """count => { const text = document.getElementById("safe-words").textContent;
             return /none waits here/.test(text) && (count === null || text.startsWith(count + " entr")); }""",
        arg=count,
        timeout=2 * PATIENCE_MS,
    )
