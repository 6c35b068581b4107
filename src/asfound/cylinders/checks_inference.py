"""Published formulas of the crank's inertia torque, recomputed from the exact motion."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np

from asfound.cylinders.crank_speed import order_content, piston_speed_function
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

POINTS = 4096


def inertia_harmonic(order: float, rod_ratio: float) -> float:
    """Return the sine amplitude of an order of the exact inertia torque over m r^2 omega^2.

    By energy: the torque is - d/d theta of half the square of s, so its amplitude follows from that of the square.
    """
    theta = 4 * math.pi * np.arange(POINTS) / POINTS
    half_square = 0.5 * piston_speed_function(theta, rod_ratio) ** 2
    found = order_content(half_square)[2 * int(order)]
    return float(order * found.real)


def mean_inertia(rod_ratio: float) -> float:
    """Return the mean of the square of s over a cycle: the reciprocating mass as a turning one, over m r^2."""
    theta = 4 * math.pi * np.arange(POINTS) / POINTS
    return float((piston_speed_function(theta, rod_ratio) ** 2).mean())


WAYS: dict[str, Callable[..., float]] = {
    "inertia_harmonic": inertia_harmonic,
    "mean_inertia": mean_inertia,
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.cylinders", "data/published_inference.csv"):
        given = (float(one) for one in row["inputs"].split("|"))
        yield Check.of_row("cylinders", WAYS[row["of"]](*given), row)
