"""What one working out of a visit leaves for the next: arrays of everything whose inputs have not changed.

A visit is worked out anew at each keystroke, and a keystroke changes one reading. A formula's answer is taken again
where its worksheet and all its input arrays are the very same objects as the last time; so nothing has to be told what
depends on what, and the digits are those that working out afresh would give. Only what the last working out used is
kept, so memory grows with the visit, not with what was typed.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from asfound.errors import InputError
    from asfound.quantities.drawn import Drawn
    from asfound.quantities.plan import Made, Spot
    from asfound.quantities.typing import Array
    from asfound.quantities.words import Reading
    from asfound.quantities.worksheets import Worksheet

LineKey = tuple["Made", tuple[int, ...]]
"""First result of a line and the identities of its inputs."""


@dataclass(slots=True)
class Done:
    """One worksheet at one place, as it ran."""

    worksheet: Worksheet
    numbers: list[Any]
    """Its inputs; held, so that an identity cannot come to mean another object."""
    answers: tuple[Array, ...] | None
    error: InputError | None = None
    """Why the formula itself refused; then there are no answers."""
    below: tuple[Any, ...] = ()
    results: tuple[Drawn, ...] | None = None
    """In the order of what the line gives; None where not all of it has an answer."""


@dataclass(slots=True)
class Generation:
    """Everything of one working out."""

    readings: dict[Spot, Reading] = field(default_factory=dict)
    drawn: dict[Reading, tuple[Array | float, Reading]] = field(default_factory=dict)
    joined: dict[tuple[int, ...], tuple[tuple[Any, ...], Any]] = field(default_factory=dict)
    """Arrays put together of others, by the identities of these, with these."""
    lines: dict[LineKey, Done] = field(default_factory=dict)
    followed: Followed = field(default_factory=lambda: Followed({}))


class Followed:
    """What was worked out from results afterwards (a cross-check, a difference), for as long as these are the same."""

    __slots__ = ("_before", "_now")

    def __init__(self, before: Mapping[Hashable, tuple[tuple[Any, ...], Any]]) -> None:
        self._before = before
        self._now: dict[Hashable, tuple[tuple[Any, ...], Any]] = {}

    def recall(self, name: Hashable, inputs: tuple[Any, ...], make: Callable[[], Any]) -> Any:
        """Return what was made under a name when every input is the object it was then; else make it."""
        found = self._now.get(name) or self._before.get(name)
        if found is None or len(found[0]) != len(inputs) or any(a is not b for a, b in zip(found[0], inputs)):  # noqa: B905
            found = inputs, make()
        self._now[name] = found
        return found[1]

    def next(self) -> Followed:
        """Return what the next working out starts from."""
        return Followed(dict(self._now))


class Memory:
    """Kept by whoever works one visit out again and again; see `sheet.work_out`.

    Two threads may work with one memory: each reads the generation that it found and puts a new one in its place.
    """

    __slots__ = ("generation", "of")

    def __init__(self) -> None:
        self.of: tuple[int, int] | None = None
        self.generation = Generation()

    def recall(self, number: int, seed: int) -> Generation:
        """Return what the last working out with as many draws of the same seed left."""
        return self.generation if self.of == (number, seed) else Generation()

    def keep(self, generation: Generation, number: int, seed: int) -> None:
        """Put a new generation in the place of the last."""
        self.of, self.generation = (number, seed), generation


def same_reading(before: Reading | None, now: Reading) -> Reading:
    """Return the reading as it was kept where it says the same to the last bit (0 and -0 are not the same)."""
    alike = before is not None and before == now and repr(before.value) == repr(now.value)
    return before if alike and before is not None else now
