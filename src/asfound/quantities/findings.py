"""Findings of all rooms: what a room is shown, and how what it finds is put in order.

A room that judges has a module ``findings`` with a function ``find(case)``. It is shown the whole case, so that one
finding may rest on readings, on results and on what is fitted together.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from asfound.quantities.words import SEVERITIES, Finding, Limit, Reading

if TYPE_CHECKING:
    from asfound.quantities.sheet import Worked

LISTENING = frozenset({"troubleshoot"})
"""Rooms that weigh what the others found: they are asked last, and shown it in `Case.found`."""
ROOMS_WITHOUT = frozenset({"quantities", "sources", "records", "report", "web", "cli"})
"""Rooms that judge nothing: what they are built on, and what shows it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """What the rooms are shown of a visit when they look for findings."""

    readings: tuple[Reading, ...]
    worked: Worked
    limits: tuple[Limit, ...] = ()
    identification: Any = None
    """What is fitted, as `fitout` identified it; None when nobody has looked yet."""
    engine: Mapping[str, Any] = field(default_factory=dict)
    visit: Mapping[str, Any] = field(default_factory=dict)
    previous: Worked | None = None
    """The last visit's sheet, worked out; None at the first visit."""
    found: tuple[Finding, ...] = ()
    """What the other rooms found, for rooms that are `LISTENING`; empty for all others."""


Find = Callable[[Case], Iterable[Finding]]


@cache
def load() -> Mapping[str, Find]:
    """Return the ``find`` of every room that has findings, by name of the room."""
    import asfound

    found: dict[str, Find] = {}
    for room in sorted(one.name for one in pkgutil.iter_modules(asfound.__path__) if one.ispkg):
        if room in ROOMS_WITHOUT:
            continue
        name = f"asfound.{room}.findings"
        try:
            module = importlib.import_module(name)
        except ModuleNotFoundError as error:
            if error.name != name:
                raise
            continue
        found[room] = module.find
    return MappingProxyType(found)


def find_all(
    case: Case, *, rooms: Mapping[str, Find] | None = None, faults: list[str] | None = None
) -> tuple[Finding, ...]:
    """Return what all rooms find in a case, the most urgent first.

    Within one severity what is more probable comes first, then by code, so that the same case gives the same list.

    Parameters
    ----------
    case : Case
        The visit as it stands.
    rooms : mapping of str to function, optional
        Rooms to ask; all that have findings when left out.
    faults : list of str, optional
        Gets in words where a room broke down over this case: beside a running engine the findings of the other rooms
        are wanted all the same. Without the list the error goes on.
    """
    found: list[Finding] = []
    asked = load() if rooms is None else rooms
    for room, find in sorted(asked.items(), key=lambda one: one[0] in LISTENING):
        try:
            found += find(replace(case, found=tuple(found)) if room in LISTENING else case)
        except Exception as fault:
            if faults is None:
                raise
            says = f"{type(fault).__name__}: {fault}".rstrip(": ")
            faults.append(f"A fault of the program: the findings of '{room}' could not be worked out ({says}).")
    return tuple(sorted(found, key=_urgency))


def _urgency(finding: Finding) -> tuple[int, float, str, str, str]:
    """Return the sort key: severity, probability from high to low (a certain one has none), code, state, words."""
    sure = 1.0 if finding.probability is None else finding.probability
    return SEVERITIES.index(finding.severity), -sure, finding.code, finding.state, finding.says
