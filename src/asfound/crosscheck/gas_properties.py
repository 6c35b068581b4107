"""Properties of air, exhaust, coolant and compressed gas as polynomials, fitted to what the rooms below compute.

Balances are solved with derivatives by a complex step, some dozen times for a visit. Tables and equations of state
of `fuel` and `power` are exact but neither complex nor quick; over the range of an engine polynomials follow them to
2e-4 and better (a test says how well). They are fitted once for a gas, a coolant, a window of pressures.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial import chebyshev, polynomial

from asfound.crosscheck.arrays import Any_
from asfound.fuel import real_gas
from asfound.fuel.ideal_gas import ideal_gas
from asfound.power import coolant
from asfound.power.site_air import saturation_pressure
from asfound.quantities.constants import GAS_CONSTANT
from asfound.quantities.typing import Array

REFERENCE = 298.15
"""Heat is counted above 25 °C, as the net heating value is. [K]"""
SPECIES = ("nitrogen", "oxygen", "carbon_dioxide", "water", "argon", "carbon_monoxide")
COLDEST, HOTTEST = 240.0, 1150.0
_DEGREE = 6
_T_DEGREE, _P_DEGREE = 5, 5


@lru_cache(maxsize=64)
def heat_coefficients(names: tuple[str, ...], fractions: tuple[float, ...] | None = None) -> Array:
    """Return coefficients of the heat above 25 °C in a mole, in powers of T / 1000 K. [J/mol]

    Shape (species, degree + 1), or (1, degree + 1) for a mixture of these fractions.
    """
    kelvin = np.linspace(COLDEST, HOTTEST, 120)
    shares = np.eye(len(names)) if fractions is None else np.array([fractions])
    made = []
    for share in shares:
        column = np.repeat(share[:, None], kelvin.size, axis=1)
        _, enthalpy, _ = ideal_gas(names, column, kelvin)
        _, zero, _ = ideal_gas(names, share[:, None], np.array([REFERENCE]))
        made.append(polynomial.polyfit(kelvin / 1000, enthalpy - zero, _DEGREE))
    return np.array(made)


def heat_of(coefficients: Array, temperature: Any_) -> Any_:
    """Return heat above 25 °C of each row at temperatures (t, ...) [K]: shape (rows, t, ...). [J/mol]"""
    made = powers(temperature / 1000, coefficients.shape[1] - 1)
    found: Any_ = (coefficients @ made.reshape(len(made), -1)).reshape(len(coefficients), *np.shape(temperature))
    return found


def powers(x: Any_, degree: int) -> Any_:
    """Return x to the powers from 0 up, along a new first axis."""
    rows = np.empty((degree + 1, *np.shape(x)), dtype=x.dtype)
    rows[0], rows[1:] = 1.0, x
    np.multiply.accumulate(rows, axis=0, out=rows)
    return rows


def horner(coefficients: Array, x: Any_) -> Any_:
    """Return a polynomial, coefficients from the lowest power up."""
    powers = coefficients.tolist()
    total = powers[-1] * x + powers[-2]
    for coefficient in powers[-3::-1]:
        total = total * x + coefficient
    return total


@lru_cache(maxsize=16)
def heat_of_coolant(glycol: float) -> Array:
    """Return coefficients of density times heat capacity in powers of T / 100 K. [J/(m³ K)]"""
    kelvin = np.linspace(275.0, 383.0, 60)
    carried = np.asarray(coolant.density(kelvin, glycol)) * np.asarray(coolant.heat_capacity(kelvin, glycol))
    return np.asarray(polynomial.polyfit(kelvin / 100, carried, 4))


@lru_cache(maxsize=1)
def _saturation() -> Array:
    kelvin = np.linspace(273.2, 333.0, 80)
    return np.asarray(polynomial.polyfit(300 / kelvin - 1, np.log(np.asarray(saturation_pressure(kelvin))), 5))


def saturation(temperature: Any_) -> Any_:
    """Return the vapour pressure over liquid water, as `power.site_air.saturation_pressure` from 0 to 60 °C. [Pa]"""
    return np.exp(horner(_saturation(), 300 / temperature - 1))


@dataclass(frozen=True, slots=True, eq=False)
class RealGas:
    """Compressibility, enthalpy and entropy of a gas mixture in a window of temperature and pressure, by GERG-2008."""

    coefficients: Array
    """Of Z, enthalpy [J/mol] and entropy + R ln p [J/(mol K)] in powers of temperature and pressure: (3, t, p)."""
    heat_capacity: Array
    """Of the ideal gas, powers of T / 1000 K. [J/(mol K)]"""
    temperatures: tuple[float, float]
    pressures: tuple[float, float]
    molar_mass: float

    def at(self, temperature: Any_, pressure: Any_) -> tuple[Any_, Any_, Any_]:
        """Return Z [1], enthalpy [J/mol] and entropy [J/(mol K)]; beyond the window as at its edge."""
        t = _within(temperature, self.temperatures)
        p = _within(pressure, self.pressures)
        by_t, by_p = (powers(of, degree).reshape(degree + 1, -1) for of, degree in ((t, _T_DEGREE), (p, _P_DEGREE)))
        along = (self.coefficients.reshape(-1, _P_DEGREE + 1) @ by_p).reshape(3, _T_DEGREE + 1, -1)
        found = (along * by_t).sum(axis=1).reshape(3, *np.shape(temperature))
        return found[0], found[1], found[2] - GAS_CONSTANT * np.log(pressure)

    def exponent(self, temperature: Any_) -> Any_:
        """Return the ratio of heat capacities of the gas at no pressure. [1]"""
        capacity = horner(self.heat_capacity, temperature / 1000)
        return capacity / (capacity - GAS_CONSTANT)

    def isentropic(self, temperature: Any_, state: tuple[Any_, Any_, Any_], ratio: Any_, discharge: Any_) -> Any_:
        """Return the least work of compression. [J/mol]

        The gas is looked at where an ideal gas would end, some kelvin beside the end; from there the enthalpy follows
        along constant pressure, dh = T ds, to the second order: what is left out is below 0.05 J/mol.

        Parameters
        ----------
        temperature : array
            At suction. [K]
        state : tuple of arrays
            What `at` gives there.
        ratio, discharge : array
            Pressure ratio [1], discharge pressure [Pa].
        """
        _, enthalpy, entropy = state
        k = self.exponent(temperature * (1 + 0.13 * np.log(ratio)))
        hot = temperature * ratio ** ((k - 1) / k)
        _, end, found = self.at(hot, discharge)
        capacity = horner(self.heat_capacity, hot / 1000) * 1.08
        lacking = entropy - found
        return end + hot * lacking * (1 + lacking / (2 * capacity)) - enthalpy


@lru_cache(maxsize=8)
def real_gas_window(
    fractions: tuple[float, ...], coldest: float, hottest: float, lowest: float, highest: float
) -> RealGas:
    """Return the polynomials of a gas (mole fractions in the order of `real_gas.COMPONENTS`) for a window [K], [Pa]."""
    rows, columns = 2 * _T_DEGREE + 2, 2 * _P_DEGREE + 2
    nodes_t, nodes_p = chebyshev.chebpts1(rows), chebyshev.chebpts1(columns)
    kelvin = _from(nodes_t, coldest, hottest)
    pascal = _from(nodes_p, lowest, highest)
    t, p = (one.ravel() for one in np.meshgrid(kelvin, pascal, indexing="ij"))
    state = real_gas.gas_state(np.array(fractions), t, p, equation="gerg")
    wanted = np.stack([state.compressibility, state.enthalpy, state.entropy + GAS_CONSTANT * np.log(p)])
    there = np.isfinite(wanted).all(axis=0)
    u, v = (one.ravel() for one in np.meshgrid(nodes_t, nodes_p, indexing="ij"))
    design = chebyshev.chebvander2d(u[there], v[there], [_T_DEGREE, _P_DEGREE])
    found = np.linalg.lstsq(design, wanted[:, there].T, rcond=None)[0].T
    ideal = np.linspace(coldest, hottest, 40)
    there_are = [at for at, one in enumerate(fractions) if one > 0]
    names = tuple(real_gas.COMPONENTS[at] for at in there_are)
    shares = np.array([fractions[at] for at in there_are])
    capacity, _, _ = ideal_gas(names, np.repeat((shares / shares.sum())[:, None], ideal.size, axis=1), ideal)
    terms = found.reshape(3, _T_DEGREE + 1, _P_DEGREE + 1)
    return RealGas(
        coefficients=np.einsum("qij,ik,jl->qkl", terms, _as_powers(_T_DEGREE), _as_powers(_P_DEGREE)),
        heat_capacity=np.asarray(polynomial.polyfit(ideal / 1000, capacity, 4)),
        temperatures=(coldest, hottest),
        pressures=(lowest, highest),
        molar_mass=float(state.molar_mass.ravel()[0]),
    )


def _as_powers(degree: int) -> Array:
    """Return coefficients of the Chebyshev polynomials up to a degree in powers of x, (degree + 1, powers)."""
    rows = np.zeros((degree + 1, degree + 1))
    for at in range(degree + 1):
        rows[at, : at + 1] = chebyshev.cheb2poly(np.eye(degree + 1)[at, : at + 1])
    return rows


def _from(nodes: Array, low: float, high: float) -> Array:
    return (high + low) / 2 + (high - low) / 2 * nodes


def _within(value: Any_, window: tuple[float, float]) -> Any_:
    """Return a value as -1 to 1 of its window; beyond the window it stays at the edge."""
    low, high = window
    found = (2 * value - (low + high)) / (high - low)
    return found if np.abs(found.real).max() <= 1.0 else np.where(np.abs(found.real) > 1.0, np.sign(found.real), found)
