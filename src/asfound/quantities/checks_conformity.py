"""Published values of conformity and of its risks, computed again through this room's own functions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.quantities.conformity import global_risk, guard_factor, probability_conforming
from asfound.sources.prove import Check

LAST_DIGIT = 0.0055
"""Half of the last printed digit of z, and a little: 3.0902 is printed 3.09, 1.6449 is printed 1.64."""


def conformity_checks(items: list[dict[str, Any]]) -> Iterator[Check]:
    """Yield the checks of all items."""
    for item in items:
        for what, value, printed, tolerance in _CASES[item["kind"]](item):
            yield Check(
                check=f"{item['id']} {what}".strip(),
                room="quantities",
                value=value,
                published=printed,
                tolerance=tolerance,
                source=item["source"],
                clause=item["clause"],
                note=item["status"],
            )


Row = tuple[str, float, float, float]


def _probability(item: dict[str, Any]) -> Iterator[Row]:
    value = probability_conforming(item["y"], item["u"], lower=item["lower"], upper=item["upper"], nu=item.get("nu"))
    exact = item["probability_conforming"]
    yield "probability, computed independently", value, exact, min(1e-7, 1e-6 * exact)
    if item["published"] is not None:
        yield "probability", value, item["published"], item["tolerance_abs"]


def _z(item: dict[str, Any]) -> Iterator[Row]:
    for probability, z in item["pairs"]:
        yield f"z for {probability}", guard_factor(probability), z, LAST_DIGIT


def _guard(item: dict[str, Any]) -> Iterator[Row]:
    for risk, z in item["pairs"]:
        yield f"guard band for a risk of {risk}", guard_factor(1.0 - risk), z, LAST_DIGIT


def _risk(item: dict[str, Any]) -> Iterator[Row]:
    limit, accept = item["tolerance_half_width"], item["acceptance_half_width"]
    found = global_risk(
        0.0, item["process_sd"], item["u_m"], lower=-limit, upper=limit, accept_lower=-accept, accept_upper=accept
    )
    for who, value in (("consumer", found.consumer), ("producer", found.producer)):
        yield f"{who}'s risk, computed independently", value, item["recomputed"][who], 1e-8
        if who in item["published"]:
            yield f"{who}'s risk", value, item["published"][who], item["tolerance_abs"]


_CASES = {"probability": _probability, "z": _z, "guard": _guard, "global_risk": _risk}
