"""Hours, starts and the usual indices of a state table: IEEE Std 762, ISO 3977-9 and ISO 14224 by their common letters.

IEEE Std 762-2006 title and scope read, forms of the indices from memory; ISO 3977-9 (gas turbines) for terms only, from
memory. Starts are counted as the reference of this project does: each row of service but the one a table opens with. A
row of service after hours that nobody saw is no start.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.history.events_states import (
    FORCED,
    MAINTENANCE,
    PLANNED,
    RESERVE,
    SERVICE,
    STANDING,
    STARTFAIL,
    UNSEEN,
    StateTable,
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Indices:
    """Hours [h] and indices [1]; nan where the divisor is zero."""

    period: float
    """PH: all hours but those that nobody saw."""
    service: float
    """SH"""
    reserve: float
    """RSH: ready, and not wanted."""
    forced: float
    """FOH"""
    planned: float
    """POH"""
    maintenance: float
    """MOH"""
    unseen: float
    """Hours without a row in the log; in no index."""
    available: float
    """AH = SH + RSH"""
    availability_factor: float
    """AF = AH / PH"""
    service_factor: float
    """SF = SH / PH"""
    reserve_factor: float
    """RSH / PH"""
    forced_outage_rate: float
    """FOR = FOH / (FOH + SH)"""
    forced_outage_factor: float
    """FOF = FOH / PH"""
    planned_outage_factor: float
    """POF = POH / PH"""
    maintenance_outage_factor: float
    """MOF = MOH / PH"""
    unavailability_factor: float
    """UF = (FOH + POH + MOH) / PH"""
    reliability_factor: float
    """RF = 1 - FOH / PH, as ISO 3977-9 counts it (from memory)."""
    starts_attempted: int
    starts_successful: int
    starting_reliability: float
    """SR = successful over attempted."""
    forced_outages: int
    mean_service_between_forced: float
    """SH over the number of forced outages: mean operating time between failures of ISO 14224 (from memory). [h]"""
    mean_forced_outage: float
    """FOH over the number of forced outages: mean down time. [h]"""
    service_per_start: float
    """SH over successful starts. [h]"""


def indices(table: StateTable, *, standing_as: str = "") -> Indices:
    """Return hours and indices of a state table.

    Parameters
    ----------
    table : StateTable
        In the order of time.
    standing_as : str
        What stops of unknown reason count as: reserve, forced, planned or maintenance. `bounds` gives both ends.

    Raises
    ------
    InputError
        There are stops of unknown reason and nothing says what they count as.
    """
    hours = {word: table.hours(word) for word in (SERVICE, RESERVE, FORCED, PLANNED, MAINTENANCE, STANDING, UNSEEN)}
    number = {word: table.state.count(word) for word in (FORCED, STANDING)}
    if hours[STANDING]:
        if standing_as not in (RESERVE, FORCED, PLANNED, MAINTENANCE):
            raise InputError(
                "standing_as", standing_as, f"is wanted: {hours[STANDING]:.1f} h of standing have no reason",
                allowed="reserve, forced, planned, maintenance",
                try_next="Find the reasons in the alarm list or in the work orders, or take both ends with `bounds`.",
            )  # fmt: skip
        hours[standing_as] += hours[STANDING]
        number[FORCED] += number[STANDING] if standing_as == FORCED else 0
    service, reserve = hours[SERVICE], hours[RESERVE]
    out = hours[FORCED] + hours[PLANNED] + hours[MAINTENANCE]
    period = service + reserve + out
    pairs = zip(table.state, table.state[1:], strict=False)
    successful = sum(word == SERVICE and before != UNSEEN for before, word in pairs)
    attempted = successful + table.state.count(STARTFAIL)
    return Indices(
        period=period,
        service=service,
        reserve=reserve,
        forced=hours[FORCED],
        planned=hours[PLANNED],
        maintenance=hours[MAINTENANCE],
        unseen=hours[UNSEEN],
        available=service + reserve,
        availability_factor=_over(service + reserve, period),
        service_factor=_over(service, period),
        reserve_factor=_over(reserve, period),
        forced_outage_rate=_over(hours[FORCED], hours[FORCED] + service),
        forced_outage_factor=_over(hours[FORCED], period),
        planned_outage_factor=_over(hours[PLANNED], period),
        maintenance_outage_factor=_over(hours[MAINTENANCE], period),
        unavailability_factor=_over(out, period),
        reliability_factor=1 - _over(hours[FORCED], period),
        starts_attempted=attempted,
        starts_successful=successful,
        starting_reliability=_over(successful, attempted),
        forced_outages=number[FORCED],
        mean_service_between_forced=_over(service, number[FORCED]),
        mean_forced_outage=_over(hours[FORCED], number[FORCED]),
        service_per_start=_over(service, successful),
    )


def bounds(table: StateTable) -> tuple[Indices, Indices]:
    """Return the indices with all stops of unknown reason as reserve, and with all of them as forced outages."""
    return indices(table, standing_as=RESERVE), indices(table, standing_as=FORCED)


def _over(above: float, below: float) -> float:
    return above / below if below else float(np.nan)
