"""A result that takes uncertainty, interval and what its draws lack from the draws when they are first asked for.

A visit is worked out anew at each keystroke, and a page shows some of its numbers: the others need no interval until
somebody looks. What is asked for is exact and stays.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.quantities.intervals import Summary, summary
from asfound.quantities.words import Result

if TYPE_CHECKING:
    from asfound.quantities.plan import Spot
    from asfound.quantities.typing import Array
    from asfound.quantities.words import Reading
    from asfound.quantities.worksheets import Worksheet

_FIELDS = (
    "place", "quantity", "state", "value", "unit", "interval", "standard_uncertainty", "worksheet", "method",
    "cautions", "inputs", "outside",
)  # fmt: skip
_PUT = tuple(Result.__dict__[name].__set__ for name in _FIELDS)
_INTERVAL: Any = Result.__dict__["interval"]  # where a Result keeps what is worked out late
_UNCERTAINTY: Any = Result.__dict__["standard_uncertainty"]
_OUTSIDE: Any = Result.__dict__["outside"]


class Drawn(Result):
    """A `Result` like any other, but for when its interval and standard uncertainty are worked out."""

    __slots__ = ("_array", "_readings", "_without")
    _array: Array
    """Element 0 is the best value, the others are the draws."""

    @classmethod
    def result(
        cls,
        array: Array,
        spot: Spot,
        value: float,
        unit: str,
        sheet: Worksheet,
        inputs: tuple[Reading | Result, ...],
        outside: tuple[str, ...],
    ) -> Drawn:
        """Return the result of a worksheet whose draws are ``array[1:]``."""
        made = cls.__new__(cls)
        given = (
            *spot[1:], spot[0], value, unit, None, None, sheet.name, sheet.method, sheet.cautions, inputs, outside
        )  # fmt: skip
        for put, one in zip(_PUT, given, strict=True):  # a frozen dataclass fills itself in this way, but 4 x slower
            put(made, one)
        _PUT_ARRAY(made, array)
        return made

    @property
    def array(self) -> Array:
        """Best value (element 0) and draws. Shape (draws + 1,)."""
        return self._array

    @property
    def interval(self) -> tuple[float, float]:
        """95 % coverage, probabilistically symmetric, from the draws of the visit."""
        kept: tuple[float, float] | None = _INTERVAL.__get__(self)
        if kept is None:
            found = self._sum_up()
            kept = found.low, found.high
        return kept

    @interval.setter
    def interval(self, given: tuple[float, float] | None) -> None:
        _INTERVAL.__set__(self, given)

    @property
    def standard_uncertainty(self) -> float:
        """Standard deviation of the draws."""
        kept: float | None = _UNCERTAINTY.__get__(self)
        return self._sum_up().standard_uncertainty if kept is None else kept

    @standard_uncertainty.setter
    def standard_uncertainty(self, given: float | None) -> None:
        _UNCERTAINTY.__set__(self, given)

    def readings(self) -> tuple[Reading, ...]:
        """Return every reading under it, each once, in the order met; gone through once."""
        kept: tuple[Reading, ...] | None = getattr(self, "_readings", None)
        if kept is None:
            kept = Result.readings(self)
            object.__setattr__(self, "_readings", kept)
        return kept

    @property
    def without(self) -> int:
        """Draws that have no answer, because they leave what the formula can do; the interval is of the others."""
        kept: int | None = getattr(self, "_without", None)
        if kept is None:
            draws = self._array[1:]
            with np.errstate(over="ignore", invalid="ignore"):
                sound = math.isfinite(draws.dot(draws))
            kept = 0 if sound else draws.size - int(np.count_nonzero(np.isfinite(draws)))
            object.__setattr__(self, "_without", kept)
        return kept

    @property
    def outside(self) -> tuple[str, ...]:
        """What lies outside the method's range, and what draws lack, in words: nothing is cut off in silence."""
        given: tuple[str, ...] = _OUTSIDE.__get__(self)
        return (*given, left_out(self.without, self._array.size - 1)) if self.without else given

    @outside.setter
    def outside(self, given: tuple[str, ...]) -> None:
        _OUTSIDE.__set__(self, given)
        object.__setattr__(self, "_without", 0)  # a copy by hand: what it lacks is in the words already

    def _sum_up(self) -> Summary:
        """Work out both and keep them; writing to a frozen object is right here, for it only fills in what it is."""
        found = summary(self._array[1:], self.value)
        _INTERVAL.__set__(self, (found.low, found.high))
        _UNCERTAINTY.__set__(self, found.standard_uncertainty)
        return found

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle and copy as a plain `Result`, without the draws."""
        from dataclasses import fields

        return _plain, ({one.name: getattr(self, one.name) for one in fields(Result)},)


def left_out(without: int, number: int) -> str:
    """Say that draws have no answer."""
    return (
        f"{without:,} of {number:,} draws have no answer: within their uncertainty the readings reach where the method "
        "has none. The interval is of the others."
    )


def _plain(fields: dict[str, Any]) -> Result:
    return Result(**fields)


_PUT_ARRAY: Any = Drawn.__dict__["_array"].__set__
