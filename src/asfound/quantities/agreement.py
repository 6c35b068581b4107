"""Several ways to one number: how far they agree, and what could be behind it where they do not.

The draws are common to all ways, so a reading that two ways share cancels in their difference: two methods that rest on
the same oxygen agree closely whatever that reading is worth, and that is not taken for a proof.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Literal

from asfound.quantities.words import Reading, Result

if TYPE_CHECKING:
    from asfound.quantities.draw_answers import Difference
    from asfound.quantities.worked import Worked

Verdict = Literal["agree", "small", "apart"]
"""No difference shows; one shows, but it is inside the doubt of the number taken; they stand apart."""
VERDICTS: tuple[Verdict, ...] = ("agree", "small", "apart")
ROUNDING = 1e-9
"""Of the number: two ways of writing one formula differ by this much and mean nothing by it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """Another way to the number, beside the one that is taken."""

    number: Result | Reading
    difference: Difference
    """This one minus the one taken."""
    verdict: Verdict
    in_doubts: float
    """Distance in standard uncertainties of the difference; infinite where both rest on the same exact values."""
    only_here: tuple[str, ...]
    """Keys of readings under this way and not under the one taken: one of these, or of the next, is behind it."""
    only_taken: tuple[str, ...]
    """Keys of readings under the one taken and not under this way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """A number that was come by in more than one way."""

    key: str
    taken: Result | Reading
    """What the rest of the sheet goes on with."""
    others: tuple[Beside, ...]

    @property
    def verdict(self) -> Verdict:
        """Return the worst of all pairs."""
        return max((one.verdict for one in self.others), key=VERDICTS.index)

    @property
    def numbers(self) -> tuple[Result | Reading, ...]:
        """Return all ways, the one taken first."""
        return (self.taken, *(one.number for one in self.others))


def agreement_of(worked: Worked, key: str) -> Agreement | None:
    """Return how far the ways to a number agree; None where there are not two.

    Parameters
    ----------
    worked : Worked
        The sheet.
    key : str
        ``state/place/quantity``.

    Returns
    -------
    Agreement or None
        Ways in the order in which the sheet prefers them: the method chosen, a reading, then as registered. Two ways
        ``agree`` when the 95 % interval of their difference holds zero.
    """
    one = worked.reading(key)
    read = [one] if one is not None and not one.gauge else []  # draws of a gauge pressure are gauge
    results = list(worked.alternatives(key))
    if len(read) + len(results) < 2:
        return None
    by_choice = bool(results) and worked.chosen.get(results[0].quantity) == results[0].worksheet
    ways: list[Result | Reading] = [*results[:1], *read, *results[1:]] if by_choice else [*read, *results]
    taken = ways[0]
    others = tuple(
        worked.recall(("beside", key, by_choice, at), (one, taken), partial(_beside, worked, one, taken))
        for at, one in enumerate(ways[1:])
    )
    return Agreement(key=key, taken=taken, others=others)


def _beside(worked: Worked, number: Result | Reading, taken: Result | Reading) -> Beside:
    """Put one way beside the one that is taken."""
    away = worked.difference(number, taken)
    here, there = _readings(number), _readings(taken)
    distance = abs(away.value)
    rounding = ROUNDING * max(abs(number.value), abs(taken.value))
    doubt = away.standard_uncertainty
    in_doubts = 0.0 if distance <= rounding else distance / doubt if doubt > 0.0 else math.inf
    low, high = worked.interval(taken)
    verdict: Verdict = "apart"
    if distance <= rounding or away.interval[0] <= 0.0 <= away.interval[1]:
        verdict = "agree"
    elif low <= number.value <= high:
        verdict = "small"
    return Beside(
        number=number,
        difference=away,
        verdict=verdict,
        in_doubts=in_doubts,
        only_here=tuple(one for one in here if one not in there),
        only_taken=tuple(one for one in there if one not in here),
    )


def _readings(number: Result | Reading) -> tuple[str, ...]:
    """Return the keys of all readings under a number."""
    return tuple(one.key for one in number.readings()) if isinstance(number, Result) else (number.key,)
