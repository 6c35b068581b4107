"""Water in the exhaust, and the way between wet and dry readings.

A probe in the hot exhaust reads wet; an analyser behind a cooler reads dry, or nearly so: at 5 °C the sample still
carries 0.86 % water. The humidity of the intake air changes no dry reading at a given lambda, only the wet ones.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust.balance import MOLAR_MASS_WATER, exhaust
from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR, stoichiometric_oxygen
from asfound.exhaust.mixture_balance import ABOUT_ZERO
from asfound.fuel.stoichiometry import MOLAR_MASS_DRY_AIR
from asfound.fuel.water import saturation_pressure
from asfound.quantities.typing import Values

COOLED_SAMPLE = 1.008
"""Of the short form: the sample behind a cooler is not bone-dry."""
COLDEST, HOTTEST = 273.16, 373.15  # K; the dew point of exhaust at any site lies between


def water_fraction(
    ratio: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, humidity: Values = 0.0
) -> Values:
    """Return the mole fraction of water in wet exhaust, from lambda.

    Parameters
    ----------
    ratio : float or array
        [1]
    carbon, hydrogen, fuel_oxygen, nitrogen : float or array
        Atoms in a mole of the gas. [mol/mol]
    humidity : float or array
        Water for each mole of dry air. [mol/mol]

    Returns
    -------
    float or array
        [mol/mol]

    Examples
    --------
    >>> print(f"{100 * water_fraction(1.6, 1, 4, 0, 0):.4f} %")
    12.2892 %
    """
    found = exhaust(ratio, carbon, hydrogen, fuel_oxygen, nitrogen, humidity=humidity)
    with np.errstate(all="ignore"):
        return found.water / found.wet


def water_fraction_from_oxygen(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, humidity: Values = 0.0
) -> Values:
    """Return the mole fraction of water in wet exhaust, from dry oxygen; gas and humidity as in `water_fraction`.

    References
    ----------
    .. [1] Without excess air a mole of gas leaves V dry exhaust; with it V 0.2095 / (0.2095 - O2), and all that it has
       more is air.

    Examples
    --------
    >>> print(f"{100 * water_fraction_from_oxygen(0.084066, 1, 4, 0, 0):.3f} %")
    12.289 %
    """
    need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
    with np.errstate(all="ignore"):
        left = np.subtract(OXYGEN_IN_DRY_AIR, oxygen)
        air = need / OXYGEN_IN_DRY_AIR
        without = np.add(carbon, np.divide(nitrogen, 2)) + (1 - OXYGEN_IN_DRY_AIR) * air
        excess = without * oxygen / np.where(left > 0, left, np.nan)
        steam = np.divide(hydrogen, 2) + np.multiply(humidity, air + excess)
        answer: Values = steam / (without + excess + steam)
        return answer


def lambda_from_wet_oxygen(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, humidity: Values = 0.0
) -> Values:
    """Return lambda from the oxygen of wet exhaust, as a probe in the hot exhaust reads it.

    Parameters
    ----------
    oxygen : float or array
        In wet exhaust, lean. [mol/mol]
    carbon, hydrogen, fuel_oxygen, nitrogen, humidity
        As in `water_fraction`.

    Returns
    -------
    float or array
        nan where air itself would hold no more oxygen. [1]

    References
    ----------
    .. [1] lambda = (a + O V) / (a - O A (1 + m)), V = x + w/2 + y/2 - a, A = a / 0.2095: balance of the elements for
       a gas C_x H_y O_z N_w with oxygen need a; m the humidity.

    Examples
    --------
    >>> print(f"{lambda_from_wet_oxygen(0.073735, 1, 4, 0, 0):.3f}")
    1.600
    """
    need = stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen)
    with np.errstate(all="ignore"):
        rest = np.add(carbon, np.divide(nitrogen, 2)) + np.divide(hydrogen, 2) - need
        left = need - oxygen * need / OXYGEN_IN_DRY_AIR * np.add(1, humidity)
        answer: Values = (need + oxygen * rest) / np.where(
            (left > 0) & (np.asarray(oxygen) >= ABOUT_ZERO), left, np.nan
        )
        return answer


def dry_from_wet(fraction: Values, water: Values) -> Values:
    """Return a dry mole fraction from a wet one; nan unless water is below all. [mol/mol]

    References
    ----------
    .. [1] C_dry = C_wet / (1 - B_ws), as in US EPA Methods 7E and 3A.

    Examples
    --------
    >>> print(f"{dry_from_wet(0.15, 0.15):.6f}")
    0.176471
    """
    with np.errstate(all="ignore"):
        w = np.asarray(water, dtype=float)
        return fraction / np.where((w >= 0) & (w < 1), 1 - w, np.nan)


def wet_from_measured(fraction: Values, water_measured: Values, water_exhaust: Values) -> Values:
    """Return a wet mole fraction from that of a sample which lost some, not all, of its water. [mol/mol]

    References
    ----------
    .. [1] x = x_meas (1 - x_H2Oexh) / (1 - x_H2Omeas): 40 CFR 1065.659, Equation -1.

    Examples
    --------
    >>> print(f"{1e6 * wet_from_measured(412e-6, 0.0086, 0.1105):.6f} ppm")
    369.653016 ppm
    """
    return dry_from_wet(fraction, water_measured) * np.subtract(1, water_exhaust)


def short_form_factor(
    carbon_dioxide: Values,
    carbon: Values,
    hydrogen: Values,
    co: Values = 0.0,
    humidity_ratio: Values = 0.0,
    *,
    cooled: bool = True,
) -> Values:
    """Return wet over measured by the short form of the ISO 8178 family.

    Its 1.008 belongs to a sample that leaves a cooler with its last 0.8 % of water. Without it the form is one less the
    water of the exhaust: exact in dry air, 0.3 to 0.5 % low at 10 g/kg; with it 0.3 to 0.8 % above that.

    Parameters
    ----------
    carbon_dioxide, co : float or array
        Dry. [mol/mol]
    carbon, hydrogen : float or array
        Atoms in a mole of the gas. [mol/mol]
    humidity_ratio : float or array
        Water of the intake air by mass of dry air. [kg/kg]
    cooled : bool
        The sample left a cooler and is not bone-dry.

    Returns
    -------
    float or array
        Wet concentration over measured. [1]

    References
    ----------
    .. [1] k_w = (1 / (1 + alpha 0.005 (CO2 + CO)) - k_w1) 1.008, k_w1 = 1.608 H / (1000 + 1.608 H); per cent and g/kg:
       ISO 8178 family, from memory.

    Examples
    --------
    >>> print(f"{short_form_factor(0.070055, 1, 4, cooled=False):.4f}")
    0.8771
    """
    with np.errstate(all="ignore"):
        alpha = hydrogen / np.where(np.asarray(carbon, dtype=float) > 0, carbon, np.nan)
        per_cent = 100 * np.add(carbon_dioxide, co)
        grams = 1000 * np.asarray(humidity_ratio, dtype=float)
        of_air = 1.608 * grams / (1000 + 1.608 * grams)
        factor: Values = 1 / (1 + alpha * 0.005 * per_cent) - of_air
        return factor * COOLED_SAMPLE if cooled else factor


def saturated_sample(temperature: Values, pressure: Values) -> Values:
    """Return the water left in a sample that leaves its cooler saturated; nan outside the liquid's range. [mol/mol]

    >>> print(f"{100 * saturated_sample(278.15, 101325.0):.2f} % at 5 C")
    0.86 % at 5 C
    """
    with np.errstate(all="ignore"):
        t, p = np.asarray(temperature, dtype=float), np.asarray(pressure, dtype=float)
        found = saturation_pressure(t) / np.where(p > 0, p, np.nan)
        return np.where((t <= HOTTEST) & (found < 1), found, np.nan)


def exhaust_dew_point(water: Values, pressure: Values) -> Values:
    """Return the temperature at which water begins to drop out of the exhaust.

    Parameters
    ----------
    water : float or array
        In wet exhaust. [mol/mol]
    pressure : float or array
        Absolute. [Pa]

    Returns
    -------
    float or array
        nan outside 0 to 100 °C. [K]

    Examples
    --------
    >>> print(f"{exhaust_dew_point(0.16944, 101325.0) - 273.15:.1f} C")
    56.8 C
    """
    with np.errstate(all="ignore"):
        wanted = np.log(np.multiply(water, pressure))
        near = np.clip(wanted - np.log(610.94), -1.0, 6.0)
        celsius = 243.04 * near / (17.625 - near)  # Magnus form: within 0.5 K, its slope within 2 %
        slope = 17.625 * 243.04 / (243.04 + celsius) ** 2
        t = celsius + 273.15
        for _ in range(3):
            t = t - (np.log(saturation_pressure(t)) - wanted) / slope
        return np.where((t >= COLDEST) & (t <= HOTTEST), t, np.nan)


def humidity_by_mass(humidity: Values) -> Values:
    """Return mass of water over mass of dry air, from moles of water for a mole of dry air. [kg/kg]"""
    return np.multiply(humidity, MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR)
