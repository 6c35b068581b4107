"""Work that shares a stop. Published cases stand in the checks of the room."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.upkeep import grouping
from asfound.upkeep.checks_grouping import checks
from asfound.upkeep.grouping import Task, group
from asfound.upkeep.shared_cycle import apart, cycle_cost, shared_cycle, silver_cycle

LIMIT = 240.0


@st.composite
def tasks(draw, most=6):
    number = draw(st.integers(1, most))
    return [
        Task(
            name=f"task {at}",
            due=draw(st.integers(0, 3000)),
            early=draw(st.integers(0, 30)) / 10.0,
            window=draw(st.sampled_from([50.0, 400.0, math.inf])),
            minutes=draw(st.integers(0, 240)),
        )
        for at in range(number)
    ]


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_published(check):
    assert check.holds, check


def partitions(items):
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for part in partitions(rest):
        yield [[first], *part]
        for at in range(len(part)):
            yield [*part[:at], [first, *part[at]], *part[at + 1 :]]


def cheapest(given_tasks, setup, most):
    best = math.inf
    for groups in partitions(given_tasks):
        cost = 0.0
        for company in groups:
            at = min(task.due for task in company)
            if sum(task.minutes for task in company) > most or any(t.due - at > t.window for t in company):
                break
            cost += setup + sum(task.early * (task.due - at) for task in company)
        else:
            best = min(best, cost)
    return best


@settings(max_examples=60, deadline=None)
@given(tasks(), st.integers(0, 1000), st.sampled_from([LIMIT, math.inf]))
def test_no_grouping_of_all_costs_less(given_tasks, setup, most):
    found = group(given_tasks, setup, most_minutes=most)
    assert found.best
    assert found.cost == pytest.approx(cheapest(given_tasks, setup, most))


@settings(max_examples=40, deadline=None)
@given(tasks(9), st.integers(1, 1000))
def test_a_good_grouping_keeps_every_limit_and_lies_above_its_bound(given_tasks, setup):
    kept = grouping.EFFORT, grouping.TOGETHER
    grouping.EFFORT, grouping.TOGETHER = 40, 4
    try:
        found = group(given_tasks, setup, most_minutes=LIMIT)
    finally:
        grouping.EFFORT, grouping.TOGETHER = kept
    best = group(given_tasks, setup, most_minutes=LIMIT)
    assert sorted(task.name for stop in found.stops for task in stop.tasks) == sorted(t.name for t in given_tasks)
    for stop in found.stops:
        assert stop.minutes <= LIMIT
        assert all(0 <= task.due - stop.at <= task.window for task in stop.tasks)
    assert found.at_least <= best.cost + 1e-6 <= found.cost + 2e-6
    assert found.cost <= found.apart + 1e-6


def test_many_tasks_are_grouped_exactly_where_the_work_of_a_stop_is_free():
    many = [Task(name=str(at), due=37.0 * at, early=0.5) for at in range(200)]
    found = group(many, 400.0)
    assert found.best
    assert len({len(stop.tasks) for stop in found.stops}) <= 3  # like tasks at like distances: like groups


def test_what_cannot_be_planned_is_refused():
    with pytest.raises(InputError, match="fit"):
        group([Task(name="overhaul", due=0.0, early=1.0, minutes=500.0)], 100.0, most_minutes=LIMIT)
    with pytest.raises(InputError, match="twice"):
        group([Task(name="oil", due=0.0, early=1.0)] * 2, 100.0)


COSTS = st.lists(st.tuples(st.integers(1, 900), st.integers(1, 200)), min_size=1, max_size=3)


@settings(max_examples=60)
@given(st.integers(0, 900), COSTS)
def test_no_other_multiples_cost_less(setup, costs):
    own, growing = [float(a) for a, _ in costs], [float(b) for _, b in costs]
    best = shared_cycle(setup, own, growing, most_multiple=6)
    tried = np.array([m for m in itertools.product(range(1, 7), repeat=len(own)) if 1 in m])
    assert best.cost == pytest.approx(float(cycle_cost(setup, np.array(own), np.array(growing), tried).min()), rel=1e-9)
    assert (
        best.cost <= silver_cycle(setup, own, growing).cost * (1 + 1e-9)
        or max(silver_cycle(setup, own, growing).multiples) > 6
    )
    assert 1 in best.multiples


@given(st.floats(1.0, 1000.0), st.floats(0.0, 1000.0), st.floats(0.1, 100.0))
def test_one_task_alone_shares_with_nobody(setup, own, growing):
    assert shared_cycle(setup, [own], [growing]).cost == pytest.approx(apart(setup, [own], [growing]))
