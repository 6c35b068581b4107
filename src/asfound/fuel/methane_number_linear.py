"""The older ways to a methane number, for lean pipeline gas only: from coefficients or from hydrogen to carbon.

Both go through a motor octane number; two relations from there to the methane number are in use and differ by 9 for
pure methane, so the pair that was used is part of the answer. The standards that print them were withdrawn in 2022.
Outside their range they mislead (69.5 for a gas whose published number is 90.0): there they answer nan.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.fuel.arranged import Flags
from asfound.fuel.methane_number import COMPONENTS
from asfound.quantities.typing import Array, Values

Relation = Literal["iso_15403", "california_2001"]

LINEAR = {
    "methane": 137.780, "ethane": 29.948, "propane": -18.193, "isobutane": -167.062, "n_butane": -167.062,
    "carbon_dioxide": 181.233, "nitrogen": 26.994,
}  # fmt: skip
"""Octane number of each component, SAE 922359 and ISO 15403-1; nitrogen and the last digit of methane from memory."""
RELATIONS: dict[str, tuple[float, float]] = {"iso_15403": (1.445, -103.42), "california_2001": (1.624, -119.1)}
MOST_OTHER = 0.0005  # mole fraction of what the linear form has no coefficient for: engineering judgement
MOST_INERT = 0.05  # of carbon dioxide and nitrogen; for the hydrogen-carbon form from memory, for the linear one ours
LEAST_RATIO = 2.5
_ATOMS = {
    "methane": (1, 4), "ethane": (2, 6), "propane": (3, 8), "isobutane": (4, 10), "n_butane": (4, 10),
    "isopentane": (5, 12), "n_pentane": (5, 12), "neopentane": (5, 12), "hexanes_plus": (6, 14), "ethylene": (2, 4),
    "propylene": (3, 6), "butylene": (4, 8), "butadiene": (4, 6),
}  # fmt: skip


def from_octane(octane: Values, relation: Relation = "iso_15403") -> Values:
    """Return the methane number of a motor octane number, by one of `RELATIONS`."""
    if relation not in RELATIONS:
        raise UnknownNameError("relation of octane to methane number", relation, RELATIONS)
    slope, zero = RELATIONS[relation]
    answer: Values = np.multiply(slope, octane) + zero
    return answer


def octane_of_ratio(ratio: Values) -> Values:
    """Return the motor octane number for the ratio of hydrogen to carbon atoms of the hydrocarbons.

    References
    ----------
    .. [1] -406.14 + 508.04 R - 173.55 R² + 20.17 R³: SAE 922359 (1992), as printed on two public pages; R >= 2.5.
    """
    r = np.asarray(ratio, dtype=float)
    answer: Values = np.where(r >= LEAST_RATIO, -406.14 + r * (508.04 + r * (-173.55 + r * 20.17)), np.nan)
    return answer


def methane_number_linear(fractions: Array, relation: Relation = "iso_15403") -> Array:
    """Return the methane number by linear coefficients, nan outside the range of the method.

    Parameters
    ----------
    fractions : array [..., 22]
        Mole fractions in the order of `methane_number.COMPONENTS`; divided by their sum. [mol/mol]
    relation : str
        One of `RELATIONS`.
    """
    x = _whole(fractions)
    return np.where(_lean(x), from_octane(octane_linear(x), relation), np.nan)


def octane_linear(fractions: Array) -> Array:
    """Return the motor octane number by linear coefficients, whatever the gas: outside its range it means nothing.

    Parameters
    ----------
    fractions : array [..., 22]
        Mole fractions in the order of `methane_number.COMPONENTS`, adding up to 1. [mol/mol]
    """
    coefficients = np.array([LINEAR.get(name, 0.0) for name in COMPONENTS])
    return np.asarray(np.asarray(fractions, dtype=float) @ coefficients)


def methane_number_hydrogen_carbon(fractions: Array, relation: Relation = "iso_15403") -> Array:
    """Return the methane number by the hydrogen-carbon ratio, nan outside the range of the method.

    Arguments as in `methane_number_linear`. The carbon of carbon dioxide is not counted (from memory).
    """
    x = _whole(fractions)
    return np.where(_lean(x), from_octane(octane_of_ratio(hydrogen_carbon_ratio(x)), relation), np.nan)


def hydrogen_carbon_ratio(fractions: Array) -> Array:
    """Return atoms of hydrogen over atoms of carbon in the hydrocarbons of a gas. [1]"""
    x = np.asarray(fractions, dtype=float)
    carbon, hydrogen = (np.array([_ATOMS.get(name, (0, 0))[at] for name in COMPONENTS], dtype=float) for at in (0, 1))
    with np.errstate(all="ignore"):
        return np.asarray((x @ hydrogen) / (x @ carbon))


def refuse_outside(fractions: Array) -> None:
    """Refuse one gas for which the simple methods were not made.

    Raises
    ------
    InputError
        Names what is too much, and what to do.
    """
    x = _whole(fractions)
    for field, amount, most in (
        ("carbon dioxide and nitrogen", float(_inert(x)), MOST_INERT),
        ("pentanes, heavier, hydrogen, carbon monoxide, olefins, sulfur", float(_other(x)), MOST_OTHER),
    ):
        if not amount <= most:
            raise InputError(
                field,
                f"{100 * amount:.3g} %",
                "is more than the simple methods were made for; they would be off by up to 20",
                allowed=f"0 to {100 * most:g} %",
                try_next="Take the method of EN 16726 annex A.",
            )


def _whole(fractions: Array) -> Array:
    x = np.asarray(fractions, dtype=float)
    with np.errstate(all="ignore"):
        answer: Array = np.where((x >= 0).all(axis=-1, keepdims=True), x / x.sum(axis=-1, keepdims=True), np.nan)
    return answer


def _inert(x: Array) -> Array:
    answer: Array = x[..., [COMPONENTS.index(name) for name in ("carbon_dioxide", "nitrogen")]].sum(axis=-1)
    return answer


def _other(x: Array) -> Array:
    answer: Array = x[..., [at for at, name in enumerate(COMPONENTS) if name not in LINEAR]].sum(axis=-1)
    return answer


def _lean(x: Array) -> Flags:
    with np.errstate(invalid="ignore"):
        answer: Flags = (_inert(x) <= MOST_INERT) & (_other(x) <= MOST_OTHER)
    return answer
