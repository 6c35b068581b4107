"""Published problems of reconciliation and gross errors, recomputed.

Traps in public files that these values step around: the collection's Pai and Fisher problem has 255 in its first
equation, the printed solution belongs to 255.8; its steam network's "true" flows miss two nodes by 0.10 and 0.09, so
only readings and solutions are used; one paper prints 100.59 where least squares gives
100.582.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from asfound.crosscheck import checks_gross
from asfound.crosscheck.balances import Balances, linear_balances
from asfound.crosscheck.checks_items import Item, check, checks_each, network, readings_of
from asfound.crosscheck.classify import classify
from asfound.crosscheck.critical import chi_squared_critical
from asfound.crosscheck.network import flow_network, mixing_network
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.tests_of_readings import adjustment_tests
from asfound.crosscheck.vdi_2048 import Validated, validate
from asfound.sources.prove import Check
from asfound.sources.tables import check_source, read_text

FILE = "data/published_reconciliation.json"


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    items = published()
    for item in items.values():
        yield from KINDS[item["kind"]](item, items)


def published() -> dict[str, Item]:
    """Return the packaged problems by their id."""
    items: list[Item] = json.loads(read_text("asfound.crosscheck", FILE))
    for at, item in enumerate(items):
        check_source(item.get("source", ""), f"asfound/crosscheck/{FILE}", at + 2, 1)
    return {item["id"]: item for item in items}


def _linear(item: Item, _: dict[str, Item]) -> Iterator[Check]:
    """Yield flows of a network, all measured: reconciled, adjustability, detectability, chi-squared."""
    balances = network(item)
    found = reconcile(balances, readings_of(item, balances))
    printed, again, rel = item["published"], item["recomputed"], item["tolerance_rel"]
    yield from checks_each(item, "reconciled", found.x, printed["reconciled"], rel=rel, note=printed["by"])
    yield check(item, "chi-squared", found.chi_squared, again["chi2"], 1e-6, note="computed, not published")
    yield check(item, "its critical value", chi_squared_critical(0.05, found.degrees), again["chi2_95"], 1e-6)
    variance = np.array(item.get("variance_for_adjustability", item["variance"]), dtype=float)
    exact = reconcile(balances, Readings(balances.readings, np.array(item["measured"]), np.diag(variance)))
    tolerance = item["tolerance_abs_adjustability"]
    for name, value in (("adjustability", exact.adjustability), ("detectability", exact.detectability)):
        yield from checks_each(item, name, value, printed[name], tolerance=tolerance, note=printed["by"])
    if "paper" in printed:
        paper = printed["paper"]
        yield from checks_each(
            item, "as the paper prints it", found.x, paper["reconciled"], tolerance=paper["tolerance_abs"]
        )


def _correlated(item: Item, _: dict[str, Item]) -> Iterator[Check]:
    """Yield a circuit in the form of VDI 2048."""
    found, printed, rel = validated(item), item["published"], item["tolerance_rel"]
    yield from checks_each(item, "improved", found.values, printed["reconciled"], rel=rel)
    if "u95" in printed:
        yield from checks_each(item, "half-width", found.half_widths, printed["u95"], rel=rel)
    if "unmeasured" in printed:
        values = [value for value, _ in found.unmeasured.values()]
        yield from checks_each(item, "unmeasured", values, printed["unmeasured"], rel=rel)
    if item["recomputed"]:
        again, note = item["recomputed"], "computed, not published"
        yield check(item, "chi-squared", found.control.chi_squared, again["chi2"], 1e-6, note=note)
        local = adjustment_tests(found.reconciled.parity)
        yield from checks_each(item, "local test", local, again["local_test"], tolerance=1e-6, note=note)
    if "local" in printed:
        yield from checks_each(item, "local quality", found.local, printed["local"], rel=rel)


def validated(item: Item) -> Validated:
    """Return a problem with half-widths, solved."""
    names = item["names"]
    pairs = {(names[one - 1], names[other - 1]): r for one, other, r in item["correlation"]}
    return validate(
        linear_balances(item["A"], names, item.get("unmeasured", ())),
        dict(zip(names, item["measured"], strict=True)),
        dict(zip(names, item["u95"], strict=True)),
        pairs,
    )


def six_equations(x: Any, u: Any) -> Any:
    """Return the residuals of Pai and Fisher's problem; the constant of the first is 255.8, not 255."""
    x1, x2, x3, x4, x5 = x
    u1, u2, u3 = u
    return np.array(
        [
            0.5 * x1**2 - 0.7 * x2 + x3 * u1 + x2**2 * u1 * u2 + 2 * x3 * u3**2 - 255.8,
            x1 - 2 * x2 + 3 * x1 * x3 - 2 * x2 * u1 - x2 * u2 * u3 + 111.2,
            x3 * u1 - x1 + 3 * x2 + x1 * u2 - x3 * u3**0.5 - 33.57,
            x4 - x1 - x3**2 + u2 + 3 * u3,
            x5 - 2 * x3 * u2 * u3,
            2 * x1 + x2 * x3 * u1 + u2 - u3 - 126.6,
        ]
    )


