"""The log of one demo engine: what its logger holds, what was true, and what was planted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from asfound.errors import UnknownNameError
from asfound.history.channels import Channels
from asfound.history.demo import alarm_list, instruments, stories_ashgrebe, stories_others
from asfound.history.demo.calendar import STEP
from asfound.history.demo.cause import Cause, sound
from asfound.history.demo.engine import signals
from asfound.history.demo.fleet import ENGINES, Spec, spec
from asfound.history.demo.planted import AlarmEntry, Planted, Stay
from asfound.quantities.typing import Array

SEED = 48
"""Gives the data set that the documents speak of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoLog:
    """One engine over 30 months."""

    spec: Spec
    channels: Channels
    """What the logger holds, read by its heads, at the right time UTC; rows lost in gaps are not there."""
    actual: Mapping[str, Array]
    """What no sensor shows, at the same rows; nan while the engine stands."""
    truth: tuple[Planted, ...]
    states: tuple[Stay, ...]
    alarms: tuple[AlarmEntry, ...]


def generate(tag: str, seed: int = SEED) -> DemoLog:
    """Return the log of an engine; the same seed gives the same numbers.

    Raises
    ------
    UnknownNameError
        No engine of the demo world has this tag.
    """
    if tag not in ENGINES:
        raise UnknownNameError("engine of the demo world", tag, ENGINES)
    of = spec(tag)
    story: ModuleType = stories_ashgrebe if tag.startswith("A") else stories_others
    cause = sound(of, seed, story.stops(tag))
    story.before(cause)
    shown, actual = signals(cause)
    shown["engine_hours@engine"] = _hours(cause)
    instruments.measure(cause, shown)
    story.after(cause, shown)
    instruments.coarse(cause, shown)
    instruments.clip(shown)
    lost = instruments.faults(cause, shown, story.NEAR[tag])
    shown["raw:alarm_bits@engine"] = alarm_list.bits(cause, shown)
    alarms = alarm_list.entries(cause)
    kept = ~lost
    return DemoLog(
        spec=of,
        channels=Channels(
            time=cause.time[kept], values={name: rows[kept] for name, rows in shown.items()}, source=f"demo {tag}"
        ),
        actual={name: rows[kept] for name, rows in actual.items()},
        truth=tuple(sorted(cause.truth, key=lambda one: (one.start, one.kind, one.channel))),
        states=cause.stays,
        alarms=alarms,
    )


def _hours(cause: Cause) -> Array:
    """Return what the hours counter shows. [s]"""
    run: Array = np.asarray(np.cumsum(cause.running) * (STEP / 1e6), dtype=float)
    at = int(np.searchsorted(cause.time, cause.spec.hours_at))
    total: Array = run - run[at] + cause.spec.hours
    if cause.spec.tag == "N1":
        return stories_others.hours_counter(cause, total)
    return total
