"""The pages in a real Chromium: a whole visit, without script, on a phone, with nobody answering."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from .conftest import A2

pytestmark = pytest.mark.browser

CO = "v:as_left/stack/exhaust_co_dry"
DESK = {"width": 1440, "height": 1000}
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def open_page(browser: Browser, address: str) -> Iterator[Page]:
    """Return a page on a server of its own, that fails the test when anything on it goes wrong."""
    context = browser.new_context(base_url=address, viewport=DESK, accept_downloads=True)  # type: ignore[arg-type]
    made = context.new_page()
    faults: list[str] = []
    made.on("pageerror", lambda error: faults.append(str(error)))
    made.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
    yield made
    context.close()
    assert [one for one in faults if "ERR_" not in one and "422" not in one] == []


def field(page: Page, name: str) -> object:
    return page.locator(f'[id="{name}"]')


def test_the_a2_visit_from_home_to_a_sealed_pdf(open_page: Page, tmp_path: Path) -> None:
    page = open_page
    page.goto("/")
    page.get_by_role("link", name=re.compile("Go on")).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("A2")

    # the next thing leads to the field that is open
    page.get_by_role("link", name="Open exhaust").click()
    page.get_by_role("button", name="As left").click()
    co = page.locator(f'[id="{CO}"]')
    co.fill("39.5 bar")
    co.press("Tab")
    expect(co).to_have_attribute("aria-invalid", "true")
    expect(co).to_have_value("39.5 bar")
    co.fill("395")
    co.press("Tab")
    expect(co).not_to_have_attribute("aria-invalid", "true")
    results = page.get_by_role("region", name="Results")
    expect(results).not_to_contain_text("waits for CO")
    expect(results.get_by_text("CO per energy")).to_be_visible()

    # a look, by the keyboard: digits and Enter open a tag
    page.get_by_role("link", name=re.compile("What is fitted")).first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("What is fitted")
    expect(page.locator("html.js")).to_be_attached()
    page.keyboard.type(page.locator('.d-wide a.tag[href*="service_port"] .tagno').text_content() or "")
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile("place=service_port"))
    page.get_by_role("button", name="As found").click()
    page.locator("#panel .choice", has_text="Seen").first.click()
    page.locator("#panel .choice.pic").first.click()
    expect(page.locator("#panel")).to_contain_text("What this look did")
    expect(page.get_by_role("region", name="The whole build").or_(page.locator(".whole"))).to_contain_text("Moldrevane")

    # a finding decided, an open point, then the report
    page.get_by_role("link", name=re.compile("^Findings")).first.click()
    page.locator("details.decide summary").first.click()
    page.get_by_label("Why").first.fill("told the shift")
    page.get_by_role("button", name="Agreed").first.click()
    expect(page.locator(".decided").first).to_contain_text("told the shift")

    page.get_by_role("link", name=re.compile("^Report")).first.click()
    page.get_by_role("button", name="Close the visit").click()
    expect(page.locator("#seal")).to_contain_text("Digest")
    page.get_by_role("button", name="Check the seal").click()
    expect(page.get_by_text("The seal holds")).to_be_visible()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Make the PDF").click()
    file = tmp_path / waiting.value.suggested_filename
    waiting.value.save_as(file)
    assert file.read_bytes().startswith(b"%PDF-")


def test_focus_stays_and_nothing_moves(open_page: Page) -> None:
    page = open_page
    page.goto(f"{A2}/exhaust")
    page.locator(f'[id="{CO}"]').fill("395")
    page.keyboard.press("Tab")
    expect(page.get_by_role("region", name="Results")).not_to_contain_text("waits for CO")
    focused = page.evaluate("document.activeElement.id || document.activeElement.tagName")
    assert focused == "u:stack/exhaust_co_dry"
    expect(page.get_by_role("region", name="Results")).to_have_attribute("aria-live", "polite")


def test_a_mending_button_puts_the_value(open_page: Page) -> None:
    page = open_page
    page.goto(f"{A2}/exhaust")
    co = page.locator(f'[id="{CO}"]')
    co.fill("1.395")
    co.press("Tab")
    put = page.get_by_role("button", name=re.compile("^Put ")).first
    expect(put).to_be_visible()
    put.click()
    expect(co).not_to_have_attribute("aria-invalid", "true")
    assert co.input_value() != "1.395"


def test_what_is_typed_while_nobody_answers_is_sent_later(open_page: Page) -> None:
    page = open_page
    page.goto(f"{A2}/exhaust")
    gone = True

    def answer(route: Route) -> None:
        if gone and route.request.method == "POST":
            route.abort("connectionrefused")
        else:
            route.continue_()

    page.route("**/*", answer)
    co = page.locator(f'[id="{CO}"]')
    co.fill("395")
    co.press("Tab")
    expect(page.locator("#waits")).to_contain_text("1 entry waits")
    page.reload()
    expect(page.locator("#waits")).to_contain_text("1 entry waits")
    gone = False
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("#waits")).to_be_hidden()
    page.reload()
    expect(page.locator(f'[id="{CO}"]')).to_have_value("395")


def test_what_is_typed_before_the_scripts_are_there_is_sent(open_page: Page) -> None:
    page = open_page

    def slowly(route: Route) -> None:
        page.wait_for_timeout(800)
        route.continue_()

    page.route("**/asfound.js*", slowly)
    page.goto(f"{A2}/exhaust", wait_until="commit")
    co = page.locator(f'[id="{CO}"]')
    co.fill("39.5 bar")
    co.press("Tab")
    assert page.locator("html.js").count() == 0
    expect(co).to_have_attribute("aria-invalid", "true")
    expect(co).to_have_value("39.5 bar")


def test_what_is_refused_while_the_next_page_is_on_its_way_is_told_there(open_page: Page) -> None:
    page = open_page
    page.goto(f"{A2}/exhaust")
    expect(page.locator("html.js")).to_be_attached()

    def slowly(route: Route) -> None:
        if route.request.is_navigation_request():
            page.wait_for_timeout(1500)
        route.continue_()

    page.route("**/*", slowly)
    page.evaluate(
        """(id) => { const co = document.getElementById(id);
             document.querySelector('form.state button[value="as_left"]').click();
             co.value = "39.5 bar"; co.dispatchEvent(new Event("change", { bubbles: true })); }""",
        CO,
    )
    expect(page.get_by_role("button", name="As left")).to_have_attribute("aria-pressed", "true")
    co = page.locator(f'[id="{CO}"]')
    expect(co).to_have_attribute("aria-invalid", "true")
    expect(co).to_have_value("39.5 bar")


def test_light_and_keys(open_page: Page) -> None:
    page = open_page
    page.goto(A2)
    page.get_by_role("button", name="Sunlight").first.click()
    expect(page.locator("html")).to_have_attribute("data-light", "sun")
    page.goto(f"{A2}/exhaust")
    expect(page.locator("html")).to_have_attribute("data-light", "sun")
    ready = page.locator("html.js")  # the script listens
    expect(ready).to_be_attached()
    page.keyboard.press("l")
    expect(page.get_by_role("button", name="As left")).to_have_attribute("aria-pressed", "true")
    expect(ready).to_be_attached()
    page.keyboard.press("f")
    expect(page.get_by_role("button", name="As found")).to_have_attribute("aria-pressed", "true")
    expect(ready).to_be_attached()
    page.keyboard.press("/")
    page.keyboard.type("oxygen")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Find")


def test_tab_goes_round_the_engine_in_the_order_of_the_tags(open_page: Page) -> None:
    page = open_page
    page.goto(f"{A2}/fitted")
    numbers = page.evaluate(
        "[...document.querySelectorAll('a.tag')].filter(one => one.getBoundingClientRect().width)"
        ".map(one => Number(one.querySelector('.tagno').textContent))"
    )
    assert numbers == sorted(numbers)
    assert numbers[0] == 1


def test_without_script_everything_works_with_a_keep_button(browser: Browser, address: str) -> None:
    context: BrowserContext = browser.new_context(base_url=address, java_script_enabled=False, viewport=DESK)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(f"{A2}/exhaust")
    page.locator(f'[id="{CO}"]').fill("395 bar")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator(f'[id="{CO}"]')).to_have_value("395 bar")
    expect(page.locator(".ferr").first).to_be_visible()
    page.locator(f'[id="{CO}"]').fill("395")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_role("region", name="Results")).not_to_contain_text("waits for CO")

    page.goto(f"{A2}/fitted?place=service_port#panel")
    page.locator("#panel .choice", has_text="Looked, not there").first.click()
    page.get_by_role("button", name="Keep this look").click()
    expect(page.locator("#panel")).to_contain_text("What this look did")
    page.get_by_role("button", name="As left").click()
    expect(page.get_by_role("button", name="As left")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Night").first.click()
    expect(page.locator("html")).to_have_attribute("data-light", "night")
    context.close()


def test_on_a_phone_one_hand_does_it(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, viewport=PHONE, has_touch=True, is_mobile=True)  # type: ignore[arg-type]
    page = context.new_page()
    for path in (
        "/",
        A2,
        f"{A2}/fitted",
        f"{A2}/exhaust",
        f"{A2}/cylinders",
        f"{A2}/findings",
        f"{A2}/report",
        "/settings",
    ):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{path} is wider than the phone"
    page.goto(f"{A2}/fitted")
    page.locator(".d-tall a.tag").nth(3).tap()
    panel = page.locator("#panel")
    expect(panel).to_be_in_viewport()
    assert page.evaluate("getComputedStyle(document.querySelector('#panel')).position") == "fixed"
    small = page.evaluate(
        "[...document.querySelectorAll('.dock a, .dock button, #panel .choice, #panel .btn, .state button, .mark')]"
        ".map(one => one.getBoundingClientRect())"
        ".filter(one => one.width && (one.height < 47.5 || one.width < 47.5)).length"
    )
    assert small == 0
    page.get_by_role("button", name="Take").tap()
    expect(page.get_by_role("link", name=re.compile("Fuel gas"))).to_be_visible()
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Record").tap()
    page.get_by_label("A note").fill("smells of gas at the regulator")
    page.get_by_role("button", name="Keep the note").tap()
    expect(page.locator("#record")).to_be_hidden()
    page.goto(A2)
    expect(page.get_by_text("smells of gas at the regulator")).to_be_visible()
    context.close()
