"""Wi-Fi drops, reloads, crashes, killed servers, full disks, wrong clocks: nothing safe is lost, nothing is doubled."""

from __future__ import annotations

import json
import resource
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import Page

from tests.browser.conftest import Device, safe
from tests.live_table import Running


def stored(server: Running) -> list[str]:
    """Everything a screen wrote, as it lies in the file."""
    with sqlite3.connect(f"file:{server.asked['book']}?mode=ro", uri=True) as connection:
        rows = connection.execute("select content from entry where device like 'device %'")
        return [json.loads(row[0])["verbatim"]["table"].get("text", "") for row in rows]


def remark(page: Page, text: str) -> None:
    """Write a remark, and wait until this device has it."""
    page.evaluate("() => { location.hash ||= ''; }")
    page.locator("#f-tissue").fill(text)
    page.locator("#f-tissue").press("Enter")
    page.wait_for_function("text => document.getElementById('last-words').textContent.includes(text)", arg=text)


def waiting(page: Page, count: int) -> None:
    """Wait until the screen says that so many wait here."""
    page.wait_for_function(
        "n => new RegExp(`${n} waits? on this device`).test(document.getElementById('safe-words').textContent)",
        arg=count,
    )


def test_apart_for_minutes_with_entries_on_both_sides_and_together_again(
    server: Running, device: Callable[..., Device]
) -> None:
    pen, hands = device("Ana"), device("Ben")
    one, gloves = pen.context.new_page(), hands.context.new_page()
    for page, path, of in ((one, "/pen", pen), (gloves, "/hands", hands)):
        page.clock.install()
        of.go(page, path)
    pen.context.set_offline(True)
    hands.context.set_offline(True)
    for i in range(3):
        remark(one, f"T {i}")
    for i in range(2):
        before = gloves.locator("#where").text_content()
        gloves.keyboard.press(" ")
        gloves.wait_for_function("b => document.getElementById('where').textContent !== b", arg=before)
        gloves.clock.fast_forward(1000)
        waiting(gloves, i + 1)
    waiting(one, 3)
    for page in (one, gloves):
        page.clock.fast_forward(12 * 60_000)
        # The page's clock runs on while the test works, so a slow machine may be a minute or two further.
        page.wait_for_function("() => /\\b1[2-5] minutes/.test(document.getElementById('safe-age').textContent)")
    assert "out of reach" in (one.locator("#safe-words").text_content() or "")
    assert one.locator("#safe-file").is_visible()
    assert [] == stored(server)
    pen.context.set_offline(False)
    hands.context.set_offline(False)
    for page, count in ((one, 3), (gloves, 2)):
        page.clock.fast_forward(5000)
        safe(page, count)
    assert ["T 0", "T 1", "T 2"] == [text for text in stored(server) if text]
    assert 5 == len(stored(server))


def test_a_reload_in_mid_entry_keeps_what_was_typed_and_calls_it_not_written(
    server: Running, device: Callable[..., Device]
) -> None:
    one = device()
    page = one.page("/pen")
    page.locator("#f-tissue").fill("T 77")
    page.reload()
    page.wait_for_selector("html[data-ready]", state="attached")
    assert "T 77" == page.locator("#f-tissue").input_value()
    assert "Not written yet" in (page.locator("#w-tissue").text_content() or "")
    assert [] == stored(server)
    page.locator("#f-tissue").press("Enter")
    safe(page, 1)
    assert ["T 77"] == stored(server)


def test_a_page_closed_while_the_server_is_dead_loses_nothing(server: Running, device: Callable[..., Device]) -> None:
    one = device()
    page = one.page("/pen")
    server.kill()
    for i in range(4):
        remark(page, f"T {i}")
    page.locator("#f-mass_g").fill("12")  # and one in mid-entry
    waiting(page, 4)
    page.close()
    again = one.page()
    server.start_again()
    one.go(again, "/pen")
    safe(again, 4)
    assert ["T 0", "T 1", "T 2", "T 3"] == stored(server)
    assert "12" == again.locator("#f-mass_g").input_value()


def test_a_tab_that_is_killed_outright_loses_nothing_it_called_kept(
    server: Running, device: Callable[..., Device]
) -> None:
    """The renderer process is crashed, as when a phone runs out of memory."""
    one = device()
    page = one.page("/pen")
    one.context.set_offline(True)
    for i in range(3):
        remark(page, f"T {i}")
    waiting(page, 3)
    with page.expect_event("crash"):
        try:
            page.goto("chrome://crash", timeout=10_000)
        except Exception as problem:
            assert "crash" in str(problem).lower() or "Timeout" in str(problem)  # noqa: PT017
    page.close()
    one.asked.discard("crash")
    one.context.set_offline(False)
    again = one.page("/pen")
    safe(again, 3)
    assert ["T 0", "T 1", "T 2"] == stored(server)


