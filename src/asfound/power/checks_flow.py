"""Published values of the flow meters, recomputed."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import asfound.power.differential_meters as others
import asfound.power.orifice as orifice
from asfound.power.gas_viscosity import gas_viscosity
from asfound.power.turbine_meter import volume_correction
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv


def _coefficient(bore: float, pipe: float, tap: float, density: float, viscosity: float, flow: float) -> float:
    """Return the coefficient where the mass flow is given; the density does not matter to it."""
    del density
    reynolds = 4 * flow / (math.pi * pipe * viscosity)
    return float(orifice.discharge_coefficient(bore / pipe, reynolds, orifice.taps(tap, pipe), pipe))


def _nozzle(coefficient: Callable[..., object]) -> Callable[..., float]:
    def at(throat: float, pipe: float, density: float, viscosity: float, flow: float) -> float:
        del density
        found: object = coefficient(throat / pipe, 4 * flow / (math.pi * pipe * viscosity))
        return float(found)  # type: ignore[arg-type]

    return at


def _at_base(volume: float, kelvin: float, mmhg: float, base_kelvin: float, base_mmhg: float) -> float:
    return volume * float(volume_correction(mmhg, kelvin, 1.0, base_mmhg, base_kelvin))


def _table(beta: float, pipe: float, tap: float, reynolds: float) -> float:
    return float(orifice.discharge_coefficient(beta, reynolds, orifice.taps(tap, pipe), pipe))


def _with_expansibility(
    bore: float, pipe: float, tap: float, drop: float, density: float, viscosity: float, thinning: float
) -> float:
    """Return the mass flow where the expansibility is given: what it does is done by the density. [kg/h]"""
    still = 1e30  # a pressure beside which no difference thins the gas
    thin = density * thinning**2
    return 3600 * float(orifice.orifice_flow(bore, pipe, tap, drop, still, thin, 1.3, viscosity).mass_flow)


WAYS: dict[str, Callable[..., float]] = {
    "orifice_flow": lambda *given: float(orifice.orifice_flow(*given).mass_flow),
    "orifice_coefficient": lambda *given: float(orifice.orifice_flow(*given).coefficient),
    "orifice_expansibility": lambda *given: float(orifice.orifice_flow(*given).expansibility),
    "orifice_reynolds": lambda *given: float(orifice.orifice_flow(*given).reynolds),
    "discharge_coefficient": _coefficient,
    "coefficient_of_table": _table,
    "flow_with_expansibility": _with_expansibility,
    "expansibility": lambda *given: float(orifice.expansibility(*given)),
    "nozzle_expansibility": lambda *given: float(others.nozzle_expansibility(*given)),
    "long_radius_nozzle": _nozzle(others.long_radius_nozzle_coefficient),
    "isa_1932_nozzle": _nozzle(others.isa_1932_nozzle_coefficient),
    "gas_viscosity": lambda *given: 1e3 * float(gas_viscosity(*given)),
    "volume_at_base": _at_base,
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.power", "data/published_flow_meters.csv"):
        given = (float(one) for one in row["inputs"].split("|"))
        yield Check.of_row("power", WAYS[row["of"]](*given), row)
