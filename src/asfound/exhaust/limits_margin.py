"""A number beside a general limit, in the limit's own basis: its oxygen, its air, its unit.

The permit's reference oxygen need not be that of a general rule, and a limit in g/hp-h says something else than one in
ppm. So concentrations are counted afresh from the dry readings, draw by draw, at what the row says.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.exhaust.concentration import MOLAR_MASS
from asfound.exhaust.emission_rate import mass_per_heat
from asfound.exhaust.limits_table import Rule
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR, at_reference_oxygen
from asfound.quantities.case_numbers import number_at as number
from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT, NORMAL_TEMPERATURE
from asfound.quantities.display import chance
from asfound.quantities.intervals import symmetric
from asfound.quantities.typing import Array
from asfound.quantities.units import unit
from asfound.quantities.words import State
from asfound.quantities.worked import Worked

OXYGEN = "exhaust_oxygen_dry"
PER_MOLE = ATMOSPHERE / (GAS_CONSTANT * NORMAL_TEMPERATURE)
"""Moles in a normal cubic metre."""
CARBON = 12.011e-3
"""[kg/mol], IUPAC 2021 abridged"""
RAW: dict[str, tuple[str, float]] = {
    "nox_at_reference_oxygen": ("exhaust_nox_dry", 1.0),
    "co_at_reference_oxygen": ("exhaust_co_dry", 1.0),
    "voc_at_reference_oxygen": ("exhaust_voc_dry", 1.0),
    "formaldehyde_at_reference_oxygen": ("exhaust_formaldehyde_dry", 1.0),
    "nox_mass_concentration": ("exhaust_nox_dry", MOLAR_MASS["nox"] * PER_MOLE),
    "co_mass_concentration": ("exhaust_co_dry", MOLAR_MASS["co"] * PER_MOLE),
    "formaldehyde_mass_concentration": ("exhaust_formaldehyde_dry", MOLAR_MASS["formaldehyde"] * PER_MOLE),
    "so2_mass_concentration": ("exhaust_so2_dry", 64.064e-3 * PER_MOLE),
    "total_carbon_mass_concentration": ("exhaust_hydrocarbons_dry", CARBON * PER_MOLE),
}
"""Quantity of a limit to the dry reading under it and what turns a share into it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Margin:
    """How a number stands beside one row, in the row's basis."""

    rule: Rule
    value: float
    """[SI]"""
    interval: tuple[float, float]
    """95 % coverage. [SI]"""
    probability: float
    """That the true value is beyond the limit (JCGM 106:2012 7): a count over the draws."""
    acceptance: float
    """How near the value may come and still conform with 95 % (JCGM 106:2012 8). [SI]"""
    place: str
    state: State

    @property
    def left(self) -> float:
        """Distance to the limit, positive on the right side of it. [SI]"""
        return self.rule.si - self.value if self.rule.side == "upper" else self.value - self.rule.si

    @property
    def says(self) -> str:
        """Value, interval, limit and chance, in the unit of the row."""
        meant = unit(self.rule.unit)
        low, value, high = (float(meant.from_si(one)) for one in (self.interval[0], self.value, self.interval[1]))
        acceptance = float(meant.from_si(self.acceptance))
        side = "over" if self.rule.side == "upper" else "under"
        return (
            f"{value:.3g} {self.rule.unit} ({low:.3g} to {high:.3g}) of {self.rule.as_typed}, "
            f"{chance(self.probability)} to be {side}; sure from {acceptance:.3g} {self.rule.unit} "
            f"{'down' if self.rule.side == 'upper' else 'up'}"
        )


def beside(worked: Worked, rule: Rule, place: str, state: State, *, sure: float = 0.95) -> Margin | None:
    """Return how the engine stands beside a row at a place; None where the readings for it are not there.

    Parameters
    ----------
    worked : Worked
        The visit's sheet.
    rule : Rule
        One row of a table of limits.
    place, state : str
        Where its numbers lie: ``stack``, ``after_catalyst``; ``engine`` for a catalyst's conversion and temperatures.
    sure : float
        Probability of conformity that the acceptance limit stands for.
    """
    found = _draws(worked, rule, place, state)
    if found is None:
        return None
    value, drawn = found
    drawn = drawn[np.isfinite(drawn)]
    if not drawn.size or not np.isfinite(value):
        return None
    sign = 1.0 if rule.side == "upper" else -1.0
    width = max(float(np.quantile(sign * (drawn - value), sure)), 0.0)
    return Margin(
        rule=rule,
        value=value,
        interval=symmetric(drawn, 0.95),
        probability=float(np.count_nonzero(sign * drawn > sign * rule.si)) / drawn.size,
        acceptance=rule.si - sign * width,
        place=place,
        state=state,
    )


def _draws(worked: Worked, rule: Rule, place: str, state: State) -> tuple[float, Array] | None:
    """Return the number in the row's basis: its best value and its draws."""
    if rule.reference_oxygen is None or rule.quantity not in RAW:
        one = number(worked, state, place, rule.quantity) if rule.quantity else None
        return None if one is None else (one.value, worked.draws(one))
    raw, factor = RAW[rule.quantity]
    species, oxygen = number(worked, state, place, raw), number(worked, state, place, OXYGEN)
    if species is None or oxygen is None:
        return None
    reference, air = rule.reference_oxygen, rule.oxygen_in_air or OXYGEN_IN_AIR
    count = min(worked.draws(species).size, worked.draws(oxygen).size)

    def counted(c: float | Array, o: float | Array) -> Array:
        return np.asarray(at_reference_oxygen(c, o, reference, air)) * factor

    value = float(counted(species.value, oxygen.value))
    return value, counted(worked.draws(species)[:count], worked.draws(oxygen)[:count])


def heat_rate_where_equal(mass_per_energy: float, fraction: float, f_factor: float, molar_mass: float) -> float:
    """Return the gross heat per work at which a limit in g/hp-h and its twin in ppm mean the same engine. [J/J]

    The pairs of 40 CFR 60 Subpart JJJJ, Table 1 are not equivalent for a given engine: they meet at 7,260 to 7,480
    Btu/hp-h for natural gas and at 7,800 to 8,160 for landfill and digester gas. An engine that takes less heat passes
    more easily in g/hp-h, one that takes more in ppm.

    Parameters
    ----------
    mass_per_energy : float
        The limit by energy. [kg/J]
    fraction : float
        The limit at 15 % oxygen. [mol/mol]
    f_factor : float
        Dry exhaust per gross heat. [m³/J at 20 degrees Celsius]
    molar_mass : float
        [kg/mol]
    """
    return mass_per_energy / float(mass_per_heat(fraction, 0.15, f_factor, molar_mass))
