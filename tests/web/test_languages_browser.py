"""German and Spanish pages in a browser: no violation of axe, and nothing wider than a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

from .conftest import A2
from .test_accessibility import axe_script, violations

pytestmark = pytest.mark.browser
PATHS = ("/", A2, f"{A2}/fitted", f"{A2}/exhaust", f"{A2}/findings", f"{A2}/report", "/settings")


@pytest.mark.parametrize("language", ["de", "es"])
def test_no_violation_and_no_sideways_scrolling_on_a_phone(
    browser: Browser, reading_address: str, language: str
) -> None:
    context = browser.new_context(
        base_url=reading_address, viewport={"width": 390, "height": 844}, bypass_csp=True, locale=language
    )
    page, script = context.new_page(), axe_script()
    found, wide = [], []
    for path in PATHS:
        found += violations(page, path, script)
        if page.evaluate("document.documentElement.scrollWidth") > 391:
            wide.append(path)
        assert page.get_attribute("html", "lang") == language
    context.close()
    assert found == []
    assert wide == []


@pytest.mark.parametrize(
    ("language", "waits", "kept", "none"),
    [
        ("de", "1 Eintrag wartet", "1 wartet", "Hier wartet nichts."),
        ("es", "1 entrada en espera", "1 en espera", "Aquí no espera nada."),
    ],
)
def test_the_scripts_speak_the_language_of_the_page(
    browser: Browser, address: str, language: str, waits: str, kept: str, none: str
) -> None:
    context = browser.new_context(base_url=address, locale=language)
    page = context.new_page()
    said: list[str] = []
    page.on("console", lambda one: said.append(one.text) if "Content Security Policy" in one.text else None)
    assert none in page.request.get(f"/static/words/{language}/tablet.js").text()
    page.goto(f"{A2}/exhaust")
    page.route("**/*", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    carbon_monoxide = page.locator('[id="v:as_left/stack/exhaust_co_dry"]')
    carbon_monoxide.fill("395")
    carbon_monoxide.press("Tab")
    expect(page.locator("#waits")).to_contain_text(waits)
    expect(page.locator(".kept .strong")).to_contain_text(kept)
    context.close()
    assert said == []