def test_a_server_killed_while_a_screen_writes_doubles_and_loses_nothing(
    server: Running, device: Callable[..., Device]
) -> None:
    pen, hands = device("Ana"), device("Ben")
    page, gloves = pen.page("/pen"), hands.page("/hands")
    written = 0
    for _blow in range(4):
        for _i in range(6):
            remark(page, f"T {written}")
            written += 1
        server.kill()
        for _i in range(3):
            remark(page, f"T {written}")
            written += 1
        server.start_again()
    safe(page, written)
    assert [f"T {i}" for i in range(written)] == stored(server)
    # The other screen has heard the last word, after four breaks of its stream.
    gloves.wait_for_function("t => document.getElementById('heard-value').textContent === t", arg=f"T {written - 1}")


def test_a_full_disk_on_the_laptop_is_said_in_words_and_nothing_is_lost(
    server: Running, device: Callable[..., Device]
) -> None:
    page = device().page("/pen")
    remark(page, "T 0")
    safe(page, 1)
    hard = resource.prlimit(server.pid, resource.RLIMIT_FSIZE)[1]
    resource.prlimit(server.pid, resource.RLIMIT_FSIZE, (4096, hard))
    for i in range(1, 4):
        remark(page, f"T {i}")
    waiting(page, 3)
    page.wait_for_function("() => !document.getElementById('safe-file').hidden")
    assert "out of reach" not in (page.locator("#safe-words").text_content() or "")
    assert ["T 0"] == stored(server)
    resource.prlimit(server.pid, resource.RLIMIT_FSIZE, (hard, hard))
    safe(page, 4)
    assert ["T 0", "T 1", "T 2", "T 3"] == stored(server)


def test_a_device_whose_own_store_is_full_says_that_nothing_was_written(
    server: Running, device: Callable[..., Device]
) -> None:
    page = device().page("/pen")
    page.evaluate(
        "() => { IDBObjectStore.prototype.add ="
        " function () { throw new DOMException('full', 'QuotaExceededError'); }; }"
    )
    page.locator("#f-tissue").fill("T 1")
    page.locator("#f-tissue").press("Enter")
    page.wait_for_selector("text=It is not written; note it on paper.")
    assert "T 1" == page.locator("#f-tissue").input_value()
    safe(page, 0)
    assert [] == stored(server)


def test_a_browser_that_keeps_nothing_is_refused_in_words(server: Running, device: Callable[..., Device]) -> None:
    one = device()
    one.context.add_init_script(
        "IDBFactory.prototype.open = function () { throw new DOMException('no', 'SecurityError'); };"
    )
    page = one.context.new_page()
    page.goto(one.base + "/pen")
    page.wait_for_selector("text=This browser keeps nothing")


def test_what_waits_is_saved_to_a_file_and_taken_in_elsewhere_once(
    server: Running, device: Callable[..., Device], tmp_path: Path
) -> None:
    dead, other = device("Ana"), device("Ben", 1280, 800)
    page = dead.page("/pen")
    remark(page, "T 0")
    safe(page, 1)
    dead.context.set_offline(True)
    for i in range(1, 4):
        remark(page, f"T {i}")
    waiting(page, 3)
    page.wait_for_function("() => !document.getElementById('safe-file').hidden")
    with page.expect_download() as download:
        page.locator("#safe-file").click()
    file = tmp_path / "waiting.json"
    download.value.save_as(file)
    evening = other.page("/evening")
    for _turn in range(2):
        evening.locator("#take-in").set_input_files(file)
        evening.wait_for_function(
            "() => /3 entries are in the book, 0/.test(document.getElementById('take-in-said').textContent)"
        )
        evening.evaluate("() => { document.getElementById('take-in-said').textContent = ''; }")
    assert ["T 0", "T 1", "T 2", "T 3"] == stored(server)
    # The dead tablet comes back to life and sends the same again.
    dead.context.set_offline(False)
    safe(page, 4)
    assert ["T 0", "T 1", "T 2", "T 3"] == stored(server)


def test_a_device_with_a_wrong_clock_is_told_so_and_its_entries_stand_in_their_place(
    server: Running, device: Callable[..., Device]
) -> None:
    late, right = device("Ana"), device("Ben")
    page = late.context.new_page()
    page.clock.install(time=time.time() - 3 * 86_400)
    late.go(page, "/pen")
    remark(page, "T 1")  # nobody knows yet that the clock is three days slow
    page.clock.fast_forward(1000)
    safe(page, 1)
    page.clock.fast_forward(6000)
    page.wait_for_function("() => /72 hours/.test(document.getElementById('safe-clock').textContent)")
    other = right.page("/pen")
    other.locator("#f-tissue").fill("T 2")
    other.locator("#f-tissue").press("Enter")
    safe(other, 1)
    page.wait_for_function("() => document.getElementById('f-tissue').value === 'T 2'")
    # A correction on the slow device comes after what it corrects, and is the last word everywhere.
    page.locator("#f-tissue").fill("T 3")
    page.locator("#f-tissue").press("Enter")
    page.clock.fast_forward(1000)
    safe(page, 2)
    other.wait_for_function("() => document.getElementById('f-tissue').value === 'T 3'")
    with sqlite3.connect(f"file:{server.asked['book']}?mode=ro", uri=True) as connection:
        rows = connection.execute(
            "select at, order_ms from entry where device like 'device %' order by sequence"
        ).fetchall()
    assert abs(rows[-1][1] / 1000 - time.time()) < 600


