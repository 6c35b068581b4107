"""The search for the cheapest upgrade beside two without its bound; the money case drawn in one call and in a loop.

Problems: n places with an old and a new value, the new one wanted in each; one change for each place, a dearer second
one for every third, kits of three neighbours; neighbours of which the engine may run with both or none; every second
needs the one before. The same least cost is demanded of all sides before times are shown.

* ours: best first, led by the bound.
* without the bound: the same search, every cheaper build looked at.
* all builds: relaxing the cost of every build until nothing falls, no queue.

Targets: ours looks at no more builds than the search without the bound, anywhere; at 18 places it is 10 times as fast;
10,000 draws of the money case in one call are 100 times as fast as one by one.
"""

from __future__ import annotations

import math
import random
import sys
import time

import numpy as np

from asfound.upkeep.case_worth import case_worth
from asfound.upkeep.manager_case import read_case
from asfound.upkeep.upgrade import Barred, Change, Problem
from asfound.upkeep.upgrade_masks import Masks
from asfound.upkeep.upgrade_search import cheapest
from asfound.upkeep.what_matters import LowLikelyHigh

DRAWS = 10_000


def problem(number: int, seed: int = 1, *, stop_minutes: float = math.inf) -> Problem:
    """Return the problem of a number of places."""
    draw = random.Random(seed)
    names = [f"p{at:02}" for at in range(number)]
    changes, barred = [], []
    for at, name in enumerate(names):
        needs = {names[at - 1]: ("new",)} if at % 2 else {}
        cost = draw.randint(5, 60) * 50
        changes.append(Change(id=f"part {at}", puts={name: "new"}, cost=cost, minutes=60, needs=needs))
        if at % 3 == 0:
            changes.append(Change(id=f"other {at}", puts={name: "new"}, cost=cost + 100, minutes=30))
        if at % 4 == 2 and at + 2 < number:
            kit = dict.fromkeys(names[at : at + 3], "new")
            changes.append(Change(id=f"kit {at}", puts=kit, cost=draw.randint(60, 120) * 50, minutes=150))
        if at % 5 == 1 and at + 1 < number:
            barred += [
                Barred(build={name: (a,), names[at + 1]: (b,)}, when="running")
                for a, b in (("old", "new"), ("new", "old"))
            ]
    return Problem(
        places=dict.fromkeys(names, ("old", "new")), start=dict.fromkeys(names, "old"),
        target=dict.fromkeys(names, ("new",)), changes=tuple(changes), barred=tuple(barred), stop_cost=900,
        stop_minutes=stop_minutes,
    )  # fmt: skip


def all_builds(given: Problem) -> float:
    """Return the least cost by relaxing the cost of every build, running and stopped, until nothing falls."""
    masks = Masks.of(given)
    costs = {(masks.start, False): 0.0}
    fell = True
    while fell:
        fell = False
        for (build, stopped), cost in list(costs.items()):
            steps = [((build, True), given.stop_cost)] if not stopped else []
            if stopped and masks.may_run(build):
                steps.append(((build, False), 0.0))
            for one in masks.changes:
                if (one.stopped and not stopped) or build & one.needs_not:
                    continue
                then = build & one.keeps | one.puts
                if then != build and (masks.may_stand(then) if stopped else masks.may_run(then)):
                    steps.append(((then, stopped), one.cost))
            for key, price in steps:
                if cost + price < costs.get(key, np.inf) - 1e-9:
                    costs[key], fell = cost + price, True
    return min(cost for (build, stopped), cost in costs.items() if not stopped and masks.reached(build))


def timed(work):
    """Return what the work gives and its seconds."""
    start = time.perf_counter()
    found = work()
    return found, time.perf_counter() - start


def search() -> bool:
    """Print the table of the searches; return whether the targets are met."""
    good, ratio = True, 0.0
    for stop_minutes, numbers in ((math.inf, (6, 8, 10, 12, 14, 16, 18, 20, 30, 40)), (480.0, (6, 8, 10, 12, 14, 16))):
        limit = "no limit on a stop" if stop_minutes == math.inf else f"{stop_minutes:g} min in a stop"
        print(
            f"{limit}\n{'places':>6} {'builds':>17} {'ours: looked at, ms':>22} {'without bound':>22} "
            f"{'all builds, ms':>15}"
        )
        for number in numbers:
            given = problem(number, stop_minutes=stop_minutes)
            ours, seconds = timed(lambda given=given: cheapest(given))
            row = f"{number:>6} {2**number:>17,} {ours.proof.looked_at:>12,} {1e3 * seconds:>9.1f}"
            if number <= (18 if stop_minutes == math.inf else 12):
                plain, plain_seconds = timed(lambda given=given: cheapest(given, led=False))
                assert abs(plain.cost - ours.cost) < 1e-6
                row += f" {plain.proof.looked_at:>12,} {1e3 * plain_seconds:>9.1f}"
                good &= ours.proof.looked_at <= plain.proof.looked_at
                ratio = plain_seconds / seconds if number == 18 else ratio
            if number <= 12 and stop_minutes == math.inf:
                cost, brute = timed(lambda given=given: all_builds(given))
                assert abs(cost - ours.cost) < 1e-6
                row += f" {1e3 * brute:>15.1f}"
            print(row, flush=True)
    print(f"18 places, without the bound over ours: {ratio:.0f}")
    return good and ratio >= 10.0


def draws() -> bool:
    """Print what 10,000 draws of the money case take in one call and one by one; return whether the target is met."""
    inputs = read_case()
    stream = np.random.default_rng(1)
    drawn = {
        one.name: LowLikelyHigh(one.low, one.best, one.high).draw(stream, DRAWS)
        for one in inputs.assumptions
        if one.doubtful
    }
    values = inputs.best | drawn

    def together():
        return case_worth(values, inputs.years).present

    def singly(number: int) -> list[float]:
        return [
            float(case_worth(inputs.best | {name: float(x[at]) for name, x in drawn.items()}, inputs.years).present)
            for at in range(number)
        ]

    together()
    some, ratios = 1000, []
    for _ in range(3):
        one_call, fast = timed(together)
        loop, slow = timed(lambda: singly(some))
        assert np.allclose(one_call[:some], loop)
        ratios.append(slow * DRAWS / some / fast)
        print(
            f"10,000 draws: one call {1e3 * fast:.1f} ms; one by one {slow * DRAWS / some:.2f} s "
            f"(1,000 taken); x {ratios[-1]:.0f}"
        )
    return float(np.median(ratios)) >= 100.0


if __name__ == "__main__":
    sys.exit(0 if all([search(), draws()]) else 1)
