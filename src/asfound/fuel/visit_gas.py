"""A gas analysis as the readings of a visit, and back: which of its components are counted as which.

A visit has fourteen components. What a laboratory finds besides is counted as its nearest, and said; what has no
nearest is left out, and said.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from asfound.fuel import iso6976
from asfound.fuel.components import component, places, table
from asfound.fuel.composition import Composition
from asfound.fuel.contaminants import MOLAR_MASS_SULFUR, MOLAR_MASS_WATER, mass_of
from asfound.fuel.names import title
from asfound.fuel.visit_analysis import ANALYSIS, HEXANE
from asfound.quantities.typing import Array

QUANTITY_OF = {name: quantity for quantity, name in ANALYSIS.items()}
TRACES = ("fuel_sulfur", "fuel_siloxanes", "fuel_water")
"""What is read besides the components, by mass in a normal cubic metre."""
HEAVIER = "fuel_hexanes_plus_carbon"
OF_AN_ANALYSIS = (*ANALYSIS, HEAVIER, *TRACES, "fuel_analysis_age")
"""Every quantity that an analysis gives to a visit."""
_BY_CARBON = {1: "methane", 2: "ethane", 3: "propane", 4: "n-butane", 5: "n-pentane"}


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitGas:
    """What the readings of a visit will be."""

    fractions: Mapping[str, tuple[float, float]]
    """Share and standard uncertainty by quantity, those that were found or looked for. [mol/mol]"""
    traces: Mapping[str, float]
    """By quantity: what its components bring. [kg/m³(n)]"""
    heavier: float | None
    """Mean carbon number of what counts as hexanes and heavier; None where there is none. [1]"""
    counted: tuple[tuple[str, float, str], ...]
    """Component, share, and the quantity that it is counted in, where that is another."""
    left_out: tuple[tuple[str, float], ...]
    """Components with no nearest, with their share."""
    heat_off: float
    """How far this counting moves the gross heat of a mole, the mean carbon number of C6+ taken into account. [1]"""

    @property
    def says(self) -> tuple[str, ...]:
        """What a reader has to know of the counting."""
        told = [
            f"{title(name)}, {100 * share:.3g} %, is counted in {quantity.removeprefix('fuel_').replace('_', ' ')}."
            for name, share, quantity in self.counted
            if share > 0
        ]
        if self.heavier is not None and self.heavier != HEXANE:
            told.append(f"Hexanes and heavier have {self.heavier:.2f} carbon atoms on average; heat and air follow it.")
        told += [f"{title(name)}, {100 * share:.3g} %, is left out." for name, share in self.left_out if share > 0]
        if abs(self.heat_off) > 5e-5:
            told.append(f"This counting moves the gross heat of a mole by {100 * self.heat_off:+.2f} %.")
        return tuple(told)


def counted_as(name: str) -> str | None:
    """Return the component of a visit that another counts as; None where it has none.

    >>> counted_as("neopentane"), counted_as("benzene"), counted_as("argon"), counted_as("ammonia")
    ('isopentane', 'n-hexane', 'nitrogen', None)
    """
    if name in QUANTITY_OF:
        return name
    if name == "neopentane":
        return "isopentane"
    atoms = component(name).atoms
    if set(atoms) == {"C", "H"}:
        return _BY_CARBON.get(atoms["C"], "n-hexane")
    return "nitrogen" if set(atoms) <= {"He", "Ne", "Ar"} else None


def of_composition(gas: Composition) -> VisitGas:
    """Return what a gas gives to a visit."""
    names = [counted_as(name) for name in gas.components]
    out = list(dict.fromkeys(one for one in names if one is not None))
    share = np.array([[float(to == name) for name in names] for to in out])
    x = share @ gas.fractions
    u = np.sqrt(np.maximum(np.diag(share @ gas.covariance @ share.T), 0.0))
    by_name = gas.by_name
    sulfur = sum(component(name).atoms.get("S", 0) * part for name, part in by_name.items())
    traces = {}
    if sulfur > by_name.get("hydrogen sulfide", 0.0):  # others than hydrogen sulfide: they have no reading of their own
        traces["fuel_sulfur"] = float(mass_of(sulfur, MOLAR_MASS_SULFUR))
    if by_name.get("water", 0.0) > 0:
        traces["fuel_water"] = float(mass_of(by_name["water"], MOLAR_MASS_WATER))
    heavier = _carbon(gas, names)
    pairs = list(zip(gas.components, names, gas.fractions.tolist(), strict=True))
    return VisitGas(
        fractions={QUANTITY_OF[name]: (float(a), float(b)) for name, a, b in zip(out, x, u, strict=True)},
        traces=traces,
        heavier=heavier,
        counted=tuple((name, part, QUANTITY_OF[to]) for name, to, part in pairs if to is not None and to != name),
        left_out=tuple((name, part) for name, to, part in pairs if to is None),
        heat_off=_heat_off(gas, out, x, HEXANE if heavier is None else heavier),
    )


def _carbon(gas: Composition, names: list[str | None]) -> float | None:
    """Return the mean number of carbon atoms of what counts as hexanes and heavier; None where there is none."""
    parts = [
        (share, component(name).atoms["C"])
        for name, to, share in zip(gas.components, names, gas.fractions.tolist(), strict=True)
        if to == "n-hexane" and share > 0
    ]
    total = sum(share for share, _ in parts)
    return HEXANE + sum(share * (carbon - HEXANE) for share, carbon in parts) / total if parts else None


def _heat_off(gas: Composition, out: list[str], x: Array, carbon: float) -> float:
    """Return how far the counting moves the gross heat of a mole of the gas, both scaled to 1. [1]"""
    heat = table().gross[:, iso6976.DEFAULT_REFERENCE.columns[0]]
    hexane, heptane = heat[places(("n-hexane", "n-heptane"))]
    true = float(gas.fractions @ heat[places(gas.components)]) / gas.total if gas.total > 0 else 0.0
    more = x[out.index("n-hexane")] * (carbon - HEXANE) * (heptane - hexane) if "n-hexane" in out else 0.0
    counted = (float(x @ heat[places(out)]) + float(more)) / float(x.sum()) if out and x.sum() > 0 else 0.0
    return counted / true - 1 if true > 0 else 0.0


def as_composition(
    fractions: Mapping[str, tuple[float, float]],
    *,
    heavier: float = HEXANE,
    source: str = "",
    sampled: date | None = None,
) -> Composition:
    """Return the gas of a visit from the shares of its readings.

    Parameters
    ----------
    fractions : mapping of str to (float, float)
        Share and standard uncertainty by quantity; those that are no component are passed over. [mol/mol]
    heavier : float
        Mean carbon number of C6+, 6 to 8: shared out over the two alkanes next to it. [1]
    source, sampled
        Kept.
    """
    there = {ANALYSIS[name]: one for name, one in fractions.items() if name in ANALYSIS}
    told = {}
    if there.get("n-hexane", (0.0,))[0] > 0:
        share, u = there.pop("n-hexane")
        split = _between_alkanes(heavier)
        there |= {name: (share * part, u * part) for name, part in split.items()}
        told = {"hexanes_plus": ", ".join(f"{100 * part:.4g} % {name}" for name, part in split.items())}
    x = np.array([one[0] for one in there.values()])
    return Composition(
        components=tuple(there),
        fractions=x,
        covariance=np.diag([one[1] ** 2 for one in there.values()]) if there else np.zeros((0, 0)),
        sampled=sampled,
        source=source,
        heavier=told,
        total_analysed=float(x.sum()),
    )


def _between_alkanes(carbon: float) -> dict[str, float]:
    """Return mole shares of the two alkanes on either side of a mean carbon number.

    >>> _between_alkanes(6.5)
    {'n-hexane': 0.5, 'n-heptane': 0.5}
    """
    names = ("n-hexane", "n-heptane", "n-octane", "n-nonane", "n-decane")
    at = min(max(carbon - HEXANE, 0.0), len(names) - 1.0)
    low = min(int(at), len(names) - 2)
    shares = {names[low]: 1 - (at - low), names[low + 1]: at - low}
    return {name: part for name, part in shares.items() if part > 0}
