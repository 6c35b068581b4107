"""A way told: its stops, why each change is there and what it would cost without it; or which rule bars every way."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from asfound.upkeep.upgrade import Barred, Build, Change, Problem, holds, may_be
from asfound.upkeep.upgrade_search import Found, Proof, TooManyBuildsError, builds_on_the_way, cheapest

MOST_WITHOUT = 10_000
"""Builds looked at for a way without one change: it only explains, and must not keep the way itself waiting."""
_WHEN = {"never": "may not exist", "running": "may not run", "end": "may not be left so"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Put:
    """What a change puts in a place, in words and by name."""

    place: str
    title: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One change of a way."""

    id: str
    title: str
    cost: float
    low: float
    high: float
    minutes: float
    stopped: bool
    puts: tuple[Put, ...]
    why: tuple[str, ...]
    """What it serves: the target, a later change, or a rule that would bar the engine from running."""
    settings: tuple[str, ...]
    tags: tuple[str, ...]
    without: float | None
    """What the cheapest way without this change costs; None: there is none, or it was not searched to its end."""
    searched: bool = True
    """Whether the way without it was searched to its end: not where more than `MOST_WITHOUT` builds lie on it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopOfWay:
    """Changes made in one stop, or with the engine running (number 0)."""

    number: int
    minutes: float
    cost: float
    """Of the changes, with the stop itself."""
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """The cheapest way and why nothing is cheaper."""

    cost: float
    low: float
    high: float
    """The same changes at the ends of their prices."""
    minutes: float
    outage_minutes: float
    """Work while the engine stands; getting it down and up again is not in it."""
    stops: tuple[StopOfWay, ...]
    end: Build
    proof: Proof

    @property
    def steps(self) -> tuple[Step, ...]:
        """All changes in their order."""
        return tuple(step for stop in self.stops for step in stop.steps)

    @property
    def number_of_stops(self) -> int:
        """How often the engine stands still."""
        return sum(stop.number > 0 for stop in self.stops)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A rule without which there would be a way, and what that way would cost."""

    says: str
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class NoWay:
    """Why the target cannot be reached."""

    says: str
    missing: tuple[str, ...]
    """Wanted values that no change puts."""
    bars: tuple[Bar, ...]


def way(problem: Problem) -> Way | NoWay:
    """Return the cheapest way told in stops and steps, or why there is none."""
    if not may_be(problem, problem.start, running=False):
        rules = [one for one in problem.barred if one.when == "never" and holds(problem.start, one.build)]
        says = "; ".join(rule_words(problem, one) for one in rules)
        return NoWay(says=f"What is taken as fitted cannot be so together: {says}. Look again.", missing=(), bars=())
    found = cheapest(problem)
    return no_way(problem) if found is None else _told(problem, found)


def no_way(problem: Problem) -> NoWay:
    """Return why there is no way: values that nothing puts, else the single rules without which there would be one."""
    missing = tuple(
        f"{problem.place_title(place)}: {' or '.join(problem.value_title(place, value) for value in values)}"
        for place, values in problem.target.items()
        if problem.start[place] not in values and not any(one.puts.get(place) in values for one in problem.changes)
    )
    if missing:
        return NoWay(says="No change puts what is wanted: " + "; ".join(missing) + ".", missing=missing, bars=())
    bars = tuple(sorted(_bars(problem), key=lambda bar: bar.cost))
    says = (
        "Without one of these rules there would be a way: it is barred by them."
        if bars
        else "No single rule bars it: several together do, or a change that is needed first is missing."
    )
    return NoWay(says=says, missing=(), bars=bars)


def rule_words(problem: Problem, rule: Barred) -> str:
    """Return a rule that bars a part of a build in a sentence."""
    part = " with ".join(
        f"{problem.place_title(place)} '{' or '.join(problem.value_title(place, value) for value in values)}'"
        for place, values in rule.build.items()
    )
    return f"{part} {_WHEN[rule.when]}" + (f": {rule.says}" if rule.says else "")


