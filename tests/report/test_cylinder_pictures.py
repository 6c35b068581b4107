"""Levels on the engine, sensor or cylinder, each against its own habit: clear, whole, where they belong."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.report.axis import Band, Mark
from asfound.report.beam import Leaning, beam
from asfound.report.engine_plan import EngineDrawing
from asfound.report.habit import Kept, Row, habit
from asfound.report.ports import Level, engine_ports, level_row

from .boxes import check, overlaps, parse, words

BAND, SAID = Band(-54, 54), "looked into beyond ±54"


def shapes(markup: str, kind: str) -> list[dict[str, str]]:
    return [dict(node.attrib) for node in parse(markup).iter() if kind in node.attrib.get("class", "").split()]


def level(name: str, share: float, other: str = "", odd: int = 0) -> Level:
    return Level(name=name, other=other, level=share, text=f"{share * 54:+.0f}".replace("-", "−"), odd=odd)


def rows_of(drawing: EngineDrawing, *, two: bool = False) -> list[list[Level]]:
    names = drawing.cylinder_names()
    return [
        [
            level(name, math.sin(i * 2.1), other=name[::-1] if two else "", odd=(i == 2) - (i == 1))
            for i, name in enumerate(row)
        ]
        for row in names
    ]


SHAPES: Any = [
    *(("inline", count, "1") for count in (4, 6, 9)),
    *(("vee", count, "L1") for count in (8, 10, 14)),
    ("vee", 16, "A1"),
]
TURBOS: Any = [(0, "free_end"), (1, "free_end"), (2, "driving_end")]
ENGINES = [
    EngineDrawing(layout=layout, cylinders=count, names=names, turbochargers=turbos, turbo_end=end, driven="compressor")
    for layout, count, names in SHAPES
    for turbos, end in TURBOS
]


@pytest.mark.parametrize("direction", ["across", "up"])
@pytest.mark.parametrize("two", [False, True])
@pytest.mark.parametrize("drawing", ENGINES, ids=lambda one: f"{one.layout}{one.cylinders}-{one.turbochargers}")
def test_no_words_touch_on_any_engine(drawing: EngineDrawing, two: bool, direction: str) -> None:
    rows = rows_of(drawing, two=two)
    heads = ("left bank, median 1,089 °F", "right bank, median 1,094 °F")[: len(rows)]
    for paper in (False, True):
        check(engine_ports(drawing, rows, label="levels", heads=heads, direction=direction, paper=paper))  # type: ignore[arg-type]


def test_every_cylinder_has_its_port_where_the_plan_has_it() -> None:
    drawing = EngineDrawing(cylinders=9)
    markup = engine_ports(drawing, rows_of(drawing), label="levels")
    assert len(shapes(markup, "level")) == 9
    assert len(shapes(markup, "clashline")) == 4  # two rims and two hooks


@given(share=st.floats(-1, 1))
def test_half_full_is_the_median_and_hotter_is_fuller(share: float) -> None:
    def height(value: float) -> float:
        markup = engine_ports(EngineDrawing(cylinders=1), [[level("1", value)]], label="one")
        return float(shapes(markup, "level")[0]["d"].split()[1].split(",")[1])

    if share > 0.02:
        assert height(share) < height(0.0)
    elif share < -0.02:
        assert height(share) > height(0.0)


def test_what_does_not_count_is_dashed_and_says_so() -> None:
    row = [
        Level(name="1", masked=True, says="Cylinder 1: open circuit."),
        Level(name="2", says="Cylinder 2: not read."),
    ]
    markup = engine_ports(EngineDrawing(cylinders=2), [row], label="none counts")
    assert len(shapes(markup, "openpart")) == 2
    assert shapes(markup, "level") == []
    assert [one.text for one in words(markup)].count("?") == 1


def test_links_go_as_cylinders_are_counted_and_paper_has_none() -> None:
    drawing = EngineDrawing(layout="vee", cylinders=6, names="L1")
    rows = [
        [Level(name=name, level=0.0, text="0", says=name, href=f"#{name}") for name in row]
        for row in drawing.cylinder_names()
    ]
    markup = engine_ports(drawing, rows, label="links")
    assert [one["href"] for one in shapes(markup, "port")] == ["#L1", "#L2", "#L3", "#R1", "#R2", "#R3"]
    assert shapes(engine_ports(drawing, rows, label="links", paper=True), "port") == []


@pytest.mark.parametrize("count", [3, 7, 10, 12])
@pytest.mark.parametrize("width", [350, 680, 900])
def test_bearings_in_a_row(count: int, width: int) -> None:
    levels = [level(str(i + 1), 0.3 * (i % 3 - 1)) for i in range(count)]
    markup = level_row(levels, label="bearings", head="main bearings, median 174 °F", width=width)
    assert overlaps(markup) == []
    assert len(shapes(markup, "level")) == count


# ---------------------------------------------------------------------- sensor or cylinder


def test_a_mark_stands_on_the_side_that_is_believed() -> None:
    events = [
        Leaning(sensor=0.94, cylinder=0.04, state="before", text="15 March: sensor, 94 in 100"),
        Leaning(sensor=0.02, cylinder=0.97, state="found", text="As found: cylinder, 97 in 100"),
    ]
    markup = beam(events, label="two events")
    check(markup)
    ghost, ring = shapes(markup, "ghostdisc")[0], shapes(markup, "ring")[0]
    assert float(ghost["cx"]) < 60
    assert float(ring["cx"]) > 290


@given(st.floats(0, 1), st.floats(0, 1))
def test_the_bar_is_what_is_neither(sensor: float, share: float) -> None:
    cylinder = (1 - sensor) * share
    one = Leaning(sensor=sensor, cylinder=cylinder, state="found", text="now")
    assert cylinder - 1e-9 <= one.place <= 1 - sensor + 1e-9
    bars = shapes(beam([one], label="one"), "bar-f")
    length = float(bars[0]["width"]) if bars else 0.0
    assert length == pytest.approx(330 * (1 - sensor - cylinder), abs=1.01)


# ---------------------------------------------------------------------- against its own habit

values = st.floats(-400, 200).map(lambda x: float(round(x)))
kept = st.builds(
    lambda i, v, u, usual, left: Kept(
        name=f"L{i}", marks=(("found", Mark(v, v - u, v + u)), *((("left", Mark(v / 2)),) if left else ())),
        usual=usual, odd=abs(v) > 150, text=f"{v:+.0f}",
    ),
    st.integers(1, 9), values, st.floats(1, 12), st.none() | values, st.booleans(),
)  # fmt: skip
some_rows = st.lists(st.lists(kept, min_size=1, max_size=5), min_size=1, max_size=2)


@settings(max_examples=60, deadline=None)
@given(rows=some_rows, width=st.sampled_from([350.0, 680.0, 900.0]))
def test_every_ring_stands_inside_the_picture(rows: list[list[Kept]], width: float) -> None:
    made = [Row(title=f"bank {i}", cylinders=tuple(row)) for i, row in enumerate(rows)]
    markup = habit(made, label="habit", unit_words="°F", band=BAND, band_text=SAID, width=width)
    root = parse(markup)
    high = float(root.attrib["viewBox"].split()[3])
    rings = shapes(markup, "ring")
    assert len(rings) == sum(len(row) for row in rows)
    assert all(0 <= float(one["cx"]) <= width and 0 <= float(one["cy"]) <= high for one in rings)


def test_ten_cylinders_of_two_banks_are_clear_at_every_width() -> None:
    names = [f"{bank}{i}" for bank in "LR" for i in range(1, 6)]
    found = {name: -213.0 if name == "L2" else 9.0 * math.sin(i) for i, name in enumerate(names)}
    rows = [
        Row(
            title=f"{'left' if bank == 'L' else 'right'} bank",
            cylinders=tuple(
                Kept(
                    name=name, marks=(("found", Mark(found[name], found[name] - 8, found[name] + 8)),), usual=2.0,
                    odd=name == "L2", text="−213" if name == "L2" else "",
                )
                for name in names if name.startswith(bank)
            ),
        )
        for bank in "LR"
    ]  # fmt: skip
    for width in (350, 680, 900):
        for paper in (False, True):
            check(habit(rows, label="habit", unit_words="°F", band=BAND, band_text=SAID, width=width, paper=paper))


def test_one_without_a_value_is_dashed() -> None:
    markup = habit([Row(title="", cylinders=(Kept(name="1", missing="open circuit"),))], label="none", unit_words="K")
    assert len(shapes(markup, "openpart")) == 1
