"""Scales: ticks, windows, walls, marks; measured with the advance widths of the faces, not with a browser."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.report.scales import Band, Mark, Wall, scale, scatter_scale
from asfound.report.ticks import CLEAR, choose, tick_text

from .boxes import check, parse, words

WIDTHS = (220.0, 340.0, 700.0)
amounts = st.floats(-1e5, 1e5, allow_nan=False).map(lambda x: float(f"{x:.4g}"))
spans = st.floats(1e-3, 1e5).map(lambda x: float(f"{x:.4g}"))


def measure(text: str) -> float:
    return 9.2 * len(text)


@given(low=amounts, span=spans, room=st.floats(150, 900), to_low=st.booleans(), to_high=st.booleans())
def test_ticks_are_round_inside_and_clear(low: float, span: float, room: float, to_low: bool, to_high: bool) -> None:
    axis = choose(low, low + span, room=room, measure=measure, to_tick_low=to_low, to_tick_high=to_high)
    high = low + span
    assert axis.low <= low + 1e-6 * span
    assert axis.high >= high - 1e-6 * span
    assert 1 <= len(axis.ticks) <= 6
    step = axis.ticks[1] - axis.ticks[0] if len(axis.ticks) > 1 else 1.0
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert any(math.isclose(mantissa, m, rel_tol=1e-4) for m in (1, 2, 2.5, 5, 10))
    at = [(t - axis.low) / (axis.high - axis.low) * room for t in axis.ticks]
    halves = [measure(axis.words(t)) / 2 for t in axis.ticks]
    for i in range(len(at) - 1):
        assert at[i + 1] - halves[i + 1] - at[i] - halves[i] >= CLEAR - 1e-6


@given(low=amounts, span=spans)
def test_a_wide_axis_has_three_ticks_or_more(low: float, span: float) -> None:
    assert len(choose(low, low + span, room=900, measure=measure).ticks) >= 3


@pytest.mark.parametrize(
    ("value", "places", "text"), [(-1250, 0, "−1,250"), (0.5, 2, "0.50"), (-0.001, 1, "0.0"), (1e6, 0, "1,000,000")]
)
def test_numbers_on_an_axis(value: float, places: int, text: str) -> None:
    assert tick_text(value, places) == text


marks = st.builds(lambda v, h: Mark(v, v - h, v + h), amounts, st.floats(0, 1e4).map(lambda x: float(f"{x:.4g}")))
names = st.text("abcdefghij 0123456789/-%", min_size=1, max_size=50).filter(lambda t: t.strip())
walls = st.builds(Wall, amounts, names, st.sampled_from(["upper", "lower"]))


@settings(max_examples=150)
@given(
    found=st.none() | marks,
    left=st.none() | marks,
    limit=st.lists(walls, max_size=3),
    zero=st.booleans(),
    wanted=st.none() | st.builds(lambda a, s: Band(a, a + s), amounts, spans),
    unit=st.sampled_from(["", "g/hp-h", "mg/m³ at 5 % O2, dry"]),
    width=st.sampled_from(WIDTHS),
    paper=st.booleans(),
)
def test_no_text_touches_another_or_is_cut(found, left, limit, zero, wanted, unit, width, paper) -> None:
    markup = scale(
        label="x",
        found=found,
        left=left,
        limit=limit,
        zero=zero,
        wanted=wanted,
        unit_words=unit,
        width=width,
        paper=paper,
    )
    check(markup)
    said = "".join("".join(b.text.split()) for b in sorted(words(markup), key=lambda b: b.top))
    for wall in limit:
        letters = "".join(wall.text.split())
        assert letters in said or all(w in said for w in wall.text.split()), "a wall's name is never cut"


def test_a_permit_as_in_the_design() -> None:
    """Found 0.95 (0.89 to 1.01), left 0.55 (0.51 to 0.59), permit 1.0: the margin is 0.45 from value to wall."""
    markup = scale(
        label="NOx", found=Mark(0.95, 0.89, 1.01), left=Mark(0.55, 0.51, 0.59), limit=Wall(1.0, "permit 1.0"), zero=True
    )
    texts = [b.text for b in words(markup)]
    assert {"permit 1.0", "0.45", "0.00"} <= set(texts)
    tree = parse(markup)
    ring = next(n for n in tree.iter("circle") if n.attrib["class"] == "ring")
    disc = next(n for n in tree.iter("circle") if n.attrib["class"] == "disc")
    wall = next(n for n in tree.iter("line") if n.attrib["class"] == "wallline")
    assert float(disc.attrib["cx"]) < float(ring.attrib["cx"]) < float(wall.attrib["x1"])
    assert float(ring.attrib["cy"]) < float(disc.attrib["cy"]), "as found lies above as left"
    hatch = next(n for n in tree.iter("rect") if n.attrib["class"] == "wallfill")
    assert float(hatch.attrib["x"]) == pytest.approx(float(wall.attrib["x1"]), abs=0.2)


def test_positions_are_in_proportion() -> None:
    markup = scale(label="x", found=Mark(2.0), left=Mark(4.0), limit=Wall(6.0, "w"), zero=True, width=500, margin=False)
    tree = parse(markup)
    x = {n.attrib["class"]: float(n.attrib["cx"]) for n in tree.iter("circle")}
    wall = next(float(n.attrib["x1"]) for n in tree.iter("line") if n.attrib["class"] == "wallline")
    assert wall - x["disc"] == pytest.approx(x["disc"] - x["ring"], abs=0.2)


def test_where_nothing_was_taken_there_is_no_mark() -> None:
    markup = scale(label="CO", limit=Wall(2.0, "permit 2.0"))
    assert "circle" not in markup
    assert "permit 2.0" in markup


def test_beyond_the_wall_there_is_no_margin() -> None:
    markup = scale(label="x", found=Mark(1.2, 1.1, 1.3), limit=Wall(1.0, "permit 1.0"), zero=True)
    assert 'class="dim"' not in markup


def test_a_lower_limit_is_hatched_below() -> None:
    markup = scale(label="methane number", found=Mark(85, 83, 87), limit=Wall(72, "lowest 72", "lower"))
    tree = parse(markup)
    wall = next(float(n.attrib["x1"]) for n in tree.iter("line") if n.attrib["class"] == "wallline")
    hatch = next(n for n in tree.iter("rect") if n.attrib["class"] == "wallfill")
    assert float(hatch.attrib["x"]) + float(hatch.attrib["width"]) == pytest.approx(wall, abs=0.3)


@given(st.lists(st.floats(-80, 80).map(lambda x: round(x, 1)), min_size=1, max_size=18), st.sampled_from(WIDTHS))
def test_many_rings_do_not_hide_each_other(values: list[float], width: float) -> None:
    markup = scatter_scale(values, label="cylinders", band=Band(-40, 40), width=width)
    check(markup)
    at = [(n.attrib["cx"], n.attrib["cy"]) for n in parse(markup).iter("circle")]
    assert len(set(at)) == len(values)


def test_same_data_same_picture() -> None:
    one = scale(label="x", found=Mark(1.66, 1.64, 1.69), left=Mark(1.72, 1.7, 1.75), wanted=Band(1.7, 1.74))
    assert one == scale(label="x", found=Mark(1.66, 1.64, 1.69), left=Mark(1.72, 1.7, 1.75), wanted=Band(1.7, 1.74))


@pytest.mark.parametrize("span", [0.0, 5e-324, 1e-310, 1e-17])
@pytest.mark.parametrize("low", [0.0, -5e-324, 0.123, -1e5])
def test_an_axis_of_next_to_no_span_is_widened(low: float, span: float) -> None:
    axis = choose(low, low + span, room=340, measure=measure)
    assert axis.low < axis.high
    assert axis.low <= low <= axis.high
    assert 1 <= len(axis.ticks) <= 6
