"""A page on which visits are still being worked out says so, claims nothing of them, and fills itself in."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

pytestmark = pytest.mark.browser

SEEN = """() => [
  document.querySelectorAll("[data-fills]").length,
  [...document.querySelectorAll(".opn")].filter((one) => one.textContent.includes("not known yet")).length,
]"""


def test_the_first_page_fills_itself_in(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto("/")
    waits, unknown = page.evaluate(SEEN)
    assert unknown >= 1 or not waits  # a fast machine may be done before
    expect(page.locator("[data-fills]")).to_have_count(0, timeout=90_000)
    assert page.get_by_text("Being worked out").count() == 0
    assert page.get_by_text("not known yet").count() == 0
    assert page.locator("#engines li.eng").count() == 7
    context.close()
