"""The cross-check of a visit: from its readings and results to the values that the balances know."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from asfound.crosscheck.cross_check import UnsolvedError, cross_check
from asfound.crosscheck.doubt_from_logs import doubts_from_logs
from asfound.crosscheck.engine_values import EngineValue, engine_values
from asfound.crosscheck.model_witness import SETTING, TIMING_DOUBT, WIDE_FILLING, values_of
from asfound.crosscheck.outcome import CrossCheck
from asfound.crosscheck.plant import Plant
from asfound.crosscheck.plant_of_case import fuel_of, known_of, plant_of, stages_of
from asfound.crosscheck.witness import ModelWitness
from asfound.power.height import standard_pressure
from asfound.quantities.findings import Case
from asfound.quantities.register import quantities
from asfound.quantities.typing import Array
from asfound.quantities.words import Reading, Result, State
from asfound.quantities.worked import Worked

HEIGHT_DOUBT = 100.0
"""Of the standard atmosphere at a height from a map: about 10 m. [Pa]"""
BANKS = ("left_bank", "right_bank")
EXACT = 1e-4
"""A reading that says it has no doubt is given this share of its value, so that it can be doubted. [1]"""
DERIVED = {"fuel_flow": ("fuel_flow_by_orifice", "fuel_flow_by_display")}
"""Values that stand in a balance though a worksheet had to make them from an instrument's own readings."""
MADE = ("swept_volume", *DERIVED)
"""Results at the engine that count, and `DISPLACED` at each stage; see `plant_of`."""
DISPLACED = "stage_displacement"


@dataclass(slots=True)
class _Gathered:
    """Raw readings with their joint covariance, and the values that are sums of them."""

    names: list[str] = field(default_factory=list)
    weights: list[dict[int, float]] = field(default_factory=list)
    raw: list[Reading | Result] = field(default_factory=list)
    keys: dict[str, tuple[str, ...]] = field(default_factory=dict)
    gauge: set[str] = field(default_factory=set)

    def add(self, name: str, of: Sequence[Reading | Result]) -> None:
        """Add a value that is the mean of readings."""
        first = len(self.raw)
        self.raw += of
        self.names.append(name)
        self.weights.append({first + at: 1 / len(of) for at in range(len(of))})
        self.keys[name] = tuple(
            key for one in of for key in ([one.key] if isinstance(one, Reading) else [r.key for r in one.readings()])
        )
        if all(isinstance(one, Reading) and one.gauge for one in of):
            self.gauge.add(name)

    def values(self) -> tuple[Array, Array]:
        """Return values and covariance."""
        turn = np.zeros((len(self.names), len(self.raw)))
        for row, weights in enumerate(self.weights):
            for column, weight in weights.items():
                turn[row, column] = weight
        raw = np.array([one.value for one in self.raw])
        return turn @ raw, turn @ covariance_of(self.raw) @ turn.T


def covariance_of(numbers: Sequence[Reading | Result]) -> Array:
    """Return the covariance of readings as their instruments have it: exact, without the noise of draws."""
    u = np.array([max(one.standard_uncertainty, EXACT * abs(one.value)) for one in numbers])
    joint = np.diag(u**2)
    shared: dict[str, list[int]] = {}
    for at, one in enumerate(numbers):
        if isinstance(one, Reading) and one.shared_with and one.shared_fraction > 0:
            shared.setdefault(one.shared_with, []).append(at)
    for group in shared.values():
        for at in group:
            for other in group:
                if at != other:
                    fractions = (_fraction(numbers[at]), _fraction(numbers[other]))
                    joint[at, other] = math.sqrt(fractions[0] * fractions[1]) * u[at] * u[other]
    return joint


def _fraction(one: Reading | Result) -> float:
    return one.shared_fraction if isinstance(one, Reading) else 0.0


def cross_check_of(case: Case, state: State = "as_found") -> CrossCheck | None:
    """Return the cross-check of a visit's readings of one state; None where nothing checks anything."""
    found = _kept(case, state)
    return None if isinstance(found, str) else found


def why_unsolved(case: Case, state: State = "as_found") -> str:
    """Return why the balances of a visit could not be solved; empty where they were, or where there is nothing."""
    found = _kept(case, state)
    return found if isinstance(found, str) else ""


def _kept(case: Case, state: State) -> CrossCheck | str | None:
    """Work it out once, and not again before a number changes that it is made from."""
    worked = case.worked
    there = readings_at(worked.readings, state)
    said: Sequence[Mapping[str, Any]] = case.visit.get("channels_in_doubt") or ()
    family = tuple(repr(case.engine.get(one, "")) for one in ("family", "catalogue", "catalyst", "rules"))
    witness = witness_of(case, state)
    return worked.recall(
        ("crosscheck", state, *family, repr(said)),
        (witness, *there.values(), *_results_used(worked, state, there)),
        lambda: _cross_checked(worked, state, there, case.engine, said, witness),
    )


