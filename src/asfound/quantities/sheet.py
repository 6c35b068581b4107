"""Work out a visit's sheet: from readings to results, all with one set of draws.

`work_out` finds for each worksheet the readings and results it takes (`plan`), draws all readings together (`draws`),
runs the formulas on the arrays in the order of their dependence, and answers with a `Worked`, which keeps the draws for
whatever is asked next (`worked`).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Protocol, cast

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.quantities import worksheets as register_of_worksheets
from asfound.quantities.drawn import Drawn
from asfound.quantities.draws import draw
from asfound.quantities.order import BAROMETER
from asfound.quantities.plan import Assumed, Default, Made, Origin, Read, Spot, Step, plan
from asfound.quantities.words import STATES, Limit, Reading, Result
from asfound.quantities.worked import Beyond, Difference, GuardBand, Missing, Refused, Worked, chance_by_count

if TYPE_CHECKING:
    from asfound.quantities.typing import Array
    from asfound.quantities.worksheets import Worksheet

__all__ = [
    "BAROMETER",
    "Beyond",
    "Difference",
    "GuardBand",
    "Limit",
    "Missing",
    "Refused",
    "Worked",
    "chance_by_count",
    "work_out",
]

NUMBER = 10_000
SEED = 1


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


def work_out(
    readings: Sequence[Reading],
    *,
    number: int = NUMBER,
    seed: int = SEED,
    only: Collection[str] | None = None,
    worksheets: Mapping[str, Worksheet] | None = None,
    quantities: Mapping[str, Kind] | None = None,
) -> Worked:
    """Work out everything that follows from the readings of a visit.

    The same readings, number and seed give the same digits, in whatever order the readings come and whatever else is on
    the visit.

    Parameters
    ----------
    readings : sequence of Reading
        The current reading at each key, of both states.
    number : int
        Draws of the visit.
    seed : int
        Seed of the visit; 0 or more.
    only : collection of str, optional
        Names of the worksheets wanted; what they need is worked out too.
    worksheets : mapping of str to Worksheet, optional
        In the order of preference; all of the program's when left out.
    quantities : mapping, optional
        Register of quantities; the program's when left out.

    Raises
    ------
    InputError
        A reading is not finite, its uncertainty is negative, two lie at one key, the barometer is a gauge pressure, or
        number or seed cannot be.
    UnknownNameError
        A reading or ``only`` bears a name that no register knows.
    """
    kinds = _quantities() if quantities is None else quantities
    sheets = register_of_worksheets.load() if worksheets is None else worksheets
    if number < 2:
        raise InputError("number", str(number), "is too few draws", allowed="2 or more", try_next="Take 10,000.")
    if seed < 0:
        raise InputError("seed", str(seed), "cannot seed the draws", allowed="0 or more")
    for name in only or ():
        if name not in sheets:
            raise UnknownNameError("worksheet", name, sheets)
    given = checked(readings, kinds)
    signature = tuple((spot, reading.gauge) for spot, reading in given.items())
    ordered = tuple(sheets.values())
    carrying = frozenset(name for name, kind in kinds.items() if kind.carries)
    wanted = None if only is None else frozenset(only)
    run = _Run(given, kinds, number, seed)
    without: frozenset[Made] = frozenset()
    while True:
        planned = plan(signature, ordered, carrying, without, wanted)
        run.execute(planned.steps)
        if run.no_answer <= without:
            break
        without |= run.no_answer
    return Worked(
        readings=tuple(given.values()),
        results=tuple(run.results.values()),
        arrays={(made.spot.key, made.worksheet): array for made, array in run.made.items()},
        missing=tuple(Missing(**asdict(lack)) for lack in planned.lacks),
        refused=tuple(run.refused.values()),
        without=run.without,
        rank={sheet.name: at for at, sheet in enumerate(ordered)},
        number=number,
        seed=seed,
    )


def checked(readings: Iterable[Reading], quantities: Mapping[str, Kind]) -> dict[Spot, Reading]:
    """Return readings by where they lie, in the order of their keys, or refuse what cannot be a reading."""
    found: dict[Spot, Reading] = {}
    for one in readings:
        spot = Spot(one.state, one.place, one.quantity)
        if spot in found:
            raise InputError(
                one.key, one.as_typed, f"lies where '{found[spot].as_typed}' lies already", allowed="one reading a key",
                try_next="Correct the first reading, or say at which place the second was taken.",
            )  # fmt: skip
        if one.quantity not in quantities:
            raise UnknownNameError("quantity", one.quantity, quantities)
        if not math.isfinite(one.value):
            raise InputError(
                one.key, one.as_typed, "is no number", allowed="a finite number", try_next="Read it again."
            )
        if not (math.isfinite(one.standard_uncertainty) and one.standard_uncertainty >= 0.0):
            raise InputError(
                one.key, f"{one.standard_uncertainty:g}", "is no standard uncertainty", allowed="0 or more",
                try_next="Check the specification of its instrument.",
            )  # fmt: skip
        if not 0.0 <= one.shared_fraction <= 1.0:
            raise InputError(one.key, f"{one.shared_fraction:g}", "is no correlation", allowed="0 to 1")
        if one.state not in STATES:
            raise InputError(one.key, one.state, "is no state of a visit", allowed=" or ".join(STATES))
        if one.gauge and one.quantity == BAROMETER:
            raise InputError(
                one.key, one.as_typed, "is a gauge pressure; a barometer is none", allowed="an absolute pressure",
                try_next="Read the barometer in absolute pressure, not reduced to sea level.",
            )  # fmt: skip
        found[spot] = one
    return dict(sorted(found.items()))


class _Run:
    """Numbers and results of one working out; kept over planning anew, so that nothing is computed twice."""

    def __init__(self, given: dict[Spot, Reading], kinds: Mapping[str, Kind], number: int, seed: int) -> None:
        self.given, self.kinds, self.number, self.seed = given, kinds, number, seed
        self.numbers: dict[Origin, tuple[Array | float | None, Reading | Result | None]] = {}
        self.done: dict[tuple[object, ...], tuple[tuple[Array, ...], tuple[object, ...]]] = {}
        self.ones = np.ones(number)
        self.no_answer: set[Made] = set()
        self.refused: dict[tuple[str, str, str, tuple[str, ...]], Refused] = {}
        self.without: dict[tuple[str, str], int] = {}
        self.results: dict[Made, Result] = {}
        self.made: dict[Made, Array] = {}

    def execute(self, steps: tuple[Step, ...]) -> None:
        """Run the steps; a step that rests on what has no answer waits for the next plan."""
        self.results.clear()
        self.made.clear()
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # nan and inf are 'no answer', and counted
            for step in steps:
                self.run(step)

    def run(self, step: Step) -> None:
        """Run one worksheet at one place and keep its results."""
        sheet = step.worksheet
        numbers: list[Array | float | None] = []
        inputs: list[Reading | Result | None] = []
        for origin in step.inputs:
            if isinstance(origin, Made):
                array = self.made.get(origin)
                if array is None:
                    return
                numbers.append(array)
                inputs.append(self.results[origin])
            else:
                found = self.number_of(origin)
                if found is None:
                    return
                numbers.append(found[0])
                inputs.append(found[1])
        if sheet.refuses and self.refuse(step, numbers, inputs):
            return
        answers = self.answers(step, numbers)
        if answers is None:
            return
        below = self.below(step, inputs)
        outside = _outside(sheet, numbers, answers, self.kinds) if sheet.valid else ()
        for quantity, array in zip(sheet.gives, answers, strict=True):
            self.keep(step, quantity, array, below, outside)

    def number_of(self, origin: Origin) -> tuple[Array | float | None, Reading | Result | None] | None:
        """Return the array and the words for an input that no worksheet made; a gauge pressure becomes absolute."""
        found = self.numbers.get(origin)
        if found is not None:
            return found
        if isinstance(origin, Default):
            return origin.value, None
        if isinstance(origin, Assumed):
            reading = assumed_reading(origin.spot, origin.assumption, self.kinds[origin.spot.quantity].si_unit)
            found = draw(reading, self.number, self.seed), reading
        else:
            reading = self.given[cast(Read, origin).spot]
            array = draw(reading, self.number, self.seed)
            barometer = cast(Read, origin).barometer
            if barometer is not None:
                pressure = self.made.get(barometer) if isinstance(barometer, Made) else self.absolute(barometer)
                if pressure is None:
                    return None
                if pressure.size < array.size:
                    array = array[: pressure.size].copy()
                array += pressure
            found = array, reading
        if not (isinstance(origin, Read) and isinstance(origin.barometer, Made)):
            self.numbers[origin] = found
        return found

    def absolute(self, origin: Read) -> Array | None:
        """Return the array of a reading that serves as barometer."""
        found = self.number_of(origin)
        return None if found is None else cast("Array", found[0])

    def below(self, step: Step, inputs: list[Reading | Result | None]) -> tuple[Reading | Result, ...]:
        """Return what a result rests on: its inputs in the order of the takes, then barometers of gauge pressures."""
        barometers: dict[Origin, None] = {}
        for origin in step.inputs:
            if isinstance(origin, Read) and origin.barometer is not None and origin.barometer not in step.inputs:
                barometers[origin.barometer] = None
        return (
            *(one for one in inputs if one is not None),
            *(self.results[one] if isinstance(one, Made) else self.given[cast(Read, one).spot] for one in barometers),
        )

    def answers(self, step: Step, numbers: list[Array | float | None]) -> tuple[Array, ...] | None:
        """Return the formula's arrays, one for each quantity given, or None where the formula itself refuses."""
        sheet = step.worksheet
        sizes = [one.size for one in numbers if isinstance(one, np.ndarray)]
        size = min(sizes, default=self.number + 1)
        if sheet.draws is not None:
            size = min(size, sheet.draws + 1)
        key = (
            sheet.name,
            step.state,
            step.place,
            *(id(one) if isinstance(one, np.ndarray) else one for one in numbers),
        )
        before = self.done.get(key)
        if before is not None:
            return before[0]
        taken = [one[:size] if isinstance(one, np.ndarray) and one.size > size else one for one in numbers]
        try:
            answer = sheet.formula(*taken)
        except InputError as error:
            self.note_refused(step, sheet.gives, error)
            return None
        parts = answer if isinstance(answer, tuple) else (answer,)
        if len(parts) != len(sheet.gives):
            raise ValueError(f"worksheet '{sheet.name}' gives {len(sheet.gives)} quantities, its formula {len(parts)}")
        found = tuple(_array(one, size, sheet) for one in parts)
        self.done[key] = found, tuple(numbers)  # the inputs are kept alive, so that their ids stay theirs
        return found

    def refuse(self, step: Step, numbers: list[Array | float | None], inputs: list[Reading | Result | None]) -> bool:
        """Ask the worksheet whether it takes these inputs; note it where not."""
        for take, number, given in zip(step.worksheet.takes, numbers, inputs, strict=True):
            check = step.worksheet.refuses.get(take.quantity)
            if check is None or given is None or not isinstance(number, np.ndarray):
                continue
            if isinstance(given, Reading) and given.gauge:
                given = replace(given, value=float(number[0]), gauge=False)
            try:
                check(given)
            except InputError as error:
                self.note_refused(step, step.worksheet.gives, error)
                return True
        return False

    def keep(
        self,
        step: Step,
        quantity: str,
        array: Array,
        inputs: tuple[Reading | Result, ...],
        outside: tuple[str, ...],
    ) -> None:
        """Make one result of an array, or note that there is no answer."""
        sheet = step.worksheet
        made = Made(Spot(step.state, step.place, quantity), sheet.name)
        if made in self.no_answer:
            return
        value = float(array[0])
        if not math.isfinite(value):
            self.note_refused(step, (quantity,), _nothing(step, quantity, inputs))
            return
        if not math.isfinite(array[1:].dot(self.ones[: array.size - 1])):  # the cheapest look at whether all are
            without = int(np.count_nonzero(~np.isfinite(array)))
            if without == array.size - 1:
                self.note_refused(step, (quantity,), _nothing(step, quantity, inputs))
                return
            self.without[made.spot.key, sheet.name] = without
            outside = (*outside, _left_out(without, array.size - 1)) if without else outside
        self.made[made] = array
        self.results[made] = Drawn.result(
            array,
            quantity=quantity,
            place=step.place,
            state=step.state,
            value=value,
            unit=self.kinds[quantity].si_unit,
            worksheet=sheet.name,
            method=sheet.method,
            cautions=sheet.cautions,
            inputs=inputs,
            outside=outside,
        )

    def note_refused(self, step: Step, quantities: tuple[str, ...], error: InputError) -> None:
        """Note that there is no answer, and why, so that the next plan goes round it."""
        name = step.worksheet.name
        self.refused[name, step.state, step.place, quantities] = Refused(
            worksheet=name, state=step.state, place=step.place, quantities=quantities, error=error
        )
        self.no_answer |= {Made(Spot(step.state, step.place, one), name) for one in quantities}


