"""The diagrams of EN 16726 annex A as tables: which gases each mixes, within which limits, and its polynomial."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

GASES = (
    "carbon_monoxide", "ethylene", "propylene", "hydrogen_sulfide", "hydrogen", "propane", "ethane", "butane",
    "methane",
)  # fmt: skip
"""The gases that the diagrams mix, in the order in which the method looks for a diagram for each."""
INERT = "A20"


@dataclass(frozen=True, slots=True, eq=False)
class Diagram:
    """One diagram: methane number over the shares of two or three gases."""

    name: str
    members: tuple[int, ...]
    """Numbers in `GASES` of its x, y and, in a ternary one, z."""
    weights: tuple[float, ...]
    """Start weight of each member."""
    limits: tuple[tuple[float, float], ...]
    """Least and most of each member within the diagram. [%]"""
    powers: tuple[tuple[int, int, float], ...]
    """i, j, a of each term a x^i y^j, x and y in per cent."""

    def number(self, x: Array, y: Array) -> tuple[Array, Array, Array]:
        """Return the methane number at x and y [%], and its derivatives by them [1/%]."""
        return polynomial(self.powers, x, y)


def polynomial(terms: tuple[tuple[int, int, float], ...], x: Array, y: Array) -> tuple[Array, Array, Array]:
    """Return the sum of a x^i y^j and its derivatives by x and y."""
    of_x, of_y = _powers(x, max(i for i, _, _ in terms)), _powers(y, max(j for _, j, _ in terms))
    value, by_x, by_y = np.zeros_like(x), np.zeros_like(x), np.zeros_like(x)
    for i, j, a in terms:
        value += a * of_x[i] * of_y[j]
        if i:
            by_x += (a * i) * of_x[i - 1] * of_y[j]
        if j:
            by_y += (a * j) * of_x[i] * of_y[j - 1]
    return value, by_x, by_y


def _powers(x: Array, highest: int) -> list[Array]:
    answer = [np.ones_like(x)]
    for _ in range(highest):
        answer.append(answer[-1] * x)
    return answer


@cache
def _terms() -> dict[str, tuple[tuple[int, int, float], ...]]:
    answer: dict[str, tuple[tuple[int, int, float], ...]] = {}
    for row in load_csv("asfound.fuel", "data/methane_number_coefficients.csv"):
        answer[row["system"]] = (*answer.get(row["system"], ()), (int(row["i"]), int(row["j"]), float(row["a"])))
    return answer


@cache
def diagrams() -> tuple[Diagram, ...]:
    """Return the diagrams of combustible gases, A1 to A16."""
    found: dict[str, list[dict[str, str]]] = {}
    for row in load_csv("asfound.fuel", "data/methane_number_systems.csv"):
        found.setdefault(row["system"], []).append(row)
    return tuple(
        Diagram(
            name,
            tuple(GASES.index(row["component"]) for row in rows),
            tuple(float(row["weight"]) for row in rows),
            tuple((float(row["least"]), float(row["most"])) for row in rows),
            _terms()[name],
        )
        for name, rows in found.items()
    )


def inert_number(combustible: Array, carbon_dioxide: Array) -> Array:
    """Return what diagram A20 gives for combustible gas with carbon dioxide, both in per cent of the two."""
    return polynomial(_terms()[INERT], combustible, carbon_dioxide)[0]
