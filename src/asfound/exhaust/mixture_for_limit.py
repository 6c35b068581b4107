"""Which mixture would meet the NOx limit: by the local slope of the logarithm of NOx against lambda, lean side only.

NOx is counted at reference oxygen or per work, so that dilution itself counts for nothing. On the lean side its
logarithm falls nearly straight with lambda over small steps; the slope comes from two settings of this engine, where
there are two, else from what such engines do, which is wide. It is no model of the engine: it knows no knock, no
misfire, no charge temperature. One change at a time.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust.limits import of_permit
from asfound.quantities.typing import Values
from asfound.quantities.words import Limit, Reading

LEAN = 1.2
"""Below it NOx does not fall with lambda as it does on the lean side (it peaks at about 1.05 to 1.15: from memory)."""
FLATTEST = -0.5
"""A slope flatter than this is none that mixture could be set by."""
PERMIT_QUANTITY = {
    "nox_mass_per_energy": "permit_nox_per_energy",
    "nox_mass_concentration": "permit_nox_by_mass",
    "nox_at_reference_oxygen": "permit_nox_fraction",
}
"""Quantity that a NOx limit is set for, to the quantity by which the limit itself lies on the sheet."""


def slope(nox_rich: Values, ratio_rich: Values, nox_lean: Values, ratio_lean: Values) -> Values:
    """Return d ln NOx / d lambda between two settings; nan where they do not differ or NOx is not above 0. [1]

    Parameters
    ----------
    nox_rich, nox_lean : float or array
        NOx in one basis, at reference oxygen or per work. [any, both the same]
    ratio_rich, ratio_lean : float or array
        Lambda of the two settings. [1]

    Examples
    --------
    >>> print(f"{float(slope(0.95, 1.66, 0.55, 1.72)):.1f}")
    -9.1
    """
    with np.errstate(all="ignore"):
        step = np.asarray(np.subtract(ratio_lean, ratio_rich), dtype=float)
        ratio = np.divide(nox_lean, np.where(np.asarray(nox_rich) > 0, nox_rich, np.nan))
        found: Values = np.log(np.where(ratio > 0, ratio, np.nan)) / np.where(step != 0, step, np.nan)
        return found


def excess_air_ratio_for(share: Values, ratio: Values, sensitivity: Values) -> Values:
    """Return lambda at which NOx would be just the limit.

    Parameters
    ----------
    share : float or array
        NOx over its limit now. [1]
    ratio : float or array
        Lambda now. [1]
    sensitivity : float or array
        d ln NOx / d lambda, negative. [1]

    Returns
    -------
    float or array
        nan where the mixture is not lean, the slope is too flat to set by, or no NOx was read. [1]

    References
    ----------
    .. [1] ln(N) + s (lambda' - lambda) = ln(L), solved for lambda': own derivation.

    Examples
    --------
    NOx at 120 % of its limit at lambda 1.66; it falls by 9 % for 0.01.

    >>> print(f"{float(excess_air_ratio_for(1.2, 1.66, -9.0)):.3f}")
    1.680
    """
    with np.errstate(all="ignore"):
        good = (np.asarray(share) > 0) & (np.asarray(ratio) >= LEAN) & (np.asarray(sensitivity) < FLATTEST)
        found: Values = ratio - np.log(np.where(good, share, np.nan)) / np.where(good, sensitivity, np.nan)
        return found


def share_at(share: Values, ratio: Values, sensitivity: Values, other: Values) -> Values:
    """Return NOx over its limit at another lambda: the inverse of `excess_air_ratio_for`. [1]"""
    with np.errstate(all="ignore"):
        return share * np.exp(np.multiply(sensitivity, np.subtract(other, ratio)))


def limit_readings(limits: tuple[Limit, ...], time: str) -> list[Reading]:
    """Return the NOx limits of the permit as readings of the sheet, so that worksheets can count with them.

    Of several limits in one basis the strictest is taken; an alarm is none. A limit is exact: its doubt is nobody's.

    Parameters
    ----------
    limits : tuple of Limit
        Those in force on the day of the visit.
    time : str
        ISO 8601: the beginning of the visit.
    """
    from asfound.quantities.register import quantity

    found: dict[str, Limit] = {}
    for one in of_permit(limits):
        name = PERMIT_QUANTITY.get(one.quantity)
        if name and one.side == "upper" and one.value > 0 and (name not in found or one.value < found[name].value):
            found[name] = one
    return [
        Reading(
            quantity=name,
            place="engine",
            state="as_found",
            time=time,
            value=one.value,
            unit=quantity(name).si_unit,
            as_typed=one.as_typed,
            standard_uncertainty=0.0,
            origin="typed",
            said_by=f"{one.name} {one.text}".strip(),
            entry=one.entry,
        )
        for name, one in found.items()
    ]
