"""Hydrocarbons apart: methane, what is left without it, and VOC as propane, from what analysers can tell.

A flame-ionisation analyser counts carbon, and counts methane higher than the propane it is set on. The exhaust of a gas
engine is mostly methane, so what is left without it is a small difference of two large numbers: 0.02 in the response to
methane moves it by tens of per cent. Its interval shows that; a spectrometer or chromatograph that sees the heavier
hydrocarbons themselves does better.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.possible import above
from asfound.quantities.typing import Values

PROPANE_PER_CARBON_RULE = 0.6098
"""mg of propane in a dry standard m³ for 1 ppm as carbon: 60.4244(g), Equation 6 (the factor from memory).
From the molar mass it is 0.6111, 0.2 % more."""


def methane_and_nonmethane(
    hydrocarbons: Values, behind_cutter: Values, methane_response: Values, ethane_passage: Values
) -> tuple[Values, Values]:
    """Return methane, and hydrocarbons without it, from a pair of readings with and without a methane cutter.

    Parameters
    ----------
    hydrocarbons, behind_cutter : float or array
        As read, analyser set on propane, counted as one carbon, same basis. [mol/mol]
    methane_response : float or array
        Reading on methane over its true value, RF_CH4. [1]
    ethane_passage : float or array
        Response to ethane times what of it passes the cutter, RFPF_C2H6. [1]

    Returns
    -------
    tuple of float or array
        Methane, and the rest as C1; nan where the two factors cannot tell them apart. [mol/mol]

    References
    ----------
    .. [1] 40 CFR 1065.660, Equations -9 and -4. Paragraph (b)(2) names the reading behind the cutter for the second
       (read in a stored copy without its formulas); a public implementation puts the methane of the first in its
       place, which divides twice: 2 % high, and no mixture comes back from what its analysers read.

    Examples
    --------
    >>> methane, rest = methane_and_nonmethane(1650.0, 1495.0, 1.05, 0.019)
    >>> print(f"{methane:.2f} {rest:.3f}")
    1493.44 81.884
    """
    with np.errstate(all="ignore"):
        apart = above(1 - np.multiply(ethane_passage, methane_response))
        methane = (behind_cutter - np.multiply(hydrocarbons, ethane_passage)) / apart
        return methane, (hydrocarbons - np.multiply(methane_response, behind_cutter)) / apart


def nonmethane_from_methane(hydrocarbons: Values, methane: Values, methane_response: Values) -> Values:
    """Return hydrocarbons without methane as C1, where methane is known by itself (infrared, chromatograph). [mol/mol]

    Parameters
    ----------
    hydrocarbons : float or array
        As the flame-ionisation analyser reads them, as C1. [mol/mol]
    methane : float or array
        True, same basis. [mol/mol]
    methane_response : float or array
        [1]

    References
    ----------
    .. [1] 40 CFR 1065.660, the same balance without a cutter.
    """
    return np.subtract(hydrocarbons, np.multiply(methane_response, methane))


def voc_as_propane(nonmethane: Values, ethane: Values) -> Values:
    """Return what a US rule counts as VOC, as propane: without methane and ethane, three carbons each. [mol/mol]

    Parameters
    ----------
    nonmethane : float or array
        As C1. [mol/mol]
    ethane : float or array
        As ethane, same basis: two carbons each. [mol/mol]

    References
    ----------
    .. [1] 40 CFR 60.4244(f) and 51.100(s). Formaldehyde is left out; a flame-ionisation analyser hardly sees it.
    """
    return np.divide(np.subtract(nonmethane, np.multiply(2.0, ethane)), 3.0)


def response_factor(measured: Values, certified: Values) -> Values:
    """Return how a flame-ionisation analyser answers to a compound: measured over true, both as carbon. [1]

    References
    ----------
    .. [1] RF_i = C_M,i / C_A,i: 40 CFR 60.4244(g), Equation 4.

    Examples
    --------
    >>> print(f"{response_factor(47.0, 51.0):.7f}")
    0.9215686
    """
    with np.errstate(all="ignore"):
        return np.divide(measured, above(certified))


def at_flame_ionisation(measured: Values, factor: Values) -> Values:
    """Return a compound measured by chromatograph or infrared as the analyser of Method 25A would read it.

    References
    ----------
    .. [1] C_i,corr = RF_i C_i,meas: 40 CFR 60.4244(g), Equation 5.
    """
    return np.multiply(measured, factor)


def propane_equivalent(corrected: Values) -> Values:
    """Return mg of propane in a dry standard cubic metre for a compound in ppm as carbon. [mg/m³]

    References
    ----------
    .. [1] C_P,eq = 0.6098 C_i,corr: 40 CFR 60.4244(g), Equation 6 (the factor from memory).
    """
    return np.multiply(PROPANE_PER_CARBON_RULE, corrected)
