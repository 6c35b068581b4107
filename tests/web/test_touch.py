"""Hands in gloves: every control of every page is 44 pixels wide and high at least on tablet and phone, upright and on
its side; nothing is said only under a pointer that hovers; the field that is typed in is not covered.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

import asfound.web

from .conftest import A2

SIZES = {"tablet": (834, 1112), "phone": (390, 844), "phone on its side": (844, 390)}
LEAST = 44
"""WCAG 2.2, success criterion 2.5.5 (enhanced): 44 by 44 CSS pixels; links in a sentence are excepted there as well."""
PAGES = [
    "/", "/engines/A2", "/engines/A2/due", "/fleet", "/settings", "/instruments", "/hand-over", "/take-in", "/settle",
    "/engines/new", "/sharing", A2,
    *(f"{A2}/{step}" for step in ("exhaust", "load", "fuel", "cylinders", "fitted", "findings", "crosscheck", "trouble",
                                  "whatif", "history", "due", "report", "log", "report/for/office")),
]  # fmt: skip
SMALL = """(least) => {
  for (const one of document.querySelectorAll("details")) one.open = true;
  const small = [];
  for (const one of document.querySelectorAll("button,select,input,textarea,summary,a")) {
    if (one.type === "hidden" || one.closest("[hidden],.vh,svg")) continue;
    const boxes = [one, ...(one.matches("[type=checkbox],[type=radio],[type=file]") && one.labels || [])];
    const sizes = boxes.map((each) => each.getBoundingClientRect());
    if (sizes.every((each) => each.width <= 1 || each.right < 0)) continue;
    const style = getComputedStyle(one);
    if (style.visibility === "hidden" || (one.matches("a") && style.display === "inline")) continue;
    if (!sizes.some((each) => each.width >= least - 0.5 && each.height >= least - 0.5)) {
      const said = (one.innerText || one.getAttribute("aria-label") || one.name || "").trim().slice(0, 30);
      small.push(`${one.tagName} "${said}" ${sizes[0].width.toFixed(0)} x ${sizes[0].height.toFixed(0)}`);
    }
  }
  return small;
}"""


@pytest.mark.browser
@pytest.mark.slow
@pytest.mark.parametrize("size", SIZES, ids=str)
def test_every_control_can_be_met_by_a_finger(browser: Browser, reading_address: str, size: str) -> None:
    width, height = SIZES[size]
    context = browser.new_context(
        base_url=reading_address, viewport={"width": width, "height": height}, has_touch=True, is_mobile=True
    )
    page, small = context.new_page(), []
    for path in PAGES:
        page.goto(path)
        small += [f"{path}: {one}" for one in page.evaluate(SMALL, LEAST)]
        beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        small += [f"{path} is {beyond} wider than the screen"] if beyond > 0 else []
    context.close()
    assert small == []


@pytest.mark.browser
@pytest.mark.parametrize("path", ["", "/exhaust", "/due", "/trouble", "/findings"], ids=lambda one: one or "visit")
def test_a_field_that_is_typed_in_is_not_covered(browser: Browser, reading_address: str, path: str) -> None:
    """With a keyboard over half of a phone 360 pixels are left; what stays in place must not lie over the field."""
    context = browser.new_context(
        base_url=reading_address, viewport={"width": 390, "height": 360}, has_touch=True, is_mobile=True
    )
    page = context.new_page()
    page.goto(A2 + path)
    page.evaluate("for (const one of document.querySelectorAll('#main details')) one.open = true")
    covered = page.evaluate(
        """async () => {
          const covered = [], chosen = "#main input[type=text],#main input[type=date],#main textarea,#main select";
          for (const one of [...document.querySelectorAll(chosen)].slice(0, 25)) {
            if (!one.checkVisibility() || one.closest(".vh")) continue;
            one.focus();
            await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
            const { left, top, width, height } = one.getBoundingClientRect();
            const over = document.elementFromPoint(left + width / 2, top + height / 2);
            if (!over || !(over === one || one.contains(over) || over.contains(one) || over.closest("label")))
              covered.push(`${one.name} under ${over ? over.className || over.tagName : "nothing"}`);
          }
          return covered;
        }"""
    )
    context.close()
    assert covered == []


def test_nothing_is_said_only_to_a_pointer_that_hovers() -> None:
    """No rule shows anything on hover alone, and no words stand in a title."""
    folder = Path(asfound.web.__file__).parent
    shown = re.compile(r"(?:^|[;{\s])(?:display|visibility|opacity|content)\s*:")
    for sheet in sorted((folder / "static" / "css").glob("*.css")):
        for chosen, rule in re.findall(r"([^{}]*:hover[^{}]*)\{([^{}]*)\}", sheet.read_text(encoding="utf-8")):
            assert not shown.search(rule) or ":focus" in chosen, f"{sheet.name}: {chosen.strip()}"
    for page in sorted((folder / "templates").glob("*.html")):
        for tag in re.findall(r"<[a-z][^>]*\stitle=[^>]*>", page.read_text(encoding="utf-8")):
            named = re.search(r'aria-label="([^"]*)"', tag)  # what is read aloud, of a picture that says it already
            assert tag.startswith(("<abbr", "<link")) or (named and f'title="{named[1]}"' in tag), page.name
