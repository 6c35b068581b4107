"""What it costs until an invented engine is cured: our policy beside the greedy choice of the next test.

Truth is drawn from the same knowledge file (a cause by its prior, then what shows, what each test answers and what each
repair cures), so this proves the policy and says nothing of the file's numbers. Both sides hold the same belief of the
same case and pay the same until it is cured or help is called: minutes by hand, 20 for each stop and 60 for each
isolation (waiting not counted), 15 to run after a repair, 600 for a call. Greedy: the test with most information for
its cost until a cause has 0.85 or no test takes away 0.01 bit; then repairs by chance of cure for cost. Ours:
`decide`, anew after each answer.

*Known*: what it would cost if the cause were known before the first minute; no policy can do better, and what lies
between it and ours is all that is left to gain. Where nothing counts but to name the cause, greedy is ahead: the true
one leads more often when it stops testing, for several times the minutes.

The settings of `decide` (steps, causes kept apart, tests by their worth in minutes) were chosen on seed 1 alone; the
tables are of other seeds. Target: on the seeds not used for choosing, at least 10 % less than greedy.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from asfound.troubleshoot.belief import Belief, Odds, believe
from asfound.troubleshoot.decide import LEADING, STEPS, decide
from asfound.troubleshoot.generic import generic
from asfound.troubleshoot.next_test import Now, cost, next_tests
from asfound.troubleshoot.worth import repairs_in_a_row

CASES = 80
SEEDS = (2, 3)
SURE, NOTHING = 0.85, 0.01
LEAST_GAIN = 0.10
MOST_STEPS = 40


@dataclass
class Truth:
    """One invented engine."""

    cause: str
    seen: dict[str, str]
    positive: dict[str, bool]
    cured: dict[str, bool]


@dataclass
class Outcome:
    """What one case cost. [min]"""

    testing: float = 0.0
    repairing: float = 0.0
    tests: int = 0
    repairs: int = 0
    in_vain: int = 0
    """Repairs after which the fault was still there."""
    called: bool = False
    led: bool = False
    """The true cause led when the first repair was begun."""


Step = Callable[[Belief], tuple[str, str]]


def draw(odds: Odds, rng: np.random.Generator) -> Truth:
    p = odds.prior[:-1] / odds.prior[:-1].sum()
    c = int(rng.choice(len(p), p=p))
    shows = rng.random(len(odds.symptoms)) < odds.shows[c]
    while not shows.any():
        shows = rng.random(len(odds.symptoms)) < odds.shows[c]
    positive, cured = rng.random(len(odds.tests)) < odds.positive[c], rng.random(len(odds.repairs)) < odds.cured[c]
    return Truth(
        odds.causes[c],
        {name: "present" if x else "absent" for name, x in zip(odds.symptoms, shows, strict=True)},
        dict(zip(odds.tests, positive.tolist(), strict=True)),
        dict(zip(odds.repairs, cured.tolist(), strict=True)),
    )


def greedy(belief: Belief) -> tuple[str, str]:
    repairing = any(one.says == "fails" for one in belief.witnesses)
    named = belief.p[:-1] / belief.p[:-1].sum()
    if not repairing and named.max() < SURE:
        proposed = next_tests(belief).proposals
        if proposed:
            return "test", proposed[0].id
    odds, prices = belief.odds, belief.odds.knowledge.prices
    rates = {}
    for j, name in enumerate(odds.repairs):
        price = cost(odds.knowledge.repairs[name], "running", prices) + prices.proof_run
        if name not in belief.told:
            rates[name] = float(belief.p @ odds.cured[:, j]) / price
    best = max(rates, key=lambda name: rates[name])
    return ("repair", best) if rates[best] * prices.call > 1 else ("call", "")


def ours(steps: int, leading: int) -> Step:
    def step(belief: Belief) -> tuple[str, str]:
        first = decide(belief, Now(), steps=steps, leading=leading).first
        return first.does, first.id

    return step


def mixed(belief: Belief) -> tuple[str, str]:
    """Stop testing where `decide` does, but test what greedy would: how much of the gain is knowing when to stop."""
    first = decide(belief, Now(), steps=6, leading=5).first
    return (first.does, first.id) if first.does != "test" else ("test", next_tests(belief).proposals[0].id)


def play(odds: Odds, truth: Truth, policy: Step) -> Outcome:
    out, seen, prices = Outcome(), dict(truth.seen), odds.knowledge.prices
    for _ in range(MOST_STEPS):
        belief = believe(odds, seen)
        does, name = policy(belief)
        if does == "test":
            out.testing += cost(odds.knowledge.tests[name], "running", prices)
            out.tests += 1
            seen[name] = "positive" if truth.positive[name] else "negative"
            continue
        if out.repairs == 0:
            out.led = belief.ranked()[0][0] == truth.cause
        if does == "call":
            break
        out.repairing += cost(odds.knowledge.repairs[name], "running", prices) + prices.proof_run
        out.repairs += 1
        if truth.cured[name]:
            return out
        seen[name] = "fails"
        out.in_vain += 1
    out.called = True
    out.repairing += prices.call
    return out


def world() -> Odds:
    known = generic()
    return Odds(replace(known, prices=replace(known.prices, waiting=0.0, hazard=0.0)))


def known(odds: Odds, truth: Truth) -> float:
    """Return what the case is expected to cost when its cause is known from the start."""
    repairs, prices = odds.knowledge.repairs, odds.knowledge.prices
    price = np.array([cost(repairs[name], "running", prices) + prices.proof_run for name in odds.repairs])
    p = (np.array(odds.causes) == truth.cause).astype(float)[None, :]
    return float(repairs_in_a_row(p, odds.cured, price, np.ones(len(price), dtype=bool), prices.call)[0])


def table(odds: Odds, policies: dict[str, Step], seed: int, cases: int) -> dict[str, float]:
    """Print the table of one seed and return the mean cost of each policy."""
    truths = [draw(odds, rng) for rng in (np.random.default_rng([seed, i]) for i in range(cases))]
    print(f"\nseed {seed}, {cases} cases: means, minutes")
    print("| policy | in all | testing | repairs and call | tests | repairs | in vain | called | true cause led |")
    print("|---|---:|---:|---:|---:|---:|---:|---:|---:|")
    found, all_of = {}, {}
    for name, policy in policies.items():
        outs = [play(odds, truth, policy) for truth in truths]
        whole = all_of[name] = np.array([one.testing + one.repairing for one in outs])
        found[name] = float(whole.mean())
        keys = ("testing", "repairing", "tests", "repairs", "in_vain")
        row = [np.mean([getattr(one, key) for one in outs]) for key in keys]
        shares = [100 * np.mean([getattr(one, key) for one in outs]) for key in ("called", "led")]
        print(
            f"| {name} | {found[name]:.0f} | {row[0]:.0f} | {row[1]:.0f} | {row[2]:.1f} | {row[3]:.2f} | {row[4]:.2f} "
            f"| {shares[0]:.0f} % | {shares[1]:.0f} % |",
            flush=True,
        )
    print(f"| known | {np.mean([known(odds, one) for one in truths]):.0f} | | | | | | | |")
    first, *others = policies
    for name in others:
        less = all_of[first] - all_of[name]
        print(f"{name} less than {first} by {less.mean():.0f} ± {less.std(ddof=1) / len(less) ** 0.5:.0f} min per case")
    return found


def main() -> int:
    odds = world()
    missed = False
    for seed in SEEDS:
        policies = {
            "greedy": greedy,
            "greedy, our stop": mixed,
            "ours, as shipped": ours(STEPS, LEADING),
        }
        means = table(odds, policies, seed, CASES)
        missed |= means["ours, as shipped"] > (1 - LEAST_GAIN) * means["greedy"]
    print("\nmissed its target" if missed else f"\nat least {100 * LEAST_GAIN:.0f} % less than greedy on both seeds")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
