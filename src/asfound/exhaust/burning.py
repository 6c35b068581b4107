"""Whether an engine burns lean or near lambda 1, by its record first and by its exhaust where the record is silent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from asfound.exhaust.limits_of_case import facts_of
from asfound.quantities.words import Reading

LEAST_OXYGEN, MOST_MONOXIDE = 0.01, 0.003
"""Beyond these an exhaust is not lean: carbon monoxide, hydrogen and the catalyst's two sides count. [mol/mol]"""
LEFT_BY_CATALYST = 0.002
"""Carbon monoxide that a working three-way catalyst leaves at most: with more the stack is taken for the engine's own
exhaust where the record has no catalyst (engineering judgement). [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Burning:
    """How an engine burns, and where its own exhaust can be read."""

    stoichiometric: bool
    """At or near lambda 1."""
    said: bool
    """The record says so; else it is what the exhaust looks like."""
    stack_is_behind: bool
    """Of an engine near lambda 1: what is read in the stack has gone through a catalyst."""
    looks_lean: bool
    """The exhaust is that of a lean engine, or nothing of it was read."""


def burning(engine: Mapping[str, Any], combustion: str, readings: Sequence[Reading]) -> Burning:
    """Return how an engine burns.

    Parameters
    ----------
    engine : mapping
        Of the record: ``catalyst`` and ``rules`` are looked at.
    combustion : str
        How its family burns, in the words of the catalogue; empty where nothing is known.
    readings : sequence of Reading
        That hold in the state.

    Notes
    -----
    A family that burns lean stays so whatever its exhaust reads: then the reading is to be doubted, not the engine.
    """
    facts = facts_of(engine)[0]
    oxygen = [one.value for one in readings if one.quantity == "exhaust_oxygen_dry"]
    monoxide = [one.value for one in readings if one.quantity == "exhaust_co_dry"]
    looks_lean = min(oxygen, default=1.0) >= LEAST_OXYGEN and max(monoxide, default=0.0) <= MOST_MONOXIDE
    said = combustion or str(facts.burn or "")
    near_one = "stoichiometric" in said or facts.catalyst == "three_way" or said == "rich"
    return Burning(
        stoichiometric=near_one or (not said.startswith("lean") and not looks_lean),
        said=near_one or said.startswith("lean"),
        stack_is_behind=_stack_is_behind(engine, combustion, facts.catalyst, readings),
        looks_lean=looks_lean,
    )


def _stack_is_behind(
    engine: Mapping[str, Any], combustion: str, catalyst: str | None, readings: Sequence[Reading]
) -> bool:
    if engine.get("catalyst") is False:
        return False
    if catalyst:
        return catalyst != "none"
    if "three-way" in combustion or any(one.place == "before_catalyst" for one in readings):
        return True
    stack = next((one for one in readings if (one.quantity, one.place) == ("exhaust_co_dry", "stack")), None)
    return stack is not None and stack.value < LEFT_BY_CATALYST
