"""What an analyser's zero and gas readings say of a run: errors, drift, and the concentration corrected by them.

Readings, gases and span of one call are in one unit, ppm or per cent; the answers about the analyser are shares of the
calibration span, the concentrations in that unit. Everything works on arrays: a season of runs in one call.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.possible import above
from asfound.quantities.typing import Values


def share_of(difference: Values, whole: Values) -> Values:
    """Return a difference as a share of a span, of a gas or of a mean; nan where there is none. [1]"""
    with np.errstate(all="ignore"):
        return np.divide(difference, above(whole))


def calibration_error(direct: Values, certified: Values, span: Values) -> Values:
    """Return how far the analyser by itself is off a certified gas, as a share of the calibration span. [1]

    References
    ----------
    .. [1] ACE = (C_Dir - C_V) / CS: Method 7E, Equation 7E-1 (from memory).
    """
    return share_of(np.subtract(direct, certified), span)


def system_bias(system: Values, direct: Values, span: Values) -> Values:
    """Return what the sampling system does to a gas, as a share of the calibration span. [1]

    References
    ----------
    .. [1] SB = (C_S - C_Dir) / CS: Method 7E, Equation 7E-2 (from memory).

    Examples
    --------
    >>> print(f"{100 * system_bias(48.6, 50.2, 100.0):.1f} %")
    -1.6 %
    """
    return share_of(np.subtract(system, direct), span)


def drift(before: Values, after: Values, span: Values) -> Values:
    """Return how far the system's answer to one gas moved over a run, as a share of the calibration span. [1]

    References
    ----------
    .. [1] D = abs(SB_final - SB_initial): Method 7E, Equation 7E-4 (from memory); the direct reading falls out.
    """
    return share_of(np.abs(np.subtract(after, before)), span)


def bias_corrected(
    average: Values, zero: Values, upscale: Values, upscale_gas: Values, zero_gas: Values = 0.0
) -> Values:
    """Return the concentration of a run, corrected by what the whole system made of its gases.

    Parameters
    ----------
    average : float or array
        As read over the run.
    zero, upscale : float or array
        Means of the system's readings on each gas before and after the run.
    upscale_gas, zero_gas : float or array
        Certified; the low gas may hold something.

    Returns
    -------
    float or array
        In the unit of the gases; nan where the two gases read alike.

    References
    ----------
    .. [1] C_gas = (C_avg - C_M) (C_MA - C_OA) / (C_M - C_O) + C_MA, and its form for a zero gas that holds nothing:
       Method 7E, Equations 7E-5 (seen in one copy of the older numbering).

    Examples
    --------
    >>> print(f"{bias_corrected(52.3, 0.55, 48.8, 50.0):.4f}")
    53.6269
    """
    with np.errstate(all="ignore"):
        gain = np.subtract(upscale_gas, zero_gas) / above(np.subtract(upscale, zero))
        return np.subtract(average, upscale) * gain + upscale_gas


def drift_corrected(
    measured: Values,
    zero_before: Values,
    zero_after: Values,
    span_before: Values,
    span_after: Values,
    span_gas: Values,
    zero_gas: Values = 0.0,
) -> Values:
    """Return a reading of a test bed, corrected for drift of zero and span.

    The same line as `bias_corrected`, written as its rule writes it.

    References
    ----------
    .. [1] 40 CFR 1065.672, Equation -1 (read in a public implementation that cites the section).

    Examples
    --------
    >>> print(f"{drift_corrected(435.5, 0.6, -5.2, 1800.5, 1695.8, 1800.0):.1f}")
    450.2
    """
    with np.errstate(all="ignore"):
        zeros = np.add(zero_before, zero_after)
        apart = np.add(span_before, span_after) - zeros
        share = (2 * np.asarray(measured, dtype=float) - zeros) / above(apart)
        return zero_gas + np.subtract(span_gas, zero_gas) * share


def converter_efficiency(reading: Values, certified: Values) -> Values:
    """Return the share of NO2 that the converter turns into NO: NOx read on an NO2 gas over its certified value. [1]

    References
    ----------
    .. [1] Method 7E, Equation 7E-7 (from memory).
    """
    return share_of(reading, certified)


def converter_corrected(nox: Values, no: Values, efficiency: Values) -> Values:
    """Return NOx with what the converter lost of its NO2: NO + (NOx - NO) / efficiency. [unit of the readings]

    References
    ----------
    .. [1] Method 7E, Equation 7E-8 (from memory).
    """
    with np.errstate(all="ignore"):
        return np.add(no, np.subtract(nox, no) / above(efficiency))


def line_error(reading: Values, gas: Values, zero_reading: Values, high_reading: Values, high_gas: Values) -> Values:
    """Return how far a gas reads off the straight line through zero and high gas, as a share of the gas. [1]

    References
    ----------
    .. [1] Method 25A, 8.4 (from memory).
    """
    with np.errstate(all="ignore"):
        slope = share_of(np.subtract(high_reading, zero_reading), high_gas)
        return share_of(np.subtract(reading, zero_reading + slope * gas), gas)


def detection_limit(zero_readings: Values) -> Values:
    """Return three standard deviations of repeated zero readings: less than this is not told from nothing.

    Parameters
    ----------
    zero_readings : array
        (..., n) repeated readings of zero gas; two at least.

    Returns
    -------
    float or array
        (...,) in the unit of the readings; nan for fewer than two. Common practice, no source.
    """
    readings = np.asarray(zero_readings, dtype=float)
    if readings.shape[-1] < 2:
        return np.full(readings.shape[:-1], np.nan)[()]
    return np.asarray(3.0 * readings.std(axis=-1, ddof=1))[()]


def spread(readings: Values) -> Values:
    """Return the standard deviation of the minutes of a run over their mean: how steady the engine ran. [1]

    Parameters
    ----------
    readings : array
        (..., n) minute values.
    """
    minutes = np.asarray(readings, dtype=float)
    if minutes.shape[-1] < 2:
        return np.full(minutes.shape[:-1], np.nan)[()]
    return share_of(minutes.std(axis=-1, ddof=1), minutes.mean(axis=-1))


def trend(readings: Values) -> Values:
    """Return how much the minutes of a run rise from first to last, by a straight line, over their mean. [1]

    Parameters
    ----------
    readings : array
        (..., n) minute values, evenly spaced.
    """
    minutes = np.asarray(readings, dtype=float)
    n = minutes.shape[-1]
    if n < 3:
        return np.full(minutes.shape[:-1], np.nan)[()]
    time = np.arange(n) - (n - 1) / 2
    slope = minutes @ time / float(time @ time)
    return share_of(np.asarray(slope * (n - 1)), np.abs(minutes.mean(axis=-1)))


def corrected_uncertainty(
    average: Values,
    zero: Values,
    upscale: Values,
    upscale_gas: Values,
    *,
    gas: Values,
    zero_drift: Values,
    upscale_drift: Values,
    linearity: Values,
    zero_gas: Values = 0.0,
) -> tuple[Values, Values]:
    """Return the standard uncertainty of a corrected concentration, and the part that all runs share.

    The gas's certificate is one error for all runs of a test. The zero and the up-scale point may have stood anywhere
    between their readings before and after the run (a rectangle), and between the gases the analyser may be off its
    straight line by as much as its three-point check showed (a rectangle).

    Parameters
    ----------
    average, zero, upscale, upscale_gas, zero_gas : float or array
        As in `bias_corrected`.
    gas : float or array
        Standard uncertainty of the certified up-scale gas, in its unit.
    zero_drift, upscale_drift : float or array
        Reading after less before, in the unit.
    linearity : float or array
        Largest error of the three-point check, in the unit.

    Returns
    -------
    tuple of float or array
        Whole, and the part from the gas, in the unit.

    References
    ----------
    .. [1] Law of propagation on Equation 7E-5, JCGM 100:2008 5.1.2; half-widths as rectangles, 4.3.7.
    """
    with np.errstate(all="ignore"):
        slope = above(np.subtract(upscale, zero))
        gain = np.subtract(upscale_gas, zero_gas) / slope
        share = np.subtract(average, zero) / slope  # 0 at the zero gas, 1 at the up-scale gas
        from_gas = np.abs(share * gas)
        at_zero = (1 - share) * gain * zero_drift
        at_upscale = share * gain * upscale_drift
        off_line = np.asarray(linearity, dtype=float)
        squares = from_gas * from_gas + (at_zero * at_zero + at_upscale * at_upscale) / 12 + off_line * off_line / 3
        return np.sqrt(squares)[()], from_gas
