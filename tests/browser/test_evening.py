"""A whole evening, by keyboard alone; two pens and one pair of hands at once."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdfium2
from playwright.sync_api import Browser, Page

from keepfast.book.numbers import check_character
from keepfast.desk.books import open_book
from keepfast.desk.table_live import LiveTable
from keepfast.desk.table_report import evening_pdf
from keepfast.desk.table_views import evening_check
from tests.browser.conftest import PATIENCE_MS, Device, safe
from tests.live_table import CODE, Nursery, Running, on_the_wire, said, small_plan

MOST_KEYS_AN_ANIMAL = 45
HERE = "document.activeElement.id + location.hash + (document.getElementById('said').textContent)"
LOOK = f"""() => {{ const at = document.activeElement;
  const [round, subject] = decodeURIComponent(location.hash.slice(1)).split("/");
  return {{ round, subject, field: at.dataset.field || at.id, here: {HERE},
            standing: Boolean(at.closest(".field")?.querySelector(".plan:not([hidden])")) }}; }}"""


# Where it is once it has gone on, asked in one turn: there are several hundred of them.
GONE_ON = f"""([before, patience]) => new Promise((found, lost) => {{
  const look = {LOOK};
  const until = performance.now() + patience;
  const ask = () => {{
    if ({HERE} !== before) found(look());
    else if (performance.now() > until) lost(new Error(`nothing came of the key at ${{before}}`));
    else setTimeout(ask, 5);
  }};
  ask();
}})"""


class Keyboard:
    """A practised hand: words and numbers are typed, every other key is counted."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.keys: dict[str, int] = {}

    def look(self) -> dict[str, Any]:
        """Where the keyboard is: round, animal, field, and whether something planned stands ready there."""
        seen: dict[str, Any] = self.page.evaluate(LOOK)
        return seen

    def words(self, text: str) -> None:
        self.page.keyboard.type(text)

    def press(self, key: str, seen: dict[str, Any] | None = None) -> dict[str, Any]:
        """Press a key, wait until the keyboard is somewhere else, and say where."""
        seen = seen or self.look()
        self.keys[seen["subject"]] = self.keys.get(seen["subject"], 0) + 1
        self.page.keyboard.press(key)
        after: dict[str, Any] = self.page.evaluate(GONE_ON, [seen["here"], PATIENCE_MS])
        return after


def answer(spec: str, number: str, turn: int) -> str:
    """What is written into a field; nothing where the list or the plan has it, or where Enter alone says it."""
    typed = {
        "tag": check_character(number),
        "tissue": f"T {turn}",
        "head_width_mm": "12,5",
        "diameter_mm": "8.5",
        "remark": "fresh",
        "delivered_ml": "",
    }
    return typed.get(spec, "")


