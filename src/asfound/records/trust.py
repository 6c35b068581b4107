"""What a home should tell whoever opens it: a clock that was set back, a file that was left over."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.records.entries import time_of
from asfound.records.lock_switch import LATE

if TYPE_CHECKING:
    from datetime import timedelta

    from asfound.records.store import Records

SLACK = 300.0
"""Clocks of two laptops may differ by so much before anybody is told. [s]"""


def notices(records: Records) -> tuple[str, ...]:
    """Return in words what is not right with this home and hinders nobody; empty when nothing is."""
    return (*_late(records), *_clock(records))


def _late(records: Records) -> tuple[str, ...]:
    """Tell of a file that another program wrote into while the home was locked or opened for good (`lock_switch`)."""
    file = records.home.folder / LATE
    if records.database.file is None or not file.exists():
        return ()
    return (
        f"{file} was written into while the home was being switched by home-lock or home-unlock. It may hold "
        "entries that are not here: copy it into a folder of its own as record.sqlite, write a bundle there "
        "and take it in here; then remove it.",
    )


def _clock(records: Records) -> tuple[str, ...]:
    newest = records.newest_id()
    if newest is None:
        return ()
    behind = time_of(newest) - records.clock.now()
    if behind.total_seconds() <= SLACK:
        return ()
    return (
        f"The clock of this computer stands {_span(behind)} behind the newest entry ({time_of(newest):%Y-%m-%d %H:%M} "
        "UTC): it was set back, or another laptop's is ahead. Entries keep their order; the times on new ones will be "
        "too early. Set the clock.",
    )


def _span(span: timedelta) -> str:
    """Return a length of time in its largest whole unit."""
    seconds = span.total_seconds()
    for size, name in ((86_400, "days"), (3_600, "hours")):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {name}"
    return f"{seconds / 60:.0f} minutes"
