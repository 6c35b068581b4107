"""What the record of an engine tells whoever looks at its log: ratings, visits, limits, reasons of stops."""

from __future__ import annotations

import math
from dataclasses import dataclass

UNIT_CHANGED = "another unit in the log"
"""Reason of a step that is one of the log, not of the engine."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFact:
    """A visit: places where a step is no surprise, and where a repair is judged. Microseconds UTC."""

    name: str
    start: int
    end: int
    did: str = ""
    """What was changed on it, as it was written down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitFact:
    """A limit for a quantity that is logged.

    Where the limit is for another quantity (a permit in g per kWh, a sensor in ppm), both read at one time tie them:
    ``measured`` of the limited quantity at ``at``, beside what the log shows then.
    """

    quantity: str
    """Quantity of the channel."""
    value: float
    above: bool = True
    """Values above it are bad."""
    source: str = ""
    place: str = ""
    measured: float = math.nan
    at: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StopFact:
    """Why the engine stood, as somebody told: ``planned``, ``maintenance``, ``forced``, ``reserve``."""

    start: int
    end: int
    state: str
    says: str = ""
    """Who told it: a visit, a work order, a failure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkFact:
    """Something that was done to the engine between visits, or was seen to fail: a reason of a step."""

    start: int
    end: int
    says: str
    """``work order 2032-114 of 27 August 2032: coil L2``; as it stands inside a sentence."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All of them; everything may be missing."""

    rated_power: float = math.nan
    """[W]"""
    rated_speed: float = math.nan
    """[rad/s]"""
    visits: tuple[VisitFact, ...] = ()
    limits: tuple[LimitFact, ...] = ()
    stops: tuple[StopFact, ...] = ()
    works: tuple[WorkFact, ...] = ()
