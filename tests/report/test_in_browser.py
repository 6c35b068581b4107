"""In a real browser: the widths that the pictures reckon with are those that it draws, and no words touch."""

from __future__ import annotations

import base64
from importlib.resources import files
from itertools import combinations
from typing import Any

import pytest
from playwright.sync_api import Browser

from asfound.report import svg

from .test_drawing import sides, tags

FONT = base64.b64encode(files("asfound.report").joinpath("fonts/hyperlegible.ttf").read_bytes()).decode()
STYLE = f"""
@font-face{{font-family:H;src:url(data:font/ttf;base64,{FONT});font-weight:200 800}}
svg text{{font-family:H;font-size:14.5px;font-feature-settings:"tnum"}}
svg{{display:block;overflow:visible}}
.tx{{font-size:15.5px}} .tx-s{{font-size:14.5px}} .tx-b{{font-size:15.5px;font-weight:680}} .walltext{{font-weight:550}}
.m{{text-anchor:middle}} .e{{text-anchor:end}} {files("asfound.report").joinpath("marks.css").read_text("utf-8")}
:root{{--w-bold:680}}
"""
MEASURE = """() => [...document.querySelectorAll('svg text')].filter(t => !t.closest('[transform]')).map(t => {
  const b = t.getBoundingClientRect(), o = t.ownerSVGElement, c = getComputedStyle(t);
  return {picture: [...document.querySelectorAll('svg')].indexOf(o), text: t.textContent, left: b.left, right: b.right,
          top: b.top + b.height * .25, bottom: b.bottom - b.height * .22,
          size: parseFloat(c.fontSize), weight: c.fontWeight}})"""


@pytest.fixture(scope="module")
def measured(browser: Browser) -> list[dict[str, Any]]:
    slots = sides(15)
    plans = [
        svg.engine_drawing(
            svg.EngineDrawing(layout=layout, cylinders=n, turbochargers=1, driven="compressor", slots=slots),
            tags=tags(slots),
            direction=d,
        )  # type: ignore[arg-type]
        for layout, n in (("inline", 9), ("vee", 14))
        for d in ("across", "up")
    ]
    scales = [
        svg.scale(
            label="x",
            found=svg.Mark(0.95, 0.89, 1.01),
            left=svg.Mark(0.55, 0.51, 0.59),
            limit=svg.Wall(1.0, "permit 1.0 g/hp-h"),
            zero=True,
            width=w,
        )
        for w in (220, 340, 700)
    ]
    body = "".join(f'<div style="width:{svg_width(one)}px;margin:40px">{one}</div>' for one in (*plans, *scales))
    page = browser.new_page(viewport={"width": 1000, "height": 800})
    page.set_content(f"<!doctype html><style>{STYLE}</style>{svg.page_defs()}{body}")
    page.evaluate("document.fonts.ready")
    found: list[dict[str, Any]] = page.evaluate(MEASURE)
    page.close()
    return found


def svg_width(markup: str) -> float:
    return float(markup.split('viewBox="0 ')[1].split()[1])


@pytest.mark.browser
def test_no_words_touch_in_the_browser(measured: list[dict[str, Any]]) -> None:
    assert len(measured) > 100
    for a, b in combinations(measured, 2):
        if a["picture"] == b["picture"]:
            apart = (
                a["right"] <= b["left"] or b["right"] <= a["left"] or a["bottom"] <= b["top"] or b["bottom"] <= a["top"]
            )
            assert apart, (a["text"], b["text"])


@pytest.mark.browser
def test_widths_are_as_reckoned(measured: list[dict[str, Any]]) -> None:
    from asfound.report.ink import text_width

    weights = {"400": "body", "550": "mid", "680": "bold"}
    for one in measured:
        reckoned = text_width(one["text"], one["size"], weights[one["weight"]])
        assert one["right"] - one["left"] == pytest.approx(reckoned, rel=0.04, abs=1.0), one


@pytest.mark.browser
def test_words_are_large_enough(measured: list[dict[str, Any]]) -> None:
    """13 px at least where a plan of 384 px stands on a phone with 350 px."""
    assert min(one["size"] for one in measured) * 350 / 384 >= 13
