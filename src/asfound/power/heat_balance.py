"""The heat balance of an engine: where the heat of the fuel goes.

All on the net heating value at 25 °C, the water of combustion as vapour: the heat that condensing it would give is in
no term. Who counts on the gross value has it as a term of its own (`latent_share`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from asfound.quantities.typing import Values

HEAT_OF_CARBON_MONOXIDE = 282.98e3  # J/mol, net, 25 °C: ISO 6976:2016, Table 3
HEAT_OF_HYDROGEN = 241.81e3  # J/mol, net, 25 °C: ISO 6976:2016, Table 3 less the heat of vaporisation
OIL_HEAT_CAPACITY = 1.77e6
"""Of engine oil near 85 °C by volume: 845 kg/m³ times 2.09 kJ/(kg K), within 4 per cent; common practice. [J/(m³ K)]"""


class Balance(NamedTuple):
    """Rest of a balance and its share of the net heat of the fuel."""

    rest: Values
    """[W]"""
    share: Values
    """[1]"""


def rest(
    fuel: Values, work: Values, exhaust: Values, air: Values, jacket: Values, auxiliary: Values, unburned: Values
) -> Balance:
    """Return what the terms of the balance leave unexplained: radiation, pumps, and every error of the readings.

    Parameters
    ----------
    fuel : float or array
        Net heat of the fuel. [W]
    work : float or array
        At the shaft. [W]
    exhaust, air : float or array
        Heat above 25 °C that goes out with the exhaust and comes in with the air. [W]
    jacket, auxiliary, unburned : float or array
        Into the waters; net heat of what did not burn. [W]

    Returns
    -------
    Balance
        nan without fuel.

    Examples
    --------
    >>> one = rest(2500e3, 1000e3, 738e3, 0.0, 450e3, 200e3, 40e3)
    >>> print(f"{one.rest / 1e3:.0f} kW, {100 * one.share:.1f} %")
    72 kW, 2.9 %
    """
    with np.errstate(all="ignore"):
        heat = np.where(np.greater(fuel, 0), fuel, np.nan)
        left = heat + air - work - exhaust - jacket - auxiliary - unburned
        return Balance(left, left / heat)


def share(part: Values, fuel: Values) -> Values:
    """Return a term over the heat of the fuel; nan without fuel. [1]"""
    with np.errstate(all="ignore"):
        return np.divide(part, np.where(np.greater(fuel, 0), fuel, np.nan))


def latent_share(gross: Values, net: Values) -> Values:
    """Return the heat of condensing the water of combustion over the gross heat of the fuel.

    Examples
    --------
    Methane has 55.5 MJ/kg gross and 50.0 net:

    >>> print(f"{100 * latent_share(55.516, 50.03):.1f} %")
    9.9 %
    """
    return share(np.subtract(gross, net), gross)


def unburned(
    fuel_moles: Values,
    dry: Values,
    wet: Values,
    monoxide: Values,
    hydrocarbons: Values,
    heat_per_carbon: Values,
    hydrogen_beside: Values = 0.0,
) -> Values:
    """Return the net heat of carbon monoxide and hydrocarbons in the exhaust.

    Parameters
    ----------
    fuel_moles : float or array
        Gas burned. [mol/s]
    dry, wet : float or array
        Exhaust of a mole of gas. [mol/mol]
    monoxide : float or array
        In dry exhaust. [mol/mol]
    hydrocarbons : float or array
        In wet exhaust, counted as one carbon. [mol/mol]
    heat_per_carbon : float or array
        Net heat of the gas over its carbon; 802 kJ/mol of methane. [J/mol]
    hydrogen_beside : float or array
        Hydrogen over carbon monoxide, for rich exhaust: analysers do not see it. [mol/mol]

    Returns
    -------
    float or array
        [W]
    """
    with np.errstate(all="ignore"):
        beside = np.multiply(hydrogen_beside, HEAT_OF_HYDROGEN)
        per_mole = dry * np.multiply(monoxide, HEAT_OF_CARBON_MONOXIDE + beside)
        per_mole = per_mole + wet * np.multiply(hydrocarbons, heat_per_carbon)
        return np.multiply(fuel_moles, per_mole)


def oil_heat(flow: Values, hot: Values, cold: Values) -> Values:
    """Return the heat that the oil loses in its cooler; nan without flow. [W]

    Parameters
    ----------
    flow : float or array
        [m³/s]
    hot, cold : float or array
        Out of the engine, and back into it. [K]
    """
    with np.errstate(all="ignore"):
        return np.where(np.greater(flow, 0), flow * OIL_HEAT_CAPACITY * np.subtract(hot, cold), np.nan)
