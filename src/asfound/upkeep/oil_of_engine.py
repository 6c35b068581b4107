"""Oil samples of one engine: the charge that is in it, its marks, when each is reached, metal made with oil added.

Marks are those of the engine's own record (manual, oil supplier, laboratory), else the outer marks of the task list.
Values above or against new oil need a sample of the new oil. Hours count on the oil, from its change.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from asfound.upkeep.alarms import alarm_limits
from asfound.upkeep.engine_due import ConditionSeen
from asfound.upkeep.oil import metal_made
from asfound.upkeep.student import quantile
from asfound.upkeep.trend import Crossing, Line, fit_line, reaches

if TYPE_CHECKING:
    from asfound.upkeep.pace import Pace
    from asfound.upkeep.task_list import OilMark

PROPERTIES: Mapping[str, tuple[str, str]] = {
    "acid_number": ("Acid number", "mg KOH/g"),
    "base_number": ("Base number", "mg KOH/g"),
    "viscosity_100": ("Viscosity at 100 °C", "mm²/s"),
    "viscosity_40": ("Viscosity at 40 °C", "mm²/s"),
    "water": ("Water", "% (volume)"),
    "oxidation": ("Oxidation", "1/cm"),
    "nitration": ("Nitration", "1/cm"),
    "glycol": ("Glycol", "%"),
    "insolubles": ("Insolubles", "%"),
    "iron": ("Iron", "mg/kg"),
    "copper": ("Copper", "mg/kg"),
    "lead": ("Lead", "mg/kg"),
    "tin": ("Tin", "mg/kg"),
    "aluminium": ("Aluminium", "mg/kg"),
    "chromium": ("Chromium", "mg/kg"),
    "silicon": ("Silicon", "mg/kg"),
    "sodium": ("Sodium", "mg/kg"),
    "potassium": ("Potassium", "mg/kg"),
}
"""Fields of a sample: name and unit."""
METALS = ("iron", "copper", "lead", "tin", "aluminium", "chromium")
_OF_MARK = {
    "acid number": "acid_number",
    "viscosity": "viscosity_100",
    "water": "water",
    "base number": "base_number",
    "oxidation": "oxidation",
    "nitration": "nitration",
}
_AGAINST = {"above new": "above", "change from new": "change", "share of new": "share", "over new": "above"}
RULES = ("value", "above", "change", "share")
"""How a limit is written: the value itself, above new oil, per cent off new oil, per cent of new oil."""
FEWEST = 3
BENDS_FROM, FEWEST_AFTER = 6, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class OilSample:
    """One sample of the oil; ``values`` by the names of `PROPERTIES`."""

    day: date
    hours_on_oil: float
    values: Mapping[str, float] = field(hash=False)
    true: float | None = None
    topped_up: float | None = None
    """Oil added since the sample before. [L]"""
    laboratory: str = ""
    note: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OilLimit:
    """A limit of a property: ``rule`` as in `RULES`."""

    property: str
    low: float | None
    high: float | None
    rule: str
    source: str
    own: bool = False
    """From the engine's record, not the outer mark of a list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OilMarkSeen:
    """A property beside its limit, on one scale; the trend of the charge and where it gets there."""

    property: str
    title: str
    unit: str
    limit: float
    falling: bool
    """The limit is a lowest value."""
    rule: str
    source: str
    own: bool
    value: float
    day: date
    passed: bool
    per_1000_h: float | None = None
    moves: bool = False
    """The slope is known to go towards the limit."""
    line: Line | None = None
    begins: float | None = None
    """Hours on oil of the first sample that the line rests on: later than the first of the charge where it bent."""
    bent: bool = False
    at: Crossing | None = None
    """Hours on oil at which it gets there."""
    expected: date | None = None
    expected_low: date | None = None
    expected_high: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalMade:
    """Metal made per hour between the last two samples of the charge, corrected for oil added, and plain."""

    property: str
    title: str
    per_1000_h: float
    """Rise of the sump per 1,000 h had no oil been added. [mg/kg]"""
    plain_per_1000_h: float
    day: date
    alert: float | None = None
    """Mean and two standard deviations of the engine's earlier charges; three for ``act``."""
    act: float | None = None
    number: int = 0
    few: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class OilOfEngine:
    """What the samples of an engine say."""

    samples: tuple[OilSample, ...]
    charge: tuple[OilSample, ...]
    """Those of the oil that is in it, oldest first."""
    new: Mapping[str, float] = field(hash=False)
    marks: tuple[OilMarkSeen, ...] = ()
    made: tuple[MetalMade, ...] = ()
    without_mark: tuple[str, ...] = ()
    """Limits that need a sample of new oil, which the record does not have."""
    changed_since: bool = False
    """The oil was changed after the last sample."""

    @property
    def governing(self) -> OilMarkSeen | None:
        """The property that ends the charge: one past its mark, else the first expected there."""
        passed = [one for one in self.marks if one.passed]
        if passed:
            return min(passed, key=lambda one: one.title)
        coming = [one for one in self.marks if one.expected is not None]
        return min(coming, key=lambda one: (one.expected, one.title), default=None)


