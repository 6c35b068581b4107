"""The engine and its driven machine as the balances know them: gas, geometry, which pressures are gauge."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from asfound.crosscheck.gas_properties import RealGas, real_gas_window
from asfound.crosscheck.witness import ModelWitness
from asfound.fuel import real_gas
from asfound.fuel.iso6976 import Reference, properties
from asfound.fuel.stoichiometry import element_columns

KELVIN_STEP, PASCAL_STEP = 20.0, 5e5
STANDARD_NAMES = tuple(
    one.replace("_", "-") if one.startswith("n_") else one.replace("_", " ") for one in real_gas.COMPONENTS
)
"""The same components as ISO 6976 writes them."""
AT_25 = Reference.named("25/0")


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelGas:
    """A mole of the gas that is burned."""

    carbon: float
    hydrogen: float
    oxygen: float
    nitrogen: float
    """Atoms, inerts included. [mol/mol]"""
    heat: float
    """Net, 25 °C, ideal gas. [J/mol]"""
    molar_mass: float
    """[kg/mol]"""
    fractions: tuple[float, ...]
    """In the order of `real_gas.COMPONENTS`, sum 1."""
    gross_over_net: float = 1.108

    @property
    def oxygen_needed(self) -> float:
        """[mol/mol]"""
        return self.carbon + self.hydrogen / 4 - self.oxygen / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of a reciprocating compressor, unloaders and pockets as they are set."""

    displacement: float | None = None
    """Of one revolution; None where nobody knows it. [m³]"""
    clearance: float = 0.15
    loss: float = 0.04
    """Volumetric loss beside re-expansion. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """What does not change during a visit. Anything that is None takes the balances away that need it."""

    fuel: FuelGas | None = None
    swept_volume: float | None = None
    """Of all cylinders, four-stroke. [m³]"""
    oil_heat_capacity: float = 1.78e6
    """Density times heat capacity; common practice, no source. [J/(m³ K)]"""
    glycol: float = 0.0
    """Of the coolant, by mass. [kg/kg]"""
    stack_area: float | None = None
    """[m²]"""
    stages: Mapping[str, Stage] = field(default_factory=dict)
    """By place: ``stage_1`` ..."""
    compressed: tuple[float, ...] | None = None
    """Composition of the compressed gas; the fuel's where None."""
    gauge: frozenset[str] = frozenset()
    """Names of values that are gauge pressures: the barometer is added in the balances, so that its error is seen."""
    port_admission: bool = False
    """Gas enters behind the intake manifold: it is no part of the charge that the turbocharger moves."""
    stoichiometric: bool = False
    """It burns at or near lambda 1: carbon monoxide and hydrogen count, and the catalyst has two sides."""
    stack_is_behind: bool = True
    """Of such an engine: what is read in the stack has gone through the catalyst."""
    witness: ModelWitness | None = None
    """What the model of the cycle makes of the setting; None where it is not asked."""

    def with_gauge(self, names: Iterable[str]) -> Plant:
        """Return the same with these values as gauge pressures."""
        return replace(self, gauge=frozenset(names))


def molar_gas(fractions: Mapping[str, float], *, heat: float | None = None) -> FuelGas:
    """Return a gas from mole fractions by name (`real_gas.COMPONENTS`); they are scaled to a sum of 1.

    Parameters
    ----------
    fractions : mapping of str to float
        [mol/mol]
    heat : float, optional
        Net heat of a mole at 25 °C [J/mol]; by ISO 6976 from the composition when left out.
    """
    x = real_gas.composition({name: np.asarray(share, dtype=float) for name, share in fractions.items()})
    x = x / x.sum()
    atoms = x @ element_columns(STANDARD_NAMES)
    burned = properties(x, STANDARD_NAMES, AT_25, ideal=True)
    net = float(burned.molar_net) if heat is None else heat
    return FuelGas(
        carbon=float(atoms[0]),
        hydrogen=float(atoms[1]),
        nitrogen=float(atoms[2]),
        oxygen=float(atoms[3]),
        heat=net,
        molar_mass=float(atoms[6]),
        fractions=tuple(float(one) for one in x),
        gross_over_net=float(burned.molar_gross / burned.molar_net) if burned.molar_net > 0 else 1.0,
    )


def window(fractions: tuple[float, ...], temperatures: list[float], pressures: list[float]) -> RealGas:
    """Return the real gas for a range of readings with room about it, in coarse steps so that few are fitted."""
    coldest = max(220.0, np.floor((min(temperatures) - 25) / KELVIN_STEP) * KELVIN_STEP)
    hottest = min(520.0, np.ceil((max(temperatures) + 30) / KELVIN_STEP) * KELVIN_STEP)
    highest = np.ceil(1.15 * max(pressures) / PASCAL_STEP) * PASCAL_STEP
    return real_gas_window(fractions, float(coldest), float(hottest), 5e4, float(highest))
