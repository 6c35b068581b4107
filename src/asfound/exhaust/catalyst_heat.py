"""How warm a catalyst must get by what it converts: an energy balance without heat loss."""

from __future__ import annotations

from functools import cache

import numpy as np

from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR, excess_air_ratio, stoichiometric_oxygen
from asfound.fuel.ideal_gas import ideal_gas
from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv

EXHAUST = ("nitrogen", "oxygen", "carbon_dioxide", "water")
LOWEST, HIGHEST = 250.0, 1500.0
"""Temperatures that an exhaust may have; outside it the answer is nan. [K]"""


@cache
def heat(species: str) -> float:
    """Return the heat that a mole gives on the catalyst, water as vapour. [J/mol]"""
    rows = load_csv("asfound.exhaust", "data/catalyst_heats.csv")
    return next(float(row["heat"]) for row in rows if row["species"] == species)


def wet_exhaust(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, air_water: Values = 0.0
) -> tuple[Array, Array, Array, Array]:
    """Return nitrogen, oxygen, carbon dioxide and water in the wet exhaust of complete combustion. [mol/mol]

    Parameters
    ----------
    oxygen : float or array
        In dry exhaust. [mol/mol]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas burned. [mol/mol]
    air_water : float or array
        Water in the moist air. [mol/mol]
    """
    with np.errstate(all="ignore"):
        need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
        ratio = excess_air_ratio(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen)
        air = ratio * need / OXYGEN_IN_DRY_AIR
        moles = (
            np.divide(nitrogen, 2) + (1 - OXYGEN_IN_DRY_AIR) * air,
            (ratio - 1) * need,
            np.asarray(carbon) + 0 * air,
            np.divide(hydrogen, 2) + air * np.divide(air_water, np.subtract(1, air_water)),
        )
        all_ = moles[0] + moles[1] + moles[2] + moles[3]
        return moles[0] / all_, moles[1] / all_, moles[2] / all_, moles[3] / all_


@cache
def _table() -> Array:
    """Return the heat capacity of each gas of the exhaust, kelvin by kelvin. Shape (temperatures, gases)."""
    kelvin = np.arange(LOWEST, HIGHEST + 2.0)
    pure = np.eye(len(EXHAUST))
    found = [ideal_gas(EXHAUST, np.repeat(one[:, None], kelvin.size, axis=1), kelvin)[0] for one in pure]
    return np.stack(found, axis=1)


def heat_capacity(fractions: tuple[Values, Values, Values, Values], temperature: Values) -> Values:
    """Return the molar heat capacity of wet exhaust at constant pressure; nan outside 250 to 1,500 K. [J/(mol K)]

    Straight between whole kelvins of the ideal gases' own formula, which differs from it by less than 1e-6.
    """
    kelvin = np.asarray(temperature, dtype=float)
    good = (kelvin >= LOWEST) & (kelvin <= HIGHEST)
    above = np.where(good, kelvin, LOWEST) - LOWEST
    at = above.astype(np.intp)
    table, part = _table(), above - at
    found = sum(
        share * (table[at, gas] + part * (table[at + 1, gas] - table[at, gas])) for gas, share in enumerate(fractions)
    )
    return np.where(good, found, np.nan)


def temperature_rise(released: Values, fractions: tuple[Values, Values, Values, Values], inlet: Values) -> Values:
    """Return the temperature rise by heat released in the exhaust, without loss to the surroundings.

    The heat capacity is taken in the middle of the rise (two rounds; the third would change it by less than 0.01 K for
    any rise below 200 K).

    Parameters
    ----------
    released : float or array
        Heat for a mole of wet exhaust. [J/mol]
    fractions : tuple of float or array
        Nitrogen, oxygen, carbon dioxide, water in the wet exhaust. [mol/mol]
    inlet : float or array
        [K]

    References
    ----------
    .. [1] Energy balance; heat capacities of the ideal gases as in AGA Report No. 8 (see `fuel.ideal_gas`).

    Examples
    --------
    One per cent of CO burned in lean exhaust at 720 K.

    >>> lean = wet_exhaust(0.08, 1.0, 4.0, 0.0, 0.0)
    >>> print(f"{float(temperature_rise(0.01 * heat('co'), lean, 720.0)):.0f} K")
    85 K
    """
    with np.errstate(all="ignore"):
        rise = np.divide(released, heat_capacity(fractions, inlet))
        for _ in range(2):
            rise = np.divide(released, heat_capacity(fractions, np.add(inlet, rise / 2)))
        return rise


def converted(before: Values, oxygen_before: Values, after: Values, oxygen_after: Values, air: float) -> Values:
    """Return what was taken out of a dry mole at the inlet, dilution between the probes undone. [mol/mol]"""
    with np.errstate(all="ignore"):
        left = np.subtract(air, oxygen_after)
        return before - np.multiply(after, np.subtract(air, oxygen_before)) / np.where(left > 0, left, np.nan)
