"""The scale on which a series is described: as it is, its logarithm, or a root of counts.

What grows by so many per cent has straight lines and one spread on the scale of its logarithm; a count has one spread
on the scale 2 sqrt(x + 3/8) (Anscombe 1948, Biometrika 35, 246). Lengths of descriptions on different scales are
compared after adding twice the logarithm of how far the scale stretches each sample, as the likelihood of a transformed
series asks for (Box and Cox 1964, J. R. Stat. Soc. B 26, 211).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array

RATIO = 3.0
"""Largest over smallest value from which the logarithm is tried."""


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale: to it, back from it, the slope of the way back, what it adds to a description's length."""

    name: str
    to: Callable[[Array], Array]
    back: Callable[[Array], Array]
    slope: Callable[[Array], Array]
    stretch: Callable[[Array], Array]


def _same(x: Array) -> Array:
    return x


PLAIN = Scale("plain", _same, _same, np.ones_like, np.zeros_like)
LOGARITHM = Scale("logarithm", np.log, np.exp, np.exp, lambda y: 2.0 * y)
ROOT = Scale(
    "root", lambda x: 2.0 * np.sqrt(x + 0.375), lambda y: 0.25 * y * y - 0.375, lambda y: 0.5 * y,
    lambda y: 2.0 * np.log(np.maximum(0.5 * y, 1e-12)),
)  # fmt: skip


def scales_of(x: Array) -> list[Scale]:
    """Return the scales on which a series without nan may be described, its own first."""
    low = float(x.min())
    if low >= 0.0 and bool((x == np.round(x)).all()):
        return [PLAIN, ROOT]
    return [PLAIN, LOGARITHM] if low > 0.0 and float(x.max()) >= RATIO * low else [PLAIN]
