"""From the numbers of a visit to marks, lanes and their sentences, in the reader's unit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.words import STATES, Reading, Result
from asfound.quantities.worked import Worked
from asfound.report.agreement import Lane
from asfound.report.axis import Mark
from asfound.report.axis import State as MarkState
from asfound.report.wording import in_units, interval_of, say, unit_words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from asfound.quantities.words import State
    from asfound.report.wording import Said, System

Number = Reading | Result
STATE_WORDS: dict[str, str] = {"as_found": "as found", "as_left": "as left"}
MARKS: dict[str, MarkState] = {"as_found": "found", "as_left": "left"}


def mark_of(number: Number, system: System) -> Mark:
    """Return a number as a mark with its bar, in the reader's unit."""
    low, high = sorted(in_units(end, number.quantity, system) for end in interval_of(number))
    value = in_units(number.value, number.quantity, system)
    return Mark(value, low, high) if high > low else Mark(value)


def number_at(worked: Worked, key: str) -> Number | None:
    """Return the number that the sheet goes on with at a key, if it has a value."""
    number = worked.taken(key)
    return number if number is not None and number.value == number.value else None


def both_states(worked: Worked, place: str, name: str) -> dict[State, Number]:
    """Return a number as found and as left, as far as there is one."""
    found = {state: number_at(worked, f"{state}/{place}/{name}") for state in STATES}
    return {state: one for state, one in found.items() if one is not None}


def lane_of(title: str, numbers: Mapping[State, Number], system: System, *, used: bool = False) -> Lane:
    """Return a lane with the values in its head."""
    values = " and ".join(f"{say(one, system).value}" for one in numbers.values())
    marks = tuple((MARKS[state], mark_of(one, system)) for state, one in numbers.items())
    return Lane(title=f"{title}: {values}", marks=marks, used=used)


def spoken(rows: Iterable[tuple[str, Mapping[State, Number]]], system: System) -> str:
    """Return lanes as a sentence."""
    return "; ".join(
        f"{title} " + ", ".join(f"{STATE_WORDS[state]} {whole(say(one, system))}" for state, one in numbers.items())
        for title, numbers in rows
    )


def whole(said: Said) -> str:
    """Return value, unit and interval."""
    return said.whole + (f" ({said.interval})" if said.interval else "")


def lanes_picture(
    head: str,
    rows: Sequence[tuple[str, Mapping[State, Number]]],
    name: str,
    system: System,
    **more: Any,
) -> dict[str, Any]:
    """Return what `report.svg.lanes` is given, without width, for numbers of one kind."""
    return {
        "rows": [lane_of(title, numbers, system) for title, numbers in rows],
        "label": f"{head}: {spoken(rows, system)}.",
        "unit_words": "" if unit_words(name, system) == "1" else unit_words(name, system),
        **more,
    }
