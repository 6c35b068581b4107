"""What a test is worth in minutes: how much less the end is expected to cost when its answer is heard first.

One step ahead: without the test the repairs are made in their best order, each run and seen, until the call is cheaper;
with it the same is done after either answer. All causes count here, not the leading ones alone. Tests that pay only
together with others are seen by the plan (`decide`), which takes the tests of most worth and looks to the end.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from asfound.troubleshoot.belief import Belief, Floats
from asfound.troubleshoot.next_test import Now, cost

IN_A_ROW = 4
"""Repairs that are made in a row before one calls."""


def repairs_in_a_row(
    p: Floats, cured: Floats, price: Floats, may: NDArray[np.bool_], call: float, *, most: int = IN_A_ROW
) -> Floats:
    """Return what it is expected to cost to repair by chance of cure for cost until the call is cheaper [beliefs, min].

    Parameters
    ----------
    p : array, shape (beliefs, causes)
        Weights; a belief that adds up to less than 1 gives its share of the cost.
    cured : array, shape (causes, repairs)
        P(cured | cause).
    price : array, shape (repairs,)
        What a repair costs with the run after it. [min]
    may : array, shape (repairs,)
        Whether it can be made.
    call : float
        What the call costs. [min]
    """
    left, may = p.copy(), np.tile(may, (len(p), 1))
    row = np.arange(len(p))
    spent: Floats = np.zeros(len(p))
    best: Floats = call * left.sum(axis=1)
    for _ in range(min(most, cured.shape[1])):
        rate = np.where(may, left @ cured / price, -1.0)
        first = rate.argmax(axis=1)
        go = rate[row, first] > 0
        spent = spent + np.where(go, price[first], 0.0) * left.sum(axis=1)
        left = np.where(go[:, None], left * (1 - cured[:, first].T), left)
        may[row, first] = False
        best = np.minimum(best, spent + call * left.sum(axis=1))
    return best


def saves(belief: Belief, now: Now) -> dict[str, float]:
    """Return for each test the minutes that its answer is expected to save, its own cost taken off.

    Below 0: it costs more than it saves by itself. Tests told already and those that cannot be made now are left out.
    """
    odds, known, told = belief.odds, belief.odds.knowledge, belief.told
    works = [known.repairs[name] for name in odds.repairs]
    price = np.array([cost(one, now.state, known.prices) + known.prices.proof_run for one in works])
    may = np.array([one.id not in told and not now.why_not(one) for one in works], dtype=bool)
    tests = [
        (j, known.tests[name])
        for j, name in enumerate(odds.tests)
        if name not in told and not now.why_not(known.tests[name])
    ]
    if not tests:
        return {}
    positive = odds.positive[:, [j for j, _ in tests]].T
    beliefs = np.concatenate([belief.p[None, :], belief.p * positive, belief.p * (1 - positive)])
    ends = repairs_in_a_row(beliefs, odds.cured, price, may, known.prices.call)
    after = ends[1 : len(tests) + 1] + ends[len(tests) + 1 :]
    return {one.id: float(ends[0] - after[i] - cost(one, now.state, known.prices)) for i, (_, one) in enumerate(tests)}