def test_eighteen_animals_by_keyboard_alone(
    browser: Browser, nursery: Nursery, tmp_path: Path, whole_plan_file: Path, device: Callable[..., Device]
) -> None:
    server = nursery.serve(tmp_path / "evening.keepfast", whole_plan_file)
    pen = device("Ana", 1280, 800, at=server)
    page = pen.page("/pen")
    keyboard = Keyboard(page)
    table = json.loads(server.ask("GET", "/api/table")[2])
    assert 18 == len(table["order"])
    turn = 0
    seen = keyboard.look()
    while True:
        field, standing = seen["field"], seen["standing"]
        if seen["round"] == "cover":
            break
        if field == "close":
            seen = keyboard.press("Enter", seen)
            continue
        if field.startswith("r-"):
            keyboard.words("as measured")
            seen = keyboard.press("Enter", seen)
            continue
        turn += 1
        number = table["subjects"][seen["subject"]]["number"]
        if field == "bottle":
            keyboard.words("F-1")
        elif field == "bottle_mixed":
            assert "fill" == seen["round"]
        elif field == "protocol_followed" and not standing:
            keyboard.words("P 2026 7")
        elif field in ("tail_state", "sex") and not standing:
            page.keyboard.press("u" if field == "sex" else "w")
        elif not standing:
            keyboard.words(
                answer(field, number, turn) or {"mass_g": "9.8", "tail_mm": "40", "length_mm": "70"}.get(field, "")
            )
        seen = keyboard.press("Enter", seen)
        if turn > 400:
            raise AssertionError("the evening does not end")
    for tray in table["trays"]:
        for _field in ("sheets_ml", "covered"):
            keyboard.press("Enter")
        keyboard.words("24,5")
        keyboard.press("Enter")
        if tray != table["trays"][-1]:
            keyboard.press("Enter")
        else:
            page.keyboard.press("Enter")
    safe(page)
    animals = [keyboard.keys[s] for s in table["order"]]
    print(f"\nkey presses beyond numbers and words, an animal: {min(animals)} to {max(animals)}")
    assert max(animals) <= MOST_KEYS_AN_ANIMAL
    server.kill()
    with open_book(tmp_path / "evening.keepfast", who="Ana") as book:
        done = LiveTable(book)
        check = evening_check(done)
        assert check.passed, [(p.name, p.answer, p.lines) for p in check.parts if not p.passed]
        for subject in table["order"]:
            state = book.state("animal", subject)
            assert state is not None
            assert "P 2026 7" == state["protocol_followed"]
            if "head_width_mm" in table["subjects"][subject]["fields"]:
                assert 12.5 == state["measured"]["head_width_mm"]
        (bottle,) = book.things("batch")
        assert "F-1" == bottle["name"]
        filled = [w.entry.content for w in book.read_since(0, 100_000) if "delivered_ml" in w.entry.content]
        amounts = [f for f in filled if f["verbatim"]["table"]["field"] == "delivered_ml"]
        assert 14 <= len(amounts)
        assert {bottle["id"]} == {f.get("batch") for f in amounts}
        assert evening_pdf(done).startswith(b"%PDF")


def tab_to(page: Page, selector: str) -> None:
    """Walk there by Tab, as somebody without a mouse must."""
    for _turn in range(80):
        if page.evaluate("s => document.activeElement.matches(s)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{selector} is not reached by Tab")


def test_from_the_code_to_the_signed_paper_and_the_end_by_keyboard_alone(
    browser: Browser, server: Running, device: Callable[..., Device], tmp_path: Path
) -> None:
    hands = device("Cai").page("/hands")
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.goto(f"http://camp.test:{server.port}/")
    page.wait_for_url("**/pair")
    tab_to(page, "#code")
    page.keyboard.type(CODE)
    tab_to(page, "#name")
    page.keyboard.type("Ana")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=Which screen is this?")
    tab_to(page, "a.as-button[href='/pen']")
    page.keyboard.press("Enter")
    page.wait_for_selector("html[data-ready]", state="attached")
    tab_to(page, "#f-tissue")
    page.keyboard.type("T 1")
    page.keyboard.press("Enter")
    safe(page, 1)
    tab_to(page, ".menu summary")
    page.keyboard.press("Enter")
    tab_to(page, ".menu a[href='/evening']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/evening")
    page.wait_for_selector("html[data-ready]", state="attached")
    tab_to(page, "#sign-name")
    page.keyboard.type("Ana")
    page.keyboard.press("Enter")
    page.wait_for_selector("#evening-now >> text=Signed by Ana at")
    tab_to(page, "a[href='/evening/report.pdf']")
    with page.expect_download() as download:
        page.keyboard.press("Enter")
    download.value.save_as(tmp_path / "evening.pdf")
    text = " ".join(p.get_textpage().get_text_range() for p in pypdfium2.PdfDocument(tmp_path / "evening.pdf"))
    assert "Ana" in text
    assert "T 1" in text

    # Ending with things open asks why, once, and is told everywhere; nothing is done by a stray key any more.
    tab_to(page, "#end-go")
    page.keyboard.press("Enter")
    page.wait_for_selector("#end-words >> text=things are open in the check above")
    assert "end-why" == page.evaluate("document.activeElement.id")
    page.keyboard.type("rain came")
    page.keyboard.press("Enter")
    page.wait_for_selector("#evening-now >> text=by Ana: rain came")
    safe(page, 3)
    hands.wait_for_selector("text=The evening is ended.")
    assert not hands.locator("#back").is_visible()
    page.wait_for_timeout(500)  # the rest after a touch, so that the next one counts
    hands.keyboard.press(" ")
    hands.mouse.click(180, 200)
    tab_to(page, "#end-go")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=The evening goes on.")
    safe(page, 4)
    hands.wait_for_selector("h1 >> text=B-")
    safe(hands, 0)
    context.close()


