"""Oil in a sump that is topped up: what a metal reading means, how fast metal is made, how long a charge lasts.

A sump kept full and well mixed: V dc/dt = G - q (c - c_fresh). Oil that is burnt or leaks takes its metal along and
fresh oil thins the rest, so a steady or falling reading with heavy top-up can hide wear that rises. Worked out here;
the idea of a wear rate corrected for oil added is published (urban bus fleets, 2003, abstract read). It holds for what
leaves with the oil: metals, additives; not for viscosity, only roughly for acid and base number.
Units: any one unit of volume, of hours, of mass; mg, L and h as laboratories use them. Arrays as well as floats.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Values
from asfound.upkeep.trend import Crossing, Line, fit_line, reaches


def concentration(
    hours: Values, *, volume: float, use: float, made: Values, start: Values = 0.0, fresh: float = 0.0
) -> Values:
    """Return the concentration after hours of use, mg/L.

    Parameters
    ----------
    hours : float or array
        Hours since ``start`` was the concentration.
    volume, use : float
        Sump, L, and oil that leaves and is made up for, L/h; 0 for none.
    made : float or array
        Metal made, mg/h.
    start, fresh : float or array
        Concentration at the beginning and in fresh oil, mg/L.
    """
    _sump(volume, use)
    x = use / volume * np.asarray(hours, dtype=float)
    # (1 - exp(-x))/x, which is 1 for no use: one form for both
    held = np.where(x == 0.0, 1.0, -np.expm1(-x) / np.where(x == 0.0, 1.0, x))
    found = start * np.exp(-x) + (made + use * fresh) * np.asarray(hours, dtype=float) / volume * held
    return found if np.ndim(found) else float(found)


def steady_concentration(*, use: float, made: Values, fresh: float = 0.0) -> Values:
    """Return what the concentration tends to, mg/L; infinite without use of oil."""
    if use > 0.0:
        return fresh + made / use
    return made * math.inf


def metal_made(hours: Values, start: Values, end: Values, *, volume: float, use: float, fresh: float = 0.0) -> Values:
    """Return the metal made between two samples, corrected for the oil added, mg/h; nan without hours between them."""
    _sump(volume, use)
    between = np.asarray(hours, dtype=float)
    between = np.where(between > 0.0, between, np.nan)
    x = use / volume * between
    held = np.where(x == 0.0, 1.0, -np.expm1(-x) / np.where(x == 0.0, 1.0, x))
    found = volume * (end - start * np.exp(-x)) / (between * held) - use * fresh
    return found if np.ndim(found) else float(found)


def concentration_by_topping_up(
    tops: Sequence[float],
    hours: float,
    *,
    volume: float,
    use: float,
    made: float,
    start: float = 0.0,
    fresh: float = 0.0,
) -> float:
    """Return the concentration at ``hours`` where the level falls between top-ups at given hours, mg/L.

    Between top-ups less oil holds the metal made: a sample just before a top-up reads above the kept-full sump.
    """
    _sump(volume, use)
    if not use > 0.0:
        return float(concentration(hours, volume=volume, use=0.0, made=made, start=start, fresh=fresh))
    level, metal, now = volume, start * volume, 0.0
    for at in [*sorted(tops), hours]:
        after = level - use * (at - now)
        if after <= 0.0 or not 0.0 <= at <= hours:
            raise InputError("tops", f"{at:g} h", "leaves the sump empty or is not in time", allowed="more often")
        metal = after / level * metal + made / use * after * math.log(level / after)
        if at == hours:
            return metal / after
        level, metal, now = volume, metal + (volume - after) * fresh, at
    raise AssertionError  # the last hour is in the list


def _sump(volume: float, use: float) -> None:
    if not (math.isfinite(volume) and volume > 0.0):
        raise InputError("volume", f"{volume:g}", "is no sump", allowed="more than 0 L")
    if not (math.isfinite(use) and use >= 0.0):
        raise InputError("use", f"{use:g}", "is no use of oil", allowed="0 L/h or more")


@dataclass(frozen=True, slots=True)
class Property:
    """One property of a charge: its line over the hours on this oil, and where it reaches its limit."""

    line: Line
    limit: float
    reached: Crossing
    towards: bool
    """The line goes towards the limit and its slope's interval leaves zero out: only then a date may be given."""


@dataclass(frozen=True, slots=True)
class ChargeLife:
    """Every property of a charge, and the one that ends it first; None where none is known to move to its limit."""

    properties: Mapping[str, Property]
    governing: str | None

    @property
    def change_at(self) -> float | None:
        """Hours on oil at which the governing property is expected at its limit."""
        return None if self.governing is None else self.properties[self.governing].reached.at

    @property
    def not_later_than(self) -> float | None:
        """Early end of the interval of the property whose early end comes first: for planning."""
        ends = [one.reached.lower for one in self.properties.values() if one.towards and one.reached.lower is not None]
        return min(ends, default=None)


def charge_life(
    hours: Sequence[float], readings: Mapping[str, Sequence[float]], limits: Mapping[str, float], *, level: float = 0.95
) -> ChargeLife:
    """Return how long this charge of oil lasts by each property that has a limit.

    ``hours`` count on this oil, zero at the change; three samples give intervals too wide to use. No uniform limits
    exist: the engine's manual, the oil's supplier and the laboratory give them, and a rule may set an outer mark.
    Confirm by a second sample before a stop, except for glycol or a jump of a bearing metal.
    """
    found: dict[str, Property] = {}
    for name, limit in limits.items():
        if name not in readings:
            raise InputError(name, f"{limit:g}", "is a limit without readings", allowed=", ".join(readings))
        line = fit_line(hours, readings[name], level=level)
        towards = line.moves and line.slope * (limit - line.intercept) > 0.0
        found[name] = Property(line, limit, reaches(line, limit), towards)
    moving = [name for name, one in found.items() if one.towards]
    return ChargeLife(found, min(moving, key=lambda name: found[name].reached.at, default=None))
