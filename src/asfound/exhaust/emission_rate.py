"""From a concentration to what a permit counts: mass per energy, per heat, per hour."""

from __future__ import annotations

import numpy as np

from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE, mass_concentration
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR
from asfound.quantities.possible import above
from asfound.quantities.typing import Values

# Grams in a dry standard cubic metre (20 degrees Celsius) for 1 ppm, as the rule prints them: 40 CFR 60.4244(d)-(f).
RULE_CONSTANT = {"nox": 1.912e-3, "co": 1.164e-3, "voc": 1.833e-3}

F_FACTOR_NATURAL_GAS = 8710.0  # dry standard cubic feet for a million Btu gross: Method 19, Table 19-2
CUBIC_FOOT = 0.028316846592  # m3, exact
MILLION_BTU = 1055.05585262e6  # J, international table


def f_factor_si(dscf_per_million_btu: Values) -> Values:
    """Return an F factor in m³ at 20 degrees Celsius for a joule of gross heat.

    >>> print(f"{1e6 * f_factor_si(8710.0):.5f} m3/MJ")
    0.23377 m3/MJ
    """
    return np.multiply(dscf_per_million_btu, CUBIC_FOOT / MILLION_BTU)


def dry_exhaust_flow(heat_input: Values, oxygen: Values, f_factor: Values) -> Values:
    """Return the dry exhaust flow that a fuel meter implies.

    Parameters
    ----------
    heat_input : float or array
        Gross heat of the fuel burned per second. [W]
    oxygen : float or array
        In dry exhaust. [mol/mol]
    f_factor : float or array
        Dry exhaust without excess air for a joule of gross heat, at 20 degrees Celsius. [m³/J]

    Returns
    -------
    float or array
        At 20 degrees Celsius and 101.325 kPa, dry; nan at or above the oxygen of air. [m³/s]

    References
    ----------
    .. [1] Q = F_d H 20.9 / (20.9 - O2): Method 19, 40 CFR Part 60 Appendix A-7, Equation 19-1 solved for the flow.
    """
    with np.errstate(all="ignore"):
        left = above(np.subtract(OXYGEN_IN_AIR, oxygen))
        return np.multiply(f_factor, heat_input) * OXYGEN_IN_AIR / left


def mass_flow(fraction: Values, flow: Values, rule_constant: float) -> Values:
    """Return the mass emitted per second.

    Parameters
    ----------
    fraction : float or array
        Dry. [mol/mol]
    flow : float or array
        Dry exhaust at 20 degrees Celsius. [m³/s]
    rule_constant : float
        Grams in a dry standard cubic metre for 1 ppm, as the rule prints it. [g/(m³ ppm)]

    Returns
    -------
    float or array
        [kg/s]

    References
    ----------
    .. [1] The numerator of 40 CFR 60.4244(d), Equation 1.
    """
    return np.multiply(fraction, 1e6) * (rule_constant * 1e-3) * flow


def mass_per_energy(emitted: Values, power: Values) -> Values:
    """Return the mass emitted per unit of work at the shaft; nan where no power is carried.

    Parameters
    ----------
    emitted : float or array
        [kg/s]
    power : float or array
        [W]

    Returns
    -------
    float or array
        [kg/J]

    References
    ----------
    .. [1] ER = C K Q T / (HP-hr): 40 CFR 60.4244(d), Equation 1.
    """
    with np.errstate(all="ignore"):
        return emitted / above(power)


def mass_per_heat(fraction: Values, oxygen: Values, f_factor: Values, molar_mass: float) -> Values:
    """Return the mass emitted per joule of gross heat, without a fuel meter.

    Parameters
    ----------
    fraction, oxygen : float or array
        Both dry, same probe, same minute. [mol/mol]
    f_factor : float or array
        [m³/J]
    molar_mass : float
        [kg/mol]

    Returns
    -------
    float or array
        [kg/J]

    References
    ----------
    .. [1] E = C K F_d 20.9 / (20.9 - O2): Method 19, Equation 19-1 (from memory; the form is read in two other
       stored rules).
    """
    return mass_concentration(fraction, molar_mass, DRY_STANDARD_TEMPERATURE) * dry_exhaust_flow(1.0, oxygen, f_factor)


def annual_mass(emitted: Values, running: Values) -> Values:
    """Return the mass emitted in a year.

    Parameters
    ----------
    emitted : float or array
        While running. [kg/s]
    running : float or array
        Running time in the year; nan below zero. [s]

    Returns
    -------
    float or array
        [kg]

    Examples
    --------
    An engine of 74 hp at 0.031 lb/hp-h through a whole year: 10.05 short tons.

    >>> pound = 0.45359237
    >>> print(f"{annual_mass(74 * 0.031 * pound / 3600, 8760 * 3600) / (2000 * pound):.2f} short tons")
    10.05 short tons
    """
    with np.errstate(all="ignore"):
        time = np.asarray(running, dtype=float)
        return emitted * np.where(time >= 0, time, np.nan)


def energy_specific_of_limit(
    concentration: Values, dry_exhaust: Values, reference_oxygen: Values, efficiency: Values, oxygen_in_air: Values
) -> Values:
    """Return what a limit by mass in a cubic metre comes to per energy at the shaft, for a fuel and an efficiency.

    Parameters
    ----------
    concentration : float or array
        At the reference oxygen, dry. [kg/m³(n)]
    dry_exhaust : float or array
        Dry exhaust without excess air per net heat of the fuel. [m³(n)/J]
    reference_oxygen, oxygen_in_air : float or array
        [mol/mol]
    efficiency : float or array
        Work at the shaft over net heat of the fuel. [1]

    Returns
    -------
    float or array
        [kg/J]

    Examples
    --------
    500 mg/m3 at 5 % oxygen, methane, an engine of 40 %: 1.41 g/kWh.

    >>> dry = 0.31349691e-6 * (0.2095 - 0.05) / 0.2095
    >>> print(f"{3.6e9 * energy_specific_of_limit(500e-6, dry, 0.05, 0.40, 0.2095):.4f} g/kWh")
    1.4107 g/kWh
    """
    with np.errstate(all="ignore"):
        left = above(np.subtract(oxygen_in_air, reference_oxygen))
        return concentration * (dry_exhaust * np.asarray(oxygen_in_air, dtype=float) / left) / above(efficiency)


def weighted_over_cycle(weights: Values, emitted: Values, power: Values) -> Values:
    """Return the mass per energy of a test cycle: not the mean of the modes' own values.

    Parameters
    ----------
    weights : array
        (..., modes) of the cycle. [1]
    emitted : array
        (..., modes) [kg/s]
    power : array
        (..., modes) [W]

    Returns
    -------
    float or array
        (...,) [kg/J]

    References
    ----------
    .. [1] e = sum(w m) / sum(w P): ISO 8178-4.
    """
    with np.errstate(all="ignore"):
        work = np.asarray(np.multiply(weights, power), dtype=float).sum(axis=-1)
        mass = np.asarray(np.multiply(weights, emitted), dtype=float).sum(axis=-1)
        return np.asarray(mass / above(work))[()]
