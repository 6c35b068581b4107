"""Marks, signs, bars, the day, the ruler: what they mean is in their shapes, same data, same picture."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from importlib.resources import files
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import UnknownNameError
from asfound.report import svg
from asfound.report.bars import ranks
from asfound.report.ink import text_width, wrap
from asfound.report.outlines import outline, pictures
from asfound.report.paper import rules

from .boxes import check, parse, words

SHARED = """
ink inkf heavy thin rule edge body part solid axisline dashdot dash ring disc bar-f bar-l bar-g bar-o wallline wallfill
walltext dim dimtext tx tx-s tx-b tx-l tx-xl m e p-lead p-second p-rest p-none p-track clashring agree chosenfill
sheetfill inkfill filmfill tag face lead dot open clash alien kit sel kitpart mini outline rd node tg gl
"""
"""Classes of the style sheet of the pages that pictures use."""
DAY = datetime(2032, 7, 8, 8, 0)


def test_progress_grows_with_its_share() -> None:
    def arc(markup: str) -> str:
        return next((n.attrib.get("d", "full") for n in parse(markup).iter() if n.attrib.get("class") == "parc"), "")

    assert arc(svg.ring_disc(0, None)) == ""
    assert arc(svg.ring_disc(1, None)) == "full"
    assert "A 11,11 0 0 1" in arc(svg.ring_disc(0.25, None))
    assert "A 11,11 0 1 1" in arc(svg.ring_disc(0.75, None))
    assert "25,14" in arc(svg.ring_disc(0.25, None)), "a quarter ends at three o'clock"
    assert "psector" not in svg.ring_disc(0.5, None)
    assert "psector" in svg.ring_disc(0.5, 0.5)
    assert svg.ring_disc(7.0, -3.0) == svg.ring_disc(1.0, 0.0)


def test_every_severity_and_look_has_a_shape_of_its_own_and_a_word() -> None:
    shapes = {s: svg.severity_sign(s) for s in svg.SEVERITY_WORDS}
    assert list(shapes) == ["stop", "visit", "clash", "soon", "note"]
    bare = {re.sub(r'aria-label="[^"]*"', "", one) for one in shapes.values()}
    assert len(bare) == 5
    for name, markup in shapes.items():
        assert svg.SEVERITY_WORDS[name] in markup
    looks = {re.sub(r'aria-label="[^"]*"', "", svg.look_sign(s)) for s in svg.LOOK_WORDS}
    assert len(looks) == 5
    assert 'aria-hidden="true"' in svg.severity_sign("stop", label="")


def test_names_that_do_not_exist_are_refused() -> None:
    for call in (
        lambda: svg.icon("camra"),
        lambda: svg.look_sign("sen"),
        lambda: svg.trail_sign("guessed"),
        lambda: svg.state_sign("as_lost"),
    ):
        with pytest.raises(UnknownNameError):
            call()


def test_all_pictures_are_well_formed_and_carry_no_style() -> None:
    everything = [
        *(svg.icon(n) for n in svg.ICONS),
        *(svg.look_picture(n) for n in pictures()),
        *(svg.trail_sign(k) for k in ("read", "assumed", "constant", "computed")),
        svg.house_sign(),
        svg.page_defs(),
        svg.tag_sign(12, belongs="kit"),
        svg.part_picture("loaf"),
        *(svg.severity_sign(s, paper=True) for s in svg.SEVERITY_WORDS),
    ]
    for markup in everything:
        parse(markup)
        assert " style=" not in markup
        assert "NaN" not in markup


def test_what_is_not_drawn_has_a_neutral_outline() -> None:
    assert outline("never heard of", "loaf") == outline("loaf")
    assert "?" in outline("never heard of", "nor of this")


def test_pictures_of_plugs_differ() -> None:
    assert (
        len(
            {
                svg.look_picture(n)
                for n in ("plug_round_two", "cable_tails", "plug_lever_three", "plug_lever_blank", "none")
            }
        )
        == 5
    )


def test_every_class_has_a_rule_on_paper_and_on_the_page() -> None:
    """The classes of look.css that pictures use are listed here; all others must stand in marks.css."""
    style = files("asfound.report").joinpath("marks.css").read_text("utf-8")
    shared = set(SHARED.split())
    source = "".join(
        f.read_text("utf-8")
        for f in files("asfound.report").iterdir()
        if f.name.endswith(".py") and f.name != "paper.py"
    )
    used = {name for group in re.findall(r'class="([\w -]+)"', source) for name in group.split()}
    used |= set(re.findall(r'\.(?:line|rect|circle|path|text)\(\s*"([\w-]+)(?: [\w ]+)?"', source))
    own = set(re.findall(r"\.([a-z][\w-]*)", style))
    assert used - shared - own == set()
    on_paper = {name for selector in rules() for name in re.findall(r"\.([\w-]+)", selector)}
    only_screen = {
        "mini",
        "outline",
        "rd",
        "node",
        "tg",
        "gl",
        "lanesvg",
        "tag",
        "defs",
        "h-wall",
        "h-sheet",
        "h-second",
        "h-kit",
        "h-gap",
        "p-",
        "kind",
        "hit",
    }
    assert used - on_paper - only_screen == set()


probabilities = st.lists(st.floats(0.001, 1), min_size=1, max_size=6).map(lambda xs: [x / sum(xs) for x in xs])


@given(probabilities, st.sampled_from([200.0, 340.0]))
def test_a_belief_bar_shares_its_length(parts: list[float], width: float) -> None:
    shares = [svg.Share(str(i), p, other=i == len(parts) - 1 and i > 0) for i, p in enumerate(parts)]
    tree = parse(svg.belief_bar(shares, width=width))
    bars = [
        (float(n.attrib["x"]), float(n.attrib["width"]), n.attrib["class"])
        for n in tree.iter("rect")
        if n.attrib["class"] != "p-track"
    ]
    assert all(x + w <= width + 0.2 for x, w, _ in bars)
    assert all(b[0] >= a[0] + a[1] - 0.2 for a, b in pairwise(bars))
    lead = [w for _, w, kind in bars if kind == "p-lead"]
    assert len(lead) == 1
    named = [p for p, s in zip(parts, shares, strict=True) if not s.other]
    assert lead[0] == pytest.approx(max(named) * width, abs=0.06 * width)


def test_ranks_keep_the_unknown_apart() -> None:
    parts = [svg.Share("x", 0.9, other=True), svg.Share("a", 0.02), svg.Share("b", 0.05), svg.Share("c", 0.03)]
    assert ranks(parts) == ("none", "rest", "lead", "second")


def test_weights_point_to_their_side() -> None:
    def bar(decibans: float) -> Any:
        return next(n for n in parse(svg.weights_bar(decibans, largest=12, width=200)).iter("rect"))

    assert bar(12).attrib["class"] == "w-for"
    assert float(bar(12).attrib["x"]) == 100
    against = bar(-6)
    assert against.attrib["class"] == "w-against"
    assert float(against.attrib["x"]) + float(against.attrib["width"]) == pytest.approx(100)
    assert float(against.attrib["width"]) == pytest.approx(float(bar(12).attrib["width"]) / 2)


def test_the_old_value_is_an_upright_mark() -> None:
    tree = parse(svg.belief_row(0.96, before=0.41, width=101))
    assert next(float(n.attrib["x1"]) for n in tree.iter("line")) == pytest.approx(41.5)


events = st.lists(
    st.builds(
        lambda m, t: svg.DayEvent(DAY + timedelta(minutes=m), t),
        st.integers(0, 480),
        st.text("abc defg", min_size=1, max_size=32).filter(str.strip),
    ),
    max_size=6,
)


@settings(max_examples=120)
@given(events, st.sampled_from([358.0, 740.0]), st.integers(0, 480), st.booleans())
def test_words_of_the_day_never_touch(happened: list[svg.DayEvent], width: float, now: int, walled: bool) -> None:
    markup = svg.day_line(
        label="day",
        start=DAY,
        end=DAY + timedelta(hours=8, minutes=15),
        now=DAY + timedelta(minutes=now),
        events=happened,
        wall=svg.DayEvent(DAY + timedelta(hours=8), "permit to work ends") if walled else None,
        width=width,
    )
    check(markup)


def test_a_day_over_several_days() -> None:
    markup = svg.day_line(label="visit", start=DAY, end=DAY + timedelta(days=4))
    check(markup)
    assert any("Jul" in box.text for box in words(markup))


def test_the_wall_of_the_permit_is_hatched_to_the_end() -> None:
    markup = svg.day_line(
        label="x", start=DAY, end=DAY + timedelta(hours=9), wall=svg.DayEvent(DAY + timedelta(hours=8), "permit ends")
    )
    assert "wallfill" in markup
    assert "wallline" in markup


dues = st.builds(
    lambda m, a, b, t, lim: svg.Due(
        t,
        date(2032, 7, 9) + timedelta(days=m),
        date(2032, 7, 9) + timedelta(days=m - a),
        date(2032, 7, 9) + timedelta(days=m + b),
        lim,
    ),
    st.integers(-5, 100),
    st.integers(0, 40),
    st.integers(0, 40),
    st.text("abc defg", min_size=1, max_size=40).filter(str.strip),
    st.booleans(),
)


@settings(max_examples=100)
@given(st.lists(dues, max_size=4), st.sampled_from([350.0, 520.0, 700.0]))
def test_due_dates_keep_their_lanes(items: list[svg.Due], width: float) -> None:
    check(svg.due_row(items, date(2032, 7, 9), width=width, label="due"))


def test_ruler_names_its_months() -> None:
    texts = [b.text for b in words(svg.home_ruler(date(2032, 7, 9)))]
    assert texts[:3] == ["today", "August", "September"]
    for day in range(1, 366, 7):
        check(svg.home_ruler(date(2032, 1, 1) + timedelta(days=day), width=350))


@given(st.text(max_size=60), st.floats(40, 300))
def test_wrap_loses_nothing(text: str, room: float) -> None:
    lines = wrap(text, room, 14.5)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(len(line) <= 1 or text_width(line, 14.5) <= room + 15 for line in lines)


def test_width_of_text_is_that_of_the_face() -> None:
    """Advance widths of the face itself (units per em 1000): figures are tabular, 632 each."""
    assert text_width("0123456789", 100) == pytest.approx(632.0)
    assert text_width("iii", 10) < text_width("WWW", 10)
    assert text_width("e\u0301", 10) == text_width("e", 10)
