"""Spread of the cylinders: each port against the median of its bank, judged by robust statistics and in kelvin.

The median, because a bad cylinder pulls the mean: one dead of six at -200 K moves it by 33 K. A cylinder is odd when
its modified z is beyond what sound engines show with so few sensors *and* it is further off than a limit in kelvin.
Where the readings are rounded so that the MAD is 0, or too few sensors are left, the limit alone decides, and that is
said. Two banks are judged about their own medians with their scatter pooled: ten sensors say more than twice five.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from asfound.cylinders.robust import NORMAL_QUARTILE, cutoff, mad, mad_factor, median, modified_z, valid_count
from asfound.quantities.typing import Array, Values

LIMIT = 30.0
"""Deviation from the bank's median that is looked into; common practice, no source. [K]"""
FEWEST_FOR_MEDIAN = 3
"""With fewer sensors nothing is the middle."""


class Basis(IntEnum):
    """What an odd cylinder was judged by."""

    NOTHING = 0
    LIMIT = 1
    """The limit in kelvin alone: MAD of 0, or too few sensors."""
    BOTH = 2
    """Modified z and limit."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Spread of one snapshot or of many; n sensors along the last axis. Temperatures in K."""

    deviation: Array
    """From the median of the own bank. Shape (..., n); nan for a sensor that does not count."""
    bank_median: Array
    """Shape (..., banks)."""
    engine_median: Array
    """Of all sensors. Shape (...)."""
    bank_difference: Array
    """First bank's median less the second's; nan with one bank. Shape (...)."""
    mad: Array
    """Of all deviations from their own bank's median. Shape (...)."""
    scale: Array
    """Robust standard deviation: MAD times the factor for so few sensors; nan for too few. Shape (...)."""
    z: Array
    """Modified z. Shape (..., n); nan where it cannot be had."""
    cutoff: Array
    """Of the modified z, for so many sensors. Shape (...)."""
    odd: npt.NDArray[np.int8]
    """1 hot, -1 cold, 0 not odd. Shape (..., n)."""
    beyond_limit: npt.NDArray[np.bool_]
    """Further off than the limit in K, whatever the scatter. Shape (..., n)."""
    basis: npt.NDArray[np.int8]
    """`Basis` of each snapshot. Shape (...)."""


def bank_index(banks: Sequence[int] | None, sensors: int) -> tuple[npt.NDArray[np.intp], ...]:
    """Return the positions of each bank's sensors; one bank where none is told."""
    if banks is None:
        return (np.arange(sensors),)
    told = np.asarray(banks)
    return tuple(np.flatnonzero(told == one) for one in dict.fromkeys(banks))


def deviation(temperatures: Array, banks: Sequence[int] | None = None) -> tuple[Array, Array]:
    """Return each sensor's deviation from its bank's median, and the medians. Shapes (..., n), (..., banks); K.

    Parameters
    ----------
    temperatures : array, shape (..., n)
        nan for a sensor that does not count. [K]
    banks : sequence of int, length n, optional
        Which bank each belongs to; the order in which banks are met is that of the medians.

    Notes
    -----
    A bank with fewer than three valid sensors has no deviations: of two, both would be equally far off.
    """
    parts = bank_index(banks, temperatures.shape[-1])
    away = np.full(temperatures.shape, np.nan)
    middles = np.full((*temperatures.shape[:-1], len(parts)), np.nan)
    for number, part in enumerate(parts):
        own = temperatures[..., part]
        middle = median(own)
        middles[..., number] = middle
        enough = valid_count(own) >= FEWEST_FOR_MEDIAN
        away[..., part] = np.where(enough[..., None], own - middle[..., None], np.nan)
    return away, middles


def spread(
    temperatures: Array, banks: Sequence[int] | None = None, *, limit: float = LIMIT, rare: bool = False
) -> Spread:
    """Return the spread of one or many snapshots of valid sensors.

    Parameters
    ----------
    temperatures : array, shape (..., n)
        Of the ports, or bearings over their oil; nan for a sensor that does not count, all nan while stopped. [K]
    banks : sequence of int, length n, optional
        Which bank each belongs to, at most two; one bank when left out.
    limit : float
        Deviation in kelvin that an odd cylinder exceeds as well. Default 30 K: common practice, no source.
    rare : bool
        Judge by what sound engines exceed in 0.1 % of snapshots instead of 1 %.
    """
    temperatures = np.asarray(temperatures, dtype=float)
    away, middles = deviation(temperatures, banks)
    return judge(away, banks, limit=limit, rare=rare, medians=(middles, median(temperatures)))


