"""Findings of the logs: what drifts, stepped, reaches a limit; sensors and log; stops and alarms; repairs."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history import findings_events, findings_log, findings_trends
from asfound.history.look_parts import EngineLook
from asfound.history.look_words import System
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS = (findings_log, findings_events)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the kept look at the engine's log says; nothing where there is none."""
    look = case.engine.get("history")
    if isinstance(look, EngineLook):
        yield from found_in(look, "us" if case.visit.get("system") == "us" else "si")


def found_in(look: EngineLook, system: System = "si") -> Iterator[Finding]:
    """Yield what a look says, in the units of its reader."""
    yield from findings_trends.find(look, system)
    for subject in SUBJECTS:
        yield from subject.find(look)
