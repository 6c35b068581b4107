"""A logger's clock held against the alarm list before its rows are taken in: stops that both know."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.history.events import AlarmLog
    from asfound.history.look_parts import ClockSeen
    from asfound.history.mapping import Mapping
    from asfound.records.log_plan import FilePlan

MOST_FILES = 12
"""Files that are read for it, spread over all."""


def clock_of(files: Sequence[FilePlan], mapping: Mapping, alarms: AlarmLog) -> ClockSeen | None:
    """Return how far the logger's clock is ahead of the alarm list; None where it is right or cannot be told."""
    import numpy as np

    from asfound.history.events_trips import trips
    from asfound.history.importing import MemorySink, import_files
    from asfound.history.look_events import clock_beside
    from asfound.history.look_rows import with_running
    from asfound.history.sensor_fault import running_of

    step = max(len(files) // MOST_FILES, 1)
    sink = MemorySink()
    for one in files[::step]:
        import_files([one.path], sink, source=mapping.source, form=one.form, mapping=mapping)
    log = with_running(sink.rows())
    if len(log) < 2:
        return None
    spans = [(int(block.time.min()), int(block.time.max())) for block in [*sink.blocks, *sink.held] if len(block)]
    stops = [one.time for one in trips(alarms) if any(low <= one.time <= high for low, high in spans)]
    order = np.argsort(log.time, kind="stable")
    return clock_beside(log.time[order], running_of(log)[order], stops)


def corrected(mapping: Mapping, seen: ClockSeen, add: float | None = None) -> Mapping:
    """Return the mapping with the clock put right, and why."""
    from dataclasses import replace

    from asfound.history.clocks import ClockCorrection, ClockPiece

    piece = ClockPiece(add=-seen.fast if add is None else add, doubt=seen.doubt / 2.0, why=seen.says.rstrip("."))
    return replace(mapping, clock=ClockCorrection((piece,)))
