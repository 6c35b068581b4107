"""What the engine's log says as a witness of cylinders: how it came, whether it stands still, what moved with it.

It comes as plain data of the visit (``case.visit["ports_in_log"]``): mappings with place, witness, states and words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from asfound.cylinders.inference_knowledge import knowledge
from asfound.cylinders.inference_model import Statement
from asfound.quantities.findings import Case
from asfound.quantities.words import State


def statements_of_log(case: Case, state: State, place: str) -> Iterator[Statement]:
    """Yield what the log says of a cylinder as it was found; of what was left it knows nothing yet."""
    if state != "as_found":
        return
    known = knowledge().witnesses
    rows: Sequence[Mapping[str, Any]] = case.visit.get("ports_in_log") or ()
    for row in rows:
        witness = known.get(str(row.get("witness", "")))
        states = tuple(str(one) for one in row.get("states", ()))
        if row.get("place") != place or witness is None or not states or not set(states) <= set(witness.states):
            continue
        yield Statement(witness=witness.name, states=states, how="read", says=str(row.get("says", "")))
