"""The year in which keeping a machine costs least per year: running cost rises, first cost is spread thinner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError


@dataclass(frozen=True, slots=True)
class EconomicLife:
    """Mean yearly cost by the year in which the machine is given up, and the least of them."""

    year: int
    yearly: float
    by_year: tuple[float, ...]


def economic_life(
    first: float, running: Sequence[float], rate: float, *, salvage: Sequence[float] | None = None
) -> EconomicLife:
    """Return the year of least equivalent yearly cost.

    Parameters
    ----------
    first : float
        First cost; of old equipment what it would fetch today, not what it cost.
    running : sequence of float
        Cost of year 1, 2, ..., paid at its end.
    rate : float
        Interest per year, 0 or more.
    salvage : sequence of float, optional
        What it would fetch at the end of year 1, 2, ...
    """
    if not len(running) or (salvage is not None and len(salvage) != len(running)):
        raise InputError("running", str(len(running)), "gives no years", allowed="as many values as of salvage")
    if not rate >= 0.0:
        raise InputError("rate", f"{rate:g}", "is no rate of interest here", allowed="0 or more")
    years = np.arange(1, len(running) + 1)
    factors = (1.0 + rate) ** -years
    spent = first + np.cumsum(np.asarray(running, dtype=float) * factors)
    if salvage is not None:
        spent = spent - np.asarray(salvage, dtype=float) * factors
    by_year = spent / np.cumsum(factors)
    best = int(np.argmin(by_year))
    return EconomicLife(best + 1, float(by_year[best]), tuple(by_year.tolist()))
