"""The cheapest way to a wanted build. Proved cases stand in the checks of the room."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.upkeep.checks_upgrade import checks
from asfound.upkeep.upgrade import Barred, Change, Problem, holds, may_be, reached
from asfound.upkeep.upgrade_bound import Bound
from asfound.upkeep.upgrade_masks import Masks
from asfound.upkeep.upgrade_search import builds_on_the_way, cheapest, cost_of, equal_ways, is_way

CHECKS = list(checks())


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.check)
def test_proved(check):
    assert check.holds, check


def relaxed(problem: Problem) -> dict[tuple, float]:
    """Return the least cost of every build, running and stopped, by relaxing: no queue, no bound."""
    names, limited = list(problem.places), problem.stop_minutes < math.inf
    costs = {(tuple(problem.start[name] for name in names), None): 0.0}
    while True:
        found = dict(costs)
        for (values, used), cost in costs.items():
            build = dict(zip(names, values, strict=True))
            steps = [((values, 0.0), problem.stop_cost)] if used is None else []
            if used is not None and may_be(problem, build, running=True):
                steps.append(((values, None), 0.0))
            for one in problem.changes:
                then = build | one.puts
                minutes = None if used is None else used + one.minutes if limited else 0.0
                if (one.stopped and used is None) or not holds(build, one.needs) or then == build:
                    continue
                if may_be(problem, then, running=used is None) and (minutes or 0.0) <= problem.stop_minutes:
                    steps.append(((tuple(then[name] for name in names), minutes), one.cost))
            for key, price in steps:
                found[key] = min(found.get(key, math.inf), cost + price)
        if found == costs:
            return costs
        costs = found


def by_hand(problem: Problem) -> float | None:
    """Return the least cost by `relaxed`; None where there is no way."""
    names = list(problem.places)
    ends = [
        cost for (values, used), cost in relaxed(problem).items()
        if used is None and reached(problem, dict(zip(names, values, strict=True)))
    ]  # fmt: skip
    return min(ends, default=None)


def any_problem(seed: int) -> Problem:
    """Return a small problem, the same for the same seed."""
    draw = random.Random(seed)
    places = {f"s{at}": ("a", "b", "c")[: draw.choice((2, 2, 3))] for at in range(draw.randint(2, 4))}

    def some(most: int) -> dict[str, tuple[str, ...]]:
        chosen = draw.sample(list(places), draw.randint(1, min(most, len(places))))
        return {name: tuple(draw.sample(places[name], draw.randint(1, len(places[name]) - 1))) for name in chosen}

    changes = tuple(
        Change(
            id=f"c{at}",
            puts={name: draw.choice(places[name]) for name in draw.sample(list(places), draw.choice((1, 1, 2)))},
            cost=draw.choice((0, 20, 50, 80, 200)), minutes=draw.choice((10, 60, 120)), stopped=draw.random() < 0.7,
            needs=some(2) if draw.random() < 0.4 else {},
        )
        for at in range(draw.randint(2, 9))
    )  # fmt: skip
    whens = ("never", "running", "running", "end")
    start = {name: values[0] for name, values in places.items()}
    barred = [Barred(build=some(2), when=draw.choice(whens)) for _ in range(draw.randint(0, 3))]
    return Problem(
        places=places, start=start, target=some(3), changes=changes,
        barred=tuple(one for one in barred if one.when != "never" or not holds(start, one.build)),
        stop_cost=draw.choice((0, 60, 150)), stop_minutes=draw.choice((math.inf, math.inf, 130, 240)),
    )  # fmt: skip


SEEDS = st.integers(0, 10**9)


@given(SEEDS)
@settings(max_examples=150, deadline=None)
def test_as_cheap_as_by_relaxing_all_builds(seed):
    problem = any_problem(seed)
    found, least = cheapest(problem), by_hand(problem)
    assert (found is None) == (least is None)
    if found is not None:
        assert found.cost == pytest.approx(least) == pytest.approx(cost_of(problem, found.moves))
        assert is_way(problem, found.moves)
        assert found.proof.bound == pytest.approx(found.cost)


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_the_bound_is_never_above_the_rest_of_the_way(seed):
    problem = any_problem(seed)
    masks = Masks.of(problem)
    bound = Bound(masks)
    names = list(problem.places)
    for values, used in list(relaxed(problem))[:12]:
        build = dict(zip(names, values, strict=True))
        if used is None and (rest := by_hand(replace(problem, start=build))) is not None:
            assert bound(sum(masks.bits[pair] for pair in build.items()), None) <= rest + 1e-9


@given(SEEDS, SEEDS)
@settings(max_examples=80, deadline=None)
def test_no_way_taken_at_random_is_cheaper(seed, walk):
    problem, draw = any_problem(seed), random.Random(walk)
    found = cheapest(problem)
    cost, build, used = 0.0, dict(problem.start), None
    for _ in range(30):
        if used is None and reached(problem, build):
            assert found is not None
            assert found.cost <= cost + 1e-9
            return
        if draw.random() < 0.3:
            if used is None:
                cost, used = cost + problem.stop_cost, 0.0
            elif may_be(problem, build, running=True):
                used = None
            continue
        one = draw.choice(problem.changes)
        then = build | one.puts
        fits = used is None or used + one.minutes <= problem.stop_minutes
        if (one.stopped and used is None) or not holds(build, one.needs) or not fits:
            continue
        if may_be(problem, then, running=used is None):
            build, cost = then, cost + one.cost
            used = None if used is None else used + one.minutes


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_every_build_on_the_way_may_be(seed):
    problem = any_problem(seed)
    found = cheapest(problem)
    if found is not None:
        builds = list(builds_on_the_way(problem, found.moves))
        assert all(may_be(problem, build, running=running) for build, running in builds[1:])
        assert builds[0] == (dict(problem.start), True)
        assert builds[-1][1]
        assert reached(problem, builds[-1][0])


@given(SEEDS)
@settings(max_examples=40, deadline=None)
def test_what_is_reached_already_costs_nothing(seed):
    problem = any_problem(seed)
    there = replace(problem, target={name: (value,) for name, value in problem.start.items()}, barred=())
    assert cheapest(there).cost == 0.0
    assert cheapest(there).moves == ()


@given(SEEDS, st.floats(0.0, 10.0))
@settings(max_examples=40, deadline=None)
def test_costs_in_another_money_scale(seed, factor):
    problem = any_problem(seed)
    scaled = replace(
        problem, stop_cost=problem.stop_cost * factor,
        changes=tuple(replace(one, cost=one.cost * factor) for one in problem.changes),
    )  # fmt: skip
    found, other = cheapest(problem), cheapest(scaled)
    assert (found is None) == (other is None)
    if found is not None:
        assert other.cost == pytest.approx(found.cost * factor, abs=1e-6)


@given(SEEDS)
@settings(max_examples=40, deadline=None)
def test_equal_ways_cost_the_same_and_each_is_needed(seed):
    problem = replace(any_problem(seed), stop_minutes=math.inf)
    found = cheapest(problem)
    sets = equal_ways(problem)
    assert bool(sets) == (found is not None)
    for one in sets:
        only = problem.without(*(each.id for each in problem.changes if each.id not in one))
        assert cheapest(only).cost == pytest.approx(found.cost)
    for a, b in itertools.permutations(sets, 2):
        assert not a <= b


def test_a_part_that_goes_one_way_only_is_a_change_without_its_reverse():
    places = {"strip": ("early", "late"), "turned": ("not_set", "set")}
    change = Change(id="late for early", puts={"strip": "late"}, cost=300, minutes=30)
    there = Problem(
        places=places, start={"strip": "early", "turned": "not_set"}, target={"strip": ("late",)}, changes=(change,)
    )
    back = replace(there, start={"strip": "late", "turned": "not_set"}, target={"strip": ("early",)})
    assert cheapest(there).changes == ("late for early",)
    assert cheapest(back) is None


def test_what_may_not_be_at_the_end_may_be_on_the_way():
    problem = Problem(
        places={"a": ("0", "1"), "b": ("0", "1")}, start={"a": "0", "b": "0"}, target={"a": ("1",)},
        changes=(Change(id="a", puts={"a": "1"}, cost=5), Change(id="b", puts={"b": "1"}, cost=7)),
        barred=(Barred(build={"a": ("1",), "b": ("0",)}, when="end"),), stop_cost=10,
    )  # fmt: skip
    assert cheapest(problem).cost == 22.0


def test_what_cannot_be_is_refused():
    good = {"places": {"a": ("0", "1")}, "start": {"a": "0"}, "target": {"a": ("1",)}, "changes": ()}
    with pytest.raises(UnknownNameError, match="value of a"):
        Problem(**good | {"target": {"a": ("2",)}})
    with pytest.raises(UnknownNameError, match="place"):
        Problem(**good | {"barred": (Barred(build={"b": ("1",)}),)})
    with pytest.raises(InputError, match="no value"):
        Problem(**good | {"start": {}})
    with pytest.raises(InputError, match="stands twice"):
        Problem(**good | {"changes": (Change(id="x", puts={"a": "1"}), Change(id="x", puts={"a": "0"}))})
    with pytest.raises(InputError, match="0 or more"):
        Problem(**good | {"changes": (Change(id="x", puts={"a": "1"}, cost=-1.0),)})
    with pytest.raises(InputError, match="may not exist"):
        cheapest(Problem(**good | {"barred": (Barred(build={"a": ("0",)}),)}))


@given(SEEDS)
@settings(max_examples=25, deadline=None)
def test_led_by_the_bound_as_cheap_as_without_it_where_there_are_many_builds(seed):
    draw = random.Random(seed)
    places = {f"s{at}": ("a", "b", "c") for at in range(6)}

    def some(number: int) -> dict[str, tuple[str, ...]]:
        return {name: tuple(draw.sample("abc", draw.choice((1, 2)))) for name in draw.sample(list(places), number)}

    problem = Problem(
        places=places, start=dict.fromkeys(places, "a"),
        target={name: ("b", "c")[: draw.choice((1, 2))] for name in draw.sample(list(places), 4)},
        changes=tuple(
            Change(
                id=f"c{at}",
                puts={name: draw.choice("abc") for name in draw.sample(list(places), draw.choice((1, 1, 2)))},
                cost=draw.choice((0, 10, 20, 50, 90)), minutes=draw.choice((20, 60)), stopped=draw.random() < 0.8,
                needs=some(1) if draw.random() < 0.3 else {},
            )
            for at in range(16)
        ),
        barred=tuple(Barred(build=some(2), when=draw.choice(("running", "end"))) for _ in range(3)),
        stop_cost=30, stop_minutes=draw.choice((math.inf, 130)),
    )  # fmt: skip
    found, plain = cheapest(problem), cheapest(problem, led=False)
    assert (found is None) == (plain is None)
    if found is not None:
        assert found.cost == pytest.approx(plain.cost)
