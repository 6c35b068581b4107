"""What the values beside limits rest on: readings, load at the time, instruments and when they are calibrated."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.quantities.words import Result
from asfound.report.wording import say
from asfound.upkeep.durations import Duration

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.quantities.words import Reading
    from asfound.records.view_parts import KeptReading, LimitState
    from asfound.records.visit import VisitView
    from asfound.report.readers.ground import Ground


LOAD = (("load_fraction", " of the site rating"), ("engine_power", ""))
"""What is said of the load, as far as it is known."""


def numbers_of(view: VisitView) -> Iterator[Result | Reading]:
    """Yield every number beside a limit; single runs of a test left out."""
    for state in view.limit_states:
        yield from numbers_beside(state)


def numbers_beside(state: LimitState) -> Iterator[Result | Reading]:
    """Yield the numbers beside one limit; single runs of a test left out."""
    for number in (*state.found, *state.left):
        if not number.place.startswith("run_"):
            yield number


def load_at(ground: Ground, state: str) -> str:
    """Return the load at which a value was taken; of the same state only."""
    told = []
    for name, of in LOAD:
        number = ground.view.worked.taken(f"{state}/engine/{name}")
        if number is not None and number.value == number.value:
            told.append(f"{say(number, ground.system).whole}{of}")
    return ", ".join(told)


def readings_under(number: Result | Reading) -> tuple[Reading, ...]:
    """Return the readings under a number."""
    return number.readings() if isinstance(number, Result) else (number,)


def kept_of(view: VisitView) -> dict[str, KeptReading]:
    """Return the readings that stand, by their entry."""
    return {one.entry.id: one for one in view.readings.values()}


def used(ground: Ground) -> list[KeptReading]:
    """Return the readings that stand under a value beside a limit; all with an instrument where there is none."""
    kept = kept_of(ground.view)
    under = {one.entry for number in numbers_of(ground.view) for one in readings_under(number)}
    return [one for key, one in kept.items() if key in under]


def next_calibration(content: Any) -> date | None:
    """Return when an instrument should next be calibrated."""
    months, at = content.get("interval_months"), content.get("calibrated")
    return Duration(months=int(months)).after(date.fromisoformat(str(at))) if months and at else None
