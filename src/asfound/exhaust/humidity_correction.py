"""NOx as it would be with intake air of a reference humidity: for trends, and for rules that ask for it.

Water in the air cools the flame. Four forms are in use, made for other engines and other rules; at 20 g/kg they
multiply by 1.16 to 1.44, so a corrected value without its form is no value. The limits of stationary engines are judged
without any of them, unless the permit itself says otherwise.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

REFERENCE_HUMIDITY = 10.71e-3  # kg/kg, common to all four forms


def factor_spark_ignition(water_in_air: Values) -> Values:
    """Return the factor for spark-ignition engines, from the mole fraction of water in the moist intake air. [1]

    References
    ----------
    .. [1] 40 CFR 1065.670, spark ignition: 18.840 x + 0.68094.

    Examples
    --------
    The section's own example: 154.7 ppm at 0.022 mol/mol becomes 169.5 ppm.

    >>> print(f"{154.7 * factor_spark_ignition(0.022):.1f} ppm")
    169.5 ppm
    """
    return 18.840 * _air(water_in_air) + 0.68094


def factor_compression_ignition(water_in_air: Values) -> Values:
    """Return the factor for compression-ignition engines, from the mole fraction of water in moist air. [1]

    References
    ----------
    .. [1] 40 CFR 1065.670, compression ignition: 9.953 x + 0.832.

    Examples
    --------
    The section's own example: 700.5 ppm at 0.022 mol/mol becomes 736.2 ppm.

    >>> print(f"{700.5 * factor_compression_ignition(0.022):.1f} ppm")
    736.2 ppm
    """
    return 9.953 * _air(water_in_air) + 0.832


def factor_vehicle(humidity_ratio: Values) -> Values:
    """Return the factor of the vehicle rule, from the mass of water over that of dry air; nan from 41 g/kg on. [1]

    References
    ----------
    .. [1] 40 CFR 1066.615, Equation -2: 1 / (1 - 0.0329 (H - 10.71)), H in g/kg.
    """
    with np.errstate(all="ignore"):
        left = 1 - 0.0329 * (1000 * _air(humidity_ratio) - 1000 * REFERENCE_HUMIDITY)
        return 1 / np.where(left > 0, left, np.nan)


def factor_gas_engine_iso(humidity_ratio: Values) -> Values:
    """Return the factor for gas engines of the ISO 8178 family, from the mass of water over that of dry air.

    It turns back at 25.5 g/kg and must not be used near that; above 25 g/kg it answers nan. [1]

    References
    ----------
    .. [1] 0.6272 + 0.044030 H - 0.000862 H^2, H in g/kg: ISO 8178-1 and the European rule of 2005, from memory; 0.9999
       at 10.71 g/kg.
    """
    with np.errstate(all="ignore"):
        grams = 1000 * _air(humidity_ratio)
        return np.where(grams <= 25.0, 0.6272 + 0.044030 * grams - 0.000862 * grams**2, np.nan)


def _air(humidity: Values) -> Values:
    """Return a humidity that air can have, else nan."""
    x = np.asarray(humidity, dtype=float)
    return np.where((x >= 0) & (x < 0.2), x, np.nan)
