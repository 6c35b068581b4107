"""Whether a single run of an emission test is judged beside a limit: the rule of the test says so."""

from __future__ import annotations

from asfound.exhaust.test_run import rules_of_tests
from asfound.quantities.findings import Case

RUN = "run_"
EACH = "each"
"""Verdict of a rule that judges every run with its uncertainty; others judge the mean, which lies at the engine."""


def judged_alone(case: Case, key: str) -> bool:
    """Tell whether the number at a key of the visit stands beside a limit by itself.

    A run's does where the test's rule judges each run (44. BImSchV, section 31(7)). Where it judges the mean (40 CFR
    60.4244 and Table 2 of the subpart), a single run above the limit is no excess. Without a test on the visit, runs
    that somebody typed are not.

    Parameters
    ----------
    case : Case
    key : str
        ``state/place/quantity``.
    """
    state, place, _ = key.split("/", 2)
    if not place.startswith(RUN):
        return True
    tests = case.visit.get("emission_tests", ())
    rules = {
        str(one.get("rule", ""))
        for one in (tests if isinstance(tests, list | tuple) else ())
        if isinstance(one, dict) and one.get("state", "as_found") == state
    }
    known = rules_of_tests()
    return any(known[rule]["verdict"] == EACH for rule in rules if rule in known)
