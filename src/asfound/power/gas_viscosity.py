"""Viscosity of natural gas: good enough for a Reynolds number."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values


def gas_viscosity(temperature: Values, density: Values, molar_mass: Values) -> Values:
    """Return the dynamic viscosity of natural gas.

    An orifice coefficient changes by 0.02 per cent where the viscosity is off by 5 per cent. At room temperature and
    low pressure the answer for methane is 4 per cent above the tables (11.1 uPa s at 300 K, from memory).

    Parameters
    ----------
    temperature : float or array
        [K]
    density : float or array
        [kg/m³]
    molar_mass : float or array
        [kg/mol]

    Returns
    -------
    float or array
        [Pa s]

    References
    ----------
    .. [1] A. L. Lee, M. H. Gonzalez, B. E. Eakin, The viscosity of natural gases, J. Petroleum Technology 18 (1966)
       997-1000; coefficients as in T. Ahmed, Reservoir Engineering Handbook, from memory. Made for 100 to 340 °F.

    Examples
    --------
    >>> print(f"{1e6 * gas_viscosity(300.0, 0.652, 16.04e-3):.1f} uPa s")
    11.6 uPa s
    """
    with np.errstate(all="ignore"):
        rankine = 1.8 * np.where(np.greater(temperature, 0), temperature, np.nan)
        grams = 1e3 * np.asarray(molar_mass, dtype=float)
        k = (9.4 + 0.02 * grams) * rankine**1.5 / (209 + 19 * grams + rankine)
        x = 3.5 + 986 / rankine + 0.01 * grams
        y = 2.4 - 0.2 * x
        viscosity: Values = 1e-7 * k * np.exp(x * np.power(np.multiply(density, 1e-3), y))
        return viscosity
