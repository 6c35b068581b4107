"""Ideal gases between 200 and 3,500 K: tables made once from the NASA polynomials, and polynomials for fresh charge.

The burned gas is looked up species by species (`tables`: enthalpy, entropy, logarithms of equilibrium constants on an
even grid of temperature). The fresh charge has one composition for the whole compression, so its heat capacity becomes
one polynomial a case (`fresh`), whatever the fuel is made of.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

R = 8.31446261815324
"""Gas constant, CODATA 2018. [J/(mol K)]"""
STANDARD_PRESSURE = 1e5
ELEMENTS = ("carbon", "hydrogen", "oxygen", "nitrogen", "argon", "sulfur")
ATOMIC_MASS = np.array([12.011, 1.008, 15.999, 14.007, 39.95, 32.06]) * 1e-3
"""Conventional atomic weights, IUPAC 2021. [kg/mol]"""
HELIUM_MASS = 4.0026e-3
BURNT = ("CO2", "H2O", "N2", "O2", "CO", "H2", "OH", "O", "H", "NO", "Ar", "SO2")
"""Species of the burned gas. What is left out (HO2, NO2, N) is below 1e-5 of it at engine conditions."""
LOWEST, HIGHEST, STEP = 200.0, 3500.0, 5.0
FRESH_RANGE = (270.0, 1250.0)
"""Range of the polynomials of the fresh charge. [K]"""
FRESH_ORDER = 6


@dataclass(frozen=True, slots=True)
class Species:
    """One gas of the table."""

    name: str
    atoms: Array
    """Shape (6,), in the order of `ELEMENTS`."""
    breaks: Array
    """Upper end of each range. [K]"""
    coefficients: Array
    """Shape (ranges, 7)."""

    @property
    def molar_mass(self) -> float:
        """[kg/mol]"""
        return HELIUM_MASS if self.name == "helium" else float(self.atoms @ ATOMIC_MASS)

    def evaluate(self, temperature: Array) -> tuple[Array, Array, Array]:
        """Return cp/R, h/R [K] and s/R at 1 bar; beyond a range the nearest coefficients go on. Shape of the input."""
        t = np.asarray(temperature, dtype=float)
        a = self.coefficients[np.minimum(np.searchsorted(self.breaks, t), len(self.breaks) - 1)]
        a = np.moveaxis(a, -1, 0)
        capacity = a[0] + t * (a[1] + t * (a[2] + t * (a[3] + t * a[4])))
        enthalpy = a[5] + t * (a[0] + t * (a[1] / 2 + t * (a[2] / 3 + t * (a[3] / 4 + t * a[4] / 5))))
        entropy = a[6] + a[0] * np.log(t) + t * (a[1] + t * (a[2] / 2 + t * (a[3] / 3 + t * a[4] / 4)))
        return capacity, enthalpy, entropy


@cache
def species() -> dict[str, Species]:
    """Return all gases of the table by name."""
    rows: dict[str, list[dict[str, str]]] = {}
    for row in load_csv("asfound.whatif", "data/nasa7.csv"):
        rows.setdefault(row["species"], []).append(row)
    made = {}
    for name, ranges in rows.items():
        coefficients = np.array([[float(one[f"a{k}"]) for k in range(1, 8)] for one in ranges])
        breaks = np.array([float(one["to"]) for one in ranges])
        atoms = np.array([float(ranges[0][one]) for one in ELEMENTS])
        made[name] = Species(name, atoms, breaks, coefficients)
    made["n-hexane"] = _between(made["n-pentane"], made["n-heptane"])
    return made


def _between(one: Species, other: Species) -> Species:
    """Return the alkane between two: each CH2 adds the same (Benson's additivity), so it is their mean."""
    middle = (one.coefficients + other.coefficients) / 2
    return Species("n-hexane", (one.atoms + other.atoms) / 2, one.breaks, middle)


@dataclass(frozen=True, slots=True)
class Table:
    """Rows over the grid of temperature."""

    at: Array
    """Shape (rows, grid)."""
    rise: Array
    """To the next point of the grid, shape (rows, grid - 1)."""


@dataclass(frozen=True, slots=True)
class Tables:
    """Rows by equilibrium and by species of the burned gas, columns by temperature."""

    rows: Table
    """Of 18 rows: ln K of O, OH, NO, H2, CO, H (see `equilibrium`), then h/R [K] of each of `BURNT`."""
    entropy: Table
    """Of 12 rows: s/R of each of `BURNT` at 1 bar."""
    to_nitrogen: Table
    """Of one row: ln K of O + N2 = NO + N."""
    molar_mass: Array
    """Of `BURNT`. [kg/mol]"""
    atoms: Array
    """Of `BURNT`, shape (12, 6)."""


@cache
def tables() -> Tables:
    """Return the tables, made once."""
    grid = np.arange(LOWEST, HIGHEST + STEP / 2, STEP)
    known = [species()[name] for name in BURNT]
    found = [one.evaluate(grid) for one in known]
    enthalpy, entropy = np.stack([one[1] for one in found]), np.stack([one[2] for one in found])
    atom = species()["N"].evaluate(grid)
    gibbs = dict(zip(BURNT, enthalpy / grid - entropy, strict=True))  # g/RT
    constants = np.stack(
        [
            gibbs["O2"] / 2 - gibbs["O"],  # O2/2 = O
            gibbs["H2O"] / 2 + gibbs["O2"] / 4 - gibbs["OH"],  # H2O/2 + O2/4 = OH
            gibbs["N2"] / 2 + gibbs["O2"] / 2 - gibbs["NO"],  # N2/2 + O2/2 = NO
            gibbs["H2O"] - gibbs["H2"] - gibbs["O2"] / 2,  # H2O = H2 + O2/2
            gibbs["CO2"] - gibbs["CO"] - gibbs["O2"] / 2,  # CO2 = CO + O2/2
            gibbs["H2"] / 2 - gibbs["H"],  # H2/2 = H
        ]
    )
    return Tables(
        rows=_table(np.concatenate([constants, enthalpy])),
        entropy=_table(entropy),
        to_nitrogen=_table((gibbs["O"] + gibbs["N2"] - gibbs["NO"] - (atom[1] / grid - atom[2]))[None, :]),
        molar_mass=np.array([one.molar_mass for one in known]),
        atoms=np.stack([one.atoms for one in known]),
    )


def _table(at: Array) -> Table:
    return Table(at, np.diff(at, axis=1))


def look_up(table: Table, temperature: Array) -> Array:
    """Return rows of a table at temperatures (cases,), straight between grid points. Shape (rows, cases)."""
    # fmin and fmax: what is no number any more is looked up at the lower end, and stays none in what it is used for
    part = np.fmax(temperature, LOWEST)
    np.fmin(part, HIGHEST, out=part)
    part -= LOWEST
    part *= 1.0 / STEP
    low = part.astype(np.intp)
    np.minimum(low, table.rise.shape[1] - 1, out=low)
    part -= low
    found: Array = table.rise.take(low, axis=1, mode="clip")
    found *= part
    found += table.at.take(low, axis=1, mode="clip")
    return found


@cache
def _fresh_coefficients(names: tuple[str, ...]) -> Array:
    """Return heat capacities over R as polynomials of T/1000 K. Shape (species, order + 1), lowest power first."""
    grid = np.linspace(*FRESH_RANGE, 400)
    design = np.vander(grid / 1000.0, FRESH_ORDER + 1, increasing=True)
    capacity = np.stack([species()[name].evaluate(grid)[0] for name in names])
    found: Array = np.asarray(np.linalg.lstsq(design, capacity.T, rcond=None)[0].T, dtype=np.float64)
    return found


@cache
def _reference(names: tuple[str, ...]) -> Array:
    """Return enthalpy [J/mol] and entropy at 1 bar [J/(mol K)] of species at 298.15 K. Shape (2, species)"""
    at = [species()[name].evaluate(np.full(1, 298.15)) for name in names]
    return R * np.array([[one[k][0] for one in at] for k in (1, 2)])


@dataclass(frozen=True, slots=True)
class Fresh:
    """Fresh charge of each case, per kilogram: one polynomial of the heat capacity, with its integrals.

    ``capacity`` has shape (order + 1, cases), in J/(kg K) by powers of T/1000 K; ``zero`` and ``level`` put enthalpy
    [J/kg] and entropy [J/(kg K)] at the level of the elements; ``gas_constant`` in J/(kg K).
    """

    capacity: Array
    zero: Array
    level: Array
    gas_constant: Array

    def cp(self, temperature: Array) -> Array:
        """Return the heat capacity at constant pressure. [J/(kg K)]"""
        return _horner(self.capacity, temperature / 1000.0)

    def enthalpy(self, temperature: Array) -> Array:
        """[J/kg]"""
        x = temperature / 1000.0
        c = self.capacity
        total: Array = c[-1] / len(c)
        for k in range(len(c) - 2, -1, -1):
            total = total * x + c[k] / (k + 1)
        found: Array = self.zero + 1000.0 * total * x
        return found

    def entropy(self, temperature: Array) -> Array:
        """Of its species each at 1 bar, without that of mixing, which does not change. [J/(kg K)]"""
        x = temperature / 1000.0
        c = self.capacity
        total: Array = c[-1] / (len(c) - 1)
        for k in range(len(c) - 2, 0, -1):
            total = total * x + c[k] / k
        found: Array = self.level + c[0] * np.log(x) + total * x
        return found


def _horner(coefficients: Array, x: Array) -> Array:
    total: Array = coefficients[-1]
    for one in coefficients[-2::-1]:
        total = total * x + one
    return total


def weighed(weights: Array, amounts: Array) -> Array:
    """Return sums of amounts: the same digits for a case whatever stands beside it, which a matrix product is not.

    Parameters
    ----------
    weights : array of shape (species,) or (species, sums)
    amounts : array of shape (species, cases)

    Returns
    -------
    array of shape (cases,) or (sums, cases)
    """
    each = weights[..., None]
    total: Array = each[0] * amounts[0]
    for weight, amount in zip(each[1:], amounts[1:], strict=True):
        total = total + weight * amount
    return total


def fresh(names: tuple[str, ...], amounts: Array) -> Fresh:
    """Return the fresh charge of cases.

    Parameters
    ----------
    names : tuple of str
        Species.
    amounts : array of shape (species, cases)
        [mol/kg]
    """
    per_mole = _fresh_coefficients(names) * R
    capacity = weighed(per_mole, amounts)
    constant = R * amounts.sum(axis=0)
    enthalpy, entropy = weighed(_reference(names).T, amounts)
    bare = Fresh(capacity, np.zeros_like(constant), np.zeros_like(constant), constant)
    start = np.full_like(constant, 298.15)
    return Fresh(capacity, enthalpy - bare.enthalpy(start), entropy - bare.entropy(start), constant)
