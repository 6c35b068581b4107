"""What people told of a trouble: plain data that the record brings, in the order in which it happened."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from asfound.troubleshoot.fault_codes import FaultMessage
from asfound.troubleshoot.fault_names import CodeName
from asfound.troubleshoot.protections import ProtectionSaid

Confirmed = Literal["cured", "seen", "believed"]
COUNTS = ("cured", "seen")
"""How a cause must be confirmed to count as a closed case: the repair cured it, or the fault itself was seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One thing that a person said of a symptom, a test or a repair."""

    about: str
    says: str
    place: str = ""
    time: str = ""
    by: str = ""
    note: str = ""
    minutes: float | None = None
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AllowedSaid:
    """What a person said may be done now."""

    can_run: bool = True
    may_stop: bool = True
    may_isolate: bool = True
    barred: tuple[str, ...] = ()
    why: str = ""
    time: str = ""
    by: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedSaid:
    """The end of a case: the cause, and how it is known."""

    cause: str
    confirmed: Confirmed
    part: str = ""
    note: str = ""
    time: str = ""
    by: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedCase:
    """A closed case of any engine of the home."""

    cause: str
    confirmed: Confirmed
    visit: str = ""
    engine: str = ""
    date: str = ""
    entry: str = ""

    @property
    def counts(self) -> bool:
        """Whether its cause was confirmed well enough to move a prior."""
        return self.confirmed in COUNTS


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultsRead:
    """Fault messages that were read from the engine's data bus."""

    messages: tuple[FaultMessage, ...]
    time: str = ""
    source: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """All that the record knows of the trouble of a visit."""

    said: tuple[Said, ...] = ()
    """Of the newest case, by time; later ones about the same thing and place go before earlier ones."""
    closed: ClosedSaid | None = None
    """That case's end; None while it is open."""
    before: int = 0
    """Cases of this visit that were closed before it."""
    allowed: AllowedSaid | None = None
    cases: tuple[ClosedCase, ...] = ()
    """Closed cases of the home, this visit's own left out."""
    counted: bool = True
    """False: a person has switched closed cases off; they move nothing."""
    protections: tuple[ProtectionSaid, ...] = ()
    faults: tuple[FaultsRead, ...] = ()
    names: Mapping[tuple[int, int | None], CodeName] = field(default_factory=dict)
    """What a table of the home says of fault codes."""
    own: tuple[tuple[str, str], ...] = ()
    """A company's own files of knowledge: (name, text)."""
    problems: tuple[str, ...] = ()

    @property
    def empty(self) -> bool:
        """Whether nothing was told of any symptom, test or repair."""
        return not self.said and self.closed is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """Codes of findings of other rooms, by the state that they are of."""

    found: frozenset[str] = frozenset()
    left: frozenset[str] = frozenset()

    @property
    def codes(self) -> frozenset[str]:
        """All of them, each once."""
        return self.found | self.left
