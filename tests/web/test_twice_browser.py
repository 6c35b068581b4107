"""A visit open in two pages, a button pressed twice, and a page that is left with a field half typed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, expect

from .conftest import A2

pytestmark = pytest.mark.browser

CO = '[id="v:as_left/stack/exhaust_co_dry"]'
TO_THE_FRONT = "document.dispatchEvent(new Event('visibilitychange'))"


@pytest.fixture
def laptop(browser: Browser, address: str) -> Iterator[BrowserContext]:
    context = browser.new_context(base_url=address, viewport={"width": 1280, "height": 900})
    yield context
    context.close()


def test_a_page_that_comes_to_the_front_shows_what_another_one_wrote(laptop: BrowserContext) -> None:
    first, second = laptop.new_page(), laptop.new_page()
    first.goto(f"{A2}/exhaust")
    second.goto(f"{A2}/exhaust")
    second.locator(CO).fill("391")
    with second.expect_response(lambda answer: answer.request.method == "POST"):
        second.locator(CO).press("Tab")
    first.evaluate(TO_THE_FRONT)
    expect(first.locator(CO)).to_have_value("391")

    second.get_by_role("button", name="As left").click()
    expect(second.get_by_role("button", name="As left")).to_have_attribute("aria-pressed", "true")
    expect(first.get_by_role("button", name="As left")).to_have_attribute("aria-pressed", "false")
    first.evaluate(TO_THE_FRONT)
    expect(first.get_by_role("button", name="As left")).to_have_attribute("aria-pressed", "true")


def test_what_is_half_typed_or_refused_stays_when_the_page_comes_to_the_front(laptop: BrowserContext) -> None:
    page = laptop.new_page()
    page.goto(f"{A2}/exhaust")
    page.locator(CO).fill("39.5 bar")
    page.locator(CO).press("Tab")
    expect(page.locator(CO)).to_have_attribute("aria-invalid", "true")
    page.evaluate(TO_THE_FRONT)
    page.wait_for_timeout(1500)
    expect(page.locator(CO)).to_have_value("39.5 bar")
    expect(page.locator(CO)).to_have_attribute("aria-invalid", "true")


def test_a_note_whose_button_is_pressed_twice_is_kept_once(laptop: BrowserContext) -> None:
    page = laptop.new_page()
    page.goto(f"{A2}/exhaust")
    page.locator(".recordbtn").click()
    page.locator("#record textarea").fill("smells of gas")
    page.locator("#record .note button").dblclick()
    expect(page.locator("#record")).to_be_hidden()
    page.goto(f"{A2}/log")
    expect(page.locator("p.said", has_text="smells of gas")).to_have_count(1)


def test_a_field_half_typed_when_the_page_goes_is_kept(laptop: BrowserContext) -> None:
    page = laptop.new_page()
    page.goto(f"{A2}/exhaust")
    expect(page.locator("html.js")).to_be_attached()
    page.locator(CO).fill("397")
    page.goto(f"{A2}/load")
    page.goto(f"{A2}/exhaust")
    expect(page.locator(CO)).to_have_value("397")
