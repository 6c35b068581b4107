"""Meters that count volume: turbine, rotary and diaphragm meters, and what their volume is at base conditions.

Arguments and answers are SI floats or arrays; pressures are absolute. nan where there is no answer.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.constants import ATMOSPHERE, NORMAL_TEMPERATURE
from asfound.quantities.typing import Values


def flow_by_index(start: Values, end: Values, time: Values, error: Values = 0.0) -> Values:
    """Return the volume flow at line conditions from two readings of a meter's index.

    Parameters
    ----------
    start, end : float or array
        Index, uncorrected. [m³]
    time : float or array
        Between them. [s]
    error : float or array
        Of the meter at this flow: 0.01 reads one per cent too much. [1]

    Returns
    -------
    float or array
        nan for a clock that did not run and for an index that ran backwards or over its last digit; 0 for one that
        stood still. [m³/s]

    Examples
    --------
    >>> print(f"{3600 * flow_by_index(81_234.0, 81_290.5, 600.0):.1f} m³/h")
    339.0 m³/h
    """
    with np.errstate(all="ignore"):
        volume = np.subtract(end, start)
        counted = np.where((volume >= 0) & np.greater(time, 0), volume / time, np.nan)
        return counted / np.add(1.0, error)


def flow_by_pulses(pulses: Values, pulse_volume: Values, time: Values, error: Values = 0.0) -> Values:
    """Return the volume flow at line conditions from counted pulses; otherwise as `flow_by_index`. [m³/s]"""
    return flow_by_index(0.0, np.multiply(pulses, pulse_volume), time, error)


def volume_correction(
    pressure: Values,
    temperature: Values,
    compressibility: Values,
    base_pressure: Values = ATMOSPHERE,
    base_temperature: Values = NORMAL_TEMPERATURE,
    base_compressibility: Values = 1.0,
) -> Values:
    """Return the volume at base conditions over the volume as metered.

    Parameters
    ----------
    pressure, temperature, compressibility : float or array
        Of the gas in the meter, pressure absolute. [Pa], [K], [1]
    base_pressure, base_temperature, base_compressibility : float or array
        Of the contract or of the normal volume. [Pa], [K], [1]

    References
    ----------
    .. [1] Real gas law, p V = Z n R T on both sides. EN 12405-1 and AGA Report No. 7 call it volume conversion.

    Examples
    --------
    At base conditions nothing changes; 3 bar over the air at 15 °C counts nearly four times.

    >>> float(volume_correction(101_325.0, 288.15, 0.998, 101_325.0, 288.15, 0.998))
    1.0
    >>> print(f"{volume_correction(401_325.0, 288.15, 0.991, 101_325.0, 288.15, 0.998):.4f}")
    3.9887
    """
    with np.errstate(all="ignore"):
        here = np.multiply(temperature, compressibility)
        factor = (
            np.divide(pressure, base_pressure) * np.divide(base_temperature, temperature)
            * np.divide(base_compressibility, compressibility)
        )  # fmt: skip
        return np.where((here > 0) & np.greater(pressure, 0), factor, np.nan)


def ideal_base(temperature: Values, pressure: Values) -> Values:
    """Return the normal cubic metres (0 °C, 101.325 kPa) that a cubic metre at a base counts, as an ideal gas.

    All gas volumes of this program are told so: the compression factor of the base stays in the number.
    """
    with np.errstate(all="ignore"):
        return np.divide(pressure, ATMOSPHERE) * np.divide(NORMAL_TEMPERATURE, temperature)
