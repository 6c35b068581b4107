"""Two sensors of one thing that part, and one of a group that leaves it.

The difference of twins takes out what the engine does. Leaving a group is the one of nine exhaust temperatures that
moves away from the median of all; sensor or cylinder, other witnesses must say. Days are compared by their medians with
the sensor's own past, in units of the robust scatter from day to day. Own method, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from asfound.history.channels import Times, titled
from asfound.history.sensor_fault import Fault, Mask, daily_medians, scale
from asfound.quantities.typing import Array

LEFT_TIMES = 8.0
"""Day-to-day scatters by which a sensor has left its group."""
LEARN = 30
"""Days of its own past that a sensor is compared with."""
LATELY = 10
"""Days at the end of a stretch that tell how far off it is now."""
CONFIRM = 3
"""Days in a row that it must be away."""


def twins(
    time: Times,
    first: Array,
    second: Array,
    use: Mask,
    names: tuple[str, str],
    *,
    matters: float = 0.0,
    times: float = LEFT_TIMES,
) -> tuple[Fault, ...]:
    """Return the stretches in which the difference of two sensors of one thing is not what it was at first.

    Parameters
    ----------
    time, first, second : array (n,)
        [µs]; both in the same unit.
    use : array (n,)
        Where the engine has settled.
    names : tuple of str
        Their channels; the fault names the second, since one cannot tell which.
    matters : float
        Less than this is never away. SI
    times : float
        Day-to-day scatters that count as away.
    """
    day, apart = daily_medians(time, second - first, use)
    good = np.isfinite(apart)
    found = _away(names[1], day[good], apart[good], times, matters, adapts=0.0)
    says = f"moves away from {titled(names[0])}; one cannot tell which of the two does"
    return tuple(replace(one, kind="twins_apart", says=says, twin=names[0]) for one in found)


def left_group(
    time: Times, members: Mapping[str, Array], use: Mask, *, times: float = LEFT_TIMES, least: float = 12.0
) -> tuple[Fault, ...]:
    """Return each stretch in which a member stands away from its own habit against the median of its group.

    Parameters
    ----------
    time : array (n,)
        [µs]
    members : mapping
        Channel -> values (n,), three or more of one kind.
    use : array (n,)
        Where the engine has settled.
    times : float
        Scatters of the day's median that count as away.
    least : float
        Less than this is never away. SI
    """
    if len(members) < 3:
        return ()
    table = np.stack(list(members.values()))
    seen = np.isfinite(table).any(axis=0)
    middle = np.full(table.shape[1], np.nan)
    middle[seen] = np.nanmedian(table[:, seen], axis=0)
    apart = table - middle
    found: list[Fault] = []
    for name, row in zip(members, apart, strict=True):
        day, habit = daily_medians(time, row, use)
        good = np.isfinite(habit)
        found += _away(name, day[good], habit[good], times, least)
    return tuple(sorted(found, key=lambda one: (one.start, one.channel)))


def _doubt(habit: Array, stretch: Array) -> float:
    """Return the standard uncertainty of a stretch's last days against the habit: scatter of days, of both sides."""
    scatter = scale(np.diff(habit)) / np.sqrt(2)
    return float(scatter * np.sqrt(np.pi / 2) * np.sqrt(1 / len(stretch[-LATELY:]) + 1 / LEARN))


def _away(name: str, day: Times, habit: Array, times: float, least: float, adapts: float = 0.05) -> list[Fault]:
    """Return the stretches of one member; its past is the days before that were not away, which it follows slowly."""
    if len(habit) < LEARN + CONFIRM:
        return []
    limit = max(times * scale(np.diff(habit)) / np.sqrt(2), least)
    found: list[Fault] = []
    usual = float(np.median(habit[:LEARN]))
    row = LEARN
    while row < len(habit):
        if np.all(np.abs(habit[row : row + CONFIRM] - usual) > limit) and row + CONFIRM <= len(habit):
            back = np.abs(habit[row:] - usual) <= limit
            ends = np.flatnonzero(back[:-1] & back[1:]) if len(back) > 1 else np.empty(0, np.int64)
            end = row + int(ends[0]) if len(ends) else len(habit)
            stretch = habit[row:end] - usual
            found.append(
                Fault(
                    kind="left_group", channel=name, start=int(day[row]), end=int(day[end - 1]),
                    size=float(stretch[np.argmax(np.abs(stretch))]),
                    says="away from its own habit against the others: sensor or cylinder, other witnesses must say",
                    last=float(np.median(stretch[-LATELY:])), u=_doubt(habit, stretch),
                )
            )  # fmt: skip
            row = end
            continue
        usual += adapts * float(np.clip(habit[row] - usual, -limit / 4, limit / 4))
        row += 1
    return found
