"""A logger's clock put right before its rows are taken in: by stops that an alarm list knows, or by another log."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.history.clocks import ClockCorrection
    from asfound.history.events import AlarmLog
    from asfound.history.look_parts import ClockSeen
    from asfound.history.mapping import Mapping
    from asfound.records.log_plan import FilePlan
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord

COMPARED = (
    "generator_power", "engine_power", "manifold_pressure", "engine_speed", "turbine_inlet_temperature",
)  # fmt: skip
"""Quantities whose steps tell time best; any other that both logs have comes after them."""
WIDEST = 26 * 3600.0
"""A clock is looked for so far away: a day, and an hour of daylight saving. [s]"""
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


def clock_against(
    records: Records, engine: EngineRecord, files: Sequence[FilePlan], mapping: Mapping, source: str
) -> ClockCorrection:
    """Return the correction of a logger's clock by another log of the engine that has the right time.

    Both saw the same engine: week by week the lag at which their steps agree. Offset, drift and jumps become pieces.

    Raises
    ------
    InputError
        No import of that name stands, or the two logs have nothing in common that tells time.
    """
    import numpy as np

    from asfound.errors import InputError
    from asfound.history.channels import split_channel
    from asfound.history.clock_search import correction, offsets_over
    from asfound.history.importing import MemorySink, import_files
    from asfound.records.logs_of_engine import imports, logs, name_for

    store, name = logs(records), name_for(records, engine)
    known = sorted({str(one.content["source"]) for one in imports(records, engine) if one.content["what"] != "alarms"})
    chosen = [one for one in known if source in (one, one.rpartition(" #")[0])]
    if not chosen:
        raise InputError("clock", source, "is no import of this engine", allowed=", ".join(known) or "none")
    sink = MemorySink()
    for one in files:
        import_files([one.path], sink, source=mapping.source, form=one.form, mapping=mapping)
    mine = sink.rows()
    common = [channel for channel in mine.values if channel in store.channels(name) and not channel.startswith("raw:")]
    rank = {quantity: number for number, quantity in enumerate(COMPARED)}
    common.sort(key=lambda channel: (rank.get(split_channel(channel)[0], len(rank)), channel))
    if not len(mine) or not common:
        raise InputError("clock", source, "has no reading in common with this log")
    room = int(WIDEST * 1e6)
    right = store.read(name, common, int(mine.time[0]) - room, int(mine.time[-1]) + room, with_source=True)
    of = right.texts["source"]
    right = right.take(np.isin(of.codes, [of.words.index(one) for one in chosen if one in of.words]))
    for channel in common:
        offsets = offsets_over(mine.time, mine.values[channel], right.time, right.values[channel], widest=WIDEST)
        if len(offsets) >= 2:
            return correction(offsets, against=f"'{source}' ({channel})")
    raise InputError(
        "clock", source, "does not tell the time of this log",
        allowed="two weeks or more that both saw, with changes of load",
    )  # fmt: skip
