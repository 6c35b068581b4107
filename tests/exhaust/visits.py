"""Readings and visits of an invented engine, for the tests of limits, catalyst and mixture."""

from __future__ import annotations

from typing import Any

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


def limit(name: str, value: float, unit: str, **more: Any) -> Limit:
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
