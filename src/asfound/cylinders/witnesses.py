"""What the readings of a visit say as witnesses of each cylinder, and what people said. What nobody read says nothing.

Every number enters with its uncertainty and the scatter of sound cylinders (engineering judgement, stated below).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from asfound.cylinders.alloy_of_visit import terminals
from asfound.cylinders.inference_model import Statement
from asfound.cylinders.mask import Mark
from asfound.cylinders.order_of_visit import shows
from asfound.cylinders.shown import difference
from asfound.cylinders.spread_of_case import Cylinder, SpreadOfVisit, ThisCase, bank_of, judged
from asfound.cylinders.thermocouple_faults import PAIRS, shown
from asfound.cylinders.witnesses_log import statements_of_log
from asfound.cylinders.witnesses_shared import before, oxygen_moved, rise_moved
from asfound.quantities.case_numbers import Number, number_at
from asfound.quantities.findings import Case
from asfound.quantities.words import State

HABIT = 9.0
"""How far sound cylinders of one engine stand from their median, where its own habit is not known. [K]"""
DEMAND_SCATTER = 0.06
"""Scatter of ignition demand between sound cylinders, of its logarithm. [-]"""
KNOCK_SCATTER = 0.05
"""Scatter of knock level between sound cylinders or visits, of full scale. [-]"""
FEWEST = 3
"""Other cylinders needed before one is compared with their median."""
NO_READING = (Mark.OPEN, Mark.OUT_OF_RANGE, Mark.COLD_JUNCTION)


def statements_of(case: Case, state: State = "as_found") -> dict[str, list[Statement]]:
    """Return what each cylinder's witnesses say, by place (``cylinder_L4``); empty where no port was read or seen."""
    return {place: list(said) for place, said in _statements(ThisCase(case), state).items()}


@lru_cache(maxsize=4)
def _statements(this: ThisCase, state: State) -> dict[str, list[Statement]]:
    case = this.case
    spread = judged(case, state)
    said = {one.place: _of_spread(case, spread, one.place) for one in spread.cylinders} if spread else {}
    for one in spread.cylinders if spread else ():
        said[one.place].extend(_alloy(case, one, state))
    for place, looks in _typed(case, state).items():
        said.setdefault(place, []).extend(looks)
    if not said:
        return {}
    for place, own in said.items():
        told = {one.witness for one in own}
        found = [
            _demand(case, state, place),
            _knock(case, state, place),
            _retard(case, state, place),
            _torque(case, state, place),
            _second(case, state, place),
            oxygen_moved(case, state, bank_of(place), said),
            rise_moved(case, state, said),
        ]
        own.extend(one for one in found if one is not None and one.witness not in told)
        heard = {one.witness for one in own}
        own.extend(one for one in statements_of_log(case, state, place) if one.witness not in heard)
    return said


def _of_spread(case: Case, spread: SpreadOfVisit, place: str) -> list[Statement]:
    """Return what the temperature itself says: how far off, whether frozen, what its neighbours do."""
    one = spread.at(place)
    assert one is not None
    key = (one.key,)
    if one.mark in NO_READING:
        return [Statement(witness="deviation", states=("no_reading",), how="measured", because=key)]
    if one.mark == Mark.FROZEN:
        return [Statement(witness="steadiness", states=("frozen",), how="measured", because=key)]
    if one.mark != Mark.VALID or not math.isfinite(one.deviation):
        return []
    known = math.isfinite(one.residual)
    value = one.residual if known else one.deviation
    u = one.standard_uncertainty * math.sqrt(2.0) if known else math.hypot(one.standard_uncertainty, HABIT)
    against = "its own habit" if known else "its bank, no history"
    out = [
        Statement(
            witness="deviation",
            value=value,
            u=u,
            how="measured",
            because=key,
            says=f"{difference(case, value, signed=True)} against {against}",
        )
    ]
    seen = _neighbours(spread, place, 1 if value > 0 else -1)
    return [*out, seen] if seen else out


def _alloy(case: Case, one: Cylinder, state: State) -> list[Statement]:
    """Return how near a reading is to what another type of wire or entry would show of the others' temperature.

    Only for one that is off by more than the doubt of both: what is as usual is near no pair.
    """
    if one.mark != Mark.VALID or not math.isfinite(one.deviation) or abs(one.deviation) < 2 * HABIT:
        return []
    level, ends = one.value - one.deviation, terminals(case, state)
    by_pair = {pair: float(shown(*pair, level, ends)) for pair in PAIRS}
    known = {pair: one.value - value for pair, value in by_pair.items() if math.isfinite(value)}
    (wire, entry), away = min(known.items(), key=lambda pair: abs(pair[1]))
    says = f"{difference(case, away, signed=True)} from what a type {wire} wire on a type {entry} entry would show"
    u = math.hypot(one.standard_uncertainty, HABIT)
    return [Statement(witness="alloy", value=away, u=u, how="measured", because=(one.key,), says=says)]


