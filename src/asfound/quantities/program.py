"""A plan made ready to run: every input and result has a slot, and nothing is looked up by name any more.

It depends, like the plan, only on which readings there are; a visit in which a value changes runs the same program.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from asfound.quantities.plan import Assumed, Default, Made, Origin, Plan, Read, Several, Step, parts_of
from asfound.quantities.worksheets import Formula, Refusal, Worksheet


@dataclass(frozen=True, slots=True)
class Source:
    """A slot filled from what was read or assumed, or with a default."""

    slot: int
    origin: Read | Assumed | Default


@dataclass(frozen=True, slots=True)
class Absolute:
    """A slot filled with a gauge pressure and its barometer together."""

    slot: int
    gauge: int
    barometer: int


@dataclass(frozen=True, slots=True)
class Stack:
    """A slot filled with the numbers of several places, one upon the other."""

    slot: int
    parts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Give:
    """One result of a line: its slot and its name."""

    slot: int
    made: Made
    quantity: str


@dataclass(frozen=True, slots=True)
class Line:
    """One worksheet at one place, ready to run."""

    step: Step
    worksheet: Worksheet
    formula: Formula
    takes: tuple[int, ...]
    """Slots in the order of the formula's arguments."""
    below: tuple[int, ...]
    """Slots of what the results rest on: inputs in the order of the takes, then barometers."""
    gives: tuple[Give, ...]
    refuses: tuple[tuple[int, Refusal], ...]
    """Slots and what may refuse them."""
    valid: tuple[tuple[int, float, float, str], ...]
    """Slot, low, high, quantity."""


@dataclass(frozen=True, slots=True)
class Program:
    """Sources to fill, then lines to run in order."""

    slots: int
    sources: tuple[Source, ...]
    lines: tuple[Line | Absolute | Stack, ...]
    even: bool
    """All arrays have the draws of the visit: no worksheet takes fewer."""


@lru_cache(maxsize=128)
def program(plan: Plan) -> Program:
    """Return the program of a plan."""
    maker = _Maker()
    for step in plan.steps:
        maker.add(step)
    even = all(step.worksheet.draws is None for step in plan.steps)
    return Program(maker.slots, tuple(maker.sources), tuple(maker.lines), even)


class _Maker:
    """Gives out slots."""

    def __init__(self) -> None:
        self.slots = 0
        self.sources: list[Source] = []
        self.lines: list[Line | Absolute | Stack] = []
        self.slot_of: dict[Origin, int] = {}

    def add(self, step: Step) -> None:
        """Add a step as a line."""
        sheet = step.worksheet
        takes = tuple(self.slot(origin) for origin in step.inputs)
        gives = []
        for quantity, made in zip(sheet.gives, step.gives, strict=True):
            self.slot_of[made] = self.new()
            gives.append(Give(self.slot_of[made], made, quantity))
        taken = [
            (take.quantity, self.slot_of[one])
            for take, origin in zip(sheet.takes, step.inputs, strict=True)
            for one in parts_of(origin)
        ]
        both = [*taken, *((one.quantity, one.slot) for one in gives)]
        self.lines.append(
            Line(
                step=step,
                worksheet=sheet,
                formula=sheet.formula,
                takes=takes,
                below=self.below(step),
                gives=tuple(gives),
                refuses=tuple((slot, sheet.refuses[name]) for name, slot in taken if name in sheet.refuses),
                valid=tuple((slot, *sheet.valid[name][:2], name) for name, slot in both if name in sheet.valid),
            )
        )

    def slot(self, origin: Origin) -> int:
        """Return the slot of an input; a new one, with how it is filled, where it was not met before."""
        found = self.slot_of.get(origin)
        if found is not None:
            return found
        if isinstance(origin, Read) and origin.barometer is not None:
            gauge, barometer = self.slot(Read(origin.spot)), self.slot(origin.barometer)
            slot = self.new()
            self.lines.append(Absolute(slot, gauge, barometer))
        elif isinstance(origin, Several):
            parts = tuple(self.slot(one) for one in origin.parts)
            slot = self.new()
            self.lines.append(Stack(slot, parts))
        elif isinstance(origin, Made):
            raise LookupError(f"{origin} is planned before what makes it")
        else:
            slot = self.new()
            self.sources.append(Source(slot, origin))
        self.slot_of[origin] = slot
        return slot

    def below(self, step: Step) -> tuple[int, ...]:
        """Return the slots of what a step rests on; a barometer that only serves a gauge pressure comes last."""
        origins = [one for origin in step.inputs for one in parts_of(origin)]
        inputs = [self.slot_of[one] for one in origins if not isinstance(one, Default)]
        barometers = [one.barometer for one in origins if isinstance(one, Read) and one.barometer is not None]
        return tuple(dict.fromkeys((*inputs, *(self.slot_of[one] for one in barometers))))

    def new(self) -> int:
        """Return a new slot."""
        self.slots += 1
        return self.slots - 1
