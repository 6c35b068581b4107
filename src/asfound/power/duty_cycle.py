"""Test cycles for constant speed, and what a cycle's modes give together."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.typing import Values
from asfound.sources.tables import load_csv


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """One mode of a cycle."""

    mode: int
    torque: float
    """Over the torque at rated power. [1]"""
    weight: float
    ramped_seconds: float | None
    """Time in the ramped-modal cycle; None where there is none."""
    ramped_order: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """A cycle of ISO 8178-4."""

    name: str
    use: str
    modes: tuple[Mode, ...]
    found: str
    source: str

    @property
    def weights(self) -> tuple[float, ...]:
        """Weights in the order of the modes; their sum is 1."""
        return tuple(one.weight for one in self.modes)

    @property
    def mean_load(self) -> float:
        """Load that the weights make together. [1]"""
        return sum(one.weight * one.torque for one in self.modes)


@cache
def cycles() -> tuple[Cycle, ...]:
    """Return the packaged cycles: D2, D1, E2."""
    rows = load_csv("asfound.power", "data/duty_cycles.csv")
    found = []
    for name in dict.fromkeys(row["cycle"] for row in rows):
        mine = [row for row in rows if row["cycle"] == name]
        modes = tuple(
            Mode(
                mode=int(row["mode"]),
                torque=float(row["torque"]),
                weight=float(row["weight"]),
                ramped_seconds=float(row["ramped_seconds"]) if row["ramped_seconds"] else None,
                ramped_order=int(row["ramped_order"]) if row["ramped_order"] else None,
            )
            for row in mine
        )
        found.append(
            Cycle(name=name, use=mine[0]["use"], modes=modes, found=mine[0]["found"], source=mine[0]["source"])
        )
    return tuple(found)


def cycle(name: str) -> Cycle:
    """Return a cycle by its name; UnknownNameError when there is none such."""
    for one in cycles():
        if one.name == name.upper():
            return one
    raise UnknownNameError("test cycle", name, (one.name for one in cycles()))


def weighted(mass_flow: Values, power: Values, name: str) -> Values:
    """Return what a cycle emits per work: the weighted mass over the weighted work.

    Parameters
    ----------
    mass_flow : array
        Mass emitted per time in each mode, along the first axis, in the order of the cycle's modes. Shape (modes,) or
        (modes, tests). [kg/s]
    power : array
        Brake power in each mode, auxiliaries of the test added; same shape. [W]
    name : str
        ``D2``, ``D1`` or ``E2``.

    Returns
    -------
    float or array
        Shape () or (tests,); nan where the weighted work is not above zero. [kg/J]

    Raises
    ------
    InputError
        There are not as many modes as the cycle has.

    References
    ----------
    .. [1] ISO 8178-1: e = sum(W_i m_i) / sum(W_i P_i). It is no mean of the modes' own values.

    Examples
    --------
    A mode that emits the same per work in every mode emits that much over the cycle.

    >>> power = 1e6 * np.array([1.0, 0.75, 0.5])
    >>> print(f"{3.6e9 * weighted(power * 0.9 / 3.6e9, power, 'D1'):.3f} g/kWh")
    0.900 g/kWh
    """
    known = cycle(name)
    flows, powers = np.asarray(mass_flow, dtype=float), np.asarray(power, dtype=float)
    count = len(known.modes)
    for field, given in (("mass_flow", flows), ("power", powers)):
        if given.ndim == 0 or given.shape[0] != count:
            raise InputError(
                field, f"shape {given.shape}", f"does not fit the {count} modes of {known.name}",
                allowed=f"{count} modes along the first axis", try_next="Give a value for each mode, idle ones as 0.",
            )  # fmt: skip
    weights = np.asarray(known.weights)
    with np.errstate(all="ignore"):
        work = np.tensordot(weights, powers, axes=1)
        return np.tensordot(weights, flows, axes=1) / np.where(work > 0, work, np.nan)
