"""What the log says against the sensors of a visit's day, as plain data for the rooms that weigh readings.

A room below knows no looks: it gets a list of mappings with the quantity and the place of a channel, what is wrong with
it, since when, and, where the log tells it, by how much it reads wrong.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

from asfound.history.channels import SECOND, split_channel, titled
from asfound.history.look_parts import EngineLook, Indicator, Interval, SensorFault
from asfound.history.look_words import System, day_said, move

STALE = 60 * 86_400 * SECOND
"""What was wrong at the end of a log that ends so long before a visit need not be wrong on it."""
WORDS = {
    "stuck": "showed the same number {span}", "unit_change": "was logged in another unit {span} ({says})",
    "gauge_absolute": "was logged as the other of gauge and absolute {span}", "left_group": "left its habit {span}",
    "twins_apart": "has parted from {twin} {span}", "at_limit": "ended at the limit of its range {span}",
}  # fmt: skip
"""Faults that say something against a reading; spikes, gaps and coarse steps do not."""


def channels_in_doubt(look: EngineLook, day: str, system: System = "si") -> tuple[dict[str, Any], ...]:
    """Return the channels that the log speaks against on a day, one mapping for each.

    Keys: ``quantity``, ``place``, ``kind`` (see `sensor_fault.KINDS`), ``since`` (``2032-05-11``), ``size`` and ``u``
    (how much too high it reads if it is the wrong one, SI; None where the log does not tell), ``twin`` (title of the
    other sensor, or empty), ``says`` (words for a sentence about the reading).
    """
    begin = _us(date.fromisoformat(day))
    end = _us(date.fromisoformat(day) + timedelta(days=1))
    found: dict[tuple[str, str], dict[str, Any]] = {}
    for one in look.faults:
        if one.kind in WORDS and one.channel and _holds(one, look, begin, end):
            for row in _rows(one, system):
                found[one.kind, f"{row['quantity']}@{row['place']}"] = row
    return tuple(found.values())


def _us(day: date) -> int:
    return round(datetime.combine(day, datetime.min.time(), UTC).timestamp()) * SECOND


def _holds(one: SensorFault, look: EngineLook, begin: int, end: int) -> bool:
    if one.start >= end:
        return False
    return one.end >= begin or (one.open and look.end >= begin - STALE)


def _rows(one: SensorFault, system: System) -> Iterator[dict[str, Any]]:
    """Yield the row of a channel; of two that parted both, for nobody can tell which of them moved."""
    yield _row(one, one.channel, one.twin, 1.0, system)
    if one.kind == "twins_apart" and one.twin:
        yield _row(one, one.twin, one.channel, -1.0, system)


def _row(one: SensorFault, channel: str, twin: str, sign: float, system: System) -> dict[str, Any]:
    quantity, place = split_channel(channel)
    known = one.kind == "twins_apart" and math.isfinite(one.last) and math.isfinite(one.u)
    span = f"since {day_said(one.start)}" if one.open else f"from {day_said(one.start)} to {day_said(one.end)}"
    says = WORDS[one.kind].format(span=span, says=one.says, twin=_named(twin) or "its twin")
    if known:
        size = Interval(sign * one.last, sign * one.last - 1.96 * one.u, sign * one.last + 1.96 * one.u)
        much, spread = move(_like(channel, one.u), size, system)
        says += f", now by {much} ({spread})" if spread else f", now by {much}"
    return {
        "quantity": quantity, "place": place, "kind": one.kind, "since": _day(one.start),
        "size": sign * one.last if known else None, "u": one.u if known else None, "twin": _named(twin), "says": says,
    }  # fmt: skip


def _like(channel: str, u: float) -> Indicator:
    """Return what the words of a difference need."""
    quantity, place = split_channel(channel)
    return Indicator(
        key=quantity, title="", channel=channel, quantity=quantity, place=place, group="", wanted="still", share=False,
        matters=max(abs(u), 1e-12), sees="", scale="difference",
    )  # fmt: skip


def _named(channel: str) -> str:
    if not channel:
        return ""
    title = titled(channel)
    return title if title[:2].isupper() else title[:1].lower() + title[1:]


def _day(time: int) -> str:
    return datetime.fromtimestamp(time / SECOND, UTC).date().isoformat()
