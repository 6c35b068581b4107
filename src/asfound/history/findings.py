"""Findings of the logs: what drifts, stepped, reaches a limit; sensors and log; stops and alarms; repairs."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history import findings_events, findings_log, findings_trends
from asfound.history.look_parts import EngineLook
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS = (findings_trends, findings_log, findings_events)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the kept look at the engine's log says; nothing where there is none."""
    look = case.engine.get("history")
    if isinstance(look, EngineLook):
        yield from found_in(look)


def found_in(look: EngineLook) -> Iterator[Finding]:
    """Yield what a look says."""
    for subject in SUBJECTS:
        yield from subject.find(look)