def judge(
    away: Array,
    banks: Sequence[int] | None = None,
    *,
    limit: float = LIMIT,
    rare: bool = False,
    medians: tuple[Array, Array] | None = None,
) -> Spread:
    """Return which deviations are odd: those of `deviation`, or residuals from this engine's own pattern.

    Parameters
    ----------
    away : array, shape (..., n)
        Deviations about the own bank's middle. [K]
    banks, limit, rare
        As in `spread`.
    medians : (array, array), optional
        Medians of the banks and of the engine, to be handed on.
    """
    parts = bank_index(banks, away.shape[-1])
    if medians is None:
        medians = np.full((*away.shape[:-1], len(parts)), np.nan), np.full(away.shape[:-1], np.nan)
    there = ~np.isnan(away)
    counts = np.stack([there[..., part].sum(axis=-1) for part in parts], axis=-1)
    pooled = len(parts) == 2
    fewest = counts.min(axis=-1)
    wall = np.asarray(cutoff(fewest, banks=2 if pooled else 1, rare=rare))
    factor = np.asarray(mad_factor(fewest, banks=2 if pooled else 1))
    if pooled:  # a bank without enough sensors leaves the other to itself
        alone = np.where((counts < FEWEST_FOR_MEDIAN).any(axis=-1), counts.max(axis=-1), 0)
        wall = np.where(alone > 0, cutoff(alone, rare=rare), wall)
        factor = np.where(alone > 0, mad_factor(alone), factor)
    middle_of_all = mad(away)
    both = (middle_of_all > 0.0) & np.isfinite(wall)
    at_odds = np.where(both, np.maximum(limit, np.where(both, wall * middle_of_all / NORMAL_QUARTILE, 0.0)), limit)
    odd = (away > at_odds[..., None]).astype(np.int8) - (away < -at_odds[..., None])
    return Spread(
        deviation=away,
        bank_median=medians[0],
        engine_median=medians[1],
        bank_difference=medians[0][..., 0] - medians[0][..., 1] if pooled else np.full(away.shape[:-1], np.nan),
        mad=middle_of_all,
        scale=factor * middle_of_all,
        z=modified_z(away, np.where(both, middle_of_all, np.nan)),
        cutoff=wall,
        odd=odd,
        beyond_limit=np.abs(away) > limit,
        basis=np.where(both, Basis.BOTH, np.where(np.isfinite(middle_of_all), Basis.LIMIT, Basis.NOTHING)).astype(
            np.int8
        ),
    )


def mean_of_snapshots(temperatures: Array) -> tuple[Array, Array, Array]:
    """Return mean, standard error of it, and count of several snapshots at one steady load. Each shape (n,).

    The error is of the mean of independent snapshots; readings taken within one thermal lag of a sheathed sensor
    (about a minute) are not independent. nan error with fewer than two.

    Parameters
    ----------
    temperatures : array, shape (snapshots, n)
        nan where masked. [K]
    """
    count = np.isfinite(temperatures).sum(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.nansum(temperatures, axis=0) / count
        scatter = np.sqrt(np.nansum((temperatures - mean) ** 2, axis=0) / (count - 1.0))
        error = np.where(count > 1, scatter / np.sqrt(count), np.nan)
    return np.where(count > 0, mean, np.nan), error, count


def probability_off(deviations: Values, standard_uncertainty: Values, more_than: Values = LIMIT) -> Values:
    """Return the probability that a cylinder is truly off by more than so many kelvin, either way.

    Parameters
    ----------
    deviations : float or array
        As read. [K]
    standard_uncertainty : float or array
        Of the deviation: of the sensor and of the median. [K]
    more_than : float or array
        [K]

    Notes
    -----
    Normal, both tails (JCGM 106:2012 7). Where draws are at hand, count them instead.
    """
    width = np.maximum(standard_uncertainty, 1e-9)
    from scipy.special import ndtr  # late: it costs a third of a second at the start

    chance: Array = ndtr((deviations - more_than) / width) + ndtr((-deviations - more_than) / width)
    return float(chance) if np.ndim(chance) == 0 else chance
