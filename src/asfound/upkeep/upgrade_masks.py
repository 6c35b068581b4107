"""An upgrade problem in bits: one bit for each value of each place, a build as one whole number.

A part of a build holds where none of the values that it does not allow is there: one `and` with a mask.
"""

from __future__ import annotations

from dataclasses import dataclass

from asfound.upkeep.upgrade import Build, Problem, Some


@dataclass(frozen=True, slots=True)
class MaskedChange:
    """A change in bits."""

    at: int
    """Its number in the problem."""
    needs_not: int
    """Bits that must not be there before it."""
    keeps: int
    puts: int
    cost: float
    minutes: float
    stopped: bool


@dataclass(frozen=True)
class Masks:
    """A whole problem in bits."""

    problem: Problem
    bits: dict[tuple[str, str], int]
    start: int
    target_not: int
    never: tuple[int, ...]
    running: tuple[int, ...]
    end: tuple[int, ...]
    changes: tuple[MaskedChange, ...]

    @classmethod
    def of(cls, problem: Problem) -> Masks:
        """Return the problem in bits."""
        bits: dict[tuple[str, str], int] = {}
        for place, values in problem.places.items():
            for value in values:
                bits[place, value] = 1 << len(bits)
        everything = (1 << len(bits)) - 1

        def beside(some: Some) -> int:
            return sum(
                bits[place, value]
                for place, values in some.items()
                for value in problem.places[place]
                if value not in values
            )

        def whole(place: str) -> int:
            return sum(bits[place, value] for value in problem.places[place])

        changes = tuple(
            MaskedChange(
                at, beside(one.needs), everything & ~sum(whole(place) for place in one.puts),
                sum(bits[pair] for pair in one.puts.items()), one.cost, one.minutes, one.stopped,
            )
            for at, one in enumerate(problem.changes)
        )  # fmt: skip
        never, running, end = (
            tuple(beside(rule.build) for rule in problem.barred if rule.when == when)
            for when in ("never", "running", "end")
        )
        start = sum(bits[pair] for pair in problem.start.items())
        return cls(problem, bits, start, beside(problem.target), never, running, end, changes)

    def may_stand(self, build: int) -> bool:
        """Return whether the build may exist with the engine standing."""
        return all(build & rule for rule in self.never)

    def may_run(self, build: int) -> bool:
        """Return whether the engine may run with the build."""
        return all(build & rule for rule in self.never) and all(build & rule for rule in self.running)

    def reached(self, build: int) -> bool:
        """Return whether the build is what is wanted."""
        return not build & self.target_not and all(build & rule for rule in self.end)

    def build(self, bits: int) -> Build:
        """Return a build in words."""
        return {place: value for (place, value), bit in self.bits.items() if bits & bit}
