"""What a catalyst does: how much it converts, how warm it gets by that, how freely the exhaust passes.

Formulas alone; what the numbers mean stands in ``catalyst_signs``. The catalyst's own papers come first.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR
from asfound.quantities.typing import Values


def conversion(
    before: Values, oxygen_before: Values, after: Values, oxygen_after: Values, oxygen_in_air: Values = OXYGEN_IN_AIR
) -> Values:
    """Return the share of a pollutant that the catalyst takes out, both sides at the same oxygen.

    The reference oxygen cancels: 15 or 5 % give the same. Without bringing both sides to one oxygen, air that enters
    between the probes passes for conversion.

    Parameters
    ----------
    before, after : float or array
        Concentrations of the same kind before and after the catalyst: both dry, or both wet. [mol/mol]
    oxygen_before, oxygen_after : float or array
        Dry oxygen of the same samples. [mol/mol]
    oxygen_in_air : float or array
        What the rule takes for air. [mol/mol]

    Returns
    -------
    float or array
        1 is all, 0 nothing, below 0: more came out than went in. nan where nothing goes in, or at the oxygen of air.

    References
    ----------
    .. [1] R = (C_i - C_o) / C_i, both at 15 % oxygen, dry: 40 CFR 63.6620(e)(1), (2).

    Examples
    --------
    >>> print(f"{100 * conversion(620e-6, 0.091, 44e-6, 0.098):.2f} %")
    92.46 %
    """
    with np.errstate(all="ignore"):
        air_before, air_after = np.subtract(oxygen_in_air, oxygen_before), np.subtract(oxygen_in_air, oxygen_after)
        there = (np.asarray(before) > 0) & (air_before > 0) & (air_after > 0)
        ratio = np.multiply(after, air_before) / np.where(there, np.multiply(before, air_after), np.nan)
        return 1.0 - ratio


def conversion_by_co2(before: Values, co2_before: Values, after: Values, co2_after: Values) -> Values:
    """Return the share of a pollutant that the catalyst takes out, dilution undone by carbon dioxide.

    The fuel cancels as the reference does. Use it where oxygen is near 0 or its cell is doubted. What is oxidised turns
    into carbon dioxide itself: 1 % of CO converted raises it by 1 %.

    References
    ----------
    .. [1] 40 CFR 63.6620(e)(2), Equations 2 to 4: C_15 = C X_CO2 / CO2.

    Examples
    --------
    >>> print(f"{100 * conversion_by_co2(4210e-6, 0.1135, 236e-6, 0.1155):.2f} %")
    94.49 %
    """
    with np.errstate(all="ignore"):
        there = (np.asarray(before) > 0) & (np.asarray(co2_before) > 0) & (np.asarray(co2_after) > 0)
        return 1.0 - np.multiply(after, co2_before) / np.where(there, np.multiply(before, co2_after), np.nan)


def pressure_drop_ratio(
    drop: Values, flow: Values, temperature: Values, clean_drop: Values, clean_flow: Values, clean_temperature: Values
) -> Values:
    """Return the pressure drop over that of the clean catalyst at equal flow and temperature.

    The drop over the elements is taken to go with the square of the mass flow and with the gas temperature (the density
    falls with it): turbulent losses at inlet, outlet and supports. Through long narrow channels it goes more nearly
    with the flow itself; so compare at like flow, within about a third (engineering judgement).

    Parameters
    ----------
    drop, clean_drop : float or array
        [Pa]
    flow, clean_flow : float or array
        Both by mass, or both in the same standard cubic metres. [same unit]
    temperature, clean_temperature : float or array
        Of the gas at the inlet. [K]

    References
    ----------
    .. [1] Common practice, no source: dp ~ flow squared times temperature.
    """
    with np.errstate(all="ignore"):
        good = (
            (np.asarray(flow) > 0)
            & (np.asarray(clean_flow) > 0)
            & (np.asarray(temperature) > 0)
            & (np.asarray(clean_temperature) > 0)
            & (np.asarray(clean_drop) > 0)
        )
        flows = np.divide(clean_flow, np.where(good, flow, np.nan)) ** 2
        warmth = np.divide(clean_temperature, np.where(good, temperature, np.nan))
        found: Values = np.multiply(np.divide(drop, np.where(good, clean_drop, np.nan)), flows * warmth)
        return found
