"""What the log of an engine says up to a day, as plain frozen records: kept on disk, shown by pages and findings.

Times are whole microseconds UTC, values SI. An indicator with ``share`` is worked out in logarithms: its slope, moves
and steps are shares of the value (0.05 is 5 %).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from asfound.history.load_parts import LoadHeld

NAN = math.nan


@dataclass(frozen=True, slots=True)
class Interval:
    """A value with its 95 % interval; nan where nothing can be said."""

    value: float = NAN
    low: float = NAN
    high: float = NAN

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return math.isfinite(self.value)

    @property
    def differs_from_zero(self) -> bool:
        """Whether the interval leaves zero out."""
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelThere:
    """A channel of the log and how much of it there is."""

    channel: str
    quantity: str
    place: str
    n: int
    share: float
    """Of the rows of the log from its own first to its own last value. [0 to 1]"""
    first: int
    last: int
    low: float
    high: float
    mean: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A time with its 95 % set."""

    time: int
    earliest: int
    latest: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StepSeen:
    """A step of the level at equal load and ambient."""

    time: int
    earliest: int
    latest: int
    size: Interval
    visit: str = ""
    """Name of the visit that it came with."""
    why: str = ""
    """What was done: on that visit, or else about that day: ``work order W-27 of 27 August 2032: coil L2``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """When an indicator reaches its limit if it goes on like this; a time of 0 is never, or not within a century."""

    time: int
    earliest: int
    latest: int
    never: float
    """Probability that it never does at this rate."""
    reached: float
    """Probability that it is there already."""
    hours: float
    """Run hours until then; inf is never."""
    low: float
    high: float
    far: bool
    """Further ahead than twice the length of the data."""
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Indicator:
    """One watched signal at equal load and ambient."""

    key: str
    title: str
    channel: str
    quantity: str
    place: str
    group: str
    """``exhaust``, ``mixture``, ``catalyst``, ``cooling``, ``oil``, ``intake``, ``bearings``, ``knock``, ``fuel`` or
    ``governor``."""
    wanted: str
    """``lower``, ``higher`` or ``still``: which way is good."""
    share: bool
    matters: float
    """Smallest move that is worth a word."""
    scale: str = "absolute"
    """``absolute``: on the scale of its channel. ``difference``: less its like, or less another channel. ``ratio``:
    over another quantity."""
    over: str = ""
    """Quantity that a ratio is over."""
    sees: str
    """What it is an indicator of."""
    covariates: tuple[str, ...] = ()
    kind: str = "unknown"
    """``none``, ``drift``, ``step``, ``both``; ``unknown`` where too little was logged."""
    odds: dict[str, float] = field(default_factory=dict)
    now: Interval = Interval()
    """Value at the reference at the end."""
    reference: dict[str, float] = field(default_factory=dict)
    slope: Interval = Interval()
    """Per 1,000 hours run."""
    moved: Interval = Interval()
    """Since the drift began, or over the last part between visits."""
    moved_from: int = 0
    began: Moment | None = None
    steps: tuple[StepSeen, ...] = ()
    limit: float | None = None
    limit_from: str = ""
    above: bool = True
    """Values above the limit are bad."""
    reach: Reach | None = None
    judged: str = "unknown"
    """``still``, ``moves``, ``near`` (reaches its limit within half a year), ``beyond`` or ``unknown``."""
    says: str = ""
    daily_time: tuple[int, ...] = ()
    daily: tuple[float, ...] = ()
    """Daily medians brought to the reference."""
    path: tuple[tuple[int, float], ...] = ()
    """Corners of the way that the level went over the last part, where it drifts: time and value."""
    number: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorFault:
    """What is wrong with a sensor or its log; kinds as in ``sensor_fault.KINDS``."""

    kind: str
    channel: str
    start: int
    end: int
    size: float
    says: str
    open: bool
    """Still so at the end of the log."""
    twin: str = ""
    """Channel that it parted from."""
    last: float = NAN
    """How far off at the end of it. SI"""
    u: float = NAN
    """Standard uncertainty of that. SI"""


@dataclass(frozen=True, slots=True, kw_only=True)
class TripSeen:
    """A stop by a protection."""

    time: int
    first_out: tuple[str, ...]
    consequences: tuple[str, ...]
    actions: tuple[str, ...]
    hours_down: float
    """Until it ran again; nan where the log does not tell. [h]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoutSeen:
    """An alarm that came and went."""

    tag: str
    start: int
    end: int
    raised: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FloodSeen:
    """More alarms than a person can answer."""

    start: int
    end: int
    alarms: int
    peak: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StateSeen:
    """A time in one state: service, forced, planned, maintenance, reserve, standing, unseen."""

    start: int
    end: int
    state: str
    why: str = ""
    """Who says so, where the record does: a visit, a work order, a failure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterSeen:
    """The hours counter was exchanged or set back. Values in seconds."""

    time: int
    before: float
    after: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EventsSeen:
    """Stops, alarms, hours and starts."""

    trips: tuple[TripSeen, ...] = ()
    bouts: tuple[BoutSeen, ...] = ()
    floods: tuple[FloodSeen, ...] = ()
    alarms_per_day: float = NAN
    over_ten: float = NAN
    """Share of the ten-minute periods with more than ten alarms."""
    most_frequent: tuple[tuple[str, int], ...] = ()
    states: tuple[StateSeen, ...] = ()
    availability: Interval = Interval()
    """Low and high by what stops of unknown reason count as; the value takes them as reserve."""
    forced_outage_rate: Interval = Interval()
    service_hours: float = NAN
    period_hours: float = NAN
    unseen_hours: float = NAN
    standing_hours: float = NAN
    starts: int = 0
    counters: tuple[CounterSeen, ...] = ()
    has_alarms: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HuntingSeen:
    """A swing in a stretch that was logged quickly enough, and what moves first."""

    channel: str
    found: bool
    period: Interval
    amplitude: Interval
    start: int
    end: int
    leads: str
    """``load``, ``speed``, ``together``, ``both``, ``neither``; empty where it was not looked for."""
    lag: Interval
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectSeen:
    """What a visit did to one indicator."""

    key: str
    title: str
    channel: str
    difference: Interval
    share: bool
    probability: float
    verdict: str
    """``worked``, ``likely``, ``not enough``, ``worse``, ``moved``, ``cannot be told``."""
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitSeen:
    """A visit of the record within the log."""

    name: str
    start: int
    end: int
    effects: tuple[EffectSeen, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockSeen:
    """A logger's clock beside the alarm list."""

    fast: float
    """Ahead by so many seconds."""
    doubt: float
    events: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineLook:
    """All that the log of an engine says up to a day."""

    engine: str
    """Its name in the store."""
    day: str
    """Last day that was looked at: ``2032-07-08``."""
    version: int
    digest: str
    """Of all that it rests on: rows, alarm lists, visits, limits."""
    start: int
    end: int
    rows: int
    step: float
    """Usual seconds between rows."""
    channels: tuple[ChannelThere, ...] = ()
    indicators: tuple[Indicator, ...] = ()
    faults: tuple[SensorFault, ...] = ()
    events: EventsSeen = EventsSeen()
    hunting: tuple[HuntingSeen, ...] = ()
    loads: tuple[LoadHeld, ...] = ()
    pattern: dict[str, Any] | None = None
    """Usual exhaust pattern, as plain data of the room of the cylinders."""
    visits: tuple[VisitSeen, ...] = ()
    clocks: tuple[ClockSeen, ...] = ()
    notes: tuple[str, ...] = ()

    def indicator(self, key: str) -> Indicator | None:
        """Return an indicator by its key: ``nox`` or ``exhaust_temperature@cylinder_3``."""
        return next((one for one in self.indicators if one.key == key), None)

    def of_channel(self, channel: str) -> tuple[Indicator, ...]:
        """Return what is watched of a channel."""
        return tuple(one for one in self.indicators if one.channel == channel)

    @property
    def worst(self) -> Indicator | None:
        """The indicator that wants a look first; None where all stand still."""
        order = ("beyond", "near", "moves")
        moving = [one for one in self.indicators if one.judged in order]
        return min(moving, key=lambda one: (order.index(one.judged), _when(one), -_size(one)), default=None)


def _when(one: Indicator) -> float:
    return one.reach.hours if one.reach else math.inf


def _size(one: Indicator) -> float:
    """Return how many times the move is worth a word."""
    latest = abs(one.steps[-1].size.value) if one.steps else 0.0
    return max(abs(one.moved.value) if one.moved.known else 0.0, latest) / max(one.matters, 1e-300)
