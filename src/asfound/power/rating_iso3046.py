"""What an engine may give in other air than its rating was declared in: the power adjustment of ISO 3046-1.

Every figure of the method is an argument or a row of ``data/rating_exponents.csv`` with its status: the rows for gas
engines were seen at second hand or are from memory, so the maker's own charts (`derating`) go before this formula.
Arguments and answers are SI floats or arrays. Where there is no answer (a stopped engine's zeros, no pressure left
after the vapour, friction that eats all the power) the answer is nan.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.errors import UnknownNameError
from asfound.quantities.possible import above
from asfound.quantities.typing import Values
from asfound.sources.tables import load_csv

FRICTION_SHARE = 0.7
"""Of the change of indicated power that friction takes no part in; fixed by the standard."""
MECHANICAL_EFFICIENCY = 0.80
"""Where the maker states none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exponents:
    """The exponents for one kind of engine."""

    row: str
    """Letter of the standard's table: A to G."""
    engine: str
    humidity_weight: float
    """a: 1 where the water in the air counts, 0 where not."""
    pressure: float
    """m"""
    temperature: float
    """n"""
    coolant: float
    """s; older texts write q."""
    found: str
    """How the row was seen: by worked example, at second hand, from memory."""
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """The air that an engine breathes and the coolant of its charge: at the site, on the test bed, of a rating.

    Each may be a float or an array; arrays of one log go together.
    """

    pressure: Values
    """Total, absolute. [Pa]"""
    temperature: Values
    """Of the intake air. [K]"""
    coolant: Values = 298.0
    """Into the charge cooler. [K]"""
    vapour: Values = 0.0
    """Partial pressure of water: relative humidity times saturation pressure. [Pa]"""


ISO_REFERENCE = Air(pressure=100e3, temperature=298.0, coolant=298.0, vapour=0.3 * 3200.0)
"""100 kPa, 298 K, 30 % (3.2 kPa saturation, as the worked examples print it), coolant 298 K."""


@cache
def exponents() -> tuple[Exponents, ...]:
    """Return the rows of the table of exponents, A to G."""
    return tuple(
        Exponents(
            row=one["row"],
            engine=one["engine"],
            humidity_weight=float(one["a"]),
            pressure=float(one["m"]),
            temperature=float(one["n"]),
            coolant=float(one["s"]),
            found=one["found"],
            source=one["source"],
        )
        for one in load_csv("asfound.power", "data/rating_exponents.csv")
    )


def exponents_of(row: str) -> Exponents:
    """Return the exponents of a row; UnknownNameError when the table has no such letter."""
    for one in exponents():
        if one.row == row.upper():
            return one
    raise UnknownNameError("row of exponents", row, (one.row for one in exponents()))


def indicated_power_ratio(
    here: Air,
    there: Air,
    *,
    pressure_exponent: Values,
    temperature_exponent: Values,
    coolant_exponent: Values = 0.0,
    humidity_weight: Values = 0.0,
) -> Values:
    """Return the indicated power in one air over that in another.

    Parameters
    ----------
    here : Air
        Where the power is asked for.
    there : Air
        Where it is known: the reference of the rating.
    pressure_exponent, temperature_exponent, coolant_exponent : float or array
        m, n and s of the kind of engine. [1]
    humidity_weight : float or array
        a: 1 or 0. [1]

    Returns
    -------
    float or array
        k; nan where a pressure or temperature is not above zero. [1]

    References
    ----------
    .. [1] ISO 3046-1: k = ((p_x - a phi_x p_sx) / (p_r - a phi_r p_sr))^m (T_r / T_x)^n (T_cr / T_cx)^s.

    Examples
    --------
    Mathur and Sharma, example 27.1: 87 kPa, 318 K, 80 % of 9.6 kPa, against the reference.

    >>> site = Air(pressure=87e3, temperature=318.0, vapour=0.8 * 9600.0)
    >>> k = indicated_power_ratio(site, ISO_REFERENCE, pressure_exponent=1.0, temperature_exponent=0.75,
    ...                           humidity_weight=1.0)
    >>> print(f"{k:.4f}")
    0.7628
    """
    with np.errstate(all="ignore"):
        dry = above(np.subtract(here.pressure, np.multiply(humidity_weight, here.vapour)))
        dry_there = above(np.subtract(there.pressure, np.multiply(humidity_weight, there.vapour)))
        # one exponential of three logarithms: powers one by one take three times as long on a year's log
        ratio: Values = np.exp(
            pressure_exponent * np.log(dry / dry_there)
            + temperature_exponent * np.log(above(there.temperature) / above(here.temperature))
            + coolant_exponent * np.log(above(there.coolant) / above(here.coolant))
        )
        return ratio


