"""Least squares with few columns: by the normal equations of scaled columns, many times quicker than a decomposition.

Columns are brought to length one first; what the columns share to more than a part in a million is left out by a small
ridge, so that a step beside a like step gives no wild answer.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Array

_RIDGE = 1e-12


def solve(columns: Array, y: Array) -> Array:
    """Return the coefficients, shape (p,), or (p, k) for k series at once in y (n, k)."""
    size = np.sqrt((columns * columns).sum(axis=0))
    size = np.where(size > 0.0, size, 1.0)
    scaled = columns / size
    gram = scaled.T @ scaled
    gram[np.diag_indices_from(gram)] += _RIDGE
    found: Array = np.linalg.solve(gram, scaled.T @ y) / (size if y.ndim == 1 else size[:, None])
    return found


def of_products(gram: Array, across: Array) -> Array:
    """Return the coefficients from the products of the columns with each other (p, p) and with k series (p, k)."""
    size = np.sqrt(np.diag(gram))
    size = np.where(size > 0.0, size, 1.0)
    scaled = gram / np.outer(size, size)
    scaled[np.diag_indices_from(scaled)] += _RIDGE
    found: Array = np.linalg.solve(scaled, across / size[:, None]) / size[:, None]
    return found


def rest(columns: Array, y: Array) -> Array:
    """Return what least squares leaves of y, shape (n,)."""
    left: Array = y - columns @ solve(columns, y) if columns.shape[1] else y
    return left


def orthonormal(columns: Array) -> Array:
    """Return columns of length one, at right angles, that span the same; shape (n, p)."""
    size = np.sqrt((columns * columns).sum(axis=0))
    scaled = columns / np.where(size > 0.0, size, 1.0)
    gram = scaled.T @ scaled
    gram[np.diag_indices_from(gram)] += _RIDGE
    found: Array = np.linalg.solve(np.linalg.cholesky(gram), scaled.T).T
    return found