def test_the_bottle_is_named_once_and_another_one_for_those_after_it(
    server: Running, device: Callable[..., Device]
) -> None:
    ana, ben = device("Ana", 1280, 800), device("Ben")
    table = json.loads(server.ask("GET", "/api/table")[2])
    ones = table["order"][:3]
    page, other = ana.page(f"/pen#fill/{ones[0]}"), ben.page(f"/pen#fill/{ones[1]}")
    assert "f-bottle" == page.evaluate("document.activeElement.id")
    page.keyboard.type("F-1")
    page.keyboard.press("Enter")
    assert "f-bottle_mixed" == page.evaluate("document.activeElement.id")
    page.locator("#f-bottle_mixed").fill("2026-04-17T18:00")
    page.locator("#f-bottle_mixed").press("Enter")
    page.wait_for_selector("#bottle >> text=F-1, mixed 2026-04-17 18:00")
    # The other pen hears of it; nobody names it twice. Both write out of it.
    other.locator("#f-delivered_ml").focus()
    other.wait_for_selector("#bottle >> text=F-1, mixed 2026-04-17 18:00")
    for pen in (page, other):
        pen.locator("#f-delivered_ml").focus()
        pen.keyboard.press("Enter")
        pen.wait_for_selector("#w-delivered_ml >> text=bottle F-1")
    # A second bottle; what is put right afterwards stays with the first.
    page.locator("#bottle-other").press("Enter")
    # Something is heard meanwhile: the question stays open, though the first bottle is still named.
    other.locator("#f-retained_ml").focus()
    other.keyboard.press("Enter")
    safe(other)
    page.wait_for_function("() => /Stayed inside/.test(document.getElementById('last-words').textContent)")
    assert "f-bottle" == page.evaluate("document.activeElement.id")
    page.keyboard.type("F-2")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.wait_for_selector("#bottle-other")
    page.keyboard.press("PageDown")
    page.keyboard.press("PageDown")
    page.wait_for_function("s => location.hash.endsWith(s)", arg=ones[2])
    page.locator("#f-delivered_ml").focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("#w-delivered_ml >> text=bottle F-2")
    amount = other.locator("#f-delivered_ml").input_value()
    other.locator("#f-delivered_ml").fill(f"{float(amount) * 1.02:.2f}")
    other.locator("#f-delivered_ml").press("Enter")
    for pen in (page, other):
        safe(pen)
    server.kill()
    with open_book(server.asked["book"], who="Ana") as book:
        names = {one["id"]: one["name"] for one in book.things("batch")}
        assert ["F-1", "F-2"] == sorted(names.values())
        (mixed,) = [one["mixed_at"] for one in book.things("batch") if one["name"] == "F-1"]
        assert mixed.startswith("2026-04-17T18:00")
        resolved = {}
        for one in ones:
            (done,) = [r.fact.content for r in book.history("animal", one) if "delivered_ml" in r.fact.content]
            resolved[one] = names[done["batch"]]
        assert {ones[0]: "F-1", ones[1]: "F-1", ones[2]: "F-2"} == resolved