def ratio_by_row(here: Air, there: Air, row: str) -> Values:
    """Return the ratio of indicated powers for the kind of engine of a row, A to G; see `indicated_power_ratio`."""
    kind = exponents_of(row)
    return indicated_power_ratio(
        here,
        there,
        pressure_exponent=kind.pressure,
        temperature_exponent=kind.temperature,
        coolant_exponent=kind.coolant,
        humidity_weight=kind.humidity_weight,
    )


def power_adjustment(ratio: Values, mechanical_efficiency: Values = MECHANICAL_EFFICIENCY) -> Values:
    """Return the brake power in one air over that in another.

    Parameters
    ----------
    ratio : float or array
        Ratio of indicated powers, k. [1]
    mechanical_efficiency : float or array
        At the rated power; the friction changes less than the power does. [1]

    Returns
    -------
    float or array
        alpha; nan where nothing would be left at the shaft, or the efficiency is none. [1]

    References
    ----------
    .. [1] ISO 3046-1: alpha = k - 0.7 (1 - k) (1 / eta_m - 1).
    """
    with np.errstate(all="ignore"):
        k = np.asarray(ratio, dtype=float)
        return above(k - (1 - k) * _friction(mechanical_efficiency))


def ratio_of_adjustment(adjustment: Values, mechanical_efficiency: Values = MECHANICAL_EFFICIENCY) -> Values:
    """Return the ratio of indicated powers, k, that belongs to a power adjustment, alpha: the way back. [1]"""
    with np.errstate(all="ignore"):
        friction = _friction(mechanical_efficiency)
        return (np.asarray(adjustment, dtype=float) + friction) / (1 + friction)


def fuel_adjustment(ratio: Values, adjustment: Values) -> Values:
    """Return the specific fuel (or heat) consumption in one air over that in another.

    Parameters
    ----------
    ratio : float or array
        k. [1]
    adjustment : float or array
        alpha. [1]

    Returns
    -------
    float or array
        beta = k / alpha; nan where alpha is not above zero. [1]

    References
    ----------
    .. [1] ISO 3046-1: b_x = beta b_r. For gas engines the heat consumption takes the place of the fuel's mass.
    """
    with np.errstate(all="ignore"):
        return np.asarray(ratio, dtype=float) / above(adjustment)


def power_elsewhere(power: Values, from_adjustment: Values, to_adjustment: Values) -> Values:
    """Return a power known in one air as it would be in another; both adjustments count from one reference. [W]

    References
    ----------
    .. [1] ISO 3046-1: P_y = P_x alpha_y / alpha_x.

    Examples
    --------
    >>> float(power_elsewhere(640.0, 0.8, 1.0))
    800.0
    """
    with np.errstate(all="ignore"):
        return np.asarray(power, dtype=float) * above(to_adjustment) / above(from_adjustment)


def substitute_reference_pressure(
    reference: Values, boost_ratio_at_reference: Values, boost_ratio_limit: Values
) -> Values:
    """Return the pressure to count a rating from, where the turbocharger still had a margin at the reference.

    Down to this pressure the turbocharger makes up for the thinner air: no power is lost before its limit is reached.

    Parameters
    ----------
    reference : float or array
        Standard reference pressure. [Pa]
    boost_ratio_at_reference, boost_ratio_limit : float or array
        Boost pressure ratio at rated power on the reference day, and the highest that the turbocharger may run. [1]

    Returns
    -------
    float or array
        [Pa]

    References
    ----------
    .. [1] ISO 3046-1, substitute reference conditions: p_ra = p_r pi_r / pi_max; T_ra is the maker's to choose.
    """
    with np.errstate(all="ignore"):
        return above(reference) * above(boost_ratio_at_reference) / above(boost_ratio_limit)


def _friction(mechanical_efficiency: Values) -> Values:
    """Return 0.7 (1 / eta_m - 1); nan for an efficiency that is none."""
    eta = np.asarray(mechanical_efficiency, dtype=float)
    return FRICTION_SHARE * (1 / np.where((eta > 0) & (eta <= 1), eta, np.nan) - 1)
