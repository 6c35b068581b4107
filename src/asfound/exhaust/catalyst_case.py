"""What a visit shows of the catalyst, gathered once for the findings."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.exhaust.facts import fact
from asfound.exhaust.limits_of_case import CATALYST_PLACES, facts_of
from asfound.exhaust.worksheets_catalyst import AFTER, BEFORE, POLLUTANTS, STACK
from asfound.quantities.case_numbers import Number, number_at
from asfound.quantities.findings import Case
from asfound.quantities.words import State
from asfound.quantities.worked import Worked

Kind = Literal["oxidation", "three_way"]
RICH = 0.02
"""Oxygen before the catalyst (behind it where only that was read) below which it is taken for a three-way one, unless
the record says which. [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A catalyst in one state of a visit."""

    state: State
    kind: Kind
    kind_said: bool
    """The record says which; else it was told by the oxygen before it."""
    conversions: dict[str, Number]
    """By pollutant: ``co``, ``nox``, ``voc``, ``formaldehyde``, ``hydrocarbons``."""
    rises: tuple[Number, ...]
    """Measured less expected temperature rise, one for each bank."""
    measured: tuple[Number, ...]
    inlets: tuple[Number, ...]
    outlets: tuple[Number, ...]
    drops: tuple[Number, ...]
    """Pressure drop against clean."""
    oxygen_before: Number | None
    oxygen_after: Number | None
    mixture_before: Number | None
    """Lambda before it."""

    @property
    def window(self) -> tuple[float, float]:
        """Inlet temperatures between which the rule wants it. [K]"""
        said = fact(f"{self.kind}.inlet")
        return said.low_si, said.high_si


def seen(case: Case, state: State) -> Seen | None:
    """Return what a state of the visit shows of the catalyst; None where it shows nothing, or there is none."""
    worked = case.worked
    facts, _ = facts_of(case.engine)
    if case.engine.get("catalyst") is False or facts.catalyst in ("none", "scr"):
        return None

    def each(name: str) -> tuple[Number, ...]:
        found = (number_at(worked, state, place, name) for place in CATALYST_PLACES)
        return tuple(one for one in found if one is not None and math.isfinite(one.value))

    before = number_at(worked, state, BEFORE, "exhaust_oxygen_dry")
    after = number_at(worked, state, AFTER, "exhaust_oxygen_dry") or number_at(
        worked, state, STACK, "exhaust_oxygen_dry"
    )
    conversions = {
        name: one
        for name, (_, _, gives) in POLLUTANTS.items()
        if (one := number_at(worked, state, "engine", gives)) is not None and math.isfinite(one.value)
    }
    inlets, drops = each("catalyst_inlet_temperature"), each("catalyst_pressure_drop_ratio")
    if not conversions and not inlets and not drops:
        return None
    said = facts.catalyst in ("oxidation", "three_way")
    sides = [one.value for one in (before, after) if one is not None]
    kind: Kind = "three_way" if sides and sides[0] < RICH else "oxidation"
    if said:
        kind = "three_way" if facts.catalyst == "three_way" else "oxidation"
    return Seen(
        state=state,
        kind=kind,
        kind_said=said,
        conversions=conversions,
        rises=each("catalyst_rise_difference"),
        measured=each("catalyst_temperature_rise"),
        inlets=inlets,
        outlets=each("catalyst_outlet_temperature"),
        drops=drops,
        oxygen_before=before,
        oxygen_after=after,
        mixture_before=number_at(worked, state, BEFORE, "excess_air_ratio"),
    )


def chance_above(worked: Worked, number: Number, limit: float) -> float:
    """Return how probable it is that a number is above a limit: a count over the draws."""
    drawn = worked.draws(number)
    finite = drawn[np.isfinite(drawn)]
    return float(np.count_nonzero(finite > limit)) / finite.size if finite.size else float(number.value > limit)


def fall(before: Number, now: Number) -> tuple[float, float]:
    """Return how much a number fell between two visits and the standard uncertainty of that.

    The errors of two visits are taken as independent: an analyser that is off by the same on both makes the real doubt
    smaller than this.
    """
    return before.value - now.value, math.hypot(before.standard_uncertainty, now.standard_uncertainty)
