"""What the model of the cycle makes of a visit's setting, for the cross-check: asked when a cross-check is made.

The two rooms do not know each other: here the one's numbers are handed to the other. It is worked out anew when a
number of the setting changes, not when another reading does.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import fields
from typing import TYPE_CHECKING

from asfound.crosscheck.witness import ModelWitness
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.whatif.numbers_of_case import PLACES
from asfound.whatif.of_case import SETTING_QUANTITIES, Lacking, modelled
from asfound.whatif.witness import Spoken, Taught, spoken, taught_by

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from typing import Any

    from asfound.quantities.words import Reading, Result, State
    from asfound.quantities.worked import Worked
    from asfound.whatif.posterior import Remember

READ = frozenset({*SETTING_QUANTITIES, *ANALYSIS})
"""Quantities that the model's setting, build and gas are made from."""
BEHIND = "after_catalyst"
KEPT = 8
"""Earlier visits whose engine is remembered; some 5 MB each."""
_lock = threading.Lock()
_before: OrderedDict[str, Taught] = OrderedDict()


def model_witness(
    worked: Worked, engine: Mapping[str, Any], before: Worked | None = None, remember: Remember | None = None
) -> Callable[[State], ModelWitness | None]:
    """Return what says, when asked, what the model makes of the setting of a state.

    Parameters
    ----------
    worked : Worked
        Sheet of the visit.
    engine : mapping
        Of the record.
    before : Worked, optional
        Sheet of the visit before: where it can be modelled, the engine is taken as it taught it.
    remember : callable, optional
        Who may know from before what it taught.
    """

    def asked(state: State) -> ModelWitness | None:
        family = str(engine.get("family", "")), str(engine.get("catalogue", ""))
        chosen = tuple(sorted(worked.chosen.items()))
        found: ModelWitness | None = worked.recall(
            ("model_witness", state, *family, chosen),
            (before, *_made_from(worked, state)),
            lambda: _witness(worked, engine, state, before, remember),
        )
        return found

    return asked


def _made_from(worked: Worked, state: State) -> tuple[Reading | Result, ...]:
    """Return the numbers that setting, build and gas of a state are made from: readings, and results where there are.

    Of the other state only what carries over can count (`case_numbers.held`).
    """

    def counts(one: Reading | Result) -> bool:
        return one.quantity in READ and (one.state == state or quantity(one.quantity).carries)

    read = [one for one in worked.readings if one.place == BEHIND or counts(one)]
    made = [one for one in worked.results if one.place in PLACES and counts(one)]
    return (*read, *made)


def _witness(
    worked: Worked, engine: Mapping[str, Any], state: State, before: Worked | None, remember: Remember | None
) -> ModelWitness | None:
    found = modelled(_case(worked, engine), state, to_fit=False)
    if isinstance(found, Lacking):
        return None
    taught = None
    if before is not None:
        of = str(engine.get("family", "")), str(engine.get("catalogue", ""))
        taught = before.recall(("taught", *of), (), lambda: _taught(before, engine, remember))
    said = spoken(found.build, found.visit, taught)
    if said is None:
        return None
    treated = any(one.place == BEHIND and one.quantity == "exhaust_nox_dry" for one in worked.readings)
    return _handed(said, without="nox_dry" if treated else "")


def _handed(said: Spoken, *, without: str) -> ModelWitness:
    """Return it as the cross-check takes it; NOx behind a catalyst is not the engine's."""
    at = [row for row, name in enumerate(said.names) if name != without]
    whole = {one.name: getattr(said, one.name) for one in fields(Spoken)}
    return ModelWitness(**{
        **whole, "names": tuple(said.names[row] for row in at), "log": tuple(said.log[row] for row in at),
        "values": said.values[at], "by_knob": said.by_knob[at], "covariance": said.covariance[at][:, at],
    })  # fmt: skip


def _case(worked: Worked, engine: Mapping[str, Any]) -> Case:
    return Case(readings=worked.readings, worked=worked, limits=(), engine=engine)


def _taught(before: Worked, engine: Mapping[str, Any], remember: Remember | None) -> Taught | None:
    """Return the engine as the visit before taught it, as left or else as found; None where it cannot be modelled."""
    states: tuple[State, ...] = ("as_left", "as_found")
    for state in states:
        found = modelled(_case(before, engine), state)
        if isinstance(found, Lacking) or not found.visit.readings:
            continue
        key = repr((found.build, found.visit))
        with _lock:
            if key in _before:
                _before.move_to_end(key)
                return _before[key]
        taught = taught_by(found.build, found.visit, remember=remember)
        with _lock:
            _before[key] = taught
            while len(_before) > KEPT:
                _before.popitem(last=False)
        return taught
    return None
