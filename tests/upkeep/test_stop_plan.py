"""The due list of one engine and its stops."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.upkeep.due import STATES, Condition, Interval
from asfound.upkeep.durations import Duration
from asfound.upkeep.meters import MeterExchange, MeterReading
from asfound.upkeep.stop_plan import EngineTask, due_list, stop_plan

TODAY = date(2032, 7, 1)
DONE = MeterReading(date(2032, 4, 2), 40480.0)
NOW = MeterReading(TODAY, 650.0)
EXCHANGE = MeterExchange(date(2032, 5, 30), 41230.0)


def task(name: str, **more):
    return EngineTask(name=name, done=DONE, **{"interval": Interval(hours=2000.0), **more})


TASKS = [
    task("plugs", minutes=180.0, cost=900.0),
    task("oil", interval=Interval(hours=1500.0), minutes=180.0, cost=700.0),
    task("protections", interval=Interval(calendar=Duration.parse("P3M")), minutes=240.0),
    task("sample", interval=Interval(hours=500.0), needs_stop=False),
    task("filter", interval=Interval(), condition=Condition(value=2.0, limit=6.0, day=TODAY), minutes=60.0),
    task("valves", interval=Interval(hours=9000.0), minutes=240.0, cost=2000.0),
]


def listed(tasks=TASKS):
    return due_list(tasks, now=NOW, hours_per_day=20.0, exchanges=[EXCHANGE])


def test_the_most_pressing_comes_first_across_an_exchanged_meter():
    found = listed()
    assert [one.task.name for one in found.tasks] == ["sample", "protections", "oil", "plugs", "valves", "filter"]
    assert found.tasks[3].due.hours_since == 1400.0
    assert [one.task.name for one in found.in_state("overdue")] == ["sample"]


def test_one_stop_serves_what_is_near_and_leaves_out_what_has_no_day():
    found = stop_plan(listed(), setup=1000.0, horizon=60)
    assert [(stop.day, stop.tasks) for stop in found.stops] == [
        (TODAY + timedelta(days=1), ("protections", "oil", "plugs"))
    ]
    assert found.left_out == ("valves", "filter")
    assert found.best
    assert found.cost < found.apart == 3000.0


def test_a_filter_at_its_limit_is_for_now():
    dirty = task("filter", interval=Interval(), condition=Condition(value=7.0, limit=6.0, day=date(2032, 6, 27)))
    found = stop_plan(listed([dirty]), setup=1000.0, horizon=0)
    assert found.stops[0].day == TODAY


def test_a_horizon_that_looks_back_is_refused():
    with pytest.raises(InputError, match="back"):
        stop_plan(listed(), setup=1.0, horizon=-1)


@given(st.lists(st.integers(1, 4000), min_size=1, max_size=8), st.floats(0.0, 5000.0), st.integers(0, 200))
def test_each_task_is_in_one_stop_and_never_later_than_due_or_now(hours, setup, horizon):
    tasks = [task(str(at), interval=Interval(hours=float(one)), cost=500.0) for at, one in enumerate(hours)]
    known = listed(tasks)
    found = stop_plan(known, setup=setup, horizon=horizon)
    assert sorted([*found.left_out, *(name for stop in found.stops for name in stop.tasks)]) == sorted(
        one.name for one in tasks
    )
    days = {one.task.name: one.due.day for one in known.tasks}
    assert all(stop.day <= max(TODAY, days[name]) for stop in found.stops for name in stop.tasks)
    states = [STATES.index(one.due.state) for one in known.tasks]
    assert states == sorted(states, reverse=True)
