"""Every form of a visit on a tablet that is out of reach: kept on it, sent later, once, in order, with its own time;
what the laptop refuses stays and can be mended; two tablets at once; a clock hours wrong; a box that cannot be written.
"""

from __future__ import annotations

import io
import random
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, Playwright, expect

from .conftest import A2
from .laptop import Laptop, tablet
from .test_tablet_browser import CO, crash, kept_pages, pair, type_in

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SEND = """([action, fields]) => {
  const form = [...document.forms].find((one) => one.getAttribute("action").endsWith(action)), button = fields.button;
  for (const [name, value] of Object.entries(fields)) {
    if (name === "button") continue;
    const field = form.elements.namedItem(name);
    const one = field.length && !field.options ? [...field].find((each) => each.value === value) : field;
    if (one.type === "radio" || one.type === "checkbox") one.checked = true; else one.value = value;
  }
  const pressed = button && [...form.elements].find((one) => one.name === button[0] && one.value === button[1]);
  form.requestSubmit(pressed || null);
}"""
FORMS: list[tuple[str, str, dict[str, object], str]] = [
    ("", "/events", {"event": "stopped", "says": "stopped by hand"}, "visit_state"),
    ("", "/notes", {"text": "a note"}, "note"),
    ("/exhaust", "/exhaust/way", {"why": "the other one drifted"}, "method_choice"),
    ("/exhaust", "/exhaust/add", {"quantity": "air_fuel_ratio", "value": "27 kg/kg"}, "reading"),
    ("/findings", "/findings/decide", {"why": "seen", "button": ["decision", "done"]}, "finding_decision"),
    ("/findings", "/findings/points", {"says": "order a gasket"}, "open_point"),
    ("/findings", "/findings/points/done", {"button": ["done", "yes"]}, "open_point"),
    ("/due", "/due/done", {"task": "air_filter", "date": "2032-07-08", "hours": "41860"}, "task_done"),
    ("/trouble", "/trouble/symptom", {"button": ["says", "present"]}, "trouble_symptom"),
    ("/trouble", "/trouble/protection", {"button": ["says", "in_force"]}, "protection_seen"),
    ("/whatif", "/whatif/undo", {}, "withdrawn"),
    ("/report/for/office", "/report/hours", {"what": "travel", "length": "1:30"}, "time_spent"),
    ("/fitted", "/fitted", {"answer": "seen", "how": "at_part"}, "look"),
    ("/log", "/undo", {}, "withdrawn"),
]


@pytest.fixture
def laptop(home: Path, browser_type_launch_args: dict[str, object]) -> Iterator[Laptop]:
    one = Laptop(home).start()
    yield one
    one.stop()


def waiting(page: Page, number: int) -> None:
    expect(page.locator("#waits")).to_contain_text(re.compile(rf"\b{number} entr(y waits|ies wait)"), timeout=20_000)


def away(page: Page, laptop: Laptop, *paths: str) -> None:
    """Keep pages on the tablet, then let the laptop be gone."""
    for one in paths:
        page.goto(f"{laptop.sharing.address}{A2}{one}")
    kept_pages(page, *(f"{A2}{one}" for one in paths), "/waiting")
    laptop.stop()


def arrived(page: Page, laptop: Laptop) -> None:
    page.goto(laptop.sharing.address + "/waiting")
    expect(page.get_by_text("Nothing waits here.").or_(page.locator(".queue > li:has(.bad)")).first).to_be_visible(
        timeout=60_000
    )
    expect(page.locator(".queue > li:not(:has(.bad))")).to_have_count(0, timeout=60_000)
    assert page.locator(".queue > li").all_inner_texts() == []


def test_every_form_of_a_visit_is_kept_and_sent_in_order(
    playwright: Playwright, laptop: Laptop, tmp_path: Path
) -> None:
    before = len(laptop.records.entries())
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    away(page, laptop, *dict.fromkeys(path for path, *_ in FORMS))
    for n, (path, action, fields, _) in enumerate(FORMS):
        if n == len(FORMS) // 2:
            crash(context, page)
            page = context.new_page()
        page.goto(f"{laptop.sharing.address}{A2}{path}")
        page.evaluate(SEND, [action, fields])
        waiting(page, n + 1)
    laptop.start()
    arrived(page, laptop)
    context.close()
    new = laptop.records.entries()[before:]
    assert [one.kind for one in new] == [kind for *_, kind in FORMS]
    assert {one.who for one in new} == {"second engineer"}


