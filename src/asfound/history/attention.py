"""Which engines want a hand first, by what their logs say: a score to rank a fleet by, and why."""

from __future__ import annotations

from dataclasses import dataclass

from asfound.history.channels import titled
from asfound.history.events_words import tags_said
from asfound.history.look_parts import EngineLook
from asfound.history.look_words import System, day_said, says_of

BEYOND, NEAR, MOVES, SENSOR, TRIP, FLOOD, CLOCK = 100.0, 60.0, 25.0, 8.0, 6.0, 5.0, 4.0
"""Weights of one of each; engineering judgement, for ranking only."""
MONTH = 30 * 86_400 * 1_000_000
WORTH = ("stuck", "unit_change", "gauge_absolute", "twins_apart", "left_group", "at_limit")


@dataclass(frozen=True, slots=True)
class Attention:
    """How much a hand is wanted, and why, what weighs most first."""

    score: float
    says: tuple[str, ...]


def attention(look: EngineLook, system: System = "si") -> Attention:
    """Return how much an engine wants a hand."""
    weights = {"beyond": BEYOND, "near": NEAR, "moves": MOVES}
    rows = [(weights[one.judged], says_of(one, system)) for one in look.indicators if one.judged in weights]
    for kind in WORTH:
        found = [one for one in look.faults if one.open and one.kind == kind]
        if found:
            more = f" and {len(found) - 1} more" if len(found) > 1 else ""
            says = f"{titled(found[0].channel)}{more}: {found[0].says}, since {day_said(found[0].start)}."
            rows.append((SENSOR * min(len(found), 3), says))
    late = [one for one in look.events.trips if one.time >= look.end - MONTH]
    rows += [(TRIP, f"Trip on {day_said(one.time)}, first {tags_said(one.first_out)}.") for one in late]
    rows += [
        (FLOOD, f"Alarm flood on {day_said(one.start)}: {one.alarms} alarms.")
        for one in look.events.floods
        if one.start >= look.end - MONTH
    ]
    rows += [(CLOCK, one.says) for one in look.clocks]
    rows.sort(key=lambda row: -row[0])
    return Attention(sum(weight for weight, _ in rows), tuple(says for _, says in rows))
