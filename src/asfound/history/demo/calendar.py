"""Works years of the demo world as calendar time: WY 47 day 1 is 2031-01-01. Times are whole microseconds UTC."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from asfound.history.channels import SECOND, Times

STEP = 600 * SECOND
MINUTE = 60 * SECOND
HOUR = 3600 * SECOND
DAY = 24 * HOUR
FIRST_YEAR, FIRST_WORKS_YEAR = 2031, 47
LAST = (49, 180)
"""Works year and day that the data end with."""


def moment(works_year: int, day: float, hour: float = 0.0) -> int:
    """Return the time of a day of a works year; day 1 is the first. [µs]

    >>> moment(47, 1) // SECOND
    1924992000
    """
    begins = datetime(FIRST_YEAR + works_year - FIRST_WORKS_YEAR, 1, 1, tzinfo=UTC)
    return _microseconds(begins) + round((day - 1) * DAY + hour * HOUR)


def of_text(text: str) -> int:
    """Return the time of an ISO date and time in UTC. [µs]"""
    return _microseconds(datetime.fromisoformat(text).replace(tzinfo=UTC))


def iso(time: int) -> str:
    """Return a time as ISO text with its zone, UTC."""
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(time))).isoformat()


def axis() -> Times:
    """Return every step of the 30 months. (131184,)"""
    return np.arange(moment(47, 1), moment(LAST[0], LAST[1] + 1), STEP, dtype=np.int64)


def _microseconds(when: datetime) -> int:
    return (when - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
