"""Heat put to use: from exhaust and jacket, and how low the exhaust may be cooled."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

MILLIMETRE_OF_MERCURY = 133.322387415
REFERENCE_POWER = 0.53
"""Separate production of power from natural gas, plant built from 2016: EU 2015/2402 Annex I, from memory. [1]"""
REFERENCE_HEAT = 0.92
"""Separate production of hot water from natural gas, plant built from 2016: EU 2015/2402 Annex II, from memory. [1]"""


def primary_energy_saving(
    power: Values,
    heat: Values,
    reference_power: Values = REFERENCE_POWER,
    reference_heat: Values = REFERENCE_HEAT,
) -> Values:
    """Return the fuel saved against making power and heat apart.

    Parameters
    ----------
    power, heat : float or array
        Efficiencies of power and useful heat over the net heat of the fuel. [1]
    reference_power, reference_heat : float or array
        Of separate production, net. [1]

    References
    ----------
    .. [1] PES = 1 - 1 / (H / Ref H + E / Ref E): Directive 2012/27/EU, Annex II (b).

    Examples
    --------
    >>> print(f"{100 * primary_energy_saving(0.40, 0.45):.1f} %")
    19.6 %
    """
    with np.errstate(all="ignore"):
        apart = np.divide(power, reference_power) + np.divide(heat, reference_heat)
        return 1 - 1 / np.where(apart > 0, apart, np.nan)


def acid_dew_point(water: Values, trioxide: Values) -> Values:
    """Return where sulfuric acid begins to condense out of exhaust.

    Parameters
    ----------
    water, trioxide : float or array
        Partial pressures of water vapour and of SO3. [Pa]

    Returns
    -------
    float or array
        nan without either. [K]

    References
    ----------
    .. [1] 1000 / T = 2.276 - 0.0294 ln pW - 0.0858 ln pS + 0.0062 ln pW ln pS, mmHg: F. H. Verhoff, J. T. Banchero,
       Chem. Eng. Progress 70 (1974) 71, as public pages print it. Other correlations differ by 10 K.

    Examples
    --------
    >>> p = MILLIMETRE_OF_MERCURY
    >>> print(f"{acid_dew_point(93.44 * p, 0.0024917 * p):.0f} K")
    402 K
    """
    with np.errstate(all="ignore"):
        w = np.log(np.where(np.greater(water, 0), water, np.nan) / MILLIMETRE_OF_MERCURY)
        s = np.log(np.where(np.greater(trioxide, 0), trioxide, np.nan) / MILLIMETRE_OF_MERCURY)
        found: Values = 1000 / (2.276 - 0.0294 * w - 0.0858 * s + 0.0062 * w * s)
        return found
