"""What a closed visit left to be done can be said done later; the visit stays as it was sealed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from asfound.errors import InputError
from asfound.records.points import left_by_visits, say_done
from asfound.records.seal import seal, verify
from asfound.records.summary import summary_of
from asfound.records.visit import view

if TYPE_CHECKING:
    from collections.abc import Callable

    from asfound.records.entries import Entry
    from asfound.records.store import Records

    from .conftest import TestClock

WASH = {"says": "Wash the catalyst", "severity": "visit", "due": "2032-07-20"}


def closed_visit(records: Records) -> tuple[Entry, Entry]:
    """Return a visit that was closed and the point that it left."""
    engine = records.append("engine", {"tag": "X1", "layout": {"form": "inline", "cylinders": 6}})
    visit = records.append("visit_opened", {"began": "2032-07-08T10:00:00Z"}, engine=engine.id)
    point = records.append("open_point", WASH, visit=visit.id)
    seal(records, visit.id, who="R. Tester", statement="Closed.")
    return visit, point


def test_a_point_of_a_closed_visit_is_said_done_and_the_seal_holds(records: Records, clock: TestClock) -> None:
    visit, point = closed_visit(records)
    before = view(records, visit.id)
    assert [one["says"] for one in summary_of(before).points] == ["Wash the catalyst"]
    clock.time = clock.time.replace(day=20)
    said = say_done(records, point, who="K. Hand", note="Washed")
    assert (said.engine, said.visit, said.who) == (visit.engine, None, "K. Hand")
    assert (said.content["date"], said.content["note"]) == ("2032-07-20", "Washed")
    after = view(records, visit.id)
    assert after.points_done == {point.id: said}
    assert summary_of(after).points == ()
    assert after.open_points == before.open_points
    assert after.seal is not None
    assert before.seal is not None
    assert after.seal.content["digest"] == before.seal.content["digest"]
    assert after.late == ()
    assert verify(records, visit.id).holds
    with pytest.raises(InputError, match="done already"):
        say_done(records, point)
    records.undo(said.id)
    assert [one["says"] for one in summary_of(view(records, visit.id)).points] == ["Wash the catalyst"]


def test_a_later_visit_lists_what_earlier_ones_left_and_says_it_done(records: Records, clock: TestClock) -> None:
    visit, point = closed_visit(records)
    clock.time = clock.time.replace(day=21)
    later = records.append("visit_opened", {"began": "2032-07-21T10:00:00Z"}, engine=visit.engine)
    assert visit.engine is not None
    engine = records.engine(visit.engine)
    assert [one.point for one in left_by_visits(records, engine, before=records.visit(later.id))] == [point]
    assert left_by_visits(records, engine, before=records.visit(visit.id)) == ()
    say_done(records, point, visit=later.id)
    (left,) = left_by_visits(records, engine)
    assert left.done is not None
    assert left.done.content["visit"] == later.id


def test_in_an_open_visit_it_is_closed_where_it_stands(records: Records) -> None:
    engine = records.append("engine", {"tag": "X1"})
    visit = records.append("visit_opened", {"began": "2032-07-08T10:00:00Z"}, engine=engine.id)
    point = records.append("open_point", WASH, visit=visit.id)
    assert say_done(records, point).kind == "open_point"
    assert [one.content["done"] for one in view(records, visit.id).open_points] == [True]


@pytest.mark.parametrize("day", ["2032-07-07", "2032-08-01"])
def test_a_day_before_the_visit_or_to_come_is_refused(records: Records, day: str) -> None:
    _, point = closed_visit(records)
    with pytest.raises(InputError, match="cannot be when"):
        say_done(records, point, day=day)


def test_two_laptops_may_both_say_it(open_home: Callable[..., Records]) -> None:
    here, there = open_home("here"), open_home("there")
    visit, point = closed_visit(here)
    there.merge(here.entries())
    first = say_done(here, point, who="A")
    there.merge([one for one in here.entries() if one.kind == "sealed"])
    say_done(there, point, who="B")
    here.merge(there.entries())
    there.merge(here.entries())
    assert view(here, visit.id).points_done[point.id].id == view(there, visit.id).points_done[point.id].id
    assert first.id in {one.id for one in there.entries(kind="point_done")}
    assert view(here, visit.id).conflicts == ()
