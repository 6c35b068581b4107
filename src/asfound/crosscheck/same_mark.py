"""Errors that leave the same mark: no size of the error tells them apart by these balances."""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array

SAME = 0.995
"""|cosine| of two marks from which on they count as one. At a test value of 8 it leaves a difference of 0.6 in T."""


def cosines(marks: Array) -> Array:
    """Return the cosine of each two marks (degrees, k) in the metric of the parity, nan where unseen, shape (k, k)."""
    long = np.linalg.norm(marks, axis=0)
    unit = marks / np.where(long > 0, long, np.nan)
    return np.asarray(unit.T @ unit)


def groups(marks: Array, leading: Array, cosine: float = SAME) -> list[list[int]]:
    """Return indices of marks (degrees, k) in groups of one direction.

    The mark with the largest ``leading`` (k,) that is in no group yet leads the next and takes all that are like it, so
    that each member is like its leader; marks that are not seen stand in none.

    >>> groups(np.array([[1.0, 0.0, -2.0], [0.0, 1.0, 0.0]]), np.array([1.0, 5.0, 2.0]))
    [[1], [2, 0]]
    """
    alike = np.abs(cosines(marks)) >= cosine
    free = np.linalg.norm(marks, axis=0) > 0
    found = []
    for leader in np.argsort(-np.where(np.isfinite(leading), leading, -np.inf), kind="stable"):
        if not free[leader]:
            continue
        members = np.flatnonzero(alike[leader] & free)
        free[members] = False
        found.append([int(leader), *(int(one) for one in members[np.argsort(-leading[members])] if one != leader)])
    return found
