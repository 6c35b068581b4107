"""Compression of the real gas: what the equation of state says of a stage that neither cools nor loses.

The gas is followed along its own entropy, so no mean exponent and no mean compressibility is needed. They are given
all the same, for the handbook's formula beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.fuel import real_gas
from asfound.fuel.ideal_gas import GAS_CONSTANT, ideal_gas
from asfound.quantities.typing import Array, Values

_STEPS = 2  # the guess is within some kelvin; what two steps leave is below 1e-9 of the work
_FIRST_EXPONENT = 1.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compression:
    """A gas taken along its entropy from suction to discharge pressure; arrays of one shape, nan without answer."""

    work: Array
    """Difference of enthalpy. [J/mol]"""
    temperature: Array
    """At discharge. [K]"""
    suction_compressibility: Array
    """[1]"""
    discharge_compressibility: Array
    """At the isentropic temperature. [1]"""
    exponent: Array
    """Ratio of heat capacities of the ideal gas at the mean of both temperatures. [1]"""
    molar_mass: Array
    """[kg/mol]"""


def compress(
    fractions: Array,
    temperature: Values,
    suction: Values,
    discharge: Values,
    *,
    equation: real_gas.Equation = "gerg",
) -> Compression:
    """Return what ideal compression does to a gas.

    Parameters
    ----------
    fractions : array [..., 21]
        Mole fractions in the order of `real_gas.COMPONENTS`, as there. [mol/mol]
    temperature : float or array
        At suction. [K]
    suction, discharge : float or array
        Absolute. [Pa]
    equation : 'gerg' or 'detail'
        GERG-2008 holds for 90 to 450 K and 35 MPa, which a discharge pipe needs.

    Returns
    -------
    Compression
        nan where the discharge pressure is not above suction. Whether the gas would condense is not tested.

    References
    ----------
    .. [1] AGA Report No. 8 Part 2 (2017), GERG-2008, enthalpy and entropy.

    Examples
    --------
    Pure methane from 40 to 100 bar at 310 K: the reference equation of methane gives 156.207 kJ/kg and 385.024 K.

    >>> found = compress(real_gas.composition({"methane": 1.0}), 310.0, 40e5, 100e5)
    >>> print(f"{found.work / found.molar_mass / 1000:.2f} kJ/kg, {found.temperature:.1f} K")
    156.21 kJ/kg, 385.0 K
    """
    t1, p1, p2 = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (temperature, suction, discharge)))
    with np.errstate(all="ignore"):
        ratio = p2 / np.where(p1 > 0, p1, np.nan)
        ratio = np.where(ratio > 1, ratio, np.nan)
    first = real_gas.gas_state(fractions, t1, p1, equation=equation)
    t2 = t1 * ratio ** ((_FIRST_EXPONENT - 1) / _FIRST_EXPONENT)
    for _ in range(_STEPS):
        last = real_gas.gas_state(fractions, t2, p2, equation=equation)
        lacking = first.entropy - last.entropy
        here = t2
        t2 = here * np.exp(lacking / last.isobaric_heat_capacity)
    # what is left to go is a fraction of a kelvin, along which the heat capacity stays: dh = T ds at constant pressure
    enthalpy = last.enthalpy + last.isobaric_heat_capacity * (t2 - here)
    return Compression(
        work=enthalpy - first.enthalpy,
        temperature=t2,
        suction_compressibility=np.where(np.isfinite(t2), first.compressibility, np.nan),
        discharge_compressibility=last.compressibility,
        exponent=ideal_exponent(fractions, (t1 + t2) / 2),
        molar_mass=first.molar_mass,
    )


def ideal_exponent(fractions: Array, temperature: Values) -> Array:
    """Return the ratio of heat capacities of the gas at no pressure; arguments as in `compress`. [1]"""
    t = np.asarray(temperature, dtype=float)
    x = np.asarray(fractions, dtype=float)
    shape = np.broadcast_shapes(x.shape[:-1], t.shape)
    flat = np.broadcast_to(t, shape).ravel()
    x = np.broadcast_to(x, (*shape, x.shape[-1])) if x.ndim > 1 else x
    gas = x.reshape(-1, x.shape[-1]).T / x.reshape(-1, x.shape[-1]).sum(axis=1)
    there = np.flatnonzero((gas > 0).any(axis=1))
    names = tuple(real_gas.COMPONENTS[at] for at in there)
    known = np.where(flat > 0, flat, np.nan)
    with np.errstate(all="ignore"):
        capacity, _, _ = ideal_gas(names, gas[there], known)
        answer: Array = (capacity / (capacity - GAS_CONSTANT)).reshape(shape)
    return answer
