"""Pages of fuel, load and exhaust in a real Chromium: axe, one drawing for each width, text unscaled, no script."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

from .conftest import A2
from .test_accessibility import axe_script

pytestmark = pytest.mark.browser

STEPS = ("fuel", "load", "exhaust")
OPEN_ALL = "document.querySelectorAll('details').forEach(one => one.open = true)"
SHOWN = """() => [...document.querySelectorAll('.pic3')].filter(one => one.offsetParent).map(one => {
    const shown = [...one.children].filter(child => child.offsetParent);
    const svg = shown[0]?.querySelector('svg');
    return [shown.length, svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 0];
})"""


@pytest.mark.parametrize("light", ["day", "night", "sun"])
@pytest.mark.parametrize("width", [1440, 390])
def test_no_violation_with_everything_unfolded(browser: Browser, reading_address: str, light: str, width: int) -> None:
    context = browser.new_context(base_url=reading_address, viewport={"width": width, "height": 1000}, bypass_csp=True)  # type: ignore[arg-type]
    context.add_cookies([{"name": "light", "value": light, "url": reading_address}])
    page, script, found = context.new_page(), axe_script(), []
    for step in STEPS:
        page.goto(f"{A2}/{step}")
        page.evaluate(OPEN_ALL)
        page.evaluate(script)
        answer = page.evaluate("axe.run({resultTypes: ['violations']})")
        found += [f"{step}: {one['id']}: {one['nodes'][0]['html'][:160]}" for one in answer["violations"]]
    context.close()
    assert found == []


@pytest.mark.parametrize("width", [1440, 1180, 820, 600, 390])
def test_one_drawing_is_shown_and_its_text_keeps_its_size(browser: Browser, reading_address: str, width: int) -> None:
    context = browser.new_context(base_url=reading_address, viewport={"width": width, "height": 1000})  # type: ignore[arg-type]
    page = context.new_page()
    for step in STEPS:
        page.goto(f"{A2}/{step}")
        for count, scaled in page.evaluate(SHOWN):
            assert count == 1
            assert 0.97 <= scaled <= 1.35, (step, width, scaled)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    context.close()


def test_with_script_the_ways_follow_a_reading_and_unfolded_numbers_stay_so(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto(f"{A2}/exhaust")
    page.locator("#ways details.numbers summary").first.click()
    box = page.locator('[id="v:as_found/stack/exhaust_co2_dry"]')
    box.fill("5.2")
    box.press("Tab")
    expect(page.locator("#ways")).to_contain_text("does not agree with")
    expect(page.locator("#ways details.numbers").first).to_have_attribute("open", "")
    context.close()


def test_without_script_a_way_is_chosen_and_given_back(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{A2}/exhaust")
    ways = page.locator('[id="ways-stack-excess_air_ratio"]')
    ways.locator("summary").click()
    ways.get_by_role("button", name="Mixture, from carbon dioxide").click()
    chosen = page.locator('[id="ways-stack-excess_air_ratio"] .waytable tr', has_text="Mixture, from carbon dioxide")
    expect(chosen).to_contain_text("chosen")
    page.locator('[id="ways-stack-excess_air_ratio"] summary').click()
    page.get_by_role("button", name="Back to what the program prefers").click()
    expect(page.locator('[id="ways-stack-excess_air_ratio"]')).not_to_contain_text("Back to what the program prefers")
    context.close()
