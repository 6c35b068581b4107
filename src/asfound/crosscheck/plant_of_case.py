"""What a visit knows of its engine and driven machine: gas, swept volume, compressor stages, better assumptions."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from asfound.crosscheck.plant import FuelGas, Plant, Stage, molar_gas
from asfound.errors import AsFoundError
from asfound.exhaust.burning import Burning, burning
from asfound.fitout.burning import combustion_of
from asfound.fitout.catalogue import load_catalogue
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.words import Reading, State
from asfound.quantities.worked import Worked

There = Mapping[tuple[str, str], Reading]
COMPONENT_OF = {quantity: name.replace("-", "_").replace(" ", "_") for quantity, name in ANALYSIS.items()}
WHOLE = 0.9
"""An analysis whose shares add up to less is none. [1]"""
PIPELINE_GAS = {"methane": 0.94, "ethane": 0.03, "propane": 0.006, "nitrogen": 0.014, "carbon_dioxide": 0.01}
"""Taken where nobody analysed the gas, with a wide doubt; engineering judgement. [mol/mol]"""
UNANALYSED = {"gas_richness": (1.0, 0.04), "heating_value_factor": (1.0, 0.01)}
FRESH, DAY = 30 * 86400.0, 86400.0
OLD = 5e-5
"""By how much the doubt of the heating value grows for each day that an analysis is older than a month. [1/d]"""
KNOWN_SHARES = {
    "auxiliary_power": "engine",
    "generator_efficiency": "generator",
    "compressor_mechanical_efficiency": "compressor",
}
WITH_DATA_SHEET, WITHOUT = 0.015, 0.03
"""Doubt of a compressor cylinder's displacement: common practice, no source. [1]"""


def fuel_of(there: There, place: str = "fuel") -> FuelGas | None:
    """Return the gas of the analysis; None where there is none."""
    shares = {
        COMPONENT_OF[quantity]: max(one.value, 0.0)
        for (quantity, at), one in there.items()
        if at == place and quantity in COMPONENT_OF
    }
    if sum(shares.values()) < WHOLE:
        return None
    return molar_gas(shares)


def burning_of(there: There, engine: Mapping[str, Any]) -> Burning:
    """Return how the engine burns, by its record, else by its exhaust."""
    return burning(engine, combustion_of(engine), tuple(there.values()))


def stages_of(there: There) -> tuple[str, ...]:
    """Return the compressor stages at which both pressures and the suction temperature were read."""
    needed = ("suction_pressure", "suction_temperature", "discharge_pressure")
    places = sorted({place for _, place in there if place.startswith("stage_")})
    return tuple(place for place in places if all((one, place) in there for one in needed))


def plant_of(worked: Worked, state: State, there: There, engine: Mapping[str, Any]) -> Plant:
    """Return what the balances need to know beside the readings."""
    fuel = fuel_of(there) or molar_gas(PIPELINE_GAS)
    process = fuel_of(there, "compressor") or fuel
    burns = burning_of(there, engine)
    return Plant(
        fuel=fuel if fuel.heat > 0 else None,  # an analysis of what does not burn is no fuel
        swept_volume=_swept(worked, state, there, engine),
        glycol=there[("coolant_glycol", "engine")].value if ("coolant_glycol", "engine") in there else 0.0,
        stages={place: _stage(worked, state, there, place) for place in stages_of(there)},
        compressed=process.fractions,
        stoichiometric=burns.stoichiometric,
        stack_is_behind=burns.stack_is_behind,
    )


def known_of(worked: Worked, state: State, there: There, unanalysed: bool) -> dict[str, tuple[float, float]]:
    """Return assumptions of which the visit knows better."""
    del worked, state
    found: dict[str, tuple[float, float]] = dict(UNANALYSED) if unanalysed else {}
    age = there.get(("fuel_analysis_age", "fuel"))
    if age is not None and not unanalysed and age.value > FRESH:
        doubt = OLD * (age.value - FRESH) / DAY
        found["heating_value_factor"] = (1.0, math.hypot(0.004, doubt))
        found["gas_richness"] = (1.0, math.hypot(0.001, 2 * doubt))
    for quantity, place in KNOWN_SHARES.items():
        if (quantity, place) in there:
            one = there[quantity, place]
            found[quantity] = (one.value, max(one.standard_uncertainty, 0.002 * abs(one.value)))
    for place in stages_of(there):
        if ("stage_isentropic_efficiency", place) in there:
            one = there["stage_isentropic_efficiency", place]
            found[f"{place}/isentropic_efficiency"] = (one.value, max(one.standard_uncertainty, 0.01))
        sheet = ("compressor_clearance", place) in there
        found[f"{place}/displacement_factor"] = (1.0, WITH_DATA_SHEET if sheet else WITHOUT)
    return found


def _swept(worked: Worked, state: State, there: There, engine: Mapping[str, Any]) -> float | None:
    """Return the swept volume: as read, from bore and stroke, or of the family in the catalogue. [m³]"""
    read = there.get(("swept_volume", "engine"))
    if read is not None:
        return read.value
    sizes = [there.get((one, "engine")) for one in ("cylinder_bore", "piston_stroke", "cylinder_count")]
    if all(one is not None for one in sizes):
        bore, stroke, count = (one.value for one in sizes if one is not None)
        return math.pi / 4 * bore**2 * stroke * count
    made = worked.result(f"{state}/engine/swept_volume")
    if made is not None:
        return made.value
    family = str(engine.get("family") or "")
    if not family or engine.get("catalogue"):
        return None
    try:
        litres = load_catalogue().family(family).swept_l
    except AsFoundError:
        return None
    return litres / 1000 if litres > 0 else None


def _stage(worked: Worked, state: State, there: There, place: str) -> Stage:
    """Return a stage with its displacement for one revolution where its cylinders were typed."""
    swept = worked.result(f"{state}/{place}/stage_displacement")
    speed = there.get(("compressor_speed", "compressor")) or there.get(("engine_speed", "engine"))
    clearance = there.get(("compressor_clearance", place))
    loss = there.get(("stage_volumetric_loss", place))
    known = swept is not None and speed is not None and speed.value > 0 and clearance is not None
    return Stage(
        displacement=swept.value / (speed.value / (2 * math.pi)) if known and swept and speed else None,
        clearance=clearance.value if clearance else 0.15,
        loss=loss.value if loss else 0.04,
    )
