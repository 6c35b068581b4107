"""Which tasks share the next stops: a stop costs the same for one task or six, but work done early wastes life.

No task may be later than its due. Without a limit on the work of one stop each task goes to the last stop at or before
its due, so groups are neighbours in time and the best grouping is found exactly for any number of tasks. With a limit
all sets of tasks worth a thought are tried up to `EFFORT` of them, which always does for 10 tasks; beyond that a good
grouping is given, with a bound below which no grouping lies.
Idea: Wildeman, Dekker and Smit 1997 (abstract read); the arguments are our own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from asfound.errors import InputError

EFFORT = 100_000
TOGETHER = 12  # tasks that are grouped anew at a time
_SAME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Work that is due once."""

    name: str
    due: float
    """Hours at which it is due, on any one scale."""
    early: float
    """Cost of doing it one hour early: the life that is thrown away."""
    window: float = math.inf
    """Most hours that it may be done early."""
    minutes: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.due) and self.early >= 0.0 and self.window >= 0.0 and self.minutes >= 0.0):
            raise InputError(self.name, f"due {self.due:g}", "cannot be planned", allowed="a due, all else 0 or more")


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop: at the earliest due of its tasks."""

    at: float
    tasks: tuple[Task, ...]

    @property
    def minutes(self) -> float:
        """Work of the stop, one task after the other."""
        return math.fsum(task.minutes for task in self.tasks)

    @property
    def early(self) -> float:
        """Cost of what is done early."""
        return math.fsum(task.early * (task.due - self.at) for task in self.tasks)


@dataclass(frozen=True, slots=True)
class Grouping:
    """Stops in order of time, what they cost, and what is known of anything better."""

    stops: tuple[Stop, ...]
    cost: float
    apart: float
    """Cost of a stop for each task."""
    at_least: float
    """No grouping costs less than this; equal to the cost where the grouping is the best."""

    @property
    def best(self) -> bool:
        """Whether it is known that no grouping costs less."""
        return self.cost <= self.at_least + _SAME * max(1.0, abs(self.cost))


def group(tasks: Sequence[Task], setup: float, *, most_minutes: float = math.inf) -> Grouping:
    """Return the cheapest grouping of tasks into stops.

    Parameters
    ----------
    tasks : sequence of Task
        Each once, any order; names are to differ.
    setup : float
        Cost of one stop, whatever is done in it: travel, isolation, output lost.
    most_minutes : float
        Most minutes of work in one stop.

    Raises
    ------
    InputError
        One task alone is more than fits into a stop, two tasks have one name, or the set-up is negative.
    """
    if not (math.isfinite(setup) and setup >= 0.0):
        raise InputError("setup", f"{setup:g}", "is no cost of a stop", allowed="0 or more")
    if len({task.name for task in tasks}) < len(tasks):
        raise InputError("tasks", "a name", "stands twice", allowed="each task once")
    for task in tasks:
        if task.minutes > most_minutes:
            raise InputError(
                task.name, f"{task.minutes:g} min", "does not fit into one stop", allowed=f"up to {most_minutes:g} min",
                try_next="Part the task, or allow a longer stop.",
            )  # fmt: skip
    ordered = sorted(tasks, key=lambda task: (task.due, task.name))
    apart = setup * len(ordered)
    free = _neighbours(ordered, setup, math.inf)
    if all(stop.minutes <= most_minutes for stop in free):
        return _grouping(free, setup, apart, _cost(free, setup))
    proved = _all_sets(ordered, setup, most_minutes)
    if proved is not None:
        return _grouping(proved, setup, apart, _cost(proved, setup))
    stops = _improved(_neighbours(ordered, setup, most_minutes), setup, most_minutes)
    return _grouping(stops, setup, apart, _cost(free, setup))


def _grouping(stops: list[Stop], setup: float, apart: float, at_least: float) -> Grouping:
    return Grouping(tuple(sorted(stops, key=lambda stop: stop.at)), _cost(stops, setup), apart, at_least)


def _cost(stops: Sequence[Stop], setup: float) -> float:
    return math.fsum(setup + stop.early for stop in stops)


def _neighbours(ordered: Sequence[Task], setup: float, most_minutes: float) -> list[Stop]:
    """Return the best grouping in which each stop takes tasks that follow each other in time."""
    best, cut = [0.0] + [math.inf] * len(ordered), [0] * (len(ordered) + 1)
    for end in range(1, len(ordered) + 1):
        minutes = 0.0
        for first in range(end - 1, -1, -1):
            stop = Stop(ordered[first].due, tuple(ordered[first:end]))
            minutes += ordered[first].minutes
            if minutes > most_minutes or not _in_windows(stop):
                break  # a stop that begins earlier still holds these tasks, and earlier yet
            cost = best[first] + setup + stop.early
            if cost < best[end] - _SAME:
                best[end], cut[end] = cost, first
    stops, end = [], len(ordered)
    while end:
        stops.append(Stop(ordered[cut[end]].due, tuple(ordered[cut[end] : end])))
        end = cut[end]
    return stops


def _in_windows(stop: Stop) -> bool:
    return all(task.due - stop.at <= task.window for task in stop.tasks)


def _all_sets(ordered: Sequence[Task], setup: float, most_minutes: float) -> list[Stop] | None:
    """Return the best grouping of all, None where it takes too much: the earliest task left picks its company."""
    known: dict[int, tuple[float, int]] = {0: (0.0, 0)}
    tried = 0

    def best(left: int) -> float:
        nonlocal tried
        if left not in known:
            parties = _parties(ordered, left, setup, most_minutes)
            tried += len(parties)
            if tried > EFFORT:
                raise _TooMuchError
            known[left] = min((cost + best(left ^ party), party) for party, cost in parties)
        return known[left][0]

    left = (1 << len(ordered)) - 1
    try:
        best(left)
    except _TooMuchError:
        return None
    stops = []
    while left:
        party = known[left][1]
        company = tuple(task for at, task in enumerate(ordered) if party >> at & 1)
        stops.append(Stop(company[0].due, company))
        left ^= party
    return stops


class _TooMuchError(Exception):
    """More sets of tasks than are tried."""


def _parties(ordered: Sequence[Task], left: int, setup: float, most_minutes: float) -> list[tuple[int, float]]:
    """Return the stops that the earliest task left can begin: its tasks as bits, and their cost.

    A task whose early work costs as much as a stop of its own is never company: alone it costs no more.
    """
    head = (left & -left).bit_length() - 1
    parties = [(1 << head, ordered[head].minutes, setup)]
    for at in range(head + 1, len(ordered)):
        task = ordered[at]
        ahead = task.due - ordered[head].due
        if not left >> at & 1 or ahead > task.window or (ahead > 0.0 and task.early * ahead >= setup):
            continue
        parties += [
            (party | 1 << at, minutes + task.minutes, cost + task.early * ahead)
            for party, minutes, cost in parties
            if minutes + task.minutes <= most_minutes
        ]
        if len(parties) > EFFORT:
            raise _TooMuchError
    return [(party, cost) for party, _, cost in parties]


def _improved(stops: list[Stop], setup: float, most_minutes: float) -> list[Stop]:
    """Return the grouping after the tasks of stops near each other were grouped anew for as long as that saves."""
    saved = True
    while saved:
        saved = False
        stops = sorted(stops, key=lambda stop: stop.at)
        for first in range(len(stops)):
            if first >= len(stops):
                break  # two stops became one
            some, tasks = _run(stops, first)
            anew = _all_sets(tasks, setup, most_minutes)
            if anew is not None and _cost(anew, setup) < _cost(some, setup) - _SAME:
                stops = sorted([*stops[:first], *anew, *stops[first + len(some) :]], key=lambda stop: stop.at)
                saved = True
    return stops


def _run(stops: Sequence[Stop], first: int) -> tuple[list[Stop], list[Task]]:
    """Return stops that follow each other, as many as hold no more than `TOGETHER` tasks, and these in order of due."""
    some: list[Stop] = [stops[first]]
    for stop in stops[first + 1 :]:
        if sum(len(one.tasks) for one in some) + len(stop.tasks) > TOGETHER:
            break
        some.append(stop)
    return some, sorted((task for stop in some for task in stop.tasks), key=lambda task: (task.due, task.name))
