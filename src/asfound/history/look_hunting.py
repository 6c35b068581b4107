"""Swings in stretches that were logged by the second, and which of load and speed moves first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from asfound.errors import AsFoundError
from asfound.history.channels import Channels
from asfound.history.hunting import Hunting, hunting
from asfound.history.leads import Leads, which_leads
from asfound.history.look_parts import HuntingSeen, Interval
from asfound.history.watched import POWER

SPEED = "engine_speed@engine"
LONGEST_LAG = 20.0
"""Load and speed answer each other within this. [s]"""
MOST = 20_000
"""Rows of a stretch that are looked at, the last ones."""


def hunting_of(quick: Sequence[Channels]) -> tuple[HuntingSeen, ...]:
    """Return what each quick stretch shows of load and speed."""
    return tuple(found for stretch in quick for found in _stretch(stretch))


def _stretch(stretch: Channels) -> Iterator[HuntingSeen]:
    part = stretch.take(np.arange(max(len(stretch) - MOST, 0), len(stretch)))
    power = next((one for one in POWER if one in part.values and np.isfinite(part.values[one]).sum() > 300), "")
    speed = part.values.get(SPEED)
    if speed is None or np.isfinite(speed).sum() <= 300:
        return
    leads: Leads | None = None
    if power:
        try:
            leads = which_leads(part.time, part.values[power], speed, LONGEST_LAG, ("load", "speed"))
        except AsFoundError:
            leads = None
    for name in (power, SPEED):
        if not name:
            continue
        try:
            swing = hunting(part.time, part.values[name])
        except AsFoundError:
            continue
        yield _seen(name, swing, leads, part)


def _seen(name: str, swing: Hunting, leads: Leads | None, part: Channels) -> HuntingSeen:
    words = {"a": "load", "b": "speed"}
    first = words.get(leads.first, leads.first) if leads else ""
    what = "Load" if name != SPEED else "Speed"
    said = f"{what} swings every {swing.period.value:.3g} s" if swing.found else f"{what} has no swing of its own"
    return HuntingSeen(
        channel=name, found=swing.found,
        period=Interval(swing.period.value, swing.period.low, swing.period.high),
        amplitude=Interval(swing.amplitude.value, swing.amplitude.low, swing.amplitude.high),
        start=int(part.time[0]), end=int(part.time[-1]), leads=first,
        lag=Interval(leads.lag.value, leads.lag.low, leads.lag.high) if leads else Interval(),
        says=f"{said}. {leads.words[:1].upper()}{leads.words[1:]}" if leads else f"{said}.",
    )  # fmt: skip
