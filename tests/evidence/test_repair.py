"""Repairs and tests: policies against every sequence and every policy, written anew here."""

from __future__ import annotations

from functools import cache
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.evidence.repair import Policy, PolicySearch, Repair, Test, Trouble, order_tests
from asfound.evidence.repair import tests_until_failure as until_failure


@st.composite
def troubles(draw, repairs: int = 4, tests: int = 2, fallback: bool = True) -> Trouble:
    causes = [f"c{i}" for i in range(draw(st.integers(1, 4)))]
    raw = [draw(st.integers(1, 9)) for _ in causes]
    chance = st.integers(0, 10).map(lambda x: x / 10)
    prior = {cause: x / sum(raw) for cause, x in zip(causes, raw, strict=True)}
    mend = [
        Repair(f"r{i}", draw(st.integers(1, 90)), {c: draw(chance) for c in causes})
        for i in range(draw(st.integers(1, repairs)))
    ]
    if not fallback:
        mend.append(Repair("all", 200, dict.fromkeys(causes, 1.0)))
    tell = [
        Test(f"t{i}", draw(st.integers(1, 30)), {c: draw(chance) for c in causes})
        for i in range(draw(st.integers(0, tests)))
    ]
    return Trouble(prior, mend, tell, fallback=draw(st.integers(50, 400)) if fallback else None)


def cheapest_sequence(trouble: Trouble) -> float:
    names = [one.name for one in trouble.repairs]
    costs = [trouble.expected_cost(order) for n in range(len(names) + 1) for order in permutations(names, n)]
    if trouble.fallback is None:  # only sequences that mend everything end it
        ends = [
            trouble.expected_cost(order)
            for n in range(len(names) + 1)
            for order in permutations(names, n)
            if "all" in order
        ]
        return min(ends)
    return min(costs)


def cheapest_policy(trouble: Trouble) -> float:
    """AND/OR recursion over beliefs, unlike the one under test: conditional probabilities, no shared states."""

    @cache
    def cost(belief: tuple[float, ...], repairs: tuple[int, ...], tests: tuple[int, ...]) -> float:
        best = trouble.fallback
        for a in repairs:
            fails = [
                p * (1 - trouble.repairs[a].fixes.get(c, 0.0)) for p, c in zip(belief, trouble.causes, strict=True)
            ]
            left = sum(fails)
            rest = tuple(x for x in repairs if x != a)
            after = 0.0 if left < 1e-13 else left * cost(tuple(p / left for p in fails), rest, tests)
            best = min(best, trouble.repairs[a].cost + after)
        for t in tests:
            total = trouble.tests[t].cost
            for positive in (True, False):
                chance = [trouble.tests[t].positive.get(c, 0.0) for c in trouble.causes]
                now = [p * (q if positive else 1 - q) for p, q in zip(belief, chance, strict=True)]
                if sum(now) > 1e-13:
                    total += sum(now) * cost(
                        tuple(p / sum(now) for p in now), repairs, tuple(x for x in tests if x != t)
                    )
            best = min(best, total)
        return best

    return cost(tuple(trouble.prior.tolist()), tuple(range(len(trouble.repairs))), tuple(range(len(trouble.tests))))


def follow(policy: Policy, trouble: Trouble, left) -> float:
    """Expected cost of carrying a policy out."""
    here = float(left.sum())
    if here < 1e-14:
        return 0.0
    if policy.step == "fallback":
        return trouble.fallback * here
    for a, repair in enumerate(trouble.repairs):
        if repair.name == policy.step:
            return repair.cost * here + follow(policy.after["fails"], trouble, left * trouble.fails[a])
    t = [test.name for test in trouble.tests].index(policy.step)
    positive = trouble.positive[t]
    return (
        trouble.tests[t].cost * here
        + follow(policy.after["positive"], trouble, left * positive)
        + follow(policy.after["negative"], trouble, left * (1 - positive))
    )


@settings(max_examples=80, deadline=None)
@given(troubles(tests=0))
def test_best_sequence_against_all_sequences(trouble):
    order, cost = trouble.best_sequence()
    assert cost == pytest.approx(cheapest_sequence(trouble), abs=1e-9)
    assert trouble.expected_cost(order) == pytest.approx(cost, abs=1e-9)
    assert trouble.expected_cost(trouble.by_efficiency()) >= cost - 1e-9