def _bars(problem: Problem) -> Iterator[Bar]:
    for at, rule in enumerate(problem.barred):
        other = replace(problem, barred=problem.barred[:at] + problem.barred[at + 1 :])
        if (found := cheapest(other)) is not None:
            yield Bar(says=rule_words(problem, rule), cost=found.cost)
    unlimited = replace(problem, stop_minutes=math.inf)
    if problem.stop_minutes < math.inf and (found := cheapest(unlimited)) is not None:
        stops = _told(unlimited, found, reasons=False).stops
        longest = max((stop.minutes for stop in stops if stop.number), default=0.0)
        yield Bar(says=f"A stop has {problem.stop_minutes:g} min; one of {longest:g} min is needed", cost=found.cost)


def _told(problem: Problem, found: Found, *, reasons: bool = True) -> Way:
    builds = [build for build, _ in builds_on_the_way(problem, found.moves)]
    stops: list[list[Step]] = [[]]
    numbers, number = [0], 0
    for at, move in enumerate(found.moves):
        if move.kind == "change":
            stops[-1].append(_step(problem, found, builds, at, reasons=reasons))
            continue
        number += move.kind == "stop"
        numbers.append(number if move.kind == "stop" else 0)
        stops.append([])
    told = tuple(
        StopOfWay(
            number=one, minutes=sum(step.minutes for step in steps),
            cost=math.fsum(step.cost for step in steps) + (problem.stop_cost if one else 0.0), steps=tuple(steps),
        )
        for one, steps in zip(numbers, stops, strict=True)
        if steps
    )  # fmt: skip
    steps = [step for stop in told for step in stop.steps]
    stands = number * problem.stop_cost
    return Way(
        cost=found.cost, low=stands + math.fsum(step.low for step in steps),
        high=stands + math.fsum(step.high for step in steps), minutes=sum(step.minutes for step in steps),
        outage_minutes=sum(stop.minutes for stop in told if stop.number), stops=told, end=builds[-1],
        proof=found.proof,
    )  # fmt: skip


def _step(problem: Problem, found: Found, builds: Sequence[Build], at: int, *, reasons: bool) -> Step:
    change = problem.change(found.moves[at].change)
    without, searched = _without(problem, change.id) if reasons else (None, True)
    low, high = change.ends
    puts = tuple(
        Put(
            place=place, title=problem.place_title(place), before=problem.value_title(place, builds[at][place]),
            after=problem.value_title(place, value),
        )
        for place, value in change.puts.items()
        if builds[at][place] != value
    )  # fmt: skip
    return Step(
        id=change.id, title=change.name, cost=change.cost, low=low, high=high, minutes=change.minutes,
        stopped=change.stopped, puts=puts, why=tuple(_why(problem, found, builds, at)) if reasons else (),
        settings=change.settings, tags=change.tags, without=without, searched=searched,
    )  # fmt: skip


def _without(problem: Problem, change: str) -> tuple[float | None, bool]:
    """Return what the cheapest way without a change costs, and whether it was searched to its end."""
    try:
        found = cheapest(problem.without(change), most=MOST_WITHOUT)
    except TooManyBuildsError:
        return None, False
    return (None if found is None else found.cost), True


def _why(problem: Problem, found: Found, builds: Sequence[Build], at: int) -> Iterator[str]:
    """Yield what a change is there for, by what the way would lack without what it puts."""
    change, before, end = problem.change(found.moves[at].change), builds[at], builds[-1]
    put = {place: value for place, value in change.puts.items() if before[place] != value}
    wanted = [
        problem.place_title(place)
        for place, value in put.items()
        if value in problem.target.get(place, ()) and end[place] == value and before[place] not in problem.target[place]
    ]
    if wanted:
        yield f"Wanted: {', '.join(wanted)}."
    for later in range(at + 1, len(found.moves)):
        if found.moves[later].kind != "change":
            continue
        other = problem.change(found.moves[later].change)
        if any(_asks(other, place, value, before[place]) for place, value in put.items()):
            yield f"'{other.name}' needs it."
    for rule in problem.barred:
        if any(
            holds(dict(build) | {place: before[place] for place in put if build[place] == put[place]}, rule.build)
            and not holds(build, rule.build)
            for build in builds[at + 1 :]
        ):
            yield f"Without it: {rule_words(problem, rule)}."


def _asks(other: Change, place: str, value: str, before: str) -> bool:
    values = other.needs.get(place, ())
    return value in values and before not in values