def test_places_that_were_not_opened_can_be_looked_at(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    page.goto(f"{laptop.sharing.address}{A2}/fitted")
    places = page.eval_on_selector_all("li a[href*='fitted?place=']", "all => all.map(one => one.href.split('#')[0])")
    for _ in range(300):
        kept = page.evaluate("caches.open('asfound-pages').then(c => c.keys()).then(k => k.map(one => one.url))")
        if set(places) <= set(kept):
            break
        page.wait_for_timeout(200)
    laptop.stop()
    page.goto(next(one for one in places if one.endswith("nameplate")))
    expect(page.locator("form[data-live=whole] [name=slot]")).to_have_value("nameplate")
    context.close()
    laptop.start()


def test_what_is_refused_later_stays_and_is_mended(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    away(page, laptop, "/due", "/report/for/office")
    page.goto(f"{laptop.sharing.address}{A2}/due")
    page.evaluate(SEND, ["/due/done", {"task": "air_filter", "date": "2032-07-08", "hours": "many"}])
    waiting(page, 1)
    page.goto(f"{laptop.sharing.address}{A2}/report/for/office")
    page.evaluate(SEND, ["/report/hours", {"what": "travel", "length": "1:30"}])
    waiting(page, 2)
    page.goto(laptop.sharing.address + "/waiting")
    before = len(laptop.records.entries())
    laptop.start()
    expect(page.locator(".queue .bad")).to_have_count(1, timeout=60_000)
    expect(page.locator(".queue .bad")).to_contain_text("many")
    expect(page.locator(".queue > li")).to_have_count(1)  # the one behind it went through
    assert [one.kind for one in laptop.records.entries()[before:]] == ["time_spent"]
    page.get_by_role("link", name="To its page").click()
    expect(page).to_have_url(re.compile("/due"))
    page.evaluate(SEND, ["/due/done", {"task": "air_filter", "date": "2032-07-08", "hours": "41860"}])
    expect(page.locator("#main")).to_contain_text("41,860")
    page.goto(laptop.sharing.address + "/waiting")
    page.get_by_role("button", name="Forget it").click()
    expect(page.locator(".queue > li")).to_have_count(0)
    assert [one.kind for one in laptop.records.entries()[before:]] == ["time_spent", "task_done"]
    context.close()


def test_two_tablets_and_a_clock_hours_wrong(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    before = len(laptop.records.entries())
    pages, contexts = [], []
    for n in range(2):
        context = tablet(playwright, tmp_path / f"profile{n}", laptop)
        contexts.append(context)
        if n:
            context.add_init_script("const now = Date.now; Date.now = () => now() - 7 * 3600e3;")
        page = context.new_page()
        pair(page, laptop, f"engineer {n}")
        page.goto(f"{laptop.sharing.address}{A2}/exhaust")
        kept_pages(page, f"{A2}/exhaust", "/waiting")
        pages.append(page)
    laptop.stop()
    for value in ("401", "402", "403"):
        for n, page in enumerate(pages):
            type_in(page, CO, f"{value}.{n}")
    for page in pages:
        waiting(page, 3)
    laptop.start()
    for page in pages:
        arrived(page, laptop)
    for context in contexts:
        context.close()
    new = laptop.records.entries()[before:]
    for n in range(2):
        typed = [str(one.content["as_typed"]) for one in new if one.who == f"engineer {n}"]
        assert typed == [f"{value}.{n} ppm" for value in ("401", "402", "403")]
    now = laptop.records.clock.now()
    for one in new:
        assert now - timedelta(minutes=5) < datetime.fromisoformat(str(one.content["time"])) <= now


def test_three_hundred_entries_and_a_large_photo(playwright: Playwright, laptop: Laptop, tmp_path: Path) -> None:
    before = len(laptop.records.entries())
    context = tablet(playwright, tmp_path / "profile", laptop)
    page = context.new_page()
    pair(page, laptop)
    away(page, laptop, "")
    page.goto(f"{laptop.sharing.address}{A2}")
    page.evaluate(
        """async (url) => { for (let n = 0; n < 300; n++)
             await outbox.put({ id: outbox.identifier(), home: document.body.dataset.home, page: location.pathname,
               column: "as_left", at: Date.now(), url, pairs: [["text", `note ${n}`]], whole: true, says: "Note" });
           await outbox.tell(); }""",
        f"{A2}/notes",
    )
    waiting(page, 300)
    picture = io.BytesIO()
    noise = Image.frombytes("RGB", (2400, 1800), random.Random(1).randbytes(2400 * 1800 * 3))
    noise.save(picture, "PNG", compress_level=0)
    assert picture.tell() > 12e6
    page.locator("form[data-photo] input[type=file]").first.set_input_files(
        {"name": "large.png", "mimeType": "image/png", "buffer": picture.getvalue()}
    )
    waiting(page, 301)
    crash(context, page)
    page = context.new_page()
    page.goto(laptop.sharing.address + "/waiting")
    expect(page.locator(".queue > li")).to_have_count(301)
    laptop.start()
    expect(page.locator(".queue > li")).to_have_count(0, timeout=180_000)
    context.close()
    new = laptop.records.entries()[before:]
    assert [one.content.get("text") or one.content["filename"] for one in new] == [
        *(f"note {n}" for n in range(300)), "large.png",
    ]  # fmt: skip


@pytest.mark.parametrize("how", ["blocked", "full"])
def test_a_tablet_that_can_keep_nothing_says_so(
    playwright: Playwright, laptop: Laptop, tmp_path: Path, how: str
) -> None:
    """As in private mode, or with no room left: in reach it is sent at once; out of reach it is said and stays."""
    before = len(laptop.records.entries())
    context = tablet(playwright, tmp_path / "profile", laptop)
    context.add_init_script(
        "IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); };"
        if how == "blocked"
        else "IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };"
    )
    page = context.new_page()
    pair(page, laptop)
    page.goto(f"{laptop.sharing.address}{A2}/exhaust")
    kept_pages(page, f"{A2}/exhaust", "/waiting")
    type_in(page, CO, "411")
    for _ in range(100):
        if len(laptop.records.entries()) > before:
            break
        page.wait_for_timeout(200)
    expect(page.locator(".kept")).to_have_attribute("data-kept", "kept")
    assert [one.content["as_typed"] for one in laptop.records.entries()[before:]] == ["411 ppm"]
    laptop.stop()
    type_in(page, CO, "412")
    expect(page.locator("#waits")).to_contain_text("Not kept", timeout=30_000)
    expect(page.locator(f'[id="{CO}"]')).to_have_value("412")
    laptop.start()
    assert len(laptop.records.entries()) == before + 1
    context.close()
