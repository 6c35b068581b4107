"""Findings of the exhaust: what its results mean beside the limits of the permit."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.margin_of_finding import with_margin
from asfound.exhaust.runs_of_a_test import judged_alone
from asfound.quantities.findings import Case
from asfound.quantities.limits import Verdict, Verdicts, beside_limits
from asfound.quantities.words import Finding

VERDICTS = Verdicts(
    beyond=Verdict(
        code="EX-01",
        says="is {side} the {limit}",
        severity="visit",
        next_step="Tell the site's environmental office; find the cause before the mixture is moved; prove as left.",
        cautions=("local",),
    ),
    undecided=Verdict(
        code="EX-02",
        says="is too close to the {limit} to be sure",
        severity="visit",
        next_step="Zero and span the analyser, take it again at steady load.",
        cautions=("local",),
    ),
    inside=Verdict(code="EX-03", says="is inside the {limit}", severity="note", next_step="Nothing to do."),
)

WHOLE = ("engine", "stack")
"""Two names for what leaves the engine: what is worked out with its load lies at the one, the reading at the other."""


def find(case: Case) -> Iterator[Finding]:
    """Yield a finding for each number of the exhaust that a limit is set for; where undecided, with what decides it."""
    counting = [one for one in beside_limits(case, "exhaust", VERDICTS) if _counts(case, one)]
    for finding in _one_a_limit(counting):
        yield with_margin(case, finding, undecided=finding.code == VERDICTS.undecided.code)


def _one_a_limit(findings: list[Finding]) -> list[Finding]:
    """Return one verdict a limit and state, the worst, where a number lies at the stack and again at the engine.

    Single runs of a test stay: each is judged for itself.
    """
    worst: dict[tuple[str, ...], Finding] = {}
    for one in findings:
        place, quantity = one.because[0].split("/")[1:3]
        key = (one.compared_with, one.state, quantity, place if place not in WHOLE else "")
        if key not in worst or (one.probability or 0.0) > (worst[key].probability or 0.0):
            worst[key] = one
    return list(worst.values())


def _counts(case: Case, finding: Finding) -> bool:
    """Tell whether a number is what the permit limits: not before the catalyst, nor one run where the mean is there.

    A limit that names the place itself is meant as it says. A rule that judges each run (44. BImSchV) takes each.
    """
    state, place, quantity = finding.because[0].split("/", 2)
    if any(one.quantity == quantity and one.place == place for one in case.limits):
        return True
    if place == "before_catalyst":
        return False
    averaged = place.startswith("run_") and case.worked.result(f"{state}/engine/{quantity}") is not None
    return not averaged or judged_alone(case, finding.because[0])