def oil_of_engine(
    samples: Sequence[OilSample],
    *,
    new: Mapping[str, float],
    limits: Sequence[OilLimit],
    pace: Pace | None,
    changes: Sequence[date] = (),
    sump: float | None = None,
) -> OilOfEngine | None:
    """Return what the samples say; None without any.

    Parameters
    ----------
    samples : sequence of OilSample
        Of used oil, any order.
    new : mapping
        Values of the new oil.
    limits : sequence of OilLimit
        One or more of a property; the engine's own go first.
    pace : Pace, optional
        For dates from hours.
    changes : sequence of date
        Days on which the oil was changed: they begin a charge, as does a fall of the hours on the oil.
    sump : float, optional
        Volume of the sump. [L]
    """
    order = sorted(samples, key=lambda one: (one.day, one.hours_on_oil))
    if not order:
        return None
    charges = _charges(order, changes)
    charge = charges[-1]
    gone = any(day > order[-1].day for day in changes)
    shown: list[OilMarkSeen] = []
    lacking: list[str] = []
    for limit in _one_each(limits):
        if limit.property not in charge[-1].values:
            continue
        absolute = _absolute(limit, new)
        if absolute is None:
            lacking.append(PROPERTIES[limit.property][0])
            continue
        shown += [_mark(charge, limit, wall, falling, pace, gone) for wall, falling in absolute]
    made = [] if sump is None else [one for name in METALS if (one := _made(name, charges, sump)) is not None]
    return OilOfEngine(
        samples=tuple(order), charge=tuple(charge), new=dict(new), marks=tuple(shown), made=tuple(made),
        without_mark=tuple(lacking), changed_since=gone,
    )  # fmt: skip


def limits_of_marks(marks: Sequence[OilMark]) -> list[OilLimit]:
    """Return the outer marks of a task list as limits of the fields of a sample."""
    found = []
    for mark in marks:
        name = _OF_MARK.get(mark.property)
        if name is None:
            continue
        rule = next((to for text, to in _AGAINST.items() if text in mark.rule), "value")
        source = f"{mark.source} {mark.clause}".strip()
        found.append(OilLimit(property=name, low=mark.low, high=mark.high, rule=rule, source=source))
    return found


def condition_of(oil: OilOfEngine | None) -> ConditionSeen | None:
    """Return what the oil asks for: a change, by the property that governs."""
    one = None if oil is None or oil.changed_since else oil.governing
    if one is None:
        return None
    return ConditionSeen(
        what=one.title, value=one.value, limit=one.limit, unit=one.unit, day=one.day, falling=one.falling,
        expected=one.expected, expected_low=one.expected_low, expected_high=one.expected_high,
    )  # fmt: skip


def _charges(order: Sequence[OilSample], changes: Sequence[date]) -> list[list[OilSample]]:
    """Return the samples charge by charge."""
    found: list[list[OilSample]] = [[]]
    for one in order:
        last = found[-1][-1] if found[-1] else None
        if last and (one.hours_on_oil < last.hours_on_oil or any(last.day < day <= one.day for day in changes)):
            found.append([])
        found[-1].append(one)
    return found


def _one_each(limits: Sequence[OilLimit]) -> list[OilLimit]:
    """Return the limits that hold: the engine's own where it has any of the property."""
    own = {one.property for one in limits if one.own}
    return [one for one in limits if one.own or one.property not in own]


def _absolute(limit: OilLimit, new: Mapping[str, float]) -> list[tuple[float, bool]] | None:
    """Return the walls of a limit as values of the used oil; None where new oil is wanted and not known."""
    walls = [(limit.high, False), (limit.low, True)]
    given = [(value, falling) for value, falling in walls if value is not None]
    if limit.rule == "value":
        return given
    base = new.get(limit.property)
    if base is None:
        return None
    made = {"above": lambda x: base + x, "change": lambda x: base * (1 + x / 100), "share": lambda x: base * x / 100}
    return [(made[limit.rule](value), falling) for value, falling in given]


