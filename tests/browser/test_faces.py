"""Every screen on every ground and size: reachable, readable, in two languages, and deaf to hostile words."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import Device, safe
from tests.live_table import Nursery, Running, on_the_wire, said, small_plan

AXE = Path(__file__).parent / "vendor" / "axe-core-4.14.1" / "axe.min.js"
SCREENS = ("/hands", "/pen", "/table", "/evening", "/devices", "/")
GROUNDS = ("day", "dusk", "red")
HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(1)</script>",
    '"><svg onload=alert(1)>',
    "=1+1+cmd|' /C calc'!A0",
    "\u202e\u2066evil\u2069",
    "{{7*7}}${7*7}",
    "'; drop table entry; --",
    "a" * 180,
    "\u0000\u0007\u001b[31m",
    "مرحبا بالعالم",
)


@pytest.fixture(scope="module")
def busy(nursery: Nursery, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server in the middle of an evening: something written, something asked, something closed, one hostile name."""
    folder = tmp_path_factory.mktemp("faces")
    plan = small_plan()
    plan["animals"][1]["taxon"] = HOSTILE[0]
    (folder / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    server = nursery.serve(folder / "river.keepfast", folder / "plan.json", series=True)
    server.pair("Ana")
    table = json.loads(server.ask("GET", "/api/table")[2])
    one, other = table["order"][:2]
    tray = table["trays"][0]
    words = [
        said(one, "tag", True), said(one, "mass_g", 64.0, asked="far_from_plan", asked_words="The list has 640 g."),
        said(one, "tail_mm", 83.0, device="a", who="Ana"), said(one, "tail_mm", 38.0, device="b", who="Ben"),
        said(one, "place", "1 1", tray=tray), said(other, "move:before/x", True),
        said(tray, "covered", True), said(tray, "temperature_c", 24.5),
    ]  # fmt: skip
    assert 200 == server.post("/api/entries", {"entries": [on_the_wire(w) for w in words]})[0]
    yield server
    server.kill()


def axe(page: Page) -> list[str]:
    """What the accessibility engine finds, WCAG 2.2 AA and good practice; on day and dusk also the contrast of AAA."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    enhanced = page.evaluate("() => document.documentElement.dataset.ground !== 'red'")
    found = page.evaluate(
        """enhanced => axe.run(document, {
             runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
             rules: { "color-contrast-enhanced": { enabled: enhanced } },
           }).then(result => result.violations.map(
             v => `${v.id}: ${v.nodes.map(n => n.html.slice(0, 120)).join(" | ")}`))""",
        enhanced,
    )
    return list(found)


@pytest.mark.parametrize("ground", GROUNDS)
def test_no_screen_shuts_anybody_out(busy: Running, device: Callable[..., Device], ground: str) -> None:
    one = device("Ana", 360, 740, at=busy)
    one.context.add_cookies([{"name": "keepfast_ground", "value": ground, "url": one.base}])
    page = one.page()
    for screen in SCREENS:
        page.goto(one.base + screen)
        if screen in ("/hands", "/pen", "/table", "/evening"):
            page.wait_for_selector("html[data-ready]", state="attached")
        assert [] == axe(page), screen


def test_joining_shuts_nobody_out(browser: Browser, busy: Running) -> None:
    context = browser.new_context(viewport={"width": 320, "height": 600})
    page = context.new_page()
    page.goto(f"http://camp.test:{busy.port}/pair")
    assert [] == axe(page)
    page.fill("#code", "000000")
    page.fill("#name", "x")
    page.click("button.next")
    page.wait_for_selector("text=That is not the code")
    assert [] == axe(page)
    context.close()


TOO_SMALL = """() => [...document.querySelectorAll("a, button, input, select, summary")].filter(e => {
  const box = e.getBoundingClientRect();
  const style = getComputedStyle(e);
  if (!box.width || style.visibility === "hidden" || e.closest(".unseen, [hidden], .skip")) return false;
  return box.width < 47.5 || box.height < 47.5;
}).map(e => {
  const box = e.getBoundingClientRect();
  return `${e.outerHTML.slice(0, 90)} ${Math.round(box.width)}x${Math.round(box.height)}`;
})"""
TOO_FINE = """() => [...document.querySelectorAll("body *")].filter(e =>
  e.getClientRects().length && !e.closest(".unseen, svg, [hidden], .skip")
  && [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())
  && parseFloat(getComputedStyle(e).fontSize) < 17.9
).map(e => e.outerHTML.slice(0, 90))"""


CRUSHED = """() => [...document.querySelectorAll("body *")].filter(e => {
  const text = [...e.childNodes].filter(n => n.nodeType === 3).map(n => n.textContent.trim()).join("");
  if (text.length < 9 || !e.getClientRects().length || e.closest(".unseen, svg, [hidden], .skip, option")) return false;
  return e.getBoundingClientRect().width < 3.5 * parseFloat(getComputedStyle(e).fontSize);
}).map(e => e.outerHTML.slice(0, 90))"""
OVER_ONE_ANOTHER = """() => { const found = [];
  const kinds = "h1, .number, .of, .turn button, .rounds button, summary, .what, .amount, .at";
  const parts = [...document.querySelectorAll(kinds)]
    .filter(e => e.getClientRects().length && !e.closest(".unseen, [hidden]"));
  for (const one of parts) for (const other of parts) {
    if (one === other || one.contains(other) || other.contains(one)) continue;
    const a = one.getBoundingClientRect(), b = other.getBoundingClientRect();
    const right = a.left + one.scrollWidth - parseFloat(getComputedStyle(one).paddingRight);
    if (a.left < b.left && right > b.left + 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1)
      found.push(`${one.textContent} over ${other.textContent}`);
  }
  return found; }"""


def crowded(page: Page) -> list[str]:
    """Words that are squeezed into a column of letters, and parts that lie over one another."""
    return [*page.evaluate(CRUSHED), *page.evaluate(OVER_ONE_ANOTHER)]


@pytest.mark.parametrize("size", [(320, 640), (740, 360), (1280, 800), (3840, 2160)])
def test_from_a_small_phone_to_a_wall_everything_is_there_and_large_enough(
    busy: Running, device: Callable[..., Device], size: tuple[int, int]
) -> None:
    one = device("Ana", *size, at=busy)
    page = one.page()
    for ground in ("day", "red"):
        one.context.add_cookies([{"name": "keepfast_ground", "value": ground, "url": one.base}])
        for screen in SCREENS:
            page.goto(one.base + screen)
            if screen in ("/hands", "/pen", "/table", "/evening"):
                page.wait_for_selector("html[data-ready]", state="attached")
            wide = page.evaluate("() => document.scrollingElement.scrollWidth")
            assert size[0] >= wide, (screen, ground)
            assert [] == page.evaluate(TOO_SMALL), (screen, ground)
            assert [] == page.evaluate(TOO_FINE), (screen, ground)
            assert [] == crowded(page), (screen, ground)


@pytest.mark.parametrize("width", [320, 390])
def test_the_longer_words_of_another_language_have_room_on_a_narrow_red_screen(
    busy: Running, device: Callable[..., Device], width: int
) -> None:
    one = device("Ana", width, 640, at=busy)
    for name, value in (("keepfast_ground", "red"), ("keepfast_language", "es")):
        one.context.add_cookies([{"name": name, "value": value, "url": one.base}])
    page = one.page()
    for screen in SCREENS:
        page.goto(one.base + screen)
        if screen in ("/hands", "/pen", "/table", "/evening"):
            page.wait_for_selector("html[data-ready]", state="attached")
        assert width >= page.evaluate("() => document.scrollingElement.scrollWidth"), screen
        assert [] == page.evaluate(TOO_SMALL), screen
        assert [] == crowded(page), screen


UNDER = """() => { const covered = [];
  const all = [...document.querySelectorAll("#fields [data-field], #close")];
  for (const e of [...all, ...all.toReversed()]) {
    e.focus();
    const box = e.getBoundingClientRect();
    const head = document.querySelector(".subject").getBoundingClientRect().bottom;
    const foot = document.querySelector(".foot").getBoundingClientRect().top;
    if (box.top < head - 1 || box.bottom > foot + 1) covered.push(e.id);
  }
  return [all.length, covered]; }"""


@pytest.mark.parametrize(
    ("size", "ground"), [((320, 640), "red"), ((390, 844), "day"), ((740, 360), "day"), ((1280, 800), "red")]
)
def test_a_field_in_focus_is_never_under_the_head_or_the_foot(
    busy: Running, device: Callable[..., Device], size: tuple[int, int], ground: str
) -> None:
    """WCAG 2.2, 2.4.11: focus not obscured. The number above and the last entry below stay where they are."""
    one = device("Ana", *size, at=busy)
    one.context.add_cookies([{"name": "keepfast_ground", "value": ground, "url": one.base}])
    page = one.page("/pen")
    count, covered = page.evaluate(UNDER)
    assert count > 8
    assert [] == covered


WHOLE = """() => { const now = document.getElementById("main");
  const box = now.getBoundingClientRect();
  return { over: now.scrollHeight - now.clientHeight, amount: parseFloat(document.querySelector(".amount")
    ? getComputedStyle(document.querySelector(".amount")).fontSize : "999"),
    cut: [...now.querySelectorAll(".number, .what, .amount, .at, .caution")]
      .filter(e => e.getBoundingClientRect().bottom > box.bottom + 1).map(e => e.className) }; }"""


@pytest.mark.parametrize(("size", "ground"), [((320, 640), "red"), ((740, 360), "day")])
def test_every_step_of_the_hands_is_in_sight_whole(
    nursery: Nursery, tmp_path: Path, device: Callable[..., Device], size: tuple[int, int], ground: str
) -> None:
    """Also on a small phone with the large type of the red ground, and with long cautions: gloves cannot scroll."""
    plan = small_plan()
    for one_caution in plan["table"]["cautions"]:
        one_caution["text"] += (
            " Look twice. The lamp of the one beside you is not yours. Say aloud what you do, and wait."
        )
    (tmp_path / "long.json").write_text(json.dumps(plan), encoding="utf-8")
    server = nursery.serve(tmp_path / "long.keepfast", tmp_path / "long.json")
    one = device("Ana", *size, at=server)
    table = json.loads(server.ask("GET", "/api/table")[2])
    subject = table["subjects"][table["order"][0]]
    one.context.add_cookies([{"name": "keepfast_ground", "value": ground, "url": one.base}])
    before = [on_the_wire(said(s, f"round:{r}", True)) for s in table["order"] for r in ("before", "prick")]
    server.post("/api/entries", {"entries": [on_the_wire(said(subject["subject"], "mass_g", 640.0)), *before]})
    page = one.page("/hands")
    pages = 0
    for move in (m for m in subject["moves"] if m["round"] == "fill"):
        subject_words = "() => document.getElementById('said').textContent"
        page.wait_for_function(f"what => ({subject_words})().includes(what)", arg=move["what"])
        page.evaluate("() => document.fonts.ready")
        page.wait_for_function(
            "() => !document.querySelector('.drawing') || document.querySelector('.drawing').hidden"
            " || document.querySelector('.drawing svg')"
        )
        read = ""
        while page.locator(".alone").count():
            # A caution that leaves the step no room is read first, by itself; a key goes on and counts as nothing done.
            seen = page.evaluate(WHOLE)
            assert ([], True) == (seen["cut"], seen["over"] <= 1), move["caution"]
            words = page.locator(".alone").text_content() or ""
            read += f"{words} "
            page.wait_for_timeout(500)  # the rest after a touch, so that the next one counts
            page.keyboard.press(" ")
            page.wait_for_function("words => document.querySelector('.alone')?.textContent !== words", arg=words)
        seen = page.evaluate(WHOLE)
        assert [] == seen["cut"], move["what"]
        assert seen["over"] <= 1, move["what"]
        assert seen["amount"] >= 36
        shown = page.locator(".caution").text_content() if page.locator(".caution").count() else ""
        assert move.get("caution", "") == f"{read}{shown}".strip()
        assert move["what"] == page.locator(".what").text_content()
        pages += bool(read)
        server.post("/api/entries", {"entries": [on_the_wire(said(subject["subject"], f"move:{move['key']}", True))]})
    assert pages > 0
    server.kill()


def test_the_number_and_the_amount_can_be_read_at_two_metres(busy: Running, device: Callable[..., Device]) -> None:
    """Snellen: 20/40 at 2 m needs a letter 5.8 mm high; a phone of 360 px across is about 65 mm wide."""
    one = device("Ana", 360, 740, at=busy)
    page = one.page("/hands")
    mm_a_px = 65 / 360
    cap = 0.66  # height of capitals in the family, as a share of its size
    number = page.evaluate("() => parseFloat(getComputedStyle(document.querySelector('.number')).fontSize)")
    assert 5.8 * 2 <= number * cap * mm_a_px
    page.evaluate(
        "() => document.querySelector('.do').append("
        "Object.assign(document.createElement('p'), { className: 'amount' }))"
    )
    amount = page.evaluate("() => parseFloat(getComputedStyle(document.querySelector('.amount')).fontSize)")
    assert 5.8 <= amount * cap * mm_a_px


def test_hostile_words_are_shown_as_words_everywhere(server: Running, device: Callable[..., Device]) -> None:
    pen, other = device("Ana", 1280, 800), device("Ben", 1280, 800)
    page, hands = pen.page("/pen"), other.page("/hands")
    for text in HOSTILE:
        page.locator("#f-tissue").fill(text)
        page.locator("#f-tissue").press("Enter")
        shown = page.evaluate(
            "t => t.replace(/[\\u0000-\\u001f\\u007f-\\u009f\\u200b-\\u200f\\u2028-\\u202e\\u2060-\\u206f]/g, '')", text
        )
        hands.wait_for_function(
            "t => document.getElementById('heard-value').textContent.replace(/\\[U\\+[0-9A-F]{4}\\]/g, '') === t",
            arg=shown,
        )
        if "\u202e" in text:
            assert "[U+202E]" in (hands.locator("#heard-value").text_content() or "")
    page.locator("#f-protocol_followed").fill(HOSTILE[1])
    page.locator("#f-protocol_followed").press("Enter")
    page.locator("#new summary").click()
    page.locator("#new-number").fill(HOSTILE[2][:60])
    page.locator("#new-taxon").fill(HOSTILE[0])
    page.locator("#new-animal button.next").click()
    page.wait_for_selector("#new:not([open])", state="attached")
    safe(page)
    evening = other.page("/evening")
    evening.locator("#me-who").fill(HOSTILE[0])
    evening.locator("#handover button").click()
    evening.locator("#sign-name").fill(HOSTILE[1])
    evening.locator("#sign button").click()
    safe(evening)
    for screen in ("/table", "/evening", "/hands", "/pen", "/devices"):
        evening.goto(other.base + screen)
        assert 0 == evening.locator("img[src=x], svg[onload], script:not([src]):not([type='application/json'])").count()
    status, _headers, body = server.ask("GET", "/evening/report.pdf")
    assert (200, b"%PDF") == (status, body[:4])


def test_the_screens_speak_spanish(server: Running, device: Callable[..., Device]) -> None:
    one = device("Ana", 360, 740)
    page = one.page()
    page.goto(one.base + "/")
    page.get_by_role("button", name="español").click()
    page.wait_for_selector("html[lang=es]", state="attached")
    one.go(page, "/pen")
    page.wait_for_selector("text=Etiqueta en mano")
    page.wait_for_selector("text=0 anotaciones de aquí a salvo en el portátil, ninguna espera aquí.")
    assert [] == axe(page)
    one.go(page, "/hands")
    page.wait_for_selector("text=Hecho")
    # The plan was made in English; its steps are said in Spanish all the same, and in English beside it.
    other = device("Ben", 360, 740).page("/hands")
    english, spanish = (p.locator(".what").text_content() or "" for p in (other, page))
    assert english.startswith("Confirm death")
    assert spanish.startswith("Confirme la muerte")
    assert page.evaluate("() => document.scrollingElement.scrollWidth") <= 360


def test_a_ground_is_chosen_without_the_laptop(server: Running, device: Callable[..., Device]) -> None:
    one = device()
    page = one.page("/pen")
    one.context.set_offline(True)
    page.locator("#menu summary").click()
    page.locator("[data-choose-ground=red]").click()
    assert "rgb(0, 0, 0)" == page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    assert "rgb(255, 0, 0)" == page.evaluate("() => getComputedStyle(document.body).color")
    one.context.set_offline(False)
    page.reload()
    page.wait_for_selector("html[data-ground=red][data-ready]", state="attached")


def test_pause_hand_over_sign_and_paper(server: Running, device: Callable[..., Device], tmp_path: Path) -> None:
    one, gloves = device("Ana", 1280, 800), device("Cai")
    hands, page = gloves.page("/hands"), one.page("/evening")
    page.evaluate("() => { for (let i = 0; i < 2; i += 1) document.getElementById('pause').click(); }")
    hands.wait_for_selector("h1 >> text=B-", state="detached")
    hands.wait_for_selector("text=Bottles shut")
    hands.keyboard.press("x")
    hands.wait_for_selector("h1 >> text=B-")
    page.locator("#me-who").fill("Dina")
    page.locator("#me-under").fill("Ana")
    page.locator("#handover button").click()
    page.wait_for_selector("text=From here on this device writes for Dina, under the eyes of Ana.")
    page.locator("#sign-name").fill("Ana")
    page.locator("#sign button").click()
    page.wait_for_selector("text=Signed by Ana at")
    safe(page)
    with page.expect_download() as download:
        page.get_by_role("link", name="The evening on paper").click()
    download.value.save_as(tmp_path / "evening.pdf")
    import pypdfium2

    document = pypdfium2.PdfDocument(tmp_path / "evening.pdf")
    text = " ".join(p.get_textpage().get_text_range() for p in document)
    assert "Dina, learning under the eyes of Ana" in " ".join(text.split())


def test_joining_by_hand(browser: Browser, server: Running) -> None:
    from tests.live_table import CODE

    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.goto(f"http://camp.test:{server.port}/pen")
    page.wait_for_url("**/pair")
    page.keyboard.press("Tab")
    page.locator("#code").fill(f"{CODE[:3]} {CODE[3:]}")
    page.locator("#code").press("Tab")
    page.keyboard.type("Ana")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Which screen is this?")
    context.close()
