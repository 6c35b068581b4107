"""Run a program on the draws of a visit: arrays in, arrays and results out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Protocol

import numpy as np

from asfound.errors import InputError
from asfound.quantities.drawn import Drawn
from asfound.quantities.draws import draw
from asfound.quantities.kept import Done, Generation, LineKey, same_reading
from asfound.quantities.plan import Assumed, Made, Read, Spot
from asfound.quantities.program import Absolute, Give, Line, Program, Source, Stack
from asfound.quantities.run_arrays import arrays_of, first_draws, keep_heap, stacked, summed
from asfound.quantities.typing import Array
from asfound.quantities.words import Reading, Result
from asfound.quantities.worked import Refused
from asfound.quantities.worksheets import Assumption, Worksheet

NOT_THERE: Any = object()
"""In a slot: what would fill it has no answer."""


class Kind(Protocol):
    """What the sheet must know of a quantity; `register.Quantity` has it all."""

    @property
    def si_unit(self) -> str:
        """SI unit of its values."""

    @property
    def title(self) -> str:
        """What the doors call it."""

    @property
    def carries(self) -> bool:
        """Whether it holds for both states unless taken again."""


class Run:
    """Numbers and results of one working out; kept over planning anew, so that no formula runs twice for nothing.

    Attributes
    ----------
    results : list of Result
        In the order of dependence.
    refused : list of Refused
    no_answer : set of Made
        Results to plan around.
    """

    def __init__(
        self,
        given: dict[Spot, Reading],
        kinds: Mapping[str, Kind],
        number: int,
        seed: int,
        faults: list[str] | None = None,
        before: Generation | None = None,
    ) -> None:
        self.given, self.kinds, self.number, self.seed, self.faults = given, kinds, number, seed, faults
        self.before = Generation() if before is None else before
        self.kept = Generation(readings=given, followed=self.before.followed.next())
        self.results: list[Result] = []
        self.refused: list[Refused] = []
        self.no_answer: set[Made] = set()
        self._filled: dict[Read | Assumed, tuple[Array | float, Reading]] = {}
        self._earlier: list[dict[LineKey, Done]] = []
        self._numbers: list[Any] = []
        self._words: list[Reading | Result | None] = []

    def execute(self, program: Program) -> None:
        """Run the lines; a line that rests on what has no answer waits for the next plan."""
        keep_heap()
        self.results = []
        self._earlier = [one for one in (self.before.lines, self.kept.lines) if one]
        self._numbers, self._words = [NOT_THERE] * program.slots, [None] * program.slots
        for source in program.sources:
            self._fill(source)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # nan and inf are 'no answer', and counted
            for line in program.lines:
                if isinstance(line, Line):
                    self._run(line, program.even)
                elif isinstance(line, Stack):
                    self._stack(line)
                else:
                    self._make_absolute(line)

    def _fill(self, source: Source) -> None:
        """Fill a slot from what was read or assumed, or with a default."""
        origin = source.origin
        if not isinstance(origin, Read | Assumed):
            self._numbers[source.slot] = origin.value
            return
        found = self._filled.get(origin)
        if found is None:
            if isinstance(origin, Read):
                reading = self.given[origin.spot]
            else:
                reading = assumed_reading(origin.spot, origin.assumption, self.kinds[origin.spot.quantity].si_unit)
            found = self._filled[origin] = self._drawn(reading)
        self._numbers[source.slot], self._words[source.slot] = found

    def _drawn(self, reading: Reading) -> tuple[Array | float, Reading]:
        """Return a reading's draws, and the reading that they belong to."""
        found = self.before.drawn.get(reading)
        if found is None or found[1] is not same_reading(found[1], reading):
            exact = reading.standard_uncertainty == 0.0  # one number stands for all its draws
            found = (reading.value if exact else draw(reading, self.number, self.seed)), reading
        self.kept.drawn[reading] = found
        return found

    def _joined(self, parts: tuple[Any, ...], join: Callable[[tuple[Any, ...]], Any]) -> Any:
        """Return what parts make together; the same object as long as the parts are the same objects."""
        key = tuple([id(one) for one in parts])
        found = self.kept.joined.get(key) or self.before.joined.get(key) or (parts, join(parts))
        self.kept.joined[key] = found
        return found[1]

    def _make_absolute(self, line: Absolute) -> None:
        """Add the barometer to a gauge pressure, draw by draw."""
        gauge, barometer = self._numbers[line.gauge], self._numbers[line.barometer]
        if barometer is not NOT_THERE:
            self._numbers[line.slot] = self._joined((gauge, barometer), summed)
            self._words[line.slot] = self._words[line.gauge]

    def _stack(self, line: Stack) -> None:
        """Put the numbers of several places one upon the other; exact ones stay one number each."""
        parts = tuple([self._numbers[slot] for slot in line.parts])
        if any(one is NOT_THERE for one in parts):
            return
        self._numbers[line.slot] = self._joined(("stack", *parts), stacked)

    def _run(self, line: Line, even: bool) -> None:
        """Run one worksheet at one place and keep its results."""
        numbers = [self._numbers[slot] for slot in line.takes]
        if self.no_answer and any(one is NOT_THERE for one in numbers):
            return
        words = self._words
        below = tuple([words[slot] for slot in line.below])
        key = line.gives[0].made, tuple([id(one) for one in numbers])
        before = self._before(key, line.worksheet) if self._earlier else None
        if before is not None and self._again(line, key, before, below):
            return
        if line.refuses and self._refuses(line):
            return
        answers = self._answers(line, numbers, even) if before is None else self._answers_before(line, before)
        if answers is None:
            return
        for give, array in zip(line.gives, answers, strict=True):
            self._numbers[give.slot] = array
        outside = self._outside(line) if line.valid else ()
        kept = [self._keep(line, give, array, below, outside) for give, array in zip(line.gives, answers, strict=True)]
        results = tuple([one for one in kept if one is not None])
        whole = results if len(results) == len(kept) else None
        self.kept.lines[key] = Done(line.worksheet, numbers, answers, None, below, whole)

    def _before(self, key: LineKey, worksheet: Worksheet) -> Done | None:
        """Return how a line ran on these very inputs, in the last working out or under an earlier plan of this."""
        found = next((one[key] for one in self._earlier if key in one), None)
        return found if found is not None and found.worksheet is worksheet else None

    def _again(self, line: Line, key: LineKey, before: Done, below: tuple[Any, ...]) -> bool:
        """Take a line's results as they were, where all of them are there and rest on the same readings and results."""
        if before.results is None or len(before.below) != len(below):
            return False
        if any(one is not two for one, two in zip(before.below, below, strict=True)):
            return False
        if self.no_answer and any(give.made in self.no_answer for give in line.gives):
            return False
        for give, result in zip(line.gives, before.results, strict=True):
            self._numbers[give.slot], self._words[give.slot] = result.array, result
            self.results.append(result)
        self.kept.lines[key] = before
        return True

    def _answers_before(self, line: Line, before: Done) -> tuple[Array, ...] | None:
        """Return the arrays that a formula gave from the same inputs, or refuse as it did."""
        if before.error is not None:
            self.kept.lines[line.gives[0].made, tuple([id(one) for one in before.numbers])] = before
            self._refuse(line, line.gives, before.error)
        return before.answers

    def _answers(self, line: Line, numbers: list[Any], even: bool) -> tuple[Array, ...] | None:
        """Return the formula's arrays, one for each quantity given, or None where the formula itself refuses."""
        size = self.number + 1
        if not even:
            arrays = [one for one in numbers if isinstance(one, np.ndarray) and one.shape[-1] > 1]
            size = min([one.shape[-1] for one in arrays], default=size)
            size = size if line.worksheet.draws is None else min(size, line.worksheet.draws + 1)
        taken = numbers if even else [first_draws(one, size) for one in numbers]
        try:
            found = arrays_of(line.formula(*taken), size, line.worksheet)
        except InputError as error:
            key = line.gives[0].made, tuple([id(one) for one in numbers])
            self.kept.lines[key] = Done(line.worksheet, numbers, None, error)
            self._refuse(line, line.gives, error)
            return None
        except ArithmeticError:  # exact readings come as plain floats, which raise where an array has nan or inf
            below = tuple([self._words[slot] for slot in line.below])
            for give in line.gives:
                self._refuse(line, (give,), _nothing(line, give, below))
            return None
        except Exception as fault:
            if self.faults is None:
                raise
            self._broke_down(line, fault, self.faults)
            return None
        return found

    def _broke_down(self, line: Line, fault: Exception, faults: list[str]) -> None:
        """Note a fault of a formula in words, and that it gave no answer: one number must not take the others along."""
        says = f"{type(fault).__name__}: {fault}".rstrip(": ")
        where = f"{line.step.state.replace('_', ' ')}, {line.step.place.replace('_', ' ')}"
        faults.append(f"A fault of the program: '{line.worksheet.title}' ({where}) could not be worked out ({says}).")
        below = tuple([self._words[slot] for slot in line.below])
        for give in line.gives:
            self._refuse(line, (give,), _nothing(line, give, below))

    def _refuses(self, line: Line) -> bool:
        """Ask the worksheet whether it takes these inputs; note it where not."""
        for slot, check in line.refuses:
            number, given = self._numbers[slot], self._words[slot]
            if given is None:
                continue
            if isinstance(given, Reading) and given.gauge:
                value = number.item(0) if isinstance(number, np.ndarray) else number
                given = replace(given, value=value, gauge=False)
            try:
                check(given)
            except InputError as error:
                self._refuse(line, line.gives, error)
                return True
        return False

    def _outside(self, line: Line) -> tuple[str, ...]:
        """Return in words which best values lie outside the method's range."""
        said: list[str] = []
        for slot, low, high, quantity in line.valid:
            number = self._numbers[slot]
            value = number.item(0) if isinstance(number, np.ndarray) else number
            if value is not None and not low <= value <= high:
                words = line.worksheet.valid[quantity][2]
                said.append(f"{self.kinds[quantity].title} is outside what the method holds for: {words}")
        return tuple(said)

    def _keep(
        self, line: Line, give: Give, array: Array, below: tuple[Any, ...], outside: tuple[str, ...]
    ) -> Drawn | None:
        """Make one result of an array, or note that there is no answer."""
        if give.made in self.no_answer:
            self._numbers[give.slot] = NOT_THERE
            return None
        value = array.item(0)
        if not math.isfinite(value) or (not math.isfinite(array.item(1)) and not np.isfinite(array[1:]).any()):
            self._refuse(line, (give,), _nothing(line, give, below))
            return None
        unit = self.kinds[give.quantity].si_unit
        result = Drawn.result(array, give.made.spot, value, unit, line.worksheet, below, outside)
        self._words[give.slot] = result
        self.results.append(result)
        return result

    def _refuse(self, line: Line, gives: tuple[Give, ...], error: InputError) -> None:
        """Note that there is no answer, and why, so that the next plan goes round it."""
        for give in gives:
            self._numbers[give.slot] = NOT_THERE
            self.no_answer.add(give.made)
        self.refused.append(
            Refused(
                worksheet=line.worksheet.name,
                state=line.step.state,
                place=line.step.place,
                quantities=tuple(give.quantity for give in gives),
                error=error.with_traceback(None),  # that would hold everything from here up to the page
            )
        )


def assumed_reading(spot: Spot, assumption: Assumption, unit: str) -> Reading:
    """Return the reading that stands for an assumption: its error is the same in both states."""
    return Reading(
        quantity=spot.quantity,
        place=spot.place,
        state=spot.state,
        time="",
        value=assumption.value,
        unit=unit,
        as_typed=f"{assumption.value:g} {unit}".strip(),
        standard_uncertainty=assumption.standard_uncertainty,
        origin="assumed",
        said_by=f"{assumption.says} ({assumption.source})",
        distribution=assumption.distribution,
        shared_with=f"assumed/{spot.place}/{spot.quantity}",
        shared_fraction=1.0,
    )


def _nothing(line: Line, give: Give, inputs: tuple[Any, ...]) -> InputError:
    """Return the error for a formula that answers nan at the best values."""
    typed = (one.as_typed if isinstance(one, Reading) else f"{one.value:.4g} {one.unit}" for one in inputs)
    said = ", ".join(f"{one.quantity} {text}" for one, text in zip(inputs, typed, strict=True))
    return InputError(
        give.made.spot.key,
        said,
        f"leave '{line.worksheet.title}' without an answer",
        try_next="Check these readings against each other and take the doubtful one again.",
    )
