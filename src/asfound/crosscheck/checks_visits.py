"""Visits with one planted lie each, judged anew: contradiction, who is named, sizes, best estimates, least errors."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.crosscheck.cross_check import cross_check
from asfound.crosscheck.outcome import CrossCheck
from asfound.crosscheck.visit_cases import VisitCase, visit_cases
from asfound.sources.prove import Check

SOURCE = "crosscheck_visits"
CHI_SQUARED = 4.0
"""Another program's chi-squared may differ by a few units: its property formulas differ."""
SIZE = 1.5
"""And sizes of errors within so many of their standard uncertainties."""


def checks() -> Iterator[Check]:
    """Yield what a separate program says of each visit, and what this one says."""
    for case in visit_cases():
        found = judged(case)
        yield from _numbers(case, found)
        yield _named(case, found)
        yield from _least(case, found)


def judged(case: VisitCase) -> CrossCheck:
    """Return the cross-check of a visit of the file."""
    found = cross_check(case.plant, case.names, case.values, np.diag(case.u**2), known=case.known)
    if found is None:
        raise AssertionError(case.name)
    return found


def _numbers(case: VisitCase, found: CrossCheck) -> Iterator[Check]:
    expected, title = case.expected, f"visit {case.name}"
    yield _check(f"{title}, independent checks", found.degrees, expected["dof"], 0.0)
    yield _check(
        f"{title}, contradiction at 1 % (1 yes)", float(found.contradiction), float(expected["contradiction"]), 0.0
    )
    yield _check(f"{title}, chi-squared", found.chi_squared, expected["chi2"], CHI_SQUARED)
    best = expected["best_estimates"]
    power, u_power = found.best["brake_power"]
    yield _check(f"{title}, engine power", power / 1e3, best["P_brake_kW"], 0.2 * u_power / 1e3, "kW")
    ratio, u_ratio = found.best["excess_air_ratio"]
    yield _check(f"{title}, lambda", ratio, best["lambda"], 0.2 * u_ratio)
    released = expected["released"]
    yield _check(
        f"{title}, chi-squared without the suspect",
        found.identification.best.chi_squared,
        released["chi2"],
        CHI_SQUARED,
    )
    for name, (size, wanted) in _sizes(case, found).items():
        u = next(one.u for group in found.explanations[0].groups for one in group if one.name == name)
        yield _check(f"{title}, error of {name}", size, wanted, SIZE * u / case.factors[name])


def _sizes(case: VisitCase, found: CrossCheck) -> dict[str, tuple[float, float]]:
    """Return size found and size of the other program of the planted reading where it is the one named."""
    named = found.named[0]
    if named.name not in case.planted or named.name not in case.expected["must_name_one_of"]:
        return {}
    return {named.name: (named.size / case.factors[named.name], case.expected["released"]["error_estimates"][0])}


def _named(case: VisitCase, found: CrossCheck) -> Check:
    """Yield whether the likeliest suspect is among those that must be named."""
    right = len(found.named) == 1 and found.named[0].name in case.expected["must_name_one_of"]
    return _check(f"visit {case.name}, {case.title}: the right one is named (1 yes)", float(right), 1.0, 0.0)


def _least(case: VisitCase, found: CrossCheck) -> Iterator[Check]:
    """Yield smallest noticed errors of the readings that matter most."""
    for entry in case.expected["smallest_errors"]:
        if entry["id"] not in (
            "exhaust_oxygen_dry",
            "exhaust_co2_dry",
            "jacket_water_flow",
            "turbine_outlet_temperature",
        ):
            continue
        one = found.reading(entry["id"])
        least = one.smallest_error / case.factors[one.name]
        wanted = float(entry["smallest_error_noticed"])
        yield _check(f"visit {case.name}, smallest error noticed of {one.name}", least, wanted, 0.25 * wanted)


def _check(title: str, found: float, wanted: float, tolerance: float, unit: str = "1") -> Check:
    return Check(
        check=title, room="crosscheck", value=float(found), published=float(wanted), tolerance=tolerance, unit=unit,
        source=SOURCE, clause="invented", note="tolerance: another program's property formulas differ",
    )  # fmt: skip
