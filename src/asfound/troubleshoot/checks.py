"""Recompute the worked examples of tests and repairs through the decisions of this room.

The published cases themselves are recomputed by the room of inference; here they pass through a knowledge file, belief
and `decide`, so that what a person is told is what the examples say. Their chances of 0 and 1 are given to the search
directly, since a knowledge file never holds them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from typing import Any

from asfound.evidence.repair import Policy, Repair, Test, Trouble, independent_cost
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv, read_text
from asfound.troubleshoot.fault_codes import fault_of_bytes, trouble_codes

EXACT = 1e-9


@cache
def examples() -> dict[str, dict[str, Any]]:
    """Return the worked examples by id."""
    rows = json.loads(read_text("asfound.evidence", "data/published_anchors.json"))["anchors"]
    return {one["id"]: one for one in rows}


def checks() -> Iterator[Check]:
    """Yield every check of this room."""
    yield from sequence()
    yield from bound()
    yield from policy()
    yield from codes()


def sequence() -> Iterator[Check]:
    """Repairs in a row, one cause: every printed order, and the best of all."""
    one = examples()["reboot_sequence"]
    i = one["inputs"]
    trouble = Trouble(i["prior"], [Repair(name, price, i["p_fix"][name]) for name, price in i["cost"].items()])
    for said, published in one["expected"]["best"]:
        value = trouble.expected_cost(said.split(" > "))
        yield _check(f"expected cost of {said}", value, published, one)
    best, value = trouble.best_sequence()
    said, published = one["expected"]["best"][0]
    yield _check("least expected cost", value, published, one)
    yield _check("best order agrees", float(" > ".join(best) == said), 1.0, one)
    yield _check("order by p/c agrees", float(" > ".join(trouble.by_efficiency()) == said), 1.0, one)
    rates = trouble.efficiency()
    for name, published in one["expected"]["p_over_c_first"].items():
        yield _check(f"chance of cure over cost of {name}", rates[name], published, one)


def bound() -> Iterator[Check]:
    """Expected cost by efficiencies as printed."""
    one = examples()["efficiency_bound"]
    value = independent_cost(one["inputs"]["efficiencies_after_update"], one["inputs"]["cost"])
    yield _check("cost by efficiency", value, one["expected"]["ecr"], one)


def policy() -> Iterator[Check]:
    """Repairs and tests together: the policy, followed to its ends by hand, costs what the search says."""
    one = examples()["tests_and_repairs_4"]
    i, e = one["inputs"], one["expected"]
    trouble = Trouble(
        i["prior"],
        [Repair(name, price, fixes) for name, (price, fixes) in i["actions"].items()],
        [Test(name, price, positive) for name, (price, positive) in i["tests"].items()],
        fallback=i["fallback"],
    )
    best = trouble.best_policy()
    yield _check("policy, by search", best.cost, e["optimal_cost"], one)
    followed = sum(p * followed_cost(trouble, best, cause) for cause, p in i["prior"].items())
    yield _check("policy, followed for each cause", followed, e["optimal_cost"], one)


def followed_cost(trouble: Trouble, step: Policy, cause: str) -> float:
    """Return what a policy costs on average when this cause is the true one, branch by branch."""
    if step.step == "fallback":
        return float(trouble.fallback or 0.0)
    for repair in trouble.repairs:
        if repair.name == step.step:
            fails = 1 - repair.fixes.get(cause, 0.0)
            return repair.cost + fails * followed_cost(trouble, step.after["fails"], cause)
    test = next(one for one in trouble.tests if one.name == step.step)
    p = test.positive.get(cause, 0.0)
    return (
        test.cost
        + p * followed_cost(trouble, step.after["positive"], cause)
        + (1 - p) * followed_cost(trouble, step.after["negative"], cause)
    )


def codes() -> Iterator[Check]:
    """Fault codes of a data bus, bytes to numbers."""
    for row in load_csv("asfound.troubleshoot", "data/published_fault_codes.csv"):
        payload = bytes.fromhex(row["bytes"])
        found = trouble_codes(payload)[0] if len(payload) > 4 else fault_of_bytes(payload)
        for what in ("spn", "fmi", "occurrences"):
            yield Check(
                f"{row['check']}/{what}",
                "troubleshoot",
                float(getattr(found, what)),
                float(row[what]),
                0.0,
                row["source"],
                row["clause"],
                note=row["note"],
            )


def _check(what: str, value: float, published: float, one: dict[str, Any]) -> Check:
    return Check(
        f"{one['id']}/{what}",
        "troubleshoot",
        value,
        published,
        EXACT,
        one["source"],
        one["clause"],
        note=one["status"],
    )
