"""Visits of an engine for the tests: the reference ones, and consistent ones at which all balances hold."""

from __future__ import annotations

from functools import cache

import numpy as np

from asfound.crosscheck.cross_check import cross_check
from asfound.crosscheck.outcome import CrossCheck
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.visit_cases import VisitCase, visit_cases

CASES = {one.name: one for one in visit_cases()}


@cache
def judged(name: str) -> CrossCheck:
    """Return a reference visit, judged."""
    return check(CASES[name], CASES[name].values)


def check(case: VisitCase, values: np.ndarray, u: np.ndarray | None = None) -> CrossCheck:
    """Return other values of a reference visit, judged."""
    joint = np.diag((case.u if u is None else u) ** 2)
    found = cross_check(case.plant, case.names, values, joint, known=case.known)
    assert found is not None
    return found


@cache
def consistent(name: str) -> tuple[float, ...]:
    """Return values of the readings at which all balances hold with the assumptions as they are."""
    case, found = CASES[name], judged(name)
    readings = found.assembled.readings
    read = np.array([one in case.names for one in readings.names])
    values = np.where(read, found.solution.x, readings.values)
    stiff = Readings.independent(readings.names, values, np.where(read, readings.u, 1e-5 * readings.u))
    solved = reconcile(found.assembled.balances, stiff, start=found.assembled.start)
    assert solved.converged
    of_name = dict(zip(readings.names, solved.x, strict=True))
    return tuple(float(of_name[one]) for one in case.names)
