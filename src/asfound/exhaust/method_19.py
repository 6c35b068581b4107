"""Mass for the heat of the fuel, without a flow: the other routes of Method 19, by wet readings and by carbon dioxide.

All concentrations of one call are on one basis: dry with dry, wet with wet. Heat is gross heat.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE, MOLAR_MASS, mass_concentration
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR
from asfound.quantities.possible import above
from asfound.quantities.typing import Values

F_CARBON_NATURAL_GAS = 1040.0  # standard cubic feet of CO2 for a million Btu gross: Method 19, Table 19-2
F_WET_NATURAL_GAS = 10_610.0  # wet standard cubic feet for a million Btu gross: Method 19, Table 19-2, from memory
MOISTURE_OF_AIR = 0.027  # mol/mol; may stand for a measured one anywhere (Method 19, from memory)
MOLAR_MASS_CARBON_DIOXIDE = 44.009e-3  # kg/mol, CIAAW 2021
RULE_OXYGEN_SHARE = 0.209
"""Of 63.6620(e)(2), Equation 2; the same number as its oxygen in air."""


def carbon_factor(carbon_dioxide_per_heat: Values) -> Values:
    """Return F_c, the volume of carbon dioxide for a joule of gross heat, from its mass.

    Parameters
    ----------
    carbon_dioxide_per_heat : float or array
        Complete combustion, over gross heat. [kg/J]

    Returns
    -------
    float or array
        At 20 degrees Celsius and 101.325 kPa. [m³/J]
    """
    return carbon_dioxide_per_heat / mass_concentration(1.0, MOLAR_MASS_CARBON_DIOXIDE, DRY_STANDARD_TEMPERATURE)


def mass_per_heat_by_carbon_dioxide(
    fraction: Values, carbon_dioxide: Values, f_carbon: Values, molar_mass: float
) -> Values:
    """Return the mass emitted per joule of gross heat, from carbon dioxide; both dry or both wet.

    Parameters
    ----------
    fraction, carbon_dioxide : float or array
        Same basis, same probe, same minute. [mol/mol]
    f_carbon : float or array
        [m³/J]
    molar_mass : float
        [kg/mol]

    Returns
    -------
    float or array
        nan without carbon dioxide. [kg/J]

    References
    ----------
    .. [1] E = C K F_c 100 / CO2: Method 19, 40 CFR Part 60 Appendix A-7 (from memory).
    """
    with np.errstate(all="ignore"):
        per_volume = mass_concentration(f_carbon, molar_mass, DRY_STANDARD_TEMPERATURE)
        return fraction * per_volume / above(carbon_dioxide)


def mass_per_heat_wet(
    fraction: Values, oxygen: Values, stack_moisture: Values, f_dry: Values, molar_mass: float
) -> Values:
    """Return the mass emitted per joule of gross heat from wet readings and the moisture of the exhaust.

    Parameters
    ----------
    fraction, oxygen : float or array
        Wet. [mol/mol]
    stack_moisture : float or array
        Water in the wet exhaust. [mol/mol]
    f_dry : float or array
        F_d, as for dry readings. [m³/J]
    molar_mass : float
        [kg/mol]

    Returns
    -------
    float or array
        The same as from dry readings of the same gas; nan where no exhaust of the fuel is left. [kg/J]

    References
    ----------
    .. [1] E = C_w K F_d 20.9 / (20.9 (1 - B_ws) - O2_w): Method 19 (from memory).
    """
    left = OXYGEN_IN_AIR * np.subtract(1.0, stack_moisture) - oxygen
    return _by_air_left(fraction, left, f_dry, molar_mass)


def mass_per_heat_ambient_moisture(
    fraction: Values, oxygen: Values, air_moisture: Values, f_wet: Values, molar_mass: float
) -> Values:
    """Return the mass emitted per joule of gross heat from wet readings and the moisture of the ambient air.

    Parameters
    ----------
    fraction, oxygen : float or array
        Wet. [mol/mol]
    air_moisture : float or array
        Water in the ambient air. [mol/mol]
    f_wet : float or array
        F_w, with the water of combustion. [m³/J]
    molar_mass : float
        [kg/mol]

    Returns
    -------
    float or array
        [kg/J]

    References
    ----------
    .. [1] E = C_w K F_w 20.9 / (20.9 (1 - B_wa) - O2_w): Method 19 (from memory). Not where water is added, as behind
       a scrubber.
    """
    left = OXYGEN_IN_AIR * np.subtract(1.0, air_moisture) - oxygen
    return _by_air_left(fraction, left, f_wet, molar_mass)


def _by_air_left(fraction: Values, left: Values, f_factor: Values, molar_mass: float) -> Values:
    """Return mass per heat where the oxygen of air, less what was read, is ``left``. [mol/mol]"""
    with np.errstate(all="ignore"):
        per_volume = mass_concentration(f_factor, molar_mass, DRY_STANDARD_TEMPERATURE) * OXYGEN_IN_AIR
        return fraction * per_volume / above(left)


def fuel_factor(f_dry: Values, f_carbon: Values) -> Values:
    """Return F_o: how much carbon dioxide a fuel makes, told as oxygen over carbon dioxide. [1]

    The exhaust without excess air holds 20.9 / F_o per cent of carbon dioxide, dry.

    References
    ----------
    .. [1] F_o = 0.209 F_d / F_c: 40 CFR 63.6620(e)(2), Equation 2.

    Examples
    --------
    >>> print(f"{fuel_factor(8710.0, 1040.0):.6f}")
    1.750375
    """
    with np.errstate(all="ignore"):
        return RULE_OXYGEN_SHARE * np.divide(f_dry, above(f_carbon))


def carbon_dioxide_at(reference_oxygen: Values, factor: Values, oxygen_in_air: Values = OXYGEN_IN_AIR) -> Values:
    """Return the carbon dioxide that belongs to a reference oxygen: X_CO2, 5.9 / F_o per cent at 15 %. [mol/mol]

    References
    ----------
    .. [1] X_CO2 = 5.9 / F_o: 40 CFR 63.6620(e)(2), Equation 3.
    """
    with np.errstate(all="ignore"):
        return np.subtract(oxygen_in_air, reference_oxygen) / factor


def at_reference_by_carbon_dioxide(
    fraction: Values, carbon_dioxide: Values, reference_oxygen: Values, factor: Values,
    oxygen_in_air: Values = OXYGEN_IN_AIR,
) -> Values:  # fmt: skip
    """Return a dry concentration at the reference oxygen, by carbon dioxide instead of oxygen.

    Parameters
    ----------
    fraction : float or array
        Dry; the answer has the same unit. [mol/mol]
    carbon_dioxide : float or array
        Dry, same probe, same minute. [mol/mol]
    reference_oxygen, oxygen_in_air : float or array
        [mol/mol]
    factor : float or array
        F_o of the gas that is burned: the default of natural gas is 2 % off on pure methane. [1]

    Returns
    -------
    float or array
        nan without carbon dioxide.

    References
    ----------
    .. [1] C_adj = C X_CO2 / CO2: 40 CFR 63.6620(e)(2), Equation 4.
    """
    with np.errstate(all="ignore"):
        belongs = carbon_dioxide_at(reference_oxygen, factor, oxygen_in_air)
        return fraction * belongs / above(carbon_dioxide)


def pounds_per_cubic_foot_per_ppm(species: str) -> float:
    """Return K of Method 19, Table 19-1, from the molar mass. [lb/(scf ppm)]"""
    per_m3 = float(mass_concentration(1e-6, MOLAR_MASS[species], DRY_STANDARD_TEMPERATURE))
    return per_m3 * 0.028316846592 / 0.45359237
