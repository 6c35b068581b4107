"""Derivatives of sparse balances in few columns: values that never stand in one balance share a column.

The complex step gives one column to each value. A balance of an engine rests on a few of sixty values, so a third of
the columns does: Curtis, Powell and Reid, J. Inst. Maths Applics 13 (1974) 117.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.readings import Flags
from asfound.quantities.typing import Array

Residuals = Callable[[Any_, Any_], Any_]


def in_few_columns(formula: Residuals, stands: Flags, readings: int) -> Residuals:
    """Return the same formula, which takes a complex step in each of its values by few columns.

    Parameters
    ----------
    formula : callable
        Residuals (m, k) of values (n, k) and unknowns (p, k).
    stands : array of shape (m, n + p)
        Which value stands in which balance.
    readings : int
        n.
    """
    size = stands.shape[1]
    column = shared(stands)
    count = int(column.max(initial=-1)) + 1
    rows, own = np.arange(size), column

    def residuals(x: Any_, u: Any_) -> Any_:
        if not np.iscomplexobj(x) or np.shape(x)[1] != size:
            return formula(x, u)
        z = np.concatenate([x, u])
        steps = np.diagonal(z).imag
        if np.count_nonzero(z.imag) != size or not steps.all():
            return formula(x, u)
        few = np.repeat(z[:, :1].real, count, axis=1).astype(complex)
        few[rows, own] += 1j * steps
        found = np.asarray(formula(few[:readings], few[readings:]))
        return found[:, :1].real + 1j * np.where(stands, found.imag[:, own], 0.0)

    return residuals


def shared(stands: Flags) -> Array:
    """Return a column for each value so that no two values of one balance have the same; those of most balances first.

    >>> shared(np.array([[True, True, False], [False, True, True]])).tolist()
    [1, 0, 1]
    """
    if not stands.shape[1]:
        return np.zeros(0, dtype=int)
    apart = (stands.T.astype(int) @ stands.astype(int)) > 0
    column = np.full(stands.shape[1], -1)
    for at in np.argsort(-apart.sum(axis=1), kind="stable"):
        taken = set(column[apart[at]].tolist())
        column[at] = next(free for free in range(stands.shape[1]) if free not in taken)
    return column
