"""The visit in WebKit (what iPads run: a new one, and one of 2022) and in Firefox: typed, refused, out of reach, sent.

They are no part of what the project installs. A test is skipped where its browser is not, and says which package brings
it; docs/browsers.md tells how to run them and what each browser needs.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from .conftest import A2
from .laptop import Laptop
from .other_browsers import Driven, LackingError, open_browser

pytestmark = [pytest.mark.browser, pytest.mark.slow]

CO = "v:as_left/stack/exhaust_co_dry"
FIELD = f'[id="{CO}"]'
VALUE = "return document.getElementById(arguments[0])?.value === arguments[1]"
WAITS = "return document.getElementById('waits').innerText.includes(arguments[0])"
KEPT = """
  const page = document.documentElement;
  caches.open("asfound-pages").then((box) => box.keys()).then((all) => {
    page.dataset.there = all.map((one) => new URL(one.url).pathname).join(" ");
  });
  return page.dataset.there?.split(" ").includes(arguments[0]);"""


@pytest.fixture(params=["webkit", "older webkit", "firefox"])
def driven(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Driven]:
    with contextlib.ExitStack() as stack:
        try:
            one = open_browser(request.param, tmp_path_factory.mktemp("browser"), stack)
        except LackingError as lacking:
            if os.environ.get("ASFOUND_REQUIRE_OTHER_BROWSERS") == "1":
                pytest.fail(f"ASFOUND_REQUIRE_OTHER_BROWSERS is set, and Debian's {lacking} is not here.")
            pytest.skip(f"No {request.param} here: Debian's {lacking} brings it.")
        yield one


@pytest.fixture
def laptop(home: Path) -> Iterator[Laptop]:
    one = Laptop(home).start()
    yield one
    one.stop()


def let_in(page: Driven, laptop: Laptop) -> None:
    laptop.sharing.new_code()
    page.go(laptop.sharing.pairing_address)
    page.until(VALUE, "code", laptop.sharing.code)
    page.type("#name", "tablet with the yellow cover")
    page.type("#person", "second engineer")
    page.press("main form .btn.main")
    page.until("return location.pathname === '/' && !!document.querySelector('a[href^=\"/engines/\"]')")


def test_a_visit_out_of_reach_of_the_laptop(driven: Driven, laptop: Laptop) -> None:
    page, before = driven, len(laptop.records.entries())
    let_in(page, laptop)
    exhaust = laptop.sharing.address + f"{A2}/exhaust"
    page.go(exhaust)
    page.until(KEPT, f"{A2}/exhaust")
    open_sheets = (
        "return [...document.querySelectorAll('[popover]')].filter((one) => one.getClientRects().length).length"
    )
    assert page.run(open_sheets) == 0

    page.press("form.state button[value=as_left]")
    page.until("return document.querySelector('form.state button[value=as_left]').ariaPressed === 'true'")
    page.type(FIELD, "39.5 bar")
    page.until("return document.getElementById(arguments[0]).getAttribute('aria-invalid') === 'true'", CO)
    assert page.run(VALUE, CO, "39.5 bar")
    page.type(FIELD, "391")
    page.until("return !document.getElementById(arguments[0]).hasAttribute('aria-invalid')", CO)
    page.until("return document.querySelector('.kept').dataset.kept === 'kept'")

    laptop.stop()
    page.type(FIELD, "392")
    page.until(WAITS, "1 entry waits")
    page.go(exhaust)
    page.until(VALUE, CO, "392")
    page.until(WAITS, "1 entry waits")
    page.press("[popovertarget=record]")
    assert page.run(open_sheets) == 1
    page.type("#record textarea", "smells of gas")
    page.press("#record .note .btn")
    page.until(WAITS, "2 entries wait")
    assert page.run(open_sheets) == 0

    laptop.start()
    page.go(laptop.sharing.address + "/waiting")
    page.until("return document.getElementById('waiting-list').innerText.includes('Nothing waits here')")
    new = laptop.records.entries()[before:]
    assert [one.content.get("as_typed") or one.content["text"] for one in new] == [
        "391 ppm",
        "392 ppm",
        "smells of gas",
    ]
    assert {one.who for one in new} == {"second engineer"}


LACKS = """
  delete HTMLElement.prototype.popover;
  delete HTMLElement.prototype.hidePopover;
  delete AbortSignal.timeout;
  delete HTMLFormElement.prototype.requestSubmit;
  const Newer = FormData;
  globalThis.FormData = function (form) { return form ? new Newer(form) : new Newer(); };
  globalThis.FormData.prototype = Newer.prototype;"""


def test_what_an_older_browser_lacks_is_made_up_for(browser: Browser, address: str) -> None:
    """A Chromium without what Safari lacked before 17 sends what is typed, and which button was pressed."""
    context = browser.new_context(base_url=address, viewport={"width": 1280, "height": 900})
    context.add_init_script(LACKS)
    page = context.new_page()
    page.goto(f"{A2}/exhaust")
    record = page.locator(".recordbtn")
    record.click()
    expect(page.locator("#record")).to_have_class("sheet pad record is-open")
    expect(record).to_have_attribute("aria-expanded", "true")
    page.keyboard.press("Escape")
    expect(page.locator("#record")).to_have_class("sheet pad record")
    expect(record).to_be_focused()
    field = page.locator(FIELD)
    field.fill("39.5 bar")
    field.press("Tab")
    expect(field).to_have_attribute("aria-invalid", "true")
    pressed = page.evaluate("""() => {
      const form = document.createElement("form"), button = document.createElement("button");
      Object.assign(button, { name: "answer", value: "yes" });
      form.append(button);
      return [[...new FormData(form, button)], [...new FormData(form)], new FormData() instanceof FormData];
    }""")
    assert pressed == [[["answer", "yes"]], [], True]
    context.close()
