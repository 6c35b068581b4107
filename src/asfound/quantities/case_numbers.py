"""Numbers of a case for the findings of every room, as the sheet goes on with them, and how they are said."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.display import show
from asfound.quantities.findings import Case
from asfound.quantities.register import System, quantity
from asfound.quantities.words import STATES, Reading, Result, State
from asfound.quantities.worked import Worked

Number = Reading | Result


def number_at(worked: Worked, state: State, place: str, name: str) -> Number | None:
    """Return the number that the sheet goes on with at a place; it may be nan."""
    return worked.taken(f"{state}/{place}/{name}")


def latest_at(worked: Worked, place: str, name: str) -> Number | None:
    """Return the number as left where there is one, else as found."""
    return number_at(worked, "as_left", place, name) or number_at(worked, "as_found", place, name)


def held(worked: Worked, state: State, place: str, name: str) -> Number | None:
    """Return the number that holds in a state: its own, or that of the other where the quantity carries over."""
    own = number_at(worked, state, place, name)
    if own is not None or not quantity(name).carries:
        return own
    return next((one for other in STATES if (one := number_at(worked, other, place, name)) is not None), None)


def each_state(worked: Worked, place: str, name: str) -> Iterator[Number]:
    """Yield the number of each state that has its own."""
    for state in STATES:
        one = number_at(worked, state, place, name)
        if one is not None and one.value == one.value:
            yield one


def said(case: Case, number: Number) -> str:
    """Return a number with unit and interval, as the people of this site read it."""
    system: System = "us" if case.visit.get("system") == "us" else "si"
    interval = None
    if number.standard_uncertainty > 0:
        interval = number.interval if isinstance(number, Result) else case.worked.interval(number)
    shown = show(number.value, number.quantity, system=system, interval=interval)
    return f"{shown.value} {shown.unit}".strip() + (f" ({shown.low} to {shown.high})" if shown.low else "")