def _mark(
    charge: Sequence[OilSample], limit: OilLimit, wall: float, falling: bool, pace: Pace | None, gone: bool
) -> OilMarkSeen:
    """Return a property beside one wall of its limit."""
    of = [one for one in charge if limit.property in one.values]
    hours, values = [one.hours_on_oil for one in of], [one.values[limit.property] for one in of]
    last = of[-1]
    value = values[-1]
    passed = value <= wall if falling else value > wall
    line = at = None
    bent = bends(hours, values)
    start = min(len(of) // 2, len(of) - FEWEST_AFTER) if bent else 0
    if len(of) >= FEWEST and len(set(hours[start:])) > 1:
        line = fit_line(hours[start:], values[start:])
        at = reaches(line, wall)
    moves = line is not None and line.moves and (line.slope < 0.0) == falling
    days: dict[str, date | None] = {}
    if moves and not passed and at is not None and pace is not None and not gone:
        days = _days(at, last, pace)
    title, unit = PROPERTIES[limit.property]
    return OilMarkSeen(
        property=limit.property, title=title, unit=unit, limit=wall, falling=falling, rule=limit.rule,
        source=limit.source, own=limit.own, value=value, day=last.day, passed=passed,
        per_1000_h=None if line is None else 1000.0 * line.slope, moves=moves, line=line,
        begins=hours[start], bent=bent, at=at, expected=days.get("expected"), expected_low=days.get("low"),
        expected_high=days.get("high"),
    )  # fmt: skip


def bends(hours: Sequence[float], values: Sequence[float], *, level: float = 0.99) -> bool:
    """Tell whether readings follow no straight line: the square of the hours is known to matter.

    Ordinary least squares with a squared term and Student's t of its coefficient, six readings or more. The line then
    rests on the later half of them, four at least.
    """
    number = len(hours)
    if number < BENDS_FROM or len(set(hours)) < 4:
        return False
    x = np.asarray(hours, dtype=float) - float(np.mean(hours))
    x = x / (float(np.abs(x).max()) or 1.0)
    matrix = np.stack([np.ones(number), x, x * x], axis=1)
    found, *_ = np.linalg.lstsq(matrix, np.asarray(values, dtype=float), rcond=None)
    left = np.asarray(values, dtype=float) - matrix @ found
    variance = float(left @ left) / (number - 3)
    error = math.sqrt(max(variance * float(np.linalg.inv(matrix.T @ matrix)[2, 2]), 1e-30))
    return bool(abs(found[2]) > quantile(level, number - 3) * error and abs(found[2]) > 1e-9)


def _days(at: Crossing, last: OilSample, pace: Pace) -> dict[str, date | None]:
    """Return the days at which a crossing is reached: its own doubt and that of the hours a day together.

    The ends are those of the crossing, run fast and run slow: wider than 95 in 100, never narrower.
    """

    def day(hours: float | None, end: str) -> date | None:
        if hours is None:
            return None
        days = getattr(pace.days_for(max(0.0, hours - last.hours_on_oil)), end)
        return None if days is None or days > 36500 else last.day + timedelta(days=math.floor(days))

    return {"expected": day(at.at, "middle"), "low": day(at.lower, "early"), "high": day(at.upper, "late")}


def _made(name: str, charges: Sequence[Sequence[OilSample]], sump: float) -> MetalMade | None:
    """Return the metal made between the last two samples, beside what was made before."""
    rates = [
        rate
        for charge in charges
        for first, second in pairwise(charge)
        if (rate := _rate(name, first, second, sump)) is not None
    ]
    if not rates:
        return None
    last, plain, day = rates[-1]
    if len(charges[-1]) < 2 or charges[-1][-1].day != day:
        return None
    before = [one[0] for one in rates[:-1]]
    limits = alarm_limits(before) if len(before) >= FEWEST else None
    alert, act = (None, None) if limits is None else (limits.above_mean(2.0), limits.above_mean(3.0))
    return MetalMade(
        property=name, title=PROPERTIES[name][0], per_1000_h=last, plain_per_1000_h=plain, day=day, alert=alert,
        act=act, number=len(before), few=limits is None or limits.few,
    )  # fmt: skip


def _rate(name: str, first: OilSample, second: OilSample, sump: float) -> tuple[float, float, date] | None:
    """Return the rise per 1,000 h that the metal made would give without oil added, the plain rise, and the day."""
    hours = second.hours_on_oil - first.hours_on_oil
    if hours <= 0.0 or name not in first.values or name not in second.values or second.topped_up is None:
        return None
    start, end = first.values[name], second.values[name]
    made = float(metal_made(hours, start, end, volume=sump, use=second.topped_up / hours))  # mg/kg times L an hour
    return 1000.0 * made / sump, 1000.0 * (end - start) / hours, second.day
