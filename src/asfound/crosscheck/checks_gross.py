"""Published and recomputed values of gross-error tests, elimination, estimation, robust estimators."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from asfound.crosscheck.checks_items import Item, check, checks_each, network, readings_of
from asfound.crosscheck.critical import chi_squared_critical, normal_critical, sidak
from asfound.crosscheck.gross_errors import serial_elimination, unbiased_estimate
from asfound.crosscheck.marks import Mark
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.robust import TUNING, WEIGHTS, robust_reconcile
from asfound.crosscheck.tests_of_readings import adjustment_tests, global_test, measurement_tests, nodal_tests
from asfound.quantities.typing import Array
from asfound.sources.prove import Check

ELSEWHERE = "computed elsewhere, not published"
EFFICIENCY = 0.95


def _tests(item: Item, _: dict[str, Item]) -> Iterator[Check]:
    """Yield all tests of a network with one reading raised."""
    balances = network(item)
    readings, again = readings_of(item, balances), item["recomputed"]
    found = reconcile(balances, readings)
    whole, each = global_test(found.parity, 0.05), measurement_tests(found.parity)
    tests, nodes = len(readings.names), len(balances.names)
    yield check(
        item, "global test", whole.chi_squared, item["published"]["chi2"], 5e-4, note=item["published"]["status"]
    )
    yield check(item, "its critical value", whole.critical, again["chi2_95"], 1e-6)
    for what, values, printed in (
        ("reconciled", found.x, again["reconciled"]),
        ("measurement test", np.abs(each.test), again["measurement_test"]),
        ("local test", adjustment_tests(found.parity), again["measurement_test"]),
        ("likelihood ratio", each.ratio, again["glr"]),
        ("size of the error", each.size, again["bias_estimate"]),
        ("nodal test", nodal_tests(balances, readings), again["nodal_test"]),
    ):
        yield from checks_each(item, what, values, printed, rel=1e-6, tolerance=1e-7, note=ELSEWHERE)
    yield check(item, "critical, each reading", each.critical(0.05), again["critical_each_sidak_5pct"], 1e-7)
    yield check(
        item, "critical, each node", normal_critical(sidak(0.05, nodes)), again["critical_nodes_sidak_5pct"], 1e-7
    )
    ratio = chi_squared_critical(sidak(0.05, tests), 1)
    yield check(item, "critical, likelihood ratio", ratio, again["critical_glr_sidak_5pct"], 1e-6)


def _serial(item: Item, _: dict[str, Item]) -> Iterator[Check]:
    """Yield the steps of an elimination."""
    balances = network(item)
    found, again = serial_elimination(balances, readings_of(item, balances), alpha=0.05), item["recomputed"]
    yield check(item, "number of steps", len(found.steps), len(again["steps"]), 0.0)
    for step, printed in zip(found.steps, again["steps"], strict=True):
        names = {mark.name for mark in step.released}
        same = names == {f"stream_{one}" for one in printed["released"]}
        yield check(item, f"the same released, {len(names)}", float(same), 1.0, 0.0)
        yield check(
            item, f"chi-squared, {len(names)} released", step.chi_squared, printed["chi2"], 1e-6, note=ELSEWHERE
        )
        yield check(item, f"probability, {len(names)} released", step.p_value, printed["p"], 5e-5, note=ELSEWHERE)
    yield from checks_each(item, "reconciled", found.steps[-1].x, again["reconciled"], rel=1e-7, note=ELSEWHERE)


def _unbiased(item: Item, items: dict[str, Item]) -> Iterator[Check]:
    """Yield the sizes of suspects taken together."""
    of = items[item["of"]]
    balances = network(of)
    found = reconcile(balances, readings_of(of, balances))
    suspects = [Mark(name=f"stream_{one}", effect={f"stream_{one}": 1.0}) for one in item["candidates"]]
    sizes, again = unbiased_estimate(found.parity, suspects), item["recomputed"]
    yield from checks_each(item, "size", sizes.size, again["bias"], rel=1e-8, note=ELSEWHERE)
    yield from checks_each(item, "its u", sizes.u, again["u"], rel=1e-8, note=ELSEWHERE)
    yield check(item, "chi-squared left", sizes.chi_squared, again["chi2_after"], 1e-6, note=ELSEWHERE)


def efficiency(kind: str, tuning: float) -> float:
    """Return the efficiency of a robust estimator on clean normal data, (E psi')^2 / E psi^2, by integration.

    E psi' = E e psi(e) for a normal error, so psi needs no derivative.
    """
    e = np.linspace(-12.0, 12.0, 240_001)
    density = np.exp(-(e**2) / 2) / np.sqrt(2 * np.pi)
    psi = e * WEIGHTS[kind](e, tuning)
    slope, power = (np.trapezoid(one * density, e) for one in (psi * e, psi**2))
    return float(slope**2 / power)


def _robust(item: Item, items: dict[str, Item]) -> Iterator[Check]:
    """Yield tunings and solutions of robust estimators."""
    of = items[item["of"]]
    balances = network(of)
    readings = readings_of(of, balances)
    for kind, tuning in item["tuning_95pct_normal_efficiency"].items():
        name = kind.removeprefix("tukey_")
        yield check(item, f"tuning of {name}", TUNING[name], tuning, 1e-9, note=item["tuning_source"])
        yield check(item, f"efficiency of {name}", efficiency(name, tuning), EFFICIENCY, 2e-5)
    for kind, printed in item["recomputed"].items():
        found: Array = robust_reconcile(balances, readings, kind).x
        yield from checks_each(item, f"{kind}, reconciled", found, printed, rel=1e-7, note=ELSEWHERE)


KINDS: dict[str, Callable[[Item, dict[str, Item]], Iterator[Check]]] = {
    "gross_error": _tests,
    "serial_elimination": _serial,
    "unbiased_estimation": _unbiased,
    "robust": _robust,
}
