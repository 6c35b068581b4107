"""Power of a test brought to the reference day: spark ignition by SAE J1349 and ISO 15550, compression ignition beside.

These are for an engine whose throttle stood wide open in the test: the air set its power. A turbocharged engine under
control holds its power by its boost; for it they say nothing. A textbook calls the factor with 1.2 and 0.6 that of
compression ignition: it is the one of spark ignition. Floats or arrays; nan where there is no answer.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.possible import above
from asfound.quantities.typing import Values

DRY_REFERENCE, TEMPERATURE_REFERENCE = 99_000.0, 298.0
"""Dry air of the reference day: 99 kPa, 298 K (25 °C; the standards write 298, not 298.15)."""
SPARK_RANGE = (0.93, 1.07)
"""Where the factors of spark ignition hold (80/1269/EEC at second hand; the same is quoted for SAE J1349)."""


def dry_pressure(pressure: Values, water_fraction: Values) -> Values:
    """Return the pressure of the air without its water vapour.

    Parameters
    ----------
    pressure : float or array
        Barometer, absolute. [Pa]
    water_fraction : float or array
        Mole fraction of water in the moist air. [mol/mol]

    Returns
    -------
    float or array
        nan where nothing is left. [Pa]
    """
    with np.errstate(all="ignore"):
        return above(np.asarray(pressure, dtype=float) * (1 - np.asarray(water_fraction, dtype=float)))


def sae_j1349(dry: Values, temperature: Values) -> Values:
    """Return the power on the reference day over that of the test, spark ignition, wide open throttle.

    Parameters
    ----------
    dry : float or array
        Pressure of the dry air. [Pa]
    temperature : float or array
        Of the intake air. [K]

    Returns
    -------
    float or array
        [1]

    References
    ----------
    .. [1] SAE J1349: CF = 1.18 (990 / P_d) ((T_c + 273) / 298)^0.5 - 0.18 with P_d in mbar and T_c in °C; it takes 85 %
       mechanical efficiency for granted.

    Examples
    --------
    >>> print(f"{sae_j1349(95e3, 308.15):.5f}")
    1.07015
    """
    with np.errstate(all="ignore"):
        celsius_and_273 = above(temperature) - 0.15  # the standard counts 273, not 273.15
        return 1.18 * DRY_REFERENCE / above(dry) * (celsius_and_273 / TEMPERATURE_REFERENCE) ** 0.5 - 0.18


def spark_ignition(dry: Values, temperature: Values) -> Values:
    """Return alpha_a, the power on the reference day over that of the test, naturally aspirated spark ignition.

    Parameters
    ----------
    dry : float or array
        Pressure of the dry air. [Pa]
    temperature : float or array
        Of the intake air. [K]

    Returns
    -------
    float or array
        Holds for `SPARK_RANGE`. [1]

    References
    ----------
    .. [1] ISO 15550, ISO 1585, ISO 3046-1:1995: alpha_a = (99 / p_d)^1.2 (T / 298)^0.6.

    Examples
    --------
    >>> print(f"{spark_ignition(98e3 - 0.8 * 4.2e3, 303.0):.4f}")
    1.0661
    """
    with np.errstate(all="ignore"):
        return (DRY_REFERENCE / above(dry)) ** 1.2 * (above(temperature) / TEMPERATURE_REFERENCE) ** 0.6


def spark_ignition_between(dry: Values, temperature: Values, dry_there: Values, temperature_there: Values) -> Values:
    """Return the same factor between two airs: power there over power here. [1]"""
    return spark_ignition(dry, temperature) / spark_ignition(dry_there, temperature_there)


def atmospheric_factor(dry: Values, temperature: Values, *, turbocharged: bool) -> Values:
    """Return f_a of a compression ignition engine: what the air of the test is worth against the reference.

    References
    ----------
    .. [1] ISO 15550, ISO 3046-1:1995: (99 / p_d) (T / 298)^0.7 naturally aspirated; (99 / p_d)^0.7 (T / 298)^1.5
       turbocharged.
    """
    m, n = (0.7, 1.5) if turbocharged else (1.0, 0.7)
    with np.errstate(all="ignore"):
        return (DRY_REFERENCE / above(dry)) ** m * (above(temperature) / TEMPERATURE_REFERENCE) ** n


def engine_factor(delivery: Values, lowest: float = 0.3) -> Values:
    """Return f_m of a compression ignition engine from its fuel per cycle, litre and boost ratio.

    Parameters
    ----------
    delivery : float or array
        q_c, corrected specific fuel delivery. [mg of fuel in a litre of swept volume and cycle, over the boost ratio]
    lowest : float
        Newer texts let the line go on to 37.2 and 0.2 (seen in a public engine manual).

    References
    ----------
    .. [1] ISO 15550, ISO 3046-1:1995: f_m = 0.036 q_c - 1.14 from 40 to 65, 0.3 below, 1.2 above.

    Examples
    --------
    >>> engine_factor(np.array([31.8, 40.0, 65.0, 80.0])).round(3).tolist()
    [0.3, 0.3, 1.2, 1.2]
    """
    q = np.asarray(delivery, dtype=float)
    with np.errstate(all="ignore"):
        return np.where(q > 0, np.clip(0.036 * q - 1.14, lowest, 1.2), np.nan)


def compression_ignition(atmosphere: Values, engine: Values) -> Values:
    """Return alpha_d = f_a^f_m, the power on the reference day over that of the test. Holds for 0.9 to 1.1. [1]"""
    with np.errstate(all="ignore"):
        answer: Values = above(atmosphere) ** np.asarray(engine, dtype=float)
        return answer
