"""Findings of sensors that do not count: each by its own mark, with what to do about it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.cylinders.mask import Mark
from asfound.cylinders.shown import in_units
from asfound.cylinders.spread_of_case import TEMPERATURE, Cylinder, SpreadOfVisit
from asfound.quantities.findings import Case
from asfound.quantities.plan import in_number_order
from asfound.quantities.words import STATES, Finding, Severity

MOVED = 5.0
"""So far the other ports moved, at the median, while one shows the same digits (engineering judgement). [K]"""
WHAT: dict[Mark, tuple[str, Severity, str, str]] = {
    Mark.OPEN: (
        "CY-17",
        "soon",
        "at the end of the scale: an open circuit",
        "Engine control isolated as its document says: look at plug, terminal and cable; measure the resistance of "
        "the loop; then the thermocouple. The cylinder is judged by nothing until then.",
    ),
    Mark.OUT_OF_RANGE: (
        "CY-17",
        "soon",
        "more than a port can show",
        "Read it again; then look for a wrong input type, a wrong unit, or a connection that comes and goes.",
    ),
    Mark.COLD_JUNCTION: (
        "CY-18",
        "soon",
        "near the temperature of its terminals while the engine carries load: wires touching, or not in the port",
        "Look at the terminals and the head for a bridge, and whether the tip is in the port; a dead cylinder is far "
        "hotter than this.",
    ),
}


def find_marks(case: Case, seen: SpreadOfVisit) -> Iterator[Finding]:
    """Yield the sensors that do not count, and those that may be frozen."""
    for one in seen.cylinders:
        if one.mark in WHAT:
            code, severity, words, step = WHAT[one.mark]
            yield Finding(
                code=code,
                subject="cylinders",
                says=(
                    f"The port temperature of cylinder {one.name}, {in_units(case, one.value, TEMPERATURE)}, is "
                    f"{words}. Left out of the spread"
                ),
                severity=severity,
                next_step=step,
                because=(one.key,),
                cautions=("hot", "elec", "protect", "local"),
                state=seen.state,
            )
    unread = sorted((one.name for one in seen.cylinders if one.mark == Mark.NOT_READ), key=in_number_order)
    if 0 < len(unread) <= len(seen.cylinders) // 2:  # fewer read: somebody wanted these few, as after work on one
        yield Finding(
            code="CY-19",
            subject="cylinders",
            says=f"No port temperature of cylinder{'s' if len(unread) > 1 else ''} {', '.join(unread)} was read",
            severity="note",
            next_step="Read it, or say that it has no sensor: what is not read is not judged.",
            state=seen.state,
        )
    yield from _frozen(case, seen)


def _frozen(case: Case, seen: SpreadOfVisit) -> Iterator[Finding]:
    """Yield ports that show the digits of the last visit, or of the other state, while the others moved."""
    for words, before in _befores(case, seen):
        same = [one for one in seen.cylinders if one.place in before and before[one.place] == one.value]
        moved = [abs(before[one.place] - one.value) for one in seen.cylinders if one.place in before]
        if len(same) != 1 or len(moved) < 3 or float(np.median(moved)) < MOVED:
            continue
        yield _frozen_one(case, seen, same[0], words)
        return


def _frozen_one(case: Case, seen: SpreadOfVisit, one: Cylinder, words: str) -> Finding:
    return Finding(
        code="CY-29",
        subject="cylinders",
        says=(
            f"The port temperature of cylinder {one.name} shows the same digits as {words} "
            f"({in_units(case, one.value, TEMPERATURE)}), while the others moved: it may be frozen"
        ),
        severity="note",
        next_step="Change load by a few percent and watch whether it follows; a frozen input does not.",
        because=(one.key,),
        cautions=("hot", "local"),
        state=seen.state,
    )


def _befores(case: Case, seen: SpreadOfVisit) -> Iterator[tuple[str, dict[str, float]]]:
    """Yield what to compare with: as found for as left, then the last visit."""
    if seen.state == "as_left":
        yield (
            "as found",
            {r.place: r.value for r in case.readings if r.quantity == TEMPERATURE and r.state == "as_found"},
        )
    if case.previous is not None:
        for state in reversed(STATES):
            found = {r.place: r.value for r in case.previous.readings if r.quantity == TEMPERATURE and r.state == state}
            if found:
                yield "at the last visit", found
                return
