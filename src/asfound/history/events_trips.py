"""What tripped the engine: the first protection of a stop, and what only followed from it.

Rules here are common practice, no source: the earliest shutdown-class event of a stop is its first-out; events within
one scan of it cannot be put in order and are candidates alike. ISA-18.1 names the lamps that show a first-out (from
memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.history.channels import TextChannel
from asfound.history.events import ACTION, SHUTDOWN, STATE, AlarmLog
from asfound.history.events_alarms import chattering

RUNNING = frozenset(("RUNNING", "RUN", "STARTED"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """One stop by a protection."""

    time: int
    """Of the first-out. [µs]"""
    first_out: tuple[str, ...]
    """Tags; more than one when they came within one scan."""
    consequences: tuple[str, ...]
    """Tags of alarms and shutdowns raised after it, in order, each once."""
    actions: tuple[str, ...]
    """Tags of what the control did, in order."""
    chattering: tuple[str, ...]
    """Tags that came and went all the time before: not a cause by that alone."""

    @property
    def sure(self) -> bool:
        """Whether one tag alone was first."""
        return len(self.first_out) == 1


def trips(log: AlarmLog, *, scan: float = 0.1, follows: float = 300.0, before: float = 3600.0) -> tuple[Trip, ...]:
    """Return every trip of a log, in the order of time.

    A shutdown belongs to the trip before it while no more than ``follows`` seconds have passed, or while the engine
    has not been reported running since.

    Parameters
    ----------
    log : AlarmLog
        With the clocks of its sources put right (`AlarmLog.shifted`).
    scan : float
        Period in which the controller looks at its inputs. [s]
    follows : float
        How long after the first-out an alarm counts as its consequence. [s]
    before : float
        How long before it chattering is looked for. [s]
    """
    shutdowns = np.flatnonzero(log.is_kind(SHUTDOWN) & log.raised)
    started = log.time[_says(log.state, RUNNING) & log.is_kind(STATE)]
    begun: list[int] = []
    for row in shutdowns:
        if begun:
            last = int(log.time[begun[-1]])
            now = int(log.time[row])
            ran = bool(np.searchsorted(started, now) - np.searchsorted(started, last))
            if now - last <= follows * 1e6 or (len(started) > 0 and not ran):
                continue
        begun.append(int(row))
    return tuple(_trip(log, row, scan, follows, before) for row in begun)


def _trip(log: AlarmLog, row: int, scan: float, follows: float, before: float) -> Trip:
    at = int(log.time[row])
    span = (log.time >= at) & (log.time <= at + round(follows * 1e6))
    shutdown = log.is_kind(SHUTDOWN) & log.raised
    first = _tags(log, span & shutdown & (log.time <= at + round(scan * 1e6)))
    window = log.take((log.time >= at - round(before * 1e6)) & (log.time < at))
    restless = tuple(bout.tag for bout in chattering(window))
    after = [tag for tag in _tags(log, span & log.alarms) if tag not in first and tag not in restless]
    return Trip(
        time=at,
        first_out=first,
        consequences=tuple(after),
        actions=_tags(log, span & log.is_kind(ACTION)),
        chattering=tuple(dict.fromkeys(restless)),
    )


def _tags(log: AlarmLog, rows: np.ndarray) -> tuple[str, ...]:
    return tuple(dict.fromkeys(log.tag.words[code] for code in log.tag.codes[rows]))


def _says(channel: TextChannel, words: frozenset[str]) -> np.ndarray:
    table = np.array([word in words for word in channel.words] + [False])
    return np.asarray(table[channel.codes], dtype=bool)
