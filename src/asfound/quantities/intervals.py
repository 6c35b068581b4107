"""Coverage intervals from draws, by JCGM 101:2008 clause 7: exact order statistics, found without sorting everything.

The ends of an interval with equal tails lie near the ends of the draws, so only the draws beyond a guessed threshold
are sorted. Whether the guess took in enough is checked; if not, the whole array is partitioned. The answer is the same
order statistic either way.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from asfound.errors import InputError

if TYPE_CHECKING:
    from asfound.quantities.typing import Array

FEW = 1_000
"""Up to this many draws, sorting all of them is quickest."""


class Summary(NamedTuple):
    """What a set of draws comes to."""

    mean: float
    standard_uncertainty: float
    low: float
    high: float
    without: int
    """Draws that have no answer (nan or infinite); left out of the other four."""


def ranks(number: int, probability: float) -> tuple[int, int]:
    """Return the places (from 0) of the two order statistics that bound the interval with equal tails.

    JCGM 101:2008 7.7.2: q = pM, or the integer part of pM + 1/2; r = (M - q)/2, or the integer part of (M - q + 1)/2;
    the interval is [y(r), y(r + q)], counted from 1. Where M is so small that r is 0, the smallest draw is taken.

    Raises
    ------
    InputError
        The probability is not between 0 and 1, or there are no draws.

    Examples
    --------
    >>> ranks(10_000, 0.95)
    (249, 9749)
    """
    if not 0.0 < probability < 1.0:
        raise InputError("probability", f"{probability:g}", "is not a coverage probability", allowed="between 0 and 1")
    if number < 1:
        raise InputError("number", str(number), "leaves no draws to take an interval from", allowed="1 or more")
    q = _whole(probability * number)
    r = max(_whole_or_up(number - q), 1)
    return r - 1, min(r + q, number) - 1


def symmetric(draws: Array, probability: float = 0.95) -> tuple[float, float]:
    """Return the coverage interval with equal tails; nan or infinite draws are left out.

    Parameters
    ----------
    draws : array of shape (n,)
    probability : float
        Coverage probability. [0 to 1]

    Returns
    -------
    tuple of float
        Low and high end, in the unit of the draws; (nan, nan) where no draw has an answer.
    """
    finite = draws[np.isfinite(draws)]
    if finite.size == 0:
        return math.nan, math.nan
    first, last = ranks(finite.size, probability)
    if finite.size <= FEW:
        return _ends(finite, first, last)
    with np.errstate(over="ignore", invalid="ignore"):
        mean, spread = float(finite.mean()), float(finite.std())
    return _tails(finite, mean, spread, first, last) if 0.0 < spread < math.inf else _ends(finite, first, last)


def shortest(draws: Array, probability: float = 0.95) -> tuple[float, float]:
    """Return the shortest coverage interval (JCGM 101:2008 7.7.4); nan or infinite draws are left out.

    For a skew quantity it differs from the one with equal tails, so say which is shown. The shortest of all intervals
    in one set of draws is a little too short; the effect goes with the number of draws.
    """
    ordered = np.sort(draws[np.isfinite(draws)])
    if ordered.size == 0:
        return math.nan, math.nan
    ranks(ordered.size, probability)  # refuses a probability that is none
    q = min(_whole(probability * ordered.size), ordered.size - 1)
    at = int(np.argmin(ordered[q:] - ordered[: ordered.size - q]))
    return float(ordered[at]), float(ordered[at + q])


def summary(draws: Array, about: float, *, probability: float = 0.95) -> Summary:
    """Return mean, standard uncertainty (JCGM 101:2008 7.6) and interval with equal tails in as few passes as will do.

    Parameters
    ----------
    draws : array of shape (n,)
    about : float
        A value near the draws (the best value): sums are taken about it, so that nothing cancels.
    probability : float
        Coverage probability of the interval. [0 to 1]
    """
    number = draws.size
    away = draws - about
    total = float(away.sum())
    if not math.isfinite(total):
        finite = draws[np.isfinite(draws)]
        if finite.size == 0:
            return Summary(math.nan, math.nan, math.nan, math.nan, number)
        if finite.size < number:
            at = about if math.isfinite(about) else float(finite[0])
            return summary(finite, at, probability=probability)._replace(without=number - finite.size)
    mean = total / number
    spread = _spread(away, mean)
    first, last = ranks(number, probability)
    if spread == 0.0 or number <= FEW:
        low, high = _ends(away, first, last)
    else:
        low, high = _tails(away, mean, spread, first, last)
    return Summary(about + mean, spread, about + low, about + high, 0)


def _spread(away: Array, mean: float) -> float:
    """Return the standard deviation of draws with this mean; where their squares overflow, of the draws scaled."""
    number = away.size
    if number < 2:
        return 0.0
    with np.errstate(over="ignore"):
        squares = float(away.dot(away))
    if math.isfinite(squares):
        return math.sqrt(max(squares - number * mean * mean, 0.0) / (number - 1))
    largest = float(np.abs(away).max())
    return largest * float(np.std(away / largest, ddof=1))


def _tails(away: Array, mean: float, spread: float, first: int, last: int) -> tuple[float, float]:
    """Return two order statistics, trying first the draws beyond a threshold that suits most shapes."""
    tail = (first + 1) / away.size
    factor = 1.6 if 0.02 <= tail <= 0.03 else 0.0  # 5.5 % of a normal, 3.8 % of a rectangular lie beyond 1.6 u
    if factor:
        found = _beyond(away, mean - factor * spread, mean + factor * spread, first, last)
        if found is not None:
            return found
    sample = np.sort(away[:: max(away.size // 512, 1)])
    at = math.ceil(sample.size * tail + 4.0 * math.sqrt(sample.size * tail))
    if at < sample.size // 2:
        found = _beyond(away, float(sample[at]), float(sample[-1 - at]), first, last)
        if found is not None:
            return found
    return _ends(away, first, last)


def _beyond(away: Array, low: float, high: float, first: int, last: int) -> tuple[float, float] | None:
    """Return two order statistics from the draws outside (low, high), or None where they are not among them."""
    outside = np.less(away, low)
    outside |= np.greater(away, high)
    ends = away.take(np.flatnonzero(outside))
    upper = ends.size - (away.size - last)
    if first >= upper:
        return None
    ends.sort()
    at_low, at_high = float(ends[first]), float(ends[upper])
    return (at_low, at_high) if at_low < low and at_high > high else None


def _ends(draws: Array, first: int, last: int) -> tuple[float, float]:
    """Return two order statistics of draws that are all finite."""
    if draws.size <= FEW:
        ordered = np.sort(draws)
        return float(ordered[first]), float(ordered[last])
    parted = np.partition(draws, first)
    low = float(parted[first])
    rest = parted[first:]
    rest.partition(last - first)
    return low, float(rest[last - first])


def _whole(product: float) -> int:
    """Return q: the product where it is whole (but for rounding), else the integer part of it plus one half."""
    return int(product + 0.5)


def _whole_or_up(difference: int) -> int:
    """Return r: half the difference, or half of one more where it is odd."""
    return (difference + 1) // 2