def test_two_pens_and_one_pair_of_hands_at_once(server: Running, device: Callable[..., Device]) -> None:
    ana, ben, hands = device("Ana", 1280, 800), device("Ben"), device("Cai")
    one, other, gloves = ana.page("/pen"), ben.page("/pen"), hands.page("/hands")
    table = json.loads(server.ask("GET", "/api/table")[2])
    first, second = (table["subjects"][s] for s in table["order"][:2])
    gloves.wait_for_selector(f"h1 >> text={first['number']}")

    # What one pen writes is large on the hands' screen, and stands on the other pen.
    one.locator("#f-mass_g").fill(str(first["planned"]["mass_g"]["words"]))
    one.locator("#f-mass_g").press("Enter")
    gloves.wait_for_function(
        "v => document.getElementById('heard-value').textContent.startsWith(v)", arg=first["planned"]["mass_g"]["words"]
    )
    size = gloves.evaluate("parseFloat(getComputedStyle(document.getElementById('heard-value')).fontSize)")
    assert size >= 34
    other.wait_for_function(
        "v => document.getElementById('f-mass_g').value === v", arg=first["planned"]["mass_g"]["words"]
    )

    # The other pen works on the second animal meanwhile; nothing of one shows up under the other.
    other.keyboard.press("PageDown")
    other.wait_for_function("n => document.getElementById('subject').textContent.includes(n)", arg=second["number"])
    other.locator("#f-tissue").fill("T 9")
    other.locator("#f-tissue").press("Enter")
    safe(other)
    assert "" == one.locator("#f-tissue").input_value()

    # The hands go on by any key; a pedal is a keyboard.
    step = gloves.locator("#where").text_content()
    gloves.keyboard.press("PageDown")
    gloves.wait_for_function("before => document.getElementById('where').textContent !== before", arg=step)

    # The pen closes the round for this animal, and the hands are at the next.
    one.locator("#close").press("Enter")
    gloves.wait_for_selector(f"h1 >> text={second['number']}")
    for page in (one, other, gloves):
        safe(page)


def test_two_pens_that_wrote_differently_apart_are_both_asked(server: Running, device: Callable[..., Device]) -> None:
    ana, ben = device("Ana", 1280, 800), device("Ben", 1280, 800)
    one, other = ana.page("/pen"), ben.page("/pen")
    ana.context.set_offline(True)
    ben.context.set_offline(True)
    for page, value in ((one, "280"), (other, "275")):
        page.locator("#f-tail_mm").fill(value)
        page.locator("#f-tail_mm").press("Enter")
        page.wait_for_function("() => /1 waits on this device/.test(document.getElementById('safe-words').textContent)")
    ana.context.set_offline(False)
    safe(one)
    ben.context.set_offline(False)
    safe(other)
    for page in (one, other):
        page.wait_for_selector("text=Two pens differ")
    one.locator("#f-tail_mm").fill("278")
    one.locator("#f-tail_mm").press("Enter")
    for page in (one, other):
        page.wait_for_selector("text=Two pens differ", state="detached")
    assert "278" == other.locator("#f-tail_mm").input_value()


def test_a_double_tap_counts_once_and_back_takes_it_back(server: Running, device: Callable[..., Device]) -> None:
    page = device().page("/hands")
    before = page.locator("#where").text_content()
    page.mouse.dblclick(180, 200)
    page.wait_for_function("before => document.getElementById('where').textContent !== before", arg=before)
    safe(page, 1)
    assert "step 2 of" in (page.locator("#where").text_content() or "")
    page.wait_for_timeout(500)  # the rest after a touch, so that the next one counts
    page.keyboard.press("ArrowLeft")
    page.wait_for_function("before => document.getElementById('where').textContent === before", arg=before)
    safe(page, 2)
    for key in ("Tab", "Shift", "F5x", "AudioVolumeUp"):
        page.evaluate("key => document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }))", key)
    safe(page, 2)


