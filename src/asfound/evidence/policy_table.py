"""The best policy of repairs and tests by one table over all states: the exact AND/OR recursion, worked out backwards.

A state says which repairs were made (in vain) and what each test answered (not made, positive, negative). There are
2^repairs x 3^tests of them; each is worked out once, from the fullest to the emptiest, all of one fullness together in
arrays. The outcome is that of the recursion (Heckerman, Breese and Rommelse 1995 and Vomlelova and Vomlel 2003 state
the problem); the time hangs on the number of steps alone, so it is known before it begins.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from asfound.evidence.repair import ENDED, Policy

if TYPE_CHECKING:
    from asfound.evidence.repair import Trouble

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MOST_STATES = 250_000
"""More states than these are not put into a table."""
AFTER = ("positive", "negative")


def states(repairs: int, tests: int) -> int:
    """Return how many states so many repairs and tests make."""
    return int(2**repairs * 3**tests)


class PolicyTable:
    """All states of a trouble with what each is expected to cost and the step that is best there."""

    def __init__(self, trouble: Trouble) -> None:
        self.t = trouble
        self.repairs, self.tests = len(trouble.repairs), len(trouble.tests)
        self.left = self._weights()
        """P(cause, all that happened) [states, causes]."""
        self.cost, self.first = self._solve()

    def best(self) -> Policy:
        """Return the best policy from the state in which nothing was done."""
        return self._policy(0)

    def _weights(self) -> Floats:
        left = self.t.prior[None, :]
        for row in self.t.fails:
            left = np.concatenate([left, left * row])  # made: the later half
        for row in self.t.positive:
            left = np.concatenate([left, left * row, left * (1 - row)])
        return np.asarray(left, dtype=float)

    def _solve(self) -> tuple[Floats, Ints]:
        """Return expected cost weighted by the chance of being there [states], and the best step (-1: fallback)."""
        here = self.left.sum(axis=1)
        fallback = np.inf if self.t.fallback is None else self.t.fallback
        cost = np.where(here > ENDED, fallback * np.maximum(here, 1e-300), 0.0)
        first = np.full(len(here), -1)
        layout = _layout(self.repairs, self.tests)
        repair_price = np.array([one.cost for one in self.t.repairs])
        test_price = np.array([one.cost for one in self.t.tests])
        for rows in layout.by_fullness:  # each needs only states with one step more
            live = rows[here[rows] > ENDED]
            for a in range(self.repairs):
                at = live[layout.made[live, a] == 0]
                new = repair_price[a] * here[at] + cost[at + layout.repair_stride[a]]
                better = new < cost[at] - 1e-12
                cost[at[better]], first[at[better]] = new[better], a
            for t in range(self.tests):
                at = live[layout.answers[live, t] == 0]
                stride = layout.test_stride[t]
                new = test_price[t] * here[at] + cost[at + stride] + cost[at + 2 * stride]
                better = new < cost[at] - 1e-12
                cost[at[better]], first[at[better]] = new[better], self.repairs + t
        return cost, first

    def _policy(self, state: int) -> Policy:
        here = float(self.left[state].sum())
        conditional = float(self.cost[state]) / here if here > ENDED else 0.0
        step = int(self.first[state])
        layout = _layout(self.repairs, self.tests)
        if step < 0:
            return Policy("fallback", conditional, {})
        if step < self.repairs:
            then = self._policy(state + int(layout.repair_stride[step]))
            return Policy(self.t.repairs[step].name, conditional, {"fails": then})
        stride = int(layout.test_stride[step - self.repairs])
        after = {word: self._policy(state + (i + 1) * stride) for i, word in enumerate(AFTER)}
        return Policy(self.t.tests[step - self.repairs].name, conditional, after)


class _Layout:
    """Where states lie, for so many repairs and tests."""

    def __init__(self, repairs: int, tests: int) -> None:
        self.repair_stride = 2 ** np.arange(repairs)
        self.test_stride = 2**repairs * 3 ** np.arange(tests)
        index = np.arange(states(repairs, tests))
        self.made = index[:, None] // self.repair_stride % 2
        self.answers = index[:, None] // self.test_stride % 3
        fullness = self.made.sum(axis=1) + (self.answers > 0).sum(axis=1)
        order = np.argsort(-fullness, kind="stable")
        edges = np.flatnonzero(np.diff(fullness[order])) + 1
        self.by_fullness = np.split(order, edges)


@lru_cache(maxsize=8)
def _layout(repairs: int, tests: int) -> _Layout:
    return _Layout(repairs, tests)
