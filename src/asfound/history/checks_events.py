"""Hours, indices, trip and chattering of the constructed cases, recomputed."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history.events import AlarmLog, log_of_lines
from asfound.history.events_alarms import chattering
from asfound.history.events_hours import Indices, indices
from asfound.history.events_states import StateTable
from asfound.history.events_trips import trips
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv, read_text

_PACKAGE = "asfound.history"
SCAN = 0.1
"""Of the controllers of the trip case. [s]"""


def state_table() -> StateTable:
    """Return the table of states of the case."""
    rows = load_csv(_PACKAGE, "data/event_states_a.csv")
    return StateTable.of_hours([(float(row["from_h"]), float(row["to_h"]), row["state"]) for row in rows])


def trip_log() -> AlarmLog:
    """Return the alarm list of the case."""
    text = read_text(_PACKAGE, "data/event_trip_1.csv")
    return log_of_lines((line for line in text.splitlines() if not line.startswith("#")), "event_trip_1.csv")


def checks() -> Iterator[Check]:
    """Yield each expected value with what the room's functions give now."""
    found: Indices = indices(state_table())
    for row in load_csv(_PACKAGE, "data/published_events.csv"):
        value = getattr(found, row["of"]) if hasattr(found, row["of"]) else _of_trip(row["of"], row["note"])
        yield Check.of_row("history", float(value), row)


def _of_trip(what: str, expected: str) -> float:
    """Return how many of the expected tags stand in their places, nan when more or others came."""
    log = trip_log()
    (trip,) = trips(log, scan=SCAN)
    bouts = chattering(log)
    if what == "transitions":
        return float(sum(bout.transitions for bout in bouts))
    wanted = tuple(word for word in expected.split() if word != "alone")
    came = {
        "first_out": trip.first_out,
        "consequences": trip.consequences,
        "chattering": tuple(dict.fromkeys(bout.tag for bout in bouts)),
    }[what]
    return float(len(wanted)) if came == wanted else float("nan")
