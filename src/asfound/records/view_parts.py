"""The parts of a visit as page, command line and report see it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.sheet import Worked
    from asfound.quantities.words import Limit, Reading, Result, State
    from asfound.records.entries import Entry
    from asfound.records.things import Thing, VisitRecord

StepName = Literal["fitted", "fuel", "load", "exhaust", "cylinders", "other"]
STEPS: tuple[StepName, ...] = ("fitted", "fuel", "load", "exhaust", "cylinders", "other")
STEP_TITLES: dict[str, str] = {
    "fitted": "What is fitted",
    "fuel": "Fuel gas",
    "load": "Load",
    "exhaust": "Exhaust",
    "cylinders": "Cylinders",
    "other": "All other readings",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReading:
    """A reading as it was kept, and as the sheet takes it."""

    key: str
    """``state/place/quantity``."""
    entry: Entry
    reading: Reading | None
    """For the sheet; None when it could not be taken, only a bound is known, or no register knows the quantity."""
    quantity: str
    place: str
    state: State
    time: str
    as_typed: str
    unit: str
    """As typed."""
    value: float | None
    """SI; gauge stays gauge."""
    gauge: bool
    censored: Literal["", "above", "below"]
    bound: float | None
    missing: bool
    standard_uncertainty: float
    """SI; as stated, else of the instrument, else of its kind by default."""
    instrument: Thing | None
    said_by: str
    """Instrument with serial, source, or person."""
    note: str
    clash: bool
    """True: two corrections of one entry stand here; see ``conflicts``."""
    earlier: tuple[str, ...]
    """Identifiers of entries at the same key that it took the place of, oldest first."""
    judged_false: Entry | None = None
    """Who judged it false, and why: it stays and stays shown, and the sheet goes without it."""
    reference_oxygen: float | None = None
    """Level of oxygen that ``value`` is counted at, where it was typed with one. [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetItem:
    """One item of the as-found set for this engine."""

    step: StepName
    quantity: str
    """Quantity, or the slot of a look in the step ``fitted``."""
    place: str
    title: str
    found: Literal["taken", "could_not", "open"]
    left: Literal["taken", "could_not", "open", "not_asked"]
    """``not_asked``: it holds for both states (height, gas analysis) or is worth taking once."""
    minutes: float
    state_needed: Literal["running", "stopped", "isolated"] = "running"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepProgress:
    """How much of a step's as-found and as-left sets is there. What could not be taken, and says so, counts as done."""

    step: StepName
    title: str
    found: int
    found_of: int
    left: int
    left_of: int
    items: tuple[SetItem, ...]

    @property
    def found_share(self) -> float | None:
        """Part of the as-found set that is there; None when the engine has none of it. [0 to 1]"""
        return self.found / self.found_of if self.found_of else None

    @property
    def left_share(self) -> float | None:
        """Part of the as-left set that is there. [0 to 1]"""
        return self.left / self.left_of if self.left_of else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One number as found and as left."""

    key: str
    """``place/quantity``, with ``/worksheet`` for a result."""
    quantity: str
    place: str
    worksheet: str
    """Empty for a reading."""
    found: Reading | Result
    left: Reading | Result
    difference: float
    """Left minus found, SI."""
    interval: tuple[float, float]
    """95 % of the difference, from the common draws of the visit (what one instrument does to both falls out)."""
    standard_uncertainty: float
    chance: float
    """That it really went the way it seems to have: share of the draws with the sign of the difference. [0 to 1]"""

    @property
    def changed(self) -> bool:
        """Whether nought lies outside the interval."""
        return self.interval[0] > 0 or self.interval[1] < 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StillOpen:
    """Something that is not done yet."""

    says: str
    minutes: float | None
    state_needed: Literal["running", "stopped", "isolated"]
    step: StepName | None
    anchor: str
    """Key of a reading, slot, or identifier of an entry; where the page should open."""
    why: str = ""
    severity: str = "note"
    entry: str = ""
    """Identifier of the open point's entry; empty when the program found it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayEvent:
    """A moment on the day's line."""

    time: str
    kind: str
    """Event of ``visit_state``, or ``found``, ``left``, ``look``, ``photo``, ``note``, ``sealed``, ``addendum``."""
    says: str
    who: str
    entries: tuple[str, ...]
    minutes: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySpan:
    """A stretch on the day's line: ``on_site``, ``found``, ``left``, ``stopped``."""

    start: str
    end: str
    kind: Literal["on_site", "found", "left", "stopped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """The day in order."""

    start: str
    end: str
    now: str
    """Empty once the visit is sealed."""
    permit_until: str
    """Empty when no permit to work was noted."""
    events: tuple[DayEvent, ...]
    spans: tuple[DaySpan, ...]


def concerns(limit: Limit, place: str) -> bool:
    """Tell whether a limit is about a place: its own; without one, any but that before the catalyst."""
    return place == limit.place if limit.place else place != "before_catalyst"


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitState:
    """A limit beside the results that it concerns."""

    limit: Limit
    found: tuple[Result | Reading, ...]
    left: tuple[Result | Reading, ...]
    beyond: Mapping[str, float]
    """Key of the number to the probability of being on the forbidden side (JCGM 106)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Previous:
    """The visit before this one, for comparison."""

    visit: VisitRecord
    worked: Worked
    cylinder_looks: tuple[JsonObject, ...] = ()
    """What its witnesses said of cylinders, as it stands now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextThing:
    """The one thing to do next; the person on site decides."""

    says: str
    why: str
    minutes: float | None
    step: str
    """Step of the visit, or ``visit``, ``findings``, ``report``."""
    anchor: str
    """Key of a reading, slot, or identifier of an entry."""
    button: str
    """Verb and object for the button that leads there."""


JsonObject = dict[str, Any]
