"""The air that an engine breathes: saturation pressure, humidity, density.

Arguments and answers are SI floats or arrays. Where there is no answer (a temperature at or below zero kelvin, a vapour
pressure above the barometer) the answer is nan.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

TRIPLE_POINT = 273.16  # K
MOLAR_MASS_WATER = 18.01528e-3  # kg/mol, as printed in 40 CFR 1066.615
MOLAR_MASS_DRY_AIR = 28.96559e-3  # kg/mol, as printed in 40 CFR 1066.615
MOLAR_MASS_DRY_AIR_CIPM = 28.96546e-3  # kg/mol, CIPM-2007, 400 umol/mol CO2
GAS_CONSTANT_CIPM = 8.314472  # J/(mol K), the value the CIPM-2007 equation was fitted with


def saturation_pressure(temperature: Values) -> Values:
    """Return the vapour pressure of water at saturation; below the triple point, over ice.

    Parameters
    ----------
    temperature : float or array
        Air temperature. [K]

    Returns
    -------
    float or array
        [Pa]

    References
    ----------
    .. [1] 40 CFR 1065.645(a), Equations -1 (liquid) and -2 (ice).

    Examples
    --------
    >>> print(f"{saturation_pressure(282.65):.3f} Pa")
    1186.581 Pa
    """
    t = np.asarray(temperature, dtype=float)
    with np.errstate(all="ignore"):
        ratio = np.where(t > 0, TRIPLE_POINT / t, np.nan)
        liquid = (
            10.79574 * (1 - ratio)
            + 5.02800 * np.log10(ratio)
            + 1.50475e-4 * (1 - 10 ** (-8.2969 * (1 / ratio - 1)))
            + 0.42873e-3 * (10 ** (4.76955 * (1 - ratio)) - 1)
            - 0.2138602
        )
        ice = -9.096853 * (ratio - 1) - 3.566506 * np.log10(ratio) + 0.876812 * (1 - 1 / ratio) - 0.2138602
        return 1000.0 * 10 ** np.where(t >= TRIPLE_POINT, liquid, ice)


def water_fraction(saturation: Values, relative_humidity: Values, pressure: Values) -> Values:
    """Return the mole fraction of water in air.

    Parameters
    ----------
    saturation : float or array
        Saturation pressure at the air's temperature. [Pa]
    relative_humidity : float or array
        [1]
    pressure : float or array
        Barometric pressure, absolute. [Pa]

    Returns
    -------
    float or array
        Mole of water in a mole of moist air; nan where it would not be below 1. [mol/mol]

    References
    ----------
    .. [1] x = RH p_sat / p: 40 CFR 1065.645(b), Equation -3.
    """
    with np.errstate(all="ignore"):
        x = np.divide(np.multiply(relative_humidity, saturation), pressure)
        return np.where((x >= 0) & (x < 1), x, np.nan)


def humidity_ratio(fraction: Values) -> Values:
    """Return the mass of water carried by a unit mass of dry air.

    Parameters
    ----------
    fraction : float or array
        Mole fraction of water in moist air. [mol/mol]

    Returns
    -------
    float or array
        [kg/kg]

    References
    ----------
    .. [1] H = M_water p_w / (M_air (p - p_w)): 40 CFR 1066.615, Equation -1, with its molar masses.

    Examples
    --------
    The worked example of the section prints 7.14741 g/kg (saturation 2.93 kPa, 37.5 %, 96.71 kPa).

    >>> print(f"{1000 * humidity_ratio(water_fraction(2930.0, 0.375, 96710.0)):.5f} g/kg")
    7.14741 g/kg
    """
    with np.errstate(all="ignore"):
        x = np.asarray(fraction, dtype=float)
        return MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR * x / np.where(x < 1, 1 - x, np.nan)


def moist_air_density(temperature: Values, pressure: Values, fraction: Values) -> Values:
    """Return the density of moist air as a real gas.

    The equation was made for 15 to 27 degrees Celsius and 60 to 110 kPa; from -20 to 50 degrees it stays within
    0.05 % of other real-gas tables, which is far below what a barometer on site is worth.

    Parameters
    ----------
    temperature : float or array
        [K]
    pressure : float or array
        Absolute. [Pa]
    fraction : float or array
        Mole fraction of water. [mol/mol]

    Returns
    -------
    float or array
        [kg/m³]

    References
    ----------
    .. [1] CIPM-2007: A. Picard, R. S. Davis, M. Glaeser, K. Fujii, Metrologia 45 (2008) 149-155, Equation 1 and
       appendix A1; coefficients from memory, and the same in several public implementations.

    Examples
    --------
    >>> print(f"{moist_air_density(288.15, 101325.0, 0.0):.4f} kg/m3")
    1.2255 kg/m3
    """
    with np.errstate(all="ignore"):
        kelvin = np.where(np.asarray(temperature, dtype=float) > 0, temperature, np.nan)
        t, p_t, x = kelvin - 273.15, np.divide(pressure, kelvin), np.asarray(fraction, dtype=float)
        compressibility = (
            1
            - p_t
            * (
                1.58123e-6
                - 2.9331e-8 * t
                + 1.1043e-10 * t**2
                + (5.707e-6 - 2.051e-8 * t) * x
                + (1.9898e-4 - 2.376e-6 * t) * x**2
            )
            + p_t**2 * (1.83e-11 - 0.765e-8 * x**2)
        )
        lightening = 1 - x * (1 - MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR_CIPM)
        density: Values = p_t * MOLAR_MASS_DRY_AIR_CIPM / (GAS_CONSTANT_CIPM * compressibility) * lightening
        return density
