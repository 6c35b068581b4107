"""Readings and visits of an invented engine, for the tests of limits, catalyst and mixture."""

from __future__ import annotations

from datetime import date
from typing import Any

from asfound.exhaust.limits import applicable
from asfound.exhaust.limits_table import Rule, rules
from asfound.exhaust.rule_facts import EngineFacts
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit, Reading, State
from asfound.quantities.worked import Worked

TIME = "2031-07-09T10:00+00:00"


def read(name: str, place: str, value: float, doubt: float, unit: str, state: State = "as_found") -> Reading:
    """Return a reading with its standard uncertainty, both in a unit."""
    about = quantity(name)
    si = about.from_unit(value, unit)
    return Reading(
        quantity=name,
        place=place,
        state=state,
        time=TIME,
        value=si,
        unit=about.si_unit,
        as_typed=f"{value:g} {unit}",
        standard_uncertainty=abs(about.from_unit(value + doubt, unit) - si),
    )


def limit(name: str, value: float, unit: str, /, **more: Any) -> Limit:
    """Return a limit of the permit."""
    return Limit(quantity=name, value=quantity(name).from_unit(value, unit), as_typed=f"{value:g} {unit}", **more)


def case(*readings: Reading, limits: tuple[Limit, ...] = (), previous: Worked | None = None, **engine: Any) -> Case:
    """Return a visit, worked out."""
    worked = work_out(readings, number=4000)
    return Case(
        readings=readings,
        worked=worked,
        limits=limits,
        engine=engine,
        visit={"date": "2031-07-09", "system": "us"},
        previous=previous,
    )


DAY = date(2031, 7, 9)
LEAN_US = {
    "jurisdictions": "US",
    "power": "1340 hp",
    "made": "2011-06-15",
    "burn": "lean",
    "fuel": "natural_gas",
    "ignition": "spark",
    "emergency": "no",
    "modified": "no",
    "source": "area",
    "existing": "no",
    "strokes": "4",
}
AS_FOUND = (
    read("exhaust_oxygen_dry", "stack", 8.9, 0.15, "%"),
    read("exhaust_nox_dry", "stack", 148, 4, "ppm"),
    read("exhaust_co_dry", "stack", 500, 15, "ppm"),
)


def rule(name: str) -> Rule:
    return next(one for one in rules() if one.id == name)


def used(facts: dict[str, Any], *permit: Limit, day: date = DAY) -> set[str]:
    return {one.rule.id for one in applicable(EngineFacts.of(facts), rules(), permit, day=day).used}
