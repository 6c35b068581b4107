"""A tablet in a real Chromium, over TLS: let in, out of reach in mid visit, the page killed, and back: nothing lost,
nothing doubled, all in order.
"""

from __future__ import annotations

import contextlib
import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Error, Page, Playwright, Route, expect

from .conftest import A2
from .laptop import Laptop, tablet
from .test_accessibility import axe_script, violations

pytestmark = pytest.mark.browser

CO = "v:as_left/stack/exhaust_co_dry"
PAGES = "caches.open('asfound-pages').then(c => c.keys()).then(k => k.map(one => new URL(one.url).pathname))"


@pytest.fixture
def laptop(home: Path, browser_type_launch_args: dict[str, object]) -> Iterator[Laptop]:
    one = Laptop(home).start()
    yield one
    one.stop()


def pair(page: Page, laptop: Laptop, person: str = "second engineer") -> None:
    laptop.sharing.new_code()
    page.goto(laptop.sharing.pairing_address)
    expect(page.get_by_label("Code")).to_have_value(laptop.sharing.code)
    expect(page).not_to_have_url(re.compile("#"))
    page.get_by_label("What this device is called").fill("tablet with the yellow cover")
    page.get_by_label("Who works on it").fill(person)
    page.get_by_role("button", name="Let this device in").click()
    expect(page.get_by_role("link", name="A2").first).to_be_visible()


def kept_pages(page: Page, *wanted: str) -> None:
    """Wait until the pages of the visit are on the tablet."""
    for _ in range(150):
        if set(wanted) <= set(page.evaluate(PAGES)):
            return
        page.wait_for_timeout(200)
    raise AssertionError(f"{wanted} are not kept: {page.evaluate(PAGES)}")


def field(page: Page, name: str) -> object:
    return page.locator(f'[id="{name}"]')


def type_in(page: Page, name: str, value: str) -> None:
    one = page.locator(f'[id="{name}"]')
    one.fill(value)
    one.press("Tab")


def photo() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (900, 600), "#7a5c3c").save(out, "JPEG")
    return out.getvalue()


def test_the_network_is_cut_in_mid_visit_and_the_page_is_killed(
    playwright: Playwright, laptop: Laptop, tmp_path: Path
) -> None:
    before = len(laptop.records.entries())
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    page.goto(laptop.sharing.address + f"{A2}/exhaust")
    kept_pages(page, f"{A2}/exhaust", f"{A2}/load", f"{A2}/fitted", A2, "/waiting")
    page.get_by_role("button", name="As left").click()
    expect(page.get_by_role("button", name="As left")).to_have_attribute("aria-pressed", "true")
    type_in(page, CO, "391")
    expect(page.locator(".kept")).to_have_attribute("data-kept", "kept")

    laptop.stop()
    type_in(page, CO, "392")
    expect(page.locator("#waits")).to_contain_text("1 entry waits")
    expect(page.locator(".kept")).to_have_attribute("data-kept", "waiting")
    type_in(page, CO, "393")
    expect(page.locator("#waits")).to_contain_text("2 entries wait")

    # the renderer is killed; the page that comes back is the one that the tablet kept, with what waits in its fields
    crash(context, page)
    page = context.new_page()
    page.goto(laptop.sharing.address + f"{A2}/exhaust")
    expect(field(page, CO)).to_have_value("393")  # type: ignore[arg-type]
    expect(page.locator("#waits")).to_contain_text("2 entries wait")
    page.goto(laptop.sharing.address + A2)
    page.get_by_role("button", name="Record").or_(page.get_by_label("A note")).first.click()
    page.get_by_label("A note").first.fill("smells of gas at the regulator")
    page.get_by_role("button", name="Keep the note").first.click()
    expect(page.locator("#waits")).to_contain_text("3 entries wait")
    page.locator("form[data-photo] input[type=file]").first.set_input_files(
        {"name": "valve.jpg", "mimeType": "image/jpeg", "buffer": photo()}
    )
    expect(page.locator("#waits")).to_contain_text("4 entries wait")

    # the whole browser is closed and opened again, still out of reach
    context.close()
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    page.goto(laptop.sharing.address + f"{A2}/exhaust")
    type_in(page, CO, "394")
    expect(page.locator("#waits")).to_contain_text("5 entries wait")
    page.goto(laptop.sharing.address + "/waiting")
    expect(page.locator(".queue > li")).to_have_count(5)
    expect(page.locator(".queue")).to_contain_text("valve.jpg")

    laptop.start()
    expect(page.locator(".queue > li")).to_have_count(0, timeout=30_000)
    new = laptop.records.entries()[before:]
    assert [
        (one.kind, one.content.get("as_typed") or one.content.get("text") or one.content["filename"]) for one in new
    ] == [
        ("reading", "391 ppm"),
        ("reading", "392 ppm"),
        ("reading", "393 ppm"),
        ("note", "smells of gas at the regulator"),
        ("photo", "valve.jpg"),
        ("reading", "394 ppm"),
    ]
    assert {one.who for one in new} == {"second engineer"}
    assert new[3].content["state"] == "as_left"
    page.goto(laptop.sharing.address + f"{A2}/exhaust")
    expect(field(page, CO)).to_have_value("394")  # type: ignore[arg-type]
    expect(page.locator(".kept")).to_have_attribute("data-kept", "kept")
    context.close()


