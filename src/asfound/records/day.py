"""The day's line: what was done, in order."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from asfound.records.view_parts import Day, DayEvent, DaySpan

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.records.entries import Entry
    from asfound.records.things import VisitRecord

PAUSE = 30 * 60.0
"""Readings and looks of one state no further apart than this are one event. [s]"""


def day(visit: VisitRecord, entries: Sequence[Entry], now: str) -> Day:
    """Return the day of a visit from its standing entries; ``now`` is left out once it is sealed."""
    states = sorted((one for one in entries if one.kind == "visit_state"), key=lambda one: _at(one.content["time"]))
    events = [_event(one) for one in states]
    permit = str(visit.content.get("permit_until", ""))
    for one in states:
        permit = str(one.content.get("permit_until", permit))
    runs = [run for state in ("as_found", "as_left") for run in _runs(entries, state)]
    events += [
        DayEvent(
            time=run[0][0],
            kind="found" if state == "as_found" else "left",
            says=_count(run, "as found" if state == "as_found" else "as left"),
            who=run[0][1].who,
            entries=tuple(entry.id for _, entry in run),
        )
        for state, run in runs
    ]
    events += [
        DayEvent(time=_time(one), kind=one.kind, says=_says(one), who=one.who, entries=(one.id,))
        for one in entries
        if one.kind in ("note", "photo", "sealed", "addendum")
    ]
    events.sort(key=lambda one: (_at(one.time), one.entries))
    sealed = visit.sealed
    end = str(sealed.content["at"]) if sealed else now
    last = max([visit.began, *(one.time for one in events if one.kind != "addendum")], key=_at)
    end = end if sealed or _at(end) >= _at(last) else last
    left = next((str(one.content["time"]) for one in states if one.content["event"] == "left"), "")
    spans = [DaySpan(start=visit.began, end=left or end, kind="on_site")]
    spans += [
        DaySpan(start=run[0][0], end=run[-1][0], kind="found" if state == "as_found" else "left") for state, run in runs
    ]
    spans += _stops(states, end)
    return Day(
        start=visit.began,
        end=max([end, permit] if permit else [end], key=_at),
        now="" if sealed else end,
        permit_until=permit,
        events=tuple(events),
        spans=tuple(spans),
    )


def _at(time: str) -> float:
    """Return a time as seconds."""
    return datetime.fromisoformat(time).timestamp()


def _time(entry: Entry) -> str:
    """Return when what an entry tells happened."""
    return str(entry.content.get("time", entry.at))


def _event(entry: Entry) -> DayEvent:
    """Return the event of a ``visit_state`` entry."""
    content = entry.content
    return DayEvent(
        time=str(content["time"]),
        kind=str(content["event"]),
        says=str(content.get("says") or content["event"]),
        who=entry.who,
        entries=(entry.id,),
        minutes=content.get("minutes"),
    )


def _runs(entries: Sequence[Entry], state: str) -> list[tuple[str, list[tuple[str, Entry]]]]:
    """Return readings and looks of a state, gathered where they follow each other closely."""
    taken = sorted(
        ((_time(one), one) for one in entries if one.kind in ("reading", "look") and one.content.get("state") == state),
        key=lambda pair: (_at(pair[0]), pair[1].id),
    )
    runs: list[tuple[str, list[tuple[str, Entry]]]] = []
    for time, entry in taken:
        if runs and _at(time) - _at(runs[-1][1][-1][0]) <= PAUSE:
            runs[-1][1].append((time, entry))
        else:
            runs.append((state, [(time, entry)]))
    return runs


def _count(run: list[tuple[str, Entry]], state: str) -> str:
    """Say how many readings and looks a run holds."""
    readings = sum(entry.kind == "reading" for _, entry in run)
    looks = len(run) - readings
    parts = [f"{n} {word}{'' if n == 1 else 's'}" for n, word in ((readings, "reading"), (looks, "look")) if n]
    return f"{' and '.join(parts)}, {state}"


def _says(entry: Entry) -> str:
    """Say in a few words what an entry is."""
    content = entry.content
    if entry.kind == "note":
        text = str(content["text"])
        return text if len(text) <= 80 else text[:77] + "..."
    if entry.kind == "photo":
        return str(content.get("caption") or content["filename"])
    if entry.kind == "sealed":
        return "visit closed"
    return str(content["says"])


def _stops(states: Sequence[Entry], end: str) -> list[DaySpan]:
    """Return the stretches in which the engine stood."""
    spans: list[DaySpan] = []
    since = ""
    for one in states:
        state = one.content.get("engine_state")
        if state in ("stopped", "isolated") and not since:
            since = str(one.content["time"])
        elif state == "running" and since:
            spans.append(DaySpan(start=since, end=str(one.content["time"]), kind="stopped"))
            since = ""
    return [*spans, DaySpan(start=since, end=end, kind="stopped")] if since else spans
