"""The words that all rooms speak: reading, method, result, limit, finding.

A number of a visit lives at a *key*: ``state/place/quantity`` (``as_found/stack/exhaust_oxygen_dry``). Readings have
one key each; a result adds the worksheet that made it, because several methods may give the same quantity.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterator

State = Literal["as_found", "as_left"]
STATES: tuple[State, ...] = ("as_found", "as_left")
Severity = Literal["stop", "visit", "clash", "soon", "note"]
SEVERITIES: tuple[Severity, ...] = ("stop", "visit", "clash", "soon", "note")  # by when a hand is needed


LARGEST = 1e60
"""No quantity of an engine comes near it in SI; beyond it squares and products run out of what a float can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A value that somebody read, typed or assumed: of what, where, when, in which state, how well."""

    quantity: str
    """Its one name in the register of quantities."""
    place: str
    """Where on the engine: ``engine``, ``stack``, ``cylinder_L4``, ``site`` ..."""
    state: State
    time: str
    """ISO 8601 with its offset."""
    value: float
    """In ``unit``; a gauge pressure stays gauge here and says so in ``gauge``."""
    unit: str
    """The SI unit of the quantity."""
    as_typed: str
    """What the record keeps and an error quotes: ``8,5 %``."""
    standard_uncertainty: float
    """In ``unit``, from the specification of the instrument."""
    origin: Literal["measured", "typed", "assumed"] = "typed"
    said_by: str = ""
    """Instrument and its serial, person, or source of the assumption."""
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"
    gauge: bool = False
    """True: the barometer of the same state is added before use, draw by draw."""
    shared_with: str = ""
    """Key of a common error, for example an instrument's serial; readings with the same key are correlated."""
    shared_fraction: float = 0.0
    """Correlation coefficient between two readings with the same ``shared_with``. [0 to 1]"""
    entry: str = ""
    """Identifier of the entry of the record that holds it."""

    @property
    def key(self) -> str:
        """Where it lies on the visit; leads back to its field on the page."""
        return f"{self.state}/{self.place}/{self.quantity}"


@dataclass(frozen=True, slots=True)
class Method:
    """A way of computing, as the trade names it, with its publication."""

    name: str
    source: str
    """Key in the register of sources."""
    clause: str = ""
    """Clause, table, equation or page in that source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """What a worksheet gives: a number that can tell how sure it is and how it came about."""

    quantity: str
    place: str
    state: State
    value: float
    """Formula at the best values of its inputs, SI."""
    unit: str
    interval: tuple[float, float]
    """95 % coverage, probabilistically symmetric, from the draws of the visit."""
    standard_uncertainty: float
    worksheet: str
    method: Method
    cautions: tuple[str, ...] = ()
    """Tags of the register of cautions."""
    inputs: tuple[Reading | Result, ...] = ()
    outside: tuple[str, ...] = ()
    """What lies outside the method's range of validity, in words; empty when all is inside."""

    @property
    def key(self) -> str:
        """Where it lies on the visit."""
        return f"{self.state}/{self.place}/{self.quantity}"

    @property
    def assumed(self) -> tuple[Reading, ...]:
        """Readings under it that nobody took: they were assumed."""
        return tuple(r for r in self.readings() if r.origin == "assumed")

    def readings(self) -> tuple[Reading, ...]:
        """Return every reading under it, each once, in the order met."""
        seen: dict[str, Reading] = {}
        for given in self.inputs:
            for one in given.readings() if isinstance(given, Result) else (given,):
                seen.setdefault(one.key, one)
        return tuple(seen.values())

    def _repr_html_(self) -> str:
        """Return what a notebook shows."""
        from asfound.quantities.notebook import result_html

        return result_html(self)

    def walk(self, depth: int = 0) -> Iterator[tuple[int, Reading | Result]]:
        """Yield this number and all under it with their depth: the trail."""
        yield depth, self
        for given in self.inputs:
            if isinstance(given, Result):
                yield from given.walk(depth + 1)
            else:
                yield depth + 1, given


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A wall that a number must stay this side of: permit, rating, alarm."""

    quantity: str
    value: float
    """SI."""
    as_typed: str
    side: Literal["upper", "lower"] = "upper"
    place: str = ""
    """Empty: at any place."""
    name: str = "permit"
    """The word that stands on the wall: ``permit``, ``rating``."""
    text: str = ""
    """The text it comes from, with its number and date, or the source key."""
    basis: str = ""
    """Averaging time, dry or wet, reference oxygen: what the text says of how it is compared."""
    entry: str = ""
    reference_oxygen: float | None = None
    """Level at which it counts a concentration, where it states one. [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What results mean beside a limit, the last visit or a sound engine, and what to do about it."""

    code: str
    """``EX-03``: stable, has its paragraph in the docs, never reused."""
    subject: str
    """Step of the visit it belongs to: ``fitted``, ``exhaust``, ``load`` ..."""
    says: str
    severity: Severity
    next_step: str
    compared_with: str = ""
    probability: float | None = None
    """That it is so; beside a limit, of being over it (JCGM 106)."""
    because: tuple[str, ...] = ()
    """Keys of the readings, results and looks behind it."""
    cautions: tuple[str, ...] = ()
    state: State = "as_found"
    extra: dict[str, str] = field(default_factory=dict)

    def _repr_html_(self) -> str:
        """Return what a notebook shows."""
        from asfound.quantities.notebook import finding_html

        return finding_html(self)
