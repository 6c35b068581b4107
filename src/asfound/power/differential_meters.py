"""The other members of ISO 5167 that a fuel line may hold: nozzles and Venturi tubes. Formulas only.

Coefficients and the expansibility that nozzles and Venturi tubes share; the flow follows from them as in `orifice`.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

VENTURI_COEFFICIENT = {"as cast": 0.984, "machined": 0.995, "welded": 0.985}
"""Classical Venturi tube by its convergent part: ISO 5167-4:2003, 5.5, from memory. [1]"""


def nozzle_expansibility(beta: Values, pressure: Values, difference: Values, exponent: Values) -> Values:
    """Return the expansibility of nozzles and Venturi tubes: isentropic, in closed form.

    Parameters
    ----------
    beta : float or array
        Throat over pipe bore. [1]
    pressure : float or array
        Absolute, upstream. [Pa]
    difference : float or array
        [Pa]
    exponent : float or array
        Isentropic exponent. [1]

    References
    ----------
    .. [1] ISO 5167-4:2003, 5.6; its example prints 0.994236.

    Examples
    --------
    >>> print(f"{nozzle_expansibility(0.6, 60e5, 0.5e5, 1.3):.6f}")
    0.994236
    """
    with np.errstate(all="ignore"):
        k, b4 = np.asarray(exponent, dtype=float), np.power(beta, 4.0)
        drop = np.where(np.greater(difference, 0), difference, np.nan)
        left = 1 - np.divide(drop, pressure)
        t = np.where(left > 0, left, np.nan)
        swelling = t ** (2 / k)
        isentropic = k * swelling / (k - 1) * (1 - t ** ((k - 1) / k)) / (1 - t)
        factor: Values = np.sqrt(isentropic * (1 - b4) / (1 - b4 * swelling))
        return factor


def isa_1932_nozzle_coefficient(beta: Values, reynolds: Values) -> Values:
    """Return the discharge coefficient of an ISA 1932 nozzle; Reynolds number with the bore of the pipe.

    References
    ----------
    .. [1] ISO 5167-3:2003, 5.1.6.2.
    """
    with np.errstate(all="ignore"):
        b = np.asarray(beta, dtype=float)
        return 0.9900 - 0.2262 * b**4.1 - (0.00175 * b**2 - 0.0033 * b**4.15) * np.power(np.divide(1e6, reynolds), 1.15)


def long_radius_nozzle_coefficient(beta: Values, reynolds: Values) -> Values:
    """Return the discharge coefficient of a long radius nozzle; Reynolds number with the bore of the pipe.

    References
    ----------
    .. [1] ISO 5167-3:2003, 5.2.6.2.
    """
    with np.errstate(all="ignore"):
        return 0.9965 - 0.00653 * np.sqrt(np.multiply(beta, np.divide(1e6, reynolds)))
