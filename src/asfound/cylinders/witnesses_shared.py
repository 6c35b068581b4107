"""Witnesses that see all cylinders of a bank or the engine at once: oxygen and the catalyst, against the last visit.

Each is counted in shares of what one cylinder without a flame would add, so that engines of any size are alike. The
doubt of a mixture or load that was moved in between is added (engineering judgement, stated below).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from asfound.cylinders.inference_knowledge import knowledge
from asfound.cylinders.inference_model import Statement, spoken
from asfound.cylinders.shown import difference
from asfound.quantities.case_numbers import Number, number_at
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, State

OXYGEN_MOVED = 0.002
"""Doubt of oxygen against the last visit: mixture and load are not set to the same again. [mol/mol]"""
RISE_MOVED = 6.0
"""The same for the catalyst's temperature rise. [K]"""
AIR_OXYGEN = 0.2095
HEATING_VALUE = 50.0e6
"""Of methane, net. [J/kg]"""
AIR_OF_METHANE = 17.2
"""Air for a kilogram of methane, stoichiometric. [kg/kg]"""
HEAT_CAPACITY = 1250.0
"""Of exhaust at 500 to 700 C. [J/(kg K)]"""
BANK_PLACES = ("left_bank", "right_bank")
OXYGENS = ("exhaust_oxygen_dry", "exhaust_oxygen_wet", "oxygen_sensor_reading")


def before(case: Case, place: str, quantity: str) -> Number | None:
    """Return the number of the last visit, as left before as found."""
    if case.previous is None:
        return None
    found = (number_at(case.previous, state, place, quantity) for state in reversed(STATES))
    return next((one for one in found if one is not None and math.isfinite(one.value)), None)


def _cylinders(case: Case, said: Mapping[str, object]) -> int:
    """Return the number of cylinders: by the layout, else those read."""
    return int((case.engine.get("layout") or {}).get("cylinders") or len(said))


def oxygen_moved(case: Case, state: State, bank: str, said: Mapping[str, object]) -> Statement | None:
    """Return oxygen now less that of the last visit, as a share of what one cylinder without a flame would add."""
    z = _cylinders(case, said)
    places = (bank, "before_catalyst", "engine", *(() if case.engine.get("catalyst") else ("stack",)))
    for place in places:
        for quantity in OXYGENS:
            now, then = number_at(case.worked, state, place, quantity), before(case, place, quantity)
            if now is None or then is None or not now.value < AIR_OXYGEN or not then.value < AIR_OXYGEN:
                continue
            seen = z / 2 if place in BANK_PLACES else z
            full = (AIR_OXYGEN - then.value) / seen
            u = math.hypot(now.standard_uncertainty, then.standard_uncertainty, OXYGEN_MOVED)
            rise = now.value - then.value
            return Statement(
                witness="oxygen",
                value=rise / full,
                u=u / full,
                how="measured",
                because=(now.key,),
                says=f"{100 * rise:+.1f} % against the last visit; one dead cylinder would make {100 * full:+.1f} %",
            )
    return None


def full_rise(cylinders: float, oxygen: float) -> float:
    """Return the catalyst's temperature rise if all the gas of one cylinder burnt in it. [K]

    Heat of the gas over heat capacity of the exhaust, shared by all cylinders; air by the dry oxygen [mol/mol]. Own
    calculation; a catalyst burns less than all, which the states of the witness allow for.

    >>> round(full_rise(10, 0.004))
    216
    """
    excess = 1.0 + 0.9 * oxygen / (AIR_OXYGEN - oxygen)
    return HEATING_VALUE / ((1.0 + AIR_OF_METHANE * excess) * HEAT_CAPACITY) / cylinders


def rise_moved(case: Case, state: State, said: Mapping[str, object]) -> Statement | None:
    """Return the catalyst's rise now less that of the last visit, as a share of `full_rise`."""
    if case.engine.get("catalyst") is False:
        return None
    now, then = _rise_at(case, state), before(case, "engine", "catalyst_temperature_rise")
    if now is None or then is None:
        return None
    oxygens = (
        number_at(case.worked, state, place, "exhaust_oxygen_dry")
        for place in ("before_catalyst", "after_catalyst", "stack")
    )
    oxygen = next((one.value for one in oxygens if one is not None and 0 <= one.value < AIR_OXYGEN), 0.0)
    full = full_rise(_cylinders(case, said), oxygen)
    moved = now.value - then.value
    u = math.hypot(now.standard_uncertainty, then.standard_uncertainty, RISE_MOVED)
    return Statement(
        witness="catalyst_rise",
        value=moved / full,
        u=u / full,
        how="measured",
        because=(now.key,),
        says=f"{difference(case, moved, signed=True)} against the last visit",
    )


def _rise_at(case: Case, state: State) -> Number | None:
    found = number_at(case.worked, state, "engine", "catalyst_temperature_rise")
    return found if found is not None and math.isfinite(found.value) else None


def shared_moved(said: Mapping[str, Sequence[Statement]]) -> list[tuple[Statement, float]]:
    """Return each shared witness that is a number, with the probability that it has gone up as by a misfire.

    Its states as probable as each other before.
    """
    known = knowledge()
    once = {
        one.witness: one
        for all_ in said.values()
        for one in all_
        if known.witnesses[one.witness].shared and one.value is not None
    }
    found = []
    for one in once.values():
        chances = spoken(known, one)
        found.append((one, chances.get("up", 0.0) / sum(chances.values())))
    return found