def crash(context: BrowserContext, page: Page) -> None:
    """Kill the process that shows a page, as a tablet short of memory does."""
    with page.expect_event("crash"), contextlib.suppress(Error):
        page.goto("chrome://crash", timeout=3000)


def test_an_answer_that_is_lost_doubles_nothing(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    """The laptop keeps each entry, and its answer does not arrive: twice for every one."""
    before = len(laptop.records.entries())
    context = tablet(playwright, tmp_path / "profile", laptop, service_workers="block", ignore_https_errors=True)
    page = context.new_page()
    pair(page, laptop)
    page.goto(laptop.sharing.address + f"{A2}/exhaust")
    sent: dict[str, int] = {}

    def lose(route: Route) -> None:
        key = route.request.headers.get("x-asfound-entry", "")
        if route.request.method != "POST":
            route.continue_()
            return
        sent[key] = sent.get(key, 0) + 1
        if sent[key] <= 2:
            route.fetch(max_redirects=0)  # it arrives, and is kept
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/*", lose)
    for value in ("391", "392", "393"):
        type_in(page, CO, value)
    expect(page.locator("#waits")).to_be_visible()
    expect(page.locator("#waits")).to_be_hidden(timeout=60_000)
    assert sorted(sent.values()) == [3, 3, 3]
    new = [one.content["as_typed"] for one in laptop.records.entries()[before:]]
    assert new == ["391 ppm", "392 ppm", "393 ppm"]
    context.close()


def test_what_the_laptop_refuses_later_is_not_dropped(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    page.goto(laptop.sharing.address + f"{A2}/exhaust")
    kept_pages(page, f"{A2}/exhaust", "/waiting")
    laptop.stop()
    type_in(page, CO, "39.5 bar")
    expect(page.locator("#waits")).to_contain_text("1 entry waits")
    page.goto(laptop.sharing.address + "/waiting")
    laptop.start()
    expect(page.locator("#waits")).to_contain_text("Not kept", timeout=30_000)
    expect(page.locator(".kept")).to_have_attribute("data-kept", "not")
    expect(page.locator(".queue .bad")).to_contain_text("39.5 bar")
    page.get_by_role("link", name="To its page").click()
    expect(field(page, CO)).to_have_value("39.5 bar")  # type: ignore[arg-type]
    type_in(page, CO, "395")
    expect(page.locator("#waits")).to_be_hidden()
    expect(page.locator(".kept")).to_have_attribute("data-kept", "kept")
    assert laptop.records.entries()[-1].content["as_typed"] == "395 ppm"
    context.close()


def test_a_device_that_was_shut_out_keeps_what_was_typed(
    playwright: Playwright, laptop: Laptop, tmp_path: Path
) -> None:
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    page.goto(laptop.sharing.address + f"{A2}/exhaust")
    kept_pages(page, f"{A2}/exhaust")
    laptop.sharing.devices.withdraw("tablet with the yellow cover")
    before = len(laptop.records.entries())
    type_in(page, CO, "395")
    expect(page.locator("#waits")).to_contain_text("this device is not let in any more")
    page.goto(laptop.sharing.address + "/")
    expect(page).to_have_url(re.compile("/pair$"))
    page.wait_for_timeout(500)
    assert f"{A2}/exhaust" not in page.evaluate(PAGES), "a device that is shut out keeps no page once it asked"
    assert len(laptop.records.entries()) == before
    pair(page, laptop, "third engineer")
    for _ in range(60):  # the line is hidden at first as well: the entry itself says when it has come
        if len(laptop.records.entries()) > before:
            break
        page.wait_for_timeout(250)
    expect(page.locator("#waits")).to_be_hidden()
    kept = laptop.records.entries()[before:]
    assert [one.content["as_typed"] for one in kept] == ["395 ppm"]
    context.close()


def test_the_pages_can_be_installed(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    devtools = context.new_cdp_session(page)
    told = devtools.send("Page.getAppManifest")
    assert told["errors"] == []
    assert '"start_url"' in told["data"]
    found = devtools.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [one["errorId"] for one in found] in ([], ["in-incognito"])
    context.close()


def test_no_violation_on_the_pages_of_the_door(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    context = tablet(playwright, tmp_path / "profile", laptop, bypass_csp=True)
    page, script = context.new_page(), axe_script()
    paths = ("/trust", "/pair")
    found = [one for path in paths for one in violations(page, laptop.sharing.address + path, script)]
    pair(page, laptop)
    found += violations(page, laptop.sharing.address + "/waiting", script)
    context.close()
    assert found == []
