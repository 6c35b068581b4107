"""What the log says of each cylinder's port up to a day, as plain statements for the room of the cylinders.

A statement names a witness, what it says (several states where the log cannot tell which), and since when, in words.
The log is heard of how it came, whether the reading stands still, and what oxygen and catalyst did at the same time.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

from asfound.history.channels import SECOND
from asfound.history.look_parts import EngineLook, Indicator, SensorFault, StepSeen
from asfound.history.look_words import System, between, came_with, day_said, when

PORT = "exhaust_temperature"
CHANNEL = "cylinder_exhaust_temperature"
DAY = 86_400 * SECOND
TOGETHER = 3 * DAY
"""What steps within so long of a port's step moved with it. [us]"""
SHORT, LONG = 2 * DAY, 30 * DAY
"""An onset told to two days came within hours or at once; a drift of more than a month came over months. [us]"""
OFTEN = 3
"""From so many stretches away from its habit on, a fault comes and goes."""
WITNESSES = {"oxygen": "oxygen", "catalyst_rise": "catalyst_rise"}
"""Indicator -> witness of the whole bank."""


def ports_in_log(look: EngineLook, day: str, system: System = "si") -> tuple[dict[str, Any], ...]:
    """Return the statements, one mapping each: ``place``, ``witness``, ``states``, ``since``, ``says``."""
    end = _end(day)
    found: list[dict[str, Any]] = []
    for one in look.indicators:
        if one.key.partition("@")[0] == PORT:
            found += _of_port(look, one, end, system)
    for fault in look.faults:
        if fault.kind == "stuck" and fault.channel.startswith(f"{CHANNEL}@") and _now(fault, look, end):
            says = f"the same number in the log since {day_said(fault.start)}"
            found.append(_told(fault.channel.partition("@")[2], "steadiness", ("frozen",), fault.start, says))
    return tuple(found)


def _end(day: str) -> int:
    after = date.fromisoformat(day) + timedelta(days=1)
    return round(datetime.combine(after, datetime.min.time(), UTC).timestamp()) * SECOND


def _now(fault: SensorFault, look: EngineLook, end: int) -> bool:
    return fault.start < end and (fault.end >= end - DAY or (fault.open and look.end <= end))


def _told(place: str, witness: str, states: tuple[str, ...], since: int, says: str) -> dict[str, Any]:
    return {
        "place": place, "witness": witness, "states": states, "says": says,
        "since": datetime.fromtimestamp(since / SECOND, UTC).date().isoformat(),
    }  # fmt: skip


def _of_port(look: EngineLook, one: Indicator, end: int, system: System) -> Iterator[dict[str, Any]]:
    """Yield how a port's departure came, and what else moved; nothing where it stands at its habit."""
    steps = [step for step in one.steps if step.time < end and abs(step.size.value) >= one.matters]
    away = sum(step.size.value for step in steps)
    drifted = _drifted(one, end)
    if abs(away + drifted) < one.matters:
        return
    last = next((step for step in reversed(steps) if step.size.value * (away + drifted) > 0.0), None)
    if last is not None and abs(last.size.value) >= abs(drifted):
        says = f"stepped by {between(one, last.size, system)} on {when(last)} in the log"
        reason = came_with(last)
        yield _told(
            one.place, "how_it_came", _came(look, one, last), last.time, says + (f", with {reason}" if reason else "")
        )
        yield from _beside(look, one, last)
    elif one.began is not None:
        span = min(end, look.end) - one.began.time
        states = ("months",) if span > LONG else ("days", "hours") if span > SHORT else ("hours", "at_once")
        says = f"drifts in the log since {day_said(one.began.time)}, {between(one, one.moved, system)} so far"
        yield _told(one.place, "how_it_came", states, one.began.time, says)


def _drifted(one: Indicator, end: int) -> float:
    """Return how far a port drifted, where that began before the day."""
    begun = one.began is not None and one.began.time < end
    return one.moved.value if begun and one.kind in ("drift", "both") and one.moved.differs_from_zero else 0.0


def _came(look: EngineLook, one: Indicator, step: StepSeen) -> tuple[str, ...]:
    """Return the ways of coming that a log with means of hours cannot tell apart."""
    episodes = [each for each in look.faults if each.kind == "left_group" and each.channel == one.channel]
    if len(episodes) >= OFTEN:
        return ("comes_and_goes",)
    wide = step.latest - step.earliest
    states = ("at_once", "hours") if wide <= SHORT else ("hours", "days") if wide <= LONG else ("days", "months")
    return (*states, "with_work") if came_with(step) else states


def _beside(look: EngineLook, one: Indicator, step: StepSeen) -> Iterator[dict[str, Any]]:
    """Yield what the witnesses of the whole bank did at the time of a port's step."""
    for base, witness in WITNESSES.items():
        watched = [each for each in look.indicators if each.key.partition("@")[0] == base and each.judged != "unknown"]
        if not watched:
            continue
        moved = [
            each.size.value
            for seen in watched
            for each in seen.steps
            if abs(each.time - step.time) <= TOGETHER and abs(each.size.value) >= seen.matters
        ]
        state = "unmoved" if not moved else "up" if max(moved, key=abs) > 0.0 else "down"
        says = f"{'did not move' if not moved else f'went {state}'} in the log about {day_said(step.time)}"
        yield _told(one.place, witness, (state,), step.time, says)
