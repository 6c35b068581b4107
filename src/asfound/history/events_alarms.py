"""Alarms that are no help: chattering, fleeting, stale, and floods; and how many come at all.

Terms of ANSI/ISA-18.2-2016, IEC 62682 and EEMUA 191. The figures beside each setting are from memory where said; a
company's own alarm philosophy goes before them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.history.channels import SECOND, Times
from asfound.history.events import AlarmLog

CHATTER_RAISES, CHATTER_WITHIN = 3, 120.0
"""Raised three times in two minutes. ISA-18.2 and EEMUA 191 give three in one minute as an example (from memory); twice
as long finds an alarm that comes every 40 s as well, and single alarms are not touched by either."""
CHATTER_QUIET = 300.0
"""A bout ends after so many seconds without the alarm; common practice, no source."""
FLEETING = 5.0
"""An alarm gone again within so many seconds; common practice, no source."""
STALE = 24 * 3600.0
"""An alarm that stands for so long: 24 h in ISA-18.2 (from memory)."""
FLOOD_BEGINS, FLOOD_ENDS, FLOOD_PERIOD = 10, 5, 600.0
"""A flood begins when more than 10 alarms come in 10 min and ends when fewer than 5 do: ISA-18.2, EEMUA 191 (from
memory), for one operator."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bout:
    """An alarm that came and went, folded to one line."""

    tag: str
    start: int
    """[µs]"""
    end: int
    """[µs]"""
    raised: int
    """How often it came."""
    transitions: int
    """How often it came or went."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """An alarm from when it came until it went."""

    tag: str
    start: int
    """[µs]"""
    end: int
    """[µs]; of the log's last entry while it still stands."""
    gone: bool
    """Whether it went again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flood:
    """A time in which more alarms came than a person can answer."""

    start: int
    """Of the first alarm of the ten minutes that made it a flood. [µs]"""
    end: int
    """When the rate had fallen. [µs]"""
    alarms: int
    peak: int
    """Most in ten minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """How many alarms a person was called for."""

    alarms: int
    days: float
    per_day: float
    per_ten_minutes: float
    over_ten: float
    """Share of the ten-minute periods with more than ten; below 1 % is asked for by ISA-18.2 (from memory)."""
    most: int
    """In one ten-minute period of the clock."""
    most_frequent: tuple[tuple[str, int], ...]
    """The ten tags that came most often."""


def chattering(
    log: AlarmLog, *, raises: int = CHATTER_RAISES, within: float = CHATTER_WITHIN, quiet: float = CHATTER_QUIET
) -> tuple[Bout, ...]:
    """Return the bouts in which one alarm was raised at least ``raises`` times in ``within`` seconds, by time.

    A bout spreads over all raises of that alarm that follow each other within ``quiet`` seconds.
    """
    found: list[Bout] = []
    up, down = log.raised, log.cleared
    for code, tag in enumerate(log.tag.words):
        mine = log.tag.codes == code
        raised = log.time[mine & up]
        if len(raised) < raises:
            continue
        groups = np.concatenate([[0], np.cumsum(np.diff(raised) > round(quiet * SECOND))])
        dense = raised[raises - 1 :] - raised[: len(raised) - raises + 1] <= round(within * SECOND)
        for group in np.unique(groups[: len(dense)][dense & (groups[: len(dense)] == groups[raises - 1 :])]):
            of_bout = raised[groups == group]
            start, last = int(of_bout[0]), int(of_bout[-1])
            cleared = log.time[mine & down]
            cleared = cleared[(cleared >= start) & (cleared <= last + round(quiet * SECOND))]
            end = max(last, int(cleared[-1])) if len(cleared) else last
            found.append(
                Bout(tag=tag, start=start, end=end, raised=len(of_bout), transitions=len(of_bout) + len(cleared))
            )
    return tuple(sorted(found, key=lambda bout: (bout.start, bout.tag)))


def without_repeats(log: AlarmLog, bouts: tuple[Bout, ...] | None = None) -> AlarmLog:
    """Return the log in which a chattering alarm stands once for each bout, as raised; floods are counted on it."""
    keep = np.ones(len(log), dtype=bool)
    for bout in chattering(log) if bouts is None else bouts:
        mine = log.tag.codes == log.tag.words.index(bout.tag)
        keep &= ~(mine & (log.time > bout.start) & (log.time <= bout.end))
    return log.take(keep)


