"""A visit's sheet, worked out: results with their draws, and the questions that draws can answer.

Everything is a count or a fit over the one set of draws of the visit, so results that share a reading are correlated as
they should be.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from asfound.errors import InputError, UnknownNameError
from asfound.quantities import draws as streams
from asfound.quantities.agreement import Agreement, agreement_of
from asfound.quantities.columns import frame, results_columns
from asfound.quantities.draw_answers import Beyond, Difference, GuardBand, chance_by_count
from asfound.quantities.drawn import Drawn
from asfound.quantities.intervals import summary, symmetric
from asfound.quantities.kept import Followed
from asfound.quantities.plan import Missing
from asfound.quantities.shares import shares_of
from asfound.quantities.words import Limit, Reading, Result, State

if TYPE_CHECKING:
    from asfound.quantities.typing import Array

Found = TypeVar("Found")
NOTHING_CHOSEN: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A worksheet that gives no answer from what was read, and why."""

    worksheet: str
    state: State
    place: str
    quantities: tuple[str, ...]
    """What it would have given."""
    error: InputError

    @property
    def says(self) -> str:
        """The reason, in words that can stand alone."""
        return str(self.error)


class Worked:
    """What work_out returns: every result of a visit, and all that can be asked of the draws.

    Attributes
    ----------
    readings : tuple of Reading
        As given, in the order of their keys.
    results : tuple of Result
        In the order of dependence: what a result rests on comes before it.
    missing : tuple of Missing
    refused : tuple of Refused
    number, seed : int
        Draws of the visit and its seed: with the readings they give every digit again.
    chosen : mapping of str to str
        Quantity to the worksheet that somebody chose for it.
    """

    def __init__(
        self,
        *,
        readings: tuple[Reading, ...],
        results: tuple[Result, ...],
        missing: tuple[Missing, ...],
        refused: tuple[Refused, ...],
        rank: dict[str, int],
        number: int,
        seed: int,
        chosen: Mapping[str, str] = NOTHING_CHOSEN,
        followed: Followed | None = None,
    ) -> None:
        self.readings, self.results, self.missing, self.refused = readings, results, missing, refused
        self.number, self.seed = number, seed
        self._rank = rank
        self.chosen = chosen
        self._followed = Followed({}) if followed is None else followed

    def recall(self, name: Hashable, inputs: tuple[object, ...], make: Callable[[], Found]) -> Found:
        """Return what follows from numbers of this sheet; not made anew before one of these has changed.

        Parameters
        ----------
        name : hashable
            Of what is made; unique over all that asks.
        inputs : tuple
            Readings and results that it is made from, and nothing else may count: as long as all are the same objects,
            it is the same. `sheet.work_out` with a memory keeps the objects of what has not changed.
        make : function
            Makes it.
        """
        found: Found = self._followed.recall(name, inputs, make)
        return found

    @cached_property
    def _by_key(self) -> dict[str, tuple[Result, ...]]:
        """Results by where they lie: at the head that of the worksheet chosen, else of the one registered first."""
        found: dict[str, list[Result]] = {}
        for one in self.results:
            found.setdefault(one.key, []).append(one)
        return {key: tuple(sorted(all_, key=self._preference)) for key, all_ in found.items()}

    def _preference(self, one: Result) -> tuple[bool, int]:
        return self.chosen.get(one.quantity) != one.worksheet, self._rank[one.worksheet]

    @cached_property
    def _read(self) -> dict[str, Reading]:
        return {one.key: one for one in self.readings}

    def reading(self, key: str) -> Reading | None:
        """Return the reading at a key; None where there is none."""
        return self._read.get(key)

    def result(self, key: str, worksheet: str | None = None) -> Result | None:
        """Return the result at a key, by a worksheet or by the one preferred; None where there is none."""
        for one in self._by_key.get(key, ()):
            if worksheet is None or one.worksheet == worksheet:
                return one
        return None

    def columns(self) -> dict[str, list[Any]]:
        """Return the results by columns: state, place, quantity, value, interval, method ... in SI."""
        return results_columns(self.results)

    def frame(self) -> Any:
        """Return the results as a ``pandas.DataFrame``, where pandas is installed."""
        return frame(self.columns())

    def _repr_html_(self) -> str:
        """Return what a notebook shows."""
        from asfound.quantities.notebook import worked_html

        return worked_html(self)

    def alternatives(self, key: str) -> tuple[Result, ...]:
        """Return the results of all worksheets at a key, the preferred one at the head."""
        return self._by_key.get(key, ())

    def taken(self, key: str) -> Result | Reading | None:
        """Return the number that the sheet goes on with at a key: by the method chosen, else read, else a result."""
        result = self.result(key)
        if result is not None and self.chosen.get(result.quantity) == result.worksheet:
            return result
        return self.reading(key) or result

    def agreement(self, key: str) -> Agreement | None:
        """Return how far the ways to a number agree: its reading and the results of all worksheets there.

        None where there are not two. See `agreement.agreement_of`.
        """
        return agreement_of(self, key)

    @cached_property
    def agreements(self) -> tuple[Agreement, ...]:
        """How far the ways agree wherever there are two or more, in the order of the results."""
        keys = dict.fromkeys(one.key for one in self.results)
        return tuple(one for key in keys if (one := self.agreement(key)) is not None)

    @property
    def outside(self) -> tuple[tuple[Result, tuple[str, ...]], ...]:
        """Results that lie outside their method's range of validity, with what is outside, in words."""
        return tuple((one, one.outside) for one in self.results if one.outside)

    def draws(self, number: Result | Reading) -> Array:
        """Return the draws of a result or reading. Read-only, shape (draws,).

        A result of a heavy worksheet has fewer draws than the visit: the first of the same. A reading's draws are on
        its own basis: those of a gauge pressure are gauge. Draws without an answer are nan or infinite.

        Raises
        ------
        UnknownNameError
            The result is not of this sheet.
        """
        if isinstance(number, Reading):
            drawn = streams.draw(number, self.number, self.seed)[1:]
        else:
            found = self.result(number.key, number.worksheet)
            if not isinstance(found, Drawn):
                raise UnknownNameError("result of this sheet", number.key, self._by_key)
            drawn = found.array[1:]
        view = drawn.view()
        view.setflags(write=False)
        return view

    def without_answer(self, result: Result) -> int:
        """Return how many draws of a result have no answer, because they leave what the formula can do."""
        found = self.result(result.key, result.worksheet)
        return found.without if isinstance(found, Drawn) else 0

    def shares(self, result: Result) -> tuple[tuple[str, float], ...]:
        """Return the share of each reading in a result's variance, the largest first: 'measure this better'.

        Readings of this result that share an error cannot be told apart by their share and are one entry, their keys
        joined by `` + ``. What no straight line through the readings explains stands under `shares.REST`. The sum is 1.
        See `shares.shares_of` for the definition.
        """
        readings = result.readings()
        length = self.draws(result).size + 1
        return shares_of(self.draws(result), readings, lambda label, shape: self._stream(label, shape)[1:length])

    def beyond(self, number: Result | Reading, limit: Limit) -> Beyond:
        """Return how probable it is that a number is beyond a limit, and say it no finer than the draws can tell.

        Raises
        ------
        InputError
            The limit is for another quantity, or the number has no draws with an answer.
        """
        drawn = self._finite(number, limit)
        over = drawn > limit.value if limit.side == "upper" else drawn < limit.value
        count = int(np.count_nonzero(over))
        return Beyond(
            probability=count / drawn.size, count=count, draws=drawn.size, says=chance_by_count(count, drawn.size)
        )

    def probability_beyond(self, number: Result | Reading, limit: Limit) -> float:
        """Return the share of draws beyond a limit (JCGM 106:2012 7): 1 less the probability of conformity."""
        return self.beyond(number, limit).probability

    def guard_band(self, number: Result | Reading, limit: Limit, *, probability: float = 0.95) -> GuardBand:
        """Return how far a number with these draws must stay from a limit to conform with a probability.

        The draws are taken to keep their shape about the value when it moves a little: width = quantile of (draw -
        value) towards the limit. For a normal result it is 1.64 u at 95 %.
        """
        if not 0.5 <= probability < 1.0:
            raise InputError("probability", f"{probability:g}", "is not one to accept with", allowed="0.5 to below 1")
        away = self._finite(number, limit) - number.value
        sign = 1.0 if limit.side == "upper" else -1.0
        width = max(float(np.quantile(sign * away, probability)), 0.0)
        acceptance = limit.value - sign * width
        return GuardBand(
            width=width,
            acceptance_limit=acceptance,
            probability=probability,
            accepted=sign * number.value <= sign * acceptance,
        )

    def difference(self, number: Result | Reading, other: Result | Reading) -> Difference:
        """Return one number minus another, draw by draw: as left minus as found, one method minus another."""
        sheets = [one.worksheet if isinstance(one, Result) else "" for one in (number, other)]
        name = ("difference", number.key, other.key, *sheets)
        return self.recall(name, (number, other), lambda: self._difference(number, other))

    def _difference(self, number: Result | Reading, other: Result | Reading) -> Difference:
        one, two = self.draws(number), self.draws(other)
        count = min(one.size, two.size)
        away = one[:count] - two[:count]
        value = number.value - other.value
        found = summary(away, value)
        finite = away[np.isfinite(away)]
        return Difference(
            value=value,
            standard_uncertainty=found.standard_uncertainty,
            interval=(found.low, found.high),
            probability_lower=float(np.count_nonzero(finite < 0.0)) / finite.size if finite.size else math.nan,
        )

    def covariance(self, numbers: Sequence[Result | Reading]) -> Array:
        """Return the covariance matrix of results and readings over the draws. Shape (k, k); SI units.

        Draws in which one of them has no answer are left out for all.
        """
        if not numbers:
            return np.empty((0, 0))
        all_ = [self.draws(one) for one in numbers]
        count = min(one.size for one in all_)
        matrix = np.stack([one[:count] for one in all_])
        matrix = matrix[:, np.isfinite(matrix).all(axis=0)]
        return np.atleast_2d(np.cov(matrix))

    def interval(self, number: Result | Reading, probability: float = 0.95) -> tuple[float, float]:
        """Return the coverage interval with equal tails at another probability."""
        return symmetric(self.draws(number), probability)

    def _stream(self, label: str, shape: streams.Shape) -> Array:
        return streams.stream(label, shape, self.number, self.seed)

    def _finite(self, number: Result | Reading, limit: Limit) -> Array:
        """Return the draws that have an answer, for comparison with a limit of the same quantity."""
        if limit.quantity != number.quantity:
            raise InputError(
                number.key, limit.as_typed, f"is a limit of {limit.quantity}, not of {number.quantity}", allowed=""
            )
        drawn = self.draws(number)
        finite: Array = drawn[np.isfinite(drawn)]
        if not finite.size:
            raise InputError(number.key, f"{number.value:g}", "has no draw with an answer", allowed="")
        return finite
