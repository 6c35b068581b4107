"""Findings of the logs: what drifts, stepped, reaches a limit; sensors and log; stops and alarms; repairs."""

from __future__ import annotations

import math
from collections.abc import Iterator

from asfound.history import findings_events, findings_load, findings_log, findings_trends
from asfound.history.look_parts import EngineLook
from asfound.history.look_words import System
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS = (findings_log, findings_events)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the kept look at the engine's log says; nothing where there is none."""
    look = case.engine.get("history")
    if isinstance(look, EngineLook):
        yield from found_in(look, "us" if case.visit.get("system") == "us" else "si", _may_give(case))


def found_in(look: EngineLook, system: System = "si", may_give: float | None = None) -> Iterator[Finding]:
    """Yield what a look says, in the units of its reader; ``may_give`` is the rating on site in W, where known."""
    yield from findings_trends.find(look, system)
    yield from findings_load.find(look, system, may_give)
    for subject in SUBJECTS:
        yield from subject.find(look)


def _may_give(case: Case) -> float | None:
    rating = case.worked.result("as_left/engine/site_rated_power") or case.worked.result(
        "as_found/engine/site_rated_power"
    )
    return rating.value if rating is not None and math.isfinite(rating.value) else None
