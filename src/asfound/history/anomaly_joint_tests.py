"""What a sound time teaches of several channels: two tests, their limits, and how slow a reference may be.

One test is of averages, one of single samples whose squared distance is averaged (see `anomaly_joint`). The
covariance is shrunk towards independent channels (Ledoit and Wolf 2004, J. Multivariate Anal. 88, 365); wild samples
of the sound time are bounded first. The limit comes from the sound time itself, as channels wander and no theory of
independent samples holds: its later part is cut in blocks, and each is judged by what the others taught (cross-
validation by blocks; Burman, Chow and Nolan 1994, Biometrika 81, 351), for the samples that taught a covariance
always look nearer to it than new ones do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from asfound.quantities.typing import Array

REFERENCES = (2.0, 1.0, 0.5)
"""Memories of the slow reference, as shares of the sound time: what wanders no quicker than in the sound time is
followed, and nothing more than that needs."""
FIRST = 0.6
"""Share of the sound time that teaches when its end is judged."""
BORNE, ODD = 0.7, 0.01
"""Limits that that end must keep within, and the share of it that need not: what wanders goes further later on."""
SINGLE = 0.5
"""Weight of the newest squared distance of a single sample, as a share of that of the averages."""
MOST_SINGLE = 8.0
"""Limits at which the squared distance of a single sample is bounded, for the same reason."""
BLOCKS = 5
"""Of the sound time, each judged by the others."""
WIDER = 1.0
"""So many more for squared distances of single samples: their average has the longer tail."""


@dataclass(frozen=True, slots=True)
class Tests:
    """What the sound time taught: inverse covariance and limit of averages, and of single samples whose squared
    distance is averaged.
    """

    weight: float
    inverse: Array
    wall: float
    single: Array
    single_wall: float

    def far(self, smooth: Array, z: Array, before: float) -> tuple[Array, Array]:
        """Return the squared distance over its limit, the larger of both tests, and the average of the second."""
        one = np.einsum("ij,jk,ik->i", smooth, self.inverse, smooth) / self.wall
        two = np.minimum(np.einsum("ij,jk,ik->i", z, self.single, z) / self.single_wall, MOST_SINGLE)
        two = smoothed(two[:, None], self.weight, np.array([before]))[:, 0]
        return np.maximum(one, two), two

    def own(self, smooth: Array, z: Array) -> Array:
        """Return each channel's own part: what the distance would lose if that channel read what the others say."""
        one = (smooth @ self.inverse) ** 2 / np.diag(self.inverse) / self.wall
        two = (z @ self.single) ** 2 / np.diag(self.single) / self.single_wall
        return np.asarray(one + smoothed(two, self.weight), dtype=float)


def slowest(smooth: Array, z: Array, settled: npt.NDArray[np.int64], weight: float, margin: float) -> float:
    """Return the weight of the slowest reference for which the end of a sound time looks sound from its beginning."""
    learn = 4 * len(settled) // 3
    first, later = settled[: int(FIRST * len(settled))], settled[int(FIRST * len(settled)) :]
    for share in REFERENCES:
        memory = 2.0 / max(share * learn, 10.0)
        reference = smoothed(z, memory)
        averages, single = smooth - reference, z - reference
        tests = learned(averages[first], single[first], weight, margin)
        far, _ = tests.far(averages[later], single[later], 0.0)
        if float((far > BORNE).mean()) <= ODD:
            break
    return memory


def learned(smooth: Array, z: Array, weight: float, margin: float) -> Tests:
    """Learn both tests from a sound time, beyond its slow reference."""
    weight *= SINGLE
    channels = smooth.shape[1]
    found: list[tuple[Array, float]] = []
    independent = channels * (2.0 - weight) / weight
    for off, freedom in ((smooth, float(channels)), (z, independent)):
        inverse = np.asarray(np.linalg.inv(shrunk_covariance(np.clip(off, *_bounds(off)))), dtype=float)
        distance = _left_out(off)
        if off is z:
            distance = smoothed(distance[:, None], weight, distance[:1])[:, 0]
        found.append((inverse, _limit(distance, freedom, channels / freedom, margin + (WIDER if off is z else 0.0))))
    return Tests(weight, *found[0], *found[1])


def _left_out(off: Array) -> Array:
    """Return the squared distance of each sample of a sound time by the covariance of the other blocks. Shape (n,)."""
    found = np.empty(len(off))
    edges = np.linspace(0, len(off), BLOCKS + 1).astype(int)
    for low, high in pairwise(edges.tolist()):
        taught = np.concatenate([off[:low], off[high:]])
        inverse = np.linalg.inv(shrunk_covariance(np.clip(taught, *_bounds(taught))))
        found[low:high] = np.einsum("ij,jk,ik->i", off[low:high], inverse, off[low:high])
    return found


def _bounds(off: Array) -> tuple[Array, Array]:
    middle = np.median(off, axis=0)
    wide = 4.0 * np.maximum(1.4826 * np.median(np.abs(off - middle), axis=0), 1e-9)
    return middle - wide, middle + wide


def _limit(distance: Array, freedom: float, share: float, margin: float) -> float:
    """Return the limit of the squared distance from those of the sound time, never below the one of theory.

    That is chi-squared with ``freedom``, times ``share``.
    """
    logs = np.log(np.maximum(distance, 1e-12))
    middle = float(np.median(logs))
    wide = 1.4826 * float(np.median(np.abs(logs - middle)))
    from scipy.special import chdtri  # the limit for independent normal samples, 1 in 10,000

    theory = share * float(chdtri(freedom, 1e-4))
    return max(math.exp(middle + margin * wide), float(np.quantile(distance, 0.995)), theory)


def shrunk_covariance(x: Array) -> Array:
    """Return the covariance shrunk towards one variance and no correlation by Ledoit and Wolf's weight. Shape (p,
    p).
    """
    n, p = x.shape
    off = x - x.mean(axis=0)
    sample = off.T @ off / n
    target = np.eye(p) * float(np.trace(sample)) / p
    apart = float(((sample - target) ** 2).sum())
    squares = (off * off).T @ (off * off) / n - sample**2
    share = min(float(squares.sum()) / n / apart, 1.0) if apart > 0.0 else 1.0
    found: Array = share * target + (1.0 - share) * sample
    return found


def smoothed(z: Array, weight: float, start: Array | None = None) -> Array:
    """Return the EWMA of each column from a start, zero without it. Shape of ``z``."""
    from scipy.signal import lfilter  # costs at the start of a program that never asks

    first = np.zeros(z.shape[1]) if start is None else start
    found = lfilter([weight], [1.0, weight - 1.0], z, axis=0, zi=((1.0 - weight) * first)[None, :])
    return np.asarray(found[0], dtype=float)
