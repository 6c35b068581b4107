"""A page printed from the browser: colours of the day whatever the light of the screen, nothing of the frame."""

from __future__ import annotations

import io

import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from .conftest import A2

pytestmark = pytest.mark.browser
DARK = "rgb(16, 32, 29)"
"""Ink of the day."""


@pytest.mark.parametrize("light", ["day", "night", "sun", ""])
def test_paper_has_the_colours_of_the_day(browser: Browser, reading_address: str, light: str) -> None:
    context = browser.new_context(base_url=reading_address, color_scheme="dark")
    if light:
        context.add_cookies([{"name": "light", "value": light, "url": reading_address}])
    page = context.new_page()
    page.goto(f"{A2}/report")
    page.emulate_media(media="print", color_scheme="dark")
    ink = page.evaluate("getComputedStyle(document.querySelector('.mark')).color")
    sheet = page.evaluate("getComputedStyle(document.querySelector('.paper')).backgroundColor")
    assert (ink, sheet) == (DARK, "rgb(255, 255, 255)")
    for frame in (".strip", ".spine", ".foot", ".btn"):
        assert not page.locator(frame).first.is_visible(), frame
    context.close()


@pytest.mark.parametrize(("paper", "width"), [("Letter", 612), ("A4", 595)])
def test_a_page_is_printed_on_the_sheet_of_the_printer(
    browser: Browser, reading_address: str, paper: str, width: int
) -> None:
    context = browser.new_context(base_url=reading_address)
    page = context.new_page()
    page.goto("/worksheets/mixture_from_oxygen?exhaust_oxygen_dry=8.5+%25")
    pages = PdfReader(io.BytesIO(page.pdf(format=paper))).pages
    assert all(abs(float(one.mediabox.width) - width) < 1.5 for one in pages)
    assert "1.6136" in pages[0].extract_text()
    context.close()
