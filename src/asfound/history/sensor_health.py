"""All tests of sensors and log over all channels of an engine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from asfound.history.channels import SECOND, Channels, split_channel
from asfound.history.sensor_fault import Fault, Mask, running_of, settled
from asfound.history.sensor_limits import at_limit, coarse, gaps
from asfound.history.sensor_spikes import ALSO, AS_FAR, moves, spikes, usual_step
from asfound.history.sensor_stuck import stuck
from asfound.history.sensor_twins import left_group, twins
from asfound.history.sensor_units import unit_changes

GROUPS = ("cylinder_exhaust_temperature", "bearing_temperature")
MATTERS = {"oxygen_sensor_reading": 1e-3, "manifold_pressure": 3e3, "manifold_temperature": 3.0}
"""Quantities read twice at places that show the same, and the change of their difference that matters. SI"""
NOT_AT_LIMIT = ("_position", "_command", "_retard", "_timing", "_level", "relative_humidity")
"""Ends of these are real: closed and open, none, full."""
WORKED_OUT = ("_retard", "_timing", "_command")
"""What the control says, not what a sensor measures: may stand still and jump as it likes."""
REST = 20 * 3600.0
"""An engine stopped for so long has cooled. [s]"""


def check(log: Channels, *, twin_channels: Sequence[tuple[str, str]] | None = None) -> tuple[Fault, ...]:
    """Return every fault of sensors and log that the tests find, by time and channel.

    Parameters
    ----------
    log : Channels
        One engine, in the order of time.
    twin_channels : sequence of pairs of str, optional
        Channels that read one thing; when left out, a quantity of `MATTERS` read at two places is taken as twins
        where both read nearly the same.
    """
    running = running_of(log)
    calm = settled(log.time, running)
    found: list[Fault] = list(gaps(log.time))
    jumped: list[Fault] = []
    for name, value in log.values.items():
        if name.startswith(("raw:", "engine_hours@")):
            continue
        if not split_channel(name)[0].endswith(WORKED_OUT):
            found += stuck(log.time, value, running, name)
            jumped += spikes(log.time, value, calm, name)
        found += coarse(log.time, value, calm, name)
        if not split_channel(name)[0].endswith(NOT_AT_LIMIT):
            found += at_limit(log.time, value, calm, name)
        found += _units(log, name, running, calm)
    found += alone(jumped, log)
    for quantity in GROUPS:
        members = {name: value for name, value in log.values.items() if split_channel(name)[0] == quantity}
        found += left_group(log.time, members, calm)
    for first, second in _twins(log, calm) if twin_channels is None else twin_channels:
        matters = MATTERS.get(split_channel(first)[0], 0.0)
        found += twins(log.time, log.values[first], log.values[second], calm, (first, second), matters=matters)
    return tuple(sorted(explained(found), key=lambda one: (one.start, one.kind, one.channel)))


def alone(found: Sequence[Fault], log: Channels) -> list[Fault]:
    """Return the spikes at which no other channel moved: what two see, the engine did and not a sensor."""
    usual = {
        name: usual_step(value)
        for name, value in log.values.items()
        if not name.startswith("raw:") and not split_channel(name)[0].endswith(WORKED_OUT)
    }
    kept = []
    for one in found:
        row = int(np.searchsorted(log.time, one.start))
        least = max(ALSO, AS_FAR * moves(log.values[one.channel], row, usual[one.channel]))
        others = (moves(log.values[name], row, step) for name, step in usual.items() if name != one.channel)
        if not any(other > least for other in others):
            kept.append(one)
    return kept


def explained(found: Sequence[Fault]) -> list[Fault]:
    """Return the faults without those that a change of unit makes by itself: a group left, twins apart, in its time."""
    changed = [one for one in found if one.kind in ("unit_change", "gauge_absolute")]
    kept = []
    for one in found:
        covered = one.kind in ("left_group", "twins_apart", "at_limit", "coarse") and any(
            unit.start <= one.end and one.start <= unit.end for unit in changed if unit.channel == one.channel
        )
        if not covered:
            kept.append(one)
    return kept


def _units(log: Channels, name: str, running: Mask, calm: Mask) -> tuple[Fault, ...]:
    quantity = split_channel(name)[0]
    resting = None
    if quantity == "manifold_pressure":
        resting = log.values.get("barometric_pressure@site")
    elif quantity.startswith(("cylinder_exhaust", "turbine_", "catalyst_")):
        resting = log.values.get("ambient_temperature@site")
    at_rest = settled(log.time, ~running, 1800.0 if quantity == "manifold_pressure" else REST)
    load = log.values.get("engine_power@engine", log.values.get("generator_power@generator"))
    return unit_changes(log.time, log.values[name], calm, name, load=load, resting=resting, at_rest=at_rest)


def _twins(log: Channels, calm: Mask) -> Iterator[tuple[str, str]]:
    """Yield pairs of one quantity whose readings are alike from the beginning."""
    for quantity in MATTERS:
        names = [name for name in log.values if split_channel(name)[0] == quantity]
        for number, first in enumerate(names):
            for second in names[number + 1 :]:
                early = calm & (log.time < log.time[0] + 60 * 86_400 * SECOND)
                a, b = (np.nanmedian(log.values[name][early]) if early.any() else np.nan for name in (first, second))
                if abs(a - b) <= 0.1 * abs(a):
                    yield first, second
