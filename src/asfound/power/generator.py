"""What a generator says of its engine: electrical power, power factor, efficiency, and the speed behind its frequency.

Arguments and answers are SI floats or arrays, one element as good as any other. Where there is no answer (a stopped
set, a power factor above one) the answer is nan.
"""

from __future__ import annotations

import math

import numpy as np

from asfound.quantities.possible import above, up_to_one
from asfound.quantities.typing import Values

MOST_FACTOR = 1.05
"""Active over apparent power up to here is unity within what two meters are worth; above it one of them is wrong."""


def three_phase_power(voltage: Values, current: Values) -> Values:
    """Return the apparent power of three balanced phases.

    Parameters
    ----------
    voltage : float or array
        Between lines. [V]
    current : float or array
        Per line. [A]

    Returns
    -------
    float or array
        [VA]

    References
    ----------
    .. [1] S = sqrt(3) U I: definition.

    Examples
    --------
    >>> print(f"{three_phase_power(480.0, 1500.0) * 0.8 / 1000:.3f} kW at power factor 0.8")
    997.661 kW at power factor 0.8
    """
    return math.sqrt(3.0) * above(voltage) * above(current)


def active_power(apparent: Values, factor: Values) -> Values:
    """Return active power from apparent power [VA] and power factor; a leading one may carry a minus sign. [W]"""
    return above(apparent) * up_to_one(np.abs(factor))


def apparent_power(active: Values, reactive: Values) -> Values:
    """Return apparent power from active [W] and reactive power [var] of either sign. [VA]"""
    return np.hypot(above(active), reactive)


def apparent_power_by_factor(active: Values, factor: Values) -> Values:
    """Return apparent power from active power [W] and power factor of either sign. [VA]"""
    return above(active) / up_to_one(np.abs(factor))


def power_factor(active: Values, apparent: Values) -> Values:
    """Return active [W] over apparent power [VA]; 1 where meters at unity cross a little, nan where by more. [1]"""
    ratio = above(active) / above(apparent)
    return np.where(ratio <= MOST_FACTOR, np.minimum(ratio, 1.0), np.nan)


def share(power: Values, rated: Values) -> Values:
    """Return a power over its rating, in the same unit; nan where nothing runs. [1]"""
    return above(power) / above(rated)


def metered_power(count: Values, energy: Values, time: Values, current_ratio: Values, voltage_ratio: Values) -> Values:
    """Return the mean power while pulses or turns were counted at an energy meter.

    Parameters
    ----------
    count : float or array
        Pulses or turns; the one at which the watch is started is none. [1]
    energy : float or array
        Of a pulse or turn, by the meter's plate. [J]
    time : float or array
        [s]
    current_ratio, voltage_ratio : float or array
        Of the transformers, where the meter does not count with them itself; else 1. [1]

    Returns
    -------
    float or array
        [W]
    """
    return above(count) * above(energy) / above(time) * above(current_ratio) * above(voltage_ratio)


def losses(rated_apparent: Values, rated_factor: Values, full: Values, half: Values) -> tuple[Values, Values]:
    """Return constant loss and load loss of a generator from two efficiencies of its test sheet.

    Parameters
    ----------
    rated_apparent : float or array
        [VA]
    rated_factor : float or array
        Power factor of both tests. [1]
    full, half : float or array
        Efficiency at rated, and at half the rated apparent power. [1]

    Returns
    -------
    tuple of float or array
        Constant loss and, at rated apparent power, load loss; nan where a loss would be below zero. [W]

    References
    ----------
    .. [1] Separate losses: a constant one and one that goes with the square of the current, as in IEC 60034-2-1 (from
       memory); the excitation, which is a bit of both, is shared between them.
    """
    power = above(rated_apparent) * np.asarray(rated_factor, dtype=float)
    at_full = power * (1 / up_to_one(full) - 1)
    at_half = power / 2 * (1 / up_to_one(half) - 1)
    load = (at_full - at_half) / 0.75
    constant = at_full - load
    possible = (load >= 0) & (constant >= 0)
    return np.where(possible, constant, np.nan), np.where(possible, load, np.nan)


def efficiency(active: Values, apparent: Values, rated_apparent: Values, constant: Values, load: Values) -> Values:
    """Return electrical power out over shaft power in, at this load and power factor.

    Parameters
    ----------
    active, apparent, rated_apparent : float or array
        [W], [VA], [VA]
    constant, load : float or array
        Loss at any load, and loss at rated apparent power that goes with the square of the load. [W]

    Returns
    -------
    float or array
        [1]

    Examples
    --------
    A textbook transformer of 25 kVA with 350 W and 400 W, at unity: the two losses are the same two of a generator.

    >>> print(f"{100 * efficiency(12.5e3, 12.5e3, 25e3, 350.0, 400.0):.2f} % at half load")
    96.53 % at half load
    """
    power = above(active)
    return power / (power + constant + load * (above(apparent) / above(rated_apparent)) ** 2)


def shaft_power(active: Values, generator_efficiency: Values, auxiliaries: Values = 0.0) -> Values:
    """Return what the engine carries: the generator, and the auxiliaries that it drives itself.

    Parameters
    ----------
    active : float or array
        At the terminals. [W]
    generator_efficiency : float or array
        [1]
    auxiliaries : float or array
        Fan and pumps that hang on the engine. [W]

    Returns
    -------
    float or array
        nan where the generator gives nothing. [W]
    """
    return above(active) / up_to_one(generator_efficiency) + auxiliaries


def synchronous_speed(frequency: Values, poles: Values) -> Values:
    """Return the speed of the shaft from the frequency [Hz] and the number of poles, not pairs. [rad/s]

    Examples
    --------
    >>> print(f"{synchronous_speed(60.0, 8) * 30 / math.pi:.0f} rpm")
    900 rpm
    """
    return 4 * math.pi * above(frequency) / above(poles)


def poles(frequency: Values, speed: Values) -> Values:
    """Return the poles that frequency [Hz] and speed [rad/s] ask for: even and whole where driven directly. [1]"""
    return 4 * math.pi * above(frequency) / above(speed)
