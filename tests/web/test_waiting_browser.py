"""A page on which visits are still being worked out says so, claims nothing of them, and fills itself in."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

pytestmark = pytest.mark.browser


def test_the_first_page_fills_itself_in(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto("/")
    if page.locator("[data-fills]").count():  # a fast machine may be done before
        assert page.locator(".opn", has_text="not known yet").count() >= 1
    expect(page.locator("[data-fills]")).to_have_count(0, timeout=90_000)
    assert page.get_by_text("Being worked out").count() == 0
    assert page.get_by_text("not known yet").count() == 0
    assert page.locator("#engines li.eng").count() == 7
    context.close()
