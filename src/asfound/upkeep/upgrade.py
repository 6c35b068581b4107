"""The upgrade gap as a problem: what is fitted, what is wanted, which changes there are, which builds may not be.

A build gives each place one of its values. Settings are places too (a timing reference, declared inputs, a loaded
file): most mistakes in the field sit there. A part that may stand in for another one in one direction only is a change
without its reverse. The engine runs before the first change and after the last; between, each stop ends in a build
with which it may run.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from asfound.errors import InputError, UnknownNameError

Build = Mapping[str, str]
"""Place to value."""
Some = Mapping[str, tuple[str, ...]]
"""Place to the values that it may have: a part of a build."""
When = Literal["never", "running", "end"]
WHENS: tuple[When, ...] = ("never", "running", "end")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One piece of work, complete in itself: a part, a setting, a file, a test that proves something."""

    id: str
    puts: Build
    cost: float = 0.0
    minutes: float = 0.0
    stopped: bool = True
    """The engine must stand still for it."""
    needs: Some = field(default_factory=dict)
    title: str = ""
    low: float | None = None
    high: float | None = None
    """Ends of the range of its cost; the cost itself when left out."""
    says: str = ""
    settings: tuple[str, ...] = ()
    """What else is to be observed: the conditions of an interchange, in words."""
    tags: tuple[str, ...] = ()
    """Words of the register of cautions."""
    rule: str = ""
    """Interchange rule that it follows."""

    @property
    def name(self) -> str:
        """The title, or the id where there is none."""
        return self.title or self.id

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest cost."""
        return (self.cost if self.low is None else self.low, self.cost if self.high is None else self.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Barred:
    """A part of a build that may not be: never, not while the engine runs, or not at the end."""

    build: Some
    when: When = "never"
    says: str = ""


@dataclass(frozen=True, kw_only=True)
class Problem:
    """From a start to a target.

    Raises
    ------
    UnknownNameError
        A place or value that is not among ``places``.
    InputError
        A cost or time below nothing, a name twice, an empty target or rule.
    """

    places: Mapping[str, tuple[str, ...]]
    start: Build
    target: Some
    changes: tuple[Change, ...]
    barred: tuple[Barred, ...] = ()
    stop_cost: float = 0.0
    """Of each stop, whatever is done in it: travel, isolation, hours lost that do not depend on the work."""
    stop_minutes: float = math.inf
    """Most minutes of work in one stop."""
    titles: Mapping[str, str] = field(default_factory=dict)
    """Of places ``place``, and of values ``place.value``."""

    def __post_init__(self) -> None:
        if missing := [name for name in self.places if name not in self.start]:
            raise InputError("start", ", ".join(missing), "has no value", allowed="one value for each place")
        _known("start", {name: (value,) for name, value in self.start.items()}, self.places)
        _known("target", self.target, self.places)
        for rule in self.barred:
            _known("barred", rule.build, self.places)
            if not rule.build:
                raise InputError("barred", "{}", "bars every build", allowed="one place or more")
        _not_below("stop_cost", self.stop_cost)
        if not self.stop_minutes > 0.0:
            raise InputError("stop_minutes", f"{self.stop_minutes:g}", "leaves no time", allowed="more than 0 min")
        seen: set[str] = set()
        for one in self.changes:
            if one.id in seen:
                raise InputError("changes", one.id, "stands twice", allowed="each name once")
            seen.add(one.id)
            _known(one.id, {name: (value,) for name, value in one.puts.items()}, self.places)
            _known(one.id, one.needs, self.places)
            _not_below(f"{one.id}/cost", one.cost)
            _not_below(f"{one.id}/minutes", one.minutes)
            if not one.ends[0] <= one.cost <= one.ends[1]:
                raise InputError(f"{one.id}/cost", f"{one.cost:g}", "lies outside its range", allowed="low to high")

    @cached_property
    def by_id(self) -> Mapping[str, Change]:
        """Changes by name."""
        return {one.id: one for one in self.changes}

    def change(self, name: str) -> Change:
        """Return a change; UnknownNameError with the nearest names when there is none."""
        if name not in self.by_id:
            raise UnknownNameError("change", name, self.by_id)
        return self.by_id[name]

    def place_title(self, place: str) -> str:
        """Return the title of a place."""
        return self.titles.get(place, place)

    def value_title(self, place: str, value: str) -> str:
        """Return the title of a value of a place."""
        return self.titles.get(f"{place}.{value}", value)

    def without(self, *names: str) -> Problem:
        """Return the problem without some changes."""
        return replace(self, changes=tuple(one for one in self.changes if one.id not in names))


def holds(build: Build, some: Some) -> bool:
    """Return whether a build has one of the values at each place."""
    return all(build[place] in values for place, values in some.items())


def may_be(problem: Problem, build: Build, *, running: bool) -> bool:
    """Return whether a build may exist, with the engine running or standing."""
    barred: Sequence[When] = ("never", "running") if running else ("never",)
    return not any(rule.when in barred and holds(build, rule.build) for rule in problem.barred)


def reached(problem: Problem, build: Build) -> bool:
    """Return whether a build is what is wanted."""
    ends = (rule for rule in problem.barred if rule.when == "end")
    return holds(build, problem.target) and not any(holds(build, rule.build) for rule in ends)


def _known(where: str, some: Some, places: Mapping[str, tuple[str, ...]]) -> None:
    for place, values in some.items():
        if place not in places:
            raise UnknownNameError(f"place ({where})", place, places)
        if not values:
            raise InputError(f"{where}/{place}", "[]", "can never hold", allowed=", ".join(places[place]))
        for value in values:
            if value not in places[place]:
                raise UnknownNameError(f"value of {place} ({where})", value, places[place])


def _not_below(field_name: str, value: float) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise InputError(field_name, f"{value:g}", "cannot be", allowed="0 or more")
