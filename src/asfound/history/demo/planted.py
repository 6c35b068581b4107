"""What is planted in the demo data, and the answers that whoever reads them should come to."""

from __future__ import annotations

from dataclasses import dataclass

from asfound.history.demo.calendar import iso


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """One thing that is true of the demo data."""

    engine: str
    kind: str
    """One of `KINDS`."""
    channel: str
    """``quantity@place``, or empty where it concerns the whole log."""
    start: int
    """[µs]"""
    end: int
    """[µs]"""
    size: float = float("nan")
    unit: str = ""
    says: str = ""

    def as_dict(self) -> dict[str, object]:
        """Return it as JSON holds it, times as ISO text."""
        return {
            "engine": self.engine,
            "kind": self.kind,
            "channel": self.channel,
            "from": iso(self.start),
            "to": iso(self.end),
            "size": None if self.size != self.size else self.size,
            "unit": self.unit,
            "says": self.says,
        }


KINDS = {
    "drift": "moves slowly from start to end by size",
    "step": "stands off by size from start to end",
    "stuck": "shows the same number although the engine runs",
    "spike": "one sample far off",
    "gap": "no rows",
    "unit_change": "another unit under the same head",
    "gauge_absolute": "absolute pressure under a head that says gauge",
    "wrong_alloy": "thermocouple of another alloy than its input",
    "at_limit": "the sensor ends where the quantity goes on",
    "coarse": "the logger keeps steps of this size",
    "clock": "the logger's clock is off by size",
    "renamed": "the columns have other names from here on",
    "meter_exchange": "the hours counter begins again",
    "misfire": "a cylinder does not burn as it should",
    "gas_change": "another gas",
    "order_reversed": "channels of a group count from the other end",
    "fouling": "deposits grow",
    "saturation": "a gas cleaning lets through",
    "hunting": "load and speed swing",
    "governor": "gains of the governor were changed",
    "knock": "knock is answered by later timing",
    "derate": "runs at less load on purpose",
    "repair": "put right",
    "trip": "a protection stops the engine",
    "chattering": "an alarm that comes and goes",
    "flood": "more alarms than anyone can read",
}


@dataclass(frozen=True, slots=True)
class Stay:
    """Time in one state: service, reserve, forced, planned, maintenance; startfail lasts no time."""

    start: int
    end: int
    state: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class AlarmEntry:
    """A line of the alarm list."""

    time: int
    source: str
    tag: str
    state: str
    """ALM, RTN, or what an action did."""
    kind: str
    """alarm, shutdown, action, state."""
