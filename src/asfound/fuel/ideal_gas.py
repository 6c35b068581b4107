"""Heat capacity, enthalpy and entropy of a gas mixture at vanishing pressure."""

from __future__ import annotations

from functools import cache

import numpy as np

from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

GAS_CONSTANT = 8.31451  # J/(mol K), the value that goes with these coefficients in both equations of state
ZERO_TEMPERATURE, ZERO_PRESSURE = 298.15, 101_325.0  # enthalpy and entropy of each ideal gas are zero here


@cache
def _coefficients(names: tuple[str, ...]) -> tuple[Array, Array, Array]:
    rows = {row["component"]: row for row in load_csv("asfound.fuel", "data/ideal_gas_heat.csv")}
    own = np.array([float(rows[name]["n3"]) for name in names])
    n = np.array([[float(rows[name][f"n{k}"]) for name in names] for k in (4, 5, 6, 7)])
    theta = np.array([[float(rows[name][f"theta{k}"]) for name in names] for k in (4, 5, 6, 7)])
    return own, np.where(theta > 0, n, 0.0), np.where(theta > 0, theta, 1.0)


def _parts(names: tuple[str, ...], temperature: Array) -> tuple[Array, Array, Array]:
    """Return heat capacity, enthalpy, entropy of each component, all over R, the last two without their zero."""
    own, n, theta = _coefficients(names)
    capacity = np.repeat(own[:, None], temperature.size, axis=1)
    enthalpy = own[:, None] * temperature
    entropy = own[:, None] * np.log(temperature)
    for row in range(4):
        by, at = n[row][:, None], theta[row][:, None] / temperature
        if row % 2 == 0:  # sinh
            capacity += by * (at / np.sinh(at)) ** 2
            enthalpy += by * temperature * at / np.tanh(at)
            entropy += by * (at / np.tanh(at) - np.log(np.sinh(at)))
        else:  # cosh
            capacity += by * (at / np.cosh(at)) ** 2
            enthalpy -= by * temperature * at * np.tanh(at)
            entropy -= by * (at * np.tanh(at) - np.log(np.cosh(at)))
    return capacity, enthalpy, entropy


def ideal_gas(names: tuple[str, ...], fractions: Array, temperature: Array) -> tuple[Array, Array, Array]:
    """Return isobaric heat capacity, enthalpy, and entropy at 101.325 kPa of ideal mixtures.

    Parameters
    ----------
    names : tuple of str
        Components.
    fractions : array [component, gas]
        [mol/mol]
    temperature : array [gas]
        [K]

    Returns
    -------
    tuple of array
        [J/(mol K)], [J/mol], [J/(mol K)]; enthalpy and entropy from the ideal components at 298.15 K, 101.325 kPa.

    References
    ----------
    .. [1] Heat capacities of Jaeschke and Schley (1995), as AGA Report No. 8 and GERG-2008 print them.
    """
    capacity, enthalpy, entropy = _parts(names, temperature)
    _, zero_enthalpy, zero_entropy = _parts(names, np.array([ZERO_TEMPERATURE]))
    with np.errstate(divide="ignore", invalid="ignore"):
        mixing = np.where(fractions > 0, fractions * np.log(fractions), 0.0).sum(0)
    return (
        GAS_CONSTANT * (fractions * capacity).sum(0),
        GAS_CONSTANT * (fractions * (enthalpy - zero_enthalpy)).sum(0),
        GAS_CONSTANT * ((fractions * (entropy - zero_entropy)).sum(0) - mixing),
    )
