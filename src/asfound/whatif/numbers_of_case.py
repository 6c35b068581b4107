"""The numbers of a state of a visit as the model takes them: banks averaged, gauge made absolute, the right places."""

from __future__ import annotations

import math

import numpy as np

from asfound.exhaust.burning import Burning, burning
from asfound.fitout.burning import combustion_of
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.case_numbers import Number, held
from asfound.quantities.findings import Case
from asfound.quantities.words import Reading, State
from asfound.quantities.worked import Worked
from asfound.whatif.usual import Usual

PLACES = ("engine", "left_bank", "right_bank", "stack", "before_catalyst", "site", "fuel")
BY_CATALYST = ("excess_air_ratio", "exhaust_oxygen_dry", "exhaust_nox_dry", "exhaust_co_dry")
"""Quantities that a three-way catalyst changes, or the same on both its sides: the mixture."""
OLD_GAS = 0.9
"""An analysis whose shares add up to less is none. [1]"""


def burning_of(case: Case, state: State) -> Burning:
    """Return how the engine of a case burns, by its record, else by the exhaust of a state."""
    there = tuple(one for one in case.worked.readings if one.state == state)
    return burning(case.engine, combustion_of(case.engine), there)


def gas_of(worked: Worked, state: State) -> dict[str, float] | None:
    """Return the gas that was analysed, component to share; None where nobody did. [mol/mol]"""
    return gas_in(Numbers(worked, state))


def gas_in(numbers: Numbers) -> dict[str, float] | None:
    """Return the gas that was analysed; None where nobody did."""
    shares = {
        name: max(one.value, 0.0)
        for quantity_name, name in ANALYSIS.items()
        if (one := held(numbers.worked, numbers.state, "fuel", quantity_name)) is not None
    }
    found = {name: share for name, share in shares.items() if share > 0.0}
    return found if sum(found.values()) >= OLD_GAS else None


class Numbers:
    """The numbers of a state, banks averaged, gauge pressures made absolute."""

    def __init__(self, worked: Worked, state: State, burns: Burning | None = None) -> None:
        self.worked, self.state, self.burns = worked, state, burns
        self.usual: dict[str, Usual] = {}

    @property
    def near_one(self) -> bool:
        """Whether the engine burns near lambda 1."""
        return self.burns is not None and self.burns.stoichiometric

    def places(self, name: str) -> tuple[str, ...]:
        """Return where a quantity is looked for: near lambda 1 a catalyst changes all but the mixture."""
        if not self.near_one or name not in BY_CATALYST:
            return PLACES
        if name == "excess_air_ratio":
            return ("after_catalyst", *PLACES)  # where least CO and hydrogen are left to guess
        return ("before_catalyst",) if self.burns is not None and self.burns.stack_is_behind else PLACES

    def at(self, name: str) -> tuple[float, float, str] | None:
        """Return value, standard uncertainty and key of a quantity, wherever it lies; None where it does not. [SI]"""
        if name in self.usual:
            return self.usual[name].value, self.usual[name].u, ""
        found = [one for place in self.places(name) if (one := held(self.worked, self.state, place, name)) is not None]
        found = [one for one in found if math.isfinite(one.value)]
        if not found:
            return None
        banks = [one for one in found if one.place.endswith("_bank")]
        chosen = banks if banks and found[0].place != "engine" else found[:1]
        values = [self.absolute(one) for one in chosen]
        if any(one is None for one in values):
            return None
        value = float(np.mean([one for one in values if one is not None]))
        return value, max(one.standard_uncertainty for one in chosen), chosen[0].key

    def absolute(self, one: Number) -> float | None:
        """Return a number with the barometer added where it is a gauge pressure."""
        if not (isinstance(one, Reading) and one.gauge):
            return one.value
        barometer = held(self.worked, self.state, "site", "barometric_pressure")
        return None if barometer is None else one.value + barometer.value

    def value(self, name: str, otherwise: float) -> float:
        """Return a value, or what stands for it."""
        found = self.at(name)
        return otherwise if found is None else found[0]
