"""German and Spanish pages in a browser: no violation of axe, and nothing wider than a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

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
