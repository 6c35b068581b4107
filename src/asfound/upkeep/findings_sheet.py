"""Findings of the oil's numbers on the sheet: hours left by two samples, consumption above a limit of the engine."""

from __future__ import annotations

import math
from collections.abc import Iterator

from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, State
from asfound.upkeep.findings_due import SUBJECT

SOON = 250.0
"""Hours left below which a plan is wanted now: an interval between samples; common practice, no source."""
HOUR = 3600.0
LEFT = (("oil_acid_hours_left", "acid number"), ("oil_base_hours_left", "base number"))


def find(case: Case) -> Iterator[Finding]:
    """Yield what the numbers of the oil on the sheet of a visit mean."""
    for state in STATES:
        for name, title in LEFT:
            yield from _left(case, state, name, title)


def _left(case: Case, state: State, name: str, title: str) -> Iterator[Finding]:
    key = f"{state}/engine/{name}"
    found = case.worked.result(key)
    if found is None or not math.isfinite(found.value) or found.value > SOON * HOUR:
        return
    low, high = (end / HOUR for end in case.worked.interval(found))
    hours = found.value / HOUR
    says = (
        f"The {title} of the oil is at its limit."
        if hours <= 0.0
        else f"By the last two samples the {title} of the oil is at its limit in {hours:,.0f} h"
        + (f" ({max(0.0, low):,.0f} to {high:,.0f})." if math.isfinite(low + high) else ".")
    )
    yield Finding(
        code="UK-13", subject=SUBJECT, says=says, severity="visit" if hours <= 0.0 else "soon", state=state,
        compared_with="the limit that was entered for this oil", because=(key,), cautions=("hot", "chemical"),
        next_step="Take a second sample before the oil is changed for it, and plan the change. Two samples make a rate "
        "with all their doubt: with three and more the trend of the charge goes first.",
    )  # fmt: skip
