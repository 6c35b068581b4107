"""What it takes to be sure of a number beside its limit: how far it must stay away, and which reading to improve."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.exhaust.decide import to_decide
from asfound.quantities.display import show
from asfound.report.wording import interval_of

if TYPE_CHECKING:
    from asfound.quantities.words import Limit, Reading, Result
    from asfound.quantities.worked import Worked
    from asfound.report.wording import System

SURE = 0.95
"""Probability from which on a number is taken to be inside or beyond its limit."""


def deciding(worked: Worked, number: Result | Reading, limit: Limit, system: System) -> str:
    """Return what would make it sure on which side of its limit a number lies; empty where it is sure."""
    found = to_decide(worked, number, limit, sure=SURE, system=system)
    if found.decided:
        return ""
    guard = worked.guard_band(number, limit, probability=SURE)
    side = "below" if limit.side == "upper" else "above"
    acceptance = show(guard.acceptance_limit, limit.quantity, system=system, interval=interval_of(number))
    head = f"not sure either way; sure (95 in 100) {side} {acceptance.value} {acceptance.unit}".strip()
    better = f"What settles it best: {found.single[0].says(system)}." if found.single else found.says
    return f"{head}. {better}"