def assumed_reading(spot: Spot, assumption: register_of_worksheets.Assumption, unit: str) -> Reading:
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


def _array(answer: object, size: int, sheet: Worksheet) -> Array:
    """Return a formula's answer as an array of the draws; a constant answers for all of them."""
    array = np.asarray(answer, dtype=np.float64)
    if array.ndim == 0:
        array = np.full(size, float(array))
    if array.shape != (size,):
        raise ValueError(f"worksheet '{sheet.name}' answers an array of shape {array.shape} for {size} draws")
    return array


def _outside(
    sheet: Worksheet, numbers: list[Array | float | None], answers: tuple[Array, ...], kinds: Mapping[str, Kind]
) -> tuple[str, ...]:
    """Return in words which best values lie outside the method's range."""
    said = []
    values: dict[str, Array | float | None] = dict(zip(sheet.gives, answers, strict=True))
    values.update((take.quantity, number) for take, number in zip(sheet.takes, numbers, strict=True))
    for quantity, (low, high, words) in sheet.valid.items():
        number = values[quantity]
        value = float(number[0]) if isinstance(number, np.ndarray) else number
        if value is not None and not low <= value <= high:
            said.append(f"{kinds[quantity].title} is outside what the method holds for: {words}")
    return tuple(said)


def _left_out(without: int, number: int) -> str:
    """Say that draws have no answer: an interval must never be cut off in silence."""
    return (
        f"{without:,} of {number:,} draws have no answer: within their uncertainty the readings reach where the method "
        "has none. The interval is of the others."
    )


def _nothing(step: Step, quantity: str, inputs: tuple[Reading | Result, ...]) -> InputError:
    """Return the error for a formula that answers nan at the best values."""
    said = ", ".join(
        f"{one.quantity} {one.as_typed if isinstance(one, Reading) else f'{one.value:.4g}'}" for one in inputs
    )
    return InputError(
        f"{step.state}/{step.place}/{quantity}",
        said,
        f"leave '{step.worksheet.title}' without an answer",
        try_next="Check these readings against each other and take the doubtful one again.",
    )


def _quantities() -> Mapping[str, Kind]:
    """Return the program's register of quantities."""
    from asfound.quantities.register import quantities

    return cast("Mapping[str, Kind]", quantities())