def test_a_tray_nobody_planned_holds_its_animal_and_takes_a_reading_also_after_a_new_start(
    server: Running, device: Callable[..., Device]
) -> None:
    ana, ben = device("Ana"), device("Ben", 1280, 800)
    number = json.loads(server.ask("GET", "/api/table")[2])
    animal = number["subjects"][number["order"][0]]
    page, table = ana.page(f"/pen#pose/{animal['subject']}"), ben.page("/table")
    page.locator("#f-place").fill("9 1")
    page.locator("#f-place").press("Enter")
    table.wait_for_function("() => [...document.getElementById('reading-tray').options].some(o => o.text === '9')")
    safe(page)
    server.kill()
    server.start_again()
    now = " ".join(server.ask("GET", "/table/now")[2].decode().split())
    assert "Tray 9" in now
    assert f"Lying in it: 1 {animal['number']}." in now
    table.locator("#reading-tray").select_option(label="9")
    table.locator("#reading-c").fill("23,5")
    table.locator("#reading-c").press("Enter")
    table.wait_for_selector("#table-now >> text=23,5 °C at")


def test_two_windows_of_one_browser_share_what_waits(server: Running, device: Callable[..., Device]) -> None:
    one = device()
    page, window = one.page("/pen"), one.page("/table")
    one.context.set_offline(True)
    for i in range(3):
        remark(page, f"T {i}")
    waiting(window, 3)
    one.context.set_offline(False)
    safe(page, 3)
    safe(window, 3)
    assert ["T 0", "T 1", "T 2"] == stored(server)


def test_a_device_that_is_shut_out_keeps_what_it_holds_until_it_is_let_in_again(
    server: Running, device: Callable[..., Device]
) -> None:
    from tests.live_table import CODE

    out, boss = device("Ben"), device("Ana", 1280, 800)
    page, devices = out.page("/pen"), boss.page()
    devices.goto(boss.base + "/devices")
    devices.get_by_role("button", name="Shut out Ben").click()
    devices.wait_for_selector("text=shut out")
    page.locator("#f-tissue").fill("T 5")
    page.locator("#f-tissue").press("Enter")
    page.wait_for_selector("#safe-pair:not([hidden])")
    assert [] == stored(server)
    page.locator("#safe-pair").click()
    page.locator("#code").fill(CODE)
    page.locator("#name").fill("Ben")
    page.locator("button.next").click()
    page.wait_for_url(out.base + "/")
    out.go(page, "/pen")
    safe(page, 1)
    assert ["T 5"] == stored(server)


def test_a_screen_that_missed_too_much_is_brought_up_without_a_reload(
    server: Running, device: Callable[..., Device]
) -> None:
    ana, ben = device("Ana"), device("Ben")
    page, other = ana.page("/pen"), ben.page("/pen")
    ana.context.set_offline(True)
    page.locator("#f-mass_g").fill("12")  # typed, not yet written, and the hand is still there
    remark(other, "T 1")
    safe(other, 1)
    server.kill()
    server.start_again()
    page.evaluate("() => { window.same = true; }")
    ana.context.set_offline(False)
    page.wait_for_function("() => document.getElementById('f-tissue').value === 'T 1'")
    assert page.evaluate("() => window.same && document.activeElement.id === 'f-mass_g'")
    assert "12" == page.locator("#f-mass_g").input_value()


def test_what_waits_for_one_book_does_not_land_in_another_at_the_same_address(
    server: Running, device: Callable[..., Device], tmp_path: Path
) -> None:
    one = device("Ana")
    page = one.page("/pen")
    server.kill()
    remark(page, "T 1")
    waiting(page, 1)
    page.close()
    first = server.asked["book"]
    server.asked = {**server.asked, "book": str(tmp_path / "other.keepfast")}
    (tmp_path / "other.keepfast-devices.json").write_bytes(Path(f"{first}-devices.json").read_bytes())
    server.start_again()
    other = one.page("/pen")
    other.wait_for_function("() => /1 was not taken/.test(document.getElementById('safe-words').textContent)")
    assert "" == other.locator("#f-tissue").input_value()
    assert [] == stored(server)
    with other.expect_download() as download:
        other.locator("#safe-file").click()
    download.value.save_as(tmp_path / "stray.json")
    other.close()
    server.kill()
    server.asked = {**server.asked, "book": first}
    server.start_again()
    again = one.page("/evening")  # the right book is open again: it is offered anew, without anybody's doing
    safe(again, 1)
    again.locator("#take-in").set_input_files(tmp_path / "stray.json")
    again.wait_for_selector("text=1 entries are in the book, 0 were not taken.")
    assert ["T 1"] == stored(server)
