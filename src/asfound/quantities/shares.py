"""The share of each reading in a result's variance: which one to measure better.

Definition. All errors of a visit are sums of independent streams s_j with mean 0 and standard deviation 1 (`draws`).
The result's draws are fitted by least squares with y = a + sum b_j s_j + rest. For a linear formula of independent
readings b_j is c_j u_j, the contribution of the law of propagation (JCGM 100:2008 5.1.3, E.3.2), and b_j^2 / var(y) the
squared correlation of the result with that reading. Shares are b_j^2 / (sum b_k^2 + var(rest)), so they add up to 1,
and for a linear formula they have no error of sampling, because the fit leaves no rest.

Readings of one result that share an error are not independent: part of what each adds may cancel or double. Their
streams, own and common, are added up and shown as one entry.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from asfound.quantities.draws import Shape, common_label, own_label

if TYPE_CHECKING:
    from asfound.quantities.typing import Array
    from asfound.quantities.words import Reading

REST = "curvature and interaction"
"""Entry for what no straight line through the readings explains."""
TOGETHER = " + "
"""Joins the keys of readings that share an error."""
NOTHING = 1e-12
"""A share below this is rounding and left out."""


def shares_of(
    draws: Array, readings: Sequence[Reading], stream: Callable[[str, Shape], Array]
) -> tuple[tuple[str, float], ...]:
    """Return (key, share) of each reading or group of readings in the variance of a result, the largest first.

    Parameters
    ----------
    draws : array of shape (n,)
        The result; draws without an answer are left out.
    readings : sequence of Reading
        All under the result.
    stream : function
        Returns the stream of a label and a shape, of shape (n,), draw for draw beside ``draws``.

    Returns
    -------
    tuple of (str, float)
        Empty where the result has no variance; else shares that add up to 1, `REST` last.
    """
    owner, shapes = _streams(readings)
    finite = np.isfinite(draws)
    count = int(finite.sum())
    if not owner or count < 2:
        return ()
    matrix = np.stack([stream(label, shapes[label])[finite] for label in owner])
    matrix -= matrix.mean(axis=1, keepdims=True)
    away = draws[finite]
    largest = float(np.abs(away).max())
    if largest == 0.0:
        return ()
    away = away / largest  # shares have no unit: squares of 1e-200 or 1e200 must not run out of what a float holds
    away -= away.mean()
    slopes = np.linalg.lstsq(matrix @ matrix.T, matrix @ away, rcond=None)[0]
    rest = away - slopes @ matrix
    parts: dict[str, float] = {}
    for name, slope in zip(owner.values(), slopes, strict=True):
        parts[name] = parts.get(name, 0.0) + float(slope) ** 2
    unexplained = float(rest @ rest) / (count - 1)
    total = sum(parts.values()) + unexplained
    if total <= 0.0:
        return ()
    found = [(name, part / total) for name, part in parts.items() if part / total > NOTHING]
    found.sort(key=lambda one: (-one[1], one[0]))
    return (*found, (REST, unexplained / total)) if unexplained / total > NOTHING else tuple(found)


def _streams(readings: Sequence[Reading]) -> tuple[dict[str, str], dict[str, Shape]]:
    """Return for each stream under a result the entry it counts for, and its shape."""
    uncertain = [one for one in readings if one.standard_uncertainty > 0.0]
    names: dict[str, list[str]] = {}
    for one in uncertain:
        if one.shared_with and one.shared_fraction > 0.0:
            names.setdefault(one.shared_with, []).append(one.key)
    owner: dict[str, str] = {}
    shapes: dict[str, Shape] = {}
    for one in uncertain:
        fraction = one.shared_fraction if one.shared_with else 0.0
        name = TOGETHER.join(sorted(names[one.shared_with])) if fraction > 0.0 else one.key
        if fraction > 0.0:
            label = common_label(one)
            owner[label] = name
            shapes[label] = one.distribution if fraction >= 1.0 else "normal"
        if fraction < 1.0:
            owner[own_label(one)] = name
            shapes[own_label(one)] = one.distribution
    return owner, shapes
