"""Published values of uncertainty and conformity, computed again through this room's own functions.

The values stand in ``data/published_uncertainty.json`` and ``data/published_conformity.json``, each item with its
source, its clause, and how it was seen (``status``). Tolerances are half of the last printed digit where the item gives
none; where a Monte Carlo run is compared, its own scatter is added and said.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from importlib.resources import files
from statistics import NormalDist
from typing import Any

import numpy as np

from asfound.quantities.checks_conformity import conformity_checks
from asfound.quantities.distributions import Normal, Rectangular, StudentT
from asfound.quantities.line import straight_line
from asfound.quantities.linear import effective_degrees, linear, linear_many
from asfound.quantities.monte_carlo import (
    is_stable,
    monte_carlo,
    monte_carlo_many,
    numerical_tolerance,
    standard_errors,
)
from asfound.sources.prove import Check
from asfound.sources.tables import check_source

ROOM = "quantities"
HALF = 0.5
ROOT_3 = math.sqrt(3.0)
Item = dict[str, Any]


def checks() -> Iterator[Check]:
    """Yield every published value of uncertainty and conformity beside what the program computes."""
    for item in published("published_uncertainty.json"):
        yield from KINDS[item["kind"]](item)
    yield from conformity_checks(published("published_conformity.json"))


def published(name: str) -> list[Item]:
    """Return the items of a packaged file; KnowledgeError where one has no registered source."""
    text = files("asfound.quantities").joinpath("data", name).read_text(encoding="utf-8")
    items: list[Item] = json.loads(text)
    for at, item in enumerate(items):
        check_source(item.get("source", ""), f"asfound/quantities/data/{name}", at + 2, 1)
    return items


def check(item: Item, what: str, value: float, printed: float, tolerance: float, unit: str = "") -> Check:
    """Return one check of an item."""
    return Check(
        check=f"{item['id']} {what}".strip(),
        room=ROOM,
        value=float(value),
        published=float(printed),
        tolerance=float(tolerance),
        source=item["source"],
        clause=item["clause"],
        unit=unit,
        note=item["status"],
    )


def _end_gauge(item: Item) -> Iterator[Check]:
    """Yield the end gauge: l = ls + d - ls (delta_alpha theta + alpha_s delta_theta)."""
    inputs, printed = item["inputs"], item["published"]

    def length(*x: Any) -> Any:
        ls, d, d1, d2, theta, cyclic, alpha, delta_alpha, delta_theta = x
        return ls + d + d1 + d2 - ls * (delta_alpha * (theta + cyclic) + alpha * delta_theta)

    values, u, nu = ([one[name] for one in inputs] for name in ("value", "u", "nu"))
    first = linear(length, values, u, nu=nu)
    second = linear(length, values, u, nu=nu, second_order=True)
    comparator = first.contributions[1:4]
    u_d = math.hypot(*comparator)
    assert first.nu_eff is not None
    yield check(item, "length", first.y, printed["l"], HALF, "nm")
    yield check(item, "u", first.u, printed["uc"], HALF, "nm")
    yield check(item, "effective degrees, cut down", math.floor(first.nu_eff), printed["nu_eff"], 0.0)
    yield check(item, "U99", first.expanded(0.99), printed["U99"], 0.6, "nm")
    yield check(item, "u of the comparator", u_d, printed["u_d"], 0.05, "nm")
    yield check(item, "its degrees", effective_degrees(comparator, nu[1:4]), printed["nu_d"], 0.2)
    yield check(item, "u to second order", second.u, printed["uc_second_order"], HALF, "nm")
    parts = (first.contributions[0], u_d, first.contributions[7], first.contributions[8])
    names = ("standard", "comparator", "difference of expansion", "difference of temperature")
    for name, part, one in zip(names, parts, printed["components"], strict=True):
        yield check(item, f"component of {name}", abs(part), one, 0.06, "nm")


def _line_fit(item: Item) -> Iterator[Check]:
    """Yield the calibration line of a thermometer."""
    found, printed = straight_line(item["t"], item["b"], about=item["t0"]), item["published"]
    at_30, u_30 = found.at(30.0)
    yield check(item, "y1", found.intercept, printed["y1"], 5e-5, "°C")
    yield check(item, "u(y1)", found.u_intercept, printed["u_y1"], 5e-5, "°C")
    yield check(item, "y2", found.slope, printed["y2"], 5e-6)
    yield check(item, "u(y2)", found.u_slope, printed["u_y2"], 5e-6)
    yield check(item, "r(y1, y2)", found.correlation, printed["r"], 5e-3)
    yield check(item, "s", found.residual, printed["s"], 5e-5, "°C")
    yield check(item, "b(30)", at_30, printed["b30"], 5e-5, "°C")
    yield check(item, "u(b(30))", u_30, printed["u_b30"], 5e-5, "°C")
    yield check(item, "degrees of freedom", found.nu, printed["nu"], 0.0)
    squares = found.residual**2 * found.nu
    yield check(item, "sum of squared residuals", squares, item["sum_of_squares"], 1e-15, "°C2")


def _monte_carlo(item: Item) -> Iterator[Check]:
    """Yield the Monte Carlo examples of JCGM 101 clause 9."""
    if item["id"] == "S1_9.3":
        yield from _mass(item)
    elif item["id"].startswith("S1_9.4"):
        yield from _power_meters(item)
    else:
        yield from _four_summands(item)


def _four_summands(item: Item) -> Iterator[Check]:
    one = Normal(0.0, 1.0) if item["id"] == "S1_9.2.2" else Rectangular(-ROOT_3, ROOT_3)
    inputs, printed, tolerance = [one] * 4, item["published"], item["tolerance_abs"]
    drawn = monte_carlo(_sum, inputs, number=1_000_000, seed=9)
    straight = linear(_sum, [0.0] * 4, [1.0] * 4)
    yield check(item, "u", drawn.u, printed["u"], tolerance)
    for end, value, exact in zip(("low", "high"), drawn.interval, item["recomputed"]["interval95"], strict=True):
        # twice the 1.7e-3 by which the end of a million draws scatters, on half of the last printed digit
        yield check(item, end, value, exact, 0.01)
    at = printed.get("interval95_GUM", printed["interval95"])
    for end, value, one_printed in zip(("GUM low", "GUM high"), straight.interval(), at, strict=True):
        yield check(item, end, value, one_printed, tolerance)
    for end, exact, one_printed in zip(
        ("exact low", "exact high"), _exact_sum_ends(item["id"]), printed["interval95"], strict=True
    ):
        yield check(item, end, exact, one_printed, tolerance)


def _sum(*x: Any) -> Any:
    return x[0] + x[1] + x[2] + x[3]


def _exact_sum_ends(name: str) -> tuple[float, float]:
    """Return the exact ends: of a normal with u 2, or of four rectangular (the tail is a polynomial of degree 4)."""
    high = 2.0 * NormalDist().inv_cdf(0.975) if name == "S1_9.2.2" else 2.0 * ROOT_3 * (2.0 - 0.6**0.25)
    return -high, high


def _mass(item: Item) -> Iterator[Check]:
    """Yield the calibration of a mass in air, where the law of propagation gives too little."""

    def difference(reference: Any, added: Any, air: Any, of_mass: Any, of_reference: Any) -> Any:
        return (reference + added) * (1.0 + (air - 1.2) * (1.0 / of_mass - 1.0 / of_reference)) - 100_000.0

    inputs: list[Normal | Rectangular] = [
        Normal(100_000.0, 0.050),
        Normal(1.234, 0.020),
        Rectangular(1.10, 1.30),
        Rectangular(7_000.0, 9_000.0),
        Rectangular(7_950.0, 8_050.0),
    ]
    printed, tolerance = item["published"], item["tolerance_abs"]
    # the printed ends lie 0.001 from the exact ones (that run's own sampling), so little is left for ours: more draws
    drawn = monte_carlo(difference, inputs, number=4_000_000, seed=9)
    yield check(item, "Monte Carlo y", drawn.y, printed["MC"]["y"], tolerance, "mg")
    yield check(item, "Monte Carlo u", drawn.u, printed["MC"]["u"], tolerance, "mg")
    for end, value, one in zip(("low", "high"), drawn.interval, printed["MC"]["interval95"], strict=True):
        yield check(item, f"Monte Carlo {end}", value, one, tolerance, "mg")
    means, u = [one.mean for one in inputs], [one.standard_uncertainty for one in inputs]
    for name, second in (("GUM_first_order", False), ("GUM_second_order", True)):
        found, said = linear(difference, means, u, second_order=second), name.replace("_", " ")
        yield check(item, f"{said} y", found.y, printed[name]["y"], 5e-5, "mg")
        yield check(item, f"{said} u", found.u, printed[name]["u"], 5e-5, "mg")
        # the ends were printed to the last digit of another place of rounding: 1.2e-4 is one of it and a little
        for end, value, one in zip(("low", "high"), found.interval(), printed[name]["interval95"], strict=True):
            yield check(item, f"{said} {end}", value, one, 1.2e-4 if not second else 6e-4, "mg")


def _power_meters(item: Item) -> Iterator[Check]:
    """Yield the comparison loss: x1^2 + x2^2 in millionths, where a sensitivity vanishes."""
    u, tolerance = 0.005, item["tolerance_abs"]
    for x1, (y, spread, low, high) in item["published"].items():
        drawn = monte_carlo(_loss, [Normal(float(x1), u), Normal(0.0, u)], number=1_000_000, seed=9)
        second = linear(_loss, [float(x1), 0.0], [u, u], second_order=True)
        yield check(item, f"x1 = {x1}: y", drawn.y, y, 1.6, "1e-6")
        yield check(item, f"x1 = {x1}: u", drawn.u, spread, 1.0, "1e-6")
        yield check(item, f"x1 = {x1}: u to second order", second.u, spread, 0.6, "1e-6")
        yield check(item, f"x1 = {x1}: shortest, low", drawn.shortest[0], low, tolerance, "1e-6")
        yield check(item, f"x1 = {x1}: shortest, high", drawn.shortest[1], high, tolerance, "1e-6")


def _loss(one: Any, two: Any) -> Any:
    return (one**2 + two**2) * 1e6


def _tolerance(item: Item) -> Iterator[Check]:
    """Yield the numerical tolerance of an uncertainty."""
    for case in item["cases"]:
        found, said = numerical_tolerance(case["u"], case["n_dig"]), f"u = {case['u']:g}"
        yield check(item, f"{said}: c", found.c, case["c"], 0.0)
        yield check(item, f"{said}: l", found.l, case["l"], 0.0)
        yield check(item, f"{said}: delta", found.delta, case["delta"], 1e-12)


def _adaptive(item: Item) -> Iterator[Check]:
    """Yield the test of stability over batches."""
    batches, computed = np.asarray(item["batches"]), item["recomputed"]
    errors = standard_errors(batches)
    for at, column in enumerate(item["columns"]):
        yield check(item, f"{column}: mean", batches[:, at].mean(), computed["mean"][at], 1e-5)
        yield check(item, f"{column}: standard error", errors[at], computed["standard_error"][at], 1e-6)
    delta = numerical_tolerance(computed["mean"][1], item["n_dig"]).delta
    yield check(item, "delta", delta, item["delta"], 1e-12)
    yield check(item, "stable", is_stable(batches, delta), computed["stabilised"], 0.0)


def _two_outputs(item: Item) -> Iterator[Check]:
    """Yield magnitude and phase of a complex quantity, both ways."""
    real, imaginary, u = (item["inputs"][name] for name in ("re", "im", "u"))

    def polar(x: Any, y: Any) -> tuple[Any, Any]:
        return np.hypot(x, y), np.arctan2(y, x)

    names = ("magnitude", "u of the magnitude", "phase", "u of the phase")
    y, covariance = linear_many(polar, [real, imaginary], [u, u])
    found = (y[0], math.sqrt(covariance[0, 0]), y[1], math.sqrt(covariance[1, 1]))
    for name, value, one in zip(names, found, item["published"]["GUM"], strict=True):
        yield check(item, f"GUM {name}", value, one, 1e-6 * max(one, 1.0))
    y, covariance = monte_carlo_many(polar, [Normal(real, u), Normal(imaginary, u)], number=1_000_000, seed=9)
    found = (y[0], math.sqrt(covariance[0, 0]), y[1], math.sqrt(covariance[1, 1]))
    # a million draws scatter the phase by 0.0017: three times that on its tolerance
    wider = (0.0, 0.0, 0.005, 0.004)
    for name, value, one, tolerance, more in zip(
        names, found, item["published"]["MC"], item["tolerance_abs"], wider, strict=True
    ):
        yield check(item, f"Monte Carlo {name}", value, one, tolerance + more)


def _viscometer(item: Item) -> Iterator[Check]:
    """Yield the falling-ball viscometer."""

    def viscosity(mu: Any, time: Any, density: Any, density_c: Any, time_c: Any, ball: Any) -> Any:
        return mu * time * (ball - density) / (time_c * (ball - density_c))

    inputs = [Normal(*one) for one in item["inputs"].values()]
    printed, tolerance = item["published"], item["tolerance_abs"]
    drawn = monte_carlo(viscosity, inputs, number=1_000_000, seed=9)
    straight = linear(viscosity, [one.mean for one in inputs], [one.standard_uncertainty for one in inputs])
    yield check(item, "Monte Carlo mean", drawn.y, printed["MC_mean"], tolerance, "mPa s")
    yield check(item, "Monte Carlo u", drawn.u, printed["MC_u"], tolerance, "mPa s")
    for end, value, one in zip(("low", "high"), drawn.interval, printed["interval95"], strict=True):
        yield check(item, f"Monte Carlo {end}", value, one, tolerance + 0.006, "mPa s")
    yield check(item, "GUM", straight.y, printed["GUM"], tolerance, "mPa s")
    yield check(item, "GUM u", straight.u, item["recomputed"]["GUM_u"], 5e-4, "mPa s")


def _expansion(item: Item) -> Iterator[Check]:
    """Yield the coefficient of thermal expansion from inputs with 3 degrees of freedom."""

    def coefficient(l0: Any, t0: Any, l1: Any, t1: Any) -> Any:
        return (l1 - l0) / (l0 * (t1 - t0))

    values, u = zip(*(item["inputs"][name] for name in ("L0", "T0", "L1", "T1")), strict=True)
    straight, printed = linear(coefficient, values, u), item["published"]
    yield check(item, "alpha", straight.y, printed["alpha"], 5e-10, "1/K")
    yield check(item, "u", straight.u, printed["u"], 5e-9, "1/K")
    inputs = [StudentT.of_standard_deviation(one, spread, 3.0) for one, spread in zip(values, u, strict=True)]
    drawn = monte_carlo(coefficient, inputs, number=1_000_000, seed=9)
    yield check(item, "Monte Carlo alpha", drawn.y, 1.7268e-5, 8e-9, "1/K")
    # the standard deviation of t with 3 degrees converges slowly: the printed 1.74e-6 and ours are both samples
    yield check(item, "Monte Carlo u", drawn.u, 1.74e-6, 5e-8, "1/K")


def _decay(item: Item) -> Iterator[Check]:
    """Yield a decay correction."""
    values, u = zip(*item["inputs"].values(), strict=True)
    found = linear(lambda a, half_life: a * np.exp(-2.73 * math.log(2.0) / half_life), values, u)
    yield check(item, "y", found.y, item["published"]["y"], 5e-3)
    yield check(item, "u", found.u, item["published"]["u"], 6e-4)


def _logarithm(item: Item) -> Iterator[Check]:
    """Yield the logarithm of a rectangular quantity: skew, so that the shortest interval is another one."""
    x, printed, tolerance = Rectangular(0.1, 1.1), item["published"], item["tolerance_abs"]
    straight = linear(np.log, [x.mean], [x.standard_uncertainty])
    drawn = monte_carlo(np.log, [x], number=2_000_000, seed=9)
    found = (straight.y, straight.u, straight.interval()[1], drawn.y, drawn.u, *drawn.shortest)
    names = ("GUM y", "GUM u", "GUM high", "Monte Carlo y", "Monte Carlo u", "shortest, low", "shortest, high")
    values = (*printed["GUM"], printed["GUM_upper95"], *printed["MC"], *printed["shortest95"])
    for name, value, one in zip(names, found, values, strict=True):
        yield check(item, name, value, one, tolerance + (0.002 if name == "shortest, low" else 0.0))


KINDS: dict[str, Callable[[Item], Iterator[Check]]] = {
    "linear_budget": _end_gauge,
    "line_fit": _line_fit,
    "monte_carlo": _monte_carlo,
    "numerical_tolerance": _tolerance,
    "adaptive": _adaptive,
    "two_outputs": _two_outputs,
    "product": _viscometer,
    "expansion": _expansion,
    "decay": _decay,
    "log": _logarithm,
}
