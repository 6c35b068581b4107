"""What pages and papers say of cylinders: units of the reader, both states, looks without a verdict of their own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.visit import view
from asfound.report.case_then import case_then
from asfound.report.content_bearings import bearings_shown
from asfound.report.content_cylinder_rest import PARTS, parts_of
from asfound.report.content_cylinder_verdicts import cylinder_verdicts, in_reader_units
from asfound.report.content_cylinders import cylinders_shown, difference, short

if TYPE_CHECKING:
    from asfound.records.visit import VisitView


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, VisitView]]:
    folder: Path = tmp_path_factory.mktemp("cylinders") / "demo"
    make_demo_home(folder)
    with Records.open(folder) as records:
        found = {}
        for engine in records.engines():
            for visit in records.visits(engine.id):
                found[visit.name] = found[engine.tag] = view(records, visit.id)
        yield found


def test_differences_have_their_sign_and_no_offset_of_a_scale() -> None:
    assert difference(10.0, "us") == "+18 °F"
    assert difference(-10.0, "si") == "−10 K"
    assert short(0.2, "si") == "0"
    assert in_reader_units("-54 K against its bank", "us") == "−97 °F against its bank"
    assert in_reader_units("+8.8 K from a type K wire", "si") == "+8.8 K from a type K wire"


def test_two_ways_of_counting_stand_at_every_port(demo: dict[str, VisitView]) -> None:
    seen = demo["N2"]
    shown = cylinders_shown(seen, seen.case, "si")
    assert [(one.builder, one.operator) for one in shown.ports] == [(str(i), str(10 - i)) for i in range(1, 10)]
    assert any("both numbers stand beside each port" in said for said in shown.drawn["as_found"].says)
    row = shown.drawn["as_found"].picture["rows"][0]
    assert [one.name for one in row] == [str(i) for i in range(1, 10)]  # the builder counts from the flywheel end
    assert [one.name for one in row if one.odd] == ["3", "7"]


def test_where_one_way_is_in_use_only_one_number_stands(demo: dict[str, VisitView]) -> None:
    seen = demo["A3/2032-03-15"]
    shown = cylinders_shown(seen, seen.case, "us")
    assert {one.operator for one in shown.ports} == {""}
    left, right = shown.drawn["as_found"].picture["rows"]
    assert [one.name for one in left] == ["L5", "L4", "L3", "L2", "L1"]  # counted from the free end
    assert [one.name for one in right] == ["R5", "R4", "R3", "R2", "R1"]
    assert shown.drawn["as_found"].picture["heads"][0].startswith("left bank, median 1,0")


def test_as_left_says_what_was_not_read(demo: dict[str, VisitView]) -> None:
    seen = demo["A3/2032-03-15"]
    shown = cylinders_shown(seen, seen.case, "us")
    port = next(one for one in shown.ports if one.place == "cylinder_L4")
    assert port.states["as_left"].deviation == ""
    assert "too few ports" in port.states["as_left"].words
    assert port.moved == "+3 °F"


def test_a_look_as_left_stands_beside_a_verdict_as_found(demo: dict[str, VisitView]) -> None:
    seen = demo["A3/2032-03-15"]
    case = seen.case
    shown = cylinders_shown(seen, case, "us")
    (one,) = cylinder_verdicts(case, case_then(seen), shown, "us")
    assert one.name == "L4"
    assert one.head == "The sensor."
    assert [short for _, short in one.events] == ["As found", "As left"]
    changed = next(row for row in one.rows if row.title.startswith("Sensor changed"))
    assert [cell.side for cell in changed.cells] == ["open", "cylinder"]
    assert one.next is not None
    assert one.next.witness != "sensor_renewed"  # it was heard, as left
    assert len(one.picture["events"]) == 1  # too little as left for a mark on the line


def test_what_is_asked_can_be_answered_by_what_the_knowledge_has(demo: dict[str, VisitView]) -> None:
    seen = demo["N2"]
    case = seen.case
    for one in cylinder_verdicts(case, None, cylinders_shown(seen, case, "si"), "si"):
        asks = [row.ask for row in one.rows if row.ask is not None] + list(one.rest)
        assert len({ask.witness for ask in asks}) == len(asks)
        assert all(ask.answers and ask.minutes > 0 for ask in asks)


def test_parts_are_there_only_when_something_of_them_was_read(demo: dict[str, VisitView]) -> None:
    filled, empty = parts_of(demo["N1"], "si")
    assert not filled
    assert len(empty) == len(PARTS)


def test_bearings_stand_from_the_flywheel_end(demo: dict[str, VisitView]) -> None:
    found = bearings_shown(demo["A2"], "us")
    assert [one.name for one in found["as_found"].picture["levels"]] == [str(i) for i in range(10, 0, -1)]
    assert bearings_shown(demo["N1"], "si") == {}
