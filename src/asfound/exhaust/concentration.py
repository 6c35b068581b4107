"""Turn a share of the exhaust into a mass in a volume."""

from __future__ import annotations

import numpy as np

from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT, NORMAL_TEMPERATURE
from asfound.quantities.possible import above
from asfound.quantities.typing import Values

# kg/mol. CIAAW 2021 abridged atomic weights as used by the rules; NOx counts as NO2 (40 CFR 60.4244(d)).
MOLAR_MASS = {
    "nox": 46.0055e-3,
    "co": 28.0101e-3,
    "no": 30.0061e-3,
    "propane": 44.0956e-3,
    "formaldehyde": 30.0260e-3,
    "methane": 16.0425e-3,
    "carbon": 12.011e-3,
    "so2": 64.058e-3,
}

DRY_STANDARD_TEMPERATURE = 293.15  # K, 68 degrees Fahrenheit: the standard cubic metre of US emission rules


def mass_concentration(
    fraction: Values, molar_mass: Values, temperature: Values = NORMAL_TEMPERATURE, pressure: Values = ATMOSPHERE
) -> Values:
    """Return the mass of a species in a cubic metre of gas at stated conditions (ideal gas).

    Parameters
    ----------
    fraction : float or array
        [mol/mol]
    molar_mass : float or array
        [kg/mol]
    temperature, pressure : float or array
        Conditions that the cubic metre is stated at, not those of the exhaust. [K], [Pa]

    Returns
    -------
    float or array
        [kg/m³]

    References
    ----------
    .. [1] c = x M p / (R T); 40 CFR 60.4244(d) prints 1.912e-3 g/m³ for 1 ppm NOx at 20 degrees Celsius.

    Examples
    --------
    >>> print(f"{1e6 * mass_concentration(1e-6, MOLAR_MASS['nox']):.3f} mg/m3 for 1 ppm NOx at 0 C")
    2.053 mg/m3 for 1 ppm NOx at 0 C
    """
    with np.errstate(all="ignore"):
        return np.multiply(fraction, molar_mass * np.divide(pressure, GAS_CONSTANT * above(temperature)))
