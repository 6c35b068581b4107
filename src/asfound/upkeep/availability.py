"""Share of time that an engine, or enough of several engines, can run; indices of a year's hours.

Print the words with the letters: mean time to restoration (with waiting) is not mean repair time (IEC 60050-192, from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from asfound.errors import InputError

HOURS_OF_YEAR = 8760.0


@dataclass(frozen=True, slots=True)
class Structure:
    """Several things of which ``needed`` must be up: all is a series, one is a parallel."""

    needed: int
    parts: tuple[Part, ...]

    def __post_init__(self) -> None:
        if not 0 <= self.needed <= len(self.parts):
            raise InputError("needed", str(self.needed), "cannot be had", allowed=f"0 to {len(self.parts)}")


Part: TypeAlias = "Structure | float"


def series(*parts: Part) -> Structure:
    """Return the structure that is up when all of it is."""
    return Structure(len(parts), parts)


def parallel(*parts: Part) -> Structure:
    """Return the structure that is up when any of it is."""
    return Structure(1, parts)


def up(part: Part) -> float:
    """Return the chance that a structure is up, its parts being independent."""
    if not isinstance(part, Structure):
        if not 0.0 <= part <= 1.0:
            raise InputError("share", f"{part:g}", "is no share of time", allowed="0 to 1")
        return float(part)
    return math.fsum(numbers_up(part.parts)[part.needed :])


def numbers_up(parts: Sequence[Part]) -> list[float]:
    """Return the chances that 0, 1, 2, ... of the parts are up."""
    chances = [1.0]
    for part in parts:
        p = up(part)
        none, more = [*chances, 0.0], [0.0, *chances]
        chances = [a * (1.0 - p) + b * p for a, b in zip(none, more, strict=True)]
    return chances


def availability(mean_up: float, mean_down: float) -> float:
    """Return mean up time over mean up and down time: inherent with repair only, operational with waiting as well."""
    if not (mean_up > 0.0 and mean_down >= 0.0):
        raise InputError("mean_up", f"{mean_up:g}", "is no time", allowed="above 0, down 0 or more")
    return mean_up / (mean_up + mean_down)


def lognormal_mean(log_median: float, log_spread: float) -> float:
    """Return the mean of times whose logarithms are normal, exp(mu + s**2/2): above the median."""
    return math.exp(log_median + log_spread**2 / 2.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitHours:
    """Hours of one period by state and the starts in it; forms of IEEE Std 762 (from memory)."""

    service: float
    reserve: float
    forced: float
    maintenance: float
    planned: float
    attempted_starts: int
    successful_starts: int
    forced_events: int

    @property
    def period(self) -> float:
        """All hours of the period; a leap day counts, the change of the clock does not."""
        return self.service + self.reserve + self.forced + self.maintenance + self.planned

    def indices(self) -> dict[str, float]:
        """Return the indices by name; nan where nothing was counted."""
        hours = self.period
        return {
            "availability_factor": _over(self.service + self.reserve, hours),
            "service_factor": _over(self.service, hours),
            "forced_outage_factor": _over(self.forced, hours),
            "planned_outage_factor": _over(self.planned, hours),
            "maintenance_outage_factor": _over(self.maintenance, hours),
            "forced_outage_rate": _over(self.forced, self.forced + self.service),
            "starting_reliability": _over(self.successful_starts, self.attempted_starts),
            "service_hours_per_forced_outage": _over(self.service, self.forced_events),
            "mean_forced_outage": _over(self.forced, self.forced_events),
        }


def _over(part: float, whole: float) -> float:
    return part / whole if whole else math.nan


def hours_short(each: float, needed: int, installed: int, hours: float = HOURS_OF_YEAR) -> float:
    """Return equivalent hours of full output lost in a period where ``needed`` of the engines installed carry the load.

    The loss is in proportion to the engines missing; with a spare engine most of the hours down cost nothing.
    """
    if not 1 <= needed <= installed:
        raise InputError("needed", str(needed), "cannot be had", allowed=f"1 to {installed}")
    chances = numbers_up([each] * installed)
    return hours * math.fsum(chance * (needed - up_) / needed for up_, chance in enumerate(chances[:needed]))
