"""What the log of an engine says up to a day: worked out once, kept beside the store, read by pages and findings.

    look = look_at(store, "A2", "2032-07-08", facts)     # seconds the first time, then milliseconds
    kept_look(store, "A2")                               # never works anything out

A look rests on the rows, the alarm lists, and what the record tells (`Facts`); its digest says so, and another state
makes another look. Parts are kept as they are done, so one that was broken off goes on.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.history import look_disk
from asfound.history.alarm_lists import alarms_of
from asfound.history.channels import SECOND, split_channel
from asfound.history.events import AlarmLog
from asfound.history.events_trips import trips
from asfound.history.look_events import clock_beside, events_of
from asfound.history.look_facts import UNIT_CHANGED, Facts, LimitFact, WorkFact
from asfound.history.look_hunting import hunting_of
from asfound.history.look_indicator import Series, indicator_of
from asfound.history.look_load import loads_of
from asfound.history.look_parts import (
    ChannelThere,
    ClockSeen,
    EngineLook,
    EventsSeen,
    HuntingSeen,
    Indicator,
    SensorFault,
)
from asfound.history.look_rows import Blocks, Rows, block_mean, blocks_of, rows_of, starts_of, swing, without
from asfound.history.look_units import agreed
from asfound.history.look_visits import visits_seen
from asfound.history.plain import from_plain
from asfound.history.sensor_fault import Fault
from asfound.history.sensor_health import check
from asfound.history.store import Store
from asfound.history.watched import Made, in_log
from asfound.quantities.typing import Array

DAY = 86_400 * SECOND
OPEN = 2 * DAY
"""A fault that reaches so near to the end of the log is still there."""
FEWEST_FOR_PROCESSES = 12
PatternOf = Callable[[Array, Array, Sequence[str]], "dict[str, Any] | None"]
"""Usual exhaust pattern of temperatures (rows, cylinders), loads (rows,) and places."""

kept_look = look_disk.kept


def look_at(
    store: Store, engine: str, day: str | None = None, facts: Facts | None = None, *, workers: int = 1,
    pattern_of: PatternOf | None = None, tell: Callable[[str], None] | None = None,
) -> EngineLook:  # fmt: skip
    """Return what the log of an engine says up to a day (its last day without one), from disk where that is known.

    Parameters
    ----------
    day : str
        ``2032-07-08``; rows of that day count.
    facts : Facts
        What the record tells.
    workers : int
        Processes for the indicators.
    pattern_of : callable
        Makes the usual exhaust pattern.
    tell : callable
        Is told each part when it is done.

    Raises
    ------
    UnknownNameError
        The engine has no log.
    InputError
        The log has no rows up to that day.
    """
    span = store.span(engine)
    if span is None:
        raise UnknownNameError("engine with a log", engine, store.engines())
    day = day or _day(span[1])
    end = end_of(day)
    known = facts or Facts()
    if span[0] >= end:
        raise InputError("day", day, "lies before the log", allowed=f"from {_day(span[0])} on")
    digest = look_disk.state_of(store, engine, end, day, known)
    found = look_disk.of_state(store, engine, day, digest)
    if found is None:
        work = _Work(store, engine, day, end, known, digest, workers, pattern_of, tell or (lambda _: None))
        found = work.done()
        look_disk.keep(store, found)
    return found


def current(store: Store, look: EngineLook, facts: Facts | None = None) -> bool:
    """Return whether nothing that a look rests on has changed since."""
    return look.digest == look_disk.state_of(store, look.engine, end_of(look.day), look.day, facts or Facts())


def end_of(day: str) -> int:
    """Return the end of a day in microseconds UTC; InputError where it is none."""
    try:
        of = date.fromisoformat(day)
    except ValueError:
        raise InputError("day", day, "is no day", allowed="2032-07-08") from None
    after = datetime.combine(of + timedelta(days=1), datetime.min.time(), UTC)
    return int(after.timestamp()) * SECOND


def _day(time: int) -> str:
    return datetime.fromtimestamp(time / SECOND, UTC).date().isoformat()


@dataclass(slots=True)
class _Work:
    store: Store
    engine: str
    day: str
    end: int
    facts: Facts
    digest: str
    workers: int
    pattern_of: PatternOf | None
    tell: Callable[[str], None]

    def done(self) -> EngineLook:
        """Work everything out that is not there yet."""
        pieces = look_disk.Pieces(self.store, self.engine, self.digest)
        rows = rows_of(self.store, self.engine, self.end)
        alarms = alarms_of(self.store, self.engine)
        self.tell("rows")
        faults = tuple(from_plain(SensorFault, one) for one in self._kept(pieces, "faults", lambda: self._faults(rows)))
        self.tell("sensors")
        events = from_plain(
            EventsSeen, self._kept(pieces, "events", lambda: events_of(rows, alarms, self.facts.stops, self.end))
        )
        values = without(rows.slow, [_fault(one) for one in faults])
        blocks = blocks_of(rows, values, self.facts.rated_power, self.facts.rated_speed)
        series = list(self._series(rows, values, blocks, faults))
        indicators = self._indicators(pieces, series)
        self.tell("indicators")
        hunting = tuple(
            from_plain(HuntingSeen, one) for one in self._kept(pieces, "hunting", lambda: hunting_of(rows.quick))
        )
        start, end = (int(rows.slow.time[0]), int(rows.slow.time[-1])) if len(rows.slow) else (0, 0)
        found = EngineLook(
            engine=self.engine, day=self.day, version=look_disk.VERSION, digest=self.digest, start=start, end=end,
            rows=len(rows.slow), step=rows.step, channels=_there(rows), indicators=indicators, faults=faults,
            events=events, hunting=hunting, loads=loads_of(rows, values, self.facts),
            pattern=self._pattern(rows, values, blocks),
            visits=visits_seen(series, indicators, self.facts.visits, start, end),
            clocks=_clocks(rows, alarms, self.end), notes=rows.notes,
        )  # fmt: skip
        pieces.clear(["faults", "events", "hunting", *(_name(one.made) for one in series)])
        return found

    @staticmethod
    def _kept(pieces: look_disk.Pieces, name: str, work: Callable[[], Any]) -> Any:
        found = pieces.get(name)
        if found is None:
            pieces.put(name, work())
            found = pieces.get(name)
        return found

    def _faults(self, rows: Rows) -> tuple[SensorFault, ...]:
        if len(rows.slow) < 2:
            return ()
        last = int(rows.slow.time[-1])
        return tuple(
            SensorFault(
                kind=one.kind, channel=one.channel, start=int(one.start), end=int(one.end), size=float(one.size),
                says=one.says, open=one.end >= last - OPEN, twin=one.twin, last=float(one.last), u=float(one.u),
            )
            for one in agreed(check(rows.slow))
        )  # fmt: skip

    def _series(
        self, rows: Rows, values: dict[str, Array], blocks: Blocks, faults: Sequence[SensorFault]
    ) -> Iterator[Series]:
        first = starts_of(rows)
        for made in in_log(name for name in values if np.isfinite(values[name]).any()):
            swings = made.watched.make == "swing"
            over = values[made.others[0]] if swings else None
            y = block_mean(_signal(made, values), rows.counts, first) if over is None else swing(
                values[made.channel], over, rows.running, first
            )  # fmt: skip
            yield Series(
                made=made, time=blocks.time, y=y, hours=blocks.hours,
                counts=np.ones_like(blocks.counts) if swings else blocks.counts,
                effects={n: v for n, v in blocks.effects.items() if n in made.watched.effects},
                running_share=blocks.running_share, visits=self.facts.visits, limit=_limit(self.facts.limits, made),
                works=(*self.facts.works, *_changed(faults, made)), running_scatter=blocks.running_scatter,
            )  # fmt: skip

    def _indicators(self, pieces: look_disk.Pieces, series: Sequence[Series]) -> tuple[Indicator, ...]:
        found = {one.made.key: pieces.get(_name(one.made)) for one in series}
        missing = [one for one in series if found[one.made.key] is None]
        if self.workers > 1 and len(missing) >= FEWEST_FOR_PROCESSES:
            spawn = multiprocessing.get_context("spawn")
            with ProcessPoolExecutor(self.workers, mp_context=spawn) as pool:
                self._take(pieces, found, pool.map(indicator_of, missing, chunksize=4), missing)
        else:
            self._take(pieces, found, map(indicator_of, missing), missing)
        return tuple(from_plain(Indicator, found[one.made.key]) for one in series)

    def _take(self, pieces: look_disk.Pieces, found: dict[str, Any], made: Any, missing: Sequence[Series]) -> None:
        for series, indicator in zip(missing, made, strict=True):
            pieces.put(_name(series.made), indicator)
            found[series.made.key] = pieces.get(_name(series.made))
            self.tell(series.made.title)

    def _pattern(self, rows: Rows, values: dict[str, Array], blocks: Blocks) -> dict[str, Any] | None:
        names = [name for name in values if name.startswith("cylinder_exhaust_temperature@")]
        if self.pattern_of is None or len(names) < 3 or not len(rows.slow):
            return None
        first = starts_of(rows)
        table = np.column_stack([block_mean(values[name], rows.counts, first) for name in names])
        load = blocks.effects.get("load", np.full(len(table), np.nan))
        return self.pattern_of(table, load, [split_channel(name)[1] for name in names])


def _name(made: Made) -> str:
    return f"of-{made.key.replace('@', '-')}"


def _changed(faults: Sequence[SensorFault], made: Made) -> Iterator[WorkFact]:
    """Yield where the log changed the unit of a channel: a step there is one of the log."""
    for one in faults:
        if one.kind in ("unit_change", "gauge_absolute") and one.channel in (made.channel, *made.others):
            for at in (one.start, one.end):
                yield WorkFact(start=at, end=at, says=UNIT_CHANGED)


def _fault(one: SensorFault) -> Fault:
    return Fault(kind=one.kind, channel=one.channel, start=one.start, end=one.end, size=one.size, says=one.says)


def _signal(made: Made, values: dict[str, Array]) -> Array:
    """Return the rows of what is watched."""
    own = values[made.channel]
    if made.watched.make in ("bank", "group"):
        with np.errstate(all="ignore"):
            import warnings

            with warnings.catch_warnings():
                warnings.simplefilter("ignore", RuntimeWarning)
                middle: Array = np.nanmedian([values[name] for name in made.others], axis=0)
        return np.asarray(own - middle)
    if made.watched.make == "less":
        return np.asarray(own - values[made.others[0]])
    if made.watched.make == "per":
        over = values[made.others[0]]
        return np.asarray(own / np.where(over > 0, over, np.nan))
    return own


def _limit(limits: Sequence[LimitFact], made: Made) -> LimitFact | None:
    quantity, place = split_channel(made.channel)
    if made.watched.make != "value":
        return None
    return next((one for one in limits if one.quantity == quantity and one.place in ("", place)), None)


def _there(rows: Rows) -> tuple[ChannelThere, ...]:
    found = []
    for name, values in rows.slow.values.items():
        good = np.flatnonzero(np.isfinite(values))
        if not good.size:
            continue
        quantity, place = split_channel(name)
        kept = values[good]
        found.append(
            ChannelThere(
                channel=name, quantity=quantity, place=place, n=int(good.size),
                share=float(good.size / (good[-1] - good[0] + 1)), first=int(rows.slow.time[good[0]]),
                last=int(rows.slow.time[good[-1]]), low=float(kept.min()), high=float(kept.max()),
                mean=float(kept.mean()),
            )
        )  # fmt: skip
    return tuple(found)


def _clocks(rows: Rows, alarms: AlarmLog | None, end: int) -> tuple[ClockSeen, ...]:
    if alarms is None:
        return ()
    stops = [one.time for one in trips(alarms) if one.time < end]
    found = clock_beside(rows.slow.time, rows.running, stops)
    return (replace(found),) if found is not None else ()
