"""What the cross-check tells a person, as plain data: readings, balances, suspects, what to measure next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from asfound.crosscheck.assemble import Assembled
from asfound.crosscheck.doubt_from_logs import LogDoubt
from asfound.crosscheck.identify import Identification
from asfound.crosscheck.identify import Verdict as Lies
from asfound.crosscheck.reconcile import Reconciled
from asfound.crosscheck.worth_of_visit import OneMore, one_more

OfReading = Literal["agrees", "apart", "may_be_apart", "same_mark", "unsure", "weakly_checked", "not_checked"]
"""``apart``: the likeliest suspect. ``may_be_apart``: cannot be told apart from it. ``same_mark``: leaves the same
mark, but its error would be impossible or most unlikely. ``unsure``: beyond 2 of its uncertainties. ``weakly_checked``:
agrees, but only an error of more than 10 of its uncertainties would be noticed. ``not_checked``: nothing is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One value beside what all the others make of it; SI."""

    name: str
    title: str
    symbol: str
    quantity: str
    """In the register of quantities; empty where it has none."""
    key: str
    """Where its reading lies on the visit; empty for an assumption and for a mean of several."""
    unit: str
    gauge: bool
    value: float
    u: float
    others: float
    """As it follows from all other values, the suspects left out; nan where it does not follow."""
    u_others: float
    interval: tuple[float, float]
    """Of that, 95 %."""
    size: float
    """How much too high it would be."""
    distance: float
    """Size over its uncertainty, signed: the test of the reading. [1]"""
    in_u: float
    """Size over the reading's own uncertainty. [1]"""
    verdict: OfReading
    smallest_error: float
    """Smallest error that would be noticed (test at 1 %, power 80 %); infinite where nothing checks it."""
    best: float
    u_best: float
    """Best estimate with its uncertainty, all taken together."""
    assumed: bool

    @property
    def best_interval(self) -> tuple[float, float]:
        """95 %."""
        return self.best - 1.96 * self.u_best, self.best + 1.96 * self.u_best


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedBalance:
    """One balance: whether it closes with the values as they are."""

    name: str
    title: str
    equation: str
    closes: bool | None
    """None: nothing says whether it does."""
    left_over: float
    """What is left of it if it alone were wrong, in ``unit``; nan where nothing tells."""
    u: float
    unit: str
    distance: float
    """Left over against its uncertainty, signed. [1]"""
    takes: tuple[str, ...]
    assumed: tuple[str, ...]
    source: str
    clause: str
    model: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """One error that would explain it."""

    name: str
    title: str
    kind: Literal["reading", "assumption", "pattern"]
    names: tuple[str, ...]
    """Values that it touches."""
    keys: tuple[str, ...]
    """Readings of the visit that it touches."""
    size: float
    """How much too high, SI; of a pattern in its own unit."""
    u: float
    unit: str
    quantity: str
    value: float
    """As read or assumed; nan for a pattern."""
    in_u: float
    probability: float
    possible: bool
    """False: the true value would be one that cannot be."""
    mistake: str
    """A well-known mistake that has this size, in words; empty where none has."""
    look: str
    """What to look at."""
    log: str = ""
    """What the engine's log shows of its channel; empty where it says nothing against it."""

    @property
    def interval(self) -> tuple[float, float]:
        """Of the size, 95 %."""
        return self.size - 1.96 * self.u, self.size + 1.96 * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One explanation: for each error the suspects that cannot be told apart, the likeliest first."""

    groups: tuple[tuple[Suspect, ...], ...]
    chi_squared: float
    degrees: int
    p_value: float
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """What disagreement remains if one value is left out."""

    name: str
    title: str
    chi_squared: float
    degrees: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Impossible:
    """A reading that cannot be: it stands in no balance."""

    name: str
    title: str
    quantity: str
    keys: tuple[str, ...]
    value: float
    low: float | None
    high: float | None
    """Between these the true value lies. [SI]"""
    unit: str
    gauge: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class CrossCheck:
    """All of it."""

    state: str
    verdict: Lies
    told_apart: bool
    chi_squared: float
    degrees: int
    p_value: float
    usual_below: float
    """Chi-squared stays below it in 99 of 100 visits without a lie. [1]"""
    readings: tuple[Checked, ...]
    balances: tuple[CheckedBalance, ...]
    explanations: tuple[Alternative, ...]
    """The best first; empty when nobody lies or nothing explains it."""
    left_out: tuple[LeftOut, ...]
    best: Mapping[str, tuple[float, float]]
    """Adjusted values and unknowns with their standard uncertainties, the suspects left out."""
    as_read: Mapping[str, tuple[float, float]]
    """The same with nothing left out."""
    unknown: tuple[str, ...]
    """What does not follow from the readings."""
    impossible: tuple[Impossible, ...]
    """Readings that cannot be; they were left out of all balances."""
    assembled: Assembled
    identification: Identification
    solution: Reconciled
    """With the named suspects released."""
    doubts: tuple[LogDoubt, ...] = ()
    """What the engine's log says against its readings."""

    @cached_property
    def one_more(self) -> tuple[OneMore, ...]:
        """Measurements worth most, the best first; worked out when asked for."""
        return one_more(self.assembled, self.identification, self.solution)

    @property
    def contradiction(self) -> bool:
        """Whether the readings contradict each other."""
        return self.verdict != "nobody"

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """Those of the best explanation that can be, the likeliest of each error first."""
        if not self.explanations:
            return ()
        return tuple(one for group in self.explanations[0].groups for one in group if one.possible)

    @property
    def named(self) -> tuple[Suspect, ...]:
        """The likeliest of each error."""
        if not self.explanations:
            return ()
        return tuple(next((one for one in group if one.possible), group[0]) for group in self.explanations[0].groups)

    @property
    def suspect_keys(self) -> tuple[str, ...]:
        """Readings of the visit that are judged false: of each error the likeliest; none where nothing explains it."""
        if self.verdict == "unexplained":
            return ()
        return tuple(dict.fromkeys(key for one in self.named for key in one.keys))

    @property
    def not_checked(self) -> tuple[str, ...]:
        """Readings of which nothing may be said."""
        return tuple(one.name for one in self.readings if one.verdict == "not_checked" and not one.assumed)

    @property
    def assumed(self) -> tuple[Checked, ...]:
        """What nobody read."""
        return tuple(one for one in self.readings if one.assumed)

    def reading(self, name: str) -> Checked:
        """Return one value by name."""
        return next(one for one in self.readings if one.name == name)

    @property
    def picture(self) -> tuple[tuple[str, str], ...]:
        """Links of the drawing: name of a reading, name of a balance that rests on it."""
        return tuple((name, one.name) for one in self.balances for name in one.takes if name not in one.assumed)