def standing(log: AlarmLog) -> tuple[Standing, ...]:
    """Return each alarm from when it came until it went, by time; one raised again while it stands goes on."""
    found: list[Standing] = []
    wanted = log.alarms | log.cleared
    for code, tag in enumerate(log.tag.words):
        rows = np.flatnonzero((log.tag.codes == code) & wanted)
        if not len(rows):
            continue
        up = log.raised[rows]
        changed = np.concatenate([[True], up[1:] != up[:-1]])
        rows, up = rows[changed], up[changed]
        if not up[0]:
            rows, up = rows[1:], up[1:]
        starts, ends = log.time[rows[up]], log.time[rows[~up]]
        for number, start in enumerate(starts):
            gone = number < len(ends)
            end = int(ends[number]) if gone else int(log.time[-1])
            found.append(Standing(tag=tag, start=int(start), end=end, gone=gone))
    return tuple(sorted(found, key=lambda one: (one.start, one.tag)))


def fleeting(log: AlarmLog, *, within: float = FLEETING) -> tuple[Standing, ...]:
    """Return the alarms that went again within some seconds."""
    return tuple(one for one in standing(log) if one.gone and one.end - one.start <= round(within * SECOND))


def stale(log: AlarmLog, *, after: float = STALE) -> tuple[Standing, ...]:
    """Return the alarms that stood longer than ``after`` seconds, or still stand that long at the log's end."""
    return tuple(one for one in standing(log) if one.end - one.start > round(after * SECOND))


def floods(
    log: AlarmLog, *, begins: int = FLOOD_BEGINS, ends: int = FLOOD_ENDS, period: float = FLOOD_PERIOD
) -> tuple[Flood, ...]:
    """Return the floods: from more than ``begins`` alarms in ``period`` seconds until fewer than ``ends``.

    The period slides, so that a flood is not missed because the clock's ten minutes cut it in two.
    """
    times: Times = log.time[log.alarms]
    if not len(times):
        return ()
    long = round(period * SECOND)
    moments = np.unique(np.concatenate([times, times + long]))
    count = np.searchsorted(times, moments, side="right") - np.searchsorted(times, moments - long, side="right")
    mark = np.where(count > begins, 1, np.where(count < ends, -1, 0))
    last = np.maximum.accumulate(np.where(mark != 0, np.arange(len(mark)), 0))
    flooded = mark[last] > 0
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flooded, [False]]).astype(int)))
    found: list[Flood] = []
    for on, off in zip(edges[::2], edges[1::2], strict=True):
        first = int(np.searchsorted(times, moments[on] - long, side="right"))
        end = int(moments[min(off, len(moments) - 1)])
        number = int(np.searchsorted(times, end, side="right")) - first
        found.append(Flood(start=int(times[first]), end=end, alarms=number, peak=int(count[on:off].max())))
    return tuple(found)


def rates(log: AlarmLog, *, period: float = FLOOD_PERIOD) -> Rates:
    """Return how many alarms came, by periods of the clock from the log's first entry to its last."""
    times = log.time[log.alarms]
    span = int(log.time[-1] - log.time[0]) if len(log) else 0
    long = round(period * SECOND)
    number = max(-(-span // long), 1)
    per = np.bincount(((times - log.time[0]) // long).astype(np.int64), minlength=number) if len(times) else np.zeros(1)
    tags = np.bincount(log.tag.codes[log.alarms], minlength=len(log.tag.words)) if len(times) else np.zeros(0)
    order = [int(code) for code in np.argsort(-tags, kind="stable")[:10] if tags[code] > 0]
    days = span / (86_400 * SECOND)
    return Rates(
        alarms=len(times),
        days=days,
        per_day=len(times) / days if days else float("nan"),
        per_ten_minutes=len(times) / number * 600.0 / period,
        over_ten=float(np.mean(per > FLOOD_BEGINS)),
        most=int(per.max()),
        most_frequent=tuple((log.tag.words[code], int(tags[code])) for code in order),
    )
