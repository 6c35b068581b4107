"""What a gas carries besides its heat: sulfur, water, air that got into the sample; what the sulfur becomes.

A mass per normal cubic metre here counts at 0 °C and 101.325 kPa by the law of the ideal gas, as everywhere.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT, NORMAL_TEMPERATURE
from asfound.quantities.typing import Array, Values

NORMAL_MOLAR_VOLUME = GAS_CONSTANT * NORMAL_TEMPERATURE / ATMOSPHERE  # m3/mol
MOLAR_MASS_SULFUR = 32.065e-3  # kg/mol, ISO 6976:2016 annex A
MOLAR_MASS_HYDROGEN_SULFIDE = 34.08088e-3  # kg/mol, ISO 6976:2016 Table 1
MOLAR_MASS_SULFUR_DIOXIDE = 64.0638e-3  # kg/mol, sum of the atomic masses of the same annex
MOLAR_MASS_WATER = 18.01528e-3  # kg/mol
OXYGEN_IN_AIR, NITROGEN_IN_AIR = 0.20939, 0.78102  # mol/mol, dry air, CIPM-2007


def mass_of(fraction: Values, molar_mass: float) -> Values:
    """Return the mass of a trace over the normal volume of the gas. [kg/m³(n)]

    Parameters
    ----------
    fraction : float or array
        Of the trace. [mol/mol]
    molar_mass : float
        [kg/mol]

    Examples
    --------
    >>> print(f"{1e6 * mass_of(3e-6, MOLAR_MASS_HYDROGEN_SULFIDE):.2f} mg/m3(n)")
    4.56 mg/m3(n)
    """
    return np.multiply(fraction, molar_mass / NORMAL_MOLAR_VOLUME)


def fraction_of(
    mass: Values, molar_mass: float, temperature: float = NORMAL_TEMPERATURE, pressure: float = ATMOSPHERE
) -> Values:
    """Return the mole fraction of a trace from its mass over a gas volume counted at a stated temperature and pressure.

    Parameters
    ----------
    mass : float or array
        [kg/m³]
    molar_mass : float
        [kg/mol]
    temperature, pressure : float
        State at which the report counts its cubic metres; the gas is taken as ideal (within 0.3 %). [K], [Pa]

    Examples
    --------
    >>> print(f"{1e6 * fraction_of(4.56e-6, MOLAR_MASS_HYDROGEN_SULFIDE):.2f} ppm")
    3.00 ppm
    """
    return np.multiply(mass, GAS_CONSTANT * temperature / pressure / molar_mass)


def sulfur_of_hydrogen_sulfide(fraction: Values) -> Values:
    """Return the sulfur that hydrogen sulfide brings; other sulfur compounds come on top. [kg/m³(n)]"""
    return mass_of(fraction, MOLAR_MASS_SULFUR)


def sulfur_dioxide_per_heat(sulfur: Values, gross_heating_value: Values) -> Array:
    """Return the sulfur dioxide that the sulfur of the gas burns to, over gross heat. [kg/J]

    Parameters
    ----------
    sulfur : float or array
        Of all compounds. [kg/m³(n)]
    gross_heating_value : float or array
        At the same state of the volume. [J/m³(n)]

    References
    ----------
    .. [1] Each atom of sulfur leaves as SO2: balance of mass. What becomes SO3 or stays in the oil is counted as SO2.
    """
    with np.errstate(all="ignore"):
        heat = np.where(np.asarray(gross_heating_value) > 0, gross_heating_value, np.nan)
        answer: Array = np.multiply(sulfur, MOLAR_MASS_SULFUR_DIOXIDE / MOLAR_MASS_SULFUR) / heat
    return answer


def air_in_the_sample(oxygen: Values, nitrogen: Values) -> Array:
    """Return the most air that can have got into a sample, by its oxygen and its nitrogen. [mol/mol]

    The smaller of the two answers: gas from the ground has nitrogen and no oxygen, so all oxygen is taken to be air's
    unless there is too little nitrogen for that.
    """
    return np.minimum(np.divide(oxygen, OXYGEN_IN_AIR), np.divide(nitrogen, NITROGEN_IN_AIR))
