"""The alarm lists of the demo engines: trips and what follows them, chattering, a flood; and the alarm bits."""

from __future__ import annotations

import numpy as np

from asfound.history.channels import SECOND
from asfound.history.demo.calendar import DAY, HOUR, MINUTE, moment
from asfound.history.demo.cause import Cause
from asfound.history.demo.engine import Signals
from asfound.history.demo.planted import AlarmEntry
from asfound.quantities.typing import Array

SHUTDOWNS = {
    "low suction": "PSLL-SUCTION", "oil pressure": "PSLL-OIL", "high jacket water": "TSHH-JACKET",
    "speed signal lost": "SE-SPEED-LOST", "fuel pressure": "PSLL-FUEL", "vibration switch": "VSHH-VIB",
    "catalyst outlet temperature": "TSHH-CAT-OUT",
}  # fmt: skip
"""Tag of the protection by the reason of a forced stop."""
FOLLOWS = (("PSL-OIL", 4.1), ("SSL-SPEED", 6.3), ("PSL-MANIFOLD", 9.0), ("TDL-EXHAUST", 40.0))
"""Alarms that follow any stop, with seconds after it."""
EVERYDAY = ("LSL-DAYTANK", "PDSH-AIRFILTER", "TSL-OIL", "LSL-COOLANT", "ESH-BATTERY", "TSH-ROOM")
BITS = ("shutdown", "jacket water high", "exhaust deviation", "knock", "catalyst outlet high")
"""Meaning of the alarm bits, the first is worth 1."""


def bits(cause: Cause, shown: Signals) -> Array:
    """Return the alarm bits as one number. (n,)"""
    forced = np.zeros(len(cause.time))
    for one in cause.stays:
        if one.state == "forced":
            forced = np.maximum(forced, cause.between(one.start, one.end))
    on = cause.running > 0
    exhaust = np.stack([rows for name, rows in shown.items() if name.startswith("cylinder_exhaust")])
    apart = np.abs(exhaust - np.median(exhaust, axis=0)).max(axis=0) > 60
    found = forced + 2.0 * (shown["jacket_water_outlet_temperature@engine"] > 371.15) + 4.0 * (apart & on)
    found = found + 8.0 * (shown.get("knock_level@engine", np.zeros(1)) > 0.4)
    return np.asarray(found + 16.0 * (shown.get("catalyst_outlet_temperature@engine", np.zeros(1)) > 893.15))


def entries(cause: Cause) -> tuple[AlarmEntry, ...]:
    """Return the alarm list in the order of time; one millisecond apart where they would fall together."""
    random = cause.random("alarms")
    found: list[AlarmEntry] = []
    for one in cause.stays:
        if one.state == "service":
            found.append(AlarmEntry(one.start, "PLC1", "ENGINE", "RUNNING", "state"))
        elif one.state == "startfail":
            found.append(AlarmEntry(one.start - 90 * SECOND, "PLC1", "START", "FAILED", "state"))
        elif one.state == "forced":
            found += _trip(one.start, SHUTDOWNS[one.why], random)
        else:
            found.append(AlarmEntry(one.start, "PLC1", "ENGINE", "STOPPING", "state"))
    found += _everyday(cause, random)
    found += _chatter(cause, random)
    if cause.spec.tag == "N1":
        found += _flood(cause, random)
    return tuple(sorted(found, key=lambda one: one.time))


def _trip(at: int, tag: str, random: np.random.Generator) -> list[AlarmEntry]:
    """Return a protection, what it does at once, and what follows from the stop."""
    rows = [
        AlarmEntry(at, "PLC1", tag, "ALM", "shutdown"),
        AlarmEntry(at + 300_000, "PLC1", "FUEL-VALVE", "CLOSE", "action"),
        AlarmEntry(at + 400_000, "PLC1", "IGN", "OFF", "action"),
        AlarmEntry(at + SECOND, "PLC1", "ENGINE", "STOPPING", "state"),
    ]
    for follower, after in FOLLOWS:
        raised = at + round(after * float(random.uniform(0.8, 1.3)) * SECOND)
        kind = "shutdown" if follower == "PSL-OIL" and tag != "PSLL-OIL" else "alarm"
        rows.append(AlarmEntry(raised, "PLC1", follower, "ALM", kind))
        rows.append(AlarmEntry(raised + 40 * MINUTE, "PLC1", follower, "RTN", kind))
    rows.append(AlarmEntry(at + 55 * MINUTE, "PLC1", tag, "RTN", "shutdown"))
    return rows


def _everyday(cause: Cause, random: np.random.Generator) -> list[AlarmEntry]:
    """Return single alarms, about one in two days."""
    begins, ends = int(cause.time[0]), int(cause.time[-1])
    rows = []
    for at in np.sort(random.integers(begins, ends - DAY, size=(ends - begins) // (2 * DAY))):
        tag = str(random.choice(EVERYDAY))
        rows.append(AlarmEntry(int(at), "PLC1", tag, "ALM", "alarm"))
        rows.append(AlarmEntry(int(at) + int(random.integers(2 * MINUTE, 6 * HOUR)), "PLC1", tag, "RTN", "alarm"))
    return rows


def _chatter(cause: Cause, random: np.random.Generator) -> list[AlarmEntry]:
    """Return three bouts in which one alarm comes and goes."""
    rows = []
    begins, ends = int(cause.time[0]), int(cause.time[-1])
    bouts = [(int(at), "LSL-CHATTER") for at in random.integers(begins + DAY, ends - DAY, size=2)]
    if cause.spec.tag == "A3":
        bouts.append((moment(48, 241, 3), "TDH-EXH-LEFT"))
    for at, tag in bouts:
        number = int(random.integers(12, 40))
        for one in range(number):
            when = at + one * 40 * SECOND + int(random.integers(0, 4 * SECOND))
            rows.append(AlarmEntry(when, "PLC1", tag, "ALM", "alarm"))
            rows.append(AlarmEntry(when + 15 * SECOND, "PLC1", tag, "RTN", "alarm"))
        last = at + number * 40 * SECOND
        cause.tell("chattering", "", at, last, float(number), "times", tag)
    return rows


def _flood(cause: Cause, random: np.random.Generator) -> list[AlarmEntry]:
    """Return the flood of N1 when its station supply dips."""
    at = moment(48, 200, 4)
    cause.tell("flood", "", at, at + 9 * MINUTE, 34, "alarms", "the station supply dips")
    rows = []
    for number in range(34):
        when = at + int(random.integers(0, 9 * MINUTE))
        rows.append(AlarmEntry(when, "PLC1", f"SUPPLY-{number + 1:02d}", "ALM", "alarm"))
        rows.append(AlarmEntry(when + 30 * MINUTE, "PLC1", f"SUPPLY-{number + 1:02d}", "RTN", "alarm"))
    return rows