def test_the_step_is_read_aloud_when_asked(server: Running, device: Callable[..., Device]) -> None:
    one = device()
    one.context.add_init_script(
        "window.spoken = []; window.SpeechSynthesisUtterance = function (text) { this.text = text; };"
        "Object.defineProperty(window, 'speechSynthesis',"
        " { value: { cancel() {}, speak(u) { window.spoken.push([u.text, u.lang]); } } });"
    )
    page = one.page("/hands")
    page.locator("#menu summary").click()
    page.locator("#read-aloud").click()
    page.wait_for_function("() => window.spoken.length === 1")
    text, language = page.evaluate("window.spoken[0]")
    table = json.loads(server.ask("GET", "/api/table")[2])
    assert text.startswith(table["subjects"][table["order"][0]]["number"])
    assert "en" == language
    page.keyboard.press("Escape")
    page.locator("#menu summary").click()
    page.wait_for_timeout(500)
    page.keyboard.press("x")
    page.wait_for_function("() => window.spoken.length === 2")


def test_the_wrong_tag_is_told_at_once_and_writes_nothing(server: Running, device: Callable[..., Device]) -> None:
    page = device().page("/pen")
    table = json.loads(server.ask("GET", "/api/table")[2])
    other = table["subjects"][table["order"][1]]
    page.keyboard.type(f"{other['number']}{other['check']}")
    page.keyboard.press("Enter")
    page.wait_for_selector("text=That is not the tag of")
    assert other["number"] in (page.locator("#w-tag").text_content() or "")
    safe(page, 0)
    page.locator("#w-tag button").click()
    page.wait_for_function("n => document.querySelector('#subject h1').textContent === n", arg=other["number"])


def test_a_number_that_does_not_fit_asks_back_and_is_kept_with_a_reason(
    server: Running, device: Callable[..., Device]
) -> None:
    page = device().page("/pen")
    table = json.loads(server.ask("GET", "/api/table")[2])
    listed = table["subjects"][table["order"][0]]["planned"]
    mass, length = listed["mass_g"]["value"], listed["length_mm"]["words"]
    page.locator("#f-mass_g").fill(f"{mass / 10:g}")
    page.locator("#f-mass_g").press("Enter")
    page.wait_for_selector(f"text=The list has {mass:g} g. Written: {mass / 10:g} g. The decimal mark one place off?")
    assert "r-mass_g" == page.evaluate("document.activeElement.id")
    page.keyboard.press("Enter")  # no reason, no keeping
    page.keyboard.type("weighed twice")
    page.keyboard.press("Enter")
    page.wait_for_selector(".ask:not([hidden])", state="detached")
    safe(page, 2)
    page.locator("#f-mass_g").fill(f"{mass:g}")
    page.locator("#f-mass_g").press("Enter")
    safe(page, 3)
    page.locator("#f-length_mm").fill(length[::-1])
    page.locator("#f-length_mm").press("Enter")
    page.wait_for_selector("text=The same figures in another order?")
    page.keyboard.press("Escape")
    page.keyboard.type(length)
    page.keyboard.press("Enter")
    page.wait_for_selector(".ask:not([hidden])", state="detached")
    safe(page, 5)
    page.locator("#f-tail_mm").fill("1,2,3")
    page.locator("#f-tail_mm").press("Enter")
    page.wait_for_selector("text=Write one comma or one point at most")
    safe(page, 5)


