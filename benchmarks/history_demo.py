"""What the program finds in the demo logs beside what was planted in them: events, sensor health, trends.

    python -m benchmarks history_demo                prints the tables
    python -m benchmarks.history_demo --write        puts them into docs/history_demo.md

Not a race: targets are that every first-out is right, at most 3 % of the planted sensor faults are missed, and at most
one false alarm for each engine-year.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

from asfound.history.demo import ENGINES
from asfound.history.demo.planted import Planted
from asfound.history.events import AlarmLog
from asfound.history.events_alarms import chattering, floods, without_repeats
from asfound.history.events_hours import Indices, indices
from asfound.history.events_states import StateTable, counter_changes, states_from_log
from asfound.history.events_trips import trips
from asfound.history.sensor_fault import Fault
from asfound.history.sensor_health import check
from benchmarks.history_demo_trends import log, rows

PAGE = Path(__file__).parent.parent / "docs" / "history_demo.md"
BEGIN, END = "<!-- tables begin -->", "<!-- tables end -->"
DAY = 86_400_000_000
COUNTS_AS = {
    "stuck": ("stuck",), "spike": ("spike",), "gap": ("gap",), "unit_change": ("unit_change",),
    "gauge_absolute": ("gauge_absolute",), "at_limit": ("at_limit",), "coarse": ("coarse",),
    "wrong_alloy": ("left_group",), "misfire": ("left_group",), "order_reversed": ("left_group",),
    "drift": ("left_group", "twins_apart"),
}  # fmt: skip
"""Kind planted -> kinds of fault that are its finding."""
SEEN = ("cylinder_exhaust", "oxygen_sensor_reading@before")
"""Channels whose drift another sensor of the same thing shows."""
OPTIONAL = ("order_reversed",)
"""May show or not: it depends on how unlike the exchanged cylinders are."""


def alarm_log(tag: str) -> AlarmLog:
    return AlarmLog.of((one.time, one.source, one.tag, one.state, one.kind) for one in log(tag).alarms)


def told(tag: str) -> StateTable:
    """Return what the work orders would say of the stops that no protection made."""
    known = [one for one in log(tag).states if one.state not in ("service", "startfail", "forced")]
    return StateTable(
        start=np.array([one.start for one in known]), end=np.array([one.end for one in known]),
        state=tuple(one.state for one in known),
    )  # fmt: skip


def true_indices(tag: str) -> Indices:
    states = log(tag).states
    return indices(
        StateTable(
            start=np.array([one.start for one in states]), end=np.array([one.end for one in states]),
            state=tuple(one.state for one in states),
        )
    )  # fmt: skip


HEAD = (
    "engine", "trips, first-out right", "chattering bouts", "floods", "counter exchanged", "availability, log", "true",
    "forced outage rate, log", "true", "starts, log", "true",
)  # fmt: skip


def events() -> tuple[list[str], bool]:
    lines = [f"| {' | '.join(HEAD)} |", f"|{'---|' * len(HEAD)}"]
    good = True
    for tag in ENGINES:
        one, alarms = log(tag), alarm_log(tag)
        found = trips(alarms)
        forced = {stay.start for stay in one.states if stay.state == "forced"}
        right = sum(trip.time in forced and trip.sure for trip in found)
        planted = Counter(p.kind for p in one.truth)
        bouts, flooded = chattering(alarms), floods(without_repeats(alarms))
        counter = counter_changes(one.channels.time, one.channels.values["engine_hours@engine"])
        running = one.channels.values["raw:running@engine"]
        table = states_from_log(one.channels.time, running, trips=found, told=told(tag))
        seen, true = indices(table, standing_as="reserve"), true_indices(tag)
        good &= right == len(forced) == len(found)
        cells = (
            tag, f"{right} of {len(forced)}", f"{len(bouts)} of {planted['chattering']}",
            f"{len(flooded)} of {planted['flood']}", f"{len(counter)} of {planted['meter_exchange']}",
            f"{seen.availability_factor:.4f}", f"{true.availability_factor:.4f}", f"{seen.forced_outage_rate:.4f}",
            f"{true.forced_outage_rate:.4f}", str(seen.starts_successful), str(true.starts_successful),
        )  # fmt: skip
        lines.append(f"| {' | '.join(cells)} |")
    return lines, good


def meets(planted: Planted, fault: Fault) -> bool:
    same = fault.kind in COUNTS_AS[planted.kind] and fault.channel == planted.channel
    return same and fault.start <= planted.end + 2 * DAY and fault.end >= planted.start - 2 * DAY


def health() -> tuple[list[str], bool]:
    found_of: Counter[str] = Counter()
    planted_of: Counter[str] = Counter()
    false_of: Counter[str] = Counter()
    worst: list[str] = []
    took = 0.0
    values = 0
    for tag in ENGINES:
        one = log(tag)
        began = time.process_time()
        found = check(one.channels)
        took += time.process_time() - began
        values += len(one.channels) * len(one.channels.values)
        wanted = [p for p in one.truth if p.kind in COUNTS_AS and (p.kind != "drift" or p.channel.startswith(SEEN))]
        met: set[int] = set()
        for planted in wanted:
            hits = [id(fault) for fault in found if meets(planted, fault)]
            met |= set(hits)
            if planted.kind in OPTIONAL:
                continue
            planted_of[planted.kind] += 1
            found_of[planted.kind] += bool(hits)
            if not hits:
                worst.append(f"{tag}: {planted.kind} of {planted.channel} missed")
        for fault in found:
            if id(fault) not in met:
                false_of[fault.kind] += 1
                worst.append(f"{tag}: {fault.kind} of {fault.channel} said, and none was planted")
    years = 7 * 911 / 365.25
    lines = ["| planted | how many | found |", "|---|---|---|"]
    lines += [f"| {kind.replace('_', ' ')} | {planted_of[kind]} | {found_of[kind]} |" for kind in planted_of]
    false = sum(false_of.values())
    lines += [
        "",
        f"False alarms: {false} in {years:.1f} engine-years"
        + (f" ({', '.join(f'{kind} {number}' for kind, number in false_of.items())})." if false else "."),
        *(f"- {line}" for line in worst),
        "",
        f"{values / 1e6:.0f} million values, {took / values * 1e9:.0f} ns of processor time each, all tests together.",
    ]
    return lines, sum(found_of.values()) >= 0.97 * sum(planted_of.values()) and false <= years


def trends() -> list[str]:
    lines = ["| engine | what was planted | what is found | beside the truth |", "|---|---|---|---|"]
    return lines + [f"| {' | '.join(cell.replace('|', '/') for cell in row)} |" for row in rows()]


def main(write: bool) -> int:
    of_events, events_right = events()
    of_health, health_right = health()
    text = "\n".join(
        [
            "### Events, hours, starts",
            "",
            *of_events,
            "",
            "### Sensors and log",
            "",
            *of_health,
            "",
            "### Trends",
            "",
            *trends(),
        ]
    )
    print(text)
    if write:
        page = PAGE.read_text(encoding="utf-8")
        head, _, rest = page.partition(BEGIN)
        PAGE.write_text(f"{head}{BEGIN}\n{text}\n{END}{rest.partition(END)[2]}", encoding="utf-8")
    return 0 if events_right and health_right else 1


if __name__ == "__main__":
    sys.exit(main("--write" in sys.argv))
