"""A list of alarms and events as arrays: what came when, from which source, raised or cleared.

Words after ANSI/ISA-18.2-2016 and IEC 62682 (alarm management); their definitions are from memory, not read in full.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.channels import TextChannel, Times

RAISED = frozenset(("ALM", "ALARM", "ACT", "ACTIVE", "ON", "UNACK", "RAISED", "1"))
CLEARED = frozenset(("RTN", "CLR", "CLEAR", "CLEARED", "NORM", "NORMAL", "OFF", "0"))
"""Words by which alarm lists say that a condition came or went; common practice, no source."""
SHUTDOWN, ALARM, ACTION, STATE = "shutdown", "alarm", "action", "state"
HEADS = {
    "time": ("time_utc", "time", "timestamp"),
    "source": ("source", "station", "node"),
    "tag": ("tag", "point", "name"),
    "state": ("state", "event"),
    "kind": ("class", "kind", "type"),
}
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmLog:
    """Entries in the order of time (n,)."""

    time: Times
    """Microseconds since 1970-01-01 UTC."""
    source: TextChannel
    """Which controller wrote it: sources have clocks of their own."""
    tag: TextChannel
    state: TextChannel
    kind: TextChannel
    """``shutdown``, ``alarm``, ``action`` or ``state``."""

    def __len__(self) -> int:
        return len(self.time)

    @classmethod
    def of(cls, rows: Iterable[tuple[int, str, str, str, str]]) -> AlarmLog:
        """Return the log of (time [µs], source, tag, state, kind); rows of one time keep their order."""
        listed = sorted(rows, key=lambda row: row[0])
        columns = list(zip(*listed, strict=True)) if listed else [(), (), (), (), ()]
        source, tag, state, kind = (TextChannel.of([str(word) for word in column]) for column in columns[1:])
        return cls(time=np.array(columns[0], dtype=np.int64), source=source, tag=tag, state=state, kind=kind)

    def is_kind(self, kind: str) -> Mask:
        """Return where an entry is of a kind. (n,)"""
        return _is(self.kind, {kind})

    @property
    def raised(self) -> Mask:
        """Where a condition came. (n,)"""
        return _is(self.state, RAISED)

    @property
    def cleared(self) -> Mask:
        """Where a condition went. (n,)"""
        return _is(self.state, CLEARED)

    @property
    def alarms(self) -> Mask:
        """Where an alarm or a shutdown was raised: what a person was called for. (n,)"""
        return self.raised & (self.is_kind(ALARM) | self.is_kind(SHUTDOWN))

    def take(self, rows: npt.NDArray[np.intp] | Mask) -> AlarmLog:
        """Return some of the entries."""
        return AlarmLog(
            time=self.time[rows],
            source=self.source.take(rows),
            tag=self.tag.take(rows),
            state=self.state.take(rows),
            kind=self.kind.take(rows),
        )

    def shifted(self, offsets: Mapping[str, float]) -> AlarmLog:
        """Return the log with each source's clock put right: ``offsets`` in seconds are taken off its times."""
        off = np.array([round(offsets.get(word, 0.0) * 1e6) for word in self.source.words] + [0], dtype=np.int64)
        time = self.time - off[self.source.codes]
        order = np.argsort(time, kind="stable")
        moved = AlarmLog(time=time, source=self.source, tag=self.tag, state=self.state, kind=self.kind)
        return moved.take(order)


def clock_offsets(
    log: AlarmLog, reference: str, pairs: Mapping[str, tuple[str, str]], *, within: float = 600.0
) -> dict[str, float]:
    """Return how far each source's clock is ahead of the reference's, from events that both write down. [s]

    Parameters
    ----------
    log : AlarmLog
        Both sources.
    reference : str
        The source whose clock counts.
    pairs : mapping
        Source -> (its tag, the reference's tag) of one and the same event.
    within : float
        Two entries further apart than this are not the same event. [s]

    Returns
    -------
    dict
        Median difference; a source without a pair is left out.
    """
    found: dict[str, float] = {}
    for source, (own, other) in pairs.items():
        mine = log.time[_is(log.source, {source}) & _is(log.tag, {own})]
        theirs = log.time[_is(log.source, {reference}) & _is(log.tag, {other})]
        if not len(mine) or not len(theirs):
            continue
        apart = mine[:, None] - theirs[None, :]
        nearest = apart[np.arange(len(mine)), np.argmin(np.abs(apart), axis=1)] * 1e-6
        near = nearest[np.abs(nearest) <= within]
        if len(near):
            found[source] = float(np.median(near))
    return found


def read_alarm_log(path: Path | str) -> AlarmLog:
    """Return the alarm list of a CSV file with a head and ISO times; a time without a zone is taken as UTC.

    Raises
    ------
    InputError
        A column is missing, or a time is none.
    """
    with Path(path).open(encoding="utf-8-sig", newline="") as file:
        return log_of_lines(file, str(path))


def log_of_lines(lines: Iterable[str], name: str) -> AlarmLog:
    """Return the alarm list of CSV lines."""
    reader = csv.reader(lines)
    head = [word.strip().lower() for word in next(reader, [])]
    places = [_column(head, field, name) for field in HEADS]
    rows: list[tuple[int, str, str, str, str]] = []
    for row in reader:
        if not any(row):
            continue
        if len(row) <= max(places):
            raise InputError("line", str(reader.line_num), f"of {name} has {len(row)} fields", allowed=", ".join(head))
        text, source, tag, state, kind = (row[place].strip() for place in places)
        rows.append((_time(text, reader.line_num, name), source, tag, state.upper(), kind.lower()))
    return AlarmLog.of(rows)


def _column(head: list[str], field: str, name: str) -> int:
    for word in HEADS[field]:
        if word in head:
            return head.index(word)
    raise InputError("file", name, f"has no column for the {field}", allowed=" or ".join(HEADS[field]))


def _time(text: str, line: int, name: str) -> int:
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        raise InputError("time", text, f"in line {line} of {name} is no date and time", allowed="ISO 8601") from None
    when = when if when.tzinfo else when.replace(tzinfo=UTC)
    since = when - _EPOCH
    return (since.days * 86_400 + since.seconds) * 1_000_000 + since.microseconds


def _is(channel: TextChannel, words: Iterable[str]) -> Mask:
    wanted = frozenset(words)
    table: npt.NDArray[np.bool_] = np.array([word in wanted for word in channel.words] + [False])
    return np.asarray(table[channel.codes], dtype=bool)
