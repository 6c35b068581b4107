"""What it takes to be sure of a number beside its limit: how far it must stay away, and which reading to improve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.quantities.shares import REST
from asfound.quantities.words import Reading, Result
from asfound.report.wording import named, say_value

if TYPE_CHECKING:
    from asfound.quantities.words import Limit
    from asfound.quantities.worked import Worked
    from asfound.report.wording import System

SURE = 0.95
"""Probability from which on a number is taken to be inside or beyond its limit."""
WORTH = 0.10
"""A reading that holds less of the doubt than this is not worth the trouble."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deciding:
    """How sure it is on which side of a limit a number lies."""

    decided: bool
    acceptance: str
    """To be sure it must read below (or above) this; with its unit."""
    improve: tuple[tuple[str, str], ...]
    """Readings that hold most of the doubt: title, and share in per cent."""

    @property
    def says(self) -> str:
        """In words; empty where nothing is left to decide."""
        if self.decided:
            return ""
        said = f"Not sure either way. Sure (95 in 100) from {self.acceptance} on."
        if self.improve:
            first, *others = self.improve
            said += f" {first[0]} holds {first[1]} % of the doubt: read it better first"
            said += f", then {others[0][0]} ({others[0][1]} %)." if others else "."
        return said


def deciding(worked: Worked, number: Result | Reading, limit: Limit, system: System) -> Deciding:
    """Return whether a number is surely inside or beyond a limit, and what would make it sure."""
    beyond = worked.probability_beyond(number, limit)
    decided = beyond <= 1 - SURE or beyond >= SURE
    guard = worked.guard_band(number, limit, probability=SURE)
    improve: tuple[tuple[str, str], ...] = ()
    if not decided and isinstance(number, Result):
        shares = [(label, share) for label, share in worked.shares(number) if label != REST and share >= WORTH]
        improve = tuple((_titles(label), f"{100 * share:.0f}") for label, share in shares[:2])
    return Deciding(
        decided=decided,
        acceptance=say_value(guard.acceptance_limit, limit.quantity, system),
        improve=improve,
    )


def _titles(label: str) -> str:
    """Return the readings of an entry of the shares in words."""
    parts = [key.split("/") for key in label.split(" + ")]
    return " and ".join(dict.fromkeys(named(name, place) for _, place, name in parts))