def _neighbours(spread: SpreadOfVisit, place: str, sign: int) -> Statement | None:
    """Return what the cylinders beside it and its mirror in the bank do; None with too few of them."""
    bank = [one for one in spread.cylinders if one.bank == bank_of(place)]
    at = next(i for i, one in enumerate(bank) if one.place == place)
    beside = [bank[i] for i in (at - 1, at + 1) if 0 <= i < len(bank)]
    valid = [one for one in bank if one.mark == Mark.VALID]
    if len(valid) < FEWEST + 1:
        return None
    mirror = bank[len(bank) - 1 - at]
    state = "usual"
    if any(one.odd == sign for one in beside):
        state = "alike"
    elif mirror.place != place and mirror.odd == -sign:
        state = "mirrored"
    return Statement(
        witness="neighbours", states=(state,), how="measured", because=tuple(one.key for one in (*beside, mirror))
    )


def _at_cylinders(case: Case, state: State, quantity: str) -> dict[str, Number]:
    """Return a quantity of all cylinders that have it."""
    all_: tuple[Number, ...] = (*case.worked.readings, *case.worked.results)
    places = {
        one.place
        for one in all_
        if one.state == state and one.quantity == quantity and one.place.startswith("cylinder_")
    }
    found = {place: number_at(case.worked, state, place, quantity) for place in sorted(places)}
    return {place: one for place, one in found.items() if one is not None and math.isfinite(one.value)}


def _against_others(numbers: Mapping[str, Number], place: str) -> tuple[Number, float] | None:
    """Return a cylinder's number and the median of the others; None with too few."""
    others = [one.value for other, one in numbers.items() if other != place]
    return (numbers[place], float(np.median(others))) if place in numbers and len(others) >= FEWEST else None


def _demand(case: Case, state: State, place: str) -> Statement | None:
    numbers = _at_cylinders(case, state, "ignition_demand")
    found = _against_others(numbers, place)
    if found is None or found[0].value <= 0 or found[1] <= 0:
        return None
    number, others = found
    value = math.log(number.value / others)
    u = math.hypot(number.standard_uncertainty / number.value, DEMAND_SCATTER)
    says = f"{number.value / others:.2f} times the median of the others"
    return Statement(witness="ignition_demand", value=value, u=u, how="measured", because=(number.key,), says=says)


def _knock(case: Case, state: State, place: str) -> Statement | None:
    number = number_at(case.worked, state, place, "knock_level")
    if number is None or not math.isfinite(number.value):
        return None
    earlier = before(case, place, "knock_level")
    others = _against_others(_at_cylinders(case, state, "knock_level"), place)
    if earlier is None and others is None:
        return None
    base = earlier.value if earlier is not None else others[1] if others else math.nan
    value, u = number.value - base, math.hypot(number.standard_uncertainty, KNOCK_SCATTER)
    says = f"{100 * value:+.0f} % of full scale against {'the last visit' if earlier else 'the others'}"
    return Statement(witness="knock", value=value, u=u, how="measured", because=(number.key,), says=says)


def _retard(case: Case, state: State, place: str) -> Statement | None:
    found = _against_others(_at_cylinders(case, state, "ignition_retard"), place)
    if found is None:
        return None
    number, others = found
    value, u = math.degrees(number.value - others), math.degrees(number.standard_uncertainty)
    says = f"{value:+.1f} degrees against the others"
    return Statement(witness="spark_retard", value=value, u=u, how="measured", because=(number.key,), says=says)


def _torque(case: Case, state: State, place: str) -> Statement | None:
    number = number_at(case.worked, state, place, "cylinder_torque_deviation")
    if number is None or not math.isfinite(number.value):
        return None
    return Statement(
        witness="crank_speed",
        value=number.value,
        u=number.standard_uncertainty,
        how="measured",
        because=(number.key,),
        says=f"{100 * number.value:+.0f} % of the mean torque",
    )


def _second(case: Case, state: State, place: str) -> Statement | None:
    numbers = _at_cylinders(case, state, "cylinder_second_temperature")
    if len(numbers) <= FEWEST:
        return None
    name = place.removeprefix("cylinder_")
    behind = f"cylinder_{shows(case, state).get(name, name)}"  # the port that this entry shows
    found = _against_others(numbers, behind)
    if found is None:
        return None
    number, others = found
    value = number.value - others
    u = math.hypot(number.standard_uncertainty, HABIT)
    port = "" if behind == place else f"at {behind.removeprefix('cylinder_')}: "
    says = f"{port}{difference(case, value, signed=True)} against the other ports"
    return Statement(witness="second_thermometer", value=value, u=u, how="measured", because=(number.key,), says=says)


def _typed(case: Case, state: State) -> dict[str, list[Statement]]:
    """Return what people saw and said of cylinders: ``case.visit["cylinder_looks"]``."""
    found: dict[str, list[Statement]] = {}
    looks: Sequence[Mapping[str, Any]] = case.visit.get("cylinder_looks") or ()
    for look in looks:
        if look.get("state_of_visit", "as_found") != state:
            continue
        name = str(look["cylinder"])
        place = name if name.startswith("cylinder_") else f"cylinder_{name}"
        states = look.get("states") or ((look["state"],) if look.get("state") else ())
        found.setdefault(place, []).append(
            Statement(
                witness=str(look["witness"]),
                states=tuple(str(one) for one in states),
                how=str(look.get("how", "seen")),
                by=str(look.get("by", "")),
                could_not_tell=bool(look.get("could_not_tell", False)),
                because=tuple(str(one) for one in look.get("because", ())),
                says=str(look.get("says", "")),
            )
        )
    return found
