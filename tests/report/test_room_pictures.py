"""Lanes, stairs of amounts, bars of a gas: no two texts touch, none is cut, marks stand where they belong."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.report.agreement import Lane, lanes
from asfound.report.axis import Band, Mark, Wall
from asfound.report.gas_bars import Component, Part, gas_bars
from asfound.report.scales import scale
from asfound.report.stairs import Stair, Stretch, stairs

from .boxes import check, parse, words

WIDTHS = (350.0, 680.0, 900.0)
titles = st.text("abcdefghij klm NOx", min_size=1, max_size=60).filter(str.strip)
values = st.floats(-500, 5000, allow_nan=False).map(lambda x: float(f"{x:.4g}"))
marks = st.builds(lambda v, h: Mark(v, v - h, v + h), values, st.floats(0, 300).map(lambda x: float(f"{x:.3g}")))
rows = st.lists(
    st.builds(
        lambda title, found, left, used, clashes: Lane(
            title, (("found", found), *((("left", left),) if left else ())), used=used, clashes=clashes
        ),
        titles,
        marks,
        st.none() | marks,
        st.booleans(),
        st.booleans(),
    ),
    min_size=1,
    max_size=7,
)


def shapes(markup: str, kind: str) -> list[dict[str, str]]:
    return [dict(node.attrib) for node in parse(markup).iter() if kind in node.attrib.get("class", "").split()]


@settings(max_examples=60, deadline=None)
@given(rows=rows, width=st.sampled_from(WIDTHS), unit=st.sampled_from(["", "g/hp-h", "Btu/scf (60 F, 14.73 psia)"]))
def test_lanes_are_clear_at_every_width(rows: list[Lane], width: float, unit: str) -> None:
    for paper in (False, True):
        check(lanes(rows, label="what it shows", unit_words=unit, width=width, paper=paper))


def test_the_way_used_has_the_filled_tag_and_the_guides() -> None:
    picture = lanes(
        [
            Lane("from oxygen", (("found", Mark(1.66, 1.63, 1.69)), ("left", Mark(1.72, 1.69, 1.75))), used=True),
            Lane("from carbon dioxide", (("found", Mark(1.60, 1.58, 1.62)),), clashes=True),
        ],
        label="two ways",
    )
    assert len(shapes(picture, "chosenfill")) == 1
    assert len(shapes(picture, "inkf")) == 1
    assert len(shapes(picture, "s-clash")) == 1
    guides = {one["x1"] for one in shapes(picture, "guide")}
    rings, discs = shapes(picture, "ring"), shapes(picture, "disc")
    assert guides == {rings[0]["cx"], discs[0]["cx"]}
    assert float(rings[1]["cx"]) < float(rings[0]["cx"]) < float(discs[0]["cx"])


def test_without_a_way_used_there_are_no_tags() -> None:
    picture = lanes([Lane("gas in the line", (("found", Mark(20.0)),))], label="one lane")
    assert shapes(picture, "chosenfill") == shapes(picture, "inkf") == []


def test_a_window_that_the_thing_gives_is_kept() -> None:
    picture = lanes([Lane("CO", (("found", Mark(88.0, 86.0, 90.0)),))], label="CO 88 %", whole=Band(0.0, 100.0))
    said = [one.text for one in words(picture)]
    assert "0" in said
    assert "100" in said
    assert "125" not in said


@settings(max_examples=60, deadline=None)
@given(
    parts=st.lists(st.tuples(titles, st.floats(0.1, 400).map(lambda x: float(f"{x:.3g}"))), min_size=1, max_size=7),
    wall=st.booleans(),
    width=st.sampled_from(WIDTHS),
)
def test_stairs_are_clear_at_every_width(parts: list[tuple[str, float]], wall: bool, width: float) -> None:
    at, made = 0.0, []
    for i, (title, amount) in enumerate(parts):
        made.append(
            Stair(
                title,
                (Stretch("found", at, Mark(at + amount, at + 0.9 * amount, at + 1.1 * amount)),),
                text=f"{amount:g} kW",
                wall=wall and i == len(parts) - 2,
                usual=Band(at, at + amount) if i == 0 else None,
            )
        )
        at += amount
    for paper in (False, True):
        check(stairs(made, label="amounts", unit_words="kW", width=width, paper=paper))


def test_each_amount_begins_where_the_one_above_ended() -> None:
    picture = stairs(
        [
            Stair("work", (Stretch("found", 0.0, Mark(40.0)),)),
            Stair("exhaust", (Stretch("found", 40.0, Mark(70.0)),)),
            Stair("rest", (Stretch("found", 70.0, Mark(100.0)),), dashed=True),
        ],
        label="heat",
        whole=Band(0.0, 100.0),
    )
    lines = shapes(picture, "stretch-f")
    ends = [(float(one["x1"]), float(one["x2"])) for one in lines]
    assert [a[1] for a in ends[:-1]] == [b[0] for b in ends[1:]]
    assert "dash" in lines[-1]["class"]


def test_only_the_lanes_below_a_wall_are_hatched() -> None:
    picture = stairs(
        [
            Stair("plate", (Stretch("found", 1970.0, Mark(1970.0)),), marked=False),
            Stair("site rating", (Stretch("found", 1970.0, Mark(1500.0, 1450.0, 1560.0)),), wall=True),
            Stair("load", (Stretch("found", 1735.0, Mark(1735.0)),)),
        ],
        label="overloaded",
        width=350,
    )
    (hatch,) = shapes(picture, "wallfill")
    ring = shapes(picture, "ring")[-1]
    assert float(hatch["x"]) < float(ring["cx"])
    load = next(one for one in words(picture) if one.text == "load")
    assert float(hatch["y"]) > load.top


fractions = st.floats(1e-4, 99.9).map(lambda x: float(f"{x:.3g}"))


@settings(max_examples=60, deadline=None)
@given(
    shares=st.lists(fractions, min_size=1, max_size=14),
    width=st.sampled_from(WIDTHS),
    parts=st.lists(st.floats(0.01, 40).map(lambda x: float(f"{x:.3g}")), min_size=1, max_size=4),
)
def test_gas_bars_are_clear_at_every_width(shares: list[float], width: float, parts: list[float]) -> None:
    names = ("Methane", "Heavier", "H2 and CO", "Burns not")
    kinds = ("burns", "heavier", "other", "inert")
    strip = [Part(names[i], one, kinds[i]) for i, one in enumerate(parts)]
    listed = [
        Component(f"Component {i}", f"{one:g} %", (("found", Mark(one, 0.9 * one, 1.1 * one)),))
        for i, one in enumerate(shares)
    ]
    for paper in (False, True):
        check(gas_bars(strip, listed, label="gas", width=width, paper=paper))


def test_a_tenth_is_one_decade_to_the_left() -> None:
    listed = [Component(str(v), f"{v} %", (("found", Mark(v)),)) for v in (10.0, 1.0, 0.1)]
    x = [float(one["cx"]) for one in shapes(gas_bars([], listed, label="decades"), "ring")]
    assert math.isclose(x[0] - x[1], x[1] - x[2], abs_tol=0.11)
    assert x[0] > x[1]


def test_the_visit_before_stands_above_as_a_grey_disc() -> None:
    picture = scale(label="then and now", before=Mark(0.84, 0.78, 0.91), found=Mark(0.94, 0.88, 1.02))
    (before,), (now,) = shapes(picture, "ghostdisc"), shapes(picture, "ring")
    assert float(before["cy"]) < float(now["cy"])
    assert float(before["cx"]) < float(now["cx"])


@pytest.mark.parametrize("width", [340.0, 372.0])
def test_the_zone_in_which_nothing_decides_lies_about_its_wall(width: float) -> None:
    picture = scale(
        label="methane number",
        found=Mark(76.0, 75.5, 76.4),
        limit=Wall(70.0, "build needs 70", "lower"),
        undecided=Band(68.0, 72.0),
        width=width,
    )
    check(picture)
    (zone,) = shapes(picture, "unsure")
    (wall,) = shapes(picture, "wallline")
    middle = float(zone["x"]) + float(zone["width"]) / 2
    assert math.isclose(middle, float(wall["x1"]), abs_tol=0.5)
