"""What a number beside the permit still needs: its margin, where it is surely inside, what would decide it."""

from __future__ import annotations

from dataclasses import replace

from asfound.exhaust.decide import to_decide
from asfound.quantities.display import show
from asfound.quantities.findings import Case
from asfound.quantities.register import System
from asfound.quantities.words import Finding, Limit, Reading, Result


def with_margin(case: Case, finding: Finding, *, undecided: bool) -> Finding:
    """Return a finding of a number beside a limit with its margin and, where undecided, with what to measure better.

    The acceptance limit is the one by guard band (JCGM 106:2012, 8): a value up to there conforms with 95 in 100, with
    the doubt that it has now.

    Parameters
    ----------
    case : Case
        The visit.
    finding : Finding
        As `quantities.limits.beside_limits` gives it.
    undecided : bool
        Add which reading to take better, and how well.
    """
    found = _number_and_limit(case, finding)
    if found is None:
        return finding
    number, limit = found
    system: System = "us" if case.visit.get("system") == "us" else "si"
    band = case.worked.guard_band(number, limit)
    left = limit.value - number.value if limit.side == "upper" else number.value - limit.value
    end, word = (
        str(show(band.acceptance_limit, limit.quantity, system=system)),
        "up" if limit.side == "upper" else "down",
    )
    margin = str(show(left, limit.quantity, system=system))
    step = finding.next_step
    if undecided:
        step = f"{step} {_what_decides(case, number, limit, system)}"
    return replace(
        finding,
        compared_with=f"{finding.compared_with}; surely inside {word} to {end}",
        next_step=step,
        extra={**finding.extra, "margin": margin, "acceptance_limit": end},
    )


def _what_decides(case: Case, number: Result | Reading, limit: Limit, system: System) -> str:
    """Return which reading to take better, and how well; worked out anew only when the number itself is another."""
    name = ("what decides", limit, system, number.key, number.worksheet if isinstance(number, Result) else "")
    return case.worked.recall(name, (number,), lambda: to_decide(case.worked, number, limit, system=system).says)


def _number_and_limit(case: Case, finding: Finding) -> tuple[Result | Reading, Limit] | None:
    """Return what a finding is about: of several methods at one place the one whose chance it tells."""
    known: tuple[Result | Reading, ...] = (*case.worked.results, *case.readings)
    for limit in case.limits:
        if not finding.compared_with.startswith(f"{limit.name} {limit.as_typed}"):
            continue
        for number in known:
            if (
                number.key in finding.because
                and number.quantity == limit.quantity
                and case.worked.probability_beyond(number, limit) == finding.probability
            ):
                return number, limit
    return None