def pai_fisher(item: Item) -> tuple[Balances, Readings, dict[str, float]]:
    """Return the curved problem of five readings and three unmeasured values, with its usual start."""
    balances = Balances(
        readings=("x1", "x2", "x3", "x4", "x5"),
        unmeasured=("u1", "u2", "u3"),
        formula=six_equations,
        names=tuple(f"equation_{at}" for at in range(1, 7)),
    )
    start = dict(zip(balances.unmeasured, item["start_unmeasured"], strict=True))
    return balances, readings_of(item, balances), start


def _nonlinear(item: Item, _: dict[str, Item]) -> Iterator[Check]:
    """Yield the curved problem."""
    balances, readings, start = pai_fisher(item)
    found = reconcile(balances, readings, start=start)
    printed, again, rel = item["published"], item["recomputed"], item["tolerance_rel"]
    yield from checks_each(item, "x", found.x, printed["x"], rel=rel, note=item["note"])
    yield from checks_each(item, "u", found.unmeasured, printed["u"], rel=rel, note=item["note"])
    yield from checks_each(item, "x to more digits", found.x, again["x"], rel=1e-7, note="computed elsewhere")
    yield check(item, "chi-squared", found.chi_squared, again["chi2"], 1e-8, note="computed elsewhere")
    yield check(item, "degrees of freedom", found.degrees, again["dof"], 0.0)


def mixed_gases(item: Item) -> tuple[Balances, Readings]:
    """Return flows and fractions of streams that are mixed."""
    balances = mixing_network(item["nodes"], item["components"])
    values = [*item["flow"], *(one for stream in item["fraction"] for one in stream)]
    u = [*item["u_flow"], *(one for stream in item["u_fraction"] for one in stream)]
    return balances, Readings.independent(balances.readings, values, u)


def _bilinear(item: Item, _: dict[str, Item]) -> Iterator[Check]:
    """Yield flows times fractions."""
    found, again = reconcile(*mixed_gases(item)), item["recomputed"]
    whole = [*again["flow"], *(one for stream in again["fraction"] for one in stream)]
    yield from checks_each(item, "reconciled", found.x, whole, rel=1e-7, note="computed elsewhere, not published")
    yield check(item, "chi-squared", found.chi_squared, again["chi2"], 1e-6, note="computed elsewhere, not published")


def _classification(item: Item, _: dict[str, Item]) -> Iterator[Check]:
    """Yield which streams are checked, which follow: names in common less names that only one has."""
    measured, printed = item["measured_streams"], item["classes"]
    balances = flow_network(item["nodes"], measured)
    flat = Readings.independent(balances.readings, np.ones(len(measured)), np.ones(len(measured)))
    found = classify(balances, flat)
    for kind in ("redundant", "just_measured", "observable", "unobservable"):
        mine, theirs = set(getattr(found, kind)), {f"stream_{one}" for one in printed[kind]}
        yield check(item, f"streams {kind}", len(mine & theirs) - len(mine ^ theirs), len(theirs), 0.0)
    yield check(item, "independent checks", found.degrees, printed["independent_checks"], 0.0)


KINDS: dict[str, Callable[[Item, dict[str, Item]], Iterator[Check]]] = {
    "linear": _linear,
    "correlated": _correlated,
    "nonlinear": _nonlinear,
    "bilinear": _bilinear,
    "classification": _classification,
    **checks_gross.KINDS,
}