@settings(max_examples=40, deadline=None)
@given(troubles(repairs=3, tests=0, fallback=False))
def test_best_sequence_without_fallback(trouble):
    assert trouble.best_sequence()[1] == pytest.approx(cheapest_sequence(trouble), abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(troubles(repairs=3, tests=2))
def test_best_policy_against_recursion_over_beliefs(trouble):
    policy = trouble.best_policy()
    assert policy.cost == pytest.approx(cheapest_policy(trouble), abs=1e-9)
    assert follow(policy, trouble, trouble.prior) == pytest.approx(policy.cost, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(troubles(repairs=4, tests=3))
def test_bounded_search_gives_the_same(trouble):
    plain, bounded = PolicySearch(trouble, bounded=False), PolicySearch(trouble, bounded=True)
    assert bounded.best().cost == pytest.approx(plain.best().cost, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(troubles(repairs=4, tests=0))
def test_bound_is_below_the_best(trouble):
    assert trouble.bound(trouble.prior, range(len(trouble.repairs))) <= trouble.best_sequence()[1] + 1e-9


def test_independent_certain_repairs_go_by_efficiency():
    """Kalagnanam and Henrion 1990 (from memory): p/c falling is best where each repair mends one cause for certain."""
    prior = {f"c{i}": p for i, p in enumerate((0.05, 0.4, 0.25, 0.1, 0.2))}
    costs = (3.0, 30.0, 8.0, 2.0, 12.0)
    trouble = Trouble(prior, [Repair(f"r{i}", c, {f"c{i}": 1.0}) for i, c in enumerate(costs)])
    assert trouble.expected_cost(trouble.by_efficiency()) == pytest.approx(trouble.best_sequence()[1])


def test_fifteen_steps_are_still_exact_within_reason():
    """Beyond ten steps the search is bounded; the answer is checked by carrying the policy out."""
    causes = [f"c{i}" for i in range(6)]
    prior = dict.fromkeys(causes, 1 / 6)
    repairs = [Repair(f"r{i}", 10.0 + 3 * i, {causes[i]: 1.0, causes[(i + 1) % 6]: 0.3}) for i in range(6)]
    tests = [
        Test(f"t{i}", 2.0 + i, {c: 0.9 if j < 3 else 0.1 for j, c in enumerate(causes[i:] + causes[:i])})
        for i in range(5)
    ]
    trouble = Trouble(prior, repairs, tests, fallback=150.0)
    policy = trouble.best_policy()
    assert follow(policy, trouble, trouble.prior) == pytest.approx(policy.cost)
    assert policy.cost < trouble.best_sequence()[1]


def test_bounds_save_most_of_the_search():
    """Nine steps: the bounded search looks at a fraction of the states."""
    causes = [f"c{i}" for i in range(6)]
    repairs = [Repair(f"r{i}", 10.0 + 2 * i, {c: 1.0}) for i, c in enumerate(causes)]
    tests = [Test(f"t{i}", 30.0, {causes[i]: 0.6, causes[i + 1]: 0.6}) for i in range(3)]
    trouble = Trouble(dict.fromkeys(causes, 1 / 6), repairs, tests, fallback=400.0)
    plain, bounded = PolicySearch(trouble, bounded=False), PolicySearch(trouble, bounded=True)
    assert bounded.best().cost == pytest.approx(plain.best().cost)
    assert bounded.steps < plain.steps / 2


@given(st.dictionaries(st.sampled_from("ABCD"), st.tuples(st.integers(1, 90), st.integers(1, 9)), min_size=1))
def test_order_of_tests_against_all_orders(tests):
    cost = {name: float(c) for name, (c, _) in tests.items()}
    fail = {name: p / 10 for name, (_, p) in tests.items()}
    best = min(until_failure(order, cost, fail) for order in permutations(tests))
    assert until_failure(order_tests(cost, fail), cost, fail) == pytest.approx(best)


def test_troubles_that_cannot_be():
    with pytest.raises(InputError, match="priors add up to"):
        Trouble({"c": 0.5}, [])
    with pytest.raises(InputError, match="fallback"):
        Trouble({"c": 1.0}, [Repair("r", 1.0, {"c": 0.5})])
    with pytest.raises(UnknownNameError, match="cause"):
        Trouble({"c": 1.0}, [Repair("r", 1.0, {"d": 1.0})], fallback=1.0)
    with pytest.raises(InputError, match="is no probability"):
        Trouble({"c": 1.0}, [Repair("r", 1.0, {"c": 1.5})], fallback=1.0)
    with pytest.raises(UnknownNameError, match="repair"):
        Trouble({"c": 1.0}, [Repair("r", 1.0, {"c": 1.0})]).expected_cost(["s"])
