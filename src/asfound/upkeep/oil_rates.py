"""Oil between two samples: use over the work done, rise of a property freed of the oil added, time left to a limit.

The balance is that of `oil`: a sump kept full and well mixed, so that fresh oil thins what is in it. Well met by
metals, roughly by acid and base number, not by viscosity. Two samples make a rate with all their doubt; with three and
more the trend of the charge says more. SI; arrays as well as floats.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

THOUSAND_HOURS = 3.6e6
"""Seconds in 1000 h: the time that oil rates are told over."""


def oil_use(added: Values, density: Values, power: Values, time: Values) -> Values:
    """Return oil added over work at the shaft, kg/J; nan without work.

    Parameters
    ----------
    added, density : float or array
        Volume of oil, m3, and its density, kg/m3.
    power, time : float or array
        Mean power over the running time, W and s.
    """
    work = np.asarray(power, dtype=float) * time
    found = added * density / np.where(work > 0.0, work, np.nan)
    return found if np.ndim(found) else float(found)


def rise_made(
    before: Values, now: Values, fresh: Values, time_before: Values, time_now: Values, added: Values, sump: Values
) -> Values:
    """Return the rise in 1000 h that there would be had no oil been added; nan where no time lies between.

    Parameters
    ----------
    before, now, fresh : float or array
        Property of the two samples and of the oil added, in one unit.
    time_before, time_now : float or array
        Time on the oil at the two samples, s.
    added, sump : float or array
        Oil added between them, and oil in the sump, m3.
    """
    time = np.asarray(time_now, dtype=float) - time_before
    time = np.where(time > 0.0, time, np.nan)
    x = np.asarray(added, dtype=float) / sump
    held = np.where(x == 0.0, 1.0, -np.expm1(-x) / np.where(x == 0.0, 1.0, x))
    found = ((now - before * np.exp(-x)) / held - x * fresh) / time * THOUSAND_HOURS
    return found if np.ndim(found) else float(found)


def time_left(before: Values, now: Values, time_before: Values, time_now: Values, limit: Values) -> Values:
    """Return the time until a property goes on to its limit as it did between two samples, s.

    0 where the limit is reached, nan where it does not move towards it. Topping up is taken to go on as before.
    """
    time = np.asarray(time_now, dtype=float) - time_before
    moved, rest = np.asarray(now, dtype=float) - before, np.asarray(limit, dtype=float) - now
    upward = np.asarray(limit, dtype=float) > before
    reached = np.where(upward, rest <= 0.0, rest >= 0.0)
    towards = (time > 0.0) & (moved * rest > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.where(reached, 0.0, np.where(towards, rest * time / np.where(moved == 0.0, np.nan, moved), np.nan))
    found = np.where(np.isfinite(time + moved + rest) & (time > 0.0), found, np.nan)
    return found if np.ndim(found) else float(found)
