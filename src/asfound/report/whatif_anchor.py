"""A number as it was read, moved as the model says: so that nothing shown disagrees with the rest of the record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asfound.quantities.case_numbers import held
from asfound.whatif.numbers_of_case import Numbers, burning_of

if TYPE_CHECKING:
    from asfound.quantities.case_numbers import Number
    from asfound.quantities.typing import Array
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView

BY_DIFFERENCE = frozenset({"exhaust_median", "exhaust_oxygen_dry"})
"""Quantities that are moved by a difference; all others by a ratio."""


def read_at(view: VisitView, state: State, name: str) -> Number | None:
    """Return the number that a visit has of a quantity, wherever on the engine it lies."""
    places = Numbers(view.worked, state, burning_of(view.case, state)).places(name)
    found = (held(view.worked, state, place, name) for place in places)
    return next((one for one in found if one is not None and one.value == one.value), None)


def anchored(view: VisitView, state: State, name: str, now: Array, then: Array) -> tuple[Array, Array]:
    """Return a number now and then, draw by draw: as read, and moved by what the model says of the change.

    Where it was not read both are the model's. The draws of the record and those of the model are taken as
    independent, which makes the interval of what is proposed rather too wide than too narrow.
    """
    number = read_at(view, state, name)
    if number is None:
        return now, then
    draws = np.asarray(view.worked.draws(number), dtype=float)
    draws = draws[np.isfinite(draws)]
    if draws.size < now.size or (name not in BY_DIFFERENCE and not np.all(now > 0.0)):
        return now, then
    # the record's draws are in no order that the model's share; spread over them all
    read = draws[np.linspace(0, draws.size - 1, now.size).astype(int)]
    return read, read + (then - now) if name in BY_DIFFERENCE else read * (then / now)