def test_an_animal_of_nobodys_list_is_asked_about_by_what_is_known_of_its_form(
    nursery: Nursery, tmp_path: Path, device: Callable[..., Device]
) -> None:
    """Mass against length, tail against length, a place that is taken, fixative before tissue, death after fixation."""
    plan = small_plan()
    late = next(a for a in plan["animals"] if a["field_number"] == plan["table"]["order"][0])
    late["died_at"] = "2199-01-01T00:00:00+00:00"
    (tmp_path / "late.json").write_text(json.dumps(plan), encoding="utf-8")
    at = nursery.serve(tmp_path / "late.keepfast", tmp_path / "late.json", series=True)
    page = device("Ana", 1280, 800, at=at).page("/pen")
    page.wait_for_function("() => document.getElementById('new-number').placeholder !== ''")
    page.locator("#new summary").click()
    page.locator("#new-form").select_option("lizard")
    page.locator("#new-animal button.next").click()
    page.wait_for_selector("#new:not([open])", state="attached")

    def asked(field: str, value: str, words: str, reason: str = "looked twice") -> None:
        page.locator(f"#f-{field}").fill(value)
        page.locator(f"#f-{field}").press("Enter")
        page.wait_for_selector(f"#q-{field} >> text={words}")
        page.locator(f"#r-{field}").fill(reason)
        page.locator(f"#r-{field}").press("Enter")
        page.wait_for_selector(f"#q-{field}", state="detached")

    def fits(field: str, value: str) -> None:
        page.locator(f"#f-{field}").fill(value)
        page.locator(f"#f-{field}").press("Enter")
        page.wait_for_selector(f"#w-{field} >> text=safe")
        assert 0 == page.locator(f"#q-{field}").count()

    fits("length_mm", "60")
    asked("mass_g", "83", "At 60 mm one would expect")  # 8,3 was meant
    fits("mass_g", "6,5")
    asked("tail_mm", "6", "A tail of 6 mm on 60 mm is unusual in this group.")
    fits("tail_mm", "60.5")
    asked("mass_g", "30000", "Usually between")
    page.locator("#rounds button", has_text="Fill").click()
    page.wait_for_selector("#f-delivered_ml")
    page.locator("#find-number").fill(late["field_number"])
    page.locator("#find-number").press("Enter")
    page.wait_for_function("n => document.querySelector('#subject h1').textContent === n", arg=late["field_number"])
    page.locator("#f-delivered_ml").fill(f"{late['total_ml']:.3g}")
    page.locator("#f-delivered_ml").press("Enter")
    page.wait_for_selector("#q-delivered_ml >> text=this animal dies later than now")
    page.locator("#r-delivered_ml").fill("the year is a slip")
    page.locator("#r-delivered_ml").press("Enter")
    page.wait_for_selector("#q-delivered_ml", state="detached")
    page.locator("#rounds button", has_text="Before").click()
    page.wait_for_selector("#f-tissue")
    page.locator("#find-number").fill(late["field_number"])
    page.locator("#find-number").press("Enter")
    page.wait_for_function("n => document.querySelector('#subject h1').textContent === n", arg=late["field_number"])
    asked("tissue", "T 1", "Fixative went into this one before its tissue was taken.")
    safe(page)
    at.kill()
    with open_book(tmp_path / "late.keepfast", who="Ana") as book:
        kept = [w.entry.content for w in book.read_since(0, 100_000) if w.entry.kind == "finding_accepted"]
    assert [
        "table: mass_against_length", "table: tail_against_length", "table: out_of_range",
        "table: fixed_before_death", "table: tissue_after_fixative",
    ] == [k["check"] for k in kept]  # fmt: skip
    assert {"looked twice", "the year is a slip"} == {k["reason"] for k in kept}


