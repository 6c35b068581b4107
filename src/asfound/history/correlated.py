"""How much a series remembers: its correlation from sample to sample, and what that does to intervals.

Residuals of a log are like their neighbours, so n samples say less than n independent ones. The first-order
coefficient is estimated from differences (Chakar, Lebarbier, Levy-Leduc and Robin 2017, Bernoulli 23, 1408), which a
few steps and outliers do not upset; the long-run variance from an autoregression of the order that Akaike's criterion
takes (den Haan and Levin 1997, Handbook of Statistics 15, 299).
"""

from __future__ import annotations

import math

import numpy as np

from asfound.quantities.typing import Array

MOST = 0.99
"""Largest coefficient taken: beyond it the series has no level that a finite log could tell."""
_TO_SIGMA = 1.4826


def robust_phi(x: Array) -> float:
    """Return the first-order autoregressive coefficient, from medians of differences at lags 1 and 2.

    For a series x with steps in its level: phi = median|x(i+2) - x(i)|^2 / median|x(i+1) - x(i)|^2 - 1, each about its
    own median so that a slope does not count. Within -0.99 and 0.99; 0 for fewer than 10 samples.
    """
    good = x[np.isfinite(x)]
    if good.size < 10:
        return 0.0
    one, two = _median_square(good[1:] - good[:-1]), _median_square(good[2:] - good[:-2])
    return float(np.clip(two / one - 1.0, -MOST, MOST)) if one > 0.0 else 0.0


def _median_square(differences: Array) -> float:
    return float(np.median(np.abs(differences - np.median(differences)))) ** 2


def difference_sigma(x: Array, phi: float = 0.0) -> float:
    """Return the standard deviation of the innovations, from differences; steps and outliers hardly count."""
    good = x[np.isfinite(x)]
    if good.size < 3:
        return math.nan
    new = good[1:] - phi * good[:-1]
    if phi == 0.0:
        return _TO_SIGMA * math.sqrt(_median_square(good[1:] - good[:-1]) / 2.0)
    return _TO_SIGMA * float(np.median(np.abs(new - np.median(new))))


def phi_of_residuals(residual: Array) -> float:
    """Return the first-order coefficient of residuals about a fitted line, corrected for the bias of short series.

    Least squares gives too small a coefficient; (1 + 4 phi)/n is added back (Kendall 1954, Biometrika 41, 403, with
    the larger term of a fitted trend).
    """
    good = residual[np.isfinite(residual)]
    n = good.size
    if n < 5:
        return 0.0
    below = float(good[:-1] @ good[:-1])
    raw = float(good[1:] @ good[:-1]) / below if below > 0.0 else 0.0
    return float(np.clip((raw * n + 1.0) / (n - 4.0) if n > 8 else raw, -MOST, 0.97))


def autoregression(x: Array, most: int | None = None) -> tuple[Array, float]:
    """Return the coefficients of an autoregression of x, its order by Akaike's criterion, and the innovations'
    variance.

    Burg's recursion: stable, and nearly without bias in short series.

    Parameters
    ----------
    x : array of shape (n,)
        Of mean zero, without nan.
    most : int, optional
        Largest order; 2 n^(1/3) without it.
    """
    n = x.size
    most = int(2.0 * n ** (1.0 / 3.0)) if most is None else most
    most = max(min(most, n // 4), 0)
    ahead, behind = x[1:].copy(), x[:-1].copy()
    variance = float(x @ x) / max(n, 1)
    found, best, best_variance, least = np.zeros(0), np.zeros(0), variance, n * math.log(max(variance, 1e-300))
    for order in range(1, most + 1):
        below = float(ahead @ ahead + behind @ behind)
        if below <= 0.0:
            break
        k = 2.0 * float(ahead @ behind) / below
        found = np.concatenate([found - k * found[::-1], [k]])
        variance *= 1.0 - k * k
        ahead, behind = (ahead - k * behind)[1:], (behind - k * ahead)[:-1]
        worth = n * math.log(max(variance, 1e-300)) + 2.0 * order
        if worth < least:
            least, best, best_variance = worth, found, variance
    return best, best_variance


def long_run_covariance(scores: Array) -> Array:
    """Return the covariance of a sum of scores, per sample, allowing for correlation in time.

    Each column is whitened by an autoregression of its own, and the coefficients are put back at frequency zero (den
    Haan and Levin 1997, Handbook of Statistics 15, 299). The sum of the coefficients is corrected for the bias of short
    series about a trend, (2 + 4 phi)/n (Kendall 1954, Biometrika 41, 403; the trend doubles it).

    Parameters
    ----------
    scores : array of shape (n, p)
        Of mean zero, in order of time.

    Returns
    -------
    array of shape (p, p)
    """
    n = len(scores)
    white, back = np.zeros_like(scores), np.ones(scores.shape[1])
    for k, column in enumerate(scores.T):
        filtered, _ = autoregression(column)
        white[:, k] = column
        for lag, coefficient in enumerate(filtered, 1):
            white[lag:, k] -= coefficient * column[:-lag]
        total = float(filtered.sum())
        if filtered.size:
            total = min(total + (2.0 + 4.0 * max(total, 0.0)) / n, 1.0 - min(0.03, 10.0 / n))
        back[k] = 1.0 / (1.0 - total)
    found: Array = white.T @ white / n * np.outer(back, back)
    return found


def long_run_variance(x: Array) -> float:
    """Return n times the variance of the mean of n samples, for large n."""
    good = x[np.isfinite(x)]
    if good.size < 5:
        return math.nan
    return float(long_run_covariance((good - good.mean())[:, None])[0, 0])


def effective_number(x: Array) -> float:
    """Return how many independent samples would say as much about the mean; between 1 and n."""
    good = x[np.isfinite(x)]
    if good.size < 5:
        return float(good.size)
    long_run = long_run_variance(good)
    return float(np.clip(good.size * good.var() / long_run, 1.0, good.size)) if long_run > 0.0 else float(good.size)
