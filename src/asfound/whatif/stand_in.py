"""Which parts of a setting that nobody read may be assumed, and which must be read first."""

from __future__ import annotations

from asfound.exhaust.limits_of_case import facts_of
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.words import State
from asfound.whatif.numbers_of_case import Numbers, gas_in
from asfound.whatif.usual import GAS, PIPELINE_GAS, Usual, rank_of, to_take, usual

BOOSTED = 1.02
"""Manifold pressure over the barometer from which on a turbocharger is at work. [1]"""
WARMED = 12.0
"""Charge of an engine without charge cooler over the air that it takes (engineering judgement). [K]"""


def stand_in(case: Case, numbers: Numbers, lacks: list[str], assumed: list[str]) -> tuple[list[str], tuple[str, ...]]:
    """Return what must still be read, and for what a usual value stands; what was read in the other state must be."""
    near_one = numbers.near_one
    other: State = "as_left" if numbers.state == "as_found" else "as_found"
    there = Numbers(case.worked, other, numbers.burns)
    known = [one for one in lacks if (gas_in(there) if one == GAS else there.at(one)) is not None]
    open_ones = [one for one in lacks if one not in known]
    said = str(facts_of(case.engine)[0].fuel or "natural_gas")
    must = to_take(open_ones, near_one=near_one, gas_may_be=said == "natural_gas")
    unread = tuple(sorted((one for one in open_ones if one not in must), key=rank_of))
    for name in unread:
        stands = None if name == GAS else usual(name, near_one=near_one)
        if name == "manifold_temperature" and not _boosted(numbers):
            stands = _beside_the_air(numbers)
        if stands is not None:
            numbers.usual[name] = stands
            assumed.append(f"{quantity(name).title} {stands.text} (assumed, {stands.says}; nobody read it).")
    if GAS in unread:
        assumed.append(
            f"Natural gas of pipeline quality, {100 * PIPELINE_GAS['methane']:.0f} % methane (assumed; nobody analysed "
            "it). Biogas or rich field gas is another engine to the model; the methane number is not told."
        )
    return [*known, *must], unread


def _boosted(numbers: Numbers) -> bool:
    manifold = numbers.at("manifold_pressure")
    return manifold is not None and manifold[0] > BOOSTED * numbers.value("barometric_pressure", ATMOSPHERE)


def _beside_the_air(numbers: Numbers) -> Usual:
    """Return the charge temperature of an engine that breathes by itself: some kelvin above the air that it takes."""
    air = numbers.value("intake_air_temperature", numbers.value("ambient_temperature", 298.15))
    about = air + WARMED
    return Usual(
        quantity="manifold_temperature", value=about, u=8.0, again=0.6, rank=4,
        says=f"{WARMED:.0f} K above the air it takes", text=f"{about - 273.15:.0f} °C, give or take 8 K",
    )  # fmt: skip