def test_a_bouncing_key_or_a_double_tap_writes_nothing_twice(server: Running, device: Callable[..., Device]) -> None:
    page = device("Ana", 1280, 800).page("/pen")
    page.wait_for_function("() => document.getElementById('new-number').placeholder !== ''")
    table = json.loads(server.ask("GET", "/api/table")[2])
    first, second = table["order"][:2]
    # Both come before the store has answered the first: what a worn key does.
    bounce = """id => { for (let i = 0; i < 2; i += 1)
      document.getElementById(id).dispatchEvent(new KeyboardEvent("keydown", { key: "Enter", bubbles: true })); }"""
    page.locator("#f-tissue").fill("T 1")
    page.evaluate(bounce, "f-tissue")
    safe(page, 1)
    page.evaluate("() => { for (let i = 0; i < 2; i += 1) document.getElementById('f-photographed').click(); }")
    safe(page, 2)
    page.evaluate("() => { for (let i = 0; i < 2; i += 1) document.getElementById('close').click(); }")
    page.wait_for_function("s => location.hash.endsWith(s)", arg=second)
    safe(page, 3)
    page.locator("#new summary").click()
    page.evaluate("() => { for (let i = 0; i < 2; i += 1) document.querySelector('#new-animal button.next').click(); }")
    page.wait_for_selector("#new:not([open])", state="attached")
    safe(page, 4)
    # Enter and Page down in one breath: the entry is the first animal's, the focus stays with the second.
    page.evaluate("s => { location.hash = `before/${s}`; location.reload(); }", first)
    page.wait_for_function("s => location.hash.endsWith(s)", arg=first)
    page.wait_for_selector("html[data-ready]", state="attached")
    page.locator("#f-protocol_followed").fill("P 7")
    page.evaluate(
        """() => { for (const key of ["Enter", "PageDown"]) document.getElementById("f-protocol_followed")
             .dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true })); }"""
    )
    page.wait_for_function("s => location.hash.endsWith(s)", arg=second)
    focus = page.evaluate("document.activeElement.id")
    safe(page, 5)
    assert focus == page.evaluate("document.activeElement.id")
    assert "" == page.locator("#f-protocol_followed").input_value()
    page.keyboard.press("PageUp")
    page.wait_for_function("s => location.hash.endsWith(s)", arg=first)
    assert "P 7" == page.locator("#f-protocol_followed").input_value()
    assert "Not written" not in (page.locator("#w-protocol_followed").text_content() or "")
    server.kill()
    with open_book(server.asked["book"], who="Ana") as book:
        assert ["T 1"] == [one["number"] for one in book.things("tissue")]


def test_two_devices_apart_never_give_out_the_same_number(server: Running, device: Callable[..., Device]) -> None:
    ana, ben = device("Ana"), device("Ben")
    one, other = ana.page("/pen"), ben.page("/pen")
    for page in (one, other):
        page.wait_for_function("() => document.getElementById('new-number').placeholder !== ''")
    ana.context.set_offline(True)
    ben.context.set_offline(True)
    numbers = []
    for page in (one, other):
        for _turn in range(3):
            page.locator("#new summary").click()
            page.locator("#new-form").select_option("frog")
            page.locator("#new-animal button.next").click()
            page.wait_for_selector("#new:not([open])", state="attached")
            numbers.append(page.locator("#subject h1").text_content())
    assert 6 == len(set(numbers))
    ana.context.set_offline(False)
    ben.context.set_offline(False)
    for page in (one, other):
        safe(page, 3)
    table = json.loads(server.ask("GET", "/api/table")[2])
    assert set(numbers) <= {table["subjects"][s]["number"] for s in table["order"]}


def test_a_second_animal_with_a_number_is_asked_about(server: Running, device: Callable[..., Device]) -> None:
    page = device().page("/pen")
    page.locator("#new summary").click()
    table = json.loads(server.ask("GET", "/api/table")[2])
    number = table["subjects"][table["order"][0]]["number"]
    page.locator("#new-number").fill(number.lower().replace("-", " "))
    page.locator("#new-animal button.next").click()
    page.wait_for_selector("text=This number is in the book already")
    safe(page, 0)
    page.locator("#new-reason").fill("two tags were printed")
    page.locator("#new-animal button.next").click()
    page.wait_for_selector("#new:not([open])", state="attached")
    safe(page, 2)


def test_the_hands_cover_the_trays_when_the_animals_are_posed(server: Running, device: Callable[..., Device]) -> None:
    cai = device("Cai")
    table = json.loads(server.ask("GET", "/api/table")[2])
    words = [
        on_the_wire(said(subject, f"round:{round_}", True))
        for subject in table["order"]
        for round_ in ("before", "prick", "fill", "pose")
    ]
    assert 200 == server.post("/api/entries", {"entries": words})[0]
    page = cai.page("/hands")
    assert "Tray 1" == page.locator("h1").text_content()
    assert (page.locator(".amount").text_content() or "").endswith("mL")
    pen = device("Ana").page("/pen")
    assert "Tray 1" == pen.locator("#subject h1").text_content()
    pen.locator("#close").press("Enter")
    page.wait_for_function("() => document.querySelector('h1').textContent === 'Tray 2'")
