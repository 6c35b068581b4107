"""What is wrong in a real Chromium: the way through it with and without script, one drawing a width, axe unfolded."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from .conftest import A2
from .test_accessibility import axe_script
from .test_page_browser import OPEN_ALL, SHOWN

pytestmark = pytest.mark.browser

PAGE = f"{A2}/trouble"


def knock(page: Page) -> None:
    """Say that it knocks, from the groups of symptoms."""
    page.locator("#g-combustion > summary").click()
    page.locator("#a-s_knock-present").click()
    expect(page.locator("#y-s_knock-present")).to_have_attribute("aria-pressed", "true")


def test_with_script_each_answer_is_put_in_place_and_the_focus_goes_on(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto(PAGE)
    page.evaluate("window.stays = true")
    knock(page)
    expect(page.locator("#urgent")).to_contain_text("first decide whether it runs on")
    page.locator("#runs-yes").click()
    expect(page.locator("#runs-yes")).to_have_attribute("aria-pressed", "true")
    block = page.locator("section.next.step")
    first = block.locator("h2").inner_text()
    block.locator(".ans button", has_text="Not so").click()
    expect(block.locator("h2")).not_to_have_text(first)
    expect(block.locator("h2")).to_be_focused()
    expect(page.locator("#moved svg").first).to_be_visible()
    assert page.evaluate("window.stays"), "no page was loaded anew"
    page.locator("#y-s_knock-absent").click()
    expect(page.locator("#y-s_knock-absent")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("#y-s_knock-absent")).to_be_focused()
    page.reload()
    expect(page.locator("#y-s_knock-absent")).to_have_attribute("aria-pressed", "true")
    context.close()


def test_a_double_click_answers_one_test(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto(PAGE)
    knock(page)
    page.locator("#runs-yes").click()
    expect(page.locator("#runs-yes")).to_have_attribute("aria-pressed", "true")
    made = page.locator("#tests tr.done:has(form)").count()
    page.locator("section.next.step .ans button", has_text="Not so").dblclick()
    expect(page.locator("#tests tr.done:has(form)")).to_have_count(made + 1)
    page.wait_for_timeout(400)
    assert page.locator("#tests tr.done:has(form)").count() == made + 1
    context.close()


def test_without_script_the_whole_way_to_a_closed_case_and_back(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.goto(PAGE)
    knock(page)
    page.locator("#runs-yes").click()
    block = page.locator("section.next.step")
    block.locator("#next-note > summary").click()
    block.locator("input[name=note]").fill("asked the shift")
    block.locator(".ans button", has_text="Not so").click()
    expect(page.locator("#tests tr.done", has_text="asked the shift")).to_be_visible()
    page.locator("#f-cause").select_option("c_gas_heavy")
    page.locator("label.choice", has_text="The fault itself was seen").click()
    page.get_by_role("button", name="Close the case").click()
    expect(page.locator("#closed")).to_contain_text("Fuel gas became heavier")
    expect(page.locator("section.next.step")).to_have_count(0)
    page.locator("#closed").get_by_role("button", name="Take back").click()
    expect(page.locator("section.next.step")).to_be_visible()
    page.locator("#s-s_knock").get_by_role("button", name="Take back").click()
    expect(page.locator("#s-s_knock")).to_have_count(0)
    context.close()


@pytest.mark.parametrize("width", [1440, 820, 390])
def test_nothing_overflows_one_drawing_is_shown_and_axe_finds_nothing(
    browser: Browser, address: str, width: int
) -> None:
    context = browser.new_context(base_url=address, viewport={"width": width, "height": 1000}, bypass_csp=True)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(PAGE)
    knock(page)
    for light in ("day", "night", "sun"):
        context.add_cookies([{"name": "light", "value": light, "url": address}])
        page.goto(PAGE)
        for count, scaled in page.evaluate(SHOWN):
            assert count == 1
            assert 0.9 <= scaled <= 1.35, scaled
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.evaluate(OPEN_ALL)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "unfolded"
        page.evaluate(axe_script())
        found = page.evaluate("axe.run({resultTypes: ['violations']})")["violations"]
        assert [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found] == []
    context.close()