def witness_of(case: Case, state: State) -> ModelWitness | None:
    """Return what the model of the cycle makes of a state's setting, where whoever made the case brings it."""
    asked = case.visit.get("model_witness")
    found = asked(state) if callable(asked) else None
    return found if isinstance(found, ModelWitness) else None


def _results_used(worked: Worked, state: State, there: Mapping[tuple[str, str], Reading]) -> tuple[Result, ...]:
    """Return the results that the cross-check makes use of, beside readings."""
    keys = [f"{state}/engine/{name}" for name in MADE]
    keys += [f"{state}/{stage}/{DISPLACED}" for stage in stages_of(there)]
    return tuple(one for key in keys for one in worked.alternatives(key))


def _cross_checked(
    worked: Worked, state: State, there: Mapping[tuple[str, str], Reading], engine: Mapping[str, Any],
    said: Sequence[Mapping[str, Any]], witness: ModelWitness | None,
) -> CrossCheck | str | None:  # fmt: skip
    plant = replace(plant_of(worked, state, there, engine), witness=witness)
    gathered = _gather(worked, state, there, plant)
    if not gathered.names:
        return None
    values, joint = gathered.values()
    plant = plant.with_gauge(gathered.gauge)
    known = known_of(worked, state, there, fuel_of(there) is None)
    if witness is not None and set(SETTING) <= set(gathered.names):
        known["volumetric_efficiency"] = WIDE_FILLING
    try:
        return cross_check(
            plant,
            tuple(gathered.names),
            values,
            joint,
            known=known,
            keys=gathered.keys,
            state=state,
            doubts=doubts_from_logs(said, there, gathered.keys),
        )
    except UnsolvedError as error:
        return str(error)


def readings_at(readings: Sequence[Reading], state: State) -> Mapping[tuple[str, str], Reading]:
    """Return the readings that hold in a state by quantity and place: what carries over was read as found."""
    known = quantities()
    found = {
        (one.quantity, one.place): one
        for one in readings
        if one.state == "as_found" and one.quantity in known and known[one.quantity].carries
    }
    found |= {(one.quantity, one.place): one for one in readings if one.state == state}
    return {at: one for at, one in found.items() if one.origin != "assumed"}


def _gather(worked: Worked, state: State, there: Mapping[tuple[str, str], Reading], plant: Plant) -> _Gathered:
    """Return the values that the balances know, with the readings behind them."""
    found = _Gathered()
    for name, about in {**engine_values(stages_of(there), plant.stoichiometric), **values_of(plant.witness)}.items():
        if about.role == "assumption":
            continue
        of: tuple[Reading | Result, ...] = tuple(_readings_for(name, about, there, plant))
        if not of:
            made = [worked.result(f"{state}/engine/{name}", sheet) for sheet in DERIVED.get(name, ())]
            of = tuple(one for one in made if one is not None)[:1]
        if of:
            found.add(name, of)
    height = there.get(("site_height", "site"))
    if height is not None and "barometric_pressure" in found.names:
        found.add("site_pressure_by_height", (_standard(height),))
    return found


def _standard(height: Reading) -> Reading:
    """Return the pressure of the standard atmosphere at the site as a reading."""
    pressure = float(standard_pressure(height.value))
    return replace(
        height, value=pressure, unit="Pa", standard_uncertainty=HEIGHT_DOUBT + 12.0 * height.standard_uncertainty
    )


def _readings_for(
    name: str, about: EngineValue, there: Mapping[tuple[str, str], Reading], plant: Plant
) -> Iterator[Reading]:
    """Yield the reading of a value, or the readings that it is the mean of."""
    if name in ("cylinder_exhaust_mean", "peak_pressure"):
        yield from (one for (quantity, _), one in there.items() if quantity == about.quantity)
        return
    if name == "ignition_timing" and ("ignition_timing", "engine") in there:
        one = there["ignition_timing", "engine"]
        yield replace(one, standard_uncertainty=max(one.standard_uncertainty, TIMING_DOUBT))
        return
    if name == "exhaust_co_dry_after" and not plant.stoichiometric:
        before = there.get(("exhaust_co_dry", "before_catalyst"))
        after = there.get(("exhaust_co_dry", "after_catalyst")) or there.get(("exhaust_co_dry", "stack"))
        if before is not None and after is not None:
            yield after
        return
    for place in _places(name, about, plant):
        if (about.quantity, place) in there:
            yield there[about.quantity, place]
            return
    if "engine" in about.places:
        banks = [there[about.quantity, place] for place in BANKS if (about.quantity, place) in there]
        if len(banks) == len(BANKS):
            yield from banks


def _places(name: str, about: EngineValue, plant: Plant) -> tuple[str, ...]:
    """Return where a value may be read: the stack of an engine without a catalyst shows what leaves its cylinders."""
    if not plant.stoichiometric or plant.stack_is_behind:
        return about.places
    if name.endswith("_after"):
        return tuple(one for one in about.places if one != "stack")
    return (*about.places, "stack") if "before_catalyst" in about.places else about.places
