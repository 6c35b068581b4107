"""axe on every page, by day, by night and in sunlight: no violation."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from .conftest import A2

pytestmark = pytest.mark.browser

READERS = (
    "operator", "site_manager", "compliance", "reliability", "parts", "planning", "engineering", "office",
    "next_engineer", "accountant",
)  # fmt: skip
PAGES = [
    "/",
    "/engines/new",
    "/engines/A2",
    A2,
    f"{A2}/fitted",
    f"{A2}/fitted?place=speed_controller",
    f"{A2}/fuel",
    f"{A2}/load",
    f"{A2}/exhaust",
    f"{A2}/cylinders",
    f"{A2}/other",
    f"{A2}/crosscheck",
    f"{A2}/crosscheck?state=as_left",
    f"{A2}/trouble",
    f"{A2}/trouble?find=hot",
    f"{A2}/trouble/codes",
    "/engines/D2/2032-06-21/trouble",
    f"{A2}/whatif",
    f"{A2}/whatif?state=as_found&mixture=1.74&timing=60",
    f"{A2}/whatif?state=as_found&mixture=1.74&back=nox&to=70+%25",
    f"{A2}/whatif?state=as_left&axes=log&most_exhaust=700+F&most_peak=x",
    "/engines/D2/2032-06-21/whatif",
    f"{A2}/due",
    "/engines/D1/due",
    "/engines/A1/due/upgrade",
    "/engines/N1/due/upgrade",
    f"{A2}/history",
    "/engines/N1/history",
    "/engines/N1/history/import",
    "/fleet",
    f"{A2}/gas",
    f"{A2}/gas/mix",
    f"{A2}/exhaust/test",
    "/engines/A2/rules",
    "/engines/A3/2032-03-15/crosscheck",
    "/engines/D2/2032-06-21/crosscheck?state=as_left",
    f"{A2}/findings",
    f"{A2}/report",
    *(f"{A2}/report/for/{reader}" for reader in READERS),
    f"{A2}/log",
    f"{A2}/reading/as_found/stack/exhaust_nox_dry",
    "/engines/A1/2032-05-03/fitted",
    "/engines/D2/2032-06-21/fitted",
    "/engines/A3/2032-03-15/report",
    "/worksheets",
    "/worksheets/mixture_from_oxygen?exhaust_oxygen_dry=8.5+%25",
    "/worksheets/mixture_from_oxygen?exhaust_oxygen_dry=nine",
    "/catalogue",
    "/catalogue/slots/speed_controller",
    "/catalogue/families/HM9",
    "/instruments",
    "/sources",
    "/settings",
    "/take-in",
    "/hand-over",
    "/settle",
    "/sharing",
    "/waiting",
    "/find",
    "/find?find=oxygen",
    "/nowhere",
]


def axe_script() -> str:
    """Return the script of axe-core that comes with axe-playwright-python."""
    import axe_playwright_python

    return (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


def violations(page: Page, path: str, script: str, *, only: str = "") -> list[str]:
    """Return what axe finds on a page, each with the first place where it is so."""
    page.goto(path)
    page.evaluate(script)
    found = page.evaluate("only => axe.run({resultTypes: ['violations'], ...(only ? {runOnly: [only]} : {})})", only)
    return [f"{path}: {one['id']}: {one['nodes'][0]['html'][:160]}" for one in found["violations"]]


@pytest.mark.parametrize("light", ["day", "night", "sun"])
def test_no_violation_on_any_page(browser: Browser, reading_address: str, light: str) -> None:
    """By day every rule; by night and in sunlight the colours, which are all that differs."""
    context = browser.new_context(base_url=reading_address, viewport={"width": 1440, "height": 1000}, bypass_csp=True)
    context.add_cookies([{"name": "light", "value": light, "url": reading_address}])
    page, script = context.new_page(), axe_script()
    only = "" if light == "day" else "color-contrast"
    found = [one for path in PAGES for one in violations(page, path, script, only=only)]
    context.close()
    assert found == []


def test_no_violation_on_a_phone(browser: Browser, reading_address: str) -> None:
    phone = {"width": 390, "height": 844}
    context = browser.new_context(base_url=reading_address, viewport=phone, bypass_csp=True, has_touch=True)  # type: ignore[arg-type]
    page, script = context.new_page(), axe_script()
    paths = (
        "/", A2, f"{A2}/fitted?place=speed_controller#panel", f"{A2}/exhaust", f"{A2}/trouble", f"{A2}/report",
        f"{A2}/findings", "/engines/A2", "/engines/A2/rules", "/instruments", "/settle", "/hand-over", "/worksheets",
    )  # fmt: skip
    found = [one for path in paths for one in violations(page, path, script)]
    context.close()
    assert found == []
