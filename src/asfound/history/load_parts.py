"""A load that is held down, as a look keeps it. Times in whole microseconds UTC, values SI."""

from __future__ import annotations

import math
from dataclasses import dataclass

NAN = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """Where something stands that may be what holds a load down. SI"""

    channel: str
    now: float
    """Median while the load rests at its level."""
    before: float
    """Median in the year before while the load was above it; nan: not known."""
    most: float
    """Highest while the load rests there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadHeld:
    """A level that the load does not pass any more, and rests at. Loads in W."""

    channel: str
    time: int
    earliest: int
    """Last time above it."""
    latest: int
    end: int
    """First time above it again; 0: it still holds."""
    level: float
    spread: float
    before: float
    """What the days before reached that passed it."""
    rated: float
    at_level: float
    """Share of the hours since that rest at it."""
    at_level_before: float
    passed: float
    """Share of the days before on which it was passed."""
    days: int
    chance: float
    """Of so long a time below it by what was before."""
    air_low: float = NAN
    air_high: float = NAN
    """Ambient temperatures at which it rested there. [K]"""
    margins: tuple[Margin, ...] = ()
    visit: str = ""
    why: str = ""
    """What was done about that time."""
